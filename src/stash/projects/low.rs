//! Thread that runs low on a project's ring, noticed in time to fetch more.
//!
//! This covers colours on the ring. Colours not yet taken are covered by the kit check.

use super::kit::kept_on_rings;
use super::needs::{ThreadNeed, needs};
use super::supply::{Supply, gives_thread};
use crate::engine::need::Cut;
use crate::model::ids::{CardId, RangeId, RingId};
use crate::model::number::Number;
use crate::model::range::PutUp;
use crate::model::ring::{ColourRef, Ring};
use crate::model::thread::Strands;
use crate::stash::state::State;

/// A colour without stitch counts in the key runs low with fewer lengths than this on the ring. For
/// stranded cotton, that is six strands and so three of the usual needlefuls (common practice, no
/// source).
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
    /// Compares an amount of thread with a need, both in any one unit.
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

/// A colour that won't last on a ring.
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
    /// The kind and put-up of its thread.
    pub put_up: PutUp,
    /// [`LowSupply::Low`] or [`LowSupply::Out`].
    pub supply: LowSupply,
    /// What is left on the ring, on the card and its split cards.
    pub left_on_ring: Strands,
    /// What is still needed, including that on the ring; `None` if the key counts no stitches.
    pub still_needed: Option<Strands>,
    /// Where more of it is, in strands of that card: on the wall, to hang or elsewhere, and surplus
    /// on other rings. A missing card gives nothing.
    pub elsewhere: Vec<(CardId, Strands)>,
    /// Uncut skeins.
    pub uncut_skeins: u32,
}

impl LowLine {
    /// What is needed in addition to that on the ring; `None` if the key counts no stitches.
    #[must_use]
    pub fn more(&self) -> Option<Strands> {
        let more = |needed: Strands| Strands(needed.0.saturating_sub(self.left_on_ring.0));
        self.still_needed.map(more)
    }
}

/// The colours that run low on a ring, in the order of its key, each once; none if the ring is
/// closed. O(threads² · log cards), plus O(cards) if there is one.
#[must_use]
pub fn low(state: &State, ring: &Ring) -> Vec<LowLine> {
    let needs = with_colours(state, ring);
    let mut supply = None;
    let colours = ring.colours().into_iter();
    colours
        .filter_map(|of| colour(state, ring, of, &needs, &mut supply))
        .collect()
}

/// Whether the colour of a card runs low on a ring. `None` if it lasts, isn't in the key, or isn't
/// on the ring. O(threads² + threads · log cards), plus O(cards) if it runs low.
#[must_use]
pub fn low_of(state: &State, ring: &Ring, card: CardId) -> Option<LowLine> {
    let card = &state.card(card)?.card;
    let of = ColourRef::new(card.range, card.number.clone());
    let colours = ring.colours();
    let of = colours.into_iter().find(|&colour| *colour == of)?;
    colour(state, ring, of, &with_colours(state, ring), &mut None)
}

/// The needs of all threads in the key, with the colours they are stitched in.
fn with_colours<'a>(state: &State, ring: &'a Ring) -> Vec<(&'a ColourRef, ThreadNeed)> {
    let needs = needs(state, ring).into_iter().flatten();
    let threads = ring.threads().map(|thread| thread.stitched());
    threads.zip(needs).collect()
}

/// What the threads of one colour still need together.
struct Wanted {
    /// For those with stitch counts in the key; `None` if there are none.
    counted: Option<Strands>,
    /// What the others want in any case.
    least: Strands,
    /// What can be stitched with one strand, in thousandths of a millimetre; not 0.
    of_a_strand_um: u64,
    put_up: PutUp,
}

impl Wanted {
    /// `None` without threads.
    fn of(threads: &[&ThreadNeed]) -> Option<Self> {
        // Threads of one colour count in strands of the same length.
        let first = threads.first()?;
        let counted = threads.iter().filter_map(|thread| thread.left);
        let counted = counted.reduce(|a, b| Strands(a.0.saturating_add(b.0)));
        let least = if threads.iter().any(|thread| thread.left.is_none()) {
            first.put_up.from_lengths(LEAST_LENGTHS)
        } else {
            Strands(0)
        };
        Some(Self {
            counted,
            least,
            of_a_strand_um: first.of_a_strand_um.max(1),
            put_up: first.put_up,
        })
    }

    fn um(&self) -> u64 {
        let counted = self.counted.unwrap_or_default();
        (u64::from(counted.0) + u64::from(self.least.0)) * self.of_a_strand_um
    }
}

/// How much can be stitched with the thread of a colour on a ring, in thousandths of a millimetre;
/// `None` if there is none.
fn on_ring(state: &State, ring: &Ring, of: &ColourRef) -> Option<u64> {
    let assumed = ring.fabric.unwrap_or_default();
    let cards = state.cards_of(of);
    let there = cards.filter(|kept| kept.place.at.ring() == Some(ring.id));
    let gives = there.map(|kept| {
        let of_a_strand = Cut::of(&assumed, kept.card.cut_cm).map_or(0, Cut::of_a_strand_um);
        u64::from(kept.strands().0) * of_a_strand
    });
    gives.reduce(u64::saturating_add)
}

/// Whether a colour runs low on a ring. The supply is computed when it is first needed.
fn colour(
    state: &State,
    ring: &Ring,
    of: &ColourRef,
    needs: &[(&ColourRef, ThreadNeed)],
    supply: &mut Option<Supply>,
) -> Option<LowLine> {
    let threads = needs.iter().filter(|(colour, _)| *colour == of);
    let threads: Vec<&ThreadNeed> = threads.map(|(_, thread)| thread).collect();
    let wanted = Wanted::of(&threads)?;
    let there_um = on_ring(state, ring, of)?;
    let lasts = LowSupply::of(there_um, wanted.um());
    if lasts == LowSupply::Enough {
        return None;
    }
    let supply = supply.get_or_insert_with(|| kept_on_rings(state));
    let others = state
        .cards_of(of)
        .filter(|kept| gives_thread(kept) && kept.place.at.ring() != Some(ring.id))
        .map(|kept| (kept.card.id, supply.free_on_card(kept.card.id)));
    let left = there_um / wanted.of_a_strand_um;
    let whole = &state.cards_of(of).next()?.card;
    Some(LowLine {
        ring: ring.id,
        range: of.range,
        number: whole.number.clone(),
        card: whole.id,
        put_up: wanted.put_up,
        supply: lasts,
        left_on_ring: Strands(u32::try_from(left).unwrap_or(u32::MAX)),
        still_needed: wanted.counted,
        elsewhere: others.filter(|(_, free)| *free > Strands(0)).collect(),
        uncut_skeins: state
            .cards_of(of)
            .fold(0, |sum, kept| sum.saturating_add(kept.skeins())),
    })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::stash::command::{ring, thread};
    use crate::stash::testing::projects::{give_key, stash, take, use_up};
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
    fn a_low_colour_is_listed_with_the_places_that_have_more() {
        let mut state = stash(&[("1", 40, 1), ("2", 10, 0), ("3", 48, 0)]);
        take(&mut state, "Robin", &["2"]);
        give_key(&mut state, "Robin", &[("1", 12), ("2", 10), ("3", 40)]);
        // Colours not yet on the ring are covered by the kit check.
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
        // What was used is no longer needed, so a colour that lasts continues to last.
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
    fn thread_that_other_rings_need_is_not_offered() {
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
    fn a_colour_without_counts_runs_low_below_one_length() {
        let mut state = stash(&[("1", 6, 0), ("2", 48, 0)]);
        take(&mut state, "Robin", &["1", "2"]);
        give_key(&mut state, "Robin", &[("1", 0), ("2", 0)]);
        assert_eq!(said(&state, "Robin"), Vec::<String>::new());
        use_up(&mut state, "1", 1);
        assert_eq!(
            said(&state, "Robin"),
            [
                "1: 5 strands on the ring, and the chart key gives no amount; there is no more \
              of it"
            ]
        );
        let robin = state.need_ring("Robin").unwrap();
        assert_eq!(low(&state, robin)[0].more(), None);
        use_up(&mut state, "1", 5);
        assert!(said(&state, "Robin")[0].starts_with("1: none left on the ring"));
    }

    proptest! {
        /// A colour is listed exactly if less is on the ring than its lines still need, and the
        /// listed amounts add up.
        #[test]
        fn a_colour_is_low_if_less_is_there_than_needed(
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
    fn each_colour_of_a_blend_runs_low_by_itself() {
        use crate::stash::command::key;
        use crate::stash::testing::projects::{line_of, notion, thread};
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
}
