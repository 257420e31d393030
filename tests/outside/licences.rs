//! Lists every library in the program with its licence, so that a package can include the list.
//! `deny.toml` decides which licences are allowed.

use std::collections::BTreeMap;
use std::path::Path;
use std::process::{Command, Output};

/// The libraries of the program, one per line with its licence.
fn tree(system: &[&str]) -> Output {
    Command::new(env!("CARGO"))
        .args(["tree", "--offline", "--edges", "normal", "--prefix", "none"])
        .args(["--format", "{p}|{l}"])
        .args(system)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .unwrap()
}

/// `UPDATE_EXPECT=1 cargo test --test outside licences` rewrites `assets/licences.txt`.
#[test]
fn licence_list_covers_every_library() {
    // Libraries for other systems may never have been fetched. Then ask only about the program as
    // built.
    let mut output = tree(&["--target", "all"]);
    if !output.status.success() {
        output = tree(&[]);
    }
    assert!(output.status.success(), "{output:?}");
    let text = String::from_utf8(output.stdout).unwrap();
    let mut licences: BTreeMap<&str, &str> = BTreeMap::new();
    for line in text.lines() {
        let (package, licence) = line.split_once('|').unwrap();
        let name = package.split_whitespace().next().unwrap();
        if name != "homehook" {
            licences.insert(name, licence.trim_end_matches(" (*)"));
        }
    }
    assert!(licences.len() > 50, "{}", licences.len());
    let lines: Vec<String> = (licences.iter())
        .map(|(name, licence)| format!("{name}: {licence}"))
        .collect();
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("assets/licences.txt");
    if std::env::var_os("UPDATE_EXPECT").is_some() {
        std::fs::write(&path, lines.join("\n") + "\n").unwrap();
    }
    let listed = std::fs::read_to_string(&path).unwrap();
    let unlisted: Vec<_> = (lines.iter())
        .filter(|line| !listed.lines().any(|known| known == *line))
        .collect();
    assert!(unlisted.is_empty(), "{unlisted:?} not in {path:?}");
}
