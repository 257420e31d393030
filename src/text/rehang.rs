//! Re-hang plans: their advantages, the cards they leave out of order, and the cards out of order
//! now. Also describes `hanging` a card on another hook before that happens.

use super::places::place_of;
use super::{capital, cards, list, one_or_many};
use crate::model::card::WallOrder;
use crate::stash::command::hang::Hanging;
use crate::stash::command::rehang::{RehangPlan, out_of_order};
use crate::stash::state::{CardState, State};

/// The feature that distinguishes a plan from the others.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Kind {
    Nothing,
    Least,
    /// Less work than plan 1, but some cards out of order.
    Almost,
    /// The most room, and the families in the fewest pieces.
    Fresh,
    Space,
    Families,
    /// More room than plan 1, though not the most.
    MoreSpace,
    Other,
}

/// The kind of a plan among all plans.
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

/// The name of a plan among all plans: `In order`.
#[must_use]
pub fn plan_name(plans: &[RehangPlan], plan: &RehangPlan) -> &'static str {
    match kind(plans, plan) {
        Kind::Nothing => "Move nothing",
        Kind::Least => "In order",
        Kind::Almost => "Almost in order",
        Kind::Fresh => "Fresh layout",
        Kind::Space => "Space for new",
        Kind::Families => "Families together",
        Kind::MoreSpace => "More space",
        Kind::Other => "In between",
    }
}

/// Why to choose a plan, in a short sentence.
#[must_use]
pub fn plan_reason(plans: &[RehangPlan], plan: &RehangPlan) -> String {
    let first = plans.iter().find(|other| other.number == 1).unwrap_or(plan);
    let strays = plan.disorder.cards();
    let out = one_or_many(strays, "hangs", "hang");
    match kind(plans, plan) {
        Kind::Nothing if strays == 0 => "Every card in order.".to_owned(),
        Kind::Nothing => format!("{strays} {out} out of order."),
        Kind::Least => "Every card in order, with the least work.".to_owned(),
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

/// The number of future colours that a plan can place next to their neighbours, and the number of
/// all future colours.
#[must_use]
pub fn room_for(plan: &RehangPlan) -> (u64, u64) {
    let (on_the_way, others) = (room_on_the_way(plan), room_for_others(plan));
    (on_the_way.0 + others.0, on_the_way.1 + others.1)
}

/// The same for colours on the way.
fn room_on_the_way(plan: &RehangPlan) -> (u64, u64) {
    let all = plan.on_the_way;
    (all.saturating_sub(plan.on_the_way_without_place), all)
}

/// The same for all others.
fn room_for_others(plan: &RehangPlan) -> (u64, u64) {
    let come = plan.to_come - plan.on_the_way as f64;
    let without = plan.room - plan.on_the_way_without_place as f64;
    let all = come.round().max(0.0);
    let fit = (come - without).round().clamp(0.0, all);
    (fit as u64, all as u64)
}

/// A plan's room, if colours are on the way: `Room for all 6 colours on the way and 12 of 29
/// others.` `None` otherwise.
#[must_use]
pub fn room_in_words(plan: &RehangPlan) -> Option<String> {
    let (fit, all) = room_on_the_way(plan);
    let colours = one_or_many(all, "colour", "colours");
    let sure = match (fit, all) {
        (_, 0) => return None,
        (1, 1) => "the colour on the way".to_owned(),
        (fit, all) if fit == all && all == 2 => "both colours on the way".to_owned(),
        (fit, all) if fit == all => format!("all {all} colours on the way"),
        (fit, all) => format!("{fit} of {all} {colours} on the way"),
    };
    Some(match room_for_others(plan) {
        (_, 0) => format!("Room for {sure}."),
        (fit, all) => {
            let others = one_or_many(all, "other", "others");
            format!("Room for {sure} and {fit} of {all} {others}.")
        }
    })
}

/// Other facts about a plan, most important first. Mentions families only if there are any.
#[must_use]
pub fn plan_facts(state: &State, plan: &RehangPlan) -> Vec<String> {
    let mut facts: Vec<String> = left_out_of_order(plan)
        .map(|left| format!("{}.", capital(&left)))
        .into_iter()
        .collect();
    facts.extend(room_in_words(plan));
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

/// The cards a plan leaves out of order: `4 away from their neighbours, at most 3 hooks off`.
/// `None` for a plan in order.
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

/// The cards out of order now, and their places, without a full stop. `None` if all are in order.
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

/// The target hook and the neighbours there: `Card 701 goes to B03, between 300 on B02 and 320 on
/// B05`, without a full stop.
#[must_use]
pub(crate) fn hanging_target(hanging: &Hanging<'_>) -> String {
    let (state, name) = (hanging.state, hanging.state.card_name(hanging.kept));
    let beside = match hanging.beside.as_slice() {
        [] => String::new(),
        cards => format!(
            " with {list}",
            list = list(cards.iter().map(|c| state.card_name(c)))
        ),
    };
    let between = between(hanging, (hanging.before, hanging.after));
    let goes = format!(
        "Card {name} goes to {hook_name}{beside}{between}",
        hook_name = hook_name(hanging)
    );
    let by_family = state.order() != WallOrder::Number && !state.families().is_empty();
    if by_family && state.family_of(hanging.kept).is_none() {
        return format!(
            "{goes}; it has no family or colour yet, so its place is after all families"
        );
    }
    goes
}

/// Whether this keeps the order, and if not, where the card belongs; without a full stop.
#[must_use]
pub(crate) fn hanging_order(hanging: &Hanging<'_>) -> String {
    if hanging.keeps_order {
        return "That keeps the order".to_owned();
    }
    let belongs = between(hanging, hanging.belongs);
    let belongs = belongs.trim_start_matches([',', ' ']);
    format!("That breaks the order: it belongs {belongs}")
}

/// What to do about the hook written on the card; without a full stop.
#[must_use]
pub(crate) fn hanging_label(hanging: &Hanging<'_>) -> String {
    let hook_name = hook_name(hanging);
    if hanging.kept.home == Some(hanging.hook) {
        return format!("Its label says {hook_name} already");
    }
    if hanging.is_moved() {
        return format!("Write {hook_name} on its label");
    }
    let place = place_of(hanging.state, hanging.kept);
    let when = if hanging.kept.place.at.is_missing() {
        "when it turns up, its label must say"
    } else {
        "its label must say"
    };
    format!("It is {place}: only its home changes; {when} {hook_name}")
}

/// Warnings, each without a full stop: about reserved hooks, holds, cards already there, and a
/// re-hang underway.
#[must_use]
pub(crate) fn hanging_warnings(hanging: &Hanging<'_>) -> Vec<String> {
    let (state, hook_name) = (hanging.state, hook_name(hanging));
    let mut said = Vec::new();
    let board = state.board(hanging.hook.board);
    if board.is_some_and(|board| board.reserved(hanging.hook)) {
        said.push(format!(
            "{hook_name} is reserved: a re-hang gives the card another home"
        ));
    }
    if state.stays(hanging.kept) {
        let stays = format!("Held: a re-hang leaves it on {hook_name}");
        said.push(if hanging.keeps_order {
            stays
        } else {
            format!("{stays}: out of order, and a re-hang may not get around it")
        });
    }
    let strangers: Vec<&CardState> = state
        .hanging_on(hanging.hook)
        .filter(|other| other.home != Some(hanging.hook) && other.card.id != hanging.kept.card.id)
        .collect();
    if !strangers.is_empty() {
        let names = list(strangers.iter().map(|other| state.card_name(other)));
        said.push(format!("Not its home, but there hangs {names}"));
    }
    for ring in hanging.hanging() {
        said.push(format!(
            "The ring '{project}' hangs there",
            project = ring.project
        ));
    }
    said.extend(underway(hanging));
    said
}

/// The effect on a re-hang underway.
fn underway(hanging: &Hanging<'_>) -> Option<String> {
    let state = hanging.state;
    let homes = &state.underway()?.homes;
    let own = homes.iter().find(|(card, _)| *card == hanging.kept.card.id);
    if let Some((_, aim)) = own.filter(|(_, aim)| *aim != hanging.hook) {
        let aim = state.hook_name(*aim);
        return Some(format!("The re-hang underway takes it from there to {aim}"));
    }
    let coming = |(card, aim): &&(_, _)| {
        *aim == hanging.hook
            && *card != hanging.kept.card.id
            && state
                .card(*card)
                .is_some_and(|kept| kept.home != Some(hanging.hook))
    };
    let leaving = |kept: &&&CardState| {
        let mut aims = homes.iter().filter(|(card, _)| *card == kept.card.id);
        aims.any(|(_, aim)| *aim != hanging.hook)
    };
    let comes = homes.iter().filter(coming).count();
    let stay = hanging.beside.len() - hanging.beside.iter().filter(leaving).count();
    let is_full = comes > 0 && comes + stay + 1 > usize::from(state.capacity(hanging.hook));
    is_full.then(|| "The re-hang underway needs that place and can't go on without it".to_owned())
}

/// All of the above, in whole sentences.
#[must_use]
pub(crate) fn hanging(hanging: &Hanging<'_>) -> Vec<String> {
    let first = [
        hanging_target(hanging),
        hanging_order(hanging),
        hanging_label(hanging),
    ];
    let all = first.into_iter().chain(hanging_warnings(hanging));
    all.map(|said| format!("{said}.")).collect()
}

fn hook_name(hanging: &Hanging<'_>) -> String {
    hanging.state.hook_name(hanging.hook)
}

/// `, between 300 on B02 and 320 on B05`; empty if the card has no neighbours.
fn between(hanging: &Hanging<'_>, sides: (Option<&CardState>, Option<&CardState>)) -> String {
    let say = |kept: &CardState| {
        let home = kept.home.map(|hook| hanging.state.hook_name(hook));
        let name = hanging.state.card_name(kept);
        format!("{name} on {home}", home = home.unwrap_or_default())
    };
    match sides {
        (None, None) => String::new(),
        (Some(before), None) => format!(", after {card}", card = say(before)),
        (None, Some(after)) => format!(", before {card}", card = say(after)),
        (Some(before), Some(after)) => format!(
            ", between {card} and {other}",
            card = say(before),
            other = say(after)
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::move_nothing::Disorder;
    use crate::stash::command::rehang::plans;
    use crate::stash::testing::{add_cards, wall};

    #[test]
    fn a_plan_shows_its_room_when_colours_are_on_the_way() {
        let mut state = wall(1, 8, 1);
        add_cards(&mut state, &["1@A01", "5@A02"]);
        let mut plan = plans(&state).unwrap().swap_remove(0);
        assert_eq!(room_in_words(&plan), None);
        for (on_the_way, without, others, not_fitting, words) in [
            (
                6,
                0,
                29.3,
                17.0,
                "Room for all 6 colours on the way and 12 of 29 others.",
            ),
            (6, 2, 0.4, 0.4, "Room for 4 of 6 colours on the way."),
            (
                1,
                0,
                1.0,
                0.0,
                "Room for the colour on the way and 1 of 1 other.",
            ),
            (
                1,
                1,
                1.0,
                1.2,
                "Room for 0 of 1 colour on the way and 0 of 1 other.",
            ),
            (
                2,
                0,
                2.0,
                0.0,
                "Room for both colours on the way and 2 of 2 others.",
            ),
        ] {
            (plan.on_the_way, plan.on_the_way_without_place) = (on_the_way, without);
            plan.to_come = on_the_way as f64 + others;
            plan.room = without as f64 + not_fitting;
            assert_eq!(room_in_words(&plan).as_deref(), Some(words));
        }
        // The same as a single number.
        assert_eq!(room_for(&plan), (4, 4));
    }

    #[test]
    fn a_plan_shows_how_far_it_is_from_order() {
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
