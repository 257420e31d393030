//! The screens in a language that is none: no word of English is left on them.

use crate::harness::{ENTER, ESC, Folder, Screen};
use crate::in_words::{STOCK, english, said, write};

/// The names of keys, which are what stands on the keyboard, and what is typed to be understood.
const KNOWN: [&str; 17] = [
    "Enter",
    "Space",
    "Esc",
    "Tab",
    "Shift",
    "Ctrl",
    "Backspace",
    "Delete",
    "Home",
    "End",
    "Left",
    "Right",
    "Down",
    "PageUp",
    "PageDown",
    "labels",
    "stash",
];

/// What is pressed, and an English text that is then on the screen in the other language; with
/// nothing of it, what was there before is gone.
const STEPS: [(&str, &str); 60] = [
    ("?", "Signs on the board"),
    (ESC, ""),
    (":", "do it"),
    (ESC, ""),
    ("/3", "go there"),
    (ESC, ""),
    ("r", "new project"),
    (ENTER, "how it stands"),
    ("f", ""),
    (ESC, ""),
    ("%", ""),
    (ESC, ""),
    ("e", ""),
    (ESC, ""),
    ("t", ""),
    (ESC, ""),
    (ESC, ""),
    ("b", ""),
    (ESC, ""),
    (ESC, ""),
    ("w", "Not at home"),
    (ESC, ""),
    ("F", ""),
    (ENTER, ""),
    ("s", ""),
    (ESC, ""),
    (ESC, ""),
    (ESC, ""),
    ("L", ""),
    (ESC, ""),
    ("v", ""),
    (ESC, ""),
    ("E", ""),
    (ESC, ""),
    ("H", ""),
    ("H", ""),
    ("H", ""),
    ("P", ""),
    (ESC, ""),
    ("g", ""),
    (ESC, ""),
    ("W", ""),
    (ESC, ""),
    ("B", ""),
    (ESC, ""),
    ("i", ""),
    (ESC, ""),
    ("n", ""),
    (ESC, ""),
    ("e", ""),
    (ESC, ""),
    (" ", ""),
    ("t", ""),
    (ESC, ""),
    (" ", ""),
    ("r", ""),
    ("p", ""),
    (ESC, ""),
    (ESC, ""),
    ("U", ""),
];

/// A screen without what stands in a path: it is the user's.
fn without_paths(shown: &str) -> String {
    let words = shown.split_inclusive(char::is_whitespace);
    words
        .filter(|word| !word.contains('/') || word.len() < 8)
        .collect()
}

#[test]
fn no_screen_has_a_word_that_cannot_be_said_in_another_language() {
    let folder = Folder::new();
    let stash = folder.stash();
    let list = folder.file("stock.csv", STOCK);
    let key = folder.file(
        "key.csv",
        "symbol,number,stitches\nx,1,400\no,310,90000\ny,5,100\n",
    );
    for args in [
        &["board", "new", "\u{3a8}", "--rows", "3", "--columns", "4"][..],
        &["import", "stock", &list],
        &["import", "key", &key, "--project", "\u{3a0}"],
        &["ring", "take", "\u{3a0}", "1"],
        &["missing", "2"],
    ] {
        folder.json(args);
    }
    let language = folder.file("language.json", "{}");
    write(language.as_ref());
    for size in [(80, 24), (120, 40)] {
        let mut screen = Screen::start(
            &["--stash", &stash.display().to_string()],
            &[("HOMEHOOK_LANGUAGE", &language)],
            size,
        );
        screen.wait_for(&said("to hang"));
        for (at, (keys, text)) in STEPS.into_iter().enumerate() {
            let before = screen.text();
            screen.keys(keys);
            match text {
                "" => screen.wait_until("another screen", || screen.text() != before),
                text => screen.wait_for(&said(text)),
            }
            screen.wait_quiet();
            let shown = without_paths(&screen.text());
            let left = english(&shown, &KNOWN);
            assert!(left.is_empty(), "step {at}, {keys:?}: {left:?} in\n{shown}");
        }
        screen.keys("q");
        assert!(screen.ended().success());
    }
}
