//! Lengths on paper, exact to a hundredth of a millimetre, and areas made of them.

use std::fmt;
use std::ops::{Add, Div, Mul, Sub};
use std::str::FromStr;

use crate::text::print::not_a_length;

/// A length in hundredths of a millimetre, so that sums are exact: 8.5 in is 215.9 mm.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Debug)]
pub(crate) struct Mm(i32);

/// The longest length that is read, in millimetres.
pub(crate) const LONGEST: i32 = 2_000;

/// A text that is no length.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct ParseLengthError(String);

impl ParseLengthError {
    /// What is wrong and what to do, as a sentence.
    #[must_use]
    pub(crate) fn sentence(&self) -> String {
        not_a_length(&self.0, LONGEST)
    }
}

impl Mm {
    /// Nothing.
    pub(crate) const ZERO: Self = Self(0);

    /// Whole millimetres.
    #[must_use]
    pub(crate) const fn whole(mm: i32) -> Self {
        Self(mm * 100)
    }

    /// Hundredths of a millimetre.
    #[must_use]
    pub(crate) const fn hundredths(hundredths: i32) -> Self {
        Self(hundredths)
    }

    /// The hundredths of a millimetre in it.
    #[must_use]
    pub(crate) const fn as_hundredths(self) -> i32 {
        self.0
    }

    /// So many hundredths of it, rounded down.
    #[must_use]
    pub(crate) const fn percent(self, percent: i32) -> Self {
        Self(self.0 * percent / 100)
    }

    /// How many pieces of a size, each but the last followed by a gap, go into this length.
    #[must_use]
    pub(crate) fn fits(self, size: Self, gap: Self) -> usize {
        let pitch = (size.0 + gap.0).max(1);
        usize::try_from((self.0 + gap.0) / pitch).unwrap_or(0)
    }

    /// This length so many times.
    #[must_use]
    pub(crate) fn times(self, count: usize) -> Self {
        Self(
            self.0
                .saturating_mul(i32::try_from(count).unwrap_or(i32::MAX)),
        )
    }
}

impl Add for Mm {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

impl Sub for Mm {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }
}

impl Mul<i32> for Mm {
    type Output = Self;
    fn mul(self, times: i32) -> Self {
        Self(self.0.saturating_mul(times))
    }
}

impl Div<i32> for Mm {
    type Output = Self;
    /// Rounded down. Nothing here divides by 0.
    fn div(self, by: i32) -> Self {
        Self(self.0.div_euclid(by.max(1)))
    }
}

impl fmt::Display for Mm {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (sign, size) = (if self.0 < 0 { "-" } else { "" }, self.0.unsigned_abs());
        let (whole, part) = (size / 100, size % 100);
        match part {
            0 => write!(f, "{sign}{whole}"),
            part if part % 10 == 0 => write!(f, "{sign}{whole}.{}", part / 10),
            part => write!(f, "{sign}{whole}.{part:02}"),
        }
    }
}

impl FromStr for Mm {
    type Err = ParseLengthError;

    fn from_str(text: &str) -> Result<Self, ParseLengthError> {
        let wrong = || ParseLengthError(text.chars().take(40).collect());
        let (whole, part) = text.trim().split_once('.').unwrap_or((text.trim(), "0"));
        let digits = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
        if !digits(whole) || !digits(part) || whole.len() > 4 || part.len() > 2 {
            return Err(wrong());
        }
        let whole: i32 = whole.parse().map_err(|_| wrong())?;
        let part: i32 = format!("{part:0<2}").parse().map_err(|_| wrong())?;
        let length = Self(whole * 100 + part);
        (length <= Self::whole(LONGEST))
            .then_some(length)
            .ok_or_else(wrong)
    }
}

/// An upright rectangle; x grows to the right, y down.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub(crate) struct Area {
    /// Its left side.
    pub x: Mm,
    /// Its upper side.
    pub y: Mm,
    /// How wide it is.
    pub w: Mm,
    /// How high it is.
    pub h: Mm,
}

impl Area {
    /// An area by its upper left corner and its size.
    #[must_use]
    pub(crate) const fn new(x: Mm, y: Mm, w: Mm, h: Mm) -> Self {
        Self { x, y, w, h }
    }

    /// Its right side.
    #[must_use]
    pub(crate) fn right(self) -> Mm {
        self.x + self.w
    }

    /// Its lower side.
    #[must_use]
    pub(crate) fn bottom(self) -> Mm {
        self.y + self.h
    }

    /// What is left inside of an edge all around.
    #[must_use]
    pub(crate) fn inset(self, edge: Mm) -> Self {
        Self::new(
            self.x + edge,
            self.y + edge,
            self.w - edge * 2,
            self.h - edge * 2,
        )
    }

    /// Whether another area lies in this one, its edge included.
    #[cfg(test)]
    pub(crate) fn contains(self, other: Self) -> bool {
        other.x >= self.x
            && other.y >= self.y
            && other.right() <= self.right()
            && other.bottom() <= self.bottom()
    }

    /// Whether the insides of two areas have a point in common. Edges may touch.
    #[must_use]
    pub(crate) fn overlaps(self, other: Self) -> bool {
        self.x < other.right()
            && other.x < self.right()
            && self.y < other.bottom()
            && other.y < self.bottom()
    }

    /// What two areas have in common; without width or height where that is nothing.
    #[must_use]
    pub(crate) fn common(self, other: Self) -> Self {
        let (x, y) = (self.x.max(other.x), self.y.max(other.y));
        let w = self.right().min(other.right()) - x;
        let h = self.bottom().min(other.bottom()) - y;
        Self::new(x, y, w.max(Mm::ZERO), h.max(Mm::ZERO))
    }

    /// The piece from one height to another, both from its upper side.
    #[must_use]
    pub(crate) fn rows(self, from: Mm, to: Mm) -> Self {
        Self::new(self.x, self.y + from, self.w, to - from)
    }

    /// The piece from one width to another, both from its left side.
    #[must_use]
    pub(crate) fn columns(self, from: Mm, to: Mm) -> Self {
        Self::new(self.x + from, self.y, to - from, self.h)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn lengths_read_and_write() {
        for (text, hundredths, written) in [
            ("60", 6000, "60"),
            ("33.5", 3350, "33.5"),
            ("0.05", 5, "0.05"),
            ("215.90", 21590, "215.9"),
        ] {
            let length: Mm = text.parse().unwrap();
            assert_eq!(length, Mm::hundredths(hundredths));
            assert_eq!(length.to_string(), written);
        }
        for wrong in ["", "x", "-1", "1.", ".5", "1.234", "2001", "99999", "1e3"] {
            assert!(wrong.parse::<Mm>().is_err(), "{wrong}");
        }
        assert_eq!(Mm::hundredths(-150).to_string(), "-1.5");
    }

    proptest! {
        #[test]
        fn what_is_written_reads_back(hundredths in 0..=200_000_i32) {
            let length = Mm::hundredths(hundredths);
            prop_assert_eq!(length.to_string().parse(), Ok(length));
        }

        #[test]
        fn pieces_that_fit_are_as_many_as_can_be(
            total in 0..30_000_i32, size in 1..9_000_i32, gap in 0..900_i32,
        ) {
            let counted = (0..).find(|n| {
                (n + 1) * size + n * gap > total
            }).unwrap();
            let fits = Mm::hundredths(total).fits(Mm::hundredths(size), Mm::hundredths(gap));
            prop_assert_eq!(fits, usize::try_from(counted).unwrap());
        }
    }
}
