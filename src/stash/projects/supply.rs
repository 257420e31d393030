//! Thread that can be promised, and the promises made.

use std::collections::{BTreeMap, BTreeSet};

use crate::engine::colour::nearest;
use crate::engine::need::Cut;
use crate::model::assumptions::Assumptions;
use crate::model::ids::{CardId, RingId};
use crate::model::ring::{KeyThread, Ring};
use crate::model::thread::{Lot, LotThread, Strands};
use crate::stash::state::{CardState, State};

/// A source of thread for a project.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Source {
    /// A card on the project's own ring.
    OwnRing,
    /// A card on the wall, to hang, in the hand or elsewhere.
    Here,
    /// A card on another project's ring, to split from.
    OtherRing(RingId),
    /// An uncut skein.
    Uncut,
}

/// Thread of one lot of a card, or of its uncut skeins, promised to a project.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Allocation {
    /// Which project.
    pub ring: RingId,
    /// Which card.
    pub card: CardId,
    /// Which dye lot.
    pub lot: Lot,
    /// Where it comes from.
    pub source: Source,
    /// How much, in strands of the card's cut length.
    pub strands: Strands,
}

/// What is left of a lot on a card, and uncut.
#[derive(Debug, Clone)]
struct Left {
    lot: Lot,
    on_card: u32,
    /// Strands that its part-used and uncut skeins would make.
    uncut: u32,
}

/// All thread of a stash, and how much of it is promised.
#[derive(Debug)]
pub(super) struct Supply {
    left: BTreeMap<CardId, Vec<Left>>,
    promises: Vec<Allocation>,
}

/// Whether thread may be taken from a card: not if it is missing.
pub(super) fn gives_thread(kept: &CardState) -> bool {
    !kept.place.at.is_missing()
}

/// Strands that the part-used and uncut skeins of a card would make.
#[must_use]
pub fn uncut_strands(state: &State, kept: &CardState) -> Strands {
    let lots = kept.thread.lots();
    let uncut = lots.map(|(_, of)| uncut_of(state, kept, of));
    Strands(uncut.fold(0, u32::saturating_add))
}

fn uncut_of(state: &State, kept: &CardState, of: &LotThread) -> u32 {
    let whole = state.put_up(&kept.card).strands_in_skein(kept.card.cut_cm);
    let skeins = of.skeins.saturating_mul(whole);
    skeins.saturating_add(part_of(state, kept, of))
}

fn part_of(state: &State, kept: &CardState, of: &LotThread) -> u32 {
    let put_up = state.put_up(&kept.card);
    let lengths = put_up.lengths_in(of.part_cm, kept.card.cut_cm);
    put_up.from_lengths(lengths).0
}

/// Strands that the part-used skein of a lot would make.
pub(super) fn part_used(state: &State, kept: &CardState, lot: &Lot) -> Strands {
    let of = kept.thread.lot(lot);
    Strands(of.map_or(0, |of| part_of(state, kept, of)))
}

/// Thread that one thread of a project's key still wants.
#[derive(Debug)]
pub(super) struct Want {
    /// Which project.
    pub ring: RingId,
    /// Its assumptions.
    pub assumed: Assumptions,
    /// What can be stitched with one strand of the length that the need is counted in, in
    /// thousandths of a millimetre.
    pub of_a_strand_um: u64,
    /// What is still wanted, in thousandths of a millimetre to stitch.
    pub left_um: u64,
    /// Promises so far.
    pub promises: Vec<Allocation>,
}

impl Want {
    /// What is still wanted, in strands.
    pub fn left(&self) -> Strands {
        let strands = self.left_um.div_ceil(self.of_a_strand_um.max(1));
        Strands(u32::try_from(strands).unwrap_or(u32::MAX))
    }
}

impl Supply {
    /// All thread, with nothing promised. O(cards).
    pub fn new(state: &State) -> Self {
        let left = |kept: &CardState| {
            let lots = kept.thread.lots();
            let left = lots.map(|(lot, of)| Left {
                lot: lot.clone(),
                on_card: of.strands.0,
                uncut: uncut_of(state, kept, of),
            });
            left.collect()
        };
        Self {
            left: state
                .cards()
                .map(|kept| (kept.card.id, left(kept)))
                .collect(),
            promises: Vec::new(),
        }
    }

    fn left_of(&mut self, card: CardId, lot: &Lot) -> Option<&mut Left> {
        self.left
            .get_mut(&card)?
            .iter_mut()
            .find(|of| of.lot == *lot)
    }

    /// Promises what is still wanted from a lot, as far as it has any left. Strands of another cut
    /// length count by what can be stitched with them; those too short to stitch with are ignored.
    pub fn promise(&mut self, want: &mut Want, kept: &CardState, lot: &Lot, source: Source) {
        let Some(cut) = Cut::of(&want.assumed, kept.card.cut_cm) else {
            return;
        };
        let Some(left) = self.left_of(kept.card.id, lot) else {
            return;
        };
        let from = match source {
            Source::Uncut => &mut left.uncut,
            _ => &mut left.on_card,
        };
        let wanted = want.left_um.div_ceil(cut.of_a_strand_um());
        let strands = (*from).min(u32::try_from(wanted).unwrap_or(u32::MAX));
        if strands == 0 {
            return;
        }
        *from -= strands;
        let gives = u64::from(strands) * cut.of_a_strand_um();
        want.left_um = want.left_um.saturating_sub(gives);
        let promise = Allocation {
            ring: want.ring,
            card: kept.card.id,
            lot: lot.clone(),
            source,
            strands: Strands(strands),
        };
        self.promises.push(promise.clone());
        want.promises.push(promise);
    }

    /// What could be stitched with the unpromised thread of a lot on a card, in thousandths of a
    /// millimetre.
    pub fn gives_um(&self, want: &Want, kept: &CardState, lot: &Lot) -> u64 {
        let of_a_strand = Cut::of(&want.assumed, kept.card.cut_cm).map_or(0, Cut::of_a_strand_um);
        let lots = self.left.get(&kept.card.id).into_iter().flatten();
        let of = lots.filter(|of| of.lot == *lot).map(|of| of.on_card);
        u64::from(of.fold(0, u32::saturating_add)) * of_a_strand
    }

    /// The same, including its uncut skeins.
    pub fn gives_with_uncut_um(&self, want: &Want, kept: &CardState, lot: &Lot) -> u64 {
        let of_a_strand = Cut::of(&want.assumed, kept.card.cut_cm).map_or(0, Cut::of_a_strand_um);
        let lots = self.left.get(&kept.card.id).into_iter().flatten();
        let of = lots.filter(|of| of.lot == *lot).map(|of| of.uncut);
        let uncut = u64::from(of.fold(0, u32::saturating_add)) * of_a_strand;
        uncut.saturating_add(self.gives_um(want, kept, lot))
    }

    /// Unpromised strands on a card itself.
    pub fn free_on_card(&self, card: CardId) -> Strands {
        let lots = self.left.get(&card).into_iter().flatten();
        Strands(lots.fold(0, |sum, of| sum.saturating_add(of.on_card)))
    }

    /// Unpromised strands of a card, including its uncut skeins.
    pub fn free(&self, card: CardId) -> Strands {
        let lots = self.left.get(&card).into_iter().flatten();
        let uncut = lots.fold(0, |sum: u32, of| sum.saturating_add(of.uncut));
        Strands(self.free_on_card(card).0.saturating_add(uncut))
    }

    /// The promises so far, in order.
    pub fn made(&self) -> &[Allocation] {
        &self.promises
    }

    /// Every promise, in order.
    pub fn promises(self) -> Vec<Allocation> {
        self.promises
    }
}

/// The most substitutes to show.
pub const SHOWN: usize = 3;

/// A difference above this comes with a warning. About 1 is just noticeable side by side (common
/// practice, no source); three times that shows at a glance, and the hex values of a range list are
/// rarely more accurate than that themselves.
pub const WARN_ABOVE: f64 = 3.0;

/// Why a colour is a possible substitute.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Likeness {
    /// It matches in the user's conversion list.
    Match,
    /// It looks like the colour wanted.
    Colour {
        /// The perceived difference: CIEDE2000.
        difference: f64,
    },
}

/// An owned colour that is a possible substitute.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Substitute {
    /// Which card.
    pub card: CardId,
    /// Why it is one.
    pub likeness: Likeness,
    /// Unpromised thread on it, and uncut.
    pub free: Strands,
    /// Whether that would be enough; `None` if the key doesn't say how much is needed.
    pub enough: Option<bool>,
}

impl Substitute {
    /// The difference from the colour wanted, by CIEDE2000; `None` for a match.
    #[must_use]
    pub const fn difference(&self) -> Option<f64> {
        match self.likeness {
            Likeness::Match => None,
            Likeness::Colour { difference } => Some(difference),
        }
    }

    /// Whether the difference is obvious.
    #[must_use]
    pub fn is_far(&self) -> bool {
        self.difference().is_some_and(|of| of > WARN_ABOVE)
    }
}

/// Owned colours with unpromised thread that are possible substitutes: those that match in the
/// user's conversion lists, then the nearest. Colours of the same key are left out, because two
/// symbols would look alike. `needed_um` is what has to be stitched, in thousandths of a
/// millimetre. O(cards + lines of the key).
pub(super) fn substitutes(
    state: &State,
    supply: &Supply,
    ring: &Ring,
    thread: &KeyThread,
    assumed: &Assumptions,
    needed_um: Option<u64>,
) -> Vec<Substitute> {
    let in_key: BTreeSet<CardId> = ring
        .threads()
        .flat_map(|other| state.cards_of(other.stitched()))
        .map(|kept| kept.card.id)
        .collect();
    let can_give = |kept: &&CardState| {
        kept.card.parent.is_none()
            && gives_thread(kept)
            && supply.free(kept.card.id) > Strands(0)
            && !in_key.contains(&kept.card.id)
    };
    let matching = state.matching_cards(thread.stitched()).filter(can_give);
    let matching: Vec<&CardState> = matching.take(SHOWN).collect();
    let others = state.cards().filter(can_give);
    let others = others.filter(|kept| !matching.iter().any(|of| of.card.id == kept.card.id));
    let near = nearest_cards(state, thread, others, SHOWN - matching.len());
    let near = near
        .into_iter()
        .map(|(kept, difference)| (kept, Likeness::Colour { difference }));
    let matching = matching.into_iter().map(|kept| (kept, Likeness::Match));
    matching
        .chain(near)
        .map(|(kept, likeness)| {
            let free = supply.free(kept.card.id);
            let gives = Cut::of(assumed, kept.card.cut_cm)
                .map_or(0, |cut| cut.of_a_strand_um() * u64::from(free.0));
            Substitute {
                card: kept.card.id,
                likeness,
                free,
                enough: needed_um.map(|needed| gives >= needed),
            }
        })
        .collect()
}

/// The nearest of some cards by colour, with the same kind of thread, best first. A single colour
/// doesn't describe variegated thread, so it is never a substitute and never has one.
fn nearest_cards<'s>(
    state: &State,
    thread: &KeyThread,
    among: impl Iterator<Item = &'s CardState>,
    most: usize,
) -> Vec<(&'s CardState, f64)> {
    let Some(wanted) = state.thread_colour(thread) else {
        return Vec::new();
    };
    if state.colour_is_variegated(thread.stitched()) {
        return Vec::new();
    }
    let kind = state.colour_put_up(thread.stitched()).kind();
    let alike = among
        .filter(|kept| state.put_up(&kept.card).kind() == kind)
        .filter(|kept| !state.is_variegated(&kept.card))
        .filter_map(|kept| Some((kept, kept.card.colour?)));
    nearest(wanted, alike, most)
}
