//! Stashes for benchmarks, the same in every run.

#![allow(clippy::unwrap_used, clippy::panic)]
#![allow(dead_code, reason = "not every bench needs all of them")]

use std::path::Path;

use homehook::journal::store::Store;
use homehook::model::board::ReadingOrder;
use homehook::model::colour::Srgb;
use homehook::model::thread::Strands;
use homehook::stash::command::board::{NewBoard, new_board};
use homehook::stash::command::import::{CardRow, Terms, card_list};
use homehook::stash::command::{ring, thread};
use homehook::stash::event::Event;
use homehook::stash::state::State;
use jiff::Timestamp;

const HOW: [&str; 12] = [
    "pale", "deep", "dusky", "warm", "faded", "bright", "misty", "dark", "soft", "cold", "burnt",
    "wild",
];
const WHAT: [&str; 14] = [
    "moss", "river", "slate", "heather", "bramble", "straw", "ember", "fern", "harbour", "plum",
    "linen", "copper", "thistle", "rose",
];

/// The name of the shade with this index: one of 168, followed by a number once they are used up.
pub fn name(at: usize) -> String {
    let (how, what) = (HOW[at % HOW.len()], WHAT[at / HOW.len() % WHAT.len()]);
    match at / (HOW.len() * WHAT.len()) {
        0 => format!("{how} {what}"),
        more => format!("{how} {what} {more}"),
    }
}

/// The colour of the shade with this index.
pub fn colour(at: usize) -> Srgb {
    Srgb::new((at * 7) as u8, (at * 13) as u8, (at * 29) as u8)
}

/// The row of a card list for the shade with this index.
pub fn row(at: usize, hook: Option<String>) -> CardRow {
    CardRow {
        line: at as u64 + 2,
        range: Some("Meadow".to_owned()),
        number: (at + 1).to_string(),
        name: Some(name(at)),
        family: Some(format!("family {}", at / 40)),
        colour: Some(colour(at)),
        hook,
        ..CardRow::default()
    }
}

/// The dimensions of such a board.
pub fn measures(rows: u16, columns: u16) -> NewBoard {
    NewBoard {
        name: "wall".to_owned(),
        prefix: String::new(),
        rows,
        columns,
        cards_per_hook: 1,
        reading: ReadingOrder::Rows,
    }
}

/// A board of this size without cards.
pub fn board(rows: u16, columns: u16) -> State {
    let mut state = State::default();
    let up = new_board(&state, &measures(rows, columns)).unwrap();
    state.apply(&up).unwrap();
    state
}

/// Imports a card list.
pub fn import(state: &mut State, rows: &[CardRow]) {
    let taken = card_list(
        state,
        rows,
        Vec::new(),
        &Terms::default(),
        Timestamp::UNIX_EPOCH,
    );
    state.apply(&taken.unwrap().event.unwrap()).unwrap();
}

/// A board of this size, with a card on five in six hooks.
pub fn wall(rows: u16, columns: u16) -> State {
    let mut state = board(rows, columns);
    let hooks: Vec<String> = state.hooks().map(|hook| state.hook_name(hook)).collect();
    let hung = hooks.into_iter().enumerate().filter(|(at, _)| at % 6 != 5);
    let rows: Vec<CardRow> = hung.map(|(at, hook)| row(at, Some(hook))).collect();
    import(&mut state, &rows);
    state
}

/// A number of cards to hang.
pub fn tray(cards: usize) -> State {
    let mut state = board(1, 1);
    let rows: Vec<CardRow> = (0..cards).map(|at| row(at, None)).collect();
    import(&mut state, &rows);
    state
}

/// Writes a stash of 500 cards with this many events: cards go out on five rings, lose a strand,
/// and are put away.
pub fn live(dir: &Path, events: usize) {
    let (mut store, _) = Store::open(dir).unwrap();
    let now = Timestamp::from_second(1_772_000_000).unwrap();
    let up = new_board(store.state(), &measures(20, 30)).unwrap();
    store.commit(now, &up).unwrap();
    let hooks: Vec<String> = {
        let state = store.state();
        state.hooks().map(|hook| state.hook_name(hook)).collect()
    };
    let rows: Vec<CardRow> = hooks
        .into_iter()
        .take(500)
        .enumerate()
        .map(|(at, hook)| row(at, Some(hook)))
        .collect();
    let list = card_list(store.state(), &rows, Vec::new(), &Terms::default(), now).unwrap();
    store.commit(now, &list.event.unwrap()).unwrap();
    let cards: Vec<_> = store.state().cards().map(|kept| kept.card.id).collect();
    let mut written = 2;
    while written < events {
        // On a copy, so that a thousand events are synced at once.
        let mut ahead = store.state().clone();
        let mut row: Vec<Event> = Vec::with_capacity(1_000);
        while row.len() < 1_000.min(events - written) {
            let n = written + row.len();
            let (card, step) = (cards[n / 3 % cards.len()], n % 3);
            let project = format!("project {}", n / 3 % 5);
            let event = match (step, ahead.find_ring(&project)) {
                (1, Some(open)) => thread::use_thread(&ahead, Some(open), card, Strands(1), None),
                (2, Some(open)) => ring::give_back(&ahead, open, &[card], now),
                _ => ring::take(&ahead, &project, &[card], now),
            };
            // A card that is used up or already out gets its turn later.
            let event = event
                .or_else(|_| ring::take(&ahead, &project, &[card], now))
                .or_else(|_| {
                    let open = ahead.find_ring(&project).unwrap();
                    ring::give_back_all(&ahead, open, now)
                });
            let event = event.unwrap_or_else(|wrong| panic!("event {n}: {wrong}"));
            ahead.apply(&event).unwrap();
            row.push(event);
        }
        written += row.len();
        store.commit_all(now, &row).unwrap();
    }
}
