//! Identities that are the same in every copy of a stash.
//!
//! An id is 64 bits, written as 16 hex digits. The upper half is a counter, so a later thing has a
//! greater id. The lower half is random, so two copies that are changed separately don't give the
//! same id to different things. If two copies reach the same count, their ids collide with a chance
//! of one in four thousand million.

use std::fmt;
use std::marker::PhantomData;

use jiff::Timestamp;
use serde::de::{Error, Visitor};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// Digits of an id.
const DIGITS: usize = 16;

/// Parses exactly 16 lower-case hex digits.
fn from_hex(text: &str) -> Option<u64> {
    let digit = |byte: u8| match byte {
        b'0'..=b'9' => Some(byte - b'0'),
        b'a'..=b'f' => Some(byte - b'a' + 10),
        _ => None,
    };
    if text.len() != DIGITS {
        return None;
    }
    text.bytes()
        .try_fold(0, |id, byte| Some(id << 4 | u64::from(digit(byte)?)))
}

struct Hex;

impl Visitor<'_> for Hex {
    type Value = u64;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("16 hex digits")
    }

    fn visit_str<E: Error>(self, text: &str) -> Result<u64, E> {
        from_hex(text).ok_or_else(|| E::invalid_value(serde::de::Unexpected::Str(text), &self))
    }
}

/// The kind of thing an id identifies. No two kinds draw the same ids.
pub trait IdKind: From<u64> {
    /// A number unique to the kind.
    const KIND: u64;
}

macro_rules! id {
    ($(#[$doc:meta])* $name:ident = $kind:literal) => {
        impl IdKind for $name {
            const KIND: u64 = $kind;
        }


        $(#[$doc])*
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
        pub struct $name(pub u64);

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "{:016x}", self.0)
            }
        }

        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
                to.collect_str(self)
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
                from.deserialize_str(Hex).map(Self)
            }
        }

        impl std::str::FromStr for $name {
            type Err = ParseIdError;

            fn from_str(text: &str) -> Result<Self, ParseIdError> {
                from_hex(text).map(Self).ok_or(ParseIdError)
            }
        }

        impl From<u64> for $name {
            fn from(id: u64) -> Self {
                Self(id)
            }
        }
    };
}

/// The text isn't 16 lower-case hex digits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ParseIdError;

id!(
    /// A card, for as long as it exists.
    CardId = 1
);
id!(
    /// A wall board.
    BoardId = 2
);
id!(
    /// A project ring.
    RingId = 3
);
id!(
    /// A maker's range.
    RangeId = 4
);
id!(
    /// A family of colours.
    FamilyId = 5
);
id!(
    /// An event of the record. All 64 bits are random.
    EventId = 6
);

id!(
    /// A purchase, identified so that its list is imported only once. The lower half is the random
    /// number of the pocket page where it was ticked off; the upper half counts the purchases of
    /// that page.
    PurchaseId = 8
);

impl PurchaseId {
    /// The first purchase of a page with this random number.
    #[must_use]
    pub fn first_of(page: u32) -> Self {
        Self(1 << 32 | u64::from(page))
    }

    /// The form used in lists: it starts with a letter, because a spreadsheet would turn some ids
    /// into numbers.
    #[must_use]
    pub fn in_list(self) -> String {
        format!("p{self}")
    }

    /// Parses the form of [`in_list`](Self::in_list), ignoring case.
    ///
    /// # Errors
    /// When it isn't a p and 16 hex digits.
    pub fn from_list(text: &str) -> Result<Self, ParseIdError> {
        let text = text.trim().to_ascii_lowercase();
        text.strip_prefix('p').ok_or(ParseIdError)?.parse()
    }
}

id!(
    /// The first 64 bits of the SHA-256 digest of an imported list. Equal lists have equal digests.
    ListDigest = 7
);

/// The source of new ids. The same seed draws the same ids, so whoever opens a stash supplies a
/// fresh seed, and every change steps it.
///
/// The mixing function is SplitMix64 (Steele, Lea and Flood, 'Fast splittable pseudorandom number
/// generators', OOPSLA 2014; constants from memory).
#[derive(Clone, Copy, Default, PartialEq, Eq, Debug)]
pub struct IdSeed(pub u64);

impl IdSeed {
    const STEP: u64 = 0x9e37_79b9_7f4a_7c15;

    const fn mix(of: u64) -> u64 {
        let of = (of ^ (of >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let of = (of ^ (of >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        of ^ (of >> 31)
    }

    /// Steps the seed, so that an id drawn and then undone isn't drawn again.
    pub const fn step(&mut self) {
        self.0 = self.0.wrapping_add(Self::STEP);
    }

    /// New ids, all greater than `newest`.
    #[must_use]
    pub const fn ids<Id>(self, newest: Option<u64>) -> NewIds<Id> {
        let count = match newest {
            Some(newest) => newest >> 32,
            None => 0,
        };
        NewIds {
            seed: self,
            count,
            kind: PhantomData,
        }
    }
}

/// Draws new ids, each greater than the last.
#[derive(Clone, Debug)]
pub struct NewIds<Id> {
    seed: IdSeed,
    count: u64,
    kind: PhantomData<Id>,
}

impl<Id: IdKind> NewIds<Id> {
    /// The next id.
    pub fn draw(&mut self) -> Id {
        self.count += 1;
        let nth = self.count.wrapping_mul(IdSeed::STEP).wrapping_add(Id::KIND);
        let drawn = IdSeed::mix(self.seed.0 ^ IdSeed::mix(nth));
        Id::from(self.count << 32 | drawn >> 32)
    }
}

/// When an event was made, in microseconds since 1970, used to order the events of all copies. If
/// the clock isn't past the newest stamp its writer knew, it is that stamp plus one. So an event's
/// stamp is greater than that of every event its writer knew, however the clocks of the computers
/// differ.
///
/// (Logical clocks that follow physical time: Kulkarni and others, 'Logical physical clocks and
/// consistent snapshots in globally distributed databases', 2014.)
#[derive(
    Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Debug, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct Stamp(pub u64);

impl Stamp {
    /// The greatest stamp of an event, in the year 2255: JSON readers keep integers up to here
    /// exactly.
    pub const MOST: Self = Self((1 << 53) - 1);

    /// The clock as a stamp: the least one before 1970, `None` from [`Stamp::MOST`] on.
    #[must_use]
    pub fn at(clock: Timestamp) -> Option<Self> {
        let micros = u64::try_from(clock.as_microsecond()).unwrap_or(0);
        (micros < Self::MOST.0).then_some(Self(micros))
    }

    /// The stamp of an event made now by a writer who knows events up to `self`. A clock from
    /// [`Stamp::MOST`] on can't be right and is ignored.
    #[must_use]
    pub fn next(self, clock: Timestamp) -> Self {
        let after = Self(self.0.saturating_add(1));
        Self::at(clock).map_or(after, |clock| clock.max(after))
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use proptest::prelude::*;

    use super::*;

    #[test]
    fn an_id_is_written_as_sixteen_hex_digits() {
        let id = CardId(0x0000_000c_9f3a_27b1);
        assert_eq!(serde_json::to_string(&id).unwrap(), "\"0000000c9f3a27b1\"");
        for wrong in [
            "1",
            "\"1\"",
            "\"0000000C9F3A27B1\"",
            "\"0000000c9f3a27b1 \"",
        ] {
            assert!(serde_json::from_str::<CardId>(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn a_clock_that_lags_or_is_far_ahead_still_gives_a_later_stamp() {
        let clock = |micros| Timestamp::from_microsecond(micros).unwrap();
        assert_eq!(Stamp(5).next(clock(100)), Stamp(100));
        assert_eq!(Stamp(500).next(clock(100)), Stamp(501));
        assert_eq!(Stamp(0).next(clock(-9)), Stamp(1));
        assert_eq!(Stamp(7).next(Timestamp::MAX), Stamp(8));
    }

    proptest! {
        #[test]
        fn ids_read_back(id: u64) {
            let text = serde_json::to_string(&RingId(id)).unwrap();
            prop_assert_eq!(serde_json::from_str::<RingId>(&text).unwrap(), RingId(id));
            prop_assert_eq!(RingId(id).to_string().parse(), Ok(RingId(id)));
        }

        #[test]
        fn new_ids_grow_and_differ_between_copies(a: u64, b: u64, newest in 0..u64::MAX >> 8) {
            prop_assume!(a != b);
            let drawn = |seed| -> Vec<u64> {
                let mut ids = IdSeed(seed).ids(Some(newest));
                (0..50).map(|_| { let CardId(id) = ids.draw(); id }).collect()
            };
            let (a, b) = (drawn(a), drawn(b));
            prop_assert!(a.is_sorted_by(|a, b| a < b) && a[0] > newest);
            let all: BTreeSet<u64> = a.iter().chain(&b).copied().collect();
            prop_assert_eq!(all.len(), 100);
        }

        #[test]
        fn a_stepped_seed_draws_different_ids(seed: u64) {
            let mut next = IdSeed(seed);
            next.step();
            let first = |seed: IdSeed| -> CardId { seed.ids(None).draw() };
            prop_assert_ne!(first(next).0, next.ids::<RingId>(None).draw().0);
            prop_assert_ne!(first(IdSeed(seed)), first(next));
        }
    }
}
