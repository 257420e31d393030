//! Reading and writing files people already have: CSV and JSON.
//!
//! A list is UTF-8 with or without a byte order mark, its first line names the columns, and comma,
//! semicolon or tab stands between the fields, whichever the first line has most of.

mod amount;
mod buy_list;
mod cards;
mod chart_key;
mod columns;
#[cfg(test)]
mod demo_files;
pub mod export;
pub mod file;
mod range;
mod roll_call;
mod sheet;
pub mod table;

pub use crate::stash::columns::Column;
pub use amount::ParseAmountError;
pub use buy_list::{BuyRow, write_buy_csv};
pub use cards::{CardFile, card_rows, read_cards, read_cards_as, write_cards_csv};
pub use chart_key::{KeyFile, read_key};
pub use columns::{Columns, ColumnsError, Found};
pub use range::{RangeFile, read_range};
pub use roll_call::{SeenFile, read_roll_call};
pub use sheet::{
    FileError, LARGEST_FILE, LONGEST_FIELD, ListFile, MOST_ROWS, RefusedRow, RowError, Warning,
    look_over,
};
