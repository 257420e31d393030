//! Plans and steps in words.

use jiff::Timestamp;

use crate::cli::time;
use crate::engine::plans::Pace;
use crate::model::underway::Underway;
use crate::model::whereabouts::Whereabouts;
use crate::stash::command::rehang::{HangStep, RehangPlan};
use crate::stash::state::State;

/// Whether the card of a step is away, so that only the mark on it changes.
pub(super) fn is_away(state: &State, step: &HangStep) -> bool {
    state.card(step.card).is_some_and(|kept| {
        !matches!(
            kept.place.at,
            Whereabouts::Hook { .. } | Whereabouts::Unhung | Whereabouts::Hand
        )
    })
}

/// How far the re-hang underway has come.
pub(super) fn underway_in_words(underway: &Underway, now: Timestamp) -> String {
    format!(
        "A re-hang is underway {}: {} of {} {} done.",
        time::since(underway.begun, now),
        underway.done,
        underway.steps,
        if underway.steps == 1 { "step" } else { "steps" },
    )
}

/// A plan in a sentence or two.
pub(super) fn plan_in_words(plan: &RehangPlan, n: usize) -> String {
    let count = |count: usize, one: &str, many: &str| {
        format!("{count} {}", if count == 1 { one } else { many })
    };
    let touched = plan.touched + plan.relabel;
    let weight = if plan.weight == touched as u64 {
        String::new()
    } else {
        format!(" They count as {}.", plan.weight)
    };
    let breaks = match plan.family_breaks {
        None => String::new(),
        Some(1) => " 1 family break between rows.".to_owned(),
        Some(breaks) => format!(" {breaks} family breaks between rows."),
    };
    let next = plan.touched_by_newcomer.map_or_else(
        || "no place is left for a new card".to_owned(),
        |touched| format!("a new card would move {touched:.1} others on average"),
    );
    format!(
        "Plan {n}: {} on the wall, {} to rewrite, {} newly hung.{weight} About {:.0} minutes.{breaks} \
         Room: {:.1} of the colours to come will find no place of their own, {next}.",
        count(plan.touched, "card moves", "cards move"),
        count(plan.relabel, "card that is away", "cards that are away"),
        plan.newly_hung,
        plan.minutes,
        plan.room,
    )
}

/// What the minutes of the plans rest on.
pub(super) fn pace_in_words(pace: &Pace) -> String {
    format!(
        "Minutes are a guess: {} seconds a card, {} for a mark on a card that is away, {} to set a card \
         aside, {} for each hook the hand goes over. Another pace: --pace {0},{1},{2},{3}",
        pace.card, pace.mark, pace.aside, pace.hook
    )
}

/// A step in a few words.
pub(super) fn step_in_words(state: &State, step: &HangStep) -> String {
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
