//! Saying how far a project has come.

use std::str::FromStr;

use crate::language::say;
use crate::model::ids::RangeId;
use crate::model::label::fold;
use crate::model::number::Number;
use crate::model::ring::{KeyEntry, Ring};
use crate::model::thread::Strands;
use crate::stash::change::ring_changes;
use crate::stash::event::{Act, Event};
use crate::stash::kit::progress::{LineNeed, add_used};
use crate::stash::names::list;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;

/// A part of the whole, 0 to 100 percent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Percent(u8);

impl FromStr for Percent {
    type Err = String;

    /// Reads `40` or `40%`.
    fn from_str(text: &str) -> Result<Self, String> {
        let number = text.trim().trim_end_matches('%').trim_end().parse();
        let percent = number.ok().filter(|percent| *percent <= 100);
        percent.map(Self).ok_or_else(|| {
            say!(
                "'{text}' is not a part of the whole; write a whole number from 0 to 100",
                text
            )
        })
    }
}

/// How far a project has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Progress<'a> {
    /// So much thread of a colour was used in all.
    Used {
        /// The colour: `NUMBER` or `RANGE:NUMBER`.
        colour: &'a str,
        /// How many whole lengths, as long as those in which its need is counted.
        lengths: u32,
        /// How many single strands besides.
        strands: u32,
    },
    /// So much is stitched.
    Done {
        /// Of this colour; of all that the key counts where none is named.
        colour: Option<&'a str>,
        /// How much.
        percent: Percent,
    },
}

/// Says how far a project has come, in place of what was known of it; `None` where that was known
/// already. A part of a need is taken as whole strands, rounded down, so that rather too much is
/// still needed than too little. O(lines · log cards).
///
/// # Errors
/// When the ring is closed or has no key, the key has not the colour or has it of several ranges,
/// or a part is said of what the key does not count.
pub fn set(state: &State, ring: &Ring, said: Progress<'_>) -> Result<Option<Event>, Refusal> {
    if ring.is_closed() {
        return Err(Refusal::RingClosed(ring.project.to_string()));
    }
    if ring.key.is_empty() {
        return Err(Refusal::NoKey(ring.project.to_string()));
    }
    let assumed = ring.fabric.unwrap_or_default();
    let mut after = ring.clone();
    match said {
        Progress::Used {
            colour,
            lengths,
            strands,
        } => {
            let (range, number) = in_key(state, ring, colour)?;
            let mut used_cm = 0;
            for entry in after.key.iter_mut().filter(|e| e.is_of(range, &number)) {
                let line = LineNeed::of(state, &assumed, entry);
                let whole = line.put_up.from_lengths(lengths);
                used_cm = line.in_cm(Strands(whole.0.saturating_add(strands)));
                entry.used_cm = 0;
            }
            add_used(state, &mut after, range, &number, used_cm);
        }
        Progress::Done { colour, percent } => {
            let colour = colour.map(|name| in_key(state, ring, name)).transpose()?;
            let is_meant = |entry: &KeyEntry| {
                colour
                    .as_ref()
                    .is_none_or(|(range, number)| entry.is_of(*range, number))
            };
            let mut counted = false;
            for entry in after.key.iter_mut().filter(|entry| is_meant(entry)) {
                let line = LineNeed::of(state, &assumed, entry);
                let Some(need) = line.need else { continue };
                counted = true;
                let used = u64::from(need.strands.0) * u64::from(percent.0) / 100;
                entry.used_cm = used * u64::from(line.cut_cm);
            }
            if !counted {
                return Err(Refusal::NotCounted(ring.project.to_string()));
            }
        }
    }
    Ok((after != *ring).then(|| Event {
        act: Act::Progress { ring: ring.id },
        changes: ring_changes(Some(ring), &after),
    }))
}

/// The colour of a key that a person calls `NUMBER` or `RANGE:NUMBER`, owned or not.
fn in_key(state: &State, ring: &Ring, name: &str) -> Result<(RangeId, Number), Refusal> {
    let range_name = |id| state.range(id).map_or("", |range| range.name.as_str());
    let matching = |number: &str, range: Option<&str>| {
        let mut found: Vec<(RangeId, Number)> = Vec::new();
        for entry in &ring.key {
            if entry.number.key() == fold(number)
                && range.is_none_or(|range| fold(range) == fold(range_name(entry.range)))
                && !found.iter().any(|(range, n)| entry.is_of(*range, n))
            {
                found.push((entry.range, entry.number.clone()));
            }
        }
        found
    };
    let mut found = matching(name, None);
    if found.is_empty()
        && let Some((range, number)) = name.split_once(':')
    {
        found = matching(number, Some(range));
    }
    match found.len() {
        0 => Err(Refusal::NotInKey {
            name: name.trim().to_owned(),
            project: ring.project.to_string(),
        }),
        1 => Ok(found.swap_remove(0)),
        _ => Err(Refusal::Ambiguous {
            name: name.trim().to_owned(),
            choices: list(
                found
                    .iter()
                    .map(|(range, number)| format!("{}:{number}", range_name(*range))),
            ),
        }),
    }
}

#[cfg(test)]
mod tests;
