//! Describes past changes in words.

use super::places::{brief_of, elsewhere, run_name};
use super::thread::{amount, by_lot, skeins as skeins_of};
use super::{cards, list, one_or_many};
use crate::model::card::WallOrder;
use crate::model::ids::{BoardId, CardId, RangeId, RingId};
use crate::model::range::PutUp;
use crate::model::thread::{Lot, Strands};
use crate::stash::event::{Act, Change, Event, Mark};
use crate::stash::history::{EventSummary, Movement};
use crate::stash::state::{CardState, State};

/// An act as a sentence without its full stop: `Took 3 cards to the ring 'Harbour'`.
///
/// Names are looked up in `state`, which should know them: the state before an act is undone, or
/// after it is done.
#[must_use]
pub fn act(state: &State, act: &Act) -> String {
    let kinds = [
        boards_and_lists,
        families_and_order,
        rings,
        thread,
        places,
        record,
    ];
    let said = kinds.iter().find_map(|said| said(state, act));
    // Unreachable, as a test checks from the source.
    said.unwrap_or_else(|| "Changed the stash".to_owned())
}

/// An act with the cards it moved or brought: `Took 2 cards to the ring 'Harbour': 447, 96`. For where nothing
/// else shows them.
///
/// Names are looked up as by [`act`].
#[must_use]
pub fn act_and_cards(state: &State, event: &Event) -> String {
    let said = act(state, &event.act);
    let new = |id| {
        event.changes.iter().find_map(|change| match change {
            Change::Card {
                after: Some(card), ..
            } if card.id == id => Some(card.number.to_string()),
            _ => None,
        })
    };
    let name = |id| {
        let known = state.card(id).map(|kept| state.card_name(kept));
        known.or_else(|| new(id))
    };
    let names: Vec<String> = event.moved().filter_map(name).collect();
    match names.as_slice() {
        [] => said,
        [name] if said.contains(name.as_str()) => said,
        _ => format!("{said}: {}", list(names)),
    }
}

fn board(state: &State, id: BoardId) -> String {
    state.board(id).map_or_else(
        || "a board".to_owned(),
        |board| format!("the board '{name}'", name = board.name),
    )
}

fn range(state: &State, id: RangeId) -> String {
    state.range(id).map_or_else(
        || "a range".to_owned(),
        |range| format!("the range '{name}'", name = range.name),
    )
}

fn ring(state: &State, id: RingId) -> String {
    state.ring(id).map_or_else(
        || "a ring".to_owned(),
        |ring| format!("the ring '{name}'", name = ring.project),
    )
}

fn card(state: &State, id: CardId) -> String {
    state.card(id).map_or_else(
        || "a card".to_owned(),
        |kept| format!("card {card}", card = state.card_name(kept)),
    )
}

/// An amount of thread of a card.
fn amount_of(state: &State, id: CardId, strands: Strands) -> String {
    let kept = state.card(id);
    let put_up = kept.map_or_else(PutUp::default, |kept| state.put_up(&kept.card));
    amount(strands, put_up)
}

/// `1 match`, `2 matches`.
fn matches(n: u32) -> String {
    format!("{n} {word}", word = one_or_many(n, "match", "matches"))
}

/// Boards and their hooks, and the details of cards and lists.
fn boards_and_lists(state: &State, act: &Act) -> Option<String> {
    Some(match act {
        Act::NewBoard { board: id } => format!("Put up {board}", board = board(state, *id)),
        Act::Resize { board: id } => format!("Resized {board}", board = board(state, *id)),
        Act::Block { hook: hook_name } => format!("Blocked hook {hook_name}"),
        Act::Unblock { hook: hook_name } => format!("Unblocked hook {hook_name}"),
        Act::Reserve { hook: hook_name } => format!("Reserved hook {hook_name}"),
        Act::Unreserve { hook: hook_name } => format!("Took the reservation off hook {hook_name}"),
        Act::ImportCards { added, changed, .. } => format!(
            "Imported a card list: {cards} new, {changed} changed",
            cards = cards(*added)
        ),
        Act::NewCard { card: id } => format!("Added {card}", card = card(state, *id)),
        Act::ChangeCard { card: id } => {
            format!("Edited {card}", card = card(state, *id))
        }
        Act::ImportRange { range: id, shades } => format!(
            "Imported {count} {word} of {range}",
            word = one_or_many(*shades, "colour", "colours"),
            count = shades,
            range = range(state, *id)
        ),
        Act::ImportMatches { added, removed: 0 } => {
            format!(
                "Imported {matches} between colours",
                matches = matches(*added)
            )
        }
        Act::ImportMatches { added, removed } => format!(
            "Imported a conversion list: {matches} new, {removed} removed",
            matches = matches(*added)
        ),
        Act::ImportKey { ring: id, colours } => {
            let word = one_or_many(*colours, "line", "lines");
            format!(
                "Imported a chart key of {colours} {word} for {ring}",
                ring = ring(state, *id)
            )
        }
        Act::Bought { skeins, added } => {
            let word = one_or_many(*skeins, "skein", "skeins");
            format!("Bought {skeins} {word}: {cards} new", cards = cards(*added))
        }
        _ => return None,
    })
}

/// The order of the wall, its families, and held cards.
fn families_and_order(state: &State, act: &Act) -> Option<String> {
    Some(match act {
        Act::OrderWall => match state.order() {
            WallOrder::Family => "Ordered the wall by family, then number".to_owned(),
            WallOrder::Number => "Ordered the wall by number alone".to_owned(),
            WallOrder::Lightness => "Ordered the wall by family, then light to dark".to_owned(),
        },
        Act::OrderFamilies => "Put the families in another order".to_owned(),
        Act::NewFamily { name } => format!("Made the family '{name}'"),
        Act::RenameFamily { before, after } => {
            format!("Renamed the family '{before}' to '{after}'")
        }
        Act::RemoveFamily { name } => format!("Removed the family '{name}'"),
        Act::AssignFamily { name, cards: n } => {
            format!("Put {cards} in the family '{name}'", cards = cards(*n))
        }
        Act::UnassignFamily { cards: n } => {
            format!(
                "Let colour or range decide the family of {cards}",
                cards = cards(*n)
            )
        }
        Act::Hold { cards: n } => format!("Held {cards}", cards = cards(*n)),
        Act::Release { cards: 0 } => "Released all families".to_owned(),
        Act::Release { cards: n } => format!("Released {cards}", cards = cards(*n)),
        Act::Effort {
            cards: n,
            effort: 1,
        } => format!("Set the effort of {cards} back to 1", cards = cards(*n)),
        Act::Effort { cards: 1, effort } => format!("Set the effort of 1 card to {effort}"),
        Act::Effort { cards: n, effort } => {
            format!(
                "Set the effort of {cards} to {effort} each",
                cards = cards(*n)
            )
        }
        Act::HoldFamilies { families: n } => format!("Held {families}", families = families(*n)),
        Act::ReleaseFamilies { families: n } => {
            format!("Released {families}", families = families(*n))
        }
        _ => return None,
    })
}

/// Projects, and cards going to their rings and back.
fn rings(state: &State, act: &Act) -> Option<String> {
    Some(match act {
        Act::OpenRing { ring: id } => format!("Opened {ring}", ring = ring(state, *id)),
        Act::EditKey { ring: id } => {
            format!("Changed the chart key of {ring}", ring = ring(state, *id))
        }
        Act::Fabric { ring: id } => format!("Set the fabric of {ring}", ring = ring(state, *id)),
        Act::Progress { ring: id } => {
            format!("Set the progress of {ring}", ring = ring(state, *id))
        }
        Act::Take { ring: id, cards: n } => format!(
            "Took {cards} to {ring}",
            cards = cards(*n),
            ring = ring(state, *id)
        ),
        Act::Return {
            ring: id,
            cards: n,
            rejoined: 0,
        } => format!(
            "Returned {cards} from {ring}",
            cards = cards(*n),
            ring = ring(state, *id)
        ),
        Act::Return {
            ring: id,
            cards: 0,
            rejoined,
        } => format!(
            "Rejoined {split_cards} from {ring}",
            split_cards = split_cards(*rejoined),
            ring = ring(state, *id)
        ),
        Act::Return {
            ring: id,
            cards: n,
            rejoined,
        } => format!(
            "Returned {cards} from {ring} and rejoined {split_cards}",
            cards = cards(*n),
            ring = ring(state, *id),
            split_cards = split_cards(*rejoined)
        ),
        Act::HangUp { ring: id } => format!("Hung up {ring}", ring = ring(state, *id)),
        Act::TakeDown { ring: id } => format!("Took down {ring}", ring = ring(state, *id)),
        Act::Status { ring: id } => format!("Set the status of {ring}", ring = ring(state, *id)),
        Act::OrderRings => "Put the projects in another order".to_owned(),
        Act::Close { ring: id } => format!("Closed {ring}", ring = ring(state, *id)),
        _ => return None,
    })
}

/// Thread split off, rejoined or used.
fn thread(state: &State, act: &Act) -> Option<String> {
    Some(match act {
        Act::Split {
            ring: id,
            card: split_card,
            strands,
        } => {
            let parent = state
                .card(*split_card)
                .and_then(|split_card| split_card.card.parent);
            let whole = parent.map_or_else(|| "a card".to_owned(), |id| card(state, id));
            let amount = amount_of(state, *split_card, *strands);
            format!(
                "Split {amount} of {whole} off to {ring}",
                ring = ring(state, *id)
            )
        }
        Act::Rejoin { card: id, strands } => {
            format!(
                "Rejoined {amount} with {card}",
                amount = amount_of(state, *id, *strands),
                card = card(state, *id)
            )
        }
        Act::Use {
            card: id,
            strands,
            lots,
        } => {
            let (amount, card) = (amount_of(state, *id, *strands), card(state, *id));
            let lots = list(lots.iter().map(Lot::to_string));
            if lots.is_empty() {
                format!("Used {amount} of {card}")
            } else {
                format!("Used {amount} of {card}, lot {lots}")
            }
        }
        Act::Cut { cards: n } => format!("Cut thread onto {cards}", cards = cards(*n)),
        Act::Count { card: id } => format!("Counted the thread of {card}", card = card(state, *id)),
        Act::PutUp { range: id } => {
            format!("Set the put-up of {range}", range = range(state, *id))
        }
        Act::Mark { colours, mark, set } => {
            let word = match mark {
                Mark::Variegated => "variegated",
                Mark::Discontinued => "discontinued",
            };
            let not = if *set { "" } else { "not " };
            format!("Marked {} as {not}{word}", colours_of(*colours))
        }
        Act::Want { colours, skeins: 0 } => {
            format!("Took {} off the want list", colours_of(*colours))
        }
        Act::Want { colours, skeins } => format!(
            "Put {skeins} of {colours} on the want list",
            skeins = skeins_of(*skeins),
            colours = colours_of(*colours)
        ),
        _ => return None,
    })
}

/// Places of cards, changed by hand or by a re-hang.
fn places(state: &State, act: &Act) -> Option<String> {
    Some(match act {
        Act::Missing { cards: n } => format!("Marked {cards} as missing", cards = cards(*n)),
        Act::Found { card: id } => format!("Found {card} again", card = card(state, *id)),
        Act::Elsewhere {
            cards: n,
            note,
            loan,
        } => format!(
            "Put {cards} elsewhere: {note}",
            cards = cards(*n),
            note = elsewhere(note, loan.as_ref())
        ),
        Act::Remove { cards: n, why } if why.is_empty() => {
            format!("Removed {cards}", cards = cards(*n))
        }
        Act::Remove { cards: n, why } => {
            format!("Removed {cards}: {why}", cards = cards(*n))
        }
        Act::RollCall {
            found,
            misplaced,
            missing,
        } => format!("Roll call: {found} found, {misplaced} misplaced, {missing} missing"),
        Act::RollCallRow { hooks, .. } => {
            let seen = hooks
                .iter()
                .map(|sighting| sighting.cards.len())
                .sum::<usize>();
            let seen = cards(u32::try_from(seen).unwrap_or(u32::MAX));
            let first = hooks.first().map(|sighting| sighting.hook);
            let board = first.and_then(|hook| Some((state.board(hook.board)?, hook)));
            match board {
                Some((board, hook)) => {
                    format!(
                        "Roll call: {row} confirmed, {seen}",
                        row = run_name(board, hook)
                    )
                }
                None => format!("Roll call: a row confirmed, {seen}"),
            }
        }
        Act::HangHome { card: id } => {
            format!("Hung {card} on its own hook", card = card(state, *id))
        }
        Act::Rehang { card: id } => format!("Re-hung {card}", card = card(state, *id)),
        Act::RehangAll { cards: count } => format!("Re-hung {}", cards(*count)),
        Act::BeginRehang { steps: 1 } => "Began a re-hang of 1 step".to_owned(),
        Act::BeginRehang { steps } => format!("Began a re-hang of {steps} steps"),
        Act::EndRehang { left: 0 } => "Ended the re-hang".to_owned(),
        Act::EndRehang { left } => format!(
            "Gave up the re-hang with {cards} left",
            cards = cards(*left)
        ),
        _ => return None,
    })
}

/// Changes to the record itself.
fn record(_: &State, act: &Act) -> Option<String> {
    Some(match act {
        Act::Merge { facts, .. } => {
            let count = facts.len();
            let word = one_or_many(count, "change", "changes");
            format!("Merged {count} {word} of another copy")
        }
        Act::AcceptLoss {
            recorded: Some(recorded),
            found,
        } => format!("Accepted a loss: {recorded} changes had been recorded, {found} were left"),
        Act::AcceptLoss { found, .. } => {
            format!("Accepted a loss: {found} changes were left")
        }
        Act::Undo { seq } => format!("Undid change {seq}"),
        Act::Redo { seq } => format!("Redid what change {seq} undid"),
        _ => return None,
    })
}

/// `1 split card`, `2 split cards`.
fn split_cards(count: u32) -> String {
    format!(
        "{count} split {word}",
        word = one_or_many(count, "card", "cards")
    )
}

/// `1 colour`, `2 colours`.
fn colours_of(count: u32) -> String {
    format!("{count} {}", one_or_many(count, "colour", "colours"))
}

/// `1 family`, `2 families`.
fn families(count: u32) -> String {
    format!("{count} {}", one_or_many(count, "family", "families"))
}

/// The most cards named in a history line; with more, it only gives their number.
const NAMED: usize = 3;

/// A card and its place, in the short form of a history line.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Brief {
    name: String,
    place: String,
    home: Option<String>,
    thread: String,
}

impl Brief {
    /// The card in its current state.
    #[must_use]
    pub fn of(state: &State, kept: &CardState) -> Self {
        Self {
            name: state.card_name(kept),
            place: brief_of(state, kept),
            home: kept.home.map(|hook| state.hook_name(hook)),
            thread: by_lot(&kept.thread, state.put_up(&kept.card)),
        }
    }
}

impl AsRef<Self> for Brief {
    fn as_ref(&self) -> &Self {
        self
    }
}

/// The moves of cards: `701 A01 -> 'Robin'`; or the change of home of a card that stays away. Empty
/// if no card is affected, or more than three.
#[must_use]
pub fn in_brief<T: AsRef<Brief>>(summary: &EventSummary<T>) -> String {
    let stays = |of: &&Movement<T>| !summary.moves.iter().any(|moved| moved.card == of.card);
    let homes = summary.homes.iter().filter(stays);
    if summary.moves.len() + homes.clone().count() > NAMED {
        return String::new();
    }
    let went = summary.moves.iter().filter_map(|moved| {
        let (was, now) = ends(moved);
        let name = &now.or(was)?.name;
        let place = |end: Option<&Brief>| end.map(|end| end.place.clone());
        let from = place(was).unwrap_or_else(|| "new".to_owned());
        let to = place(now).unwrap_or_else(|| "out of the stash".to_owned());
        Some(format!("{name} {from} -> {to}"))
    });
    let homes = homes.filter_map(|changed| {
        let (was, now) = ends(changed);
        let name = &now.or(was)?.name;
        let home = |end: Option<&Brief>| {
            let home = end.and_then(|end| end.home.clone());
            home.unwrap_or_else(|| "none".to_owned())
        };
        let (from, to) = (home(was), home(now));
        Some(format!("{name} home {from} -> {to}"))
    });
    let wound = thread_in_brief(summary);
    went.chain(homes)
        .chain(wound)
        .collect::<Vec<_>>()
        .join(", ")
}

/// The change of thread on cards that exist both before and after: `96 thread 8 lengths of lot K7
/// -> 8 lengths of lot K7, 8 lengths of lot V1`. Empty if more than three cards are affected.
fn thread_in_brief<T: AsRef<Brief>>(summary: &EventSummary<T>) -> Vec<String> {
    let changed = summary.changed.iter().filter_map(|of| match ends(of) {
        (Some(was), Some(now)) if was.thread != now.thread => Some((was, now)),
        _ => None,
    });
    let changed: Vec<(&Brief, &Brief)> = changed.collect();
    if changed.len() > NAMED {
        return Vec::new();
    }
    let changed = changed.into_iter();
    changed
        .map(|(was, now)| format!("{} thread {} -> {}", now.name, was.thread, now.thread))
        .collect()
}

/// The card before and after.
fn ends<T: AsRef<Brief>>(of: &Movement<T>) -> (Option<&Brief>, Option<&Brief>) {
    (
        of.from.as_ref().map(AsRef::as_ref),
        of.to.as_ref().map(AsRef::as_ref),
    )
}

#[cfg(test)]
mod tests {
    use super::{act as told, *};
    use crate::text::tests::assert_all_are_said;

    #[test]
    fn every_act_has_a_sentence() {
        let all = include_str!("../stash/event.rs");
        assert_all_are_said("Act", all, include_str!("history.rs"));
    }

    #[test]
    fn acts_on_removed_things_still_have_a_sentence() {
        let state = State::default();
        let act = Act::Take {
            ring: RingId(4),
            cards: 1,
        };
        assert_eq!(told(&state, &act), "Took 1 card to a ring");
        for (act, words) in [
            (Act::Hold { cards: 2 }, "Held 2 cards"),
            (
                Act::Effort {
                    cards: 1,
                    effort: 5,
                },
                "Set the effort of 1 card to 5",
            ),
            (
                Act::Effort {
                    cards: 2,
                    effort: 5,
                },
                "Set the effort of 2 cards to 5 each",
            ),
            (Act::Release { cards: 0 }, "Released all families"),
            (Act::HoldFamilies { families: 1 }, "Held 1 family"),
            (
                Act::Effort {
                    cards: 1,
                    effort: 1,
                },
                "Set the effort of 1 card back to 1",
            ),
            (
                Act::Return {
                    ring: RingId(4),
                    cards: 0,
                    rejoined: 2,
                },
                "Rejoined 2 split cards from a ring",
            ),
            (
                Act::Return {
                    ring: RingId(4),
                    cards: 2,
                    rejoined: 1,
                },
                "Returned 2 cards from a ring and rejoined 1 split card",
            ),
            (Act::BeginRehang { steps: 1 }, "Began a re-hang of 1 step"),
            (Act::EndRehang { left: 0 }, "Ended the re-hang"),
        ] {
            assert_eq!(told(&state, &act), words);
        }
        let act = Act::Found { card: CardId(2) };
        assert_eq!(told(&state, &act), "Found a card again");
    }
}
