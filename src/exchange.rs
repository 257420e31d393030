//! Reads and writes the file formats people already use: CSV, workbooks and JSON.
//!
//! A list is text whose first line names the columns, separated by commas, semicolons or tabs,
//! whichever is most frequent in that line; or it is a sheet of a workbook. [`plain`] converts any
//! such file to UTF-8, and the readers parse the result.

mod amount;
mod buy_list;
mod cards;
mod chart_key;
mod columns;
#[cfg(test)]
mod demo_files;
pub mod export;
pub mod file;
mod matches;
mod ods;
mod plain;
mod range;
mod roll_call;
mod sheet;
pub mod table;
mod workbook;
mod xlsx;

pub use crate::stash::columns::Column;
pub use amount::ParseAmountError;
pub use buy_list::{BuyRow, write_buy_csv};
pub use cards::{CardFile, card_rows, read_cards, read_cards_as, write_cards_csv};
pub use chart_key::{KeyFile, read_key, read_key_as};
pub use columns::{Columns, ColumnsError, Found, Unclear};
pub use matches::{MatchFile, read_matches, write_matches_csv};
pub use plain::{Plain, Source, plain, sheets};
pub use range::{RangeFile, read_range};
pub use roll_call::{SeenFile, read_roll_call};
pub use sheet::{
    FileError, LARGEST_FILE, LONGEST_FIELD, ListFile, MOST_ROWS, RefusedRow, RowError, Warning,
    look_over,
};
pub use workbook::{MOST_CELLS, MOST_UNPACKED, Places, SheetRead, WorkbookError};
