use super::*;
use crate::stash::kit::testing::{give_key, stash, take, use_up};
use crate::stash::testing::id;

/// What the lines of a key used and still need, in strands.
fn lines(state: &State, project: &str) -> Vec<(u32, u32)> {
    let ring = state.need_ring(project).unwrap();
    let assumed = ring.fabric.unwrap_or_default();
    let lines = ring.key.iter();
    lines
        .map(|entry| LineNeed::of(state, &assumed, entry))
        .map(|line| (line.used.0, line.left.map_or(0, |left| left.0)))
        .collect()
}

#[test]
fn what_is_used_goes_to_the_first_line_that_needs_some_and_the_last_takes_the_rest() {
    let mut state = stash(&[("1", 48, 0), ("2", 48, 0)]);
    take(&mut state, "Fox", &["1"]);
    give_key(
        &mut state,
        "Fox",
        &[("1", 10), ("2", 5), ("1", 0), ("1", 8)],
    );
    use_up(&mut state, "1", 7);
    // Not on a ring, so nobody knows what for.
    use_up(&mut state, "2", 3);
    assert_eq!(lines(&state, "Fox"), [(7, 3), (0, 5), (0, 0), (0, 8)]);
    use_up(&mut state, "1", 5);
    assert_eq!(lines(&state, "Fox"), [(10, 0), (0, 5), (0, 0), (2, 6)]);
    use_up(&mut state, "1", 9);
    assert_eq!(lines(&state, "Fox"), [(10, 0), (0, 5), (0, 0), (11, 0)]);
}

#[test]
fn a_new_key_keeps_what_was_used_of_its_colours() {
    let mut state = stash(&[("1", 48, 0), ("2", 48, 0)]);
    take(&mut state, "Fox", &["1", "2"]);
    give_key(&mut state, "Fox", &[("1", 10), ("2", 5), ("1", 8)]);
    use_up(&mut state, "1", 14);
    use_up(&mut state, "2", 2);
    let before = state.clone();
    give_key(&mut state, "Fox", &[("1", 10), ("2", 5), ("1", 8)]);
    assert_eq!(state, before);
    give_key(
        &mut state,
        "Fox",
        &[("1", 12), ("3", 5), ("1", 1), ("1", 6)],
    );
    assert_eq!(lines(&state, "Fox"), [(12, 0), (0, 5), (1, 0), (1, 5)]);
}

#[test]
fn strands_of_another_length_count_for_their_length() {
    let mut state = stash(&[("1", 48, 0)]);
    take(&mut state, "Fox", &["1"]);
    give_key(&mut state, "Fox", &[("1", 10)]);
    let number = state.card(id(&state, "1")).unwrap().card.number.clone();
    let mut ring = state.need_ring("Fox").unwrap().clone();
    let range = ring.key[0].range;
    // Three strands of half a metre are one whole strand of a metre, and some.
    add_used(&state, &mut ring, range, &number, 3 * 50);
    let line = LineNeed::of(&state, &Assumptions::default(), &ring.key[0]);
    assert_eq!((line.used, line.left), (Strands(1), Some(Strands(9))));
    // A fourth makes the second whole; nothing was lost in between.
    add_used(&state, &mut ring, range, &number, 50);
    let line = LineNeed::of(&state, &Assumptions::default(), &ring.key[0]);
    assert_eq!((line.used, line.left), (Strands(2), Some(Strands(8))));
    add_used(&state, &mut ring, range, &number, u64::MAX);
    let line = LineNeed::of(&state, &Assumptions::default(), &ring.key[0]);
    assert!(line.is_done());
}
