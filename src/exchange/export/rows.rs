//! A stash as rows of a stock list.

use crate::model::thread::STRANDS_PER_LENGTH;
use crate::stash::intake::{Amount, StockRow};
use crate::stash::state::{Kept, State};

/// The stash as a stock list, in wanted order, each card's home as its hook. A spare card has a row of
/// its own, behind all that have homes or may get one, and says which it is. O(cards · log cards).
#[must_use]
pub fn stock_rows(state: &State) -> Vec<StockRow> {
    let words = |text: &str| (!text.is_empty()).then(|| text.to_owned());
    let (whole, spares): (Vec<&Kept>, Vec<&Kept>) =
        (state.cards()).partition(|kept| kept.card.parent.is_none());
    let whole = state.in_wanted_order(whole.into_iter());
    whole
        .into_iter()
        .chain(state.in_wanted_order(spares.into_iter()))
        .zip(2..)
        .map(|(kept, line)| {
            let spare = kept.card.parent.is_some();
            StockRow {
                line,
                range: words(state.range_name(kept)),
                number: kept.card.number.to_string(),
                name: words(kept.card.name.as_str()),
                colour: kept.card.colour,
                family: words(state.family_name(kept)),
                amount: Some(Amount::Lengths(
                    f64::from(kept.strands.0) / f64::from(STRANDS_PER_LENGTH),
                )),
                reserve: (!spare).then_some(kept.card.reserve),
                dye_lot: words(kept.card.dye_lot.as_str()),
                hook: kept.home.map(|hook| state.mark(hook)),
                note: words(kept.card.note.as_str()),
                spare_of: spare.then(|| state.spare_tag(kept)),
            }
        })
        .collect()
}
