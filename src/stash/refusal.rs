//! Why a command couldn't be carried out, or a row of a list wasn't accepted. Nothing was changed.
//!
//! A reason is data, with the names it needs as they were at that moment. Whoever shows it makes
//! the sentence.

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
use crate::model::whereabouts::{CardPlace, Whereabouts};
use crate::stash::apply::ApplyError;
use crate::stash::columns::Column;

/// An amount of thread with its put-up, which says how many strands make a length.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Amount {
    /// The amount.
    pub strands: Strands,
    /// The put-up of the thread.
    pub put_up: PutUp,
}

/// The hooks or rows of a board, from the first name to the last.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Run {
    /// The board's name.
    pub board: String,
    /// The first.
    pub first: String,
    /// The last.
    pub last: String,
}

/// What an unknown card name may have meant.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum CardHint {
    /// The most similar card.
    Nearest {
        /// The name of the card.
        card: String,
        /// The name of its colour; may be empty.
        name: String,
    },
    /// A card with these split cards.
    SplitCards {
        /// The card.
        card: String,
        /// Its split cards; may be empty.
        split_cards: Vec<String>,
    },
    /// A colour of a range without an imported card.
    OnlyInRange,
}

/// A change that would take a hook from a card.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum HookLoss {
    /// Resizing the board with this name.
    Resize(String),
    /// Blocking this hook.
    Block(String),
    /// Lowering the number of cards on this hook.
    FewerCards(String),
}

/// The next step for a card that isn't where a command needs it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotHereNext {
    /// It is missing or elsewhere: mark it as found.
    SayFound,
    /// It is missing: mark it as found when it turns up.
    WhenItTurnsUp,
    /// It is on a ring: put it away first.
    ReturnIt,
    /// It is already where the command would put it.
    Nothing,
    /// It is on the ring itself, so no thread has to be split off for it.
    NoSplit,
}

impl NotHereNext {
    /// The next step before a card can be used as if it hung on the wall; `None` if it's there, to hang
    /// or in the hand.
    #[must_use]
    pub const fn of(at: &Whereabouts) -> Option<Self> {
        match at {
            Whereabouts::Hook { .. } | Whereabouts::Hand | Whereabouts::Unhung => None,
            Whereabouts::Ring { .. } => Some(Self::ReturnIt),
            Whereabouts::Missing { .. } => Some(Self::WhenItTurnsUp),
            Whereabouts::Elsewhere { .. } => Some(Self::SayFound),
        }
    }
}

/// A command that couldn't be carried out, and why. Displays as a code word for scripts.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Refusal {
    /// No board yet.
    #[error("no_board")]
    NoBoard,
    /// No board with that name.
    #[error("unknown_board")]
    UnknownBoard {
        /// The requested name.
        name: String,
        /// The existing boards.
        known: Vec<String>,
    },
    /// A board with that name already exists.
    #[error("board_exists")]
    BoardExists(String),
    /// Two boards would share hook names.
    #[error("shared_hook_name")]
    SharedHookName {
        /// A hook name that both would have.
        hook_name: String,
        /// The board that already has it.
        board: String,
    },
    /// Not a valid board.
    #[error("not_a_board")]
    Board(#[from] ParseBoardError),
    /// No hook with that name.
    #[error("unknown_hook")]
    UnknownHook {
        /// The requested name.
        hook_name: String,
        /// The existing hook names.
        known: Vec<Run>,
    },
    /// The hook is blocked.
    #[error("blocked")]
    Blocked {
        /// Name of the hook.
        hook_name: String,
        /// The reason it is blocked.
        why: String,
    },
    /// The hook has no free place.
    #[error("hook_full")]
    HookFull {
        /// Name of the hook.
        hook_name: String,
        /// The cards that belong there, and where each is.
        who: Vec<(String, Option<CardPlace>)>,
    },
    /// The card already belongs on that hook.
    #[error("home_there")]
    HomeThere {
        /// The card.
        card: String,
        /// Name of the hook.
        hook_name: String,
        /// Where the card is.
        place: Box<CardPlace>,
    },
    /// The hook isn't blocked.
    #[error("not_blocked")]
    NotBlocked {
        /// Name of the hook.
        hook_name: String,
    },
    /// Cards belong or hang, or a ring hangs, on hooks that would be lost.
    #[error("still_hanging")]
    StillHanging {
        /// The requested change.
        what: HookLoss,
        /// The cards.
        who: Vec<String>,
    },
    /// A ring hangs on the hook.
    #[error("ring_hangs_there")]
    RingHangsThere {
        /// The project.
        project: String,
        /// Name of the hook.
        hook_name: String,
    },
    /// A text isn't a number.
    #[error("not_a_number")]
    Number(#[from] ParseNumberError),
    /// A text isn't a label.
    #[error("not_a_label")]
    Label(#[from] ParseLabelError),
    /// A text isn't a card's tag.
    #[error("not_a_tag")]
    Tag(#[from] TagError),
    /// No such card.
    #[error("unknown_card")]
    UnknownCard {
        /// The requested name.
        name: String,
        /// What it may have meant.
        hint: Option<CardHint>,
    },
    /// More than one card has that name.
    #[error("ambiguous")]
    Ambiguous {
        /// The requested name.
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
        /// The requested project.
        project: String,
        /// The existing rings.
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
    /// The card isn't where it could be taken from.
    #[error("not_here")]
    NotHere {
        /// The card.
        card: String,
        /// Where it is.
        place: Box<CardPlace>,
        /// The next step.
        next: NotHereNext,
    },
    /// The card isn't on that ring.
    #[error("not_on_ring")]
    NotOnRing {
        /// The card.
        card: String,
        /// The project.
        project: String,
        /// Where it is.
        place: Box<CardPlace>,
    },
    /// The ring has no cards.
    #[error("empty_ring")]
    EmptyRing(String),
    /// The ring can't close yet.
    #[error("unaccounted")]
    Unaccounted {
        /// The project.
        project: String,
        /// The cards and where they are.
        cards: Vec<(String, CardPlace)>,
    },
    /// The ring can't close while split cards are left on it.
    #[error("unaccounted")]
    SplitCardLeft {
        /// The project.
        project: String,
        /// The split cards and where they are.
        cards: Vec<(String, CardPlace)>,
        /// The card that the first of them was split from.
        first: String,
    },
    /// A split card can't be put away, because its whole card isn't there to rejoin.
    #[error("split_card_stays")]
    SplitCardStays {
        /// The split card.
        card: String,
        /// The project of the ring it is on.
        project: String,
        /// The card it was split from.
        whole: String,
        /// Where that card is.
        place: Box<CardPlace>,
    },
    /// A split card has no hook, and re-hangs ignore it.
    #[error("split_card_has_no_hook")]
    SplitCardHasNoHook {
        /// The split card.
        card: String,
        /// The card it was split from.
        whole: String,
    },
    /// A split card can't be split again.
    #[error("split_card")]
    SplitCard(String),
    /// No split card to rejoin.
    #[error("no_split_card")]
    NoSplitCard {
        /// The card.
        card: String,
        /// The project.
        project: String,
        /// Where its split cards are.
        others: Vec<CardPlace>,
    },
    /// No amount of thread was given.
    #[error("no_thread")]
    NoThread,
    /// There is less thread than requested.
    #[error("too_little")]
    TooLittle {
        /// The card.
        card: String,
        /// The amount on it.
        have: Amount,
        /// The requested amount.
        asked: Amount,
    },
    /// The card has no thread of that lot.
    #[error("no_such_lot")]
    NoSuchLot {
        /// The card.
        card: String,
        /// The requested lot.
        lot: String,
        /// The lots it has.
        lots: Vec<Lot>,
    },
    /// There is less uncut thread of one lot than requested.
    #[error("too_little")]
    TooLittleUncut {
        /// The card.
        card: String,
        /// What the lot with the most yields.
        have: Amount,
        /// The requested amount.
        asked: Amount,
    },
    /// The card has several dye lots and none was given.
    #[error("which_lot")]
    WhichLot {
        /// The card.
        card: String,
        /// Its lots.
        lots: Vec<Lot>,
    },
    /// The projects are already in that order.
    #[error("ring_order_same")]
    RingOrderSame,
    /// The colours are already marked that way.
    #[error("marked_already")]
    MarkedAlready,
    /// The colours aren't on the want list.
    #[error("not_wanted")]
    NotWanted(Vec<String>),
    /// No thread is sold like that.
    #[error("not_a_put_up")]
    PutUp(#[from] PutUpError),
    /// There would be more thread than can be counted.
    #[error("too_much")]
    TooMuch(String),
    /// The card isn't missing.
    #[error("not_missing")]
    NotMissing {
        /// The card.
        card: String,
        /// Where it is.
        place: Box<CardPlace>,
    },
    /// The borrower's name isn't a valid name.
    #[error("not_a_label")]
    Whom(ParseNameError),
    /// No place was given for a card elsewhere.
    #[error("no_place_named")]
    NoPlaceNamed,
    /// A card would be removed, but a split card of it would stay.
    #[error("split_card_would_stay")]
    SplitCardWouldStay {
        /// The card.
        card: String,
        /// The split card.
        split_card: String,
        /// Where the split card is.
        place: Box<CardPlace>,
    },
    /// A new card has a number that already exists.
    #[error("card_there")]
    CardThere {
        /// The card.
        card: String,
        /// The amount on it.
        amount: Amount,
    },
    /// No cards to hang.
    #[error("no_cards_yet")]
    NoCardsYet,
    /// The board is too small.
    #[error("short")]
    Short {
        /// How many places are lacking.
        short: usize,
        /// Cards that need a hook.
        cards: usize,
        /// Existing places.
        have: usize,
    },
    /// Two cards that stay block each other.
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
        /// Whether they hang in the wrong order; otherwise the cards between them have no place.
        crossed: bool,
        /// Whether cards stay because they are outside the rows that may change.
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
    /// No row with that name.
    #[error("unknown_row")]
    UnknownRow {
        /// The requested row.
        row: String,
        /// The existing rows.
        known: Vec<Run>,
    },
    /// A re-hang is underway.
    #[error("rehang_underway")]
    RehangUnderway {
        /// Steps done.
        done: u32,
        /// Steps planned at the start.
        steps: u32,
    },
    /// No re-hang is underway.
    #[error("no_rehang_underway")]
    NoRehangUnderway,
    /// A target hook of the re-hang underway is no longer available.
    #[error("aim_lost")]
    AimLost {
        /// Name of the hook.
        hook_name: String,
    },
    /// There is nothing to do.
    #[error("nothing_to_do")]
    NothingToDo,
    /// No such plan.
    #[error("unknown_plan")]
    UnknownPlan {
        /// The requested number.
        asked: usize,
        /// The highest number; the lowest is 0.
        have: usize,
    },
    /// The project has no chart key.
    #[error("no_key")]
    NoKey(String),
    /// The colour isn't in the chart key.
    #[error("not_in_key")]
    NotInKey {
        /// The requested colour.
        name: String,
        /// The project.
        project: String,
    },
    /// A fraction of something that isn't counted.
    #[error("not_counted")]
    NotCounted(String),
    /// No project in use has a chart key.
    #[error("no_keys")]
    NoKeys,
    /// All projects with a chart key are hanging.
    #[error("keys_hanging")]
    KeysHanging(Vec<String>),
    /// No fabric or stitcher could meet the assumptions.
    #[error("not_assumed")]
    Assumed(#[from] ParseAssumptionError),
    /// There is nothing to buy.
    #[error("nothing_to_buy")]
    NothingToBuy,
    /// Not a number of skeins.
    #[error("not_skeins")]
    NotSkeins(String),
    /// Nothing to undo.
    #[error("nothing_to_undo")]
    NothingToUndo,
    /// Nothing to redo.
    #[error("nothing_to_redo")]
    NothingToRedo,
    /// Fewer changes can be undone than asked for.
    #[error("fewer_to_undo")]
    FewerToUndo(usize),
    /// Fewer changes can be redone than asked for.
    #[error("fewer_to_redo")]
    FewerToRedo(usize),
    /// No family with that name.
    #[error("families")]
    UnknownFamily {
        /// The requested name.
        name: String,
        /// The existing families.
        known: Vec<String>,
    },
    /// A family is named twice in an order.
    #[error("families")]
    FamilyTwice(String),
    /// A family with that name already exists.
    #[error("family_there")]
    FamilyThere(String),
    /// A family has no name.
    #[error("family_name")]
    FamilyName,
    /// A family can't be removed while its cards belong to it by range or colour.
    #[error("family_in_use")]
    FamilyInUse {
        /// The family.
        family: String,
        /// The cards.
        cards: Vec<String>,
    },
    /// All the cards already have this family by choice.
    #[error("family_same")]
    FamilySame {
        /// The family.
        family: String,
        /// The cards.
        cards: Vec<String>,
    },
    /// The range or colour already decides the family of all the cards.
    #[error("family_not_chosen")]
    FamilyNotChosen(Vec<String>),
    /// The families are already in that order.
    #[error("family_order_same")]
    FamilyOrderSame,
    /// Not a valid name for a range, because cards are named `RANGE:NUMBER`.
    #[error("range_name")]
    RangeName,
    /// The user stopped it.
    #[error("stopped")]
    Stopped,
    /// The engine refused a problem made from the stash: a fault in the program.
    #[error("engine")]
    Engine(EngineError),
    /// The card has no hook to be held on.
    #[error("no_home")]
    NoHomeYet(String),
    /// Everything named is already held.
    #[error("held_already")]
    HeldAlready(Vec<String>),
    /// Nothing named is held.
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
    /// Nothing is held at all.
    #[error("not_held")]
    NothingHeld,
    /// A card was seen on two hooks.
    #[error("seen_twice")]
    SeenTwice {
        /// The card.
        card: String,
        /// Name of the first hook.
        first: String,
        /// Name of the second hook.
        second: String,
    },
    /// A split card was seen on the wall.
    #[error("split_card")]
    SplitCardOnWall(String),
    /// Not an effort.
    #[error("not_an_effort")]
    Effort(#[from] ParseEffortError),
    /// The cards already have that effort.
    #[error("effort_already")]
    EffortAlready {
        /// The cards.
        cards: Vec<String>,
        /// The effort.
        effort: u16,
    },
    /// The hook is already reserved, or isn't reserved.
    #[error("{}", if *reserved { "reserved_already" } else { "not_reserved" })]
    Reserved {
        /// Name of the hook.
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
        /// All refused rows, in the order of their lines.
        every: Vec<Rejected>,
    },
    /// The list belongs to a purchase that was already imported.
    #[error("purchase_taken")]
    PurchaseTaken {
        /// Which purchase.
        purchase: PurchaseId,
        /// When it was imported.
        at: Timestamp,
    },
    /// The list changes more than the record accepts at once.
    #[error("list_too_long")]
    ListTooLong {
        /// The size of the changes.
        megabytes: usize,
        /// The least number of lists to split it into.
        parts: usize,
    },
    /// A project has a ring in use.
    #[error("ring_open")]
    RingOpen(String),
    /// None of the cards in a project's chart key has to be taken off the wall.
    #[error("nothing_to_fetch")]
    NothingToFetch(String),
    /// The text can't be a line of a chart key.
    #[error("not_a_line")]
    NotALine(RowFault),
    /// The command made an event that doesn't apply: a fault in the program.
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
    /// The cell of its number names another range than that of its range.
    #[error("two_ranges")]
    TwoRanges {
        /// The range in its own cell.
        column: String,
        /// The range before the number.
        number: String,
    },
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
        /// The line of that row.
        line: u64,
        /// The column that differs.
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
        /// The range; `None` if the whole list is of one range.
        range: Option<String>,
        /// The line it is already on.
        line: u64,
        /// Whether the dye lot is the same, too.
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
        /// How many cards it takes.
        cards_per_hook: u8,
    },
}

/// A row that wasn't accepted, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rejected {
    /// Line of the file, counted from 1.
    pub line: u64,
    /// The fault.
    pub reason: RowFault,
    /// Its number, or empty without one; `None` if the row couldn't be read at all.
    pub number: Option<String>,
}
