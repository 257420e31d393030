//! A stash by the names people use, so that two can be compared whose numbers differ.

use crate::model::board::{Board, HookRef};
use crate::model::ids::{BoardId, CardId, RangeId};
use crate::model::label::fold;
use crate::model::ring::{KeyEntry, Ring, RingState};
use crate::model::whereabouts::{LastSeen, Whereabouts};
use crate::stash::state::{Kept, State};

/// Everything in a stash by the names people use, capitals aside.
#[derive(PartialEq, Debug)]
pub(super) struct Named {
    cards: Vec<String>,
    rings: Vec<String>,
    rest: Vec<String>,
}

pub(super) fn named(state: &State) -> Named {
    let hook = |hook: HookRef| state.mark(hook);
    let range = |id| state.range(id).unwrap().name.to_string();
    let family = |id| state.family(id).map(|family| family.name.to_string());
    let project = |id| state.ring(id).map(|ring| ring.project.to_string());
    let number = |id: CardId| {
        let card = state.card(id).map(|kept| &kept.card);
        card.map(|card| {
            (
                range(card.range),
                card.number.to_string(),
                card.parent.is_some(),
            )
        })
    };
    let card = |kept: &Kept| {
        let card = &kept.card;
        let place = match kept.place.at {
            Whereabouts::Hook { hook: at } => hook(at),
            Whereabouts::Ring { ring } => format!("{:?}", project(ring)),
            Whereabouts::Missing { last_seen } => match last_seen {
                LastSeen::Hook(at) => format!("missing from {}", hook(at)),
                LastSeen::Ring(ring) => format!("missing from {:?}", project(ring)),
                LastSeen::Loose => "missing".to_owned(),
            },
            ref other => format!("{other:?}"),
        };
        format!(
            "{:?} {} {:?} {:?} {} {} {} {} {:?} {:?} {place} {} {:?} {}",
            number(card.id),
            card.name,
            card.colour,
            card.family.id().and_then(family),
            card.dye_lot,
            card.cut_cm,
            card.reserve,
            card.note,
            card.parent.and_then(number),
            card.touch,
            kept.place.since,
            kept.home.map(hook),
            kept.strands.0,
        )
    };
    let ring = |ring: &Ring| {
        let mut key: Vec<String> = (ring.key.iter())
            .map(|line| {
                format!(
                    "{} {:?}",
                    range(line.range),
                    KeyEntry {
                        range: RangeId(0),
                        ..line.clone()
                    }
                )
            })
            .collect();
        key.sort();
        let mut went_out: Vec<_> = ring.went_out.iter().map(|&id| number(id)).collect();
        went_out.sort();
        let state = match ring.state {
            RingState::Parked { hook: at, since } => {
                format!("{} {since}", hook(at))
            }
            other => format!("{other:?}"),
        };
        format!(
            "{} {:?} {state} {} {key:?} {went_out:?}",
            ring.project, ring.fabric, ring.opened
        )
    };
    let boards = state.boards().map(|board| {
        format!(
            "{:?}",
            Board {
                id: BoardId(0),
                ..board.clone()
            }
        )
    });
    let families = state
        .families()
        .iter()
        .map(|family| format!("{} {}", family.name, family.pinned));
    let ranges = state.ranges().flat_map(|range| {
        let shades = range.shades.iter();
        let shades = shades.map(|(number, shade)| {
            format!(
                "{} {number} {} {:?} {:?}",
                range.name,
                shade.name,
                shade.colour,
                shade.family.and_then(family)
            )
        });
        shades.chain([range.name.to_string()]).collect::<Vec<_>>()
    });
    let underway = state.underway().into_iter().flat_map(|of| {
        let homes = of
            .homes
            .iter()
            .map(|&(card, at)| format!("{:?} to {}", number(card), hook(at)));
        homes
            .chain([format!("{} {} {}", of.steps, of.done, of.begun)])
            .collect::<Vec<_>>()
    });
    let order = std::iter::once(format!("{:?}", state.order()));
    let sorted = |list: Vec<String>| {
        let mut list: Vec<String> = list.iter().map(|text| fold(text)).collect();
        list.sort();
        list
    };
    Named {
        cards: sorted(state.cards().map(card).collect()),
        rings: sorted(state.rings().map(ring).collect()),
        rest: sorted(
            boards
                .chain(families)
                .chain(ranges)
                .chain(underway)
                .chain(order)
                .collect(),
        ),
    }
}
