//! The smallest changes a stash can undergo.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::model::board::{Board, HookRef};
use crate::model::card::{Card, Family, WallOrder};
use crate::model::ids::{CardId, PurchaseId, RangeId, RingId};
use crate::model::label::Label;
use crate::model::matches::ColourMatch;
use crate::model::number::Number;
use crate::model::range::{Range, Shade};
use crate::model::ring::{ColourRef, KeyLine, Ring};
use crate::model::thread::{Lot, ThreadPart};
use crate::model::whereabouts::{Place, Underway};

/// One change: the value before it and the value after it.
///
/// Swapping the two gives the inverse change. `before` is checked against the state when the change
/// is applied, so a record that doesn't fit the state is noticed at once.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Change {
    /// A range was added, removed or changed.
    Range {
        /// The old range; `None` if it is new.
        before: Option<Range>,
        /// The new range; `None` if it was removed.
        after: Option<Range>,
    },
    /// The shade of a number in a range was added, removed or changed.
    Shade {
        /// Which range.
        range: RangeId,
        /// The number, as its range list writes it.
        number: Number,
        /// The old shade; `None` if the list had none.
        before: Option<Shade>,
        /// The new shade; `None` if the list has none any more.
        after: Option<Shade>,
    },
    /// A match of two colours was added, removed, or written in different case.
    Match {
        /// The old match; `None` if it is new.
        before: Option<ColourMatch>,
        /// The new match; `None` if it was removed.
        after: Option<ColourMatch>,
    },
    /// The families, in the order of the wall.
    Families {
        /// The old list.
        before: Vec<Family>,
        /// The new list.
        after: Vec<Family>,
    },
    /// The sort order of the wall.
    Order {
        /// The old order.
        before: WallOrder,
        /// The new order.
        after: WallOrder,
    },
    /// A board was added, removed or changed.
    Board {
        /// The old board.
        before: Option<Board>,
        /// The new board.
        after: Option<Board>,
    },
    /// A card was added, removed or edited.
    Card {
        /// The old card.
        before: Option<Card>,
        /// The new card.
        after: Option<Card>,
    },
    /// A card moved to another place. `None` only when the card itself is added or removed.
    Place {
        /// Which card.
        card: CardId,
        /// Where it was, and since when.
        before: Option<Place>,
        /// Where it is, and since when.
        after: Option<Place>,
    },
    /// A card got another hook to belong on.
    Home {
        /// Which card.
        card: CardId,
        /// The old hook.
        before: Option<HookRef>,
        /// The new hook.
        after: Option<HookRef>,
    },
    /// A lot was listed on a card or removed from it, or its uncut skeins are stored elsewhere.
    /// Only a used-up lot can be removed.
    Lot {
        /// Which card.
        card: CardId,
        /// Which lot.
        #[serde(default, skip_serializing_if = "Lot::is_unknown")]
        lot: Lot,
        /// Where its uncut skeins were stored; `None` if it wasn't listed.
        before: Option<Label>,
        /// Where they are stored now; `None` if it is no longer listed.
        after: Option<Label>,
    },
    /// An amount of thread of a listed lot.
    Thread {
        /// Which card.
        card: CardId,
        /// Which lot.
        #[serde(default, skip_serializing_if = "Lot::is_unknown")]
        lot: Lot,
        /// Which of its amounts.
        part: ThreadPart,
        /// How the amount changed.
        amount: AmountChange,
    },
    /// A ring was opened, hung up, closed, changed or removed. Written without its key, the thread
    /// used and the cards that were on it.
    Ring {
        /// The old ring.
        before: Option<Ring>,
        /// The new ring.
        after: Option<Ring>,
    },
    /// The list of cards that were on a ring changed. All others keep their order.
    WentOut {
        /// Which ring.
        ring: RingId,
        /// The cards that leave the list, each with its old position, from 0; in order.
        before: Vec<(u32, CardId)>,
        /// The cards that join the list, each with its new position; in order.
        after: Vec<(u32, CardId)>,
    },
    /// The chart key of a ring changed.
    Key {
        /// Which ring.
        ring: RingId,
        /// The old key.
        before: Vec<KeyLine>,
        /// The new key.
        after: Vec<KeyLine>,
    },
    /// The amount of thread of a colour used for a project changed.
    Used {
        /// Which ring.
        ring: RingId,
        /// The colour stitched with.
        colour: ColourRef,
        /// Centimetres of single strand.
        amount: AmountChange,
    },
    /// A purchase was imported. Recorded so that it isn't imported again.
    Purchase {
        /// Which purchase.
        purchase: PurchaseId,
        /// When it was last imported; `None` if it never was.
        before: Option<Timestamp>,
        /// When it was imported; `None` if that is undone.
        after: Option<Timestamp>,
    },
    /// A re-hang was started, given up or finished.
    Underway {
        /// The old re-hang.
        before: Option<Underway>,
        /// The new re-hang.
        after: Option<Underway>,
    },
    /// The re-hang underway made progress.
    Progress {
        /// Steps done before.
        before: u32,
        /// Steps done now.
        after: u32,
    },
}

/// How an amount changed.
///
/// A `Set` is the new total, an `Add` the difference. In a merge of two copies, the later `Set`
/// holds, and every `Add` counts.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum AmountChange {
    /// A new total, from a count or from a list that replaces the existing values.
    Set {
        /// The old total.
        before: u64,
        /// The new total.
        after: u64,
    },
    /// A difference, negative for a removal: bought, used, or wound onto another card.
    Add {
        /// The difference.
        by: i64,
    },
}

impl AmountChange {
    /// An addition.
    #[must_use]
    pub fn plus(more: u32) -> Self {
        Self::Add { by: more.into() }
    }

    /// A removal.
    #[must_use]
    pub fn minus(less: u32) -> Self {
        Self::Add {
            by: -i64::from(less),
        }
    }

    /// The amount afterwards; `None` if `now` isn't the old total of a `Set`, or the result would
    /// be below 0 or above `most`.
    #[must_use]
    pub fn of(self, now: u64, most: u64) -> Option<u64> {
        let after = match self {
            Self::Set { before, after } => (before == now).then_some(after)?,
            Self::Add { by } => now.checked_add_signed(by)?,
        };
        (after <= most).then_some(after)
    }

    /// The inverse change.
    #[must_use]
    pub const fn inverse(self) -> Self {
        match self {
            Self::Set { before, after } => Self::Set {
                before: after,
                after: before,
            },
            // The one number without a negative is far beyond any possible change of an amount.
            Self::Add { by } => Self::Add {
                by: by.saturating_neg(),
            },
        }
    }
}

impl Change {
    /// The change that undoes this one.
    #[must_use]
    pub fn inverse(mut self) -> Self {
        use std::mem::swap;
        match &mut self {
            Self::Range { before, after } => swap(before, after),
            Self::Shade { before, after, .. } => swap(before, after),
            Self::Match { before, after } => swap(before, after),
            Self::Families { before, after } => swap(before, after),
            Self::Order { before, after } => swap(before, after),
            Self::Board { before, after } => swap(before, after),
            Self::Card { before, after } => swap(before, after),
            Self::Place { before, after, .. } => swap(before, after),
            Self::Home { before, after, .. } => swap(before, after),
            Self::Lot { before, after, .. } => swap(before, after),
            Self::Ring { before, after } => swap(before, after),
            Self::WentOut { before, after, .. } => swap(before, after),
            Self::Key { before, after, .. } => swap(before, after),
            Self::Purchase { before, after, .. } => swap(before, after),
            Self::Underway { before, after } => swap(before, after),
            Self::Progress { before, after } => swap(before, after),
            Self::Thread { amount, .. } | Self::Used { amount, .. } => *amount = amount.inverse(),
        }
        self
    }
}

/// The changes that undo a list of changes: the inverse of each, last first.
#[must_use]
pub fn inverse(changes: &[Change]) -> Vec<Change> {
    changes.iter().rev().cloned().map(Change::inverse).collect()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn read(text: &str) -> Result<Change, String> {
        serde_json::from_str(text).map_err(|wrong| wrong.to_string())
    }

    #[test]
    fn unknown_fields_are_ignored() {
        let change = Change::Home {
            card: CardId(7),
            before: None,
            after: Some("0000000000000001/0.3".parse().unwrap()),
        };
        for text in [
            r#"{"home":{"card":"0000000000000007","before":null,"after":"0000000000000001/0.3"}}"#,
            r#"{"home":{"after":"0000000000000001/0.3","card":"0000000000000007","note":[1,{}]}}"#,
            r#"{"home":{"card":"0000000000000007","note":"x","after":"0000000000000001/0.3"}}"#,
        ] {
            assert_eq!(read(text).as_ref(), Ok(&change), "{text}");
        }
        assert_eq!(
            serde_json::to_string(&change).unwrap(),
            r#"{"home":{"card":"0000000000000007","before":null,"after":"0000000000000001/0.3"}}"#
        );
    }

    #[test]
    fn the_unknown_lot_is_not_written() {
        let thread = |name: &str, amount| Change::Thread {
            card: CardId(7),
            lot: Lot(Label::new(name).unwrap()),
            part: ThreadPart::Strands,
            amount,
        };
        let set = AmountChange::Set {
            before: 0,
            after: 48,
        };
        for (change, text) in [
            (
                thread("K7", AmountChange::minus(12)),
                r#"{"thread":{"card":"0000000000000007","lot":"K7","part":"strands","amount":{"add":{"by":-12}}}}"#,
            ),
            (
                thread("", set),
                r#"{"thread":{"card":"0000000000000007","part":"strands","amount":{"set":{"before":0,"after":48}}}}"#,
            ),
            (
                Change::Lot {
                    card: CardId(7),
                    lot: Lot(Label::new("K7").unwrap()),
                    before: None,
                    after: Some(Label::default()),
                },
                r#"{"lot":{"card":"0000000000000007","lot":"K7","before":null,"after":""}}"#,
            ),
        ] {
            assert_eq!(serde_json::to_string(&change).unwrap(), text);
            assert_eq!(read(text), Ok(change));
        }
    }

    proptest! {
        #[test]
        fn the_inverse_restores_an_amount(now: u32, by in -(1i64 << 33)..1i64 << 33, after: u32) {
            let (now, after, most) = (u64::from(now), u64::from(after), u64::from(u32::MAX));
            for amount in [AmountChange::Add { by }, AmountChange::Set { before: now, after }] {
                if let Some(then) = amount.of(now, most) {
                    prop_assert_eq!(amount.inverse().of(then, most), Some(now));
                    prop_assert_eq!(amount.inverse().inverse(), amount);
                } else {
                    let sum = i128::from(now) + i128::from(by);
                    prop_assert!(!(0..=i128::from(most)).contains(&sum));
                }
            }
        }

        #[test]
        fn thread_changes_read_back_as_written(
            card: u64, name in "[A-Z]{0,3}", at in prop::option::of("[a-z]{0,3}"), before: u64, after: u64,
            by: i64, part in prop::sample::select(&ThreadPart::ALL[..])
        ) {
            let lot = Lot(Label::new(&name).unwrap());
            let at = at.map(|at| Label::new(&at).unwrap());
            let card = CardId(card);
            let thread = |amount| Change::Thread { card, lot: lot.clone(), part, amount };
            for change in [
                thread(AmountChange::Set { before, after }),
                thread(AmountChange::Add { by }),
                Change::Lot { card, lot: lot.clone(), before: None, after: at },
            ] {
                let text = serde_json::to_string(&change).unwrap();
                prop_assert_eq!(read(&text), Ok(change));
            }
        }
    }

    #[test]
    fn an_invalid_change_is_refused_with_a_reason() {
        let thread = |amount: &str| {
            format!(
                r#"{{"thread":{{"card":"0000000000000007","part":"strands","amount":{amount}}}}}"#
            )
        };
        for (text, word) in [
            ("{}".to_owned(), "expected"),
            (
                r#"{"card":"0000000000000007"}"#.to_owned(),
                "0000000000000007",
            ),
            (r#"{"weather":{}}"#.to_owned(), "weather"),
            (
                r#"{"home":{"before":null,"after":null}}"#.to_owned(),
                "card",
            ),
            (
                r#"{"home":{"card":"0000000000000007"},"lot":{}}"#.to_owned(),
                "expected",
            ),
            (thread(r#"{"set":{"before":1,"after":"2"}}"#), "2"),
            (thread(r#"{"set":{"before":1,"by":2}}"#), "after"),
            (
                thread(r#"{"set":{"before":1,"after":2},"add":{"by":2}}"#),
                "expected",
            ),
            (thread("{}"), "expected"),
            (
                thread(r#"{"add":{"by":2}}"#).replace("strands", "rolls"),
                "rolls",
            ),
            (
                r#"{"thread":{"card":"0000000000000007","part":"strands"}}"#.to_owned(),
                "amount",
            ),
            (
                r#"{"lot":{"card":"0000000000000007","lot":7}}"#.to_owned(),
                "string",
            ),
            ("[]".to_owned(), "expected"),
            ("7".to_owned(), "expected"),
        ] {
            let wrong = read(&text).unwrap_err();
            assert!(wrong.contains(word), "{text}: {wrong}");
        }
    }
}
