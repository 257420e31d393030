//! A ring in JSON, with its chart key.

use jiff::Timestamp;
use serde::Serialize;

use super::{AmountOut, CardRef, Export, LowOut};
use crate::model::assumptions::Assumptions;
use crate::model::ring::{ColourRef, KeyLine, KeyThread, NotionKind, Ring, RingState};
use crate::stash::projects::low::low;
use crate::stash::projects::needs::{ThreadNeed, needs};
use crate::stash::state::State;

/// Whether a ring is in use.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum RingUse {
    /// In use.
    Live,
    /// Left hanging on a hook.
    Hanging,
    /// Its project has ended.
    Closed,
}

/// A project ring.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct RingOut {
    /// The project.
    pub project: String,
    /// Whether it is in use.
    pub state: RingUse,
    /// The hook it hangs on.
    pub hangs_at: Option<String>,
    /// When it was opened.
    #[cfg_attr(test, schemars(with = "crate::model::schema::Instant"))]
    pub opened: Timestamp,
    /// Since when it hangs there, or is closed.
    #[cfg_attr(test, schemars(with = "Option<crate::model::schema::Instant>"))]
    pub since: Option<Timestamp>,
    /// The cards on it now, in the order of taking.
    pub cards: Vec<CardRef>,
    /// The key of its pattern, in order.
    pub key: Vec<KeyLineOut>,
    /// What it is stitched on and how; `null` where no fabric is set.
    pub fabric: Option<Assumptions>,
    /// The colours that run low on it.
    pub low: Vec<LowOut>,
}

/// A line of a pattern's key: a symbol with threads or a notion.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct KeyLineOut {
    /// The symbol; may be empty.
    pub symbol: String,
    /// What is said of its only thread; not for a blend or a notion.
    #[serde(flatten)]
    pub only: Option<KeyThreadOut>,
    /// What it counts; not for a notion.
    #[serde(flatten)]
    pub counted: Option<CountsOut>,
    /// Its threads: several for a blend, none for a notion.
    pub threads: Vec<KeyThreadOut>,
    /// What is sewn on, where it is a notion.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub notion: Option<NotionOut>,
}

/// A thread of a line.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct KeyThreadOut {
    /// The name of its range in the chart.
    pub range: String,
    /// Its number in the chart.
    pub number: String,
    /// The name of the colour that is stitched; may be empty.
    pub name: String,
    /// Strands in the needle; 0 where the key does not say.
    pub strands: u8,
    /// The colour that is stitched in its place.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stitched_with: Option<ColourOut>,
    /// Whether there is a card of the colour that is stitched, wherever it is.
    pub owned: bool,
    /// What was used of it for this line.
    pub used: AmountOut,
    /// What is still needed; `null` where the key counts no stitches.
    pub still_needed: Option<AmountOut>,
}

/// A colour by its range and number.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ColourOut {
    /// The range's name.
    pub range: String,
    /// The number.
    pub number: String,
}

/// What a line counts; 0 where the key does not say.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct CountsOut {
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
}

/// A notion of a key.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct NotionOut {
    /// The symbol; may be empty.
    pub symbol: String,
    /// What the key calls it.
    pub name: String,
    /// What kind of thing it is.
    pub kind: NotionKind,
    /// How many; 0 where the key does not say.
    pub pieces: u32,
}

impl RingOut {
    /// A ring and its contents.
    #[must_use]
    pub fn of(export: Export<'_>, ring: &Ring) -> Self {
        let state = export.state;
        let (word, hangs_at, since) = match ring.state {
            RingState::Live => (RingUse::Live, None, None),
            RingState::Hanging { hook, since } => {
                (RingUse::Hanging, Some(state.hook_name(hook)), Some(since))
            }
            RingState::Closed { at } => (RingUse::Closed, None, Some(at)),
        };
        Self {
            project: ring.project.to_string(),
            state: word,
            hangs_at,
            opened: ring.opened,
            since,
            cards: state
                .cards_on(ring)
                .map(|kept| CardRef::of(state, kept))
                .collect(),
            key: KeyLineOut::all(state, ring),
            fabric: ring.fabric,
            low: low(state, ring)
                .iter()
                .map(|low| LowOut::of(export, low))
                .collect(),
        }
    }
}

impl KeyLineOut {
    /// All lines of a ring's chart key, in order.
    #[must_use]
    pub fn all(state: &State, ring: &Ring) -> Vec<Self> {
        let lines = ring.key.iter().zip(needs(state, ring));
        lines
            .map(|(line, needs)| Self::of(state, line, &needs))
            .collect()
    }

    fn of(state: &State, line: &KeyLine, needs: &[ThreadNeed]) -> Self {
        let threads = line.threads().iter().zip(needs);
        let threads: Vec<KeyThreadOut> = threads
            .map(|(thread, need)| KeyThreadOut::of(state, thread, need))
            .collect();
        let counted = line.stitches();
        Self {
            symbol: line.symbol.to_string(),
            only: match threads.as_slice() {
                [one] => Some(one.clone()),
                _ => None,
            },
            counted: line.notion().is_none().then_some(CountsOut {
                stitches: counted.full,
                half: counted.half,
                quarter: counted.quarter,
                three_quarter: counted.three_quarter,
                backstitch: counted.backstitch,
                backstitch_strands: counted.backstitch_strands,
                french_knots: counted.french_knots,
            }),
            threads,
            notion: NotionOut::of(line),
        }
    }
}

impl KeyThreadOut {
    fn of(state: &State, thread: &KeyThread, need: &ThreadNeed) -> Self {
        let ColourOut { range, number } = ColourOut::of(state, &thread.colour);
        let with = thread.stitched_with.as_ref();
        let amount = |strands| AmountOut::of(strands, need.put_up);
        Self {
            range,
            number,
            name: state.thread_name(thread).to_owned(),
            strands: thread.strands,
            stitched_with: with.map(|with| ColourOut::of(state, with)),
            owned: state.cards_of(thread.stitched()).next().is_some(),
            used: amount(need.used),
            still_needed: need.left.map(amount),
        }
    }
}

impl ColourOut {
    /// The name of a colour.
    #[must_use]
    pub fn of(state: &State, colour: &ColourRef) -> Self {
        let range = state.range(colour.range);
        Self {
            range: range.map_or_else(String::new, |range| range.name.to_string()),
            number: colour.number.to_string(),
        }
    }
}

impl NotionOut {
    /// The notion of a line; `None` for a stitched line.
    #[must_use]
    pub fn of(line: &KeyLine) -> Option<Self> {
        let notion = line.notion()?;
        Some(Self {
            symbol: line.symbol.to_string(),
            name: notion.name.to_string(),
            kind: notion.kind,
            pieces: notion.pieces,
        })
    }
}
