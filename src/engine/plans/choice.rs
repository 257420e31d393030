//! Which plans are shown.

use super::PlanHomes;

/// The plans that no other one equals or beats in all figures, by rising weight; `most` of them that
/// differ most. The nearest one of the least weight is the first, and the one with the most room is
/// among them.
pub(super) fn choose(plans: Vec<PlanHomes>, most: usize) -> Vec<PlanHomes> {
    let mut worth = undominated(plans);
    worth.sort_by(|a, b| {
        let by_work = a.weight_moved.cmp(&b.weight_moved);
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
    a.weight_moved <= b.weight_moved
        && a.touched <= b.touched
        && a.relabel <= b.relabel
        && a.room <= b.room
        && a.family_breaks <= b.family_breaks
        && a.travel <= b.travel
}

/// The spans of the figures by which plans are told apart.
struct Scale {
    weight: f64,
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
            weight: span(weight),
            room: span(|plan| plan.room),
            breaks: span(breaks),
        }
    }

    fn apart(&self, a: &PlanHomes, b: &PlanHomes) -> f64 {
        let weight = (weight(a) - weight(b)) / self.weight;
        let room = (a.room - b.room) / self.room;
        let breaks = (breaks(a) - breaks(b)) / self.breaks;
        weight * weight + room * room + breaks * breaks
    }
}

fn weight(plan: &PlanHomes) -> f64 {
    plan.weight_moved as f64
}

fn breaks(plan: &PlanHomes) -> f64 {
    plan.family_breaks.unwrap_or(0) as f64
}
