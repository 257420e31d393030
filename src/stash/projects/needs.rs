//! How far a project has come: what each thread of its key needs, and what of it was used.
//!
//! What was used is kept by colour, as a length of single strand, so it holds whatever the cards are
//! cut to. It is shared out among the threads of the key that are stitched in the colour: to the
//! first as much as it needs, then to the next; the last takes the rest. Where the project goes on
//! with another colour than the chart says, what was used of the chart's colour counts first, unless
//! another thread is stitched in that.
//!
//! It is compared with the need in whole strands of the length in which the need is counted; waste
//! and margin are in the need, and waste is in what was used.

use std::collections::BTreeMap;

use crate::engine::need::{Cut, Need, Stitches, need};
use crate::model::assumptions::{Assumptions, Way};
use crate::model::card::USUAL_CUT_CM;
use crate::model::range::PutUp;
use crate::model::ring::{ColourRef, KeyLine, KeyThread, MOST_USED_CM, Ring};
use crate::model::thread::Strands;
use crate::stash::state::State;

/// What a thread of a line needs, and how much of that is behind it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ThreadNeed {
    /// What all stitches of the line need of it; `None` where the key counts none.
    pub need: Option<Need>,
    /// How long the strands are in which the need is counted, in centimetres; never 0.
    pub cut_cm: u16,
    /// What kind of thread they are of.
    pub put_up: PutUp,
    /// How its crosses are worked: one by one where the colour changes along the thread.
    pub way: Way,
    /// What one of them is good for, in thousandths of a millimetre; 0 where nothing can be
    /// stitched of it.
    pub of_a_strand_um: u64,
    /// Whole strands of that length that were used.
    pub used: Strands,
    /// What is still needed; `None` where the key counts no stitches. Never below 0: more than the
    /// need may be used.
    pub left: Option<Strands>,
}

/// Strands of a thread in the needle. Where the key does not say, of a thread that isn't divided there
/// is one; any other thread of a blend is an equal part of what the project has in the needle, rounded
/// up.
#[must_use]
pub fn strands_in_needle(
    assumed: &Assumptions,
    line: &KeyLine,
    thread: &KeyThread,
    put_up: PutUp,
) -> u8 {
    if thread.strands > 0 {
        return thread.strands;
    }
    if put_up.in_length() == 1 {
        return 1;
    }
    let threads = u8::try_from(line.threads().len()).unwrap_or(u8::MAX).max(1);
    assumed.strands.div_ceil(threads)
}

/// Strands of a thread in the needle for backstitch, as the key says; 1 of a thread that isn't divided,
/// and 0 for what is said for the project.
#[must_use]
pub fn backstitch_strands(line: &KeyLine, put_up: PutUp) -> u8 {
    match line.stitches().backstitch_strands {
        0 if put_up.in_length() == 1 => 1,
        said => said,
    }
}

/// The stitches of a line, as one of its threads goes through them.
pub(super) fn stitches(
    assumed: &Assumptions,
    line: &KeyLine,
    thread: &KeyThread,
    put_up: PutUp,
) -> Stitches {
    let counted = line.stitches();
    Stitches {
        full: counted.full,
        half: counted.half,
        quarter: counted.quarter,
        three_quarter: counted.three_quarter,
        backstitch: counted.backstitch,
        french_knots: counted.french_knots,
        strands: strands_in_needle(assumed, line, thread, put_up),
        backstitch_strands: backstitch_strands(line, put_up),
    }
}

impl ThreadNeed {
    /// Works a thread of a line out, in lengths of the colour's card, or of a skein cut as usual
    /// where there is none, or its strands are too short to stitch with or longer than a skein. Nothing
    /// is used. O(log cards).
    #[must_use]
    pub fn of(state: &State, assumed: &Assumptions, line: &KeyLine, thread: &KeyThread) -> Self {
        let colour = thread.stitched();
        let put_up = state.colour_put_up(colour);
        let own = state.cards_of(colour).next().map(|kept| kept.card.cut_cm);
        let own = own.filter(|cm| put_up.lengths_in_skein(*cm) > 0);
        let way = if state.colour_is_variegated(colour) {
            Way::OneByOne
        } else {
            assumed.way
        };
        let assumed = &Assumptions { way, ..*assumed };
        let (cut_cm, cut) = [own, Some(USUAL_CUT_CM)]
            .into_iter()
            .flatten()
            .find_map(|cm| Some((cm, Cut::of(assumed, cm)?)))
            .map_or((USUAL_CUT_CM, None), |(cm, cut)| (cm, Some(cut)));
        let stitches = stitches(assumed, line, thread, put_up);
        let need = need(&stitches, assumed, cut_cm).filter(|_| !stitches.is_none());
        Self {
            need,
            cut_cm,
            put_up,
            way,
            of_a_strand_um: cut.map_or(0, Cut::of_a_strand_um),
            used: Strands(0),
            left: need.map(|need| need.strands),
        }
    }

    fn with_used(self, used_cm: u64) -> Self {
        let used = used_cm / u64::from(self.cut_cm.max(1));
        let used = Strands(u32::try_from(used).unwrap_or(u32::MAX));
        let left = |need: Need| Strands(need.strands.0.saturating_sub(used.0));
        Self {
            used,
            left: self.need.map(left),
            ..self
        }
    }

    /// Whether all that it needs was used.
    #[must_use]
    pub fn is_done(&self) -> bool {
        self.left == Some(Strands(0)) && self.used > Strands(0)
    }

    /// So many whole strands, in centimetres.
    #[must_use]
    pub fn in_cm(&self, strands: Strands) -> u64 {
        u64::from(strands.0) * u64::from(self.cut_cm)
    }
}

/// The chart's colour of a thread that is stitched with another, where no thread of the key is
/// stitched in it: what was used of it was used for this one.
#[must_use]
pub fn replaced<'a>(ring: &Ring, thread: &'a KeyThread) -> Option<&'a ColourRef> {
    let is_free = |colour: &&ColourRef| !ring.is_stitched_in(colour);
    thread
        .stitched_with
        .as_ref()
        .map(|_| &thread.colour)
        .filter(is_free)
}

/// How the thread is sold that the skeins of a project are counted by: that of its first colour whose thread
/// is divided, else the usual.
#[must_use]
pub fn usual_put_up(state: &State, ring: &Ring) -> PutUp {
    let threads = ring.threads().map(|of| state.colour_put_up(of.stitched()));
    let mut divided = threads.filter(|put_up| put_up.in_length() > 1);
    divided.next().unwrap_or_default()
}

/// What the threads of a ring's key need and used, line by line; nothing for a notion.
/// O(threads² + threads · log cards).
#[must_use]
pub fn needs(state: &State, ring: &Ring) -> Vec<Vec<ThreadNeed>> {
    let assumed = ring.fabric.unwrap_or_default();
    let mut pools: BTreeMap<&ColourRef, u64> =
        ring.used.iter().map(|(colour, &cm)| (colour, cm)).collect();
    let mut used: Vec<Vec<(ThreadNeed, u64)>> = Vec::with_capacity(ring.key.len());
    let mut last: BTreeMap<&ColourRef, (usize, usize)> = BTreeMap::new();
    for (at, line) in ring.key.iter().enumerate() {
        let mut of_line = Vec::with_capacity(line.threads().len());
        for (which, thread) in line.threads().iter().enumerate() {
            let of = ThreadNeed::of(state, &assumed, line, thread);
            let needed_cm = of.need.map_or(0, |need| of.in_cm(need.strands));
            let mut taken = 0;
            for colour in replaced(ring, thread)
                .into_iter()
                .chain([thread.stitched()])
            {
                if let Some(pool) = pools.get_mut(colour) {
                    let takes = (*pool).min(needed_cm - taken);
                    *pool -= takes;
                    taken += takes;
                }
            }
            last.insert(thread.stitched(), (at, which));
            of_line.push((of, taken));
        }
        used.push(of_line);
    }
    for (colour, (at, which)) in last {
        let rest = pools.get(colour).copied().unwrap_or(0);
        if let Some((_, taken)) = used.get_mut(at).and_then(|line| line.get_mut(which)) {
            *taken = taken.saturating_add(rest);
        }
    }
    let lines = used.into_iter();
    lines
        .map(|line| {
            let threads = line.into_iter();
            threads.map(|(of, taken)| of.with_used(taken)).collect()
        })
        .collect()
}

/// Says how much of a colour a ring used in all; more than the most that can be kept is the most.
pub fn set_used(ring: &mut Ring, colour: &ColourRef, used_cm: u64) {
    match used_cm.min(MOST_USED_CM) {
        0 => {
            ring.used.remove(colour);
        }
        used_cm => *ring.used.entry(colour.clone()).or_default() = used_cm,
    }
}

/// Adds thread of a colour to what a ring used of it, where its key is stitched in the colour.
/// O(threads).
pub fn add_used(ring: &mut Ring, colour: &ColourRef, used_cm: u64) {
    if ring.is_stitched_in(colour) {
        let sum = ring.used_of(colour).saturating_add(used_cm);
        set_used(ring, colour, sum);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stash::command::key;
    use crate::stash::testing::apply;
    use crate::stash::testing::projects::{give_key, line_of, stash, take, thread, use_up};

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
}
