//! Typos on the command line, and the harm they must not do.

use std::fs;
use std::path::PathBuf;

use serde_json::json;

use super::wall;
use crate::common::{Stash, is_long, program};

#[test]
fn an_existing_file_is_overwritten_only_with_force() {
    let stash = wall();
    let key = stash.file("key.csv", "range,number,stitches\nHeath,9,90000\n");
    stash.ok(&["import", "key", &key, "--project", "Robin"]);
    let own = stash.file("mine.txt", "my threads, by hand\n");
    for command in [
        &["export", "csv", &own][..],
        &["export", "json", &own],
        &["buy", "--csv", &own],
    ] {
        let text = stash.ok(&command
            .iter()
            .map(|&word| if word == own { "-" } else { word })
            .collect::<Vec<_>>());
        // A file of the user's own, and one written here that the user has edited.
        for there in [
            "my threads, by hand\n".to_owned(),
            format!("{text}more\n"),
            text.replacen('9', "8", 1),
        ] {
            fs::write(&own, &there).unwrap();
            let refused = stash.run(&[command, &["--json"]].concat());
            assert_eq!(
                (refused.code, &refused.error()["code"]),
                (1, &json!("file_there")),
                "{command:?}"
            );
            assert_eq!(fs::read_to_string(&own).unwrap(), there);
        }
        stash.ok(&[command, &["--force"]].concat());
        assert_eq!(fs::read_to_string(&own).unwrap(), text);
        // Writing the same contents again loses nothing.
        let again = stash.run(command);
        assert_eq!(again.code, 0, "{again:?}");
        let said = format!("{}{}", again.out, again.err);
        assert!(said.contains("is up to date already"), "{again:?}");
        fs::write(&own, "").unwrap();
        stash.ok(command);
        assert_eq!(fs::read_to_string(&own).unwrap(), text);
    }
}

/// The names and contents of all files in the stash folder.
fn kept(stash: &Stash) -> Vec<(PathBuf, Vec<u8>)> {
    let mut kept = Vec::new();
    let mut folders = vec![stash.dir()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            match path.is_dir() {
                true => folders.push(path),
                false => kept.push((path.clone(), fs::read(&path).unwrap())),
            }
        }
    }
    kept.sort();
    kept
}

#[test]
fn no_command_writes_a_file_into_a_stash_folder() {
    let stash = wall();
    let key = stash.file("key.csv", "range,number,stitches\nHeath,9,90000\n");
    stash.ok(&["import", "key", &key, "--project", "Robin"]);
    let beside = |name: &str| stash.folder.path().join(name).to_str().unwrap().to_owned();
    let mut files = vec![
        beside("stash/record.jsonl"),
        beside("stash/new.csv"),
        beside("stash/backups/new.csv"),
        beside("stash/../stash/./record.jsonl"),
    ];
    #[cfg(unix)]
    {
        use std::os::unix::fs::symlink;
        symlink(stash.dir(), beside("folder")).unwrap();
        symlink("stash/record.jsonl", beside("link.csv")).unwrap();
        symlink("stash/none.csv", beside("dangling.csv")).unwrap();
        fs::hard_link(beside("stash/record.jsonl"), beside("hard.csv")).unwrap();
        files.extend(
            [
                "folder/record.jsonl",
                "link.csv",
                "dangling.csv",
                "hard.csv",
            ]
            .map(beside),
        );
    }
    // Another person's stash is off limits for this command, too.
    let other = wall();
    files.push(
        other
            .dir()
            .join("record.jsonl")
            .to_str()
            .unwrap()
            .to_owned(),
    );
    let before = (kept(&stash), kept(&other));
    for (nth, file) in files.iter().enumerate() {
        let commands = [
            &["export", "csv", file][..],
            &["export", "json", file],
            &["buy", "--csv", file],
            &["print", "board", "--to", file],
        ];
        for (at, command) in commands.into_iter().enumerate() {
            for (way, force) in [&[][..], &["--force"]].into_iter().enumerate() {
                // Each file with each command, either with or without --force.
                if !is_long() && !(nth + at + way).is_multiple_of(2) {
                    continue;
                }
                let args = [command, force].concat();
                let run = stash.run(&args);
                assert_eq!((run.code, run.out.as_str()), (1, ""), "{args:?}: {run:?}");
                let said =
                    "is inside the stash folder, which only Homehook writes. Name a file elsewhere";
                assert!(run.err.contains(said), "{args:?}: {run:?}");
                let run = stash.run(&[&args[..], &["--json"]].concat());
                assert_eq!(run.error()["code"], "inside_stash", "{args:?}");
            }
        }
    }
    // A file for each page has its own name.
    let pages = beside("stash/marks");
    let run = stash.run(&[
        "print",
        "hook-labels",
        "--form",
        "svg",
        "--to",
        &pages,
        "--json",
    ]);
    assert_eq!(run.error()["code"], "inside_stash");
    assert_eq!((kept(&stash), kept(&other)), before);
    stash.ok(&["check"]);
}

#[test]
fn a_folder_without_a_stash_is_reported() {
    let stash = Stash::new();
    let found = stash.run(&["find", "701"]);
    assert_eq!(found.code, 0);
    assert!(
        found.err.starts_with("homehook: There is no stash in "),
        "{found:?}"
    );
    assert!(!stash.dir().exists());
    // A file isn't a folder.
    let file = stash.file("list.csv", "number\n701\n");
    let run = program()
        .args(["--stash", &file, "where"])
        .output()
        .unwrap();
    assert_eq!(run.status.code(), Some(1));
}

#[test]
fn a_script_gets_bad_usage_like_any_error() {
    let stash = wall();
    let run = stash.run(&["find", "--json"]);
    assert_eq!((run.code, &run.error()["code"]), (2, &json!("usage")));
}

#[test]
fn a_project_with_a_hanging_ring_is_left_out_with_a_note() {
    let stash = wall();
    let key = stash.file("key.csv", "symbol,range,number,stitches\nX,Heath,9,9000\n");
    stash.ok(&["import", "key", &key, "--project", "Robin"]);
    stash.ok(&["ring", "hang", "Robin", "B03"]);
    let refused = stash.run(&["buy", "--json"]);
    assert_eq!(
        (refused.code, &refused.error()["code"]),
        (1, &json!("keys_hanging"))
    );
    stash.ok(&["import", "key", &key, "--project", "Wren"]);
    let bought = stash.run(&["buy"]);
    assert!(
        bought.err.contains("left out, hanging on a hook: 'Robin'"),
        "{bought:?}"
    );
    assert!(stash.run(&["need"]).err.contains("'Robin'"));
    assert_eq!(stash.run(&["buy", "Robin", "Wren"]).err, "");
}

#[test]
fn removing_a_card_reports_its_thread_and_skeins() {
    let stash = wall();
    let list = stash.file("more.csv", "range,number,reserve\nHeath,9,2\n");
    stash.ok(&["import", "cards", &list]);
    assert_eq!(
        stash.ok(&["remove", "9", "--why", "moths"]),
        "Removed 1 card: moths.\n  \
         9  moss: 8 lengths on it and 2 uncut skeins; it was at home on hook A02\n"
    );
}

#[test]
fn an_old_list_shows_the_homes_it_would_change_before_the_import() {
    let stash = wall();
    let list = stash.file("old.csv", "range,number,hook\nHeath,9,B01\n");
    let args = ["import", "cards", &list, "--dry-run"];
    let said = stash.ok(&args);
    assert!(
        said.contains("1 card gets another home: 9 from A02 to B01"),
        "{said}"
    );
    let said = stash.json(&args);
    assert_eq!(
        said["rehomed"],
        "1 card gets another home: 9 from A02 to B01"
    );
}
