//! The changes that make one stash of another.

use crate::model::ids::CardId;
use crate::model::ring::Ring;
use crate::model::thread::Thread;
use crate::stash::event::thread::replaced;
use crate::stash::event::{Change, ring_changes, without_lists};
use crate::stash::state::{CardState, State};

/// The changes that make `new` of `old`. O(all there is).
#[must_use]
pub fn changes_between(old: &State, new: &State) -> Vec<Change> {
    let mut changes = Vec::new();
    pairs(
        old.ranges(),
        new.ranges(),
        |range| range.id,
        |before, after| {
            let (before, after) = (before.cloned(), after.cloned());
            changes.push(Change::Range { before, after });
        },
    );
    if old.families() != new.families() {
        changes.push(Change::Families {
            before: old.families().to_vec(),
            after: new.families().to_vec(),
        });
    }
    if old.order() != new.order() {
        changes.push(Change::Order {
            before: old.order(),
            after: new.order(),
        });
    }
    pairs(
        old.boards(),
        new.boards(),
        |board| board.id,
        |before, after| {
            let (before, after) = (before.cloned(), after.cloned());
            changes.push(Change::Board { before, after });
        },
    );
    pairs(
        old.rings(),
        new.rings(),
        |of| of.id,
        |before, after| {
            changes.extend(ring(before, after));
        },
    );
    pairs(
        old.cards(),
        new.cards(),
        |of| of.card.id,
        |before, after| {
            if let Some(kept) = after.or(before) {
                changes.extend(card(kept.card.id, before, after));
            }
        },
    );
    if old.underway() != new.underway() {
        changes.push(Change::Underway {
            before: old.underway().cloned(),
            after: new.underway().cloned(),
        });
    }
    changes
}

/// The changes of one ring: what it lists goes before the ring itself does.
fn ring(before: Option<&Ring>, after: Option<&Ring>) -> Vec<Change> {
    match (before, after) {
        (before, Some(after)) => ring_changes(before, after),
        (Some(before), None) => {
            let bare = without_lists(before);
            let mut changes = ring_changes(Some(before), &bare);
            changes.push(Change::Ring {
                before: Some(bare),
                after: None,
            });
            changes
        }
        (None, None) => Vec::new(),
    }
}

/// Tells every pair that differs, of two lists in the order of ids.
fn pairs<'a, K: Ord, V: PartialEq + 'a>(
    old: impl Iterator<Item = &'a V>,
    new: impl Iterator<Item = &'a V>,
    key: impl Fn(&V) -> K,
    mut tell: impl FnMut(Option<&'a V>, Option<&'a V>),
) {
    let (mut old, mut new) = (old.peekable(), new.peekable());
    loop {
        let (before, after) = match (old.peek(), new.peek()) {
            (None, None) => return,
            (Some(a), Some(b)) if key(a) == key(b) => (old.next(), new.next()),
            (Some(a), Some(b)) if key(a) > key(b) => (None, new.next()),
            (Some(_), _) => (old.next(), None),
            (None, Some(_)) => (None, new.next()),
        };
        if before != after {
            tell(before, after);
        }
    }
}

/// The changes of one card, part by part.
fn card(id: CardId, before: Option<&CardState>, after: Option<&CardState>) -> Vec<Change> {
    let mut changes = Vec::new();
    let text = |of: Option<&CardState>| of.map(|of| of.card.clone());
    let place = |of: Option<&CardState>| of.map(|of| of.place.clone());
    let home = |of: Option<&CardState>| of.and_then(|of| of.home);
    let thread = |of: Option<&CardState>| of.map_or_else(Thread::default, |of| of.thread.clone());
    if text(before) != text(after) {
        changes.push(Change::Card {
            before: text(before),
            after: text(after),
        });
    }
    if place(before) != place(after) {
        changes.push(Change::Place {
            card: id,
            before: place(before),
            after: place(after),
        });
    }
    if home(before) != home(after) {
        changes.push(Change::Home {
            card: id,
            before: home(before),
            after: home(after),
        });
    }
    changes.extend(replaced(id, &thread(before), &thread(after)));
    changes
}
