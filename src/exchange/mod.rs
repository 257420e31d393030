//! Reading and writing files people already have: CSV and JSON.
//!
//! A list is UTF-8 with or without a byte order mark, its first line names the columns, and comma,
//! semicolon or tab stands between the fields, whichever the first line has most of.

mod amount;
mod buy;
mod card_list;
mod columns;
mod delimiter;
#[cfg(test)]
mod demo_files;
mod error;
pub mod export;
pub mod file;
mod guard;
mod header;
mod key;
mod place;
mod rollcall;
mod shades;
mod sheet;
pub mod table;
pub mod unfinished;

pub use buy::{BuyRow, buy_rows, write_buy_csv};
pub use card_list::{CardFile, read_cards, read_cards_as, write_cards_csv};
pub use columns::{Columns, Found, look_over};
pub use error::{FileError, LARGEST_FILE, LONGEST_FIELD, MOST_ROWS};
pub use header::Column;
pub use key::{KeyFile, read_key};
pub use rollcall::{SeenFile, read_roll_call};
pub use shades::{RangeFile, read_range};
pub use sheet::{ListFile, Warning};
