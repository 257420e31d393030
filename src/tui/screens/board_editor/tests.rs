//! Editing boards with keys and clicks.

use super::plan::Plan;
use super::{BoardEditor, proposed};
use crate::model::board::ReadingOrder;
use crate::stash::state::State;
use crate::tui::key::{Code, Key};
use crate::tui::layout;
use crate::tui::message::Message;
use crate::tui::testing::TestApp;
use crate::tui::theme::Depth;

fn design(desk: &TestApp) -> &Plan {
    &desk.top::<BoardEditor>().unwrap().plan
}

fn press(desk: &mut TestApp, codes: &[Code]) {
    for &code in codes {
        desk.take(Message::Key(Key::plain(code)));
    }
}

/// The blocked hooks of all boards, with their reasons.
fn blocked(state: &State) -> Vec<(String, String)> {
    let of = |hook: crate::model::board::HookRef| {
        let why = state.board(hook.board)?.blocked(hook)?;
        Some((state.hook_name(hook), why.to_string()))
    };
    state.hooks().filter_map(of).collect()
}

#[test]
fn preview_follows_the_measures_as_they_are_typed() {
    let mut desk = TestApp::empty(Depth::None);
    desk.keys("B");
    let drawn = |desk: &TestApp| design(desk).drawn(&desk.state).map(|b| (b.rows, b.columns));
    assert_eq!(drawn(&desk), Ok((12, 20)));
    // Typing replaces the default; letters aren't digits.
    desk.keys("\n4x\n");
    assert_eq!(drawn(&desk), Ok((4, 20)));
    press(&mut desk, &[Code::Right, Code::Right, Code::Left]);
    assert_eq!(drawn(&desk), Ok((4, 21)));
    press(&mut desk, &[Code::Backspace]);
    assert!(drawn(&desk).unwrap_err().contains("columns"));
    desk.keys("6\n\n\n");
    press(&mut desk, &[Code::Left]);
    assert_eq!(design(&desk).reading, ReadingOrder::ThereAndBack);
    desk.keys("\u{13}");
    assert!(desk.app.stack.is_empty());
    let up = desk.state.boards().next().unwrap();
    assert_eq!(
        (up.rows, up.columns, up.reading),
        (4, 6, ReadingOrder::ThereAndBack)
    );
}

#[test]
fn invalid_measures_are_refused_with_a_reason() {
    let mut desk = TestApp::sample(Depth::None);
    // The name is taken, and the hooks would exist twice.
    desk.keys("Bwall\u{13}");
    assert!(design(&desk).wrong.as_ref().unwrap().contains("already"));
    desk.keys("\u{1b}B\n\n\n\n\u{8}\u{13}");
    let wrong = design(&desk).wrong.clone().unwrap();
    assert!(
        wrong.contains("another prefix") && !wrong.contains("--"),
        "{wrong}"
    );
    desk.keys("\u{1b}B\n0\n\n\n\n\n");
    assert!(design(&desk).wrong.as_ref().unwrap().contains("0 rows"));
    assert!(!design(&desk).on_hooks);
    // Too small for a hanging ring, then for its cards.
    desk.keys("\u{1b}E\n1\u{13}");
    let wrong = design(&desk).wrong.clone().unwrap();
    assert!(wrong.contains("'Kite' hangs on D06"), "{wrong}");
    desk.keys("\u{1b}bE\n\n\n1\u{13}");
    let wrong = design(&desk).wrong.clone().unwrap();
    assert!(
        wrong.contains("No hook would be left for") && !wrong.contains("--"),
        "{wrong}"
    );
    assert_eq!(desk.commits(), 0);
}

#[test]
fn hooks_are_blocked_singly_by_row_by_column_and_to_the_end() {
    let mut desk = TestApp::empty(Depth::None);
    desk.keys("B\n3\n4\n\n\n\n");
    assert!(design(&desk).on_hooks);
    press(&mut desk, &[Code::Right, Code::Down]);
    desk.keys(" ");
    assert_eq!(design(&desk).blocked.len(), 1);
    desk.keys("r");
    assert_eq!(design(&desk).blocked.len(), 4);
    // The whole row is blocked, so this unblocks it.
    desk.keys("r");
    assert_eq!(design(&desk).blocked.len(), 0);
    desk.keys("c\te\n");
    let whys = blocked(&desk.state);
    let expected = [
        ("A02", "bracket"),
        ("B02", "bracket"),
        ("B03", "no hook here"),
        ("B04", "no hook here"),
        ("C02", "bracket"),
    ];
    assert_eq!(
        whys,
        expected.map(|(hook_name, why)| (hook_name.to_owned(), why.to_owned()))
    );
    // One change, so one undo reverts all of it.
    desk.keys("u");
    assert_eq!(desk.state.boards().len(), 0);
}

#[test]
fn hooks_in_use_cannot_be_blocked() {
    let mut desk = TestApp::sample(Depth::None);
    let before = blocked(&desk.state);
    desk.keys("E\n\n\n\n\n ");
    assert!(
        desk.said().starts_with("A01 can't be blocked"),
        "{}",
        desk.said()
    );
    desk.keys("r");
    // A01, A02, A04 and A05 are homes, including those of cards that are out; A06 is blocked.
    assert!(desk.said().starts_with("4 hooks can't"), "{}", desk.said());
    desk.keys("\n");
    let after = blocked(&desk.state);
    assert_eq!(after.len(), before.len() + 1);
    assert!(after.contains(&("A03".to_owned(), "bracket".to_owned())));
    // Nothing left to change.
    desk.keys("E\u{13}");
    assert_eq!(desk.said(), "The board is as it was.");
}

#[test]
fn click_moves_to_the_hook_under_it() {
    let mut desk = TestApp::sample(Depth::None);
    desk.keys("E");
    let board = design(&desk).drawn(&desk.state).unwrap();
    let area = layout::beside(layout::parts(desk.app.size.0, desk.app.size.1).body).0;
    let cell = design(&desk)
        .grid(&desk.state, &board, area)
        .cell(2, 3)
        .unwrap();
    let (column, row) = (cell.x + 1, cell.y);
    desk.take(Message::Click { column, row });
    assert!(design(&desk).on_hooks && design(&desk).blocked.contains_key(&(2, 3)));
    desk.take(Message::Click { column, row });
    assert!(!design(&desk).blocked.contains_key(&(2, 3)));
}

#[test]
fn proposed_first_board_holds_the_cards_with_room_to_grow() {
    for cards in [1, 7, 40, 190, 500] {
        let (rows, columns) = proposed(cards);
        let hooks = usize::from(rows) * usize::from(columns);
        assert!(hooks * 4 >= cards * 5, "{cards}: {rows} x {columns}");
        assert!(hooks <= cards * 2 + 8, "{cards}: {rows} x {columns}");
    }
    assert_eq!(proposed(0), (12, 20));
    assert_eq!(proposed(190), (12, 20));
    let mut desk = TestApp::empty(Depth::None);
    desk.keys("iodd.csv\n\n\n");
    desk.keys("\u{1b}B");
    let drawn = desk.drawn((80, 24)).join("\n");
    for number in ["701", "12"] {
        assert!(drawn.contains(number), "{drawn}");
    }
    assert!(drawn.contains("3 cards waiting"), "{drawn}");
}
