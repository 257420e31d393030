//! Guarantees of every theme.

use std::collections::HashSet;

use ratatui::style::{Color, Modifier, Style};

use super::vision::Vision;
use super::{DARK, Depth, Ground, LIGHT, Palette, Signs, Theme, xterm};
use crate::engine::colour::{contrast, difference, lab};
use crate::model::colour::Srgb;

const GROUNDS: [Ground; 2] = [Ground::Dark, Ground::Light];

/// The least CIEDE2000 difference between two states. About 1 is just visible side by side (common
/// practice, no source). States stand apart on the screen, so this requires far more.
const APART: f64 = 15.0;
/// Text on its background (WCAG 2.2, 1.4.3); it also meets the 3 for non-text (1.4.11).
const READABLE: f64 = 4.5;
/// The least difference between consecutive steps of the heat view.
const STEP: f64 = 5.0;

fn variables(vars: &[(&str, &str)]) -> impl Fn(&str) -> Option<String> {
    let vars: Vec<(String, String)> = vars
        .iter()
        .map(|(k, v)| ((*k).to_owned(), (*v).to_owned()))
        .collect();
    move |name| vars.iter().find(|(k, _)| k == name).map(|(_, v)| v.clone())
}

fn themes(depths: &[Depth]) -> Vec<Theme> {
    let of = |&depth| {
        GROUNDS.map(|ground| Theme {
            ground,
            ..Theme::new(depth)
        })
    };
    depths.iter().flat_map(of).collect()
}

/// The states, each with its style.
fn states(theme: &Theme) -> [(&'static str, Style); 6] {
    [
        ("home", Style::new()),
        ("faint", theme.faint()),
        ("away", theme.away()),
        ("wrong", theme.wrong()),
        ("target", theme.target()),
        ("chosen", theme.chosen()),
    ]
}

fn shown(colour: Option<Color>, own: Srgb) -> Srgb {
    match colour {
        None => own,
        Some(Color::Rgb(r, g, b)) => Srgb::new(r, g, b),
        Some(Color::Indexed(index)) => xterm::colour(index),
        Some(other) => panic!("{other} has no certain look"),
    }
}

/// The text and background of a style, on a terminal with these default colours.
fn painted(style: Style, text: Srgb, ground: Srgb) -> (Srgb, Srgb) {
    assert!(
        !style.add_modifier.contains(Modifier::DIM),
        "how dim is up to the terminal"
    );
    let (text, ground) = (shown(style.fg, text), shown(style.bg, ground));
    match style.add_modifier.contains(Modifier::REVERSED) {
        true => (ground, text),
        false => (text, ground),
    }
}

#[test]
fn environment_sets_the_depth() {
    for (vars, depth) in [
        (
            &[("COLORTERM", "truecolor"), ("TERM", "xterm")][..],
            Depth::True,
        ),
        (&[("COLORTERM", "24bit"), ("TERM", "dumb")], Depth::True),
        (&[("TERM", "xterm-direct")], Depth::True),
        (&[("TERM", "xterm-256color")], Depth::Indexed),
        (
            &[("COLORTERM", "yes"), ("TERM", "xterm-256color")],
            Depth::Indexed,
        ),
        (&[("TERM", "linux")], Depth::Sixteen),
        (&[("TERM", "dumb")], Depth::None),
        (&[], Depth::None),
        (
            &[("TERM", "xterm-256color"), ("NO_COLOR", "1")],
            Depth::None,
        ),
        (
            &[("TERM", "xterm-256color"), ("NO_COLOR", "")],
            Depth::Indexed,
        ),
        (
            &[("TERM", "xterm-256color"), ("CLICOLOR", "0")],
            Depth::None,
        ),
        (
            &[("TERM", "xterm-256color"), ("CLICOLOR", "1")],
            Depth::Indexed,
        ),
    ] {
        assert_eq!(Depth::detect(variables(vars)), depth, "{vars:?}");
    }
}

#[test]
fn environment_sets_the_background() {
    for (said, ground) in [
        ("15;0", Ground::Dark),
        ("0;15", Ground::Light),
        ("0;default;15", Ground::Light),
        ("0;7", Ground::Light),
        ("7;8", Ground::Dark),
        ("15;default", Ground::Dark),
        ("", Ground::Dark),
        ("0;99", Ground::Dark),
    ] {
        assert_eq!(
            Ground::detect(variables(&[("COLORFGBG", said)])),
            ground,
            "{said}"
        );
    }
    assert_eq!(Ground::detect(variables(&[])), Ground::Dark);
}

#[test]
fn theme_without_colour_sets_no_colour() {
    for theme in themes(&[Depth::None]) {
        assert_eq!(theme.swatch(Srgb::new(1, 2, 3)), None);
        let heat = (0..=9).map(|step| theme.heat(step));
        for style in states(&theme)
            .map(|(_, style)| style)
            .into_iter()
            .chain(heat)
        {
            assert_eq!((style.fg, style.bg), (None, None));
        }
    }
}

#[test]
fn attributes_alone_distinguish_the_states_with_few_colours() {
    for theme in themes(&[Depth::Sixteen, Depth::None]) {
        let looks: HashSet<Modifier> = states(&theme)
            .map(|(_, style)| style.add_modifier)
            .into_iter()
            .collect();
        assert_eq!(looks.len(), 6, "{theme:?}");
    }
}

#[test]
fn palette_is_the_same_in_true_colour_and_256() {
    let all = |p: &Palette| {
        let mut all = vec![
            p.ground, p.raised, p.line, p.text, p.muted, p.good, p.faint, p.away, p.wrong, p.target,
        ];
        all.extend(p.heat);
        all
    };
    for colour in [all(&DARK), all(&LIGHT)].concat() {
        assert_eq!(xterm::colour(xterm::nearest(colour)), colour);
    }
}

#[test]
fn states_are_legible_and_distinct_for_every_colour_vision() {
    for theme in themes(&[Depth::True, Depth::Indexed]) {
        let palette = theme.palette();
        for ground in [palette.ground, palette.raised] {
            let text = palette.text;
            let painted = states(&theme).map(|(name, style)| (name, painted(style, text, ground)));
            for vision in Vision::ALL {
                let seen = painted
                    .map(|(name, (text, ground))| (name, vision.sees(text), vision.sees(ground)));
                for (at, &(name, ink, behind)) in seen.iter().enumerate() {
                    let what = format!("{name}, {theme:?} on {ground}, {vision:?}");
                    assert!(
                        contrast(ink, behind) >= READABLE,
                        "{what}: {}",
                        contrast(ink, behind)
                    );
                    assert!(difference(ink, behind) >= APART, "{what}");
                    for &(other, other_ink, other_behind) in &seen[..at] {
                        let apart =
                            difference(ink, other_ink).max(difference(behind, other_behind));
                        assert!(apart >= APART, "{other} and {what}: {apart}");
                    }
                }
                // The patch of a target stands out from the background, not only its text.
                let patch = seen[4].2;
                assert!(
                    contrast(patch, vision.sees(ground)) >= 3.0,
                    "{theme:?} on {ground}"
                );
            }
        }
    }
}

#[test]
fn text_is_legible_on_the_board_and_on_the_status_line() {
    for theme in themes(&[Depth::True, Depth::Indexed]) {
        let p = theme.palette();
        for ground in [p.ground, p.raised] {
            for ink in [p.text, p.muted, p.faint, p.good, p.away, p.wrong, p.target] {
                let contrast = contrast(ink, ground);
                assert!(contrast >= READABLE, "{ink} on {ground}: {contrast}");
            }
        }
        // WCAG 2.2, 1.4.11 requires 3 for parts needed to understand the content; a frame only
        // divides.
        assert!(contrast(p.line, p.ground) >= 1.5);
    }
}

#[test]
fn locale_sets_the_signs() {
    for (vars, signs) in [
        (&[("LANG", "en_GB.UTF-8")][..], Signs::Unicode),
        (&[("LANG", "en_GB.utf8")], Signs::Unicode),
        (&[], Signs::Unicode),
        (&[("LANG", "")], Signs::Unicode),
        (&[("LANG", "en_GB.UTF-8"), ("LC_ALL", "C")], Signs::Ascii),
        (&[("LANG", "C"), ("LC_CTYPE", "C.UTF-8")], Signs::Unicode),
        (&[("LANG", "de_DE.ISO-8859-1")], Signs::Ascii),
        (&[("LANG", "ja_JP.UTF-8")], Signs::Ascii),
    ] {
        assert_eq!(Signs::detect(variables(vars)), signs, "{vars:?}");
    }
}

proptest::proptest! {
    #[test]
    fn thread_colours_are_legible_as_text_and_visible_as_lines([r, g, b] in proptest::prelude::any::<[u8; 3]>()) {
        for theme in themes(&[Depth::True, Depth::Indexed]) {
            let p = theme.palette();
            let ink = |style: Style| shown(style.fg, p.text);
            let colour = Srgb::new(r, g, b);
            let (text, line) = (ink(theme.legible(colour)), ink(theme.visible(colour)));
            proptest::prop_assert!(contrast(text, p.ground) >= READABLE, "{text}");
            proptest::prop_assert!(contrast(line, p.ground) >= 1.5, "{line}");
        }
    }
}

#[test]
fn heat_steps_are_monotonic_for_every_colour_vision() {
    for theme in themes(&[Depth::True, Depth::Indexed]) {
        let steps = (0..=9).map(|step| theme.heat(step));
        let steps: Vec<_> = steps
            .map(|style| painted(style, Srgb::new(0, 0, 0), Srgb::new(0, 0, 0)))
            .collect();
        for vision in Vision::ALL {
            let seen = |n: usize| vision.sees(steps[n].1);
            for n in 0..9 {
                let what = format!("{n}, {theme:?}, {vision:?}");
                assert!(difference(seen(n), seen(n + 1)) >= STEP, "{what}");
                let falls = lab(seen(n)).l > lab(seen(n + 1)).l;
                assert_eq!(falls, theme.ground == Ground::Dark, "{what}");
            }
        }
        for (ink, behind) in steps {
            assert!(contrast(ink, behind) >= READABLE);
        }
    }
}

#[test]
fn text_on_every_indexed_swatch_is_legible() {
    for theme in themes(&[Depth::Indexed]) {
        for index in 16..=255 {
            let style = theme.swatch(xterm::colour(index)).unwrap();
            let (ink, behind) = painted(style, Srgb::new(0, 0, 0), Srgb::new(0, 0, 0));
            assert!(contrast(ink, behind) >= READABLE, "{index}");
        }
    }
}
