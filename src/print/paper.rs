//! Sheets of paper, and regular grids of pieces on them.

use super::page::{About, BLACK, Item, PLAIN, Pen};
use super::page::{Area, Mm};
use crate::model::colour::Srgb;
use crate::text::print as text;

/// The white margin of common printers. Common practice, no source.
pub(crate) const EDGE: Mm = Mm::whole(6);
/// Height of the line of words at the foot of a page.
const FOOT: Mm = Mm::whole(6);
/// Between pieces to cut out.
const GAP: Mm = Mm::whole(2);
/// A size of paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Paper {
    /// A4 of ISO 216: 210 mm by 297 mm.
    A4,
    /// Letter, size A of ANSI/ASME Y14.1: 8.5 in by 11 in, which is 215.9 mm by 279.4 mm.
    Letter,
}

/// A paper in portrait or landscape.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) struct Sheet {
    pub paper: Paper,
    /// Whether its long side is horizontal.
    pub landscape: bool,
}

/// A direction on paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Direction {
    /// From left to right.
    Across,
    /// From top to bottom.
    Down,
}

/// A piece of paper to cut out, or a label.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Piece {
    /// A label for a card.
    Label,
    /// The printable part of a label near the edge of the paper.
    LabelAtEdge,
    /// A label for a hook.
    HookLabel,
    /// A ring card.
    RingCard,
}

/// Why a request doesn't fit the paper.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum DoesNotFit {
    /// A label sheet that is wider or higher than the paper.
    Reach {
        /// The direction.
        direction: Direction,
        /// The extent of the labels.
        reach: Mm,
        /// The size of the paper.
        paper: Mm,
    },
    /// Overlapping labels.
    Pitch {
        /// The direction.
        direction: Direction,
        /// The size of a label.
        size: Mm,
        /// The distance from one label to the next.
        pitch: Mm,
    },
    /// Pieces too small to write on, or larger than the page.
    Size {
        /// The kind of piece.
        piece: Piece,
        /// The requested width and height.
        size: (Mm, Mm),
        /// The smallest allowed size.
        least: (Mm, Mm),
        /// The largest allowed size.
        most: (Mm, Mm),
    },
    /// No label remains on the sheet.
    Skip {
        /// The number to skip.
        skip: usize,
        /// The number of labels.
        all: usize,
    },
}

impl DoesNotFit {
    /// The error and the remedy, as a sentence.
    #[must_use]
    pub(crate) fn sentence(&self) -> String {
        let way = |direction| match direction {
            Direction::Across => "across",
            Direction::Down => "down",
        };
        match self {
            Self::Reach {
                direction,
                reach,
                paper,
            } => text::labels_reach(way(*direction), reach, paper),
            Self::Pitch {
                direction,
                size,
                pitch,
            } => text::labels_overlap(way(*direction), size, pitch),
            Self::Size {
                piece,
                size,
                least,
                most,
            } => {
                let what = match piece {
                    Piece::Label => "label",
                    Piece::LabelAtEdge => "label that near the edge",
                    Piece::HookLabel => "hook label",
                    Piece::RingCard => "card",
                };
                text::wrong_size(what, size, least, most)
            }
            Self::Skip { skip, all } => text::too_many_skipped(*skip, *all),
        }
    }
}

impl Sheet {
    #[must_use]
    pub(crate) const fn size(self) -> (Mm, Mm) {
        let (short, long) = match self.paper {
            Paper::A4 => (Mm::whole(210), Mm::whole(297)),
            Paper::Letter => (Mm::hundredths(21_590), Mm::hundredths(27_940)),
        };
        if self.landscape {
            (long, short)
        } else {
            (short, long)
        }
    }

    #[must_use]
    pub(crate) const fn whole(self) -> Area {
        let (w, h) = self.size();
        Area::new(Mm::ZERO, Mm::ZERO, w, h)
    }

    /// The printable area.
    #[must_use]
    pub(crate) fn printable(self) -> Area {
        self.whole().inset(EDGE)
    }

    /// The printable part above the foot.
    #[must_use]
    pub(crate) fn body(self) -> Area {
        let all = self.printable();
        all.rows(Mm::ZERO, all.h - FOOT)
    }

    /// The foot: a 50 mm line to check the print size, and words.
    #[must_use]
    pub(crate) fn foot(self, words: &str) -> Item {
        let all = self.printable();
        let mut item = Item::new(all.rows(all.h - FOOT, all.h), About::Words);
        let whole = item.whole();
        let (y, tick) = (FOOT / 2, Mm::hundredths(80));
        let pen = Pen::line(20, BLACK);
        let (from, to) = (Mm::whole(1), Mm::whole(51));
        item.line((from, y), (to, y), pen);
        for x in [from, to] {
            item.line((x, y - tick), (x, y + tick), pen);
        }
        let text = text::foot(words);
        let size = Mm::hundredths(250);
        item.text(
            whole.columns(Mm::whole(53), whole.w),
            &text,
            size,
            Mm::hundredths(180),
            PLAIN,
        );
        item
    }
}

/// A grid of equal pieces on each page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Grid {
    /// The first piece of a page.
    pub first: Area,
    /// Distance from one piece to the next, across and down.
    pub pitch: (Mm, Mm),
    /// Pieces in a row.
    pub columns: usize,
    /// Rows of pieces.
    pub rows: usize,
}

impl Grid {
    /// As many pieces as fit above the foot, with a gap for cutting, centred horizontally.
    ///
    /// # Errors
    /// When a piece is smaller than the least size or doesn't fit.
    pub(crate) fn packed(
        sheet: Sheet,
        piece: Piece,
        (w, h): (Mm, Mm),
        least: (Mm, Mm),
    ) -> Result<Self, DoesNotFit> {
        let body = sheet.body();
        if w < least.0 || h < least.1 || w > body.w || h > body.h {
            return Err(DoesNotFit::Size {
                piece,
                size: (w, h),
                least,
                most: (body.w, body.h),
            });
        }
        let (columns, rows) = (body.w.fits(w, GAP), body.h.fits(h, GAP));
        let used = (w + GAP).times(columns) - GAP;
        Ok(Self {
            first: Area::new(body.x + (body.w - used) / 2, body.y, w, h),
            pitch: (w + GAP, h + GAP),
            columns,
            rows,
        })
    }

    /// Pieces on a page.
    #[must_use]
    pub(crate) const fn on_a_page(&self) -> usize {
        self.columns * self.rows
    }

    /// The page and the area of a piece, both counted from 0. O(1).
    #[must_use]
    pub(crate) fn place(&self, piece: usize) -> (usize, Area) {
        let all = self.on_a_page().max(1);
        let (page, on_page) = (piece / all, piece % all);
        let (row, column) = (on_page / self.columns.max(1), on_page % self.columns.max(1));
        let at = Area {
            x: self.first.x + self.pitch.0.times(column),
            y: self.first.y + self.pitch.1.times(row),
            ..self.first
        };
        (page, at)
    }
}

/// A colour mixed with white: `parts` tenths of the colour.
#[must_use]
pub(crate) fn tint(colour: Srgb, parts: u16) -> Srgb {
    let mix = |c: u8| {
        let mixed = (u16::from(c) * parts.min(10) + 255 * (10 - parts.min(10))) / 10;
        u8::try_from(mixed).unwrap_or(u8::MAX)
    };
    Srgb::new(mix(colour.r), mix(colour.g), mix(colour.b))
}
