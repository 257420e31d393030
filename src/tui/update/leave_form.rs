//! The forms for cards that leave the wall: lent, or gone for good.

use super::board::chosen;
use super::form::{blank, form};
use crate::stash::state::{CardState, State};
use crate::text;
use crate::text::cards;
use crate::tui::app::{App, Form, Mode, Purpose, Stash};

/// Asks where the chosen cards (else the one here) are.
pub(super) fn elsewhere(app: &mut App, stash: Stash<'_>) {
    open(app, stash, |state, going| {
        let title = format!("Elsewhere: {cards}", cards = named(state, going));
        let hint = "with Bea, drawer in the hall ...; m when it is back";
        form(Purpose::Elsewhere, title, vec![blank("where", hint, "")])
    });
}

/// Asks why the chosen cards (else the one here) leave the stash.
pub(super) fn remove(app: &mut App, stash: Stash<'_>) {
    open(app, stash, |state, going| {
        let all = going.iter();
        let all = all.map(|kept| (kept.strands(), state.put_up(&kept.card)));
        let title = format!(
            "Take out of the stash for good: {cards}, with {amount}{skeins}",
            cards = named(state, going),
            amount = text::thread::amounts(all),
            skeins = text::thread::and_skeins(
                going
                    .iter()
                    .fold(0, |sum, kept| sum.saturating_add(kept.skeins()))
            )
        );
        let hint = "given to Bea, moths ...; may be empty. u brings it back";
        form(Purpose::Remove, title, vec![blank("why", hint, "")])
    });
}

fn open(app: &mut App, stash: Stash<'_>, asking: impl Fn(&State, &[&CardState]) -> Form) {
    let going = chosen(app, stash);
    let going: Vec<&CardState> = going
        .iter()
        .filter_map(|&id| stash.state.card(id))
        .collect();
    if going.is_empty() {
        app.complain("put the cursor on a card, or choose some with Space");
        return;
    }
    app.mode = Mode::Form(asking(stash.state, &going));
}

/// One card by its name, more by their count.
fn named(state: &State, going: &[&CardState]) -> String {
    match going {
        [one] => state.card_name(one),
        more => cards(u32::try_from(more.len()).unwrap_or(u32::MAX)),
    }
}
