//! Arguments as long as the system allows.
//!
//! Linux accepts no single argument above 128 KiB including its NUL (`MAX_ARG_STRLEN`, 32 pages of
//! 4 KiB; execve(2)), so a megabyte is given as eight of them, or as very many short ones. All
//! arguments and the environment together may take a quarter of the stack, usually 2 MiB.

use std::time::{Duration, Instant};

use super::one_card;
use crate::common::{Run, Stash, is_long};

/// The longest possible argument.
const LONGEST: usize = (128 << 10) - 1;

/// Runs a command as text and as JSON: it ends soon, in few words, with a code of its own.
fn few_words(stash: &Stash, args: &[&str]) -> Run {
    let what = args.iter().map(|arg| arg.chars().take(12).collect());
    let what: Vec<String> = what.take(6).collect();
    let runs = [&[][..], &["--json"]].map(|json| {
        let begun = Instant::now();
        let run = stash.run(&[args, json].concat());
        assert!(begun.elapsed() < Duration::from_secs(20), "{what:?}");
        assert!(matches!(run.code, 0..=2), "{what:?}: {}", run.code);
        let said = run.err.len() + run.out.len();
        // An endless message keeps 1,500 characters, some of them as `\u{202e}`.
        assert!((1..16_000).contains(&said), "{what:?} says {said} bytes");
        assert_eq!(run.code != 0, !run.err.is_empty(), "{what:?}");
        run
    });
    assert_eq!(runs[0].code, runs[1].code, "{what:?}");
    let [run, _] = runs;
    run
}

#[test]
fn the_longest_arguments_are_refused_in_few_words() {
    let stash = one_card();
    let before = stash.record();
    let list = stash.file("key.csv", "number,stitches\n701,5\n");
    let texts = ["x y ", "9", "\u{8d64}e\u{301}", "\u{1b}[31m\u{202e}'"];
    for (nth, text) in texts.into_iter().enumerate() {
        let long = text.repeat(LONGEST / text.len());
        let long = long.as_str();
        let many = [long; 3];
        let with = |command: &[&'static str]| [command, &many].concat();
        let commands: [&[&str]; 39] = [
            &with(&["ring", "take"]),
            &with(&["ring", "take", "Fox"]),
            &with(&["ring", "return"]),
            &with(&["missing"]),
            &with(&["hold"]),
            &with(&["release"]),
            &with(&["need"]),
            &with(&["buy"]),
            &with(&["bought"]),
            &with(&["family", "order"]),
            &with(&["family", "assign"]),
            &["found", long],
            &["use", long, "--strands", "1"],
            &["use", "701", "--strands", long],
            &["effort", "701", "--as", long],
            &["board", "new", long, "--rows", "2", "--columns", "2"],
            &["board", "new", "B", "--rows", long, "--columns", "2"],
            &["board", "block", long, "--why", "lamp"],
            &["board", "block", "A02", "--why", long],
            &["ring", "open", long],
            &["ring", "hang", "Fox", long],
            &["import", "cards", long],
            &["import", "key", &list, "--project", long],
            &["import", "range", &list, "--range", long],
            &["import", "matches", long],
            &["family", "add", long],
            &["rollcall", long],
            &["rehang", "--order", long],
            &["rehang", "--apply", long],
            &["export", "csv", long],
            &["print", "ring", long],
            &["print", "board", "--to", long],
            &["history", long],
            &["merge", long],
            &["check", "--restore", long],
            &["check", "--salvage", long],
            &["undo", long],
            &["schema", long],
            &[long],
        ];
        // A sample, different for each text, unless all were asked for.
        let tried = |place: &usize| is_long() || (5 * nth + place).is_multiple_of(20);
        for place in (0..commands.len()).filter(tried) {
            let args = commands[place];
            let run = few_words(&stash, args);
            assert!(run.code != 0, "{text:?}: {:?}", &args[..1]);
        }
        // A search must give an answer.
        let run = few_words(&stash, &with(&["find"]));
        assert_eq!(run.code, 0);
        assert!(run.out.starts_with("Nothing found for '"));
    }
    assert_eq!(stash.record(), before);
    stash.ok(&["check"]);
}

#[test]
fn a_megabyte_of_short_arguments_is_accepted_or_refused() {
    let stash = one_card();
    let before = stash.record();
    let unknown = vec!["702"; 80_000];
    let commands = [
        &["missing"][..],
        &["ring", "take", "Fox"],
        &["hold"],
        &["need"],
        &["bought"],
        &["family", "order"],
    ];
    for command in &commands[..if is_long() { commands.len() } else { 1 }] {
        let run = few_words(&stash, &[command, &unknown[..]].concat());
        assert_eq!(run.code, 1, "{command:?}");
    }
    let run = few_words(&stash, &[&["find"], &unknown[..]].concat());
    assert_eq!(run.code, 0);
    assert_eq!(stash.record(), before);
    // The same card repeated is still that card.
    let same = vec!["701"; 80_000];
    let said = stash.ok(&[&["ring", "take", "Fox"], &same[..]].concat());
    assert!(said.contains("1 card"), "{said}");
    assert_eq!(
        stash.json(&["where"])["rings"][0]["cards"]
            .as_array()
            .unwrap()
            .len(),
        1
    );
    stash.ok(&["check"]);
}
