//! What is wished of one re-hang, and not kept.

use std::collections::BTreeSet;

use crate::engine::pareto::WorkTimes;
use crate::model::board::{Board, HookRef};
use crate::model::ids::{BoardId, CardId, FamilyId};
use crate::stash::order::Order;
use crate::stash::refusal::{Refusal, Run};
use crate::stash::state::State;

/// What is wished of one re-hang; by default what the stash says and no more.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanRequest {
    /// The order to hang in; `None` = the order of the stash.
    pub order: Option<Order>,
    /// The rows that may change; `None` = all.
    ///
    /// A card whose home is on another row stays there, and a card without a home waits
    /// where it belongs between such cards.
    pub rows: Option<Rows>,
    /// Cards that stay this once, beside those that are held.
    pub holds: Vec<CardId>,
    /// How long the work is assumed to take.
    pub pace: WorkTimes,
    /// Plans in order at most; 0 counts as 1, and with 1 there are no plans between moving nothing and
    /// full order.
    pub most: usize,
}

impl Default for PlanRequest {
    fn default() -> Self {
        Self {
            order: None,
            rows: None,
            holds: Vec::new(),
            pace: WorkTimes::default(),
            most: 8,
        }
    }
}

/// Some rows of some boards.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Rows(BTreeSet<(BoardId, u16)>);

impl Rows {
    /// Whether a hook is on one of the rows.
    #[must_use]
    pub fn have(&self, hook: HookRef) -> bool {
        self.0.contains(&(hook.board, hook.row))
    }

    /// Reads rows as a person names them: `A`, or `A-C` for all from A to C, with the board's prefix
    /// where it has one (`2-A`, `2-A-C`).
    ///
    /// # Errors
    /// When there is no board, or no such row.
    pub fn named(state: &State, names: &[String]) -> Result<Self, Refusal> {
        if state.boards().len() == 0 {
            return Err(Refusal::NoBoard);
        }
        let mut rows = BTreeSet::new();
        for name in names {
            let (board, first, last) = state
                .boards()
                .find_map(|board| run(board, name))
                .ok_or_else(|| unknown(state, name))?;
            rows.extend((first..=last).map(|row| (board, row)));
        }
        Ok(Self(rows))
    }
}

fn unknown(state: &State, name: &str) -> Refusal {
    let runs = state.boards().map(|board| {
        let row = |row| format!("{}{}", board.prefix, Board::row_letters(row));
        Run {
            board: board.name.to_string(),
            first: row(0),
            last: row(board.rows - 1),
        }
    });
    Refusal::UnknownRow {
        row: name.trim().chars().take(40).collect(),
        known: runs.collect(),
    }
}

/// A row of a board, or the first and the last of several.
fn run(board: &Board, name: &str) -> Option<(BoardId, u16, u16)> {
    if let Some(row) = row(board, name) {
        return Some((board.id, row, row));
    }
    name.match_indices('-').find_map(|(at, dash)| {
        let first = row(board, &name[..at])?;
        let rest = &name[at + dash.len()..];
        let last = row(board, rest).or_else(|| letters(board, rest))?;
        (first <= last).then_some((board.id, first, last))
    })
}

/// The row of a name with the board's prefix. Capitals, spaces and the dashes of the prefix do not
/// matter, as for marks.
fn row(board: &Board, name: &str) -> Option<u16> {
    let plain = |text: &str| -> String {
        text.chars()
            .filter(|c| !c.is_whitespace() && *c != '-')
            .flat_map(char::to_uppercase)
            .collect()
    };
    let prefix = plain(board.prefix.as_str());
    let ends = name.char_indices().map(|(at, _)| at);
    ends.filter(|&at| plain(&name[..at]) == prefix)
        .find_map(|at| letters(board, &name[at..]))
}

/// The row of some letters.
fn letters(board: &Board, text: &str) -> Option<u16> {
    let text = text.trim().to_uppercase();
    (0..board.rows).find(|&row| Board::row_letters(row) == text)
}

/// The order with the named families first, or by the words `family`, `number` and
/// `lightness`.
///
/// # Errors
/// When a name is no family, or is there twice.
pub fn order_named(state: &State, names: &[String]) -> Result<Order, Refusal> {
    match names {
        [one] if one.eq_ignore_ascii_case("family") => return Ok(Order::Family),
        [one] if one.eq_ignore_ascii_case("number") => return Ok(Order::Number),
        [one] if one.eq_ignore_ascii_case("lightness") => return Ok(Order::Lightness),
        _ => {}
    }
    let mut families: Vec<FamilyId> = Vec::with_capacity(names.len());
    for name in names {
        let id = state.find_family(name)?.id;
        if families.contains(&id) {
            return Err(Refusal::FamilyTwice(name.clone()));
        }
        families.push(id);
    }
    Ok(Order::Families(families))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stash::command::board::new_board;
    use crate::stash::testing::{apply, board, wall};

    #[test]
    fn rows_are_named_by_letters_with_the_prefix_of_their_board() {
        let mut state = wall(4, 2, 1);
        let event = new_board(&state, &board("shelf", "2-", 3, 2, 1)).unwrap();
        apply(&mut state, &event);
        let boards: Vec<BoardId> = state.boards().map(|board| board.id).collect();
        let (wall, shelf) = (boards[0], boards[1]);
        let read = |names: &[&str]| {
            let names: Vec<String> = names.iter().map(|&name| name.to_owned()).collect();
            Rows::named(&state, &names).map(|rows| rows.0.into_iter().collect::<Vec<_>>())
        };
        for (names, rows) in [
            (&["A"][..], &[(wall, 0)][..]),
            (&[" b ", "d"], &[(wall, 1), (wall, 3)]),
            (&["A-C"], &[(wall, 0), (wall, 1), (wall, 2)]),
            (&["2-B", "a"], &[(wall, 0), (shelf, 1)]),
            (&["2b"], &[(shelf, 1)]),
            (&["2-A-B"], &[(shelf, 0), (shelf, 1)]),
            (&["2-B-2-C"], &[(shelf, 1), (shelf, 2)]),
        ] {
            assert_eq!(read(names).unwrap(), rows, "{names:?}");
        }
        for name in ["", "E", "C-A", "2-D", "A01", "A-E", "3-A"] {
            assert_eq!(
                crate::text::refusal::sentence(&read(&[name]).unwrap_err()),
                format!("There is no row {name}. 'wall' has A to D, 'shelf' has 2-A to 2-C.")
            );
        }
        let none = Rows::named(&State::default(), &["A".to_owned()]);
        assert_eq!(none, Err(Refusal::NoBoard));
    }
}
