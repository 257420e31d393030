//! Writes a buy list, to take to the shop and to import once the skeins are home.

use super::table;
use crate::model::colour::Srgb;
use crate::stash::projects::buy_list::Purchase;
use crate::stash::state::State;

/// A colour to buy.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BuyRow {
    /// The range's name.
    pub range: String,
    /// The number.
    pub number: String,
    /// The colour's name; may be empty.
    pub name: String,
    /// The colour, if it is known.
    pub colour: Option<Srgb>,
    /// Whole skeins.
    pub skeins: u32,
    /// The purpose, in words.
    pub why: String,
}

impl BuyRow {
    /// A purchase, with its purpose in words.
    #[must_use]
    pub fn of(state: &State, purchase: &Purchase, why: String) -> Self {
        let range = state.range(purchase.range);
        Self {
            range: range.map_or_else(String::new, |range| range.name.to_string()),
            number: purchase.number.to_string(),
            name: purchase.name.clone(),
            colour: purchase.colour,
            skeins: purchase.skeins,
            why,
        }
    }
}

/// Writes a buy list as CSV (RFC 4180): `range`, `number`, `name`, `hex`, `skeins`, `why`. It can
/// be read as a card list whose skeins are added. A field that a spreadsheet would take for a
/// formula is prefixed with an apostrophe.
#[must_use]
pub fn write_buy_csv(rows: &[BuyRow]) -> String {
    let mut text = String::new();
    table::write_row(
        &mut text,
        &["range", "number", "name", "hex", "skeins", "why"],
    );
    for row in rows {
        let words = |text: &str| table::protect(text).into_owned();
        let cells: [String; 6] = [
            words(&row.range),
            words(&row.number),
            words(&row.name),
            row.colour.map_or_else(String::new, |c| c.to_string()),
            row.skeins.to_string(),
            words(&row.why),
        ];
        table::write_row(&mut text, &cells);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exchange::read_cards;
    use crate::stash::command::import::Amount;

    #[test]
    fn a_buy_list_reads_as_a_card_list() {
        let rows = [BuyRow {
            range: "Cove".into(),
            number: "701".into(),
            name: "=black, soft".into(),
            colour: Some("#101214".parse().unwrap()),
            skeins: 2,
            why: "'Harbour' is short by 2 lengths".into(),
        }];
        let text = write_buy_csv(&rows);
        assert_eq!(
            text,
            "range,number,name,hex,skeins,why\r\n\
             Cove,701,\"'=black, soft\",#101214,2,'Harbour' is short by 2 lengths\r\n"
        );
        let read = read_cards(text.as_bytes()).unwrap();
        assert_eq!(read.rejected, []);
        assert_eq!(read.ignored, ["why"]);
        let row = &read.rows[0];
        assert_eq!(
            (row.number.as_str(), row.name.as_deref(), row.amount),
            ("701", Some("=black, soft"), Some(Amount::Skeins(2.0)))
        );
    }
}
