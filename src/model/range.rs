//! A maker's range: the user's list of its colours, its kind of thread, and how it is sold.

use std::collections::BTreeMap;
use std::fmt;

use serde::{Deserialize, Serialize};

use super::colour::Srgb;
use super::ids::{FamilyId, RangeId};
use super::label::Label;
use super::number::Number;
use super::thread::Strands;

/// The range's data on one number.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
pub struct Shade {
    /// The colour's name; may be empty.
    #[serde(default, skip_serializing_if = "Label::is_empty")]
    pub name: Label,
    /// The colour, if it is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub colour: Option<Srgb>,
    /// The family the range puts it in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub family: Option<FamilyId>,
    /// Whether its colour changes along the thread.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub variegated: bool,
    /// Whether the maker no longer makes it.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub discontinued: bool,
    /// Skeins on the want list, whether or not a project needs them; 0 if it isn't on the list.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub wanted: u32,
}

#[allow(clippy::trivially_copy_pass_by_ref)] // serde passes a reference
fn is_zero(n: &u32) -> bool {
    *n == 0
}

/// A maker's range with its known shades, in natural order of their numbers.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Range {
    /// Which range.
    pub id: RangeId,
    /// The display name.
    pub name: Label,
    /// The range list; empty until the user imports one.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub shades: BTreeMap<Number, Shade>,
    /// The kind of thread, and how it is sold. A card may override it.
    #[serde(default, skip_serializing_if = "PutUp::is_usual")]
    pub put_up: PutUp,
}

/// The kind of a thread.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Debug)]
pub enum ThreadKind {
    /// Stranded cotton.
    #[default]
    Stranded,
    /// Stranded silk.
    Silk,
    /// Perle cotton: one twisted thread that isn't divisible.
    Perle {
        /// Its thickness.
        size: PerleSize,
    },
    /// Metallic thread.
    Metallic,
    /// Wool.
    Wool,
}

/// The size of a perle cotton, 1 to 16; the higher, the finer (common practice, no source).
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(try_from = "u8", into = "u8")]
pub struct PerleSize(u8);

impl PerleSize {
    /// The finest size.
    pub const FINEST: u8 = 16;

    /// Checks a size.
    ///
    /// # Errors
    /// When it isn't from 1 to 16.
    pub fn new(size: u8) -> Result<Self, PutUpError> {
        if (1..=Self::FINEST).contains(&size) {
            Ok(Self(size))
        } else {
            Err(PutUpError::Size(size))
        }
    }

    /// The number.
    #[must_use]
    pub const fn get(self) -> u8 {
        self.0
    }
}

impl TryFrom<u8> for PerleSize {
    type Error = PutUpError;

    fn try_from(size: u8) -> Result<Self, PutUpError> {
        Self::new(size)
    }
}

impl From<PerleSize> for u8 {
    fn from(size: PerleSize) -> Self {
        size.0
    }
}

/// A put-up that no thread has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum PutUpError {
    /// Not a size of perle cotton.
    #[error("perle_size")]
    Size(u8),
    /// A perle cotton without a size.
    #[error("perle_without_size")]
    NoSize,
    /// A size for a thread that isn't perle cotton.
    #[error("size_without_perle")]
    SizeOfNoPerle,
    /// The skein length is out of bounds.
    #[error("skein_length")]
    Skein(u32),
    /// The number of strands is out of bounds.
    #[error("strand_count")]
    Strands(u8),
}

/// The kind of a thread and its put-up: the length of a skein, and the number of strands in a
/// length.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Serialize, Deserialize)]
#[serde(try_from = "Wire", into = "Wire")]
pub struct PutUp {
    kind: ThreadKind,
    skein_cm: u32,
    strands: u8,
    divisible: bool,
}

impl Default for PutUp {
    /// Stranded cotton.
    fn default() -> Self {
        Self::usual(ThreadKind::Stranded)
    }
}

impl PutUp {
    /// The longest skein or spool, in centimetres: a kilometre.
    pub const LONGEST_SKEIN_CM: u32 = 100_000;
    /// The most strands a thread may have.
    pub const MOST_STRANDS: u8 = 24;

    /// A put-up with a skein of 1 to [`Self::LONGEST_SKEIN_CM`] centimetres and 1 to
    /// [`Self::MOST_STRANDS`] strands.
    ///
    /// # Errors
    /// When either is out of bounds.
    pub fn new(
        kind: ThreadKind,
        skein_cm: u32,
        strands: u8,
        divisible: bool,
    ) -> Result<Self, PutUpError> {
        if !(1..=Self::LONGEST_SKEIN_CM).contains(&skein_cm) {
            return Err(PutUpError::Skein(skein_cm));
        }
        if !(1..=Self::MOST_STRANDS).contains(&strands) {
            return Err(PutUpError::Strands(strands));
        }
        Ok(Self {
            kind,
            skein_cm,
            strands,
            divisible,
        })
    }

    /// The most common put-up of a kind of thread (common practice, no source). Makers differ, so
    /// prefer the label.
    #[must_use]
    pub const fn usual(kind: ThreadKind) -> Self {
        let (skein_cm, strands, divisible) = match kind {
            ThreadKind::Stranded => (800, 6, true),
            ThreadKind::Silk => (500, 6, true),
            ThreadKind::Perle { size } => match size.0 {
                0..=3 => (1_500, 1, false),
                4..=7 => (2_500, 1, false),
                _ => (8_000, 1, false),
            },
            ThreadKind::Metallic => (1_000, 1, false),
            ThreadKind::Wool => (800, 1, false),
        };
        Self {
            kind,
            skein_cm,
            strands,
            divisible,
        }
    }

    /// Whether this is the usual stranded cotton, which is left out of the record.
    #[must_use]
    pub fn is_usual(&self) -> bool {
        *self == Self::default()
    }

    /// The kind of thread.
    #[must_use]
    pub const fn kind(&self) -> ThreadKind {
        self.kind
    }

    /// The length of a skein, in centimetres.
    #[must_use]
    pub const fn skein_cm(&self) -> u32 {
        self.skein_cm
    }

    /// The number of strands in a length.
    #[must_use]
    pub const fn strands(&self) -> u8 {
        self.strands
    }

    /// Whether it is divided into strands for stitching.
    #[must_use]
    pub const fn is_divisible(&self) -> bool {
        self.divisible
    }

    /// How many strands a length counts as: one unless it is divisible.
    #[must_use]
    pub const fn in_length(&self) -> u32 {
        if self.divisible {
            self.strands as u32
        } else {
            1
        }
    }

    /// The strands of whole lengths, saturating at the largest count.
    #[must_use]
    pub const fn from_lengths(&self, lengths: u32) -> Strands {
        Strands(lengths.saturating_mul(self.in_length()))
    }

    /// Rounds an amount in lengths to whole strands. `None` if it is negative, NaN, or too large to
    /// count.
    #[must_use]
    pub fn from_fraction(&self, lengths: f64) -> Option<Strands> {
        let strands = (lengths * f64::from(self.in_length())).round();
        // The comparison is false for NaN, and inside it the cast is exact.
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        (0.0..=f64::from(u32::MAX))
            .contains(&strands)
            .then_some(Strands(strands as u32))
    }

    /// The amount in lengths, as a decimal number.
    #[must_use]
    pub fn to_fraction(&self, amount: Strands) -> f64 {
        f64::from(amount.0) / f64::from(self.in_length())
    }

    /// Whole lengths.
    #[must_use]
    pub const fn lengths(&self, amount: Strands) -> u32 {
        amount.0 / self.in_length()
    }

    /// Loose strands in addition to the whole lengths: fewer than one length.
    #[must_use]
    pub const fn loose(&self, amount: Strands) -> u32 {
        amount.0 % self.in_length()
    }

    /// Formats an amount: `8`, `7+2` (seven lengths and two loose strands), `+3`, `0`.
    #[must_use]
    pub const fn show(&self, amount: Strands) -> impl fmt::Display + use<> {
        Shown {
            lengths: self.lengths(amount),
            loose: self.loose(amount),
        }
    }

    /// Lengths of `cut_cm` in a skein: 8 of 1 m in 8 m. 0 if the cut is longer than a skein, or 0.
    #[must_use]
    pub const fn lengths_in_skein(&self, cut_cm: u16) -> u32 {
        self.lengths_in(self.skein_cm, cut_cm)
    }

    /// Lengths of `cut_cm` in `whole_cm` of whole thread.
    #[must_use]
    pub const fn lengths_in(&self, whole_cm: u32, cut_cm: u16) -> u32 {
        match whole_cm.checked_div(cut_cm as u32) {
            Some(lengths) => lengths,
            None => 0,
        }
    }

    /// Strands of `cut_cm` in a skein: 48 of 1 m in 8 m of six strands. 0 as for
    /// [`Self::lengths_in_skein`].
    #[must_use]
    pub const fn strands_in_skein(&self, cut_cm: u16) -> u32 {
        self.from_lengths(self.lengths_in_skein(cut_cm)).0
    }

    /// Strands of a whole skein cut into lengths of `cut_cm`. A shorter skein makes one length.
    #[must_use]
    pub fn cut_skein(&self, cut_cm: u16) -> Strands {
        Strands(self.strands_in_skein(cut_cm).max(self.in_length()))
    }
}

struct Shown {
    lengths: u32,
    loose: u32,
}

impl fmt::Display for Shown {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text = match (self.lengths, self.loose) {
            (whole, 0) => whole.to_string(),
            (0, loose) => format!("+{loose}"),
            (whole, loose) => format!("{whole}+{loose}"),
        };
        f.pad(&text)
    }
}

/// The serialized form of a put-up.
#[derive(Serialize, Deserialize)]
struct Wire {
    kind: Kind,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    size: Option<PerleSize>,
    skein_cm: u32,
    strands: u8,
    divisible: bool,
}

#[derive(Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Kind {
    Stranded,
    Silk,
    Perle,
    Metallic,
    Wool,
}

impl From<PutUp> for Wire {
    fn from(put_up: PutUp) -> Self {
        let (kind, size) = match put_up.kind {
            ThreadKind::Stranded => (Kind::Stranded, None),
            ThreadKind::Silk => (Kind::Silk, None),
            ThreadKind::Perle { size } => (Kind::Perle, Some(size)),
            ThreadKind::Metallic => (Kind::Metallic, None),
            ThreadKind::Wool => (Kind::Wool, None),
        };
        Self {
            kind,
            size,
            skein_cm: put_up.skein_cm,
            strands: put_up.strands,
            divisible: put_up.divisible,
        }
    }
}

impl TryFrom<Wire> for PutUp {
    type Error = PutUpError;

    fn try_from(wire: Wire) -> Result<Self, PutUpError> {
        let kind = match (wire.kind, wire.size) {
            (Kind::Perle, Some(size)) => ThreadKind::Perle { size },
            (Kind::Perle, None) => return Err(PutUpError::NoSize),
            (_, Some(_)) => return Err(PutUpError::SizeOfNoPerle),
            (Kind::Stranded, None) => ThreadKind::Stranded,
            (Kind::Silk, None) => ThreadKind::Silk,
            (Kind::Metallic, None) => ThreadKind::Metallic,
            (Kind::Wool, None) => ThreadKind::Wool,
        };
        Self::new(kind, wire.skein_cm, wire.strands, wire.divisible)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn perle() -> PutUp {
        PutUp::usual(ThreadKind::Perle {
            size: PerleSize::new(5).unwrap(),
        })
    }

    #[test]
    fn six_strands_make_a_length_of_stranded_cotton() {
        let cotton = PutUp::default();
        assert_eq!(cotton.from_lengths(8), Strands(48));
        assert_eq!(cotton.strands_in_skein(100), 48);
        for (strands, shown) in [(44, "7+2"), (3, "+3"), (0, "0"), (48, "8")] {
            assert_eq!(cotton.show(Strands(strands)).to_string(), shown);
        }
        assert_eq!(cotton.from_fraction(2.5), Some(Strands(15)));
        assert_eq!(cotton.from_fraction(3.33), Some(Strands(20)));
        assert_eq!(cotton.from_fraction(-1.0), None);
        assert_eq!(cotton.from_fraction(f64::NAN), None);
        assert_eq!(cotton.from_fraction(1e12), None);
    }

    #[test]
    fn a_thread_that_is_not_divisible_counts_as_one_strand() {
        let perle = perle();
        assert_eq!(perle.from_lengths(5), Strands(5));
        assert_eq!((perle.lengths(Strands(5)), perle.loose(Strands(5))), (5, 0));
        assert_eq!(perle.strands_in_skein(100), 25);
        let twisted = PutUp::new(ThreadKind::Wool, 800, 3, false).unwrap();
        assert_eq!(twisted.in_length(), 1);
    }

    #[test]
    fn a_cut_longer_than_the_skein_gives_no_length() {
        let cuts = [0, 50, 90, 800, 801].map(|cm| PutUp::default().strands_in_skein(cm));
        assert_eq!(cuts, [0, 96, 48, 6, 0]);
    }

    #[test]
    fn the_usual_put_ups_survive_serialization() {
        let sizes = (1..=PerleSize::FINEST).map(|size| ThreadKind::Perle {
            size: PerleSize::new(size).unwrap(),
        });
        let others = [
            ThreadKind::Stranded,
            ThreadKind::Silk,
            ThreadKind::Metallic,
            ThreadKind::Wool,
        ];
        for kind in others.into_iter().chain(sizes) {
            let usual = PutUp::usual(kind);
            let new = PutUp::new(kind, usual.skein_cm, usual.strands, usual.divisible);
            assert_eq!(new, Ok(usual));
        }
        assert_eq!(
            serde_json::to_string(&perle()).unwrap(),
            r#"{"kind":"perle","size":5,"skein_cm":2500,"strands":1,"divisible":false}"#
        );
    }

    #[test]
    fn an_out_of_bounds_put_up_is_refused_from_any_source() {
        let new = |cm, strands| PutUp::new(ThreadKind::Silk, cm, strands, true);
        assert_eq!(new(0, 6), Err(PutUpError::Skein(0)));
        assert_eq!(new(100_001, 6), Err(PutUpError::Skein(100_001)));
        assert_eq!(new(500, 0), Err(PutUpError::Strands(0)));
        assert_eq!(new(500, 25), Err(PutUpError::Strands(25)));
        for text in [
            r#"{"kind":"perle","skein_cm":2500,"strands":1,"divisible":false}"#,
            r#"{"kind":"perle","size":17,"skein_cm":2500,"strands":1,"divisible":false}"#,
            r#"{"kind":"wool","size":5,"skein_cm":2500,"strands":1,"divisible":false}"#,
            r#"{"kind":"silk","skein_cm":500,"strands":0,"divisible":true}"#,
            r#"{"kind":"rope","skein_cm":500,"strands":1,"divisible":true}"#,
        ] {
            assert!(serde_json::from_str::<PutUp>(text).is_err(), "{text}");
        }
    }

    fn any_kind() -> impl Strategy<Value = ThreadKind> {
        prop_oneof![
            Just(ThreadKind::Stranded),
            Just(ThreadKind::Silk),
            Just(ThreadKind::Metallic),
            Just(ThreadKind::Wool),
            (1..=PerleSize::FINEST).prop_map(|size| ThreadKind::Perle {
                size: PerleSize(size)
            }),
        ]
    }

    proptest! {
        #[test]
        fn a_put_up_reads_back_as_written(
            kind in any_kind(), cm in 1..=PutUp::LONGEST_SKEIN_CM, strands in 1..=24u8, divisible: bool
        ) {
            let put_up = PutUp::new(kind, cm, strands, divisible).unwrap();
            let text = serde_json::to_string(&put_up).unwrap();
            prop_assert_eq!(serde_json::from_str::<PutUp>(&text).unwrap(), put_up);
        }

        #[test]
        fn lengths_and_loose_strands_make_the_amount(strands in 1..=24u8, divisible: bool, amount: u32) {
            let put_up = PutUp::new(ThreadKind::Stranded, 800, strands, divisible).unwrap();
            let (lengths, loose) = (put_up.lengths(Strands(amount)), put_up.loose(Strands(amount)));
            prop_assert!(loose < put_up.in_length());
            prop_assert_eq!(put_up.from_lengths(lengths).0 + loose, amount);
        }
    }
}
