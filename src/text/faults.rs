//! Errors in an event or a stash, and in a value: a number, a name, a board, a colour, or input the
//! engine can't handle.
//!
//! An error in an event or a stash is a clause. A text about a value starts in lower case, since it
//! usually follows the name of a line, a column or an option, and ends with a full stop:
//! [`super::capital`] makes a sentence of it.

use crate::engine::instance::{EngineError, ListOf};
use crate::model::assumptions::{Assumption, ParseAssumptionError};
use crate::model::board::{
    MOST_CARDS_PER_HOOK, MOST_COLUMNS, MOST_HOOKS, MOST_ROWS, ParseBoardError,
};
use crate::model::card::{Effort, ParseEffortError, TagError};
use crate::model::colour::ParseColourError;
use crate::model::label::{self, ParseLabelError, ParseWhoError};
use crate::model::length::ParseLengthError;
use crate::model::number::{self, ParseNumberError};
use crate::model::ring::NeedleError;
use crate::stash::apply::ApplyError;
use crate::stash::command::progress::ParsePercentError;
use crate::stash::invariants::{Nameless, Referent, Violation};
use crate::stash::state::Mismatch;

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
        Mismatch::Match => "the match of two colours",
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
        Mismatch::Purchase => "the purchase",
        Mismatch::Underway => "the re-hang underway",
        Mismatch::Progress => "the progress of the re-hang",
    }
}

/// The first sentence of a text, without its full stop.
fn clause(text: &str) -> String {
    let end = text.find(". ").unwrap_or(text.len());
    text[..end].trim_end_matches('.').to_owned()
}

/// The violated invariant of the stash, as a clause.
#[must_use]
pub(crate) fn violation(broken: &Violation) -> String {
    match broken {
        Violation::Capacity {
            hook_name,
            homes,
            cards_per_hook,
        } => format!("hook {hook_name} takes {cards_per_hook}, and {homes} would be at home there"),
        Violation::NoHook { hook_name } => {
            format!("hook {hook_name} is blocked or not on any board")
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
        Violation::MatchRange => {
            "a match of two colours refers to a range that doesn't exist".to_owned()
        }
        Violation::Assumed(why) => clause(&assumption_error(why)),
    }
}

/// Why a text can't be stored.
#[must_use]
pub fn label_error(error: &ParseLabelError) -> String {
    match error {
        ParseLabelError::TooLong(characters) => too_long("text", *characters, label::LONGEST),
        ParseLabelError::Invisible(code) => {
            format!("the text has an invisible or control character (U+{code:04X}). Take it out.")
        }
    }
}

fn too_long(what: &str, characters: usize, most: usize) -> String {
    format!("the {what} has {characters} characters. Shorten it to {most}.")
}

/// Why a text isn't a card number.
#[must_use]
pub fn number_error(error: &ParseNumberError) -> String {
    match error {
        ParseNumberError::Empty => "the number is empty.".to_owned(),
        ParseNumberError::TooLong(characters) => too_long("number", *characters, number::LONGEST),
        ParseNumberError::Label(error) => label_error(error),
    }
}

/// Why a text isn't a tag.
#[must_use]
pub fn tag_error(error: &TagError) -> String {
    match error {
        TagError::Sign(sign) => format!("a tag can't have a '{sign}'. Try a space or a hyphen."),
        TagError::Label(error) => label_error(error),
    }
}

/// Why a text isn't a writer's name.
#[must_use]
pub fn person_error(error: &ParseWhoError) -> String {
    match error {
        ParseWhoError::Empty => "the name is empty.".to_owned(),
        ParseWhoError::TooLong(characters) => too_long("name", *characters, label::LONGEST_NAME),
        ParseWhoError::Label(error) => label_error(error),
    }
}

/// Why a board isn't possible.
#[must_use]
pub fn board_error(error: &ParseBoardError) -> String {
    match error {
        ParseBoardError::NoName => "a board needs a name.".to_owned(),
        ParseBoardError::Size { rows, columns } => format!(
            "a board of {rows} rows and {columns} columns isn't possible. Give 1 to {MOST_ROWS} \
             rows, 1 to {MOST_COLUMNS} columns and at most {MOST_HOOKS} hooks in all."
        ),
        ParseBoardError::CardsPerHook(cards) => {
            format!("{cards} cards per hook aren't possible. Give 1 to {MOST_CARDS_PER_HOOK}.")
        }
    }
}

/// Why a number isn't an effort.
#[must_use]
pub fn effort_error(error: ParseEffortError) -> String {
    format!(
        "an effort of {effort} isn't possible. Give 1 for a plain card, or 2 to {most}.",
        effort = error.0,
        most = Effort::MOST
    )
}

/// Why a text isn't a colour.
#[must_use]
pub fn colour_error(error: &ParseColourError) -> String {
    format!(
        "'{text}' isn't a colour. Write six hex digits such as #B4233C.",
        text = error.0
    )
}

/// Why a text isn't a percentage.
#[must_use]
pub fn percent_error(error: &ParsePercentError) -> String {
    format!(
        "'{text}' isn't a percentage. Write a whole number from 0 to 100.",
        text = error.0
    )
}

/// Why a text isn't a length.
#[must_use]
pub fn length_error(error: &ParseLengthError) -> String {
    format!(
        "'{text}' isn't a length. Write one such as 46cm, 7.5mm or 18in.",
        text = error.0
    )
}

/// Why a fabric or a stitching habit is invalid.
#[must_use]
pub fn assumption_error(error: &ParseAssumptionError) -> String {
    match error {
        ParseAssumptionError::OutOfBounds {
            what,
            found,
            least,
            most,
        } => format!(
            "{what} can't be {found}. Give {least} to {most}.",
            what = assumption(*what)
        ),
        ParseAssumptionError::AllWaste {
            waste_mm,
            working_cm,
        } => format!(
            "a waste of {waste_cm} cm is too much for a working thread of {working_cm} cm. Give \
             less than half of that.",
            waste_cm = f64::from(*waste_mm) / 10.0
        ),
    }
}

const fn assumption(of: Assumption) -> &'static str {
    match of {
        Assumption::Count => "the fabric count",
        Assumption::Over => "the number of threads stitched over",
        Assumption::Strands => "the number of strands in the needle",
        Assumption::BackstitchStrands => "the number of strands for backstitch",
        Assumption::WorkingCm => "the working thread in cm",
        Assumption::MarginPercent => "the margin in percent",
        Assumption::FabricTenthMm => "the thickness of the fabric in tenths of a mm",
        Assumption::KnotMm => "the French knot in mm",
    }
}

/// Why threads can't be stitched together.
#[must_use]
pub fn needle_error(error: &NeedleError) -> String {
    match error {
        NeedleError::Empty => "a line of a chart key needs a thread or a notion.".to_owned(),
        NeedleError::Twice(number) => {
            format!("{number} is in the same needle twice. Add up its strands.")
        }
        NeedleError::WithItself(number) => format!("{number} can't be stitched with itself."),
    }
}

/// Why the engine can't handle a board and its cards. Cards, hooks and gaps are numbered from 0.
#[must_use]
pub fn engine_error(error: &EngineError) -> String {
    match error {
        EngineError::Short {
            cards,
            places,
            places_short,
        } => format!("{cards} cards need {places_short} more places than the {places} there are."),
        EngineError::NoSuchHook { card, hook, hooks } => {
            format!("card {card} names hook {hook}, and there are only {hooks} hooks.")
        }
        EngineError::Length {
            of,
            expected,
            found,
        } => format!(
            "the list of {what} has {found} entries and needs {expected}.",
            what = list_of(*of)
        ),
        EngineError::BadGap { gap } => {
            format!("the colours to come at gap {gap} aren't a number from 0 up.")
        }
        EngineError::Stopped => "stopped before all plans were worked out.".to_owned(),
        EngineError::Overfull { hook, limit, cards } => {
            format!("hook {hook} would carry {cards} cards and takes only {limit}.")
        }
        EngineError::HoldsClash {
            first,
            first_hook,
            second,
            second_hook,
        } => format!(
            "card {first} on hook {first_hook} and card {second} on hook {second_hook} can't both \
             stay. Release one of them."
        ),
        EngineError::HoldOutOfReach { card, hook } => {
            format!("card {card} can't stay on hook {hook}. Release it.")
        }
        EngineError::HoldWithoutHook { card } => {
            format!("card {card} is held and hangs on no hook. Release it.")
        }
        EngineError::NoHome { card } => format!("card {card} hangs on a hook and gets no home."),
    }
}

const fn list_of(of: ListOf) -> &'static str {
    match of {
        ListOf::Efforts => "efforts",
        ListOf::Away => "cards that are away",
        ListOf::PlacesOfHooks => "places of the hooks",
        ListOf::Holds => "holds",
        ListOf::Hooks => "hooks",
        ListOf::Gaps => "colours to come",
        ListOf::FamilyStarts => "starts of families",
        ListOf::RowsOfHooks => "rows of the hooks",
        ListOf::WantedHomes => "wanted homes",
        ListOf::Liftable => "cards that may be lifted",
    }
}

/// Why a text isn't a whole number from `least` to `most`, or which limit it exceeds.
#[must_use]
pub fn not_whole(text: &str, past: Option<Past>) -> String {
    match past {
        None => format!("'{text}' isn't a whole number. Write one such as 3."),
        Some(Past::Least(least)) => format!("{text} is too small. Write {least} or more."),
        Some(Past::Most(most)) => format!("{text} is too large. Write at most {most}."),
    }
}

/// The limit that a number exceeds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Past {
    /// The smallest allowed value.
    Least(String),
    /// The largest allowed value.
    Most(String),
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::assumptions::Assumptions;
    use crate::model::label::{Label, Who};
    use crate::model::number::Number;

    #[test]
    fn an_invalid_value_names_the_reason_and_the_valid_values() {
        let fabric = Assumptions {
            count: 0,
            ..Assumptions::default()
        };
        let waste = Assumptions {
            waste_mm: 250,
            ..Assumptions::default()
        };
        for (said, expected) in [
            (
                label_error(&Label::new("a\u{1b}").unwrap_err()),
                "the text has an invisible or control character (U+001B). Take it out.",
            ),
            (
                number_error(&Number::new(&"7".repeat(41)).unwrap_err()),
                "the number has 41 characters. Shorten it to 40.",
            ),
            (
                person_error(&Who::new(&"x".repeat(61)).unwrap_err()),
                "the name has 61 characters. Shorten it to 60.",
            ),
            (
                effort_error(Effort::new(1001).unwrap_err()),
                "an effort of 1001 isn't possible. Give 1 for a plain card, or 2 to 1000.",
            ),
            (
                colour_error(&ParseColourError("red".into())),
                "'red' isn't a colour. Write six hex digits such as #B4233C.",
            ),
            (
                assumption_error(&fabric.check().unwrap_err()),
                "the fabric count can't be 0. Give 4 to 60.",
            ),
            (
                assumption_error(&waste.check().unwrap_err()),
                "a waste of 25 cm is too much for a working thread of 50 cm. Give less than half \
                 of that.",
            ),
            (
                engine_error(&EngineError::Length {
                    of: ListOf::Gaps,
                    expected: 3,
                    found: 2,
                }),
                "the list of colours to come has 2 entries and needs 3.",
            ),
        ] {
            assert_eq!(said, expected);
        }
    }
}
