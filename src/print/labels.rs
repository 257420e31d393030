//! Labels for cards: the number in large print, the range, the name, a swatch, and the hook in
//! pencil grey. They are cut from plain paper, or printed on a label sheet with its own
//! measurements.
//!
//! Labels for hooks are small strips to cut out.

use std::str::FromStr;

use super::page::{
    About, Align, BLACK, BOLD, CUT, Document, IN_PENCIL, Item, PENCIL, PLAIN, Page, Pen,
};
use super::page::{Area, Mm, ParseLengthError};
use super::paper::{Direction, DoesNotFit, Grid, Piece, Sheet};
use crate::model::board::HookRef;
use crate::stash::state::{CardState, State};
use crate::text::print as text;
use crate::text::print::HOOK_LABELS;

/// The default width of a label: three in a row on either paper.
pub(crate) const USUAL_WIDTH: Mm = Mm::whole(60);
/// The default height of a label.
pub(crate) const USUAL_HEIGHT: Mm = Mm::whole(28);
/// The smallest label.
pub(crate) const LEAST: (Mm, Mm) = (Mm::whole(20), Mm::whole(10));
/// The most columns or rows.
const MOST: usize = 100;

/// The known measurements of a sheet; the others follow from them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct LabelSheet {
    /// Labels in a row; by default as many as fit the paper.
    pub columns: Option<usize>,
    /// Rows of labels; likewise.
    pub rows: Option<usize>,
    /// The width of a label.
    pub width: Option<Mm>,
    /// The height of a label.
    pub height: Option<Mm>,
    /// From the left edge of the paper to the first label; by default, both margins are equal.
    pub left: Option<Mm>,
    /// From the upper edge of the paper to the first label; likewise.
    pub top: Option<Mm>,
    /// From the left side of a label to that of the next; by default its width.
    pub across: Option<Mm>,
    /// From the upper side of a label to that of the next; by default its height.
    pub down: Option<Mm>,
}

/// A text that doesn't describe a sheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum ParseSheetError {
    /// An unknown word.
    Word(String),
    /// An impossible number of columns or rows.
    Count(String),
    /// A measurement that isn't a length.
    Length(ParseLengthError),
}

impl From<ParseLengthError> for ParseSheetError {
    fn from(error: ParseLengthError) -> Self {
        Self::Length(error)
    }
}

impl ParseSheetError {
    /// The error and the remedy, as a sentence.
    #[must_use]
    pub(crate) fn sentence(&self) -> String {
        match self {
            Self::Word(word) => text::not_a_measurement(word),
            Self::Count(count) => text::not_a_count_of_labels(count, MOST),
            Self::Length(error) => error.sentence(),
        }
    }
}

impl FromStr for LabelSheet {
    type Err = ParseSheetError;

    /// Reads `columns=3,rows=8,width=60,height=33.5`, with commas or spaces between.
    fn from_str(text: &str) -> Result<Self, ParseSheetError> {
        let mut sheet = Self::default();
        let words = text.split([',', ' ']).filter(|word| !word.is_empty());
        for word in words {
            let wrong = || ParseSheetError::Word(word.chars().take(40).collect());
            let (name, value) = word.split_once('=').ok_or_else(wrong)?;
            let count = || {
                let count = value.parse().ok().filter(|n| (1..=MOST).contains(n));
                count.ok_or_else(|| ParseSheetError::Count(value.chars().take(40).collect()))
            };
            match name {
                "columns" => sheet.columns = Some(count()?),
                "rows" => sheet.rows = Some(count()?),
                "width" => sheet.width = Some(value.parse()?),
                "height" => sheet.height = Some(value.parse()?),
                "left" => sheet.left = Some(value.parse()?),
                "top" => sheet.top = Some(value.parse()?),
                "across" => sheet.across = Some(value.parse()?),
                "down" => sheet.down = Some(value.parse()?),
                _ => return Err(wrong()),
            }
        }
        Ok(sheet)
    }
}

/// One dimension of a sheet.
struct Side {
    direction: Direction,
    paper: Mm,
    size: Mm,
    pitch: Option<Mm>,
    count: Option<usize>,
    start: Option<Mm>,
}

impl Side {
    /// The position of the first label, the pitch and the count.
    fn laid(&self) -> Result<(Mm, Mm, usize), DoesNotFit> {
        let pitch = self.pitch.unwrap_or(self.size);
        if pitch < self.size {
            return Err(DoesNotFit::Pitch {
                direction: self.direction,
                size: self.size,
                pitch,
            });
        }
        let room = self.paper - self.start.unwrap_or(Mm::ZERO);
        let fits = room.fits(self.size, pitch - self.size);
        let count = self.count.unwrap_or(fits).max(1);
        let used = pitch.times(count) - (pitch - self.size);
        let start = self.start.unwrap_or((self.paper - used) / 2);
        let reach = self.start.unwrap_or(Mm::ZERO) + used;
        if reach > self.paper {
            return Err(DoesNotFit::Reach {
                direction: self.direction,
                reach,
                paper: self.paper,
            });
        }
        Ok((start, pitch, count))
    }
}

impl LabelSheet {
    /// The grid of its labels on the paper.
    ///
    /// # Errors
    /// When labels are too small, overlap or extend beyond the paper.
    pub(crate) fn grid(&self, sheet: Sheet) -> Result<Grid, DoesNotFit> {
        let (paper_w, paper_h) = sheet.size();
        let (w, h) = (
            self.width.unwrap_or(USUAL_WIDTH),
            self.height.unwrap_or(USUAL_HEIGHT),
        );
        if w < LEAST.0 || h < LEAST.1 || w > paper_w || h > paper_h {
            return Err(DoesNotFit::Size {
                piece: Piece::Label,
                size: (w, h),
                least: LEAST,
                most: (paper_w, paper_h),
            });
        }
        let across = Side {
            direction: Direction::Across,
            paper: paper_w,
            size: w,
            pitch: self.across,
            count: self.columns,
            start: self.left,
        };
        let down = Side {
            direction: Direction::Down,
            paper: paper_h,
            size: h,
            pitch: self.down,
            count: self.rows,
            start: self.top,
        };
        let (x, pitch_x, columns) = across.laid()?;
        let (y, pitch_y, rows) = down.laid()?;
        Ok(Grid {
            first: Area::new(x, y, w, h),
            pitch: (pitch_x, pitch_y),
            columns,
            rows,
        })
    }
}

/// Labels for cards, in the given order, starting after `skip` labels. Without a label sheet they
/// are drawn for cutting out of plain paper. O(cards).
///
/// # Errors
/// When the sheet doesn't fit the paper, or `skip` leaves no label on it.
pub(crate) fn labels(
    state: &State,
    cards: &[&CardState],
    sheet: Sheet,
    labels: Option<&LabelSheet>,
    skip: usize,
) -> Result<Document, DoesNotFit> {
    let grid = match labels {
        Some(labels) => labels.grid(sheet)?,
        None => Grid::packed(sheet, Piece::Label, (USUAL_WIDTH, USUAL_HEIGHT), LEAST)?,
    };
    let all = grid.on_a_page();
    if skip >= all {
        return Err(DoesNotFit::Skip { skip, all });
    }
    let printable = sheet.printable();
    let least = (LEAST.0 - Mm::whole(5), LEAST.1 - Mm::whole(5));
    let (width, height) = sheet.size();
    let mut pages: Vec<Page> = Vec::new();
    for (at, kept) in (skip..).zip(cards) {
        let (page, place) = grid.place(at);
        // Keep out of the margin that printers leave white.
        let mut item = Item::new(place.common(printable), About::Card(kept.card.id));
        if item.at.w < least.0 || item.at.h < least.1 {
            return Err(DoesNotFit::Size {
                piece: Piece::LabelAtEdge,
                size: (item.at.w, item.at.h),
                least,
                most: (printable.w, printable.h),
            });
        }
        if labels.is_none() {
            item.outline(Pen::dashes(15, CUT));
        }
        draw(state, kept, &mut item);
        pages.resize_with(pages.len().max(page + 1), Page::default);
        if let Some(page) = pages.get_mut(page) {
            page.items.push(item);
        }
    }
    let foot = sheet.foot(text::COLOURS_ARE_HINTS);
    for page in &mut pages {
        if !page.items.iter().any(|item| item.at.overlaps(foot.at)) {
            page.items.push(foot.clone());
        }
    }
    Ok(Document {
        title: text::LABELS.to_owned(),
        width,
        height,
        pages,
    })
}

/// Draws the swatch on the left, words next to it, and the hook in the lower right corner.
fn draw(state: &State, kept: &CardState, item: &mut Item) {
    let card = &kept.card;
    let inner = item.whole().inset(Mm::hundredths(150));
    let side = inner.w.percent(27);
    item.swatch(inner.columns(Mm::ZERO, side), card.colour);
    let words = inner.columns(side + Mm::hundredths(150), inner.w);
    let h = words.h;
    let small = Mm::hundredths(150);
    let number = if card.parent.is_some() {
        state.card_name(kept)
    } else {
        state.number_and_tag(kept).into_owned()
    };
    let row = |from: i32, to: i32| words.rows(h.percent(from), h.percent(to));
    item.text(
        row(0, 42),
        &number,
        Mm::whole(12),
        Mm::hundredths(200),
        BOLD,
    );
    let size = Mm::hundredths(380);
    item.text(row(42, 60), state.range_name(kept), size, small, PLAIN);
    item.text(row(60, 78), card.name.as_str(), size, small, PLAIN);
    foot(state, kept, item, row(78, 100));
}

/// The hook, lighter than print since it may change; for a split card, where its thread goes.
fn foot(state: &State, kept: &CardState, item: &mut Item, at: Area) {
    let (size, small) = (Mm::whole(4), Mm::hundredths(150));
    let whole = kept.card.parent.and_then(|parent| state.card(parent));
    let style = IN_PENCIL.at(Align::Right);
    match (kept.home, whole) {
        (Some(home), _) => item.text(at, &state.hook_name(home), size, small, style),
        (None, Some(whole)) => {
            let words = text::back_onto(&state.card_name(whole));
            item.text(at, &words, size.percent(75), small, style.in_colour(BLACK));
        }
        // A line to write on: the hook isn't known yet.
        (None, None) => {
            let y = at.bottom() - Mm::hundredths(40);
            let from = at.right() - at.w.min(Mm::whole(14));
            item.line((from, y), (at.right(), y), Pen::dashes(20, PENCIL));
        }
    }
}

/// The default size of a strip.
pub(crate) const USUAL_HOOK_LABEL: (Mm, Mm) = (Mm::whole(18), Mm::whole(8));
/// The smallest strip.
pub(crate) const LEAST_HOOK_LABEL: (Mm, Mm) = (Mm::whole(6), Mm::whole(4));

/// Strips for hooks in reading order, without blocked ones. O(hooks).
///
/// # Errors
/// When a strip is too small or too large.
pub(crate) fn hook_labels(
    state: &State,
    hooks: impl IntoIterator<Item = HookRef>,
    sheet: Sheet,
    size: (Mm, Mm),
) -> Result<Document, DoesNotFit> {
    let grid = Grid::packed(sheet, Piece::HookLabel, size, LEAST_HOOK_LABEL)?;
    let usable = hooks.into_iter().filter(|&hook| state.capacity(hook) > 0);
    let mut pages: Vec<Page> = Vec::new();
    for (at, hook) in usable.enumerate() {
        let (page, place) = grid.place(at);
        let mut item = Item::new(place, About::Hook(hook));
        item.outline(Pen::line(15, CUT));
        let words = item.whole().inset(Mm::hundredths(60));
        let (most, style) = (Mm::whole(20), BOLD.at(Align::Middle));
        item.text(
            words,
            &state.hook_name(hook),
            most,
            Mm::hundredths(150),
            style,
        );
        pages.resize_with(pages.len().max(page + 1), Page::default);
        if let Some(page) = pages.get_mut(page) {
            page.items.push(item);
        }
    }
    let foot = format!("{HOOK_LABELS}.");
    for page in &mut pages {
        page.items.push(sheet.foot(&foot));
    }
    let (width, height) = sheet.size();
    Ok(Document {
        title: HOOK_LABELS.to_owned(),
        width,
        height,
        pages,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::print::paper::Paper;

    const A4: Sheet = Sheet {
        paper: Paper::A4,
        landscape: false,
    };

    #[test]
    fn a_sheet_uses_its_measurements_and_is_centred_by_default() {
        let sheet: LabelSheet = "columns=3,rows=8 width=60,height=30,left=12,top=20.5,across=63"
            .parse()
            .unwrap();
        let grid = sheet.grid(A4).unwrap();
        assert_eq!((grid.columns, grid.rows), (3, 8));
        let (page, last) = grid.place(23);
        assert_eq!(page, 0);
        assert_eq!((last.x, last.y), (Mm::whole(138), Mm::hundredths(23_050)));
        assert_eq!(grid.place(24).0, 1);

        let grid = LabelSheet::default().grid(A4).unwrap();
        assert_eq!((grid.columns, grid.rows), (3, 10));
        assert_eq!(
            (grid.first.x, grid.first.y),
            (Mm::whole(15), Mm::hundredths(850))
        );
    }

    #[test]
    fn impossible_sheets_are_refused() {
        let grid = |text: &str| text.parse::<LabelSheet>().unwrap().grid(A4);
        for wrong in [
            "columns=4",
            "left=160",
            "across=50",
            "width=5",
            "height=300",
            "rows=20",
        ] {
            assert!(grid(wrong).is_err(), "{wrong}");
        }
        for wrong in ["columns", "columns=0", "wide=5", "width=-1", "rows=101"] {
            assert!(wrong.parse::<LabelSheet>().is_err(), "{wrong}");
        }
    }
}
