//! Builds a small board in memory and prints the plans for a re-hang.
//!
//! `cargo run --example plan_list`. Nothing is written to disk: commands look at a state and return
//! events, and applying the events changes the state.

use std::error::Error;

use homehook::model::board::ReadingOrder;
use homehook::stash::command::board::{NewBoard, new_board};
use homehook::stash::command::import::{CardRow, Terms, card_list};
use homehook::stash::command::rehang;
use homehook::stash::state::State;
use jiff::Timestamp;

/// A row of a card list: a number, its family, and the hook where the card hangs, if it does.
fn row(number: &str, family: &str, hook: Option<&str>) -> CardRow {
    CardRow {
        range: Some("Lantern Hill".to_owned()),
        number: number.to_owned(),
        family: Some(family.to_owned()),
        hook: hook.map(str::to_owned),
        ..CardRow::default()
    }
}

fn main() -> Result<(), Box<dyn Error>> {
    let now = Timestamp::now();
    let mut state = State::default();
    state.apply(&new_board(
        &state,
        &NewBoard {
            name: "Workroom wall".to_owned(),
            prefix: String::new(),
            rows: 2,
            columns: 5,
            cards_per_hook: 1,
            reading: ReadingOrder::Rows,
        },
    )?)?;

    // Five cards hang close together. Of two new ones, one belongs among them and one behind.
    let rows = [
        row("21", "reds", Some("A01")),
        row("25", "reds", Some("A02")),
        row("701", "blues", Some("A03")),
        row("312", "blues", Some("A04")),
        row("318", "blues", Some("A05")),
        row("320", "blues", None),
        row("702", "blues", None),
    ];
    let taken = card_list(&state, &rows, Vec::new(), &Terms::default(), now)?;
    if let Some(event) = &taken.event {
        state.apply(event)?;
    }

    for plan in &rehang::plans(&state)? {
        println!(
            "Plan {}: {} moved, {} newly hung, {} out of order, {:.2} colours to come without a place",
            plan.number,
            plan.touched,
            plan.newly_hung,
            plan.disorder.cards(),
            plan.room
        );
        for step in &plan.steps {
            let name = state.card(step.card).map(|kept| state.card_name(kept));
            let from = step
                .from
                .map_or("tray".to_owned(), |hook| state.hook_name(hook));
            let to = step
                .to
                .map_or("hand".to_owned(), |hook| state.hook_name(hook));
            println!("  {:>4}  {from} -> {to}", name.unwrap_or_default());
        }
    }
    Ok(())
}
