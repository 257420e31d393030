use crate::exchange::Column;
use crate::tui::app::Mode;
use crate::tui::app::matching::Matching;
use crate::tui::key::{Code, Key};
use crate::tui::keymap::Scope;
use crate::tui::message::{Effect, Message, Want};
use crate::tui::testing::{FILE, ODD, TestApp};
use crate::tui::theme::Depth;

fn matching(desk: &TestApp) -> &Matching {
    match &desk.app.mode {
        Mode::Matching(matching) => matching,
        other => panic!("{other:?}"),
    }
}

fn press(desk: &mut TestApp, code: Code, times: usize) {
    for _ in 0..times {
        desk.take(Message::Key(Key::plain(code)));
    }
}

/// The list with odd names, its columns to be matched.
fn opened() -> TestApp {
    let mut desk = TestApp::sample(Depth::None);
    desk.keys(&format!("i{ODD}\n\n"));
    desk
}

fn use_of(desk: &TestApp, at: usize) -> Option<Column> {
    matching(desk).columns.uses[at]
}

#[test]
fn a_column_is_taken_for_what_the_person_says() {
    let mut desk = opened();
    assert_eq!(use_of(&desk, 0), Some(Column::Number));
    assert_eq!(use_of(&desk, 1), Some(Column::Name));
    assert_eq!(use_of(&desk, 2), None);
    press(&mut desk, Code::Down, 9);
    // All there is, and round to the beginning.
    let mut seen = Vec::new();
    for _ in 0..=Column::OF_CARD_LIST.len() {
        press(&mut desk, Code::Right, 1);
        seen.push(use_of(&desk, 2));
    }
    assert_eq!(seen.pop(), Some(None));
    // What another column is taken for comes last.
    assert_eq!(seen[10..], [Some(Column::Number), Some(Column::Name)]);
    seen.sort();
    seen.dedup();
    assert_eq!(seen.len(), Column::OF_CARD_LIST.len());
    press(&mut desk, Code::Left, 1);
    assert_eq!(use_of(&desk, 2), Some(Column::Name));
}

#[test]
fn lines_that_cannot_be_taken_are_told_before_anything_is_imported() {
    let mut desk = opened();
    press(&mut desk, Code::Down, 2);
    while use_of(&desk, 2) != Some(Column::Skeins) {
        press(&mut desk, Code::Right, 1);
    }
    let judged = matching(&desk).judged.as_ref().unwrap();
    assert_eq!(
        (judged.refused, judged.doubts, judged.warnings[0].line),
        (0, 1, 4)
    );
    assert_eq!(judged.outcome.as_ref().unwrap().added, 3);
    let drawn = desk.drawn((80, 24)).join("\n");
    for says in [
        "A value cannot be read",
        "line 4: ",
        "is taken without an amount",
        "line 2: 310, soot, 2 skeins",
    ] {
        assert!(drawn.contains(says), "{says:?} in\n{drawn}");
    }
    let before = desk.state.cards().len();
    desk.keys("\n");
    assert_eq!(desk.state.cards().len(), before + 3);
    let commits = desk.asked.iter().filter(|e| matches!(e, Effect::Commit(_)));
    assert_eq!(commits.count(), 1);
    assert_eq!(desk.app.scope(), Scope::Plans);
    let said = &desk.app.notice.as_ref().unwrap().text;
    assert_eq!(
        said,
        "3 cards imported; a value on line 4 could not be read"
    );
}

#[test]
fn a_file_must_be_named() {
    let mut desk = TestApp::sample(Depth::None);
    desk.keys("i\n");
    assert_eq!(desk.line(), 0);
    assert!(desk.wrong().contains("where the file is"));
}

#[test]
fn two_columns_of_one_kind_or_none_for_the_number_are_not_imported() {
    let mut desk = opened();
    let asked = |desk: &TestApp| {
        let commits = desk.asked.iter().filter(|e| matches!(e, Effect::Commit(_)));
        commits.count()
    };
    press(&mut desk, Code::Down, 1);
    press(&mut desk, Code::Left, 1);
    while use_of(&desk, 1) != Some(Column::Number) {
        press(&mut desk, Code::Left, 1);
    }
    assert!(matching(&desk).is_twice(0) && matching(&desk).is_twice(1));
    desk.keys("\n");
    let said = desk.app.notice.clone().unwrap();
    assert!(said.wrong && said.text.contains("'number'"), "{said:?}");
    press(&mut desk, Code::Right, 1);
    press(&mut desk, Code::Up, 1);
    while use_of(&desk, 0).is_some() {
        press(&mut desk, Code::Left, 1);
    }
    desk.keys("\n");
    let said = desk.app.notice.clone().unwrap();
    assert!(
        said.text.contains("Which column has the number"),
        "{said:?}"
    );
    assert_eq!(asked(&desk), 0);
    // Back to the form with what was typed in it, then to the board.
    desk.keys("\u{1b}");
    assert_eq!(desk.filled("file"), ODD);
}

#[test]
fn the_first_line_is_a_card_or_has_titles() {
    let mut desk = opened();
    let lines = |desk: &TestApp| {
        let judged = matching(desk).judged.as_ref().unwrap();
        judged.rows.iter().map(|row| row.line).collect::<Vec<_>>()
    };
    assert_eq!(lines(&desk), [2, 3, 4]);
    desk.keys("t");
    assert_eq!(lines(&desk), [1, 2, 3, 4]);
    assert!(desk.drawn((80, 24)).join("\n").contains("column 2"));
    desk.keys("t");
    assert_eq!(lines(&desk), [2, 3, 4]);
}

#[test]
fn files_are_completed_as_far_as_they_are_alike() {
    let mut desk = TestApp::sample(Depth::None);
    let drawn = |desk: &TestApp| desk.drawn((80, 24)).join("\n");
    desk.keys("i\t");
    assert_eq!(desk.filled("file"), "");
    for file in [FILE, ODD, "key.csv"] {
        assert!(drawn(&desk).contains(file), "{}", drawn(&desk));
    }
    desk.keys("o\t");
    assert_eq!(desk.filled("file"), ODD);
    assert!(!drawn(&desk).contains(FILE), "{}", drawn(&desk));
    desk.keys("x\t");
    assert!(desk.wrong().contains("No file begins"));
    // In any other field Tab goes on.
    desk.keys("\n\t");
    assert_eq!(desk.line(), 0);
}

/// What is in the file is read, once more.
fn read(desk: &mut TestApp, text: &str) {
    desk.take(Message::FileRead {
        path: ODD.to_owned(),
        want: Want::CardList {
            range: String::new(),
        },
        bytes: Ok(text.as_bytes().to_vec()),
    });
}

#[test]
fn a_file_that_is_no_list_is_read_again_when_it_was_put_right() {
    let mut desk = opened();
    press(&mut desk, Code::Down, 2);
    press(&mut desk, Code::Right, 1);
    let chosen = use_of(&desk, 2);
    assert!(chosen.is_some());
    read(&mut desk, "Farbe;Ton;Vorrat\n310;\"soot;2\n");
    assert!(matching(&desk).unreadable);
    let drawn = desk.drawn((80, 24)).join("\n");
    assert!(drawn.contains("never closed"), "{drawn}");
    assert!(drawn.contains("Enter reads it again"), "{drawn}");
    desk.keys("\n");
    assert!(matches!(desk.asked.last(), Some(Effect::ReadFile { path, .. }) if path == ODD));
    assert!(!matching(&desk).unreadable);
    assert_eq!(use_of(&desk, 2), chosen);
    let said = desk.app.notice.clone().unwrap();
    assert!(!said.wrong && said.text.contains("read again"), "{said:?}");
}

#[test]
fn every_line_that_is_told_of_can_be_read() {
    let mut desk = opened();
    let mut list = "Farbe;Ton;hex;skeins\n".to_owned();
    for n in 1..12 {
        list += &format!("{n};x;no colour;{n} of them and a good many more than {n}\n;y;;\n");
    }
    read(&mut desk, &list);
    // Indented are the lines told of, and the columns.
    let told = |desk: &TestApp, size| {
        let drawn = desk.drawn(size).into_iter();
        drawn
            .filter(|line| line.starts_with("   "))
            .collect::<Vec<_>>()
    };
    // What is said for a moment lies over the last lines until the next key.
    desk.app.notice = None;
    let mut missed = told(&desk, (80, 200));
    let all = missed.len();
    assert!(all > 60, "{missed:#?}");
    let mut tops = Vec::new();
    while tops.last() != Some(&matching(&desk).top) {
        tops.push(matching(&desk).top);
        let seen = told(&desk, (80, 24));
        missed.retain(|line| !seen.contains(line));
        press(&mut desk, Code::PageDown, 1);
    }
    assert!(missed.is_empty(), "of {all}, at {tops:?}: {missed:#?}");
    press(&mut desk, Code::PageUp, all);
    assert_eq!(matching(&desk).top, 0);
    let headings = desk.drawn((80, 200)).join("\n");
    assert!(headings.contains("11 lines cannot be taken:"), "{headings}");
    let doubts = "11 values cannot be read; their cards are taken without:";
    assert!(headings.contains(doubts), "{headings}");
}
