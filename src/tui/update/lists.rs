//! Keys in lists: rings, cards not at home, a list to bring in, the help, a question.

use super::project::forms;
use super::{commit, form, look_at, paper, project, put_away, stepped};
use crate::model::ids::RingId;
use crate::model::ring::{Ring, RingState};
use crate::stash::command::ring;
use crate::stash::state::State;
use crate::tui::app::project::Project;
use crate::tui::app::{App, Form, Mode, ReturnTo, Stash};
use crate::tui::keymap::Action;
use crate::tui::message::Effect;

/// The rings that are not closed, the longest hanging first, then as they were opened.
#[must_use]
pub fn open_rings(state: &State) -> Vec<&Ring> {
    let mut rings: Vec<&Ring> = state.rings().filter(|ring| !ring.is_closed()).collect();
    rings.sort_by_key(|ring| match ring.state {
        RingState::Hanging { since, .. } => (0, since, ring.id),
        _ => (1, ring.opened, ring.id),
    });
    rings
}

/// Every ring as the list shows them: the open ones, then the closed ones, the last closed first.
#[must_use]
pub fn listed_rings(state: &State) -> Vec<&Ring> {
    let closed_at = |ring: &Ring| match ring.state {
        RingState::Closed { at } => Some(at),
        _ => None,
    };
    let mut closed: Vec<&Ring> = state.rings().filter(|ring| ring.is_closed()).collect();
    closed.sort_by_key(|ring| (std::cmp::Reverse(closed_at(ring)), ring.id));
    let mut rings = open_rings(state);
    rings.append(&mut closed);
    rings
}

/// The list of rings with one of them chosen.
pub(super) fn rings_at(state: &State, ring: RingId) -> Mode {
    let at = listed_rings(state)
        .iter()
        .position(|listed| listed.id == ring);
    Mode::Rings(at.unwrap_or(0))
}

pub(super) fn rings(app: &mut App, stash: Stash<'_>, action: Action) -> Vec<Effect> {
    let Mode::Rings(at) = app.mode else {
        return Vec::new();
    };
    let (state, now) = (stash.state, app.now);
    let listed = listed_rings(state);
    let at = stepped(at, listed.len(), action);
    app.mode = Mode::Rings(at);
    if action == Action::Cancel {
        app.mode = Mode::Board;
        return Vec::new();
    }
    match action {
        Action::NewProject => {
            let form = forms::new_project();
            let back = ReturnTo::Rings(at);
            app.mode = Mode::Form(Form { back, ..form });
            return Vec::new();
        }
        Action::Buy => {
            project::buy_for_all(app, state);
            return Vec::new();
        }
        _ => {}
    }
    let Some(&ring) = listed.get(at) else {
        app.complain("there is no ring yet: n begins a project; or choose cards and press t");
        return Vec::new();
    };
    match (action, ring.state) {
        (Action::Up | Action::Down, RingState::Hanging { hook, .. }) => {
            look_at(app, state, hook);
            Vec::new()
        }
        (Action::Accept, _) => {
            app.mode = Mode::Project(Project::of(ring.id));
            Vec::new()
        }
        (Action::Close, RingState::Closed { .. }) => {
            commit(app, stash, ring::open(state, ring.project.as_str(), now))
        }
        (Action::Select | Action::PutAway, RingState::Closed { .. }) => {
            app.complain(format!(
                "'{project}' is closed; c reopens it",
                project = ring.project
            ));
            Vec::new()
        }
        (Action::Select, _) => {
            if !app.chosen_rings.remove(&ring.id) {
                app.chosen_rings.insert(ring.id);
            }
            Vec::new()
        }
        (Action::Print, _) => {
            let form = paper::form("ring", ring.project.as_str());
            let back = ReturnTo::Rings(at);
            app.mode = Mode::Form(Form { back, ..form });
            Vec::new()
        }
        (Action::PutAway, _) => put_away(app, stash, ring),
        (Action::HangUp, RingState::Hanging { .. }) => commit(app, stash, ring::take_down(ring)),
        (Action::HangUp, _) => {
            let hook_name = app.hook(state).map(|hook| state.hook_name(hook));
            let form = form::hang_up(ring.id, &hook_name.unwrap_or_default());
            let back = ReturnTo::Rings(at);
            app.mode = Mode::Form(Form { back, ..form });
            Vec::new()
        }
        (Action::Close, _) => commit(app, stash, ring::close(state, ring, now)),
        _ => Vec::new(),
    }
}

/// What is on the screen after a key: the page of its project, or the rings where there is none yet.
pub(super) fn after_key(state: &State, project: &str) -> Mode {
    let ring = state.find_ring(project);
    ring.map_or(Mode::Rings(0), |ring| Mode::Project(Project::of(ring.id)))
}

pub(super) fn intake(app: &mut App, stash: Stash<'_>, action: Action) -> Vec<Effect> {
    let Mode::Intake(intake) = &mut app.mode else {
        return Vec::new();
    };
    intake.top = stepped(intake.top, intake.keyed.rejected.len(), action);
    let back = after_key(stash.state, &intake.project);
    match (action, intake.keyed.event.clone()) {
        (Action::Accept, Some(event)) => return commit(app, stash, Ok(event)),
        (Action::Accept, None) => {
            app.mode = back;
            app.say("the list says nothing new");
        }
        (Action::Cancel, _) => app.mode = back,
        _ => {}
    }
    Vec::new()
}
