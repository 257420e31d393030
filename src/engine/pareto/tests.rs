use std::collections::BTreeMap;

use proptest::collection::vec;
use proptest::prelude::*;

use super::candidates::Hull;
use super::candidates::{Question, candidates};
use super::*;
use crate::engine::gap_cost::UNIT;
use crate::engine::instance::family_breaks;
use crate::engine::layout::Line;
use crate::engine::room::room_score;
use crate::engine::testing::{
    assert_sound, boards, cost_of, places_of_plans, plans_with_holds, some_held,
};

fn crowded(hooks: usize, cards: usize) -> Instance {
    Instance::new(vec![1; hooks], (0..cards).map(Some).collect()).unwrap()
}

#[test]
fn plans_lead_from_a_crowd_to_an_even_layout() {
    let board = crowded(60, 40);
    let plans = plans(&board, &PlanOptions::default()).unwrap();
    assert_eq!(plans.len(), 8);
    assert_eq!((plans[0].touched, plans[0].steps.len()), (0, 0));
    assert_eq!(plans[0].touched_by_newcomer, Some(20.0));
    let last = &plans[7];
    assert!(last.touched_by_newcomer < Some(0.6), "{last:?}");
    assert!(
        last.room < plans[0].room / 2.0,
        "{} {}",
        last.room,
        plans[0].room
    );
    assert!(last.minutes > plans[1].minutes);
}

#[test]
fn new_cards_alone_have_one_plan_the_wanted_layout() {
    let board = Instance::new(vec![1; 6], vec![None; 3]).unwrap();
    let wishes = PlanOptions {
        room: Room {
            possible: Some(&[0.0, 2.0, 0.0, 1.0]),
            ..Room::default()
        },
        ..PlanOptions::default()
    };
    let plans = plans(&board, &wishes).unwrap();
    assert_eq!(plans.len(), 1);
    assert_eq!((&plans[0].homes.hook, plans[0].room), (&vec![0, 3, 4], 0.0));
}

#[test]
fn a_long_board_gets_the_ends_of_the_list() {
    let board = crowded(9000, 3000);
    let plans = plans(&board, &PlanOptions::default()).unwrap();
    let figures: Vec<_> = plans.iter().map(|plan| plan.homes.moved).collect();
    assert_eq!(figures, [0, 3000]);
    assert!(plans[1].room < 1500.0 && plans[0].room > 2000.0);
}

#[test]
fn families_stay_on_one_row_for_a_few_more_moves() {
    // Families of 8, 4 and 9 cards in order on rows of ten: the second one continues in the second
    // row, and the third in the third.
    let board = crowded(30, 21);
    let family_start: Vec<bool> = (0..21).map(|card| [0, 8, 12].contains(&card)).collect();
    let row_of: Vec<u32> = (0..30).map(|hook| hook / 10).collect();
    let rows = Some(Rows {
        family_start: &family_start,
        row_of: &row_of,
    });
    let wishes = PlanOptions {
        rows,
        ..PlanOptions::default()
    };
    let plans = plans(&board, &wishes).unwrap();
    assert_eq!((plans[0].touched, plans[0].family_breaks), (0, Some(2)));
    let whole = plans.iter().find(|plan| plan.family_breaks == Some(0));
    let whole = whole.unwrap();
    // The second and third family move to the second and third row.
    assert_eq!(whole.touched, 13);
    assert!(whole.homes.hook[7] < 10 && whole.homes.hook[8] >= 10 && whole.homes.hook[12] >= 20);
}

#[test]
fn a_card_away_is_a_label_to_rewrite_and_pace_gives_minutes() {
    let board = Instance::new(vec![1; 4], vec![Some(1), Some(0), None]).unwrap();
    let wishes = PlanOptions {
        away: Some(&[false, true, false]),
        most: 1,
        pace: WorkTimes {
            card: 60.0,
            label: 30.0,
            aside: 0.0,
            hook: 6.0,
        },
        ..PlanOptions::default()
    };
    let [plan] = &plans(&board, &wishes).unwrap()[..] else {
        panic!("one plan");
    };
    // The card away gets hook 2: half a minute for its label, and one for the new card.
    assert_eq!((plan.touched, plan.relabel), (0, 1));
    assert_eq!(plan.homes.hook, [1, 2, 3]);
    assert_eq!(plan.minutes, 1.5);
}

#[test]
fn options_must_fit_the_cards() {
    let board = crowded(4, 2);
    let rows = Some(Rows {
        family_start: &[true],
        row_of: &[0; 4],
    });
    let bad = [
        PlanOptions {
            effort: Some(&[1]),
            ..PlanOptions::default()
        },
        PlanOptions {
            away: Some(&[true]),
            ..PlanOptions::default()
        },
        PlanOptions {
            room: Room {
                possible: Some(&[1.0, 1.0]),
                ..Room::default()
            },
            ..PlanOptions::default()
        },
        PlanOptions {
            rows,
            ..PlanOptions::default()
        },
        PlanOptions {
            grid: Some(&[(0, 0)]),
            ..PlanOptions::default()
        },
    ];
    for wishes in bad {
        let refused = plans(&board, &wishes);
        assert!(matches!(refused, Err(EngineError::Length { .. })));
    }
    let one = PlanOptions {
        most: 0,
        ..PlanOptions::default()
    };
    assert!(matches!(plans(&crowded(1, 1), &one).as_deref(), Ok([_])));
}

/// Colours to come, efforts, families and rows, and cards away, for up to 60 cards and 40 hooks.
#[derive(Debug, Clone)]
struct Drawn {
    certain: Option<Vec<u32>>,
    possible: Vec<f64>,
    effort: Vec<u32>,
    start: Vec<bool>,
    away: Vec<bool>,
    row_of: Vec<u32>,
    holds: Vec<u8>,
}

impl Drawn {
    fn wishes(&self, board: &Instance, most: usize) -> PlanOptions<'_> {
        let cards = board.cards().len();
        PlanOptions {
            room: Room {
                certain: self.certain.as_ref().map(|certain| &certain[..=cards]),
                possible: Some(&self.possible[..=cards]),
            },
            effort: Some(&self.effort[..cards]),
            away: Some(&self.away[..cards]),
            rows: Some(Rows {
                family_start: &self.start[..cards],
                row_of: &self.row_of[..board.capacity().len()],
            }),
            most,
            ..PlanOptions::default()
        }
    }
}

fn drawn() -> impl Strategy<Value = Drawn> {
    let effort = prop_oneof![4 => Just(1), 2 => 0..5u32, 1 => Just(u32::MAX)];
    let light = prop_oneof![Just(1), 0..3u32];
    let effort = prop_oneof![vec(effort, 60), vec(light, 60)];
    let colours = prop_oneof![1 => Just(0.0), 3 => (0..6u8).prop_map(f64::from), 1 => 0.0..5.0f64];
    (
        prop::option::of(vec(prop_oneof![4 => Just(0), 1 => 1..4u32], 61)),
        vec(colours, 61),
        effort,
        vec(prop::bool::weighted(0.3), 60),
        vec(prop::bool::weighted(0.2), 60),
        2..10u32,
        vec(0..8u8, 60),
    )
        .prop_map(
            |(certain, possible, effort, start, away, row, holds)| Drawn {
                certain,
                possible,
                effort,
                start,
                away,
                row_of: (0..40).map(|hook| hook / row).collect(),
                // One card in eight is held.
                holds: holds.into_iter().map(|hold| u8::from(hold == 0)).collect(),
            },
        )
}

/// Recomputes and checks the figures of each plan.
fn assert_list(board: &Instance, plans: &[PlanHomes], wishes: &PlanOptions) {
    let (effort, away) = (wishes.effort.unwrap(), wishes.away.unwrap());
    for plan in plans {
        assert_sound(board, &plan.homes);
        let hook = &plan.homes.hook;
        assert_eq!(cost_of(board, hook, effort).0, plan.effort_moved);
        assert_eq!(room_score(board, hook, &wishes.room), Ok(plan.room));
        let on_wall: Vec<u32> = away.iter().map(|away| u32::from(!away)).collect();
        assert_eq!(cost_of(board, hook, &on_wall).0, plan.touched as u64);
        assert_eq!(plan.touched + plan.relabel, plan.homes.moved);
        let rows = wishes.rows.unwrap();
        assert_eq!(family_breaks(board, &rows, hook).ok(), plan.family_breaks);
        for (rank, now) in board.cards().iter().enumerate() {
            assert!(!board.is_held(rank) || *now == Some(hook[rank]));
        }
        for other in plans {
            let beaten = other.effort_moved <= plan.effort_moved
                && other.touched <= plan.touched
                && other.relabel <= plan.relabel
                && other.room <= plan.room
                && other.family_breaks <= plan.family_breaks
                && other.travel <= plan.travel;
            assert!(!beaten || std::ptr::eq(plan, other), "{plan:?} {other:?}");
        }
    }
    assert!(plans.is_sorted_by(|a, b| a.effort_moved <= b.effort_moved));
}

/// Every plan that keeps the holds, with effort, room and breaks.
fn every_plan(
    board: &Instance,
    kept: &[Vec<usize>],
    wishes: &PlanOptions,
) -> Vec<(u64, u128, usize)> {
    let measure = Measure::new(board, &wishes.room).unwrap();
    let all = places_of_plans(board);
    let all = all.iter().filter(|(hook, _)| kept.contains(hook));
    all.map(|(hook, places)| {
        let effort = cost_of(board, hook, wishes.effort.unwrap()).0;
        let room = places
            .iter()
            .map(|place| measure.sum(place, board.places()));
        let breaks = family_breaks(board, &wishes.rows.unwrap(), hook).unwrap();
        (effort, room.min().unwrap(), breaks)
    })
    .collect()
}

proptest! {
    #![proptest_config(crate::testing::one_case_in(4))]

    #[test]
    fn the_candidates_have_the_most_room_for_every_effort(
        board in boards(6, 2, 6),
        drawn in drawn(),
    ) {
        let stay = some_held(&board, &drawn.holds);
        let kept = plans_with_holds(&board, &stay);
        let Ok(board) = board.with_holds(&stay) else { return Ok(()) };
        let wishes = drawn.wishes(&board, 8);
        let every = every_plan(&board, &kept, &wishes);
        let least = every.iter().map(|plan| plan.0).min();
        let listed = plans(&board, &wishes).unwrap();
        assert_list(&board, &listed, &wishes);
        prop_assert!((1..=8).contains(&listed.len()));
        prop_assert_eq!(listed.first().map(|plan| plan.effort_moved), least);
        let roomiest = every.iter().map(|plan| plan.1).min().unwrap();
        let shown = listed.iter().map(|plan| (plan.room * UNIT as f64) as u128).min();
        prop_assert_eq!(shown, Some(roomiest));

        // Efforts small enough for the table of every number: the candidates include the whole
        // front.
        if drawn.effort.iter().all(|&effort| effort < 9) {
            let measure = Measure::new(&board, &wishes.room).unwrap();
            let mut front = BTreeMap::new();
            for &(effort, room, _) in &every {
                let known = front.entry(effort).or_insert(room);
                *known = room.min(*known);
            }
            let found = candidates(&board, &measure, &wishes, &|_| true).unwrap();
            let mut least = u128::MAX;
            for (effort, room) in front {
                if room < least {
                    least = room;
                    let there = found.iter().any(|point| (point.effort, point.room) == (effort, room));
                    prop_assert!(there, "{} {}", effort, room);
                }
            }
        }
    }

    #[test]
    fn a_hull_has_every_corner(
        board in boards(6, 2, 6),
        drawn in drawn(),
        price in prop_oneof![Just(0), 0..3 * UNIT],
    ) {
        let kept = plans_with_holds(&board, &vec![false; board.cards().len()]);
        let wishes = drawn.wishes(&board, 8);
        let mut least = BTreeMap::new();
        for (effort, room, breaks) in every_plan(&board, &kept, &wishes) {
            let loss = room + u128::from(price) * breaks as u128;
            let known = least.entry(effort).or_insert(loss);
            *known = loss.min(*known);
        }
        let points: Vec<(i128, i128)> =
            least.into_iter().map(|(effort, loss)| (effort.into(), loss as i128)).collect();
        let measure = Measure::new(&board, &wishes.room).unwrap();
        let line = Line::new(&board, board.free().unwrap());
        let (go_on, count) = (&|_| true, std::cell::Cell::new(0));
        let question = Question { instance: &board, line: &line, measure: &measure, wishes: &wishes, go_on, count };
        let hull = Hull::new(&question, price).points(usize::MAX).unwrap();
        let listed: Vec<(i128, i128)> = hull
            .iter()
            .map(|point| {
                let loss = point.room + u128::from(price) * point.breaks as u128;
                (point.effort.into(), loss as i128)
            })
            .collect();
        // The corners of the lower hull, by comparing every pair on both sides of a point.
        let corner = |&(x, y): &(i128, i128)| {
            points.iter().all(|a| a.0 >= x || a.1 > y) && points.iter().all(|a| {
                points.iter().all(|b| {
                    a.0 >= x || b.0 <= x || (b.1 - a.1) * (x - a.0) > (y - a.1) * (b.0 - a.0)
                })
            })
        };
        for point in points.iter().filter(|point| corner(point)) {
            prop_assert!(listed.contains(point), "{:?} is not in {:?}", point, listed);
        }
    }

    #[test]
    fn no_plan_is_dominated_on_larger_boards(
        board in boards(40, 3, 60),
        drawn in drawn(),
        most in 1..9usize,
    ) {
        let stay = some_held(&board, &drawn.holds);
        let Ok(board) = board.with_holds(&stay) else { return Ok(()) };
        let wishes = drawn.wishes(&board, most);
        let listed = plans(&board, &wishes).unwrap();
        prop_assert!((1..=most).contains(&listed.len()));
        assert_list(&board, &listed, &wishes);
        let fewest = fewest_moves::fewest_moves_weighted(&board, wishes.effort.unwrap()).unwrap();
        let least = cost_of(&board, &fewest.hook, wishes.effort.unwrap()).0;
        prop_assert_eq!(listed[0].effort_moved, least);
    }
}

#[test]
fn it_stops_on_request_and_reports_its_progress() {
    let board = Instance::new(vec![1; 12], vec![Some(3), None, Some(2), Some(9), None]).unwrap();
    let asked = std::cell::RefCell::new(Vec::new());
    let all = plans_while(&board, &PlanOptions::default(), &|done| {
        asked.borrow_mut().push(done);
        true
    });
    assert_eq!(all, plans(&board, &PlanOptions::default()));
    let asked = asked.into_inner();
    assert!(asked.is_sorted() && asked[0] == 0, "{asked:?}");
    for last in 0..asked.len() {
        let calls = std::cell::Cell::new(0);
        let stopped = plans_while(&board, &PlanOptions::default(), &|_| {
            calls.set(calls.get() + 1);
            calls.get() <= last
        });
        assert_eq!(stopped, Err(EngineError::Stopped));
        assert_eq!(calls.get(), last + 1, "it asked on after it was stopped");
    }
}

#[test]
fn the_list_begins_with_moving_nothing_and_has_plans_between() {
    // Two new cards at the head of a row without room, and one near its end.
    let mut cards: Vec<Option<usize>> = (0..20).map(Some).collect();
    cards.insert(19, None);
    cards.splice(1..1, [None, None]);
    let board = Instance::new(vec![1; 40], cards).unwrap();
    let list = plan_list(&board, &PlanOptions::default(), &|_| true).unwrap();
    let figures = |plan: &PlanHomes| (plan.touched, plan.disorder.cards());
    assert_eq!(figures(&list.nothing), (0, 3));
    assert_eq!(list.nothing.disorder.farthest, 21 - 1);
    assert_eq!(figures(&list.in_order[0]), (19, 0));
    let between: Vec<_> = list.between.iter().map(figures).collect();
    assert_eq!(between, [(1, 2)]);
    // The cards out of order take places that the row behind would grow into.
    assert!(list.nothing.room >= 0.0 && list.nothing.touched_by_newcomer.is_some());
    let one = PlanOptions {
        most: 1,
        ..PlanOptions::default()
    };
    assert!(
        plan_list(&board, &one, &|_| true)
            .unwrap()
            .between
            .is_empty()
    );
    let stopped = plan_list(&board, &PlanOptions::default(), &|_| false);
    assert_eq!(stopped, Err(EngineError::Stopped));
}

proptest! {
    #![proptest_config(crate::testing::one_case_in(4))]

    #[test]
    fn plans_out_of_order_are_sound_and_lie_between(
        board in boards(8, 2, 9),
        effort in vec(1..4u32, 9),
        away in vec(any::<bool>(), 9),
        possible in vec(0..3u8, 10),
        certain in vec(0..3u32, 10),
        holds in vec(any::<u8>(), 9),
    ) {
        let cards = board.cards().len();
        let board = board.clone().with_holds(&some_held(&board, &holds)).unwrap_or(board);
        let possible: Vec<f64> = possible[..=cards].iter().map(|&n| n.into()).collect();
        let wishes = PlanOptions {
            room: Room { certain: Some(&certain[..=cards]), possible: Some(&possible) },
            effort: Some(&effort[..cards]),
            away: Some(&away[..cards]),
            ..PlanOptions::default()
        };
        let list = plan_list(&board, &wishes, &|_| true).unwrap();
        prop_assert_eq!(&list.in_order, &plans(&board, &wishes).unwrap());
        let (nothing, first) = (&list.nothing, &list.in_order[0]);
        prop_assert_eq!((nothing.touched, nothing.relabel, nothing.effort_moved), (0, 0, 0));
        if first.homes.moved == 0 {
            prop_assert_eq!(nothing, first);
        }
        prop_assert!(list.between.len() <= 2);
        prop_assert!(list.between.is_sorted_by(|a, b| a.effort_moved < b.effort_moved));
        for plan in &list.between {
            prop_assert!(0 < plan.effort_moved && plan.effort_moved < first.effort_moved);
            prop_assert!(0 < plan.disorder.cards());
            prop_assert!(plan.disorder.cards() < nothing.disorder.cards());
            prop_assert_eq!(plan.disorder.left, 0);
        }
        for plan in list.between.iter().chain([nothing]) {
            let mut load = vec![0; board.capacity().len()];
            let mut start = load.clone();
            for (&hook, now) in plan.homes.hook.iter().zip(board.cards()) {
                load[hook] += 1;
                if let Some(now) = *now {
                    start[now] += 1;
                }
            }
            for (at, &places) in board.capacity().iter().enumerate() {
                let limit = if plan.effort_moved == 0 { places.max(start[at]) } else { places };
                prop_assert!(load[at] <= limit);
            }
            let ones = vec![1; cards];
            let (moved, distance) = cost_of(&board, &plan.homes.hook, &ones);
            prop_assert_eq!((moved as usize, distance), (plan.homes.moved, plan.homes.distance));
            prop_assert_eq!(plan.touched + plan.relabel, plan.homes.moved);
            for (card, now) in board.cards().iter().enumerate() {
                prop_assert!(!board.is_held(card) || *now == Some(plan.homes.hook[card]));
            }
        }
    }
}
