//! Office Open XML workbooks (ECMA-376), `.xlsx` and `.xlsm`, read with `calamine`.

use std::io::Cursor;

use calamine::{DataRef, Dimensions, Reader, SheetType, SheetVisible, Xlsx, XlsxError};

use super::workbook::{Grid, WorkbookError, cell_name, chosen, number};

impl From<XlsxError> for WorkbookError {
    fn from(error: XlsxError) -> Self {
        match error {
            XlsxError::Password => Self::Password,
            _ => Self::Damaged,
        }
    }
}

/// Reads the cells of a sheet, one at a time: reading all at once would also store the empty cells
/// between distant ones.
pub(super) fn read(bytes: &[u8], sheet: Option<&str>) -> Result<Grid, WorkbookError> {
    let mut book = Xlsx::new(Cursor::new(bytes))?;
    let sheets = book.sheets_metadata().iter();
    let sheets: Vec<(String, bool)> = sheets
        .filter(|sheet| sheet.typ == SheetType::WorkSheet)
        .map(|sheet| (sheet.name.clone(), sheet.visible == SheetVisible::Visible))
        .collect();
    let at = chosen(&sheets, sheet)?;
    let mut grid = Grid::of(&sheets, at);
    let name = grid.read.name.clone();
    for Dimensions { start, end } in book.merge_cells_by_sheet_name(&name)? {
        let place = || {
            format!(
                "{}:{}",
                cell_name(start.0, start.1),
                cell_name(end.0, end.1)
            )
        };
        grid.read.merged.push(place);
    }
    let mut cells = book.worksheet_cells_reader(&name)?;
    while let Some(cell) = cells.next_cell_with_formula_metadata()? {
        let (row, column) = cell.pos;
        let place = || cell_name(row, column);
        let text = match cell.value {
            DataRef::Empty => {
                if cell.formula.is_some() {
                    grid.read.unvalued.push(place);
                }
                continue;
            }
            DataRef::Error(_) => {
                grid.read.errors.push(place);
                continue;
            }
            DataRef::Int(value) => value.to_string(),
            DataRef::Float(value) => number(value),
            DataRef::Bool(value) => value.to_string(),
            DataRef::SharedString(text) => {
                grid.put(row, column, text)?;
                continue;
            }
            DataRef::String(text) | DataRef::DurationIso(text) => text,
            DataRef::DateTimeIso(text) => {
                grid.read.dates.push(place);
                text
            }
            DataRef::DateTime(date) => {
                grid.read.dates.push(place);
                let (year, month, day, ..) = date.to_ymd_hms_milli();
                format!("{year:04}-{month:02}-{day:02}")
            }
        };
        grid.put(row, column, &text)?;
    }
    Ok(grid)
}
