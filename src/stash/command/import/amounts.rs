//! What a row of a stock list says of thread.

use crate::language::word;
use crate::model::thread::{LENGTHS_PER_SKEIN, Strands};
use crate::stash::intake::{Amount, StockRow};
use crate::stash::state::Kept;

/// An amount in strands; `None` where it cannot be kept.
pub(super) fn strands(amount: Amount) -> Option<Strands> {
    match amount {
        Amount::Lengths(lengths) => Strands::from_fraction(lengths),
        Amount::Skeins(skeins) => Strands::from_fraction(skeins * f64::from(LENGTHS_PER_SKEIN)),
    }
}

/// What is there when the amounts of a row have been added.
pub(super) fn added(row: &StockRow, kept: &Kept) -> Result<(Option<Strands>, Option<u32>), String> {
    if row.amount.is_none() && row.reserve.is_none() {
        return Err(word!(
            "the card is there already and the row does not say how much to add; fill in \
         lengths, skeins or reserve"
        )
        .to_owned());
    }
    let too_much = || word!("that is more thread than can be kept").to_owned();
    let sum = |had: u32, more: u32| had.checked_add(more).ok_or_else(too_much);
    let more = row.amount.and_then(strands);
    let strands = more.map(|more| sum(kept.strands.0, more.0)).transpose()?;
    let reserve = row.reserve.map(|more| sum(kept.card.reserve, more));
    Ok((strands.map(Strands), reserve.transpose()?))
}
