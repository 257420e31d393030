//! The only way a stash changes: an event is applied as a whole, or not at all.

use super::event::Event;
use super::invariants::{self, Violation};
use super::state::{Mismatch, State};

/// An event doesn't fit the state, or would break an invariant. The state is unchanged.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ApplyError {
    /// The state differs from the event's values before the change.
    #[error("mismatch")]
    Before {
        /// Which change of the event, from 1.
        position: usize,
        /// What the change applies to.
        what: Mismatch,
    },
    /// An invariant would be broken.
    #[error(transparent)]
    Law(#[from] Violation),
}

impl State {
    /// Applies one event: all of it, or nothing.
    ///
    /// O(changes · log cards), plus O(cards on the hooks concerned) for the invariants.
    ///
    /// # Errors
    /// When a change doesn't fit the state, or the outcome breaks an invariant; the state is
    /// unchanged.
    pub fn apply(&mut self, event: &Event) -> Result<(), ApplyError> {
        let changed = self.change_all(&event.changes);
        changed.map_err(|(position, what)| ApplyError::Before { position, what })?;
        if let Err(broken) = invariants::check_after(self, event) {
            self.take_back(&event.changes);
            return Err(broken.into());
        }
        self.step_ids();
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::model::ids::CardId;
    use crate::model::label::Label;
    use crate::model::thread::{Lot, ThreadPart};
    use crate::model::whereabouts::{LastSeen, Whereabouts};
    use crate::stash::command::ring;
    use crate::stash::event::{Act, AmountChange, Change, Event};
    use crate::stash::testing::life::{
        Life, assert_promises_are_kept, choices, rejoining, stitching,
    };
    use crate::stash::testing::{add_cards, apply, assert_sound, at, id, wall};
    use crate::text;

    proptest! {
        #![proptest_config(crate::testing::one_case_in(16))]

        #[test]
        fn a_stash_keeps_its_invariants_through_any_history(choices in choices(34)) {
            let mut life = Life::default();
            for choice in choices {
                life.live(choice);
            }
            let mut replayed = State::default();
            for event in &life.events {
                replayed.apply(event).unwrap();
            }
            prop_assert_eq!(&replayed, &life.state);
            prop_assert_eq!(replayed.index(), life.state.index());

            assert_promises_are_kept(&life.state);
            let end = life.state.clone();
            let mut undone = 0;
            while let Ok(event) = life.history.undo() {
                life.commit(event);
                undone += 1;
            }
            prop_assert_eq!(&life.state, &State::default());
            for _ in 0..undone {
                let event = life.history.redo().unwrap();
                life.commit(event);
            }
            prop_assert_eq!(life.state, end);
        }
    }

    proptest! {
        #![proptest_config(crate::testing::one_case_in(16))]

        #[test]
        fn thread_used_for_a_chart_key_adds_up(choices in stitching()) {
            let mut life = Life::default();
            for choice in choices {
                life.live(choice);
            }
        }
    }

    proptest! {
        #![proptest_config(crate::testing::one_case_in(16))]

        /// [`Life::commit`] does the bookkeeping.
        #[test]
        fn thread_is_conserved_by_lot_and_kind(choices in rejoining()) {
            let mut life = Life::default();
            for choice in choices {
                life.live(choice);
            }
            while let Ok(event) = life.history.undo() {
                life.commit(event);
            }
            prop_assert_eq!(&life.state, &State::default());
        }
    }

    #[test]
    fn a_card_without_a_place_is_refused_without_a_trace() {
        let mut state = wall(1, 1, 1);
        let before = state.clone();
        let event = Event {
            act: Act::OrderFamilies,
            changes: vec![
                Change::Lot {
                    card: CardId(7),
                    lot: Lot::unknown(),
                    before: None,
                    after: Some(Label::default()),
                },
                Change::Thread {
                    card: CardId(7),
                    lot: Lot::unknown(),
                    part: ThreadPart::Strands,
                    amount: AmountChange::plus(3),
                },
            ],
        };
        let misfit = state.apply(&event).unwrap_err();
        assert_eq!(
            text::faults::apply_error(&misfit),
            "change 2 of the event doesn't fit: the card's place isn't as the event says it was"
        );
        assert_eq!(state, before);
        assert_sound(&state);
    }

    #[test]
    fn a_missing_card_remembers_where_it_was() {
        let mut state = wall(1, 1, 1);
        add_cards(&mut state, &["1@A01"]);
        let card = id(&state, "1");
        let event = ring::missing(&state, &[card], at(1)).unwrap();
        apply(&mut state, &event);
        let hook = state.find_hook("A01").unwrap();
        assert_eq!(
            state.card(card).unwrap().place.at,
            Whereabouts::Missing {
                last_seen: LastSeen::Hook(hook)
            }
        );
    }

    /// Card 1 with 12 strands of lot K7.
    fn with_lot() -> (State, impl Fn(&str, AmountChange) -> Change) {
        let mut state = wall(1, 1, 1);
        let mut row = crate::stash::testing::row("1@A01");
        row.dye_lot = Some("K7".into());
        row.amount = Some(crate::stash::command::import::Amount::Lengths(2.0));
        let event = crate::stash::testing::read(&state, &[row]).event.unwrap();
        apply(&mut state, &event);
        let card = id(&state, "1");
        let thread = move |lot: &str, amount| Change::Thread {
            card,
            lot: Lot(Label::new(lot).unwrap()),
            part: ThreadPart::Strands,
            amount,
        };
        (state, thread)
    }

    fn refused(state: &mut State, changes: Vec<Change>) -> bool {
        let before = state.clone();
        let act = Act::OrderFamilies;
        let refused = state.apply(&Event { act, changes }).is_err();
        if refused {
            assert_eq!(*state, before);
        }
        refused
    }

    #[test]
    fn an_amount_changes_only_on_a_listed_lot_and_within_bounds() {
        let (mut state, thread) = with_lot();
        for (lot, amount) in [
            ("", AmountChange::plus(1)),
            (
                "V1",
                AmountChange::Set {
                    before: 0,
                    after: 1,
                },
            ),
            ("K7", AmountChange::minus(13)),
            ("K7", AmountChange::plus(u32::MAX)),
            ("K7", AmountChange::Add { by: i64::MIN }),
            ("K7", AmountChange::Add { by: i64::MAX }),
            (
                "K7",
                AmountChange::Set {
                    before: 11,
                    after: 12,
                },
            ),
        ] {
            assert!(
                refused(&mut state, vec![thread(lot, amount)]),
                "{lot} {amount:?}"
            );
        }
        assert!(!refused(
            &mut state,
            vec![thread("K7", AmountChange::minus(12))]
        ));
        // A used-up lot stays listed.
        assert_eq!(
            state.card(id(&state, "1")).unwrap().thread.lot_names(),
            "K7"
        );
    }

    #[test]
    fn only_a_used_up_lot_can_be_removed_from_a_card() {
        let (mut state, thread) = with_lot();
        let card = id(&state, "1");
        let lot = |before: Option<&str>, after: Option<&str>| Change::Lot {
            card,
            lot: Lot(Label::new("K7").unwrap()),
            before: before.map(|at| Label::new(at).unwrap()),
            after: after.map(|at| Label::new(at).unwrap()),
        };
        assert!(refused(&mut state, vec![lot(Some(""), None)]));
        assert!(refused(&mut state, vec![lot(None, Some(""))]));
        assert!(refused(&mut state, vec![lot(Some("drawer"), Some("box"))]));
        assert!(!refused(&mut state, vec![lot(Some(""), Some("drawer"))]));
        let to_nothing = thread(
            "K7",
            AmountChange::Set {
                before: 12,
                after: 0,
            },
        );
        assert!(!refused(
            &mut state,
            vec![to_nothing, lot(Some("drawer"), None)]
        ));
        assert!(refused(&mut state, vec![lot(None, None)]));
    }
}
