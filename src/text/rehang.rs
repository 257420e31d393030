//! Re-hangs: what a plan is good for, what it leaves out of order, and what hangs out of order now.

use super::{capital, cards, list, one_or_many};
use crate::stash::command::rehang::{RehangPlan, out_of_order};
use crate::stash::state::State;

/// What sets a plan apart from the others.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Kind {
    Nothing,
    Least,
    /// Less work than plan 1, and some cards out of order.
    Almost,
    /// The most room, and the families in the fewest pieces.
    Fresh,
    Space,
    Families,
    /// More room than plan 1, though not the most.
    MoreSpace,
    Other,
}

/// What a plan is among others.
fn kind(plans: &[RehangPlan], plan: &RehangPlan) -> Kind {
    if plan.number < 2 {
        return [Kind::Nothing, Kind::Least][plan.number];
    }
    if plan.disorder.cards() > 0 {
        return Kind::Almost;
    }
    let first = plans.iter().find(|other| other.number == 1).unwrap_or(plan);
    let in_order = || {
        let others = plans.iter().filter(|other| other.number > 0);
        others.filter(|other| other.disorder.cards() == 0)
    };
    let roomiest = in_order().all(|other| plan.room <= other.room) && plan.room < first.room;
    let together = plan.family_breaks < first.family_breaks
        && in_order().all(|other| plan.family_breaks <= other.family_breaks);
    match (roomiest, together) {
        (true, true) => Kind::Fresh,
        (true, false) => Kind::Space,
        (false, true) => Kind::Families,
        (false, false) if plan.room < first.room => Kind::MoreSpace,
        (false, false) => Kind::Other,
    }
}

/// What a plan is called among others: `Least work`.
#[must_use]
pub fn plan_name(plans: &[RehangPlan], plan: &RehangPlan) -> &'static str {
    match kind(plans, plan) {
        Kind::Nothing => "Move nothing",
        Kind::Least => "Least work",
        Kind::Almost => "Almost in order",
        Kind::Fresh => "Fresh layout",
        Kind::Space => "Space for new",
        Kind::Families => "Families together",
        Kind::MoreSpace => "More space",
        Kind::Other => "In between",
    }
}

/// Why one would choose a plan, in a short sentence.
#[must_use]
pub fn plan_reason(plans: &[RehangPlan], plan: &RehangPlan) -> String {
    let first = plans.iter().find(|other| other.number == 1).unwrap_or(plan);
    let strays = plan.disorder.cards();
    let out = one_or_many(strays, "hangs", "hang");
    match kind(plans, plan) {
        Kind::Nothing if strays == 0 => "Every card in order.".to_owned(),
        Kind::Nothing => format!("{strays} {out} out of order."),
        Kind::Least => "Every card in order, with the least effort.".to_owned(),
        Kind::Almost => {
            let fewer = first.touched.saturating_sub(plan.touched);
            format!("Moves {fewer} fewer; {strays} {out} out of order.")
        }
        Kind::Fresh => "The most room, and families in the fewest pieces.".to_owned(),
        Kind::Space => "The most room for your next colours.".to_owned(),
        Kind::Families => match (plan.family_breaks, first.family_breaks) {
            (Some(0), _) => "Every family in one row.".to_owned(),
            (now, least) => format!(
                "Families split {now} {times}, not {least}.",
                now = now.unwrap_or(0),
                times = one_or_many(now.unwrap_or(0), "time", "times"),
                least = least.unwrap_or(0)
            ),
        },
        Kind::MoreSpace => match room_for(plan).0.saturating_sub(room_for(first).0) {
            0 => "A little more room than plan 1.".to_owned(),
            1 => "Room for 1 more colour than plan 1.".to_owned(),
            more => format!("Room for {more} more colours than plan 1."),
        },
        Kind::Other => "Between room and work.".to_owned(),
    }
}

/// For how many of the colours to come a plan has a place beside their neighbours, and how many those are.
#[must_use]
pub fn room_for(plan: &RehangPlan) -> (u64, u64) {
    let all = plan.to_come.round().max(0.0);
    let fit = (plan.to_come - plan.room).round().clamp(0.0, all);
    (fit as u64, all as u64)
}

/// What else is worth knowing of a plan, what matters most first. Families only where there are any.
#[must_use]
pub fn plan_facts(state: &State, plan: &RehangPlan) -> Vec<String> {
    let mut facts: Vec<String> = left_out_of_order(plan)
        .map(|left| format!("{}.", capital(&left)))
        .into_iter()
        .collect();
    let labels = plan.touched + plan.relabel + plan.newly_hung;
    facts.push(match plan.relabel {
        0 => format!("Labels to write: {labels}."),
        out => format!("Labels to write: {labels}, {out} of them on cards that are out."),
    });
    let families = state.cards().any(|kept| state.family_of(kept).is_some());
    match plan.family_breaks.filter(|_| families) {
        None => {}
        Some(0) => facts.push("Every family stays in one row.".to_owned()),
        Some(1) => facts.push("1 family goes on in another row.".to_owned()),
        Some(times) => facts.push(format!("Families go on in another row {times} times.")),
    }
    if let Some(next) = plan.touched_by_newcomer {
        facts.push(format!("The next new card would move {next:.1} others."));
    }
    facts
}

/// What a plan leaves out of order: `4 away from their neighbours, at most 3 hooks off`. Nothing for a
/// plan in order.
pub(crate) fn left_out_of_order(plan: &RehangPlan) -> Option<String> {
    let disorder = &plan.disorder;
    let away = match (disorder.newly_hung, disorder.farthest) {
        (0, _) => None,
        (1, far) => Some(format!(
            "1 away from its neighbours, {far} {hooks} off",
            hooks = one_or_many(far as u64, "hook", "hooks")
        )),
        (away, far) => Some(format!(
            "{away} away from their neighbours, at most {far} {hooks} off",
            hooks = one_or_many(far as u64, "hook", "hooks")
        )),
    };
    let left = match disorder.left {
        0 => None,
        1 => Some("1 that hangs already stays out of order".to_owned()),
        left => Some(format!("{left} that hang already stay out of order")),
    };
    let parts: Vec<String> = away.into_iter().chain(left).collect();
    (!parts.is_empty()).then(|| parts.join("; "))
}

/// Plan 0 in a line: `move nothing: 35 hung now, 4 away from their neighbours, at most 3 hooks off`.
pub(crate) fn moves_nothing(plan: &RehangPlan) -> String {
    let left =
        left_out_of_order(plan).map_or(", all in order".to_owned(), |left| format!(", {left}"));
    format!("move nothing: {new} hung now{left}", new = plan.newly_hung)
}

/// Which cards hang out of order, and where; without a full stop. Nothing where all are in order.
pub(crate) fn hang_out_of_order(state: &State) -> Option<String> {
    let strays = out_of_order(state);
    if strays.is_empty() {
        return None;
    }
    let named = strays.iter().map(|kept| {
        let name = state.card_name(kept);
        kept.home.map_or(name.clone(), |hook| {
            format!("{name} on {hook_name}", hook_name = state.hook_name(hook))
        })
    });
    let count = u32::try_from(strays.len()).unwrap_or(u32::MAX);
    Some(format!(
        "{cards} out of order: {list}",
        cards = match count {
            1 => "1 card hangs".to_owned(),
            count => format!("{cards} hang", cards = cards(count)),
        },
        list = list(named)
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::move_nothing::Disorder;
    use crate::stash::command::rehang::plans;
    use crate::stash::testing::{add_cards, wall};

    #[test]
    fn a_plan_says_how_far_it_is_from_order() {
        let mut state = wall(1, 8, 1);
        add_cards(&mut state, &["1@A01", "5@A02", "3@A03", "4@A04", "2"]);
        let mut plan = plans(&state).unwrap().swap_remove(0);
        for (newly_hung, farthest, left, words) in [
            (
                4,
                3,
                0,
                "35 hung now, 4 away from their neighbours, at most 3 hooks off",
            ),
            (
                1,
                1,
                0,
                "35 hung now, 1 away from its neighbours, 1 hook off",
            ),
            (
                0,
                0,
                2,
                "35 hung now, 2 that hang already stay out of order",
            ),
            (0, 0, 0, "35 hung now, all in order"),
        ] {
            plan.newly_hung = 35;
            plan.disorder = Disorder {
                newly_hung,
                farthest,
                hooks_off: 0,
                left,
            };
            assert_eq!(moves_nothing(&plan), format!("move nothing: {words}"));
        }
        let strays = hang_out_of_order(&state);
        assert_eq!(
            strays.as_deref(),
            Some("1 card hangs out of order: 5 on A02")
        );
    }
}
