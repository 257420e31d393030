//! Why a command could not be carried out, or a row of a list not be taken. Nothing was changed.
//!
//! A reason is data, with the names it needs as they were at that moment; the sentence is made by who
//! shows it.

use jiff::Timestamp;

use crate::engine::instance::EngineError;
use crate::model::assumptions::ParseAssumptionError;
use crate::model::board::ParseBoardError;
use crate::model::card::{ParseEffortError, TagError};
use crate::model::ids::PurchaseId;
use crate::model::label::{Label, ParseLabelError, ParseNameError};
use crate::model::number::{Number, ParseNumberError};
use crate::model::range::{PutUp, PutUpError};
use crate::model::ring::NeedleError;
use crate::model::thread::{Lot, Strands};
use crate::model::whereabouts::CardPlace;
use crate::stash::apply::ApplyError;
use crate::stash::columns::Column;

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

/// A command that could not be carried out, and why. It is displayed as the word by which scripts know it.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Refusal {
    /// No board yet.
    #[error("no_board")]
    NoBoard,
    /// No board of that name.
    #[error("unknown_board")]
    UnknownBoard {
        /// What was asked for.
        name: String,
        /// The boards there are.
        known: Vec<String>,
    },
    /// A board of that name is there already.
    #[error("board_exists")]
    BoardExists(String),
    /// Two boards would share marks.
    #[error("shared_hook_name")]
    SharedHookName {
        /// A mark both would have.
        hook_name: String,
        /// The board that has it.
        board: String,
    },
    /// Not a possible board.
    #[error("not_a_board")]
    Board(#[from] ParseBoardError),
    /// No hook with that mark.
    #[error("unknown_hook")]
    UnknownHook {
        /// What was asked for.
        hook_name: String,
        /// What marks there are.
        known: Vec<Run>,
    },
    /// The hook is blocked.
    #[error("blocked")]
    Blocked {
        /// The hook's mark.
        hook_name: String,
        /// The reason given.
        why: String,
    },
    /// The hook has no free place.
    #[error("hook_full")]
    HookFull {
        /// The hook's mark.
        hook_name: String,
        /// The cards that live there.
        who: Vec<(String, Option<CardPlace>)>,
    },
    /// The card lives on that hook.
    #[error("lives_there")]
    LivesThere {
        /// The card.
        card: String,
        /// The hook's mark.
        hook_name: String,
        /// Where the card is.
        place: Box<CardPlace>,
    },
    /// The hook is not blocked.
    #[error("not_blocked")]
    NotBlocked {
        /// The hook's mark.
        hook_name: String,
    },
    /// Cards live or hang, or a ring hangs on a hook, where no hook would be usable.
    #[error("still_hanging")]
    StillHanging {
        /// What was to be done.
        what: HookLoss,
        /// The cards.
        who: Vec<String>,
    },
    /// A ring hangs on the hook.
    #[error("ring_hangs_there")]
    RingHangsThere {
        /// The project.
        project: String,
        /// The hook's mark.
        hook_name: String,
    },
    /// A text is not a number.
    #[error("not_a_number")]
    Number(#[from] ParseNumberError),
    /// A text is not a label.
    #[error("not_a_label")]
    Label(#[from] ParseLabelError),
    /// A text is not a tag of a card.
    #[error("not_a_tag")]
    Tag(#[from] TagError),
    /// No such card.
    #[error("unknown_card")]
    UnknownCard {
        /// What was asked for.
        name: String,
        /// What may have been meant.
        hint: Option<CardHint>,
    },
    /// More than one card of that name.
    #[error("ambiguous")]
    Ambiguous {
        /// What was asked for.
        name: String,
        /// The full names.
        choices: Vec<String>,
    },
    /// No cards were named.
    #[error("no_cards")]
    NoCards,
    /// No such ring.
    #[error("unknown_ring")]
    UnknownRing {
        /// What was asked for.
        project: String,
        /// The rings there are.
        known: Vec<String>,
    },
    /// The project has no name.
    #[error("no_project")]
    NoProject,
    /// The ring is closed.
    #[error("ring_closed")]
    RingClosed(String),
    /// The ring isn't hanging on a hook.
    #[error("not_hanging")]
    NotHanging(String),
    /// The card is where it cannot be taken from.
    #[error("not_here")]
    NotHere {
        /// The card.
        card: String,
        /// Where it is.
        place: Box<CardPlace>,
        /// What to do.
        next: NotHereNext,
    },
    /// The card is not on that ring.
    #[error("not_on_ring")]
    NotOnRing {
        /// The card.
        card: String,
        /// The project.
        project: String,
        /// Where it is.
        place: Box<CardPlace>,
    },
    /// There is nothing on the ring.
    #[error("empty_ring")]
    EmptyRing(String),
    /// The ring cannot close yet.
    #[error("unaccounted")]
    Unaccounted {
        /// The project.
        project: String,
        /// The cards and where they are.
        cards: Vec<(String, CardPlace)>,
    },
    /// The ring cannot close over its split cards.
    #[error("unaccounted")]
    SplitCardLeft {
        /// The project.
        project: String,
        /// The split cards and where they are.
        cards: Vec<(String, CardPlace)>,
        /// The card that the first of them was split from.
        first: String,
    },
    /// A split card cannot be put away, because there is nothing to rejoin it with.
    #[error("split_card_stays")]
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
    #[error("split_card_has_no_hook")]
    SplitCardHasNoHook {
        /// The split card.
        card: String,
        /// The card it was split from.
        whole: String,
    },
    /// A split card is not split again.
    #[error("split_card")]
    SplitCard(String),
    /// No split card to be merged.
    #[error("no_split_card")]
    NoSplitCard {
        /// The card.
        card: String,
        /// The project.
        project: String,
        /// Where its split cards are.
        others: Vec<CardPlace>,
    },
    /// No amount of thread was said.
    #[error("no_thread")]
    NoThread,
    /// There is less thread than asked for.
    #[error("too_little")]
    TooLittle {
        /// The card.
        card: String,
        /// What is on it.
        have: Amount,
        /// What was asked for.
        asked: Amount,
    },
    /// The card has no thread of that lot.
    #[error("no_such_lot")]
    NoSuchLot {
        /// The card.
        card: String,
        /// The lot asked for.
        lot: String,
        /// The lots it has.
        lots: Vec<Lot>,
    },
    /// There is less uncut thread of one lot than asked for.
    #[error("too_little")]
    TooLittleUncut {
        /// The card.
        card: String,
        /// What the lot with the most makes.
        have: Amount,
        /// What was asked for.
        asked: Amount,
    },
    /// The card has several dye lots and none was named.
    #[error("which_lot")]
    WhichLot {
        /// The card.
        card: String,
        /// Its lots.
        lots: Vec<Lot>,
    },
    /// The projects are in that order already.
    #[error("ring_order_same")]
    RingOrderSame,
    /// The colours are as they would be marked already.
    #[error("marked_already")]
    MarkedAlready,
    /// The colours are not on the want list.
    #[error("not_wanted")]
    NotWanted(Vec<String>),
    /// No thread is sold so.
    #[error("not_a_put_up")]
    PutUp(#[from] PutUpError),
    /// There would be more thread than can be counted.
    #[error("too_much")]
    TooMuch(String),
    /// The card is not missing.
    #[error("not_missing")]
    NotMissing {
        /// The card.
        card: String,
        /// Where it is.
        place: Box<CardPlace>,
    },
    /// To whom a card is lent is no name.
    #[error("not_a_label")]
    Whom(ParseNameError),
    /// Where else a card is was not said.
    #[error("no_place_named")]
    NoPlaceNamed,
    /// The card a split card was split from would go, and the split card stay.
    #[error("split_card_would_stay")]
    SplitCardWouldStay {
        /// The card.
        card: String,
        /// The split card.
        split_card: String,
        /// Where the split card is.
        place: Box<CardPlace>,
    },
    /// A new card of a number that there is.
    #[error("card_there")]
    CardThere {
        /// The card.
        card: String,
        /// What is on it.
        amount: Amount,
    },
    /// No cards to hang.
    #[error("no_cards_yet")]
    NoCardsYet,
    /// The board is too small.
    #[error("short")]
    Short {
        /// Places short.
        short: usize,
        /// Cards that want a home.
        cards: usize,
        /// Places there are.
        have: usize,
    },
    /// Two cards that stay are in each other's way.
    #[error("holds_clash")]
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
    #[error("hold_out_of_reach")]
    HoldOutOfReach {
        /// The card.
        card: String,
        /// The hook it stays on.
        hook_name: String,
    },
    /// No row of that name.
    #[error("unknown_row")]
    UnknownRow {
        /// What was asked for.
        row: String,
        /// The rows there are.
        known: Vec<Run>,
    },
    /// A re-hang is underway.
    #[error("rehang_underway")]
    RehangUnderway {
        /// Steps done.
        done: u32,
        /// Steps planned at the beginning.
        steps: u32,
    },
    /// No re-hang is underway.
    #[error("no_rehang_underway")]
    NoRehangUnderway,
    /// The re-hang underway aims at a hook that cannot be had any more.
    #[error("aim_lost")]
    AimLost {
        /// The hook's mark.
        hook_name: String,
    },
    /// There is nothing to do.
    #[error("nothing_to_do")]
    NothingToDo,
    /// No such plan.
    #[error("unknown_plan")]
    UnknownPlan {
        /// The number asked for.
        asked: usize,
        /// The highest there is; the lowest is 0.
        have: usize,
    },
    /// The project has no key.
    #[error("no_key")]
    NoKey(String),
    /// The key has not that colour.
    #[error("not_in_key")]
    NotInKey {
        /// What was asked for.
        name: String,
        /// The project.
        project: String,
    },
    /// A part of what is not counted.
    #[error("not_counted")]
    NotCounted(String),
    /// No project that is in use has a key.
    #[error("no_keys")]
    NoKeys,
    /// The projects that have a key are hanging.
    #[error("keys_hanging")]
    KeysHanging(Vec<String>),
    /// The fabric or the hand cannot be so.
    #[error("not_assumed")]
    Assumed(#[from] ParseAssumptionError),
    /// There is nothing to buy.
    #[error("nothing_to_buy")]
    NothingToBuy,
    /// Not a number of skeins.
    #[error("not_skeins")]
    NotSkeins(String),
    /// Nothing to take back.
    #[error("nothing_to_undo")]
    NothingToUndo,
    /// Nothing to do again.
    #[error("nothing_to_redo")]
    NothingToRedo,
    /// Fewer changes can be undone than asked for.
    #[error("fewer_to_undo")]
    FewerToUndo(usize),
    /// Fewer changes can be redone than asked for.
    #[error("fewer_to_redo")]
    FewerToRedo(usize),
    /// No family of that name.
    #[error("families")]
    UnknownFamily {
        /// What was asked for.
        name: String,
        /// The families there are.
        known: Vec<String>,
    },
    /// A family is named twice in an order.
    #[error("families")]
    FamilyTwice(String),
    /// A family of that name is there.
    #[error("family_there")]
    FamilyThere(String),
    /// A family has no name.
    #[error("family_name")]
    FamilyName,
    /// A family cannot be given up while cards belong to it by themselves.
    #[error("family_in_use")]
    FamilyInUse {
        /// The family.
        family: String,
        /// The cards.
        cards: Vec<String>,
    },
    /// All the cards were chosen for the family before.
    #[error("family_same")]
    FamilySame {
        /// The family.
        family: String,
        /// The cards.
        cards: Vec<String>,
    },
    /// The range or the colour says the family of all the cards already.
    #[error("family_not_chosen")]
    FamilyNotChosen(Vec<String>),
    /// The families are in that order already.
    #[error("family_order_same")]
    FamilyOrderSame,
    /// Not a name for a range: a card is called `RANGE:NUMBER`.
    #[error("range_name")]
    RangeName,
    /// The person said to stop.
    #[error("stopped")]
    Stopped,
    /// The homes of the stash are no question for the engine: a fault of the program.
    #[error("engine")]
    Engine(EngineError),
    /// The card has no home to be held on.
    #[error("no_home")]
    NoHomeYet(String),
    /// All that was named is held already.
    #[error("held_already")]
    HeldAlready(Vec<String>),
    /// Nothing that was named is held.
    #[error("not_held")]
    NotHeld(Vec<String>),
    /// The card stays because its family is held.
    #[error("held_by_family")]
    HeldByFamily {
        /// The card.
        card: String,
        /// Its family.
        family: String,
    },
    /// Nothing at all is held.
    #[error("not_held")]
    NothingHeld,
    /// A card was seen on two hooks.
    #[error("seen_twice")]
    SeenTwice {
        /// The card.
        card: String,
        /// The mark of one hook.
        first: String,
        /// The mark of the other.
        second: String,
    },
    /// A split card was seen on the wall.
    #[error("split_card")]
    SplitCardOnWall(String),
    /// Not an effort.
    #[error("not_an_effort")]
    Effort(#[from] ParseEffortError),
    /// The cards have that effort already.
    #[error("effort_already")]
    EffortAlready {
        /// The cards.
        cards: Vec<String>,
        /// The effort.
        effort: u16,
    },
    /// The hook is reserved already, or isn't reserved.
    #[error("{}", if *reserved { "reserved_already" } else { "not_reserved" })]
    Reserved {
        /// The hook's mark.
        hook_name: String,
        /// Whether it was reserved.
        reserved: bool,
    },
    /// The file has no usable rows.
    #[error("no_rows")]
    NoRows,
    /// Every row was refused, or one was and `--strict` was given.
    #[error("rows_rejected")]
    RowsRejected {
        /// Rows refused.
        rejected: usize,
        /// Rows in the file.
        rows: usize,
        /// Every row refused, in the order of their lines.
        every: Vec<Rejected>,
    },
    /// The list is of a purchase that was imported already.
    #[error("purchase_taken")]
    PurchaseTaken {
        /// Which purchase.
        purchase: PurchaseId,
        /// When it was imported.
        at: Timestamp,
    },
    /// What a list would change is more than the record takes at once.
    #[error("list_too_long")]
    ListTooLong {
        /// So much it would be.
        megabytes: usize,
        /// Into so many lists it has to be split at least.
        parts: usize,
    },
    /// A project has a ring in use.
    #[error("ring_open")]
    RingOpen(String),
    /// No card of a project's key has to be taken off the wall.
    #[error("nothing_to_fetch")]
    NothingToFetch(String),
    /// What was written cannot be a line of a key.
    #[error("not_a_line")]
    NotALine(RowFault),
    /// The command made an event that breaks a law: a fault of the program.
    #[error("misfit")]
    ApplyError(#[from] ApplyError),
}

/// Why a row was not taken.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RowFault {
    /// It couldn't be read; in the words of whoever read the file.
    #[error("unread")]
    Unread(String),
    /// Its number is none.
    #[error("not_a_number")]
    Number(ParseNumberError),
    /// Its tag is none.
    #[error("not_a_tag")]
    Tag(TagError),
    /// The range it names is no label.
    #[error("not_a_range")]
    Range(ParseLabelError),
    /// The range it names has a colon in its name.
    #[error("range_with_colon")]
    RangeColon(Label),
    /// It names no range where it must, in this column.
    #[error("no_range")]
    NoRange(Column),
    /// The stash has no range of that name.
    #[error("unknown_range")]
    RangeUnknown(String),
    /// It says that a number matches itself.
    #[error("matches_itself")]
    MatchesItself(String),
    /// The colour has as many matches as it may.
    #[error("too_many_matches")]
    TooManyMatches(Number),
    /// A text that is no label.
    #[error("not_a_label")]
    Label(Column, ParseLabelError),
    /// Its threads make no needle.
    #[error("not_a_needle")]
    Needle(NeedleError),
    /// It doesn't say the strands of each of so many threads of a blend.
    #[error("strands_of_each")]
    StrandsOfEach(usize),
    /// It counts pieces and is no notion.
    #[error("pieces_of_thread")]
    PiecesOfThread,
    /// A hook or a card it names cannot be had.
    #[error("{0}")]
    Refused(Box<Refusal>),
    /// Another row of the same card says something else.
    #[error("rows_differ")]
    Differs {
        /// The row's line.
        line: u64,
        /// What it says otherwise.
        column: Column,
    },
    /// The stash has a card that would be written like it, which is called so.
    #[error("written_alike")]
    WrittenAlike(String),
    /// The number is in the list already.
    #[error("twice")]
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
    #[error("not_an_amount")]
    Amount,
    /// Its amount is added to a card, and it doesn't say how much.
    #[error("nothing_to_add")]
    NothingToAdd,
    /// More thread than can be kept.
    #[error("too_much_thread")]
    TooMuch,
    /// A split card has a hook.
    #[error("split_card_hook")]
    SplitCardHook,
    /// A split card has uncut skeins.
    #[error("split_card_uncut")]
    SplitCardUncut,
    /// The amount of a split card is not said.
    #[error("split_card_amount")]
    SplitCardAmount,
    /// There is no such split card, and no row of the card itself to which its thread could be added.
    #[error("unknown_split_card")]
    SplitCardUnknown(Number),
    /// Its hook has no place left.
    #[error("hook_full")]
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
    /// The number it has, empty where it has none; `None` where it couldn't be read at all.
    pub number: Option<String>,
}
