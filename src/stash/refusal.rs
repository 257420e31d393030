//! Why a command could not be carried out. Nothing was changed.

mod code;
mod sentences;

use self::sentences::{
    clash_in_words, lot_in_words, others_in_words, stays_in_words, unknown_in_words,
};
use crate::engine::instance::EngineError;
use crate::model::board::ParseBoardError;
use crate::model::card::TagError;
use crate::model::label::ParseLabelError;
use crate::model::move_cost::ParseEffortError;
use crate::model::number::ParseNumberError;
use crate::stash::event::LONGEST_EVENT;
use crate::stash::intake::Rejected;
use crate::stash::state::ApplyError;
use crate::text::one_or_many;

/// A command that could not be carried out, in words for the person who gave it.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Refusal {
    /// No board yet.
    #[error(
        "there is no board yet; put one up first: homehook board new NAME --rows R \
         --columns C"
    )]
    NoBoard,
    /// No board of that name.
    #[error("there is no board called '{name}'; the boards are: {known}")]
    UnknownBoard {
        /// What was asked for.
        name: String,
        /// The boards there are.
        known: String,
    },
    /// A board of that name is there already.
    #[error("there is a board called '{it}' already; choose another name", it = _0)]
    BoardExists(String),
    /// Two boards would share marks.
    #[error(
        "the hook {hook_name} is on the board '{board}' already; give the new board hooks of its \
         own with --prefix, such as --prefix 2-"
    )]
    SharedHookName {
        /// A mark both would have.
        hook_name: String,
        /// The board that has it.
        board: String,
    },
    /// Not a possible board.
    #[error(transparent)]
    Board(#[from] ParseBoardError),
    /// No hook with that mark.
    #[error("there is no hook {hook_name}; {known}")]
    UnknownHook {
        /// What was asked for.
        hook_name: String,
        /// What marks there are.
        known: String,
    },
    /// The hook is blocked.
    #[error("hook {hook_name} is blocked ({why})")]
    Blocked {
        /// The hook's mark.
        hook_name: String,
        /// The reason given.
        why: String,
    },
    /// The hook has no free place.
    #[error("hook {hook_name} is full: it is home to {who}; choose another hook, or hang {word} \
         elsewhere first", word = if *.several { "one of them" } else { "that card" })]
    HookFull {
        /// The hook's mark.
        hook_name: String,
        /// The cards that live there.
        who: String,
        /// Whether they are more than one.
        several: bool,
    },
    /// The card lives on that hook.
    #[error("card {card} lives on {hook_name} already; it is {place}")]
    LivesThere {
        /// The card.
        card: String,
        /// The hook's mark.
        hook_name: String,
        /// Where the card is.
        place: String,
    },
    /// The hook is not blocked.
    #[error("hook {hook_name} is not blocked")]
    NotBlocked {
        /// The hook's mark.
        hook_name: String,
    },
    /// Cards live or hang, or a ring is hanging up, where no hook would be usable.
    #[error(
        "{what}: no hook would be left for {who}; add --unhang to put what hangs there to hang, to be hung again by a re-hang"
    )]
    StillHanging {
        /// What was to be done.
        what: String,
        /// The cards.
        who: String,
    },
    /// A ring hangs on the hook.
    #[error(
        "the ring '{project}' hangs on hook {hook_name}; take it down first: homehook ring take-down \"{project}\""
    )]
    RingHangsThere {
        /// The project.
        project: String,
        /// The hook's mark.
        hook_name: String,
    },
    /// A text is not a number.
    #[error(transparent)]
    Number(#[from] ParseNumberError),
    /// A text is not a label.
    #[error(transparent)]
    Label(#[from] ParseLabelError),
    /// A text is not a tag of a card.
    #[error(transparent)]
    Tag(#[from] TagError),
    /// No such card.
    #[error("{}", unknown_in_words(name, hint))]
    UnknownCard {
        /// What was asked for.
        name: String,
        /// The nearest there is, if any, as ` (did you mean ...?)`.
        hint: String,
    },
    /// More than one card of that name.
    #[error("'{name}' could be any of: {choices}; name it in full")]
    Ambiguous {
        /// What was asked for.
        name: String,
        /// The full names.
        choices: String,
    },
    /// No cards were named.
    #[error("name at least one card")]
    NoCards,
    /// No such ring.
    #[error("there is no ring for '{project}'; {known}")]
    UnknownRing {
        /// What was asked for.
        project: String,
        /// The rings there are.
        known: String,
    },
    /// The project has no name.
    #[error("a ring needs the name of its project")]
    NoProject,
    /// The ring is closed.
    #[error("the ring '{it}' is closed; take a card to it to open it again", it = _0)]
    RingClosed(String),
    /// The ring isn't hanging up.
    #[error("the ring '{it}' isn't hanging up", it = _0)]
    NotHanging(String),
    /// The card is where it cannot be taken from.
    #[error("card {card} is {place}; {next}")]
    NotHere {
        /// The card.
        card: String,
        /// Where it is.
        place: String,
        /// What to do.
        next: &'static str,
    },
    /// The card is not on that ring.
    #[error("card {card} is not on the ring '{project}': it is {place}")]
    NotOnRing {
        /// The card.
        card: String,
        /// The project.
        project: String,
        /// Where it is.
        place: String,
    },
    /// There is nothing on the ring.
    #[error("the ring '{it}' has no cards on it", it = _0)]
    EmptyRing(String),
    /// The ring cannot close yet.
    #[error(
        "the ring '{project}' cannot close: {cards} not accounted for; return them, or \
         declare them missing"
    )]
    Unaccounted {
        /// The project.
        project: String,
        /// The cards and where they are.
        cards: String,
    },
    /// The ring cannot close over its split cards.
    #[error(
        "the ring '{project}' cannot close: {cards} not accounted for; rejoin the thread with the card it came from: homehook ring rejoin \"{project}\" {first}"
    )]
    SplitCardLeft {
        /// The project.
        project: String,
        /// The split cards and where they are.
        cards: String,
        /// The card that the first of them was split from.
        first: String,
    },
    /// A split card cannot be put away, because there is nothing to rejoin it with.
    #[error("the split card {card} stays on the ring '{project}': its thread belongs on \
         {whole}, which is {place}; {stays}", stays = stays_in_words(card, project, whole, *.on_ring))]
    SplitCardStays {
        /// The split card.
        card: String,
        /// The project of the ring it is on.
        project: String,
        /// The card it was split from.
        whole: String,
        /// Where that one is.
        place: String,
        /// Whether that one is on a ring.
        on_ring: bool,
    },
    /// A split card has no hook and no re-hang touches it.
    #[error(
        "card {card} is a split card: it has no hook of its own and no re-hang touches it; \
         name {whole} instead"
    )]
    SplitCardHasNoHook {
        /// The split card.
        card: String,
        /// The card it was split from.
        whole: String,
    },
    /// A split card is not split again.
    #[error("card {it} is a split card itself; split off from the card it was split from", it = _0)]
    SplitCard(String),
    /// No split card to be merged.
    #[error("there is no split card of {card} on the ring '{project}'{others}", others = others_in_words(others))]
    NoSplitCard {
        /// The card.
        card: String,
        /// The project.
        project: String,
        /// Where its split cards are; empty where there are none.
        others: String,
    },
    /// No amount of thread was said.
    #[error("say how much thread: --lengths N, --strands N or both")]
    NoThread,
    /// There is less thread than asked for.
    #[error("card {card} has {have}, which is less than {asked}; ask for no more than there is")]
    TooLittle {
        /// The card.
        card: String,
        /// What is on it.
        have: String,
        /// What was asked for.
        asked: String,
    },
    /// The card has no thread of that lot.
    #[error("{}", lot_in_words(card, lot, lots))]
    NoSuchLot {
        /// The card.
        card: String,
        /// The lot asked for.
        lot: String,
        /// The lots it has, joined; empty where none was noted.
        lots: String,
    },
    /// There would be more thread than can be counted.
    #[error("card {it} would have more thread than can be counted; set what is on it right with \
         a card list", it = _0)]
    TooMuch(String),
    /// The card is not missing.
    #[error("card {card} is not missing: it is {place}")]
    NotMissing {
        /// The card.
        card: String,
        /// Where it is.
        place: String,
    },
    /// Where else a card is was not said.
    #[error("say where it is, in a word or two: 'with Bea', 'drawer in the hall'")]
    NoPlaceNamed,
    /// The card a split card was split from would go, and the split card stay.
    #[error(
        "thread of card {card} is on the split card {split_card} ({place}); name that too, or rejoin it first"
    )]
    SplitCardWouldStay {
        /// The card.
        card: String,
        /// The split card.
        split_card: String,
        /// Where the split card is.
        place: String,
    },
    /// A new card of a number that there is.
    #[error("{card} is in the stash already, with {amount}")]
    CardThere {
        /// The card.
        card: String,
        /// What is on it.
        amount: String,
    },
    /// No cards to hang.
    #[error("there are no cards in the stash yet; import them: homehook import cards FILE")]
    NoCardsYet,
    /// The board is too small.
    #[error("the cards do not fit: {short} more {places} needed for {cards} cards on {have} \
         places; unblock hooks, add places to a hook, or put up another board", places = one_or_many(*.short, "place is", "places are"))]
    Short {
        /// Places short.
        short: usize,
        /// Cards that want a home.
        cards: usize,
        /// Places there are.
        have: usize,
    },
    /// Two cards that stay are in each other's way.
    #[error("{}",  clash_in_words(earlier, earlier_hook, later, later_hook, *.crossed, *.some_rows))]
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
    #[error(
        "{card} on {hook_name} stays, but with it there the cards that belong before or after it \
         do not fit; release it, or make places"
    )]
    HoldOutOfReach {
        /// The card.
        card: String,
        /// The hook it stays on.
        hook_name: String,
    },
    /// No row of that name.
    #[error("there is no row {row}; {known}")]
    UnknownRow {
        /// What was asked for.
        row: String,
        /// The rows there are.
        known: String,
    },
    /// A re-hang is underway.
    #[error(
        "a re-hang is underway, {done} of {steps} steps done; go on with: homehook rehang \
         --go-on, or end it with: homehook rehang --give-up"
    )]
    RehangUnderway {
        /// Steps done.
        done: u32,
        /// Steps planned at the beginning.
        steps: u32,
    },
    /// No re-hang is underway.
    #[error("no re-hang is underway; plan one with: homehook rehang")]
    NoRehangUnderway,
    /// The re-hang underway aims at a hook that cannot be had any more.
    #[error(
        "the re-hang underway cannot go on: hook {hook_name} is no longer free for what was to \
         hang there; end it with: homehook rehang --give-up, then plan again"
    )]
    AimLost {
        /// The hook's mark.
        hook_name: String,
    },
    /// Nothing is to be done.
    #[error("nothing is to be done")]
    NothingToDo,
    /// No such plan.
    #[error("there is no plan {asked}; the plans are 1 to {have}")]
    UnknownPlan {
        /// The number asked for.
        asked: usize,
        /// How many there are.
        have: usize,
    },
    /// The project has no key.
    #[error("the project '{it}' has no key yet; import it: homehook import key FILE --project \
         \"{it}\"", it = _0)]
    NoKey(String),
    /// The key has not that colour.
    #[error(
        "the key of the project '{project}' has no {name}; 'homehook ring key \
         \"{project}\"' shows what it has"
    )]
    NotInKey {
        /// What was asked for.
        name: String,
        /// The project.
        project: String,
    },
    /// A part of what is not counted.
    #[error("the key of the project '{it}' does not count those stitches, so no part of them \
         can be said; say how much thread was used: --lengths N, --strands N or both", it = _0)]
    NotCounted(String),
    /// No project that is in use has a key.
    #[error(
        "no project that is in use has a key yet; import one: homehook import key FILE \
         --project NAME"
    )]
    NoKeys,
    /// The projects that have a key are hanging.
    #[error("no project that is in use has a key; hanging up with one: {projects}. Name it to ask for it", projects = _0)]
    KeysHanging(String),
    /// The fabric or the hand cannot be so.
    #[error(transparent)]
    Assumed(#[from] crate::model::assumptions::ParseAssumptionError),
    /// There is nothing to buy.
    #[error(
        "there is nothing to buy for these projects; say what you bought as CARD=SKEINS, \
         such as 310=1"
    )]
    NothingToBuy,
    /// Not a number of skeins.
    #[error("'{it}' does not say how many skeins; write CARD=SKEINS, such as 310=2, from 1 to \
         1000", it = _0)]
    NotSkeins(String),
    /// Nothing to take back.
    #[error("there is nothing to undo")]
    NothingToUndo,
    /// Nothing to do again.
    #[error("there is nothing to redo")]
    NothingToRedo,
    /// No family of that name.
    #[error("there is no family '{name}'; the families are: {known}")]
    UnknownFamily {
        /// What was asked for.
        name: String,
        /// The families there are.
        known: String,
    },
    /// A family is named twice in an order.
    #[error("the family '{it}' is named twice", it = _0)]
    FamilyTwice(String),
    /// A family of that name is there.
    #[error("there is a family '{it}' already", it = _0)]
    FamilyThere(String),
    /// A family has no name.
    #[error("a family needs a name")]
    FamilyName,
    /// A family cannot be given up while cards belong to it by themselves.
    #[error(
        "{cards} would still be of the family '{family}' by colour or range; put them in \
         another family first"
    )]
    FamilyInUse {
        /// The family.
        family: String,
        /// The cards.
        cards: String,
    },
    /// All the cards were chosen for the family before.
    #[error("chosen for '{family}' already: {cards}")]
    FamilySame {
        /// The family.
        family: String,
        /// The cards.
        cards: String,
    },
    /// The range or the colour says the family of all the cards already.
    #[error("nobody chose a family for {it}, and colour and range say what they said before", it = _0)]
    FamilyNotChosen(String),
    /// The families are in that order already.
    #[error("the families are in that order already")]
    FamilyOrderSame,
    /// Not a name for a range: a card is called `RANGE:NUMBER`.
    #[error("a range needs a name, without a colon")]
    RangeName,
    /// The person said to stop.
    #[error("stopped before all plans were worked out; nothing was changed")]
    Stopped,
    /// The homes of the stash are no question for the engine: a fault of the program.
    #[error("the re-hang cannot be worked out: {it}", it = _0)]
    Engine(EngineError),
    /// The card has no home to be held on.
    #[error("card {it} has no home yet; a re-hang gives it one, then hold it", it = _0)]
    NoHomeYet(String),
    /// All that was named is held already.
    #[error("held already: {it}", it = _0)]
    HeldAlready(String),
    /// Nothing that was named is held.
    #[error("not held: {it}", it = _0)]
    NotHeld(String),
    /// The card stays because its family is held.
    #[error(
        "card {card} is not held itself, its family is; let it go with: homehook release \
         --family \"{family}\""
    )]
    HeldByFamily {
        /// The card.
        card: String,
        /// Its family.
        family: String,
    },
    /// Nothing at all is held.
    #[error("nothing is held")]
    NothingHeld,
    /// A card was seen on two hooks.
    #[error(
        "card {card} was seen on hook {first} and on hook {second}; it can hang on one, so \
         look again"
    )]
    SeenTwice {
        /// The card.
        card: String,
        /// The mark of one hook.
        first: String,
        /// The mark of the other.
        second: String,
    },
    /// A split card was seen on the wall.
    #[error("card {it} belongs on a ring, not on the wall; put it on its ring or merge it", it = _0)]
    SplitCardOnWall(String),
    /// Not a weight.
    #[error(transparent)]
    Effort(#[from] ParseEffortError),
    /// The cards have that weight already.
    #[error("counted as {effort} already: {cards}")]
    EffortAlready {
        /// The cards.
        cards: String,
        /// The weight.
        effort: u16,
    },
    /// The hook is reserved already, or isn't reserved.
    #[error("hook {hook_name} is {word}", word = if *.reserved { "reserved already" } else { "not reserved" })]
    Reserved {
        /// The hook's mark.
        hook_name: String,
        /// Whether it was reserved.
        reserved: bool,
    },
    /// The file has no usable rows.
    #[error("the file has no rows below its header")]
    NoRows,
    /// Every row was refused, or one was and `--strict` was given.
    #[error("{rejected} of {rows} {word} cannot be taken, so nothing was; the first is line \
         {line}: {reason}", word = one_or_many(*rows, "row", "rows"))]
    RowsRejected {
        /// Rows refused.
        rejected: usize,
        /// Rows in the file.
        rows: usize,
        /// Line of the first.
        line: u64,
        /// Its reason.
        reason: String,
        /// Every row refused, in the order of their lines.
        every: Vec<Rejected>,
    },
    /// What a list would change is more than the record takes at once.
    #[error("the list would put {megabytes} MB into the record at once, and {most} are the most; split it \
         into {parts} lists or more, and import them one after the other", most = LONGEST_EVENT >> 20)]
    ListTooLong {
        /// So much it would be.
        megabytes: usize,
        /// Into so many lists it has to be split at least.
        parts: usize,
    },
    /// A project has a ring in use.
    #[error("the ring '{it}' is open already", it = _0)]
    RingOpen(String),
    /// No card of a project's key is to be taken off the wall.
    #[error("there is nothing to take for '{it}': what its key needs is on the ring, out on \
         another one, missing or not owned", it = _0)]
    NothingToFetch(String),
    /// What was written cannot be a line of a key.
    #[error("that cannot be a line of a key: {it}", it = _0)]
    NotALine(String),
    /// The command made an event that breaks a law: a fault of the program.
    #[error("that would leave the stash in disorder, so nothing was changed: {it}", it = _0)]
    ApplyError(#[from] ApplyError),
}
