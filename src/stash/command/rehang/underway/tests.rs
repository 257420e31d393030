use super::*;
use crate::model::whereabouts::Whereabouts;
use crate::stash::command::board::{Unhang, block};
use crate::stash::command::rehang::plans;
use crate::stash::command::ring;
use crate::stash::event::inverse;
use crate::stash::testing::{Shown as _, add_cards, apply, at, home, id, place, wall};

/// 1 to 4 hang the wrong way round on a wall of five hooks: a circle that needs no hand.
fn stash() -> State {
    let mut state = wall(1, 5, 1);
    add_cards(&mut state, &["1@A04", "2@A03", "3@A02", "4@A01"]);
    state
}

fn begun(state: &mut State) -> RehangPlan {
    let plan = plans(state).unwrap().remove(0);
    let event = begin(state, &plan, at(1)).unwrap();
    apply(state, &event);
    plan
}

fn go_on(state: &mut State, most: usize) {
    let left = remaining(state).unwrap();
    let most = most.min(left.len());
    for event in steps(state, &left[..most], at(2)).unwrap() {
        apply(state, &event);
    }
}

fn done(state: &State) -> Option<(u32, u32)> {
    state
        .underway()
        .map(|underway| (underway.done, underway.steps))
}

fn hook_names(state: &State) -> Vec<String> {
    let cards = state.in_wanted_order(state.cards());
    cards
        .iter()
        .map(|kept| home(state, &state.card_name(kept)).unwrap_or_default())
        .collect()
}

#[test]
fn a_re_hang_counts_its_steps_and_ends_with_the_last() {
    let mut state = stash();
    let plan = begun(&mut state);
    let steps = u32::try_from(plan.steps.len()).unwrap();
    assert_eq!(done(&state), Some((0, steps)));
    assert_eq!(remaining(&state).unwrap(), plan.steps);
    assert_eq!(
        begin(&state, &plan, at(2)).unwrap_err().to_string(),
        "rehang_underway"
    );
    let mut pasts = vec![state.clone()];
    let mut events = Vec::new();
    for (at_step, one) in plan.steps.iter().enumerate() {
        assert_eq!(done(&state), Some((u32::try_from(at_step).unwrap(), steps)));
        let event = step(&state, one, at(3)).unwrap();
        apply(&mut state, &event);
        events.push(event);
        pasts.push(state.clone());
    }
    assert_eq!(done(&state), None);
    assert_eq!(
        remaining(&state).unwrap_err().to_string(),
        "no_rehang_underway"
    );
    assert_eq!(
        give_up(&state).unwrap_err().to_string(),
        "no_rehang_underway"
    );
    // Taking the steps back comes by the same states, the re-hang underway in each.
    for (event, past) in events.iter().zip(&pasts).rev() {
        let back = Event {
            act: Act::Undo { seq: 1 },
            changes: inverse(&event.changes),
        };
        apply(&mut state, &back);
        assert_eq!(&state, past);
    }
}

#[test]
fn nothing_to_do_is_not_begun() {
    let mut state = wall(1, 2, 1);
    add_cards(&mut state, &["1@A01"]);
    let plan = RehangPlan {
        homes: vec![(id(&state, "1"), state.find_hook("A01").unwrap())],
        steps: Vec::new(),
        ..plans(&state).unwrap().remove(0)
    };
    assert_eq!(begin(&state, &plan, at(1)), Err(Refusal::NothingToDo));
}

#[test]
fn a_re_hang_goes_on_after_cards_went_away_and_others_came() {
    let mut state = stash();
    begun(&mut state);
    let first = remaining(&state).unwrap()[0];
    go_on(&mut state, 1);
    // Of the three left one is on a ring now, one is missing, and two more are bought.
    let left: Vec<_> = ["1", "2", "3", "4"]
        .into_iter()
        .filter(|name| id(&state, name) != first.card)
        .collect();
    let event = ring::take(&state, "Robin", &[id(&state, left[0])], at(2)).unwrap();
    apply(&mut state, &event);
    let event = ring::missing(&state, &[id(&state, left[1])], at(2)).unwrap();
    apply(&mut state, &event);
    add_cards(&mut state, &["5", "6"]);
    go_on(&mut state, usize::MAX);
    assert_eq!(done(&state), None);
    assert!(place(&state, left[0]).ring().is_some());
    assert!(matches!(
        place(&state, left[1]),
        Whereabouts::Missing { .. }
    ));
    let hook_names = hook_names(&state);
    assert!(
        hook_names[..4].is_sorted()
            && hook_names[..4]
                .iter()
                .all(|hook_name| !hook_name.is_empty()),
        "{hook_names:?}"
    );
    assert_eq!(&hook_names[4..], ["", ""]);
    for name in ["5", "6"] {
        assert_eq!(place(&state, name), Whereabouts::Unhung);
    }
}

#[test]
fn an_aim_that_cannot_be_had_any_more_says_to_plan_again() {
    let mut state = stash();
    begun(&mut state);
    let aim = remaining(&state).unwrap()[0].to.unwrap();
    let hook_name = state.hook_name(aim);
    let event = block(&state, &hook_name, "lamp", Unhang::Allowed, at(2)).unwrap();
    apply(&mut state, &event);
    assert_eq!(
        remaining(&state).unwrap_err().shown(),
        format!(
            "the re-hang underway cannot go on: hook {hook_name} is no longer free for what was to hang \
             there; end it with: homehook rehang --give-up, then plan again"
        )
    );
    let event = give_up(&state).unwrap();
    assert!(matches!(event.act, Act::EndRehang { left } if left > 0));
    apply(&mut state, &event);
    assert_eq!(done(&state), None);
    // A card hung there by hand takes the place as well.
    let mut state = wall(1, 3, 1);
    add_cards(&mut state, &["1@A01", "2", "3@A02"]);
    begun(&mut state);
    let free = state.find_hook("A03").unwrap();
    assert!(
        remaining(&state)
            .unwrap()
            .iter()
            .any(|step| step.to == Some(free))
    );
    add_cards(&mut state, &["9@A03"]);
    assert_eq!(remaining(&state).unwrap_err().to_string(), "aim_lost");
}

#[test]
fn a_step_of_another_plan_does_not_count() {
    let mut state = wall(1, 4, 1);
    add_cards(&mut state, &["1@A02", "2@A01"]);
    begun(&mut state);
    let other = HangStep {
        card: id(&state, "1"),
        from: state.find_hook("A02").ok(),
        to: state.find_hook("A04").ok(),
    };
    let event = step(&state, &other, at(2)).unwrap();
    assert_eq!(event.changes.len(), 2);
    let (before, steps) = (done(&state), state.underway().unwrap().steps);
    apply(&mut state, &event);
    assert_eq!(done(&state), before);
    go_on(&mut state, usize::MAX);
    assert_eq!(done(&state), None);
    assert!(steps > 0);
}

#[test]
fn what_came_about_by_hand_leaves_nothing_to_do() {
    let mut state = wall(1, 3, 1);
    add_cards(&mut state, &["1@A01", "2", "3@A02"]);
    begun(&mut state);
    add_cards(&mut state, &["3@A03", "2@A02"]);
    assert_eq!(remaining(&state).unwrap(), []);
    let event = give_up(&state).unwrap();
    assert_eq!(event.act, Act::EndRehang { left: 0 });
    apply(&mut state, &event);
}
