//! `homehook rehang`, its plans and its steps in words.

use std::path::Path;
use std::str::FromStr;

use clap::Args;
use jiff::Timestamp;
use serde::Serialize;

use super::failure::Failure;
use super::output::Output;
use super::values::whole;
use super::{change, open};
use crate::cli::plain;
use crate::engine::pareto::WorkTimes;
use crate::exchange::export::{CardRef, ColourOut};
use crate::model::whereabouts::Underway;
use crate::stash::command::rehang::{self, HangStep, PlanRequest, RehangPlan, Rows};
use crate::stash::projects::on_the_way::on_the_way;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::text::{self, one_or_many};

/// Which plan of a re-hang, and what is wished of it.
#[derive(Debug, Args)]
pub(crate) struct RehangArgs {
    /// Carry out plan N: every step is recorded. Plan 0 moves nothing that hangs, plan 1 keeps the
    /// order with the fewest moves.
    #[arg(long, value_name = "N", conflicts_with = "plan", group = "doing",
        value_parser = whole(0..=usize::MAX))]
    pub apply: Option<usize>,
    /// List the steps of plan N.
    #[arg(long, value_name = "N", value_parser = whole(0..=usize::MAX))]
    pub plan: Option<usize>,
    /// Go on with the re-hang that is underway.
    #[arg(
        long,
        group = "doing",
        conflicts_with_all = ["apply", "plan", "give_up", "hold", "order", "rows"]
    )]
    pub go_on: bool,
    /// Give up the re-hang that is underway; hung cards stay.
    #[arg(long, conflicts_with_all = ["apply", "plan", "steps", "hold", "order", "rows"])]
    pub give_up: bool,
    /// Do only the next K steps, and leave the rest for --go-on.
    #[arg(long, value_name = "K", requires = "doing",
        value_parser = whole(1..=u32::MAX))]
    pub steps: Option<u32>,
    /// Cards that stay this once, like held ones.
    #[arg(long, value_name = "CARD,CARD", value_delimiter = ',')]
    pub hold: Vec<String>,
    /// The order this once: family, number, lightness, or the families to put first.
    #[arg(long, value_name = "ORDER", value_delimiter = ',')]
    pub order: Vec<String>,
    /// Change only these rows, such as A,C or A-C.
    #[arg(long, value_name = "ROWS", value_delimiter = ',')]
    pub rows: Vec<String>,
    /// Seconds to move a card, to write a new hook on a card that is away, to set a card aside, and to
    /// reach the next hook. The minutes of the plans follow from them.
    #[arg(long, value_name = "CARD,WRITE,ASIDE,HOOK")]
    pub pace: Option<PaceArg>,
}

/// The pace of the work, as typed.
#[derive(Debug, Clone, Copy)]
pub(crate) struct PaceArg(pub WorkTimes);

impl FromStr for PaceArg {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let seconds: Option<Vec<f64>> = text
            .split(',')
            .map(|part| part.trim().parse().ok())
            .collect();
        match seconds.as_deref() {
            Some(&[card, label, aside, hook])
                if [card, label, aside, hook]
                    .iter()
                    .all(|seconds| (0.0..=86_400.0).contains(seconds)) =>
            {
                Ok(Self(WorkTimes {
                    card,
                    label,
                    aside,
                    hook,
                }))
            }
            _ => Err("give four numbers of seconds, such as 30,20,5,0.3".to_owned()),
        }
    }
}

/// The plans of a re-hang.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct Plans {
    /// The plans by their number: 0 moves nothing, 1 keeps the order with the fewest moves. With --plan, that one.
    plans: Vec<PlanOut>,
    /// Colours without a card that are sure to come, because an open project or the want list names them.
    on_the_way: Vec<ColourOut>,
    /// The cards that hang out of order now, in the wanted order.
    hang_out_of_order: Vec<CardRef>,
    /// The re-hang that is underway; `null` where none is.
    underway: Option<UnderwayOut>,
}

/// A plan.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct PlanOut {
    /// Its number, for `--plan` and `--apply`.
    n: usize,
    /// Cards on the wall that change their hook.
    touched: usize,
    /// Cards that are away and whose label changes.
    relabel: usize,
    /// What those cards count as together, each by its effort.
    effort: u64,
    /// Cards that get a home for the first time.
    newly_hung: usize,
    /// Cards that hang out of order once it is done: newly hung ones away from their neighbours, and
    /// ones that hang out of order already and stay.
    out_of_order: usize,
    /// Hooks between a newly hung card and its neighbours, at most; 0 where all are between them.
    hooks_off: usize,
    /// Future colours that are expected not to fit where they belong; lower is better.
    room: f64,
    /// Future colours that are expected before the next re-hang, those of `room` among them.
    to_come: f64,
    /// Those of `on_the_way` that don't fit where they belong.
    on_the_way_without_place: u64,
    /// Cards that the next new colour moves on average; `null` where the wall is full.
    touched_by_newcomer: Option<f64>,
    /// How often a family goes on in another row; `null` where the order does not go by family.
    family_breaks: Option<usize>,
    /// Hooks the hand goes over.
    travel: u64,
    /// The work in minutes, by an assumed pace.
    minutes: f64,
    /// What to do, in order.
    steps: Vec<StepOut>,
}

/// The re-hang that is underway.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct UnderwayOut {
    /// Steps planned when it was begun.
    steps: u32,
    /// Steps done.
    done: u32,
    /// When it was begun.
    #[cfg_attr(test, schemars(with = "crate::model::schema::Instant"))]
    begun: Timestamp,
    /// What is left to do; `null` where it can't go on.
    left: Option<Vec<StepOut>>,
}

/// Steps that were done.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct StepsDone {
    /// The plan; only of `--apply`.
    #[serde(skip_serializing_if = "Option::is_none")]
    applied: Option<usize>,
    /// The steps, in order.
    steps: Vec<StepOut>,
    /// How many steps are left.
    left: usize,
    /// The first of those; `null` where none is.
    next: Option<StepOut>,
}

/// One thing to do with one card.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct StepOut {
    /// The card.
    card: CardRef,
    /// The hook it belonged on; `null` where it is new to the wall or was set aside.
    from: Option<String>,
    /// The hook it belongs on from now on; `null` where it is set aside for a while.
    to: Option<String>,
    /// Whether the card is away, so that only its label changes.
    relabel: bool,
}

impl StepOut {
    fn of(state: &State, step: &HangStep) -> Option<Self> {
        let kept = state.card(step.card)?;
        Some(Self {
            card: CardRef::of(state, kept),
            from: step.from.map(|hook| state.hook_name(hook)),
            to: step.to.map(|hook| state.hook_name(hook)),
            relabel: is_away(state, step),
        })
    }
}

/// Lists the plans, applies one, or continues one.
pub(crate) fn run(args: &RehangArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    if args.give_up {
        return give_up(dir, output);
    }
    if args.go_on {
        return go_on(args, dir, output);
    }
    if let Some(n) = args.apply {
        return apply(n, args, dir, output);
    }
    let reading = open::reading(dir, output)?;
    let state = reading.state();
    if output.is_json() {
        return list_json(state, args, output);
    }
    if let Some(underway) = state.underway() {
        output.line(progress_line(underway, Timestamp::now()))?;
        if args.plan.is_none() {
            return list_remaining(state, output);
        }
    }
    list(state, args, output)
}

/// The options for this re-hang.
fn wishes(state: &State, args: &RehangArgs) -> Result<PlanRequest, Refusal> {
    let some = |list: &[String]| (!list.is_empty()).then(|| list.to_vec());
    Ok(PlanRequest {
        order: some(&args.order)
            .map(|names| rehang::order_named(state, &names))
            .transpose()?,
        rows: some(&args.rows)
            .map(|names| Rows::named(state, &names))
            .transpose()?,
        holds: state.find_cards(&args.hold)?,
        pace: args.pace.map_or_else(WorkTimes::default, |pace| pace.0),
        ..PlanRequest::default()
    })
}

fn list_json(state: &State, args: &RehangArgs, output: &mut Output) -> Result<(), Failure> {
    let plans = rehang::plans_for(state, &wishes(state, args)?)?;
    let shown = plan(&plans, args.plan.unwrap_or(1))?;
    let shown = match args.plan {
        Some(_) => std::slice::from_ref(shown),
        None => &plans[..],
    };
    let strays = rehang::out_of_order(state);
    let underway = state.underway().map(|underway| UnderwayOut {
        steps: underway.steps,
        done: underway.done,
        begun: underway.begun,
        left: (rehang::remaining(state).ok()).map(|left| steps_out(state, &left)),
    });
    let on_the_way = on_the_way(state).into_keys();
    output.object(&Plans {
        on_the_way: on_the_way
            .map(|colour| ColourOut::of(state, &colour))
            .collect(),
        plans: shown.iter().map(|plan| plan_out(state, plan)).collect(),
        hang_out_of_order: strays.iter().map(|kept| CardRef::of(state, kept)).collect(),
        underway,
    })?;
    Ok(())
}

fn list_remaining(state: &State, output: &mut Output) -> Result<(), Failure> {
    let left = rehang::remaining(state)?;
    if left.is_empty() {
        output.line("Nothing is left to do. To end it: homehook rehang --give-up")?;
        return Ok(());
    }
    list_steps(state, "Left to do:", &left, output)?;
    output.line("To go on: homehook rehang --go-on")?;
    output.line("To give it up and make a new plan: homehook rehang --give-up")?;
    Ok(())
}

fn list_steps(
    state: &State,
    heading: &str,
    steps: &[HangStep],
    output: &mut Output,
) -> Result<(), Failure> {
    output.line("")?;
    output.line(heading)?;
    for (step, at) in steps.iter().zip(1..) {
        output.line(format_args!("{at:>4}. {}", step_line(state, step)))?;
    }
    output.line("")?;
    Ok(())
}

fn list(state: &State, args: &RehangArgs, output: &mut Output) -> Result<(), Failure> {
    let ask = wishes(state, args)?;
    let plans = rehang::plans_for(state, &ask)?;
    let shown = plan(&plans, args.plan.unwrap_or(1))?;
    let offered = rehang::worth_showing(&plans);
    if offered.iter().all(|plan| plan.steps.is_empty()) {
        output.line("Nothing to do: every card has a home, in order and well spread.")?;
        return Ok(());
    }
    if offered.first().is_some_and(|plan| plan.steps.is_empty()) {
        output.line("Nothing to do: every card has a home, in order.")?;
    }
    if let Some(strays) = text::rehang::hang_out_of_order(state) {
        output.line(format_args!("{strays}. Plan 1 puts them in order."))?;
    }
    for line in plans_in_table(offered) {
        output.line(line)?;
    }
    for line in loose_plans(offered)
        .into_iter()
        .chain(room_of_plans(offered))
    {
        output.line(line)?;
    }
    output.line("")?;
    for line in table_legend(offered) {
        output.line(line)?;
    }
    output.line(pace_line(&ask.pace))?;
    let n = args.plan.unwrap_or(1);
    if shown.steps.is_empty() {
        return Ok(());
    }
    list_steps(
        state,
        &format!("Plan {n}, step by step:"),
        &shown.steps,
        output,
    )?;
    output.line(format!(
        "To do it: homehook rehang --apply {n}{again}",
        again = again(args)
    ))?;
    Ok(())
}

/// The options as typed on the command line, each preceded by a space.
fn again(args: &RehangArgs) -> String {
    let flags = [
        ("hold", &args.hold),
        ("order", &args.order),
        ("rows", &args.rows),
    ];
    let given = flags.into_iter().filter(|(_, list)| !list.is_empty());
    let words = given.map(|(flag, list)| {
        let list = list.join(",");
        // Names of families and ranges may contain spaces.
        let quote = if list.contains(' ') { "\"" } else { "" };
        format!(" --{flag} {quote}{list}{quote}")
    });
    words.collect()
}

fn plan(plans: &[RehangPlan], n: usize) -> Result<&RehangPlan, Refusal> {
    plans.get(n).ok_or(Refusal::UnknownPlan {
        asked: n,
        have: plans.len().saturating_sub(1),
    })
}

fn steps_out(state: &State, steps: &[HangStep]) -> Vec<StepOut> {
    let steps = steps.iter();
    steps.filter_map(|step| StepOut::of(state, step)).collect()
}

fn plan_out(state: &State, plan: &RehangPlan) -> PlanOut {
    PlanOut {
        n: plan.number,
        touched: plan.touched,
        relabel: plan.relabel,
        effort: plan.effort,
        newly_hung: plan.newly_hung,
        out_of_order: plan.disorder.cards(),
        hooks_off: plan.disorder.farthest,
        room: plan.room,
        to_come: plan.to_come,
        on_the_way_without_place: plan.on_the_way_without_place,
        touched_by_newcomer: plan.touched_by_newcomer,
        family_breaks: plan.family_breaks,
        travel: plan.travel,
        minutes: plan.minutes,
        steps: steps_out(state, &plan.steps),
    }
}

/// Starts a plan and performs its steps, each an event of its own, so that the record is true
/// wherever work stops. All events reach the disk together.
fn apply(n: usize, args: &RehangArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let ask = |state: &State, now: Timestamp| {
        if let Some(underway) = state.underway() {
            let (done, steps) = (underway.done, underway.steps);
            return Err(Refusal::RehangUnderway { done, steps }.into());
        }
        let plans = rehang::plans_for(state, &wishes(state, args)?)?;
        let plan = plan(&plans, n)?;
        let (next, left) = next_steps(&plan.steps, args);
        let mut events = Vec::new();
        let mut begun = state.clone();
        if !next.is_empty() {
            let event = rehang::begin(state, plan, now)?;
            begun.apply(&event).map_err(Refusal::from)?;
            events.push(event);
        }
        events.extend(rehang::steps(&begun, next, now)?);
        Ok((events, Report::of(state, next, left)))
    };
    let (writing, now, (events, report)) = open::writing(dir, output, ask)?;
    writing.commit_all(now, &events, output)?;
    report.say(Some(n), &format!("Plan {n} is done"), output)
}

/// Performs the remaining steps of the re-hang underway.
fn go_on(args: &RehangArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let ask = |state: &State, now: Timestamp| {
        let steps = rehang::remaining(state)?;
        let (next, left) = next_steps(&steps, args);
        let events = if steps.is_empty() {
            // All steps have come about in other ways.
            vec![rehang::give_up(state)?]
        } else {
            rehang::steps(state, next, now)?
        };
        Ok((events, Report::of(state, next, left)))
    };
    let (writing, now, (events, report)) = change::ask(dir, output, ask)?;
    writing.commit_all(now, &events, output)?;
    report.say(None, "The re-hang is done", output)
}

fn give_up(dir: &Path, output: &mut Output) -> Result<(), Failure> {
    change::make_and_tell(
        dir,
        output,
        |state, _| rehang::give_up(state),
        |_| change::Nothing {},
    )
}

/// The steps to perform now, and those left for later.
fn next_steps<'a>(steps: &'a [HangStep], args: &RehangArgs) -> (&'a [HangStep], &'a [HangStep]) {
    let most = args.steps.map_or(usize::MAX, |most| most as usize);
    steps.split_at(most.min(steps.len()))
}

/// The report about steps, prepared before they are performed.
struct Report {
    steps: Vec<StepOut>,
    words: Vec<String>,
    left: usize,
    next: Option<(StepOut, String)>,
}

impl Report {
    fn of(state: &State, steps: &[HangStep], left: &[HangStep]) -> Self {
        let next = left
            .first()
            .and_then(|step| Some((StepOut::of(state, step)?, step_line(state, step))));
        let words = steps.iter().map(|step| step_line(state, step));
        Self {
            steps: steps_out(state, steps),
            words: words.collect(),
            left: left.len(),
            next,
        }
    }

    fn say(self, applied: Option<usize>, end: &str, output: &mut Output) -> Result<(), Failure> {
        if output.is_json() {
            output.object(&StepsDone {
                applied,
                steps: self.steps,
                left: self.left,
                next: self.next.map(|(step, _)| step),
            })?;
            return Ok(());
        }
        if self.words.is_empty() {
            output.line("Nothing to do.")?;
            return Ok(());
        }
        for (line, at) in self.words.iter().zip(1..) {
            output.line(format_args!("{at:>4}. {line}"))?;
        }
        let steps = |n: usize| format!("{n} {}", one_or_many(n, "step", "steps"));
        let done = steps(self.words.len());
        match self.left {
            0 => output.line(format_args!("{end}: {done}."))?,
            left => {
                output.line(format!(
                    "{done} done, {left} left. To go on: homehook rehang --go-on"
                ))?;
                if let Some((_, next)) = &self.next {
                    output.line(format_args!("Next: {next}"))?;
                }
            }
        }
        Ok(())
    }
}

/// Whether the card of a step is away, so that only the hook written on it changes.
fn is_away(state: &State, step: &HangStep) -> bool {
    let card = state.card(step.card);
    card.is_some_and(|kept| !kept.place.at.can_be_hung())
}

/// The progress of the re-hang underway.
fn progress_line(underway: &Underway, now: Timestamp) -> String {
    format!(
        "A re-hang is underway {time}: {done} of {steps} {underway} done.",
        time = plain::since(underway.begun, now),
        done = underway.done,
        steps = underway.steps,
        underway = one_or_many(underway.steps, "step", "steps")
    )
}

/// The plans as a table, one per line.
fn plans_in_table(plans: &[RehangPlan]) -> Vec<String> {
    let with_effort = |plan: &RehangPlan| plan.effort != (plan.touched + plan.relabel) as u64;
    let (by_effort, by_family) = (
        plans.iter().any(with_effort),
        plans.iter().any(|plan| plan.family_breaks.is_some()),
    );
    let mut head = "plan  moved  rewrite  newly hung".to_owned();
    if by_effort {
        head += "  count as";
    }
    if by_family {
        head += "  breaks";
    }
    let loose = plans.iter().any(|plan| plan.disorder.cards() > 0);
    if loose {
        head += "  out of order";
    }
    head += "  minutes  no place  moved by the next";
    let row = |plan: &RehangPlan| {
        let mut row = format!(
            "{:>4}  {:>5}  {:>7}  {:>10}",
            plan.number, plan.touched, plan.relabel, plan.newly_hung
        );
        if by_effort {
            row += &format!("  {:>8}", plan.effort);
        }
        if by_family {
            row += &format!("  {:>6}", plan.family_breaks.unwrap_or(0));
        }
        if loose {
            row += &format!("  {:>12}", plan.disorder.cards());
        }
        let next = plan.touched_by_newcomer;
        let next = next.map_or("the wall is full".to_owned(), |cards| format!("{cards:.1}"));
        let room = plan.room_shown();
        row + &format!("  {:>7.0}  {room:>8}  {next:>17}", plan.minutes)
    };
    [head].into_iter().chain(plans.iter().map(row)).collect()
}

/// The plans that leave cards out of order, one per line.
fn loose_plans(plans: &[RehangPlan]) -> Vec<String> {
    let line = |plan: &RehangPlan| {
        let number = plan.number;
        if number == 0 {
            return Some(format!(
                "{number} \u{b7} {}",
                text::rehang::moves_nothing(plan)
            ));
        }
        let left = text::rehang::left_out_of_order(plan)?;
        Some(format!("{number} \u{b7} {left}"))
    };
    plans.iter().filter_map(line).collect()
}

/// The room in each plan, if colours are on the way.
fn room_of_plans(plans: &[RehangPlan]) -> Vec<String> {
    let line = |plan: &RehangPlan| {
        let room = text::rehang::room_in_words(plan)?;
        Some(format!("{number} \u{b7} {room}", number = plan.number))
    };
    plans.iter().filter_map(line).collect()
}

/// The meaning of the table's columns.
fn table_legend(plans: &[RehangPlan]) -> Vec<&'static str> {
    let mut words = vec![
        "moved: cards that change their hook on the wall. rewrite: labels of cards that are \
         away.",
    ];
    if plans.iter().any(|plan| plan.family_breaks.is_some()) {
        words.push("breaks: how often a family goes on in another row.");
    }
    if plans.iter().any(|plan| plan.disorder.cards() > 0) {
        words.push("out of order: cards away from their neighbours, until the next re-hang.");
    }
    words.push("no place: future colours that won't fit where they belong, as far as can be");
    words.push("expected. moved by the next: cards that the next new colour moves on average.");
    words
}

/// The assumptions behind the plans' minutes.
fn pace_line(pace: &WorkTimes) -> String {
    format!(
        "minutes: a guess, {card} seconds a card, {label} for a label on a card that is away, \
         {aside} to set a\ncard aside, {hook} for each hook the hand goes over. Another \
         pace: --pace {card},{label},{aside},{hook}",
        card = pace.card,
        label = pace.label,
        aside = pace.aside,
        hook = pace.hook
    )
}

/// A step in a few words.
fn step_line(state: &State, step: &HangStep) -> String {
    let Some(kept) = state.card(step.card) else {
        return String::new();
    };
    let name = state.card_name(kept);
    let name = if kept.card.name.is_empty() {
        name
    } else {
        format!("{name} {}", kept.card.name)
    };
    let hook_name = |hook| state.hook_name(hook);
    match (step.from, step.to) {
        (_, Some(to)) if is_away(state, step) => {
            format!(
                "{name}: is away; its home becomes {hook_name}",
                hook_name = hook_name(to)
            )
        }
        (Some(from), Some(to)) => format!(
            "{name}: from {hook_name} to {mark2}",
            hook_name = hook_name(from),
            mark2 = hook_name(to)
        ),
        (Some(from), None) => format!(
            "{name}: take off {hook_name} and set aside",
            hook_name = hook_name(from)
        ),
        (None, Some(to)) => format!("{name}: hang on {hook_name}", hook_name = hook_name(to)),
        (None, None) => format!("{name}: set aside"),
    }
}
