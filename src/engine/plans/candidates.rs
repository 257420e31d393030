//! Plans that may be worth showing.

use std::cell::Cell;

use super::hull::Hull;
use super::{PlanOptions, Point, every};
use crate::engine::chain;
use crate::engine::distance::{MOST_CELLS, least_distance};
use crate::engine::instance::{EngineError, Homes, Instance};
use crate::engine::line::{Line, MOST_CELLS_BETWEEN};
use crate::engine::room::{Measure, UNIT};
use crate::engine::rows::family_breaks;

/// Points looked for on a hull.
const POINTS: usize = 9;

/// What a family break costs beside room, in cards to come: not at all, a little, and much.
const BREAK_PRICES: [u64; 3] = [0, 2, 20];

/// A question with what is needed to answer it.
pub(super) struct Question<'a> {
    pub(super) instance: &'a Instance,
    pub(super) line: &'a Line<'a>,
    pub(super) measure: &'a Measure,
    pub(super) wishes: &'a PlanOptions<'a>,
    /// Whether to go on, told how many candidates there are.
    pub(super) go_on: &'a dyn Fn(usize) -> bool,
    /// Candidates worked out so far.
    pub(super) count: Cell<usize>,
}

impl Question<'_> {
    pub(super) fn weight(&self, rank: usize) -> u64 {
        self.wishes
            .weight
            .map_or(1, |weight| u64::from(weight[rank]))
    }

    /// Whether the next candidate is still wanted.
    pub(super) fn go_on(&self) -> Result<(), EngineError> {
        if (self.go_on)(self.count.get()) {
            Ok(())
        } else {
            Err(EngineError::Stopped)
        }
    }

    /// The figures of the plan `q`.
    pub(super) fn point(&self, q: &[u64], least_distance: bool) -> Result<Point, EngineError> {
        self.count.set(self.count.get() + 1);
        let homes = Homes::from_line(self.instance, q, least_distance);
        let moved = self.instance.cards().iter().zip(&homes.hook).enumerate();
        let moved = moved.filter(|(_, (now, new))| now.is_some_and(|now| now != **new));
        let weight = moved.map(|(rank, _)| self.weight(rank)).sum();
        let rows = self.wishes.rows.as_ref();
        let breaks = rows.map(|rows| family_breaks(self.instance, rows, &homes.hook));
        Ok(Point {
            weight,
            room: self.line.room_of(self.measure, &homes.hook),
            breaks: breaks.transpose()?.unwrap_or(0),
            homes,
        })
    }
}

/// Candidates, each with other homes; one of them touches the least weight.
pub(super) fn candidates(
    instance: &Instance,
    measure: &Measure,
    wishes: &PlanOptions,
    go_on: &dyn Fn(usize) -> bool,
) -> Result<Vec<Point>, EngineError> {
    let line = Line::new(instance, instance.free()?);
    let question = Question {
        instance,
        line: &line,
        measure,
        wishes,
        go_on,
        count: Cell::new(0),
    };
    question.go_on()?;
    let weight = |rank| question.weight(rank);
    let near = line.cells() <= MOST_CELLS;
    let first = if near {
        least_distance(&line, measure, &weight)
    } else {
        chain::heaviest_chain(instance, instance.free()?, weight)
    };
    let mut found = vec![question.point(&first, near)?];
    if wishes.most > 1 {
        if line.cells() > MOST_CELLS_BETWEEN {
            found.push(even(&question)?);
        } else {
            for price in BREAK_PRICES {
                if price == 0 || wishes.rows.is_some() {
                    found.append(&mut Hull::new(&question, price * UNIT).points(POINTS)?);
                }
            }
            found.append(&mut every::most_room_for_each_number(&question)?);
        }
    }
    let mut known = std::collections::HashSet::new();
    found.retain(|point| known.insert(point.homes.hook.clone()));
    Ok(found)
}

/// The even layout, as far as pins allow.
fn even(question: &Question) -> Result<Point, EngineError> {
    let free = question.instance.free()?;
    let cards = question.instance.cards().len();
    let line: Vec<u64> = (0..cards)
        .map(|rank| {
            let (low, high) = question.instance.ends(rank, free);
            question.measure.even(rank).clamp(low, high)
        })
        .collect();
    question.point(&line, false)
}
