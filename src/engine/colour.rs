//! Colour spaces, differences and contrast, for 8-bit sRGB colours.
//!
//! The spaces and CIEDE2000 come from the `palette` crate; the white point is D65 throughout.

use palette::color_difference::Ciede2000;
use palette::white_point::D65;
use palette::{FromColor, LinSrgb};

use crate::model::colour::Srgb;

/// CIELAB (ISO/CIE 11664-4), D65, 2 degree observer: `l` 0 to 100, `a` and `b` about -110 to 110.
pub type Lab = palette::Lab<D65, f64>;

/// OKLCh (B. Ottosson, "A perceptual color space for image processing", 2020, from memory): `l`
/// 0 to 1, `chroma` 0 to about 0.32 inside sRGB, `hue` an angle. The hue of a grey means nothing.
pub type Oklch = palette::Oklch<f64>;

/// The light a colour gives off a channel, 0 to 1 (IEC 61966-2-1).
fn linear(colour: Srgb) -> LinSrgb<f64> {
    palette::Srgb::new(colour.r, colour.g, colour.b).into_linear()
}

/// The colour in CIELAB.
#[must_use]
pub fn lab(colour: Srgb) -> Lab {
    Lab::from_color(linear(colour))
}

/// The colour in OKLCh.
#[must_use]
pub fn oklch(colour: Srgb) -> Oklch {
    Oklch::from_color(linear(colour))
}

/// How far apart two colours look: CIEDE2000 (ISO/CIE 11664-6) with kL = kC = kH = 1. 0 for the
/// same colour, about 1 for a difference just seen (common practice, no source), 100 from black to
/// white. Symmetric, except that exactly opposite hues hang on the last bit of a rounding.
#[must_use]
pub fn difference(one: Srgb, other: Srgb) -> f64 {
    difference_in_lab(lab(one), lab(other))
}

/// [`difference`] for colours that are in CIELAB already.
///
/// The mean of two exactly opposite hues can lie on either side, and the last bit of an arctangent
/// decides: row 14 of the test data of Sharma, Wu and Dalal (2005) gives 4.8045 or 4.7461.
#[must_use]
pub fn difference_in_lab(one: Lab, other: Lab) -> f64 {
    one.difference(other)
}

/// Relative luminance, 0 for black to 1 for white (WCAG 2.2, "relative luminance").
#[must_use]
pub fn luminance(colour: Srgb) -> f64 {
    let light = linear(colour);
    0.2126 * light.red + 0.7152 * light.green + 0.0722 * light.blue
}

/// Contrast ratio, 1 to 21 (WCAG 2.2, "contrast ratio"). Which colour is the text does not matter.
/// Compare it unrounded: 4.49993 shows as 4.50 and fails 4.5.
#[must_use]
pub fn contrast(one: Srgb, other: Srgb) -> f64 {
    let (one, other) = (luminance(one), luminance(other));
    (one.max(other) + 0.05) / (one.min(other) + 0.05)
}

/// The colour of text on a swatch.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Ink {
    /// `#000000`
    Black,
    /// `#FFFFFF`
    White,
}

impl Ink {
    /// The colour itself.
    #[must_use]
    pub const fn colour(self) -> Srgb {
        match self {
            Self::Black => Srgb::new(0, 0, 0),
            Self::White => Srgb::new(255, 255, 255),
        }
    }
}

/// The ink that is read best on a background. Its [`contrast`] is never below 4.58, the square
/// root of 21, so it always meets the 4.5 that WCAG 2.2 wants of text (success criterion 1.4.3).
#[must_use]
pub fn ink_on(background: Srgb) -> Ink {
    let of = |ink: Ink| contrast(ink.colour(), background);
    if of(Ink::Black) >= of(Ink::White) {
        Ink::Black
    } else {
        Ink::White
    }
}

/// The most by which CIEDE2000 divides a difference in lightness: its S_L at L = 0 or 100. The other two
/// terms are never below 0 together, so two colours are at least as far apart as that lets them be.
pub(super) const MOST_S_L: f64 = 1.75;

/// The candidates nearest to a colour, at most so many, with their [`difference`] from it, nearest first;
/// candidates as near as each other keep their order. O(n · most).
#[must_use]
pub fn nearest<T>(
    colour: Srgb,
    among: impl IntoIterator<Item = (T, Srgb)>,
    most: usize,
) -> Vec<(T, f64)> {
    let wanted = lab(colour);
    let mut found: Vec<(T, f64)> = Vec::new();
    for (item, other) in among {
        let other = lab(other);
        let farthest = found.last().filter(|_| found.len() >= most);
        let farthest = farthest.map_or(f64::INFINITY, |&(_, away)| away);
        if (wanted.l - other.l).abs() / MOST_S_L > farthest {
            continue;
        }
        let away = difference_in_lab(wanted, other);
        let at = found.partition_point(|&(_, nearer)| nearer <= away);
        if at < most {
            found.insert(at, (item, away));
            found.truncate(most);
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn any_colour() -> impl Strategy<Value = Srgb> {
        any::<[u8; 3]>().prop_map(|[r, g, b]| Srgb::new(r, g, b))
    }

    #[test]
    fn the_nearest_come_first_and_ties_keep_their_order() {
        let colours = ["#FF0000", "#808080", "#FE0000", "#808080"];
        let among = colours.iter().enumerate();
        let among = among.map(|(at, hex)| (at, hex.parse().unwrap()));
        let found = nearest(Srgb::new(255, 0, 0), among, 9);
        let order: Vec<_> = found.iter().map(|(at, _)| *at).collect();
        assert_eq!(order, [0, 2, 1, 3]);
        assert_eq!(found[0].1, 0.0);
    }

    proptest! {
        #[test]
        fn the_few_nearest_are_the_first_of_all_in_order(
            colour in any_colour(),
            among in prop::collection::vec(any_colour(), 0..60),
            most in 0..5_usize,
        ) {
            let mut all: Vec<_> = among.iter().map(|&one| difference(colour, one)).enumerate().collect();
            all.sort_by(|(_, one), (_, other)| one.total_cmp(other));
            all.truncate(most);
            prop_assert_eq!(nearest(colour, among.into_iter().enumerate(), most), all);
        }

        #[test]
        fn a_difference_is_none_for_the_same_colour_and_the_same_both_ways(
            one in any_colour(), other in any_colour()
        ) {
            prop_assert_eq!(difference(one, one), 0.0);
            let there = difference(one, other);
            prop_assert!(there >= 0.0);
            prop_assert!((there - difference(other, one)).abs() < 1e-9);
        }

        #[test]
        fn the_ink_can_always_be_read(background in any_colour()) {
            prop_assert!(contrast(ink_on(background).colour(), background) >= 4.58);
        }
    }
}
