//! The pull walk: which cards to fetch for a project, in the order the hand reaches them.

use std::collections::{BTreeMap, BTreeSet};

use super::kit::{ProjectKit, ThreadLine};
use super::supply::Source;
use crate::model::ids::{CardId, RingId};
use crate::model::thread::{Lot, Strands};
use crate::model::whereabouts::Whereabouts;
use crate::stash::event::thread::Cutting;
use crate::stash::state::{CardState, State};

/// Thread to wind onto a split card from a card on another ring.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Splitting {
    /// From which card.
    pub card: CardId,
    /// The ring it is on.
    pub ring: RingId,
    /// How much; `None` if the key doesn't say how much is needed.
    pub strands: Option<Strands>,
}

/// What a ring still lacks of its kit. Each card is listed once.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Pull {
    /// Cards to take off the wall, in board order of the hooks they hang on, then cards to hang.
    pub take: Vec<CardId>,
    /// Cards on other rings to split thread from.
    pub split: Vec<Splitting>,
    /// The dye lots of the thread to split off, with their cards.
    pub split_lots: BTreeSet<(CardId, Lot)>,
    /// Uncut thread to cut onto cards that are on the ring or come to it.
    pub cut: Vec<Cutting>,
    /// Cards kept elsewhere, to fetch first.
    pub fetch: Vec<CardId>,
    /// Missing cards.
    pub missing: Vec<CardId>,
}

impl Pull {
    fn add(&mut self, state: &State, kept: &CardState, from: Option<(Strands, &Lot)>) {
        let strands = from.map(|(strands, _)| strands);
        let card = kept.card.id;
        match kept.place.at {
            Whereabouts::Hook { .. } | Whereabouts::Unhung | Whereabouts::Hand => {
                self.take.push(card);
            }
            // The thread of a split card belongs to its project; its surplus has to be rejoined
            // first.
            Whereabouts::Ring { .. } if kept.card.parent.is_some() => {}
            Whereabouts::Ring { ring } => {
                self.split_lots
                    .extend(from.map(|(_, lot)| (card, lot.clone())));
                match self.split.iter_mut().find(|d| d.card == card) {
                    Some(known) => {
                        let both = [known.strands, strands];
                        known.strands = both
                            .into_iter()
                            .flatten()
                            .reduce(|a, b| Strands(a.0.saturating_add(b.0)));
                    }
                    None if state.ring(ring).is_some() => self.split.push(Splitting {
                        card,
                        ring,
                        strands,
                    }),
                    None => {}
                }
            }
            Whereabouts::Missing { .. } => self.missing.push(card),
            Whereabouts::Elsewhere { .. } => self.fetch.push(card),
        }
    }
}

/// Adds what to cut for a thread: from cards at hand or on the ring, a number of strands of each
/// lot.
fn add_cuts(
    state: &State,
    line: &ThreadLine<'_>,
    ring: RingId,
    strands: &mut BTreeMap<(CardId, Lot), u32>,
) {
    let uncut = line.promises.iter().filter(|p| p.source == Source::Uncut);
    for promise in uncut {
        let Some(kept) = state.card(promise.card) else {
            continue;
        };
        let there = kept.place.at.ring() == Some(ring) || kept.place.at.can_be_hung();
        if there && kept.card.parent.is_none() {
            let sum = strands
                .entry((promise.card, promise.lot.clone()))
                .or_default();
            *sum = sum.saturating_add(promise.strands.0);
        }
    }
}

/// What a checked project still has to fetch. O(threads · log cards + cards to take · log).
///
/// For a colour without stitch counts, a whole card is fetched, unless one is on the ring.
#[must_use]
pub fn pull(state: &State, project: &ProjectKit<'_>) -> Pull {
    let mut pull = Pull::default();
    let own = Some(project.ring.id);
    let mut cuts: BTreeMap<(CardId, Lot), u32> = BTreeMap::new();
    for line in project.threads() {
        let cards: Vec<&CardState> = state.cards_of(line.thread.stitched()).collect();
        let there = |kept: &&&CardState| kept.place.at.ring() == own;
        if line.need.is_some() {
            for promise in &line.promises {
                if let (Source::Here | Source::OtherRing(_), Some(kept)) =
                    (promise.source, state.card(promise.card))
                {
                    pull.add(state, kept, Some((promise.strands, &promise.lot)));
                }
            }
            add_cuts(state, line, project.ring.id, &mut cuts);
        } else if !cards.iter().any(|kept| there(&kept)) {
            // Of several cards, the one nearest to hand.
            let whole = cards.iter().filter(|kept| kept.card.parent.is_none());
            let best = whole.min_by_key(|kept| match kept.place.at {
                Whereabouts::Hook { .. } | Whereabouts::Unhung | Whereabouts::Hand => 0,
                Whereabouts::Ring { .. } => 2,
                Whereabouts::Missing { .. } => 3,
                Whereabouts::Elsewhere { .. } => 1,
            });
            if let Some(kept) = best {
                pull.add(state, kept, None);
            }
        }
        if !line.standing.is_enough() {
            let gone = |kept: &&&CardState| kept.place.at.is_missing();
            pull.missing
                .extend(cards.iter().filter(gone).map(|kept| kept.card.id));
        }
    }
    for ((card, lot), strands) in cuts {
        let Some(kept) = state.card(card) else {
            continue;
        };
        // It is cut onto its card, so the card comes along.
        if kept.place.at.ring() != own {
            pull.take.push(card);
        }
        let length = state.put_up(&kept.card).in_length();
        pull.cut.push(Cutting {
            card,
            lot,
            lengths: strands.div_ceil(length),
        });
    }
    pull.in_order(state);
    pull
}

impl Pull {
    /// Lists each card once, those to take in the order of the wall.
    fn in_order(&mut self, state: &State) {
        for list in [&mut self.take, &mut self.fetch, &mut self.missing] {
            let mut seen = BTreeSet::new();
            list.retain(|&card| seen.insert(card));
        }
        self.take.sort_by_key(|card| {
            let hook = state.card(*card).and_then(|kept| kept.place.at.hook());
            hook.map_or((true, 0, 0), |hook| {
                let index = state.board(hook.board).map(|b| b.reading_index(hook));
                (false, hook.board.0, index.unwrap_or(0))
            })
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stash::command::import::{KeyRow, Terms};
    use crate::stash::command::thread::Counted;
    use crate::stash::command::{card, key, ring, thread};
    use crate::stash::projects::kit::{check, rings_named};
    use crate::stash::testing::{add_cards, apply, at, id, row, wall};

    /// Gives a project a chart key of `(NUMBER, full crosses)`.
    fn give_key(state: &mut State, project: &str, key: &[(&str, u32)]) {
        let rows: Vec<KeyRow> = (2..)
            .zip(key)
            .map(|(line, &(number, stitches))| KeyRow {
                line,
                number: number.to_owned(),
                stitches,
                ..KeyRow::default()
            })
            .collect();
        let keyed = key::import(state, &rows, Vec::new(), project, &Terms::default(), at(9));
        apply(state, &keyed.unwrap().event.unwrap());
    }

    fn has_nothing_to_do(pull: &Pull) -> bool {
        pull.take.is_empty() && pull.split.is_empty()
    }

    fn pulled(state: &State, project: &str) -> Pull {
        let rings = rings_named(state, &[project.to_owned()]).unwrap();
        pull(state, &check(state, &rings).projects[0])
    }

    /// 1 to 4 hang in reverse order, 5 is to hang, and 6 is on the ring Heron with its own need.
    fn stash() -> State {
        let mut state = wall(1, 6, 1);
        add_cards(
            &mut state,
            &["1@A06", "2@A05", "3@A04", "4@A03", "5", "6@A01"],
        );
        let six = id(&state, "6");
        let taken = ring::take(&state, "Heron", &[six], at(3)).unwrap();
        apply(&mut state, &taken);
        give_key(&mut state, "Heron", &[("6", 20)]);
        state
    }

    #[test]
    fn the_walk_is_in_board_order_whatever_the_order_of_the_key() {
        let mut state = stash();
        give_key(
            &mut state,
            "Robin",
            &[("5", 9), ("1", 9), ("3", 0), ("2", 9), ("1", 2), ("77", 5)],
        );
        let four = id(&state, "4");
        assert_eq!(
            pulled(&state, "Robin"),
            Pull {
                take: ["3", "2", "1", "5"].map(|name| id(&state, name)).into(),
                ..Pull::default()
            }
        );
        let event = ring::take(&state, "Robin", &pulled(&state, "Robin").take, at(4)).unwrap();
        apply(&mut state, &event);
        assert!(has_nothing_to_do(&pulled(&state, "Robin")));
        assert_eq!(state.card(four).unwrap().place.at.ring(), None);
    }

    #[test]
    fn thread_on_another_ring_is_split_off_and_missing_cards_are_listed() {
        let mut state = stash();
        let (one, six) = (id(&state, "1"), id(&state, "6"));
        let gone = ring::missing(&state, &[one], at(4)).unwrap();
        apply(&mut state, &gone);
        give_key(&mut state, "Robin", &[("6", 20), ("1", 9), ("6", 20)]);
        let robin = pulled(&state, "Robin");
        assert_eq!(
            (robin.take.len(), robin.missing.as_slice()),
            (0, &[one][..])
        );
        let [splitting] = robin.split[..] else {
            panic!("{robin:?}")
        };
        assert_eq!(Some(splitting.ring), state.find_ring("Heron").map(|r| r.id));
        let strands = splitting.strands.unwrap();
        let event = thread::split(&state, "Robin", six, strands, None, "", at(5)).unwrap();
        apply(&mut state, &event);
        assert!(has_nothing_to_do(&pulled(&state, "Robin")));
    }

    #[test]
    fn of_several_cards_without_counts_the_nearest_is_fetched() {
        let mut state = stash();
        let mut tagged = row("1");
        tagged.tag = Some("K7".into());
        let event = card::new_card(&state, tagged, at(2)).unwrap();
        apply(&mut state, &event);
        give_key(&mut state, "Robin", &[("1", 0)]);
        assert_eq!(pulled(&state, "Robin").take, [id(&state, "1")]);
        let away = ring::take(&state, "Wren", &[id(&state, "1")], at(3)).unwrap();
        apply(&mut state, &away);
        assert_eq!(pulled(&state, "Robin").take, [id(&state, "1/K7")]);
        let taken = ring::take(&state, "Robin", &[id(&state, "1/K7")], at(4)).unwrap();
        apply(&mut state, &taken);
        assert!(has_nothing_to_do(&pulled(&state, "Robin")));
    }

    #[test]
    fn a_card_to_cut_onto_comes_along_and_is_cut_when_fetched() {
        let mut state = stash();
        let one = id(&state, "1");
        let said = |strands, part_cm, skeins| Counted {
            strands: Some(Strands(strands)),
            part_cm: Some(part_cm),
            skeins: Some(skeins),
        };
        let event = thread::count(&state, one, said(6, 350, 1), None)
            .unwrap()
            .unwrap();
        apply(&mut state, &event);
        // More than one length and the three from the part-used skein.
        give_key(&mut state, "Robin", &[("1", 900)]);
        let robin = pulled(&state, "Robin");
        assert_eq!(robin.take, [one]);
        let [cutting] = &robin.cut[..] else {
            panic!("{robin:?}")
        };
        assert_eq!((cutting.card, cutting.lengths), (one, 4));
        let event = thread::fetch(&state, "Robin", &robin.take, &robin.cut, at(5)).unwrap();
        apply(&mut state, &event);
        let of = state
            .card(one)
            .unwrap()
            .thread
            .lots()
            .next()
            .unwrap()
            .1
            .clone();
        // Four lengths of the 11.5 m uncut thread are cut; seven remain of the opened skein, plus
        // half a metre.
        assert_eq!((of.strands, of.part_cm, of.skeins), (Strands(30), 750, 0));
        assert!(has_nothing_to_do(&pulled(&state, "Robin")));
        assert_eq!(pulled(&state, "Robin").cut, []);
    }
}
