//! The name of a family: a new one, or another for one that is there.

use crate::model::ids::FamilyId;
use crate::stash::command::family;
use crate::stash::state::State;
use crate::tui::app::screen::Context;
use crate::tui::screens::form::{Asks, Fields, Form, Input, Wrong, inputs};

/// A family's name.
#[derive(Clone, Debug)]
pub struct FamilyName {
    /// Which family; `None` = a new one.
    family: Option<FamilyId>,
    name: Input,
}

impl FamilyName {
    /// The form for a family, or a new one.
    #[must_use]
    pub fn form(state: &State, family: Option<FamilyId>) -> Form<Self> {
        let is = family.and_then(|family| state.family(family));
        let is = is.map_or("", |family| family.name.as_str());
        let name = Input::text("name", "what you call it", is);
        Form::new(Self { family, name })
    }
}

impl Fields for FamilyName {
    fn title(&self, state: &State) -> String {
        match self.family.and_then(|family| state.family(family)) {
            Some(family) => format!("Another name for {name}", name = family.name),
            None => "Make a family".to_owned(),
        }
    }

    inputs!(name);

    fn done(&self, context: &mut Context<'_>) -> Result<Asks, Wrong> {
        let state = context.stash.state;
        let name = self.name.value();
        let event = match self.family.and_then(|family| state.family(family)) {
            Some(family) => family::rename(state, family.name.as_str(), name)?,
            None => family::add(state, name)?,
        };
        Ok(event.into())
    }
}
