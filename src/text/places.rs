//! Where cards are, and the last known companions of missing ones.
//!
//! A `spoken` text is a step of a walk as read aloud: short, and without unpronounceable signs.

use std::borrow::Cow;

use jiff::civil::Date;

use super::{cards, list, one_or_many};
use crate::model::board::{Board, HookRef, ReadingOrder};
use crate::model::ids::RingId;
use crate::model::label::Label;
use crate::model::whereabouts::{CardPlace, LastPlace, Loan, Whereabouts};
use crate::stash::command::buy;
use crate::stash::command::import::Outcome;
use crate::stash::event::Act;
use crate::stash::state::{CardState, State};
use crate::stash::whereabouts;

/// Number of companions named before the text only counts the rest.
const NAMED: usize = 4;

/// The place of a card, to follow "it is".
#[must_use]
pub fn place(place: &CardPlace) -> String {
    match place {
        CardPlace::Home(hook) => format!("at home on hook {hook}"),
        CardPlace::Hook(hook) => format!("on hook {hook}"),
        CardPlace::Ring { project, hangs_on } => {
            let hanging = hangs_on.as_ref();
            let hanging =
                hanging.map_or_else(String::new, |hook| format!(", hanging on hook {hook}"));
            format!("on the ring '{project}'{hanging}")
        }
        CardPlace::Hand => "in the hand, in the middle of a re-hang".to_owned(),
        CardPlace::Missing(LastPlace::Hook(hook)) => format!("missing, last seen on hook {hook}"),
        CardPlace::Missing(LastPlace::Ring(project)) => {
            format!("missing, last seen on the ring '{project}'")
        }
        CardPlace::Missing(LastPlace::Unknown) => "missing".to_owned(),
        CardPlace::Elsewhere { note, loan: None } => format!("elsewhere: {note}"),
        CardPlace::Elsewhere { note, loan } => elsewhere(note, loan.as_ref()),
        CardPlace::ToHang {
            rejoins: Some(whole),
        } => format!("to hang, to be rejoined with {whole}"),
        CardPlace::ToHang { rejoins: None } => "to hang, without a hook yet".to_owned(),
    }
}

/// The place of a card of the stash, to follow "it is".
#[must_use]
pub fn place_of(state: &State, kept: &CardState) -> String {
    place(&state.place_of(kept))
}

/// The name of a card, with its colour's name if it has one: `1033  fir tree`.
#[must_use]
pub fn card_and_colour(state: &State, kept: &CardState) -> String {
    let (card, name) = (state.card_name(kept), &kept.card.name);
    if name.is_empty() {
        card
    } else {
        format!("{card}  {name}")
    }
}

/// The place of a card in its shortest form: `A01`, `'Robin'` for a ring, `to hang`.
#[must_use]
pub fn brief(place: &CardPlace) -> String {
    match place {
        CardPlace::Home(hook) | CardPlace::Hook(hook) => hook.clone(),
        CardPlace::Ring {
            project,
            hangs_on: None,
        } => format!("'{project}'"),
        CardPlace::Ring {
            project,
            hangs_on: Some(hook),
        } => format!("'{project}' on {hook}"),
        CardPlace::Hand => "hand".to_owned(),
        CardPlace::Missing(_) => "missing".to_owned(),
        CardPlace::Elsewhere { note, loan } => {
            format!(
                "elsewhere ({words})",
                words = elsewhere(note, loan.as_ref())
            )
        }
        CardPlace::ToHang { .. } => "to hang".to_owned(),
    }
}

/// The place of a card of the stash in its shortest form.
#[must_use]
pub fn brief_of(state: &State, kept: &CardState) -> String {
    brief(&state.place_of(kept))
}

/// The place of a card that isn't at home, relative to the hook it is listed under.
pub(crate) fn away_from(state: &State, kept: &CardState, home: HookRef) -> Option<String> {
    if kept.place.at.hook() == Some(home) {
        return None;
    }
    Some(match state.place_of(kept) {
        CardPlace::Home(hook) | CardPlace::Hook(hook) => format!("hangs on {hook}"),
        CardPlace::Ring { project, .. } => format!("on '{project}'"),
        CardPlace::Hand => "in the hand".to_owned(),
        CardPlace::Elsewhere { .. } => "elsewhere".to_owned(),
        other @ (CardPlace::Missing(_) | CardPlace::ToHang { .. }) => brief(&other),
    })
}

/// What a list does to cards beside their thread: those that get another home, some by name (`2 cards get another
/// home: 405 from A01 to A02 and 447 from B03 to A01`), and missing ones that were bought again. `None` if there are
/// none.
#[must_use]
pub(crate) fn moved_by_list(state: &State, of_list: &Outcome) -> Option<String> {
    let homes = other_homes(state, of_list);
    let new = of_list.event.iter().flat_map(buy::replaced);
    let new = new.filter_map(|card| Some(state.card_name(state.card(card)?)));
    let new: Vec<String> = new.collect();
    let new = (!new.is_empty()).then(|| {
        let (card, takes, ones) = match new.len() {
            1 => ("a new card", "takes", "one"),
            _ => ("new cards", "take", "ones"),
        };
        format!(
            "{card} of {} {takes} the place of the missing {ones}",
            list(new)
        )
    });
    let all: Vec<String> = homes.into_iter().chain(new).collect();
    (!all.is_empty()).then(|| super::capital(&all.join("; ")))
}

fn other_homes(state: &State, of_list: &Outcome) -> Option<String> {
    let all: Vec<_> = of_list.rehomed().collect();
    let named = all.iter().take(NAMED).filter_map(|&(card, from, to)| {
        let card = state.card_name(state.card(card)?);
        let [from, to] = [from, to].map(|hook| state.hook_name(hook));
        Some(format!("{card} from {from} to {to}"))
    });
    let more = all.len().saturating_sub(NAMED);
    let named = named.chain((more > 0).then(|| format!("{more} more")));
    let cards = super::cards(u32::try_from(all.len()).unwrap_or(u32::MAX));
    let get = one_or_many(all.len(), "gets", "get");
    (!all.is_empty()).then(|| format!("{cards} {get} another home: {}", list(named)))
}

/// The place of a card that is elsewhere: `drawer`, `lent to a friend`, `lent to a friend until
/// 2026-11-01: drawer`.
#[must_use]
pub fn elsewhere(note: &Label, loan: Option<&Loan>) -> String {
    let Some(Loan { whom, until }) = loan else {
        return note.to_string();
    };
    let lent = match until {
        Some(until) => format!("lent to {whom} until {until}"),
        None => format!("lent to {whom}"),
    };
    if note.is_empty() {
        lent
    } else {
        format!("{lent}: {note}")
    }
}

/// The cards that a card list has with their hooks although they aren't there; `None` if there are
/// none. A list has no column for a ring, a loan or a missing card.
#[must_use]
pub(crate) fn listed_at_home(state: &State) -> Option<String> {
    let away: Vec<String> = (state.away_from_home())
        .map(|kept| state.card_name(kept))
        .collect();
    let count = u32::try_from(away.len()).unwrap_or(u32::MAX);
    (count > 0).then(|| {
        format!(
            "The list has {cards} on {hooks} as if {they} hung there: {away}.",
            cards = cards(count),
            hooks = one_or_many(count, "its hook", "their hooks"),
            they = one_or_many(count, "it", "they"),
            away = list(away)
        )
    })
}

/// The cards due back from a loan before today: `overdue: 112, lent to a friend until 2026-11-01, 3
/// days ago`; `None` if there are none.
#[must_use]
pub(crate) fn overdue(state: &State, today: Date) -> Option<String> {
    let late = whereabouts::overdue(state, today);
    let late = late.iter().map(|one| {
        format!(
            "{card}, {lent}, {days} {word} ago",
            card = state.card_name(one.kept),
            lent = elsewhere(&Label::default(), Some(one.loan)),
            days = one.days,
            word = one_or_many(one.days, "day", "days")
        )
    });
    let late = list(late);
    (!late.is_empty()).then(|| format!("overdue: {late}"))
}

/// What to do with a card after undoing or redoing `act`, so that the wall matches again: `hang it
/// on G11 again`.
#[must_use]
pub fn again(state: &State, kept: &CardState, act: &Act) -> String {
    match (act, &kept.place.at) {
        // Nobody moved the card.
        (Act::Missing { .. } | Act::RollCall { .. }, _)
        | (_, Whereabouts::Missing { .. } | Whereabouts::Elsewhere { .. }) => {
            format!("it is {place}", place = place_of(state, kept))
        }
        (_, Whereabouts::Hook { hook }) => {
            format!("hang it on {hook} again", hook = state.hook_name(*hook))
        }
        (_, Whereabouts::Ring { .. }) => {
            format!("put it on {ring} again", ring = brief_of(state, kept))
        }
        (_, Whereabouts::Unhung) => "put it with the cards to hang again".to_owned(),
        (_, Whereabouts::Hand) => "keep it in the hand".to_owned(),
    }
}

/// The companions of a missing card when it was last seen, with their current places, to follow its
/// own place: `with 701 (now on C07) and 415 (still on the ring)`; `None` if unknown.
#[must_use]
pub fn last_seen_with(state: &State, kept: &CardState) -> Option<String> {
    let ring = kept.place.at.last_ring();
    let ring = ring.filter(|_| kept.place.at.is_missing());
    let with = state.last_seen_with(kept);
    let (named, more) = with.split_at(with.len().min(NAMED));
    let mut said: Vec<String> = named
        .iter()
        .map(|other| {
            format!(
                "{} ({})",
                state.card_name(other),
                now_at(state, other, ring)
            )
        })
        .collect();
    if !more.is_empty() {
        said.push(format!("{count} more", count = more.len()));
    }
    let last = said.pop()?;
    let word = if ring.is_some() { "with" } else { "beside" };
    Some(if said.is_empty() {
        format!("{word} {last}")
    } else {
        format!("{word} {list} and {last}", list = said.join(", "))
    })
}

/// A companion's current place, in a few words.
fn now_at(state: &State, kept: &CardState, seen_on: Option<RingId>) -> String {
    match &kept.place.at {
        Whereabouts::Hook { hook } if seen_on.is_none() && kept.home == Some(*hook) => {
            format!("on {hook}", hook = state.hook_name(*hook))
        }
        Whereabouts::Hook { hook } => format!("now on {hook}", hook = state.hook_name(*hook)),
        Whereabouts::Ring { ring } if Some(*ring) == seen_on => "still on the ring".to_owned(),
        Whereabouts::Ring { ring } => {
            let project = state.ring(*ring).map_or("", |ring| ring.project.as_str());
            format!("now on the ring '{project}'")
        }
        Whereabouts::Hand => "now in the hand".to_owned(),
        Whereabouts::Missing { .. } => "missing too".to_owned(),
        Whereabouts::Elsewhere { note, loan } => {
            let words = elsewhere(note, loan.as_ref());
            format!("now elsewhere: {words}")
        }
        Whereabouts::Unhung => "now to hang".to_owned(),
    }
}

/// The name of a hook's row as the user walks it; of its column, if the board is read in columns.
#[must_use]
pub fn run_name(board: &Board, hook: HookRef) -> String {
    match board.reading {
        ReadingOrder::Columns => format!(
            "Column {prefix}{column}",
            prefix = board.prefix,
            column = u32::from(hook.column) + 1
        ),
        ReadingOrder::Rows | ReadingOrder::ThereAndBack => {
            let letters = Board::row_letters(hook.row);
            format!("Row {prefix}{letters}", prefix = board.prefix)
        }
    }
}

/// A card's number: `154`, `154 of Harbour` for a split card, or `Cove 12` where two ranges have a 12.
#[must_use]
pub fn spoken_card(state: &State, kept: &CardState) -> String {
    let number = state.number_and_tag(kept).replace('@', " of ");
    match state.range_to_tell(kept) {
        None => number,
        Some(range) => format!("{range} {number}"),
    }
}

/// The name of a card's colour, after its range where another card has the same number: `Cove  harbour grey`.
pub(crate) fn colour_to_tell<'a>(state: &'a State, kept: &'a CardState) -> Cow<'a, str> {
    let name = kept.card.name.as_str();
    match state.range_to_tell(kept) {
        None => Cow::Borrowed(name),
        Some(range) if name.is_empty() => Cow::Borrowed(range),
        Some(range) => Cow::Owned(format!("{range}  {name}")),
    }
}

/// A hook: `C 19`.
#[must_use]
pub fn spoken_hook(state: &State, hook: HookRef) -> String {
    let prefix = state
        .board(hook.board)
        .map_or("", |board| board.prefix.as_str());
    let row: String = Board::row_letters(hook.row)
        .chars()
        .flat_map(|letter| [letter, ' '])
        .collect();
    let prefix = prefix.trim_end_matches('-');
    let gap = if prefix.is_empty() { "" } else { " " };
    format!("{prefix}{gap}{row}{}", u32::from(hook.column) + 1)
}

/// A card with a preposition, a hook and its neighbours there: `154 to C 19, between 152 and 155`.
#[must_use]
pub fn spoken_at_hook(state: &State, kept: &CardState, does: &str, on: HookRef) -> String {
    let (card, hook) = (spoken_card(state, kept), spoken_hook(state, on));
    format!("{card} {does} {hook}{}", beside(state, kept, on))
}

/// The neighbours on either side of a hook, after a comma; empty on an empty board.
fn beside(state: &State, kept: &CardState, hook: HookRef) -> String {
    let (before, after) = state.hanging_beside(hook, kept.card.id);
    let name = |(_, kept): (HookRef, &CardState)| spoken_card(state, kept);
    match (before.map(name), after.map(name)) {
        (Some(before), Some(after)) => format!(", between {before} and {after}"),
        (Some(before), None) => format!(", after {before}"),
        (None, Some(after)) => format!(", before {after}"),
        (None, None) => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stash::command::board::new_board;
    use crate::stash::testing::{add_cards, apply, board, id, wall};

    #[test]
    fn a_step_can_be_read_aloud() {
        let mut state = wall(3, 19, 1);
        add_cards(&mut state, &["152@C18", "155@A07", "154", "160@C19"]);
        let card = |number: &str| state.card(id(&state, number)).unwrap();
        let on = |name: &str| state.find_hook(name).unwrap();
        let said = |name: &str| spoken_at_hook(&state, card("154"), "to", on(name));
        assert_eq!(said("B01"), "154 to B 1, between 155 and 152");
        assert_eq!(said("A01"), "154 to A 1, before 155");
        assert_eq!(
            spoken_at_hook(&state, card("160"), "from", on("C19")),
            "160 from C 19, after 152"
        );
    }

    #[test]
    fn the_prefix_of_a_board_is_spoken_without_its_dash() {
        let mut state = wall(1, 2, 1);
        let event = new_board(&state, &board("door", "2-", 28, 3, 1)).unwrap();
        apply(&mut state, &event);
        for (name, said) in [("A02", "A 2"), ("2-B03", "2 B 3"), ("2-AB01", "2 A B 1")] {
            assert_eq!(spoken_hook(&state, state.find_hook(name).unwrap()), said);
        }
    }
}
