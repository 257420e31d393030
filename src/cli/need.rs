//! `homehook need`: whether the thread for projects is there.

use std::path::Path;

use serde::Serialize;
use serde_json::json;

use super::failure::Failure;
use super::open;
use super::output::Output;
use crate::exchange::export::{CardRef, WhereaboutsOut};
use crate::model::assumptions::Assumptions;
use crate::model::ids::{CardId, RingId};
use crate::model::thread::Strands;
use crate::stash::kit::check::{Kit, Line, ProjectKit, Standing, check, rings_in_use, rings_named};
use crate::stash::kit::share::{Promise, Source};
use crate::stash::kit::substitute::{Substitute, WARN_ABOVE};
use crate::stash::kit::words::{
    amount_in_words, assumptions_in_words, skeins_in_words, stitches_in_words,
};
use crate::stash::names::list;
use crate::stash::state::State;

/// An amount, in strands and as whole lengths and loose strands.
#[derive(Serialize)]
pub struct AmountOut {
    strands: u32,
    lengths: u32,
    loose: u32,
}

impl From<Strands> for AmountOut {
    fn from(amount: Strands) -> Self {
        Self {
            strands: amount.0,
            lengths: amount.lengths(),
            loose: amount.loose(),
        }
    }
}

#[derive(Serialize)]
struct NeedOut {
    /// Single strand in the stitches, in metres.
    stitched_m: f64,
    /// Single strand with waste and margin, in metres.
    metres: f64,
    strands: u32,
    /// Lengths begun.
    lengths: u32,
    /// Skeins begun.
    skeins: u32,
    /// How long the lengths are, in centimetres.
    cut_cm: u16,
}

#[derive(Serialize)]
struct PromiseOut {
    project: String,
    card: Option<CardRef>,
    /// `own_ring`, `here`, `other_ring` or `reserve`.
    from: &'static str,
    /// The other ring.
    #[serde(skip_serializing_if = "Option::is_none")]
    ring: Option<String>,
    #[serde(flatten)]
    amount: AmountOut,
}

#[derive(Serialize)]
struct SubstituteOut {
    range: String,
    number: String,
    name: String,
    /// CIEDE2000.
    difference: f64,
    /// Whether the difference is plain to see.
    far: bool,
    free: AmountOut,
    enough: Option<bool>,
    whereabouts: WhereaboutsOut,
}

#[derive(Serialize)]
struct LineOut {
    symbol: String,
    range: String,
    number: String,
    name: String,
    status: Standing,
    needed: Option<NeedOut>,
    promised: Vec<PromiseOut>,
    /// What the cards lack.
    short: AmountOut,
    /// Uncut skeins that help.
    reserve_skeins: u32,
    /// What is lacking even then.
    to_buy: AmountOut,
    others: Vec<PromisedOut>,
    substitutes: Vec<SubstituteOut>,
}

#[derive(Serialize)]
struct PromisedOut {
    project: String,
    #[serde(flatten)]
    amount: AmountOut,
}

#[derive(Serialize)]
struct ProjectOut {
    project: String,
    /// Whether somebody said how it is stitched.
    fabric_said: bool,
    assumptions: Assumptions,
    entries: Vec<LineOut>,
}

/// The name of a project.
pub fn project_name(state: &State, ring: RingId) -> String {
    state
        .ring(ring)
        .map_or_else(String::new, |ring| ring.project.to_string())
}

fn promise_out(state: &State, promise: &Promise) -> PromiseOut {
    let (from, ring) = match promise.source {
        Source::OwnRing => ("own_ring", None),
        Source::Here => ("here", None),
        Source::OtherRing(ring) => ("other_ring", Some(project_name(state, ring))),
        Source::Reserve => ("reserve", None),
    };
    let card = state.card(promise.card);
    PromiseOut {
        project: project_name(state, promise.ring),
        card: card.map(|kept| CardRef::of(state, kept)),
        from,
        ring,
        amount: promise.strands.into(),
    }
}

fn line_out(state: &State, line: &Line<'_>) -> LineOut {
    let entry = line.entry;
    let range = state.range(entry.range);
    let others = line.others.iter().map(|&(ring, strands)| PromisedOut {
        project: project_name(state, ring),
        amount: strands.into(),
    });
    let substitutes = line.substitutes.iter().filter_map(|found| {
        let kept = state.card(found.card)?;
        let CardRef { range, number } = CardRef::of(state, kept);
        Some(SubstituteOut {
            range,
            number,
            name: kept.card.name.to_string(),
            difference: found.difference,
            far: found.is_far(),
            free: found.free.into(),
            enough: found.enough,
            whereabouts: WhereaboutsOut::of(state, kept),
        })
    });
    LineOut {
        symbol: entry.symbol.to_string(),
        range: range.map_or_else(String::new, |range| range.name.to_string()),
        number: entry.number.to_string(),
        name: state.entry_name(entry).to_owned(),
        status: line.standing,
        needed: line.need.map(|need| NeedOut {
            stitched_m: need.stitched_m,
            metres: need.metres,
            strands: need.strands.0,
            lengths: need.lengths(),
            skeins: need.skeins(line.cut_cm),
            cut_cm: line.cut_cm,
        }),
        promised: line
            .promises
            .iter()
            .map(|promise| promise_out(state, promise))
            .collect(),
        short: line.short.into(),
        reserve_skeins: line.reserve_skeins,
        to_buy: line.lacking.into(),
        others: others.collect(),
        substitutes: substitutes.collect(),
    }
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
        let projects: Vec<ProjectOut> = kit
            .projects
            .iter()
            .map(|project| ProjectOut {
                project: project.ring.project.to_string(),
                fabric_said: project.ring.fabric.is_some(),
                assumptions: project.assumed,
                entries: project.lines.iter().map(|l| line_out(state, l)).collect(),
            })
            .collect();
        let promises = kit.promises.iter().map(|p| promise_out(state, p));
        output.object(&json!({
            "projects": projects,
            "promises": promises.collect::<Vec<_>>(),
            "substitute_warning_above": WARN_ABOVE,
        }))?;
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
    let needs = line.need.map_or_else(
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
        Standing::OnRing => "enough: on its ring".to_owned(),
        Standing::Home => {
            let here = line.promises.iter().filter(|p| p.source == Source::Here);
            let mut text = format!("enough: {}", list(here.map(|p| place(p.card))));
            if line.promises.iter().any(|p| p.source == Source::OwnRing) {
                text.push_str(", and some on its ring");
            }
            text
        }
        Standing::Decant => format!(
            "enough, to decant: {}",
            from(|source| matches!(source, Source::OtherRing(_)))
        ),
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
        count(|s| matches!(s, Standing::OnRing | Standing::Home)),
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
