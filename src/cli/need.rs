//! `homehook need`: whether the thread for projects is there.

mod json;

use std::path::Path;

use super::failure::Failure;
use super::open;
use super::output::Output;
use crate::model::ids::{CardId, RingId};
use crate::model::thread::Strands;
use crate::stash::kit::check::{Kit, Line, ProjectKit, Standing, check, rings_in_use, rings_named};
use crate::stash::kit::low::{low, low_in_words};
use crate::stash::kit::share::Source;
use crate::stash::kit::substitute::{Substitute, WARN_ABOVE};
use crate::stash::kit::words::{
    amount_in_words, assumptions_in_words, skeins_in_words, stitches_in_words, used_in_words,
};
use crate::stash::names::list;
use crate::stash::state::State;

/// The name of a project.
pub fn project_name(state: &State, ring: RingId) -> String {
    state
        .ring(ring)
        .map_or_else(String::new, |ring| ring.project.to_string())
}

/// Checks the projects named, or those in use.
pub fn run(projects: &[String], dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let reading = open::reading(dir, output)?;
    let state = reading.state();
    let rings = if projects.is_empty() {
        rings_in_use(state)?
    } else {
        rings_named(state, projects)?
    };
    let kit = check(state, &rings);
    if output.is_json() {
        output.object(&json::answer(state, &kit))?;
        return Ok(());
    }
    say(state, &kit, output)
}

fn say(state: &State, kit: &Kit<'_>, output: &mut Output) -> Result<(), Failure> {
    for (at, project) in kit.projects.iter().enumerate() {
        if at > 0 {
            output.line("")?;
        }
        heading(project, output)?;
        for line in &project.lines {
            output.line(line_in_words(state, line))?;
            for found in &line.substitutes {
                output.line(substitute_in_words(state, found))?;
            }
            if line.standing.is_missing() && line.substitutes.is_empty() {
                let why = match state.entry_colour(line.entry) {
                    None => "its colour is not known; a shade list of its range would tell",
                    Some(_) => "no other colour with thread to spare has its colour noted",
                };
                output.line(format_args!("       nothing to stand in: {why}"))?;
            }
        }
        output.line(sum_in_words(project))?;
        for low in low(state, project.ring) {
            output.line(format_args!("  Low: {}.", low_in_words(state, &low)))?;
        }
    }
    let far = |line: &Line<'_>| line.substitutes.iter().any(Substitute::is_far);
    if kit.projects.iter().any(|p| p.lines.iter().any(far)) {
        output.line("")?;
        output.line(format_args!(
            "A stand-in that differs by more than {WARN_ABOVE} (CIEDE2000) is another colour to \
             the eye: about 1 is just seen side by side. Match by the thread in daylight."
        ))?;
    }
    let to_buy = |line: &Line<'_>| line.lacking > Strands(0) || line.standing == Standing::NotOwned;
    if kit.projects.iter().any(|p| p.lines.iter().any(to_buy)) {
        let names = kit.projects.iter();
        let names = names.map(|project| format!(" \"{}\"", project.ring.project));
        output.line(format_args!(
            "What to buy: homehook buy{}",
            names.collect::<String>()
        ))?;
    }
    Ok(())
}

fn heading(project: &ProjectKit<'_>, output: &mut Output) -> Result<(), Failure> {
    let name = &project.ring.project;
    output.line(name)?;
    output.line(format_args!(
        "  Reckoned for {}.",
        assumptions_in_words(&project.assumed)
    ))?;
    if project.ring.fabric.is_none() {
        output.line(format_args!(
            "  Nobody has said what it is stitched on: homehook ring fabric \"{name}\" --count 14 \
             --over 1 --strands 2"
        ))?;
    }
    Ok(())
}

/// `  X  Lantern Hill 310  lamp black   needs 5 lengths (1000 full)   enough: at home on hook C07`
fn line_in_words(state: &State, line: &Line<'_>) -> String {
    let entry = line.entry;
    let range = state.range(entry.range);
    let mut needs = line.need.map_or_else(
        || "stitches not counted".to_owned(),
        |need| {
            format!(
                "needs {}, {:.1} m ({})",
                amount_in_words(need.strands),
                need.metres,
                stitches_in_words(entry)
            )
        },
    );
    if let Some(used) = used_in_words(line.used, line.left) {
        needs.push_str(&format!(", {used}"));
    }
    let mut text = format!(
        "  {:<2} {} {}  {}   {needs}   {}",
        entry.symbol,
        range.map_or("", |range| range.name.as_str()),
        entry.number,
        state.entry_name(entry),
        standing_in_words(state, line)
    );
    if !line.standing.is_enough() && !line.others.is_empty() {
        let others = line.others.iter().map(|&(ring, amount)| {
            format!(
                "'{}' {}",
                project_name(state, ring),
                amount_in_words(amount)
            )
        });
        text.push_str(&format!(" (promised elsewhere: {})", list(others)));
    }
    text
}

fn standing_in_words(state: &State, line: &Line<'_>) -> String {
    let place = |card: CardId| {
        state
            .card(card)
            .map_or_else(String::new, |kept| state.place_in_words(kept))
    };
    let from = |is: fn(Source) -> bool| {
        let promises = line.promises.iter().filter(move |p| is(p.source));
        list(promises.map(|p| format!("{} {}", amount_in_words(p.strands), place(p.card))))
    };
    let cards = || {
        let cards = state.cards_of(line.entry);
        list(cards.map(|kept| state.place_in_words(kept)))
    };
    match line.standing {
        Standing::Done => "enough: all it needs is used".to_owned(),
        Standing::OnRing => "enough: on its ring".to_owned(),
        Standing::Home => {
            let here = line.promises.iter().filter(|p| p.source == Source::Here);
            let mut text = format!("enough: {}", list(here.map(|p| place(p.card))));
            if line.promises.iter().any(|p| p.source == Source::OwnRing) {
                text.push_str(", and some on its ring");
            }
            text
        }
        Standing::Decant => {
            let keyless = line
                .promises
                .iter()
                .filter_map(|promise| match promise.source {
                    Source::OtherRing(ring) => state.ring(ring).filter(|ring| ring.key.is_empty()),
                    _ => None,
                });
            let names = list(keyless.map(|ring| format!("'{}'", ring.project)));
            let unknown = if names.is_empty() {
                names
            } else {
                format!(" (what {names} needs is not known: no key)")
            };
            let where_from = from(|source| matches!(source, Source::OtherRing(_)));
            format!("enough, to decant: {where_from}{unknown}")
        }
        Standing::Short => {
            let there = from(|source| source != Source::Reserve);
            let there = if there.is_empty() {
                String::new()
            } else {
                format!(" (has {there})")
            };
            format!(
                "short by {}{there}{}",
                amount_in_words(line.short),
                rest(line)
            )
        }
        Standing::Uncounted => format!("owned: {}", cards()),
        Standing::Lost => format!("{}{}", cards(), rest(line)),
        Standing::NotOwned => "missing, not owned".to_owned(),
    }
}

/// What uncut skeins do about a shortage.
fn rest(line: &Line<'_>) -> String {
    let skeins = skeins_in_words(line.reserve_skeins);
    let covers = if line.reserve_skeins == 1 {
        "covers"
    } else {
        "cover"
    };
    match (line.reserve_skeins, line.lacking) {
        (0, _) => String::new(),
        (_, Strands(0)) => format!("; {skeins} in reserve {covers} it"),
        (_, lacking) => format!("; {} after {skeins} in reserve", amount_in_words(lacking)),
    }
}

fn substitute_in_words(state: &State, found: &Substitute) -> String {
    let Some(kept) = state.card(found.card) else {
        return String::new();
    };
    let enough = match found.enough {
        Some(true) => ", enough",
        Some(false) => ", not enough",
        None => "",
    };
    let warning = if found.is_far() {
        "   plainly another colour"
    } else {
        ""
    };
    format!(
        "       could stand in: {}  {}   differs by {:.1}   {} free{enough}, {}{warning}",
        state.card_name(kept),
        kept.card.name,
        found.difference,
        amount_in_words(found.free),
        state.place_in_words(kept)
    )
}

fn sum_in_words(project: &ProjectKit<'_>) -> String {
    let count = |is: fn(Standing) -> bool| {
        let lines = project.lines.iter();
        lines.filter(|line| is(line.standing)).count()
    };
    let mut text = format!(
        "  {} enough, {} to decant, {} short, {} missing",
        count(|s| matches!(s, Standing::Done | Standing::OnRing | Standing::Home)),
        count(|s| s == Standing::Decant),
        count(|s| s == Standing::Short),
        count(Standing::is_missing)
    );
    let uncounted = count(|s| s == Standing::Uncounted);
    if uncounted > 0 {
        text.push_str(&format!(", {uncounted} owned but not counted in the key"));
    }
    text.push('.');
    text
}
