//! Room: how well the free places wait for cards not yet owned.
//!
//! A new card falls between two neighbours in the wanted order. If a free place waits there it is hung
//! and nothing else is touched; if not, hung cards must make way. So the measure is the number of new
//! cards that are expected to find no place of their own, as purchases go on until the wall is full.
//!
//! Let `u` colours not yet owned belong into a gap with `g` free places, and let each of them be bought
//! with the chance `p`, so that `X`, the number that come, is binomial. The gap then fails `E[(X - g)^+]`
//! of them. Nobody knows how many will be bought before the wall is hung anew, so the mean is taken
//! over four horizons: 30, 60, 80 and 100 % of the colours that would fill all free places. A long view
//! serves best: gaps made for the next purchase alone cost far more later (`examples/purchases.rs`).
//!
//! Gaps alone cannot tell free places that are spread over the wall from ones in a corner where there
//! are more gaps than places. So a small pull is added: the square of the places a card is off the
//! layout in which the free places stand in proportion to the colours to come, a thousandth of a card
//! for each square place. Both are sums over cards and gaps, the first convex in the gap, which is
//! what makes exact plans possible (see [`super::plans`]).

mod measure;
mod overflow;

use super::instance::{EngineError, Instance, check_length};
use super::line::Line;

pub(super) use measure::{Measure, UNIT};

/// What is known of the cards to come; by default nothing, so that all gaps are alike.
#[derive(Debug, Clone, Copy, Default)]
pub struct Room<'a> {
    /// `unowned[r]` = colours not yet owned that belong before card `r`, and `unowned[cards]` = after
    /// the last card: 0 or more. `None`, or 0 everywhere = a new card falls into any gap alike.
    pub unowned: Option<&'a [f64]>,
}

/// The cards to come that will find no free place in their gap, as far as can be expected, and the pull
/// to an even spread (see the head of this module); 0 or more, lower is better.
///
/// `hook[r]` is the hook of card `r`: non-decreasing and within capacity, as a solver of this layer
/// gives it. On a hook of several places the free ones count where they serve best.
/// O(hooks + cards * (places of a hook + colours to come)).
///
/// # Errors
/// [`EngineError::Length`] for a list that does not have an entry for each card, hook, or gap;
/// [`EngineError::BadGap`] for a number below 0 or not a number; [`EngineError::NoSuchHook`] for a
/// hook beyond the last; [`EngineError::Short`] where there are fewer places than cards.
pub fn room_score(instance: &Instance, hook: &[usize], room: &Room) -> Result<f64, EngineError> {
    check_hooks(instance, hook)?;
    let measure = Measure::new(instance, room)?;
    let line = Line::new(instance, instance.free()?);
    Ok(in_cards(line.room_of(&measure, hook)))
}

/// A sum of the measure as a number of cards.
pub(super) fn in_cards(sum: u128) -> f64 {
    sum as f64 / UNIT as f64
}

/// A hook that exists for each card, or an error.
pub(super) fn check_hooks(instance: &Instance, hook: &[usize]) -> Result<(), EngineError> {
    check_length("hooks", instance.cards().len(), hook.len())?;
    let hooks = instance.capacity().len();
    match hook.iter().position(|&hook| hook >= hooks) {
        Some(card) => Err(EngineError::NoSuchHook {
            card,
            hook: hook[card],
            hooks,
        }),
        None => Ok(()),
    }
}

/// A number of 0 or more for each gap of `cards` cards, or an error.
pub(super) fn check_gaps(cards: usize, gaps: &[f64]) -> Result<(), EngineError> {
    check_length("colours to come", cards + 1, gaps.len())?;
    match gaps
        .iter()
        .position(|share| !(0.0..f64::INFINITY).contains(share))
    {
        Some(gap) => Err(EngineError::BadGap { gap }),
        None => Ok(()),
    }
}

#[cfg(test)]
mod tests;
