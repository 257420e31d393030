//! `homehook need`: whether you have the thread for your projects.

use std::path::Path;

use serde::Serialize;

use super::failure::Failure;
use super::open;
use super::output::Output;
use crate::engine::need::crosses_in_skein;
use crate::exchange::export::{AmountOut, CardRef, ColourOut, LowOut, NotionOut, WhereaboutsOut};
use crate::model::assumptions::{Assumptions, Way};
use crate::model::card::USUAL_CUT_CM;
use crate::model::ids::RingId;
use crate::model::range::{PutUp, ThreadKind};
use crate::model::ring::Ring;
use crate::model::thread::{Lot, Strands};
use crate::stash::projects::kit::{
    Availability, Kit, Line, ProjectKit, ThreadLine, check, rings_in_use, rings_named,
};
use crate::stash::projects::low::low;
use crate::stash::projects::needs::usual_put_up;
use crate::stash::projects::supply::{Allocation, Likeness, Source, Substitute, WARN_ABOVE};
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::text;
use crate::text::export;

/// Thread that is needed.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct NeedOut {
    /// Single strand in the stitches, in metres.
    stitched_m: f64,
    /// Single strand with waste and margin, in metres.
    metres: f64,
    /// Single strands, each as long as the lengths.
    strands: u32,
    /// Lengths begun.
    lengths: u32,
    /// Skeins begun.
    skeins: u32,
    /// How long the lengths are, in centimetres.
    cut_cm: u16,
    /// How its crosses are worked: one by one where the colour changes along the thread.
    way: Way,
}

/// Where promised thread is.
#[derive(Clone, Copy, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
enum SourceOut {
    /// On the project's own ring.
    OwnRing,
    /// On the wall, to hang, or elsewhere.
    Here,
    /// On another ring.
    OtherRing,
    /// In an uncut skein.
    Uncut,
}

/// Thread promised to a project.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct PromiseOut {
    /// The project it is promised to.
    project: String,
    /// The card it is on.
    card: Option<CardRef>,
    /// The dye lot; empty where none is noted.
    lot: String,
    /// Where the thread is.
    from: SourceOut,
    /// The project of the other ring; only where it is on one.
    #[serde(skip_serializing_if = "Option::is_none")]
    ring: Option<String>,
    /// How much.
    #[serde(flatten)]
    amount: AmountOut,
}

/// Why a colour can stand in.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
enum LikenessOut {
    /// The conversion list says that it matches.
    Match,
    /// It looks like the colour wanted.
    Colour,
}

/// A colour that can stand in.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct SubstituteOut {
    /// The range's name.
    range: String,
    /// The number.
    number: String,
    /// The colour's name; may be empty.
    name: String,
    /// Why it can stand in.
    reason: LikenessOut,
    /// How much the colour differs, by CIEDE2000; `null` for a match of the conversion list.
    difference: Option<f64>,
    /// Whether the difference is plain to see.
    far: bool,
    /// What is free of it.
    free: AmountOut,
    /// Whether that is enough; `null` where the key does not say how much is needed.
    enough: Option<bool>,
    /// Where the card is.
    whereabouts: WhereaboutsOut,
}

/// A line of the key, with all there is of its threads.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct LineOut {
    /// The symbol; may be empty.
    symbol: String,
    /// Its only thread; not for a blend or a notion.
    #[serde(flatten)]
    only: Option<ThreadOut>,
    /// Its threads: several for a blend, none for a notion.
    threads: Vec<ThreadOut>,
    /// What is sewn on, where it is a notion.
    #[serde(skip_serializing_if = "Option::is_none")]
    notion: Option<NotionOut>,
}

/// How a thread of the key stands.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct ThreadOut {
    /// The name of its range in the chart.
    range: String,
    /// Its number in the chart.
    number: String,
    /// The name of the colour that is stitched; may be empty.
    name: String,
    /// The colour that is stitched in its place.
    #[serde(skip_serializing_if = "Option::is_none")]
    stitched_with: Option<ColourOut>,
    /// How it stands.
    status: Availability,
    /// What is needed in all; `null` where the key counts no stitches.
    needed: Option<NeedOut>,
    /// What was used of it.
    used: AmountOut,
    /// What is still needed, which all that follows is about; `null` where the key counts no stitches.
    still_needed: Option<AmountOut>,
    /// Where that comes from.
    promised: Vec<PromiseOut>,
    /// What the cards lack.
    short: AmountOut,
    /// Uncut skeins that help.
    uncut_skeins: u32,
    /// What is lacking even then.
    to_buy: AmountOut,
    /// The dye lots that all lines of the project get of the colour: more than one where they would be mixed.
    lots: Vec<String>,
    /// Lots that are used up on the ring of the project, which used some of the colour.
    used_up_lots: Vec<String>,
    /// One of several lots that there is enough of; `null` where none is.
    lasting_lot: Option<String>,
    /// Whether the colour changes along the thread, so that crosses are worked one by one.
    variegated: bool,
    /// Whether the maker no longer makes it.
    discontinued: bool,
    /// What other projects are promised of the colour.
    others: Vec<PromisedOut>,
    /// Colours that can stand in: those that match by the conversion list, then the nearest.
    substitutes: Vec<SubstituteOut>,
}

/// Thread of a colour that another project is promised.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct PromisedOut {
    /// The project.
    project: String,
    /// How much.
    #[serde(flatten)]
    amount: AmountOut,
}

/// Whether the thread for projects is there.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct NeedAnswer {
    /// The projects, in the order in which they share the stash.
    projects: Vec<ProjectOut>,
    /// All thread that is promised.
    promises: Vec<PromiseOut>,
    /// The difference, by CIEDE2000, above which a stand-in is another colour to the eye.
    substitute_warning_above: f64,
}

/// A project and how its threads stand.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct ProjectOut {
    /// The project.
    project: String,
    /// Whether a fabric is set; else the usual one is assumed.
    fabric_said: bool,
    /// What is assumed of the fabric.
    assumptions: Assumptions,
    /// Full crosses that a skein covers so, before the margin: of the first colour whose thread is divided.
    crosses_in_skein: u32,
    /// The lines of the key, in order.
    entries: Vec<LineOut>,
    /// The colours that run low on the ring.
    low: Vec<LowOut>,
}

pub(crate) fn project_name(state: &State, ring: RingId) -> String {
    state
        .ring(ring)
        .map_or_else(String::new, |ring| ring.project.to_string())
}

/// The given projects, or those in use; in that case a note lists the ones left out.
pub(crate) fn asked_for<'a>(
    state: &'a State,
    projects: &[String],
    output: &Output,
) -> Result<Vec<&'a Ring>, Refusal> {
    if !projects.is_empty() {
        return rings_named(state, projects);
    }
    let rings = rings_in_use(state)?;
    if let Some(hanging) = text::thread::hanging_projects(state) {
        output.note(
            "left_out",
            format!("left out, hanging on a hook: {hanging}; name a project to ask for it"),
        );
    }
    Ok(rings)
}

/// Checks the given projects, or those in use.
pub(crate) fn run(projects: &[String], dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let reading = open::reading(dir, output)?;
    let state = reading.state();
    let rings = asked_for(state, projects, output)?;
    let kit = check(state, &rings);
    if output.is_json() {
        output.object(&answer(state, &kit))?;
        return Ok(());
    }
    say(state, &kit, output)
}

fn say(state: &State, kit: &Kit<'_>, output: &mut Output) -> Result<(), Failure> {
    for (at, project) in kit.projects.iter().enumerate() {
        if at > 0 {
            output.line("")?;
        }
        heading(state, project, output)?;
        for line in &project.lines {
            if line.line.notion().is_some() {
                let notion = text::thread::notion(line.line);
                output.line(format_args!("  {:<2} {notion}", line.line.symbol))?;
            }
            for (at, thread) in line.threads.iter().enumerate() {
                output.line(thread_line(state, project, line, at, thread))?;
                for found in &thread.substitutes {
                    output.line(format_args!(
                        "       {}",
                        text::thread::substitute(state, found)
                    ))?;
                }
                if thread.standing.has_no_card() && thread.substitutes.is_empty() {
                    let variegated = state.colour_is_variegated(thread.thread.stitched());
                    let why = match state.thread_colour(thread.thread) {
                        _ if variegated => "variegated thread has no single colour to compare",
                        None => "its colour is unknown; import its range list",
                        Some(_) => "no card with thread to spare has a colour noted",
                    };
                    output.line(format!("       no stand-in: {why}"))?;
                }
            }
        }
        output.line(sum_line(project))?;
        for low in low(state, project.ring) {
            output.line(format!(
                "  Low: {low}.",
                low = text::thread::low(state, &low)
            ))?;
        }
    }
    let far = |line: &ThreadLine<'_>| line.substitutes.iter().any(Substitute::is_far);
    if kit.projects.iter().any(|p| p.threads().any(far)) {
        output.line("")?;
        output.line(format!(
            "A stand-in that differs by more than {WARN_ABOVE} (CIEDE2000) is another colour to \
         the eye: about 1 is just seen side by side. Match by the thread in daylight."
        ))?;
    }
    let to_buy = |line: &ThreadLine<'_>| {
        line.lacking > Strands(0) || line.standing == Availability::NotOwned
    };
    if kit.projects.iter().any(|p| p.threads().any(to_buy)) {
        let names = kit.projects.iter();
        let names = names.map(|project| format!(" \"{}\"", project.ring.project));
        output.line(format!(
            "What to buy: homehook buy{names}",
            names = names.collect::<String>()
        ))?;
    }
    Ok(())
}

fn heading(state: &State, project: &ProjectKit<'_>, output: &mut Output) -> Result<(), Failure> {
    let name = &project.ring.project;
    output.line(name)?;
    output.line(format!(
        "  Counted with {assumptions}.",
        assumptions = text::thread::assumptions(&project.assumed)
    ))?;
    output.line(format!(
        "  So {covers}.",
        covers = text::thread::skein_covers(&project.assumed, usual_put_up(state, project.ring))
    ))?;
    if let Some(lengths) = lengths(project) {
        output.line(format!("  {lengths}."))?;
    }
    for care in text::thread::care(state, project) {
        output.line(format!("  {care}."))?;
    }
    if project.ring.fabric.is_none() {
        output.line(format!(
            "  No fabric set, so the usual one is taken. Set it: homehook ring fabric \"{name}\" --count \
         14 --over 1 --strands 2"
        ))?;
    }
    Ok(())
}

/// The meaning of a length, if anything is counted in lengths: `A length is 1 m of 6 strands`; for
/// each kind of thread, if there are several.
fn lengths(project: &ProjectKit<'_>) -> Option<String> {
    let counted = project.threads().filter(|thread| thread.need.is_some());
    let mut kinds: Vec<(PutUp, u16)> = Vec::new();
    for thread in counted {
        let same = |(put_up, cut_cm): &(PutUp, u16)| {
            (put_up.kind(), put_up.in_length(), *cut_cm)
                == (
                    thread.put_up.kind(),
                    thread.put_up.in_length(),
                    thread.cut_cm,
                )
        };
        if !kinds.iter().any(same) {
            kinds.push((thread.put_up, thread.cut_cm));
        }
    }
    match kinds.as_slice() {
        [] => None,
        [(put_up, cut_cm)] => Some(format!(
            "A length is {}",
            text::thread::length_of(*put_up, *cut_cm)
        )),
        several => {
            let several = several.iter().map(|&(put_up, cut_cm)| {
                format!(
                    "{length} in {kind}",
                    length = text::thread::length_of(put_up, cut_cm),
                    kind = text::thread::kind(put_up.kind())
                )
            });
            Some(format!("A length is {}", text::list(several)))
        }
    }
}

/// `  X  Lantern Hill 701  lamp black   needs 5 lengths (1000 full)   enough: at home on hook C07`;
/// the symbol of a blend comes before its first thread.
fn thread_line(
    state: &State,
    project: &ProjectKit<'_>,
    line: &Line<'_>,
    at: usize,
    of: &ThreadLine<'_>,
) -> String {
    let colour = of.thread.stitched();
    let mut needs = of.need.map_or_else(
        || "stitches not counted".to_owned(),
        |need| {
            format!(
                "needs {amount} ({stitches})",
                amount = text::thread::amount(need.strands, of.put_up),
                stitches = text::thread::stitches(line.line)
            )
        },
    );
    if of.put_up.kind() != ThreadKind::Stranded {
        needs.push_str(&format!(", {}", text::thread::kind(of.put_up.kind())));
    }
    if of.need.is_some() && state.colour_is_variegated(colour) {
        needs.push_str(&format!(", {}", text::thread::one_by_one(&project.assumed)));
    }
    if let Some(used) = text::thread::used(of.used, of.left, of.put_up) {
        needs.push_str(&format!(", {used}"));
    }
    let symbol = if at == 0 {
        line.line.symbol.as_str()
    } else {
        "+"
    };
    let notes = [
        text::thread::mixed_lots(of),
        text::thread::scarcity(state, colour),
    ];
    let notes: String = notes
        .into_iter()
        .flatten()
        .map(|note| format!("   {note}"))
        .collect();
    format!(
        "  {symbol:<2} {}  {}   {needs}   {}{notes}",
        text::thread::key_thread(state, of.thread),
        state.thread_name(of.thread),
        text::thread::availability(state, of)
    )
}

fn sum_line(project: &ProjectKit<'_>) -> String {
    let count = |is: fn(Availability) -> bool| {
        let threads = project.threads();
        threads.filter(|thread| is(thread.standing)).count()
    };
    let mut text = format!(
        "  {count} enough, {count2} to split off, {count3} short, {count4} missing, \
         {count5} not owned",
        count = count(|s| matches!(
            s,
            Availability::Done | Availability::OnRing | Availability::Home
        )),
        count2 = count(|s| s == Availability::Split),
        count3 = count(|s| s == Availability::Short),
        count4 = count(|s| s == Availability::Lost),
        count5 = count(|s| s == Availability::NotOwned)
    );
    let uncounted = count(|s| s == Availability::Uncounted);
    if uncounted > 0 {
        text.push_str(&format!(", {uncounted} owned but not counted in the key"));
    }
    text.push('.');
    text
}

fn promise_out(state: &State, promise: &Allocation) -> PromiseOut {
    let (from, ring) = match promise.source {
        Source::OwnRing => (SourceOut::OwnRing, None),
        Source::Here => (SourceOut::Here, None),
        Source::OtherRing(ring) => (SourceOut::OtherRing, Some(project_name(state, ring))),
        Source::Uncut => (SourceOut::Uncut, None),
    };
    let card = state.card(promise.card);
    let put_up = card.map_or_else(PutUp::default, |kept| state.put_up(&kept.card));
    PromiseOut {
        project: project_name(state, promise.ring),
        card: card.map(|kept| CardRef::of(state, kept)),
        from,
        ring,
        lot: promise.lot.to_string(),
        amount: AmountOut::of(promise.strands, put_up),
    }
}

fn line_out(state: &State, line: &Line<'_>) -> LineOut {
    LineOut {
        symbol: line.line.symbol.to_string(),
        only: match line.threads.as_slice() {
            [one] => Some(thread_out(state, one)),
            _ => None,
        },
        threads: (line.threads.iter().map(|of| thread_out(state, of))).collect(),
        notion: NotionOut::of(line.line),
    }
}

fn thread_out(state: &State, line: &ThreadLine<'_>) -> ThreadOut {
    let thread = line.thread;
    let ColourOut { range, number } = ColourOut::of(state, &thread.colour);
    let with = thread.stitched_with.as_ref();
    let amount = |strands| AmountOut::of(strands, line.put_up);
    let others = line.others.iter().map(|&(ring, strands)| PromisedOut {
        project: project_name(state, ring),
        amount: amount(strands),
    });
    let substitutes = line.substitutes.iter().filter_map(|found| {
        let kept = state.card(found.card)?;
        let CardRef { range, number, .. } = CardRef::of(state, kept);
        Some(SubstituteOut {
            range,
            number,
            name: kept.card.name.to_string(),
            reason: match found.likeness {
                Likeness::Match => LikenessOut::Match,
                Likeness::Colour { .. } => LikenessOut::Colour,
            },
            difference: found.difference(),
            far: found.is_far(),
            free: AmountOut::of(found.free, state.put_up(&kept.card)),
            enough: found.enough,
            whereabouts: WhereaboutsOut::of(export(state), kept),
        })
    });
    ThreadOut {
        range,
        number,
        name: state.thread_name(thread).to_owned(),
        stitched_with: with.map(|with| ColourOut::of(state, with)),
        status: line.standing,
        needed: line.need.map(|need| NeedOut {
            stitched_m: need.stitched_m,
            metres: need.metres,
            strands: need.strands.0,
            lengths: need.lengths(line.put_up),
            skeins: need.skeins(line.put_up, line.cut_cm),
            cut_cm: line.cut_cm,
            way: line.way,
        }),
        used: amount(line.used),
        still_needed: line.left.map(amount),
        promised: line
            .promises
            .iter()
            .map(|promise| promise_out(state, promise))
            .collect(),
        short: amount(line.short),
        uncut_skeins: line.uncut_skeins,
        to_buy: amount(line.lacking),
        lots: line.lots.iter().map(Lot::to_string).collect(),
        used_up_lots: line.used_up.iter().map(Lot::to_string).collect(),
        lasting_lot: line.lasting.as_ref().map(Lot::to_string),
        variegated: state.colour_is_variegated(thread.stitched()),
        discontinued: state.is_discontinued(thread.stitched()),
        others: others.collect(),
        substitutes: substitutes.collect(),
    }
}

fn answer(state: &State, kit: &Kit<'_>) -> NeedAnswer {
    let projects: Vec<ProjectOut> = kit
        .projects
        .iter()
        .map(|project| ProjectOut {
            project: project.ring.project.to_string(),
            fabric_said: project.ring.fabric.is_some(),
            assumptions: project.assumed,
            crosses_in_skein: crosses_in_skein(
                &project.assumed,
                usual_put_up(state, project.ring),
                USUAL_CUT_CM,
            ),
            entries: project.lines.iter().map(|l| line_out(state, l)).collect(),
            low: low(state, project.ring)
                .iter()
                .map(|low| LowOut::of(export(state), low))
                .collect(),
        })
        .collect();
    let promises = kit.promises.iter().map(|p| promise_out(state, p));
    NeedAnswer {
        projects,
        promises: promises.collect(),
        substitute_warning_above: WARN_ABOVE,
    }
}
