//! What changed about a ring, in as few words as may be: a key is long and seldom changes.

use super::Change;
use crate::model::ring::{KeyEntry, Ring};

/// A ring as [`Change::Ring`] tells of it: without its key, which has changes of its own.
#[must_use]
pub fn without_key(ring: &Ring) -> Ring {
    Ring {
        key: Vec::new(),
        project: ring.project.clone(),
        went_out: ring.went_out.clone(),
        ..*ring
    }
}

/// The changes that make one ring of another, or a new one; none where nothing changed. The key comes
/// after the ring it belongs to. O(cards that went out + lines of the key).
#[must_use]
pub fn ring_changes(before: Option<&Ring>, after: &Ring) -> Vec<Change> {
    let (old, new) = (before.map(without_key), without_key(after));
    let mut changes = Vec::new();
    if old.as_ref() != Some(&new) {
        changes.push(Change::Ring {
            before: old,
            after: Some(new),
        });
    }
    let old_key = before.map_or(&[][..], |ring| &ring.key);
    if old_key == after.key.as_slice() {
        return changes;
    }
    let unused = |entry: &KeyEntry| KeyEntry {
        used_cm: 0,
        ..entry.clone()
    };
    if old_key.iter().map(unused).eq(after.key.iter().map(unused)) {
        let lines = (0..).zip(old_key.iter().zip(&after.key));
        let used = lines.filter(|(_, (old, new))| old.used_cm != new.used_cm);
        changes.extend(used.map(|(line, (old, new))| Change::Used {
            ring: after.id,
            line,
            before: old.used_cm,
            after: new.used_cm,
        }));
    } else {
        changes.push(Change::Key {
            ring: after.id,
            before: old_key.to_vec(),
            after: after.key.clone(),
        });
    }
    changes
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stash::event::{Act, Event};
    use crate::stash::testing::{at, ring_with_key};

    #[test]
    fn a_long_key_is_written_once_and_not_for_every_strand() {
        let (mut state, ring) = ring_with_key("Robin", 40);
        let before = state.clone();
        let mut after = ring.clone();
        after.key[7].used_cm = 100;
        after.went_out.push(crate::model::ids::CardId(1));
        let changes = ring_changes(Some(&ring), &after);
        let [Change::Ring { .. }, Change::Used { line: 7, .. }] = &changes[..] else {
            panic!("{changes:?}")
        };
        let event = Event {
            act: Act::Progress { ring: ring.id },
            changes,
        };
        assert!(serde_json::to_string(&event).unwrap().len() < 500);
        state.apply(&event).unwrap();
        assert_eq!(state.ring(ring.id), Some(&after));
        let back = Event {
            act: Act::Progress { ring: ring.id },
            changes: crate::stash::change::turned(&event.changes),
        };
        state.apply(&back).unwrap();
        assert_eq!(state, before);
        assert_eq!(ring_changes(Some(&ring), &ring), []);
    }

    #[test]
    fn a_ring_told_with_its_key_does_not_fit() {
        let (mut state, ring) = ring_with_key("Robin", 2);
        let mut after = ring.clone();
        after.opened = at(99);
        for (before, after) in [
            (Some(ring.clone()), Some(without_key(&after))),
            (Some(without_key(&ring)), Some(after.clone())),
            (Some(without_key(&ring)), None),
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
}
