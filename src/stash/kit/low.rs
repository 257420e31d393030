//! Thread that runs low on a project's ring, told while there is time to fetch more.
//!
//! It is about the colours that lie on the ring: one that was not taken yet is the business of the
//! kit check.

use super::check::kept_on_rings;
use super::progress::{ThreadNeed, needs};
use super::share::Supply;
use super::share::at_hand;
use crate::engine::need::Cut;
use crate::model::ids::{CardId, RangeId, RingId};
use crate::model::number::Number;
use crate::model::range::PutUp;
use crate::model::ring::{ColourRef, Ring};
use crate::model::thread::Strands;
use crate::stash::state::State;

/// Where the key counts no stitches of a colour, it runs low with fewer lengths than this on the ring: of
/// stranded cotton that is six strands and so three of the usual needlefuls (common practice, no source).
pub const LEAST_LENGTHS: u32 = 1;

/// Whether the thread on a ring lasts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum LowSupply {
    /// It does.
    Enough,
    /// Some is left, but less than is still needed.
    Low,
    /// None is left, and some is still needed.
    Out,
}

impl LowSupply {
    /// How so much thread stands against a need, both in any one measure.
    #[must_use]
    pub const fn of(there: u64, needed: u64) -> Self {
        if there >= needed {
            Self::Enough
        } else if there > 0 {
            Self::Low
        } else {
            Self::Out
        }
    }
}

/// A colour that does not last on a ring.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LowLine {
    /// Which ring.
    pub ring: RingId,
    /// The range.
    pub range: RangeId,
    /// The number, as its card has it.
    pub number: Number,
    /// The whole card of it.
    pub card: CardId,
    /// What kind of thread it is.
    pub put_up: PutUp,
    /// [`LowSupply::Low`] or [`LowSupply::Out`].
    pub supply: LowSupply,
    /// What is left on the ring, on the card and its split cards.
    pub left_on_ring: Strands,
    /// What is still needed, that on the ring included; `None` where the key counts no stitches.
    pub still_needed: Option<Strands>,
    /// Where more of it is, in strands of that card: on the wall, to hang or elsewhere, and
    /// what can be spared on other rings. A missing card gives nothing.
    pub elsewhere: Vec<(CardId, Strands)>,
    /// Uncut skeins.
    pub uncut_skeins: u32,
}

impl LowLine {
    /// What is needed beyond that on the ring; `None` where the key counts no stitches.
    #[must_use]
    pub fn more(&self) -> Option<Strands> {
        let more = |needed: Strands| Strands(needed.0.saturating_sub(self.left_on_ring.0));
        self.still_needed.map(more)
    }
}

/// The colours that run low on a ring, in the order of its key, each once; none where the ring is
/// closed. O(threads² · log cards), and O(cards) where there is one.
#[must_use]
pub fn low(state: &State, ring: &Ring) -> Vec<LowLine> {
    let needs = with_colours(state, ring);
    let mut shelf = None;
    let colours = ring.colours().into_iter();
    colours
        .filter_map(|of| colour(state, ring, of, &needs, &mut shelf))
        .collect()
}

/// Whether the colour of a card runs low on a ring; `None` where it lasts, is not in the key, or none
/// of it lies on the ring. O(threads² + threads · log cards), and O(cards) where it runs low.
#[must_use]
pub fn low_of(state: &State, ring: &Ring, card: CardId) -> Option<LowLine> {
    let card = &state.card(card)?.card;
    let of = ColourRef::new(card.range, card.number.clone());
    let colours = ring.colours();
    let of = colours.into_iter().find(|&colour| *colour == of)?;
    colour(state, ring, of, &with_colours(state, ring), &mut None)
}

/// What every thread of the key needs, with the colour it is stitched in.
fn with_colours<'a>(state: &State, ring: &'a Ring) -> Vec<(&'a ColourRef, ThreadNeed)> {
    let needs = needs(state, ring).into_iter().flatten();
    let threads = ring.threads().map(|thread| thread.stitched());
    threads.zip(needs).collect()
}

/// The shelf is filled when it is first wanted.
fn colour(
    state: &State,
    ring: &Ring,
    of: &ColourRef,
    needs: &[(&ColourRef, ThreadNeed)],
    shelf: &mut Option<Supply>,
) -> Option<LowLine> {
    let assumed = ring.fabric.unwrap_or_default();
    let threads = || needs.iter().filter(|(colour, _)| *colour == of);
    let (mut needed, mut counted, mut uncounted) = (Strands(0), false, false);
    for (_, thread) in threads() {
        match thread.left {
            Some(left) => {
                needed.0 = needed.0.saturating_add(left.0);
                counted = true;
            }
            None => uncounted = true,
        }
    }
    // Threads of one colour count in strands of the same length.
    let (_, first) = threads().next()?;
    let (of_a_strand_um, put_up) = (first.of_a_strand_um.max(1), first.put_up);
    let on_it = |id: CardId| state.card(id).and_then(|kept| kept.place.at.ring()) == Some(ring.id);
    let mut there_um: u64 = 0;
    let mut is_there = false;
    for kept in state.cards_of(of).filter(|kept| on_it(kept.card.id)) {
        is_there = true;
        let of_a_strand = Cut::of(&assumed, kept.card.cut_cm).map_or(0, Cut::of_a_strand_um);
        there_um = there_um.saturating_add(u64::from(kept.strands().0) * of_a_strand);
    }
    let least = if uncounted {
        put_up.from_lengths(LEAST_LENGTHS).0
    } else {
        0
    };
    let wanted_um = (u64::from(needed.0) + u64::from(least)) * of_a_strand_um;
    let supply = LowSupply::of(there_um, wanted_um);
    if !is_there || supply == LowSupply::Enough {
        return None;
    }
    let shelf = shelf.get_or_insert_with(|| kept_on_rings(state));
    let others = state
        .cards_of(of)
        .filter(|kept| at_hand(kept) && !on_it(kept.card.id))
        .map(|kept| (kept.card.id, shelf.free_on_card(kept.card.id)));
    let left = there_um / of_a_strand_um;
    let whole = &state.cards_of(of).next()?.card;
    Some(LowLine {
        ring: ring.id,
        range: of.range,
        number: whole.number.clone(),
        card: whole.id,
        put_up,
        supply,
        left_on_ring: Strands(u32::try_from(left).unwrap_or(u32::MAX)),
        still_needed: counted.then_some(needed),
        elsewhere: others.filter(|(_, free)| *free > Strands(0)).collect(),
        uncut_skeins: state
            .cards_of(of)
            .fold(0, |sum, kept| sum.saturating_add(kept.skeins())),
    })
}

#[cfg(test)]
mod tests;
