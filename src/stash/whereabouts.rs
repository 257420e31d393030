//! Cards that are not at home, and with which others a missing card was last seen.
//!
//! A lost card often clings to another one, so the cards it hung with are the first to look at.

use super::state::{CardState, State};
use crate::model::board::HookRef;
use crate::model::ids::RingId;
use crate::model::ring::RingState;
use crate::model::whereabouts::{CardPlace, LastPlace, LastSeen, Whereabouts};

/// The cards that are not at home, by where they are; each list in board order.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Away<'a> {
    /// Rings with cards on them, in the order they were opened.
    pub rings: Vec<(RingId, Vec<&'a CardState>)>,
    /// To hang.
    pub to_hang: Vec<&'a CardState>,
    /// Missing.
    pub missing: Vec<&'a CardState>,
    /// On another hook, in the hand, or in a place the program does not keep.
    pub elsewhere: Vec<&'a CardState>,
}

impl Away<'_> {
    /// Whether every card is at home.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}

impl State {
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

    /// The cards that are not at home, in board order of their homes. O(away · log cards).
    #[must_use]
    pub fn not_at_home(&self) -> Vec<&CardState> {
        let cards = self.index().not_at_home();
        self.in_board_order(cards.filter_map(|id| self.card(id)))
    }

    /// The cards that are not at home, by where they are. O(away · log cards + rings · cards on them).
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

    /// The cards that hung with a missing card where it was last seen, likeliest first; none for a
    /// card that is not missing.
    ///
    /// On a hook: those that live there, then those on the nearest home before and after it. On a
    /// ring: those that are still on it or left it after the card was missed, then those that went
    /// out on it and had left before. O(hooks), or O(cards that went out).
    #[must_use]
    pub fn last_seen_with(&self, kept: &CardState) -> Vec<&CardState> {
        let Whereabouts::Missing { last_seen } = kept.place.at else {
            return Vec::new();
        };
        match last_seen {
            LastSeen::Hook(hook) => self.neighbours(hook, kept),
            LastSeen::Ring(id) => {
                let ring = self.ring(id);
                // A ring that was opened again since has forgotten who was on it.
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stash::command::ring;
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
    fn a_card_lost_from_a_hook_was_beside_its_neighbours() {
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
    fn a_card_lost_from_a_ring_was_with_the_cards_on_it_those_of_then_first() {
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
        // Opened again, the ring has forgotten who was on it.
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
}
