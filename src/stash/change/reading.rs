//! Reading a change from the record.
//!
//! What the derived code would do for a tagged enum, with one difference: it keeps every field in a
//! buffer until the tag is known. Records write the tag first, so it is read first here and the rest goes
//! straight where it belongs, which opens a long record in half the time. A tag that stands later is
//! understood too.

use std::fmt;

use serde::de::value::MapAccessDeserializer;
use serde::de::{Error, MapAccess, Visitor};
use serde::{Deserialize, Deserializer};
use serde_json::{Map, Value};

use super::{Amount, Change};
use crate::model::ids::{CardId, RingId};
use crate::model::label::Label;
use crate::model::ring::ColourRef;
use crate::model::thread::{Lot, ThreadPart};

/// The tag.
const TAG: &str = "of";

#[derive(Deserialize)]
#[serde(rename_all = "snake_case")]
enum Of {
    Range,
    Families,
    Order,
    Board,
    Card,
    Place,
    Home,
    Lot,
    Thread,
    Ring,
    WentOut,
    Key,
    Used,
    Underway,
    Progress,
}

#[derive(Deserialize)]
struct Swap<T> {
    before: T,
    after: T,
}

#[derive(Deserialize)]
struct OfCard<T> {
    card: CardId,
    before: T,
    after: T,
}

#[derive(Deserialize)]
struct OfLot {
    card: CardId,
    #[serde(default)]
    lot: Lot,
    before: Option<Label>,
    after: Option<Label>,
}

#[derive(Deserialize)]
struct OfThread {
    card: CardId,
    #[serde(default)]
    lot: Lot,
    part: ThreadPart,
    before: Option<u64>,
    after: Option<u64>,
    by: Option<i64>,
}

#[derive(Deserialize)]
struct OfRing<T> {
    ring: RingId,
    before: T,
    after: T,
}

#[derive(Deserialize)]
struct OfList {
    ring: RingId,
    before: Vec<(u32, CardId)>,
    after: Vec<(u32, CardId)>,
}

#[derive(Deserialize)]
struct OfUse {
    ring: RingId,
    colour: ColourRef,
    before: Option<u64>,
    after: Option<u64>,
    by: Option<i64>,
}

fn amount<E: Error>(by: Option<i64>, before: Option<u64>, after: Option<u64>) -> Result<Amount, E> {
    match (by, before, after) {
        (Some(by), None, None) => Ok(Amount::Add { by }),
        (None, Some(before), Some(after)) => Ok(Amount::Set { before, after }),
        _ => Err(E::custom(
            "an amount has either 'by', or 'before' and 'after'",
        )),
    }
}

macro_rules! swap {
    ($kind:ident, $rest:expr) => {{
        let Swap { before, after } = Swap::deserialize($rest)?;
        Change::$kind { before, after }
    }};
}

macro_rules! of_card {
    ($kind:ident, $rest:expr) => {{
        let OfCard {
            card,
            before,
            after,
        } = OfCard::deserialize($rest)?;
        Change::$kind {
            card,
            before,
            after,
        }
    }};
}

/// A change of a kind from the fields beside its tag.
fn change<'de, D: Deserializer<'de>>(of: Of, rest: D) -> Result<Change, D::Error> {
    Ok(match of {
        Of::Range => swap!(Range, rest),
        Of::Families => swap!(Families, rest),
        Of::Order => swap!(Order, rest),
        Of::Board => swap!(Board, rest),
        Of::Card => swap!(Card, rest),
        Of::Place => of_card!(Place, rest),
        Of::Home => of_card!(Home, rest),
        Of::Lot => {
            let of = OfLot::deserialize(rest)?;
            Change::Lot {
                card: of.card,
                lot: of.lot,
                before: of.before,
                after: of.after,
            }
        }
        Of::Thread => {
            let of = OfThread::deserialize(rest)?;
            Change::Thread {
                card: of.card,
                lot: of.lot,
                part: of.part,
                amount: amount(of.by, of.before, of.after)?,
            }
        }
        Of::Ring => swap!(Ring, rest),
        Of::WentOut => {
            let list = OfList::deserialize(rest)?;
            Change::WentOut {
                ring: list.ring,
                before: list.before,
                after: list.after,
            }
        }
        Of::Key => {
            let OfRing {
                ring,
                before,
                after,
            } = OfRing::deserialize(rest)?;
            Change::Key {
                ring,
                before,
                after,
            }
        }
        Of::Used => {
            let of = OfUse::deserialize(rest)?;
            Change::Used {
                ring: of.ring,
                colour: of.colour,
                amount: amount(of.by, of.before, of.after)?,
            }
        }
        Of::Underway => swap!(Underway, rest),
        Of::Progress => swap!(Progress, rest),
    })
}

struct OneChange;

impl<'de> Visitor<'de> for OneChange {
    type Value = Change;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&format!("a change with its kind under '{TAG}'"))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Change, A::Error> {
        let mut before = Map::new();
        while let Some(key) = map.next_key::<String>()? {
            if key != TAG {
                before.insert(key, map.next_value()?);
                continue;
            }
            let of = map.next_value()?;
            if before.is_empty() {
                return change(of, MapAccessDeserializer::new(map));
            }
            while let Some((key, value)) = map.next_entry()? {
                before.insert(key, value);
            }
            return change(of, Value::Object(before)).map_err(A::Error::custom);
        }
        Err(A::Error::missing_field(TAG))
    }
}

impl<'de> Deserialize<'de> for Change {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        from.deserialize_map(OneChange)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn read(text: &str) -> Result<Change, String> {
        serde_json::from_str(text).map_err(|wrong| wrong.to_string())
    }

    #[test]
    fn the_tag_may_stand_anywhere_and_fields_that_nobody_knows_are_passed_over() {
        let change = Change::Home {
            card: CardId(7),
            before: None,
            after: Some("0000000000000001/0.3".parse().unwrap()),
        };
        for text in [
            r#"{"of":"home","card":"0000000000000007","before":null,"after":"0000000000000001/0.3"}"#,
            r#"{"card":"0000000000000007","of":"home","before":null,"after":"0000000000000001/0.3"}"#,
            r#"{"after":"0000000000000001/0.3","card":"0000000000000007","note":[1,{}],"of":"home"}"#,
            r#"{"of":"home","card":"0000000000000007","note":"x","after":"0000000000000001/0.3"}"#,
        ] {
            assert_eq!(read(text).as_ref(), Ok(&change), "{text}");
        }
        assert_eq!(
            serde_json::to_string(&change).unwrap(),
            r#"{"of":"home","card":"0000000000000007","before":null,"after":"0000000000000001/0.3"}"#
        );
    }

    #[test]
    fn thread_is_written_with_its_lot_where_somebody_noted_it() {
        let thread = |name: &str, amount| Change::Thread {
            card: CardId(7),
            lot: Lot(Label::new(name).unwrap()),
            part: ThreadPart::Strands,
            amount,
        };
        let set = Amount::Set {
            before: 0,
            after: 48,
        };
        for (change, text) in [
            (
                thread("K7", Amount::minus(12)),
                r#"{"of":"thread","card":"0000000000000007","lot":"K7","part":"strands","by":-12}"#,
            ),
            (
                thread("", set),
                r#"{"of":"thread","card":"0000000000000007","part":"strands","before":0,"after":48}"#,
            ),
            (
                Change::Lot {
                    card: CardId(7),
                    lot: Lot(Label::new("K7").unwrap()),
                    before: None,
                    after: Some(Label::default()),
                },
                r#"{"of":"lot","card":"0000000000000007","lot":"K7","before":null,"after":""}"#,
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
            for amount in [Amount::Add { by }, Amount::Set { before: now, after }] {
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
                thread(Amount::Set { before, after }),
                thread(Amount::Add { by }),
                Change::Lot { card, lot: lot.clone(), before: None, after: at },
            ] {
                let text = serde_json::to_string(&change).unwrap();
                prop_assert_eq!(read(&text), Ok(change));
            }
        }
    }

    #[test]
    fn what_is_no_change_is_refused_in_words() {
        for (text, word) in [
            ("{}", "of"),
            (r#"{"card":"0000000000000007"}"#, "of"),
            (r#"{"of":"weather","card":"0000000000000007"}"#, "weather"),
            (r#"{"of":"home","before":null,"after":null}"#, "card"),
            (r#"{"before":null,"of":"home","after":null}"#, "card"),
            (
                r#"{"of":"thread","card":"0000000000000007","part":"strands","before":1,"after":"2"}"#,
                "2",
            ),
            (
                r#"{"of":"thread","card":"0000000000000007","part":"strands","before":1,"by":2}"#,
                "either",
            ),
            (
                r#"{"of":"thread","card":"0000000000000007","part":"strands"}"#,
                "either",
            ),
            (
                r#"{"of":"thread","card":"0000000000000007","part":"rolls","by":2}"#,
                "rolls",
            ),
            (
                r#"{"of":"lot","card":"0000000000000007","lot":7}"#,
                "string",
            ),
            ("[]", "a change"),
            ("7", "a change"),
        ] {
            let wrong = read(text).unwrap_err();
            assert!(wrong.contains(word), "{text}: {wrong}");
        }
    }
}
