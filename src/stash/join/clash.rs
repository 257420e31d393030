//! What is good by itself and cannot be together.

use std::collections::{BTreeMap, BTreeSet};

use super::lived::Topic;
use super::sheet::Sheet;
use super::three::{Asking, ring_state_in_words};
use crate::language::{one_or_many, say, word};
use crate::model::board::{HookRef, HookSpec};
use crate::model::ids::{CardId, RingId};
use crate::model::ring::RingState;
use crate::model::whereabouts::Whereabouts;
use crate::stash::names::list;
use crate::stash::state::State;

/// Asks for all that does not go together, kind by kind, and makes it go together. Stops where an
/// answer is wanting, as what comes after depends on it.
pub(super) fn settle(asking: &mut Asking<'_>, sheet: &mut Sheet) {
    for kind in [hooks, rings, hand] {
        kind(asking, sheet);
        if asking.is_open() {
            return;
        }
    }
}

fn capacity(sheet: &Sheet, hook: HookRef) -> u8 {
    sheet
        .boards
        .get(&hook.board)
        .map_or(0, |board| board.capacity(hook))
}

/// Cards at home on a hook, in order of their numbers.
fn homes(sheet: &Sheet) -> BTreeMap<HookRef, Vec<CardId>> {
    let mut homes: BTreeMap<HookRef, Vec<CardId>> = BTreeMap::new();
    for kept in sheet.cards.values() {
        if let Some(home) = kept.home {
            homes.entry(home).or_default().push(kept.card.id);
        }
    }
    homes
}

/// More homes on a hook than places, and what hangs where nothing can.
fn hooks(asking: &mut Asking<'_>, sheet: &mut Sheet) {
    let homes = homes(sheet);
    let hung = sheet.cards.values().filter_map(|kept| kept.place.at.hook());
    let parked = sheet.rings.values().filter_map(|ring| match ring.state {
        RingState::Parked { hook, .. } => Some(hook),
        _ => None,
    });
    let used: BTreeSet<HookRef> = hung.chain(parked).chain(homes.keys().copied()).collect();
    for hook in used {
        let on = homes.get(&hook).map_or(&[][..], Vec::as_slice);
        let places = capacity(sheet, hook);
        if places > 0 && on.len() <= usize::from(places) {
            continue;
        }
        let concerned = on
            .iter()
            .flat_map(|&card| [Topic::Home(card), Topic::Place(card)]);
        let board = Topic::Of(super::identity::Thing::Board(hook.board));
        let topics: Vec<Topic> = concerned.chain([board]).collect();
        let mark = match asking.ours.board(hook.board) {
            Some(board) => board.mark(hook),
            None => asking.theirs.mark(hook),
        };
        let words = [asking.ours, asking.theirs].map(|state| hook_in_words(state, hook));
        let [mine, theirs] = words;
        let side = asking.ask(&topics, say!("hook {mark}", mark), mine, theirs);
        hook_as_in(asking.of(side), sheet, hook, on);
    }
}

fn hook_in_words(state: &State, hook: HookRef) -> String {
    if state.capacity(hook) == 0 {
        let why = state
            .board(hook.board)
            .and_then(|board| board.blocked(hook));
        return why.map_or_else(
            || word!("not on the board").to_owned(),
            |why| say!("blocked: {why}", why),
        );
    }
    let at_home = state.homes_on(hook).map(|kept| state.card_name(kept));
    let guests = state
        .hanging_on(hook)
        .filter(|kept| kept.home != Some(hook));
    let guests = guests.map(|kept| say!("{card} as a guest", card = state.card_name(kept)));
    let parked = |ring: &&crate::model::ring::Ring| matches!(ring.state, RingState::Parked { hook: at, .. } if at == hook);
    let rings = state
        .rings()
        .filter(parked)
        .map(|ring| say!("the ring '{project}'", project = ring.project));
    let all = list(at_home.chain(guests).chain(rings));
    let all = if all.is_empty() {
        "nothing".to_owned()
    } else {
        all
    };
    let places = state.capacity(hook);
    say!(
        "{all}, with room for {places} {cards}",
        all,
        places,
        cards = one_or_many!(places, "card", "cards")
    )
}

/// Makes a hook as one side has it: what belongs there on the other only has no home then and is in the
/// tray, where it hung there.
fn hook_as_in(state: &State, sheet: &mut Sheet, hook: HookRef, on: &[CardId]) {
    if let (Some(theirs), Some(board)) =
        (state.board(hook.board), sheet.boards.get_mut(&hook.board))
        && theirs.capacity(hook) > board.capacity(hook)
    {
        board.rows = board.rows.max(hook.row + 1);
        board.columns = board.columns.max(hook.column + 1);
        let made = theirs.places_made(hook);
        let at = (hook.row, hook.column);
        let spec = HookSpec {
            places: (made != board.places).then_some(made),
            blocked: None,
            kept_free: board.kept_free(hook),
        };
        if spec == HookSpec::default() {
            board.special.remove(&at);
        } else {
            board.special.insert(at, spec);
        }
    }
    let places = usize::from(capacity(sheet, hook));
    let belongs = |card: &CardId| {
        state
            .card(*card)
            .is_some_and(|kept| kept.home == Some(hook))
    };
    let (first, last): (Vec<CardId>, Vec<CardId>) = on.iter().partition(|card| belongs(card));
    for card in [first, last].concat().into_iter().skip(places) {
        if let Some(kept) = sheet.cards.get_mut(&card) {
            kept.home = None;
            if kept.place.at.hook() == Some(hook) {
                kept.place.at = Whereabouts::Unhung;
            }
        }
    }
    if places == 0 {
        for kept in sheet.cards.values_mut() {
            if kept.place.at.hook() == Some(hook) {
                kept.place.at = Whereabouts::Unhung;
            }
        }
        for ring in sheet.rings.values_mut() {
            if matches!(ring.state, RingState::Parked { hook: at, .. } if at == hook) {
                ring.state = RingState::Live;
            }
        }
    }
}

/// Rings that one side closed, with cards on them.
fn rings(asking: &mut Asking<'_>, sheet: &mut Sheet) {
    let closed = sheet.rings.values().filter(|ring| ring.is_closed());
    let closed: Vec<RingId> = closed.map(|ring| ring.id).collect();
    for id in closed {
        let on: Vec<CardId> = (sheet.cards.values())
            .filter(|kept| kept.place.at.ring() == Some(id))
            .map(|kept| kept.card.id)
            .collect();
        let Some(project) = sheet
            .rings
            .get(&id)
            .filter(|_| !on.is_empty())
            .map(|ring| ring.project.clone())
        else {
            continue;
        };
        let words = [asking.ours, asking.theirs].map(|state| {
            let Some(ring) = state.ring(id) else {
                return word!("not there").to_owned();
            };
            let cards = list(state.cards_on(ring).map(|kept| state.card_name(kept)));
            let cards = if cards.is_empty() {
                word!("no card").to_owned()
            } else {
                cards
            };
            say!(
                "{ring_state}, {cards} on it",
                ring_state = ring_state_in_words(state, ring.state),
                cards
            )
        });
        let [mine, theirs] = words;
        let topics: Vec<Topic> = on
            .iter()
            .map(|&card| Topic::Place(card))
            .chain([Topic::Ring(id)])
            .collect();
        let side = asking.ask(
            &topics,
            say!("the ring of '{project}'", project),
            mine,
            theirs,
        );
        let state = asking.of(side);
        match state.ring(id).map(|ring| ring.state) {
            Some(RingState::Closed { .. }) => {
                for card in on {
                    let place = state.card(card).map(|kept| kept.place.clone());
                    let place = place.filter(|place| {
                        place.at.hook().is_none_or(|hook| capacity(sheet, hook) > 0)
                    });
                    let place = place.filter(|place| place.at.ring().is_none());
                    if let Some(kept) = sheet.cards.get_mut(&card) {
                        match place {
                            Some(place) => kept.place = place,
                            None => kept.place.at = Whereabouts::Unhung,
                        }
                    }
                }
            }
            other => {
                let usable = |hook: HookRef| capacity(sheet, hook) > 0;
                let now = match other {
                    Some(RingState::Parked { hook, since }) if usable(hook) => {
                        RingState::Parked { hook, since }
                    }
                    _ => RingState::Live,
                };
                if let Some(ring) = sheet.rings.get_mut(&id) {
                    ring.state = now;
                }
            }
        }
    }
}

/// A hand holds one card.
fn hand(asking: &mut Asking<'_>, sheet: &mut Sheet) {
    let held: Vec<CardId> = (sheet.cards.values())
        .filter(|kept| kept.place.at == Whereabouts::Hand)
        .map(|kept| kept.card.id)
        .collect();
    if held.len() < 2 {
        return;
    }
    let holds = |state: &State, card: CardId| {
        state
            .card(card)
            .is_some_and(|kept| kept.place.at == Whereabouts::Hand)
    };
    let words = [asking.ours, asking.theirs].map(|state| {
        let cards = held.iter().filter(|&&card| holds(state, card));
        list(cards.map(|&card| asking.card_name(card)))
    });
    let [mine, theirs] = words;
    let topics: Vec<Topic> = held.iter().map(|&card| Topic::Place(card)).collect();
    let side = asking.ask(
        &topics,
        word!("the card in the hand").to_owned(),
        mine,
        theirs,
    );
    let state = asking.of(side);
    let stays = held.iter().copied().find(|&card| holds(state, card));
    for card in held.into_iter().filter(|&card| Some(card) != stays) {
        if let Some(kept) = sheet.cards.get_mut(&card) {
            kept.place.at = Whereabouts::Unhung;
        }
    }
}
