//! Drawing at every size, and the key table on the screen.

use std::collections::BTreeSet;

use crate::testing::is_long;
use crate::tui::key::{Code, Key};
use crate::tui::keymap::{self, Action, Keymap, Scope};
use crate::tui::layout;
use crate::tui::message::Message;
use crate::tui::testing::{TestApp, every_mode};
use crate::tui::theme::{Depth, Signs};
use crate::tui::wall::{BoardView, HookStatus};

const USUAL: [(u16, u16); 3] = [(80, 24), (120, 40), (220, 60)];

/// The screen drawn after a resize message.
fn resized(desk: &TestApp, (width, height): (u16, u16)) -> Vec<String> {
    let mut desk = desk.clone();
    desk.take(Message::Resize { width, height });
    desk.drawn((width, height))
}

fn scope(desk: &TestApp) -> Scope {
    desk.app.scope()
}

#[test]
fn every_mode_draws_at_small_sizes() {
    // Each size in some modes; in all of them in a long run.
    let every = if is_long() { 1 } else { 24 };
    for (at, (keys, mut desk)) in (0_u16..).zip(every_mode(Depth::True)) {
        for height in 1..=12 {
            for width in (1..=16).chain((18..=30).step_by(4)) {
                if (at + width + height).is_multiple_of(every) {
                    desk.take(Message::Resize { width, height });
                    let lines = desk.drawn((width, height));
                    assert_eq!(lines.len(), usize::from(height), "{keys:?}");
                }
            }
        }
    }
}

/// Between a resize and its message, a frame differs in size from what the interface expects.
#[test]
fn frame_may_differ_from_the_last_reported_size() {
    for (_, desk) in every_mode(Depth::True) {
        for size in [(1, 1), (23, 9), (200, 50)] {
            desk.drawn(size);
        }
    }
}

#[test]
fn status_line_shows_the_most_useful_keys_and_the_help() {
    for (at, (keys, mut desk)) in every_mode(Depth::None).into_iter().enumerate() {
        desk.app.notice = None;
        // One size per screen; all of them in a long run.
        let all = USUAL.into_iter().enumerate();
        let tried = all.filter(|(nth, _)| is_long() || (at + nth).is_multiple_of(USUAL.len()));
        for (_, size) in tried {
            let lines = resized(&desk, size);
            let status = lines.last().unwrap();
            let scope = scope(&desk);
            let mut hints = keymap::in_scope(scope).filter(|b| !b.hint.is_empty());
            let first = hints.next().unwrap();
            let mut wanted = vec![format!("{} {}", first.keys[0], first.hint)];
            let typed = scope.is_typed_in() || scope == Scope::Confirm;
            wanted.extend((!typed && scope != Scope::Help).then(|| "? help".to_owned()));
            // Who opened a screen by accident sees how to leave it.
            let does = |what| keymap::in_scope(scope).find(|b| b.action == what);
            let leave = does(Action::Quit).or_else(|| does(Action::Cancel));
            let leave = leave.filter(|b| size.0 >= 80 && !b.hint.is_empty());
            wanted.extend(leave.map(|b| format!("{} {}", b.keys[0], b.hint)));
            for hint in wanted {
                assert!(
                    status.contains(&hint),
                    "{hint:?} after {keys:?} at {size:?}:\n{status}"
                );
            }
        }
    }
}

/// Every word on the screen while the help scrolls from top to bottom.
fn help_text(size: (u16, u16)) -> String {
    let mut desk = TestApp::sample(Depth::None);
    let (width, height) = size;
    desk.take(Message::Resize { width, height });
    desk.keys("?");
    let mut seen = BTreeSet::new();
    let mut text = String::new();
    let mut last = Vec::new();
    loop {
        let lines = desk.drawn(size);
        if lines == last {
            break;
        }
        for line in &lines {
            if seen.insert(line.clone()) {
                text.push_str(line);
                text.push('\n');
            }
        }
        last = lines;
        // Fewer lines than are in view.
        for _ in 0..8 {
            desk.take(Message::Key(Key::plain(Code::Down)));
        }
    }
    text
}

#[test]
fn help_lists_every_key_with_its_action() {
    // At the smallest size, which scrolls the most.
    let sizes = USUAL
        .into_iter()
        .take(if is_long() { USUAL.len() } else { 1 });
    for size in sizes {
        // Only words, because a long line may wrap.
        let text = help_text(size).replace('\u{2502}', " ");
        let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
        let keys = Keymap::default();
        for bound in Scope::ALL
            .into_iter()
            .flat_map(|scope| keys.in_scope(scope))
        {
            let line = format!("{} {}", bound.keys_shown(), bound.binding.help);
            let line = line.split_whitespace().collect::<Vec<_>>().join(" ");
            assert!(words.contains(&line), "{line:?} at {size:?} in:\n{text}");
        }
    }
}

#[test]
fn signs_show_the_states_at_every_zoom() {
    let size = (220, 60);
    let mut told = BTreeSet::new();
    for keys in ["-", "-+", "++"] {
        let mut desk = TestApp::sample(Depth::None).after(keys);
        desk.take(Message::Resize {
            width: size.0,
            height: size.1,
        });
        // The cursor is on a card that is at home.
        let lines = desk.drawn(size);
        let (app, state) = (&desk.app, &desk.state);
        let grid = layout::current(app, state).unwrap();
        let look = BoardView::new(app, state);
        for hook in app.board(state).unwrap().hooks() {
            let cell = grid.cell(hook.row, hook.column).unwrap();
            let line = lines[usize::from(cell.y)].chars();
            let text: String = line.skip(cell.x.into()).take(cell.width.into()).collect();
            let status = look.spot(hook).status;
            let number = look
                .spot(hook)
                .card
                .map(|kept| kept.card.number.to_string());
            let glyph = status.glyph();
            let home =
                status == HookStatus::Home && number.is_some_and(|number| text.contains(&number));
            assert!(
                home || text.contains(glyph),
                "{glyph} in {text:?} after {keys:?}"
            );
            told.insert(glyph);
        }
    }
    assert_eq!(told, BTreeSet::from(['#', 'o', '?', '@', '·', 'x']));
}

#[test]
fn ascii_mode_draws_only_ascii_besides_card_text() {
    for size in USUAL {
        let mut desk = TestApp::sample(Depth::True);
        desk.app.theme.signs = Signs::Ascii;
        for keys in ["", "r", "g", "?", "H", "m"] {
            let mut desk = desk.after(keys);
            desk.take(Message::Resize {
                width: size.0,
                height: size.1,
            });
            for line in desk.drawn(size) {
                let line = line
                    .replace(['\u{65e5}', '\u{672c}', '\u{e9}'], "")
                    .replace("e\u{301}", "");
                assert!(line.is_ascii(), "{line:?} after {keys:?}");
            }
        }
    }
}
