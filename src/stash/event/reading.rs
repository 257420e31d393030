//! Reading an event from the record: its changes go straight where they belong, and only the few words
//! of its act are kept until all of them are there.

use std::fmt;

use serde::de::{Error, MapAccess, Visitor};
use serde::{Deserialize, Deserializer};
use serde_json::{Map, Value};

use super::{Act, Event};

const CHANGES: &str = "changes";

struct OneEvent;

impl<'de> Visitor<'de> for OneEvent {
    type Value = Event;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("an act with its changes")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Event, A::Error> {
        let mut act = Map::new();
        let mut changes = None;
        while let Some(key) = map.next_key::<String>()? {
            if key == CHANGES {
                changes = Some(map.next_value()?);
            } else {
                act.insert(key, map.next_value()?);
            }
        }
        let changes = changes.ok_or_else(|| A::Error::missing_field(CHANGES))?;
        let act = Act::deserialize(Value::Object(act)).map_err(A::Error::custom)?;
        Ok(Event { act, changes })
    }
}

impl<'de> Deserialize<'de> for Event {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        from.deserialize_map(OneEvent)
    }
}
