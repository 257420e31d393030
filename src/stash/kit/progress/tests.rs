use super::*;
use crate::stash::command::key;
use crate::stash::kit::testing::{give_key, line_of, stash, take, thread, use_up};
use crate::stash::testing::apply;

/// What the lines of a key used and still need, in strands.
fn lines(state: &State, project: &str) -> Vec<(u32, u32)> {
    let ring = state.need_ring(project).unwrap();
    needs(state, ring)
        .into_iter()
        .flatten()
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
    let mut ring = state.need_ring("Fox").unwrap().clone();
    let colour = ring.key[0].threads()[0].colour.clone();
    let mut use_cm = |cm| {
        add_used(&mut ring, &colour, cm);
        needs(&state, &ring)[0][0]
    };
    // Three strands of half a metre are one whole strand of a metre, and some.
    let line = use_cm(3 * 50);
    assert_eq!((line.used, line.left), (Strands(1), Some(Strands(9))));
    // A fourth makes the second whole; nothing was lost in between.
    let line = use_cm(50);
    assert_eq!((line.used, line.left), (Strands(2), Some(Strands(8))));
    assert!(use_cm(u64::MAX).is_done());
    assert_eq!(ring.used_of(&colour), MOST_USED_CM);
}

#[test]
fn what_was_used_before_a_colour_was_replaced_still_counts() {
    let mut state = stash(&[("1", 48, 0), ("2", 48, 0)]);
    take(&mut state, "Fox", &["1", "2"]);
    give_key(&mut state, "Fox", &[("1", 10)]);
    use_up(&mut state, "1", 4);
    let with = thread(&state, "2", 0).colour;
    let event = key::stitch_with(state.need_ring("Fox").unwrap(), 0, 0, Some(with));
    apply(&mut state, &event.unwrap().unwrap());
    use_up(&mut state, "2", 3);
    assert_eq!(lines(&state, "Fox"), [(7, 3)]);
    // Where another line is stitched with the chart's colour, it was used for that.
    let event = key::put(
        state.need_ring("Fox").unwrap(),
        None,
        line_of(&[thread(&state, "1", 0)], 400),
    );
    apply(&mut state, &event.unwrap().unwrap());
    assert_eq!(lines(&state, "Fox")[0], (3, 7));
    assert_eq!(lines(&state, "Fox")[1].0, 4);
}

#[test]
fn thread_of_no_colour_of_the_key_counts_for_no_project() {
    let mut state = stash(&[("1", 48, 0), ("2", 48, 0)]);
    take(&mut state, "Fox", &["1", "2"]);
    give_key(&mut state, "Fox", &[("1", 10)]);
    use_up(&mut state, "2", 4);
    assert!(state.need_ring("Fox").unwrap().used.is_empty());
}
