//! Builds one event from the accepted rows.

use std::collections::{BTreeMap, BTreeSet};

use jiff::Timestamp;

use super::draft::{Draft, LotSaid, in_all};
use super::ranges::Ranges;
use crate::model::board::HookRef;
use crate::model::card::{Card, CardFamily, USUAL_CUT_CM};
use crate::model::ids::{CardId, RangeId};
use crate::model::label::Label;
use crate::model::range::Shade;
use crate::model::thread::{Lot, LotThread, Strands, Thread, ThreadPart};
use crate::model::whereabouts::{Place, Whereabouts};
use crate::stash::command::family::Families;
use crate::stash::event::thread::{added, brought, replaced};
use crate::stash::event::{Act, Change, Event};
use crate::stash::refusal::Rejected;
use crate::stash::state::{CardState, State};

/// The outcome of importing a card list.
#[derive(Debug, Clone)]
pub struct Outcome {
    /// The event; `None` if the list has nothing new.
    pub event: Option<Event>,
    /// New cards.
    pub added: u32,
    /// Changed cards.
    pub changed: u32,
    /// New cards without an amount in their row, assumed to have one skein.
    pub usual_amount: u32,
    /// Rows of split cards that aren't in the stash, whose thread was added to the colour's own
    /// card.
    pub onto_own: u32,
    /// Changes to the thread of existing cards with an amount in a row, in the order of the list.
    pub amounts: Vec<AmountSaid>,
    /// Whether the list itself names its purchase.
    pub is_purchase: bool,
    /// Refused rows.
    pub rejected: Vec<Rejected>,
}

impl Outcome {
    /// Cards that the list moves to another hook: the old and the new hook of each. All are lifted
    /// off before any is hung, so that two can swap.
    pub fn rehomed(&self) -> impl Iterator<Item = (CardId, HookRef, HookRef)> {
        let changes = self.event.iter().flat_map(|event| &event.changes);
        let homes = changes.filter_map(|change| match *change {
            Change::Home {
                card,
                before,
                after,
            } => Some((card, before, after)),
            _ => None,
        });
        let mut lifted = BTreeMap::new();
        homes.filter_map(move |(card, before, after)| match (before, after) {
            (Some(before), None) => {
                lifted.insert(card, before);
                None
            }
            (None, Some(after)) => {
                let before = lifted.remove(&card)?;
                Some((card, before, after))
            }
            _ => None,
        })
    }
}

/// The thread of an existing card before and after an import.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AmountSaid {
    /// The card.
    pub card: CardId,
    /// Its thread before, by lot.
    pub before: Thread,
    /// Its thread after.
    pub after: Thread,
}

impl AmountSaid {
    /// Whether they differ.
    #[must_use]
    pub fn changes(&self) -> bool {
        self.before != self.after
    }

    /// Strands on the card and uncut skeins, before and after.
    #[must_use]
    pub fn sums(&self) -> [(Strands, u32); 2] {
        [&self.before, &self.after].map(|thread| (thread.strands(), thread.skeins()))
    }
}

/// Builds the event from the accepted rows.
pub(super) fn write_down(
    state: &State,
    ranges: Ranges,
    drafts: &[Draft<'_>],
    rejected: Vec<Rejected>,
    now: Timestamp,
) -> Outcome {
    let mut families = Families::new(state);
    let mut ids = state.new_card_ids();
    let mut changed = Changed::default();
    let mut used: BTreeSet<RangeId> = BTreeSet::new();
    for draft in drafts {
        used.insert(draft.range);
        let shade = ranges.shade(draft.range, &draft.number);
        let id = draft.known.map_or_else(|| ids.draw(), |kept| kept.card.id);
        let card = card(draft, shade, id, &mut families);
        let hangs = draft.hook.or_else(|| draft.known?.home);
        if let (Some(family), Some(hook)) = (card.family.id(), hangs) {
            families.seen_at(family, state, hook);
        }
        match draft.known {
            None => changed.add(draft, card, now),
            Some(kept) => changed.update(draft, kept, card, now),
        }
    }
    let mut changes: Vec<Change> = ranges.changes(&used).collect();
    changes.extend(families.change(state));
    changes.append(&mut changed.cards);
    changes.append(&mut changed.lifted);
    changes.append(&mut changed.hung);
    let act = Act::ImportCards {
        added: changed.added,
        changed: changed.updated,
        list: None,
    };
    let mut event = Event { act, changes };
    event.changes.extend(learn_order(state, &event));
    Outcome {
        event: (changed.added + changed.updated > 0).then_some(event),
        added: changed.added,
        changed: changed.updated,
        usual_amount: changed.usual_amount,
        onto_own: 0,
        is_purchase: false,
        amounts: changed.amounts,
        rejected,
    }
}

/// The changes that the rows make to cards, and the number of cards of each kind.
#[derive(Default)]
struct Changed {
    cards: Vec<Change>,
    /// Cards leave their hooks before any card goes to another one.
    lifted: Vec<Change>,
    hung: Vec<Change>,
    added: u32,
    updated: u32,
    usual_amount: u32,
    amounts: Vec<AmountSaid>,
}

impl Changed {
    /// Adds a new card, on the hook its row names or to hang.
    fn add(&mut self, draft: &Draft<'_>, card: Card, now: Timestamp) {
        let id = card.id;
        let (thread, unsaid) = of_new_card(draft);
        self.added += 1;
        self.usual_amount += u32::from(unsaid);
        let at = draft
            .hook
            .map_or(Whereabouts::Unhung, |hook| Whereabouts::Hook { hook });
        self.cards.push(Change::Card {
            before: None,
            after: Some(card),
        });
        self.cards.append(&mut brought(id, &thread));
        self.cards.push(Change::Home {
            card: id,
            before: None,
            after: draft.hook,
        });
        self.cards.push(Change::Place {
            card: id,
            before: None,
            after: Some(Place { at, since: now }),
        });
    }

    /// Updates an existing card with the new values of its row.
    fn update(&mut self, draft: &Draft<'_>, kept: &CardState, card: Card, now: Timestamp) {
        let before = self.cards.len() + self.hung.len();
        if card != kept.card {
            self.cards.push(Change::Card {
                before: Some(kept.card.clone()),
                after: Some(card),
            });
        }
        let (mut changes, after) = of_known_card(draft, kept);
        self.cards.append(&mut changes);
        let says_some = |said: &LotSaid| {
            ThreadPart::ALL
                .iter()
                .any(|part| said.amount(*part).is_some())
        };
        if draft.lots.iter().any(says_some) {
            self.amounts.push(AmountSaid {
                card: kept.card.id,
                before: kept.thread.clone(),
                after,
            });
        }
        if let Some(hook) = draft.hook {
            self.rehome(kept, hook, now);
        }
        self.updated += u32::from(self.cards.len() + self.hung.len() > before);
    }

    /// Moves an existing card to the hook its row names: off its old hook first, so that cards can
    /// swap, then on. Only a card on the wall, to hang or in the hand moves; one that is away stays
    /// away.
    fn rehome(&mut self, kept: &CardState, hook: HookRef, now: Timestamp) {
        let card = kept.card.id;
        if kept.home != Some(hook) {
            if kept.home.is_some() {
                self.lifted.push(Change::Home {
                    card,
                    before: kept.home,
                    after: None,
                });
            }
            self.hung.push(Change::Home {
                card,
                before: None,
                after: Some(hook),
            });
        }
        let here = Whereabouts::Hook { hook };
        if kept.place.at.can_be_hung() && kept.place.at != here {
            self.hung.push(Change::Place {
                card,
                before: Some(kept.place.clone()),
                after: Some(Place {
                    at: here,
                    since: now,
                }),
            });
        }
    }
}

/// The first cards that hang reveal how their owner sorts the wall. An order chosen later isn't
/// overridden.
fn learn_order(state: &State, event: &Event) -> Option<Change> {
    if state.cards().any(|kept| kept.home.is_some()) {
        return None;
    }
    let mut hung = state.clone();
    hung.apply(event).ok()?;
    let (before, after) = (state.order(), hung.order_on_the_wall());
    (before != after).then_some(Change::Order { before, after })
}

/// The card a row asks for, using the row's values, else the existing ones, else the range's.
fn card(draft: &Draft<'_>, shade: Option<&Shade>, id: CardId, families: &mut Families) -> Card {
    let old = draft.known.map(|kept| &kept.card);
    let mut card = old.cloned().unwrap_or_else(|| Card {
        tag: draft.tag.clone(),
        ..Card::new(id, draft.range, draft.number.clone())
    });
    draft.written.onto(&mut card);
    if let Some(shade) = shade {
        if card.name.is_empty() {
            card.name = shade.name.clone();
        }
        card.colour = card.colour.or(shade.colour);
    }
    let same_colour = old.is_some_and(|old| old.colour == card.colour);
    card.family = match (&draft.family, old.map(|card| card.family)) {
        // A list that was exported from the stash chooses nothing.
        (Some(name), Some(as_before)) if name.same_as(draft.family_now) => as_before,
        (Some(name), _) => CardFamily::Chosen(families.named(name)),
        (None, Some(chosen @ CardFamily::Chosen(_))) => chosen,
        (None, Some(as_before)) if same_colour => as_before,
        // The range overrides the colour formulas.
        (None, _) if shade.is_some_and(|shade| shade.family.is_some()) => CardFamily::Unknown,
        (None, _) => families.worked_out(card.colour, &card.name),
    };
    card
}

/// The thread of a new card, and whether its rows give no amount, in which case it is one skein of
/// the first lot.
fn of_new_card(draft: &Draft<'_>) -> (Thread, bool) {
    let mut thread = in_all(&draft.lots);
    let unsaid = draft.lots.iter().all(|said| said.strands.is_none());
    let first = draft.lots.first().map(LotSaid::lot);
    if unsaid && let Some(of) = first.and_then(|lot| thread.lot_mut(&lot)) {
        of.strands = draft.put_up.cut_skein(USUAL_CUT_CM);
    }
    (thread, unsaid)
}

/// The changes to the thread of an existing card, and the result.
fn of_known_card(draft: &Draft<'_>, kept: &CardState) -> (Vec<Change>, Thread) {
    let (card, had) = (kept.card.id, &kept.thread);
    if draft.adds {
        // Already checked to fit.
        let changes = added(card, had, &in_all(&draft.lots)).unwrap_or_default();
        let after = with_changes(had, &changes);
        return (changes, after);
    }
    let after = said_anew(draft, had);
    (replaced(card, had, &after), after)
}

/// Thread after adding amounts.
fn with_changes(had: &Thread, changes: &[Change]) -> Thread {
    let mut thread = had.clone();
    for change in changes {
        match change {
            Change::Lot { lot, .. } => {
                thread.list(lot.clone(), Label::default());
            }
            Change::Thread {
                lot, part, amount, ..
            } => {
                if let Some(of) = thread.lot_mut(lot) {
                    let there = of.amount_mut(*part);
                    let now = amount.of(u64::from(*there), u32::MAX.into());
                    *there = now
                        .and_then(|now| u32::try_from(now).ok())
                        .unwrap_or(*there);
                }
            }
            _ => {}
        }
    }
    thread
}

/// The thread of a card when its rows replace the existing values. An amount belongs to the lot of
/// its row. A lot without a row then has none, unless a row was refused, which might have named it.
/// Values missing from all rows stay. Rows that name no lot and match the total change nothing. A
/// single row that only names a lot gives the card's thread that lot.
fn said_anew(draft: &Draft<'_>, had: &Thread) -> Thread {
    let mut thread = had.clone();
    let said = &draft.lots;
    for part in ThreadPart::ALL {
        let amounts: Vec<(Lot, u32)> = said
            .iter()
            .filter_map(|of| Some((of.lot(), of.amount(part)?)))
            .collect();
        let sum = amounts
            .iter()
            .map(|(_, amount)| u64::from(*amount))
            .sum::<u64>();
        let as_it_was = said.iter().all(|of| of.lot.is_none()) && sum == u64::from(had.sum(part));
        if amounts.is_empty() || as_it_was {
            continue;
        }
        let speaks_of = |lot: &Lot| draft.in_part || said.iter().any(|of| of.lot() == *lot);
        let others = had.lots().map(|(lot, _)| lot);
        for lot in others.filter(|lot| !speaks_of(lot)) {
            if let Some(of) = thread.lot_mut(lot) {
                *of.amount_mut(part) = 0;
            }
        }
        for (lot, amount) in amounts {
            thread.list(lot.clone(), Label::default());
            if let Some(of) = thread.lot_mut(&lot) {
                *of.amount_mut(part) = amount;
            }
        }
    }
    match said.as_slice() {
        [
            LotSaid {
                lot: Some(lot),
                strands: None,
                skeins: None,
                ..
            },
        ] if thread.lot(lot).is_none() && !draft.in_part => name_lot(&mut thread, lot),
        _ => {
            for lot in said.iter().filter_map(|of| of.lot.clone()) {
                thread.list(lot, Label::default());
            }
        }
    }
    // Nobody wants to buy more of an unknown lot.
    let unknown = Lot::unknown();
    let had_some = had.lot(&unknown).is_some_and(|of| !of.is_used_up());
    if had_some && !said.iter().any(|of| of.lot().is_unknown()) {
        thread.strike(&unknown);
    }
    thread
}

/// Gives all thread of a card with one lot another lot. With no lot or several, it only lists it.
fn name_lot(thread: &mut Thread, lot: &Lot) {
    let lots: Vec<(Lot, LotThread)> = thread
        .lots()
        .map(|(lot, of)| (lot.clone(), of.clone()))
        .collect();
    match lots.as_slice() {
        [(_, of)] => *thread = [(lot.clone(), of.clone())].into_iter().collect(),
        _ => {
            thread.list(lot.clone(), Label::default());
        }
    }
}
