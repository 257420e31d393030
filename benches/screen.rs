//! Time of one frame of the board, compared with an empty frame of the same size.
#![allow(clippy::unwrap_used, missing_docs)]

use criterion::{Criterion, criterion_group, criterion_main};
use homehook::stash::history::History;
use homehook::tui::app::{App, Stash};
use homehook::tui::key::{Code, Key};
use homehook::tui::message::Message;
use homehook::tui::theme::{Depth, Theme};
use homehook::tui::update::update;
use homehook::tui::view::view;
use jiff::Timestamp;
use ratatui::Terminal;
use ratatui::backend::TestBackend;

mod stashes;

fn frames(c: &mut Criterion) {
    let history = History::default();
    let mut group = c.benchmark_group("frame 200x60");
    group.bench_function("empty (baseline)", |b| {
        let mut terminal = Terminal::new(TestBackend::new(200, 60)).unwrap();
        b.iter(|| {
            terminal.draw(|_| {}).unwrap();
        });
    });
    for (name, rows, columns) in [
        ("600 hooks", 20, 30),
        ("2,400 hooks", 40, 60),
        ("10,000 hooks", 100, 100),
    ] {
        let state = stashes::wall(rows, columns);
        let seen = Stash {
            state: &state,
            history: &history,
            read_only: None,
            last_is_others: false,
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
