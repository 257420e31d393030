//! Bringing in stock lists and shade lists.

mod amounts;
pub(super) mod ranges;
mod shades;
mod spares;

use std::collections::hash_map::Entry;
use std::collections::{BTreeSet, HashMap};

use jiff::Timestamp;

use self::amounts::{added, strands};
use self::ranges::Ranges;
pub use self::shades::{Shades, shades};
use super::families::Families;
use crate::language::{say, word};
use crate::model::board::HookRef;
use crate::model::card::{Card, CardFamily, USUAL_CUT_CM};
use crate::model::ids::{CardId, RangeId};
use crate::model::label::{Label, fold};
use crate::model::number::Number;
use crate::model::range::Shade;
use crate::model::thread::{LENGTHS_PER_SKEIN, Strands};
use crate::model::whereabouts::{Place, Whereabouts};
use crate::stash::change::Change;
use crate::stash::event::{Act, Event};
use crate::stash::intake::{Rejected, StockRow};
use crate::stash::names::list;
use crate::stash::refusal::Refusal;
use crate::stash::state::{Kept, State};

/// The range of a stock list that names none, where the stash has none either.
pub const RANGE_WITHOUT_NAME: &str = "Thread";

/// How a list is to be taken.
#[derive(Debug, Clone, Default)]
pub struct Terms {
    /// The range of rows that name none. Without it, the stash's only range, or
    /// [`RANGE_WITHOUT_NAME`].
    pub range: Option<String>,
    /// Take nothing where one row cannot be taken.
    pub strict: bool,
    /// Add the amounts of the rows to what is there, as for a purchase, instead of setting them.
    pub add: bool,
}

/// What came of a list.
#[derive(Debug, Clone)]
pub struct Outcome {
    /// The event; `None` where the list says nothing new.
    pub event: Option<Event>,
    /// Cards that are new.
    pub added: u32,
    /// Cards that are written anew.
    pub changed: u32,
    /// New cards whose row does not say how much is on them: taken as one skein.
    pub usual_amount: u32,
    /// Rows of spare cards that the stash has not: their thread was added to the colour's own card.
    pub onto_own: u32,
    /// Rows that were not taken.
    pub rejected: Vec<Rejected>,
}

/// A row that can be taken as far as it speaks for itself.
struct Draft<'a> {
    row: &'a StockRow,
    range: RangeId,
    number: Number,
    name: Option<Label>,
    family: Option<Label>,
    dye_lot: Option<Label>,
    note: Option<Label>,
    hook: Option<HookRef>,
    known: Option<&'a Kept>,
    /// The family the card is in now; empty where it has none or is new.
    family_now: &'a str,
    /// Thread that is on the card then; `None` where nothing is said.
    strands: Option<Strands>,
    /// Uncut skeins that are beside it then; likewise.
    reserve: Option<u32>,
}

/// Brings in a stock list. `unreadable` are the rows the reader could make nothing of.
///
/// A row whose range and number are in the stash writes that card anew, as far as the row says
/// anything; any other makes a new card. Where the terms say so, amounts are added to those that are
/// there, and a row for a card that says no amount is not taken. The thread of a spare card that the
/// stash has not is added to the card of its number, as far as the list says what is on that.
/// O(rows · log cards + hooks).
///
/// # Errors
/// When there are no rows, or no row can be taken, or one cannot and the terms are strict.
pub fn stock(
    state: &State,
    rows: &[StockRow],
    unreadable: Vec<Rejected>,
    terms: &Terms,
    now: Timestamp,
) -> Result<Outcome, Refusal> {
    let total = rows.len() + unreadable.len();
    if total == 0 {
        return Err(Refusal::NoRows);
    }
    let mut rejected = unreadable;
    let mut ranges = Ranges::new(state, terms.range.as_deref())?;
    let mut drafts = Vec::with_capacity(rows.len());
    let mut seen: HashMap<(RangeId, String, Option<String>), u64> = HashMap::new();
    for row in rows {
        let result = draft(state, &mut ranges, row, terms).and_then(|draft| {
            // A spare card can be told in two ways.
            let which = draft.row.spare_of.as_ref().map(|tag| match draft.known {
                Some(spare) => format!("#{}", spare.card.id),
                None => fold(tag),
            });
            match seen.entry((draft.range, draft.number.key(), which)) {
                Entry::Occupied(first) => Err(say!(
                    "number {number} of '{ranges}' is on line {first} already",
                    number = draft.number,
                    ranges = ranges.name(draft.range),
                    first = first.get()
                )),
                Entry::Vacant(free) => {
                    free.insert(row.line);
                    Ok(draft)
                }
            }
        });
        match result {
            Ok(draft) => drafts.push(draft),
            Err(reason) => rejected.push(Rejected {
                line: row.line,
                reason,
            }),
        }
    }
    reject_the_homeless(state, &mut drafts, &mut rejected);
    let (unknown, mut drafts): (Vec<_>, Vec<_>) = drafts.into_iter().partition(spares::is_unknown);
    let mut onto_own = 0;
    let own = spares::own(&drafts);
    for spare in &unknown {
        match spares::add_to_own(&mut drafts, &own, spare) {
            Ok(()) => onto_own += 1,
            Err(reason) => rejected.push(Rejected {
                line: spare.row.line,
                reason,
            }),
        }
    }
    settle(&mut rejected, total, terms.strict || drafts.is_empty())?;
    Ok(Outcome {
        onto_own,
        ..write_down(state, ranges, &drafts, rejected, now)
    })
}

/// Puts the rows that cannot be taken in the order of the list, and refuses the whole list of `rows`
/// rows for them if that is `all_or_none`.
pub(in crate::stash) fn settle(
    rejected: &mut [Rejected],
    rows: usize,
    all_or_none: bool,
) -> Result<(), Refusal> {
    rejected.sort_by_key(|row| row.line);
    match rejected.first() {
        Some(first) if all_or_none => Err(Refusal::RowsRejected {
            rejected: rejected.len(),
            rows,
            line: first.line,
            reason: first.reason.clone(),
            every: rejected.to_vec(),
        }),
        _ => Ok(()),
    }
}

fn label(text: Option<&String>, what: &str) -> Result<Option<Label>, String> {
    text.map(|text| Label::new(text).map_err(|wrong| format!("{what}: {wrong}")))
        .transpose()
}

fn draft<'a>(
    state: &'a State,
    ranges: &mut Ranges,
    row: &'a StockRow,
    terms: &Terms,
) -> Result<Draft<'a>, String> {
    let number = Number::new(&row.number).map_err(|wrong| wrong.to_string())?;
    spares::check(row)?;
    let name = label(row.name.as_ref(), "name")?;
    let family = label(row.family.as_ref(), "family")?.filter(|family| !family.is_empty());
    let dye_lot = label(row.dye_lot.as_ref(), word!("dye lot"))?;
    let note = label(row.note.as_ref(), "note")?;
    let hook = row
        .hook
        .as_deref()
        .map(|mark| hook(state, mark))
        .transpose()?;
    if row.amount.is_some_and(|amount| strands(amount).is_none()) {
        return Err(word!("the amount of thread is not a number that can be kept").to_owned());
    }
    // Last, so that a row that is refused makes no range.
    let range = ranges.named(row.range.as_deref())?;
    let alike = state.index().numbered(&number.key()).iter();
    let mut alike = alike
        .filter(|(of, _)| *of == range)
        .filter_map(|&(_, id)| state.card(id));
    let known = match &row.spare_of {
        Some(tag) => state.spare_tagged(alike, tag),
        None => alike.find(|kept| kept.card.parent.is_none()),
    };
    let (strands, reserve) = match known.filter(|_| terms.add) {
        Some(kept) => added(row, kept)?,
        None => (row.amount.and_then(strands), row.reserve),
    };
    Ok(Draft {
        row,
        range,
        number,
        name,
        family,
        dye_lot,
        note,
        hook,
        known,
        family_now: known.map_or("", |kept| state.family_name(kept)),
        strands,
        reserve,
    })
}

fn hook(state: &State, mark: &str) -> Result<HookRef, String> {
    let hook = state.find_mark(mark).map_err(|wrong| wrong.to_string())?;
    match state
        .board(hook.board)
        .and_then(|board| board.blocked(hook))
    {
        Some(why) => Err(Refusal::Blocked {
            mark: state.mark(hook),
            why: why.to_string(),
        }
        .to_string()),
        None => Ok(hook),
    }
}

/// Rejects rows whose hook has no place left. A card whose row names the home it has keeps it. Cards
/// that the list itself moves away make room; one whose row is rejected stays, and may crowd out
/// another, so this goes round until all is quiet.
fn reject_the_homeless(state: &State, drafts: &mut Vec<Draft<'_>>, rejected: &mut Vec<Rejected>) {
    loop {
        let moving: BTreeSet<CardId> = drafts
            .iter()
            .filter(|draft| draft.hook.is_some() && !keeps_its_home(draft))
            .filter_map(|draft| draft.known.map(|kept| kept.card.id))
            .collect();
        let mut taken: HashMap<HookRef, Vec<String>> = HashMap::new();
        let before = drafts.len();
        drafts.retain(|draft| {
            let Some(hook) = draft.hook.filter(|_| !keeps_its_home(draft)) else {
                return true;
            };
            let at_home = taken.entry(hook).or_insert_with(|| {
                let stays = |kept: &&Kept| !moving.contains(&kept.card.id);
                let staying = state.homes_on(hook).filter(stays);
                staying.map(|kept| state.card_name(kept)).collect()
            });
            let places = state.capacity(hook);
            if at_home.len() < usize::from(places) {
                at_home.push(draft.number.to_string());
                return true;
            }
            let who = list(at_home.iter().cloned());
            rejected.push(Rejected {
                line: draft.row.line,
                reason: say!(
                    "hook {hook} is full: {who} {word} there and it has {places} {word2}",
                    hook = state.mark(hook),
                    who,
                    word = if at_home.len() == 1 {
                        word!("lives")
                    } else {
                        word!("live")
                    },
                    places,
                    word2 = if places == 1 {
                        word!("place")
                    } else {
                        word!("places")
                    }
                ),
            });
            false
        });
        if drafts.len() == before {
            return;
        }
    }
}

/// Whether a row names the hook where its card is at home already.
fn keeps_its_home(draft: &Draft<'_>) -> bool {
    draft.hook.is_some() && draft.known.and_then(|kept| kept.home) == draft.hook
}

/// Makes the event of the rows that are taken.
fn write_down(
    state: &State,
    ranges: Ranges,
    drafts: &[Draft<'_>],
    rejected: Vec<Rejected>,
    now: Timestamp,
) -> Outcome {
    let mut families = Families::new(state);
    let mut next = state.cards().map(|kept| kept.card.id.0).max().unwrap_or(0);
    let (mut added, mut changed, mut usual_amount) = (0, 0, 0);
    let mut cards = Vec::new();
    let mut lifted = Vec::new();
    let mut hung = Vec::new();
    let mut used: BTreeSet<RangeId> = BTreeSet::new();
    for draft in drafts {
        used.insert(draft.range);
        let shade = ranges.shade(draft.range, &draft.number);
        let card = card(draft, shade, next + 1, &mut families);
        let hangs = draft.hook.or_else(|| draft.known?.home);
        if let (Some(family), Some(hook)) = (card.family.id(), hangs) {
            families.seen_at(family, state, hook);
        }
        let amount = draft.strands;
        let id = card.id;
        match draft.known {
            None => {
                next += 1;
                added += 1;
                let strands = amount.unwrap_or_else(|| {
                    usual_amount += 1;
                    Strands::from_lengths(LENGTHS_PER_SKEIN)
                });
                let at = draft
                    .hook
                    .map_or(Whereabouts::Unhung, |hook| Whereabouts::Hook { hook });
                cards.push(Change::Card {
                    before: None,
                    after: Some(card),
                });
                cards.push(Change::Thread {
                    card: id,
                    before: Strands(0),
                    after: strands,
                });
                cards.push(Change::Home {
                    card: id,
                    before: None,
                    after: draft.hook,
                });
                cards.push(Change::Place {
                    card: id,
                    before: None,
                    after: Some(Place { at, since: now }),
                });
            }
            Some(kept) => {
                let before = cards.len() + hung.len();
                if card != kept.card {
                    cards.push(Change::Card {
                        before: Some(kept.card.clone()),
                        after: Some(card),
                    });
                }
                if let Some(after) = amount
                    && after != kept.strands
                {
                    cards.push(Change::Thread {
                        card: id,
                        before: kept.strands,
                        after,
                    });
                }
                if let Some(hook) = draft.hook {
                    rehome(kept, hook, now, &mut lifted, &mut hung);
                }
                changed += u32::from(cards.len() + hung.len() > before);
            }
        }
    }
    let mut changes: Vec<Change> = ranges.changes(&used).collect();
    changes.extend(families.change(state));
    changes.append(&mut cards);
    changes.append(&mut lifted);
    changes.append(&mut hung);
    let act = Act::ImportStock { added, changed };
    let mut event = Event { act, changes };
    event.changes.extend(learn_order(state, &event));
    Outcome {
        event: (added + changed > 0).then_some(event),
        added,
        changed,
        usual_amount,
        onto_own: 0,
        rejected,
    }
}

/// The first cards that hang show what their owner orders the wall by; what was chosen later
/// stands.
fn learn_order(state: &State, event: &Event) -> Option<Change> {
    if state.cards().any(|kept| kept.home.is_some()) {
        return None;
    }
    let mut hung = state.clone();
    hung.apply(event).ok()?;
    let (before, after) = (state.order(), hung.order_on_the_wall());
    (before != after).then_some(Change::Order { before, after })
}

/// A known card goes to the hook its row names: off its old home first, so that cards can change
/// places, then on. Only a card on the wall, in the tray or in the hand moves; one that is away keeps
/// away.
fn rehome(
    kept: &Kept,
    hook: HookRef,
    now: Timestamp,
    lifted: &mut Vec<Change>,
    hung: &mut Vec<Change>,
) {
    let card = kept.card.id;
    if kept.home != Some(hook) {
        if kept.home.is_some() {
            lifted.push(Change::Home {
                card,
                before: kept.home,
                after: None,
            });
        }
        hung.push(Change::Home {
            card,
            before: None,
            after: Some(hook),
        });
    }
    let here = Whereabouts::Hook { hook };
    if kept.place.at.is_at_hand() && kept.place.at != here {
        hung.push(Change::Place {
            card,
            before: Some(kept.place.clone()),
            after: Some(Place {
                at: here,
                since: now,
            }),
        });
    }
}

/// The card a row asks for: what the row says, else what was known, else what the range says.
fn card(draft: &Draft<'_>, shade: Option<&Shade>, next: u32, families: &mut Families) -> Card {
    let old = draft.known.map(|kept| &kept.card);
    let row = draft.row;
    let name = draft.name.clone().filter(|name| !name.is_empty());
    let colour = row
        .colour
        .or(old.and_then(|card| card.colour))
        .or(shade.and_then(|shade| shade.colour));
    let same_colour = old.is_some_and(|card| card.colour == colour);
    let family = match (&draft.family, old.map(|card| card.family)) {
        // A list that was written from the stash chooses nothing.
        (Some(name), Some(as_before)) if name.same_as(draft.family_now) => as_before,
        (Some(name), _) => CardFamily::Chosen(families.named(name)),
        (None, Some(chosen @ CardFamily::Chosen(_))) => chosen,
        (None, Some(as_before)) if same_colour => as_before,
        // The range says better than the colour sums.
        (None, _) if shade.is_some_and(|shade| shade.family.is_some()) => CardFamily::Unknown,
        (None, _) => colour.map_or(CardFamily::Unknown, |colour| {
            CardFamily::WorkedOut(families.of_colour(colour))
        }),
    };
    Card {
        id: old.map_or(CardId(next), |card| card.id),
        range: draft.range,
        number: old.map_or_else(|| draft.number.clone(), |card| card.number.clone()),
        name: name
            .or_else(|| old.map(|card| card.name.clone()).filter(|n| !n.is_empty()))
            .or_else(|| shade.map(|shade| shade.name.clone()))
            .unwrap_or_default(),
        colour,
        family,
        dye_lot: draft
            .dye_lot
            .clone()
            .or_else(|| old.map(|card| card.dye_lot.clone()))
            .unwrap_or_default(),
        cut_cm: old.map_or(USUAL_CUT_CM, |card| card.cut_cm),
        reserve: draft.reserve.or(old.map(|card| card.reserve)).unwrap_or(0),
        note: draft
            .note
            .clone()
            .or_else(|| old.map(|card| card.note.clone()))
            .unwrap_or_default(),
        parent: old.and_then(|card| card.parent),
        touch: old.map(|card| card.touch).unwrap_or_default(),
    }
}

#[cfg(test)]
mod tests;
