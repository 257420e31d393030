//! Plans new homes for every card that move as few cards as possible, and carries them out step by
//! step. The options of a re-hang aren't stored ([`PlanRequest`]).

mod question;
mod work;

use std::collections::BTreeSet;

use jiff::Timestamp;

use self::question::Question;
use crate::engine::move_nothing::{Disorder, longest_chain};
use crate::engine::pareto::WorkTimes;
use crate::model::board::{Board, HookRef};
use crate::model::ids::{BoardId, CardId, FamilyId};
use crate::model::whereabouts::Underway;
use crate::stash::event::{Act, Change, Event};
use crate::stash::order::Order;
use crate::stash::refusal::{Refusal, Run};
use crate::stash::state::{CardState, State};

pub use self::work::{HangStep, all, give_up, remaining, step, steps};

/// New homes for the cards, and the work to get there.
#[derive(Debug, Clone, PartialEq)]
pub struct RehangPlan {
    /// Its number: 0 moves no hung card, 1 keeps the order with the least effort.
    pub number: usize,
    /// How far its homes are out of the wanted order; only for plan 0 and those between it and plan
    /// 1.
    pub disorder: Disorder,
    /// Cards on the wall that change hooks.
    pub touched: usize,
    /// Cards away from the wall that get another home, so only the hook written on them changes.
    pub relabel: usize,
    /// The total effort of those cards; their number if none has one.
    pub effort: u64,
    /// Cards that get their first home.
    pub newly_hung: usize,
    /// Expected colours without a free place where they belong; lower is better. See
    /// [`crate::engine::room::room_score`].
    pub room: f64,
    /// Colours expected before the next re-hang, including those of [`RehangPlan::room`].
    pub to_come: f64,
    /// Those of them that are sure to come: see [`crate::stash::projects::on_the_way`].
    pub on_the_way: u64,
    /// Those of the sure ones without a free place where they belong.
    pub on_the_way_without_place: u64,
    /// Cards that the next new card is expected to move; `None` if no place is free.
    pub touched_by_newcomer: Option<f64>,
    /// Families that continue in another row; `None` if the order doesn't use families. See
    /// [`crate::engine::instance::family_breaks`].
    pub family_breaks: Option<usize>,
    /// Hooks the hand passes, to take and to hang, in rows and columns.
    pub travel: u64,
    /// The time for the work in minutes, at an assumed pace. See
    /// [`crate::engine::pareto::WorkTimes`].
    pub minutes: f64,
    /// The new home of every card that takes part, in the wanted order.
    pub homes: Vec<(CardId, HookRef)>,
    /// The work, in an order that one hand can follow.
    pub steps: Vec<HangStep>,
}

impl RehangPlan {
    /// [`RehangPlan::room`] for display, with more digits below ten so that different plans look
    /// different.
    #[must_use]
    pub fn room_shown(&self) -> String {
        if self.room >= 9.995 {
            format!("{:.1}", self.room)
        } else {
            format!("{:.2}", self.room)
        }
    }
}

/// The cards that a re-hang would give their first home. Excludes split cards, which belong on
/// rings and are rejoined, and missing cards that never had a hook.
pub fn to_hang(state: &State) -> impl Iterator<Item = &CardState> {
    let may = state.cards().filter(|kept| work::takes_part(kept));
    may.filter(|kept| kept.home.is_none())
}

/// The plans for the current stash without options. See [`plans_for`].
///
/// # Errors
/// As [`plans_for`].
pub fn plans(state: &State) -> Result<Vec<RehangPlan>, Refusal> {
    plans_for(state, &PlanRequest::default())
}

/// The plans for the current stash, each at the index of its number:
///
/// - 0 moves no hung card. New cards go to the free hooks nearest to their neighbours. If plan 1
///   moves nothing either, both are the same.
/// - 1 keeps the order with the least effort for cards hung or away, where a card without an effort
///   counts as 1.
/// - At most two plans after it cost less effort than plan 1 and leave fewer cards out of order
///   than plan 0. They keep all previously hung cards in order.
/// - Each further plan keeps the order and gives more room for more work.
///
/// Held cards stay, and reserved hooks are left empty unless a card on them stays; plan 0 leaves
/// them as they are.
///
/// # Errors
/// When there is no board, no card, not enough places, or the cards that stay block each other.
pub fn plans_for(state: &State, ask: &PlanRequest) -> Result<Vec<RehangPlan>, Refusal> {
    plans_while(state, ask, &|_| true)
}

/// Like [`plans_for`], as long as `go_on` returns true: see [`crate::engine::pareto::plans_while`].
///
/// # Errors
/// As [`plans_for`], and when `go_on` returns false.
pub fn plans_while(
    state: &State,
    ask: &PlanRequest,
    go_on: &dyn Fn(usize) -> bool,
) -> Result<Vec<RehangPlan>, Refusal> {
    let question = Question::new(state, ask)?;
    let (found, expected) = question.solve(ask.most, go_on)?;
    let (come, shut_out) = (expected.to_come, expected.shut_out);
    let on_the_way = come.certain + shut_out;
    let newly_hung = question.now.iter().filter(|home| home.is_none()).count();
    let mut in_order = found.in_order.into_iter();
    let first = [found.nothing].into_iter().chain(in_order.next());
    Ok(first
        .chain(found.between)
        .chain(in_order)
        .enumerate()
        .map(|(number, plan)| RehangPlan {
            number,
            disorder: plan.disorder,
            touched: plan.touched,
            relabel: plan.relabel,
            effort: plan.effort_moved,
            newly_hung,
            room: plan.room + shut_out as f64,
            to_come: on_the_way as f64 + come.possible,
            on_the_way,
            on_the_way_without_place: plan.certain_without_place + shut_out,
            touched_by_newcomer: plan.touched_by_newcomer,
            family_breaks: plan.family_breaks,
            travel: plan.travel,
            minutes: plan.minutes,
            homes: question
                .cards
                .iter()
                .zip(&plan.homes.hook)
                .map(|(kept, &hook)| (kept.card.id, question.hooks[hook]))
                .collect(),
            steps: question.steps(plan.steps),
        })
        .collect())
}

/// The plans to show to the user: without plan 0 if it hangs nothing, or if plan 1 moves nothing
/// either.
pub(crate) fn worth_showing(plans: &[RehangPlan]) -> &[RehangPlan] {
    let moves = |plan: &RehangPlan| plan.touched + plan.relabel > 0;
    match plans {
        [nothing, rest @ ..] if nothing.steps.is_empty() || !rest.first().is_some_and(moves) => {
            rest
        }
        _ => plans,
    }
}

/// The cards with a home that hang out of the wanted order: those outside the longest chain of
/// cards in order, sorted by the wanted order. The next re-hang puts them in order, unless it is
/// plan 0.
///
/// O(hooks + cards * log cards).
#[must_use]
pub fn out_of_order(state: &State) -> Vec<&CardState> {
    let hooks: Vec<HookRef> = state.hooks().collect();
    let place = work::numbered(&hooks);
    let cards = state.in_wanted_order(state.cards().filter(|kept| work::takes_part(kept)));
    let home = |kept: &&CardState| kept.home.and_then(|hook| place.get(&hook).copied());
    let homes: Vec<Option<usize>> = cards.iter().map(home).collect();
    let chain = longest_chain(&homes);
    let strays = cards.into_iter().zip(chain);
    strays
        .filter(|(kept, in_order)| kept.home.is_some() && !in_order)
        .map(|(kept, _)| kept)
        .collect()
}

/// Starts a re-hang: the stash records the target homes and the progress. [`step`] does the steps,
/// and the last one ends the re-hang.
///
/// # Errors
/// When one is already underway, or the plan has nothing to do.
pub fn begin(state: &State, plan: &RehangPlan, now: Timestamp) -> Result<Event, Refusal> {
    if state.underway().is_some() {
        return Err(already(state));
    }
    let aims: Vec<_> = plan
        .homes
        .iter()
        .filter(|(card, hook)| {
            state
                .card(*card)
                .is_some_and(|kept| kept.home != Some(*hook))
        })
        .copied()
        .collect();
    if aims.is_empty() {
        return Err(Refusal::NothingToDo);
    }
    let steps = u32::try_from(plan.steps.len()).unwrap_or(u32::MAX);
    Ok(Event {
        act: Act::BeginRehang { steps },
        changes: vec![Change::Underway {
            before: None,
            after: Some(Underway {
                homes: aims,
                steps,
                done: 0,
                begun: now,
            }),
        }],
    })
}

/// The refusal of a second re-hang while one is underway.
fn already(state: &State) -> Refusal {
    let (done, steps) = state.underway().map_or((0, 0), |u| (u.done, u.steps));
    Refusal::RehangUnderway { done, steps }
}

/// Options for one re-hang. By default, the settings of the stash.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanRequest {
    /// The order to hang in; `None` for the order of the stash.
    pub order: Option<Order>,
    /// The rows that may change; `None` for all.
    ///
    /// A card that belongs on another row stays there, and a card without a home waits if it
    /// belongs between such cards.
    pub rows: Option<Rows>,
    /// Cards that stay this time, in addition to held ones.
    pub holds: Vec<CardId>,
    /// How long the work is assumed to take.
    pub pace: WorkTimes,
    /// The most plans in order. 0 counts as 1, and with 1 there are no plans between moving nothing
    /// and full order.
    pub most: usize,
}

impl Default for PlanRequest {
    fn default() -> Self {
        Self {
            order: None,
            rows: None,
            holds: Vec::new(),
            pace: WorkTimes::default(),
            most: 8,
        }
    }
}

/// A set of rows of boards.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Rows(BTreeSet<(BoardId, u16)>);

impl Rows {
    /// Whether a hook is on one of the rows.
    #[must_use]
    pub fn have(&self, hook: HookRef) -> bool {
        self.0.contains(&(hook.board, hook.row))
    }

    /// Parses rows as users name them: `A`, or `A-C` for all from A to C, with the board's prefix
    /// if it has one (`2-A`, `2-A-C`).
    ///
    /// # Errors
    /// When there is no board, or no such row.
    pub fn named(state: &State, names: &[String]) -> Result<Self, Refusal> {
        if state.boards().len() == 0 {
            return Err(Refusal::NoBoard);
        }
        let mut rows = BTreeSet::new();
        for name in names {
            let (board, first, last) = state
                .boards()
                .find_map(|board| run(board, name))
                .ok_or_else(|| unknown(state, name))?;
            rows.extend((first..=last).map(|row| (board, row)));
        }
        Ok(Self(rows))
    }
}

fn unknown(state: &State, name: &str) -> Refusal {
    let runs = state.boards().map(|board| {
        let row = |row| format!("{}{}", board.prefix, Board::row_letters(row));
        Run {
            board: board.name.to_string(),
            first: row(0),
            last: row(board.rows - 1),
        }
    });
    Refusal::UnknownRow {
        row: name.trim().chars().take(40).collect(),
        known: runs.collect(),
    }
}

/// A row of a board, or the first and the last of several.
fn run(board: &Board, name: &str) -> Option<(BoardId, u16, u16)> {
    if let Some(row) = row(board, name) {
        return Some((board.id, row, row));
    }
    name.match_indices('-').find_map(|(at, dash)| {
        let first = row(board, &name[..at])?;
        let rest = &name[at + dash.len()..];
        let last = row(board, rest).or_else(|| letters(board, rest))?;
        (first <= last).then_some((board.id, first, last))
    })
}

/// The row with a name, including the board's prefix. Ignores case, spaces and dashes in the
/// prefix, as hook names do.
fn row(board: &Board, name: &str) -> Option<u16> {
    let plain = |text: &str| -> String {
        text.chars()
            .filter(|c| !c.is_whitespace() && *c != '-')
            .flat_map(char::to_uppercase)
            .collect()
    };
    let prefix = plain(board.prefix.as_str());
    let ends = name.char_indices().map(|(at, _)| at);
    ends.filter(|&at| plain(&name[..at]) == prefix)
        .find_map(|at| letters(board, &name[at..]))
}

/// The row with these letters.
fn letters(board: &Board, text: &str) -> Option<u16> {
    let text = text.trim().to_uppercase();
    (0..board.rows).find(|&row| Board::row_letters(row) == text)
}

/// The order with the named families first, or one of the words `family`, `number` and `lightness`.
///
/// # Errors
/// When a name isn't a family, or is given twice.
pub fn order_named(state: &State, names: &[String]) -> Result<Order, Refusal> {
    match names {
        [one] if one.eq_ignore_ascii_case("family") => return Ok(Order::Family),
        [one] if one.eq_ignore_ascii_case("number") => return Ok(Order::Number),
        [one] if one.eq_ignore_ascii_case("lightness") => return Ok(Order::Lightness),
        _ => {}
    }
    let mut families: Vec<FamilyId> = Vec::with_capacity(names.len());
    for name in names {
        let id = state.find_family(name)?.id;
        if families.contains(&id) {
            return Err(Refusal::FamilyTwice(name.clone()));
        }
        families.push(id);
    }
    Ok(Order::Families(families))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::stash::command::board::new_board;
    use crate::stash::command::ring;
    use crate::stash::testing::{
        Shown as _, add_cards, apply, at, board, follow, home, id, in_hand, least_effort, place,
        wall,
    };

    fn hook(state: &State, hook_name: &str) -> HookRef {
        state.find_hook(hook_name).unwrap()
    }

    #[test]
    fn cards_to_hang_are_hung_between_the_others() {
        let mut state = wall(1, 4, 1);
        add_cards(&mut state, &["1@A01", "3@A02", "2"]);
        let plans = plans(&state).unwrap();
        let plan = &plans[1];
        assert_eq!((plan.touched, plan.relabel, plan.newly_hung), (1, 0, 1));
        let (two, three) = (id(&state, "2"), id(&state, "3"));
        let [a02, a03] = ["A02", "A03"].map(|hook_name| hook(&state, hook_name));
        let steps = [(three, Some(a02), Some(a03)), (two, None, Some(a02))];
        assert_eq!(
            plan.steps,
            steps.map(|(card, from, to)| HangStep { card, from, to })
        );
        follow(&mut state, plan);
        let homes = ["1", "2", "3"].map(|name| home(&state, name).unwrap());
        assert_eq!(homes, ["A01", "A02", "A03"]);
    }

    #[test]
    fn a_card_away_only_gets_another_hook() {
        let mut state = wall(1, 2, 1);
        add_cards(&mut state, &["2@A01", "1@A02"]);
        for name in ["1", "2"] {
            let event = ring::take(&state, "Robin", &[id(&state, name)], at(1)).unwrap();
            apply(&mut state, &event);
        }
        let plans = plans(&state).unwrap();
        assert_eq!((plans[1].touched, plans[1].relabel), (0, 2));
        follow(&mut state, &plans[1]);
        for name in ["1", "2"] {
            assert!(place(&state, name).ring().is_some());
        }
        assert_eq!(home(&state, "1").as_deref(), Some("A01"));
    }

    #[test]
    fn impossible_plans_are_refused_with_the_reason() {
        let words = |state: &State| plans(state).unwrap_err().shown();
        assert!(words(&State::default()).starts_with("There is no board yet."));
        let mut state = wall(1, 2, 1);
        assert!(words(&state).starts_with("There are no cards"));
        add_cards(&mut state, &["1", "2", "3"]);
        assert!(words(&state).starts_with("The cards don't fit: 1 more place is needed"));
        // A missing card without a home isn't waited for.
        let event = ring::missing(&state, &[id(&state, "2")], at(1)).unwrap();
        apply(&mut state, &event);
        assert_eq!(plans(&state).unwrap()[1].homes.len(), 2);
    }

    #[test]
    fn a_card_left_in_the_hand_is_hung_before_another_is_set_aside() {
        let mut state = wall(1, 5, 1);
        add_cards(&mut state, &["1@A02", "2@A01", "3@A03", "5@A04", "4@A05"]);
        let aside = HangStep {
            card: id(&state, "3"),
            from: None,
            to: None,
        };
        let event = step(&state, &aside, at(1)).unwrap();
        apply(&mut state, &event);
        let plans = plans(&state).unwrap();
        assert_eq!(plans[1].touched, 4);
        follow(&mut state, &plans[1]);
        assert_eq!(in_hand(&state), 0);
    }

    proptest! {
        #![proptest_config(crate::testing::one_case_in(4))]

        #[test]
        fn a_rehang_may_stop_anywhere_and_be_planned_again(
            columns in 1..=6u16,
            places in 1..=2u8,
            order in Just(["1", "2", "3", "4", "5", "6", "7"]).prop_shuffle(),
            to_hang in 0..3usize,
            away in prop::collection::vec(0..7usize, 0..2),
            stops in prop::collection::vec(0..12usize, 0..4),
        ) {
            let mut state = wall(1, columns, places);
            let most = usize::from(columns) * usize::from(places);
            let cards = &order[..most.min(order.len())];
            let hung = cards.len().saturating_sub(to_hang);
            let rows: Vec<String> = cards
                .iter()
                .enumerate()
                .map(|(at, number)| {
                    let column = at / usize::from(places) + 1;
                    if at < hung { format!("{number}@A{column:02}") } else { (*number).to_owned() }
                })
                .collect();
            add_cards(&mut state, &rows.iter().map(String::as_str).collect::<Vec<_>>());
            let away: Vec<CardId> = away
                .iter()
                .filter_map(|&at| cards.get(at))
                .map(|name| id(&state, name))
                .collect();
            if !away.is_empty() {
                let event = ring::take(&state, "Robin", &away, at(1)).unwrap();
                apply(&mut state, &event);
            }
            for stop in stops.iter().copied().chain([usize::MAX]) {
                let plans = plans(&state).unwrap();
                let least = &plans[1];
                let touched = least.touched + least.relabel;
                prop_assert_eq!(touched as u64, least.effort);
                prop_assert_eq!(Some(least.effort), least_effort(&state, &PlanRequest::default()));
                let mut plan = plans[stop % plans.len()].clone();
                plan.steps.truncate(stop);
                follow(&mut state, &plan);
            }
            // Plan 0 and those after plan 1 may leave cards out of order; plan 1 fixes that.
            let mend = plans(&state).unwrap().swap_remove(1);
            follow(&mut state, &mend);
            prop_assert_eq!(in_hand(&state), 0);
            let hung = state.in_wanted_order(state.cards());
            let homes: Vec<HookRef> = hung.iter().map(|kept| kept.home.unwrap()).collect();
            prop_assert!(homes.is_sorted(), "{:?}", homes);
            for kept in hung {
                let at_home = kept.place.at.hook() == kept.home;
                prop_assert_eq!(at_home, !away.contains(&kept.card.id));
            }
            // The plan with the least effort has nothing left to do.
            prop_assert_eq!(&plans(&state).unwrap()[1].steps, &[]);
        }
    }

    fn names(state: &State, cards: &[&CardState]) -> Vec<String> {
        cards.iter().map(|kept| state.card_name(kept)).collect()
    }

    #[test]
    fn plan_0_moves_nothing_and_the_next_re_hang_restores_the_order() {
        let mut state = wall(1, 6, 1);
        add_cards(&mut state, &["1@A01", "3@A02", "4@A03", "5@A04", "2"]);
        let found = plans(&state).unwrap();
        assert!(found.iter().map(|plan| plan.number).eq(0..found.len()));
        let nothing = &found[0];
        assert_eq!(
            (nothing.touched, nothing.relabel, nothing.newly_hung),
            (0, 0, 1)
        );
        assert_eq!(
            (nothing.disorder.newly_hung, nothing.disorder.farthest),
            (1, 3)
        );
        assert_eq!(
            (found[1].touched, found[1].disorder),
            (3, Disorder::default())
        );
        assert_eq!(worth_showing(&found).len(), found.len());
        assert_eq!(out_of_order(&state), Vec::<&CardState>::new());
        follow(&mut state, nothing);
        assert_eq!(home(&state, "2").as_deref(), Some("A05"));
        assert_eq!(names(&state, &out_of_order(&state)), ["2"]);

        // Now it hangs, so plan 0 has nothing to do and isn't shown.
        let found = plans(&state).unwrap();
        assert_eq!((found[0].steps.len(), found[0].disorder.left), (0, 1));
        assert_eq!(worth_showing(&found)[0].number, 1);
        follow(&mut state, &found[1]);
        assert_eq!(out_of_order(&state), Vec::<&CardState>::new());
    }

    #[test]
    fn plan_0_equals_plan_1_if_nothing_has_to_move() {
        let mut state = wall(1, 4, 1);
        add_cards(&mut state, &["1@A01", "3@A04", "2"]);
        let found = plans(&state).unwrap();
        let first = RehangPlan {
            number: 0,
            ..found[1].clone()
        };
        assert_eq!(found[0], first);
        assert_eq!(worth_showing(&found)[0].number, 1);
    }

    #[test]
    fn between_plan_0_and_plan_1_few_cards_move_and_few_are_out_of_order() {
        // 2 and 3 belong where there is no room; 9 has only one card to push aside.
        let mut state = wall(1, 14, 1);
        let hung = [
            "1@A01", "4@A02", "5@A03", "6@A04", "7@A05", "8@A06", "10@A07",
        ];
        add_cards(&mut state, &hung);
        add_cards(&mut state, &["2", "3", "9"]);
        let found = plans(&state).unwrap();
        let figures: Vec<_> = found[..3]
            .iter()
            .map(|plan| (plan.touched, plan.disorder.cards()))
            .collect();
        assert_eq!(figures, [(0, 3), (6, 0), (1, 2)]);
        follow(&mut state, &found[2]);
        assert_eq!(names(&state, &out_of_order(&state)), ["2", "3"]);
    }

    #[test]
    fn plans_with_different_room_look_different() {
        let mut state = wall(1, 4, 1);
        add_cards(&mut state, &["1@A01", "3"]);
        let mut plan = plans(&state).unwrap().swap_remove(1);
        for (room, words) in [
            (1.954, "1.95"),
            (1.956, "1.96"),
            (9.999, "10.0"),
            (12.34, "12.3"),
        ] {
            plan.room = room;
            assert_eq!(plan.room_shown(), words);
        }
    }

    #[test]
    fn rows_are_named_by_letters_with_the_prefix_of_their_board() {
        let mut state = wall(4, 2, 1);
        let event = new_board(&state, &board("shelf", "2-", 3, 2, 1)).unwrap();
        apply(&mut state, &event);
        let boards: Vec<BoardId> = state.boards().map(|board| board.id).collect();
        let (wall, shelf) = (boards[0], boards[1]);
        let read = |names: &[&str]| {
            let names: Vec<String> = names.iter().map(|&name| name.to_owned()).collect();
            Rows::named(&state, &names).map(|rows| rows.0.into_iter().collect::<Vec<_>>())
        };
        for (names, rows) in [
            (&["A"][..], &[(wall, 0)][..]),
            (&[" b ", "d"], &[(wall, 1), (wall, 3)]),
            (&["A-C"], &[(wall, 0), (wall, 1), (wall, 2)]),
            (&["2-B", "a"], &[(wall, 0), (shelf, 1)]),
            (&["2b"], &[(shelf, 1)]),
            (&["2-A-B"], &[(shelf, 0), (shelf, 1)]),
            (&["2-B-2-C"], &[(shelf, 1), (shelf, 2)]),
        ] {
            assert_eq!(read(names).unwrap(), rows, "{names:?}");
        }
        for name in ["", "E", "C-A", "2-D", "A01", "A-E", "3-A"] {
            assert_eq!(
                crate::text::refusal::sentence(&read(&[name]).unwrap_err()),
                format!("There is no row {name}. 'wall' has A to D, 'shelf' has 2-A to 2-C.")
            );
        }
        let none = Rows::named(&State::default(), &["A".to_owned()]);
        assert_eq!(none, Err(Refusal::NoBoard));
    }
}
