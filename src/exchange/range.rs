//! Range lists: the colours in a maker's range.

use super::sheet::{self, Cells, FileError, ListFile};
use crate::model::label::fold;
use crate::stash::columns::Column;
use crate::stash::command::import::RangeRow;

/// A parsed range list.
pub type RangeFile = ListFile<RangeRow>;

/// Reads a range list: `number`, which is required, `name`, `hex` and `family`, in any order. A
/// card list works too; its other columns are ignored. Rows are rejected as in
/// [`read_cards`](super::read_cards).
///
/// # Errors
/// See [`FileError`].
pub fn read_range(bytes: &[u8]) -> Result<RangeFile, FileError> {
    let row = |cells: &Cells<'_>| {
        Ok(RangeRow {
            line: cells.line(),
            number: cells.number()?,
            name: cells.text(Column::Name)?.unwrap_or_default(),
            colour: cells.colour()?,
            family: cells.text(Column::Family)?,
        })
    };
    sheet::read(bytes, &Column::OF_RANGE_LIST, row, |row| fold(&row.number))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_range_list_is_read_and_so_is_a_card_list() {
        let read = read_range(
            b"Shade;Colour name;Hex;Family;Skeins\n12;plum jam;#5A2A4B;purples;1\n9;;;;0\n12;x;;;\n",
        )
        .unwrap();
        assert_eq!(
            read.rows,
            [
                RangeRow {
                    line: 2,
                    number: "12".into(),
                    name: "plum jam".into(),
                    colour: Some("#5A2A4B".parse().unwrap()),
                    family: Some("purples".into()),
                },
                RangeRow {
                    line: 3,
                    number: "9".into(),
                    name: String::new(),
                    colour: None,
                    family: None,
                },
            ]
        );
        assert_eq!(read.ignored, ["Skeins"]);
        assert_eq!(read.rejected[0].line, 4);
    }
}
