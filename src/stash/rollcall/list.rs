//! A written list of what was seen, judged by the stash.

use std::collections::BTreeMap;

use super::Sighting;
use crate::model::board::HookRef;
use crate::model::ids::CardId;
use crate::model::label::fold;
use crate::stash::command::import;
use crate::stash::refusal::Refusal;
use crate::stash::refusal::{Rejected, RowFault};
use crate::stash::state::{CardState, State};

/// One row of a list of what was seen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SeenRow {
    /// Line of the file where the row starts, counted from 1 (the header is line 1).
    pub line: u64,
    /// The mark of the hook, trimmed, never empty.
    pub hook: String,
    /// The number on a card that hung there; `None` where the hook was empty.
    pub number: Option<String>,
    /// The maker's range.
    pub range: Option<String>,
}

/// A number that no card of the stash has.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Unknown {
    /// Line of the file, counted from 1.
    pub line: u64,
    /// What was written: `NUMBER` or `RANGE:NUMBER`.
    pub text: String,
}

/// A list, understood.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Seen {
    /// What hung on each hook that was walked.
    pub sightings: Vec<Sighting>,
    /// Numbers that were seen and that no card of the stash has.
    pub unknown: Vec<Unknown>,
}

/// The card of a number seen on a hook. Where several ranges have that number, the card that hangs or
/// lives on that hook is meant. `None` where no card has it.
///
/// # Errors
/// When it could be one of several cards.
pub fn card_seen(
    state: &State,
    hook: HookRef,
    number: &str,
    range: Option<&str>,
) -> Result<Option<CardId>, Refusal> {
    let name = range.map_or_else(|| number.to_owned(), |range| format!("{range}:{number}"));
    let choices = match state.find_card(&name) {
        Ok(card) => return Ok(Some(card)),
        Err(Refusal::UnknownCard { .. }) => return Ok(None),
        Err(ambiguous) => ambiguous,
    };
    let here = |kept: &&CardState| {
        let whole = kept.card.parent.is_none();
        whole && (kept.home == Some(hook) || kept.place.at.hook() == Some(hook))
    };
    let alike = state.index().numbered(&fold(number));
    let alike = alike.iter().filter_map(|&(_, id)| state.card(id));
    let mut near = alike.filter(here);
    match (near.next(), near.next()) {
        (Some(one), None) => Ok(Some(one.card.id)),
        _ => Err(choices),
    }
}

/// What the rows of a list say was seen. The hooks of the rows were walked, and so were those of
/// `walked`, where nothing hung unless a row says so. O(rows · log cards).
///
/// # Errors
/// When a row cannot be understood: then none counts, since a card of that row would be taken for
/// missing.
pub fn sightings(
    state: &State,
    rows: &[SeenRow],
    mut rejected: Vec<Rejected>,
    walked: impl IntoIterator<Item = HookRef>,
) -> Result<Seen, Refusal> {
    let total = rows.len() + rejected.len();
    let mut by_hook: BTreeMap<HookRef, Vec<CardId>> = BTreeMap::new();
    let mut unknown = Vec::new();
    let mut order: Vec<HookRef> = walked.into_iter().collect();
    for row in rows {
        let mut read = || -> Result<(), Refusal> {
            let hook = state.find_hook(&row.hook)?;
            order.push(hook);
            let Some(number) = &row.number else {
                return Ok(());
            };
            match card_seen(state, hook, number, row.range.as_deref())? {
                Some(card) => by_hook.entry(hook).or_default().push(card),
                None => unknown.push(Unknown {
                    line: row.line,
                    text: match &row.range {
                        Some(range) => format!("{range}:{number}"),
                        None => number.clone(),
                    },
                }),
            }
            Ok(())
        };
        match read() {
            Ok(()) => {}
            Err(Refusal::NoBoard) => return Err(Refusal::NoBoard),
            Err(refusal) => rejected.push(Rejected {
                line: row.line,
                reason: RowFault::Refused(Box::new(refusal)),
                number: None,
            }),
        }
    }
    import::settle(&mut rejected, total, true)?;
    let sightings = order.into_iter().map(|hook| Sighting {
        hook,
        cards: by_hook.remove(&hook).unwrap_or_default(),
    });
    Ok(Seen {
        sightings: sightings.collect(),
        unknown,
    })
}
