//! `homehook rehang`.

use std::path::Path;

use jiff::Timestamp;
use serde::Serialize;
use serde_json::{Value, json};

use super::args::RehangArgs;
use super::failure::Failure;
use super::open;
use super::output::Output;
use crate::exchange::export::CardRef;
use crate::stash::command::rehang::{self, HangStep, RehangPlan};
use crate::stash::refusal::Refusal;
use crate::stash::state::State;

/// One thing to do with one card.
#[derive(Serialize)]
struct StepOut {
    card: CardRef,
    from: Option<String>,
    to: Option<String>,
    /// Whether the card is away, so that only the mark on it changes.
    relabel: bool,
}

impl StepOut {
    fn of(state: &State, step: &HangStep) -> Option<Self> {
        let kept = state.card(step.card)?;
        Some(Self {
            card: CardRef::of(state, kept),
            from: step.from.map(|hook| state.mark(hook)),
            to: step.to.map(|hook| state.mark(hook)),
            relabel: is_away(state, step),
        })
    }
}

fn is_away(state: &State, step: &HangStep) -> bool {
    use crate::model::whereabouts::Whereabouts;
    state.card(step.card).is_some_and(|kept| {
        !matches!(
            kept.place.at,
            Whereabouts::Hook { .. } | Whereabouts::Unhung | Whereabouts::Hand
        )
    })
}

/// Lists the plans, or carries one out.
pub fn run(args: &RehangArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    if let Some(n) = args.apply {
        return apply(n, dir, output);
    }
    let reading = open::reading(dir, output)?;
    let state = reading.state();
    let plans = rehang::plans(state)?;
    let shown = plan(&plans, args.plan.unwrap_or(1))?;
    if output.is_json() {
        let plans: Vec<Value> = plans
            .iter()
            .zip(1..)
            .map(|(plan, n)| plan_json(state, plan, n))
            .collect();
        output.object(&json!({ "plans": plans }))?;
        return Ok(());
    }
    if plans.iter().all(|plan| plan.steps.is_empty()) {
        output.line("Nothing is to be done: every card has a home, in order and well spread.")?;
        return Ok(());
    }
    if plans.first().is_some_and(|plan| plan.steps.is_empty()) {
        output.line("Nothing needs to be done: every card has a home, in order.")?;
    }
    for (plan, n) in plans.iter().zip(1..) {
        output.line(plan_in_words(plan, n))?;
    }
    let n = args.plan.unwrap_or(1);
    if shown.steps.is_empty() {
        return Ok(());
    }
    output.line("")?;
    output.line(format_args!("Plan {n}, step by step:"))?;
    for (step, at) in shown.steps.iter().zip(1..) {
        output.line(format_args!("{at:>4}. {}", step_in_words(state, step)))?;
    }
    output.line("")?;
    output.line(format_args!("To do it: homehook rehang --apply {n}"))?;
    Ok(())
}

fn plan(plans: &[RehangPlan], n: usize) -> Result<&RehangPlan, Refusal> {
    let at = n.checked_sub(1).and_then(|at| plans.get(at));
    at.ok_or(Refusal::UnknownPlan {
        asked: n,
        have: plans.len(),
    })
}

fn steps_out(state: &State, steps: &[HangStep]) -> Vec<StepOut> {
    let steps = steps.iter();
    steps.filter_map(|step| StepOut::of(state, step)).collect()
}

fn plan_json(state: &State, plan: &RehangPlan, n: usize) -> Value {
    json!({
        "n": n,
        "touched": plan.touched,
        "relabel": plan.relabel,
        "newly_hung": plan.newly_hung,
        "room": plan.room,
        "touched_by_newcomer": plan.touched_by_newcomer,
        "steps": steps_out(state, &plan.steps),
    })
}

fn plan_in_words(plan: &RehangPlan, n: usize) -> String {
    let count = |count: usize, one: &str, many: &str| {
        format!("{count} {}", if count == 1 { one } else { many })
    };
    let next = plan.touched_by_newcomer.map_or_else(
        || "no place is left for a new card".to_owned(),
        |touched| format!("a new card would move {touched:.1} others on average"),
    );
    format!(
        "Plan {n}: {} on the wall, {} to rewrite, {} newly hung. Room: free places lie {:.1} \
         places off an even spread, {next}.",
        count(plan.touched, "card moves", "cards move"),
        count(plan.relabel, "card that is away", "cards that are away"),
        plan.newly_hung,
        plan.room,
    )
}

fn step_in_words(state: &State, step: &HangStep) -> String {
    let Some(kept) = state.card(step.card) else {
        return String::new();
    };
    let name = state.card_name(kept);
    let name = if kept.card.name.is_empty() {
        name
    } else {
        format!("{name} {}", kept.card.name)
    };
    let mark = |hook| state.mark(hook);
    match (step.from, step.to) {
        (_, Some(to)) if is_away(state, step) => {
            format!("{name}: is away; its home becomes {}", mark(to))
        }
        (Some(from), Some(to)) => format!("{name}: from {} to {}", mark(from), mark(to)),
        (Some(from), None) => format!("{name}: take off {} and set aside", mark(from)),
        (None, Some(to)) => format!("{name}: hang on {}", mark(to)),
        (None, None) => format!("{name}: set aside"),
    }
}

/// Carries a plan out, each step an event of its own, so that stopping anywhere leaves a true
/// record.
fn apply(n: usize, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let mut keeper = open::writing(dir, output, |_| Err(Refusal::NoBoard))?;
    let plans = rehang::plans(keeper.state())?;
    let steps = &plan(&plans, n)?.steps;
    let out = steps_out(keeper.state(), steps);
    let words: Vec<String> = steps
        .iter()
        .map(|step| step_in_words(keeper.state(), step))
        .collect();
    for (done, step) in steps.iter().enumerate() {
        let now = Timestamp::now();
        let made = rehang::step(keeper.state(), step, now)
            .map_err(Failure::from)
            .and_then(|event| Ok(keeper.commit(now, &event)?));
        if let Err(source) = made {
            return Err(Failure::HalfWay {
                done,
                steps: steps.len(),
                source: Box::new(source),
            });
        }
    }
    if output.is_json() {
        output.object(&json!({"applied": n, "steps": out}))?;
        return Ok(());
    }
    if steps.is_empty() {
        output.line("Nothing was to be done.")?;
        return Ok(());
    }
    for (line, at) in words.iter().zip(1..) {
        output.line(format_args!("{at:>4}. {line}"))?;
    }
    let word = if steps.len() == 1 { "step" } else { "steps" };
    output.line(format_args!("Plan {n} is done: {} {word}.", steps.len()))?;
    Ok(())
}
