//! Plans and steps in words.

use jiff::Timestamp;

use crate::cli::plain;
use crate::engine::pareto::WorkTimes;
use crate::model::whereabouts::Underway;
use crate::stash::command::rehang::{HangStep, RehangPlan};
use crate::stash::state::State;
use crate::text::{one_or_many, rehang};

/// Whether the card of a step is away, so that only the mark on it changes.
pub(super) fn is_away(state: &State, step: &HangStep) -> bool {
    let card = state.card(step.card);
    card.is_some_and(|kept| !kept.place.at.is_at_hand())
}

/// How far the re-hang underway has come.
pub(super) fn progress_line(underway: &Underway, now: Timestamp) -> String {
    format!(
        "A re-hang is underway {time}: {done} of {steps} {underway} done.",
        time = plain::since(underway.begun, now),
        done = underway.done,
        steps = underway.steps,
        underway = one_or_many(underway.steps, "step", "steps")
    )
}

/// The plans side by side, one a line.
pub(super) fn plans_in_table(plans: &[RehangPlan]) -> Vec<String> {
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

/// The plans that leave cards out of order, a line each.
pub(super) fn loose_plans(plans: &[RehangPlan]) -> Vec<String> {
    let line = |plan: &RehangPlan| {
        let number = plan.number;
        if number == 0 {
            return Some(format!("{number} \u{b7} {}", rehang::moves_nothing(plan)));
        }
        let left = rehang::left_out_of_order(plan)?;
        Some(format!("{number} \u{b7} {left}"))
    };
    plans.iter().filter_map(line).collect()
}

/// What the columns of the table mean.
pub(super) fn table_legend(plans: &[RehangPlan]) -> Vec<&'static str> {
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
    words.push(
        "no place: colours to come that will find no free hook where they belong, as far as \
         can be",
    );
    words.push("expected. moved by the next: cards that the next new colour moves on average.");
    words
}

/// What the minutes of the plans rest on.
pub(super) fn pace_line(pace: &WorkTimes) -> String {
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
pub(super) fn step_line(state: &State, step: &HangStep) -> String {
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
