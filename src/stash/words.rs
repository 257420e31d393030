//! What was done, in words.

use super::event::Act;
use super::kit::words::amount_in_words;
use super::names::{elsewhere_in_words, list};
use super::state::State;
use crate::language::{one_or_many, say, word};
use crate::model::family::WallOrder;
use crate::model::ids::{BoardId, CardId, RangeId, RingId};
use crate::model::range::PutUp;
use crate::model::thread::Lot;

/// What an act did, as a sentence without its full stop: `Took 3 cards to the ring 'Harbour'`.
///
/// Names are looked up in `state`, which should be one that knows them: from before the act is
/// taken back, or from after it is done.
#[must_use]
pub fn act_in_words(state: &State, act: &Act) -> String {
    let board = |id: BoardId| match state.board(id) {
        Some(board) => say!("the board '{name}'", name = board.name),
        None => word!("a board").to_owned(),
    };
    let range = |id: RangeId| match state.range(id) {
        Some(range) => say!("the range '{name}'", name = range.name),
        None => word!("a range").to_owned(),
    };
    let ring = |id: RingId| match state.ring(id) {
        Some(ring) => say!("the ring '{name}'", name = ring.project),
        None => word!("a ring").to_owned(),
    };
    let card = |id: CardId| {
        state.card(id).map_or_else(
            || word!("a card").to_owned(),
            |kept| say!("card {card}", card = state.card_name(kept)),
        )
    };
    let put_up = |id: CardId| {
        let kept = state.card(id);
        kept.map_or_else(PutUp::default, |kept| state.put_up(&kept.card))
    };
    match act {
        Act::NewBoard { board: id } => say!("Put up {board}", board = board(*id)),
        Act::Resize { board: id } => say!("Measured {board} anew", board = board(*id)),
        Act::Block { mark } => say!("Blocked hook {mark}", mark),
        Act::Unblock { mark } => say!("Made hook {mark} usable again", mark),
        Act::ImportStock { added, changed, .. } => say!(
            "Brought in a stock list: {cards} new, {changed} changed",
            cards = cards(*added),
            changed
        ),
        Act::NewCard { card: id } => say!("Wrote {card}, a new one", card = card(*id)),
        Act::ChangeCard { card: id } => {
            say!("Changed what is written on {card}", card = card(*id))
        }
        Act::ImportShades { range: id, shades } => say!(
            "Brought in {shades} {word} of {range}",
            shades,
            word = one_or_many!(*shades, "shade", "shades"),
            range = range(*id)
        ),
        Act::ImportKey { ring: id, colours } => {
            let word = one_or_many!(*colours, "line", "lines");
            say!(
                "Brought in a key of {colours} {word} for {ring}",
                colours,
                word,
                ring = ring(*id)
            )
        }
        Act::OpenRing { ring: id } => say!("Opened {ring}", ring = ring(*id)),
        Act::EditKey { ring: id } => say!("Changed the key of {ring}", ring = ring(*id)),
        Act::Fabric { ring: id } => say!("Said how {ring} is stitched", ring = ring(*id)),
        Act::Progress { ring: id } => say!("Said how far {ring} has come", ring = ring(*id)),
        Act::Bought { skeins, added } => {
            let word = one_or_many!(*skeins, "skein", "skeins");
            say!(
                "Brought home {skeins} {word}: {cards} new",
                skeins,
                word,
                cards = cards(*added)
            )
        }
        Act::OrderWall => match state.order() {
            WallOrder::Family => word!("Ordered the wall by family, then number").to_owned(),
            WallOrder::Number => word!("Ordered the wall by number alone").to_owned(),
            WallOrder::Lightness => {
                word!("Ordered the wall by family, then light to dark").to_owned()
            }
        },
        Act::OrderFamilies => word!("Put the families in another order").to_owned(),
        Act::NewFamily { name } => say!("Made the family '{name}'", name),
        Act::RenameFamily { before, after } => {
            say!("Renamed the family '{before}' to '{after}'", before, after)
        }
        Act::RemoveFamily { name } => say!("Gave up the family '{name}'", name),
        Act::AssignFamily { name, cards: n } => {
            say!(
                "Put {cards} in the family '{name}'",
                cards = cards(*n),
                name
            )
        }
        Act::UnassignFamily { cards: n } => {
            say!("Worked out the family of {cards} anew", cards = cards(*n))
        }
        Act::Pin { cards: n } => say!("Pinned {cards}", cards = cards(*n)),
        Act::Unpin { cards: 0 } => word!("Let all families move again").to_owned(),
        Act::Unpin { cards: n } => say!("Let {cards} move again", cards = cards(*n)),
        Act::Weigh {
            cards: n,
            weight: 1,
        } => say!("Let {cards} count as one again", cards = cards(*n)),
        Act::Weigh { cards: 1, weight } => say!("Let 1 card count as {weight}", weight),
        Act::Weigh { cards: n, weight } => say!(
            "Let {cards} count as {weight} each",
            cards = cards(*n),
            weight
        ),
        Act::PinFamilies { families: n } => say!("Pinned {families}", families = families(*n)),
        Act::UnpinFamilies { families: n } => {
            say!("Let {families} move again", families = families(*n))
        }
        Act::KeepFree { mark } => say!("Kept hook {mark} free of re-hangs", mark),
        Act::UseAgain { mark } => say!("Gave hook {mark} back to re-hangs", mark),
        Act::Take { ring: id, cards: n } => say!(
            "Took {cards} to {ring}",
            cards = cards(*n),
            ring = ring(*id)
        ),
        Act::Return {
            ring: id,
            cards: n,
            wound: 0,
        } => say!(
            "Hung {cards} back from {ring}",
            cards = cards(*n),
            ring = ring(*id)
        ),
        Act::Return {
            ring: id,
            cards: 0,
            wound,
        } => say!(
            "Wound {spare_cards} back from {ring}",
            spare_cards = spare_cards(*wound),
            ring = ring(*id)
        ),
        Act::Return {
            ring: id,
            cards: n,
            wound,
        } => say!(
            "Hung {cards} back from {ring} and wound {spare_cards} back",
            cards = cards(*n),
            ring = ring(*id),
            spare_cards = spare_cards(*wound)
        ),
        Act::Decant {
            ring: id,
            card: spare,
            strands,
        } => {
            let parent = state.card(*spare).and_then(|spare| spare.card.parent);
            let whole = parent.map_or_else(|| word!("a card").to_owned(), card);
            let amount = amount_in_words(*strands, put_up(*spare));
            say!(
                "Decanted {amount} of {whole} to {ring}",
                amount,
                whole,
                ring = ring(*id)
            )
        }
        Act::Rejoin { card: id, strands } => {
            say!(
                "Wound {amount} back onto {card}",
                amount = amount_in_words(*strands, put_up(*id)),
                card = card(*id)
            )
        }
        Act::Use {
            card: id,
            strands,
            lots,
        } => {
            let (amount, card) = (amount_in_words(*strands, put_up(*id)), card(*id));
            let lots = list(lots.iter().map(Lot::to_string));
            if lots.is_empty() {
                say!("Used {amount} of {card}", amount, card)
            } else {
                say!("Used {amount} of {card}, lot {lots}", amount, card, lots)
            }
        }
        Act::Park { ring: id } => say!("Parked {ring}", ring = ring(*id)),
        Act::Unpark { ring: id } => say!("Took {ring} back into use", ring = ring(*id)),
        Act::Close { ring: id } => say!("Closed {ring}", ring = ring(*id)),
        Act::Missing { cards: n } => say!("Declared {cards} missing", cards = cards(*n)),
        Act::Found { card: id } => say!("Found {card} again", card = card(*id)),
        Act::Elsewhere {
            cards: n,
            note,
            loan,
        } => say!(
            "Put {cards} elsewhere: {note}",
            cards = cards(*n),
            note = elsewhere_in_words(note, loan.as_ref())
        ),
        Act::Discard { cards: n, why } if why.is_empty() => {
            say!("Took {cards} out of the stash", cards = cards(*n))
        }
        Act::Discard { cards: n, why } => {
            say!(
                "Took {cards} out of the stash: {why}",
                cards = cards(*n),
                why
            )
        }
        Act::RollCall {
            found,
            misplaced,
            missing,
        } => say!(
            "Roll call: {found} found, {misplaced} misplaced, {missing} missing",
            found,
            misplaced,
            missing
        ),
        Act::HangHome { card: id } => say!("Hung {card} on its own hook", card = card(*id)),
        Act::Rehang { card: id } => say!("Re-hung {card}", card = card(*id)),
        Act::BeginRehang { steps: 1 } => word!("Began a re-hang of 1 step").to_owned(),
        Act::BeginRehang { steps } => say!("Began a re-hang of {steps} steps", steps),
        Act::EndRehang { left: 0 } => word!("Ended the re-hang").to_owned(),
        Act::EndRehang { left } => say!(
            "Gave up the re-hang with {cards} left",
            cards = cards(*left)
        ),
        Act::Merge { facts, .. } => {
            let count = facts.len();
            let word = one_or_many!(count, "change", "changes");
            say!("Merged {count} {word} of another copy", count, word)
        }
        Act::AcceptLoss {
            recorded: Some(recorded),
            found,
        } => say!(
            "Accepted a loss: {recorded} changes had been recorded, {found} were left",
            recorded,
            found
        ),
        Act::AcceptLoss { found, .. } => {
            say!("Accepted a loss: {found} changes were left", found)
        }
        Act::Undo { seq } => say!("Took back change {seq}", seq),
        Act::Redo { seq } => say!("Did again what change {seq} took back", seq),
    }
}

/// `1 card`, `2 cards`.
#[must_use]
pub fn cards(count: u32) -> String {
    format!("{count} {}", one_or_many!(count, "card", "cards"))
}

/// `1 spare card`, `2 spare cards`.
fn spare_cards(count: u32) -> String {
    say!(
        "{count} spare {word}",
        count,
        word = one_or_many!(count, "card", "cards")
    )
}

/// `1 family`, `2 families`.
fn families(count: u32) -> String {
    format!("{count} {}", one_or_many!(count, "family", "families"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_gone_is_still_spoken_of() {
        let state = State::default();
        let act = Act::Take {
            ring: RingId(4),
            cards: 1,
        };
        assert_eq!(act_in_words(&state, &act), "Took 1 card to a ring");
        for (act, words) in [
            (Act::Pin { cards: 2 }, "Pinned 2 cards"),
            (
                Act::Weigh {
                    cards: 1,
                    weight: 5,
                },
                "Let 1 card count as 5",
            ),
            (
                Act::Weigh {
                    cards: 2,
                    weight: 5,
                },
                "Let 2 cards count as 5 each",
            ),
            (Act::Unpin { cards: 0 }, "Let all families move again"),
            (Act::PinFamilies { families: 1 }, "Pinned 1 family"),
            (
                Act::Weigh {
                    cards: 1,
                    weight: 1,
                },
                "Let 1 card count as one again",
            ),
            (
                Act::Return {
                    ring: RingId(4),
                    cards: 0,
                    wound: 2,
                },
                "Wound 2 spare cards back from a ring",
            ),
            (
                Act::Return {
                    ring: RingId(4),
                    cards: 2,
                    wound: 1,
                },
                "Hung 2 cards back from a ring and wound 1 spare card back",
            ),
            (Act::BeginRehang { steps: 1 }, "Began a re-hang of 1 step"),
            (Act::EndRehang { left: 0 }, "Ended the re-hang"),
        ] {
            assert_eq!(act_in_words(&state, &act), words);
        }
        let act = Act::Found { card: CardId(2) };
        assert_eq!(act_in_words(&state, &act), "Found a card again");
    }
}
