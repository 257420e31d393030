//! Refusals that are said in more than one way.

/// That there is no such card, and which may be meant, or else how to look for it.
pub(super) fn unknown_in_words(name: &str, hint: &str) -> String {
    if hint.is_empty() {
        format!(
            "no card '{name}' in the stash; to look for it by a part of its number or name: \
         homehook find TEXT"
        )
    } else {
        format!("no card '{name}' in the stash{hint}")
    }
}

/// What to do about a split card that cannot be put away.
pub(super) fn stays_in_words(card: &str, project: &str, whole: &str, on_ring: bool) -> String {
    if on_ring {
        format!(
            "put {whole} away first, or rejoin them where they are: homehook ring \
         rejoin \"{project}\" \"{card}\""
        )
    } else {
        format!("when {whole} turns up, say first that it is found")
    }
}

/// Where the split cards are that were not meant.
pub(super) fn others_in_words(others: &str) -> String {
    if others.is_empty() {
        "; 'homehook ring list' shows what is on the rings".to_owned()
    } else {
        format!("; there is one {others}: name that project")
    }
}

/// That a card has no thread of a lot, and which it has.
pub(super) fn lot_in_words(card: &str, lot: &str, lots: &str) -> String {
    if lots.is_empty() {
        format!("Card {card} has no lot {lot}. No lot is noted on it")
    } else {
        format!("Card {card} has no lot {lot}. It has {lots}")
    }
}

/// Why two cards cannot both stay, and what to do.
pub(super) fn clash_in_words(
    earlier: &str,
    earlier_hook: &str,
    later: &str,
    later_hook: &str,
    crossed: bool,
    some_rows: bool,
) -> String {
    let (why, next) = if some_rows {
        (
            "stay there, being held or outside of the rows that may change",
            "name more rows, or release one of them",
        )
    } else {
        ("are held", "release one of them")
    };
    if crossed {
        format!(
            "{later} on {later_hook} and {earlier} on {earlier_hook} {why}, but {earlier} \
         belongs before {later}: {next}"
        )
    } else {
        format!(
            "{earlier} on {earlier_hook} and {later} on {later_hook} {why}, but the cards that \
         belong between them do not fit there: {next}"
        )
    }
}
