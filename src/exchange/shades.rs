//! Shade lists: the colours a maker's range has.

use super::error::FileError;
use super::header::Column;
use super::sheet::{self, Cells, ListFile};
use crate::model::label::fold;
use crate::stash::intake::ShadeRow;

/// A shade list, read.
pub type ShadeFile = ListFile<ShadeRow>;

/// Reads a range's shade list: `number`, which must be there, `name`, `hex` and `family`, in any
/// order. A stock list will do; its other columns are ignored. Rows are rejected as
/// [`read_stock`](super::read_stock) rejects them.
///
/// # Errors
/// See [`FileError`].
pub fn read_shades(bytes: &[u8]) -> Result<ShadeFile, FileError> {
    let shade = |cells: &Cells<'_>| {
        Ok(ShadeRow {
            line: cells.line(),
            number: cells.number()?,
            name: cells.text(Column::Name)?.unwrap_or_default(),
            colour: cells.colour()?,
            family: cells.text(Column::Family)?,
        })
    };
    sheet::read(bytes, &Column::OF_SHADES, shade, |row| fold(&row.number))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_shade_list_is_read_and_a_stock_list_will_do() {
        let read = read_shades(
            b"Shade;Colour name;Hex;Family;Skeins\n12;plum jam;#5A2A4B;purples;1\n9;;;;0\n12;x;;;\n",
        )
        .unwrap();
        assert_eq!(
            read.rows,
            [
                ShadeRow {
                    line: 2,
                    number: "12".into(),
                    name: "plum jam".into(),
                    colour: Some("#5A2A4B".parse().unwrap()),
                    family: Some("purples".into()),
                },
                ShadeRow {
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
