//! A stash as rows of a stock list, and as one JSON object.
//!
//! The JSON object is `{"homehook_export":1,"cards":[...],"boards":[...],"rings":[...]}`, where a
//! card is a [`CardOut`], a board a [`BoardOut`] and a ring a [`RingOut`]. Fields may be added to
//! it; none is renamed without another number.

use jiff::Timestamp;
use serde::Serialize;

use super::progress::{AmountOut, LowOut};
use crate::model::assumptions::Assumptions;
use crate::model::board::{Board, HookRef, ReadingOrder};
use crate::model::ring::{KeyEntry, Ring, RingState};
use crate::model::thread::STRANDS_PER_LENGTH;
use crate::model::whereabouts::{LastSeen, Whereabouts};
use crate::stash::intake::{Amount, StockRow};
use crate::stash::kit::low::low;
use crate::stash::kit::progress::LineNeed;
use crate::stash::state::{Kept, State};

/// The stash as a stock list that can be brought in again.
#[must_use]
pub fn as_csv(state: &State) -> String {
    super::write_stock_csv(&stock_rows(state))
}

/// The stash as one JSON object, in lines.
///
/// # Errors
/// When it cannot be told in JSON: a fault of the program.
pub fn as_json(state: &State) -> serde_json::Result<String> {
    let mut text = serde_json::to_string_pretty(&Stash::of(state))?;
    text.push('\n');
    Ok(text)
}

/// A card's range and number, which together name it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct CardRef {
    /// The range's name.
    pub range: String,
    /// The number.
    pub number: String,
    /// Only of a spare card: the name of the card it was split from.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub spare_of: Option<String>,
    /// Only of a spare card: its name, as every command takes it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub called: Option<String>,
}

/// Where a card is now.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct WhereaboutsOut {
    /// `hook`, `ring`, `hand`, `missing`, `elsewhere` or `unhung`.
    pub kind: &'static str,
    /// The hook it hangs on, that it was last seen on, or where its ring is parked.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mark: Option<String>,
    /// The project of the ring it is on, or was last seen on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ring: Option<String>,
    /// Where it is, in the user's words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// Of a missing card: where it was last seen, and with which cards.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_seen: Option<LastSeenOut>,
    /// Since when.
    pub since: Timestamp,
}

/// Where a missing card was last seen.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LastSeenOut {
    /// The hook.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mark: Option<String>,
    /// The project of the ring.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ring: Option<String>,
    /// The cards that hung with it there, likeliest first.
    pub with: Vec<CompanionOut>,
}

/// A card that hung with a missing one.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct CompanionOut {
    /// Its name, as every command takes it.
    pub called: String,
    /// The mark of the hook it belongs on.
    pub home: Option<String>,
    /// Where it is now, in words that follow "it is".
    pub now: String,
}

/// A card.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct CardOut {
    /// The range's name.
    pub range: String,
    /// The number.
    pub number: String,
    /// The colour's name; may be empty.
    pub name: String,
    /// The mark of the hook it belongs on.
    pub home: Option<String>,
    /// Where it is.
    pub whereabouts: WhereaboutsOut,
    /// The family's name; `null` where it has none.
    pub family: Option<String>,
    /// The colour, `#RRGGBB`.
    pub hex: Option<String>,
    /// Strands left, each as long as `cut_cm`; six are a length.
    pub strands: u32,
    /// How long the lengths were cut, in centimetres.
    pub cut_cm: u16,
    /// Uncut skeins.
    pub reserve: u32,
    /// The dye lot; may be empty.
    pub dye_lot: String,
    /// The note; may be empty.
    pub note: String,
    /// Its name, as every command takes it.
    pub called: String,
    /// Whether this is a spare card, split from another of the same number.
    pub spare: bool,
    /// The name of the card that a spare card was split from.
    pub spare_of: Option<String>,
    /// Whether every re-hang leaves it where it hangs: it is pinned, or its family is.
    pub pinned: bool,
    /// How many plain cards touching it counts as.
    pub weight: u16,
}

/// A hook.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct HookOut {
    /// Its mark.
    pub mark: String,
    /// Places made on it, whether or not it is blocked.
    pub places: u8,
    /// Why nothing may hang here.
    pub blocked: Option<String>,
    /// Whether a re-hang leaves it empty.
    pub kept_free: bool,
    /// The cards at home here, in wanted order.
    pub homes: Vec<CardRef>,
}

/// A board, hooks in reading order.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct BoardOut {
    /// Its name.
    pub name: String,
    /// What its marks begin with; may be empty.
    pub prefix: String,
    /// Rows.
    pub rows: u16,
    /// Columns.
    pub columns: u16,
    /// Places on a usual hook.
    pub places: u8,
    /// The order the hooks are read in.
    pub reading: ReadingOrder,
    /// Every hook.
    pub hooks: Vec<HookOut>,
}

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

/// The whole stash.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Stash {
    /// The form of this object; 1.
    pub homehook_export: u8,
    /// Every card, in wanted order.
    pub cards: Vec<CardOut>,
    /// Every board.
    pub boards: Vec<BoardOut>,
    /// Every ring.
    pub rings: Vec<RingOut>,
}

impl Stash {
    /// All that a stash holds. O(cards · log cards + hooks).
    #[must_use]
    pub fn of(state: &State) -> Self {
        let in_order = state.in_wanted_order(state.cards());
        Self {
            homehook_export: 1,
            cards: in_order
                .iter()
                .map(|kept| CardOut::of(state, kept))
                .collect(),
            boards: state
                .boards()
                .map(|board| BoardOut::of(state, board))
                .collect(),
            rings: state.rings().map(|ring| RingOut::of(state, ring)).collect(),
        }
    }
}

impl CardRef {
    /// How a card is named.
    #[must_use]
    pub fn of(state: &State, kept: &Kept) -> Self {
        Self {
            range: state.range_name(kept).to_owned(),
            number: kept.card.number.to_string(),
            spare_of: spare_of(state, kept),
            called: kept.card.parent.map(|_| state.card_name(kept)),
        }
    }
}

/// The name of the card that a spare card was split from.
fn spare_of(state: &State, kept: &Kept) -> Option<String> {
    let whole = state.card(kept.card.parent?)?;
    Some(state.card_name(whole))
}

impl WhereaboutsOut {
    /// Where a card is.
    #[must_use]
    pub fn of(state: &State, kept: &Kept) -> Self {
        let mark = |hook: HookRef| Some(state.mark(hook));
        let ring = |id| state.ring(id);
        let project = |ring: Option<&Ring>| ring.map(|ring| ring.project.to_string());
        let mut out = Self {
            kind: "",
            mark: None,
            ring: None,
            note: None,
            last_seen: None,
            since: kept.place.since,
        };
        match &kept.place.at {
            Whereabouts::Hook { hook } => {
                out.kind = "hook";
                out.mark = mark(*hook);
            }
            Whereabouts::Ring { ring: id } => {
                out.kind = "ring";
                out.ring = project(ring(*id));
                if let Some(RingState::Parked { hook, .. }) = ring(*id).map(|ring| ring.state) {
                    out.mark = mark(hook);
                }
            }
            Whereabouts::Hand => out.kind = "hand",
            Whereabouts::Missing { last_seen } => {
                out.kind = "missing";
                match last_seen {
                    LastSeen::Hook(hook) => out.mark = mark(*hook),
                    LastSeen::Ring(id) => out.ring = project(ring(*id)),
                    LastSeen::Loose => {}
                }
                let with = state.last_seen_with(kept).into_iter();
                let with = with.map(|other| CompanionOut {
                    called: state.card_name(other),
                    home: other.home.map(|hook| state.mark(hook)),
                    now: state.place_in_words(other),
                });
                out.last_seen = Some(LastSeenOut {
                    mark: out.mark.clone(),
                    ring: out.ring.clone(),
                    with: with.collect(),
                });
            }
            Whereabouts::Elsewhere { note } => {
                out.kind = "elsewhere";
                out.note = Some(note.to_string());
            }
            Whereabouts::Unhung => out.kind = "unhung",
        }
        out
    }
}

impl CardOut {
    /// All about a card.
    #[must_use]
    pub fn of(state: &State, kept: &Kept) -> Self {
        let card = &kept.card;
        let family = state.family_name(kept);
        Self {
            range: state.range_name(kept).to_owned(),
            number: card.number.to_string(),
            name: card.name.to_string(),
            home: kept.home.map(|hook| state.mark(hook)),
            whereabouts: WhereaboutsOut::of(state, kept),
            family: (!family.is_empty()).then(|| family.to_owned()),
            hex: card.colour.map(|colour| colour.to_string()),
            strands: kept.strands.0,
            cut_cm: card.cut_cm,
            reserve: card.reserve,
            dye_lot: card.dye_lot.to_string(),
            note: card.note.to_string(),
            called: state.card_name(kept),
            spare: card.parent.is_some(),
            spare_of: spare_of(state, kept),
            pinned: state.stays(kept),
            weight: card.touch.weight(),
        }
    }
}

impl BoardOut {
    /// A board and who lives on it.
    #[must_use]
    pub fn of(state: &State, board: &Board) -> Self {
        let homes = |hook| match state.index().homes_on(hook) {
            // Most hooks have one card or none, which need no sorting.
            [] => Vec::new(),
            [one] => state.card(*one).into_iter().collect(),
            _ => state.in_wanted_order(state.homes_on(hook)),
        };
        let hook = |hook| HookOut {
            mark: board.mark(hook),
            places: board.places_made(hook),
            blocked: board.blocked(hook).map(ToString::to_string),
            kept_free: board.kept_free(hook),
            homes: homes(hook)
                .iter()
                .map(|kept| CardRef::of(state, kept))
                .collect(),
        };
        Self {
            name: board.name.to_string(),
            prefix: board.prefix.to_string(),
            rows: board.rows,
            columns: board.columns,
            places: board.places,
            reading: board.reading,
            hooks: board.hooks().map(hook).collect(),
        }
    }
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
            used: line.used.into(),
            still_needed: line.left.map(AmountOut::from),
        }
    }
}

/// The stash as a stock list, in wanted order, each card's home as its hook. A spare card has a row of
/// its own, behind all that have homes or may get one, and says which it is. O(cards · log cards).
#[must_use]
pub fn stock_rows(state: &State) -> Vec<StockRow> {
    let words = |text: &str| (!text.is_empty()).then(|| text.to_owned());
    let (whole, spares): (Vec<&Kept>, Vec<&Kept>) =
        (state.cards()).partition(|kept| kept.card.parent.is_none());
    let whole = state.in_wanted_order(whole.into_iter());
    whole
        .into_iter()
        .chain(state.in_wanted_order(spares.into_iter()))
        .zip(2..)
        .map(|(kept, line)| {
            let spare = kept.card.parent.is_some();
            StockRow {
                line,
                range: words(state.range_name(kept)),
                number: kept.card.number.to_string(),
                name: words(kept.card.name.as_str()),
                colour: kept.card.colour,
                family: words(state.family_name(kept)),
                amount: Some(Amount::Lengths(
                    f64::from(kept.strands.0) / f64::from(STRANDS_PER_LENGTH),
                )),
                reserve: (!spare).then_some(kept.card.reserve),
                dye_lot: words(kept.card.dye_lot.as_str()),
                hook: kept.home.map(|hook| state.mark(hook)),
                note: words(kept.card.note.as_str()),
                spare_of: spare.then(|| state.spare_tag(kept)),
            }
        })
        .collect()
}

#[cfg(test)]
mod tests;
