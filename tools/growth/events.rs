//! A record, by the number of its events.

use std::cell::RefCell;
use std::error::Error;

use homehook::journal::store::Store;
use homehook::stash::command::hold::hold;
use jiff::Timestamp;

use crate::fit::{Curve, seconds};
use crate::stashes;

const EVENTS: [usize; 4] = [1_000, 10_000, 100_000, 1_000_000];

/// Measures records of 1,000 to 1,000,000 events of a stash of 500 cards.
pub fn measure() -> Result<(), Box<dyn Error>> {
    let mut opened = Curve::new("open a stash", "events");
    let mut from_first = Curve::new("open it without its snapshot", "events");
    let mut appended = Curve::new("one more event, synced to the disk", "events");
    for events in EVENTS {
        let folder = tempfile::tempdir()?;
        stashes::live(folder.path(), events);
        let open = || Store::open(folder.path());
        opened.add(events, seconds(open)?);
        from_first.add(events, seconds(|| Store::open_whole(folder.path()))?);

        let store = RefCell::new(open()?.0);
        let now = Timestamp::from_second(1_773_000_000)?;
        // Alternately undone and redone, so that it can go on forever.
        let state = store.borrow().state().clone();
        let card = state.cards().next().ok_or("no cards")?;
        let held = hold(&state, &[card.card.id])?;
        store.borrow_mut().commit(now, &held)?;
        let both = seconds(|| {
            let mut store = store.borrow_mut();
            store.undo(now)?;
            store.redo(now)
        })?;
        appended.add(events, both / 2.0);
    }
    for curve in [opened, from_first, appended] {
        curve.tell();
    }
    Ok(())
}
