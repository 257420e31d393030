//! How far a project has come: what each line of its key needs, and what of it was used.
//!
//! What was used is kept as a length of single strand, so it holds whatever the cards are cut to.
//! It is compared with the need in whole strands of the length in which the need is counted; waste
//! and margin are in the need, and waste is in what was used.

use crate::engine::need::{Cut, Need, Stitches, need};
use crate::model::assumptions::{Assumptions, Way};
use crate::model::card::USUAL_CUT_CM;
use crate::model::ids::RangeId;
use crate::model::number::Number;
use crate::model::range::PutUp;
use crate::model::ring::{KeyEntry, Ring};
use crate::model::thread::Strands;
use crate::stash::state::State;

/// What a line of a key needs, and how much of that is behind it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineNeed {
    /// What all its stitches need; `None` where the key counts none.
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

/// The stitches of a line. Of a thread that isn't divided, one strand is in the needle where the key does
/// not say.
pub(crate) fn stitches(entry: &KeyEntry, put_up: PutUp) -> Stitches {
    let whole = |said: u8| match said {
        0 if put_up.in_length() == 1 => 1,
        said => said,
    };
    Stitches {
        full: entry.stitches,
        half: entry.half,
        quarter: entry.quarter,
        three_quarter: entry.three_quarter,
        backstitch: entry.backstitch,
        french_knots: entry.french_knots,
        strands: whole(entry.strands),
        backstitch_strands: whole(entry.backstitch_strands),
    }
}

impl LineNeed {
    /// Works a line out, in lengths of the colour's card, or of a skein cut as usual where there is
    /// none, or its strands are too short to stitch with or longer than a skein. O(log cards).
    #[must_use]
    pub fn of(state: &State, assumed: &Assumptions, entry: &KeyEntry) -> Self {
        let put_up = state.entry_put_up(entry);
        let own = state.cards_of(entry).next().map(|kept| kept.card.cut_cm);
        let own = own.filter(|cm| put_up.lengths_in_skein(*cm) > 0);
        let way = if state.entry_is_variegated(entry) {
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
        let stitches = stitches(entry, put_up);
        let need = need(&stitches, assumed, cut_cm).filter(|_| !stitches.is_none());
        let used = entry.used_cm / u64::from(cut_cm);
        let used = Strands(u32::try_from(used).unwrap_or(u32::MAX));
        Self {
            need,
            cut_cm,
            put_up,
            way,
            of_a_strand_um: cut.map_or(0, Cut::of_a_strand_um),
            used,
            left: need.map(|need| Strands(need.strands.0.saturating_sub(used.0))),
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

/// Adds thread of a colour to what its lines in the key of a ring used: to the first line that still
/// needs some, as much as it needs, then to the next; the last one takes the rest. Where the key has
/// not the colour nothing is added. O(lines · log cards).
pub fn add_used(state: &State, ring: &mut Ring, range: RangeId, number: &Number, used_cm: u64) {
    let assumed = ring.fabric.unwrap_or_default();
    let mut rest = used_cm;
    let mut last = None;
    for entry in ring.key.iter_mut().filter(|e| e.is_of(range, number)) {
        let line = LineNeed::of(state, &assumed, entry);
        let needed_cm = line.need.map_or(0, |need| line.in_cm(need.strands));
        let takes = rest.min(needed_cm.saturating_sub(entry.used_cm));
        entry.used_cm += takes;
        rest -= takes;
        last = Some(entry);
    }
    if let Some(entry) = last {
        entry.used_cm = entry.used_cm.saturating_add(rest);
    }
}

/// Lets the new key of a ring know what was used under the old one, colour by colour; what was used
/// of a colour that the new key has not is forgotten. O(lines² · log cards).
pub fn carry_used(state: &State, old: &[KeyEntry], ring: &mut Ring) {
    let unused = |entry: &KeyEntry| KeyEntry {
        used_cm: 0,
        ..entry.clone()
    };
    if old.iter().map(unused).eq(ring.key.iter().cloned()) {
        ring.key = old.to_vec();
        return;
    }
    for entry in old.iter().filter(|entry| entry.used_cm > 0) {
        add_used(state, ring, entry.range, &entry.number, entry.used_cm);
    }
}

#[cfg(test)]
mod tests;
