//! A map of a board: every hook with its name and cards, families as coloured regions with a short
//! code each, and a legend.

use std::collections::BTreeMap;
use std::ops::Range;

use unicode_segmentation::UnicodeSegmentation;

use super::page::{About, Align, BLACK, BOLD, CUT, Document, Item, PLAIN, Page, Pen};
use super::page::{Area, Mm};
use super::paper::{Sheet, tint};
use crate::model::board::{Board, HookRef};
use crate::model::colour::Srgb;
use crate::model::ids::FamilyId;
use crate::model::ring::RingState;
use crate::stash::state::{AwayReason, CardState, State};
use crate::text::cards;
use crate::text::print::{self as text, Shared};

const HEAD: Mm = Mm::whole(12);
/// The smallest legible cell.
const LEAST: (Mm, Mm) = (Mm::whole(13), Mm::whole(10));
/// The largest cell: a small board needn't fill the page.
const MOST: (Mm, Mm) = (Mm::whole(30), Mm::whole(19));
/// A line of the legend.
const ENTRY: (Mm, Mm) = (Mm::whole(48), Mm::whole(6));

/// Cuts a row of hooks into pieces of at most `most` that overlap by one and are as even as
/// possible.
fn pieces(hooks: u16, most: u16) -> Vec<Range<u16>> {
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

/// The number of smallest cells that fit a length.
fn most_in(length: Mm, least: Mm) -> u16 {
    u16::try_from(length.fits(least, Mm::ZERO)).unwrap_or(u16::MAX)
}

/// A line of the legend: a sign and its meaning.
enum Entry {
    Sign(Sign, &'static str),
    Family(usize),
    Blocked(String),
}

fn legend(state: &State, board: &Board, regions: &Regions) -> Vec<Entry> {
    let signs = [
        Sign::Out,
        Sign::Missing,
        Sign::Elsewhere,
        Sign::Guest,
        Sign::Hanging,
    ];
    let families = (0..regions.all().len()).map(Entry::Family);
    let blocked = board.hooks().filter_map(|hook| {
        let why = board.blocked(hook)?;
        Some(Entry::Blocked(format!("{}: {why}", state.hook_name(hook))))
    });
    (signs.into_iter().zip(text::SIGNS))
        .map(|(sign, words)| Entry::Sign(sign, words))
        .chain(families)
        .chain(blocked)
        .collect()
}

/// The maps of all boards in sequence; `None` if there is no board.
#[must_use]
pub(crate) fn board_maps(state: &State, sheet: Sheet) -> Option<Document> {
    let mut all = state.boards().map(|board| board_map(state, board, sheet));
    let mut document = all.next()?;
    for next in all {
        text::MAPS.clone_into(&mut document.title);
        document.pages.extend(next.pages);
    }
    Some(document)
}

/// A map of a board, on one page if its cells stay legible, otherwise on several that overlap by a
/// row or a column. The legend goes below the map if it fits, otherwise on pages of its own.
/// O(hooks + cards · log cards).
#[must_use]
pub(crate) fn board_map(state: &State, board: &Board, sheet: Sheet) -> Document {
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
    let cut = Cut::of(board, map);
    let mut pages = map_pages(state, board, &regions, body, &cut);
    let used = cut.cell.1 * longest(&cut.rows);
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
            page.items
                .push(head(body, &text::legend_of(&board.name), ""));
            write_legend(&mut page, all, across, some, &regions);
            pages.push(page);
        }
    }
    for page in &mut pages {
        page.items.push(sheet.foot(text::COLOURS_ARE_HINTS));
    }
    let (width, height) = sheet.size();
    Document {
        title: text::map_of(&board.name),
        width,
        height,
        pages,
    }
}

/// A board cut into pieces, each as large as a page allows.
struct Cut {
    rows: Vec<Range<u16>>,
    columns: Vec<Range<u16>>,
    /// The area for a map on its page.
    map: Area,
    /// The size of a hook's cell.
    cell: (Mm, Mm),
}

impl Cut {
    fn of(board: &Board, map: Area) -> Self {
        let columns = pieces(board.columns, most_in(map.w, LEAST.0));
        let rows = pieces(board.rows, most_in(map.h, LEAST.1));
        let cell = (
            (map.w / longest(&columns)).min(MOST.0),
            (map.h / longest(&rows)).min(MOST.1),
        );
        Self {
            rows,
            columns,
            map,
            cell,
        }
    }
}

/// The number of hooks in the longest piece.
fn longest(pieces: &[Range<u16>]) -> i32 {
    let longest = pieces.iter().map(|piece| piece.end - piece.start).max();
    i32::from(longest.unwrap_or(1))
}

/// The pieces of the map, one per page.
fn map_pages(state: &State, board: &Board, regions: &Regions, body: Area, cut: &Cut) -> Vec<Page> {
    let (map, cell) = (cut.map, cut.cell);
    let mut pages = Vec::new();
    for (down, rows) in cut.rows.iter().enumerate() {
        for (right, columns) in cut.columns.iter().enumerate() {
            let mut page = Page::default();
            let overlaps = Overlaps {
                board,
                rows: &cut.rows,
                columns: &cut.columns,
                at: (down, right),
            };
            page.items
                .push(head(body, &overlaps.extent(), &overlaps.words()));
            for row in rows.clone() {
                for column in columns.clone() {
                    let x = map.x + cell.0 * i32::from(column - columns.start);
                    let y = map.y + cell.1 * i32::from(row - rows.start);
                    let at = Area::new(x, y, cell.0, cell.1);
                    let hook = board.hook(row, column);
                    page.items
                        .push(Cell::of(state, board, hook, regions).item(at));
                }
            }
            pages.push(page);
        }
    }
    pages
}

/// The title of a page, with words next to it.
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

/// Which part of a board a page shows, and where it continues.
struct Overlaps<'a> {
    board: &'a Board,
    rows: &'a [Range<u16>],
    columns: &'a [Range<u16>],
    /// The index of the piece, down and across.
    at: (usize, usize),
}

impl Overlaps<'_> {
    fn extent(&self) -> String {
        let (rows, columns) = (&self.rows[self.at.0], &self.columns[self.at.1]);
        let letters = Board::row_letters;
        let rows = (letters(rows.start), letters(rows.end - 1));
        text::part_of(&self.board.name, rows, (columns.start + 1, columns.end))
    }

    fn words(&self) -> String {
        let (down, right) = self.at;
        let across = self.columns.len();
        let number = |down: usize, right: usize| down * across + right + 1;
        let all = self.rows.len() * across;
        if all == 1 {
            return text::whole_board(self.board.rows, self.board.columns);
        }
        let (rows, columns) = (&self.rows[down], &self.columns[right]);
        let row = |row: u16| Shared::Row(Board::row_letters(row));
        let mut shared = Vec::new();
        if right > 0 {
            let column = Shared::Column(columns.start + 1);
            shared.push((column, number(down, right - 1)));
        }
        if right + 1 < across {
            shared.push((Shared::Column(columns.end), number(down, right + 1)));
        }
        if down > 0 {
            shared.push((row(rows.start), number(down - 1, right)));
        }
        if down + 1 < self.rows.len() {
            shared.push((row(rows.end - 1), number(down + 1, right)));
        }
        text::map_of_several(number(down, right), all, &shared)
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
        let side = Mm::hundredths(260);
        let square = Area::new(key.x, key.y + (key.h - side) / 2, side, side);
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
            // A reason may be long: two small lines are better than half of it.
            item.paragraph(said, &words, Mm::hundredths(230), PLAIN);
        } else {
            item.text(said, &words, size, small, PLAIN);
        }
        page.items.push(item);
    }
}

/// The sign drawn next to a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Sign {
    /// An empty disc: the card is out on a ring.
    Out,
    /// A cross: the card is missing.
    Missing,
    /// An empty square: the card is elsewhere.
    Elsewhere,
    /// An arrow: a card with another home hangs here.
    Guest,
    /// A disc with a dot: a ring hangs here.
    Hanging,
}

/// Draws a sign into a square.
pub(crate) fn sign(item: &mut Item, at: Area, sign: Sign) {
    let pen = Pen::line(25, BLACK);
    let at = at.inset(Mm::hundredths(15));
    match sign {
        Sign::Out => item.disc(at, None, Some(pen)),
        Sign::Missing => item.cross(at, Pen::line(40, BLACK)),
        Sign::Elsewhere => item.rect(at, None, Some(pen)),
        Sign::Guest => {
            let middle = at.y + at.h / 2;
            let tip = (at.right(), middle);
            item.line((at.x, middle), tip, pen);
            item.line((at.x + at.w / 2, at.y), tip, pen);
            item.line((at.x + at.w / 2, at.bottom()), tip, pen);
        }
        Sign::Hanging => {
            item.disc(at, None, Some(pen));
            item.disc(at.inset(at.w / 3), Some(BLACK), None);
        }
    }
}

/// A hook ready for drawing.
pub(crate) struct Cell<'a> {
    hook: HookRef,
    hook_name: String,
    blocked: Option<&'a str>,
    reserved: bool,
    region: Option<&'a Region>,
    codes: String,
    lines: Vec<(Option<Sign>, String)>,
    free: usize,
    /// Whether the hooks to the left and above belong to the same family.
    goes_on: (bool, bool),
}

/// The sign of a card under its hook; none if it hangs there.
fn sign_of(kept: &CardState) -> Option<Sign> {
    Some(match AwayReason::of(kept)? {
        AwayReason::OnRing => Sign::Out,
        AwayReason::Missing => Sign::Missing,
        AwayReason::InHand | AwayReason::Elsewhere | AwayReason::ToHang => Sign::Elsewhere,
    })
}

impl<'a> Cell<'a> {
    /// Collects what is on a hook.
    pub(crate) fn of(
        state: &'a State,
        board: &'a Board,
        hook: HookRef,
        regions: &'a Regions,
    ) -> Self {
        let region_at = |hook: HookRef| {
            let first = state.homes_on(hook).next();
            first.and_then(|kept| regions.of_card(state, kept))
        };
        let region = region_at(hook);
        let mut codes: Vec<&str> = state
            .homes_on(hook)
            .filter_map(|kept| regions.of_card(state, kept))
            .map(|region| region.code.as_str())
            .collect();
        codes.dedup();
        let homes = state
            .homes_on(hook)
            .map(|kept| (sign_of(kept), state.card_name(kept)));
        let guests = state
            .hanging_on(hook)
            .filter(|kept| kept.home != Some(hook))
            .map(|kept| (Some(Sign::Guest), state.card_name(kept)));
        let hanging = state.rings().filter_map(|ring| match ring.state {
            RingState::Hanging { hook: at, .. } if at == hook => {
                Some((Some(Sign::Hanging), ring.project.to_string()))
            }
            _ => None,
        });
        let before = |row: Option<u16>, column: Option<u16>| {
            let other = row.zip(column).map(|(row, column)| board.hook(row, column));
            region.is_some() && other.and_then(region_at) == region
        };
        Self {
            hook,
            hook_name: board.hook_name(hook),
            blocked: board.blocked(hook).map(|why| why.as_str()),
            reserved: board.reserved(hook),
            region,
            codes: codes.join(" "),
            lines: homes.chain(guests).chain(hanging).collect(),
            free: state.free_places(hook),
            goes_on: (
                before(Some(hook.row), hook.column.checked_sub(1)),
                before(hook.row.checked_sub(1), Some(hook.column)),
            ),
        }
    }

    pub(crate) fn item(&self, at: Area) -> Item {
        let mut item = Item::new(at, About::Hook(self.hook));
        let whole = item.whole();
        if let Some(colour) = self.region.and_then(|region| region.colour) {
            item.rect(whole, Some(tint(colour, 5)), None);
        }
        item.outline(Pen::line(10, CUT));
        self.borders(&mut item);
        let inner = whole.inset(Mm::hundredths(60));
        let strip = inner.h.percent(30).min(Mm::hundredths(330));
        let top = inner.rows(Mm::ZERO, strip);
        let (size, small) = (Mm::hundredths(250), Mm::hundredths(150));
        let middle = inner.w.percent(55);
        item.text(
            top.columns(Mm::ZERO, middle),
            &self.hook_name,
            size,
            small,
            PLAIN,
        );
        let code = top.columns(middle, inner.w);
        item.text(
            code,
            &self.codes,
            size.percent(90),
            small,
            PLAIN.at(Align::Right),
        );
        let rest = inner.rows(strip, inner.h);
        match self.blocked {
            Some(why) => {
                item.hatch(rest, Mm::hundredths(200), Pen::line(15, CUT));
                item.paragraph(rest, why, Mm::hundredths(200), PLAIN);
            }
            None => self.write(&mut item, rest),
        }
        item
    }

    /// Draws a thick line where a family starts.
    fn borders(&self, item: &mut Item) {
        if self.region.is_none() {
            return;
        }
        let whole = item.whole();
        let edge = Mm::hundredths(20);
        let pen = Pen::line(40, BLACK);
        let (left, above) = self.goes_on;
        if !left {
            item.line((edge, Mm::ZERO), (edge, whole.h), pen);
        }
        if !above {
            item.line((Mm::ZERO, edge), (whole.w, edge), pen);
        }
    }

    /// Writes as many cards as fit, and the free places.
    fn write(&self, item: &mut Item, at: Area) {
        let mut lines = self.lines.clone();
        let free = text::free_places(self.reserved, self.free);
        lines.extend(free.map(|words| (None, words)));
        let fit = at.h.fits(Mm::hundredths(300), Mm::ZERO).max(1);
        if lines.len() > fit {
            let hidden = lines.len() - (fit - 1);
            lines.truncate(fit - 1);
            lines.push((None, format!("and {hidden}")));
        }
        let height = at.h / i32::try_from(lines.len().max(1)).unwrap_or(1);
        for (row, (which, text)) in lines.iter().enumerate() {
            let line = at.rows(height.times(row), height.times(row + 1));
            let is_card = row < self.lines.len() && !text.starts_with("and ");
            let (most, style) = if is_card {
                (Mm::hundredths(450), BOLD)
            } else {
                (Mm::hundredths(240), PLAIN)
            };
            let small = Mm::hundredths(150);
            let Some(which) = which else {
                item.text(line, text, most, small, style.at(Align::Middle));
                continue;
            };
            let side = Mm::hundredths(230).min(line.h);
            let square = Area::new(line.x, line.y + (line.h - side) / 2, side, side);
            sign(item, square, *which);
            let words = line.columns(side + Mm::hundredths(40), line.w);
            item.text(words, text, most, small, style);
        }
    }
}

/// A family with cards whose homes are on the board.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Region {
    pub name: String,
    /// Some letters of its name, unique among the families of the board.
    pub code: String,
    /// The mean of its cards' colours, if any is known: a hint, not an exact colour.
    pub colour: Option<Srgb>,
    /// Number of its cards on the board.
    pub cards: usize,
}

/// The families of a board, in the order of the wall.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Regions {
    all: Vec<Region>,
    of: BTreeMap<FamilyId, usize>,
}

/// The mean of colours, channel by channel.
fn mean(colours: &[Srgb]) -> Option<Srgb> {
    let count = u64::try_from(colours.len()).ok().filter(|&n| n > 0)?;
    let channel = |of: fn(&Srgb) -> u8| {
        let sum: u64 = colours.iter().map(|colour| u64::from(of(colour))).sum();
        u8::try_from(sum / count).unwrap_or(u8::MAX)
    };
    Some(Srgb::new(
        channel(|c| c.r),
        channel(|c| c.g),
        channel(|c| c.b),
    ))
}

impl Regions {
    /// The families of a board. O(hooks + cards).
    #[must_use]
    pub(crate) fn of(state: &State, board: &Board) -> Self {
        let mut cards: BTreeMap<FamilyId, Vec<&CardState>> = BTreeMap::new();
        for kept in board.hooks().flat_map(|hook| state.homes_on(hook)) {
            if let Some(family) = state.family_of(kept) {
                cards.entry(family).or_default().push(kept);
            }
        }
        let mut regions = Self::default();
        for family in state.families() {
            let Some(cards) = cards.get(&family.id) else {
                continue;
            };
            let colours: Vec<Srgb> = cards.iter().filter_map(|kept| kept.card.colour).collect();
            regions.of.insert(family.id, regions.all.len());
            let code = regions.new_code(family.name.as_str());
            regions.all.push(Region {
                name: family.name.to_string(),
                code,
                colour: mean(&colours),
                cards: cards.len(),
            });
        }
        regions
    }

    /// Three letters, with a number if they are taken.
    fn new_code(&self, name: &str) -> String {
        let code: String = name.graphemes(true).take(3).collect();
        let taken = |code: &str| self.all.iter().any(|region| region.code == code);
        let numbered = (2..).map(|number: u32| format!("{code}{number}"));
        let mut codes = std::iter::once(code.clone()).chain(numbered);
        codes.find(|code| !taken(code)).unwrap_or(code)
    }

    #[must_use]
    pub(crate) fn all(&self) -> &[Region] {
        &self.all
    }

    #[must_use]
    pub(crate) fn of_card(&self, state: &State, kept: &CardState) -> Option<&Region> {
        let family = state.family_of(kept)?;
        self.all.get(*self.of.get(&family)?)
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
        fn pieces_cover_everything_and_overlap_by_one(hooks in 1..9_999_u16, most in 2..60_u16) {
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
