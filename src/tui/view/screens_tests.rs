//! Every screen at three sizes: compared with the text in `tests/data/screens`, and checked against
//! rules for all screens.

use std::collections::BTreeSet;
use std::path::PathBuf;

use expect_test::expect_file;
use unicode_segmentation::UnicodeSegmentation;
use unicode_width::UnicodeWidthStr;

use super::day_and_time;
use crate::stash::whereabouts::Counts;
use crate::tui::heat::Heat;
use crate::tui::keymap::{Bound, Scope};
use crate::tui::layout;
use crate::tui::testing::ways::{Screen, every_screen};
use crate::tui::testing::{TestApp, now};
use crate::tui::theme::Depth;

const SIZES: [(u16, u16); 3] = [(80, 24), (120, 40), (220, 60)];

/// A screen as text; a character two columns wide appears once.
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

/// The stored text of a screen. The history shows local times, replaced here by UTC.
fn kept_text(rows: Vec<String>) -> String {
    let here = day_and_time(now(), now());
    let lines = rows.into_iter().map(|row| {
        let row = row.replace(&here, "2 Feb 02:40");
        row.trim_end().to_owned() + "\n"
    });
    lines.collect()
}

/// After an intended change, update the files with `UPDATE_EXPECT=1 cargo test --lib screens`,
/// review `git diff`, and commit them.
#[test]
fn every_screen_is_sound_and_matches_its_snapshot() {
    let mut files = BTreeSet::new();
    for (width, height) in SIZES {
        for Screen { name, desk } in every_screen((width, height), Depth::None) {
            let file = format!("{name}-{width}x{height}.txt");
            let rows = rows(&desk);
            assert_sound(&desk, &rows, name, (width, height));
            expect_file![folder().join(&file)].assert_eq(&kept_text(rows));
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
fn every_kind_of_screen_has_a_snapshot() {
    let screens = every_screen(SIZES[0], Depth::None);
    let apps = || screens.iter().map(|screen| &screen.desk.app);
    let names: BTreeSet<&str> = (screens.iter())
        .flat_map(|screen| &screen.desk.app.stack)
        .map(|screen| screen.name())
        .collect();
    for kind in kinds_in_the_code() {
        let ends = [format!("::{kind}"), format!("::{kind}>")];
        let is_one = |name: &&str| ends.iter().any(|end| name.ends_with(end));
        assert!(names.iter().any(is_one), "{kind} is never shown");
    }
    for scope in Scope::ALL {
        let there = apps().any(|app| app.scope() == scope);
        assert!(there || scope == Scope::Anywhere, "{scope:?}");
    }
    for heat in Heat::ALL {
        assert!(apps().any(|app| app.heat == heat), "{heat:?}");
    }
    let zooms: BTreeSet<_> = (screens.iter())
        .filter(|screen| screen.desk.app.scope() == Scope::Board)
        .filter_map(|screen| layout::current(&screen.desk.app, &screen.desk.state))
        .map(|grid| format!("{:?}", grid.zoom))
        .collect();
    assert_eq!(zooms.len(), 3, "{zooms:?}");
}

/// Every screen and form in the code.
fn kinds_in_the_code() -> Vec<String> {
    let mut folders = vec![PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("src/tui")];
    let mut kinds = Vec::new();
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
                continue;
            }
            let text = std::fs::read_to_string(path).unwrap();
            for head in ["\nimpl Screen for ", "\nimpl Fields for "] {
                let found = text.split(head).skip(1);
                let name = |rest: &str| rest.split([' ', '<']).next().unwrap().to_owned();
                kinds.extend(found.map(name));
            }
        }
    }
    assert!(kinds.len() > 20, "{kinds:?}");
    kinds
}

/// The cells of a screen; the second column of a wide character is empty.
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

/// Checks the frames on a screen: closed all round, with a blank column inside at each side, so
/// nothing behind shows through. Returns how many frames are complete, and how many begin.
fn frames(rows: &[String]) -> (usize, usize) {
    let cells = cells(rows);
    let (mut closed, mut begun) = (0, 0);
    for top in 0..cells.len() {
        for left in 0..cells[top].len() {
            if cells[top][left] != "╭" {
                continue;
            }
            begun += 1;
            let right = cells[top][left..].iter().position(|&c| c == "╮");
            let below = (top + 1..cells.len()).find(|&y| cells[y][left] != "│");
            let (Some(right), Some(bottom)) = (right.map(|n| left + n), below) else {
                continue;
            };
            let ends = (cells[bottom][left], cells[bottom][right]) == ("╰", "╯");
            let floor = cells[bottom][left + 1..right].iter().all(|&c| c == "─");
            let sides = cells[top + 1..bottom]
                .iter()
                .all(|row| row[right] == "│" && (row[left + 1], row[right - 1]) == (" ", " "));
            closed += usize::from(ends && floor && sides);
        }
    }
    (closed, begun)
}

/// The key hints that may appear in the status line, as displayed.
fn hints(desk: &TestApp) -> Vec<String> {
    let scope = desk.app.scope();
    let hint = |bound: &Bound| {
        let text = bound.binding.hint();
        let key = bound.keys.first()?;
        (!text.is_empty()).then(|| format!("{key} {text}"))
    };
    desk.app.keys.in_scope(scope).filter_map(hint).collect()
}

fn assert_status(desk: &TestApp, rows: &[String], what: &str) {
    let mut hints = hints(desk);
    if let Some(rehang) = desk.state.underway() {
        hints.push(format!("g re-hang {} of {}", rehang.done, rehang.steps));
    }
    let status = rows.last().expect(what);
    let chip = format!(" {} ", desk.app.scope().chip());
    assert!(status.starts_with(&format!(" {chip}")), "{what}");
    assert!(status.contains(&hints[0]), "{what}");
    // Nothing but complete hints, three spaces apart, and the cursor position.
    let parts = status[chip.len() + 1..].trim().split("   ");
    let parts: Vec<&str> = parts
        .map(str::trim)
        .filter(|part| !part.is_empty())
        .collect();
    for (at, part) in parts.iter().enumerate() {
        let is_place = at + 1 == parts.len() && part.contains('·');
        assert!(
            is_place || *part == "read-only" || hints.iter().any(|hint| hint == part),
            "{part:?} {what}"
        );
    }
    let said = desk.app.notice.as_ref().map_or("", |notice| &notice.text);
    let text = rows.join(" ").replace('│', " ");
    let words: BTreeSet<&str> = text.split_whitespace().collect();
    for word in said.split_whitespace() {
        assert!(words.contains(word), "{word:?} {what}");
    }
}

/// A form shows all its lines and its whole error; a frame that is too low would cut them.
fn assert_form(desk: &TestApp, rows: &[String], what: &str) {
    let text = rows.join(" ").replace('│', " ");
    let mut app = desk.app.clone();
    let Some(form) = app.stack.last_mut() else {
        return;
    };
    for input in form.inputs() {
        assert!(text.contains(&format!("  {} ", input.label())), "{what}");
    }
    let words: Vec<&str> = text.split_whitespace().collect();
    for word in desk.wrong().split_whitespace() {
        assert!(words.contains(&word), "{word:?} {what}");
    }
}

/// Rules for every screen.
fn assert_sound(desk: &TestApp, rows: &[String], name: &str, (width, height): (u16, u16)) {
    let what = format!("{name} at {width}x{height}:\n{}", rows.join("\n"));
    let counts = Counts::of(&desk.state);
    let mut windows = desk.app.stack.iter();
    let titled = windows.any(|screen| screen.title(&desk.app, desk.stash(), width).is_some());
    for (sign, n) in [
        ("o", counts.on_rings),
        ("?", counts.missing),
        ("+", counts.to_hang + counts.in_hand),
    ] {
        let told = format!("{sign} {n} ");
        assert!(titled || rows[0].contains(&told), "{told:?}: {what}");
    }
    assert_status(desk, rows, &what);
    assert_form(desk, rows, &what);
    let (closed, begun) = frames(rows);
    // A window covers the frames behind it.
    let covered = !desk.app.stack.is_empty() || desk.app.notice.is_some();
    assert!(closed == begun || (covered && closed >= 1), "{what}");
    if !desk.app.stack.is_empty() || titled {
        return;
    }
    // The hook under the cursor is in view.
    if let Some(grid) = layout::current(&desk.app, &desk.state) {
        let cell = grid.cell(desk.app.eye.row, desk.app.eye.column);
        let cell = cell.expect(&what);
        assert!(cell.width > 1 && cell.height > 0, "{what}");
    }
}
