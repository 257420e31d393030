//! Names that a terminal would obey, can't show, or shows wide.

use std::fs;

use serde_json::Value;

use super::bytes::sealed;
use super::one_card;
use crate::common::{Run, Stash, is_long};

/// No name may hold these.
const REFUSED: [&str; 12] = [
    "\u{1b}[31mred",
    "\u{1b}]0;mine\u{7}",
    "\u{1b}Pq\u{1b}\\",
    "\u{9b}31mred",
    "\u{9d}0;mine\u{9c}",
    "re\u{8}\u{8}d",
    "red\u{7f}",
    "\u{202e}der",
    "a\u{2067}b\u{2069}",
    "re\u{200b}d",
    "re\u{200d}d",
    "re\u{2028}d",
];

/// Names that are valid: wide, combining, right to left, and ones that only resemble an escape
/// sequence.
const TAKEN: [&str; 8] = [
    "\u{8d64}\u{3044}\u{7cf8}",
    "e\u{301}\u{327}\u{323}\u{300}cru",
    "\u{5d0}\u{5d3}\u{5d5}\u{5dd}",
    "\u{1f9f5}\u{1f9f5}",
    "\\u{1b}[31m",
    "\\x1b]0;",
    "%s%n{}{0}",
    "\"'`$(ls);<b>&",
];

/// Checks that no answer contains anything a terminal would obey or not show.
fn harmless(run: &Run, what: &str) {
    let obeyed = |c: char| c.is_control() && c != '\n' && c != '\t';
    let unseen = |c: char| matches!(c, '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{2069}' | '\u{feff}');
    for text in [&run.out, &run.err] {
        // A list for saving has the line ends of RFC 4180.
        let text = text.replace("\r\n", "\n");
        let found = text.chars().find(|&c| obeyed(c) || unseen(c));
        assert_eq!(found, None, "{what}: {run:?}");
    }
    assert!(run.code <= 3, "{what}: {run:?}");
    assert!(
        run.code == 0 || !(run.err.is_empty() && run.out.is_empty()),
        "{what}: no words"
    );
}

/// Whether the nth name is tried in the nth place: a sample, unless all were asked for.
fn is_tried(name: usize, place: usize) -> bool {
    is_long() || (name + place).is_multiple_of(24)
}

/// Runs a command as text and as JSON.
fn both(stash: &Stash, args: &[&str]) -> Run {
    let what = format!("{args:?}");
    let run = stash.run(args);
    harmless(&run, &what);
    harmless(&stash.run(&[args, &["--json"]].concat()), &what);
    run
}

/// A quoted field of a list, whatever it contains.
fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('"', "\"\""))
}

/// Every command that shows names.
const TELLING: [&[&str]; 20] = [
    &["board", "show"],
    &["find", "701"],
    &["find", "x"],
    &["ring", "list"],
    &["ring", "key", "1"],
    &["need"],
    &["buy"],
    &["where"],
    &["history", "--last", "500"],
    &["history", "701"],
    &["rollcall"],
    &["rehang"],
    &["hold", "--list"],
    &["family", "list"],
    &["check"],
    &["check", "--restore"],
    &["export", "csv"],
    &["export", "json"],
    &["undo", "3"],
    &["redo", "3"],
];

fn tell_all(stash: &Stash) {
    for args in TELLING {
        both(stash, args);
    }
}

/// Lists with the name in each column in turn, and as a column's title.
fn lists(stash: &Stash, name: &str) -> Vec<(Vec<&'static str>, String)> {
    let list = |command: &[&'static str], columns: &[&str]| {
        let mut text = format!("{},{}\n", columns.join(","), quoted(name));
        for at in 0..columns.len() {
            let fields = columns.iter().enumerate().map(|(n, &column)| {
                if n == at {
                    return quoted(name);
                }
                match column {
                    "number" => format!("{}", 700 + at),
                    "hook" if command[0] == "rollcall" => "A01".to_owned(),
                    _ => String::new(),
                }
            });
            text.push_str(&fields.collect::<Vec<_>>().join(","));
            text.push_str(",\n");
        }
        let file = stash.file(&format!("{}.csv", command.join("-")), text);
        (command.to_vec(), file)
    };
    let card_list = [
        "range", "number", "name", "hex", "family", "lengths", "dye lot", "hook", "note",
        "split of",
    ];
    let key = ["symbol", "number", "name", "hex", "strands", "stitches"];
    vec![
        list(&["import", "cards"], &card_list),
        list(&["import", "range"], &["number", "name", "hex", "family"]),
        list(&["import", "key"], &key),
        list(&["rollcall"], &["hook", "number", "range"]),
    ]
}

/// Imports the lists; those that need a range or project name it in their last words.
fn import(stash: &Stash, name: &str) -> Vec<Run> {
    let lists = lists(stash, name);
    let runs = lists.iter().map(|(command, file)| {
        let mut args = command.clone();
        args.push(file);
        match command.last() {
            Some(&"range") => args.extend(["--range", "Sandbank"]),
            Some(&"key") => args.extend(["--project", "Fox"]),
            _ => {}
        }
        both(stash, &args)
    });
    runs.collect()
}

#[test]
fn no_list_imports_text_that_a_terminal_obeys() {
    let stash = one_card();
    for name in REFUSED.iter().chain(&["re\0d"]) {
        for run in import(&stash, name) {
            assert!(
                run.err.contains("line 2: ") || run.code == 0,
                "{name:?}: {run:?}"
            );
        }
        let record = String::from_utf8(stash.record()).unwrap();
        let written = serde_json::to_string(name).unwrap();
        assert!(!record.contains(name) && !record.contains(written.trim_matches('"')));
    }
    tell_all(&stash);
    stash.ok(&["check"]);
}

#[test]
fn no_argument_imports_text_that_a_terminal_obeys() {
    let stash = one_card();
    let file = stash.file("range.csv", "number\n701\n");
    for (nth, name) in REFUSED.into_iter().enumerate() {
        let path = stash.folder.path().join("none").join(name);
        let path = path.to_str().unwrap();
        let before = stash.record();
        let commands: [&[&str]; 36] = [
            &["board", "new", name, "--rows", "1", "--columns", "1"],
            &["board", "block", "A02", "--why", name],
            &["board", "unblock", name],
            &["board", "show", name],
            &["find", name],
            &["import", "range", &file, "--range", name],
            &["import", "key", &file, "--project", name],
            &["import", "cards", path],
            &["family", "add", name],
            &["family", "rename", name, "reds"],
            &["family", "assign", name, "701"],
            &["ring", "open", name],
            &["ring", "take", name, "701"],
            &["ring", "take", "Fox", name],
            &["ring", "split", name, "701", "--lengths", "1"],
            &["ring", "key", name],
            &["ring", "fabric", name],
            &["missing", name],
            &["found", name],
            &["use", name, "--lengths", "1"],
            &["effort", name, "--as", "5"],
            &["hold", name],
            &["hold", "--family", name],
            &["need", name],
            &["buy", name],
            &["bought", name],
            &["history", name],
            &["rehang", "--order", name],
            &["rehang", "--rows", name],
            &["print", "ring", name],
            &["print", "labels", "--to", path],
            &["merge", path],
            &["check", "--restore", name],
            &["export", "csv", path],
            &["schema", name],
            &[name],
        ];
        for (place, args) in commands.into_iter().enumerate() {
            if is_tried(nth, place) {
                both(&stash, args);
            }
        }
        assert_eq!(stash.record(), before, "{name:?}");
        // A writer's name is only cleaned: it may come from the computer rather than a person.
        both(&stash, &["--by", name, "board", "reserve", "A03"]);
        both(&stash, &["board", "unreserve", "A03"]);
        both(&stash, &["history"]);
        both(&stash, &["--stash", path, "board", "show"]);
    }
    stash.ok(&["check"]);
}

#[test]
fn names_of_any_script_come_back_unchanged() {
    for (nth, name) in TAKEN.into_iter().enumerate() {
        let stash = one_card();
        import(&stash, name);
        if !is_long() && !nth.is_multiple_of(3) {
            continue;
        }
        let list = format!(
            "range,number,name,family,note,hook\n{0},1,{0},{0},{0},A02\n",
            quoted(name)
        );
        let list = stash.file("list.csv", list);
        let taken = stash.json(&["import", "cards", &list]);
        assert_eq!(taken["rejected"], Value::Array(Vec::new()), "{name}");
        stash.ok(&["board", "block", "B01", "--why", name]);
        stash.ok(&["ring", "open", name]);
        stash.ok(&["ring", "take", name, "701"]);
        stash.ok(&[
            "--by",
            name,
            "board",
            "new",
            name,
            "--rows",
            "1",
            "--columns",
            "1",
            "--prefix",
            "2-",
        ]);
        both(&stash, &["need", name]);
        both(&stash, &["buy", name]);
        let found = stash.json(&["find", "701"]);
        let ring = &found["matches"][0]["whereabouts"]["ring"];
        assert_eq!(ring, name);
        let log = stash.json(&["history", "--last", "1"]);
        assert_eq!(log["events"][0]["by"], name);
        for (place, args) in TELLING.into_iter().enumerate() {
            if is_tried(nth, place) {
                both(&stash, args);
            }
        }
    }
}

/// A record with texts that no command would have written.
#[test]
fn a_record_by_another_program_is_shown_harmlessly() {
    let stash = one_card();
    let line = |event: &str| {
        format!(
            r#"{{"seq":SEQ,"id":"00000000000000fe","stamp":SEQ,"time":"2026-03-01T10:32:00Z","by":"laptop","event":{event}"#
        )
    };
    for (nth, name) in REFUSED.into_iter().enumerate() {
        let text = serde_json::to_string(name).unwrap();
        let merge = format!(
            r#"{{"act":{{"merge":{{"facts":[],"settled":[{{"thing":"stash","member":{text},"value":{text}}}]}}}},"changes":[]}}"#
        );
        let events = [
            merge,
            format!(r#"{{"act":{{"new_family":{{"name":{text}}}}},"changes":[]}}"#),
            format!(r#"{{"act":{{"block":{{"hook":{text}}}}},"changes":[]}}"#),
            format!(r#"{{"act":{text},"changes":[]}}"#),
            format!(r#"{{"act":"order_wall","changes":[{{{text}:{{}}}}]}}"#),
            format!(
                r#"{{"act":"order_families","changes":[{{"families":{{"before":[],"after":[{{"id":"0000000000000001","name":{text}}}]}}}}]}}"#
            ),
        ];
        for (place, event) in events.into_iter().enumerate() {
            if !is_tried(nth, place) {
                continue;
            }
            let other = Stash::new();
            fs::create_dir(other.dir()).unwrap();
            let record = String::from_utf8(stash.record()).unwrap();
            let seq = record.lines().count().to_string();
            let line = line(&event).replace("SEQ", &seq);
            let bytes = sealed(record.lines(), Some(&line));
            fs::write(other.dir().join("record.jsonl"), bytes).unwrap();
            // The line itself is one of the record, so it's the event that is looked at.
            let check = other.run(&["check"]).out;
            assert!(
                check.contains("All is well") || check.contains("a newer Homehook"),
                "{check}"
            );
            for args in [&["check"][..], &["history"], &["board", "show"], &["undo"]] {
                both(&other, args);
            }
            let other = other.dir();
            both(&stash, &["merge", other.to_str().unwrap(), "--dry-run"]);
        }
    }
}

#[test]
fn a_field_of_a_megabyte_is_refused_in_few_words() {
    let stash = one_card();
    let before = stash.record();
    let texts = ["x", "\u{8d64}", "\u{1b}[", "9", "\"\""];
    for (nth, long) in texts.into_iter().enumerate() {
        let long = long.repeat((1 << 20) / long.len());
        let lists = [
            ("cards", "number,name\n", vec![]),
            ("cards", "name,number\n", vec![]),
            ("range", "number,name\n", vec!["--range", "Sandbank"]),
            ("key", "number,name\n", vec!["--project", "Fox"]),
            ("key", "number,stitches\n", vec!["--project", "Fox"]),
        ];
        for (place, (kind, header, more)) in lists.into_iter().enumerate() {
            if !is_tried(nth, place) {
                continue;
            }
            let row = format!("{header}9,\"{long}\"\n");
            let row = stash.file("row.csv", row);
            let head = stash.file("head.csv", format!("number,\"{long}\n"));
            for file in [row, head] {
                let args = [&["import", kind, &file], &more[..]].concat();
                let run = both(&stash, &args);
                assert_eq!(
                    run.code,
                    1,
                    "{kind}: {}",
                    &run.err[..run.err.len().min(500)]
                );
                assert!(run.err.len() < 2_000, "{kind}: an endless error");
            }
        }
        let seen = stash.file("seen.csv", format!("hook,number\n\"{long}\",9\n"));
        let run = both(&stash, &["rollcall", &seen, "--strict"]);
        assert!(run.code != 0 && run.err.len() < 2_000, "{}", run.err.len());
    }
    assert_eq!(stash.record(), before);
}
