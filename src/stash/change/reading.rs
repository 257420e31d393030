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

use super::Change;
use crate::language::say;
use crate::model::ids::{CardId, RingId};

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
struct OfRing<T> {
    ring: RingId,
    before: T,
    after: T,
}

#[derive(Deserialize)]
struct OfList {
    ring: RingId,
    at: u32,
    rest: u32,
    before: Vec<CardId>,
    after: Vec<CardId>,
}

#[derive(Deserialize)]
struct OfLine {
    ring: RingId,
    line: u32,
    before: u64,
    after: u64,
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
        Of::Thread => of_card!(Thread, rest),
        Of::Ring => swap!(Ring, rest),
        Of::WentOut => {
            let list = OfList::deserialize(rest)?;
            Change::WentOut {
                ring: list.ring,
                at: list.at,
                rest: list.rest,
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
            let line = OfLine::deserialize(rest)?;
            Change::Used {
                ring: line.ring,
                line: line.line,
                before: line.before,
                after: line.after,
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
        f.write_str(&say!("a change with its kind under '{TAG}'", TAG))
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

    fn read(text: &str) -> Result<Change, String> {
        serde_json::from_str(text).map_err(|wrong| wrong.to_string())
    }

    #[test]
    fn the_tag_may_stand_anywhere_and_fields_that_nobody_knows_are_passed_over() {
        let change = Change::Home {
            card: CardId(7),
            before: None,
            after: Some("1/0.3".parse().unwrap()),
        };
        for text in [
            r#"{"of":"home","card":7,"before":null,"after":"1/0.3"}"#,
            r#"{"card":7,"of":"home","before":null,"after":"1/0.3"}"#,
            r#"{"after":"1/0.3","card":7,"note":[1,{}],"of":"home"}"#,
            r#"{"of":"home","card":7,"note":"x","after":"1/0.3"}"#,
        ] {
            assert_eq!(read(text).as_ref(), Ok(&change), "{text}");
        }
        assert_eq!(
            serde_json::to_string(&change).unwrap(),
            r#"{"of":"home","card":7,"before":null,"after":"1/0.3"}"#
        );
    }

    #[test]
    fn what_is_no_change_is_refused_in_words() {
        for (text, word) in [
            ("{}", "of"),
            (r#"{"card":7}"#, "of"),
            (r#"{"of":"weather","card":7}"#, "weather"),
            (r#"{"of":"home","before":null,"after":null}"#, "card"),
            (r#"{"before":null,"of":"home","after":null}"#, "card"),
            (r#"{"of":"thread","card":7,"before":1,"after":"2"}"#, "2"),
            ("[]", "a change"),
            ("7", "a change"),
        ] {
            let wrong = read(text).unwrap_err();
            assert!(wrong.contains(word), "{text}: {wrong}");
        }
    }
}
