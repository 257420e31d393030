//! Amounts of thread, and what runs low of it, for scripts.

use serde::Serialize;

use super::{CardRef, WhereaboutsOut};
use crate::model::thread::Strands;
use crate::stash::kit::low::{LowLine, Supply, low_in_words};
use crate::stash::state::State;

/// An amount, in strands and as whole lengths and loose strands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct AmountOut {
    /// Single strands.
    pub strands: u32,
    /// Whole lengths of six strands.
    pub lengths: u32,
    /// Loose strands over them, 0 to 5.
    pub loose: u32,
}

impl From<Strands> for AmountOut {
    fn from(amount: Strands) -> Self {
        Self {
            strands: amount.0,
            lengths: amount.lengths(),
            loose: amount.loose(),
        }
    }
}

/// Thread of a colour in one place.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ThereOut {
    /// Where.
    pub whereabouts: WhereaboutsOut,
    /// How much of it is free.
    #[serde(flatten)]
    pub amount: AmountOut,
}

/// A colour that runs low on a ring.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LowOut {
    /// The colour.
    #[serde(flatten)]
    pub card: CardRef,
    /// `low` or `out`.
    pub supply: Supply,
    /// What is left on the ring.
    pub on_ring: AmountOut,
    /// What is still needed, that included; `null` where the key counts no stitches.
    pub still_needed: Option<AmountOut>,
    /// What is needed beyond that; likewise.
    pub more: Option<AmountOut>,
    /// Where there is more.
    pub elsewhere: Vec<ThereOut>,
    /// Uncut skeins.
    pub reserve_skeins: u32,
    /// The same as a sentence.
    pub words: String,
}

impl LowOut {
    /// All about it.
    #[must_use]
    pub fn of(state: &State, low: &LowLine) -> Self {
        let range = state.range(low.range);
        let there = |&(card, amount): &(_, Strands)| {
            let kept = state.card(card)?;
            Some(ThereOut {
                whereabouts: WhereaboutsOut::of(state, kept),
                amount: amount.into(),
            })
        };
        Self {
            card: CardRef {
                range: range.map_or_else(String::new, |range| range.name.to_string()),
                number: low.number.to_string(),
                spare_of: None,
                called: None,
            },
            supply: low.supply,
            on_ring: low.left_on_ring.into(),
            still_needed: low.still_needed.map(AmountOut::from),
            more: low.more().map(AmountOut::from),
            elsewhere: low.elsewhere.iter().filter_map(there).collect(),
            reserve_skeins: low.reserve_skeins,
            words: low_in_words(state, low),
        }
    }
}
