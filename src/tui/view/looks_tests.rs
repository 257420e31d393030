//! Colours, families, heat view, map and title, at every zoom, size and depth.

use std::collections::BTreeSet;

use ratatui::buffer::{Buffer, Cell};
use ratatui::layout::Rect;
use ratatui::style::{Color, Modifier};

use crate::stash::state::State;
use crate::stash::whereabouts::Counts;
use crate::testing::is_long;
use crate::tui::app::cards_at;
use crate::tui::heat::{Degree, Heat};
use crate::tui::layout;
use crate::tui::message::Message;
use crate::tui::testing::{TestApp, crowded, every_mode};
use crate::tui::theme::{Depth, Ground, Theme};

const DEPTHS: [Depth; 4] = [Depth::True, Depth::Indexed, Depth::Sixteen, Depth::None];
const SIZES: [(u16, u16); 3] = [(80, 24), (120, 40), (220, 60)];
/// Keys that lead to each zoom from any initial one.
const ZOOMS: [&str; 3] = ["--", "--+", "++"];

fn resize(desk: &mut TestApp, (width, height): (u16, u16)) {
    desk.take(Message::Resize { width, height });
}

/// The sample at every depth, on both backgrounds, at every size, zoom and heat view.
fn every_board(mut look: impl FnMut(&TestApp, (u16, u16), &Buffer)) {
    for depth in DEPTHS {
        let sample = TestApp::sample(depth);
        for ground in [Ground::Dark, Ground::Light] {
            for size in SIZES {
                let mut desk = sample.clone();
                desk.app.theme = Theme {
                    ground,
                    ..Theme::new(depth)
                };
                resize(&mut desk, size);
                for keys in ZOOMS {
                    let mut desk = desk.after(keys);
                    for _ in Heat::ALL {
                        look(&desk, size, &desk.buffer(size));
                        desk.keys("H");
                    }
                }
            }
        }
    }
}

fn is_of(depth: Depth, colour: Color) -> bool {
    match (depth, colour) {
        (_, Color::Reset) => true,
        (Depth::None, _) => false,
        (Depth::True, colour) => matches!(colour, Color::Rgb(..)),
        (Depth::Indexed, colour) => matches!(colour, Color::Indexed(16..)),
        (Depth::Sixteen, colour) => !matches!(colour, Color::Rgb(..) | Color::Indexed(_)),
    }
}

fn within(buffer: &Buffer, area: Rect) -> impl Iterator<Item = &Cell> {
    area.positions().map(|at| &buffer[at])
}

fn text(buffer: &Buffer, area: Rect) -> String {
    within(buffer, area).map(Cell::symbol).collect()
}

#[test]
fn each_depth_uses_only_its_own_colours() {
    for (at, (keys, mut desk)) in every_mode(Depth::True).into_iter().enumerate() {
        // One depth per screen; all of them in a long run.
        let all = DEPTHS.into_iter().enumerate();
        let tried = all.filter(|(depth, _)| is_long() || (at + depth).is_multiple_of(DEPTHS.len()));
        for (_, depth) in tried {
            desk.app.theme = Theme::new(depth);
            for cell in desk.buffer((120, 40)).content() {
                for colour in [cell.fg, cell.bg] {
                    assert!(is_of(depth, colour), "{colour} after {keys:?}");
                }
            }
        }
    }
    every_board(|desk, _, buffer| {
        for cell in buffer.content() {
            let theme = desk.app.theme;
            assert!(
                is_of(theme.depth, cell.fg) && is_of(theme.depth, cell.bg),
                "{theme:?}"
            );
        }
    });
}

#[test]
fn heat_view_shows_each_degree_as_a_digit() {
    let mut told = BTreeSet::new();
    every_board(|desk, _, buffer| {
        let (app, state) = (&desk.app, &desk.state);
        let grid = layout::current(app, state).unwrap();
        for hook in app.board(state).unwrap().hooks() {
            let Some(cell) = grid.cell(hook.row, hook.column) else {
                continue;
            };
            // At the smallest size, the cursor's brackets take the whole hook.
            let under_cursor = app.hook(state) == Some(hook);
            let Some(degree) = app.heat.hottest(state, &cards_at(state, hook), app.now) else {
                continue;
            };
            if under_cursor && cell.width < 3 {
                continue;
            }
            told.insert((app.heat == Heat::Thread, degree.digit()));
            let line = text(buffer, Rect { height: 1, ..cell });
            assert!(line.contains(degree.digit()), "{degree:?} in {line:?}");
        }
    });
    assert!(told.iter().any(|(thread, _)| *thread) && told.iter().any(|(thread, _)| !thread));
}

#[test]
fn heat_scale_is_in_a_pane_in_its_own_colours() {
    every_board(|desk, size, buffer| {
        let area = Rect::new(0, 0, size.0, size.1);
        let lines: Vec<String> = area.rows().map(|row| text(buffer, row)).collect();
        let Some(words) = desk.app.heat.scale() else {
            assert!(!lines.iter().any(|line| line.contains("Heat")));
            return;
        };
        let at = lines.iter().position(|line| line.contains(words[0]));
        let at = at.unwrap_or_else(|| panic!("no scale in {lines:#?}"));
        let digits: String = Degree::all().map(|d| format!("{} ", d.digit())).collect();
        let column = lines[at + 1].find(digits.trim_end());
        let column = column.unwrap_or_else(|| panic!("{:?}", lines[at + 1]));
        if desk.app.theme.depth == Depth::True {
            let column = lines[at + 1][..column].chars().count();
            let scale = Rect::new(column.try_into().unwrap(), at as u16 + 1, 20, 1);
            let grounds: BTreeSet<String> = within(buffer, scale)
                .map(|c| format!("{:?}", c.bg))
                .collect();
            assert_eq!(grounds.len(), 10);
        }
    });
}

#[test]
fn families_are_named_in_the_margin_or_by_the_card_or_on_the_status_line() {
    let mut desk = TestApp::sample(Depth::None);
    for keys in ZOOMS {
        for size in SIZES {
            resize(&mut desk, size);
            let desk = desk.after(keys);
            let drawn = desk.drawn(size);
            let margin = layout::current(&desk.app, &desk.state).unwrap().margin();
            if margin.is_some() {
                let drawn = drawn.join("\n");
                for family in ["shore", "sea"] {
                    assert!(drawn.contains(family), "{family} after {keys:?}:\n{drawn}");
                }
            } else {
                // A narrow status line has room for the keys only.
                let (status, rest) = drawn.split_last().unwrap();
                let by_card = rest
                    .iter()
                    .any(|line| line.contains("family") && line.contains("shore"));
                assert!(status.contains("shore ·") || by_card, "{drawn:#?}");
            }
        }
    }
}

/// A wall of 32 rows with 20 hooks.
fn tall() -> TestApp {
    let mut desk = TestApp::empty(Depth::None);
    desk.state = crowded(600);
    desk
}

/// The cells of the map.
fn map_cells(desk: &TestApp, size: (u16, u16)) -> Vec<Cell> {
    let buffer = desk.buffer(size);
    let body = layout::parts(size.0, size.1).body;
    let panes = layout::board(&desk.app, &desk.state, body).unwrap().panes;
    let map = panes.into_iter().find(|pane| {
        let top = Rect { height: 1, ..*pane };
        text(&buffer, top).contains(" Map ")
    });
    within(&buffer, map.expect("a map"))
        .filter(|cell| ["·", "?", "o"].contains(&cell.symbol()))
        .cloned()
        .collect()
}

#[test]
fn map_shows_the_visible_part_of_a_large_board() {
    let seen = |cell: &Cell| cell.modifier.contains(Modifier::REVERSED);
    for size in SIZES {
        let mut desk = tall();
        resize(&mut desk, size);
        desk.keys("jjjm++");
        assert!(
            layout::current(&desk.app, &desk.state).unwrap().rows < 32,
            "{size:?}"
        );
        // The missing card is in view, but not from the other end of the board.
        for (keys, in_view) in [(String::new(), true), ("j".repeat(40), false)] {
            let map = map_cells(&desk.after(&keys), size);
            let count = map.iter().filter(|cell| seen(cell)).count();
            assert!(
                0 < count && count < map.len(),
                "{count} of {} at {size:?}",
                map.len()
            );
            let lost: Vec<_> = map.iter().filter(|cell| cell.symbol() == "?").collect();
            assert!(
                matches!(lost[..], [cell] if seen(cell) == in_view),
                "{size:?} {keys}"
            );
        }
    }
}

#[test]
fn board_in_full_view_has_no_map() {
    let mut desk = tall();
    resize(&mut desk, (220, 60));
    let desk = desk.after("--");
    assert!(!desk.drawn((220, 60)).join("\n").contains(" Map "));
}

fn title(desk: &TestApp, width: u16) -> String {
    text(&desk.buffer((width, 24)), Rect::new(0, 0, width, 1))
}

fn counted(state: &State) -> [String; 4] {
    let counts = Counts::of(state);
    [
        format!(" {} ", counts.home),
        format!(" o {} ", counts.on_rings),
        format!(" ? {} ", counts.missing),
        format!(" + {} ", counts.to_hang + counts.in_hand),
    ]
}

#[test]
fn title_shows_all_counts_at_any_usual_width() {
    for mut desk in [TestApp::sample(Depth::None), tall().after("jjm")] {
        desk.keys(" l ");
        let words = counted(&desk.state);
        for width in 40..=140 {
            let title = format!("{} ", title(&desk, width));
            for word in &words {
                assert!(title.contains(word), "{word:?} in {title:?}");
            }
        }
    }
}

#[test]
fn title_drops_labels_before_numbers_and_the_name_last() {
    let desk = TestApp::sample(Depth::None).after(" ");
    let there = |width| {
        let title = title(&desk, width);
        ["wall", "* 1", "selected", "free"].map(|word| title.contains(word))
    };
    assert_eq!(there(120), [true; 4]);
    let narrow = there(44);
    assert!(narrow[0] && narrow[1] && !narrow[2], "{narrow:?}");
}
