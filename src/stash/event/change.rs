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

/// One change: what was before it, and what is after it.
///
/// Turning the two around gives the change that takes it back, and `before` is checked against the
/// state when the change is applied, so a record that does not fit the state is found at once.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Change {
    /// A range came, went or was changed.
    Range {
        /// As it was; nothing where it is new.
        before: Option<Range>,
        /// As it is; nothing where it went.
        after: Option<Range>,
    },
    /// What a range says of one number came, went or was changed.
    Shade {
        /// Which range.
        range: RangeId,
        /// The number, as its list writes it.
        number: Number,
        /// As it was; nothing where the list had none.
        before: Option<Shade>,
        /// As it is; nothing where it has none now.
        after: Option<Shade>,
    },
    /// Two colours match, match no longer, or their numbers are written with other capitals.
    Match {
        /// The match as it was; nothing where it is new.
        before: Option<ColourMatch>,
        /// As it is; nothing where it went.
        after: Option<ColourMatch>,
    },
    /// The list of families, in the order of the wall.
    Families {
        /// As it was.
        before: Vec<Family>,
        /// As it is.
        after: Vec<Family>,
    },
    /// What the wall is ordered by.
    Order {
        /// As it was.
        before: WallOrder,
        /// As it is.
        after: WallOrder,
    },
    /// A board came, went, or was changed.
    Board {
        /// As it was.
        before: Option<Board>,
        /// As it is.
        after: Option<Board>,
    },
    /// A card came, went, or other words stand on it.
    Card {
        /// As it was.
        before: Option<Card>,
        /// As it is.
        after: Option<Card>,
    },
    /// A card went to another place. `None` only beside the coming or going of the card itself.
    Place {
        /// Which card.
        card: CardId,
        /// Where it was, and since when.
        before: Option<Place>,
        /// Where it is, and since when.
        after: Option<Place>,
    },
    /// A card belongs on another hook.
    Home {
        /// Which card.
        card: CardId,
        /// Where it belonged.
        before: Option<HookRef>,
        /// Where it belongs.
        after: Option<HookRef>,
    },
    /// A lot was listed on a card or struck off it, or its uncut skeins lie elsewhere. Only a lot of
    /// which nothing is left is struck off.
    Lot {
        /// Which card.
        card: CardId,
        /// Which lot.
        #[serde(default, skip_serializing_if = "Lot::is_unknown")]
        lot: Lot,
        /// Where its uncut skeins lay; nothing where it was not listed.
        before: Option<Label>,
        /// Where they lie; nothing where it is not listed.
        after: Option<Label>,
    },
    /// An amount of thread of a lot that is listed on the card.
    Thread {
        /// Which card.
        card: CardId,
        /// Which lot.
        #[serde(default, skip_serializing_if = "Lot::is_unknown")]
        lot: Lot,
        /// Which of its amounts.
        part: ThreadPart,
        /// What became of it.
        amount: AmountChange,
    },
    /// A ring was opened, hung up, closed, given other fabric, or went away; written without its key, what
    /// was used, and the cards that went out on it.
    Ring {
        /// As it was.
        before: Option<Ring>,
        /// As it is.
        after: Option<Ring>,
    },
    /// Other cards stand in the list of those that went out on a ring. All others keep their order.
    WentOut {
        /// Which ring.
        ring: RingId,
        /// The cards that leave the list, each with its place in it, from 0; in order.
        before: Vec<(u32, CardId)>,
        /// The cards that come to the list, each with its place in it then; in order.
        after: Vec<(u32, CardId)>,
    },
    /// The key of a ring was changed.
    Key {
        /// Which ring.
        ring: RingId,
        /// As it was.
        before: Vec<KeyLine>,
        /// As it is.
        after: Vec<KeyLine>,
    },
    /// Thread of a colour was used for a project, or less of it than was thought.
    Used {
        /// Which ring.
        ring: RingId,
        /// The colour that was stitched.
        colour: ColourRef,
        /// Centimetres of single strand.
        amount: AmountChange,
    },
    /// A purchase was imported, so that it isn't taken again.
    Purchase {
        /// Which purchase.
        purchase: PurchaseId,
        /// When it was imported last; nothing where it never was.
        before: Option<Timestamp>,
        /// When it was imported; nothing where that is undone.
        after: Option<Timestamp>,
    },
    /// A re-hang was begun, given up, or came to its end.
    Underway {
        /// What was underway.
        before: Option<Underway>,
        /// What is underway.
        after: Option<Underway>,
    },
    /// The re-hang that is underway came a step further.
    Progress {
        /// Steps done before.
        before: u32,
        /// Steps done now.
        after: u32,
    },
}

/// What became of an amount.
///
/// A `Set` says what there is, an `Add` what came or went. Of two copies of a stash the later `Set`
/// holds, while every `Add` counts.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum AmountChange {
    /// There is so much: counted, or said by a list that replaces what was known.
    Set {
        /// What there was.
        before: u64,
        /// What there is.
        after: u64,
    },
    /// So much came, or went where it is below 0: bought, used, wound onto another card.
    Add {
        /// How much.
        by: i64,
    },
}

impl AmountChange {
    /// So much came.
    #[must_use]
    pub fn plus(more: u32) -> Self {
        Self::Add { by: more.into() }
    }

    /// So much went.
    #[must_use]
    pub fn minus(less: u32) -> Self {
        Self::Add {
            by: -i64::from(less),
        }
    }

    /// What there is afterwards; `None` where `now` is not what a `Set` says there was, or there would be
    /// less than 0 or more than `most`.
    #[must_use]
    pub fn of(self, now: u64, most: u64) -> Option<u64> {
        let after = match self {
            Self::Set { before, after } => (before == now).then_some(after)?,
            Self::Add { by } => now.checked_add_signed(by)?,
        };
        (after <= most).then_some(after)
    }

    /// What takes it back.
    #[must_use]
    pub const fn inverse(self) -> Self {
        match self {
            Self::Set { before, after } => Self::Set {
                before: after,
                after: before,
            },
            // The one number without an opposite is far beyond what any amount can be changed by.
            Self::Add { by } => Self::Add {
                by: by.saturating_neg(),
            },
        }
    }
}

impl Change {
    /// The change that takes this one back.
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

/// The changes that take a list of changes back: each turned, last first.
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
    fn fields_that_nobody_knows_are_passed_over() {
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
    fn a_lot_that_nobody_noted_is_left_out() {
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
        fn an_amount_that_is_taken_back_is_what_it_was(now: u32, by in -(1i64 << 33)..1i64 << 33, after: u32) {
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
        fn thread_changes_are_read_as_they_are_written(
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
    fn what_is_no_change_is_refused_with_a_reason() {
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
