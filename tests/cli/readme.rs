//! The README and the handbook are true: the keys are the table's, and every command works as
//! written.

use std::fs;
use std::path::Path;
use std::process::Command;
use std::thread;

use homehook::tui::keymap;

/// A document: its path in the repository, and its content.
struct Document {
    path: String,
    text: String,
}

fn here() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn document(path: &str) -> Document {
    Document {
        path: path.to_owned(),
        text: fs::read_to_string(here().join(path)).unwrap(),
    }
}

fn readme() -> Document {
    document("README.md")
}

fn handbook() -> Vec<Document> {
    let folder = fs::read_dir(here().join("assets/handbook")).unwrap();
    let names = folder.map(|entry| entry.unwrap().file_name().into_string().unwrap());
    let pages = names.map(|name| document(&format!("assets/handbook/{name}")));
    pages.collect()
}

impl Document {
    /// The fenced blocks whose info string starts with a word: the rest of that string, and the
    /// content.
    fn blocks(&self, kind: &str) -> Vec<(String, String)> {
        let mut blocks = Vec::new();
        for part in self.text.split("\n```").skip(1).step_by(2) {
            let (info, text) = part.split_once('\n').unwrap();
            if let Some(rest) = info.strip_prefix(kind) {
                blocks.push((rest.trim().to_owned(), text.to_owned()));
            }
        }
        blocks
    }

    /// Every `homehook` command with arguments, in order: on its own line in a block, or as code in
    /// text.
    fn commands(&self) -> Vec<String> {
        let mut commands = Vec::new();
        let mut in_block = false;
        for line in self.text.lines() {
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

    /// Runs all its commands in a folder.
    fn run_in(&self, dir: &Path) {
        for command in self.commands() {
            // A line that only shows the form of a command must at least name a command.
            let asked = match command.as_str() {
                "homehook COMMAND --help" => continue,
                "homehook import range" => "homehook import range --help",
                command => command,
            };
            let (done, answer) = run(dir, asked);
            assert!(done, "{}: {asked}\n{answer}", self.path);
            assert!(!answer.contains("panicked"), "{asked}\n{answer}");
        }
    }
}

/// Splits a command like a shell, as far as double quotes go.
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
    let answer = [output.stdout, output.stderr].concat();
    (output.status.success(), String::from_utf8(answer).unwrap())
}

/// Copies the files of a folder and its subfolders.
fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let (path, to) = {
            let entry = entry.unwrap();
            (entry.path(), to.join(entry.file_name()))
        };
        if path.is_dir() {
            copy(&path, &to);
        } else {
            fs::copy(&path, to).unwrap();
        }
    }
}

#[test]
fn the_keys_are_those_of_the_table() {
    let page = document("assets/handbook/keyboard.md").text;
    let (_, rest) = page.split_once("<!-- keys -->\n").unwrap();
    let (keys, _) = rest.split_once("<!-- /keys -->").unwrap();
    assert_eq!(
        keys,
        keymap::as_markdown(),
        "put what 'homehook keyboard' prints between the markers of assets/handbook/keyboard.md"
    );
}

#[test]
fn the_two_commands_are_there() {
    let readme = readme();
    let (_, first) = &readme.blocks("sh")[0];
    assert_eq!(first.trim(), "cargo run -- demo\ncargo test");
    let manifest = include_str!("../../Cargo.toml");
    let (_, rest) = manifest.split_once("rust-version = \"").unwrap();
    let (version, _) = rest.split_once('"').unwrap();
    assert!(readme.text.contains(&format!("Rust {version} or newer")));
    assert!(readme.text.lines().count() <= 200);
}

/// The README starts with only the lists. Each page continues where the README ends, independently
/// of other pages.
#[test]
fn every_command_works_in_document_order() {
    let dir = tempfile::tempdir().unwrap();
    let (readme, handbook) = (readme(), handbook());
    for document in handbook.iter().chain([&readme]) {
        for (name, text) in document.blocks("csv") {
            fs::write(dir.path().join(name), text).unwrap();
        }
    }
    readme.run_in(dir.path());
    let (_, found) = run(dir.path(), "homehook find slate");
    assert!(found.contains("Winter Fox"), "{found}");
    let (_, board) = run(dir.path(), "homehook board show --grid");
    assert!(board.contains("3 out, 0 missing, 0 to hang"), "{board}");
    thread::scope(|scope| {
        for page in &handbook {
            scope.spawn(|| {
                let own = tempfile::tempdir().unwrap();
                copy(dir.path(), own.path());
                page.run_in(own.path());
            });
        }
    });
    let all = handbook.iter().chain([&readme]);
    let commands: usize = all.map(|document| document.commands().len()).sum();
    assert!(commands > 120, "only {commands} commands were found");
}

#[test]
fn an_unknown_command_would_be_found() {
    let dir = tempfile::tempdir().unwrap();
    assert!(!run(dir.path(), "homehook hang-everything").0);
}

#[test]
fn every_linked_picture_and_page_exists() {
    let (mut drawings, mut pages) = (0, 0);
    for document in handbook().iter().chain([&readme()]) {
        let path = here().join(&document.path);
        let targets = document.text.split("](").skip(1);
        let targets = targets.map(|rest| rest.split_once(')').unwrap().0);
        for target in targets.filter(|target| !target.contains("://")) {
            let file = path.with_file_name("").join(target);
            assert!(file.exists(), "{}: {target}", document.path);
            drawings += usize::from(target.ends_with(".svg"));
            pages += usize::from(document.path == "README.md" && target.contains("handbook/"));
        }
    }
    assert!(drawings >= 3, "{drawings}");
    assert!(
        pages >= handbook().len(),
        "a page that the README doesn't name"
    );
}
