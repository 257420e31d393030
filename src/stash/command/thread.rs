//! Thread that moves between cards, is used, cut and counted.

use jiff::Timestamp;

use super::card::rejoin;
use super::kept;
use super::ring::for_project;
use crate::model::card::{Card, MoveCost, Tag};
use crate::model::ids::CardId;
use crate::model::label::Label;
use crate::model::ring::{ColourRef, Ring};
use crate::model::thread::{DrawError, Lot, LotThread, Strands, Thread, ThreadPart};
use crate::model::whereabouts::{Place, Whereabouts};
use crate::stash::event::thread::{Cutting, added, brought, drawn, listed, replaced, set};
use crate::stash::event::{Act, AmountChange, Change, Event, ring_changes};
use crate::stash::projects::kit::{ProjectKit, check};
use crate::stash::projects::needs::add_used;
use crate::stash::projects::supply::Source;
use crate::stash::refusal::{Amount, NotHereNext, Refusal};
use crate::stash::state::{CardState, State};

/// Splits strands of a card off onto a split card on a project's ring, which is opened, reopened or
/// taken down if necessary. If the ring has a split card of it, that one gets the strands.
///
/// The strands come from the requested lot, else from the lots that [`Thread::draw`] chooses, and
/// the split card keeps their lots. `label` becomes the note of the split card; if empty, the note
/// is unchanged.
///
/// # Errors
/// When no amount is given or there is less, the lot isn't on the card, or the card is on that ring
/// itself, is missing or elsewhere, or is a split card.
pub fn split(
    state: &State,
    project: &str,
    card: CardId,
    amount: Strands,
    lot: Option<&Lot>,
    label: &str,
    now: Timestamp,
) -> Result<Event, Refusal> {
    let label = Label::new(label)?;
    let from = kept(state, card)?;
    let (old, mut ring) = for_project(state, project, now)?;
    if from.card.parent.is_some() {
        return Err(Refusal::SplitCard(state.card_name(from)));
    }
    if from.place.at == (Whereabouts::Ring { ring: ring.id }) {
        return Err(not_here(state, from, NotHereNext::NoSplit));
    }
    can_be_wound(state, from)?;
    let lots = taken(state, from, amount, lot)?;
    let moved = thread_of(&lots);
    let there = old.and_then(|ring| split_cards_on(state, ring, card).next());
    let (split_card, cards) = match there {
        Some(there) => (there.card.id, more_on(state, there, &moved, label)?),
        None => {
            let split_card = Card {
                id: state.new_card_ids().draw(),
                tag: Tag::none(),
                note: label,
                parent: Some(card),
                touch: MoveCost::default(),
                ..from.card.clone()
            };
            ring.went_out.push(split_card.id);
            let at = Whereabouts::Ring { ring: ring.id };
            let place = Place { at, since: now };
            (split_card.id, new_split_card(split_card, place, &moved))
        }
    };
    let act = Act::Split {
        ring: ring.id,
        card: split_card,
        strands: amount,
    };
    let mut changes = Vec::with_capacity(cards.len() + lots.len() + 1);
    if old != Some(&ring) {
        changes.append(&mut ring_changes(old, &ring));
    }
    changes.extend(drawn(card, &lots));
    changes.extend(cards);
    Ok(Event { act, changes })
}

/// Strands of several lots as the thread of a card.
fn thread_of(lots: &[(Lot, Strands)]) -> Thread {
    let lots = lots.iter().map(|(lot, strands)| {
        let of = LotThread {
            strands: *strands,
            ..LotThread::default()
        };
        (lot.clone(), of)
    });
    lots.collect()
}

/// Adds thread to an existing split card, and changes its note if one is given.
fn more_on(
    state: &State,
    split_card: &CardState,
    moved: &Thread,
    label: Label,
) -> Result<Vec<Change>, Refusal> {
    let more = added(split_card.card.id, &split_card.thread, moved);
    let mut changes = more.ok_or_else(|| Refusal::TooMuch(state.card_name(split_card)))?;
    if !label.is_empty() && label != split_card.card.note {
        let written = Card {
            note: label,
            ..split_card.card.clone()
        };
        changes.push(Change::Card {
            before: Some(split_card.card.clone()),
            after: Some(written),
        });
    }
    Ok(changes)
}

/// A new split card with its thread, at its first place.
fn new_split_card(split_card: Card, place: Place, thread: &Thread) -> Vec<Change> {
    let id = split_card.id;
    let mut changes = vec![Change::Card {
        before: None,
        after: Some(split_card),
    }];
    changes.extend(brought(id, thread));
    changes.push(Change::Place {
        card: id,
        before: None,
        after: Some(place),
    });
    changes
}

/// Rejoins split cards with their card, which removes them. If `card` is a split card, only that
/// one is rejoined. Otherwise those on the ring are or, if there are none, those on no ring,
/// preferring the ones at hand.
///
/// # Errors
/// When there is no such split card, or it or its whole card is missing or elsewhere.
pub fn merge(state: &State, ring: &Ring, card: CardId) -> Result<Event, Refusal> {
    let named = kept(state, card)?;
    let whole = kept(state, named.card.parent.unwrap_or(card))?;
    // A split card of another project is meant only by its own name.
    let named = |split_card: &CardState| {
        let is_own = || state.ring_of_split_card(split_card).map(|ring| ring.id) == Some(ring.id);
        split_card.card.id == card || (named.card.parent.is_none() && is_own())
    };
    let split_cards = |on: fn(&CardState, &Ring) -> bool| -> Vec<&CardState> {
        state
            .split_cards_of(whole.card.id)
            .filter(|split_card| named(split_card) && on(split_card, ring))
            .collect()
    };
    let mut meant = split_cards(|split_card, ring| split_card.place.at.ring() == Some(ring.id));
    if meant.is_empty() {
        meant = split_cards(|split_card, _| split_card.place.at.can_be_hung());
    }
    if meant.is_empty() {
        meant = split_cards(|split_card, _| split_card.place.at.ring().is_none());
    }
    if meant.is_empty() {
        let others = state.split_cards_of(whole.card.id);
        let others = others.map(|split_card| state.place_of(split_card));
        return Err(Refusal::NoSplitCard {
            card: state.card_name(whole),
            project: ring.project.to_string(),
            others: others.collect(),
        });
    }
    for kept in meant.iter().copied().chain([whole]) {
        can_be_wound(state, kept)?;
    }
    let (changes, strands) = rejoin(state, &meant)?;
    let act = Act::Rejoin {
        card: whole.card.id,
        strands,
    };
    Ok(Event { act, changes })
}

/// Uses up strands of a card, from the requested lot, else from the lot that the project reckons
/// with, else from the lots that [`Thread::draw`] chooses. With a project, from what is on its ring: the split card of the colour, or else the
/// card itself. Thread used from a card on a ring counts for the ring's chart key, if that is
/// stitched in the colour (see [`add_used`]).
///
/// # Errors
/// When no amount is given or there is less, the card is missing, or nothing of it is on the ring.
pub fn use_thread(
    state: &State,
    ring: Option<&Ring>,
    card: CardId,
    amount: Strands,
    lot: Option<&Lot>,
) -> Result<Event, Refusal> {
    let mut from = kept(state, card)?;
    if let Some(ring) = ring {
        if let Some(split_card) = split_cards_on(state, ring, card).next() {
            from = split_card;
        } else if from.place.at.ring() != Some(ring.id) {
            return Err(Refusal::NotOnRing {
                card: state.card_name(from),
                project: ring.project.to_string(),
                place: state.place_of(from).into(),
            });
        }
    }
    if from.place.at.is_missing() {
        can_be_wound(state, from)?;
    }
    let own = match lot {
        None => lot_of_project(state, from, amount),
        Some(_) => None,
    };
    let lots = taken(state, from, amount, lot.or(own.as_ref()))?;
    let mut changes: Vec<Change> = drawn(from.card.id, &lots).collect();
    if let Some(ring) = from.place.at.ring().and_then(|ring| state.ring(ring)) {
        let mut after = ring.clone();
        let used_cm = u64::from(amount.0) * u64::from(from.card.cut_cm);
        let colour = ColourRef::new(from.card.range, from.card.number.clone());
        add_used(&mut after, &colour, used_cm);
        changes.append(&mut ring_changes(Some(ring), &after));
    }
    Ok(Event {
        act: Act::Use {
            card: from.card.id,
            strands: amount,
            lots: lots
                .into_iter()
                .map(|(lot, _)| lot)
                .filter(|lot| !lot.is_unknown())
                .collect(),
        },
        changes,
    })
}

/// The lot on a ring's card that the project reckons with for what it still needs, if that lot
/// gives the strands. It is the one that was cut for the project, although another may be smaller.
fn lot_of_project(state: &State, from: &CardState, amount: Strands) -> Option<Lot> {
    let ring = state.ring(from.place.at.ring()?)?;
    let with_thread = from.thread.lots().filter(|(_, of)| of.strands.0 > 0);
    if with_thread.count() < 2 {
        return None;
    }
    let kit = check(state, &[ring]);
    let threads = kit.projects.iter().flat_map(ProjectKit::threads);
    let mut promises = threads.flat_map(|thread| &thread.promises);
    let of_card = promises.find(|of| {
        let there = from.thread.lot(&of.lot).map_or(0, |of| of.strands.0);
        of.card == from.card.id && of.source == Source::OwnRing && there >= amount.0
    });
    of_card.map(|of| of.lot.clone())
}

/// How much to cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CutAmount {
    /// A number of lengths: from the part-used skein first, then from new ones, the last of which
    /// is then part-used.
    Lengths(u32),
    /// A number of whole skeins.
    Skeins(u32),
}

/// Cuts uncut thread onto a card, from the requested lot, else from the smallest that suffices.
/// Thread too short for a length stays with the part-used skein.
///
/// # Errors
/// When no amount is given or there is less, or the card is missing, elsewhere or a split card.
pub fn cut(
    state: &State,
    card: CardId,
    amount: CutAmount,
    lot: Option<&Lot>,
) -> Result<Event, Refusal> {
    let from = kept(state, card)?;
    if from.card.parent.is_some() {
        return Err(Refusal::SplitCard(state.card_name(from)));
    }
    can_be_wound(state, from)?;
    let (CutAmount::Lengths(n) | CutAmount::Skeins(n)) = amount;
    if n == 0 {
        return Err(Refusal::NoThread);
    }
    let there = |of: &LotThread| match amount {
        CutAmount::Skeins(_) => of.skeins,
        CutAmount::Lengths(_) => uncut_lengths(state, from, of),
    };
    let lots = from.thread.lots();
    let mut lots: Vec<(u32, &Lot)> = match lot {
        Some(lot) => vec![(from.thread.lot(lot).map_or(0, there), lot)],
        None => lots.map(|(lot, of)| (there(of), lot)).collect(),
    };
    lots.sort_unstable();
    let enough = lots.iter().find(|(there, _)| *there >= n);
    let Some((_, lot)) = enough else {
        let most = lots.last().map_or(0, |(there, _)| *there);
        let put_up = state.put_up(&from.card);
        let per_skein = match amount {
            CutAmount::Lengths(_) => 1,
            CutAmount::Skeins(_) => put_up.lengths_in_skein(from.card.cut_cm).max(1),
        };
        let of = |n: u32| Amount {
            strands: put_up.from_lengths(n.saturating_mul(per_skein)),
            put_up,
        };
        return Err(Refusal::TooLittleUncut {
            card: state.card_name(from),
            have: of(most),
            asked: of(n),
        });
    };
    Ok(Event {
        act: Act::Cut { cards: 1 },
        changes: cut_of_lot(state, from, lot, amount)?,
    })
}

/// How many lengths the part-used and uncut skeins of a lot make.
fn uncut_lengths(state: &State, kept: &CardState, of: &LotThread) -> u32 {
    let (put_up, cut_cm) = (state.put_up(&kept.card), kept.card.cut_cm);
    let whole = of
        .skeins
        .saturating_mul(put_up.lengths_in_skein(cut_cm).max(1));
    whole.saturating_add(put_up.lengths_in(of.part_cm, cut_cm))
}

/// The changes that cut uncut thread of a lot onto its card. The lot must have that much.
fn cut_of_lot(
    state: &State,
    kept: &CardState,
    lot: &Lot,
    amount: CutAmount,
) -> Result<Vec<Change>, Refusal> {
    let (card, put_up) = (kept.card.id, state.put_up(&kept.card));
    let cut_cm = u32::from(kept.card.cut_cm);
    let per_skein = put_up.lengths_in_skein(kept.card.cut_cm).max(1);
    let too_much = || Refusal::TooMuch(state.card_name(kept));
    let of = kept.thread.lot(lot).cloned().unwrap_or_default();
    let (of_part, of_skeins, skeins) = match amount {
        CutAmount::Skeins(skeins) => (0, skeins.saturating_mul(per_skein), skeins),
        CutAmount::Lengths(lengths) => {
            let of_part = lengths.min(put_up.lengths_in(of.part_cm, kept.card.cut_cm));
            let rest = lengths - of_part;
            (of_part, rest, rest.div_ceil(per_skein))
        }
    };
    let opened_cm = skeins.saturating_mul(put_up.skein_cm());
    let left_cm = opened_cm.saturating_sub(of_skeins.saturating_mul(cut_cm));
    let part_cm = (of.part_cm - of_part * cut_cm).checked_add(left_cm);
    let strands = put_up.from_lengths(of_part.saturating_add(of_skeins));
    of.strands.0.checked_add(strands.0).ok_or_else(too_much)?;
    let by = |part, by: i64| Change::Thread {
        card,
        lot: lot.clone(),
        part,
        amount: AmountChange::Add { by },
    };
    let part_by = i64::from(part_cm.ok_or_else(too_much)?) - i64::from(of.part_cm);
    let changes = [
        by(ThreadPart::PartCm, part_by),
        by(ThreadPart::Skeins, -i64::from(skeins)),
        by(ThreadPart::Strands, strands.0.into()),
    ];
    let changes = changes.into_iter().filter(|change| {
        !matches!(change, Change::Thread { amount, .. } if *amount == AmountChange::Add { by: 0 })
    });
    Ok(changes.collect())
}

/// Takes the cards of a kit to the ring of their project, and cuts the needed uncut thread onto
/// them; without cards, it only cuts.
///
/// # Errors
/// As [`take`](super::ring::take) and [`cut`].
pub fn fetch(
    state: &State,
    project: &str,
    cards: &[CardId],
    cuts: &[Cutting],
    now: Timestamp,
) -> Result<Event, Refusal> {
    let mut changes = Vec::new();
    let mut cut_cards: Vec<CardId> = Vec::new();
    for one in cuts {
        let event = cut(
            state,
            one.card,
            CutAmount::Lengths(one.lengths),
            Some(&one.lot),
        )?;
        changes.extend(event.changes);
        if !cut_cards.contains(&one.card) {
            cut_cards.push(one.card);
        }
    }
    if cards.is_empty() && !changes.is_empty() {
        let cards = super::count(&cut_cards);
        return Ok(Event {
            act: Act::Cut { cards },
            changes,
        });
    }
    let mut event = super::ring::take(state, project, cards, now)?;
    event.changes.extend(changes);
    Ok(event)
}

/// A count of one lot; `None` leaves a part unchanged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counted {
    /// Strands on the card.
    pub strands: Option<Strands>,
    /// The rest of a part-used skein, in centimetres.
    pub part_cm: Option<u32>,
    /// Uncut skeins.
    pub skeins: Option<u32>,
}

/// Sets the amounts of a lot of a card: of the requested lot, which is listed if necessary, else of
/// the only one. If the card has only the unknown lot, all its thread gets the requested lot.
/// `None` if nothing changes.
///
/// # Errors
/// When no amount is given, the card has several lots and none is requested, or uncut thread is
/// given for a split card.
pub fn count(
    state: &State,
    card: CardId,
    counted: Counted,
    lot: Option<&Lot>,
) -> Result<Option<Event>, Refusal> {
    let kept = kept(state, card)?;
    if counted == Counted::default() {
        return Err(Refusal::NoThread);
    }
    let uncut = counted.part_cm.is_some() || counted.skeins.is_some();
    if kept.card.parent.is_some() && uncut {
        return Err(Refusal::SplitCard(state.card_name(kept)));
    }
    let lots: Vec<&Lot> = kept.thread.lots().map(|(lot, _)| lot).collect();
    let lot = lot_counted(state, kept, &lots, lot)?;
    let said = [
        (
            ThreadPart::Strands,
            counted.strands.map(|strands| strands.0),
        ),
        (ThreadPart::PartCm, counted.part_cm),
        (ThreadPart::Skeins, counted.skeins),
    ];
    let unnamed = match lots.as_slice() {
        [only] if only.is_unknown() && !lot.is_unknown() => kept.thread.lot(only),
        _ => None,
    };
    let changes = match unnamed {
        Some(of) => {
            let mut of = of.clone();
            for (part, amount) in said {
                *of.amount_mut(part) = amount.unwrap_or_else(|| of.amount(part));
            }
            replaced(card, &kept.thread, &[(lot, of)].into_iter().collect())
        }
        None => {
            let said = said.into_iter();
            let sets = said.filter_map(|(part, of)| set(card, &kept.thread, &lot, part, of?));
            let mut changes: Vec<Change> = sets.collect();
            if !changes.is_empty() {
                changes.splice(0..0, listed(card, &kept.thread, &lot));
            }
            changes
        }
    };
    Ok((!changes.is_empty()).then_some(Event {
        act: Act::Count { card },
        changes,
    }))
}

/// The lot that was counted: the named one, else the card's only one.
fn lot_counted(
    state: &State,
    kept: &CardState,
    lots: &[&Lot],
    named: Option<&Lot>,
) -> Result<Lot, Refusal> {
    match (named, lots) {
        (Some(lot), _) => Ok(lot.clone()),
        (None, []) => Ok(Lot::unknown()),
        (None, [only]) => Ok((*only).clone()),
        (None, _) => Err(Refusal::WhichLot {
            card: state.card_name(kept),
            lots: lots.iter().copied().cloned().collect(),
        }),
    }
}

/// The lot with a name: one of the card's, ignoring case, else a new one.
///
/// # Errors
/// When the text isn't a label.
pub fn lot_named(state: &State, card: CardId, name: &str) -> Result<Lot, Refusal> {
    let name = Label::new(name)?;
    let kept = kept(state, card)?;
    Ok(kept.thread.listed(&name).cloned().unwrap_or(Lot(name)))
}

/// The split cards of a card on a ring, which thread for its project is used from first.
pub fn split_cards_on<'a>(
    state: &'a State,
    ring: &'a Ring,
    card: CardId,
) -> impl Iterator<Item = &'a CardState> {
    let of = move |kept: &&CardState| kept.card.parent == Some(card);
    state.cards_on(ring).filter(of)
}

fn not_here(state: &State, kept: &CardState, next: NotHereNext) -> Refusal {
    Refusal::NotHere {
        card: state.card_name(kept),
        place: state.place_of(kept).into(),
        next,
    }
}

/// Checks that thread can be wound from and onto a card.
fn can_be_wound(state: &State, kept: &CardState) -> Result<(), Refusal> {
    match NotHereNext::of(&kept.place.at) {
        None | Some(NotHereNext::ReturnIt) => Ok(()),
        Some(next) => Err(not_here(state, kept, next)),
    }
}

/// The lots to take strands from, and how many of each.
fn taken(
    state: &State,
    from: &CardState,
    amount: Strands,
    lot: Option<&Lot>,
) -> Result<Vec<(Lot, Strands)>, Refusal> {
    if amount == Strands(0) {
        return Err(Refusal::NoThread);
    }
    let put_up = state.put_up(&from.card);
    from.thread.draw(amount, lot).map_err(|wrong| match wrong {
        DrawError::NoSuchLot => Refusal::NoSuchLot {
            card: state.card_name(from),
            lot: lot.map_or_else(String::new, Lot::to_string),
            lots: from.thread.noted_lots().cloned().collect(),
        },
        DrawError::TooLittle { there } => Refusal::TooLittle {
            card: state.card_name(from),
            have: Amount {
                strands: there,
                put_up,
            },
            asked: Amount {
                strands: amount,
                put_up,
            },
        },
    })
}

#[cfg(test)]
mod tests;
