//! Drafts: what a row of a card list asks for, and whether that is possible.

use std::collections::{BTreeSet, HashMap};

use super::ranges::Ranges;
use super::{Amount, CardRow, Terms, Written, both, label};
use crate::model::board::HookRef;
use crate::model::card::{Tag, USUAL_CUT_CM};
use crate::model::ids::{CardId, RangeId};
use crate::model::label::{Label, fold};
use crate::model::number::Number;
use crate::model::range::PutUp;
use crate::model::thread::{Lot, Strands, Thread, ThreadPart};
use crate::stash::columns::Column;
use crate::stash::event::thread::added;
use crate::stash::names::written;
use crate::stash::refusal::{Refusal, Rejected, RowFault};
use crate::stash::state::{CardState, State};

/// A row that is valid by itself.
pub(super) struct Draft<'a> {
    pub(super) row: &'a CardRow,
    pub(super) range: RangeId,
    pub(super) number: Number,
    /// The tag of the card, or of a split card's whole card.
    pub(super) tag: Tag,
    /// The values written on the card as they are.
    pub(super) written: Written,
    pub(super) family: Option<Label>,
    pub(super) hook: Option<HookRef>,
    pub(super) known: Option<&'a CardState>,
    /// The card's current family; empty if it has none or is new.
    pub(super) family_now: &'a str,
    /// The kind and put-up of its thread.
    pub(super) put_up: PutUp,
    /// The thread given by this row and further rows of the same card, each of its own lot.
    pub(super) lots: Vec<LotSaid>,
    /// Whether the amounts are added to the existing ones.
    pub(super) adds: bool,
    /// Whether a row of the card was refused, so that its lots in the list are incomplete.
    pub(super) in_part: bool,
    /// The only lot of the existing card, if its row names none and so means that one.
    pub(super) only: Option<Lot>,
}

impl Draft<'_> {
    /// Adds another row of the same card, with thread of another lot.
    pub(super) fn take_in(&mut self, other: Self) -> Result<(), RowFault> {
        let line = self.row.line;
        both(&mut self.hook, other.hook, line, Column::Hook)?;
        self.written.take_in(other.written, line)?;
        both(&mut self.family, other.family, line, Column::Family)?;
        self.lots.extend(other.lots);
        Ok(())
    }

    /// Makes the only row of a card, if it names no lot, mean the card's only lot. With rows that
    /// name lots, it is another lot.
    pub(super) fn mean_the_only_lot(&mut self) {
        if let [said] = self.lots.as_mut_slice()
            && said.lot.is_none()
            && !self.in_part
        {
            self.only = self.known.and_then(only_lot);
            said.lot.clone_from(&self.only);
        }
    }

    /// The key for comparing drafts of one range: number and tag as written, folded.
    pub(super) fn key(&self) -> String {
        fold(&written(&self.number, &self.tag))
    }
}

/// The draft of a row, or why it can't be accepted.
pub(super) fn draft<'a>(
    state: &'a State,
    ranges: &mut Ranges,
    row: &'a CardRow,
    terms: &Terms,
) -> Result<Draft<'a>, RowFault> {
    let number = Number::new(&row.number).map_err(RowFault::Number)?;
    let tag = Tag::new(row.tag.as_deref().unwrap_or_default()).map_err(RowFault::Tag)?;
    check_split_card(row)?;
    let written = Written::of(row)?;
    let family = label(row.family.as_ref(), Column::Family)?.filter(|family| !family.is_empty());
    let dye_lot = label(row.dye_lot.as_ref(), Column::DyeLot)?;
    let hook = row
        .hook
        .as_deref()
        .map(|hook_name| hook(state, hook_name))
        .transpose()?;
    // Last, so that a refused row doesn't add a range.
    let range = ranges.named(row.range.as_deref())?;
    let alike = state.index().numbered(&number.key()).iter();
    let mut alike = alike
        .filter(|(of, _)| *of == range)
        .filter_map(|&(_, id)| state.card(id))
        .filter(|kept| state.tag(kept).key() == tag.key());
    let known = match &row.split_card_of {
        Some(tag) => state.split_card_tagged(alike, tag),
        None => alike.find(|kept| kept.card.parent.is_none()),
    };
    if known.is_none()
        && row.split_card_of.is_none()
        && let Some(other) = state.written_alike(range, &number, &tag, None)
    {
        let name = state.number_and_tag(other).into_owned();
        return Err(RowFault::WrittenAlike(name));
    }
    let put_up = known.map_or_else(|| ranges.put_up(range), |kept| state.put_up(&kept.card));
    let said = said(row, dye_lot, known, put_up)?;
    let adding_to = known.filter(|_| terms.add);
    adding_to.map_or(Ok(()), |kept| can_be_added(&said, kept))?;
    Ok(Draft {
        row,
        range,
        number,
        tag,
        written,
        family,
        hook,
        known,
        family_now: known.map_or("", |kept| state.family_name(kept)),
        put_up,
        lots: vec![said],
        adds: adding_to.is_some(),
        in_part: false,
        only: None,
    })
}

fn hook(state: &State, hook_name: &str) -> Result<HookRef, RowFault> {
    let refused = |why| RowFault::Refused(Box::new(why));
    let hook = state.find_hook(hook_name).map_err(refused)?;
    let board = state.board(hook.board);
    match board.and_then(|board| board.blocked(hook)) {
        Some(why) => Err(refused(Refusal::Blocked {
            hook_name: state.hook_name(hook),
            why: why.to_string(),
        })),
        None => Ok(hook),
    }
}

/// Rejects rows whose hook has no free place. A card whose row names its current hook keeps it.
/// Cards that the list itself moves away make room. A card whose row is rejected stays and may
/// crowd out another, so this repeats until nothing changes.
pub(super) fn reject_the_to_hang(
    state: &State,
    drafts: &mut Vec<Draft<'_>>,
    rejected: &mut Vec<Rejected>,
) {
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
                let stays = |kept: &&CardState| !moving.contains(&kept.card.id);
                let staying = state.homes_on(hook).filter(stays);
                staying.map(|kept| state.card_name(kept)).collect()
            });
            let places = state.capacity(hook);
            if at_home.len() < usize::from(places) {
                at_home.push(written(&draft.number, &draft.tag).into_owned());
                return true;
            }
            let reason = RowFault::HookFull {
                hook_name: state.hook_name(hook),
                who: at_home.clone(),
                cards_per_hook: places,
            };
            rejected.extend(draft.lots.iter().map(|said| Rejected {
                line: said.line,
                reason: reason.clone(),
                number: Some(draft.row.number.clone()),
            }));
            false
        });
        if drafts.len() == before {
            return;
        }
    }
}

/// Whether a row names the hook that its card already belongs on.
fn keeps_its_home(draft: &Draft<'_>) -> bool {
    draft.hook.is_some() && draft.known.and_then(|kept| kept.home) == draft.hook
}

/// The values of a row for one lot.
#[derive(Clone)]
pub(super) struct LotSaid {
    /// The line of the row.
    pub(super) line: u64,
    /// Which lot; `None` if the row names none.
    pub(super) lot: Option<Lot>,
    /// Thread on the card; `None` if not given.
    pub(super) strands: Option<Strands>,
    /// Uncut skeins; `None` if not given.
    pub(super) skeins: Option<u32>,
    /// The rest of a part-used skein, in centimetres; `None` if not given.
    pub(super) part_cm: Option<u32>,
}

impl LotSaid {
    /// The lot it applies to. Thread without one belongs to the unknown lot, never silently to one
    /// of several others.
    pub(super) fn lot(&self) -> Lot {
        self.lot.clone().unwrap_or_default()
    }

    pub(super) fn amount(&self, part: ThreadPart) -> Option<u32> {
        match part {
            ThreadPart::Strands => self.strands.map(|strands| strands.0),
            ThreadPart::Skeins => self.skeins,
            ThreadPart::PartCm => self.part_cm,
        }
    }
}

/// An amount in strands of a card's length; `None` if it can't be stored.
pub(super) fn strands(amount: Amount, put_up: PutUp, cut_cm: u16) -> Option<Strands> {
    match amount {
        Amount::Lengths(lengths) => put_up.from_fraction(lengths),
        Amount::Skeins(skeins) => match put_up.lengths_in_skein(cut_cm) {
            0 => None,
            lengths => put_up.from_fraction(skeins * f64::from(lengths)),
        },
    }
}

/// The thread that a row gives, or why it can't be accepted.
pub(super) fn said(
    row: &CardRow,
    lot: Option<Label>,
    known: Option<&CardState>,
    put_up: PutUp,
) -> Result<LotSaid, RowFault> {
    let cut_cm = known.map_or(USUAL_CUT_CM, |kept| kept.card.cut_cm);
    let amount = row.amount.map(|amount| strands(amount, put_up, cut_cm));
    let amount = amount.map(|strands| strands.ok_or(RowFault::Amount));
    // A list may write a lot in different case from the card.
    let listed = |lot: Label| {
        let listed = known.and_then(|kept| kept.thread.listed(&lot));
        listed.cloned().unwrap_or(Lot(lot))
    };
    Ok(LotSaid {
        line: row.line,
        lot: lot.map(listed),
        strands: amount.transpose()?,
        skeins: row.uncut,
        part_cm: row.part_cm,
    })
}

/// The lot of a card that has exactly one.
pub(super) fn only_lot(kept: &CardState) -> Option<Lot> {
    let mut lots = kept.thread.lots().map(|(lot, _)| lot);
    lots.next().filter(|_| lots.next().is_none()).cloned()
}

/// Whether the amounts of a row can be added to those of a card.
pub(super) fn can_be_added(said: &LotSaid, kept: &CardState) -> Result<(), RowFault> {
    if ThreadPart::ALL
        .iter()
        .all(|part| said.amount(*part).is_none())
    {
        return Err(RowFault::NothingToAdd);
    }
    // It may mean the only lot.
    let said = LotSaid {
        lot: said.lot.clone().or_else(|| only_lot(kept)),
        ..said.clone()
    };
    added(kept.card.id, &kept.thread, &in_all(&[said]))
        .map(|_| ())
        .ok_or(RowFault::TooMuch)
}

/// The total, with each lot once. Sums stay within the limits of one row, or were checked.
pub(super) fn in_all(said: &[LotSaid]) -> Thread {
    let mut all = Thread::default();
    for of in said {
        let lot = of.lot();
        all.list(lot.clone(), Label::default());
        let Some(sum) = all.lot_mut(&lot) else {
            continue;
        };
        for part in ThreadPart::ALL {
            let there = sum.amount_mut(part);
            *there = there.saturating_add(of.amount(part).unwrap_or(0));
        }
    }
    all
}

/// Refuses a hook or uncut skeins for a split card: it has no hook, and uncut skeins belong to its
/// whole card.
fn check_split_card(row: &CardRow) -> Result<(), RowFault> {
    if row.split_card_of.is_none() {
        return Ok(());
    }
    if row.hook.is_some() {
        return Err(RowFault::SplitCardHook);
    }
    if row.uncut.is_some_and(|skeins| skeins > 0) || row.part_cm.is_some_and(|cm| cm > 0) {
        return Err(RowFault::SplitCardUncut);
    }
    Ok(())
}

/// Whether a row is for a split card that isn't in the stash.
pub(super) fn is_unknown(draft: &Draft<'_>) -> bool {
    draft.row.split_card_of.is_some() && draft.known.is_none()
}

/// The position among the accepted rows of each colour's own card, by range, number and tag.
pub(super) type Own = HashMap<(RangeId, String), usize>;

/// Finds each colour's own card. O(rows).
pub(super) fn own(drafts: &[Draft<'_>]) -> Own {
    let cards = drafts.iter().enumerate();
    let cards = cards.filter(|(_, draft)| draft.row.split_card_of.is_none());
    cards
        .map(|(at, draft)| ((draft.range, draft.key()), at))
        .collect()
}

/// Adds the thread of a split card that doesn't exist to the list's values for the colour's own
/// card, so that it isn't lost.
///
/// This needs a row for that card: if the thread were added to a card that is only in the stash, it
/// would be added again with each import of the list.
pub(super) fn add_to_own(
    drafts: &mut [Draft<'_>],
    own: &Own,
    split_card: &Draft<'_>,
) -> Result<(), RowFault> {
    let number = &split_card.number;
    if split_card.lots.iter().any(|said| said.strands.is_none()) {
        return Err(RowFault::SplitCardAmount);
    }
    let own = own.get(&(split_card.range, split_card.key()));
    let own = own.and_then(|&at| drafts.get_mut(at));
    let says = |own: &&mut Draft<'_>| own.lots.iter().any(|said| said.strands.is_some());
    let unsaid = || RowFault::SplitCardUnknown(number.clone());
    let own = own.filter(says).ok_or_else(unsaid)?;
    let mut all = own.lots.clone();
    for said in &split_card.lots {
        let more = said.strands.unwrap_or_default();
        // If the list has no lots, the split card has the lot of the card itself.
        let lot = said.lot.clone().or_else(|| own.only.clone());
        let lot = lot.unwrap_or_default();
        let listed = own.known.and_then(|kept| kept.thread.listed(&lot.0));
        let lot = listed.cloned().unwrap_or(lot);
        let same = |of: &&mut LotSaid| of.lot().0.same_as(lot.as_str());
        match all.iter_mut().find(same) {
            Some(of) => {
                let there = of.strands.ok_or_else(unsaid)?;
                let sum = there.0.checked_add(more.0);
                of.strands = Some(Strands(sum.ok_or(RowFault::TooMuch)?));
            }
            None if own.in_part => return Err(unsaid()),
            None => all.push(LotSaid {
                lot: Some(lot),
                strands: Some(more),
                ..said.clone()
            }),
        }
    }
    if let Some(kept) = own.known.filter(|_| own.adds) {
        for said in &all {
            can_be_added(said, kept)?;
        }
    }
    own.lots = all;
    Ok(())
}
