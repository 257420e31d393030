//! The layers of the house, read off its own source: who may use whom.

use std::fs;
use std::path::{Path, PathBuf};

use crate::source::files;

/// The layers, each with what it may use of the crate.
const MAY_USE: [(&str, &[&str]); 7] = [
    ("model", &["model"]),
    ("engine", &["model", "engine"]),
    ("stash", &["model", "engine", "stash"]),
    ("journal", &["model", "engine", "stash", "journal"]),
    ("exchange", &["model", "engine", "stash", "exchange"]),
    (
        "tui",
        &["model", "engine", "stash", "journal", "exchange", "tui"],
    ),
    (
        "cli",
        &[
            "model", "engine", "stash", "journal", "exchange", "tui", "cli",
        ],
    ),
];

/// The lines of a file that are not comments, with their numbers.
fn lines(path: &Path) -> Vec<(usize, String)> {
    let text = fs::read_to_string(path).unwrap();
    let code = text.lines().map(str::trim).zip(1..);
    code.filter(|(line, _)| !line.starts_with("//"))
        .map(|(line, number)| (number, line.to_owned()))
        .collect()
}

fn source(layer: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("src")
        .join(layer)
}

/// The names that follow `crate::` in a line.
fn used(line: &str) -> impl Iterator<Item = &str> {
    line.split("crate::").skip(1).map(|rest| {
        let end = rest.find(|c: char| !c.is_alphanumeric() && c != '_');
        &rest[..end.unwrap_or(rest.len())]
    })
}

#[test]
fn each_layer_uses_only_those_before_it() {
    let mut seen = 0;
    for (layer, may) in MAY_USE {
        for path in files(&source(layer)) {
            for (number, line) in lines(&path) {
                for name in used(&line).filter(|name| MAY_USE.iter().any(|(l, _)| l == name)) {
                    seen += 1;
                    assert!(
                        may.contains(&name),
                        "{}:{number} uses {name}",
                        path.display()
                    );
                }
            }
        }
    }
    assert!(
        seen > 100,
        "only {seen} uses were found: the reading is off"
    );
}

#[test]
fn the_terminal_is_touched_in_one_folder_and_drawn_on_in_another() {
    let terminal = source("tui").join("terminal");
    for (layer, _) in MAY_USE {
        for path in files(&source(layer)) {
            for (number, line) in lines(&path) {
                let at = format!("{}:{number}", path.display());
                let crossterm = line.contains("crossterm::");
                assert!(!crossterm || path.starts_with(&terminal), "{at}");
                assert!(!line.contains("ratatui::") || layer == "tui", "{at}");
            }
        }
    }
}

#[test]
fn the_core_reads_no_clock_and_no_file() {
    for layer in ["model", "engine", "stash"] {
        for path in files(&source(layer)) {
            // Tests may measure and read what they like.
            if path.components().any(|part| part.as_os_str() == "tests.rs") {
                continue;
            }
            for (number, line) in lines(&path) {
                for outside in [
                    "Timestamp::now",
                    "SystemTime",
                    "Instant::now",
                    "std::fs",
                    "std::io",
                    "std::env",
                ] {
                    assert!(
                        !line.contains(outside),
                        "{}:{number} uses {outside}",
                        path.display()
                    );
                }
            }
        }
    }
}
