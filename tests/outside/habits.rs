//! The documents, the help of every command and every text of the program use plain words: short,
//! active, and one word for one thing.

use std::fs;
use std::path::Path;

use clap::Command;
use regex::Regex;

use crate::source::{files, literals};

/// Refused patterns, with the wording to use instead.
const HABITS: &[(&str, &str)] = &[
    // Passives without an actor.
    (
        r"\b(is|are|was|were|be|been) (told|said)\b|\btold\b",
        "say who shows what",
    ),
    (
        r"\bnobody (has )?(said|says|noted|knows)\b",
        "No fabric set",
    ),
    (
        r"\b(is|are) to be\b|\bto be (bought|hung|fetched|ticked|done)\b",
        "Nothing to buy",
    ),
    (r"\b(cannot|can't) be used\b|\bnot usable\b", "blocked"),
    // Clauses that a noun can replace.
    (
        r"\bwhat there (is|was)\b|\bwhat (is|was|were) (done|good|said|known|there|seen|meant)\b",
        "a noun: history, preview",
    ),
    (
        r"\bwhat it (is|was)\b|\bhow it (is|was) (done|meant)\b",
        "a noun",
    ),
    (
        r"(?m)^[-| /]*it (is|was)\b",
        "begin with the thing, or a verb",
    ),
    (
        r"\b(is|are) no [a-z]+ (number|card|file|list|colour|hook)\b",
        "isn't a",
    ),
    (
        r"\b(one|match|field|choice|order|page|cards?|row|line) before\b",
        "previous",
    ),
    (
        r"\banew\b|\bof which\b|\bbeside (that|those|these)\b|\bso it\b|\bneed be\b",
        "plain words",
    ),
    (
        r"\blives? (on|there|here)\b|\bspeaks? of\b|\b(says?|speaks?) so\b",
        "belongs on; refers to",
    ),
    (r"\bfinds? (no|its) place\b", "won't fit"),
    (
        r"\bif not given\b|\bif none is (given|named)\b",
        "without it",
    ),
    // One word for one thing.
    (
        r"\b(brings?|brought|bringing|takes?|taken|took) in\b|\bstock list\b",
        "import; card list",
    ),
    (r"\bshades?\b", "range list; colour"),
    (
        r"\bkeys? of (a|the|its|his|her) pattern\b|\bpatterns?'s? key\b",
        "chart key",
    ),
    (
        r"\bdecant|\bspare cards?\b|\bwind(s|ing)? back\b|\bwound\b",
        "split, rejoin",
    ),
    (r"\bpark(s|ed|ing)?\b", "hang up"),
    (r"\bmarks? of (a|the|its) hooks?\b|\bhook's mark\b", "hook"),
    (r"\b(un)?pin(s|ned)?\b", "hold, release"),
    (r"\bweigh(s|ed)?\b|\bkept free\b", "effort; reserved hook"),
    (r"\b(homeless|tray)\b", "to hang"),
    (r"\bdiscard", "remove"),
    (r"\bcloth\b", "fabric"),
    (
        r"\b(tak(e|es|en|ing)|took) back\b|\b(do|done|does) again\b",
        "undo, redo",
    ),
    (
        r"\blet(s|ting)? (it|them) go\b|\blet go\b|\bchosen (cards?|projects?)\b",
        "select, deselect",
    ),
    (
        r"\bdraw(s|ing)? (a|the|this) board\b|\bmeasures? (a|the|this) board\b",
        "edit, resize",
    ),
    (r"\bplaces? on (a|the|it|one) hook\b", "cards per hook"),
    (r"\bdeclar(e|es|ed|ing)\b", "mark as missing"),
    (r"\breckon", "count"),
    // Names that stand in for invented ones.
    (
        r"\b310\b|\becru\b|\bmill\b|\bbea\b|\bnora\b",
        "the demo's numbers; a friend",
    ),
];

/// Phrases where a pattern is right after all.
const EXCEPTIONS: &[&str] = &[
    // The README warns about a board on a real wall, and describes a test with water.
    "Weigh it, and find out",
    "in water on white cloth",
    // Thread is wound by hand.
    "wind what is left back onto the card",
];

/// Phrases in the program's texts where a pattern is right: names, and parts of sentences that
/// follow another.
const PARTS: &[&str] = &[
    "it is {place}",
    "It is {place}",
    "it is {of}",
    " It was: {what}.",
    "its missing card before you buy",
];

/// Texts with their names: the README, each page of the handbook, and the help of each command.
fn texts() -> Vec<(String, String)> {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let pages = fs::read_dir(here.join("assets/handbook")).unwrap();
    let pages = pages.map(|page| page.unwrap().path());
    let mut texts: Vec<(String, String)> = pages
        .chain([here.join("README.md")])
        .map(|path| {
            let name = path.strip_prefix(here).unwrap().display().to_string();
            (name, fs::read_to_string(&path).unwrap())
        })
        .collect();
    let mut command = homehook::cli::command();
    command.build();
    helps(&mut command, &mut texts);
    texts
}

fn helps(command: &mut Command, texts: &mut Vec<(String, String)>) {
    let name = format!("{} --help", command.get_bin_name().unwrap_or_default());
    let help = command.render_long_help().to_string();
    texts.push((name, help));
    for below in command.get_subcommands_mut() {
        if below.get_name() != "help" {
            helps(below, texts);
        }
    }
}

/// The text with each paragraph on one line, so that line breaks hide no habit.
fn joined(text: &str) -> String {
    let mut joined = String::new();
    for line in text.lines() {
        let begins =
            line.trim_start().starts_with(['-', '|', '#', '<', '[']) || line.trim().is_empty();
        joined.push(if begins { '\n' } else { ' ' });
        joined.push_str(line.trim());
    }
    joined
}

struct Habits {
    /// Matches any pattern; tried first.
    any: Regex,
    /// Each pattern, with the wording to use.
    each: Vec<(Regex, &'static str)>,
}

fn habits() -> Habits {
    let ready = |pattern: &str| Regex::new(&format!("(?i-u){pattern}")).unwrap();
    let each = HABITS
        .iter()
        .map(|&(pattern, instead)| (ready(pattern), instead));
    let all: Vec<_> = HABITS
        .iter()
        .map(|(pattern, _)| format!("(?:{pattern})"))
        .collect();
    Habits {
        any: ready(&all.join("|")),
        each: each.collect(),
    }
}

fn found(habits: &Habits, text: &str) -> Vec<String> {
    let mut text = joined(text);
    for exception in EXCEPTIONS {
        text = text.replace(exception, "");
    }
    let mut found = Vec::new();
    if !habits.any.is_match(&text) {
        return found;
    }
    for (pattern, instead) in &habits.each {
        for habit in pattern.find_iter(&text) {
            let (before, after) = (&text[..habit.start()], &text[habit.start()..]);
            let begin = before.rfind('\n').map_or(0, |at| at + 1);
            let end = after.find('\n').map_or(text.len(), |at| habit.start() + at);
            let line = &text[begin..end];
            found.push(format!("'{}' ({instead}) in: {line}", habit.as_str()));
        }
    }
    found
}

#[test]
fn documents_and_help_use_plain_words() {
    let texts = texts();
    assert!(texts.len() > 80, "only {} texts were found", texts.len());
    let (habits, mut all) = (habits(), Vec::new());
    for (name, text) in &texts {
        all.extend(
            found(&habits, text)
                .into_iter()
                .map(|habit| format!("{name}: {habit}")),
        );
    }
    assert!(all.is_empty(), "{} habits:\n{}", all.len(), all.join("\n"));
    let every: String = texts.iter().map(|(_, text)| joined(text)).collect();
    for exception in EXCEPTIONS {
        assert!(every.contains(exception), "nobody needs: {exception}");
    }
}

/// The program's texts that a user may read, each with its file.
fn texts_of_the_program() -> Vec<(String, String)> {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut texts = Vec::new();
    for layer in ["text", "print", "cli", "tui", "exchange"] {
        for file in files(&here.join("src").join(layer)) {
            let name = file.strip_prefix(here).unwrap().display().to_string();
            if name.contains("test") {
                continue;
            }
            let code = fs::read_to_string(&file).unwrap();
            let sentences = literals(&code)
                .into_iter()
                .filter(|text| text.contains(' '));
            texts.extend(sentences.map(|text| (name.clone(), text)));
        }
    }
    texts
}

#[test]
fn program_texts_use_plain_words() {
    let texts = texts_of_the_program();
    assert!(texts.len() > 2_000, "only {} texts were found", texts.len());
    let habits = habits();
    let mut all = Vec::new();
    for (name, text) in &texts {
        let text = PARTS
            .iter()
            .fold(text.clone(), |text, part| text.replace(part, ""));
        all.extend(
            found(&habits, &text)
                .into_iter()
                .map(|habit| format!("{name}: {habit}")),
        );
    }
    assert!(all.is_empty(), "{} habits:\n{}", all.len(), all.join("\n"));
    for part in PARTS {
        assert!(
            texts.iter().any(|(_, text)| text.contains(part)),
            "nobody needs: {part}"
        );
    }
}

#[test]
fn literals_are_extracted_from_code() {
    let code = r###"
        // "no text"
        const A: &str = "one \
            two\n";
        fn f<'a>(sign: char) -> &'a str { if sign == '"' { r#"raw "text""# } else { "say \"so\"" } }
        #[cfg(test)]
        "###
    .replace("        #", "#");
    assert_eq!(literals(&code), ["one two\n", "raw \"text\"", "say \"so\""]);
}

#[test]
fn each_habit_is_detected() {
    let habits = habits();
    for text in [
        "The first screen is told of it.",
        "hooks that\ncannot be used",
        "- it was bought",
        "447 is no whole number",
        "the match before",
        "draw the board anew",
        "a card that lives on C07",
        "take back the last change",
        "the mark of the hook",
    ] {
        assert!(!found(&habits, text).is_empty(), "{text}");
    }
}
