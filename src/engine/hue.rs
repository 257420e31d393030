//! The ten hue families of Munsell, and colours arranged round the circle of hues.
//!
//! Hues are OKLCh hues (`palette`), where ten fixed angles tell the families of Munsell's chips
//! better than in CIELCh; see `tests/outside/hue_families.rs` for what they were fitted on and measured with.

use std::cmp::Ordering;
use std::fmt;

use super::colour::oklch;
use crate::model::colour::Srgb;

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
    use super::*;
    use proptest::prelude::*;

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
