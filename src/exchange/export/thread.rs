//! Amounts of thread and shortages in JSON.

use serde::Serialize;

use super::{ColourOut, Export, WhereaboutsOut};
use crate::model::range::PutUp;
use crate::model::thread::Strands;
use crate::stash::projects::low::{LowLine, LowSupply};
use crate::stash::state::{CardState, State};

/// An amount, in strands and as whole lengths and loose strands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct AmountOut {
    /// Single strands in all, each as long as the lengths.
    pub strands: u32,
    /// Whole lengths, of as many strands as the thread is divided into.
    pub lengths: u32,
    /// Loose strands over them.
    pub loose: u32,
}

impl AmountOut {
    /// An amount of a thread.
    #[must_use]
    pub const fn of(amount: Strands, put_up: PutUp) -> Self {
        Self {
            strands: amount.0,
            lengths: put_up.lengths(amount),
            loose: put_up.loose(amount),
        }
    }
}

/// Thread of one lot.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct LotOut {
    /// The dye lot; empty where none is noted.
    pub lot: String,
    /// Whole lengths on the card.
    pub lengths: u32,
    /// Loose strands over them.
    pub loose_strands: u32,
    /// What is left of a part-used skein, in metres of whole thread.
    pub metres: f64,
    /// Uncut skeins.
    pub skeins: u32,
}

impl LotOut {
    /// The lots of a card, in order of their names.
    #[must_use]
    pub fn all(state: &State, kept: &CardState) -> Vec<Self> {
        let put_up = state.put_up(&kept.card);
        let lots = kept.thread.lots();
        lots.map(|(lot, of)| Self {
            lot: lot.to_string(),
            lengths: put_up.lengths(of.strands),
            loose_strands: put_up.loose(of.strands),
            metres: f64::from(of.part_cm) / 100.0,
            skeins: of.skeins,
        })
        .collect()
    }
}

/// Thread of a colour in one place.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ThereOut {
    /// Where.
    pub whereabouts: WhereaboutsOut,
    /// How much of it is free.
    #[serde(flatten)]
    pub amount: AmountOut,
}

/// A colour that runs low on a ring.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct LowOut {
    /// The colour.
    #[serde(flatten)]
    pub colour: ColourOut,
    /// `low` or `out`.
    pub supply: LowSupply,
    /// What is left on the ring.
    pub on_ring: AmountOut,
    /// What is still needed, that included; `null` where the key counts no stitches.
    pub still_needed: Option<AmountOut>,
    /// What is needed beyond that; likewise.
    pub more: Option<AmountOut>,
    /// Where there is more.
    pub elsewhere: Vec<ThereOut>,
    /// Uncut skeins.
    pub uncut_skeins: u32,
    /// The same as a sentence.
    pub words: String,
}

impl LowOut {
    /// A shortage in words and numbers.
    #[must_use]
    pub fn of(export: Export<'_>, low: &LowLine) -> Self {
        let state = export.state;
        let range = state.range(low.range);
        let amount = |strands| AmountOut::of(strands, low.put_up);
        let there = |&(card, amount): &(_, Strands)| {
            let kept = state.card(card)?;
            Some(ThereOut {
                whereabouts: WhereaboutsOut::of(export, kept),
                amount: AmountOut::of(amount, state.put_up(&kept.card)),
            })
        };
        Self {
            colour: ColourOut {
                range: range.map_or_else(String::new, |range| range.name.to_string()),
                number: low.number.to_string(),
            },
            supply: low.supply,
            on_ring: amount(low.left_on_ring),
            still_needed: low.still_needed.map(amount),
            more: low.more().map(amount),
            elsewhere: low.elsewhere.iter().filter_map(there).collect(),
            uncut_skeins: low.uncut_skeins,
            words: (export.low)(state, low),
        }
    }
}
