//! `homehook find` and `where`.

use std::path::Path;

use jiff::Timestamp;
use serde::Serialize;

use super::failure::Failure;
use super::output::{Output, shortened};
use super::{open, plain};
use crate::exchange::export::{CardOut, RingOut};
use crate::model::ring::ColourRef;
use crate::stash::find::NotOwned;
use crate::stash::state::{AwayReason, CardState, State};
use crate::stash::whereabouts;
use crate::text::export;
use crate::text::{self, cards};

/// What was found.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct Found {
    /// The cards of the stash that match, the best match first.
    matches: Vec<CardOut>,
    /// Colours that match and that no card has.
    not_owned: Vec<NotOwnedOut>,
}

/// A colour of a range or a chart key that no card of the stash has.
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
    /// The open projects whose chart key has it.
    needed_by: Vec<String>,
    /// The cards that match it, by the conversion list.
    owned_matches: Vec<CardOut>,
}

impl NotOwnedOut {
    fn of(state: &State, found: &NotOwned) -> Option<Self> {
        let range = state.range(found.range)?;
        let shade = range.shades.get(&found.number);
        let colour = shade.and_then(|shade| shade.colour);
        let matches = found.matches.iter().filter_map(|&card| state.card(card));
        let rings = found.needed_by.iter().filter_map(|&ring| state.ring(ring));
        Some(Self {
            range: range.name.to_string(),
            number: found.number.to_string(),
            name: found.name.to_string(),
            hex: colour.map(|colour| colour.to_string()),
            needed_by: rings.map(|ring| ring.project.to_string()).collect(),
            owned_matches: matches
                .map(|kept| CardOut::of(export(state), kept))
                .collect(),
        })
    }
}

/// Finds a colour.
pub(crate) fn find(text: &str, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let reading = open::reading(dir, output)?;
    let state = reading.state();
    let found: Vec<&CardState> = state
        .find(text)
        .into_iter()
        .filter_map(|found| state.card(found.card))
        .collect();
    let not_owned = state.find_not_owned(text);
    if output.is_json() {
        let matches: Vec<CardOut> = found
            .iter()
            .map(|kept| CardOut::of(export(state), kept))
            .collect();
        let not_owned = not_owned.iter();
        let not_owned = not_owned.filter_map(|found| NotOwnedOut::of(state, found));
        output.object(&Found {
            matches,
            not_owned: not_owned.collect(),
        })?;
        return Ok(());
    }
    let now = Timestamp::now();
    for kept in &found {
        output.line(card_line(state, kept, now))?;
    }
    for shade in &not_owned {
        output.line(format!(
            "{range} {number}  {name}   {not_owned}",
            range = state.range(shade.range).map_or("", |of| of.name.as_str()),
            number = shade.number,
            name = shade.name,
            not_owned = text::thread::not_owned(state, shade)
        ))?;
    }
    if found.is_empty() && not_owned.is_empty() {
        let nothing = format!("Nothing found for '{text}'.");
        output.line(shortened(&nothing))?;
    }
    Ok(())
}

/// `Lantern Hill 447  river slate   home C07   on the ring 'Harbour at Dusk' since 12 Oct (44 days)`
fn card_line(state: &State, kept: &CardState, now: Timestamp) -> String {
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
    let place = if AwayReason::of(kept).is_none() {
        "at home".to_owned()
    } else {
        format!(
            "{} {}{}",
            text::places::place_of(state, kept),
            plain::since(kept.place.since, now),
            text::places::last_seen_with(state, kept)
                .map_or_else(String::new, |with| format!(", {with}"))
        )
    };
    let held = if state.stays(kept) { "   held" } else { "" };
    let colour = ColourRef::new(card.range, card.number.clone());
    let variegated = if state.is_variegated(card) {
        "   variegated"
    } else {
        ""
    };
    let scarce = text::thread::scarcity(state, &colour);
    format!(
        "{range} {number}{split_card}  {name}   {thread}   {home}   {place}{held}{variegated}{scarce}",
        range = state.range_name(kept),
        number = state.number_and_tag(kept),
        name = card.name,
        thread = text::thread::by_lot(&kept.thread, state.put_up(card)),
        scarce = scarce.map_or_else(String::new, |words| format!("   {words}"))
    )
}

/// Every card that is not at home.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct Away {
    /// The rings with cards on them.
    rings: Vec<OnRing>,
    /// Cards to hang.
    to_hang: Vec<CardOut>,
    /// Cards that are missing.
    missing: Vec<CardOut>,
    /// Cards that are somewhere else, such as lent.
    elsewhere: Vec<CardOut>,
}

/// A ring and the cards on it.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct OnRing {
    /// The project.
    project: String,
    /// The hook the ring hangs on.
    hangs_at: Option<String>,
    /// The cards on it.
    cards: Vec<CardOut>,
}

/// Lists every card that is not at home.
pub(crate) fn away(dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let reading = open::reading(dir, output)?;
    let state = reading.state();
    plain::call_out_overdue(state, output);
    let away = state.away();
    let none = away.is_empty();
    let whereabouts::Away {
        rings,
        to_hang,
        missing,
        elsewhere,
    } = away;
    if output.is_json() {
        let out = |cards: &[&CardState]| -> Vec<CardOut> {
            cards
                .iter()
                .map(|kept| CardOut::of(export(state), kept))
                .collect()
        };
        let rings = rings.iter().filter_map(|(id, on)| {
            let ring = RingOut::of(export(state), state.ring(*id)?);
            Some(OnRing {
                project: ring.project,
                hangs_at: ring.hangs_at,
                cards: out(on),
            })
        });
        output.object(&Away {
            rings: rings.collect(),
            to_hang: out(&to_hang),
            missing: out(&missing),
            elsewhere: out(&elsewhere),
        })?;
        return Ok(());
    }
    let now = Timestamp::now();
    for (id, on) in &rings {
        if let Some(ring) = state.ring(*id) {
            output.line(plain::ring_line(state, ring, now))?;
        }
        list(state, on, now, output)?;
    }
    for (what, group) in [
        ("To hang", &to_hang),
        ("Missing", &missing),
        ("Elsewhere", &elsewhere),
    ] {
        if !group.is_empty() {
            let count = u32::try_from(group.len()).unwrap_or(u32::MAX);
            output.line(format_args!("{what}: {}", cards(count)))?;
            list(state, group, now, output)?;
        }
    }
    if none {
        output.line("Every card is at home.")?;
    }
    Ok(())
}

fn list(
    state: &State,
    cards: &[&CardState],
    now: Timestamp,
    output: &mut Output,
) -> Result<(), Failure> {
    for kept in cards {
        let home = kept.home.map_or_else(String::new, |hook| {
            format!("home {hook}, ", hook = state.hook_name(hook))
        });
        let place = match kept.place.at.ring() {
            Some(_) => String::new(),
            None => format!("{} ", text::places::place_of(state, kept)),
        };
        let with = text::places::last_seen_with(state, kept);
        output.line(format_args!(
            "  {}: {home}{place}{}{}",
            text::places::card_and_colour(state, kept),
            plain::since(kept.place.since, now),
            with.map_or_else(String::new, |with| format!(", {with}"))
        ))?;
    }
    Ok(())
}
