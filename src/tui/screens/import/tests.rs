//! Matching columns, and the effect on existing cards.

use super::Import;
use super::list::{CardList, Part};
use crate::exchange::Column;
use crate::tui::key::{Code, Key};
use crate::tui::keymap::Scope;
use crate::tui::message::{Effect, Message, Want};
use crate::tui::testing::{BOUGHT, FILE, MATCHES, MATCHES_IN_PART, ODD, TestApp};
use crate::tui::theme::Depth;

fn matching(desk: &TestApp) -> &CardList {
    &desk.top::<Import>().unwrap().list
}

fn press(desk: &mut TestApp, code: Code, times: usize) {
    for _ in 0..times {
        desk.take(Message::Key(Key::plain(code)));
    }
}

/// The list with odd names, open for column matching.
fn opened() -> TestApp {
    let mut desk = TestApp::sample(Depth::None);
    desk.keys(&format!("i{ODD}\n\n"));
    desk
}

fn use_of(desk: &TestApp, at: usize) -> Option<Column> {
    matching(desk).page.columns.uses[at]
}

#[test]
fn user_can_change_the_meaning_of_a_column() {
    let mut desk = opened();
    assert_eq!(use_of(&desk, 0), Some(Column::Number));
    assert_eq!(use_of(&desk, 1), Some(Column::Name));
    assert_eq!(use_of(&desk, 2), None);
    press(&mut desk, Code::Down, 9);
    // Cycle through all meanings and back to the start.
    let mut seen = Vec::new();
    for _ in 0..=Column::OF_CARD_LIST.len() {
        press(&mut desk, Code::Right, 1);
        seen.push(use_of(&desk, 2));
    }
    assert_eq!(seen.pop(), Some(None));
    // Meanings of other columns come last.
    assert_eq!(
        seen[Column::OF_CARD_LIST.len() - 2..],
        [Some(Column::Number), Some(Column::Name)]
    );
    seen.sort();
    seen.dedup();
    assert_eq!(seen.len(), Column::OF_CARD_LIST.len());
    press(&mut desk, Code::Left, 1);
    assert_eq!(use_of(&desk, 2), Some(Column::Name));
}

#[test]
fn rejected_lines_are_shown_before_the_import() {
    let mut desk = opened();
    press(&mut desk, Code::Down, 2);
    while use_of(&desk, 2) != Some(Column::Skeins) {
        press(&mut desk, Code::Right, 1);
    }
    let judged = matching(&desk).judged.as_ref().unwrap();
    assert_eq!((judged.refused, judged.doubts), (0, 1));
    assert_eq!(judged.entries[0].head, "line 4");
    assert_eq!(judged.outcome.as_ref().unwrap().added, 3);
    let drawn = desk.drawn((80, 24)).join("\n");
    for says in [
        "A value can't be read",
        "line 4 ",
        "is imported without an amount",
        "line 2       701      soot · 2 skeins",
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
    assert_eq!(said, "3 cards imported; a value on line 4 couldn't be read");
}

#[test]
fn file_name_is_required() {
    let mut desk = TestApp::sample(Depth::None);
    desk.keys("i\n");
    assert_eq!(desk.line(), 0);
    assert!(desk.wrong().contains("where the file is"));
}

#[test]
fn duplicate_or_missing_number_column_blocks_the_import() {
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
    assert!(matching(&desk).page.is_twice(0) && matching(&desk).page.is_twice(1));
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
    // Back to the form with its text, then to the board.
    desk.keys("\u{1b}");
    assert_eq!(desk.filled("file"), ODD);
}

#[test]
fn first_line_can_be_a_card_or_titles() {
    let mut desk = opened();
    let lines = |desk: &TestApp| {
        let judged = matching(desk).judged.as_ref().unwrap();
        let taken = judged
            .entries
            .iter()
            .filter(|entry| entry.part == Part::Taken);
        taken.map(|entry| entry.head.clone()).collect::<Vec<_>>()
    };
    let titled = ["line 2", "line 3", "line 4"];
    assert_eq!(lines(&desk), titled);
    desk.keys("t");
    assert_eq!(lines(&desk)[0], "line 1");
    assert!(desk.drawn((80, 24)).join("\n").contains("column 2"));
    desk.keys("t");
    assert_eq!(lines(&desk), titled);
}

#[test]
fn tab_completes_the_common_beginning_of_files() {
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
    // In any other field, Tab moves on.
    desk.keys("\n\t");
    assert_eq!(desk.line(), 0);
}

/// Reads the file again with this text.
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
fn corrected_file_is_read_again_with_the_same_columns() {
    let mut desk = opened();
    press(&mut desk, Code::Down, 2);
    press(&mut desk, Code::Right, 1);
    let chosen = use_of(&desk, 2);
    assert!(chosen.is_some());
    read(&mut desk, "Farbe;Ton;Vorrat\n701;\"soot;2\n");
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
fn every_preview_line_can_be_scrolled_into_view() {
    let mut desk = opened();
    let mut list = "Farbe;Ton;colour;skeins\n".to_owned();
    for n in 1..12 {
        list += &format!("{n};x;no colour;{n} of them and a good many more than {n}\n;y;;\n");
    }
    read(&mut desk, &list);
    let told = |desk: &TestApp, size: (u16, u16)| {
        let drawn = desk.drawn(size).into_iter().skip(9);
        let inside = drawn.map(|line| line.trim_matches(['│', ' ', '█']).to_owned());
        let text = inside.filter(|line| line.starts_with("line ") || line.starts_with("and a"));
        text.collect::<Vec<_>>()
    };
    // A notice covers the last lines until the next key.
    desk.app.notice = None;
    let count = matching(&desk).judged.as_ref().unwrap().entries.len();
    assert_eq!(count, 33);
    let (mut seen, mut tops) = (Vec::new(), Vec::new());
    while tops.last() != Some(&matching(&desk).top) {
        tops.push(matching(&desk).top);
        seen.extend(told(&desk, (80, 24)));
        press(&mut desk, Code::PageDown, 1);
    }
    for n in 1..12 {
        for line in [2 * n, 2 * n + 1] {
            let head = format!("line {line} ");
            assert!(
                seen.iter().any(|line| line.starts_with(&head)),
                "{head}: {seen:#?}"
            );
        }
    }
    press(&mut desk, Code::PageUp, count);
    assert_eq!(matching(&desk).top, 0);
    let headings = desk.drawn((120, 100)).join("\n");
    assert!(headings.contains("11 lines can't be taken:"), "{headings}");
    assert!(headings.contains("11 values can't be read"), "{headings}");
}

#[test]
fn preview_page_begins_with_a_whole_line() {
    let mut desk = opened();
    let mut list = "Farbe;Ton;colour;skeins\n".to_owned();
    for n in 1..30 {
        list += &format!("{n};x;no colour;{n} of them and a good many more than {n} of them\n");
    }
    read(&mut desk, &list);
    desk.app.notice = None;
    for _ in 0..6 {
        let drawn = desk.drawn((80, 24));
        let heading = drawn.iter().position(|line| line.contains("can't be read"));
        if let Some(heading) = heading {
            let first = drawn[heading + 1].trim_start_matches(['│', ' ']);
            assert!(first.starts_with("line "), "{}", drawn.join("\n"));
        }
        assert!(drawn.join("\n").contains(" of 58"), "{}", drawn.join("\n"));
        press(&mut desk, Code::PageDown, 1);
    }
}

/// How many strands are on a card.
fn strands(desk: &TestApp, card: &str) -> u32 {
    let id = desk.state.find_card(card).unwrap();
    desk.state.card(id).unwrap().strands().0
}

#[test]
fn purchase_adds_thread_and_inventory_replaces_it() {
    let desk = TestApp::sample(Depth::None);
    assert_eq!(strands(&desk, "20"), 48);
    let mut desk = desk.after(&format!("i{BOUGHT}\n\n"));
    // Nothing is recorded until the question is answered.
    desk.keys("\n");
    assert_eq!(
        (desk.app.scope(), desk.commits()),
        (Scope::PurchaseOrOwned, 0)
    );
    let drawn = desk.drawn((80, 24)).join("\n");
    for says in [
        "2 cards of the list are here already",
        "8 lengths → 24 lengths",
    ] {
        assert!(drawn.contains(says), "{says:?} in\n{drawn}");
    }
    let mut bought = desk.after("\n");
    assert_eq!(
        (
            strands(&bought, "Sandbank:10"),
            strands(&bought, "20"),
            strands(&bought, "25")
        ),
        (96, 144, 48)
    );
    bought.keys("\u{1b}u");
    assert_eq!(strands(&bought, "20"), 48);
    let owned = desk.after("j");
    let drawn = owned.drawn((80, 24)).join("\n");
    assert!(drawn.contains("8 lengths → 16 lengths"), "{drawn}");
    let owned = owned.after("\n");
    assert_eq!(
        (strands(&owned, "Sandbank:10"), strands(&owned, "20")),
        (48, 96)
    );
    // Without an answer, nothing is imported.
    let left = desk.after("\u{1b}\u{1b}\u{1b}");
    assert!(left.state == TestApp::sample(Depth::None).state);
    assert!(left.app.stack.is_empty());
}

#[test]
fn list_of_new_cards_is_imported_without_a_question() {
    let mut desk = opened();
    desk.keys("\n");
    assert_eq!(desk.commits(), 1);
}

#[test]
fn meaning_found_by_typing_moves_from_the_other_column() {
    let mut desk = opened();
    press(&mut desk, Code::Down, 2);
    desk.keys(" ");
    assert_eq!(desk.app.scope(), Scope::Meaning);
    desk.keys("zzz\n");
    assert_eq!(desk.app.scope(), Scope::Meaning);
    desk.keys("\u{8}\u{8}\u{8}skein cut\n");
    assert_eq!(use_of(&desk, 2), Some(Column::Skeins));
    desk.keys(" colour's name\n");
    assert_eq!(
        (use_of(&desk, 1), use_of(&desk, 2)),
        (None, Some(Column::Name))
    );
    desk.keys(" \u{1b}");
    assert_eq!(use_of(&desk, 2), Some(Column::Name));
}

#[test]
fn chart_key_imported_as_a_card_list_asks_first() {
    let mut desk = TestApp::sample(Depth::None);
    let cards = desk.state.cards().len();
    desk.keys("ikey.csv\n\n\n");
    assert!(
        desk.question().contains("looks like the chart key"),
        "{}",
        desk.question()
    );
    let refused = desk.after("n");
    assert_eq!(refused.state.cards().len(), cards);
    desk.keys("y");
    assert!(desk.state.cards().len() > cards);
}

#[test]
fn card_list_imported_as_a_chart_key_asks_first() {
    let desk = TestApp::sample(Depth::None).after(&format!("rnWren\n{BOUGHT}\nSandbank\n\n"));
    let question = desk.question();
    assert!(
        question.contains("looks like a list of the cards"),
        "{question}"
    );
    let yes = desk.after("y");
    assert!(
        yes.state
            .find_ring("Wren")
            .is_some_and(|ring| !ring.key.is_empty())
    );
}

#[test]
fn conversion_list_asks_before_leaving_rows_out() {
    let mut desk = TestApp::sample(Depth::None);
    desk.keys(&format!("I{MATCHES_IN_PART}\n"));
    let drawn = desk.drawn((80, 24)).join("\n");
    assert!(drawn.contains("1 row can't be taken. Line 4:"), "{drawn}");
    assert_eq!(desk.commits(), 0);
    desk.keys("y");
    assert_eq!((desk.commits(), desk.state.matches().len()), (1, 2));
    desk.keys("/Sandbank:99");
    let drawn = desk.drawn((80, 24)).join("\n");
    assert!(drawn.contains("its match Meadow 77"), "{drawn}");
    desk.keys(&format!("\u{1b}I{MATCHES}\n"));
    let drawn = desk.drawn((80, 24)).join("\n");
    assert!(
        drawn.contains("The conversion list says nothing new."),
        "{drawn}"
    );
}

#[test]
fn every_meaning_of_a_column_is_whole_on_a_small_screen() {
    let desk = TestApp::sample(Depth::None).after("iodd.csv\n\n ");
    for column in Column::OF_CARD_LIST {
        let text = desk.after(column.meaning()).drawn((80, 24)).join("\n");
        assert!(text.contains(column.meaning()), "{text}");
        assert!(!text.contains('\u{2026}'), "{text}");
    }
}
