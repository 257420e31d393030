//! Amounts of stranded thread.

use std::fmt;

use serde::{Deserialize, Serialize};

/// Strands in one length of stranded cotton (common practice, no source).
pub const STRANDS_PER_LENGTH: u32 = 6;

/// Lengths of one metre cut from one skein of eight metres (common practice, no source).
pub const LENGTHS_PER_SKEIN: u32 = 8;

/// Single strands, each as long as the card's cut length. Six make a length.
#[derive(
    Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Debug, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct Strands(pub u32);

impl Strands {
    /// So many whole lengths.
    #[must_use]
    pub const fn from_lengths(lengths: u32) -> Self {
        Self(lengths.saturating_mul(STRANDS_PER_LENGTH))
    }

    /// The nearest whole number of strands to an amount in lengths; `None` where it is negative,
    /// not a number, or past what can be counted.
    #[must_use]
    pub fn from_fraction(lengths: f64) -> Option<Self> {
        let strands = (lengths * f64::from(STRANDS_PER_LENGTH)).round();
        // The comparison is false for NaN, and inside it the cast is exact.
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        (0.0..=f64::from(u32::MAX))
            .contains(&strands)
            .then_some(Self(strands as u32))
    }

    /// Whole lengths.
    #[must_use]
    pub const fn lengths(self) -> u32 {
        self.0 / STRANDS_PER_LENGTH
    }

    /// Loose strands over the whole lengths, 0 to 5.
    #[must_use]
    pub const fn loose(self) -> u32 {
        self.0 % STRANDS_PER_LENGTH
    }
}

impl fmt::Display for Strands {
    /// `8`, `7+2` (seven lengths and two loose strands), `+3`, `0`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text = match (self.lengths(), self.loose()) {
            (whole, 0) => whole.to_string(),
            (0, loose) => format!("+{loose}"),
            (whole, loose) => format!("{whole}+{loose}"),
        };
        f.pad(&text)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_and_loose_strands() {
        assert_eq!(Strands::from_lengths(8), Strands(48));
        assert_eq!(Strands(44).to_string(), "7+2");
        assert_eq!(Strands(3).to_string(), "+3");
        assert_eq!(Strands(0).to_string(), "0");
        assert_eq!(Strands::from_fraction(2.5), Some(Strands(15)));
        assert_eq!(Strands::from_fraction(3.33), Some(Strands(20)));
        assert_eq!(Strands::from_fraction(-1.0), None);
        assert_eq!(Strands::from_fraction(f64::NAN), None);
    }
}
