use super::*;
use proptest::prelude::*;

fn usual(stitches: &Stitches) -> Need {
    need(stitches, &Assumptions::default(), 100).unwrap()
}

fn crosses(full: u32) -> Stitches {
    Stitches {
        full,
        ..Stitches::default()
    }
}

/// By hand: 1,000 full crosses with two strands on 14 count over one thread, there and back.
///
/// The square is 25.4 / 14 = 1.8142857 mm. A cross takes 2√2 + 2 = 4.8284271 squares, 8.7601463 mm,
/// and four passes through 0.5 mm of fabric: 10.7601463 mm. A thousand take 10,760.146 mm with one
/// strand, 21.520 m with two. With 10 percent more: 11,836.161 mm. A metre makes two working
/// threads of 50 cm, of which 10 cm are waste and 40 cm are stitched: 29.59 threads, so 30, of two
/// strands each: 60 threads, 30 strands of a metre, five lengths. Before rounding: 11.836161 m · 2
/// strands · 50/40 = 29.590 m.
#[test]
fn a_thousand_crosses_match_a_calculation_by_hand() {
    let need = usual(&crosses(1_000));
    assert!((need.stitched_m - 21.520_293).abs() < 1e-5, "{need:?}");
    assert!((need.metres - 29.590_402).abs() < 1e-5, "{need:?}");
    assert_eq!(
        (need.strands, need.lengths(PutUp::default())),
        (Strands(30), 5)
    );
}

/// By hand: no fabric, no waste, no margin, a square of 1 inch / 4 · 2 = 12.7 mm, one strand.
#[test]
fn each_kind_of_stitch_follows_its_needle() {
    let bare = Assumptions {
        count: 4,
        over: 2,
        strands: 1,
        waste_mm: 0,
        margin_percent: 0,
        fabric_tenth_mm: 0,
        ..Assumptions::default()
    };
    let of = |stitches: Stitches, assumed: &Assumptions| {
        need(&stitches, assumed, 100).unwrap().stitched_m * 1_000.0 / 12.7
    };
    let none = Stitches::default();
    let root = 2.0_f64.sqrt();
    for (stitches, squares) in [
        (crosses(1), 2.0 * root + 2.0),
        (Stitches { half: 1, ..none }, root + 1.0),
        (Stitches { quarter: 1, ..none }, root),
        (
            Stitches {
                three_quarter: 1,
                ..none
            },
            2.0 * root + 1.0,
        ),
        (
            Stitches {
                backstitch: 1,
                ..none
            },
            3.0,
        ),
        (
            Stitches {
                french_knots: 1,
                ..none
            },
            20.0 / 12.7,
        ),
    ] {
        let found = of(stitches, &bare);
        assert!((found - squares).abs() < 1e-9, "{stitches:?}: {found}");
    }
    let apart = Assumptions {
        way: Way::OneByOne,
        ..bare
    };
    assert!((of(crosses(1), &apart) - 3.0 * root - 1.0).abs() < 1e-9);
}

/// The path of a needle from hole to hole, front and back in turn, in squares. A slow model without
/// a table.
fn way(holes: &[(f64, f64)]) -> f64 {
    let steps = holes.windows(2);
    steps
        .map(|step| (step[1].0 - step[0].0).hypot(step[1].1 - step[0].1))
        .sum()
}

#[test]
fn a_row_of_crosses_is_as_long_as_the_path_of_its_needle() {
    let count = 200_u32;
    let row: Vec<f64> = (0..count).map(f64::from).collect();
    let there = row.iter().flat_map(|&x| [(x, 0.0), (x + 1.0, 1.0)]);
    let back = row.iter().rev();
    let back = back.flat_map(|&x| [(x + 1.0, 0.0), (x, 1.0)]);
    let there_and_back: Vec<_> = there.chain(back).collect();
    let one_by_one: Vec<_> = row
        .iter()
        .flat_map(|&x| [(x, 0.0), (x + 1.0, 1.0), (x + 1.0, 0.0), (x, 1.0)])
        .collect();
    for (holes, way_of_row) in [
        (there_and_back, Way::ThereAndBack),
        (one_by_one, Way::OneByOne),
    ] {
        let assumed = Assumptions {
            way: way_of_row,
            strands: 1,
            fabric_tenth_mm: 0,
            ..Assumptions::default()
        };
        let need = need(&crosses(count), &assumed, 100).unwrap();
        let squares = need.stitched_m * 1_000.0 / square_mm(&assumed);
        // The row lacks the path to a next one, which is two squares at most.
        assert!((squares - way(&holes)).abs() < 2.0, "{way_of_row:?}");
    }
}

/// Common practice, no source: a skein has 8 m of six strands and makes eight lengths of a metre.
/// With two strands on 14 count, stitchers expect it to cover 1,500 to 2,000 full crosses.
#[test]
fn a_skein_covers_what_stitchers_expect() {
    let in_skein = PutUp::default().strands_in_skein(100);
    assert_eq!(in_skein, 48);
    for way in [Way::ThereAndBack, Way::OneByOne] {
        let assumed = Assumptions {
            way,
            ..Assumptions::default()
        };
        let fits = |full: u32| need(&crosses(full), &assumed, 100).unwrap().strands.0 <= in_skein;
        let most = (1..4_000).take_while(|&full| fits(full)).last().unwrap();
        assert!((1_500..=2_000).contains(&most), "{way:?}: {most}");
    }
}

#[test]
fn a_stitch_over_two_threads_of_28_count_equals_one_of_14_count() {
    let linen = Assumptions {
        count: 28,
        over: 2,
        ..Assumptions::default()
    };
    let of = |assumed| need(&crosses(777), assumed, 100);
    assert_eq!(of(&linen), of(&Assumptions::default()));
}

#[test]
fn a_strand_that_is_all_waste_cannot_be_used() {
    let assumed = Assumptions::default();
    for cut_cm in [0, 10] {
        assert_eq!(need(&crosses(1), &assumed, cut_cm), None, "{cut_cm}");
    }
    assert!(need(&crosses(1), &assumed, 11).is_some());
    let coarse = Assumptions {
        count: 4,
        over: 2,
        strands: 12,
        ..assumed
    };
    let most = need(&crosses(u32::MAX), &coarse, 100).unwrap();
    assert_eq!(most.strands, Strands(u32::MAX));
}

fn some_stitches() -> impl Strategy<Value = Stitches> {
    (prop::array::uniform6(0..5_000_u32), 0..=6_u8, 0..=3_u8).prop_map(
        |([full, half, quarter, three_quarter, backstitch, french_knots], strands, back)| {
            Stitches {
                full,
                half,
                quarter,
                three_quarter,
                backstitch,
                french_knots,
                strands,
                backstitch_strands: back,
            }
        },
    )
}

prop_compose! {
    fn some_assumptions()(
        count in 4..=60_u16, over in 1..=2_u8, strands in 1..=6_u8, back in 1..=6_u8,
        one_by_one: bool, working_cm in 20..=200_u16, part in 0..100_u32,
        margin_percent in 0..=200_u16, fabric_tenth_mm in 0..=50_u16, knot_mm in 0..=200_u16,
    ) -> Assumptions {
        let most = u32::from(working_cm) * 5 - 1;
        Assumptions {
            count, over, strands, backstitch_strands: back,
            way: if one_by_one { Way::OneByOne } else { Way::ThereAndBack },
            working_cm,
            waste_mm: u16::try_from(most * part / 99).unwrap(),
            margin_percent, fabric_tenth_mm, knot_mm,
        }
    }
}

fn at_most(less: Option<Need>, more: Option<Need>) -> bool {
    let (less, more) = (less.unwrap(), more.unwrap());
    let near = |a: f64, b: f64| a <= b * (1.0 + 1e-12);
    near(less.stitched_m, more.stitched_m)
        && near(less.metres, more.metres)
        && less.strands <= more.strands
}

proptest! {
    #[test]
    fn more_of_anything_needs_no_less(
        stitches in some_stitches(), assumed in some_assumptions(), by in 1..200_u16
    ) {
        prop_assert_eq!(assumed.check(), Ok(()));
        let was = need(&stitches, &assumed, 100);
        let n = u32::from(by);
        let more: [fn(&mut Stitches, u32); 6] = [
            |s, n| s.full += n,
            |s, n| s.half += n,
            |s, n| s.quarter += n,
            |s, n| s.three_quarter += n,
            |s, n| s.backstitch += n,
            |s, n| s.french_knots += n,
        ];
        for add in more {
            let mut stitches = stitches;
            add(&mut stitches, n);
            prop_assert!(at_most(was, need(&stitches, &assumed, 100)));
        }
        let worse: [fn(&mut Assumptions, u16); 7] = [
            |a, n| a.count = a.count.saturating_sub(n).max(4),
            |a, _| a.over = 2,
            |a, _| { a.strands += 1; a.backstitch_strands += 1 },
            |a, n| a.waste_mm = a.waste_mm.saturating_add(n).min(a.working_cm * 5 - 1),
            |a, n| a.margin_percent += n,
            |a, n| a.fabric_tenth_mm += n,
            |a, n| a.knot_mm += n,
        ];
        for change in worse {
            let mut assumed = assumed;
            change(&mut assumed, by);
            prop_assert!(at_most(was, need(&stitches, &assumed, 100)), "{:?}", assumed);
        }
        let longer = Assumptions { working_cm: assumed.working_cm + by, ..assumed };
        // In metres: with fewer working threads, rounding up may cost another strand.
        let longer = need(&stitches, &longer, 100).unwrap().metres;
        // The usable part of a working thread is counted in whole thousandths of a millimetre.
        prop_assert!(longer <= was.unwrap().metres * (1.0 + 1e-5));
        let mut thicker = stitches;
        thicker.strands = if stitches.strands == 0 { assumed.strands } else { stitches.strands } + 1;
        prop_assert!(at_most(was, need(&thicker, &assumed, 100)));
    }

    #[test]
    fn parts_together_need_what_the_whole_needs(
        one in some_stitches(), other in some_stitches(), assumed in some_assumptions(),
        cut_cm in 60..=200_u16
    ) {
        let other = Stitches {
            strands: one.strands, backstitch_strands: one.backstitch_strands, ..other
        };
        let both = Stitches {
            full: one.full + other.full,
            half: one.half + other.half,
            quarter: one.quarter + other.quarter,
            three_quarter: one.three_quarter + other.three_quarter,
            backstitch: one.backstitch + other.backstitch,
            french_knots: one.french_knots + other.french_knots,
            ..one
        };
        let of = |stitches| need(stitches, &assumed, cut_cm);
        prop_assume!(of(&both).is_some());
        let (one, other, both) = (of(&one).unwrap(), of(&other).unwrap(), of(&both).unwrap());
        prop_assert!((one.metres + other.metres - both.metres).abs() < 1e-6 * (1.0 + both.metres));
        let stitched = one.stitched_m + other.stitched_m;
        prop_assert!((stitched - both.stitched_m).abs() < 1e-6 * (1.0 + both.stitched_m));
        prop_assert!(both.strands.0 <= one.strands.0 + other.strands.0);
        // At least as much is taken off the card as is used, up to the rounding of a thread.
        let taken = f64::from(both.strands.0) * f64::from(cut_cm) / 100.0;
        prop_assert!(taken + 1e-2 >= both.metres, "{} {}", taken, both.metres);
    }

    #[test]
    fn no_stitches_need_no_thread(assumed in some_assumptions(), cut_cm in any::<u16>()) {
        let none = Stitches::default();
        prop_assert!(none.is_none());
        if let Some(need) = need(&none, &assumed, cut_cm) {
            prop_assert_eq!(need, Need::default());
        }
    }
}

#[test]
fn full_crosses_in_a_skein_match_a_calculation_by_hand() {
    let covers = |assumed: &Assumptions| crosses_in_skein(assumed, PutUp::default(), 100);
    let usual = Assumptions::default();
    // By hand: 48 strands with 800 mm stitched of each, two in the needle, and a cross of (2√2 + 2)
    // · 25.4 mm / 14 + 4 · 0.5 mm = 10.76 mm.
    assert_eq!(covers(&usual), 1_784);
    // Common practice, no source.
    assert!((1_700..=2_000).contains(&covers(&usual)));
    let linen = Assumptions {
        count: 28,
        over: 2,
        ..usual
    };
    assert_eq!(covers(&linen), covers(&usual));
    let one = Assumptions {
        strands: 1,
        ..usual
    };
    assert_eq!(covers(&one) / 2, covers(&usual));
    let short = Assumptions {
        waste_mm: 500,
        ..usual
    };
    assert_eq!(covers(&short), 0);
}
