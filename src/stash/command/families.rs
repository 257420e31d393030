//! The families a list brings with it, and where the wall has them.

use std::collections::HashMap;

use crate::engine::colour_families::{EverydayFamily, family_of};
use crate::model::board::HookRef;
use crate::model::colour::Srgb;
use crate::model::family::Family;
use crate::model::ids::{BoardId, FamilyId, NewIds};
use crate::model::label::{Label, fold};
use crate::stash::event::Change;
use crate::stash::state::State;

/// The families of the stash and those a list adds.
pub(super) struct Families {
    by_name: HashMap<String, FamilyId>,
    ids: NewIds<FamilyId>,
    new: Vec<New>,
}

struct New {
    family: Family,
    /// Its place among everyday families, where its colours put it there.
    everyday: Option<EverydayFamily>,
    /// Where its cards hang: board and place in reading order.
    hangs: Vec<(BoardId, u32)>,
}

impl Families {
    pub fn new(state: &State) -> Self {
        Self {
            by_name: state
                .families()
                .iter()
                .map(|family| (fold(family.name.as_str()), family.id))
                .collect(),
            ids: state.new_family_ids(),
            new: Vec::new(),
        }
    }

    /// The family of a name, made if need be.
    pub fn named(&mut self, name: &Label) -> FamilyId {
        self.get(name, None)
    }

    /// The everyday family of a colour, made if need be.
    pub fn of_colour(&mut self, colour: Srgb) -> FamilyId {
        let everyday = family_of(colour);
        // The names are our own and short, so they are labels.
        let name = Label::new(everyday.name()).unwrap_or_default();
        self.get(&name, Some(everyday))
    }

    fn get(&mut self, name: &Label, everyday: Option<EverydayFamily>) -> FamilyId {
        *self.by_name.entry(fold(name.as_str())).or_insert_with(|| {
            let id = self.ids.draw();
            self.new.push(New {
                family: Family {
                    id,
                    name: name.clone(),
                    held: false,
                },
                everyday,
                hangs: Vec::new(),
            });
            id
        })
    }

    /// A card of this family hangs on that hook.
    pub fn seen_at(&mut self, id: FamilyId, state: &State, hook: HookRef) {
        // New ones are in the order of their ids.
        let new = self.new.binary_search_by_key(&id, |new| new.family.id);
        if let (Ok(at), Some(board)) = (new, state.board(hook.board)) {
            self.new[at]
                .hangs
                .push((hook.board, board.reading_index(hook)));
        }
    }

    /// The change that adds the new families after the known ones: first those that hang already,
    /// in the order of the wall (by the middle card of each), then those named in the list in its
    /// order, then those worked out from colours in everyday order.
    pub fn change(mut self, state: &State) -> Option<Change> {
        if self.new.is_empty() {
            return None;
        }
        self.new.sort_by_key(|new| {
            let mut hangs = new.hangs.clone();
            hangs.sort_unstable();
            let middle = hangs.get(hangs.len() / 2).copied();
            (middle.is_none(), middle, new.everyday)
        });
        let before = state.families().to_vec();
        let mut after = before.clone();
        after.extend(self.new.into_iter().map(|new| new.family));
        Some(Change::Families { before, after })
    }
}
