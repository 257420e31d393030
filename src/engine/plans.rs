//! The trade-off: a short list of plans from fewest moves to fresh layout.
//!
//! Let a plan touch weight `M` and be `R` off the wanted room (see [`super::room`]). For any price of
//! a touch in room, the plan with the least `price * M + R` is found exactly on the table of card by
//! `q`; over all prices these plans are the lower hull of all pairs `(M, R)`. Two neighbours on the
//! hull give the price at which both cost alike, and solving for it gives a plan between them or
//! shows that the hull has none.

use super::chain;
use super::distance::{Cost, Table};
use super::instance::{EngineError, Homes, Instance};
use super::newcomer::touched_by_newcomer;
use super::room::Ideal;

/// Cells (cards times one more than the free places) up to which plans between the first and the
/// last are looked for: some milliseconds for each.
pub const MOST_CELLS_BETWEEN: u64 = 1 << 21;

/// What a list of plans is asked for.
#[derive(Debug, Clone, Copy)]
pub struct Wishes<'a> {
    /// `wanted[r]` = share of the free places wanted before card `r`, `wanted[cards]` = after the
    /// last card, in any unit, 0 or more; `None` = all alike.
    pub wanted: Option<&'a [f64]>,
    /// Cost of touching each card where it hangs; `None` = each counts 1.
    pub weight: Option<&'a [u32]>,
    /// Length of the list at most; 0 counts as 1.
    pub most: usize,
}

impl Default for Wishes<'_> {
    /// Even room, cards all alike, and five plans at most.
    fn default() -> Self {
        Self {
            wanted: None,
            weight: None,
            most: 5,
        }
    }
}

/// New homes and what they cost and bring.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanHomes {
    /// The homes, with the number of cards moved and their distance.
    pub homes: Homes,
    /// Sum of the weights of the moved cards; their number where no weights are given.
    pub weight_moved: u64,
    /// How far the plan is off the wanted room, as [`super::room::room_score`] has it: lower is better.
    pub room: f64,
    /// Cards the next new one is expected to touch, see
    /// [`super::newcomer::touched_by_newcomer`]; `None` where no place is free.
    pub touched_by_newcomer: Option<f64>,
}

/// Plans from fewest moves to fresh layout, by rising weight moved and falling distance from the
/// wanted room, so that none is at least as good as another in both.
///
/// The first touches the least weight, exactly; among such plans it has the least distance, then the
/// most room. The last has all cards as near to the wanted layout as whole places allow, and touches
/// the least weight for that. Those between are on the lower hull of weight against squared distance
/// from the wanted layout, where the gap between known plans is widest. There is one plan only where
/// the first has the best room already.
///
/// O(cards * (free places + 1)) time for each plan. On boards with more than [`MOST_CELLS_BETWEEN`]
/// cells there are no plans between, and the last is simply the wanted layout; beyond
/// [`super::distance::MOST_CELLS`] the first takes no heed of distance, and says so.
///
/// # Errors
/// [`EngineError::Length`] and [`EngineError::BadGap`] for wishes that do not fit the cards;
/// [`EngineError::Short`] where there are fewer places than cards.
pub fn plans(instance: &Instance, wishes: &Wishes) -> Result<Vec<PlanHomes>, EngineError> {
    if let Some(weight) = wishes.weight {
        chain::check_weights(instance, weight)?;
    }
    let free = instance.free()?;
    let ideal = Ideal::new(instance.cards().len(), free, wishes.wanted)?;
    let question = Question {
        instance,
        free,
        ideal,
        weight: wishes.weight,
    };
    let found = question.solve(wishes.most);
    found
        .into_iter()
        .map(|point| question.figures(point, wishes.wanted))
        .collect()
}

/// A plan by the two figures that are traded.
#[derive(Clone)]
struct Point {
    homes: Homes,
    weight: u64,
    off: u128,
}

struct Question<'a> {
    instance: &'a Instance,
    free: u64,
    ideal: Ideal,
    weight: Option<&'a [u32]>,
}

impl Question<'_> {
    fn weight(&self, rank: usize) -> u64 {
        self.weight.map_or(1, |weight| u64::from(weight[rank]))
    }

    fn point(&self, homes: Homes) -> Point {
        let moved = self.instance.cards().iter().zip(&homes.hook).enumerate();
        let moved = moved.filter(|(_, (now, new))| now.is_some_and(|now| now != **new));
        let weight = moved.map(|(rank, _)| self.weight(rank)).sum();
        let off = self.ideal.squares_off(self.instance, &homes.hook);
        Point { homes, weight, off }
    }

    fn line_point(&self, q: &[u64]) -> Point {
        self.point(Homes::from_line(self.instance, q, false))
    }

    fn solve(&self, most: usize) -> Vec<Point> {
        let weight = |rank| self.weight(rank);
        let Some(table) = Table::new(self.instance, self.free) else {
            let chain = chain::heaviest_chain(self.instance, self.free, weight);
            return self.with_wanted_layout(self.line_point(&chain), most);
        };
        let line = table.least(&weight, &self.ideal);
        let first = self.point(Homes::from_line(self.instance, &line, true));
        if table.cells() > MOST_CELLS_BETWEEN {
            return self.with_wanted_layout(first, most);
        }
        self.with_hull(first, &table, most)
    }

    /// The first plan and the wanted layout itself, if that has more room.
    fn with_wanted_layout(&self, first: Point, most: usize) -> Vec<Point> {
        let line: Vec<u64> = (0..first.homes.hook.len())
            .map(|r| self.ideal.nearest(r))
            .collect();
        let last = self.line_point(&line);
        let worth = last.off < first.off && last.weight > first.weight && most > 1;
        if worth {
            vec![first, last]
        } else {
            vec![first]
        }
    }

    /// The first plan and plans of the lower hull.
    fn with_hull(&self, first: Point, table: &Table, most: usize) -> Vec<Point> {
        // The end of the hull: the weight of the first plan, and the most room for it whatever the
        // distance. It is not listed, since it differs from the first plan in distance and room only.
        let end = self.line_point(&table.cheapest(|rank, q| {
            let off = u128::from(self.ideal.square_off(rank, q as u64));
            let far = table.touched(rank, q);
            let weight = far.map_or(0, |_| self.weight(rank));
            Cost {
                first: u128::from(weight) << 64 | off,
                then: far.unwrap_or(0),
            }
        }));
        let fresh = self.line_point(&table.cheapest(|rank, q| {
            let off = u128::from(self.ideal.square_off(rank, q as u64));
            let far = table.touched(rank, q);
            let weight = far.map_or(0, |_| self.weight(rank));
            Cost {
                first: off << 64 | u128::from(weight),
                then: far.unwrap_or(0),
            }
        }));
        if most < 2 || fresh.weight == first.weight {
            return vec![first];
        }
        let mut hull = vec![end, fresh];
        // Whether there may be plans between a point of the hull and the next.
        let mut open = vec![true];
        while hull.len() < most {
            let widest = (0..open.len()).filter(|&at| open[at]).max_by_key(|&at| {
                let (a, b) = (&hull[at], &hull[at + 1]);
                u128::from(b.weight - a.weight) * (a.off - b.off)
            });
            let Some(at) = widest else { break };
            let between = self.between(&hull[at], &hull[at + 1], table);
            if hull[at].weight < between.weight && between.weight < hull[at + 1].weight {
                hull.insert(at + 1, between);
                open.insert(at, true);
            } else {
                open[at] = false;
            }
        }
        hull[0] = first;
        hull
    }

    /// A plan of the least cost at the price at which `a` and `b` cost alike.
    fn between(&self, a: &Point, b: &Point, table: &Table) -> Point {
        let price = a.off - b.off;
        let scale = u128::from(b.weight - a.weight);
        self.line_point(&table.cheapest(|rank, q| {
            // Both products of whole sums stay below 2^122 on the largest table.
            let off = scale * u128::from(self.ideal.square_off(rank, q as u64));
            match table.touched(rank, q) {
                None => Cost {
                    first: off,
                    then: 0,
                },
                Some(far) => Cost {
                    first: off + price * u128::from(self.weight(rank)),
                    then: far,
                },
            }
        }))
    }

    fn figures(&self, point: Point, wanted: Option<&[f64]>) -> Result<PlanHomes, EngineError> {
        Ok(PlanHomes {
            weight_moved: point.weight,
            room: self.ideal.score(point.off),
            touched_by_newcomer: touched_by_newcomer(self.instance, &point.homes.hook, wanted)?,
            homes: point.homes,
        })
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use proptest::collection::vec;
    use proptest::prelude::*;

    use super::super::distance::fewest_moves_least_distance;
    use super::super::room::room_score;
    use super::super::testing::{all_plans, assert_sound, boards, cost_of};
    use super::*;

    fn crowded(hooks: usize, cards: usize) -> Instance {
        Instance::new(vec![1; hooks], (0..cards).map(Some).collect()).unwrap()
    }

    #[test]
    fn from_a_crowd_to_an_even_layout() {
        let board = crowded(60, 40);
        let plans = plans(&board, &Wishes::default()).unwrap();
        assert_eq!(plans.len(), 5);
        assert_eq!(plans[0].homes.moved, 0);
        assert_eq!(plans[0].touched_by_newcomer, Some(20.0));
        let last = &plans[4];
        assert!(
            last.room < 0.3 && last.touched_by_newcomer < Some(0.6),
            "{last:?}"
        );
        // The first card of the even layout has no free place before it and stays.
        assert_eq!(last.homes.moved, 39);
    }

    #[test]
    fn all_new_cards_have_one_plan_the_wanted_layout() {
        let board = Instance::new(vec![1; 6], vec![None; 3]).unwrap();
        let wishes = Wishes {
            wanted: Some(&[0.0, 2.0, 0.0, 1.0]),
            ..Wishes::default()
        };
        let plans = plans(&board, &wishes).unwrap();
        assert_eq!(plans.len(), 1);
        assert_eq!((&plans[0].homes.hook, plans[0].room), (&vec![0, 3, 4], 0.0));
    }

    #[test]
    fn a_long_board_gets_the_ends_of_the_list() {
        let board = crowded(7000, 3000);
        let plans = plans(&board, &Wishes::default()).unwrap();
        let figures: Vec<_> = plans.iter().map(|plan| plan.homes.moved).collect();
        assert_eq!(figures, [0, 3000]);
        assert!(plans[1].room < 0.5);
    }

    #[test]
    fn wishes_must_fit_the_cards() {
        let board = crowded(4, 2);
        let bad = Wishes {
            weight: Some(&[1]),
            ..Wishes::default()
        };
        assert!(matches!(
            plans(&board, &bad),
            Err(EngineError::Length { .. })
        ));
        let bad = Wishes {
            wanted: Some(&[1.0, 1.0]),
            ..Wishes::default()
        };
        assert!(matches!(
            plans(&board, &bad),
            Err(EngineError::Length { .. })
        ));
        assert!(matches!(
            plans(
                &crowded(1, 1),
                &Wishes {
                    most: 0,
                    ..Wishes::default()
                }
            )
            .as_deref(),
            Ok([_])
        ));
    }

    /// The shares and weights for up to 60 cards.
    fn wishes() -> impl Strategy<Value = (Vec<f64>, Vec<u32>)> {
        let weight = prop_oneof![3 => Just(1), 2 => 0..5u32, 1 => Just(u32::MAX)];
        (
            vec(prop_oneof![1 => Just(0.0), 3 => 0.0..5.0f64], 61),
            vec(weight, 60),
        )
    }

    fn assert_list(board: &Instance, plans: &[PlanHomes], wanted: &[f64], weight: &[u32]) {
        for plan in plans {
            assert_sound(board, &plan.homes);
            let hook = &plan.homes.hook;
            assert_eq!(cost_of(board, hook, weight).0, plan.weight_moved);
            assert_eq!(room_score(board, hook, Some(wanted)), Ok(plan.room));
        }
        for pair in plans.windows(2) {
            assert!(pair[0].weight_moved < pair[1].weight_moved);
            assert!(pair[0].room > pair[1].room);
        }
    }

    proptest! {
        #[test]
        fn the_ends_and_the_hull_of_every_plan(
            board in boards(6, 3, 6),
            (wanted, weight) in wishes(),
        ) {
            let cards = board.cards().len();
            let (wanted, weight) = (&wanted[..=cards], &weight[..cards]);
            let wishes = Wishes { wanted: Some(wanted), weight: Some(weight), most: 30 };
            let plans = plans(&board, &wishes).unwrap();
            assert_list(&board, &plans, wanted, weight);

            let ideal = Ideal::new(cards, board.free().unwrap(), Some(wanted)).unwrap();
            let mut least_off = BTreeMap::new();
            let mut first = (u64::MAX, u64::MAX, u128::MAX);
            for hook in all_plans(&board) {
                let (weight, distance) = cost_of(&board, &hook, weight);
                let off = ideal.squares_off(&board, &hook);
                first = first.min((weight, distance, off));
                let known = least_off.entry(weight).or_insert(u128::MAX);
                *known = off.min(*known);
            }
            let off = |plan: &PlanHomes| ideal.squares_off(&board, &plan.homes.hook);
            let found = (plans[0].weight_moved, plans[0].homes.distance, off(&plans[0]));
            prop_assert_eq!(found, first);

            // The corners of the lower hull, by looking at every pair on both sides of a point.
            let points: Vec<(i128, i128)> =
                least_off.iter().map(|(&weight, &off)| (weight.into(), off as i128)).collect();
            let best = points.iter().map(|point| point.1).min().unwrap();
            let corner = |&(x, y): &(i128, i128)| {
                points.iter().all(|a| a.0 >= x || a.1 > y) && points.iter().all(|a| {
                    points.iter().all(|b| {
                        a.0 >= x || b.0 <= x || (b.1 - a.1) * (x - a.0) > (y - a.1) * (b.0 - a.0)
                    })
                })
            };
            let listed: Vec<(i128, i128)> =
                plans.iter().map(|plan| (plan.weight_moved.into(), off(plan) as i128)).collect();
            for point in points[1..].iter().filter(|point| corner(point)) {
                prop_assert!(listed.contains(point), "{:?} is not in {:?}", point, listed);
            }
            prop_assert!(listed.len() == 1 || listed.last().unwrap().1 == best);
        }

        #[test]
        fn none_is_as_good_as_another_in_both(
            board in boards(40, 3, 60),
            (wanted, weight) in wishes(),
            most in 1..6usize,
        ) {
            let cards = board.cards().len();
            let (wanted, weight) = (&wanted[..=cards], &weight[..cards]);
            let wishes = Wishes { wanted: Some(wanted), weight: Some(weight), most };
            let weighted = plans(&board, &wishes).unwrap();
            prop_assert!((1..=most).contains(&weighted.len()));
            assert_list(&board, &weighted, wanted, weight);

            let wishes = Wishes { most, ..Wishes::default() };
            let even = plans(&board, &wishes).unwrap();
            assert_list(&board, &even, &vec![1.0; cards + 1], &vec![1; cards]);
            prop_assert_eq!(&even[0].homes, &fewest_moves_least_distance(&board).unwrap());
        }
    }
}
