//! A map of a board: every hook with its mark and its cards, families as coloured regions, and a
//! legend in words.

use super::board_cell::{Cell, Sign, sign};
use super::mm::{Area, Mm};
use super::page::{About, Align, BLACK, BOLD, Document, Item, PLAIN, Page, Pen};
use super::paper::{Sheet, hint, tint};
use super::regions::Regions;
use crate::model::board::Board;
use crate::stash::state::State;
use crate::text::cards;
use crate::text::one_or_many;

/// The height of the page's title.
const HEAD: Mm = Mm::whole(12);
/// The smallest cell that can be read.
const LEAST: (Mm, Mm) = (Mm::whole(13), Mm::whole(10));
/// The largest cell: a small board need not fill the page.
const MOST: (Mm, Mm) = (Mm::whole(30), Mm::whole(19));
/// A line of the legend.
const ENTRY: (Mm, Mm) = (Mm::whole(48), Mm::whole(6));

/// Cuts a row of hooks into pieces of at most `most` that overlap by one, as even as can be.
fn pieces(hooks: u16, most: u16) -> Vec<std::ops::Range<u16>> {
    let most = most.max(2);
    if hooks <= most {
        return std::iter::once(0..hooks).collect();
    }
    let steps = hooks - 1;
    let count = steps.div_ceil(most - 1);
    let step = steps.div_ceil(count);
    (0..steps.div_ceil(step))
        .map(|at| at * step..(at * step + step + 1).min(hooks))
        .collect()
}

/// How many smallest cells go into a length.
fn most_in(length: Mm, least: Mm) -> u16 {
    u16::try_from(length.fits(least, Mm::ZERO)).unwrap_or(u16::MAX)
}

/// A line of the legend: what is drawn, and the words.
enum Entry {
    Sign(Sign, &'static str),
    Family(usize),
    Blocked(String),
}

fn legend(state: &State, board: &Board, regions: &Regions) -> Vec<Entry> {
    let signs = [
        (Sign::Out, "out on a ring"),
        (Sign::Missing, "missing"),
        (Sign::Elsewhere, "elsewhere or to hang"),
        (Sign::Guest, "hangs here, lives elsewhere"),
        (Sign::Hanging, "a ring hangs here"),
    ];
    let families = (0..regions.all().len()).map(Entry::Family);
    let blocked = board.hooks().filter_map(|hook| {
        let why = board.blocked(hook)?;
        Some(Entry::Blocked(format!("{}: {why}", state.hook_name(hook))))
    });
    signs
        .into_iter()
        .map(|(sign, words)| Entry::Sign(sign, words))
        .chain(families)
        .chain(blocked)
        .collect()
}

/// The maps of all boards one after another; `None` where there is no board.
#[must_use]
pub fn board_maps(state: &State, sheet: Sheet) -> Option<Document> {
    let mut all = state.boards().map(|board| board_map(state, board, sheet));
    let mut document = all.next()?;
    for next in all {
        "Maps of the boards".clone_into(&mut document.title);
        document.pages.extend(next.pages);
    }
    Some(document)
}

/// A map of a board, on one page where its cells can be read then, else on several that overlap by a
/// row or a column; the legend is below the map where it fits, else on pages of its own.
/// O(hooks + cards · log cards).
#[must_use]
pub fn board_map(state: &State, board: &Board, sheet: Sheet) -> Document {
    let regions = Regions::of(state, board);
    let entries = legend(state, board, &regions);
    let body = sheet.body();
    let across = body.w.fits(ENTRY.0, Mm::ZERO).max(1);
    let legend_h = ENTRY.1.times(entries.len().div_ceil(across)) + Mm::whole(3);
    let all = body.rows(HEAD, body.h);
    let needed = LEAST.1 * i32::from(board.rows);
    let below = needed + legend_h <= all.h && board.columns <= most_in(all.w, LEAST.0);
    let map = if below {
        all.rows(Mm::ZERO, all.h - legend_h)
    } else {
        all
    };
    let columns = pieces(board.columns, most_in(map.w, LEAST.0));
    let rows = pieces(board.rows, most_in(map.h, LEAST.1));
    let largest = |pieces: &[std::ops::Range<u16>]| {
        let longest = pieces.iter().map(|piece| piece.end - piece.start).max();
        i32::from(longest.unwrap_or(1))
    };
    let cell = (
        (map.w / largest(&columns)).min(MOST.0),
        (map.h / largest(&rows)).min(MOST.1),
    );
    let mut pages: Vec<Page> = Vec::new();
    for (down, rows_here) in rows.iter().enumerate() {
        for (right, columns_here) in columns.iter().enumerate() {
            let mut page = Page::default();
            let overlaps = Overlaps {
                board,
                rows: &rows,
                columns: &columns,
                at: (down, right),
            };
            page.items.push(head(
                body,
                &format!("{}: {}", board.name, overlaps.extent()),
                &overlaps.words(),
            ));
            for row in rows_here.clone() {
                for column in columns_here.clone() {
                    let x = map.x + cell.0 * i32::from(column - columns_here.start);
                    let y = map.y + cell.1 * i32::from(row - rows_here.start);
                    let at = Area::new(x, y, cell.0, cell.1);
                    let hook = board.hook(row, column);
                    page.items
                        .push(Cell::of(state, board, hook, &regions).item(at));
                }
            }
            pages.push(page);
        }
    }
    let used = cell.1 * largest(&rows);
    if below {
        let from = HEAD + used + Mm::whole(3);
        let place = body.rows(from, from + legend_h);
        if let Some(page) = pages.last_mut() {
            write_legend(page, place, across, &entries, &regions);
        }
    } else {
        let on_one = across * all.h.fits(ENTRY.1, Mm::ZERO).max(1);
        for some in entries.chunks(on_one) {
            let mut page = Page::default();
            page.items.push(head(
                body,
                &format!("{name}: legend", name = board.name),
                "",
            ));
            write_legend(&mut page, all, across, some, &regions);
            pages.push(page);
        }
    }
    for page in &mut pages {
        page.items.push(sheet.foot(hint()));
    }
    let (width, height) = sheet.size();
    Document {
        title: format!("Map of {name}", name = board.name),
        width,
        height,
        pages,
    }
}

/// The title of a page, and what it says beside.
fn head(body: Area, title: &str, words: &str) -> Item {
    let mut item = Item::new(body.rows(Mm::ZERO, HEAD - Mm::whole(2)), About::Words);
    let whole = item.whole();
    let (size, small) = (Mm::whole(5), Mm::whole(3));
    let split = Mm::whole(6);
    item.text(whole.rows(Mm::ZERO, split), title, size, small, BOLD);
    let below = whole.rows(split, whole.h);
    item.text(below, words, Mm::hundredths(280), Mm::whole(2), PLAIN);
    item
}

/// Which part of a board a page shows, and where it goes on.
struct Overlaps<'a> {
    board: &'a Board,
    rows: &'a [std::ops::Range<u16>],
    columns: &'a [std::ops::Range<u16>],
    /// Which piece down and across.
    at: (usize, usize),
}

impl Overlaps<'_> {
    fn extent(&self) -> String {
        let (rows, columns) = (&self.rows[self.at.0], &self.columns[self.at.1]);
        let letters = Board::row_letters;
        format!(
            "rows {letters} to {letters2}, columns {start} to {end}",
            letters = letters(rows.start),
            letters2 = letters(rows.end - 1),
            start = columns.start + 1,
            end = columns.end
        )
    }

    fn words(&self) -> String {
        let (down, right) = self.at;
        let across = self.columns.len();
        let number = |down: usize, right: usize| down * across + right + 1;
        let all = self.rows.len() * across;
        if all == 1 {
            let (rows, columns) = (self.board.rows, self.board.columns);
            return format!(
                "{rows} {word} of {columns} {hooks}",
                word = one_or_many(rows, "row", "rows"),
                hooks = one_or_many(columns, "hook", "hooks")
            );
        }
        let mut words = format!("map {number} of {all}", number = number(down, right));
        let (rows, columns) = (&self.rows[down], &self.columns[right]);
        let mut also = |what: String, page: usize| {
            words.push_str(&format!("; {what} is also on map {page}"));
        };
        if right > 0 {
            also(
                format!("column {start}", start = columns.start + 1),
                number(down, right - 1),
            );
        }
        if right + 1 < across {
            also(
                format!("column {end}", end = columns.end),
                number(down, right + 1),
            );
        }
        if down > 0 {
            let row = Board::row_letters(rows.start);
            also(format!("row {row}"), number(down - 1, right));
        }
        if down + 1 < self.rows.len() {
            let row = Board::row_letters(rows.end - 1);
            also(format!("row {row}"), number(down + 1, right));
        }
        words
    }
}

fn write_legend(page: &mut Page, at: Area, across: usize, entries: &[Entry], regions: &Regions) {
    for (place, entry) in entries.iter().enumerate() {
        let (row, column) = (place / across, place % across);
        let x = at.x + ENTRY.0.times(column);
        let y = at.y + ENTRY.1.times(row);
        let mut item = Item::new(Area::new(x, y, ENTRY.0, ENTRY.1), About::Words);
        let whole = item.whole();
        let key = whole
            .columns(Mm::ZERO, Mm::whole(9))
            .inset(Mm::hundredths(80));
        let hook_name = Mm::hundredths(260);
        let square = Area::new(key.x, key.y + (key.h - hook_name) / 2, hook_name, hook_name);
        let pen = Pen::line(15, BLACK);
        let (size, small) = (Mm::hundredths(300), Mm::whole(2));
        let words = match entry {
            Entry::Sign(which, words) => {
                sign(&mut item, square, *which);
                (*words).to_owned()
            }
            Entry::Family(family) => match regions.all().get(*family) {
                Some(region) => {
                    let fill = region.colour.map(|colour| tint(colour, 5));
                    item.rect(key, fill, Some(pen));
                    let style = PLAIN.at(Align::Middle);
                    item.text(key, &region.code, Mm::hundredths(260), small, style);
                    let cards = cards(u32::try_from(region.cards).unwrap_or(u32::MAX));
                    format!("{}, {cards}", region.name)
                }
                None => String::new(),
            },
            Entry::Blocked(words) => {
                item.hatch(key, Mm::hundredths(150), pen);
                item.rect(key, None, Some(pen));
                words.clone()
            }
        };
        let said = whole.columns(Mm::whole(10), whole.w - Mm::whole(1));
        if matches!(entry, Entry::Blocked(_)) {
            // A reason may be long: two lines of small print rather than half of it.
            item.paragraph(said, &words, Mm::hundredths(230), PLAIN);
        } else {
            item.text(said, &words, size, small, PLAIN);
        }
        page.items.push(item);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_long_row_is_cut_into_even_pieces_that_share_a_hook() {
        assert_eq!(pieces(15, 15).first(), Some(&(0..15)));
        assert_eq!(pieces(20, 15), [0..11, 10..20]);
        assert_eq!(pieces(29, 15), [0..15, 14..29]);
        assert_eq!(pieces(1, 15).first(), Some(&(0..1)));
    }

    proptest! {
        #[test]
        fn pieces_cover_all_and_overlap_by_one(hooks in 1..9_999_u16, most in 2..60_u16) {
            let got = pieces(hooks, most);
            prop_assert_eq!(got[0].start, 0);
            prop_assert_eq!(got[got.len() - 1].end, hooks);
            for pair in got.windows(2) {
                prop_assert_eq!(pair[0].end, pair[1].start + 1);
            }
            for piece in &got {
                prop_assert!(piece.end > piece.start && piece.end - piece.start <= most);
            }
        }
    }
}
