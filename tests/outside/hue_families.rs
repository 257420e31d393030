//! Hue families against Munsell's chips; for sources see `data/README.md`.

use homehook::engine::colour::{HueFamily, HueStarts, hue_of};
use homehook::model::colour::Srgb;

#[derive(serde::Deserialize)]
struct Row {
    hue_family: String,
    value: u8,
    chroma: u8,
    hex: Srgb,
}

struct Chip {
    family: usize,
    value: u8,
    hue: f64,
}

/// The chips with chroma 4 and more.
fn chips() -> Vec<Chip> {
    let text = include_str!("../data/munsell_srgb.csv");
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let rows = reader.deserialize().map(|row| row.unwrap());
    rows.filter(|row: &Row| row.chroma >= 4)
        .map(|row| Chip {
            family: HueFamily::ALL
                .iter()
                .position(|family| family.letters() == row.hue_family)
                .unwrap(),
            value: row.value,
            hue: hue_of(row.hex),
        })
        .collect()
}

fn found(starts: &HueStarts, chip: &Chip) -> usize {
    let found = starts.family(chip.hue);
    HueFamily::ALL.iter().position(|&f| f == found).unwrap()
}

/// Steps around the circle of families, 0 to 5.
fn steps(one: usize, other: usize) -> usize {
    let away = one.abs_diff(other);
    away.min(10 - away)
}

/// The direction of the mean of some hues, in whole degrees.
fn mean_hue(hues: impl Iterator<Item = f64>) -> f64 {
    let (x, y) = hues.fold((0.0, 0.0), |(x, y), hue| {
        let (sin, cos) = hue.to_radians().sin_cos();
        (x + cos, y + sin)
    });
    y.atan2(x).to_degrees().round()
}

/// For each family, the whole degree that best separates it from the previous one: the fewest chips
/// of the two on the wrong side, and the middle of those that do equally well. Uses nothing but
/// these chips.
fn fit(chips: &[&Chip]) -> HueStarts {
    let starts = std::array::from_fn(|family| {
        let before = (family + 9) % 10;
        let both = |chip: &&&Chip| chip.family == family || chip.family == before;
        let both: Vec<&Chip> = chips.iter().filter(both).copied().collect();
        let middle = mean_hue(both.iter().map(|chip| chip.hue));
        // Signed degrees from the middle of the two, so that nothing jumps at 360.
        let from = |hue: f64| (hue - middle + 180.0).rem_euclid(360.0) - 180.0;
        let wrong = |start: i32| {
            let begun = |chip: &Chip| from(chip.hue) >= f64::from(start);
            let wrong = |chip: &&&Chip| begun(chip) != (chip.family == family);
            both.iter().filter(wrong).count()
        };
        let least = (-60..=60).map(wrong).min().unwrap();
        let best: Vec<i32> = (-60..=60).filter(|&start| wrong(start) == least).collect();
        (middle + f64::from(best[best.len() / 2])).rem_euclid(360.0)
    });
    HueStarts(starts)
}

/// Counts of chips named correctly, named as a neighbour, and the rest.
fn judge(starts: &HueStarts, chips: &[&Chip]) -> [usize; 3] {
    let mut counts = [0; 3];
    for chip in chips {
        counts[steps(found(starts, chip), chip.family).min(2)] += 1;
    }
    counts
}

fn halves(half: impl Fn(usize, &Chip) -> bool, chips: &[Chip]) -> [Vec<&Chip>; 2] {
    let all = chips.iter().enumerate();
    let (one, other): (Vec<_>, Vec<_>) = all.partition(|(at, chip)| half(*at, chip));
    [one, other].map(|half| half.into_iter().map(|(_, chip)| chip).collect())
}

/// Angles fitted on one half of the chips name the other half, both ways: every second chip, and
/// odd against even Munsell values, where no chip has a neighbour of its own value in the other
/// half.
#[test]
fn angles_fitted_on_one_half_name_the_other() {
    let chips = chips();
    assert_eq!(chips.len(), 1166);
    let ways = [
        ("every second chip", halves(|at, _| at % 2 == 0, &chips)),
        (
            "odd and even values",
            halves(|_, chip| chip.value % 2 == 1, &chips),
        ),
    ];
    for (way, [one, other]) in ways {
        for (fitted_on, held_out) in [(&one, &other), (&other, &one)] {
            let starts = fit(fitted_on);
            let [right, neighbour, far] = judge(&starts, held_out);
            println!(
                "{way}: {right} of {} right, {neighbour} neighbours",
                held_out.len()
            );
            println!("    {:?}", starts.0);
            assert!(starts.0.is_sorted(), "{starts:?}");
            assert_eq!(far, 0, "{way}");
            assert!(right * 100 >= held_out.len() * 95, "{way}: {right}");
        }
    }
}

/// The angles in use were fitted on these very chips, so this shows how well ten fixed angles can
/// do, not how well they do on others.
#[test]
fn angles_in_use_name_the_chips() {
    let chips = chips();
    let all: Vec<&Chip> = chips.iter().collect();
    let [right, neighbour, far] = judge(&HueStarts::MUNSELL, &all);
    println!("{right} of {} right, {neighbour} neighbours", all.len());
    for (at, family) in HueFamily::ALL.iter().enumerate() {
        let named: Vec<_> = chips.iter().filter(|chip| chip.family == at).collect();
        let right = named
            .iter()
            .filter(|chip| found(&HueStarts::MUNSELL, chip) == at)
            .count();
        println!("{family:2} {right:3} of {:3}", named.len());
        assert!(
            right * 100 >= named.len() * 90,
            "{family}: {right} of {}",
            named.len()
        );
    }
    assert_eq!(far, 0);
    assert!(right * 100 >= all.len() * 97, "{right}");
}
