//! A ring in JSON, with the key of its pattern.

use jiff::Timestamp;
use serde::Serialize;

use super::{AmountOut, CardRef, LowOut};
use crate::model::assumptions::Assumptions;
use crate::model::ring::{KeyEntry, Ring, RingState};
use crate::stash::kit::low::low;
use crate::stash::kit::progress::LineNeed;
use crate::stash::state::State;

/// A project ring.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct RingOut {
    /// The project.
    pub project: String,
    /// `live`, `parked` or `closed`.
    pub state: &'static str,
    /// The hook it is parked on.
    pub parked_at: Option<String>,
    /// When it was opened.
    pub opened: Timestamp,
    /// Since when it is parked, or closed.
    pub since: Option<Timestamp>,
    /// The cards on it now, in the order of taking.
    pub cards: Vec<CardRef>,
    /// The key of its pattern, in order.
    pub key: Vec<KeyEntryOut>,
    /// What it is stitched on and how, if somebody has said.
    pub fabric: Option<Assumptions>,
    /// The colours that run low on it.
    pub low: Vec<LowOut>,
}

/// A line of a pattern's key.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct KeyEntryOut {
    /// The symbol; may be empty.
    pub symbol: String,
    /// The range's name.
    pub range: String,
    /// The number.
    pub number: String,
    /// The colour's name; may be empty.
    pub name: String,
    /// Strands in the needle; 0 where the key does not say.
    pub strands: u8,
    /// Full crosses.
    pub stitches: u32,
    /// Half stitches.
    pub half: u32,
    /// Quarter stitches.
    pub quarter: u32,
    /// Three-quarter stitches.
    pub three_quarter: u32,
    /// Backstitch, in squares of the chart.
    pub backstitch: u32,
    /// Strands for backstitch; 0 where the key does not say.
    pub backstitch_strands: u8,
    /// French knots.
    pub french_knots: u32,
    /// Whether there is a card of it, wherever it is.
    pub owned: bool,
    /// What was used for it.
    pub used: AmountOut,
    /// What is still needed; `null` where the key counts no stitches.
    pub still_needed: Option<AmountOut>,
}

impl RingOut {
    /// A ring and what is on it.
    #[must_use]
    pub fn of(state: &State, ring: &Ring) -> Self {
        let (word, parked_at, since) = match ring.state {
            RingState::Live => ("live", None, None),
            RingState::Parked { hook, since } => ("parked", Some(state.mark(hook)), Some(since)),
            RingState::Closed { at } => ("closed", None, Some(at)),
        };
        Self {
            project: ring.project.to_string(),
            state: word,
            parked_at,
            opened: ring.opened,
            since,
            cards: state
                .cards_on(ring)
                .map(|kept| CardRef::of(state, kept))
                .collect(),
            key: ring
                .key
                .iter()
                .map(|entry| KeyEntryOut::of(state, ring, entry))
                .collect(),
            fabric: ring.fabric,
            low: low(state, ring)
                .iter()
                .map(|low| LowOut::of(state, low))
                .collect(),
        }
    }
}

impl KeyEntryOut {
    /// All that a line says.
    #[must_use]
    pub fn of(state: &State, ring: &Ring, entry: &KeyEntry) -> Self {
        let range = state.range(entry.range);
        let line = LineNeed::of(state, &ring.fabric.unwrap_or_default(), entry);
        let amount = |strands| AmountOut::of(strands, line.put_up);
        Self {
            symbol: entry.symbol.to_string(),
            range: range.map_or_else(String::new, |range| range.name.to_string()),
            number: entry.number.to_string(),
            name: state.entry_name(entry).to_owned(),
            strands: entry.strands,
            stitches: entry.stitches,
            half: entry.half,
            quarter: entry.quarter,
            three_quarter: entry.three_quarter,
            backstitch: entry.backstitch,
            backstitch_strands: entry.backstitch_strands,
            french_knots: entry.french_knots,
            owned: state.cards_of(entry).next().is_some(),
            used: amount(line.used),
            still_needed: line.left.map(amount),
        }
    }
}
