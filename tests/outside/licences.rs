//! Every library in the program is listed with its licence, so that a package can give the list along.
//! `deny.toml` says which licences may be in it.

use std::collections::BTreeMap;
use std::path::Path;
use std::process::{Command, Output};

/// The libraries of the program, one on a line with its licence.
fn tree(system: &[&str]) -> Output {
    Command::new(env!("CARGO"))
        .args(["tree", "--offline", "--edges", "normal", "--prefix", "none"])
        .args(["--format", "{p}|{l}"])
        .args(system)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .unwrap()
}

/// `UPDATE_EXPECT=1 cargo test --test outside licences` writes `assets/licences.txt` anew.
#[test]
fn every_library_is_listed_with_its_licence() {
    // Libraries for systems that are not this one may never have been fetched: then only the built
    // program can be asked.
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
