//! The trade-off: a short list of plans from fewest moves to fresh layout, none beaten in everything.
//!
//! A plan is judged by six figures, lower being better in each: the weight it touches (for cards all
//! alike the cards touched and rewritten together), cards touched on the wall, marks to rewrite on cards
//! that are away, room (see [`super::room`]), family breaks (see [`super::instance`]) and the hand's
//! travel. A plan that another one equals or beats in all of them is not worth showing.
//!
//! Candidates come from exact solutions. With weight `W`, room `R` and breaks `B`, for any prices `l`
//! and `b` the plan with the least `l * W + R + b * B` is found exactly on the table of card by `q`
//! (`src/engine/gap_cost`). Over all `l` these plans are the lower hull of all pairs `(W, R + b * B)`: two
//! neighbours on the hull give the price at which both cost alike, and solving for it gives a plan
//! between them or shows that the hull has none. The hull is made for no breaks price and, where
//! families have rows, for two more. Between the points of a hull there may be plans that no price
//! finds; on small boards these come from a table with the cards touched as one more dimension, which
//! gives the most room for each number of them.

mod candidates;

use super::fewest_moves;
use super::gap_cost::{Measure, Room, in_cards};
use super::instance::{EngineError, Homes, Instance};
use super::instance::{Rows, check_rows};
pub use super::layout::MOST_CELLS_BETWEEN;
use super::move_nothing::Disorder;
use super::room::{certain_without_place, touched_by_newcomer};
use super::schedule::{Step, order_of_work};

/// What a list of plans is asked for.
#[derive(Debug, Clone, Copy)]
pub struct PlanOptions<'a> {
    /// The colours that are to come.
    pub room: Room<'a>,
    /// Cost of touching each card where it hangs; `None` = each counts 1.
    pub effort: Option<&'a [u32]>,
    /// Which cards are away from the wall: a new home is a mark to rewrite, nothing to move; `None` =
    /// none.
    pub away: Option<&'a [bool]>,
    /// Families and rows, if families are to stay on one row where they can.
    pub rows: Option<Rows<'a>>,
    /// Row and column of each hook, for the travel of the hand; `None` = one long row.
    pub grid: Option<&'a [(u32, u32)]>,
    /// How long things take.
    pub pace: WorkTimes,
    /// Length of the list at most; 0 counts as 1.
    pub most: usize,
}

impl Default for PlanOptions<'_> {
    /// Nothing known of cards to come, cards all alike and on the wall, and eight plans at most.
    fn default() -> Self {
        Self {
            room: Room::default(),
            effort: None,
            away: None,
            rows: None,
            grid: None,
            pace: WorkTimes::default(),
            most: 8,
        }
    }
}

/// How long the parts of the work take, in seconds: an assumption, nothing measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WorkTimes {
    /// To take a card off, rub out its hook, write the new one and hang it.
    pub card: f64,
    /// To rewrite the mark of a card that is away.
    pub label: f64,
    /// To set a card aside and take it up again.
    pub aside: f64,
    /// To reach one hook further.
    pub hook: f64,
}

impl Default for WorkTimes {
    fn default() -> Self {
        Self {
            card: 30.0,
            label: 20.0,
            aside: 5.0,
            hook: 0.3,
        }
    }
}

/// New homes and what they cost and bring.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanHomes {
    /// The homes, with the number of cards whose home changes and their distance. In order where
    /// `disorder` has no cards.
    pub homes: Homes,
    /// How far they are out of the wanted order.
    pub disorder: Disorder,
    /// Cards on the wall that change their hook.
    pub touched: usize,
    /// Cards away whose home changes.
    pub relabel: usize,
    /// Sum of the weights of both; their number where no weights are given.
    pub effort_moved: u64,
    /// The cards to come that will find no place, see [`super::room::room_score`]: lower is better.
    pub room: f64,
    /// Those of them that are sure to come, see [`super::room::certain_without_place`].
    pub certain_without_place: u64,
    /// Cards the next new one is expected to touch, see
    /// [`super::room::touched_by_newcomer`]; `None` where no place is free.
    pub touched_by_newcomer: Option<f64>,
    /// Families that go on in another row, see [`super::instance::family_breaks`]; `None` without rows.
    pub family_breaks: Option<usize>,
    /// Hooks the hand goes over, there and on, in rows and columns.
    pub travel: u64,
    /// The work by [`PlanOptions::pace`], in minutes.
    pub minutes: f64,
    /// The work, by [`super::schedule::order_of_work`].
    pub steps: Vec<Step>,
}

/// All plans that are offered.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanList {
    /// Moves nothing that hangs; see [`super::move_nothing`]. Where the first plan in order moves nothing
    /// either, it is that one.
    pub nothing: PlanHomes,
    /// At most two plans that move less than the first in order, and leave fewer cards out of order
    /// than moving nothing does, by rising effort; see [`super::fewer_moves`].
    pub between: Vec<PlanHomes>,
    /// The plans in order: see [`plans`].
    pub in_order: Vec<PlanHomes>,
}

/// The plans in order, the plan that moves nothing, and those between, as long as `go_on` says so. With
/// [`PlanOptions::most`] of 1 there are none between.
///
/// As [`plans`], and O(cards * (free places + k) * k) for the plans between, where moving nothing leaves
/// `k` cards out of order.
///
/// # Errors
/// As [`plans_while`].
pub fn plan_list(
    instance: &Instance,
    wishes: &PlanOptions,
    go_on: &dyn Fn(usize) -> bool,
) -> Result<PlanList, EngineError> {
    let in_order = plans_while(instance, wishes, go_on)?;
    let first = in_order.first();
    let nothing = candidates::nothing(instance, wishes, first)?;
    let between = match wishes.most {
        0 | 1 => Vec::new(),
        _ => candidates::between(instance, wishes, &nothing, first, &|| go_on(in_order.len()))?,
    };
    Ok(PlanList {
        nothing,
        between,
        in_order,
    })
}

/// Up to [`PlanOptions::most`] plans by rising weight touched, of which none is equalled or beaten by
/// another in all figures.
///
/// The first touches the least weight there can be; of the others, those are chosen that differ most
/// in weight, room and breaks, among them the one with the most room. The first has the least
/// distance too, unless a plan of the same weight beats it in everything else.
///
/// Holds of the instance hold in all plans. O(cards * (free places + 1) + free places * colours to
/// come) time for each of up to some thirty candidates. On boards with more than
/// [`MOST_CELLS_BETWEEN`] cells there are two at most, the first and the even layout;
/// beyond [`super::fewest_moves::MOST_CELLS`] the first takes no heed of distance, and says so.
///
/// # Errors
/// [`EngineError::Length`] and [`EngineError::BadGap`] for wishes that do not fit the cards;
/// [`EngineError::Short`] where there are fewer places than cards.
pub fn plans(instance: &Instance, wishes: &PlanOptions) -> Result<Vec<PlanHomes>, EngineError> {
    plans_while(instance, wishes, &|_| true)
}

/// The same, as long as `go_on` says so. It is asked before each candidate, with the number of those
/// that are worked out, of up to some thirty.
///
/// # Errors
/// As [`plans`]; [`EngineError::Stopped`] when it says no.
pub fn plans_while(
    instance: &Instance,
    wishes: &PlanOptions,
    go_on: &dyn Fn(usize) -> bool,
) -> Result<Vec<PlanHomes>, EngineError> {
    check(instance, wishes)?;
    let measure = Measure::new(instance, &wishes.room)?;
    let candidates = candidates::candidates(instance, &measure, wishes, go_on)?;
    let count = candidates.len();
    let judged: Result<Vec<_>, _> = candidates
        .into_iter()
        .map(|point| {
            if go_on(count) {
                let coming = Coming::new(instance, &point.homes.hook, &wishes.room)?;
                judge(instance, wishes, point, coming, Disorder::default())
            } else {
                Err(EngineError::Stopped)
            }
        })
        .collect();
    Ok(choose(judged?, wishes.most.max(1)))
}

fn check(instance: &Instance, wishes: &PlanOptions) -> Result<(), EngineError> {
    let cards = instance.cards().len();
    if let Some(effort) = wishes.effort {
        fewest_moves::check_efforts(instance, effort)?;
    }
    if let Some(away) = wishes.away {
        super::instance::check_length(super::instance::ListOf::Away, cards, away.len())?;
    }
    if let Some(rows) = &wishes.rows {
        check_rows(instance, rows)?;
    }
    if let Some(grid) = wishes.grid {
        super::instance::check_length(
            super::instance::ListOf::PlacesOfHooks,
            instance.capacity().len(),
            grid.len(),
        )?;
    }
    Ok(())
}

/// A plan by the figures that are traded.
#[derive(Debug, Clone)]
struct Point {
    homes: Homes,
    effort: u64,
    room: u128,
    breaks: usize,
}

/// What homes in order mean to the cards to come.
struct Coming {
    /// Certain ones without a place.
    without_place: u64,
    /// Cards that the next one touches.
    touched: Option<f64>,
}

impl Coming {
    fn new(instance: &Instance, hook: &[usize], room: &Room) -> Result<Self, EngineError> {
        let next = room.next(hook.len(), instance.free()?);
        Ok(Self {
            without_place: room.certain.map_or(Ok(0), |certain| {
                certain_without_place(instance, hook, certain)
            })?,
            touched: touched_by_newcomer(instance, hook, next.as_deref())?,
        })
    }
}

/// Works out the figures of a plan.
fn judge(
    instance: &Instance,
    wishes: &PlanOptions,
    point: Point,
    coming: Coming,
    disorder: Disorder,
) -> Result<PlanHomes, EngineError> {
    let (now, hook) = (instance.cards(), &point.homes.hook);
    let liftable: Vec<bool> = match wishes.away {
        Some(away) => away.iter().map(|away| !away).collect(),
        None => vec![true; now.len()],
    };
    let new: Vec<Option<usize>> = hook.iter().copied().map(Some).collect();
    let steps = order_of_work(instance.capacity(), now, &new, &liftable)?;
    let changes = now.iter().zip(hook).zip(&liftable);
    let touched = changes
        .filter(|((now, new), on_wall)| **on_wall && now.is_some_and(|now| now != **new))
        .count();
    let relabel = point.homes.moved - touched;
    let travel = travel(&steps, &liftable, wishes.grid);
    let pace = &wishes.pace;
    let count =
        |here: &dyn Fn(&Step) -> bool| steps.iter().filter(|step| here(step)).count() as f64;
    let seconds = pace.card * count(&|step| step.to.is_some() && liftable[step.card])
        + pace.label * count(&|step| step.to.is_some() && !liftable[step.card])
        + pace.aside * count(&|step| step.to.is_none())
        + pace.hook * travel as f64;
    Ok(PlanHomes {
        touched,
        relabel,
        effort_moved: point.effort,
        room: in_cards(point.room),
        certain_without_place: coming.without_place,
        touched_by_newcomer: coming.touched,
        disorder,
        family_breaks: wishes.rows.map(|_| point.breaks),
        travel,
        minutes: seconds / 60.0,
        steps,
        homes: point.homes,
    })
}

/// Hooks between the places where the hand takes and hangs, in the order of the steps; marks of cards
/// that are away are written elsewhere.
fn travel(steps: &[Step], on_wall: &[bool], grid: Option<&[(u32, u32)]>) -> u64 {
    let far = |a: usize, b: usize| match grid {
        Some(grid) => {
            let ((row, column), (to_row, to_column)) = (grid[a], grid[b]);
            u64::from(row.abs_diff(to_row)) + u64::from(column.abs_diff(to_column))
        }
        None => a.abs_diff(b) as u64,
    };
    let walk = steps.iter().filter(|step| on_wall[step.card]);
    let mut stops = walk.flat_map(|step| [step.from, step.to]).flatten();
    let mut at = stops.next();
    let mut sum = 0;
    for stop in stops {
        sum += at.map_or(0, |at| far(at, stop));
        at = Some(stop);
    }
    sum
}

/// The plans that no other one equals or beats in all figures, by rising weight; `most` of them that
/// differ most. The nearest one of the least weight is the first, and the one with the most room is
/// among them.
fn choose(plans: Vec<PlanHomes>, most: usize) -> Vec<PlanHomes> {
    let mut worth = undominated(plans);
    worth.sort_by(|a, b| {
        let by_work = a.effort_moved.cmp(&b.effort_moved);
        by_work.then_with(|| a.homes.distance.cmp(&b.homes.distance))
    });
    let mut chosen = vec![0; worth.len().min(1)];
    let roomiest = (0..worth.len()).min_by(|&a, &b| worth[a].room.total_cmp(&worth[b].room));
    chosen.extend(roomiest.filter(|&at| at > 0 && most > 1));
    let scale = Scale::new(&worth);
    while chosen.len() < most.min(worth.len()) {
        // The one that is furthest from all chosen so far.
        let nearest = |at: usize| {
            let apart = chosen
                .iter()
                .map(|&other| scale.apart(&worth[at], &worth[other]));
            apart.fold(f64::INFINITY, f64::min)
        };
        let left = (0..worth.len()).filter(|at| !chosen.contains(at));
        let Some(next) = left.max_by(|&a, &b| nearest(a).total_cmp(&nearest(b))) else {
            break;
        };
        chosen.push(next);
    }
    let mut at = 0;
    worth.retain(|_| {
        at += 1;
        chosen.contains(&(at - 1))
    });
    worth
}

/// Without those that an other one equals or beats in all figures; of equal ones the first stays.
fn undominated(plans: Vec<PlanHomes>) -> Vec<PlanHomes> {
    let mut worth: Vec<PlanHomes> = Vec::new();
    for plan in plans {
        if worth.iter().any(|other| as_good(other, &plan)) {
            continue;
        }
        worth.retain(|other| !as_good(&plan, other));
        worth.push(plan);
    }
    worth
}

/// Whether `a` is as good as `b` in every figure.
fn as_good(a: &PlanHomes, b: &PlanHomes) -> bool {
    a.effort_moved <= b.effort_moved
        && a.touched <= b.touched
        && a.relabel <= b.relabel
        && a.room <= b.room
        && a.family_breaks <= b.family_breaks
        && a.travel <= b.travel
}

/// The spans of the figures by which plans are told apart.
struct Scale {
    effort: f64,
    room: f64,
    breaks: f64,
}

impl Scale {
    fn new(plans: &[PlanHomes]) -> Self {
        let span = |figure: fn(&PlanHomes) -> f64| {
            let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
            for figure in plans.iter().map(figure) {
                (low, high) = (low.min(figure), high.max(figure));
            }
            (high - low).max(f64::MIN_POSITIVE)
        };
        Self {
            effort: span(effort),
            room: span(|plan| plan.room),
            breaks: span(breaks),
        }
    }

    fn apart(&self, a: &PlanHomes, b: &PlanHomes) -> f64 {
        let effort = (effort(a) - effort(b)) / self.effort;
        let room = (a.room - b.room) / self.room;
        let breaks = (breaks(a) - breaks(b)) / self.breaks;
        effort * effort + room * room + breaks * breaks
    }
}

fn effort(plan: &PlanHomes) -> f64 {
    plan.effort_moved as f64
}

fn breaks(plan: &PlanHomes) -> f64 {
    plan.family_breaks.unwrap_or(0) as f64
}

#[cfg(test)]
mod tests;
