//! What is wrong with an event or a stash, and why two copies don't go together.

use crate::stash::apply::ApplyError;
use crate::stash::invariants::{Nameless, Referent, Violation};
use crate::stash::merge::{MergeError, Side};
use crate::stash::state::Mismatch;
use crate::text::values::{assumption_error, board_error};

/// Why an event can't be applied, as a clause.
#[must_use]
pub(crate) fn apply_error(error: &ApplyError) -> String {
    match error {
        ApplyError::Before { position, what } => format!(
            "change {position} of the event doesn't fit: {what} isn't as the event says it was",
            what = mismatch(*what)
        ),
        ApplyError::Law(broken) => violation(broken),
    }
}

const fn mismatch(what: Mismatch) -> &'static str {
    match what {
        Mismatch::Range => "the range",
        Mismatch::Families => "the list of families",
        Mismatch::Order => "the order of the wall",
        Mismatch::Board => "the board",
        Mismatch::Card => "the card",
        Mismatch::Place => "the card's place",
        Mismatch::Home => "the card's home",
        Mismatch::Lots => "the list of the card's dye lots",
        Mismatch::Thread => "the card's thread",
        Mismatch::Ring => "the ring",
        Mismatch::RingWithLists => "the ring, written with its lists,",
        Mismatch::WentOut => "the list of cards that went out on the ring",
        Mismatch::Key => "the ring's chart key",
        Mismatch::Used => "the thread used for the ring",
        Mismatch::Underway => "the re-hang underway",
        Mismatch::Progress => "the progress of the re-hang",
    }
}

/// The first sentence of a text, without its full stop.
fn clause(text: &str) -> String {
    let end = text.find(". ").unwrap_or(text.len());
    text[..end].trim_end_matches('.').to_owned()
}

/// Which law of the stash is broken, as a clause.
#[must_use]
pub(crate) fn violation(broken: &Violation) -> String {
    match broken {
        Violation::Capacity {
            hook_name,
            homes,
            cards_per_hook,
        } => format!("hook {hook_name} takes {cards_per_hook}, and {homes} would be at home there"),
        Violation::NoHook { hook_name } => {
            format!("hook {hook_name} can't be used: it is blocked or not on any board")
        }
        Violation::Dangling { card, what } => {
            let what = match what {
                Referent::Range => "range",
                Referent::Family => "family",
                Referent::Parent => "parent card",
                Referent::Ring => "ring",
            };
            format!("card {card} refers to a {what} that doesn't exist")
        }
        Violation::NeverTaken { card, project } => {
            format!("card {card} would be on the ring '{project}', but was never taken to it")
        }
        Violation::Twice { number } => format!("number {number} is there twice in one range"),
        Violation::SameLot { card, lot } => {
            format!("card {card} would have the dye lot {lot} twice")
        }
        Violation::TaggedSplit { card } => format!(
            "split card {card} would have a tag, though it goes by that of the card it was split from"
        ),
        Violation::ClosedRing { project } => {
            format!("a card would be on the ring '{project}', which is closed")
        }
        Violation::Unaccounted { project, card } => {
            format!("the ring '{project}' can't close: card {card} is unaccounted for")
        }
        Violation::Aimless => "a re-hang would be underway with nothing to do".to_owned(),
        Violation::TwoAims { card } => format!("a re-hang would take card {card} to two homes"),
        Violation::Nameless(what) => {
            let what = match what {
                Nameless::Range => "a range",
                Nameless::Family => "a family",
                Nameless::Project => "a project",
            };
            format!("{what} would have no name")
        }
        Violation::Board(why) => clause(&board_error(why)),
        Violation::SameHookName { hook_name } => {
            format!("two hooks would be called {hook_name}")
        }
        Violation::KeyRange { project } => {
            format!("the chart key of the project '{project}' refers to a range that doesn't exist")
        }
        Violation::Assumed(why) => clause(&assumption_error(why)),
    }
}

/// Why two copies of a stash can't be merged, in sentences.
#[must_use]
pub(crate) fn merge_error(error: &MergeError) -> String {
    match error {
        MergeError::Strangers => "Can't merge two different stashes. Export a card list there and \
             import it here."
            .to_owned(),
        MergeError::Empty => "The other copy is empty. Is it still being copied?".to_owned(),
        MergeError::OutOfOrder(event) => format!(
            "Event {event} of the other copy is out of order. That copy was changed by hand or damaged."
        ),
        MergeError::TooManyCopies => "The other copy says that hundreds of computers worked on it \
             apart. It was changed by hand or damaged."
            .to_owned(),
        MergeError::Altered(event) => format!(
            "Event {event} reads differently in the two copies. One of them was changed by hand or \
             damaged."
        ),
        MergeError::Ahead(clock) => format!(
            "The other copy was written on a computer whose clock is years ahead ({clock}). Set that \
             clock right, and don't merge this copy."
        ),
        MergeError::ApplyError { whose, seq, misfit } => {
            let whose = match whose {
                Side::Mine => "this",
                Side::Theirs => "the other",
            };
            format!(
                "Change {seq} of {whose} record doesn't fit ({why}). Run: homehook check",
                why = apply_error(misfit)
            )
        }
        MergeError::Unreadable(why) => format!(
            "The two copies can't be merged. An event of the other copy can't be read ({why})."
        ),
        MergeError::Apart(broken) => format!(
            "The two copies don't go together: {why}. Change that in one of them first, or answer \
             differently if something was asked.",
            why = violation(broken)
        ),
        MergeError::Unfit(why) => {
            format!(
                "The two copies can't be merged: {why}",
                why = apply_error(why)
            )
        }
    }
}
