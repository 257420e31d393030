//! `homehook find`.

use std::path::Path;

use jiff::Timestamp;
use serde::Serialize;

use super::failure::Failure;
use super::output::{Output, shortened};
use super::{open, time};
use crate::exchange::export::CardOut;
use crate::model::whereabouts::Whereabouts;
use crate::stash::find::NotOwned;
use crate::stash::state::{CardState, State};
use crate::text;

/// What was found.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Found {
    /// The cards of the stash that match, the best match first.
    matches: Vec<CardOut>,
    /// Colours that match and that no card has.
    not_owned: Vec<NotOwnedOut>,
}

/// A colour of a range that no card of the stash has.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct NotOwnedOut {
    /// The range's name.
    range: String,
    /// The number.
    number: String,
    /// The colour's name; may be empty.
    name: String,
    /// The colour, `#RRGGBB`.
    #[cfg_attr(test, schemars(with = "Option<crate::model::schema::Hex>"))]
    hex: Option<String>,
}

impl NotOwnedOut {
    fn of(state: &State, found: &NotOwned) -> Option<Self> {
        let range = state.range(found.range)?;
        let shade = range.shades.get(&found.number)?;
        Some(Self {
            range: range.name.to_string(),
            number: found.number.to_string(),
            name: shade.name.to_string(),
            hex: shade.colour.map(|colour| colour.to_string()),
        })
    }
}

/// Finds a colour.
pub fn run(text: &str, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let reading = open::reading(dir, output)?;
    let state = reading.state();
    let found: Vec<&CardState> = state
        .find(text)
        .into_iter()
        .filter_map(|found| state.card(found.card))
        .collect();
    let not_owned: Vec<NotOwnedOut> = state
        .find_not_owned(text)
        .iter()
        .filter_map(|found| NotOwnedOut::of(state, found))
        .collect();
    if output.is_json() {
        let matches: Vec<CardOut> = found.iter().map(|kept| CardOut::of(state, kept)).collect();
        output.object(&Found { matches, not_owned })?;
        return Ok(());
    }
    let now = Timestamp::now();
    for kept in &found {
        output.line(in_words(state, kept, now))?;
    }
    for shade in &not_owned {
        output.line(format!(
            "{range} {number}  {name}   not owned",
            range = shade.range,
            number = shade.number,
            name = shade.name
        ))?;
    }
    if found.is_empty() && not_owned.is_empty() {
        let nothing = format!("Nothing found for '{text}'.");
        output.line(shortened(&nothing))?;
    }
    Ok(())
}

/// `Lantern Hill 310  river slate   home C07   on the ring 'Harbour at Dusk' since 12 Oct (44 days)`
fn in_words(state: &State, kept: &CardState, now: Timestamp) -> String {
    let card = &kept.card;
    let whole = card.parent.and_then(|parent| state.card(parent));
    let split_card = whole.map_or_else(String::new, |_| {
        format!(" (split: {card})", card = state.card_name(kept))
    });
    let home = match (kept.home, whole) {
        (Some(hook), _) => format!("home {hook}", hook = state.hook_name(hook)),
        (None, Some(whole)) => format!("belongs on {whole}", whole = state.card_name(whole)),
        (None, None) => "no home yet".to_owned(),
    };
    let place = match kept.place.at {
        Whereabouts::Hook { hook } if kept.home == Some(hook) => "at home".to_owned(),
        _ => format!(
            "{} {}{}",
            text::places::place_of(state, kept),
            time::since(kept.place.since, now),
            text::places::last_seen_with(state, kept)
                .map_or_else(String::new, |with| format!(", {with}"))
        ),
    };
    let held = if state.stays(kept) { "   held" } else { "" };
    format!(
        "{} {}{split_card}  {}   {home}   {place}{held}",
        state.range_name(kept),
        state.number_and_tag(kept),
        card.name
    )
}
