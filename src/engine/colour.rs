//! Colour spaces, differences, contrast and hue families, for 8-bit sRGB colours.
//!
//! The spaces and CIEDE2000 come from the `palette` crate; the white point is D65 throughout.
//!
//! Hues are sorted into the ten hue families of Munsell. The angles are OKLCh hues (`palette`),
//! where ten fixed angles separate the families of Munsell's chips better than in CIELCh. See
//! `tests/outside/hue_families.rs` for the data used to fit and measure them.

use std::cmp::Ordering;
use std::fmt;

use palette::color_difference::Ciede2000;
use palette::white_point::D65;
use palette::{FromColor, LinSrgb};

use crate::model::colour::Srgb;

/// CIELAB (ISO/CIE 11664-4), D65, 2 degree observer: `l` 0 to 100, `a` and `b` about -110 to 110.
pub type Lab = palette::Lab<D65, f64>;

/// OKLCh (B. Ottosson, "A perceptual color space for image processing", 2020, from memory): `l` 0
/// to 1, `chroma` 0 to about 0.32 inside sRGB, `hue` an angle. The hue of a grey is meaningless.
pub type Oklch = palette::Oklch<f64>;

/// Linear light of each channel, 0 to 1 (IEC 61966-2-1).
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

/// The perceived difference of two colours: CIEDE2000 (ISO/CIE 11664-6) with kL = kC = kH = 1. 0
/// for the same colour, about 1 for a just noticeable difference (common practice, no source), 100
/// from black to white. Symmetric, except for exactly opposite hues, where the last bit of a
/// rounding decides.
#[must_use]
pub fn difference(one: Srgb, other: Srgb) -> f64 {
    difference_in_lab(lab(one), lab(other))
}

/// [`difference`] for colours already in CIELAB.
///
/// The mean of two exactly opposite hues can lie on either side, depending on the last bit of an
/// arctangent: row 14 of the test data of Sharma, Wu and Dalal (2005) gives 4.8045 or 4.7461.
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

/// Contrast ratio, 1 to 21 (WCAG 2.2, "contrast ratio"). The order of the colours doesn't matter.
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
    /// The colour of the ink.
    #[must_use]
    pub const fn colour(self) -> Srgb {
        match self {
            Self::Black => Srgb::new(0, 0, 0),
            Self::White => Srgb::new(255, 255, 255),
        }
    }
}

/// The most legible ink on a background. Its [`contrast`] is never below 4.58, the square root of
/// 21, so it always meets the 4.5 that WCAG 2.2 requires of text (success criterion 1.4.3).
#[must_use]
pub fn ink_on(background: Srgb) -> Ink {
    let of = |ink: Ink| contrast(ink.colour(), background);
    if of(Ink::Black) >= of(Ink::White) {
        Ink::Black
    } else {
        Ink::White
    }
}

/// The largest divisor of a lightness difference in CIEDE2000: its S_L at L = 0 or 100. The other
/// two terms together are never negative, so the lightness difference over this is a lower bound
/// for the whole.
pub(super) const MOST_S_L: f64 = 1.75;

/// Up to `most` candidates nearest to a colour, each with its [`difference`] from it, nearest
/// first. Ties keep their order. O(n · most).
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

/// A hue family of the Munsell system, in the order of its hue circle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum HueFamily {
    /// R
    Red,
    /// YR
    YellowRed,
    /// Y
    Yellow,
    /// GY
    GreenYellow,
    /// G
    Green,
    /// BG
    BlueGreen,
    /// B
    Blue,
    /// PB
    PurpleBlue,
    /// P
    Purple,
    /// RP
    RedPurple,
}

impl HueFamily {
    /// Every family, around the circle from red.
    pub const ALL: [Self; 10] = [
        Self::Red,
        Self::YellowRed,
        Self::Yellow,
        Self::GreenYellow,
        Self::Green,
        Self::BlueGreen,
        Self::Blue,
        Self::PurpleBlue,
        Self::Purple,
        Self::RedPurple,
    ];

    /// Its letters in Munsell notation.
    #[must_use]
    pub const fn letters(self) -> &'static str {
        match self {
            Self::Red => "R",
            Self::YellowRed => "YR",
            Self::Yellow => "Y",
            Self::GreenYellow => "GY",
            Self::Green => "G",
            Self::BlueGreen => "BG",
            Self::Blue => "B",
            Self::PurpleBlue => "PB",
            Self::Purple => "P",
            Self::RedPurple => "RP",
        }
    }
}

impl fmt::Display for HueFamily {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.letters())
    }
}

/// The start of each hue family: ten OKLCh hues in degrees, 0 to 360 and rising, in the order of
/// [`HueFamily::ALL`]. Hues below the first belong to the last family.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HueStarts(pub [f64; 10]);

impl HueStarts {
    /// Fitted in whole degrees to all chips of Munsell chroma 4 and more inside sRGB.
    pub const MUNSELL: Self = Self([
        12.0, 42.0, 80.0, 110.0, 150.0, 176.0, 204.0, 240.0, 298.0, 338.0,
    ]);

    /// The family of a hue in degrees, which may be outside 0 to 360.
    #[must_use]
    pub fn family(&self, hue: f64) -> HueFamily {
        let hue = hue.rem_euclid(360.0);
        let begun = self.0.partition_point(|&start| start <= hue);
        let last = HueFamily::ALL.len() - 1;
        HueFamily::ALL[begun.checked_sub(1).unwrap_or(last)]
    }
}

/// The OKLCh hue of a colour in degrees, 0 to 360. Meaningless for a grey.
#[must_use]
pub fn hue_of(colour: Srgb) -> f64 {
    oklch(colour).hue.into_positive_degrees()
}

/// The hue family of a colour that isn't grey.
#[must_use]
pub fn hue_family(colour: Srgb) -> HueFamily {
    HueStarts::MUNSELL.family(hue_of(colour))
}

/// The OKLCh chroma up to which colours count as neutral. Judged by the last word of their names,
/// five of the 260 named colours of `assets/families` lie on the wrong side of it. No other limit
/// in thousandths leaves fewer.
const NEUTRAL_CHROMA: f64 = 0.02;

/// Between the OKLCh lightness of the lightest greys (0.78) and that of the whites (0.92) among the
/// named colours of `assets/families`.
const WHITE_LIGHTNESS: f64 = 0.85;

/// The position of a group of colours in a row by hue: whites first, then hues from red through
/// yellow, green and blue to purple, then greys and blacks from light to dark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Standing {
    /// Almost no hue, and light. Holds the lightness, 0 to 1.
    White(f64),
    /// A hue. Holds the degrees from the start of the reds, 0 to 360.
    Hue(f64),
    /// Almost no hue, and not light. Holds the lightness, 0 to 1.
    Grey(f64),
}

impl Standing {
    /// The standing of a group of colours, by their circular mean hue in `OKLab`: the direction of
    /// the mean of `a` and `b`, so that strong colours count for more. If the mean chroma is
    /// neutral or the hues cancel out, by mean lightness instead. `None` without colours.
    /// O(colours).
    #[must_use]
    pub fn of(colours: impl IntoIterator<Item = Srgb>) -> Option<Self> {
        let (mut count, mut lightness, mut chroma, mut a, mut b) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for colour in colours {
            let colour = oklch(colour);
            let (sin, cos) = colour.hue.into_radians().sin_cos();
            count += 1.0;
            lightness += colour.l;
            chroma += colour.chroma;
            a += colour.chroma * cos;
            b += colour.chroma * sin;
        }
        if count == 0.0 {
            return None;
        }
        // Adding opposite hues leaves less than this.
        let cancelled = a.hypot(b) <= 1e-9 * count;
        let lightness = lightness / count;
        Some(if chroma / count > NEUTRAL_CHROMA && !cancelled {
            let from_red = b.atan2(a).to_degrees() - HueStarts::MUNSELL.0[0];
            Self::Hue(from_red.rem_euclid(360.0))
        } else if lightness >= WHITE_LIGHTNESS {
            Self::White(lightness)
        } else {
            Self::Grey(lightness)
        })
    }

    /// Orders two standings, lighter neutrals before darker ones. A total order.
    #[must_use]
    pub fn compare(&self, other: &Self) -> Ordering {
        let key = |standing: &Self| match *standing {
            Self::White(lightness) => (0, -lightness),
            Self::Hue(degrees) => (1, degrees),
            Self::Grey(lightness) => (2, -lightness),
        };
        let ((kind, at), (other_kind, other_at)) = (key(self), key(other));
        kind.cmp(&other_kind).then_with(|| at.total_cmp(&other_at))
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn any_colour() -> impl Strategy<Value = Srgb> {
        any::<[u8; 3]>().prop_map(|[r, g, b]| Srgb::new(r, g, b))
    }

    #[test]
    fn the_nearest_come_first_and_ties_keep_their_order_of_input() {
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
        fn the_few_nearest_are_the_head_of_the_sorted_list(
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
        fn the_difference_is_zero_for_equal_colours_and_symmetric(
            one in any_colour(), other in any_colour()
        ) {
            prop_assert_eq!(difference(one, one), 0.0);
            let there = difference(one, other);
            prop_assert!(there >= 0.0);
            prop_assert!((there - difference(other, one)).abs() < 1e-9);
        }

        #[test]
        fn the_ink_is_always_legible(background in any_colour()) {
            prop_assert!(contrast(ink_on(background).colour(), background) >= 4.58);
        }
    }

    fn colours(hexes: &[&str]) -> Vec<Srgb> {
        hexes.iter().map(|hex| hex.parse().unwrap()).collect()
    }

    fn standing(hexes: &[&str]) -> Standing {
        Standing::of(colours(hexes)).unwrap()
    }

    #[test]
    fn a_family_begins_at_its_angle_and_the_circle_closes() {
        let starts = HueStarts::MUNSELL;
        for (at, family) in HueFamily::ALL.into_iter().enumerate() {
            let before = HueFamily::ALL[(at + 9) % 10];
            assert_eq!(starts.family(starts.0[at]), family);
            assert_eq!(starts.family(starts.0[at] + 360.0), family);
            assert_eq!(starts.family(starts.0[at] - 1e-6), before);
        }
        assert_eq!(starts.family(0.0), HueFamily::RedPurple);
    }

    #[test]
    fn whites_come_first_then_hues_then_greys_and_blacks() {
        let row = [
            standing(&["#FFFFFF"]),
            standing(&["#F4F2EE"]),
            standing(&["#B8102E", "#C03040"]),
            standing(&["#F4D53C"]),
            standing(&["#208040"]),
            standing(&["#2050B0"]),
            standing(&["#7040A0"]),
            standing(&["#C0C0C0"]),
            standing(&["#808080"]),
            standing(&["#000000"]),
        ];
        let in_order = |pair: &[Standing]| pair[0].compare(&pair[1]) == Ordering::Less;
        assert!(row.windows(2).all(in_order), "{row:?}");
    }

    #[test]
    fn the_mean_hue_goes_around_the_circle_and_not_across_it() {
        // OKLCh hues of about 358 and 20 degrees: their mean is near 9, not near 189.
        let Standing::Hue(degrees) = standing(&["#C8366F", "#C8363F"]) else {
            panic!("no hue");
        };
        let hue = (degrees + HueStarts::MUNSELL.0[0]).rem_euclid(360.0);
        assert!(hue < 25.0, "{hue}");
        assert_eq!(Standing::of([]), None);
    }

    proptest! {
        #[test]
        fn colours_of_one_hue_family_stay_together(rgb in prop::collection::vec(any::<[u8; 3]>(), 1..12)) {
            let all: Vec<Srgb> = rgb.iter().map(|&[r, g, b]| Srgb::new(r, g, b)).collect();
            let family = hue_family(all[0]);
            let same: Vec<Srgb> = all.into_iter().filter(|&one| hue_family(one) == family).collect();
            if let Some(Standing::Hue(degrees)) = Standing::of(same) {
                let start = HueStarts::MUNSELL.0[0];
                // A narrow family is convex: means stay in it, up to rounding at its ends.
                let nearly = [-1e-6, 1e-6].map(|off| HueStarts::MUNSELL.family(degrees + start + off));
                prop_assert!(nearly.contains(&family), "{degrees} {family}");
            }
        }
    }
}
