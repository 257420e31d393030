//! Time of one frame of the board, beside an empty frame of the same size.
#![allow(clippy::unwrap_used, missing_docs)]

use criterion::{Criterion, criterion_group, criterion_main};
use homehook::model::board::ReadingOrder;
use homehook::model::colour::Srgb;
use homehook::stash::command::board::{NewBoard, new_board};
use homehook::stash::command::import::{Terms, stock};
use homehook::stash::history::History;
use homehook::stash::intake::StockRow;
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

/// A board of so many rows and columns, five hooks in six with a card.
fn stash(rows: u16, columns: u16) -> State {
    let mut state = State::default();
    let board = NewBoard {
        name: "wall".into(),
        prefix: String::new(),
        rows,
        columns,
        places: 1,
        reading: ReadingOrder::Rows,
    };
    state.apply(&new_board(&state, &board).unwrap()).unwrap();
    let hooks: Vec<String> = state.hooks().map(|hook| state.mark(hook)).collect();
    let cards: Vec<StockRow> = hooks
        .into_iter()
        .enumerate()
        .filter(|(at, _)| at % 6 != 5)
        .map(|(at, hook)| StockRow {
            line: at as u64 + 2,
            number: (at + 1).to_string(),
            name: Some(format!("shade {at}")),
            family: Some(format!("family {}", at / 40)),
            colour: Some(Srgb::new((at * 7) as u8, (at * 13) as u8, (at * 29) as u8)),
            hook: Some(hook),
            ..StockRow::default()
        })
        .collect();
    let taken = stock(&state, &cards, Vec::new(), &Terms::default(), Timestamp::UNIX_EPOCH);
    state.apply(&taken.unwrap().event.unwrap()).unwrap();
    state
}

fn frames(c: &mut Criterion) {
    let history = History::default();
    let mut group = c.benchmark_group("frame 200x60");
    group.bench_function("empty (baseline)", |b| {
        let mut terminal = Terminal::new(TestBackend::new(200, 60)).unwrap();
        b.iter(|| {
            terminal.draw(|_| {}).unwrap();
        });
    });
    for (name, rows, columns) in [("600 hooks", 20, 30), ("10,000 hooks", 100, 100)] {
        let state = stash(rows, columns);
        let seen = Stash {
            state: &state,
            history: &history,
            read_only: None,
        };
        for depth in [Depth::True, Depth::Indexed] {
            let mut app = App::new((200, 60), Timestamp::UNIX_EPOCH, Theme::new(depth));
            let mut terminal = Terminal::new(TestBackend::new(200, 60)).unwrap();
            let mut right = true;
            group.bench_function(format!("{name}, {depth:?}, a key and a frame"), |b| {
                b.iter(|| {
                    right = !right;
                    let code = if right { Code::Right } else { Code::Left };
                    update(&mut app, seen, Message::Key(Key::plain(code)));
                    terminal.draw(|frame| view(&app, seen, frame)).unwrap();
                });
            });
        }
    }
    group.finish();
}

criterion_group! {
    name = benches;
    config = Criterion::default()
        .measurement_time(std::time::Duration::from_secs(2))
        .warm_up_time(std::time::Duration::from_millis(500));
    targets = frames
}
criterion_main!(benches);
