//! A project ring: the cards pulled for one project, in the order of its pattern's key.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::assumptions::Assumptions;
use super::board::HookRef;
use super::colour::Srgb;
use super::ids::{CardId, RangeId, RingId};
use super::label::Label;
use super::number::Number;
use crate::language::word;

/// One line of a pattern's key: a colour, and the stitches worked in it.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct KeyEntry {
    /// The symbol printed in the chart; may be empty.
    #[serde(default, skip_serializing_if = "Label::is_empty")]
    pub symbol: Label,
    /// The range.
    pub range: RangeId,
    /// The number.
    pub number: Number,
    /// Strands used together in the needle; 0 where the key does not say.
    #[serde(default)]
    pub strands: u8,
    /// Full stitches counted in the chart; 0 where the key does not say.
    #[serde(default)]
    pub stitches: u32,
    /// The colour's name, as the key has it; may be empty.
    #[serde(default, skip_serializing_if = "Label::is_empty")]
    pub name: Label,
    /// The colour, where the key has it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub colour: Option<Srgb>,
    /// Half stitches.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub half: u32,
    /// Quarter stitches.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub quarter: u32,
    /// Three-quarter stitches.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub three_quarter: u32,
    /// Backstitch, as the length of its lines in squares of the chart, so that it holds on any
    /// cloth.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub backstitch: u32,
    /// Strands used together for backstitch; 0 where the key does not say.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub backstitch_strands: u8,
    /// French knots.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub french_knots: u32,
    /// Single strand that was used for the line so far, in centimetres: strands of different cut
    /// lengths add up in nothing else.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub used_cm: u64,
}

fn is_zero<T: Default + PartialEq>(n: &T) -> bool {
    *n == T::default()
}

impl KeyEntry {
    /// A line that names a colour and says nothing else.
    #[must_use]
    pub fn of(range: RangeId, number: Number) -> Self {
        Self {
            symbol: Label::default(),
            range,
            number,
            strands: 0,
            stitches: 0,
            name: Label::default(),
            colour: None,
            half: 0,
            quarter: 0,
            three_quarter: 0,
            backstitch: 0,
            backstitch_strands: 0,
            french_knots: 0,
            used_cm: 0,
        }
    }

    /// Whether it is of that colour.
    #[must_use]
    pub fn is_of(&self, range: RangeId, number: &Number) -> bool {
        self.range == range && self.number.key() == number.key()
    }
}

/// What has become of a ring.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(tag = "state", rename_all = "snake_case")]
pub enum RingState {
    /// In use.
    Live,
    /// Left hanging on a hook.
    Parked {
        /// Where.
        hook: HookRef,
        /// Since when.
        since: Timestamp,
    },
    /// The project is over and every card is accounted for.
    Closed {
        /// When it closed.
        at: Timestamp,
    },
}

/// A project ring. Which cards are on it now is said by the cards themselves.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(try_from = "Told")]
pub struct Ring {
    /// Which ring.
    pub id: RingId,
    /// The project's name.
    pub project: Label,
    /// The pattern's key, in pattern order; may be empty.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub key: Vec<KeyEntry>,
    /// The cloth and what else is assumed of the stitching; the usual where nobody has said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fabric: Option<Assumptions>,
    /// Every card that went out on it since it was opened, in the order of taking.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub went_out: Vec<CardId>,
    /// Live, parked or closed.
    #[serde(flatten)]
    pub state: RingState,
    /// When it was opened.
    pub opened: Timestamp,
}

impl Ring {
    /// Whether the ring is closed.
    #[must_use]
    pub const fn is_closed(&self) -> bool {
        matches!(self.state, RingState::Closed { .. })
    }
}

/// A ring as it is told, all in one row: read so, nothing need be kept until its state is known.
#[derive(Deserialize)]
struct Told {
    id: RingId,
    project: Label,
    #[serde(default)]
    key: Vec<KeyEntry>,
    fabric: Option<Assumptions>,
    #[serde(default)]
    went_out: Vec<CardId>,
    state: Kind,
    hook: Option<HookRef>,
    since: Option<Timestamp>,
    at: Option<Timestamp>,
    opened: Timestamp,
}

#[derive(Deserialize)]
#[serde(rename_all = "snake_case")]
enum Kind {
    Live,
    Parked,
    Closed,
}

impl TryFrom<Told> for Ring {
    type Error = &'static str;

    fn try_from(told: Told) -> Result<Self, Self::Error> {
        let state = match told.state {
            Kind::Live => RingState::Live,
            Kind::Parked => RingState::Parked {
                hook: told.hook.ok_or(word!("missing field `hook`"))?,
                since: told.since.ok_or(word!("missing field `since`"))?,
            },
            Kind::Closed => RingState::Closed {
                at: told.at.ok_or(word!("missing field `at`"))?,
            },
        };
        Ok(Self {
            id: told.id,
            project: told.project,
            key: told.key,
            fabric: told.fabric,
            went_out: told.went_out,
            state,
            opened: told.opened,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// As records had it before keys knew more than full stitches.
    const OLD: &str = r#"{"id":1,"project":"Harbour","key":[{"symbol":"X","range":1,"number":"310","strands":2,"stitches":40},{"range":1,"number":"9","strands":0,"stitches":0}],"state":"live","opened":"2001-09-09T01:46:40Z"}"#;

    #[test]
    fn a_ring_of_an_older_record_reads_and_writes_as_it_was() {
        let ring: Ring = serde_json::from_str(OLD).unwrap();
        assert_eq!((ring.key[0].stitches, ring.key[0].backstitch), (40, 0));
        assert_eq!((ring.fabric, ring.key[0].used_cm), (None, 0));
        assert_eq!(serde_json::to_string(&ring).unwrap(), OLD);
    }

    #[test]
    fn what_was_used_is_written_where_there_is_any() {
        let mut ring: Ring = serde_json::from_str(OLD).unwrap();
        ring.key[0].used_cm = 700;
        let written = serde_json::to_string(&ring).unwrap();
        assert_eq!(
            written,
            OLD.replace(r#""stitches":40}"#, r#""stitches":40,"used_cm":700}"#)
        );
        assert_eq!(serde_json::from_str::<Ring>(&written).unwrap(), ring);
    }
}
