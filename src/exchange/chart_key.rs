//! A chart key: the colours of a chart, and the stitches worked in each.

use super::amount::{self, ParseAmountError};
use super::columns::Columns;
use super::sheet::{self, Cells, FileError, ListFile, RowError};
use super::table::Delimiter;
use crate::model::label::fold;
use crate::model::ring::NotionKind;
use crate::stash::columns::Column;
use crate::stash::command::import::KeyRow;

/// A parsed chart key.
pub type KeyFile = ListFile<KeyRow>;

/// The most stitches of one kind, or squares of backstitch, in a row.
const MOST_STITCHES: u32 = 1_000_000;
/// The most strands in a needle.
const MOST_STRANDS: u32 = 12;

/// Reads a chart key.
///
/// Columns, in any order, of which only `number` is required: `symbol`, `range`, `number`,
/// `name`, `hex`, `strands`, `stitches` (full crosses), `half`, `quarter`, `three-quarter`,
/// `backstitch`, `backstitch strands`, `french knots`, `notion` (bead, button, ornament, other) and
/// its `pieces`. Other common words for them are understood. A blend has several numbers, `447+96`,
/// and may give the strands of each, `1+2`. A bead line that only counts stitches needs as many
/// pieces.
///
/// Stitches are whole numbers up to `MOST_STITCHES`. `backstitch` is the length of the lines in
/// chart squares, rounded up. A colour may have several rows, for example one with a symbol for its
/// crosses and another for its backstitch. Rows are rejected as in
/// [`read_cards`](super::read_cards).
///
/// # Errors
/// See [`FileError`].
pub fn read_key(bytes: &[u8]) -> Result<KeyFile, FileError> {
    sheet::read(bytes, &Column::OF_KEY, key_row, |row| row.line)
}

/// Reads a chart key whose columns the user assigned, ignoring their titles; reads and rejects rows
/// as [`read_key`] does.
///
/// # Errors
/// See [`FileError`].
pub fn read_key_as(bytes: &[u8], columns: &Columns) -> Result<KeyFile, FileError> {
    let columns = (columns, &Column::OF_KEY[..]);
    sheet::read_as(bytes, columns, key_row, |row| row.line)
}

fn key_row(cells: &Cells<'_>) -> Result<KeyRow, RowError> {
    let stitches = |column| {
        number(cells, column, |text, delimiter| {
            amount::count(text, delimiter, MOST_STITCHES)
        })
    };
    let backstitch_strands = number(cells, Column::BackstitchStrands, |text, delimiter| {
        amount::count(text, delimiter, MOST_STRANDS)
    })?;
    let notion = notion(cells)?;
    let name = cells.text(Column::Name)?;
    let number_of = match cells.text(Column::Number)? {
        None if notion.is_some() && name.is_some() => String::new(),
        number => number.ok_or(RowError::NoNumber)?,
    };
    let (in_all, of_each) = in_needle(cells)?;
    let full = stitches(Column::Stitches)?;
    let pieces = stitches(Column::Pieces)?;
    Ok(KeyRow {
        line: cells.line(),
        symbol: cells.text(Column::Symbol)?,
        range: cells.text(Column::Range)?,
        number: number_of,
        name,
        colour: cells.colour()?,
        strands: in_all,
        strands_of_each: of_each,
        notion,
        pieces: if pieces == 0 && notion.is_some() {
            full
        } else {
            pieces
        },
        stitches: if notion.is_some() { 0 } else { full },
        half: stitches(Column::Half)?,
        quarter: stitches(Column::Quarter)?,
        three_quarter: stitches(Column::ThreeQuarter)?,
        backstitch: number(cells, Column::Backstitch, |text, delimiter| {
            amount::rounded_up(text, delimiter, MOST_STITCHES)
        })?,
        backstitch_strands: u8::try_from(backstitch_strands).unwrap_or_default(),
        french_knots: stitches(Column::FrenchKnots)?,
    })
}

/// The kind of notion named in a cell.
fn notion(cells: &Cells<'_>) -> Result<Option<NotionKind>, RowError> {
    let Some(text) = cells.text(Column::Notion)? else {
        return Ok(None);
    };
    let word = fold(&text);
    match word.strip_suffix('s').unwrap_or(&word) {
        "thread" | "floss" | "stitch" => Ok(None),
        "bead" => Ok(Some(NotionKind::Bead)),
        "button" => Ok(Some(NotionKind::Button)),
        "ornament" | "metallic ornament" => Ok(Some(NotionKind::MetallicOrnament)),
        "other" => Ok(Some(NotionKind::Other)),
        _ => Err(RowError::Notion(text)),
    }
}

/// Strands in the needle: the total, or one number for each thread of a blend, such as `1+2`.
fn in_needle(cells: &Cells<'_>) -> Result<(u8, Vec<u8>), RowError> {
    let column = Column::Strands;
    let Some(text) = cells.text(column)? else {
        return Ok((0, Vec::new()));
    };
    let counts = text
        .split('+')
        .map(|part| amount::count(part.trim(), cells.delimiter, MOST_STRANDS))
        .map(|count| count.map(|count| u8::try_from(count).unwrap_or_default()))
        .collect::<Result<Vec<u8>, _>>()
        .map_err(|reason| RowError::Amount { column, reason })?;
    match counts.as_slice() {
        [in_all] => Ok((*in_all, Vec::new())),
        _ => Ok((0, counts)),
    }
}

/// The count in a cell; 0 if it is empty.
fn number(
    cells: &Cells<'_>,
    column: Column,
    read: impl Fn(&str, Delimiter) -> Result<u32, ParseAmountError>,
) -> Result<u32, RowError> {
    let text = cells.text(column)?;
    let count = text.map(|text| read(&text, cells.delimiter)).transpose();
    Ok(count
        .map_err(|reason| RowError::Amount { column, reason })?
        .unwrap_or(0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_full_row_is_read_whatever_its_titles() {
        let expected = KeyRow {
            line: 2,
            symbol: Some("X".into()),
            range: Some("Cove".into()),
            number: "701".into(),
            name: Some("lamp black".into()),
            colour: Some("#101214".parse().unwrap()),
            strands: 2,
            strands_of_each: Vec::new(),
            notion: None,
            pieces: 0,
            stitches: 1_740,
            half: 30,
            quarter: 4,
            three_quarter: 5,
            backstitch: 121,
            backstitch_strands: 1,
            french_knots: 7,
        };
        for text in [
            "symbol,range,number,name,hex,strands,stitches,half,quarter,three-quarter,backstitch,backstitch strands,french knots\n\
             X,Cove,701,lamp black,#101214,2,1740,30,4,5,120.5,1,7\n",
            "Sign;Maker;No;Name;Colour;Ply;Stitch count;1/2;1/4;3/4;Outline;Outline strands;Knots\n\
             X;Cove;701;lamp black;101214;2;1740;30;4;5;120,5;1;7\n",
        ] {
            let read = read_key(text.as_bytes()).unwrap();
            assert_eq!(read.rejected, []);
            assert_eq!(read.rows, std::slice::from_ref(&expected));
        }
    }

    #[test]
    fn a_blend_gives_strands_for_each_and_beads_are_counted_in_pieces() {
        let read = read_key(
            b"symbol,number,name,strands,stitches,notion,pieces\nX,447+96,,1+2,40,,\n\
              O,B12,gold seed,,24,beads,\n.,,brass star,,,button,3\n,9,,,5,snow,\n,,,,,bead,2\n,7,,1+x,5,,\n",
        )
        .unwrap();
        let rows: Vec<_> = read
            .rows
            .iter()
            .map(|row| {
                let number = row.number.as_str();
                (number, row.notion, row.pieces, row.stitches)
            })
            .collect();
        assert_eq!(
            rows,
            [
                ("447+96", None, 0, 40),
                ("B12", Some(NotionKind::Bead), 24, 0),
                ("", Some(NotionKind::Button), 3, 0),
            ]
        );
        assert_eq!(read.rows[0].strands_of_each, [1, 2]);
        let lines: Vec<_> = read.rejected.iter().map(|row| row.line).collect();
        assert_eq!(lines, [5, 6, 7]);
        assert_eq!(read.rejected[0].reason, RowError::Notion("snow".into()));
    }

    #[test]
    fn a_colour_may_have_two_rows_with_nothing_else() {
        let read = read_key(b"symbol,number,backstitch\nX,701,\n,701,40\n").unwrap();
        assert_eq!(read.rejected, []);
        let lines: Vec<_> = read.rows.iter().map(|row| row.backstitch).collect();
        assert_eq!(lines, [0, 40]);
    }

    #[test]
    fn an_impossible_row_is_rejected_with_its_line() {
        let read = read_key(
            b"number,strands,stitches\n1,13,\n2,2,-4\n3,2,2.5\n4,2,1000001\n5,2,\n,2,5\n6,two,\n",
        )
        .unwrap();
        assert_eq!(read.rows.len(), 1);
        let reasons: Vec<_> = read
            .rejected
            .iter()
            .map(|row| (row.line, row.reason.clone()))
            .collect();
        let amount = |column, reason| RowError::Amount { column, reason };
        let too_many = |found: &str, most| ParseAmountError::TooMany {
            found: found.into(),
            most,
        };
        let (strands, stitches) = (Column::Strands, Column::Stitches);
        assert_eq!(
            reasons,
            [
                (2, amount(strands, too_many("13", MOST_STRANDS))),
                (3, amount(stitches, ParseAmountError::Negative("-4".into()))),
                (
                    4,
                    amount(stitches, ParseAmountError::NotACount("2.5".into()))
                ),
                (5, amount(stitches, too_many("1000001", MOST_STITCHES))),
                (7, RowError::NoNumber),
                (
                    8,
                    amount(strands, ParseAmountError::NotDigits("two".into()))
                ),
            ]
        );
    }
}
