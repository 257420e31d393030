//! Colour spaces, differences, contrast and hue families, for 8-bit sRGB colours.
//!
//! The spaces and CIEDE2000 come from the `palette` crate; the white point is D65 throughout.
//!
//! Colours are arranged round the circle of hues by the ten families of Munsell. Hues are OKLCh hues (`palette`), where ten fixed angles tell the families of Munsell's chips
//! better than in CIELCh; see `tests/outside/hue_families.rs` for what they were fitted on and measured with.

use std::cmp::Ordering;
use std::fmt;

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

/// A hue family of the Munsell system, in the order of its circle.
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
    /// Every family, round the circle from red.
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

    /// Munsell's letters for it.
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

/// Where each hue family begins: ten OKLCh hues in degrees, 0 to 360 and rising, in the order of
/// [`HueFamily::ALL`]. What lies before the first belongs to the last family.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HueStarts(pub [f64; 10]);

impl HueStarts {
    /// Fitted in whole degrees on all chips of Munsell chroma 4 and more inside sRGB.
    pub const MUNSELL: Self = Self([
        12.0, 42.0, 80.0, 110.0, 150.0, 176.0, 204.0, 240.0, 298.0, 338.0,
    ]);

    /// The family of a hue in degrees, of whatever turn.
    #[must_use]
    pub fn family(&self, hue: f64) -> HueFamily {
        let hue = hue.rem_euclid(360.0);
        let begun = self.0.partition_point(|&start| start <= hue);
        let last = HueFamily::ALL.len() - 1;
        HueFamily::ALL[begun.checked_sub(1).unwrap_or(last)]
    }
}

/// The OKLCh hue of a colour in degrees, 0 to 360. That of a grey means nothing.
#[must_use]
pub fn hue_of(colour: Srgb) -> f64 {
    oklch(colour).hue.into_positive_degrees()
}

/// The hue family of a colour that is no grey.
#[must_use]
pub fn hue_family(colour: Srgb) -> HueFamily {
    HueStarts::MUNSELL.family(hue_of(colour))
}

/// The OKLCh chroma up to which colours count as neutral. Of the 260 named colours of
/// `assets/families`, five lie on the wrong side of it by the last word of their name; no other
/// limit in thousandths leaves fewer.
const NEUTRAL_CHROMA: f64 = 0.02;

/// Between the OKLCh lightness of the lightest greys (0.78) and of the whites (0.92) among the named
/// colours of `assets/families`.
const WHITE_LIGHTNESS: f64 = 0.85;

/// Where some colours together stand in a row round the circle of hues: whites first, then hues
/// from red by way of yellow, green and blue to purple, then greys and blacks from light to dark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Standing {
    /// Hardly any hue, and light; its lightness, 0 to 1.
    White(f64),
    /// A hue: degrees from where the reds begin, 0 to 360.
    Hue(f64),
    /// Hardly any hue, and not light; its lightness, 0 to 1.
    Grey(f64),
}

impl Standing {
    /// The standing of some colours: by their circular mean hue in `OKLab` (the direction of the
    /// mean of `a` and `b`, so that a strong colour counts for more), or by their mean lightness
    /// where their mean chroma is that of a neutral or their hues cancel out. `None` without
    /// colours. O(colours).
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
        // Less than this is what is left over when opposite hues are added.
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

    /// Which of two stands first; lighter neutrals before darker ones. A total order.
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
    fn the_mean_goes_round_the_circle_and_not_across_it() {
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
        fn colours_of_one_hue_family_keep_to_it_together(rgb in prop::collection::vec(any::<[u8; 3]>(), 1..12)) {
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
