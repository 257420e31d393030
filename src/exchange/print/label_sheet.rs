//! A sheet of labels by its own measurements.

use std::str::FromStr;

use super::mm::{Mm, ParseLengthError};
use super::paper::{DoesNotFit, Grid, Sheet};

/// The width of a label where none is given: three in a row on either paper.
pub const USUAL_WIDTH: Mm = Mm::whole(60);
/// The height of a label where none is given.
pub const USUAL_HEIGHT: Mm = Mm::whole(28);
/// The smallest label that is written on.
pub const LEAST: (Mm, Mm) = (Mm::whole(20), Mm::whole(10));
/// Most columns or rows.
const MOST: usize = 100;

/// What is known of a sheet; what is not given follows from the rest.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct LabelSheet {
    /// Labels in a row; as many as the paper has room for if not given.
    pub columns: Option<usize>,
    /// Rows of labels; likewise.
    pub rows: Option<usize>,
    /// The width of a label.
    pub width: Option<Mm>,
    /// The height of a label.
    pub height: Option<Mm>,
    /// From the left edge of the paper to the first label; if not given, both edges are alike.
    pub left: Option<Mm>,
    /// From the upper edge of the paper to the first label; likewise.
    pub top: Option<Mm>,
    /// From the left side of a label to that of the next; its width if not given.
    pub across: Option<Mm>,
    /// From the upper side of a label to that of the next; its height if not given.
    pub down: Option<Mm>,
}

/// A text that does not measure a sheet.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ParseSheetError {
    /// A word that is not understood.
    #[error("'{it}' is no measurement; write columns, rows, width, height, left, top, across \
         and down like columns=3,rows=8,width=60,height=33.5 (in mm)", it = _0)]
    Word(String),
    /// A number of columns or rows that no sheet has.
    #[error("'{it}' is no number of labels; give 1 to {MOST}", it = _0)]
    Count(String),
    /// A measurement that is no length.
    #[error(transparent)]
    Length(#[from] ParseLengthError),
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

/// One direction of a sheet.
struct Side {
    name: &'static str,
    paper: Mm,
    size: Mm,
    pitch: Option<Mm>,
    count: Option<usize>,
    start: Option<Mm>,
}

impl Side {
    /// The start of the first label, the pitch and the count.
    fn laid(&self) -> Result<(Mm, Mm, usize), DoesNotFit> {
        let pitch = self.pitch.unwrap_or(self.size);
        if pitch < self.size {
            return Err(DoesNotFit::Pitch {
                side: self.name,
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
                side: self.name,
                reach,
                paper: self.paper,
            });
        }
        Ok((start, pitch, count))
    }
}

impl LabelSheet {
    /// The grid of its labels on a paper.
    ///
    /// # Errors
    /// When labels are too small, lie on one another or reach beyond the paper.
    pub fn grid(&self, sheet: Sheet) -> Result<Grid, DoesNotFit> {
        let (paper_w, paper_h) = sheet.size();
        let (w, h) = (
            self.width.unwrap_or(USUAL_WIDTH),
            self.height.unwrap_or(USUAL_HEIGHT),
        );
        if w < LEAST.0 || h < LEAST.1 || w > paper_w || h > paper_h {
            return Err(DoesNotFit::Size {
                what: "label",
                w,
                h,
                least_w: LEAST.0,
                least_h: LEAST.1,
                most_w: paper_w,
                most_h: paper_h,
            });
        }
        let across = Side {
            name: "across",
            paper: paper_w,
            size: w,
            pitch: self.across,
            count: self.columns,
            start: self.left,
        };
        let down = Side {
            name: "down",
            paper: paper_h,
            size: h,
            pitch: self.down,
            count: self.rows,
            start: self.top,
        };
        let (x, pitch_x, columns) = across.laid()?;
        let (y, pitch_y, rows) = down.laid()?;
        Ok(Grid {
            first: super::mm::Area::new(x, y, w, h),
            pitch: (pitch_x, pitch_y),
            columns,
            rows,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exchange::print::paper::Paper;

    const A4: Sheet = Sheet {
        paper: Paper::A4,
        landscape: false,
    };

    #[test]
    fn a_sheet_is_as_it_was_measured_and_in_the_middle_else() {
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
    fn sheets_that_cannot_be_are_refused() {
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
