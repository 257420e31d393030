//! The kit check for scripts.

use serde::Serialize;
use serde_json::{Value, json};

use super::project_name;
use crate::exchange::export::{AmountOut, ColourOut, LowOut, NotionOut};
use crate::exchange::export::{CardRef, WhereaboutsOut};
use crate::model::assumptions::{Assumptions, Way};
use crate::model::range::PutUp;
use crate::stash::kit::check::{Availability, Kit, Line, ThreadLine};
use crate::stash::kit::low::low;
use crate::stash::kit::share::{Allocation, Source};
use crate::stash::kit::substitute::WARN_ABOVE;
use crate::stash::state::State;

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
    /// How its crosses are worked: one by one where the colour changes along the thread.
    way: Way,
}

#[derive(Serialize)]
struct PromiseOut {
    project: String,
    card: Option<CardRef>,
    /// `own_ring`, `here`, `other_ring` or `uncut`.
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

/// A line of the key: all there is of its first thread, and then of each.
#[derive(Serialize)]
struct LineOut {
    symbol: String,
    #[serde(flatten)]
    first: Option<ThreadOut>,
    threads: Vec<ThreadOut>,
    #[serde(skip_serializing_if = "Option::is_none")]
    notion: Option<NotionOut>,
}

#[derive(Serialize)]
struct ThreadOut {
    range: String,
    number: String,
    name: String,
    /// The colour that is stitched in its place.
    #[serde(skip_serializing_if = "Option::is_none")]
    stitched_with: Option<ColourOut>,
    status: Availability,
    needed: Option<NeedOut>,
    used: AmountOut,
    /// What is still needed: all that follows is about this.
    still_needed: Option<AmountOut>,
    promised: Vec<PromiseOut>,
    /// What the cards lack.
    short: AmountOut,
    /// Uncut skeins that help.
    uncut_skeins: u32,
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
    /// The colours that run low on the ring.
    low: Vec<LowOut>,
}

fn promise_out(state: &State, promise: &Allocation) -> PromiseOut {
    let (from, ring) = match promise.source {
        Source::OwnRing => ("own_ring", None),
        Source::Here => ("here", None),
        Source::OtherRing(ring) => ("other_ring", Some(project_name(state, ring))),
        Source::Uncut => ("uncut", None),
    };
    let card = state.card(promise.card);
    let put_up = card.map_or_else(PutUp::default, |kept| state.put_up(&kept.card));
    PromiseOut {
        project: project_name(state, promise.ring),
        card: card.map(|kept| CardRef::of(state, kept)),
        from,
        ring,
        amount: AmountOut::of(promise.strands, put_up),
    }
}

fn line_out(state: &State, line: &Line<'_>) -> LineOut {
    let threads = || line.threads.iter().map(|of| thread_out(state, of));
    LineOut {
        symbol: line.line.symbol.to_string(),
        first: threads().next(),
        threads: threads().collect(),
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
            difference: found.difference,
            far: found.is_far(),
            free: AmountOut::of(found.free, state.put_up(&kept.card)),
            enough: found.enough,
            whereabouts: WhereaboutsOut::of(state, kept),
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
        others: others.collect(),
        substitutes: substitutes.collect(),
    }
}

/// The whole check.
pub fn answer(state: &State, kit: &Kit<'_>) -> Value {
    let projects: Vec<ProjectOut> = kit
        .projects
        .iter()
        .map(|project| ProjectOut {
            project: project.ring.project.to_string(),
            fabric_said: project.ring.fabric.is_some(),
            assumptions: project.assumed,
            entries: project.lines.iter().map(|l| line_out(state, l)).collect(),
            low: low(state, project.ring)
                .iter()
                .map(|low| LowOut::of(state, low))
                .collect(),
        })
        .collect();
    let promises = kit.promises.iter().map(|p| promise_out(state, p));
    json!({
        "projects": projects,
        "promises": promises.collect::<Vec<_>>(),
        "substitute_warning_above": WARN_ABOVE,
    })
}
