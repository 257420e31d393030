//! `homehook where`.

use std::path::Path;

use jiff::Timestamp;
use serde::Serialize;

use super::failure::Failure;
use super::output::Output;
use super::{open, plain, time};
use crate::exchange::export::{CardOut, RingOut};
use crate::stash::state::{CardState, State};
use crate::text;
use crate::text::cards;

/// Every card that is not at home.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Away {
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
pub fn run(dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let reading = open::reading(dir, output)?;
    let state = reading.state();
    let away = state.away();
    if output.is_json() {
        let out = |cards: &[&CardState]| -> Vec<CardOut> {
            cards.iter().map(|kept| CardOut::of(state, kept)).collect()
        };
        let rings = away.rings.iter().filter_map(|(id, on)| {
            let ring = RingOut::of(state, state.ring(*id)?);
            Some(OnRing {
                project: ring.project,
                hangs_at: ring.hangs_at,
                cards: out(on),
            })
        });
        output.object(&Away {
            rings: rings.collect(),
            to_hang: out(&away.to_hang),
            missing: out(&away.missing),
            elsewhere: out(&away.elsewhere),
        })?;
        return Ok(());
    }
    let now = Timestamp::now();
    for (id, on) in &away.rings {
        if let Some(ring) = state.ring(*id) {
            output.line(plain::ring_line(state, ring, now))?;
        }
        list(state, on, now, output)?;
    }
    for (what, group) in [
        ("To hang", &away.to_hang),
        ("Missing", &away.missing),
        ("Elsewhere", &away.elsewhere),
    ] {
        if !group.is_empty() {
            let count = u32::try_from(group.len()).unwrap_or(u32::MAX);
            output.line(format_args!("{what}: {}", cards(count)))?;
            list(state, group, now, output)?;
        }
    }
    if away.is_empty() {
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
            "  {}  {}: {home}{place}{}{}",
            state.card_name(kept),
            kept.card.name,
            time::since(kept.place.since, now),
            with.map_or_else(String::new, |with| format!(", {with}"))
        ))?;
    }
    Ok(())
}
