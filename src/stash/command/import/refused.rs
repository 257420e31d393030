//! Which cards of a list have rows that were refused.

use std::collections::HashSet;

use crate::model::label::fold;
use crate::stash::intake::CardRow;
use crate::stash::refusal::Rejected;

/// The cards of the rows that were refused, as far as one can tell. In doubt a card is among them.
pub(super) struct Refused {
    /// Whether there is a row that could be of any card.
    any: bool,
    /// Numbers, and the ranges of those whose row could be read; `None` may be any range.
    ranges: HashSet<(String, Option<String>)>,
    numbers: HashSet<String>,
}

impl Refused {
    /// Those of the rows that could not be read. O(rows).
    pub(super) fn of(unreadable: &[Rejected]) -> Self {
        let numbers = unreadable.iter().filter_map(|row| row.number.as_deref());
        let numbers: HashSet<String> = numbers.map(fold).collect();
        Self {
            any: unreadable.iter().any(|row| row.number.is_none()),
            ranges: numbers.iter().map(|of| (of.clone(), None)).collect(),
            numbers,
        }
    }

    pub(super) fn add(&mut self, row: &CardRow) {
        let number = fold(&row.number);
        self.ranges
            .insert((number.clone(), row.range.as_deref().map(fold)));
        self.numbers.insert(number);
    }

    /// Whether one of them is of the card of this row.
    pub(super) fn has_one_of(&self, row: &CardRow) -> bool {
        if self.any {
            return true;
        }
        let number = fold(&row.number);
        match row.range.as_deref().map(fold) {
            None => self.numbers.contains(&number),
            range => {
                let either = [range, None].map(|range| (number.clone(), range));
                either.iter().any(|of| self.ranges.contains(of))
            }
        }
    }
}
