//! Every screen as it looks, at three sizes: kept as text in `tests/data/screens`, and held to what is
//! true of every screen.

mod ways;

use std::collections::BTreeSet;
use std::path::PathBuf;

use expect_test::expect_file;
use unicode_segmentation::UnicodeSegmentation;
use unicode_width::UnicodeWidthStr;

use super::text::fit;
use super::{body, day_and_time};
use crate::stash::whereabouts::Counts;
use crate::tui::app::{Form, Mode};
use crate::tui::heat::Heat;
use crate::tui::keymap::{Bound, Scope};
use crate::tui::layout;
use crate::tui::testing::{TestApp, now};
use ways::{MODES, PAGES, PURPOSES, Screen, every_screen};

const SIZES: [(u16, u16); 3] = [(80, 24), (120, 40), (220, 60)];

/// A screen as text: what fills two columns stands there once.
fn rows(desk: &TestApp) -> Vec<String> {
    let (width, height) = desk.app.size;
    let buffer = desk.buffer((width, height));
    (0..height)
        .map(|y| {
            let (mut row, mut x) = (String::new(), 0);
            while x < width {
                let symbol = buffer[(x, y)].symbol();
                row.push_str(symbol);
                x += u16::try_from(symbol.width()).unwrap().max(1);
            }
            assert_eq!(x, width, "a letter is cut by the edge: {row:?}");
            row
        })
        .collect()
}

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/data/screens")
}

/// What is kept of a screen. The log tells times where the reader is; here they are those of UTC.
fn kept_text(desk: &TestApp) -> String {
    let here = day_and_time(now(), now());
    let lines = rows(desk).into_iter().map(|row| {
        let row = row.replace(&here, "2 Feb 02:40");
        row.trim_end().to_owned() + "\n"
    });
    lines.collect()
}

/// After a wanted change write them anew with `UPDATE_EXPECT=1 cargo test --lib screens`, look at what
/// `git diff` shows, and commit them.
#[test]
fn every_screen_looks_as_it_did() {
    let mut files = BTreeSet::new();
    for (width, height) in SIZES {
        for Screen { name, desk } in every_screen((width, height)) {
            let file = format!("{name}-{width}x{height}.txt");
            expect_file![folder().join(&file)].assert_eq(&kept_text(&desk));
            assert!(files.insert(file), "two screens of one name: {name}");
        }
    }
    for entry in std::fs::read_dir(folder()).unwrap() {
        let file = entry.unwrap().file_name().into_string().unwrap();
        assert!(
            files.contains(&file),
            "no screen is called {file} any more: delete it"
        );
    }
}

#[test]
fn there_is_a_screen_of_every_kind() {
    let screens = every_screen(SIZES[0]);
    let apps = || screens.iter().map(|screen| &screen.desk.app);
    let modes: BTreeSet<_> = apps().map(|app| ways::mode(&app.mode)).collect();
    assert_eq!(modes, MODES.iter().copied().collect());
    let pages = apps().filter_map(|app| app.mode.page());
    let pages: BTreeSet<_> = pages.map(|page| ways::page(&page)).collect();
    assert_eq!(pages, PAGES.iter().copied().collect());
    let purposes = apps().filter_map(|app| match &app.mode {
        Mode::Form(form) => Some(ways::purpose(&form.purpose)),
        _ => None,
    });
    let purposes: BTreeSet<_> = purposes.collect();
    assert_eq!(purposes, PURPOSES.iter().copied().collect());
    for scope in Scope::ALL {
        let there = apps().any(|app| app.mode.scope() == scope);
        assert!(there || scope == Scope::Anywhere, "{scope:?}");
    }
    for heat in Heat::ALL {
        assert!(apps().any(|app| app.heat == heat), "{heat:?}");
    }
    let zooms: BTreeSet<_> = (screens.iter())
        .filter(|screen| matches!(screen.desk.app.mode, Mode::Board))
        .filter_map(|screen| layout::current(&screen.desk.app, &screen.desk.state))
        .map(|grid| format!("{:?}", grid.zoom))
        .collect();
    assert_eq!(zooms.len(), 3, "{zooms:?}");
}

/// The cells of a screen; the second column of what fills two is empty.
fn cells(rows: &[String]) -> Vec<Vec<&str>> {
    (rows.iter())
        .map(|text| {
            let mut cells = Vec::new();
            for letter in text.graphemes(true) {
                cells.push(letter);
                cells.extend(std::iter::repeat_n("", letter.width().saturating_sub(1)));
            }
            cells
        })
        .collect()
}

/// Checks the frames on a screen: each is closed all round, above the lines at the foot, and its first
/// and last columns inside are blank, so that nothing of what is behind shows. Says how many there are.
fn assert_frames(desk: &TestApp, rows: &[String], what: &str) -> usize {
    let (width, height) = desk.app.size;
    let room = body(width, height);
    let cells = cells(rows);
    let corners = |sign: &str| -> Vec<(usize, usize)> {
        let places = cells.iter().enumerate().flat_map(|(y, row)| {
            let here = row.iter().enumerate().filter(|&(_, &cell)| cell == sign);
            here.map(move |(x, _)| (x, y)).collect::<Vec<_>>()
        });
        places.collect()
    };
    let tops = corners("┌");
    for sign in ["┐", "└", "┘"] {
        assert_eq!(corners(sign).len(), tops.len(), "{sign} {what}");
    }
    for &(left, top) in &tops {
        let right = left
            + cells[top][left..]
                .iter()
                .position(|&c| c == "┐")
                .expect(what);
        let below = (top + 1..cells.len()).find(|&y| cells[y][left] != "│");
        let bottom = below.expect(what);
        assert_eq!(
            (cells[bottom][left], cells[bottom][right]),
            ("└", "┘"),
            "{what}"
        );
        assert!(
            cells[bottom][left + 1..right].iter().all(|&c| c == "─"),
            "{what}"
        );
        assert!(
            top >= room.y.into() && bottom < room.bottom().into(),
            "{what}"
        );
        for row in &cells[top + 1..bottom] {
            assert_eq!(row[right], "│", "{what}");
            assert_eq!((row[left + 1], row[right - 1]), (" ", " "), "{what}");
        }
    }
    tops.len()
}

/// The keys that may stand at the foot of a screen, as they stand there.
fn hints(desk: &TestApp) -> Vec<String> {
    let scope = desk.app.mode.scope();
    let hint = |bound: &Bound| {
        let text = bound.binding.hint();
        let key = bound.keys.first()?;
        (!text.is_empty()).then(|| format!("{key} {text}"))
    };
    desk.app.keys.in_scope(scope).filter_map(hint).collect()
}

fn assert_footer(desk: &TestApp, rows: &[String], what: &str) {
    let hints = hints(desk);
    let parts = layout::parts(desk.app.size.0, desk.app.size.1);
    let footer = &rows[parts.footer.y.into()..];
    assert_eq!(footer.len(), 2, "{what}");
    assert!(footer[0].contains(&hints[0]), "{what}");
    // Nothing but whole hints, three spaces apart.
    for line in footer {
        for part in line.trim().split("   ").filter(|part| !part.is_empty()) {
            assert!(hints.iter().any(|hint| hint == part), "{part:?} {what}");
        }
    }
    let said = match (&desk.app.notice, &desk.read_only) {
        (Some(notice), _) => notice.text.as_str(),
        (None, Some(why)) => why,
        (None, None) => "",
    };
    let room = usize::from(desk.app.size.0) - 1;
    let line = rows[usize::from(parts.notice.y)].trim();
    assert_eq!(line, fit(said, room).trim(), "{what}");
}

/// A form shows all its lines, and all of what is wrong with it: a frame that is too low would cut it.
fn assert_form(form: &Form, rows: &[String], what: &str) {
    let text = rows.join(" ").replace('│', " ");
    for blank in &form.blanks {
        assert!(text.contains(&format!("  {} ", blank.label)), "{what}");
    }
    let words: Vec<&str> = text.split_whitespace().collect();
    let wrong: Vec<&str> = (form.wrong.iter())
        .flat_map(|wrong| wrong.split_whitespace())
        .collect();
    for word in wrong {
        assert!(words.contains(&word), "{word:?} {what}");
    }
}

#[test]
fn what_is_true_of_every_screen() {
    for (width, height) in SIZES {
        for Screen { name, desk } in every_screen((width, height)) {
            let rows = rows(&desk);
            let what = format!("{name} at {width}x{height}:\n{}", rows.join("\n"));
            assert!(name.starts_with(ways::mode(&desk.app.mode)), "{what}");
            let counts = Counts::of(&desk.state);
            for (n, word) in [
                (counts.home, "home"),
                (counts.on_rings, "out"),
                (counts.missing, "missing"),
                (counts.to_hang + counts.in_hand, "to hang"),
            ] {
                assert!(rows[0].contains(&format!(" {n} {word} ")), "{word}: {what}");
            }
            assert_footer(&desk, &rows, &what);
            let mode = &desk.app.mode;
            if let Mode::Form(form) = mode {
                assert_form(form, &rows, &what);
            }
            let framed = matches!(
                mode,
                Mode::Form(_)
                    | Mode::Intake(_)
                    | Mode::Help(_)
                    | Mode::Actions(_)
                    | Mode::Confirm { .. }
            );
            assert_eq!(
                assert_frames(&desk, &rows, &what),
                usize::from(framed),
                "{what}"
            );
            if mode.page().is_some() || framed {
                continue;
            }
            // The line between the board and its panel, and the hook under the cursor.
            let parts = layout::parts(width, height);
            for row in &cells(&rows)[parts.panel.y.into()..parts.panel.bottom().into()] {
                assert_eq!(row[usize::from(parts.panel.x)], "│", "{what}");
            }
            if let Some(grid) = layout::current(&desk.app, &desk.state) {
                let cell = grid.cell(desk.app.eye.row, desk.app.eye.column);
                let cell = cell.expect(&what);
                assert_eq!(cell.intersection(parts.grid), cell, "{what}");
            }
        }
    }
}
