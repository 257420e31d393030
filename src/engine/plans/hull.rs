//! The lower hull of weight against room and family breaks.

use super::Point;
use super::candidates::Question;
use crate::engine::instance::EngineError;
use crate::engine::line::{Cost, Prices};

/// The hull for one price of a family break, in units of room.
pub(super) struct Hull<'a> {
    question: &'a Question<'a>,
    breaks: u64,
}

impl<'a> Hull<'a> {
    pub(super) const fn new(question: &'a Question<'a>, breaks: u64) -> Self {
        Self { question, breaks }
    }

    /// Up to `most` points, from the least weight on: first both ends, then between the two neighbours
    /// that are furthest apart.
    pub(super) fn points(&self, most: usize) -> Result<Vec<Point>, EngineError> {
        let apart = 1 << 64;
        // The sums of room and of breaks stay below 2^64, weights below 2^64.
        let light = self.cheapest(apart, 1)?;
        let roomy = self.cheapest(1, apart)?;
        if roomy.weight <= light.weight || self.loss(&roomy) >= self.loss(&light) {
            return Ok(vec![light]);
        }
        let mut hull = vec![light, roomy];
        // Whether there may be points between one of the hull and the next.
        let mut open = vec![true];
        while hull.len() < most {
            let widest = (0..open.len()).filter(|&at| open[at]).max_by_key(|&at| {
                let (a, b) = (&hull[at], &hull[at + 1]);
                u128::from(b.weight - a.weight) * (self.loss(a) - self.loss(b))
            });
            let Some(at) = widest else { break };
            let (a, b) = (&hull[at], &hull[at + 1]);
            // At these prices both cost alike. The products stay below 2^127.
            let between =
                self.cheapest(self.loss(a) - self.loss(b), u128::from(b.weight - a.weight))?;
            if a.weight < between.weight && between.weight < b.weight {
                hull.insert(at + 1, between);
                open.insert(at, true);
            } else {
                open[at] = false;
            }
        }
        Ok(hull)
    }

    /// What a point costs beside its weight.
    fn loss(&self, point: &Point) -> u128 {
        point.room + u128::from(self.breaks) * point.breaks as u128
    }

    /// A plan of the least cost, of those one with the least distance.
    fn cheapest(&self, weight: u128, loss: u128) -> Result<Point, EngineError> {
        let prices = Prices {
            weight: Cost::first(weight),
            distance: Cost::then(1),
            room: Cost::first(loss),
            breaks: Cost::first(loss * u128::from(self.breaks)),
        };
        let question = self.question;
        question.go_on()?;
        let weight = |rank| question.weight(rank);
        let rows = question.wishes.rows.as_ref();
        let line = question
            .line
            .cheapest(question.measure, rows, &weight, &prices);
        question.point(&line, false)
    }
}
