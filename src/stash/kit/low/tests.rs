use proptest::prelude::*;

use super::*;
use crate::stash::command::{ring, thread};
use crate::stash::kit::testing::{give_key, stash, take, use_up};
use crate::stash::testing::{apply, at, id};
use crate::text;

fn said(state: &State, project: &str) -> Vec<String> {
    let ring = state.need_ring(project).unwrap();
    let lines = low(state, ring);
    for line in &lines {
        assert_eq!(low_of(state, ring, line.card).as_ref(), Some(line));
    }
    lines
        .iter()
        .map(|line| text::thread::low(state, line))
        .collect()
}

fn split(state: &mut State, project: &str, name: &str, strands: u32) {
    let card = id(state, name);
    let event = thread::split(state, project, card, Strands(strands), None, "", at(1)).unwrap();
    apply(state, &event);
}

#[test]
fn what_runs_low_is_told_with_where_there_is_more() {
    let mut state = stash(&[("1", 40, 1), ("2", 10, 0), ("3", 48, 0)]);
    take(&mut state, "Robin", &["2"]);
    give_key(&mut state, "Robin", &[("1", 12), ("2", 10), ("3", 40)]);
    // Of what is not on the ring yet the kit check tells.
    assert_eq!(said(&state, "Robin"), Vec::<String>::new());
    assert_eq!(
        low_of(&state, state.need_ring("Robin").unwrap(), id(&state, "1")),
        None
    );

    split(&mut state, "Robin", "1", 14);
    assert_eq!(said(&state, "Robin"), Vec::<String>::new());
    split(&mut state, "Robin", "3", 8);
    assert_eq!(
        said(&state, "Robin"),
        [
            "3: 1 length 2 strands on the ring, about 5 lengths 2 strands more needed; 6 lengths 4 \
          strands to hang, without a hook yet"
        ]
    );
    // What is used is no longer needed, so a colour that lasts goes on to last.
    let robin = state.need_ring("Robin").unwrap().clone();
    for (name, strands) in [("1", 12), ("2", 10), ("3", 8)] {
        let event = thread::use_thread(
            &state,
            Some(&robin),
            id(&state, name),
            Strands(strands),
            None,
        )
        .unwrap();
        apply(&mut state, &event);
    }
    assert_eq!(
        said(&state, "Robin"),
        [
            "3: none left on the ring, about 5 lengths 2 strands more needed; 6 lengths 4 strands to hang, without a hook yet"
        ]
    );
    let robin = state.need_ring("Robin").unwrap();
    assert_eq!(low(&state, robin)[0].supply, LowSupply::Out);
}

#[test]
fn what_other_rings_need_themselves_is_not_offered() {
    let mut state = stash(&[("1", 30, 2)]);
    take(&mut state, "Fox", &["1"]);
    give_key(&mut state, "Fox", &[("1", 20)]);
    give_key(&mut state, "Robin", &[("1", 12)]);
    split(&mut state, "Robin", "1", 4);
    assert_eq!(
        said(&state, "Robin"),
        [
            "1: 4 strands on the ring, about 1 length 2 strands more needed; 1 length to spare on the \
          ring 'Fox', 2 skeins uncut"
        ]
    );
    let event = ring::missing(&state, &[id(&state, "1")], at(3)).unwrap();
    apply(&mut state, &event);
    assert_eq!(
        said(&state, "Robin"),
        ["1: 4 strands on the ring, about 1 length 2 strands more needed; 2 skeins uncut"]
    );
}

#[test]
fn a_colour_that_is_not_counted_runs_low_below_a_length() {
    let mut state = stash(&[("1", 6, 0), ("2", 48, 0)]);
    take(&mut state, "Robin", &["1", "2"]);
    give_key(&mut state, "Robin", &[("1", 0), ("2", 0)]);
    assert_eq!(said(&state, "Robin"), Vec::<String>::new());
    use_up(&mut state, "1", 1);
    assert_eq!(
        said(&state, "Robin"),
        [
            "1: 5 strands on the ring, and the key does not say how much is needed; there is no more \
          of it"
        ]
    );
    let robin = state.need_ring("Robin").unwrap();
    assert_eq!(low(&state, robin)[0].more(), None);
    use_up(&mut state, "1", 5);
    assert!(said(&state, "Robin")[0].starts_with("1: none left on the ring"));
}

proptest! {
    /// A colour is told of if and only if less lies on the ring than its lines still need, and what
    /// is told adds up.
    #[test]
    fn it_is_low_where_less_is_there_than_needed(
        on_ring in 0..40_u32,
        on_wall in 1..40_u32,
        needs in prop::collection::vec(1..30_u32, 1..4),
        used in 0..40_u32,
    ) {
        let mut state = stash(&[("1", on_ring + on_wall + used, 0)]);
        let key: Vec<(&str, u32)> = needs.iter().map(|&need| ("1", need)).collect();
        give_key(&mut state, "Robin", &key);
        if on_ring + used > 0 {
            split(&mut state, "Robin", "1", on_ring + used);
        }
        let robin = state.need_ring("Robin").unwrap().clone();
        if used > 0 {
            let event = thread::use_thread(&state, Some(&robin), id(&state, "1"), Strands(used), None);
            apply(&mut state, &event.unwrap());
        }
        let left = needs.iter().sum::<u32>().saturating_sub(used);
        let found = low(&state, state.need_ring("Robin").unwrap());
        let is_low = on_ring + used > 0 && on_ring < left;
        prop_assert_eq!(found.len(), usize::from(is_low));
        if let Some(line) = found.first() {
            prop_assert_eq!(line.left_on_ring, Strands(on_ring));
            prop_assert_eq!(line.still_needed, Some(Strands(left)));
            prop_assert_eq!(line.more(), Some(Strands(left - on_ring)));
            prop_assert_eq!(line.elsewhere.clone(), vec![(line.card, Strands(on_wall))]);
            let supply = if on_ring == 0 { LowSupply::Out } else { LowSupply::Low };
            prop_assert_eq!(line.supply, supply);
        }
    }
}

#[test]
fn each_colour_of_a_blend_runs_low_for_itself() {
    use crate::stash::command::key;
    use crate::stash::kit::testing::{line_of, notion, thread};
    let mut state = stash(&[("1", 48, 0), ("2", 1, 0)]);
    take(&mut state, "Robin", &["1", "2"]);
    let blend = line_of(&[thread(&state, "1", 1), thread(&state, "2", 1)], 400);
    for line in [blend, notion("bead", 9)] {
        let robin = state.need_ring("Robin").unwrap();
        let event = key::put(robin, None, line).unwrap().unwrap();
        apply(&mut state, &event);
    }
    let lines = low(&state, state.need_ring("Robin").unwrap());
    let cards: Vec<_> = lines.iter().map(|line| line.card).collect();
    assert_eq!(cards, [id(&state, "2")]);
}
