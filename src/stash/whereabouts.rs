//! Where cards and rings are: how many are where, which cards are away, and which rings were
//! forgotten.
//!
//! A lost card often sticks to another one, so the cards it hung with are the first to check.

use jiff::Timestamp;
use jiff::civil::Date;
use strum::VariantArray;

use super::state::{AwayReason, CardState, State};
use crate::model::board::{Board, HookRef};
use crate::model::ids::RingId;
use crate::model::ring::{Ring, RingState};
use crate::model::whereabouts::{CardPlace, LastPlace, LastSeen, Loan, Whereabouts};

/// The cards that aren't on their hooks, by where they are; each list in board order.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Away<'a> {
    /// Rings with cards on them, in the order they were opened.
    pub rings: Vec<(RingId, Vec<&'a CardState>)>,
    /// To hang.
    pub to_hang: Vec<&'a CardState>,
    /// Missing.
    pub missing: Vec<&'a CardState>,
    /// On another hook, in the hand, or somewhere the program doesn't track.
    pub elsewhere: Vec<&'a CardState>,
}

impl Away<'_> {
    /// Whether no card is away.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}

impl State {
    /// The whole cards that have a hook and aren't on it. O(cards).
    pub fn away_from_home(&self) -> impl Iterator<Item = &CardState> {
        let whole = self.cards().filter(|kept| kept.card.parent.is_none());
        whole.filter(|kept| kept.home.is_some() && kept.place.at.hook() != kept.home)
    }

    /// Where a card is.
    #[must_use]
    pub fn place_of(&self, kept: &CardState) -> CardPlace {
        let project = |id| {
            let ring = self.ring(id);
            ring.map_or_else(String::new, |ring| ring.project.to_string())
        };
        match &kept.place.at {
            Whereabouts::Hook { hook } if kept.home == Some(*hook) => {
                CardPlace::Home(self.hook_name(*hook))
            }
            Whereabouts::Hook { hook } => CardPlace::Hook(self.hook_name(*hook)),
            Whereabouts::Ring { ring } => CardPlace::Ring {
                project: project(*ring),
                hangs_on: self.ring(*ring).and_then(|ring| match ring.state {
                    RingState::Hanging { hook, .. } => Some(self.hook_name(hook)),
                    _ => None,
                }),
            },
            Whereabouts::Hand => CardPlace::Hand,
            Whereabouts::Missing { last_seen } => CardPlace::Missing(match last_seen {
                LastSeen::Hook(hook) => LastPlace::Hook(self.hook_name(*hook)),
                LastSeen::Ring(ring) => LastPlace::Ring(project(*ring)),
                LastSeen::Loose => LastPlace::Unknown,
            }),
            Whereabouts::Elsewhere { note, loan } => CardPlace::Elsewhere {
                note: note.clone(),
                loan: loan.clone(),
            },
            Whereabouts::Unhung => {
                let whole = kept.card.parent.and_then(|id| self.card(id));
                CardPlace::ToHang {
                    rejoins: whole.map(|whole| self.card_name(whole)),
                }
            }
        }
    }

    /// The cards that aren't on their hooks, in board order of those hooks. O(away · log cards).
    #[must_use]
    pub fn not_at_home(&self) -> Vec<&CardState> {
        let cards = self.index().not_at_home();
        self.in_board_order(cards.filter_map(|id| self.card(id)))
    }

    /// The cards that aren't on their hooks, by where they are. O(away · log cards + rings · cards
    /// on them).
    #[must_use]
    pub fn away(&self) -> Away<'_> {
        let mut away = Away::default();
        for kept in self.not_at_home() {
            match kept.place.at {
                Whereabouts::Ring { ring } => {
                    match away.rings.iter_mut().find(|(id, _)| *id == ring) {
                        Some((_, on)) => on.push(kept),
                        None => away.rings.push((ring, vec![kept])),
                    }
                }
                Whereabouts::Unhung => away.to_hang.push(kept),
                Whereabouts::Missing { .. } => away.missing.push(kept),
                Whereabouts::Hook { .. } | Whereabouts::Hand | Whereabouts::Elsewhere { .. } => {
                    away.elsewhere.push(kept);
                }
            }
        }
        away.rings.sort_by_key(|(id, _)| *id);
        away
    }

    /// The cards that hung with a missing card where it was last seen, most likely first. None for
    /// a card that isn't missing.
    ///
    /// On a hook: the cards that belong there, then those on the nearest hooks in use before and
    /// after it. On a ring: the cards that are still on it or left it after this card went missing,
    /// then those that had left before. O(hooks), or O(cards that were on the ring).
    #[must_use]
    pub fn last_seen_with(&self, kept: &CardState) -> Vec<&CardState> {
        let Whereabouts::Missing { last_seen } = kept.place.at else {
            return Vec::new();
        };
        match last_seen {
            LastSeen::Hook(hook) => self.neighbours(hook, kept),
            LastSeen::Ring(id) => {
                let ring = self.ring(id);
                // A ring reopened since then has forgotten who was on it.
                let ring = ring.filter(|ring| ring.opened <= kept.place.since);
                let went_out = ring.map_or(&[][..], |ring| &ring.went_out);
                let others = went_out.iter().filter(|&&card| card != kept.card.id);
                let others = others.filter_map(|&card| self.card(card));
                let (there, before): (Vec<&CardState>, Vec<&CardState>) =
                    others.partition(|other| {
                        other.place.at.ring() == Some(id) || other.place.since >= kept.place.since
                    });
                [there, before].concat()
            }
            LastSeen::Loose => Vec::new(),
        }
    }

    /// The card that takes a split card's thread when it is put away: the one it was split from. A
    /// whole card is its own.
    ///
    /// # Errors
    /// When that card is neither at hand nor on the same ring as the split card. Holds that card
    /// and where it is.
    pub fn rejoins<'a>(
        &'a self,
        split_card: &'a CardState,
    ) -> Result<&'a CardState, (&'a CardState, CardPlace)> {
        // An invariant keeps the card that a split card was split from.
        let whole = split_card.card.parent.and_then(|parent| self.card(parent));
        let whole = whole.unwrap_or(split_card);
        let ring = split_card.place.at.ring();
        if whole.place.at.can_be_hung() || (ring.is_some() && whole.place.at.ring() == ring) {
            return Ok(whole);
        }
        Err((whole, self.place_of(whole)))
    }

    fn neighbours(&self, hook: HookRef, kept: &CardState) -> Vec<&CardState> {
        let hooks: Vec<HookRef> = self.hooks().collect();
        let at = hooks.iter().position(|&other| other == hook);
        let (before, after) = at.map_or((&[][..], &[][..]), |at| (&hooks[..at], &hooks[at + 1..]));
        let has_homes = |hook: &&HookRef| !self.index().homes_on(**hook).is_empty();
        let nearest = [
            Some(&hook),
            before.iter().rev().find(has_homes),
            after.iter().find(has_homes),
        ];
        nearest
            .into_iter()
            .flatten()
            .flat_map(|&hook| self.homes_on(hook))
            .filter(|other| other.card.id != kept.card.id)
            .collect()
    }
}

/// How many cards are where, each counted once, and how many places are free.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counts {
    /// Cards on the hook they belong on.
    pub home: usize,
    /// Cards on rings.
    pub on_rings: usize,
    /// Cards in the hand, in the middle of a re-hang.
    pub in_hand: usize,
    /// Cards on another hook or somewhere the program doesn't track, and split cards to hang: these
    /// have no hook and wait to be rejoined.
    pub elsewhere: usize,
    /// Cards declared missing.
    pub missing: usize,
    /// Cards to hang that a re-hang can hang.
    pub to_hang: usize,
    /// Places where no card belongs.
    pub free: usize,
}

impl Counts {
    /// Counts a stash. O(boards and hooks that differ): the index counts cards as they change, and
    /// because no hook has more cards than places, the free places are all places minus all cards
    /// with a hook.
    #[must_use]
    pub fn of(state: &State) -> Self {
        let index = state.index();
        let places: usize = state.boards().map(Board::capacity_in_all).sum();
        let mut counts = Self {
            home: index.count_at_home(),
            free: places.saturating_sub(index.count_with_home()),
            ..Self::default()
        };
        for &reason in AwayReason::VARIANTS {
            let count = match reason {
                AwayReason::Missing => &mut counts.missing,
                AwayReason::InHand => &mut counts.in_hand,
                AwayReason::Elsewhere => &mut counts.elsewhere,
                AwayReason::ToHang => &mut counts.to_hang,
                AwayReason::OnRing => &mut counts.on_rings,
            };
            *count = index.count_abroad(reason);
        }
        counts
    }

    /// Cards that are neither on their hook, nor missing, nor to hang.
    #[must_use]
    pub const fn away(&self) -> usize {
        self.on_rings + self.in_hand + self.elsewhere
    }
}

/// A hanging ring counts as forgotten after this many days.
pub const HANGING_DAYS: i64 = 7;
/// A ring in use counts as forgotten after this many days without a new card.
pub const IDLE_DAYS: i64 = 30;

/// A forgotten ring.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Forgotten<'a> {
    /// Which ring.
    pub ring: &'a Ring,
    /// The hook it hangs on; `None` for a ring in use.
    pub hanging: Option<HookRef>,
    /// Whole days since it was hung up, or since a card was last added (else since it was opened).
    pub days: i64,
}

/// The forgotten rings: hanging ones first, then idle ones, each kind longest first.
///
/// Nothing records when a hanging ring is taken down, so one whose cards have been on it for long
/// counts as idle at once. O(cards on rings).
#[must_use]
pub fn forgotten(state: &State, now: Timestamp) -> Vec<Forgotten<'_>> {
    let mut found: Vec<(bool, Timestamp, Forgotten<'_>)> = state
        .rings()
        .filter_map(|ring| {
            let (hanging, since, least) = match ring.state {
                RingState::Hanging { hook, since } => (Some(hook), since, HANGING_DAYS),
                RingState::Live => {
                    let came = state.cards_on(ring).map(|kept| kept.place.since).max();
                    (None, came.unwrap_or(ring.opened), IDLE_DAYS)
                }
                RingState::Closed { .. } => return None,
            };
            let days = now.duration_since(since).as_hours() / 24;
            let one = Forgotten {
                ring,
                hanging,
                days,
            };
            (days >= least).then_some((hanging.is_none(), since, one))
        })
        .collect();
    found.sort_by_key(|(idle, since, one)| (*idle, *since, one.ring.id));
    found.into_iter().map(|(_, _, one)| one).collect()
}

/// A card that is lent and should be back.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Overdue<'a> {
    /// The card.
    pub kept: &'a CardState,
    /// Who has it, and until when.
    pub loan: &'a Loan,
    /// Days since it was due.
    pub days: i32,
}

/// The cards due back from a loan before today, longest overdue first. O(cards away).
#[must_use]
pub fn overdue(state: &State, today: Date) -> Vec<Overdue<'_>> {
    let mut late: Vec<Overdue<'_>> = state
        .index()
        .not_at_home()
        .filter_map(|id| state.card(id))
        .filter_map(|kept| {
            let loan = kept.place.at.loan()?;
            let days = today.since(loan.until?).map_or(0, |span| span.get_days());
            (days > 0).then_some(Overdue { kept, loan, days })
        })
        .collect();
    late.sort_by_key(|one| (-one.days, one.kept.card.id));
    late
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::thread::Strands;
    use crate::stash::command::{ring, thread};
    use crate::stash::testing::{add_cards, apply, at, id, wall};
    use crate::text;

    fn stash() -> State {
        let mut state = wall(2, 4, 2);
        add_cards(
            &mut state,
            &["1@A01", "2@A03", "3@A03", "4@B02", "5@B03", "6", "7@B04"],
        );
        state
    }

    fn take(state: &mut State, project: &str, names: &[&str]) {
        let cards: Vec<_> = names.iter().map(|name| id(state, name)).collect();
        let event = ring::take(state, project, &cards, at(1)).unwrap();
        apply(state, &event);
    }

    fn lose(state: &mut State, name: &str, when: i64) {
        let event = ring::missing(state, &[id(state, name)], at(when)).unwrap();
        apply(state, &event);
    }

    fn said(state: &State, name: &str) -> Option<String> {
        text::places::last_seen_with(state, state.card(id(state, name)).unwrap())
    }

    #[test]
    fn a_card_lost_from_a_hook_was_with_its_neighbours() {
        let mut state = stash();
        take(&mut state, "Robin", &["4"]);
        lose(&mut state, "2", 2);
        assert_eq!(
            said(&state, "2").as_deref(),
            Some("beside 3 (on A03), 1 (on A01) and 4 (now on the ring 'Robin')")
        );
        lose(&mut state, "7", 3);
        assert_eq!(said(&state, "7").as_deref(), Some("beside 5 (on B03)"));
        assert_eq!(said(&state, "3"), None);
        lose(&mut state, "6", 3);
        assert_eq!(said(&state, "6"), None);
    }

    #[test]
    fn a_card_lost_from_a_ring_was_with_its_cards_of_that_time_first() {
        let mut state = stash();
        take(&mut state, "Robin", &["1", "2", "3", "4", "5", "6"]);
        let give_back = |state: &mut State, name: &str, when| {
            let robin = state.need_ring("Robin").unwrap();
            let event = ring::give_back(state, robin, &[id(state, name)], at(when)).unwrap();
            apply(state, &event);
        };
        give_back(&mut state, "1", 2);
        lose(&mut state, "2", 3);
        give_back(&mut state, "6", 4);
        lose(&mut state, "5", 5);
        assert_eq!(
            said(&state, "2").as_deref(),
            Some(
                "with 3 (still on the ring), 4 (still on the ring), 5 (missing too), \
                 6 (now to hang) and 1 more"
            )
        );
        let with = state.last_seen_with(state.card(id(&state, "2")).unwrap());
        assert_eq!(with.last().unwrap().card.id, id(&state, "1"));
        // The reopened ring has forgotten who was on it.
        let robin = state.need_ring("Robin").unwrap().clone();
        let event = ring::give_back_all(&state, &robin, at(6)).unwrap();
        apply(&mut state, &event);
        let event = ring::close(&state, &robin, at(7)).unwrap();
        apply(&mut state, &event);
        let event = ring::take(&state, "Robin", &[id(&state, "7")], at(8)).unwrap();
        apply(&mut state, &event);
        assert_eq!(said(&state, "2"), None);
    }

    #[test]
    fn every_card_that_is_not_at_home_is_in_one_group() {
        let mut state = stash();
        take(&mut state, "Robin", &["1"]);
        take(&mut state, "Kite", &["3", "2"]);
        lose(&mut state, "4", 2);
        let names = |cards: &[&CardState]| -> Vec<String> {
            cards.iter().map(|kept| state.card_name(kept)).collect()
        };
        let away = state.away();
        assert_eq!(names(&away.rings[0].1), ["1"]);
        assert_eq!(names(&away.rings[1].1), ["2", "3"]);
        assert_eq!(names(&away.to_hang), ["6"]);
        assert_eq!(names(&away.missing), ["4"]);
        assert!(away.elsewhere.is_empty() && !away.is_empty());
        assert!(wall(1, 1, 1).away().is_empty());
    }

    #[test]
    fn a_split_card_without_a_place_is_not_counted_as_to_hang() {
        let mut state = wall(1, 3, 1);
        add_cards(&mut state, &["1@A01", "2"]);
        let one = id(&state, "1");
        let split = thread::split(&state, "Robin", one, Strands(6), None, "", at(1)).unwrap();
        apply(&mut state, &split);
        let robin = state.rings().next().unwrap();
        let split_card = [state.cards_on(robin).next().unwrap().card.id];
        let lost = ring::missing(&state, &split_card, at(2)).unwrap();
        apply(&mut state, &lost);
        let found = ring::found(&state, split_card[0], at(2)).unwrap();
        apply(&mut state, &found);
        let counts = Counts::of(&state);
        assert_eq!((counts.home, counts.to_hang, counts.elsewhere), (1, 1, 1));
        assert_eq!(counts.free, 2);
    }

    const DAY: i64 = 24 * 3600;

    fn names(state: &State, now: i64) -> Vec<(String, i64)> {
        let found = forgotten(state, at(now)).into_iter();
        found
            .map(|one| (one.ring.project.to_string(), one.days))
            .collect()
    }

    #[test]
    fn a_ring_counts_as_forgotten_from_its_day_on() {
        let mut state = wall(1, 4, 1);
        add_cards(&mut state, &["1@A01", "2@A02", "3@A03"]);
        let take = |state: &mut State, project: &str, card: &str, when| {
            let event = ring::take(state, project, &[id(state, card)], at(when)).unwrap();
            apply(state, &event);
        };
        take(&mut state, "Robin", "1", 0);
        take(&mut state, "Kite", "2", 0);
        let kite = state.need_ring("Kite").unwrap();
        let event = ring::hang_up(&state, kite, "A04", at(DAY)).unwrap();
        apply(&mut state, &event);
        assert_eq!(names(&state, 8 * DAY - 1), []);
        assert_eq!(names(&state, 8 * DAY), [("Kite".to_owned(), 7)]);
        assert_eq!(
            names(&state, 30 * DAY),
            [("Kite".to_owned(), 29), ("Robin".to_owned(), 30)]
        );
        // A new card makes the ring busy again.
        take(&mut state, "Robin", "3", 10 * DAY);
        assert_eq!(names(&state, 40 * DAY - 1), [("Kite".to_owned(), 38)]);
        assert_eq!(names(&state, 40 * DAY).len(), 2);
        // A clock that was set back reports nothing, and a closed ring isn't reported.
        assert_eq!(names(&state, -DAY), []);
        for project in ["Kite", "Robin"] {
            let ring = state.need_ring(project).unwrap().clone();
            let event = ring::give_back_all(&state, &ring, at(41 * DAY)).unwrap();
            apply(&mut state, &event);
        }
        // An empty ring counts from its opening.
        assert_eq!(names(&state, 42 * DAY).len(), 2);
        let event = ring::close(&state, state.need_ring("Kite").unwrap(), at(41 * DAY)).unwrap();
        apply(&mut state, &event);
        assert_eq!(names(&state, 42 * DAY), [("Robin".to_owned(), 42)]);
    }
}
