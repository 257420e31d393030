//! What a merge writes down: the events of another copy, and what was settled between the two.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::Event;
use crate::model::ids::{BoardId, CardId, EventId, FamilyId, RangeId, RingId, Stamp};
use crate::model::who::Who;

/// An event of another copy, the same wherever it is carried.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Fact {
    /// Which event.
    pub id: EventId,
    /// Its place in the order of the events of all copies.
    pub stamp: Stamp,
    /// When its writer's clock says it was made.
    pub time: Timestamp,
    /// Who made it, where that was written down.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<Who>,
    /// The last events its writer knew. Each stands for all that its own writer knew.
    pub after: Vec<EventId>,
    /// What was done.
    pub deed: Deed,
}

/// What was done by an event of another copy.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Deed {
    /// An act with its changes.
    Did(Event),
    /// That event was undone.
    Undid(EventId),
    /// That event was done again.
    Redid(EventId),
    /// Two copies were merged, and this was settled between them.
    Settled(Vec<Settled>),
}

/// What a field belongs to.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Thing {
    /// An event: whether it stands.
    Event(EventId),
    /// A range.
    Range(RangeId),
    /// A family.
    Family(FamilyId),
    /// A board.
    Board(BoardId),
    /// A card.
    Card(CardId),
    /// A ring.
    Ring(RingId),
    /// The stash as a whole.
    Stash,
}

/// The value a merge gave to a field.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Settled {
    /// What the field belongs to.
    pub thing: Thing,
    /// Which field of it: the name it has in the record, with a part of a list after a slash.
    pub member: String,
    /// Its value.
    pub value: Value,
    /// The events whose way it is now, where that was asked.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub chosen: Vec<EventId>,
    /// The events whose way it is not.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub over: Vec<EventId>,
}
