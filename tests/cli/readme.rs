//! The README says what is so: its keys are the table's, and its commands work as they stand.

use std::fs;
use std::path::Path;
use std::process::Command;

use homehook::tui::keymap;

const README: &str = include_str!("../../README.md");

/// The fenced blocks whose info string starts with a word: the rest of that string, and the text.
fn blocks(kind: &str) -> Vec<(String, String)> {
    let mut blocks = Vec::new();
    for part in README.split("\n```").skip(1).step_by(2) {
        let (info, text) = part.split_once('\n').unwrap();
        if let Some(rest) = info.strip_prefix(kind) {
            blocks.push((rest.trim().to_owned(), text.to_owned()));
        }
    }
    blocks
}

/// Every `homehook` command with arguments, in order: on its own line in a block, or as code in text.
fn commands() -> Vec<String> {
    let mut commands = Vec::new();
    let mut in_block = false;
    for line in README.lines() {
        if line.starts_with("```") {
            in_block = !in_block;
        } else if in_block {
            let command = line.split(" #").next().unwrap().trim();
            commands.extend(command.starts_with("homehook").then(|| command.to_owned()));
        } else {
            let code = line.split('`').skip(1).step_by(2);
            commands.extend(
                code.filter(|code| code.starts_with("homehook "))
                    .map(str::to_owned),
            );
        }
    }
    commands
}

/// Splits a command as a shell does, as far as double quotes go.
fn words(command: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut quoted = false;
    for c in command.chars() {
        match c {
            '"' => quoted = !quoted,
            ' ' if !quoted => words.push(String::new()),
            c => words.last_mut().unwrap().push(c),
        }
    }
    words
}

fn run(dir: &Path, command: &str) -> (bool, String) {
    let words = words(command);
    let output = Command::new(env!("CARGO_BIN_EXE_homehook"))
        .args(&words[1..])
        .current_dir(dir)
        .env("HOMEHOOK_STASH", dir.join("stash"))
        .output()
        .unwrap();
    let said = [output.stdout, output.stderr].concat();
    (output.status.success(), String::from_utf8(said).unwrap())
}

#[test]
fn the_keys_are_those_of_the_table() {
    let (_, rest) = README.split_once("<!-- keys -->\n").unwrap();
    let (keys, _) = rest.split_once("<!-- /keys -->").unwrap();
    assert_eq!(
        keys,
        keymap::as_markdown(),
        "put what 'homehook keyboard' prints between the markers of README.md"
    );
}

#[test]
fn the_two_commands_are_there() {
    let (_, first) = &blocks("sh")[0];
    assert_eq!(first.trim(), "cargo run --release -- demo\ncargo test");
    let manifest = include_str!("../../Cargo.toml");
    let (_, rest) = manifest.split_once("rust-version = \"").unwrap();
    let (version, _) = rest.split_once('"').unwrap();
    assert!(README.contains(&format!("Rust {version} or newer")));
}

#[test]
fn every_command_works_in_the_order_it_stands() {
    let dir = tempfile::tempdir().unwrap();
    for (name, text) in blocks("csv") {
        fs::write(dir.path().join(name), text).unwrap();
    }
    let commands = commands();
    assert!(commands.len() > 20, "{commands:?}");
    for command in &commands {
        // What only shows the form of a command is at least a command.
        let asked = match command.as_str() {
            "homehook COMMAND --help" => continue,
            "homehook import range" => "homehook import range --help",
            command => command,
        };
        let (done, said) = run(dir.path(), asked);
        assert!(done, "{asked}\n{said}");
        assert!(!said.contains("panicked"), "{asked}\n{said}");
    }
    let (_, found) = run(dir.path(), "homehook find slate");
    assert!(found.contains("hanging on hook B06"), "{found}");
    let (_, board) = run(dir.path(), "homehook board show --grid");
    assert!(board.contains("1 out, 0 missing, 0 to hang"), "{board}");
}

#[test]
fn a_command_the_program_does_not_know_would_be_found() {
    let dir = tempfile::tempdir().unwrap();
    assert!(!run(dir.path(), "homehook hang-everything").0);
}

#[test]
fn every_picture_and_page_it_points_to_is_there() {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let targets: Vec<&str> = README
        .split("](")
        .skip(1)
        .map(|rest| rest.split_once(')').unwrap().0)
        .filter(|target| !target.contains("://"))
        .collect();
    assert!(
        targets
            .iter()
            .filter(|target| target.ends_with(".svg"))
            .count()
            >= 3
    );
    for target in targets {
        assert!(here.join(target).exists(), "{target}");
    }
}
