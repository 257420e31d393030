//! Saying how far a project has come.

use std::collections::BTreeMap;
use std::str::FromStr;

use crate::model::label::fold;
use crate::model::ring::{ColourRef, Ring};
use crate::model::thread::Strands;
use crate::stash::event::{Act, Event, ring_changes_said};
use crate::stash::kit::progress::{ThreadNeed, needs, replaced, set_used};
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
            format!("'{text}' is not a part of the whole; write a whole number from 0 to 100")
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
/// still needed than too little. O(threads² + threads · log cards).
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
    let mut after = ring.clone();
    let needs: Vec<ThreadNeed> = needs(state, ring).into_iter().flatten().collect();
    match said {
        Progress::Used {
            colour,
            lengths,
            strands,
        } => {
            let colour = in_key(state, ring, colour)?;
            let mut threads = ring.threads().zip(&needs);
            let of = threads.find(|(thread, _)| thread.stitched() == colour);
            // Threads of one colour count in strands of the same length.
            let used_cm = of.map_or(0, |(_, need)| {
                let whole = need.put_up.from_lengths(lengths);
                need.in_cm(Strands(whole.0.saturating_add(strands)))
            });
            set_used(&mut after, colour, used_cm);
        }
        Progress::Done { colour, percent } => {
            let colour = colour.map(|name| in_key(state, ring, name)).transpose()?;
            let mut done: BTreeMap<&ColourRef, u64> = BTreeMap::new();
            for (thread, of) in ring.threads().zip(&needs) {
                let stitched = thread.stitched();
                if colour.is_some_and(|colour| colour != stitched) {
                    continue;
                }
                let Some(need) = of.need else { continue };
                let used = u64::from(need.strands.0) * u64::from(percent.0) / 100;
                let sum = done.entry(stitched).or_default();
                *sum = sum.saturating_add(used * u64::from(of.cut_cm));
                // The part is all that was used for it, with whichever colour it began.
                if let Some(replaced) = replaced(ring, thread) {
                    after.used.remove(replaced);
                }
            }
            if done.is_empty() {
                return Err(Refusal::NotCounted(ring.project.to_string()));
            }
            for (colour, used_cm) in done {
                set_used(&mut after, colour, used_cm);
            }
        }
    }
    Ok((after != *ring).then(|| Event {
        act: Act::Progress { ring: ring.id },
        changes: ring_changes_said(ring, &after),
    }))
}

/// The colour of a key that a person calls `NUMBER` or `RANGE:NUMBER`, owned or not: one it is
/// stitched in, else one of the chart, which means the one used in its place.
fn in_key<'a>(state: &State, ring: &'a Ring, name: &str) -> Result<&'a ColourRef, Refusal> {
    let range_name = |id| state.range(id).map_or("", |range| range.name.as_str());
    let matching = |number: &str, range: Option<&str>| {
        let is_meant = |colour: &ColourRef| {
            colour.number.key() == fold(number)
                && range.is_none_or(|range| fold(range) == fold(range_name(colour.range)))
        };
        let colours = ring.colours().into_iter();
        let mut found: Vec<&ColourRef> = colours.filter(|colour| is_meant(colour)).collect();
        if found.is_empty() {
            for thread in ring.threads().filter(|thread| is_meant(&thread.colour)) {
                if !found.contains(&thread.stitched()) {
                    found.push(thread.stitched());
                }
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
            choices: found
                .iter()
                .map(|colour| format!("{}:{}", range_name(colour.range), colour.number))
                .collect(),
        }),
    }
}

#[cfg(test)]
mod tests;
