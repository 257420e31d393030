//! Commands whose input, output or errors are closed, empty, or unread.

use std::fs;
use std::io::pipe;
use std::process::{Command, Stdio};

use crate::common::{Run, Stash, finish, program};

/// Answers of every length, from one line to a page to print.
const ASKING: [&[&str]; 17] = [
    &["--help"],
    &["--version"],
    &["board", "show"],
    &["find", "701"],
    &["find", "nothing like it"],
    &["where"],
    &["ring", "list"],
    &["family", "list"],
    &["need"],
    &["buy"],
    &["rehang"],
    &["history"],
    &["check"],
    &["export", "csv"],
    &["export", "json"],
    &["keyboard"],
    &["schema", "record"],
];

/// A board of two rows with card 701 on it and 702 to hang, and a project that lacks a colour.
fn stash() -> Stash {
    let stash = Stash::new();
    stash.ok(&["board", "new", "Wall", "--rows", "2", "--columns", "4"]);
    let list = stash.file("first.csv", "number,hook,lengths\n701,A01,8\n311,,8\n");
    stash.ok(&["import", "cards", &list]);
    let key = stash.file("key.csv", "number,stitches\n701,200\n999,900\n");
    stash.ok(&["import", "key", &key, "--project", "Fox"]);
    stash
}

fn on(stash: &Stash, args: &[&str]) -> Command {
    let mut command = program();
    command.arg("--stash").arg(stash.dir()).args(args);
    command
}

/// Runs a shell command, where `"$0"` is the program and `"$1"` the stash.
fn shell(stash: &Stash, line: &str) -> Run {
    let mut command = Command::new("sh");
    command.args(["-c", line, env!("CARGO_BIN_EXE_homehook")]);
    finish(command.arg(stash.dir()).env_remove("HOMEHOOK_STASH"))
}

/// Runs a command whose answer goes to a pipe without a reader.
fn unread(stash: &Stash, args: &[&str]) -> (Option<i32>, String) {
    let (reader, writer) = pipe().unwrap();
    drop(reader);
    let child = on(stash, args)
        .stdout(writer)
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let output = child.wait_with_output().unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    (output.status.code(), said)
}

#[test]
fn an_unread_answer_is_no_failure() {
    let stash = stash();
    for args in ASKING {
        for json in [&[][..], &["--json"]] {
            let (code, said) = unread(&stash, &[args, json].concat());
            assert_eq!((code, said.as_str()), (Some(0), ""), "{args:?} {json:?}");
        }
    }
    // As in a shell pipeline, where the program may or may not have written by then.
    let run = shell(
        &stash,
        r#"{ "$0" --stash "$1" find 701; echo "code $?" >&2; } | head -c 0"#,
    );
    assert_eq!((run.code, run.err.as_str()), (0, "code 0\n"), "{run:?}");
}

#[test]
fn an_unread_command_still_commits_and_keeps_its_exit_code() {
    let stash = stash();
    let before = fs::read(stash.dir().join("record.jsonl")).unwrap().len();
    assert_eq!(
        unread(&stash, &["missing", "701"]),
        (Some(0), String::new())
    );
    assert_eq!(stash.json(&["where"])["missing"][0]["number"], "701");
    // A refusal goes to standard error, and is a failure.
    let (code, said) = unread(&stash, &["missing", "999"]);
    assert_eq!(code, Some(1));
    assert!(said.starts_with("homehook: "), "{said}");
    // A damaged record is reported by the exit code, whether anybody reads the answer or not.
    let path = stash.dir().join("record.jsonl");
    let mut bytes = fs::read(&path).unwrap();
    bytes[before - 9] ^= 1;
    fs::write(&path, bytes).unwrap();
    for args in [&["check"][..], &["check", "--json"]] {
        assert_eq!(unread(&stash, args), (Some(1), String::new()), "{args:?}");
    }
}

#[test]
fn closed_streams_do_no_harm() {
    let stash = stash();
    for args in ASKING {
        let words: Vec<String> = args.iter().map(|word| format!("'{word}'")).collect();
        let command = format!(r#""$0" --stash "$1" {}"#, words.join(" "));
        let usual = shell(&stash, &format!("{command} </dev/null"));
        assert_eq!((usual.code, usual.err.as_str()), (0, ""), "{usual:?}");
        // The same answer without an input.
        let run = shell(&stash, &format!("{command} 0<&-"));
        assert_eq!((run.code, run.err.as_str()), (0, ""), "{args:?}");
        assert_eq!(run.out, usual.out, "{args:?}");
        let run = shell(&stash, &format!("{command} <&- >&- 2>&-"));
        assert_eq!(run.code, 0, "{args:?}");
    }
    // The change is made; a refusal shows only in the exit code.
    let run = shell(&stash, r#""$0" --stash "$1" missing 701 <&- >&- 2>&-"#);
    assert_eq!(run.code, 0);
    assert_eq!(stash.json(&["where"])["missing"][0]["number"], "701");
    for line in [
        r#""$0" --stash "$1" missing 999 <&- >&- 2>&-"#,
        r#""$0" --stash "$1" missing 999 2>&-"#,
    ] {
        let run = shell(&stash, line);
        assert_eq!((run.code, run.err.as_str()), (1, ""), "{run:?}");
    }
    let run = shell(&stash, r#""$0" --stash "$1" no-such-command 2>&-"#);
    assert_eq!((run.code, run.err.as_str()), (2, ""), "{run:?}");
}

#[test]
fn a_list_from_a_missing_input_is_refused_in_words() {
    let stash = stash();
    let before = stash.record();
    for (input, kind) in [
        ("<&-", "cards"),
        ("</dev/null", "cards"),
        ("<&-", "key --project Fox"),
        ("<&-", "range --range Sandbank"),
    ] {
        let (kind, more) = kind.split_once(' ').unwrap_or((kind, ""));
        let line = format!(r#""$0" --stash "$1" import {kind} - {more} {input}"#);
        let run = shell(&stash, &line);
        assert_eq!((run.code, run.out.as_str()), (1, ""), "{line}: {run:?}");
        assert!(run.err.starts_with("homehook: -: "), "{line}: {run:?}");
    }
    // An input that is a folder can't be read, which is also reported.
    let run = shell(&stash, r#""$0" --stash "$1" import cards - <"$1""#);
    assert_eq!((run.code, run.out.as_str()), (1, ""), "{run:?}");
    assert!(run.err.contains("can't be read"), "{run:?}");
    assert_eq!(stash.record(), before);
}
