//! The layers of the crate, read from its source: who may use whom.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use crate::source::files;

/// The layers, each with the parts of the crate it may use.
const MAY_USE: [(&str, &[&str]); 9] = [
    ("model", &["model"]),
    ("engine", &["model", "engine"]),
    ("stash", &["model", "engine", "stash"]),
    ("journal", &["model", "engine", "stash", "journal"]),
    ("exchange", &["model", "engine", "stash", "exchange"]),
    (
        "text",
        &["model", "engine", "stash", "journal", "exchange", "text"],
    ),
    (
        "print",
        &[
            "model", "engine", "stash", "journal", "exchange", "text", "print",
        ],
    ),
    (
        "tui",
        &[
            "model", "engine", "stash", "journal", "exchange", "text", "print", "tui",
        ],
    ),
    (
        "cli",
        &[
            "model", "engine", "stash", "journal", "exchange", "text", "print", "tui", "cli",
        ],
    ),
];

/// The lines of a file that aren't comments, with their numbers.
fn lines(path: &Path) -> Vec<(usize, String)> {
    let text = fs::read_to_string(path).unwrap();
    let code = text.lines().map(str::trim).zip(1..);
    code.filter(|(line, _)| !line.starts_with("//"))
        .map(|(line, number)| (number, line.to_owned()))
        .collect()
}

/// The same lines, up to the unit tests at the end of the file, which may use any layer.
fn production_lines(path: &Path) -> impl Iterator<Item = (usize, String)> {
    let lines = lines(path).into_iter();
    lines.take_while(|(_, line)| line != "mod tests {")
}

fn source(layer: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("src")
        .join(layer)
}

/// Whether a file is built for tests only, which may use any layer.
fn is_for_tests(path: &Path) -> bool {
    let inside = path.strip_prefix(env!("CARGO_MANIFEST_DIR"));
    inside.unwrap_or(path).iter().any(|part| {
        let name = part.to_string_lossy();
        let name = name.strip_suffix(".rs").unwrap_or(&name);
        matches!(name, "tests" | "testing") || name.ends_with("_tests")
    })
}

/// Every file of a layer except tests: its folder, and the file with its name beside it.
fn layer_files(layer: &str) -> Vec<PathBuf> {
    let mut all = files(&source(layer));
    all.retain(|path| !is_for_tests(path));
    let beside = source(layer).with_extension("rs");
    all.extend(beside.exists().then_some(beside));
    all
}

/// The names that follow `crate::` in a line.
fn used(line: &str) -> impl Iterator<Item = &str> {
    line.split("crate::").skip(1).map(|rest| {
        let end = rest.find(|c: char| !c.is_alphanumeric() && c != '_');
        &rest[..end.unwrap_or(rest.len())]
    })
}

#[test]
fn each_layer_uses_only_earlier_layers() {
    let mut seen = 0;
    for (layer, may) in MAY_USE {
        for path in layer_files(layer) {
            for (number, line) in production_lines(&path) {
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

/// A file's code on one line, without comments and the unit tests at its end.
fn code(path: &Path) -> String {
    let lines: Vec<_> = lines(path).into_iter().map(|(_, line)| line).collect();
    let code = lines.join(" ");
    let code = code
        .replace("pub(crate) mod ", "mod ")
        .replace("pub mod ", "mod ");
    let tests = code.find("#[cfg(test)] mod tests {");
    code[..tests.unwrap_or(code.len())].to_owned()
}

/// The first names after a path: `name::...`, or each of `{name::..., name}`.
fn first_names(rest: &str) -> Vec<&str> {
    let name = |text: &'_ str| {
        text.find(|c: char| !c.is_alphanumeric() && c != '_')
            .unwrap_or(text.len())
    };
    let Some(inside) = rest.strip_prefix('{') else {
        return vec![&rest[..name(rest)]];
    };
    let (mut depth, mut begin, mut names) = (0, 0, Vec::new());
    for (at, c) in inside.char_indices() {
        match c {
            '{' => depth += 1,
            '}' if depth > 0 => depth -= 1,
            ',' | '}' if depth == 0 => {
                let part = inside[begin..at].trim();
                names.push(&part[..name(part)]);
                begin = at + 1;
                if c == '}' {
                    break;
                }
            }
            _ => {}
        }
    }
    names
}

/// Which top-level module of a layer uses which others. A file and the folder with its name are
/// one.
fn uses_within(layer: &str) -> BTreeMap<String, BTreeSet<String>> {
    let root = source(layer);
    let mut modules: Vec<(Vec<String>, String)> = Vec::new();
    let mut tests: Vec<Vec<String>> = Vec::new();
    for path in files(&root) {
        let inside = path.strip_prefix(&root).unwrap().with_extension("");
        let parts = inside.iter().map(|part| part.to_str().unwrap().to_owned());
        let parts: Vec<_> = parts.filter(|part| part != "mod").collect();
        let code = code(&path);
        for declared in code.split("#[cfg(test)] mod ").skip(1) {
            let name = first_names(declared)[0].to_owned();
            tests.push(parts.iter().cloned().chain([name]).collect());
        }
        if !parts.is_empty() {
            modules.push((parts, code));
        }
    }
    modules.retain(|(parts, _)| !tests.iter().any(|test| parts.starts_with(test)));
    let mut uses: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for (parts, _) in &modules {
        uses.entry(parts[0].clone()).or_default();
    }
    let whole = format!("crate::{layer}::");
    for (parts, code) in &modules {
        // From a module this deep, this many steps up lead to the layer.
        let up = "super::".repeat(parts.len());
        let steps = code.match_indices(&up).filter(|(at, _)| {
            let apart = !code[..*at].ends_with("super::");
            apart && !code[at + up.len()..].starts_with("super::")
        });
        let named = code.match_indices(&whole).map(|(at, _)| at + whole.len());
        for rest in named.chain(steps.map(|(at, _)| at + up.len())) {
            for name in first_names(&code[rest..]) {
                if name != parts[0] && uses.contains_key(name) {
                    uses.get_mut(&parts[0]).unwrap().insert(name.to_owned());
                }
            }
        }
    }
    uses
}

/// The groups of modules in which each reaches every other.
fn circles(uses: &BTreeMap<String, BTreeSet<String>>) -> BTreeSet<Vec<String>> {
    let reached = |from: &str| {
        let (mut seen, mut open) = (BTreeSet::new(), vec![from.to_owned()]);
        while let Some(next) = open.pop() {
            for name in &uses[&next] {
                if seen.insert(name.clone()) {
                    open.push(name.clone());
                }
            }
        }
        seen
    };
    let reach: BTreeMap<_, _> = uses.keys().map(|name| (name, reached(name))).collect();
    let circle = |name: &String| -> Vec<String> {
        let back = reach[name]
            .iter()
            .filter(|other| reach[other].contains(name));
        back.cloned().collect()
    };
    uses.keys()
        .map(circle)
        .filter(|circle| circle.len() > 1)
        .collect()
}

#[test]
fn modules_of_a_layer_have_no_cyclic_uses() {
    let mut edges = 0;
    for (layer, _) in MAY_USE {
        let uses = uses_within(layer);
        edges += uses.values().map(BTreeSet::len).sum::<usize>();
        let found = circles(&uses);
        assert!(found.is_empty(), "{layer}: these use each other: {found:?}");
    }
    assert!(
        edges > 100,
        "only {edges} uses were found: the reading is off"
    );
}

#[test]
fn only_tui_draws_and_only_its_terminal_folder_uses_crossterm() {
    let terminal = source("tui").join("terminal");
    for (layer, _) in MAY_USE {
        for path in layer_files(layer) {
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
fn core_reads_no_clock_and_no_files() {
    for layer in ["model", "engine", "stash"] {
        for path in layer_files(layer) {
            // Tests may measure and read anything.
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

/// The enums that say where a card is or what a hook shows. A new variant must be asked for everywhere.
const PLACES: [&str; 4] = ["Whereabouts", "AwayReason", "CardPlace", "HookStatus"];

/// Where a match on one of them has an arm for whatever else there is. Reads the layout that rustfmt makes:
/// the arms of a match are equally far in.
fn wildcards(code: &str) -> Vec<usize> {
    let far_in = |line: &str| line.len() - line.trim_start().len();
    let code = code.split("\n#[cfg(test)]").next().unwrap_or(code);
    let lines: Vec<&str> = code.lines().collect();
    let is_of_place = |arm: &str| {
        let pattern = arm.trim_start().trim_start_matches("| ");
        PLACES.iter().any(|name| {
            let rest = pattern.strip_prefix(name);
            rest.is_some_and(|rest| rest.starts_with("::"))
        })
    };
    let is_wildcard = |line: &str| {
        let arm = line.trim_start();
        let (pattern, _) = arm.split_once(" =>").unwrap_or_default();
        let mut words = pattern.split_whitespace();
        let name = words.next().unwrap_or_default();
        let is_name = !name.is_empty() && name.chars().all(|c| c.is_ascii_lowercase() || c == '_');
        is_name && words.next().is_none_or(|word| word == "if")
    };
    let found = (0..lines.len()).filter(|&at| {
        let arms = lines[..at].iter().rev();
        let mut arms =
            arms.take_while(|line| line.trim().is_empty() || far_in(line) >= far_in(lines[at]));
        is_wildcard(lines[at])
            && arms.any(|line| far_in(line) == far_in(lines[at]) && is_of_place(line))
    });
    found.map(|at| at + 1).collect()
}

#[test]
fn no_match_on_a_place_passes_over_new_ones() {
    let caught = "match at {\n    Whereabouts::Hand => 1,\n    _ => 2,\n}\n";
    assert_eq!(wildcards(caught), [3]);
    assert_eq!(wildcards(&caught.replace("_ =>", "at if at.x() =>")), [3]);
    assert!(wildcards(&caught.replace("_ =>", "Whereabouts::Unhung =>")).is_empty());

    let mut found = Vec::new();
    for (layer, _) in MAY_USE {
        for path in layer_files(layer) {
            let lines = wildcards(&fs::read_to_string(&path).unwrap());
            found.extend(
                lines
                    .into_iter()
                    .map(|line| format!("{}:{line}", path.display())),
            );
        }
    }
    assert_eq!(found, Vec::<String>::new(), "name every variant there");
}
