//! The content of pages in millimetres, before it becomes SVG or HTML, and estimates of text width.
//!
//! The printer's font is unknown, so widths are estimated high: text is hardly ever wider. Per
//! character, in hundredths of the font size: 0 for combining characters, 106 for wide East Asian
//! ones (Unicode Standard Annex #11), 100 for the widest letters, 84 for signs and 78 for other
//! capitals, 65 for the rest. Common sans fonts stay within that; no source. Any text that is wider
//! still is clipped at the edge of its item.
//!
//! Lengths on paper, and areas made of them, are exact to a hundredth of a millimetre.

use std::fmt;
use std::ops::{Add, Div, Mul, Sub};
use std::str::FromStr;

use unicode_segmentation::UnicodeSegmentation;
use unicode_width::UnicodeWidthStr;

use crate::model::board::HookRef;
use crate::model::colour::Srgb;
use crate::model::ids::CardId;
use crate::model::length::{Length, Unit};
use crate::text::print::not_a_length;

pub(crate) const BLACK: Srgb = Srgb::new(0, 0, 0);
/// The grey of a pencil: lighter than print, still 4.5:1 on white (WCAG 2.2, 1.4.3).
pub(crate) const PENCIL: Srgb = Srgb::new(0x76, 0x76, 0x76);
/// The colour of cutting lines.
pub(crate) const CUT: Srgb = Srgb::new(0xA8, 0xA8, 0xA8);

/// A line style.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Pen {
    pub width: Mm,
    pub colour: Srgb,
    pub dashed: bool,
}

impl Pen {
    /// A solid line.
    #[must_use]
    pub(crate) const fn line(hundredths: i32, colour: Srgb) -> Self {
        Self {
            width: Mm::hundredths(hundredths),
            colour,
            dashed: false,
        }
    }

    #[must_use]
    pub(crate) const fn dashes(hundredths: i32, colour: Srgb) -> Self {
        Self {
            width: Mm::hundredths(hundredths),
            colour,
            dashed: true,
        }
    }
}

/// The horizontal position of a text in its area.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Align {
    Left,
    Middle,
    Right,
}

/// The style of a text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Style {
    pub align: Align,
    pub bold: bool,
    /// Italic, for text in pencil.
    pub slanted: bool,
    pub ink: Srgb,
}

pub(crate) const PLAIN: Style = Style {
    align: Align::Left,
    bold: false,
    slanted: false,
    ink: BLACK,
};
pub(crate) const BOLD: Style = Style {
    bold: true,
    ..PLAIN
};
/// Pencil style for text that may change.
pub(crate) const IN_PENCIL: Style = Style {
    slanted: true,
    ink: PENCIL,
    ..PLAIN
};

impl Style {
    /// The same style with another alignment.
    #[must_use]
    pub(crate) const fn at(self, align: Align) -> Self {
        Self { align, ..self }
    }

    /// The same style in another colour.
    #[must_use]
    pub(crate) const fn in_colour(self, ink: Srgb) -> Self {
        Self { ink, ..self }
    }
}

/// A shape in the millimetres of its item: 0, 0 is the item's upper left corner.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Shape {
    Rect {
        at: Area,
        fill: Option<Srgb>,
        /// The outline.
        pen: Option<Pen>,
    },
    /// A circle inscribed in a square.
    Disc {
        at: Area,
        fill: Option<Srgb>,
        /// The outline.
        pen: Option<Pen>,
    },
    Line {
        /// The start: x and y.
        from: (Mm, Mm),
        /// The end: x and y.
        to: (Mm, Mm),
        pen: Pen,
    },
    /// A line of text that fits its area.
    Text {
        /// The area; the text is centred vertically.
        at: Area,
        text: Fitted,
        style: Style,
    },
}

#[cfg(test)]
impl Shape {
    /// The smallest area that holds it, ignoring the width of the pen.
    pub(crate) fn bounds(&self) -> Area {
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

/// The subject of an item.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum About {
    /// The label of a card.
    Card(CardId),
    /// A hook: its label, or its cell on a map.
    Hook(HookRef),
    /// A cutout card that holds these lines, counted from 0.
    Lines(std::ops::Range<usize>),
    /// Words about the page.
    Words,
}

/// A part of a page: a label, a cell, a cutout card. Nothing is drawn beyond it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Item {
    /// Its area on the page.
    pub at: Area,
    pub about: About,
    /// The shapes, last on top.
    pub shapes: Vec<Shape>,
}

impl Item {
    /// An empty item.
    #[must_use]
    pub(crate) const fn new(at: Area, about: About) -> Self {
        Self {
            at,
            about,
            shapes: Vec::new(),
        }
    }

    /// The whole item in its own millimetres.
    #[must_use]
    pub(crate) const fn whole(&self) -> Area {
        Area::new(Mm::ZERO, Mm::ZERO, self.at.w, self.at.h)
    }

    pub(crate) fn rect(&mut self, at: Area, fill: Option<Srgb>, pen: Option<Pen>) {
        self.shapes.push(Shape::Rect { at, fill, pen });
    }

    /// Draws a circle inscribed in a square.
    pub(crate) fn disc(&mut self, at: Area, fill: Option<Srgb>, pen: Option<Pen>) {
        self.shapes.push(Shape::Disc { at, fill, pen });
    }

    pub(crate) fn line(&mut self, from: (Mm, Mm), to: (Mm, Mm), pen: Pen) {
        self.shapes.push(Shape::Line { from, to, pen });
    }

    /// Draws both diagonals of an area.
    pub(crate) fn cross(&mut self, at: Area, pen: Pen) {
        self.line((at.x, at.y), (at.right(), at.bottom()), pen);
        self.line((at.x, at.bottom()), (at.right(), at.y), pen);
    }

    /// Outlines the item itself, with the whole line inside it.
    pub(crate) fn outline(&mut self, pen: Pen) {
        self.rect(self.whole().inset(pen.width / 2), None, Some(pen));
    }

    /// Writes a line as large as `most` and its area allow, at least in the size `least`, cut if
    /// necessary. An area too low for the least size stays empty.
    pub(crate) fn text(&mut self, at: Area, text: &str, most: Mm, least: Mm, style: Style) {
        // Leaves room for descenders and accents.
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

    /// Writes a text over as many lines as fit an area, in one size.
    pub(crate) fn paragraph(&mut self, at: Area, text: &str, size: Mm, style: Style) {
        let step = size.percent(125);
        let most = at.h.fits(step, Mm::ZERO);
        let room = if style.bold { at.w.percent(88) } else { at.w };
        for (row, line) in lines(text, size, room, most).iter().enumerate() {
            let from = step.times(row);
            self.text(at.rows(from, from + step), line, size, size, style);
        }
    }

    /// Hatches an area with slanted lines. O(area / distance).
    pub(crate) fn hatch(&mut self, at: Area, distance: Mm, pen: Pen) {
        // The part of the line x + y = sum that is inside the area.
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

    /// Draws a swatch with its hex code beneath, or a crossed box for an unknown colour.
    pub(crate) fn swatch(&mut self, at: Area, colour: Option<Srgb>) {
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
        // Never cut: half a hex code is another colour.
        let most = Mm::hundredths(260).min(words.h.percent(83));
        let size = fit(&text, most, Mm::hundredths(100), words.w).size;
        if width(&text, size) <= words.w {
            self.text(words, &text, size, size, PLAIN.at(Align::Middle));
        }
    }
}

#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(crate) struct Page {
    pub items: Vec<Item>,
}

/// Pages of one size.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Document {
    pub title: String,
    pub width: Mm,
    pub height: Mm,
    /// Its pages, at least one.
    pub pages: Vec<Page>,
}

/// Replaces text that was cut off.
const ELLIPSIS: &str = "…";

/// The width of one grapheme in hundredths of the font size.
fn grapheme_width(grapheme: &str) -> i32 {
    match grapheme.chars().next() {
        Some('W' | 'M' | 'm' | 'w' | '@' | '%' | '—' | '…' | 'Œ' | 'Æ') => 100,
        Some('#' | '&' | '<' | '>' | '=' | '+' | '~') => 84,
        Some(c) if c.is_ascii_uppercase() => 78,
        Some('i' | 'j' | 'l' | '.' | ',' | '\'' | ':' | ';' | '|' | '!' | ' ') => 36,
        Some(c) if c.is_ascii() => 65,
        _ => match UnicodeWidthStr::width(grapheme) {
            0 => 0,
            1 => 80,
            wide => 53_i32.saturating_mul(i32::try_from(wide).unwrap_or(i32::MAX)),
        },
    }
}

/// The width of a text in a font size.
#[must_use]
pub(crate) fn width(text: &str, size: Mm) -> Mm {
    let units = text
        .graphemes(true)
        .map(grapheme_width)
        .fold(0, i32::saturating_add);
    let wide = i64::from(units) * i64::from(size.as_hundredths()) / 100;
    Mm::hundredths(i32::try_from(wide).unwrap_or(i32::MAX))
}

/// A text that fits.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Fitted {
    /// The text, possibly cut between graphemes, with an ellipsis for the rest.
    pub text: String,
    /// The font size.
    pub size: Mm,
}

/// Fits a text to a width: first by shrinking it, down to a least size, then by cutting it. Empty
/// if not even one grapheme and the ellipsis fit. O(text).
#[must_use]
pub(crate) fn fit(text: &str, most: Mm, least: Mm, room: Mm) -> Fitted {
    let fitted = |text: &str, size| Fitted {
        text: text.to_owned(),
        size,
    };
    if width(text, most) <= room {
        return fitted(text, most);
    }
    // In steps of a tenth of a millimetre; a size is a few millimetres.
    let step = Mm::hundredths(10);
    let mut size = most;
    while size > least {
        size = (size - step).max(least);
        if width(text, size) <= room {
            return fitted(text, size);
        }
    }
    let rest = room - width(ELLIPSIS, least);
    let mut end = 0;
    for (at, grapheme) in text.grapheme_indices(true) {
        let next = at + grapheme.len();
        if width(&text[..next], least) > rest {
            break;
        }
        end = next;
    }
    match text[..end].trim_end() {
        "" => fitted("", least),
        kept => fitted(&format!("{kept}{ELLIPSIS}"), least),
    }
}

/// Breaks a text into at most `most` lines of a width, between words if possible; the last line is
/// cut. O(text).
#[must_use]
pub(crate) fn lines(text: &str, size: Mm, room: Mm, most: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    let mut words = text.split_whitespace().peekable();
    while let Some(word) = words.peek() {
        let longer = if line.is_empty() {
            (*word).to_owned()
        } else {
            format!("{line} {word}")
        };
        let is_last = lines.len() + 1 >= most;
        if line.is_empty() || width(&longer, size) <= room || is_last {
            line = longer;
            words.next();
        } else {
            lines.push(std::mem::take(&mut line));
        }
    }
    if !line.is_empty() && lines.len() < most {
        lines.push(line);
    }
    lines
        .iter()
        .map(|line| fit(line, size, size, room).text)
        .collect()
}

/// A length in hundredths of a millimetre, so that sums are exact: 8.5 in is 215.9 mm.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Debug)]
pub(crate) struct Mm(i32);

/// The longest accepted length, in millimetres.
pub(crate) const LONGEST: i32 = 2_000;

/// A text that isn't a length.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct ParseLengthError(String);

impl ParseLengthError {
    /// The error and the remedy, as a sentence.
    #[must_use]
    pub(crate) fn sentence(&self) -> String {
        not_a_length(&self.0, LONGEST)
    }
}

impl Mm {
    pub(crate) const ZERO: Self = Self(0);

    #[must_use]
    pub(crate) const fn whole(mm: i32) -> Self {
        Self(mm * 100)
    }

    #[must_use]
    pub(crate) const fn hundredths(hundredths: i32) -> Self {
        Self(hundredths)
    }

    #[must_use]
    pub(crate) const fn as_hundredths(self) -> i32 {
        self.0
    }

    /// A percentage of it, rounded down.
    #[must_use]
    pub(crate) const fn percent(self, percent: i32) -> Self {
        Self(self.0 * percent / 100)
    }

    /// How many pieces of a size, with gaps between them, fit this length.
    #[must_use]
    pub(crate) fn fits(self, size: Self, gap: Self) -> usize {
        let pitch = (size.0 + gap.0).max(1);
        usize::try_from((self.0 + gap.0) / pitch).unwrap_or(0)
    }

    /// This length multiplied by a count.
    #[must_use]
    pub(crate) fn times(self, count: usize) -> Self {
        Self(
            self.0
                .saturating_mul(i32::try_from(count).unwrap_or(i32::MAX)),
        )
    }
}

impl Add for Mm {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

impl Sub for Mm {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }
}

impl Mul<i32> for Mm {
    type Output = Self;
    fn mul(self, times: i32) -> Self {
        Self(self.0.saturating_mul(times))
    }
}

impl Div<i32> for Mm {
    type Output = Self;
    /// Rounded down. Nothing here divides by 0.
    fn div(self, by: i32) -> Self {
        Self(self.0.div_euclid(by.max(1)))
    }
}

impl fmt::Display for Mm {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (sign, size) = (if self.0 < 0 { "-" } else { "" }, self.0.unsigned_abs());
        let (whole, part) = (size / 100, size % 100);
        match part {
            0 => write!(f, "{sign}{whole}"),
            part if part % 10 == 0 => write!(f, "{sign}{whole}.{}", part / 10),
            part => write!(f, "{sign}{whole}.{part:02}"),
        }
    }
}

impl FromStr for Mm {
    type Err = ParseLengthError;

    fn from_str(text: &str) -> Result<Self, ParseLengthError> {
        let read = Length::read(text, Unit::Mm);
        let hundredths = read.ok().and_then(|length| i32::try_from(length.0).ok());
        hundredths
            .map(Self)
            .filter(|length| *length <= Self::whole(LONGEST))
            .ok_or_else(|| ParseLengthError(text.chars().take(40).collect()))
    }
}

/// An upright rectangle; x grows to the right, y down.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub(crate) struct Area {
    /// The left side.
    pub x: Mm,
    /// The upper side.
    pub y: Mm,
    pub w: Mm,
    pub h: Mm,
}

impl Area {
    #[must_use]
    pub(crate) const fn new(x: Mm, y: Mm, w: Mm, h: Mm) -> Self {
        Self { x, y, w, h }
    }

    #[must_use]
    pub(crate) fn right(self) -> Mm {
        self.x + self.w
    }

    #[must_use]
    pub(crate) fn bottom(self) -> Mm {
        self.y + self.h
    }

    /// The area without a margin on all sides.
    #[must_use]
    pub(crate) fn inset(self, edge: Mm) -> Self {
        Self::new(
            self.x + edge,
            self.y + edge,
            self.w - edge * 2,
            self.h - edge * 2,
        )
    }

    /// Whether another area is inside this one, edges included.
    #[cfg(test)]
    pub(crate) fn contains(self, other: Self) -> bool {
        other.x >= self.x
            && other.y >= self.y
            && other.right() <= self.right()
            && other.bottom() <= self.bottom()
    }

    /// Whether the insides of two areas have a point in common. Edges may touch.
    #[must_use]
    pub(crate) fn overlaps(self, other: Self) -> bool {
        self.x < other.right()
            && other.x < self.right()
            && self.y < other.bottom()
            && other.y < self.bottom()
    }

    /// The intersection of two areas; without width or height if it is empty.
    #[must_use]
    pub(crate) fn common(self, other: Self) -> Self {
        let (x, y) = (self.x.max(other.x), self.y.max(other.y));
        let w = self.right().min(other.right()) - x;
        let h = self.bottom().min(other.bottom()) - y;
        Self::new(x, y, w.max(Mm::ZERO), h.max(Mm::ZERO))
    }

    /// The strip between two heights, both measured from the upper side.
    #[must_use]
    pub(crate) fn rows(self, from: Mm, to: Mm) -> Self {
        Self::new(self.x, self.y + from, self.w, to - from)
    }

    /// The strip between two widths, both measured from the left side.
    #[must_use]
    pub(crate) fn columns(self, from: Mm, to: Mm) -> Self {
        Self::new(self.x + from, self.y, to - from, self.h)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const SIZE: Mm = Mm::whole(4);

    #[test]
    fn a_fitting_text_stays_and_others_shrink_then_lose_their_end() {
        let kept = fit("chalk", SIZE, SIZE, Mm::whole(60));
        assert_eq!((kept.text.as_str(), kept.size), ("chalk", SIZE));
        let small = fit("river slate", SIZE, Mm::whole(2), Mm::whole(20));
        assert_eq!(small.text, "river slate");
        assert!(small.size < SIZE && small.size >= Mm::whole(2));
        let cut = fit("river slate", SIZE, SIZE, Mm::whole(16));
        assert_eq!(cut.text, "river…");
        assert_eq!(fit("river", SIZE, SIZE, Mm::whole(1)).text, "");
    }

    #[test]
    fn wide_and_combining_characters_stay_whole() {
        assert_eq!(width("藍", SIZE), Mm::hundredths(424));
        assert_eq!(width("e\u{301}", SIZE), width("e", SIZE));
        let cut = fit(
            "e\u{301}e\u{301}e\u{301}e\u{301}",
            SIZE,
            SIZE,
            Mm::hundredths(950),
        );
        assert_eq!(cut.text, "e\u{301}e\u{301}…");
    }

    #[test]
    fn long_texts_wrap() {
        let got = lines("bracket of the lamp", Mm::whole(2), Mm::whole(13), 2);
        assert_eq!(got, ["bracket of", "the lamp"]);
        let got = lines("bracket of the lamp", Mm::whole(2), Mm::whole(13), 1);
        assert_eq!(got, ["bracket…"]);
    }

    proptest! {
        #[test]
        fn a_fitted_text_fits_and_keeps_its_start(text in "\\PC{0,30}", room in 0..6_000_i32) {
            let room = Mm::hundredths(room);
            let got = fit(&text, SIZE, Mm::whole(2), room);
            prop_assert!(width(&got.text, got.size) <= room || got.text.is_empty());
            let start = got.text.strip_suffix(ELLIPSIS).unwrap_or(&got.text);
            prop_assert!(text.starts_with(start));
            for line in lines(&text, SIZE, room, 3) {
                prop_assert!(width(&line, SIZE) <= room);
            }
        }
    }

    #[test]
    fn lengths_read_and_write() {
        for (text, hundredths, written) in [
            ("60", 6000, "60"),
            ("33.5", 3350, "33.5"),
            ("0.05", 5, "0.05"),
            ("215.90", 21590, "215.9"),
        ] {
            let length: Mm = text.parse().unwrap();
            assert_eq!(length, Mm::hundredths(hundredths));
            assert_eq!(length.to_string(), written);
        }
        for wrong in ["", "x", "-1", "1.", ".5", "2001", "99999", "1e3"] {
            assert!(wrong.parse::<Mm>().is_err(), "{wrong}");
        }
        assert_eq!(Mm::hundredths(-150).to_string(), "-1.5");
    }

    proptest! {
        #[test]
        fn written_lengths_read_back(hundredths in 0..=200_000_i32) {
            let length = Mm::hundredths(hundredths);
            prop_assert_eq!(length.to_string().parse(), Ok(length));
        }

        #[test]
        fn the_maximum_number_of_pieces_fits(
            total in 0..30_000_i32, size in 1..9_000_i32, gap in 0..900_i32,
        ) {
            let counted = (0..).find(|n| {
                (n + 1) * size + n * gap > total
            }).unwrap();
            let fits = Mm::hundredths(total).fits(Mm::hundredths(size), Mm::hundredths(gap));
            prop_assert_eq!(fits, usize::try_from(counted).unwrap());
        }
    }
}
