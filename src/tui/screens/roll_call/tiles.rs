//! A row of the wall in letters large enough to read from the wall.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

use super::rows::{Sight, Tile};
use crate::stash::state::{CardState, State};
use crate::text;
use crate::tui::app::App;
use crate::tui::theme::Signs;
use crate::tui::wall::HookStatus;
use crate::tui::widgets::digits::{self, Size};
use crate::tui::widgets::pane;
use crate::tui::widgets::text::{fit, put_within};

/// The layout of a row's tiles in an area.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
struct Grid {
    /// The size of numbers; `None` for plain text.
    size: Option<Size>,
    /// Tiles side by side.
    across: usize,
    width: u16,
    height: u16,
    /// Whether names fit below the numbers.
    named: bool,
    /// Whether an empty row separates the lines of tiles.
    apart: bool,
}

/// The longest number considered for the common size, in columns.
const LONGEST: usize = 5;

impl Grid {
    /// The largest letters at which all tiles fit, or plain text.
    fn fitting(count: usize, longest: usize, area: Rect, signs: Signs) -> Self {
        let longest = u16::try_from(longest.clamp(2, LONGEST)).unwrap_or(2);
        let letters = [
            Size::Huge,
            Size::Large,
            Size::Half,
            Size::Narrow,
            Size::Small,
        ];
        let plain = signs == Signs::Ascii;
        let letters = letters
            .into_iter()
            .filter(|size| !plain || *size != Size::Narrow);
        let sizes = letters.map(Some).chain([None]);
        let mut found = None;
        for size in sizes {
            let letter = size.map_or(1, Size::letter);
            // A blank column before the number, and one between tiles.
            let least = (longest * letter + 2).max(8);
            let height = size.map_or(1, Size::height) + 1;
            let across = usize::from((area.width / least).max(1)).min(count.max(1));
            let lines = count.div_ceil(across).max(1);
            // Spread the tiles evenly over the lines.
            let across = count.div_ceil(lines).max(1);
            let width = area.width / u16::try_from(across).unwrap_or(1).max(1);
            let grid = Self {
                size,
                across,
                width: width.min(least + least / 2),
                height,
                named: false,
                apart: false,
            };
            found = Some(grid);
            let rows = u16::try_from(lines)
                .unwrap_or(u16::MAX)
                .saturating_mul(height);
            if least <= area.width && rows <= area.height {
                let spare = usize::from(area.height - rows) / lines;
                found = Some(Self {
                    named: spare >= 1 && size.is_some(),
                    apart: spare >= 2,
                    height: height + u16::try_from(spare.min(2)).unwrap_or(0),
                    ..grid
                });
                break;
            }
        }
        found.unwrap_or(Self {
            size: None,
            across: 1,
            width: area.width,
            height: 2,
            named: false,
            apart: false,
        })
    }
}

/// The card of a tile.
const fn card<'a>(tile: &Tile<'a>) -> Option<&'a CardState> {
    match tile.sight {
        Sight::Here(kept) | Sight::Absent(kept) | Sight::Other(kept) | Sight::Out(kept) => {
            Some(kept)
        }
        Sight::Free => None,
    }
}

/// Draws a row's tiles with one of them selected, and returns the rows of the area they take. If
/// not all fit, it shows those around the selected one.
pub fn draw(
    app: &App,
    state: &State,
    (tiles, pick): (&[Tile<'_>], usize),
    area: Rect,
    buffer: &mut Buffer,
) -> u16 {
    let numbers = tiles
        .iter()
        .filter(|tile| !matches!(tile.sight, Sight::Out(_)));
    let longest = numbers
        .filter_map(card)
        .map(|kept| state.number_and_tag(kept).chars().count());
    let grid = Grid::fitting(
        tiles.len(),
        longest.max().unwrap_or(3),
        area,
        app.theme.signs,
    );
    let room = usize::from((area.height / grid.height).max(1));
    let lines = tiles.len().div_ceil(grid.across);
    let line = pick / grid.across;
    let first = line
        .saturating_sub(room / 2)
        .min(lines.saturating_sub(room));
    let shown = tiles
        .iter()
        .enumerate()
        .skip(first * grid.across)
        .take(room * grid.across);
    for (at, tile) in shown {
        let (down, across) = (at / grid.across - first, at % grid.across);
        let place = Rect {
            x: area.x + grid.width * u16::try_from(across).unwrap_or(0),
            y: area.y + grid.height * u16::try_from(down).unwrap_or(0),
            width: grid.width.saturating_sub(1),
            height: grid.height - u16::from(grid.apart),
        };
        let place = place.intersection(area);
        if place.height >= 2 && place.width >= 3 {
            draw_tile(app, state, (tile, at == pick), &grid, place, buffer);
        }
    }
    grid.height
        .saturating_mul(u16::try_from(lines.min(room)).unwrap_or(0))
}

/// A short note on what is wrong at a hook; nothing if all is as recorded.
fn amiss(app: &App, state: &State, tile: &Tile<'_>) -> (String, Style) {
    let theme = &app.theme;
    match tile.sight {
        Sight::Here(kept) if kept.home != Some(tile.hook) => {
            let home = kept
                .home
                .map(|home| format!(" from {}", state.hook_name(home)));
            let words = home.unwrap_or_else(|| " no hook yet".to_owned());
            let sign = HookStatus::Stranger.glyph();
            (format!("{sign}{words}"), theme.wrong())
        }
        Sight::Here(_) => (String::new(), theme.muted()),
        Sight::Absent(_) => {
            let sign = HookStatus::Missing.glyph();
            (format!("{sign} not here"), theme.wrong())
        }
        Sight::Other(kept) => {
            let place = text::places::brief_of(state, kept);
            let sign = HookStatus::Stranger.glyph();
            (format!("{sign} {place}"), theme.away())
        }
        Sight::Out(_) | Sight::Free => (String::new(), theme.faint()),
    }
}

/// A hook's name with the note, and below it the number of its card on the card's colour.
fn draw_tile(
    app: &App,
    state: &State,
    (tile, picked): (&Tile<'_>, bool),
    grid: &Grid,
    area: Rect,
    buffer: &mut Buffer,
) {
    let theme = &app.theme;
    let width = usize::from(area.width);
    let (words, style) = amiss(app, state, tile);
    let name = state.hook_name(tile.hook);
    let (text, label) = match picked {
        true => (format!("[{name}]"), theme.target()),
        false => (format!(" {name}"), theme.muted()),
    };
    put_within(buffer, (area.x, area.y), fit(&text, width), width, label);
    let used = text.chars().count() + 1;
    let after = area
        .x
        .saturating_add(u16::try_from(used).unwrap_or(u16::MAX));
    let room = width.saturating_sub(used);
    if room > 0 {
        let short = matches!(tile.sight, Sight::Absent(_)) && room < words.len();
        let words = if short { "? gone" } else { words.as_str() };
        put_within(buffer, (after, area.y), fit(words, room), room, style);
    }
    let below = Rect {
        y: area.y + 1,
        height: area.height - 1,
        ..area
    };
    let at = (below.x, below.y);
    match card(tile) {
        None => {
            let free = HookStatus::Free.glyph().to_string();
            put_within(buffer, (below.x + 1, below.y), free, width, theme.faint());
        }
        // Nothing hangs there, so no large number.
        Some(kept) if matches!(tile.sight, Sight::Out(_)) => {
            let place = text::places::brief_of(state, kept);
            let text = format!(" {number}o {place}", number = state.number_and_tag(kept));
            put_within(buffer, at, fit(&text, width), width, theme.muted());
        }
        Some(kept) => draw_card(app, state, (tile, kept), grid, below, buffer),
    }
}

/// The number of a card on its colour, with the name if it fits.
fn draw_card(
    app: &App,
    state: &State,
    (tile, kept): (&Tile<'_>, &CardState),
    grid: &Grid,
    area: Rect,
    buffer: &mut Buffer,
) {
    let theme = &app.theme;
    let swatch = kept.card.colour.and_then(|colour| theme.swatch(colour));
    let filled = swatch.filter(|_| !matches!(tile.sight, Sight::Absent(_)));
    let ink = match tile.sight {
        Sight::Absent(_) => theme.wrong(),
        _ => filled.unwrap_or_else(|| theme.strong()),
    };
    if let Some(style) = filled {
        buffer.set_style(area, style);
    }
    let (digits, foot) = pane::with_foot(area, u16::from(grid.named));
    let number = state.number_and_tag(kept);
    put_number(&number, ink, grid.size, digits, buffer);
    if grid.named {
        let width = usize::from(area.width);
        let name = fit(kept.card.name.as_str(), width.saturating_sub(2));
        let ink = filled.unwrap_or_else(|| theme.muted());
        put_within(buffer, (foot.x + 1, foot.y), name, width, ink);
    }
}

/// A number in the largest letters that fit, at most the size used for the row.
fn put_number(number: &str, ink: Style, size: Option<Size>, area: Rect, buffer: &mut Buffer) {
    let inside = Rect {
        x: area.x + 1,
        width: area.width - 1,
        ..area
    };
    // A longer number gets small letters, or plain text if those don't fit or can't show it.
    let small = size
        .map(|_| Size::Small)
        .filter(|_| digits::is_small(number));
    let fits = |size: &Size| size.width(number) <= inside.width && size.height() <= inside.height;
    let mut fitting = [size, small].into_iter().flatten().filter(fits);
    match fitting.next() {
        Some(size) => digits::draw(buffer, inside, number, size, ink),
        None => {
            let middle = (inside.x, inside.y + inside.height / 2);
            let width = usize::from(inside.width);
            put_within(buffer, middle, fit(number, width), width, ink);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn row_of_twenty_uses_the_largest_letters_that_fit() {
        let fitting = |width, height| {
            let area = Rect::new(0, 0, width, height);
            let grid = Grid::fitting(20, 3, area, Signs::Unicode);
            (grid.size, grid.across)
        };
        assert_eq!(fitting(80, 21), (Some(Size::Narrow), 5));
        assert_eq!(fitting(120, 36), (Some(Size::Half), 4));
        assert_eq!(fitting(220, 56), (Some(Size::Large), 7));
        assert_eq!(fitting(40, 10), (None, 5));
    }
}
