//! Colour against published and independently computed values; for sources see `data/README.md`.

use homehook::engine::colour::{Ink, Lab, contrast, difference_in_lab, ink_on, lab, luminance};
use homehook::engine::colour_families::{EverydayFamily, family_of};
use homehook::model::colour::Srgb;
use serde::de::DeserializeOwned;

fn rows<T: DeserializeOwned>(text: &str) -> Vec<T> {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    reader.deserialize().map(Result::unwrap).collect()
}

/// G. Sharma, W. Wu, E. N. Dalal, Color Research & Application 30(1), 21-30, 2005, Table 1.
#[test]
fn ciede2000_gives_the_published_differences() {
    let table: Vec<[f64; 7]> = rows(include_str!("../data/ciede2000_sharma2005.csv"));
    assert_eq!(table.len(), 34);
    for (at, [l1, a1, b1, l2, a2, b2, published]) in table.into_iter().enumerate() {
        let (one, other) = (Lab::new(l1, a1, b1), Lab::new(l2, a2, b2));
        for found in [difference_in_lab(one, other), difference_in_lab(other, one)] {
            // Row 14 has exactly opposite hues; the last bit of atan2 decides between two answers.
            let opposite = at + 1 == 14 && (found - 4.7461).abs() < 1e-4;
            assert!(
                (found - published).abs() < 1e-4 || opposite,
                "row {}: {found} for {published}",
                at + 1
            );
        }
    }
}

#[derive(serde::Deserialize)]
struct Reference {
    hex: Srgb,
    #[serde(rename = "L")]
    l: f64,
    a: f64,
    b: f64,
}

/// Computed with colour-science 0.4.7. Published roundings of the sRGB matrix differ by up to
/// 0.008 in L and 0.022 in a and b, hence the tolerances.
#[test]
fn lab_agrees_with_an_independent_computation() {
    let table: Vec<Reference> = rows(include_str!("../data/srgb_lab_reference.csv"));
    assert_eq!(table.len(), 214);
    for row in table {
        let found = lab(row.hex);
        let near = (found.l - row.l).abs() < 0.01
            && (found.a - row.a).abs() < 0.03
            && (found.b - row.b).abs() < 0.03;
        assert!(near, "{}: {found:?}", row.hex);
    }
}

/// WCAG 2.2; ratios computed with 40 decimal digits.
#[test]
fn contrast_agrees_with_wcag_to_the_last_printed_digit() {
    let table: Vec<(Srgb, Srgb, f64)> = rows(include_str!("../data/wcag_contrast.csv"));
    assert_eq!(table.len(), 36);
    for (one, other, ratio) in table {
        for found in [contrast(one, other), contrast(other, one)] {
            assert!((found - ratio).abs() < 5.1e-5, "{one} {other}: {found}");
        }
    }
    // 4.49993 prints as 4.50 but fails nevertheless.
    let white = Ink::White.colour();
    assert!(contrast(Srgb::new(0x55, 0x7E, 0x7D), white) < 4.5);
    assert!(contrast(Srgb::new(0x3C, 0x78, 0xC3), white) < 4.5);
}

/// The better ink changes between the greys #757575 and #767676, at luminance 0.179.
#[test]
fn black_ink_wins_from_grey_118_upwards() {
    for level in 0..=255 {
        let grey = Srgb::new(level, level, level);
        let expected = if level >= 0x76 {
            Ink::Black
        } else {
            Ink::White
        };
        assert_eq!(ink_on(grey), expected, "{grey}");
        assert_eq!(luminance(grey) > 0.1791, level >= 0x76, "{grey}");
    }
}

/// On a 16-step grid of all of sRGB, the better ink's contrast is never below the square root of
/// 21.
#[test]
fn better_ink_always_has_enough_contrast() {
    let steps = || (0..=255_u8).step_by(15);
    for (r, g, b) in
        steps().flat_map(|r| steps().flat_map(move |g| steps().map(move |b| (r, g, b))))
    {
        let background = Srgb::new(r, g, b);
        let found = contrast(ink_on(background).colour(), background);
        assert!(found >= 21_f64.sqrt() - 1e-9, "{background}: {found}");
    }
}

#[derive(serde::Deserialize)]
struct Chip {
    munsell: String,
    hex: Srgb,
    number: u16,
    level1: String,
    level2: String,
}

/// The everyday family for a level 1 name of NBS SP 440.
fn family_of_name(chip: &Chip) -> EverydayFamily {
    match chip.level1.as_str() {
        "yellow" => EverydayFamily::Yellows,
        "orange" => EverydayFamily::Oranges,
        "red" => EverydayFamily::Reds,
        "pink" => EverydayFamily::Pinks,
        "purple" => EverydayFamily::Purples,
        "blue" => EverydayFamily::Blues,
        "green" | "yellow green" => EverydayFamily::Greens,
        "olive" => EverydayFamily::Olives,
        "brown" => EverydayFamily::Browns,
        other => panic!("no chip is called {other}"),
    }
}

/// Munsell chips inside one block of NBS SP 440 (1976). Level 1 has no teals, so there a teal may
/// be green or blue. With separate teals (level 2, bluish green and greenish blue), chips must
/// match their own name.
///
/// The chips weren't used to fit anything, but they aren't independent judges: the limits of the
/// blocks name the chips, and the centres that `family_of` compares with are means over the same
/// blocks. So this measures how well 260 centres and CIEDE2000 represent the blocks. Whether people
/// agree with NBS SP 440 is another matter. The next test separates the two.
#[test]
fn everyday_families_agree_with_the_named_munsell_chips() {
    let chips: Vec<Chip> = rows(include_str!("../data/iscc_nbs_munsell_chips.csv"));
    assert_eq!(chips.len(), 1292);
    let mut level1 = 0;
    let mut counts = std::collections::BTreeMap::<_, [usize; 3]>::new();
    for chip in &chips {
        let found = family_of(chip.hex);
        let by_level1 = family_of_name(chip);
        let green_or_blue = [EverydayFamily::Greens, EverydayFamily::Blues];
        let teal = found == EverydayFamily::Teals && green_or_blue.contains(&by_level1);
        level1 += usize::from(found == by_level1 || teal);
        let named_teal = ["bluish green", "greenish blue"].contains(&chip.level2.as_str());
        let expected = if named_teal {
            EverydayFamily::Teals
        } else {
            by_level1
        };
        counts.entry(expected).or_default()[0] += 1;
        counts.entry(found).or_default()[1] += 1;
        counts.entry(expected).or_default()[2] += usize::from(found == expected);
    }
    let right: usize = counts.values().map(|count| count[2]).sum();
    println!(
        "level 1: {level1} of {}; with teals apart: {right}",
        chips.len()
    );
    for (family, [named, found, right]) in &counts {
        // No chip is named white, grey or black.
        let of = |whole: usize| 100.0 * *right as f64 / whole.max(1) as f64;
        let (recall, precision) = (of(*named), of(*found));
        println!(
            "{family:8} named {named:3}, found {found:3}, both {right:3}: \
             {recall:5.1} % of the named, {precision:5.1} % of the found"
        );
    }
    assert!(level1 * 100 >= chips.len() * 90, "{level1} at level 1");
    assert!(right * 100 >= chips.len() * 89, "{right} with teals apart");
    // No family may hide behind the total.
    for (family, [named, _, right]) in counts {
        assert!(right * 100 >= named * 75, "{family}: {right} of {named}");
    }
}

/// The level 1 name of the nearest of these centres, one for each block.
fn nearest_level1(middles: &[(Lab, String)], colour: Lab) -> &str {
    let away = |middle: &(Lab, String)| difference_in_lab(middle.0, colour);
    let nearest = middles.iter().min_by(|a, b| away(a).total_cmp(&away(b)));
    &nearest.unwrap().1
}

/// The method alone, with only the names in common: a block's centre is the mean of its chips with
/// odd Munsell values, and names the chips with even values by the nearest centre; then the other
/// way round. Each block has only a few chips and none of the same value, and some blocks lie
/// entirely in one half, so this is harder than the program's own task.
#[test]
fn centres_of_half_the_chips_name_the_other_half() {
    let chips: Vec<Chip> = rows(include_str!("../data/iscc_nbs_munsell_chips.csv"));
    let is_odd = |chip: &&Chip| {
        let value = chip.munsell.split([' ', '/']).nth(1).unwrap();
        value.parse::<u8>().unwrap() % 2 == 1
    };
    let (odd, even): (Vec<&Chip>, Vec<&Chip>) = chips.iter().partition(is_odd);
    let (mut right, mut all) = (0, 0);
    for (fitted, held_out) in [(&odd, &even), (&even, &odd)] {
        let mut blocks = std::collections::BTreeMap::<u16, Vec<&Chip>>::new();
        for chip in fitted {
            blocks.entry(chip.number).or_default().push(chip);
        }
        let middles: Vec<(Lab, String)> = blocks
            .values()
            .map(|chips| {
                let sum = chips.iter().map(|chip| lab(chip.hex));
                let sum = sum.fold(Lab::new(0.0, 0.0, 0.0), |sum, one| sum + one);
                (sum / chips.len() as f64, chips[0].level1.clone())
            })
            .collect();
        let named = |chip: &&&Chip| nearest_level1(&middles, lab(chip.hex)) == chip.level1;
        let these = held_out.iter().filter(named).count();
        println!("{} middles: {these} of {}", middles.len(), held_out.len());
        (right, all) = (right + these, all + held_out.len());
    }
    println!("together: {right} of {all}");
    assert_eq!(all, chips.len());
    assert!(right * 100 >= all * 80, "{right} of {all}");
}
