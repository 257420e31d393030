//! Steps of a walk as they are said aloud: short, and without signs that nobody can say.

use crate::model::board::{Board, HookRef};
use crate::stash::state::{CardState, State};

/// A card's number: `154`, or `154 of Harbour` for one that was split off.
#[must_use]
pub fn card(state: &State, kept: &CardState) -> String {
    state.number_and_tag(kept).replace('@', " of ")
}

/// A hook: `C 19`.
#[must_use]
pub fn hook(state: &State, hook: HookRef) -> String {
    let prefix = state
        .board(hook.board)
        .map_or("", |board| board.prefix.as_str());
    let row: String = Board::row_letters(hook.row)
        .chars()
        .flat_map(|letter| [letter, ' '])
        .collect();
    let prefix = prefix.trim_end_matches('-');
    let gap = if prefix.is_empty() { "" } else { " " };
    format!("{prefix}{gap}{row}{}", u32::from(hook.column) + 1)
}

/// The card with what is to be done and a hook, and who hangs on either side: `154 to C 19, between 152 and 155`.
#[must_use]
pub fn at_hook(state: &State, kept: &CardState, does: &str, on: HookRef) -> String {
    let (card, hook) = (card(state, kept), hook(state, on));
    format!("{card} {does} {hook}{}", beside(state, kept, on))
}

/// Who hangs on either side of a hook, after a comma; nothing on an empty board.
fn beside(state: &State, kept: &CardState, hook: HookRef) -> String {
    let (before, after) = state.hanging_beside(hook, kept.card.id);
    let name = |(_, kept): (HookRef, &CardState)| card(state, kept);
    match (before.map(name), after.map(name)) {
        (Some(before), Some(after)) => format!(", between {before} and {after}"),
        (Some(before), None) => format!(", after {before}"),
        (None, Some(after)) => format!(", before {after}"),
        (None, None) => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stash::command::board::new_board;
    use crate::stash::testing::{add_cards, apply, board, id, wall};

    #[test]
    fn a_step_is_a_sentence_that_can_be_said() {
        let mut state = wall(3, 19, 1);
        add_cards(&mut state, &["152@C18", "155@A07", "154", "160@C19"]);
        let card = |number: &str| state.card(id(&state, number)).unwrap();
        let on = |name: &str| state.find_hook(name).unwrap();
        let said = |name: &str| at_hook(&state, card("154"), "to", on(name));
        assert_eq!(said("B01"), "154 to B 1, between 155 and 152");
        assert_eq!(said("A01"), "154 to A 1, before 155");
        assert_eq!(
            at_hook(&state, card("160"), "from", on("C19")),
            "160 from C 19, after 152"
        );
    }

    #[test]
    fn the_prefix_of_a_board_is_said_without_its_dash() {
        let mut state = wall(1, 2, 1);
        let event = new_board(&state, &board("door", "2-", 28, 3, 1)).unwrap();
        apply(&mut state, &event);
        for (name, said) in [("A02", "A 2"), ("2-B03", "2 B 3"), ("2-AB01", "2 A B 1")] {
            assert_eq!(hook(&state, state.find_hook(name).unwrap()), said);
        }
    }
}
