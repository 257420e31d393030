//! Compact changes of a ring: its lists are long and change little at a time.

use std::collections::{BTreeMap, BTreeSet};

use super::change::{AmountChange, Change};
use crate::model::ids::{CardId, RingId};
use crate::model::ring::{ColourRef, Ring};

/// A ring for [`Change::Ring`]: without its key, the thread used, and the cards that were on it,
/// which have their own changes.
#[must_use]
pub fn without_lists(ring: &Ring) -> Ring {
    Ring {
        key: Vec::new(),
        project: ring.project.clone(),
        status: ring.status.clone(),
        went_out: Vec::new(),
        used: BTreeMap::new(),
        ..*ring
    }
}

/// The difference between two lists of cards that were on a ring; `None` if they are equal. The
/// cards that join come after all that stay, which is the order a merge gives the cards of two
/// copies. O(cards).
fn went_out(ring: RingId, before: &[CardId], after: &[CardId]) -> Option<Change> {
    let place = |at: usize| u32::try_from(at).unwrap_or(u32::MAX);
    let mut stays = 0;
    let mut gone = Vec::new();
    for (at, &card) in before.iter().enumerate() {
        if after.get(stays) == Some(&card) {
            stays += 1;
        } else {
            gone.push((place(at), card));
        }
    }
    let come = after.iter().enumerate().skip(stays);
    let come: Vec<(u32, CardId)> = come.map(|(at, &card)| (place(at), card)).collect();
    (!gone.is_empty() || !come.is_empty()).then_some(Change::WentOut {
        ring,
        before: gone,
        after: come,
    })
}

/// Edits a list: removes some cards and inserts others, each at its position. `None` if they aren't
/// there, the positions are out of order, or a card would be listed twice. O(cards · log(listed)).
#[must_use]
pub fn edited(
    list: &[CardId],
    before: &[(u32, CardId)],
    after: &[(u32, CardId)],
) -> Option<Vec<CardId>> {
    let mut gone = before.iter().peekable();
    let mut stay = Vec::with_capacity(list.len());
    for (at, &card) in (0..).zip(list) {
        if gone.next_if_eq(&&(at, card)).is_none() {
            stay.push(card);
        }
    }
    let mut come = BTreeSet::new();
    let once = after.iter().all(|(_, card)| come.insert(*card));
    if gone.next().is_some() || !once || stay.iter().any(|card| come.contains(card)) {
        return None;
    }
    let mut stay = stay.into_iter();
    let mut edited = Vec::with_capacity(list.len() + after.len());
    for &(at, card) in after {
        let between = (at as usize).checked_sub(edited.len())?;
        let length = edited.len() + between;
        edited.extend(stay.by_ref().take(between));
        if edited.len() != length {
            return None;
        }
        edited.push(card);
    }
    edited.extend(stay);
    Some(edited)
}

/// The changes from one ring to another, or to a new one; none if nothing changed. The changes of
/// its lists come after the ring's own. O(cards that were on it + lines of the key).
#[must_use]
pub fn ring_changes(before: Option<&Ring>, after: &Ring) -> Vec<Change> {
    let (old, new) = (before.map(without_lists), without_lists(after));
    let mut changes = Vec::new();
    if old.as_ref() != Some(&new) {
        changes.push(Change::Ring {
            before: old,
            after: Some(new),
        });
    }
    let old = before.map_or(&[][..], |ring| &ring.went_out);
    changes.extend(went_out(after.id, old, &after.went_out));
    let old_key = before.map_or(&[][..], |ring| &ring.key);
    if old_key != after.key.as_slice() {
        changes.push(Change::Key {
            ring: after.id,
            before: old_key.to_vec(),
            after: after.key.clone(),
        });
    }
    changes.extend(used(before, after));
    changes
}

/// The differences in the thread used of each colour.
fn used(before: Option<&Ring>, after: &Ring) -> Vec<Change> {
    // The existing spelling takes precedence.
    let known = before.into_iter().flat_map(|ring| ring.used.keys());
    let colours: BTreeSet<&ColourRef> = known.chain(after.used.keys()).collect();
    let of = |ring: &Ring, colour| i64::try_from(ring.used_of(colour)).unwrap_or(i64::MAX);
    colours
        .into_iter()
        .filter_map(|colour| {
            let had = before.map_or(0, |ring| of(ring, colour));
            // Neither is negative, so their difference fits, too.
            let by = of(after, colour).saturating_sub(had);
            (by != 0).then(|| Change::Used {
                ring: after.id,
                colour: colour.clone(),
                amount: AmountChange::Add { by },
            })
        })
        .collect()
}

/// The changes of a ring when the user gives totals used so far instead of differences. They hold
/// whatever was recorded before.
#[must_use]
pub fn ring_changes_said(before: &Ring, after: &Ring) -> Vec<Change> {
    let mut changes = ring_changes(Some(before), after);
    for change in &mut changes {
        if let Change::Used { colour, amount, .. } = change {
            *amount = AmountChange::Set {
                before: before.used_of(colour),
                after: after.used_of(colour),
            };
        }
    }
    changes
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::model::ring::MOST_USED_CM;
    use crate::stash::event::{Act, Event};
    use crate::stash::testing::{at, ring_with_key};

    #[test]
    fn a_long_key_is_not_written_again_for_every_strand_used() {
        let (mut state, ring) = ring_with_key("Robin", 40);
        let before = state.clone();
        let mut after = ring.clone();
        let colour = after.key[7].threads()[0].colour.clone();
        after.used.insert(colour.clone(), 100);
        after.went_out.push(CardId(1));
        let changes = ring_changes(Some(&ring), &after);
        let used = Change::Used {
            ring: ring.id,
            colour,
            amount: AmountChange::Add { by: 100 },
        };
        assert_eq!(changes[1..], [used]);
        let event = Event {
            act: Act::Progress { ring: ring.id },
            changes,
        };
        assert!(serde_json::to_string(&event).unwrap().len() < 300);
        state.apply(&event).unwrap();
        assert_eq!(state.ring(ring.id), Some(&after));
        let back = Event {
            act: Act::Progress { ring: ring.id },
            changes: crate::stash::event::inverse(&event.changes),
        };
        state.apply(&back).unwrap();
        assert_eq!(state, before);
        assert_eq!(ring_changes(Some(&ring), &ring), []);
    }

    #[test]
    fn the_amount_used_stays_within_bounds() {
        let (mut state, ring) = ring_with_key("Robin", 1);
        let colour = ring.key[0].threads()[0].colour.clone();
        let mut use_by = |by: i64| {
            let event = Event {
                act: Act::Progress { ring: ring.id },
                changes: vec![Change::Used {
                    ring: ring.id,
                    colour: colour.clone(),
                    amount: AmountChange::Add { by },
                }],
            };
            let before = state.clone();
            let fits = state.apply(&event).is_ok();
            let after = state.ring(ring.id).unwrap().used.clone();
            if fits {
                let back = Event {
                    changes: crate::stash::event::inverse(&event.changes),
                    ..event.clone()
                };
                state.apply(&back).unwrap();
                assert_eq!(state, before);
                state.apply(&event).unwrap();
            } else {
                assert_eq!(state, before);
            }
            (fits, after.values().copied().collect::<Vec<u64>>())
        };
        assert_eq!(use_by(-1), (false, vec![]));
        assert_eq!(use_by(i64::MIN), (false, vec![]));
        assert_eq!(use_by(i64::MAX), (true, vec![MOST_USED_CM]));
        assert_eq!(use_by(1), (false, vec![MOST_USED_CM]));
        assert_eq!(use_by(2 - i64::MAX), (true, vec![2]));
        assert_eq!(use_by(-3), (false, vec![2]));
        // A colour with nothing used isn't listed.
        assert_eq!(use_by(-2), (true, vec![]));
    }

    #[test]
    fn a_ring_written_with_its_key_does_not_fit() {
        let (mut state, ring) = ring_with_key("Robin", 2);
        let mut after = ring.clone();
        after.opened = at(99);
        for (before, after) in [
            (Some(ring.clone()), Some(without_lists(&after))),
            (Some(without_lists(&ring)), Some(after.clone())),
            (Some(without_lists(&ring)), None),
        ] {
            let event = Event {
                act: Act::Progress { ring: ring.id },
                changes: vec![Change::Ring { before, after }],
            };
            let was = state.clone();
            assert!(state.apply(&event).is_err());
            assert_eq!(state, was);
        }
    }

    #[test]
    fn only_differences_in_a_list_are_written() {
        let (state, ring) = ring_with_key("Robin", 2);
        let list = |ids: &[u64]| -> Vec<CardId> { ids.iter().map(|&id| CardId(id)).collect() };
        let places = |told: &[(u32, u64)]| -> Vec<(u32, CardId)> {
            told.iter().map(|&(at, id)| (at, CardId(id))).collect()
        };
        for (old, new, gone, come) in [
            (&[1, 2, 3][..], &[1, 2, 3, 4][..], &[][..], &[(3, 4)][..]),
            (&[1, 2, 3], &[1, 3], &[(1, 2)], &[]),
            (&[1, 2, 3], &[2, 3, 1], &[(0, 1)], &[(2, 1)]),
            (
                &[1, 2],
                &[3, 1, 2],
                &[(0, 1), (1, 2)],
                &[(0, 3), (1, 1), (2, 2)],
            ),
            (&[], &[7], &[], &[(0, 7)]),
        ] {
            let of = |went_out| Ring {
                went_out,
                ..ring.clone()
            };
            let (before, after) = (of(list(old)), of(list(new)));
            let wanted = Change::WentOut {
                ring: ring.id,
                before: places(gone),
                after: places(come),
            };
            assert_eq!(ring_changes(Some(&before), &after), [wanted]);
            let mut now = state.clone();
            for (from, to) in [(&ring, &before), (&before, &after), (&after, &ring)] {
                let event = Event {
                    act: Act::Progress { ring: ring.id },
                    changes: ring_changes(Some(from), to),
                };
                now.apply(&event).unwrap();
                assert_eq!(now.ring(ring.id), Some(to));
            }
        }
        assert_eq!(went_out(RingId(1), &list(&[1, 2]), &list(&[1, 2])), None);
    }

    #[test]
    fn a_list_is_not_edited_at_impossible_positions() {
        let list = [CardId(1), CardId(2)];
        let told = |at, id| [(at, CardId(id))];
        assert_eq!(edited(&list, &told(0, 2), &[]), None);
        assert_eq!(edited(&list, &told(2, 2), &[]), None);
        assert_eq!(edited(&list, &[], &told(3, 7)), None);
        assert_eq!(edited(&list, &[], &told(u32::MAX, 7)), None);
        let twice = [(1, CardId(7)), (1, CardId(8))];
        assert_eq!(edited(&list, &[], &twice), None);
        assert_eq!(edited(&list, &[], &told(0, 2)), None);
        let turned = [(1, CardId(2)), (0, CardId(1))];
        assert_eq!(edited(&list, &turned, &[]), None);
    }

    /// Some of eight cards in any order.
    fn some_cards() -> impl Strategy<Value = Vec<CardId>> {
        let all: Vec<CardId> = (1..=8).map(CardId).collect();
        (Just(all).prop_shuffle(), 0..=8usize).prop_map(|(all, many)| all[..many].to_vec())
    }

    proptest! {
        #[test]
        fn an_edited_list_equals_the_other_list_and_back(
            old in some_cards(), new in some_cards()
        ) {
            match went_out(RingId(1), &old, &new) {
                Some(Change::WentOut { before, after, .. }) => {
                    prop_assert_eq!(edited(&old, &before, &after), Some(new.clone()));
                    prop_assert_eq!(edited(&new, &after, &before), Some(old));
                }
                told => prop_assert!(told.is_none() && old == new),
            }
        }
    }
}
