//! The progress of a project: what each thread of its chart key needs, and what was used of it.
//!
//! The amounts used are kept by colour, as a length of single strand, so they hold whatever length
//! the cards are cut to. They are divided among the threads of the key that are stitched in the
//! colour: the first gets as much as it needs, then the next, and the last gets the rest. If the
//! project continues with a substitute for a chart colour, what was used of the chart's colour
//! counts first, unless another thread is stitched in that.
//!
//! Used and needed amounts are compared in whole strands of the length that the need is counted in.
//! The need includes waste and margin, and the amount used includes waste.

use std::collections::BTreeMap;

use crate::engine::need::{Cut, Need, Stitches, need};
use crate::model::assumptions::{Assumptions, Way};
use crate::model::card::USUAL_CUT_CM;
use crate::model::range::PutUp;
use crate::model::ring::{ColourRef, KeyLine, KeyThread, MOST_USED_CM, Ring};
use crate::model::thread::Strands;
use crate::stash::state::State;

/// The need of a thread in a line, and how much of that was used.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ThreadNeed {
    /// What all stitches of the line need of it; `None` if the key has no counts.
    pub need: Option<Need>,
    /// The length of the strands that the need is counted in, in centimetres; never 0.
    pub cut_cm: u16,
    /// The kind and put-up of their thread.
    pub put_up: PutUp,
    /// How its crosses are worked: one by one if the colour changes along the thread.
    pub way: Way,
    /// What can be stitched with one of them, in thousandths of a millimetre; 0 if nothing can.
    pub of_a_strand_um: u64,
    /// Whole strands of that length that were used.
    pub used: Strands,
    /// What is still needed; `None` if the key counts no stitches. 0 if more was used than needed.
    pub left: Option<Strands>,
}

/// Strands of a thread in the needle. If the key doesn't say, there is one of a thread that isn't
/// divisible. Any other thread of a blend gets an equal part of the project's strands, rounded up.
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

/// Strands of a thread in the needle for backstitch, from the key; 1 for a thread that isn't
/// divisible, and 0 to use the project's number.
#[must_use]
pub fn backstitch_strands(line: &KeyLine, put_up: PutUp) -> u8 {
    match line.stitches().backstitch_strands {
        0 if put_up.in_length() == 1 => 1,
        said => said,
    }
}

/// The stitches of a line, from the point of view of one of its threads.
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
    /// Computes the need of a thread in a line, in lengths of the colour's card. Without a card, or
    /// if its strands are too short to stitch with or longer than a skein, in lengths of a skein
    /// with the usual cut. Nothing counts as used. O(log cards).
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

    /// Whether everything it needs was used.
    #[must_use]
    pub fn is_done(&self) -> bool {
        self.left == Some(Strands(0)) && self.used > Strands(0)
    }

    /// A number of whole strands, in centimetres.
    #[must_use]
    pub fn in_cm(&self, strands: Strands) -> u64 {
        u64::from(strands.0) * u64::from(self.cut_cm)
    }
}

/// The chart's colour of a thread with a substitute, if no thread of the key is stitched in it.
/// Thread used of that colour was used for this thread.
#[must_use]
pub fn replaced<'a>(ring: &Ring, thread: &'a KeyThread) -> Option<&'a ColourRef> {
    let is_free = |colour: &&ColourRef| !ring.is_stitched_in(colour);
    thread
        .stitched_with
        .as_ref()
        .map(|_| &thread.colour)
        .filter(is_free)
}

/// The put-up that the skeins of a project are counted by: that of its first colour with divisible
/// thread, else the usual one.
#[must_use]
pub fn usual_put_up(state: &State, ring: &Ring) -> PutUp {
    let threads = ring.threads().map(|of| state.colour_put_up(of.stitched()));
    let mut divided = threads.filter(|put_up| put_up.in_length() > 1);
    divided.next().unwrap_or_default()
}

/// The needs of all threads in a ring's key and what was used, line by line; empty for a notion.
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

/// Sets how much of a colour a ring used in all, saturating at the largest amount.
pub fn set_used(ring: &mut Ring, colour: &ColourRef, used_cm: u64) {
    match used_cm.min(MOST_USED_CM) {
        0 => {
            ring.used.remove(colour);
        }
        used_cm => *ring.used.entry(colour.clone()).or_default() = used_cm,
    }
}

/// Adds thread to what a ring used of a colour, if its key is stitched in it. O(threads).
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
    fn used_thread_goes_to_lines_in_order_and_the_last_takes_the_rest() {
        let mut state = stash(&[("1", 48, 0), ("2", 48, 0)]);
        take(&mut state, "Fox", &["1"]);
        give_key(
            &mut state,
            "Fox",
            &[("1", 10), ("2", 5), ("1", 0), ("1", 8)],
        );
        use_up(&mut state, "1", 7);
        // It isn't on a ring, so its use is unknown.
        use_up(&mut state, "2", 3);
        assert_eq!(lines(&state, "Fox"), [(7, 3), (0, 5), (0, 0), (0, 8)]);
        use_up(&mut state, "1", 5);
        assert_eq!(lines(&state, "Fox"), [(10, 0), (0, 5), (0, 0), (2, 6)]);
        use_up(&mut state, "1", 9);
        assert_eq!(lines(&state, "Fox"), [(10, 0), (0, 5), (0, 0), (11, 0)]);
    }

    #[test]
    fn a_new_key_keeps_the_amounts_used_of_its_colours() {
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
    fn strands_of_another_length_count_by_length() {
        let mut state = stash(&[("1", 48, 0)]);
        take(&mut state, "Fox", &["1"]);
        give_key(&mut state, "Fox", &[("1", 10)]);
        let mut ring = state.need_ring("Fox").unwrap().clone();
        let colour = ring.key[0].threads()[0].colour.clone();
        let mut use_cm = |cm| {
            add_used(&mut ring, &colour, cm);
            needs(&state, &ring)[0][0]
        };
        // Three strands of half a metre are one whole strand of a metre and a rest.
        let line = use_cm(3 * 50);
        assert_eq!((line.used, line.left), (Strands(1), Some(Strands(9))));
        // A fourth completes the second strand, so nothing was lost in between.
        let line = use_cm(50);
        assert_eq!((line.used, line.left), (Strands(2), Some(Strands(8))));
        assert!(use_cm(u64::MAX).is_done());
        assert_eq!(ring.used_of(&colour), MOST_USED_CM);
    }

    #[test]
    fn thread_used_before_a_substitution_still_counts() {
        let mut state = stash(&[("1", 48, 0), ("2", 48, 0)]);
        take(&mut state, "Fox", &["1", "2"]);
        give_key(&mut state, "Fox", &[("1", 10)]);
        use_up(&mut state, "1", 4);
        let with = thread(&state, "2", 0).colour;
        let event = key::stitch_with(state.need_ring("Fox").unwrap(), 0, 0, Some(with));
        apply(&mut state, &event.unwrap().unwrap());
        use_up(&mut state, "2", 3);
        assert_eq!(lines(&state, "Fox"), [(7, 3)]);
        // If another line is stitched in the chart's colour, it was used for that.
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
    fn thread_of_a_colour_not_in_the_key_counts_for_no_project() {
        let mut state = stash(&[("1", 48, 0), ("2", 48, 0)]);
        take(&mut state, "Fox", &["1", "2"]);
        give_key(&mut state, "Fox", &[("1", 10)]);
        use_up(&mut state, "2", 4);
        assert!(state.need_ring("Fox").unwrap().used.is_empty());
    }
}
