//! Recording the progress of a project.

use std::collections::BTreeMap;
use std::str::FromStr;

use crate::model::label::fold;
use crate::model::ring::{ColourRef, Ring};
use crate::model::thread::Strands;
use crate::stash::event::{Act, Event, ring_changes_said};
use crate::stash::projects::needs::{ThreadNeed, needs, replaced, set_used};
use crate::stash::refusal::Refusal;
use crate::stash::state::State;

/// The text isn't a percentage. Holds the part of it to show.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ParsePercentError(pub String);

/// A part of the whole, 0 to 100 percent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Percent(u8);

impl FromStr for Percent {
    type Err = ParsePercentError;

    /// Parses `40` or `40%`.
    fn from_str(text: &str) -> Result<Self, ParsePercentError> {
        let number = text.trim().trim_end_matches('%').trim_end().parse();
        let percent = number.ok().filter(|percent| *percent <= 100);
        let wrong = || ParsePercentError(text.chars().take(40).collect());
        percent.map(Self).ok_or_else(wrong)
    }
}

/// The progress of a project.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Progress<'a> {
    /// The total thread used of a colour.
    Used {
        /// The colour: `NUMBER` or `RANGE:NUMBER`.
        colour: &'a str,
        /// Whole lengths, as long as those its need is counted in.
        lengths: u32,
        /// Single strands in addition.
        strands: u32,
    },
    /// How much is stitched.
    Done {
        /// Of this colour; `None` for everything the key counts.
        colour: Option<&'a str>,
        /// How much.
        percent: Percent,
    },
}

/// Sets the progress of a project, replacing the recorded one; `None` if nothing changes. A part of
/// a need is rounded down to whole strands, so that the remaining need is rather too high than too
/// low. O(threads² + threads · log cards).
///
/// # Errors
/// When the ring is closed or has no chart key, the key doesn't have the colour or has it in
/// several ranges, or a percentage is given for something that the key doesn't count.
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
                // The part covers everything used for it, including a colour used before a
                // substitution.
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

/// The colour of a chart key named `NUMBER` or `RANGE:NUMBER`, owned or not: one it is stitched in,
/// else one of the chart, which means its substitute.
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
mod tests {
    use super::*;
    use crate::model::number::Number;
    use crate::model::ring::KeyLine;
    use crate::stash::command::ring;
    use crate::stash::event::Act;
    use crate::stash::state::State;
    use crate::stash::testing::projects::{give_key, stash, take, use_up};
    use crate::stash::testing::{Shown as _, add_cards, apply, at, id};
    use crate::text;

    fn state() -> State {
        let mut state = stash(&[("1", 48, 0), ("2", 48, 0)]);
        take(&mut state, "Fox", &["1"]);
        give_key(
            &mut state,
            "Fox",
            &[("1", 10), ("2", 0), ("1", 8), ("77", 5)],
        );
        state
    }

    fn used(state: &State) -> Vec<u64> {
        let ring = state.need_ring("Fox").unwrap();
        let needs = needs(state, ring).into_iter().flatten();
        needs.map(|of| of.in_cm(of.used)).collect()
    }

    fn say(state: &mut State, said: Progress<'_>) -> Option<Act> {
        let event = set(state, state.need_ring("fox").unwrap(), said).unwrap()?;
        apply(state, &event);
        Some(event.act)
    }

    fn refused(state: &State, said: Progress<'_>) -> String {
        set(state, state.need_ring("Fox").unwrap(), said)
            .unwrap_err()
            .shown()
    }

    fn percent(text: &str) -> Percent {
        text.parse().unwrap()
    }

    #[test]
    fn an_amount_replaces_the_recorded_one() {
        let mut state = state();
        use_up(&mut state, "1", 3);
        let amount = |colour, strands| Progress::Used {
            colour,
            lengths: 0,
            strands,
        };
        let act = say(&mut state, amount("1", 14)).unwrap();
        assert_eq!(
            text::history::act(&state, &act),
            "Set the progress of the ring 'Fox'"
        );
        assert_eq!(used(&state), [1_000, 0, 400, 0]);
        assert_eq!(say(&mut state, amount("1", 14)), None);
        // Also for colours that aren't counted, or aren't owned.
        say(&mut state, amount("2", 6)).unwrap();
        say(&mut state, amount("77", 2)).unwrap();
        assert_eq!(used(&state), [1_000, 600, 400, 200]);
        // Thread on the cards is unchanged.
        assert_eq!(state.card(id(&state, "1")).unwrap().strands(), Strands(45));
        say(&mut state, amount("1", 0)).unwrap();
        assert_eq!(used(&state), [0, 600, 0, 200]);
    }

    #[test]
    fn a_percentage_applies_to_a_colour_or_everything_counted() {
        let mut state = state();
        let done = |colour, text| Progress::Done {
            colour,
            percent: percent(text),
        };
        say(&mut state, done(None, "50%")).unwrap();
        // It covers 9 of the 18 strands of one colour, and the first line gets those it needs.
        assert_eq!(used(&state), [900, 0, 0, 200]);
        say(&mut state, done(Some("1"), "100")).unwrap();
        assert_eq!(used(&state), [1_000, 0, 800, 200]);
        say(&mut state, done(None, "0")).unwrap();
        assert_eq!(used(&state), [0; 4]);
        for wrong in ["101", "-1", "half", "", "1.5"] {
            assert!(wrong.parse::<Percent>().is_err(), "{wrong}");
        }
    }

    #[test]
    fn impossible_progress_is_refused() {
        let mut state = state();
        let done = |colour| Progress::Done {
            colour,
            percent: percent("10"),
        };
        assert!(refused(&state, done(Some("2"))).contains("doesn't count those stitches"));
        assert_eq!(
            refused(&state, done(Some(" 9 "))),
            "The key of the project 'Fox' has no 9. See what it has: homehook ring key \"Fox\""
        );
        add_cards(&mut state, &["Cove:5", "Moor:5"]);
        let mut ring = state.need_ring("Fox").unwrap().clone();
        let ranges = ["Cove", "Moor"].map(|name| state.find_range(name).unwrap().id);
        ring.key = ranges
            .map(|range| KeyLine::of(range, Number::new("5").unwrap()))
            .to_vec();
        let one = |colour| Progress::Used {
            colour,
            lengths: 0,
            strands: 1,
        };
        assert_eq!(
            set(&state, &ring, one("5")).unwrap_err().shown(),
            "'5' could be any of: Cove:5, Moor:5. Name it in full."
        );
        assert!(set(&state, &ring, one("moor:5")).unwrap().is_some());
        take(&mut state, "Kite", &["2"]);
        let kite = state.need_ring("Kite").unwrap();
        assert_eq!(
            set(&state, kite, one("2")).unwrap_err().to_string(),
            "no_key"
        );
        let event = ring::give_back_all(&state, state.need_ring("Fox").unwrap(), at(3)).unwrap();
        apply(&mut state, &event);
        let event = ring::close(&state, state.need_ring("Fox").unwrap(), at(4)).unwrap();
        apply(&mut state, &event);
        let fox = state.need_ring("Fox").unwrap();
        assert_eq!(
            set(&state, fox, one("1")).unwrap_err().to_string(),
            "ring_closed"
        );
    }
}
