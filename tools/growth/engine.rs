//! The fewest moves, by the number of cards.

use std::error::Error;

use homehook::engine::fewest_moves::fewest_moves;
use homehook::engine::instance::Instance;

use crate::boards;
use crate::fit::{Curve, seconds};

const CARDS: [usize; 7] = [100, 316, 1000, 3162, 10_000, 31_623, 100_000];

/// Measures boards of 100 to 100,000 cards.
pub fn measure() -> Result<(), Box<dyn Error>> {
    let mut kinds: Vec<(String, [Instance; CARDS.len()])> = Vec::new();
    for cards_per_hook in [1, 2, 4] {
        let boards = CARDS.map(|cards| boards::board(cards, cards_per_hook));
        kinds.push((
            format!("nearly in order, hooks of {cards_per_hook}"),
            boards,
        ));
    }
    for cards_per_hook in [1, 2, 4] {
        let boards = CARDS.map(|cards| boards::anyhow(cards, cards_per_hook));
        kinds.push((format!("hung anyhow, hooks of {cards_per_hook}"), boards));
    }
    let boards = CARDS.map(boards::vast);
    kinds.push(("nearly in order, hooks of 1000".to_owned(), boards));
    for (kind, boards) in &kinds {
        let mut curve = Curve::new(format!("fewest moves, {kind}"), "cards");
        for (cards, board) in CARDS.into_iter().zip(boards) {
            curve.add(cards, seconds(|| fewest_moves(board))?);
        }
        curve.tell();
    }
    Ok(())
}
