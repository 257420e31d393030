//! What is on the pages, in millimetres, before it becomes SVG or HTML.

use super::mm::{Area, Mm};
use super::text::{Fitted, fit, lines, width};
use crate::model::board::HookRef;
use crate::model::colour::Srgb;
use crate::model::ids::CardId;

/// Black ink.
pub const BLACK: Srgb = Srgb::new(0, 0, 0);
/// What a pencil leaves: lighter than print, still 4.5:1 on white (WCAG 2.2, 1.4.3).
pub const PENCIL: Srgb = Srgb::new(0x76, 0x76, 0x76);
/// Where to cut.
pub const CUT: Srgb = Srgb::new(0xA8, 0xA8, 0xA8);

/// A stroke of the pen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pen {
    /// Its width.
    pub width: Mm,
    /// Its colour.
    pub colour: Srgb,
    /// Whether it is broken into dashes.
    pub dashed: bool,
}

impl Pen {
    /// A whole line.
    #[must_use]
    pub const fn line(hundredths: i32, colour: Srgb) -> Self {
        Self {
            width: Mm::hundredths(hundredths),
            colour,
            dashed: false,
        }
    }

    /// A dashed line.
    #[must_use]
    pub const fn dashes(hundredths: i32, colour: Srgb) -> Self {
        Self {
            width: Mm::hundredths(hundredths),
            colour,
            dashed: true,
        }
    }
}

/// Where in its area a text stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Align {
    /// At the left.
    Left,
    /// In the middle.
    Middle,
    /// At the right.
    Right,
}

/// How a text looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Style {
    /// Where it stands.
    pub align: Align,
    /// Whether it is bold.
    pub bold: bool,
    /// Whether it is slanted, as what is written in pencil.
    pub slanted: bool,
    /// Its colour.
    pub ink: Srgb,
}

/// Plain words.
pub const PLAIN: Style = Style {
    align: Align::Left,
    bold: false,
    slanted: false,
    ink: BLACK,
};
/// Bold words.
pub const BOLD: Style = Style {
    bold: true,
    ..PLAIN
};
/// In pencil: it may change.
pub const IN_PENCIL: Style = Style {
    slanted: true,
    ink: PENCIL,
    ..PLAIN
};

impl Style {
    /// The same, standing elsewhere in its area.
    #[must_use]
    pub const fn at(self, align: Align) -> Self {
        Self { align, ..self }
    }

    /// The same in another colour.
    #[must_use]
    pub const fn in_colour(self, ink: Srgb) -> Self {
        Self { ink, ..self }
    }
}

/// Something drawn, in the millimetres of its item: 0, 0 is the item's upper left corner.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Shape {
    /// A rectangle.
    Rect {
        /// Where.
        at: Area,
        /// Its filling.
        fill: Option<Srgb>,
        /// Its outline.
        pen: Option<Pen>,
    },
    /// A circle that fills a square.
    Disc {
        /// The square.
        at: Area,
        /// Its filling.
        fill: Option<Srgb>,
        /// Its outline.
        pen: Option<Pen>,
    },
    /// A straight line.
    Line {
        /// From where: x and y.
        from: (Mm, Mm),
        /// To where.
        to: (Mm, Mm),
        /// How.
        pen: Pen,
    },
    /// A line of text that fits its area.
    Text {
        /// The area; the text stands in the middle of its height.
        at: Area,
        /// The text and its size.
        text: Fitted,
        /// How it looks.
        style: Style,
    },
}

impl Shape {
    /// The smallest area that holds it, the width of the pen aside.
    #[must_use]
    pub fn bounds(&self) -> Area {
        match self {
            Self::Rect { at, .. } | Self::Disc { at, .. } | Self::Text { at, .. } => *at,
            Self::Line {
                from: (x1, y1),
                to: (x2, y2),
                ..
            } => {
                let (x, y) = (*x1.min(x2), *y1.min(y2));
                Area::new(x, y, *x1.max(x2) - x, *y1.max(y2) - y)
            }
        }
    }
}

/// What an item is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum About {
    /// The label of a card.
    Card(CardId),
    /// A hook: its mark, or its cell on a map.
    Hook(HookRef),
    /// A card to be cut out that holds these lines, counted from 0.
    Lines(std::ops::Range<usize>),
    /// Words about the page.
    Words,
}

/// A piece of a page: a label, a cell, a card to be cut out. Nothing is drawn beyond it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Item {
    /// Where it is on the page.
    pub at: Area,
    /// What it is about.
    pub about: About,
    /// What is drawn, the last on top.
    pub shapes: Vec<Shape>,
}

impl Item {
    /// An empty item.
    #[must_use]
    pub const fn new(at: Area, about: About) -> Self {
        Self {
            at,
            about,
            shapes: Vec::new(),
        }
    }

    /// The whole of it in its own millimetres.
    #[must_use]
    pub const fn whole(&self) -> Area {
        Area::new(Mm::ZERO, Mm::ZERO, self.at.w, self.at.h)
    }

    /// Draws a rectangle.
    pub fn rect(&mut self, at: Area, fill: Option<Srgb>, pen: Option<Pen>) {
        self.shapes.push(Shape::Rect { at, fill, pen });
    }

    /// Draws a circle into a square.
    pub fn disc(&mut self, at: Area, fill: Option<Srgb>, pen: Option<Pen>) {
        self.shapes.push(Shape::Disc { at, fill, pen });
    }

    /// Draws a line.
    pub fn line(&mut self, from: (Mm, Mm), to: (Mm, Mm), pen: Pen) {
        self.shapes.push(Shape::Line { from, to, pen });
    }

    /// Draws both diagonals of an area.
    pub fn cross(&mut self, at: Area, pen: Pen) {
        self.line((at.x, at.y), (at.right(), at.bottom()), pen);
        self.line((at.x, at.bottom()), (at.right(), at.y), pen);
    }

    /// Outlines the item itself, the whole line within it.
    pub fn outline(&mut self, pen: Pen) {
        self.rect(self.whole().inset(pen.width / 2), None, Some(pen));
    }

    /// Writes a line as large as is wanted and its area allows, at least in a small size, cut if need
    /// be. An area too low for the least size stays empty.
    pub fn text(&mut self, at: Area, text: &str, most: Mm, least: Mm, style: Style) {
        // Room for letters that go below the line and for accents.
        let by_height = at.h.percent(83);
        let most = most.min(by_height);
        let least = least.min(most);
        if most <= Mm::ZERO || at.w <= Mm::ZERO {
            return;
        }
        // Bold letters are a little wider.
        let room = if style.bold { at.w.percent(88) } else { at.w };
        let text = fit(text, most, least, room);
        if !text.text.is_empty() {
            self.shapes.push(Shape::Text { at, text, style });
        }
    }

    /// Writes a text over as many lines as an area has, in one size.
    pub fn paragraph(&mut self, at: Area, text: &str, size: Mm, style: Style) {
        let step = size.percent(125);
        let most = at.h.fits(step, Mm::ZERO);
        let room = if style.bold { at.w.percent(88) } else { at.w };
        for (row, line) in lines(text, size, room, most).iter().enumerate() {
            let from = step.times(row);
            self.text(at.rows(from, from + step), line, size, size, style);
        }
    }

    /// Fills an area with slanted lines. O(area / distance).
    pub fn hatch(&mut self, at: Area, distance: Mm, pen: Pen) {
        // A line x + y = sum crosses the area where both stay inside.
        let mut sum = distance;
        while sum < at.w + at.h && distance > Mm::ZERO {
            let x1 = sum.min(at.w);
            let y2 = sum.min(at.h);
            self.line(
                (at.x + x1, at.y + (sum - x1)),
                (at.x + (sum - y2), at.y + y2),
                pen,
            );
            sum = sum + distance;
        }
    }

    /// A swatch with its hex beneath it, or a crossed box where the colour is not known.
    pub fn swatch(&mut self, at: Area, colour: Option<Srgb>) {
        let under = at.h.percent(30).min(Mm::hundredths(330));
        let (patch, words) = (at.rows(Mm::ZERO, at.h - under), at.rows(at.h - under, at.h));
        let pen = Pen::line(15, BLACK);
        self.rect(patch.inset(Mm::hundredths(10)), colour, Some(pen));
        let text = match colour {
            Some(colour) => colour.to_string(),
            None => {
                self.cross(patch.inset(Mm::hundredths(10)), pen);
                "no hex".to_owned()
            }
        };
        // Never cut: half a hex is another colour.
        let most = Mm::hundredths(260).min(words.h.percent(83));
        let size = fit(&text, most, Mm::hundredths(100), words.w).size;
        if width(&text, size) <= words.w {
            self.text(words, &text, size, size, PLAIN.at(Align::Middle));
        }
    }
}

/// One page.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Page {
    /// What is on it.
    pub items: Vec<Item>,
}

/// Pages of one size.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Document {
    /// What it is.
    pub title: String,
    /// The width of its pages.
    pub width: Mm,
    /// The height of its pages.
    pub height: Mm,
    /// Its pages, at least one.
    pub pages: Vec<Page>,
}
