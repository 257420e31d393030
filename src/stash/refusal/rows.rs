//! Why a row of a list was not taken.

use super::Refusal;
use crate::model::card::TagError;
use crate::model::label::{Label, ParseLabelError};
use crate::model::number::{Number, ParseNumberError};
use crate::model::ring::NeedleError;

/// A column of a list, as far as a fault may be in it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Field {
    /// The colour's name.
    Name,
    /// The colour.
    Colour,
    /// The family.
    Family,
    /// The dye lot.
    DyeLot,
    /// The note.
    Note,
    /// The hook.
    Hook,
    /// The symbol in the chart.
    Symbol,
}

/// Why a row was not taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum RowFault {
    /// It could not be read; in the words of whoever read the file.
    Unread(String),
    /// Its number is none.
    Number(ParseNumberError),
    /// Its tag is none.
    Tag(TagError),
    /// The range it names is no label.
    Range(ParseLabelError),
    /// The range it names has a colon in its name.
    RangeColon(Label),
    /// A text that is no label.
    Label(Field, ParseLabelError),
    /// Its threads make no needle.
    Needle(NeedleError),
    /// A hook or a card it names cannot be had.
    Refused(Box<Refusal>),
    /// Another row of the same card says something else.
    Differs {
        /// The row's line.
        line: u64,
        /// What it says otherwise.
        field: Field,
    },
    /// The stash has a card that would be written like it, which is called so.
    WrittenAlike(String),
    /// The number is in the list already.
    Twice {
        /// The number, with its tag.
        number: String,
        /// The range; `None` where the whole list is of one.
        range: Option<String>,
        /// The line it is on.
        line: u64,
        /// Whether the dye lot is there too.
        lot: bool,
    },
    /// The amount is not a number that can be kept.
    Amount,
    /// It is to be added to a card and does not say how much.
    NothingToAdd,
    /// More thread than can be kept.
    TooMuch,
    /// A split card has a hook.
    SplitCardHook,
    /// A split card has uncut skeins.
    SplitCardUncut,
    /// The amount of a split card is not said.
    SplitCardAmount,
    /// There is no such split card, and no row of the card itself to which its thread could be added.
    SplitCardUnknown(Number),
    /// Its hook has no place left.
    HookFull {
        /// The hook.
        hook_name: String,
        /// The cards that belong there.
        who: Vec<String>,
        /// How many it takes.
        cards_per_hook: u8,
    },
}

/// A row that was not taken, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rejected {
    /// Line of the file, counted from 1.
    pub line: u64,
    /// What is wrong with it.
    pub reason: RowFault,
    /// The number it has, empty where it has none; `None` where it could not be read at all.
    pub number: Option<String>,
}
