//! Second books, kept beside the stash and compared with it: of what was used for projects, and of the
//! thread of every lot on every card.

use std::collections::BTreeMap;

use crate::model::ids::{CardId, RingId};
use crate::model::ring::{ColourRef, Ring};
use crate::model::thread::{Lot, ThreadPart};
use crate::stash::event::{Act, Amount, Change, Event};
use crate::stash::state::State;

/// Single strand in centimetres, by ring and colour; nothing is 0.
type Sums = BTreeMap<(RingId, ColourRef), u64>;

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

/// What the rings say.
fn sums(state: &State) -> Sums {
    let of = |ring: &Ring| {
        let id = ring.id;
        let used = ring.used.clone().into_iter();
        used.map(move |(colour, cm)| ((id, colour), cm))
    };
    state.rings().flat_map(of).collect()
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
                let colour = ColourRef::new(kept.card.range, kept.card.number.clone());
                let key = &before.ring(ring).unwrap().key;
                if key.iter().any(|line| line.is_stitched_in(&colour)) {
                    let used_cm = u64::from(strands.0) * u64::from(kept.card.cut_cm);
                    *self.sums.entry((ring, colour)).or_default() += used_cm;
                }
            }
            // Said by the person: the book is opened anew.
            Act::Progress { .. } | Act::Merge { .. } => self.sums = sums(after),
            _ => {}
        }
    }
}
