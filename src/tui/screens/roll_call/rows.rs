//! What a roll call has seen so far, row by row. A confirmed row is on disk, but no card counts as
//! moved before the report.

use std::collections::{BTreeSet, HashMap};

use crate::model::board::{HookRef, ReadingOrder};
use crate::model::ids::CardId;
use crate::stash::command::rollcall::{Sighting, is_free, same_run, stop};
use crate::stash::state::{CardState, State};

/// The cards seen on confirmed hooks.
pub type Seen = HashMap<HookRef, Vec<CardId>>;

/// What is seen of a card on a hook, or of an empty hook.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Sight<'a> {
    /// The card is here, as recorded.
    Here(&'a CardState),
    /// The record has it here, but it isn't.
    Absent(&'a CardState),
    /// It hangs here, but the record has it elsewhere.
    Other(&'a CardState),
    /// It belongs here, but the record has it elsewhere.
    Out(&'a CardState),
    /// Nothing hangs or belongs here.
    Free,
}

/// A hook, or one of the cards on it.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Tile<'a> {
    /// The hook.
    pub hook: HookRef,
    /// What is seen there.
    pub sight: Sight<'a>,
}

impl Tile<'_> {
    /// Whether a card hangs there.
    #[must_use]
    pub const fn hangs(&self) -> bool {
        matches!(self.sight, Sight::Here(_) | Sight::Other(_))
    }
}

/// Totals of the confirmed rows.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Tally {
    /// Cards that hang where the record has them.
    pub found: usize,
    /// Cards that don't.
    pub absent: usize,
    /// Cards that hang where the record doesn't have them.
    pub others: usize,
}

/// The rows of all boards, with the sightings.
#[derive(Clone, PartialEq, Debug)]
pub struct Rows {
    /// The usable hooks of each row, as they hang side by side.
    rows: Vec<Vec<HookRef>>,
    /// Index of the current row.
    at: usize,
    /// Index of the current tile.
    pick: usize,
    /// The cards seen on the hooks of confirmed rows.
    pub seen: Seen,
    /// Cards recorded in this row that aren't there.
    absent: BTreeSet<CardId>,
    /// Cards in this row that the record has elsewhere.
    others: Vec<(HookRef, CardId)>,
}

impl Rows {
    /// The rows of all boards, starting from the board with this index and wrapping around. Begins
    /// at the first row worth checking that isn't confirmed in `seen`.
    #[must_use]
    pub fn new(state: &State, board: usize, seen: Seen) -> Self {
        let (before, from): (Vec<_>, Vec<_>) =
            state.boards().enumerate().partition(|&(at, _)| at < board);
        let mut rows: Vec<Vec<HookRef>> = Vec::new();
        for (_, board) in from.into_iter().chain(before) {
            let columns = board.reading == ReadingOrder::Columns;
            let first = rows.len();
            for hook in board.hooks() {
                match rows.last_mut() {
                    Some(row) if row.first().is_some_and(|&a| same_run(state, a, hook)) => {
                        row.push(hook);
                    }
                    _ => rows.push(vec![hook]),
                }
            }
            for row in &mut rows[first..] {
                row.retain(|hook| state.capacity(*hook) > 0);
                row.sort_by_key(|hook| if columns { hook.row } else { hook.column });
            }
        }
        rows.retain(|row| !row.is_empty());
        let mut all = Self {
            rows,
            at: 0,
            pick: 0,
            seen,
            absent: BTreeSet::new(),
            others: Vec::new(),
        };
        let worth_a_look = (0..all.rows.len()).find(|&at| all.matters(state, at));
        if let Some(first) = all.unconfirmed(state).or(worth_a_look) {
            all.go(state, first);
        }
        all
    }

    /// The hooks of the current row.
    #[must_use]
    pub fn row(&self) -> &[HookRef] {
        self.rows.get(self.at).map_or(&[], Vec::as_slice)
    }

    /// Index of the current tile.
    #[must_use]
    pub const fn pick(&self) -> usize {
        self.pick
    }

    /// The hook of the current tile.
    #[must_use]
    pub fn hook(&self, state: &State) -> Option<HookRef> {
        self.tiles(state).get(self.pick).map(|tile| tile.hook)
    }

    /// The tiles of the row. O(row · log cards).
    #[must_use]
    pub fn tiles<'a>(&self, state: &'a State) -> Vec<Tile<'a>> {
        let mut tiles = Vec::new();
        for &hook in self.row() {
            let (first, stop) = (tiles.len(), stop(state, hook));
            let hang = stop.hang.into_iter().map(|kept| {
                if self.absent.contains(&kept.card.id) {
                    Sight::Absent(kept)
                } else {
                    Sight::Here(kept)
                }
            });
            let others = self.others.iter().filter(|(on, _)| *on == hook);
            let others = others.filter_map(|&(_, card)| state.card(card));
            let sights = hang.chain(others.map(Sight::Other));
            tiles.extend(sights.map(|sight| Tile { hook, sight }));
            if tiles.len() == first {
                let out = stop.out.into_iter().map(Sight::Out);
                tiles.extend(out.map(|sight| Tile { hook, sight }));
            }
            if tiles.len() == first {
                tiles.push(Tile {
                    hook,
                    sight: Sight::Free,
                });
            }
        }
        tiles
    }

    /// Whether a card hangs or belongs in a row, or the row was confirmed.
    fn matters(&self, state: &State, at: usize) -> bool {
        let mut hooks = self.rows[at].iter();
        hooks.any(|hook| self.seen.contains_key(hook) || !is_free(state, *hook))
    }

    /// Whether all of a row was confirmed.
    fn is_confirmed(&self, at: usize) -> bool {
        let mut hooks = self.rows[at].iter();
        hooks.all(|hook| self.seen.contains_key(hook))
    }

    /// The next row worth checking that isn't confirmed, from the current one on and around.
    fn unconfirmed(&self, state: &State) -> Option<usize> {
        let mut rows = (self.at..self.rows.len()).chain(0..self.at);
        rows.find(|&at| self.matters(state, at) && !self.is_confirmed(at))
    }

    /// Whether there is nothing to check.
    #[must_use]
    pub fn is_empty(&self, state: &State) -> bool {
        !(0..self.rows.len()).any(|at| self.matters(state, at))
    }

    /// Goes to a row, restoring what was confirmed of it before.
    fn go(&mut self, state: &State, at: usize) {
        (self.at, self.pick) = (at, 0);
        self.absent.clear();
        self.others.clear();
        for hook in self.row().to_vec() {
            let hang = state.index().hanging_on(hook);
            match self.seen.get(&hook) {
                Some(seen) => {
                    let others = seen.iter().filter(|card| !hang.contains(card));
                    self.others.extend(others.map(|&card| (hook, card)));
                    let absent = hang.iter().filter(|card| !seen.contains(card));
                    self.absent.extend(absent);
                }
                // A card seen on another hook isn't here.
                None => {
                    let elsewhere = |card: &&CardId| self.seen.values().any(|s| s.contains(*card));
                    let absent: Vec<CardId> = hang.iter().filter(elsewhere).copied().collect();
                    self.absent.extend(absent);
                }
            }
        }
    }

    /// Goes to the next or previous tile of the row.
    pub fn step(&mut self, state: &State, on: bool) {
        let last = self.tiles(state).len().saturating_sub(1);
        self.pick = if on {
            (self.pick + 1).min(last)
        } else {
            self.pick.saturating_sub(1)
        };
    }

    /// Goes to the next or previous row, even an empty one, without confirming anything.
    pub fn step_row(&mut self, state: &State, on: bool) {
        let last = self.rows.len().saturating_sub(1);
        let at = if on {
            (self.at + 1).min(last)
        } else {
            self.at.saturating_sub(1)
        };
        self.go(state, at);
    }

    /// Goes back to the previous row worth checking.
    pub fn back(&mut self, state: &State) {
        if let Some(at) = (0..self.at).rev().find(|&at| self.matters(state, at)) {
            self.go(state, at);
        }
    }

    /// The row as shown: its hooks, with the cards seen there.
    #[must_use]
    pub fn shown(&self, state: &State) -> Vec<Sighting> {
        let hooks = self.row().iter().map(|&hook| {
            let hang = state.index().hanging_on(hook).iter().copied();
            let here = hang.filter(|card| !self.absent.contains(card));
            let others = self.others.iter().filter(|(on, _)| *on == hook);
            let cards = here.chain(others.map(|&(_, card)| card)).collect();
            Sighting { hook, cards }
        });
        hooks.collect()
    }

    /// Goes on from a row that is confirmed now. Returns whether there is another row.
    pub fn go_on(&mut self, state: &State, confirmed: &[Sighting]) -> bool {
        self.at = self.with(confirmed).unwrap_or(self.at);
        let next = self.unconfirmed(state);
        if let Some(next) = next {
            self.go(state, next);
        }
        next.is_some()
    }

    /// Goes back to a row that isn't confirmed any more, and shows it as it was confirmed.
    pub fn return_to(&mut self, state: &State, unconfirmed: &[Sighting]) {
        let Some(at) = self.with(unconfirmed) else {
            return;
        };
        let seen = self.seen.clone();
        let again = unconfirmed.iter().map(|of| (of.hook, of.cards.clone()));
        self.seen.extend(again);
        self.go(state, at);
        self.seen = seen;
    }

    /// The index of the row with these hooks.
    fn with(&self, sightings: &[Sighting]) -> Option<usize> {
        let hook = sightings.first()?.hook;
        self.rows.iter().position(|row| row.contains(&hook))
    }

    /// Marks the current card as absent, or as present again. Returns whether there is a card.
    pub fn toggle(&mut self, state: &State) -> bool {
        let tile = self.tiles(state).get(self.pick).copied();
        match tile.map(|tile| (tile.hook, tile.sight)) {
            Some((_, Sight::Here(kept))) => {
                self.absent.insert(kept.card.id);
            }
            Some((hook, Sight::Absent(kept) | Sight::Out(kept))) => {
                self.see_here(state, hook, kept.card.id);
            }
            Some((_, Sight::Other(kept))) => {
                self.others.retain(|&(_, card)| card != kept.card.id);
                self.absent.remove(&kept.card.id);
            }
            Some((_, Sight::Free)) | None => return false,
        }
        let last = self.tiles(state).len().saturating_sub(1);
        self.pick = self.pick.min(last);
        true
    }

    /// Places a card on a hook of the row and removes it from any other hook. If the hook has no
    /// space for both, the card that belongs there is absent. Returns the hook where the card was
    /// confirmed before, if it was.
    pub fn see_here(&mut self, state: &State, hook: HookRef, card: CardId) -> Option<HookRef> {
        self.others.retain(|&(_, other)| other != card);
        let hang = state.index().hanging_on(hook);
        if hang.contains(&card) {
            self.absent.remove(&card);
        } else {
            self.others.push((hook, card));
            // The record may have it elsewhere in this row, where it isn't.
            self.absent.insert(card);
        }
        let others = self.others.iter().filter(|(on, _)| *on == hook).count();
        let room = usize::from(state.capacity(hook)).saturating_sub(others);
        let mut here: Vec<CardId> = hang.to_vec();
        here.retain(|other| !self.absent.contains(other) && *other != card);
        let kept = room.saturating_sub(usize::from(hang.contains(&card)));
        for gone in here.into_iter().skip(kept) {
            self.absent.insert(gone);
        }
        let mut before = self.seen.iter();
        before
            .find(|(on, cards)| **on != hook && cards.contains(&card))
            .map(|(&on, _)| on)
    }

    /// Drops hooks and cards that a change to the stash removed.
    pub fn settle(&mut self, state: &State) {
        for row in &mut self.rows {
            row.retain(|hook| state.capacity(*hook) > 0);
        }
        self.others.retain(|&(_, card)| state.card(card).is_some());
        let last = self.tiles(state).len().saturating_sub(1);
        self.pick = self.pick.min(last);
    }

    /// Totals of the confirmed rows. O(hooks confirmed).
    #[must_use]
    pub fn tally(&self, state: &State) -> Tally {
        let mut tally = Tally::default();
        for (&hook, seen) in &self.seen {
            let hang = state.index().hanging_on(hook);
            let found = hang.iter().filter(|card| seen.contains(card)).count();
            tally.found += found;
            tally.absent += hang.len() - found;
            tally.others += seen.len() - found;
        }
        tally
    }

    /// The number of confirmed rows, and of rows worth checking. O(hooks).
    #[must_use]
    pub fn progress(&self, state: &State) -> (usize, usize) {
        let rows = (0..self.rows.len()).filter(|&at| self.matters(state, at));
        rows.fold((0, 0), |(done, all), at| {
            (done + usize::from(self.is_confirmed(at)), all + 1)
        })
    }
}

/// The sightings for the report. Cards removed and hooks blocked in the meantime are left out.
#[must_use]
pub fn sightings(state: &State, seen: &Seen) -> Vec<Sighting> {
    let there = |hook: &HookRef| state.board(hook.board).is_some_and(|b| b.has(*hook));
    let seen = seen.iter().filter(|(hook, _)| there(hook));
    seen.map(|(&hook, cards)| {
        let known = |card: &&CardId| state.capacity(hook) > 0 && state.card(**card).is_some();
        let cards = cards.iter().filter(known).copied().collect();
        Sighting { hook, cards }
    })
    .collect()
}
