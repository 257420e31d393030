//! Why a command was refused.

use super::faults::apply_error;
use super::places::place;
use super::thread::amount;
use super::{list, one_or_many};
use crate::model::whereabouts::CardPlace;
use crate::stash::event::LONGEST_EVENT;
use crate::stash::refusal::{
    Amount, CardHint, Field, HookLoss, NotHereNext, Refusal, RowFault, Run,
};

/// What happened, to what, and what may be done where that needs neither a command nor a key. Without
/// a full stop at its end.
#[must_use]
#[allow(clippy::too_many_lines)] // A catalogue.
pub fn sentence(refusal: &Refusal) -> String {
    match refusal {
        // Boards and hooks.
        Refusal::NoBoard => "there is no board yet".to_owned(),
        Refusal::UnknownBoard { name, known } => format!(
            "there is no board called '{name}'; the boards are: {known}",
            known = list(known)
        ),
        Refusal::BoardExists(name) => {
            format!("there is a board called '{name}' already; choose another name")
        }
        Refusal::SharedHookName { hook_name, board } => {
            format!("the hook {hook_name} is on the board '{board}' already")
        }
        Refusal::Board(why) => why.to_string(),
        Refusal::UnknownHook { hook_name, known } => format!(
            "there is no hook {hook_name}; {known}",
            known = runs(known, "runs from")
        ),
        Refusal::UnknownRow { row, known } => {
            format!("there is no row {row}; {known}", known = runs(known, "has"))
        }
        Refusal::Blocked { hook_name, why } => format!("hook {hook_name} is blocked ({why})"),
        Refusal::NotBlocked { hook_name } => format!("hook {hook_name} is not blocked"),
        Refusal::HookFull { hook_name, who } => hook_full(hook_name, who),
        Refusal::LivesThere {
            card,
            hook_name,
            place: at,
        } => format!(
            "card {card} lives on {hook_name} already; it is {place}",
            place = place(at)
        ),
        Refusal::StillHanging { what, who } => format!(
            "{what}: no hook would be left for {who}",
            what = lost(what),
            who = list(who)
        ),
        Refusal::RingHangsThere { project, hook_name } => {
            format!("the ring '{project}' hangs on hook {hook_name}; take it down first")
        }
        Refusal::Reserved {
            hook_name,
            reserved: true,
        } => format!("hook {hook_name} is reserved already"),
        Refusal::Reserved { hook_name, .. } => format!("hook {hook_name} is not reserved"),
        Refusal::SeenTwice {
            card,
            first,
            second,
        } => format!(
            "card {card} was seen on hook {first} and on hook {second}; it can hang on one, so \
             look again"
        ),

        // Cards and their thread.
        Refusal::Number(why) => why.to_string(),
        Refusal::Label(why) => why.to_string(),
        Refusal::Tag(why) => why.to_string(),
        Refusal::UnknownCard { name, hint } => {
            let hint = hint.as_ref().map_or_else(String::new, card_hint);
            format!("no card '{name}' in the stash{hint}")
        }
        Refusal::Ambiguous { name, choices } => format!(
            "'{name}' could be any of: {choices}; name it in full",
            choices = list(choices)
        ),
        Refusal::NoCards => "name at least one card".to_owned(),
        Refusal::NoCardsYet => "there are no cards in the stash yet".to_owned(),
        Refusal::NotHere {
            card,
            place: at,
            next,
        } => format!(
            "card {card} is {place}; {next}",
            place = place(at),
            next = not_here_next(*next)
        ),
        Refusal::NotMissing { card, place: at } => {
            format!(
                "card {card} is not missing: it is {place}",
                place = place(at)
            )
        }
        Refusal::NoPlaceNamed => {
            "say where it is, in a word or two: 'with a friend', 'drawer in the hall'".to_owned()
        }
        Refusal::CardThere { card, amount: has } => {
            format!(
                "{card} is in the stash already, with {has}",
                has = thread(*has)
            )
        }
        Refusal::NoThread => "say how much thread".to_owned(),
        Refusal::TooLittle { card, have, asked } => format!(
            "card {card} has {have}, which is less than {asked}; ask for no more than there is",
            have = thread(*have),
            asked = thread(*asked)
        ),
        Refusal::NoSuchLot { card, lot, lots } if lots.is_empty() => {
            format!("Card {card} has no lot {lot}. No lot is noted on it")
        }
        Refusal::NoSuchLot { card, lot, lots } => format!(
            "Card {card} has no lot {lot}. It has {lots}",
            lots = list(lots.iter().map(|lot| lot.as_str()))
        ),
        Refusal::TooMuch(card) => format!(
            "card {card} would have more thread than can be counted; set what is on it right with \
             a card list"
        ),
        Refusal::SplitCard(card) => {
            format!("card {card} is a split card itself; split off from the card it was split from")
        }
        Refusal::SplitCardHasNoHook { card, whole } => format!(
            "card {card} is a split card: it has no hook of its own and no re-hang touches it; \
             name {whole} instead"
        ),
        Refusal::SplitCardOnWall(card) => format!(
            "card {card} belongs on a ring, not on the wall; put it on its ring or rejoin it"
        ),
        Refusal::SplitCardWouldStay {
            card,
            split_card,
            place: at,
        } => format!(
            "thread of card {card} is on the split card {split_card} ({place}); name that too, or \
             rejoin it first",
            place = place(at)
        ),
        Refusal::NoHomeYet(card) => {
            format!("card {card} has no home yet; a re-hang gives it one, then hold it")
        }

        // Rings and projects.
        Refusal::UnknownRing { project, known } if known.is_empty() => {
            format!("there is no ring for '{project}'; there are no rings yet")
        }
        Refusal::UnknownRing { project, known } => format!(
            "there is no ring for '{project}'; the rings are: {known}",
            known = list(known.iter().map(|name| format!("'{name}'")))
        ),
        Refusal::NoProject => "a ring needs the name of its project".to_owned(),
        Refusal::RingClosed(ring) => {
            format!("the ring '{ring}' is closed; take a card to it to open it again")
        }
        Refusal::RingOpen(ring) => format!("the ring '{ring}' is open already"),
        Refusal::NotHanging(ring) => format!("the ring '{ring}' isn't hanging on a hook"),
        Refusal::EmptyRing(ring) => format!("the ring '{ring}' has no cards on it"),
        Refusal::NotOnRing {
            card,
            project,
            place: at,
        } => format!(
            "card {card} is not on the ring '{project}': it is {place}",
            place = place(at)
        ),
        Refusal::Unaccounted { project, cards } => format!(
            "the ring '{project}' cannot close: {cards} not accounted for; return them, or \
             declare them missing",
            cards = with_places(cards)
        ),
        Refusal::SplitCardLeft { project, cards, .. } => format!(
            "the ring '{project}' cannot close: {cards} not accounted for; rejoin the thread with \
             the card it came from",
            cards = with_places(cards)
        ),
        Refusal::SplitCardStays {
            card,
            project,
            whole,
            place: at,
            ..
        } => format!(
            "the split card {card} stays on the ring '{project}': its thread belongs on {whole}, \
             which is {place}",
            place = place(at)
        ),
        Refusal::NoSplitCard {
            card,
            project,
            others,
        } if others.is_empty() => {
            format!("there is no split card of {card} on the ring '{project}'")
        }
        Refusal::NoSplitCard {
            card,
            project,
            others,
        } => format!(
            "there is no split card of {card} on the ring '{project}'; there is one {others}: name \
             that project",
            others = list(others.iter().map(place))
        ),
        Refusal::NoKey(project) => format!("the project '{project}' has no key yet"),
        Refusal::NoKeys => "no project that is in use has a key yet".to_owned(),
        Refusal::KeysHanging(projects) => format!(
            "no project that is in use has a key; hanging on a hook with one: {projects}. Name it to ask \
             for it",
            projects = list(projects.iter().map(|name| format!("'{name}'")))
        ),
        Refusal::NotInKey { name, project } => {
            format!("the key of the project '{project}' has no {name}")
        }
        Refusal::NotCounted(project) => format!(
            "the key of the project '{project}' does not count those stitches, so no part of them \
             can be said; say how much thread was used"
        ),
        Refusal::NotALine(why) => format!(
            "that cannot be a line of a key: {why}",
            why = row_fault(why)
        ),
        Refusal::NothingToFetch(project) => format!(
            "there is nothing to take for '{project}': what its key needs is on the ring, out on \
             another one, missing or not owned"
        ),
        Refusal::Assumed(why) => why.to_string(),
        Refusal::NothingToBuy => "there is nothing to buy for these projects".to_owned(),
        Refusal::NotSkeins(text) => format!("'{text}' does not say how many skeins"),

        // Re-hangs.
        Refusal::Short { short, cards, have } => format!(
            "the cards do not fit: {short} more {places} needed for {cards} cards on {have} \
             places; unblock hooks, add places to a hook, or put up another board",
            places = one_or_many(*short, "place is", "places are")
        ),
        Refusal::HoldsClash { .. } => clash(refusal),
        Refusal::HoldOutOfReach { card, hook_name } => format!(
            "{card} on {hook_name} stays, but with it there the cards that belong before or after \
             it do not fit; release it, or make places"
        ),
        Refusal::RehangUnderway { done, steps } => {
            format!("a re-hang is underway, {done} of {steps} steps done")
        }
        Refusal::NoRehangUnderway => "no re-hang is underway".to_owned(),
        Refusal::AimLost { hook_name } => format!(
            "the re-hang underway cannot go on: hook {hook_name} is no longer free for what was to \
             hang there"
        ),
        Refusal::NothingToDo => "nothing is to be done".to_owned(),
        Refusal::UnknownPlan { asked, have } => {
            format!("there is no plan {asked}; the plans are 1 to {have}")
        }
        Refusal::Stopped => {
            "stopped before all plans were worked out; nothing was changed".to_owned()
        }
        Refusal::Engine(why) => format!("the re-hang cannot be worked out: {why}"),
        Refusal::HeldAlready(names) => format!("held already: {names}", names = list(names)),
        Refusal::NotHeld(names) => format!("not held: {names}", names = list(names)),
        Refusal::HeldByFamily { card, .. } => {
            format!("card {card} is not held itself, its family is")
        }
        Refusal::NothingHeld => "nothing is held".to_owned(),
        Refusal::Effort(why) => why.to_string(),
        Refusal::EffortAlready { cards, effort } => {
            format!("counted as {effort} already: {cards}", cards = list(cards))
        }

        // Families, ranges and lists.
        Refusal::UnknownFamily { name, known } => format!(
            "there is no family '{name}'; the families are: {known}",
            known = list(known)
        ),
        Refusal::FamilyTwice(name) => format!("the family '{name}' is named twice"),
        Refusal::FamilyThere(name) => format!("there is a family '{name}' already"),
        Refusal::FamilyName => "a family needs a name".to_owned(),
        Refusal::FamilyInUse { family, cards } => format!(
            "{cards} would still be of the family '{family}' by colour or range; put them in \
             another family first",
            cards = list(cards)
        ),
        Refusal::FamilySame { family, cards } => {
            format!(
                "chosen for '{family}' already: {cards}",
                cards = list(cards)
            )
        }
        Refusal::FamilyNotChosen(cards) => format!(
            "nobody chose a family for {cards}, and colour and range say what they said before",
            cards = list(cards)
        ),
        Refusal::FamilyOrderSame => "the families are in that order already".to_owned(),
        Refusal::RangeName => "a range needs a name, without a colon".to_owned(),
        Refusal::NoRows => "the file has no rows below its header".to_owned(),
        Refusal::RowsRejected {
            rejected,
            rows,
            every,
        } => {
            let first = every.first().map_or_else(String::new, |row| {
                format!(
                    "; the first is line {line}: {why}",
                    line = row.line,
                    why = row_fault(&row.reason)
                )
            });
            format!(
                "{rejected} of {rows} {word} cannot be taken, so nothing was{first}",
                word = one_or_many(*rows, "row", "rows")
            )
        }
        Refusal::ListTooLong { megabytes, parts } => format!(
            "the list would put {megabytes} MB into the record at once, and {most} are the most; \
             split it into {parts} lists or more, and import them one after the other",
            most = LONGEST_EVENT >> 20
        ),

        Refusal::NothingToUndo => "there is nothing to undo".to_owned(),
        Refusal::NothingToRedo => "there is nothing to redo".to_owned(),
        Refusal::ApplyError(why) => {
            format!(
                "that would leave the stash in disorder, so nothing was changed: {why}",
                why = apply_error(why)
            )
        }
    }
}

fn thread(of: Amount) -> String {
    amount(of.strands, of.put_up)
}

/// `'Wall' runs from A01 to D06`.
fn runs(known: &[Run], verb: &str) -> String {
    let run = |of: &Run| {
        format!(
            "'{board}' {verb} {first} to {last}",
            board = of.board,
            first = of.first,
            last = of.last
        )
    };
    known.iter().map(run).collect::<Vec<_>>().join(", ")
}

fn hook_full(hook_name: &str, who: &[(String, Option<CardPlace>)]) -> String {
    let named = who.iter().map(|(name, strayed)| match strayed {
        None => name.clone(),
        Some(at) => format!("{name}, now {place}", place = place(at)),
    });
    let one = if who.len() > 1 {
        "one of them"
    } else {
        "that card"
    };
    format!(
        "hook {hook_name} is full: it is home to {who}; choose another hook, or hang {one} \
         elsewhere first",
        who = list(named)
    )
}

fn lost(what: &HookLoss) -> String {
    match what {
        HookLoss::Resize(board) => format!("board '{board}' cannot be made so"),
        HookLoss::Block(hook_name) => format!("hook {hook_name} cannot be blocked yet"),
        HookLoss::FewerCards(hook_name) => {
            format!("hook {hook_name} cannot take so few cards yet")
        }
    }
}

/// What may have been meant, in brackets after the name.
fn card_hint(hint: &CardHint) -> String {
    match hint {
        CardHint::Nearest { card, name } if name.is_empty() => format!(" (did you mean {card}?)"),
        CardHint::Nearest { card, name } => format!(" (did you mean {card}, {name}?)"),
        CardHint::SplitCards { card, split_cards } if split_cards.is_empty() => {
            format!(" ({card} has no split card)")
        }
        CardHint::SplitCards { card, split_cards } => format!(
            " (the split cards of {card} are: {names})",
            names = list(split_cards)
        ),
        CardHint::OnlyInRange => " (the range has it, but no card of it was imported)".to_owned(),
    }
}

const fn not_here_next(next: NotHereNext) -> &'static str {
    match next {
        NotHereNext::SayFound => "say that it is found first",
        NotHereNext::WhenItTurnsUp => "when it turns up, say that it is found first",
        NotHereNext::ReturnIt => "return it from there first",
        NotHereNext::Nothing => "nothing is left to do",
        NotHereNext::NoSplit => "its thread need not be split",
    }
}

fn with_places(cards: &[(String, CardPlace)]) -> String {
    list(
        cards
            .iter()
            .map(|(name, at)| format!("{name} ({place})", place = place(at))),
    )
}

/// Why two cards cannot both stay, and what to do.
fn clash(refusal: &Refusal) -> String {
    let Refusal::HoldsClash {
        earlier,
        earlier_hook,
        later,
        later_hook,
        crossed,
        some_rows,
    } = refusal
    else {
        return String::new();
    };
    let (why, next) = if *some_rows {
        (
            "stay there, being held or outside of the rows that may change",
            "name more rows, or release one of them",
        )
    } else {
        ("are held", "release one of them")
    };
    if *crossed {
        format!(
            "{later} on {later_hook} and {earlier} on {earlier_hook} {why}, but {earlier} belongs \
             before {later}: {next}"
        )
    } else {
        format!(
            "{earlier} on {earlier_hook} and {later} on {later_hook} {why}, but the cards that \
             belong between them do not fit there: {next}"
        )
    }
}

/// Why the stash did not take a row. Begins in lower case, since it follows the name of a line.
#[must_use]
pub fn row_fault(fault: &RowFault) -> String {
    match fault {
        RowFault::Unread(words) => words.clone(),
        RowFault::Number(why) => why.to_string(),
        RowFault::Tag(why) => why.to_string(),
        RowFault::Range(why) => why.to_string(),
        RowFault::RangeColon(name) => {
            format!("the range '{name}' has a colon in its name; leave it out")
        }
        RowFault::Label(field, why) => format!("{field}: {why}", field = field_name(*field)),
        RowFault::Needle(why) => why.to_string(),
        RowFault::Refused(why) => sentence(why),
        RowFault::Differs { line, field } => format!(
            "line {line} has another {field} for this card; one card has one",
            field = field_name(*field)
        ),
        RowFault::WrittenAlike(name) => {
            format!("the stash has a card that is written {name} already")
        }
        RowFault::Twice {
            number,
            range,
            line,
            lot,
        } => format!(
            "{lot}number {number}{range} is on line {line} already",
            lot = if *lot { "this dye lot of " } else { "" },
            range = range
                .as_ref()
                .map_or_else(String::new, |range| format!(" of '{range}'"))
        ),
        RowFault::Amount => "the amount of thread is not a number that can be kept".to_owned(),
        RowFault::NothingToAdd => "the card is there already and the row does not say how much to \
             add; fill in lengths, skeins or uncut"
            .to_owned(),
        RowFault::TooMuch => "that is more thread than can be kept".to_owned(),
        RowFault::SplitCardHook => {
            "a split card hangs on no hook of its own; leave its hook empty".to_owned()
        }
        RowFault::SplitCardUncut => {
            "uncut skeins belong on the row of the card itself, not on that of a split card"
                .to_owned()
        }
        RowFault::SplitCardAmount => {
            "the row of a split card has to say how much is on it".to_owned()
        }
        RowFault::SplitCardUnknown(number) => format!(
            "there is no such split card of {number} here, and no row that is taken says how much \
             is on {number} itself, to which its thread could be added"
        ),
        RowFault::HookFull {
            hook_name,
            who,
            cards_per_hook,
        } => format!(
            "hook {hook_name} is full: {names} {live} there and it has {cards_per_hook} {places}",
            names = list(who),
            live = one_or_many(who.len(), "lives", "live"),
            places = one_or_many(*cards_per_hook, "place", "places")
        ),
    }
}

const fn field_name(field: Field) -> &'static str {
    match field {
        Field::Name => "name",
        Field::Colour => "colour",
        Field::Family => "family",
        Field::DyeLot => "dye lot",
        Field::Note => "note",
        Field::Hook => "hook",
        Field::Symbol => "symbol",
    }
}
