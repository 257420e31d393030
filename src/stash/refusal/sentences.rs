//! Refusals that are said in more than one way.

use crate::language::{say, word};

/// That there is no such card, and which may be meant, or else how to look for it.
pub(super) fn unknown_in_words(name: &str, hint: &str) -> String {
    if hint.is_empty() {
        say!(
            "no card '{name}' in the stash; to look for it by a part of its number or name: \
         homehook find TEXT",
            name
        )
    } else {
        say!("no card '{name}' in the stash{hint}", name, hint)
    }
}

/// What to do about a spare card that cannot be put away.
pub(super) fn stays_in_words(card: &str, project: &str, whole: &str, on_ring: bool) -> String {
    if on_ring {
        say!(
            "put {whole} away first, or wind the thread onto it where it is: homehook ring \
         merge \"{project}\" \"{card}\"",
            whole,
            project,
            card
        )
    } else {
        say!("when {whole} turns up, say first that it is found", whole)
    }
}

/// Where the spare cards are that were not meant.
pub(super) fn others_in_words(others: &str) -> String {
    if others.is_empty() {
        word!("; 'homehook ring list' shows what is on the rings").to_owned()
    } else {
        say!("; there is one {others}: name that project", others)
    }
}

/// That a card has no thread of a lot, and which it has.
pub(super) fn lot_in_words(card: &str, lot: &str, lots: &str) -> String {
    if lots.is_empty() {
        say!(
            "Card {card} has no lot {lot}. No lot is noted on it",
            card,
            lot
        )
    } else {
        say!(
            "Card {card} has no lot {lot}. It has {lots}",
            card,
            lot,
            lots
        )
    }
}

/// Why two cards cannot both stay, and what to do.
pub(super) fn clash_in_words(
    earlier: &str,
    earlier_mark: &str,
    later: &str,
    later_mark: &str,
    crossed: bool,
    some_rows: bool,
) -> String {
    let (why, next) = if some_rows {
        (
            word!("stay there, being pinned or outside of the rows that may change"),
            word!("name more rows, or unpin one of them"),
        )
    } else {
        (word!("are pinned"), word!("unpin one of them"))
    };
    if crossed {
        say!(
            "{later} on {later_mark} and {earlier} on {earlier_mark} {why}, but {earlier} \
         belongs before {later}: {next}",
            later,
            later_mark,
            earlier,
            earlier_mark,
            why,
            next
        )
    } else {
        say!(
            "{earlier} on {earlier_mark} and {later} on {later_mark} {why}, but the cards that \
         belong between them do not fit there: {next}",
            earlier,
            earlier_mark,
            later,
            later_mark,
            why,
            next
        )
    }
}
