//! The ranges a list brings with it.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use super::RANGE_WITHOUT_NAME;
use crate::model::ids::{NewIds, RangeId};
use crate::model::label::{Label, fold};
use crate::model::number::Number;
use crate::model::range::{PutUp, Range, Shade};
use crate::stash::colours::shade;
use crate::stash::event::Change;
use crate::stash::refusal::{Refusal, RowFault};
use crate::stash::state::State;

/// A name that a range may have. Cards are called `RANGE:NUMBER`, so it has no colon.
pub(in crate::stash::command) fn range_name(name: &str) -> Result<Label, Refusal> {
    let name = Label::new(name)?;
    if name.is_empty() || name.as_str().contains(':') {
        return Err(Refusal::RangeName);
    }
    Ok(name)
}

/// The ranges of the stash and those a list adds.
pub(in crate::stash::command) struct Ranges {
    known: BTreeMap<RangeId, Range>,
    ids: NewIds<RangeId>,
    by_name: HashMap<String, RangeId>,
    new: Vec<RangeId>,
    without_name: Label,
    asked: bool,
}

impl Ranges {
    /// The ranges of the stash. Rows that name none mean `asked`, else the stash's only range, else
    /// [`RANGE_WITHOUT_NAME`].
    pub fn new(state: &State, asked: Option<&str>) -> Result<Self, Refusal> {
        let mut ranges = state.ranges();
        let without_name = match (asked, ranges.next(), ranges.next()) {
            (Some(name), ..) => range_name(name)?,
            (None, Some(only), None) => only.name.clone(),
            _ => Label::new(RANGE_WITHOUT_NAME)?,
        };
        Ok(Self {
            ids: state.new_range_ids(),
            known: state.ranges().map(|r| (r.id, r.clone())).collect(),
            by_name: state
                .ranges()
                .map(|r| (fold(r.name.as_str()), r.id))
                .collect(),
            new: Vec::new(),
            without_name,
            asked: asked.is_some(),
        })
    }

    /// Whether a range was asked for, for rows that name none.
    pub const fn is_asked(&self) -> bool {
        self.asked
    }

    /// The range of a name, made if need be.
    pub fn named(&mut self, name: Option<&str>) -> Result<RangeId, RowFault> {
        let name = match name {
            Some(name) if !name.trim().is_empty() => Label::new(name).map_err(RowFault::Range)?,
            _ => self.without_name.clone(),
        };
        if name.as_str().contains(':') {
            return Err(RowFault::RangeColon(name));
        }
        let key = fold(name.as_str());
        if let Some(&id) = self.by_name.get(&key) {
            return Ok(id);
        }
        let id = self.ids.draw();
        self.by_name.insert(key, id);
        self.new.push(id);
        self.known.insert(
            id,
            Range {
                id,
                name,
                shades: BTreeMap::new(),
                put_up: PutUp::default(),
            },
        );
        Ok(id)
    }

    /// What a range is called.
    pub fn name(&self, id: RangeId) -> &str {
        self.known.get(&id).map_or("", |range| range.name.as_str())
    }

    /// What kind of thread a range is.
    pub fn put_up(&self, id: RangeId) -> PutUp {
        self.known
            .get(&id)
            .map_or_else(PutUp::default, |range| range.put_up)
    }

    /// What a range says of a number.
    pub fn shade(&self, id: RangeId, number: &Number) -> Option<&Shade> {
        shade(self.known.get(&id)?, number).map(|(_, shade)| shade)
    }

    /// The changes that bring the new ranges in, of those that are used.
    pub fn changes(&self, used: &BTreeSet<RangeId>) -> impl Iterator<Item = Change> {
        self.new
            .iter()
            .filter(|id| used.contains(id))
            .filter_map(|id| self.known.get(id))
            .map(|range| Change::Range {
                before: None,
                after: Some(range.clone()),
            })
    }
}
