//! The line of column names.

use std::fmt;

use super::error::{FileError, shown};
use super::table::Row;

/// A column that is understood.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Column {
    /// The maker's range.
    Range,
    /// The number on the card.
    Number,
    /// The colour's name.
    Name,
    /// The colour, `#RRGGBB`.
    Hex,
    /// The family.
    Family,
    /// Lengths on the card.
    Lengths,
    /// Skeins, cut onto the card or not; see [`read_cards`](super::read_stock).
    Skeins,
    /// Uncut skeins.
    Uncut,
    /// The dye lot.
    DyeLot,
    /// The mark of the hook where the card hangs.
    Hook,
    /// A note.
    Note,
    /// What a split card is told by among those of its number: the project, as in its name.
    SplitCardOf,
    /// The symbol in a pattern's chart.
    Symbol,
    /// Strands in the needle.
    Strands,
    /// Full crosses.
    Stitches,
    /// Half stitches.
    Half,
    /// Quarter stitches.
    Quarter,
    /// Three-quarter stitches.
    ThreeQuarter,
    /// Backstitch, in squares of the chart.
    Backstitch,
    /// Strands in the needle for backstitch.
    BackstitchStrands,
    /// French knots.
    FrenchKnots,
}

impl Column {
    /// The columns of a card list, in the order they are written.
    pub const OF_CARD_LIST: [Self; 12] = [
        Self::Range,
        Self::Number,
        Self::Name,
        Self::Hex,
        Self::Family,
        Self::Lengths,
        Self::Skeins,
        Self::Uncut,
        Self::DyeLot,
        Self::Hook,
        Self::Note,
        Self::SplitCardOf,
    ];

    /// The columns of a range list.
    pub const OF_SHADES: [Self; 4] = [Self::Number, Self::Name, Self::Hex, Self::Family];

    /// The columns of a pattern's key.
    pub const OF_KEY: [Self; 13] = [
        Self::Symbol,
        Self::Range,
        Self::Number,
        Self::Name,
        Self::Hex,
        Self::Strands,
        Self::Stitches,
        Self::Half,
        Self::Quarter,
        Self::ThreeQuarter,
        Self::Backstitch,
        Self::BackstitchStrands,
        Self::FrenchKnots,
    ];

    /// The columns of a list of what was seen on the wall.
    pub const OF_ROLL_CALL: [Self; 3] = [Self::Hook, Self::Number, Self::Range];

    /// The headers that mean this column, as [`key`] leaves them. The first is the one written.
    const fn headers(self) -> &'static [&'static str] {
        match self {
            Self::Range => &["range", "maker", "brand", "manufacturer"],
            Self::Number => &[
                "number",
                "no",
                "no.",
                "nr",
                "nr.",
                "num",
                "#",
                "code",
                "shade",
                "shadenumber",
                "shadeno",
                "colournumber",
                "colornumber",
                "colourno",
                "colorno",
                "colourcode",
                "colorcode",
            ],
            Self::Name => &[
                "name",
                "colourname",
                "colorname",
                "shadename",
                "description",
            ],
            Self::Hex => &["hex", "colour", "color", "rgb", "srgb", "hexcode"],
            Self::Family => &["family", "group", "colourfamily", "colorfamily"],
            Self::Lengths => &["lengths", "length", "lengthsleft"],
            Self::Skeins => &["skeins", "skein"],
            Self::Uncut => &[
                "uncut",
                "uncutskeins",
                "reserve",
                "spareskeins",
                "reserveskeins",
            ],
            Self::DyeLot => &["dyelot", "lot", "lotnumber"],
            Self::Hook => &["hook", "mark", "place", "home", "position"],
            Self::Note => &["note", "notes", "remark", "remarks", "comment", "comments"],
            Self::SplitCardOf => &["splitofproject", "splitof", "splitproject"],
            Self::Symbol => &["symbol", "sign", "sym", "chartsymbol"],
            Self::Strands => &["strands", "strand", "ply", "strandsused", "crossstrands"],
            Self::Stitches => &[
                "stitches",
                "stitch",
                "stitchcount",
                "crosses",
                "fullstitches",
                "fullcrosses",
                "full",
                "crossstitches",
            ],
            Self::Half => &["half", "halfstitches", "halves", "halfcrosses", "1/2"],
            Self::Quarter => &["quarter", "quarterstitches", "quarters", "1/4"],
            Self::ThreeQuarter => &[
                "threequarter",
                "threequarterstitches",
                "threequarters",
                "3/4",
            ],
            Self::Backstitch => &[
                "backstitch",
                "backstitches",
                "backstitchlength",
                "backstitchsquares",
                "outline",
            ],
            Self::BackstitchStrands => &["backstitchstrands", "outlinestrands"],
            Self::FrenchKnots => &["frenchknots", "frenchknot", "knots", "knot"],
        }
    }

    /// The column of a kind of list that a header means, capitals, spaces, hyphens and underscores
    /// aside.
    #[must_use]
    pub fn called(header: &str, known: &[Self]) -> Option<Self> {
        let key = key(header);
        let mut known = known.iter();
        known
            .find(|column| column.headers().contains(&key.as_str()))
            .copied()
    }

    /// The header this column is written under.
    #[must_use]
    pub const fn title(self) -> &'static str {
        match self {
            Self::DyeLot => "dye lot",
            Self::SplitCardOf => "split of project",
            Self::ThreeQuarter => "three-quarter",
            Self::BackstitchStrands => "backstitch strands",
            Self::FrenchKnots => "french knots",
            _ => self.headers()[0],
        }
    }
}

impl fmt::Display for Column {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.title())
    }
}

/// What headers are compared by: lower case, without spaces, hyphens and underscores.
fn key(header: &str) -> String {
    let kept = |c: &char| !c.is_whitespace() && !matches!(c, '-' | '_');
    header
        .chars()
        .filter(kept)
        .flat_map(char::to_lowercase)
        .collect()
}

/// Which field of a row is which column.
#[derive(Debug, Clone)]
pub(super) struct Header {
    /// The columns understood, each with its place in a row, in file order.
    pub(super) columns: Vec<(Column, usize)>,
    /// The headers not understood.
    pub(super) ignored: Vec<String>,
    /// Fields in a row.
    pub(super) width: usize,
}

impl Header {
    /// Matches a row of headers to the columns a list may have.
    pub(super) fn of(row: &Row<'_>, known: &[Column]) -> Result<Self, FileError> {
        let mut columns: Vec<(Column, usize)> = Vec::new();
        let mut ignored = Vec::new();
        for (at, header) in row.fields.iter().enumerate() {
            let Some(column) = Column::called(header, known) else {
                ignored.push(shown(header));
                continue;
            };
            if let Some(&(_, first)) = columns.iter().find(|(other, _)| *other == column) {
                return Err(FileError::ColumnTwice {
                    column,
                    first: shown(&row.fields[first]),
                    second: shown(header),
                });
            }
            columns.push((column, at));
        }
        if !columns.iter().any(|(column, _)| *column == Column::Number) {
            return Err(FileError::NoNumberColumn {
                found: row.fields.iter().map(|header| shown(header)).collect(),
                known: known.to_vec(),
            });
        }
        Ok(Self {
            columns,
            ignored,
            width: row.fields.len(),
        })
    }

    /// Whether a column is there.
    pub(super) fn has(&self, column: Column) -> bool {
        self.columns.iter().any(|(other, _)| *other == column)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exchange::table::{Delimiter, Rows};

    fn header(line: &str) -> Result<Header, FileError> {
        let row = Rows::new(line, Delimiter::Comma).next().unwrap().unwrap();
        Header::of(&row, &Column::OF_CARD_LIST)
    }

    #[test]
    fn no_header_means_two_columns() {
        for columns in [&Column::OF_CARD_LIST[..], &Column::OF_KEY] {
            let mut all: Vec<_> = columns.iter().flat_map(|c| c.headers()).collect();
            let count = all.len();
            all.sort_unstable();
            all.dedup();
            assert_eq!(all.len(), count);
            assert!(all.iter().all(|header| key(header) == **header));
        }
    }

    #[test]
    fn a_column_is_known_by_the_title_it_is_written_under() {
        for column in Column::OF_CARD_LIST.into_iter().chain(Column::OF_KEY) {
            assert!(column.headers().contains(&key(column.title()).as_str()));
        }
    }

    #[test]
    fn capitals_and_spaces_do_not_matter() {
        let read = header(" Colour  Number ,BRAND,dye_lot,Shoe Size").unwrap();
        let columns: Vec<_> = read.columns.iter().map(|(column, _)| *column).collect();
        assert_eq!(columns, [Column::Number, Column::Range, Column::DyeLot]);
        assert_eq!(read.ignored, ["Shoe Size"]);
    }

    #[test]
    fn a_column_that_stands_twice_is_refused() {
        let twice = header("number,name,No").unwrap_err();
        assert_eq!(
            twice.to_string(),
            "'number' and 'No' both mean the column 'number'; rename or delete one"
        );
    }

    #[test]
    fn without_a_number_the_error_says_what_there_is() {
        let error = header("id\u{1b}[2J,name").unwrap_err().to_string();
        assert!(error.contains("'id\u{FFFD}[2J', 'name'"), "{error}");
        assert!(error.contains("'number'"), "{error}");
        let error = header(&"x,".repeat(500)).unwrap_err().to_string();
        assert!(error.contains("489 more"), "{error}");
    }
}
