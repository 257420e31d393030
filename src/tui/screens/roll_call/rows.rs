//! What a roll call has seen so far, row by row. Nothing of it is recorded before its report is.

use std::collections::{BTreeSet, HashMap};

use crate::model::board::{HookRef, ReadingOrder};
use crate::model::ids::CardId;
use crate::stash::command::rollcall::{Sighting, is_free, same_run, stop};
use crate::stash::state::{CardState, State};

/// What was seen on the hooks that were confirmed.
pub type Seen = HashMap<HookRef, Vec<CardId>>;

/// What there is to see of a card on a hook, or of a hook without one.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Sight<'a> {
    /// The record has it here, and here it is.
    Here(&'a CardState),
    /// The record has it here, and it isn't.
    Absent(&'a CardState),
    /// It hangs here, and the record has it elsewhere.
    Other(&'a CardState),
    /// It belongs here, and the record has it elsewhere.
    Out(&'a CardState),
    /// Nothing hangs or belongs here.
    Free,
}

/// A hook, or one of the cards on it.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Tile<'a> {
    /// The hook.
    pub hook: HookRef,
    /// What is there.
    pub sight: Sight<'a>,
}

impl Tile<'_> {
    /// Whether a card hangs there.
    #[must_use]
    pub const fn hangs(&self) -> bool {
        matches!(self.sight, Sight::Here(_) | Sight::Other(_))
    }
}

/// What was confirmed so far.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Tally {
    /// Cards that hang where the record says.
    pub found: usize,
    /// Cards that don't.
    pub absent: usize,
    /// Cards that hang where the record doesn't have them.
    pub others: usize,
}

/// The rows of all boards, and what was seen on them.
#[derive(Clone, PartialEq, Debug)]
pub struct Rows {
    /// The hooks of each row that can be used, as they hang side by side.
    rows: Vec<Vec<HookRef>>,
    /// Which row is looked at.
    at: usize,
    /// Which of its tiles.
    pick: usize,
    /// What was seen on the hooks of rows that were confirmed.
    pub seen: Seen,
    /// Cards that should be in this row and are not.
    absent: BTreeSet<CardId>,
    /// Cards that are in this row and that the record has elsewhere.
    others: Vec<(HookRef, CardId)>,
}

impl Rows {
    /// The rows of all boards from the board at a place on, around; at the first with something to look at.
    #[must_use]
    pub fn new(state: &State, board: usize) -> Self {
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
            seen: Seen::new(),
            absent: BTreeSet::new(),
            others: Vec::new(),
        };
        if let Some(first) = all.next_stop(state, 0) {
            all.go(state, first);
        }
        all
    }

    /// The hooks of the row that is looked at.
    #[must_use]
    pub fn row(&self) -> &[HookRef] {
        self.rows.get(self.at).map_or(&[], Vec::as_slice)
    }

    /// Which of its tiles is looked at.
    #[must_use]
    pub const fn pick(&self) -> usize {
        self.pick
    }

    /// The hook that is looked at.
    #[must_use]
    pub fn hook(&self, state: &State) -> Option<HookRef> {
        self.tiles(state).get(self.pick).map(|tile| tile.hook)
    }

    /// What there is to see in the row. O(row · log cards).
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

    /// Whether a card hangs or belongs in a row, or it was confirmed.
    fn matters(&self, state: &State, at: usize) -> bool {
        let mut hooks = self.rows[at].iter();
        hooks.any(|hook| self.seen.contains_key(hook) || !is_free(state, *hook))
    }

    /// The first row from a place on with something to look at.
    fn next_stop(&self, state: &State, from: usize) -> Option<usize> {
        (from..self.rows.len()).find(|&at| self.matters(state, at))
    }

    /// Whether there is anything to look at.
    #[must_use]
    pub fn is_empty(&self, state: &State) -> bool {
        self.next_stop(state, 0).is_none()
    }

    /// Goes to a row and looks at it anew; what was confirmed of it before is shown.
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
                // What was seen on another hook is not here.
                None => {
                    let elsewhere = |card: &&CardId| self.seen.values().any(|s| s.contains(*card));
                    let absent: Vec<CardId> = hang.iter().filter(elsewhere).copied().collect();
                    self.absent.extend(absent);
                }
            }
        }
    }

    /// Looks at the next tile of the row, or at the one before.
    pub fn step(&mut self, state: &State, on: bool) {
        let last = self.tiles(state).len().saturating_sub(1);
        self.pick = if on {
            (self.pick + 1).min(last)
        } else {
            self.pick.saturating_sub(1)
        };
    }

    /// Goes to the next row, whatever should hang there, or to the one before, and confirms nothing.
    pub fn step_row(&mut self, state: &State, on: bool) {
        let last = self.rows.len().saturating_sub(1);
        let at = if on {
            (self.at + 1).min(last)
        } else {
            self.at.saturating_sub(1)
        };
        self.go(state, at);
    }

    /// Goes back to the row before with something to look at, which counts as not yet confirmed.
    pub fn back(&mut self, state: &State) {
        if let Some(at) = (0..self.at).rev().find(|&at| self.matters(state, at)) {
            self.go(state, at);
            for hook in self.row().to_vec() {
                self.seen.remove(&hook);
            }
        }
    }

    /// Confirms the row as it is shown and goes to the next. Says whether there is one.
    pub fn confirm(&mut self, state: &State) -> bool {
        for hook in self.row().to_vec() {
            let hang = state.index().hanging_on(hook).iter().copied();
            let here = hang.filter(|card| !self.absent.contains(card));
            let others = self.others.iter().filter(|(on, _)| *on == hook);
            let cards: Vec<CardId> = here.chain(others.map(|&(_, card)| card)).collect();
            // A card hangs on one hook: where it was seen last.
            for before in self.seen.values_mut() {
                before.retain(|card| !cards.contains(card));
            }
            self.seen.insert(hook, cards);
        }
        match self.next_stop(state, self.at + 1) {
            Some(next) => self.go(state, next),
            None => return false,
        }
        true
    }

    /// Says that the card looked at isn't here, or is after all. Says whether there is a card.
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

    /// Says that a card hangs on a hook of the row; it hangs on no other then, and where the hook has no room beside it,
    /// the card that should be there isn't. Answers with the hook where it was confirmed before, if it was.
    pub fn see_here(&mut self, state: &State, hook: HookRef, card: CardId) -> Option<HookRef> {
        self.others.retain(|&(_, other)| other != card);
        let hang = state.index().hanging_on(hook);
        if hang.contains(&card) {
            self.absent.remove(&card);
        } else {
            self.others.push((hook, card));
            // Where the record has it in this very row, it isn't.
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

    /// Keeps to rows and cards that are there, in a stash that was changed meanwhile.
    pub fn settle(&mut self, state: &State) {
        for row in &mut self.rows {
            row.retain(|hook| state.capacity(*hook) > 0);
        }
        self.others.retain(|&(_, card)| state.card(card).is_some());
        let last = self.tiles(state).len().saturating_sub(1);
        self.pick = self.pick.min(last);
    }

    /// What was confirmed so far. O(hooks confirmed).
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

    /// How many rows were confirmed, and how many there are to look at. O(hooks).
    #[must_use]
    pub fn progress(&self, state: &State) -> (usize, usize) {
        let rows = (0..self.rows.len()).filter(|&at| self.matters(state, at));
        rows.fold((0, 0), |(done, all), at| {
            let confirmed = self.rows[at]
                .iter()
                .all(|hook| self.seen.contains_key(hook));
            (done + usize::from(confirmed), all + 1)
        })
    }
}

/// What was seen, for the report. What is gone or blocked meanwhile is left out.
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
