//! The trade-off: a short list of plans from fewest moves to fresh layout.
//!
//! Let a plan touch weight `M` and be `R` off the wanted room (see [`super::room`]). For any price of
//! a touch in room, the plan with the least `price * M + R` is found exactly on the table of card by
//! `q`; over all prices these plans are the lower hull of all pairs `(M, R)`. Two neighbours on the
//! hull give the price at which both cost alike, and solving for it gives a plan between them or
//! shows that the hull has none.

use super::chain;
use super::distance::{Cost, Table};
use super::ideal::Ideal;
use super::instance::{EngineError, Homes, Instance};
use super::newcomer::touched_by_newcomer;
use super::room::Room;
use super::rows;

/// Cells (cards times one more than the free places) up to which plans between the first and the
/// last are looked for: some hundredths of a second for each on the largest.
pub const MOST_CELLS_BETWEEN: u64 = 1 << 22;

/// What a list of plans is asked for.
#[derive(Debug, Clone, Copy)]
pub struct Wishes<'a> {
    /// The room that is wanted.
    pub room: Room<'a>,
    /// Cost of touching each card where it hangs; `None` = each counts 1.
    pub weight: Option<&'a [u32]>,
    /// Length of the list at most; 0 counts as 1.
    pub most: usize,
}

impl Default for Wishes<'_> {
    /// Even room, cards all alike, and five plans at most.
    fn default() -> Self {
        Self {
            room: Room::default(),
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
    /// Families whose first card is the first on a row, where fresh rows are wished.
    pub families_on_rows: Option<usize>,
}

/// Plans from fewest moves to fresh layout, by rising weight moved and falling distance from the
/// wanted room, so that none is at least as good as another in both.
///
/// The first touches the least weight, exactly; among such plans it has the least distance, then the
/// most room. The last has all cards as near to the wanted layout as whole places allow, and touches
/// the least weight for that. Those between are on the lower hull of weight against squared distance
/// from the wanted layout, where the gap between known plans is widest. There is one plan only where
/// the wanted layout touches no more weight than the first plan does.
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
    let ideal = Ideal::new(instance, &wishes.room)?;
    let question = Question {
        instance,
        free,
        ideal,
        weight: wishes.weight,
    };
    let found = question.solve(wishes.most);
    found
        .into_iter()
        .map(|point| question.figures(point, &wishes.room))
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
            let off = self.ideal.square_off(rank, q as u64);
            let far = table.touched(rank, q);
            let weight = far.map_or(0, |_| self.weight(rank));
            Cost {
                first: u128::from(weight) << 64 | off,
                then: far.unwrap_or(0).into(),
            }
        }));
        let fresh = self.line_point(&table.cheapest(|rank, q| {
            let off = self.ideal.square_off(rank, q as u64);
            let far = table.touched(rank, q);
            let weight = far.map_or(0, |_| self.weight(rank));
            Cost {
                first: off << 64 | u128::from(weight),
                then: far.unwrap_or(0).into(),
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
            let off = scale * self.ideal.square_off(rank, q as u64);
            match table.touched(rank, q) {
                None => Cost {
                    first: off,
                    then: 0,
                },
                Some(far) => Cost {
                    first: off + price * u128::from(self.weight(rank)),
                    then: far.into(),
                },
            }
        }))
    }

    fn figures(&self, point: Point, room: &Room) -> Result<PlanHomes, EngineError> {
        let hook = &point.homes.hook;
        Ok(PlanHomes {
            weight_moved: point.weight,
            room: self.ideal.score(point.off),
            touched_by_newcomer: touched_by_newcomer(self.instance, hook, room.gaps)?,
            families_on_rows: room
                .rows
                .map(|rows| rows::families_on_rows(self.instance, &rows, hook)),
            homes: point.homes,
        })
    }
}

#[cfg(test)]
mod tests;
