//! A board, by the number of its hooks.

use std::cell::RefCell;
use std::convert::Infallible;
use std::error::Error;

use homehook::stash::command::rehang;
use homehook::stash::history::History;
use homehook::stash::state::State;
use homehook::tui::app::{App, Stash};
use homehook::tui::key::{Code, Key};
use homehook::tui::message::Message;
use homehook::tui::theme::{Depth, Theme};
use homehook::tui::update::update;
use homehook::tui::view::view;
use jiff::Timestamp;
use ratatui::Terminal;
use ratatui::backend::TestBackend;

use crate::fit::{Curve, seconds};
use crate::stashes;

/// Rows and columns.
const SIZES: [(u16, u16); 6] = [
    (10, 10),
    (20, 15),
    (25, 40),
    (50, 60),
    (60, 100),
    (100, 100),
];

/// Measures boards of 100 to 10,000 hooks, with a card on five in six.
pub fn measure() -> Result<(), Box<dyn Error>> {
    let mut plans = Curve::new("list of plans, 1 card in 20 to hang", "hooks");
    let mut key = Curve::new("a key on the board and its frame at 200x60", "hooks");
    let mut find = Curve::new("a letter typed to find and its frame at 200x60", "hooks");
    let mut alike = Curve::new(
        "the same key from near, 10 hooks across and 14 down in view",
        "hooks",
    );
    for (rows, columns) in SIZES {
        let hooks = usize::from(rows) * usize::from(columns);
        let state = stashes::wall(rows, columns);
        key.add(
            hooks,
            keys(
                &state,
                "",
                [Key::plain(Code::Right), Key::plain(Code::Left)],
            )?,
        );
        find.add(
            hooks,
            keys(&state, "/", [Key::char('4'), Key::plain(Code::Backspace)])?,
        );
        alike.add(
            hooks,
            keys(
                &state,
                "++",
                [Key::plain(Code::Right), Key::plain(Code::Left)],
            )?,
        );
        let mut crowded = state;
        let newcomers: Vec<_> = (0..hooks / 20)
            .map(|at| stashes::row(hooks + at, None))
            .collect();
        stashes::import(&mut crowded, &newcomers);
        plans.add(hooks, seconds(|| rehang::plans(&crowded))?);
    }
    key.tell();
    find.tell();
    alike.tell();
    plans.tell();
    Ok(())
}

/// Seconds for a key and its frame, alternating between two keys, after pressing others.
fn keys(state: &State, before: &str, turns: [Key; 2]) -> Result<f64, Infallible> {
    let history = History::default();
    let stash = Stash {
        state,
        history: &history,
        read_only: None,
        last_is_others: false,
    };
    let mut app = App::new((200, 60), Timestamp::UNIX_EPOCH, Theme::new(Depth::True));
    for key in before.chars() {
        update(&mut app, stash, Message::Key(Key::char(key)));
    }
    let terminal = Terminal::new(TestBackend::new(200, 60))?;
    let desk = RefCell::new((app, terminal));
    let both = seconds(|| {
        let (app, terminal) = &mut *desk.borrow_mut();
        for key in turns {
            update(app, stash, Message::Key(key));
            terminal.draw(|frame| view(app, stash, frame))?;
        }
        Ok::<_, Infallible>(())
    })?;
    Ok(both / 2.0)
}
