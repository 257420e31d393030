//! What a row of a card list asks for, and whether it can be had.

use std::collections::{BTreeSet, HashMap};

use super::amounts::{LotSaid, can_be_added, only_lot, said};
use super::ranges::Ranges;
use super::{Terms, split_cards};
use crate::model::board::HookRef;
use crate::model::card::Tag;
use crate::model::colour::Srgb;
use crate::model::ids::{CardId, RangeId};
use crate::model::label::{Label, fold};
use crate::model::number::Number;
use crate::model::range::PutUp;
use crate::model::thread::Lot;
use crate::stash::intake::CardRow;
use crate::stash::names::written;
use crate::stash::refusal::Refusal;
use crate::stash::refusal::{Field, Rejected, RowFault};
use crate::stash::state::{CardState, State};

/// A row that can be taken as far as it speaks for itself.
pub(super) struct Draft<'a> {
    pub(super) row: &'a CardRow,
    pub(super) range: RangeId,
    pub(super) number: Number,
    /// The tag of the card, or of the card that a split card was split from.
    pub(super) tag: Tag,
    pub(super) name: Option<Label>,
    pub(super) colour: Option<Srgb>,
    pub(super) family: Option<Label>,
    pub(super) note: Option<Label>,
    pub(super) hook: Option<HookRef>,
    pub(super) known: Option<&'a CardState>,
    /// The family the card is in now; empty where it has none or is new.
    pub(super) family_now: &'a str,
    /// What kind of thread it is.
    pub(super) put_up: PutUp,
    /// What is said of thread, by the row and by further rows of the same card, each of its own lot.
    pub(super) lots: Vec<LotSaid>,
    /// Whether the amounts are added to what is there.
    pub(super) adds: bool,
    /// Whether a row of the card was refused, so that nobody knows which lots the list has of it.
    pub(super) in_part: bool,
    /// The only lot of the card that is there, where its row names none and so means that one.
    pub(super) only: Option<Lot>,
}

impl Draft<'_> {
    /// Takes in a further row of the same card, with thread of another lot.
    pub(super) fn take_in(&mut self, other: Self) -> Result<(), RowFault> {
        fn both<T: PartialEq>(
            one: &mut Option<T>,
            other: Option<T>,
            line: u64,
            field: Field,
        ) -> Result<(), RowFault> {
            match (&*one, other) {
                (Some(one), Some(other)) if *one != other => Err(RowFault::Differs { line, field }),
                (None, other) => {
                    *one = other;
                    Ok(())
                }
                _ => Ok(()),
            }
        }
        let line = self.row.line;
        both(&mut self.hook, other.hook, line, Field::Hook)?;
        both(&mut self.name, other.name, line, Field::Name)?;
        both(&mut self.colour, other.colour, line, Field::Colour)?;
        both(&mut self.family, other.family, line, Field::Family)?;
        both(&mut self.note, other.note, line, Field::Note)?;
        self.lots.extend(other.lots);
        Ok(())
    }
}

pub(super) fn label(text: Option<&String>, field: Field) -> Result<Option<Label>, RowFault> {
    text.map(|text| Label::new(text).map_err(|why| RowFault::Label(field, why)))
        .transpose()
}

impl Draft<'_> {
    /// Has the only row of a card that names no lot mean the card's only lot. Beside rows that name lots
    /// it is of another.
    pub(super) fn mean_the_only_lot(&mut self) {
        if let [said] = self.lots.as_mut_slice()
            && said.lot.is_none()
            && !self.in_part
        {
            self.only = self.known.and_then(only_lot);
            said.lot.clone_from(&self.only);
        }
    }

    /// What two drafts of one range are the same by: the number and tag as they are written, folded.
    pub(super) fn key(&self) -> String {
        fold(&written(&self.number, &self.tag))
    }
}

/// What a row asks for, or why it cannot be taken.
pub(super) fn draft<'a>(
    state: &'a State,
    ranges: &mut Ranges,
    row: &'a CardRow,
    terms: &Terms,
) -> Result<Draft<'a>, RowFault> {
    let number = Number::new(&row.number).map_err(RowFault::Number)?;
    let tag = Tag::new(row.tag.as_deref().unwrap_or_default()).map_err(RowFault::Tag)?;
    split_cards::check(row)?;
    let name = label(row.name.as_ref(), Field::Name)?;
    let family = label(row.family.as_ref(), Field::Family)?.filter(|family| !family.is_empty());
    let dye_lot = label(row.dye_lot.as_ref(), Field::DyeLot)?;
    let note = label(row.note.as_ref(), Field::Note)?;
    let hook = row
        .hook
        .as_deref()
        .map(|hook_name| hook(state, hook_name))
        .transpose()?;
    // Last, so that a row that is refused makes no range.
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
        name,
        family,
        colour: row.colour,
        note,
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

/// Rejects rows whose hook has no place left. A card whose row names the home it has keeps it. Cards
/// that the list itself moves away make room; one whose row is rejected stays, and may crowd out
/// another, so this goes round until all is quiet.
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

/// Whether a row names the hook where its card is at home already.
fn keeps_its_home(draft: &Draft<'_>) -> bool {
    draft.hook.is_some() && draft.known.and_then(|kept| kept.home) == draft.hook
}
