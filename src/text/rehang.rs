//! Re-hangs: what a plan leaves out of order, and what hangs out of order now.

use super::{cards, list, one_or_many};
use crate::stash::command::rehang::{RehangPlan, out_of_order};
use crate::stash::state::State;

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
