//! The README and the handbook are true: the keys are the table's, and every command works as
//! written.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;
use std::process::Command;
use std::thread;

use homehook::stash::columns::Column;
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

/// The commands that do something, as typed after `homehook`, with their own long options.
fn leaves(command: &clap::Command, path: &str, found: &mut BTreeMap<String, BTreeSet<String>>) {
    let subcommands = command
        .get_subcommands()
        .filter(|sub| sub.get_name() != "help");
    for sub in subcommands {
        let path = format!("{path} {}", sub.get_name()).trim().to_owned();
        let options = sub
            .get_arguments()
            .filter(|argument| !argument.is_global_set());
        let options = options.filter_map(|argument| Some(format!("--{}", argument.get_long()?)));
        let options = options.filter(|option| option != "--help").collect();
        if sub.has_subcommands() {
            leaves(sub, &path, found);
        } else {
            found.insert(path, options);
        }
    }
}

/// The arguments of a command of the documents without the program's own options: `use 447`.
fn without_options_before(command: &str) -> String {
    let words = words(command);
    let mut rest = words[1..].iter();
    let mut kept = Vec::new();
    while let Some(word) = rest.next() {
        match word.as_str() {
            "--stash" | "--by" if kept.is_empty() => drop(rest.next()),
            _ => kept.push(word.as_str()),
        }
    }
    kept.join(" ")
}

#[test]
fn pages_name_every_command_and_option_and_no_other() {
    let mut pages = handbook();
    pages.push(readme());
    let text: String = pages.iter().map(|page| page.text.as_str()).collect();
    let typed = pages.iter().flat_map(Document::commands);
    let mut typed: Vec<String> = typed
        .map(|command| without_options_before(&command))
        .collect();
    // In a sentence, a command may stand without the program's name.
    typed.extend(text.split('`').skip(1).step_by(2).map(str::to_owned));
    let mut all = BTreeMap::new();
    leaves(&homehook::cli::command(), "", &mut all);
    assert!(all.len() > 60, "{}", all.len());

    // In a page, an option ends where no letter or hyphen follows.
    let named: BTreeSet<String> = text
        .split("--")
        .skip(1)
        .map(|rest| {
            rest.split(|c: char| !c.is_ascii_lowercase() && c != '-')
                .next()
                .unwrap()
        })
        .filter(|name| name.starts_with(|c: char| c.is_ascii_lowercase()))
        .map(|name| format!("--{name}"))
        .collect();
    // `ring pull` is a command, and what begins like one must be one.
    let groups: BTreeSet<&str> = all
        .keys()
        .filter_map(|path| Some(path.split_once(' ')?.0))
        .collect();
    for words in &typed {
        let mut words = words.split(' ');
        if let (Some(group), Some(word)) = (
            words.next().filter(|word| groups.contains(word)),
            words.next(),
        ) {
            let is_word =
                word.chars().all(|c| c.is_ascii_lowercase() || c == '-') && !word.starts_with('-');
            assert!(
                !is_word || all.contains_key(&format!("{group} {word}")),
                "no command: {group} {word}"
            );
        }
    }
    for (command, options) in &all {
        let is_it =
            |typed: &&String| **typed == *command || typed.starts_with(&format!("{command} "));
        assert!(
            typed.iter().any(|typed| is_it(&typed)),
            "no page shows: homehook {command}"
        );
        for option in options {
            assert!(
                named.contains(option),
                "no page names {option} of {command}"
            );
        }
    }

    let program = homehook::cli::command();
    let of_program = program.get_arguments().filter_map(clap::Arg::get_long);
    let mut known: BTreeSet<String> = of_program.map(|option| format!("--{option}")).collect();
    known.extend(all.into_values().flatten());
    known.extend(["--help", "--version"].map(str::to_owned));
    // Options of the toolchain.
    let others = ["--release", "--path"].map(str::to_owned);
    let unknown: Vec<&String> = named
        .difference(&known)
        .filter(|name| !others.contains(name))
        .collect();
    assert!(unknown.is_empty(), "the program has no {unknown:?}");
}

#[test]
fn pages_name_every_column_and_variable() {
    let pages: String = handbook().into_iter().map(|page| page.text).collect();
    let columns = [
        &Column::OF_CARD_LIST[..],
        &Column::OF_RANGE_LIST,
        &Column::OF_KEY,
        &Column::OF_ROLL_CALL,
    ];
    for column in columns.into_iter().flatten() {
        let title = column.title();
        let header = pages
            .split("```csv")
            .skip(1)
            .filter_map(|list| list.lines().nth(1));
        let in_a_list = header
            .flat_map(|line| line.split(','))
            .any(|cell| cell == title);
        assert!(
            pages.contains(&format!("`{title}`")) || in_a_list,
            "no page names the column {title}"
        );
    }
    let table = |line: &&str| line.starts_with("| `");
    let lists = document("assets/handbook/lists.md").text;
    let rows: Vec<&str> = lists.lines().filter(table).collect();
    let mut titles = Column::OF_CARD_LIST.map(Column::title);
    titles.sort_unstable();
    let mut rows: Vec<&str> = rows
        .iter()
        .filter_map(|row| row.split('`').nth(1))
        .collect();
    rows.sort_unstable();
    assert_eq!(rows, titles, "the table of a card list");

    let program = homehook::cli::command();
    let variables = program.get_arguments().filter_map(clap::Arg::get_env);
    let variables: BTreeSet<String> = variables
        .map(|name| name.to_string_lossy().into_owned())
        .collect();
    let named = pages.split(|c: char| !c.is_ascii_uppercase() && c != '_');
    let named: BTreeSet<String> = named
        .filter(|word| word.starts_with("HOMEHOOK_"))
        .map(str::to_owned)
        .collect();
    assert_eq!(named, variables);
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
