//! Why a command could not be carried out. Nothing was changed.
//!
//! A reason is data, with the names it needs as they were at that moment; the sentence is made by who
//! shows it.

mod code;
mod rows;

pub use rows::{Field, Rejected, RowFault};

use crate::engine::instance::EngineError;
use crate::model::assumptions::ParseAssumptionError;
use crate::model::board::ParseBoardError;
use crate::model::card::TagError;
use crate::model::label::ParseLabelError;
use crate::model::move_cost::ParseEffortError;
use crate::model::number::ParseNumberError;
use crate::model::range::PutUp;
use crate::model::thread::{Lot, Strands};
use crate::model::whereabouts::CardPlace;
use crate::stash::apply::ApplyError;

/// Thread, and how it is put up: so many strands make a length.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Amount {
    /// How much.
    pub strands: Strands,
    /// Of what.
    pub put_up: PutUp,
}

/// The hooks or the rows of a board, from the first name to the last.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Run {
    /// The board's name.
    pub board: String,
    /// The first.
    pub first: String,
    /// The last.
    pub last: String,
}

/// What may have been meant by the name of no card.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum CardHint {
    /// A card that is nearest to it, and its colour's name, which may be empty.
    Nearest {
        /// What the card is called.
        card: String,
        /// Its name.
        name: String,
    },
    /// A card of which there are these split cards.
    SplitCards {
        /// The card.
        card: String,
        /// Its split cards; may be none.
        split_cards: Vec<String>,
    },
    /// A colour of a range, of which no card was imported.
    OnlyInRange,
}

/// What would take a hook from a card.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum HookLoss {
    /// A board of that name would get another size.
    Resize(String),
    /// That hook would be blocked.
    Block(String),
    /// That hook would take fewer cards.
    FewerCards(String),
}

/// What there is to do about a card that isn't where a command wants it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotHereNext {
    /// It is missing or elsewhere: say that it is found.
    SayFound,
    /// It is missing: when it turns up, say that it is found.
    WhenItTurnsUp,
    /// It is on a ring: put it away from there.
    ReturnIt,
    /// It is where the command would put it.
    Nothing,
    /// It is on the ring itself: no thread need be split off for it.
    NoSplit,
}

/// A command that could not be carried out, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Refusal {
    /// No board yet.
    NoBoard,
    /// No board of that name.
    UnknownBoard {
        /// What was asked for.
        name: String,
        /// The boards there are.
        known: Vec<String>,
    },
    /// A board of that name is there already.
    BoardExists(String),
    /// Two boards would share marks.
    SharedHookName {
        /// A mark both would have.
        hook_name: String,
        /// The board that has it.
        board: String,
    },
    /// Not a possible board.
    Board(ParseBoardError),
    /// No hook with that mark.
    UnknownHook {
        /// What was asked for.
        hook_name: String,
        /// What marks there are.
        known: Vec<Run>,
    },
    /// The hook is blocked.
    Blocked {
        /// The hook's mark.
        hook_name: String,
        /// The reason given.
        why: String,
    },
    /// The hook has no free place.
    HookFull {
        /// The hook's mark.
        hook_name: String,
        /// The cards that live there.
        who: Vec<(String, Option<CardPlace>)>,
    },
    /// The card lives on that hook.
    LivesThere {
        /// The card.
        card: String,
        /// The hook's mark.
        hook_name: String,
        /// Where the card is.
        place: Box<CardPlace>,
    },
    /// The hook is not blocked.
    NotBlocked {
        /// The hook's mark.
        hook_name: String,
    },
    /// Cards live or hang, or a ring hangs on a hook, where no hook would be usable.
    StillHanging {
        /// What was to be done.
        what: HookLoss,
        /// The cards.
        who: Vec<String>,
    },
    /// A ring hangs on the hook.
    RingHangsThere {
        /// The project.
        project: String,
        /// The hook's mark.
        hook_name: String,
    },
    /// A text is not a number.
    Number(ParseNumberError),
    /// A text is not a label.
    Label(ParseLabelError),
    /// A text is not a tag of a card.
    Tag(TagError),
    /// No such card.
    UnknownCard {
        /// What was asked for.
        name: String,
        /// What may have been meant.
        hint: Option<CardHint>,
    },
    /// More than one card of that name.
    Ambiguous {
        /// What was asked for.
        name: String,
        /// The full names.
        choices: Vec<String>,
    },
    /// No cards were named.
    NoCards,
    /// No such ring.
    UnknownRing {
        /// What was asked for.
        project: String,
        /// The rings there are.
        known: Vec<String>,
    },
    /// The project has no name.
    NoProject,
    /// The ring is closed.
    RingClosed(String),
    /// The ring isn't hanging on a hook.
    NotHanging(String),
    /// The card is where it cannot be taken from.
    NotHere {
        /// The card.
        card: String,
        /// Where it is.
        place: Box<CardPlace>,
        /// What to do.
        next: NotHereNext,
    },
    /// The card is not on that ring.
    NotOnRing {
        /// The card.
        card: String,
        /// The project.
        project: String,
        /// Where it is.
        place: Box<CardPlace>,
    },
    /// There is nothing on the ring.
    EmptyRing(String),
    /// The ring cannot close yet.
    Unaccounted {
        /// The project.
        project: String,
        /// The cards and where they are.
        cards: Vec<(String, CardPlace)>,
    },
    /// The ring cannot close over its split cards.
    SplitCardLeft {
        /// The project.
        project: String,
        /// The split cards and where they are.
        cards: Vec<(String, CardPlace)>,
        /// The card that the first of them was split from.
        first: String,
    },
    /// A split card cannot be put away, because there is nothing to rejoin it with.
    SplitCardStays {
        /// The split card.
        card: String,
        /// The project of the ring it is on.
        project: String,
        /// The card it was split from.
        whole: String,
        /// Where that one is.
        place: Box<CardPlace>,
        /// Whether that one is on a ring.
        on_ring: bool,
    },
    /// A split card has no hook and no re-hang touches it.
    SplitCardHasNoHook {
        /// The split card.
        card: String,
        /// The card it was split from.
        whole: String,
    },
    /// A split card is not split again.
    SplitCard(String),
    /// No split card to be merged.
    NoSplitCard {
        /// The card.
        card: String,
        /// The project.
        project: String,
        /// Where its split cards are.
        others: Vec<CardPlace>,
    },
    /// No amount of thread was said.
    NoThread,
    /// There is less thread than asked for.
    TooLittle {
        /// The card.
        card: String,
        /// What is on it.
        have: Amount,
        /// What was asked for.
        asked: Amount,
    },
    /// The card has no thread of that lot.
    NoSuchLot {
        /// The card.
        card: String,
        /// The lot asked for.
        lot: String,
        /// The lots it has.
        lots: Vec<Lot>,
    },
    /// There would be more thread than can be counted.
    TooMuch(String),
    /// The card is not missing.
    NotMissing {
        /// The card.
        card: String,
        /// Where it is.
        place: Box<CardPlace>,
    },
    /// Where else a card is was not said.
    NoPlaceNamed,
    /// The card a split card was split from would go, and the split card stay.
    SplitCardWouldStay {
        /// The card.
        card: String,
        /// The split card.
        split_card: String,
        /// Where the split card is.
        place: Box<CardPlace>,
    },
    /// A new card of a number that there is.
    CardThere {
        /// The card.
        card: String,
        /// What is on it.
        amount: Amount,
    },
    /// No cards to hang.
    NoCardsYet,
    /// The board is too small.
    Short {
        /// Places short.
        short: usize,
        /// Cards that want a home.
        cards: usize,
        /// Places there are.
        have: usize,
    },
    /// Two cards that stay are in each other's way.
    HoldsClash {
        /// The card that belongs first.
        earlier: String,
        /// The hook it stays on.
        earlier_hook: String,
        /// The card that belongs after it.
        later: String,
        /// The hook it stays on.
        later_hook: String,
        /// Whether they hang the wrong way round; else what belongs between them has no place.
        crossed: bool,
        /// Whether cards stay because they are outside of the rows that may change.
        some_rows: bool,
    },
    /// A card that stays leaves too few places for those before or after it.
    HoldOutOfReach {
        /// The card.
        card: String,
        /// The hook it stays on.
        hook_name: String,
    },
    /// No row of that name.
    UnknownRow {
        /// What was asked for.
        row: String,
        /// The rows there are.
        known: Vec<Run>,
    },
    /// A re-hang is underway.
    RehangUnderway {
        /// Steps done.
        done: u32,
        /// Steps planned at the beginning.
        steps: u32,
    },
    /// No re-hang is underway.
    NoRehangUnderway,
    /// The re-hang underway aims at a hook that cannot be had any more.
    AimLost {
        /// The hook's mark.
        hook_name: String,
    },
    /// Nothing is to be done.
    NothingToDo,
    /// No such plan.
    UnknownPlan {
        /// The number asked for.
        asked: usize,
        /// How many there are.
        have: usize,
    },
    /// The project has no key.
    NoKey(String),
    /// The key has not that colour.
    NotInKey {
        /// What was asked for.
        name: String,
        /// The project.
        project: String,
    },
    /// A part of what is not counted.
    NotCounted(String),
    /// No project that is in use has a key.
    NoKeys,
    /// The projects that have a key are hanging.
    KeysHanging(Vec<String>),
    /// The fabric or the hand cannot be so.
    Assumed(ParseAssumptionError),
    /// There is nothing to buy.
    NothingToBuy,
    /// Not a number of skeins.
    NotSkeins(String),
    /// Nothing to take back.
    NothingToUndo,
    /// Nothing to do again.
    NothingToRedo,
    /// No family of that name.
    UnknownFamily {
        /// What was asked for.
        name: String,
        /// The families there are.
        known: Vec<String>,
    },
    /// A family is named twice in an order.
    FamilyTwice(String),
    /// A family of that name is there.
    FamilyThere(String),
    /// A family has no name.
    FamilyName,
    /// A family cannot be given up while cards belong to it by themselves.
    FamilyInUse {
        /// The family.
        family: String,
        /// The cards.
        cards: Vec<String>,
    },
    /// All the cards were chosen for the family before.
    FamilySame {
        /// The family.
        family: String,
        /// The cards.
        cards: Vec<String>,
    },
    /// The range or the colour says the family of all the cards already.
    FamilyNotChosen(Vec<String>),
    /// The families are in that order already.
    FamilyOrderSame,
    /// Not a name for a range: a card is called `RANGE:NUMBER`.
    RangeName,
    /// The person said to stop.
    Stopped,
    /// The homes of the stash are no question for the engine: a fault of the program.
    Engine(EngineError),
    /// The card has no home to be held on.
    NoHomeYet(String),
    /// All that was named is held already.
    HeldAlready(Vec<String>),
    /// Nothing that was named is held.
    NotHeld(Vec<String>),
    /// The card stays because its family is held.
    HeldByFamily {
        /// The card.
        card: String,
        /// Its family.
        family: String,
    },
    /// Nothing at all is held.
    NothingHeld,
    /// A card was seen on two hooks.
    SeenTwice {
        /// The card.
        card: String,
        /// The mark of one hook.
        first: String,
        /// The mark of the other.
        second: String,
    },
    /// A split card was seen on the wall.
    SplitCardOnWall(String),
    /// Not an effort.
    Effort(ParseEffortError),
    /// The cards have that effort already.
    EffortAlready {
        /// The cards.
        cards: Vec<String>,
        /// The effort.
        effort: u16,
    },
    /// The hook is reserved already, or isn't reserved.
    Reserved {
        /// The hook's mark.
        hook_name: String,
        /// Whether it was reserved.
        reserved: bool,
    },
    /// The file has no usable rows.
    NoRows,
    /// Every row was refused, or one was and `--strict` was given.
    RowsRejected {
        /// Rows refused.
        rejected: usize,
        /// Rows in the file.
        rows: usize,
        /// Every row refused, in the order of their lines.
        every: Vec<Rejected>,
    },
    /// What a list would change is more than the record takes at once.
    ListTooLong {
        /// So much it would be.
        megabytes: usize,
        /// Into so many lists it has to be split at least.
        parts: usize,
    },
    /// A project has a ring in use.
    RingOpen(String),
    /// No card of a project's key is to be taken off the wall.
    NothingToFetch(String),
    /// What was written cannot be a line of a key.
    NotALine(RowFault),
    /// The command made an event that breaks a law: a fault of the program.
    ApplyError(ApplyError),
}

impl From<ParseBoardError> for Refusal {
    fn from(why: ParseBoardError) -> Self {
        Self::Board(why)
    }
}

impl From<ParseNumberError> for Refusal {
    fn from(why: ParseNumberError) -> Self {
        Self::Number(why)
    }
}

impl From<ParseLabelError> for Refusal {
    fn from(why: ParseLabelError) -> Self {
        Self::Label(why)
    }
}

impl From<TagError> for Refusal {
    fn from(why: TagError) -> Self {
        Self::Tag(why)
    }
}

impl From<ParseAssumptionError> for Refusal {
    fn from(why: ParseAssumptionError) -> Self {
        Self::Assumed(why)
    }
}

impl From<ParseEffortError> for Refusal {
    fn from(why: ParseEffortError) -> Self {
        Self::Effort(why)
    }
}

impl From<ApplyError> for Refusal {
    fn from(why: ApplyError) -> Self {
        Self::ApplyError(why)
    }
}
