//! Colours without a card that are sure to come.

use std::collections::BTreeMap;

use crate::model::colour::Srgb;
use crate::model::ring::ColourRef;
use crate::stash::state::State;

/// The colours without a card that an open project is stitched with or that are on the want list,
/// each with its colour on screen, if known. A chart key may contain numbers that the range list
/// lacks. O((threads + shades) · log cards).
#[must_use]
pub fn on_the_way(state: &State) -> BTreeMap<ColourRef, Option<Srgb>> {
    let open = state.rings().filter(|ring| !ring.is_closed());
    let needed = open.flat_map(|ring| ring.threads());
    let needed = needed.map(|thread| (thread.stitched().clone(), state.thread_colour(thread)));
    let listed = |colour: &ColourRef| {
        let range = state.range(colour.range)?;
        range.shades.get(&colour.number)?.colour
    };
    let wanted = state.want_list().map(|(colour, _)| {
        let looks = listed(&colour);
        (colour, looks)
    });
    let mut coming = BTreeMap::new();
    for (colour, looks) in wanted.chain(needed) {
        if state.cards_of(&colour).next().is_none() {
            let known = coming.entry(colour).or_insert(None);
            *known = known.or(looks);
        }
    }
    coming
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stash::command::{key, range, ring};
    use crate::stash::testing::projects::{give_key, line_of, notion, stash, take, thread};
    use crate::stash::testing::{apply, at};

    fn numbers(state: &State) -> Vec<String> {
        let coming = on_the_way(state).into_keys();
        coming.map(|colour| colour.number.to_string()).collect()
    }

    #[test]
    fn colours_without_a_card_in_open_projects_or_wanted_are_on_the_way() {
        let mut state = stash(&[("1", 48, 0)]);
        assert_eq!(numbers(&state), [""; 0]);
        take(&mut state, "Fox", &["1"]);
        give_key(&mut state, "Fox", &[("1", 5), ("7", 5), ("4", 0)]);
        assert_eq!(numbers(&state), ["4", "7"]);
        // Each thread of a blend, but no notions.
        let blend = line_of(&[thread(&state, "9", 1), thread(&state, "2", 1)], 40);
        for line in [blend, notion("shell button", 3)] {
            let event = key::put(state.need_ring("Fox").unwrap(), None, line).unwrap();
            apply(&mut state, &event.unwrap());
        }
        assert_eq!(numbers(&state), ["2", "4", "7", "9"]);
        // A colour with a substitute isn't on the way; the substitute is, if it has no card.
        for (line, with, found) in [
            (1, "1", &["2", "4", "9"][..]),
            (2, "5", &["2", "5", "9"][..]),
        ] {
            let with = thread(&state, with, 0).colour;
            let event = key::stitch_with(state.need_ring("Fox").unwrap(), line, 0, Some(with));
            apply(&mut state, &event.unwrap().unwrap());
            assert_eq!(numbers(&state), found);
        }
        // A closed project needs nothing more, but the want list still counts.
        let event = range::want(&state, &["8".to_owned(), "1".to_owned()], 1).unwrap();
        apply(&mut state, &event);
        assert_eq!(numbers(&state), ["2", "5", "8", "9"]);
        let event = ring::give_back_all(&state, state.need_ring("Fox").unwrap(), at(6)).unwrap();
        apply(&mut state, &event);
        let event = ring::close(&state, state.need_ring("Fox").unwrap(), at(7)).unwrap();
        apply(&mut state, &event);
        assert_eq!(numbers(&state), ["8"]);
    }
}
