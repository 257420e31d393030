//! Second books, kept beside the stash and compared with it: of what was used for projects, and of the
//! thread of every lot on every card.

use std::collections::BTreeMap;

use crate::model::ids::{CardId, RangeId, RingId};
use crate::model::thread::{Lot, ThreadPart};
use crate::stash::change::{Amount, Change};
use crate::stash::event::{Act, Event};
use crate::stash::state::State;

/// Single strand in centimetres, by ring and colour.
type Sums = BTreeMap<(RingId, RangeId, String), u64>;

/// Amounts of every lot that is listed on a card: strands, part-used centimetres, skeins.
type Lots = BTreeMap<(CardId, Lot), [i128; 3]>;

/// What was used, added up use by use. Undo and redo turn its pages.
#[derive(Clone, Default)]
pub struct Ledger {
    sums: Sums,
    done: Vec<Sums>,
    undone: Vec<Sums>,
    lots: Lots,
}

/// What the cards say.
fn lots(state: &State) -> Lots {
    let cards = state.cards().flat_map(|kept| {
        let lots = kept.thread.lots();
        lots.map(|(lot, of)| {
            let amounts = [of.strands.0, of.part_cm, of.skeins].map(i128::from);
            ((kept.card.id, lot.clone()), amounts)
        })
    });
    cards.collect()
}

/// Writes every change of a lot down, one after the other, and never mind what it is for.
fn write(lots: &mut Lots, event: &Event) {
    for change in &event.changes {
        match change {
            Change::Lot {
                card,
                lot,
                before,
                after,
            } => match (before, after) {
                (None, _) => assert_eq!(lots.insert((*card, lot.clone()), [0; 3]), None),
                (Some(_), Some(_)) => {}
                (Some(_), None) => {
                    assert_eq!(lots.remove(&(*card, lot.clone())), Some([0; 3]));
                }
            },
            Change::Thread {
                card,
                lot,
                part,
                amount,
            } => {
                let at = ThreadPart::ALL.iter().position(|of| of == part).unwrap();
                let there = &mut lots.get_mut(&(*card, lot.clone())).unwrap()[at];
                *there = match amount {
                    Amount::Set { after, .. } => i128::from(*after),
                    Amount::Add { by } => *there + i128::from(*by),
                };
            }
            _ => {}
        }
    }
}

/// What the keys say.
fn sums(state: &State) -> Sums {
    let mut sums = Sums::new();
    for ring in state.rings() {
        for entry in &ring.key {
            let colour = (ring.id, entry.range, entry.number.key());
            *sums.entry(colour).or_default() += entry.used_cm;
        }
    }
    sums
}

impl Ledger {
    /// Writes an event down and compares.
    pub fn note(&mut self, before: &State, event: &Event, after: &State) {
        match event.act {
            Act::Undo { .. } => {
                let earlier = self.done.pop().unwrap();
                self.undone.push(std::mem::replace(&mut self.sums, earlier));
            }
            Act::Redo { .. } => {
                let later = self.undone.pop().unwrap();
                self.done.push(std::mem::replace(&mut self.sums, later));
            }
            ref act => {
                self.done.push(self.sums.clone());
                self.undone.clear();
                self.act(before, act, after);
            }
        }
        assert_eq!(self.sums, sums(after));
        write(&mut self.lots, event);
        assert_eq!(self.lots, lots(after));
    }

    fn act(&mut self, before: &State, act: &Act, after: &State) {
        match *act {
            Act::Use { card, strands, .. } => {
                let kept = before.card(card).unwrap();
                let Some(ring) = kept.place.at.ring() else {
                    return;
                };
                let colour = (ring, kept.card.range, kept.card.number.key());
                if let Some(sum) = self.sums.get_mut(&colour) {
                    *sum += u64::from(strands.0) * u64::from(kept.card.cut_cm);
                }
            }
            Act::ImportKey { ring, .. } | Act::EditKey { ring } => {
                // What the new key has not is forgotten, and what is new in it begins at nothing.
                let old = std::mem::take(&mut self.sums);
                for colour in sums(after).into_keys() {
                    let sum = old.get(&colour).copied().unwrap_or(0);
                    self.sums.insert(colour, sum);
                }
                let others = |(of, _, _): &&(RingId, _, _)| *of != ring;
                assert!(old.keys().filter(others).all(|c| self.sums.contains_key(c)));
            }
            // Said by the person: the book is opened anew.
            Act::Progress { .. } | Act::Merge { .. } => self.sums = sums(after),
            _ => {}
        }
    }
}
