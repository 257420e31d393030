//! Small stashes for tests.

pub(crate) mod life;
pub(crate) mod projects;

use jiff::Timestamp;

use super::command::board::{NewBoard, new_board};
use super::command::import::{Outcome, Terms, card_list};
use super::command::key;
use super::command::rehang::{self, PlanRequest, RehangPlan};
use super::event::Event;
use super::invariants;
use super::state::{CardState, State};
use crate::model::board::{HookRef, ReadingOrder};
use crate::model::colour::Srgb;
use crate::model::ids::CardId;
use crate::model::ring::Ring;
use crate::model::whereabouts::Whereabouts;
use crate::stash::command::import::{CardRow, KeyRow};
use crate::stash::state::Index;
use crate::stash::whereabouts::Counts;

/// A time, this many seconds after the first.
pub(crate) fn at(seconds: i64) -> Timestamp {
    Timestamp::from_second(1_000_000_000 + seconds).unwrap()
}

/// Applies an event and checks every invariant.
pub(crate) fn apply(state: &mut State, event: &Event) {
    state.apply(event).unwrap();
    assert_sound(state);
}

/// Checks that every invariant holds, that the index agrees with the cards, and that the free
/// places agree with the hooks.
pub(crate) fn assert_sound(state: &State) {
    assert_eq!(invariants::check_all(state), []);
    let mut index = Index::default();
    state.cards().for_each(|kept| index.learn(kept));
    assert_eq!(state.index(), &index);
    let free: usize = state.hooks().map(|hook| state.free_places(hook)).sum();
    assert_eq!(Counts::of(state).free, free);
}

/// A board that isn't up yet.
pub(crate) fn board(
    name: &str,
    prefix: &str,
    rows: u16,
    columns: u16,
    cards_per_hook: u8,
) -> NewBoard {
    NewBoard {
        name: name.into(),
        prefix: prefix.into(),
        rows,
        columns,
        cards_per_hook,
        reading: ReadingOrder::Rows,
    }
}

/// A stash with a board named `wall` and nothing else.
pub(crate) fn wall(rows: u16, columns: u16, cards_per_hook: u8) -> State {
    let mut state = State::default();
    let event = new_board(&state, &board("wall", "", rows, columns, cards_per_hook)).unwrap();
    apply(&mut state, &event);
    state
}

/// A red and a green of unmistakable families.
pub(crate) const RED: Srgb = Srgb::new(0xC8, 0x10, 0x2E);
/// See [`RED`].
pub(crate) const GREEN: Srgb = Srgb::new(0x2E, 0x8B, 0x3A);

/// The names of the families, in the order of the wall.
pub(crate) fn families(state: &State) -> Vec<&str> {
    let names = state.families().iter();
    names.map(|family| family.name.as_str()).collect()
}

/// The card with a name, with all its state.
pub(crate) fn kept<'a>(state: &'a State, name: &str) -> &'a CardState {
    state.card(id(state, name)).unwrap()
}

/// A row parsed from `RANGE:NUMBER@HOOK_NAME NAME`, all parts optional; on line 1.
pub(crate) fn row(text: &str) -> CardRow {
    let (number, name) = text
        .split_once(' ')
        .map_or((text, None), |(n, name)| (n, Some(name)));
    let (number, hook) = number
        .split_once('@')
        .map_or((number, None), |(n, hook)| (n, Some(hook)));
    let (range, number) = number
        .split_once(':')
        .map_or((None, number), |(range, n)| (Some(range), n));
    CardRow {
        line: 1,
        range: range.map(str::to_owned),
        number: number.to_owned(),
        name: name.map(str::to_owned),
        hook: hook.map(str::to_owned),
        ..CardRow::default()
    }
}

/// A list of such rows, from line 2 on.
pub(crate) fn rows(texts: &[&str]) -> Vec<CardRow> {
    let lines = 2..;
    texts
        .iter()
        .zip(lines)
        .map(|(text, line)| CardRow { line, ..row(text) })
        .collect()
}

/// The outcome of importing a list on the default terms.
pub(crate) fn read(state: &State, rows: &[CardRow]) -> Outcome {
    card_list(state, rows, Vec::new(), &Terms::default(), at(0)).unwrap()
}

/// Imports a list in which every row is valid.
pub(crate) fn add_cards(state: &mut State, texts: &[&str]) {
    let outcome = read(state, &rows(texts));
    assert_eq!(outcome.rejected, []);
    apply(state, &outcome.event.unwrap());
}

/// The id of the card with a name.
pub(crate) fn id(state: &State, name: &str) -> CardId {
    state.find_card(name).unwrap()
}

/// The name of the hook a card belongs on.
pub(crate) fn home(state: &State, name: &str) -> Option<String> {
    let kept = state.card(id(state, name)).unwrap();
    kept.home.map(|hook| state.hook_name(hook))
}

/// Where a card is.
pub(crate) fn place(state: &State, name: &str) -> Whereabouts {
    state.card(id(state, name)).unwrap().place.at.clone()
}

/// Cards in the hand.
pub(crate) fn in_hand(state: &State) -> usize {
    let cards = state.cards();
    cards
        .filter(|kept| kept.place.at == Whereabouts::Hand)
        .count()
}

/// Performs the steps of a plan, with at most one card in the hand at any time.
pub(crate) fn follow(state: &mut State, plan: &RehangPlan) {
    for one in &plan.steps {
        let event = rehang::step(state, one, at(9)).unwrap();
        apply(state, &event);
        assert!(in_hand(state) <= 1);
    }
}

/// A card that may hang on some hooks.
struct ToPlace {
    home: Option<usize>,
    effort: u64,
    may: Vec<bool>,
}

/// The least effort over all ways to hang the cards in this order, from a hook on.
fn least(cards: &[ToPlace], from: usize, left: &mut [u8]) -> Option<u64> {
    let Some((first, rest)) = cards.split_first() else {
        return Some(0);
    };
    let mut best = None;
    for hook in from..left.len() {
        if left[hook] > 0 && first.may[hook] {
            left[hook] -= 1;
            let moves = first.home.is_some_and(|home| home != hook);
            let effort = if moves { first.effort } else { 0 };
            let cost = least(rest, hook, left).map(|cost| cost + effort);
            best = best.into_iter().chain(cost).min();
            left[hook] += 1;
        }
    }
    best
}

/// The least effort required, by trying all homes in the wanted order; `None` if none are possible.
///
/// The number of tries grows with a power of the cards, so use only a handful.
pub(crate) fn least_effort(state: &State, ask: &PlanRequest) -> Option<u64> {
    let hooks: Vec<HookRef> = state.hooks().collect();
    let lost = |kept: &CardState| {
        let missing = kept.place.at.is_missing();
        kept.card.parent.is_some() || (kept.home.is_none() && missing)
    };
    let order = ask.order.clone().unwrap_or_else(|| state.order().into());
    let within = |hook: HookRef| ask.rows.as_ref().is_none_or(|rows| rows.have(hook));
    let stays = |kept: &CardState| {
        kept.home.is_some_and(|home| {
            !within(home) || ask.holds.contains(&kept.card.id) || state.stays(kept)
        })
    };
    let open = |hook: HookRef| within(hook) && !state.board(hook.board).unwrap().reserved(hook);
    let index = |hook: HookRef| hooks.iter().position(|&other| other == hook).unwrap();
    let ordered = state.in_order(&order, state.cards().filter(|kept| !lost(kept)));
    let mut left: Vec<u8> = hooks.iter().map(|&hook| state.capacity(hook)).collect();
    let mut cards = Vec::new();
    for (at, kept) in ordered.iter().enumerate() {
        let home = kept.home.map(index);
        let staying = |kept: &&CardState| stays(kept).then(|| index(kept.home.unwrap()));
        if kept.home.is_none() && ask.rows.is_some() {
            // It waits if no place between the cards that stay may change.
            let low = ordered[..at].iter().rev().find_map(staying).unwrap_or(0);
            let high = ordered[at..].iter().find_map(staying);
            let high = high.unwrap_or(hooks.len() - 1);
            let room = (low..=high).any(|hook| {
                let staying = ordered.iter().filter(|kept| staying(kept) == Some(hook));
                open(hooks[hook]) && usize::from(left[hook]) > staying.count()
            });
            if !room {
                continue;
            }
        }
        let may = |(at, &hook): (usize, &HookRef)| match stays(kept) {
            true => home == Some(at),
            false => open(hook),
        };
        cards.push(ToPlace {
            home,
            effort: u64::from(kept.card.touch.effort()),
            may: hooks.iter().enumerate().map(may).collect(),
        });
    }
    least(&cards, 0, &mut left)
}

/// A stash with the ring of a project whose chart key has this many lines, and that ring.
pub(crate) fn ring_with_key(project: &str, lines: u32) -> (State, Ring) {
    let mut state = State::default();
    let rows: Vec<KeyRow> = (1..=lines)
        .map(|line| KeyRow {
            line: line.into(),
            number: line.to_string(),
            stitches: 10 * line,
            ..KeyRow::default()
        })
        .collect();
    let keyed = key::import(&state, &rows, Vec::new(), project, &Terms::default(), at(1));
    apply(&mut state, &keyed.unwrap().event.unwrap());
    let ring = state.need_ring(project).unwrap().clone();
    (state, ring)
}

/// A refusal as the shell shows it.
pub(crate) trait Shown {
    fn shown(&self) -> String;
}

impl Shown for crate::stash::refusal::Refusal {
    fn shown(&self) -> String {
        crate::cli::with_advice(self)
    }
}
