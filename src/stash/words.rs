//! What was done, in words.

use super::event::Act;
use super::kit::words::amount_in_words;
use super::state::State;
use crate::model::family::WallOrder;
use crate::model::ids::{BoardId, CardId, RangeId, RingId};

/// What an act did, as a sentence without its full stop: `Took 3 cards to the ring 'Harbour'`.
///
/// Names are looked up in `state`, which should be one that knows them: from before the act is
/// taken back, or from after it is done.
#[must_use]
pub fn act_in_words(state: &State, act: &Act) -> String {
    let board = |id: BoardId| named(state.board(id).map(|board| board.name.as_str()), "board");
    let range = |id: RangeId| named(state.range(id).map(|range| range.name.as_str()), "range");
    let ring = |id: RingId| named(state.ring(id).map(|ring| ring.project.as_str()), "ring");
    let card = |id: CardId| {
        state.card(id).map_or_else(
            || "a card".to_owned(),
            |kept| format!("card {}", state.card_name(kept)),
        )
    };
    match act {
        Act::NewBoard { board: id } => format!("Put up {}", board(*id)),
        Act::Resize { board: id } => format!("Measured {} anew", board(*id)),
        Act::Block { mark } => format!("Blocked hook {mark}"),
        Act::Unblock { mark } => format!("Made hook {mark} usable again"),
        Act::ImportStock { added, changed } => format!(
            "Brought in a stock list: {} new, {changed} changed",
            cards(*added)
        ),
        Act::ImportShades { range: id, shades } => format!(
            "Brought in {shades} {} of {}",
            if *shades == 1 { "shade" } else { "shades" },
            range(*id)
        ),
        Act::ImportKey { ring: id, colours } => {
            let word = if *colours == 1 { "line" } else { "lines" };
            format!("Brought in a key of {colours} {word} for {}", ring(*id))
        }
        Act::OpenRing { ring: id } => format!("Opened {}", ring(*id)),
        Act::EditKey { ring: id } => format!("Changed the key of {}", ring(*id)),
        Act::Fabric { ring: id } => format!("Said how {} is stitched", ring(*id)),
        Act::Progress { ring: id } => format!("Said how far {} has come", ring(*id)),
        Act::Bought { skeins, added } => {
            let word = if *skeins == 1 { "skein" } else { "skeins" };
            format!("Brought home {skeins} {word}: {} new", cards(*added))
        }
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
        Act::RemoveFamily { name } => format!("Gave up the family '{name}'"),
        Act::AssignFamily { name, cards: n } => {
            format!("Put {} in the family '{name}'", cards(*n))
        }
        Act::UnassignFamily { cards: n } => {
            format!("Worked out the family of {} anew", cards(*n))
        }
        Act::Pin { cards: n } => format!("Pinned {}", cards(*n)),
        Act::Unpin { cards: 0 } => "Let all families move again".to_owned(),
        Act::Unpin { cards: n } => format!("Let {} move again", cards(*n)),
        Act::Weigh {
            cards: n,
            weight: 1,
        } => format!("Let {} count as one again", cards(*n)),
        Act::Weigh { cards: n, weight } => format!("Let {} count as {weight} each", cards(*n)),
        Act::PinFamilies { families: n } => format!("Pinned {}", families(*n)),
        Act::UnpinFamilies { families: n } => format!("Let {} move again", families(*n)),
        Act::KeepFree { mark } => format!("Kept hook {mark} free of re-hangs"),
        Act::UseAgain { mark } => format!("Gave hook {mark} back to re-hangs"),
        Act::Take { ring: id, cards: n } => format!("Took {} to {}", cards(*n), ring(*id)),
        Act::Return {
            ring: id,
            cards: n,
            wound: 0,
        } => format!("Hung {} back from {}", cards(*n), ring(*id)),
        Act::Return {
            ring: id,
            cards: 0,
            wound,
        } => format!("Wound {} back from {}", spare_cards(*wound), ring(*id)),
        Act::Return {
            ring: id,
            cards: n,
            wound,
        } => format!(
            "Hung {} back from {} and wound {} back",
            cards(*n),
            ring(*id),
            spare_cards(*wound)
        ),
        Act::Decant {
            ring: id,
            card: spare,
            strands,
        } => {
            let parent = state.card(*spare).and_then(|spare| spare.card.parent);
            let whole = parent.map_or_else(|| "a card".to_owned(), card);
            let amount = amount_in_words(*strands);
            format!("Decanted {amount} of {whole} to {}", ring(*id))
        }
        Act::Merge { card: id, strands } => {
            format!(
                "Wound {} back onto {}",
                amount_in_words(*strands),
                card(*id)
            )
        }
        Act::Use { card: id, strands } => {
            format!("Used {} of {}", amount_in_words(*strands), card(*id))
        }
        Act::Park { ring: id } => format!("Parked {}", ring(*id)),
        Act::Unpark { ring: id } => format!("Took {} back into use", ring(*id)),
        Act::Close { ring: id } => format!("Closed {}", ring(*id)),
        Act::Missing { cards: n } => format!("Declared {} missing", cards(*n)),
        Act::Found { card: id } => format!("Found {} again", card(*id)),
        Act::RollCall {
            found,
            misplaced,
            missing,
        } => format!("Roll call: {found} found, {misplaced} misplaced, {missing} missing"),
        Act::HangHome { card: id } => format!("Hung {} on its own hook", card(*id)),
        Act::Rehang { card: id } => format!("Re-hung {}", card(*id)),
        Act::BeginRehang { steps: 1 } => "Began a re-hang of 1 step".to_owned(),
        Act::BeginRehang { steps } => format!("Began a re-hang of {steps} steps"),
        Act::EndRehang { left: 0 } => "Ended the re-hang".to_owned(),
        Act::EndRehang { left } => format!("Gave up the re-hang with {} left", cards(*left)),
        Act::Join { taken, .. } if taken.len() == 1 => {
            "Brought in 1 change of another copy".to_owned()
        }
        Act::Join { taken, .. } => format!("Brought in {} changes of another copy", taken.len()),
        Act::Undo { seq } => format!("Took back change {seq}"),
        Act::Redo { seq } => format!("Did again what change {seq} took back"),
    }
}

/// A thing with its name, or `a thing` where it is gone.
fn named(name: Option<&str>, thing: &str) -> String {
    name.map_or_else(
        || format!("a {thing}"),
        |name| format!("the {thing} '{name}'"),
    )
}

/// `1 card`, `2 cards`.
#[must_use]
pub fn cards(count: u32) -> String {
    format!("{count} {}", if count == 1 { "card" } else { "cards" })
}

/// `1 spare card`, `2 spare cards`.
fn spare_cards(count: u32) -> String {
    format!(
        "{count} spare {}",
        if count == 1 { "card" } else { "cards" }
    )
}

/// `1 family`, `2 families`.
fn families(count: u32) -> String {
    format!("{count} {}", if count == 1 { "family" } else { "families" })
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
