//! Conversion lists: pairs of matching colours from two ranges.

use super::sheet::{self, Cells, FileError, ListFile, RowError};
use super::table;
use crate::model::ring::ColourRef;
use crate::stash::columns::Column;
use crate::stash::command::import::MatchRow;
use crate::stash::state::State;

/// A parsed conversion list.
pub type MatchFile = ListFile<MatchRow>;

/// Reads a conversion list: `range`, `number`, `match range` and `match number`, in any order. A
/// second column called `range` or `number` belongs to the match.
///
/// # Errors
/// See [`FileError`].
pub fn read_matches(bytes: &[u8]) -> Result<MatchFile, FileError> {
    let row = |cells: &Cells<'_>| {
        Ok(MatchRow {
            line: cells.line(),
            range: cells.text(Column::Range)?,
            number: cells.number()?,
            match_range: cells.text(Column::MatchRange)?,
            match_number: cells
                .text(Column::MatchNumber)?
                .ok_or(RowError::NoMatchNumber)?,
        })
    };
    sheet::read(bytes, &Column::OF_CONVERSION_LIST, row, |row| row.line)
}

/// Writes the matches of a stash as CSV (RFC 4180), for importing again. A field that a spreadsheet
/// would take for a formula is prefixed with an apostrophe.
#[must_use]
pub fn write_matches_csv(state: &State) -> String {
    let mut text = String::new();
    table::write_row(&mut text, &Column::OF_CONVERSION_LIST.map(Column::title));
    for of in state.matches().iter() {
        let range = |colour: &ColourRef| {
            let range = state.range(colour.range);
            range.map_or("", |range| range.name.as_str())
        };
        let cells = of
            .colours()
            .each_ref()
            .map(|colour| [range(colour), colour.number.as_str()].map(|text| table::protect(text)));
        table::write_row(&mut text, cells.as_flattened());
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exchange::ColumnsError;
    use crate::stash::command::import;
    use crate::stash::testing::{add_cards, apply, wall};

    fn row(line: u64, one: [&str; 2], other: [&str; 2]) -> MatchRow {
        let [[range, number], [match_range, match_number]] =
            [one, other].map(|of| of.map(str::to_owned));
        MatchRow {
            line,
            range: Some(range),
            number,
            match_range: Some(match_range),
            match_number,
        }
    }

    #[test]
    fn a_second_range_and_number_belong_to_the_match() {
        let expected = [row(2, ["Heath", "701"], ["Cove", "12"])];
        for text in [
            "range,number,match range,match number\nHeath,701,Cove,12\n",
            "Range;Number;Range;Number\nHeath;701;Cove;12\n",
            "Maker\tNo.\tbrand\tshade\nHeath\t701\tCove\t12\n",
            "match number,number,match range,range\n12,701,Cove,Heath\n",
            "range,number,note,to range,equivalent\nHeath,701,near,Cove,12\n",
        ] {
            let read = read_matches(text.as_bytes()).unwrap();
            assert_eq!(read.rows, expected, "{text}");
            assert_eq!(read.rejected, []);
        }
    }

    #[test]
    fn a_list_without_both_numbers_is_refused() {
        for text in [
            "range,number,match range\nHeath,701,Cove\n",
            "range,number\nHeath,701\n",
        ] {
            let refused = read_matches(text.as_bytes()).unwrap_err();
            assert!(
                matches!(refused, FileError::Columns(ColumnsError::NoMatch { .. })),
                "{refused:?}"
            );
        }
        let third = read_matches(b"number,number,number\n1,2,3\n").unwrap_err();
        assert!(matches!(
            third,
            FileError::Columns(ColumnsError::Twice { .. })
        ));
        let rows =
            read_matches(b"range,number,range,number\nHeath,701,Cove,\nHeath,,Cove,1\n").unwrap();
        let faults: Vec<RowError> = rows.rejected.into_iter().map(|row| row.reason).collect();
        assert_eq!(faults, [RowError::NoMatchNumber, RowError::NoNumber]);
    }

    #[test]
    fn written_matches_read_back_the_same() {
        let mut state = wall(1, 2, 1);
        add_cards(&mut state, &["Heath:701", "=Cove:12"]);
        let list = [
            row(2, ["Heath", "701"], ["=Cove", "12"]),
            row(3, ["=Cove", "-7"], ["Heath", "a,b"]),
        ];
        let event = import::matches(&state, &list, Vec::new(), false)
            .unwrap()
            .event;
        apply(&mut state, &event.unwrap());
        let text = write_matches_csv(&state);
        let read = read_matches(text.as_bytes()).unwrap();
        assert_eq!((read.rows.len(), read.rejected.len()), (2, 0));
        let again = import::matches(&state, &read.rows, Vec::new(), true).unwrap();
        assert_eq!((again.event, again.known), (None, 2));
    }
}
