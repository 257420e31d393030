//! Why a command was refused.
//!
//! A refusal is one or two sentences: what happened, to what, and what to do, if that needs neither
//! a command nor a key. `sentence` stands alone; the reason of a row starts in lower case and
//! follows the name of its line.

use jiff::tz::TimeZone;

use super::faults::{self, apply_error};
use super::places::place;
use super::thread::amount;
use super::{capital, list, one_or_many};
use crate::model::label::ParseNameError;
use crate::model::whereabouts::CardPlace;
use crate::stash::columns::Column;
use crate::stash::command::import::MOST_OF_ONE;
use crate::stash::event::LONGEST_EVENT;
use crate::stash::refusal::{Amount, CardHint, HookLoss, NotHereNext, Refusal, RowFault, Run};

/// What happened, to what, and what to do.
#[must_use]
pub(crate) fn sentence(refusal: &Refusal) -> String {
    capital(&small(refusal))
}

/// The same, starting in lower case.
fn small(refusal: &Refusal) -> String {
    let families = [
        boards,
        hooks,
        cards,
        amounts,
        split_cards,
        rings,
        keys,
        rehangs,
        holds,
        families,
        lists,
    ];
    let said = families.iter().find_map(|said| said(refusal));
    // Unreachable, as a test checks from the source.
    said.unwrap_or_else(|| format!("that can't be done ({refusal})."))
}

/// Boards, and the hooks and rows that the user named.
fn boards(refusal: &Refusal) -> Option<String> {
    Some(match refusal {
        Refusal::NoBoard => "there is no board yet.".to_owned(),
        Refusal::UnknownBoard { name, known } => format!(
            "there is no board called '{name}'. The boards are: {known}.",
            known = list(known)
        ),
        Refusal::BoardExists(name) => {
            format!("there is a board called '{name}' already. Choose another name.")
        }
        Refusal::SharedHookName { hook_name, board } => {
            format!("hook {hook_name} is on the board '{board}' already.")
        }
        Refusal::Board(why) => faults::board_error(why),
        Refusal::UnknownHook { hook_name, known } => format!(
            "there is no hook {hook_name}. {known}.",
            known = runs(known, "runs from")
        ),
        Refusal::UnknownRow { row, known } => {
            format!(
                "there is no row {row}. {known}.",
                known = runs(known, "has")
            )
        }
        Refusal::Blocked { hook_name, why } => format!("hook {hook_name} is blocked ({why})."),
        Refusal::NotBlocked { hook_name } => format!("hook {hook_name} isn't blocked."),
        _ => return None,
    })
}

/// Occupied hooks, and hooks a change would leave too few of.
fn hooks(refusal: &Refusal) -> Option<String> {
    Some(match refusal {
        Refusal::HookFull { hook_name, who } => format!(
            "hook {hook_name} is full ({who}). Choose another hook, or move a card first.",
            who = list(who.iter().map(|(name, strayed)| match strayed {
                None => name.clone(),
                Some(at) => format!("{name}, now {place}", place = place(at)),
            }))
        ),
        Refusal::HomeThere {
            card,
            hook_name,
            place: at,
        } => format!(
            "card {card} belongs on {hook_name} already. It is {place}.",
            place = place(at)
        ),
        Refusal::StillHanging { what, who } => format!(
            "{what}: no hook would be left for {who}.",
            what = lost(what),
            who = list(who)
        ),
        Refusal::RingHangsThere { project, hook_name } => {
            format!("the ring '{project}' hangs on hook {hook_name}.")
        }
        Refusal::Reserved {
            hook_name,
            reserved: true,
        } => format!("hook {hook_name} is reserved already."),
        Refusal::Reserved { hook_name, .. } => format!("hook {hook_name} isn't reserved."),
        Refusal::SeenTwice {
            card,
            first,
            second,
        } => format!(
            "card {card} was seen on hook {first} and on hook {second}. It can hang on only one, \
             so look again."
        ),
        Refusal::NoHomeYet(card) => {
            format!("card {card} has no home yet. A re-hang gives it one.")
        }
        _ => return None,
    })
}

/// Cards that the user named, and their places.
fn cards(refusal: &Refusal) -> Option<String> {
    Some(match refusal {
        Refusal::Number(why) => faults::number_error(why),
        Refusal::Label(why) | Refusal::Whom(ParseNameError::Label(why)) => faults::label_error(why),
        Refusal::Whom(ParseNameError::Empty) => {
            "a loan needs a name: to whom is it lent?".to_owned()
        }
        Refusal::Tag(why) => faults::tag_error(why),
        Refusal::UnknownCard { name, hint } => {
            let hint = hint.as_ref().map_or_else(String::new, card_hint);
            format!("no card '{name}' in the stash.{hint}")
        }
        Refusal::Ambiguous { name, choices } => format!(
            "'{name}' could be any of: {choices}. Name it in full.",
            choices = list(choices)
        ),
        Refusal::NoCards => "name at least one card.".to_owned(),
        Refusal::NoCardsYet => "there are no cards in the stash yet.".to_owned(),
        Refusal::NotHere {
            card,
            place: at,
            next,
        } => format!(
            "card {card} is {place}. {next}",
            place = place(at),
            next = not_here_next(*next)
        ),
        Refusal::NotMissing { card, place: at } => {
            format!(
                "card {card} isn't missing: it is {place}.",
                place = place(at)
            )
        }
        Refusal::NoPlaceNamed => {
            "name its place in a word or two, such as 'with a friend' or 'drawer in the hall'."
                .to_owned()
        }
        _ => return None,
    })
}

fn amounts(refusal: &Refusal) -> Option<String> {
    Some(match refusal {
        Refusal::CardThere { card, amount: has } => {
            format!(
                "card {card} is in the stash already, with {has}.",
                has = thread(*has)
            )
        }
        Refusal::NoThread => "no amount of thread is given.".to_owned(),
        Refusal::TooLittle { card, have, asked } => format!(
            "card {card} has {have}, less than {asked}. Ask for no more than there is.",
            have = thread(*have),
            asked = thread(*asked)
        ),
        Refusal::NoSuchLot { card, lot, lots } if lots.is_empty() => {
            format!("card {card} has no lot {lot}. No lot is noted on it.")
        }
        Refusal::NoSuchLot { card, lot, lots } => format!(
            "card {card} has no lot {lot}. It has {lots}.",
            lots = list(lots.iter().map(|lot| lot.as_str()))
        ),
        Refusal::TooMuch(card) => format!(
            "card {card} would have more thread than can be counted. Correct its amount with a \
             card list."
        ),
        Refusal::TooLittleUncut { card, have, asked } => format!(
            "card {card} has uncut thread for {have}, not {asked}, in one dye lot. Cut less, or count \
             what is beside it first.",
            have = thread(*have),
            asked = thread(*asked)
        ),
        Refusal::WhichLot { card, lots } => format!(
            "card {card} has thread of several dye lots: {lots}. Name the one you mean.",
            lots = list(lots.iter().map(super::thread::lot))
        ),
        _ => return None,
    })
}

/// Split cards, on a ring or next to their whole card.
fn split_cards(refusal: &Refusal) -> Option<String> {
    Some(match refusal {
        Refusal::SplitCard(card) => {
            format!("card {card} is a split card itself. Split the card it came from.")
        }
        Refusal::SplitCardHasNoHook { card, whole } => {
            format!("card {card} is a split card and has no hook of its own. Name {whole} instead.")
        }
        Refusal::SplitCardOnWall(card) => format!(
            "card {card} belongs on a ring, not on the wall. Put it on its ring or rejoin it."
        ),
        Refusal::SplitCardWouldStay {
            card,
            split_card,
            place: at,
        } => format!(
            "thread of card {card} is on the split card {split_card} ({place}). Name that too, or \
             rejoin it first.",
            place = place(at)
        ),
        Refusal::SplitCardLeft { project, cards, .. } => cannot_close(project, cards),
        Refusal::SplitCardStays {
            card,
            project,
            whole,
            place: at,
        } => format!(
            "the split card {card} stays on the ring '{project}': its thread belongs on {whole}, \
             which is {place}.",
            place = place(at)
        ),
        Refusal::NoSplitCard {
            card,
            project,
            others,
        } if others.is_empty() => {
            format!("no split card of {card} is on the ring '{project}'.")
        }
        Refusal::NoSplitCard {
            card,
            project,
            others,
        } => format!(
            "no split card of {card} is on the ring '{project}'. Name the project it is with: \
             there is one {others}.",
            others = list(others.iter().map(place))
        ),
        _ => return None,
    })
}

fn rings(refusal: &Refusal) -> Option<String> {
    Some(match refusal {
        Refusal::UnknownRing { project, known } if known.is_empty() => {
            format!("there is no ring for '{project}'. There are no rings yet.")
        }
        Refusal::UnknownRing { project, known } => format!(
            "there is no ring for '{project}'. The rings are: {known}.",
            known = quoted(known)
        ),
        Refusal::NoProject => "a ring needs the name of its project.".to_owned(),
        Refusal::RingClosed(ring) => {
            format!("the ring '{ring}' is closed. Take a card to it to open it again.")
        }
        Refusal::RingOpen(ring) => format!("the ring '{ring}' is open already."),
        Refusal::NotHanging(ring) => format!("the ring '{ring}' isn't hanging on a hook."),
        Refusal::EmptyRing(ring) => format!("the ring '{ring}' has no cards on it."),
        Refusal::NotOnRing {
            card,
            project,
            place: at,
        } => format!(
            "card {card} isn't on the ring '{project}': it is {place}.",
            place = place(at)
        ),
        Refusal::Unaccounted { project, cards } => format!(
            "{cannot} Return them, or mark them as missing.",
            cannot = cannot_close(project, cards)
        ),
        Refusal::RingOrderSame => "the projects are in that order already.".to_owned(),
        _ => return None,
    })
}

/// Chart keys, and what they need.
fn keys(refusal: &Refusal) -> Option<String> {
    Some(match refusal {
        Refusal::NoKey(project) => format!("the project '{project}' has no chart key yet."),
        Refusal::NoKeys => "no project in use has a key yet.".to_owned(),
        Refusal::KeysHanging(projects) => format!(
            "no project in use has a chart key. Name one that hangs on a hook to ask for it: {projects}.",
            projects = quoted(projects)
        ),
        Refusal::NotInKey { name, project } => {
            format!("the key of the project '{project}' has no {name}.")
        }
        Refusal::NotCounted(project) => {
            format!("the key of the project '{project}' doesn't count those stitches.")
        }
        Refusal::NotALine(why) => {
            format!(
                "that can't be a line of a chart key: {why}",
                why = row_fault(why)
            )
        }
        Refusal::NothingToFetch(project) => format!(
            "there is nothing to take for '{project}'. What its key needs is on the ring, out on \
             another one, missing or not owned."
        ),
        Refusal::Assumed(why) => faults::assumption_error(why),
        Refusal::NothingToBuy => "there is nothing to buy for these projects.".to_owned(),
        Refusal::NotSkeins(text) => format!("'{text}' isn't a number of skeins."),
        _ => return None,
    })
}

fn rehangs(refusal: &Refusal) -> Option<String> {
    Some(match refusal {
        Refusal::Short { short, cards, have } => format!(
            "the cards don't fit: {short} more {places} needed for {cards} cards on {have} places. \
             Unblock hooks, allow more cards per hook, or put up another board.",
            places = one_or_many(*short, "place is", "places are")
        ),
        Refusal::HoldsClash { .. } => clash(refusal),
        Refusal::HoldOutOfReach { card, hook_name } => format!(
            "card {card} stays on {hook_name}, so the cards that belong before or after it don't \
             fit. Release it, or add places."
        ),
        Refusal::RehangUnderway { done, steps } => {
            format!("a re-hang is underway, {done} of {steps} steps done.")
        }
        Refusal::NoRehangUnderway => "no re-hang is underway.".to_owned(),
        Refusal::AimLost { hook_name } => format!(
            "the re-hang underway can't go on: hook {hook_name} is no longer free for what was to \
             hang there."
        ),
        Refusal::NothingToDo => "nothing to do.".to_owned(),
        Refusal::UnknownPlan { asked, have } => {
            format!("there is no plan {asked}. The plans are 0 to {have}.")
        }
        Refusal::Stopped => "stopped before all plans were worked out. Nothing changed.".to_owned(),
        Refusal::Engine(why) => format!(
            "the re-hang can't be worked out: {why}",
            why = faults::engine_error(why)
        ),
        _ => return None,
    })
}

/// Held cards, and efforts.
fn holds(refusal: &Refusal) -> Option<String> {
    Some(match refusal {
        Refusal::HeldAlready(names) => format!("held already: {names}.", names = list(names)),
        Refusal::NotHeld(names) => format!("not held: {names}.", names = list(names)),
        Refusal::HeldByFamily { card, .. } => {
            format!("card {card} isn't held itself, its family is.")
        }
        Refusal::NothingHeld => "nothing is held.".to_owned(),
        Refusal::Effort(why) => faults::effort_error(*why),
        Refusal::EffortAlready { cards, effort } => {
            format!("effort is {effort} already: {cards}.", cards = list(cards))
        }
        _ => return None,
    })
}

fn families(refusal: &Refusal) -> Option<String> {
    Some(match refusal {
        Refusal::UnknownFamily { name, known } if known.is_empty() => {
            format!("there is no family '{name}'. There are no families yet.")
        }
        Refusal::UnknownFamily { name, known } => format!(
            "there is no family '{name}'. The families are: {known}.",
            known = list(known)
        ),
        Refusal::FamilyTwice(name) => format!("the family '{name}' is named twice."),
        Refusal::FamilyThere(name) => format!("there is a family '{name}' already."),
        Refusal::FamilyName => "a family needs a name.".to_owned(),
        Refusal::FamilyInUse { family, cards } => format!(
            "colour or range would still put {cards} in the family '{family}'. Put them in another \
             family first.",
            cards = list(cards)
        ),
        Refusal::FamilySame { family, cards } => {
            format!("in '{family}' already: {cards}.", cards = list(cards))
        }
        Refusal::FamilyNotChosen(cards) => format!(
            "no family is chosen for {cards}. Colour or range decides it already.",
            cards = list(cards)
        ),
        Refusal::FamilyOrderSame => "the families are in that order already.".to_owned(),
        Refusal::MarkedAlready => "nothing to change: they are like that already.".to_owned(),
        Refusal::NotWanted(colours) => {
            format!("not on the want list: {colours}.", colours = list(colours))
        }
        Refusal::PutUp(why) => super::thread::put_up_error(*why),
        _ => return None,
    })
}

/// Imported lists, and the history.
fn lists(refusal: &Refusal) -> Option<String> {
    Some(match refusal {
        Refusal::RangeName => "a range needs a name, without a colon.".to_owned(),
        Refusal::NoRows => "the file has no rows below its header.".to_owned(),
        Refusal::RowsRejected {
            rejected,
            rows,
            every,
        } => {
            let first = every.first().map_or_else(String::new, |row| {
                format!(
                    " The first is line {line}: {why}",
                    line = row.line,
                    why = row_fault(&row.reason)
                )
            });
            format!(
                "nothing changed: {rejected} of {rows} {word} can't be taken.{first}",
                word = one_or_many(*rows, "row", "rows")
            )
        }
        Refusal::PurchaseTaken { purchase, at } => format!(
            "nothing changed: this purchase ({id}) was imported already, on {day}.",
            id = purchase.in_list(),
            day = at
                .to_zoned_datetime(TimeZone::system())
                .strftime("%-d %B %Y")
        ),
        Refusal::ListTooLong { megabytes, parts } => format!(
            "the list would put {megabytes} MB into the record at once, more than the {most} MB \
             allowed. Split it into {parts} lists or more.",
            most = LONGEST_EVENT >> 20
        ),
        Refusal::NothingToUndo => "nothing to undo.".to_owned(),
        Refusal::NothingToRedo => "nothing to redo.".to_owned(),
        Refusal::FewerToUndo(there) => format!(
            "nothing undone: only {there} {changes} can be. Give a smaller number.",
            changes = one_or_many(*there, "change", "changes"),
        ),
        Refusal::FewerToRedo(there) => format!(
            "nothing redone: only {there} {changes} can be. Give a smaller number.",
            changes = one_or_many(*there, "change", "changes"),
        ),
        Refusal::ApplyError(why) => {
            format!(
                "nothing changed: it would leave the stash in disorder ({why}).",
                why = apply_error(why)
            )
        }
        _ => return None,
    })
}

fn thread(of: Amount) -> String {
    amount(of.strands, of.put_up)
}

fn quoted(names: &[String]) -> String {
    list(names.iter().map(|name| format!("'{name}'")))
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

fn lost(what: &HookLoss) -> String {
    match what {
        HookLoss::Resize(board) => format!("the board '{board}' can't be that size"),
        HookLoss::Block(hook_name) => format!("hook {hook_name} can't be blocked yet"),
        HookLoss::FewerCards(hook_name) => format!("hook {hook_name} can't take so few cards yet"),
    }
}

/// The likely intended card, as a sentence after a space.
fn card_hint(hint: &CardHint) -> String {
    match hint {
        CardHint::Nearest { card, name } if name.is_empty() => format!(" Did you mean {card}?"),
        CardHint::Nearest { card, name } => format!(" Did you mean {card}, {name}?"),
        CardHint::SplitCards { card, split_cards } if split_cards.is_empty() => {
            format!(" Card {card} has no split card.")
        }
        CardHint::SplitCards { card, split_cards } => format!(
            " The split cards of {card} are: {names}.",
            names = list(split_cards)
        ),
        CardHint::OnlyInRange => " The range has it, but no card of it was imported.".to_owned(),
    }
}

const fn not_here_next(next: NotHereNext) -> &'static str {
    match next {
        NotHereNext::SayFound => "Mark it as found first.",
        NotHereNext::WhenItTurnsUp => "When it turns up, mark it as found first.",
        NotHereNext::ReturnIt => "Return it from there first.",
        NotHereNext::Nothing => "Nothing is left to do.",
        NotHereNext::NoSplit => "Its thread needn't be split.",
    }
}

fn cannot_close(project: &str, cards: &[(String, CardPlace)]) -> String {
    let cards = cards
        .iter()
        .map(|(name, at)| format!("{name} ({place})", place = place(at)));
    format!(
        "the ring '{project}' can't close: {cards} not accounted for.",
        cards = list(cards)
    )
}

/// Why two cards can't both stay, and what to do.
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
            "stay, held or outside the rows that may change",
            "Name more rows, or release one of them.",
        )
    } else {
        ("are held", "Release one of them.")
    };
    if *crossed {
        format!(
            "cards {later} on {later_hook} and {earlier} on {earlier_hook} {why}, but {earlier} \
             belongs before {later}. {next}"
        )
    } else {
        format!(
            "cards {earlier} on {earlier_hook} and {later} on {later_hook} {why}, but the cards \
             between them don't fit there. {next}"
        )
    }
}

/// Why the stash rejected a row. Starts in lower case, since it follows the name of a line.
#[must_use]
pub(crate) fn row_fault(fault: &RowFault) -> String {
    match fault {
        RowFault::Unread(words) => words.clone(),
        RowFault::Number(why) => faults::number_error(why),
        RowFault::Tag(why) => faults::tag_error(why),
        RowFault::Range(why) => faults::label_error(why),
        RowFault::RangeColon(name) => {
            format!("the range '{name}' has a colon in its name. Leave it out.")
        }
        RowFault::TwoRanges { column, number } => format!(
            "the range is '{column}', but the number begins with '{number}'. Correct one of them."
        ),
        RowFault::NoRange(column) => {
            format!("the {column} is empty. Write the name of the range.")
        }
        RowFault::RangeUnknown(name) => format!(
            "there is no range '{name}'. Import its list or a card of it first, or correct the name."
        ),
        RowFault::MatchesItself(number) => {
            format!("{number} can't match itself. Write the number of another colour.")
        }
        RowFault::TooManyMatches(number) => {
            format!("{number} has {MOST_OF_ONE} matches already. Leave the others out.")
        }
        RowFault::Label(column, why) => format!(
            "{field}: {why}",
            field = column_name(*column),
            why = faults::label_error(why)
        ),
        RowFault::Needle(why) => faults::needle_error(why),
        RowFault::StrandsOfEach(1) => {
            "strands such as 1+2 are for a blend. Write the numbers of its threads, such as 447+96."
                .to_owned()
        }
        RowFault::StrandsOfEach(threads) => format!(
            "the strands don't fit {threads} threads. Write those of each, such as {example}.",
            example = vec!["1"; *threads].join("+")
        ),
        RowFault::PiecesOfThread => {
            "pieces are for notions. Write bead, button, ornament or other under 'notion'."
                .to_owned()
        }
        RowFault::Refused(why) => small(why),
        RowFault::Differs { line, column } => format!(
            "line {line} has another {field} for this card. Use the same on both.",
            field = column_name(*column)
        ),
        RowFault::WrittenAlike(name) => {
            format!("the stash already has a card written {name}.")
        }
        RowFault::Twice {
            number,
            range,
            line,
            lot,
        } => format!(
            "{what} is on line {line} already.",
            what = number_of_a_row(number, range.as_ref(), *lot)
        ),
        RowFault::Amount => "the amount of thread isn't a number that can be kept.".to_owned(),
        RowFault::NothingToAdd => "the card is there already and the row gives no amount to add. \
                                   Fill in lengths, skeins or uncut."
            .to_owned(),
        RowFault::TooMuch => "that is more thread than can be kept.".to_owned(),
        RowFault::SplitCardHook => {
            "a split card has no hook of its own. Leave its hook empty.".to_owned()
        }
        RowFault::SplitCardUncut => {
            "a split card has no uncut skeins. Put them on the row of the card itself.".to_owned()
        }
        RowFault::SplitCardAmount => "the row of a split card needs an amount.".to_owned(),
        RowFault::SplitCardUnknown(number) => format!(
            "there is no such split card of {number} here, and no row gives an amount for {number} \
             itself to add its thread to."
        ),
        RowFault::HookFull {
            hook_name,
            who,
            cards_per_hook,
        } => format!(
            "hook {hook_name} is full: {names} {belong} there and it has {cards_per_hook} {places}.",
            names = list(who),
            belong = one_or_many(who.len(), "belongs", "belong"),
            places = one_or_many(*cards_per_hook, "place", "places")
        ),
    }
}

/// `this dye lot of number 405 of 'Harbour'`.
fn number_of_a_row(number: &str, range: Option<&String>, lot: bool) -> String {
    let lot = if lot { "this dye lot of " } else { "" };
    let of = range.map_or_else(String::new, |range| format!(" of '{range}'"));
    format!("{lot}number {number}{of}")
}

/// The name in a sentence of a column's content.
const fn column_name(column: Column) -> &'static str {
    match column {
        Column::Hex => "colour",
        column => column.title(),
    }
}

#[cfg(test)]
mod tests {
    use crate::text::tests::assert_all_are_said;

    #[test]
    fn every_refusal_has_a_sentence() {
        let all = include_str!("../stash/refusal.rs");
        assert_all_are_said("Refusal", all, include_str!("refusal.rs"));
    }
}
