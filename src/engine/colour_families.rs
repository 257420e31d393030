//! Everyday families: the names people use for colours when they sort thread.
//!
//! Brown, pink, orange and olive aren't hues but regions of lightness and chroma, and fixed limits
//! describe them poorly. So a colour takes the family of the nearest (CIEDE2000) of 260 named
//! colours, the centroids of the ISCC-NBS blocks (K. L. Kelly, D. B. Judd, "Color: Universal
//! Language and Dictionary of Names", NBS Special Publication 440, 1976; see `assets/families`).

use std::fmt;
use std::sync::LazyLock;

use super::colour::{Lab, MOST_S_L, difference_in_lab, lab};
use crate::model::colour::Srgb;

/// A family of colours, in plain words. Ordered as on a wall.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum EverydayFamily {
    /// White and off-white.
    Whites,
    /// Lemon to gold.
    Yellows,
    /// Apricot to rust.
    Oranges,
    /// Scarlet to wine.
    Reds,
    /// Blush to rose, and salmon.
    Pinks,
    /// Lavender, violet, plum.
    Purples,
    /// Sky to navy.
    Blues,
    /// Between blue and green: aqua, petrol.
    Teals,
    /// Lime to fir.
    Greens,
    /// Olive and khaki.
    Olives,
    /// Tan to chocolate.
    Browns,
    /// Grey of any cast.
    Greys,
    /// Black and nearly black.
    Blacks,
}

impl EverydayFamily {
    /// Every family in the order of the wall: pale ones first, around the hues, dark ones last.
    pub const ALL: [Self; 13] = [
        Self::Whites,
        Self::Yellows,
        Self::Oranges,
        Self::Reds,
        Self::Pinks,
        Self::Purples,
        Self::Blues,
        Self::Teals,
        Self::Greens,
        Self::Olives,
        Self::Browns,
        Self::Greys,
        Self::Blacks,
    ];

    /// Its English name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Whites => "whites",
            Self::Yellows => "yellows",
            Self::Oranges => "oranges",
            Self::Reds => "reds",
            Self::Pinks => "pinks",
            Self::Purples => "purples",
            Self::Blues => "blues",
            Self::Teals => "teals",
            Self::Greens => "greens",
            Self::Olives => "olives",
            Self::Browns => "browns",
            Self::Greys => "greys",
            Self::Blacks => "blacks",
        }
    }

    /// The family of an ISCC-NBS hue category, level 1 and level 2.
    fn of_levels(level1: &str, level2: &str) -> Option<Self> {
        Some(match (level1, level2) {
            (_, "bluish green" | "greenish blue") => Self::Teals,
            ("white", _) => Self::Whites,
            ("yellow", _) => Self::Yellows,
            ("orange", _) => Self::Oranges,
            ("red", _) => Self::Reds,
            ("pink", _) => Self::Pinks,
            ("purple", _) => Self::Purples,
            ("blue", _) => Self::Blues,
            ("green" | "yellow green", _) => Self::Greens,
            ("olive", _) => Self::Olives,
            ("brown", _) => Self::Browns,
            ("gray", _) => Self::Greys,
            ("black", _) => Self::Blacks,
            _ => return None,
        })
    }

    /// The family of a name that ends in white, gray or black. Level 1 files 'reddish gray' under
    /// red, where nobody looks for it on a wall.
    fn of_neutral_name(name: &str) -> Option<Self> {
        match name.rsplit(' ').next() {
            Some("white") => Some(Self::Whites),
            Some("gray") => Some(Self::Greys),
            Some("black") => Some(Self::Blacks),
            _ => None,
        }
    }
}

/// Words in thread names and the families they suggest (common practice, no source; the tests check
/// them against the CSS colours of the same names).
const WORDS: [(EverydayFamily, &[&str]); 13] = [
    (
        EverydayFamily::Whites,
        &["white", "ivory", "cream", "snow", "linen"],
    ),
    (
        EverydayFamily::Yellows,
        &["yellow", "lemon", "gold", "golden", "straw", "mustard"],
    ),
    (
        EverydayFamily::Oranges,
        &["orange", "apricot", "peach", "rust", "tangerine", "pumpkin"],
    ),
    (
        EverydayFamily::Reds,
        &[
            "red", "scarlet", "crimson", "wine", "burgundy", "maroon", "ruby", "cherry",
        ],
    ),
    (
        EverydayFamily::Pinks,
        &["pink", "rose", "blush", "salmon", "fuchsia"],
    ),
    (
        EverydayFamily::Purples,
        &[
            "purple", "lavender", "violet", "plum", "lilac", "mauve", "orchid", "magenta",
        ],
    ),
    (
        EverydayFamily::Blues,
        &["blue", "sky", "navy", "indigo", "sapphire", "denim"],
    ),
    (
        EverydayFamily::Teals,
        &["teal", "aqua", "turquoise", "petrol", "cyan"],
    ),
    (
        EverydayFamily::Greens,
        &[
            "green", "lime", "fir", "moss", "mint", "emerald", "fern", "jade", "sage",
        ],
    ),
    (EverydayFamily::Olives, &["olive", "khaki"]),
    (
        EverydayFamily::Browns,
        &[
            "brown",
            "tan",
            "chocolate",
            "sienna",
            "beige",
            "coffee",
            "chestnut",
            "mahogany",
        ],
    ),
    (
        EverydayFamily::Greys,
        &["grey", "gray", "silver", "charcoal", "slate", "pewter"],
    ),
    (EverydayFamily::Blacks, &["black", "jet"]),
];

/// The everyday family suggested by a thread's name: its last colour word decides, as in 'grey
/// blue'. `None` without a colour word. O(words).
#[must_use]
pub fn family_of_name(name: &str) -> Option<EverydayFamily> {
    let of_word = |word: &str| {
        let is = |known: &&str| {
            let rest = word
                .get(..known.len())
                .filter(|start| start.eq_ignore_ascii_case(known));
            rest.is_some() && matches!(&word[known.len()..], "" | "s" | "S")
        };
        let found = WORDS.iter().find(|(_, words)| words.iter().any(is));
        found.map(|(family, _)| *family)
    };
    let words = name.split(|c: char| !c.is_alphabetic());
    words.rev().find_map(of_word)
}

impl fmt::Display for EverydayFamily {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

/// A named colour of ISCC-NBS.
struct Named {
    middle: Lab,
    /// The family of its hue category.
    hue: EverydayFamily,
    /// Whites, greys or blacks, if its name ends in such a word.
    neutral: Option<EverydayFamily>,
    /// Its position in the list of names; of two equally near colours, the first wins.
    place: usize,
}

impl Named {
    /// Parses a line `number,name,level1,level2,hex`.
    fn read((place, line): (usize, &str)) -> Option<Self> {
        let mut fields = line.split(',').skip(1);
        let name = fields.next()?;
        let hue = EverydayFamily::of_levels(fields.next()?, fields.next()?)?;
        let colour: Srgb = fields.next()?.parse().ok()?;
        Some(Self {
            middle: lab(colour),
            hue,
            neutral: EverydayFamily::of_neutral_name(name),
            place,
        })
    }
}

/// All named colours, from dark to light.
static NAMED: LazyLock<Vec<Named>> = LazyLock::new(|| {
    let lines = include_str!("../../assets/families/centroids.csv").lines();
    let mut named: Vec<Named> = lines.skip(1).enumerate().filter_map(Named::read).collect();
    named.sort_by(|one, other| one.middle.l.total_cmp(&other.middle.l));
    named
});

/// The CIELAB chroma up to which a colour nearest to a neutral name is neutral. Measured over the
/// Munsell solid, 6 to 7 separates neutrals from hues best. A named neutral always counts as
/// neutral up to its own chroma.
const NEUTRAL_CHROMA: f64 = 6.0;

/// The everyday family of a colour. O(260). It agrees with NBS SP 440 on nine in ten of the chips
/// of Munsell chroma 2 and more inside sRGB.
#[must_use]
pub fn family_of(colour: Srgb) -> EverydayFamily {
    let colour = lab(colour);
    let away_in_lightness = |named: &Named| (named.middle.l - colour.l).abs();
    let (darker, lighter) =
        NAMED.split_at(NAMED.partition_point(|named| named.middle.l < colour.l));
    let (mut darker, mut lighter) = (darker.iter().rev().peekable(), lighter.iter().peekable());
    let mut best: Option<(f64, &Named)> = None;
    // Start at the nearest lightness, so that most of the others can be skipped.
    loop {
        let sides = (darker.peek(), lighter.peek());
        let next = match sides.0.map(|one| away_in_lightness(one)) {
            Some(down) if sides.1.is_none_or(|one| down < away_in_lightness(one)) => darker.next(),
            _ => lighter.next(),
        };
        let Some(named) = next else { break };
        let least = away_in_lightness(named) / MOST_S_L;
        if best.is_some_and(|(away, _)| away < least) {
            break;
        }
        let away = difference_in_lab(colour, named.middle);
        let beats = |(nearest, other): (f64, &Named)| {
            away < nearest || (away <= nearest && named.place < other.place)
        };
        if best.is_none_or(beats) {
            best = Some((away, named));
        }
    }
    let Some((_, named)) = best else {
        return EverydayFamily::Greys;
    };
    let chroma = |colour: Lab| colour.a.hypot(colour.b);
    match named.neutral {
        Some(neutral) if chroma(colour) <= NEUTRAL_CHROMA.max(chroma(named.middle)) => neutral,
        _ => named.hue,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn family(hex: &str) -> EverydayFamily {
        family_of(hex.parse().unwrap())
    }

    /// CSS colour names and their values (W3C, CSS Color Module Level 4, 6.1 Named Colors; from
    /// memory).
    const CSS: [(&str, &str); 33] = [
        ("aqua", "#00FFFF"),
        ("black", "#000000"),
        ("blue", "#0000FF"),
        ("brown", "#A52A2A"),
        ("chocolate", "#D2691E"),
        ("crimson", "#DC143C"),
        ("cyan", "#00FFFF"),
        ("fuchsia", "#FF00FF"),
        ("gold", "#FFD700"),
        ("gray", "#808080"),
        ("green", "#008000"),
        ("indigo", "#4B0082"),
        ("ivory", "#FFFFF0"),
        ("khaki", "#F0E68C"),
        ("lavender", "#E6E6FA"),
        ("lime", "#00FF00"),
        ("linen", "#FAF0E6"),
        ("magenta", "#FF00FF"),
        ("maroon", "#800000"),
        ("navy", "#000080"),
        ("olive", "#808000"),
        ("orange", "#FFA500"),
        ("orchid", "#DA70D6"),
        ("pink", "#FFC0CB"),
        ("plum", "#DDA0DD"),
        ("purple", "#800080"),
        ("red", "#FF0000"),
        ("salmon", "#FA8072"),
        ("silver", "#C0C0C0"),
        ("snow", "#FFFAFA"),
        ("teal", "#008080"),
        ("white", "#FFFFFF"),
        ("yellow", "#FFFF00"),
    ];

    #[test]
    fn a_colour_word_suggests_the_family_of_its_css_colour() {
        let mut others = Vec::new();
        for (word, hex) in CSS {
            let by_colour = family_of(hex.parse().unwrap());
            if family_of_name(word) != Some(by_colour) {
                others.push((word, by_colour.name()));
            }
        }
        // A screen's brightest colour of a name isn't the colour of thread with that name.
        let known = [
            ("brown", "oranges"),
            ("chocolate", "oranges"),
            ("fuchsia", "purples"),
            ("indigo", "purples"),
            ("khaki", "yellows"),
            ("linen", "pinks"),
            ("maroon", "browns"),
            ("orange", "yellows"),
            ("plum", "pinks"),
            ("red", "oranges"),
        ];
        assert_eq!(others, known);
    }

    #[test]
    fn the_last_colour_word_of_a_name_counts() {
        let name = |text| family_of_name(text).map(EverydayFamily::name);
        assert_eq!(name("grey blue, dark"), Some("blues"));
        assert_eq!(name("blue grey"), Some("greys"));
        assert_eq!(name("Old ROSE"), Some("pinks"));
        assert_eq!(name("dusty greens"), Some("greens"));
        // Part of another word isn't a colour word.
        assert_eq!(name("tired"), None);
        assert_eq!(name("snowdrop"), None);
        assert_eq!(name("ship's coat"), None);
        assert_eq!(name(""), None);
    }

    #[test]
    fn every_named_colour_is_read() {
        assert_eq!(NAMED.len(), 260);
    }

    #[test]
    fn a_named_colour_is_in_the_family_that_its_name_suggests() {
        let lines = include_str!("../../assets/families/centroids.csv").lines();
        for line in lines.skip(1) {
            let fields: Vec<_> = line.split(',').collect();
            let named = Named::read((0, line)).unwrap();
            let expected = match fields[1].rsplit(' ').next().unwrap() {
                "white" => EverydayFamily::Whites,
                "gray" => EverydayFamily::Greys,
                "black" => EverydayFamily::Blacks,
                _ => named.hue,
            };
            assert_eq!(family(fields[4]), expected, "{line}");
        }
    }

    #[test]
    fn plain_colours_are_in_the_families_people_expect() {
        for (hex, expected) in [
            ("#FFFFFF", EverydayFamily::Whites),
            ("#808080", EverydayFamily::Greys),
            ("#000000", EverydayFamily::Blacks),
            ("#F4D53C", EverydayFamily::Yellows),
            ("#F08020", EverydayFamily::Oranges),
            ("#B8102E", EverydayFamily::Reds),
            ("#F4A8B8", EverydayFamily::Pinks),
            ("#7040A0", EverydayFamily::Purples),
            ("#2050B0", EverydayFamily::Blues),
            ("#108080", EverydayFamily::Teals),
            ("#208040", EverydayFamily::Greens),
            ("#5A5A1E", EverydayFamily::Olives),
            ("#6B4423", EverydayFamily::Browns),
        ] {
            assert_eq!(family(hex), expected, "{hex}");
        }
    }

    #[test]
    fn the_list_of_families_is_in_the_order_of_the_type() {
        assert!(EverydayFamily::ALL.is_sorted());
    }

    proptest! {
        #[test]
        fn skipping_distant_lightness_never_changes_the_answer(rgb in any::<[u8; 3]>()) {
            let colour = lab(Srgb::new(rgb[0], rgb[1], rgb[2]));
            for named in NAMED.iter() {
                let least = (named.middle.l - colour.l).abs() / MOST_S_L;
                prop_assert!(difference_in_lab(colour, named.middle) >= least - 1e-9);
            }
        }

        #[test]
        fn the_family_is_that_of_the_nearest_named_colour(rgb in any::<[u8; 3]>()) {
            let colour = lab(Srgb::new(rgb[0], rgb[1], rgb[2]));
            let away = |named: &Named| difference_in_lab(colour, named.middle);
            let nearest = NAMED.iter().min_by(|one, other| {
                away(one).total_cmp(&away(other)).then(one.place.cmp(&other.place))
            }).unwrap();
            let found = family_of(Srgb::new(rgb[0], rgb[1], rgb[2]));
            prop_assert!(found == nearest.hue || Some(found) == nearest.neutral);
        }
    }
}
