//! The trade-off: a short list of Pareto-optimal plans from fewest moves to fresh layout.
//!
//! A plan is judged by six figures, each better when lower: its effort (for equal cards, the number
//! of cards moved and relabelled), cards moved on the wall, hook labels to rewrite on cards that
//! are away, room (see [`super::room`]), family breaks (see [`super::instance`]) and the hand's
//! travel. A plan that another one equals or beats in all of them isn't worth showing.
//!
//! Candidates come from exact solutions. With effort `W`, room `R` and breaks `B`, the plan with
//! the least `l * W + R + b * B` for any prices `l` and `b` is found exactly on the table of card
//! by `q` (`src/engine/gap_cost`). Over all `l`, these plans are the lower hull of all pairs
//! `(W, R + b * B)`. Two neighbours on the hull give the price at which both cost the same, and
//! solving for it gives a plan between them or shows that the hull has none. The hull is computed
//! without a price for breaks and, if families have rows, for two such prices. Between the points
//! of a hull there may be plans that no price finds. On small boards these come from a table with
//! the effort as one more dimension, which gives the most room for each effort.

mod candidates;

use super::fewest_moves;
use super::gap_cost::{Measure, Room, in_cards};
use super::instance::{EngineError, Homes, Instance};
use super::instance::{Rows, check_rows};
pub use super::layout::MOST_CELLS_BETWEEN;
use super::move_nothing::Disorder;
use super::room::{certain_without_place, touched_by_newcomer};
use super::schedule::{Step, order_of_work};

/// Options for a list of plans.
#[derive(Debug, Clone, Copy)]
pub struct PlanOptions<'a> {
    /// The colours expected to come.
    pub room: Room<'a>,
    /// Cost of moving each card on the wall; `None` means that each counts 1.
    pub effort: Option<&'a [u32]>,
    /// Which cards are away from the wall. A new home for one is a label to rewrite, not a move.
    /// `None` means that no card is away.
    pub away: Option<&'a [bool]>,
    /// Families and rows, if families should stay on one row where possible.
    pub rows: Option<Rows<'a>>,
    /// Row and column of each hook, for the travel of the hand; `None` means one long row.
    pub grid: Option<&'a [(u32, u32)]>,
    /// How long the work takes.
    pub pace: WorkTimes,
    /// The most plans to list; 0 counts as 1.
    pub most: usize,
}

impl Default for PlanOptions<'_> {
    /// Nothing known about cards to come, equal cards, all on the wall, and eight plans at most.
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

/// Times for the parts of the work, in seconds: assumed, not measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WorkTimes {
    /// To take a card off, change the hook written on it, and hang it.
    pub card: f64,
    /// To rewrite the hook on a card that is away.
    pub label: f64,
    /// To set a card aside and pick it up again.
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

/// New homes with their costs and benefits.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanHomes {
    /// The homes, with the number of cards whose home changes, and their distance. In order if
    /// `disorder` has no cards.
    pub homes: Homes,
    /// How far they are out of the wanted order.
    pub disorder: Disorder,
    /// Cards on the wall that change hooks.
    pub touched: usize,
    /// Cards away from the wall whose home changes.
    pub relabel: usize,
    /// Total effort of both; their number if no efforts are given.
    pub effort_moved: u64,
    /// The expected cards to come without a place, see [`super::room::room_score`]; lower is
    /// better.
    pub room: f64,
    /// Those of them that are sure to come, see [`super::room::certain_without_place`].
    pub certain_without_place: u64,
    /// Cards the next new one is expected to move, see [`super::room::touched_by_newcomer`]; `None`
    /// if no place is free.
    pub touched_by_newcomer: Option<f64>,
    /// Families that continue in another row, see [`super::instance::family_breaks`]; `None`
    /// without rows.
    pub family_breaks: Option<usize>,
    /// Hooks the hand passes, to take and to hang, in rows and columns.
    pub travel: u64,
    /// The time for the work by [`PlanOptions::pace`], in minutes.
    pub minutes: f64,
    /// The steps of the work, by [`super::schedule::order_of_work`].
    pub steps: Vec<Step>,
}

/// All plans offered.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanList {
    /// Moves no hung card; see [`super::move_nothing`]. If the first plan in order moves nothing
    /// either, it is that one.
    pub nothing: PlanHomes,
    /// At most two plans that move less than the first plan in order, and leave fewer cards out of
    /// order than moving nothing, by rising effort; see [`super::fewer_moves`].
    pub between: Vec<PlanHomes>,
    /// The plans in order: see [`plans`].
    pub in_order: Vec<PlanHomes>,
}

/// The plans in order, the plan that moves nothing, and those between, as long as `go_on` returns
/// true. If [`PlanOptions::most`] is 1, there are none between.
///
/// Complexity as for [`plans`], plus O(cards * (free places + k) * k) for the plans between, if
/// moving nothing leaves `k` cards out of order.
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

/// Up to [`PlanOptions::most`] plans by rising effort. None is equalled or beaten by another in all
/// figures.
///
/// The first has the least effort possible. The others are chosen to differ most in effort, room
/// and breaks, and include the one with the most room. The first also has the least distance,
/// unless a plan of the same effort beats it in everything else.
///
/// All plans respect the holds of the instance. O(cards * (free places + 1) + free places * colours
/// to come) time for each of up to about thirty candidates. On boards with more than
/// [`MOST_CELLS_BETWEEN`] cells there are two at most, the first and the even layout. Beyond
/// [`super::fewest_moves::MOST_CELLS`], the first ignores distance, and says so.
///
/// # Errors
/// [`EngineError::Length`] and [`EngineError::BadGap`] for options that don't fit the cards;
/// [`EngineError::Short`] if there are fewer places than cards.
pub fn plans(instance: &Instance, wishes: &PlanOptions) -> Result<Vec<PlanHomes>, EngineError> {
    plans_while(instance, wishes, &|_| true)
}

/// Like [`plans`], as long as `go_on` returns true. It is called before each of up to about thirty
/// candidates with the number computed so far.
///
/// # Errors
/// As [`plans`]; [`EngineError::Stopped`] when `go_on` returns false.
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

/// A plan with the figures that are traded.
#[derive(Debug, Clone)]
struct Point {
    homes: Homes,
    effort: u64,
    room: u128,
    breaks: usize,
}

/// What homes in order mean for the cards to come.
struct Coming {
    /// Certain colours without a place.
    without_place: u64,
    /// Hung cards that the next one moves.
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

/// Computes the figures of a plan.
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

/// Hooks between the places where the hand takes and hangs cards, in the order of the steps. Labels
/// of cards that are away are rewritten elsewhere.
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

/// The undominated plans, by rising effort: the `most` of them that differ most. The first is the
/// nearest one of the least effort, and the one with the most room is included.
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
        // The plan farthest from all chosen so far.
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

/// Drops plans that another one equals or beats in all figures; of equal ones, the first stays.
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

/// Whether `a` is at least as good as `b` in every figure.
fn as_good(a: &PlanHomes, b: &PlanHomes) -> bool {
    a.effort_moved <= b.effort_moved
        && a.touched <= b.touched
        && a.relabel <= b.relabel
        && a.room <= b.room
        && a.family_breaks <= b.family_breaks
        && a.travel <= b.travel
}

/// The ranges of the figures, for comparing how much plans differ.
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
