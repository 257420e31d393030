//! Filling in forms: a board, a ring's name, a file, a card.

use super::board::chosen;
use super::project::forms;
use super::{card_form, commit, families, paper};
use crate::model::board::HookRef;
use crate::model::ids::RingId;
use crate::model::ring::Ring;
use crate::stash::command::board::Unhang;
use crate::stash::command::progress::{self, Progress};
use crate::stash::command::{board, card, fabric, key, ring, thread};
use crate::stash::event::Event;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::text::values::percent_error;
use crate::text::{capital, list};
use crate::tui::app::{App, Form, FormField, Mode, Purpose, ReturnTo, Stash, cards_at};
use crate::tui::field::{Field, LeftOut};
use crate::tui::key::Key;
use crate::tui::keymap::Action;
use crate::tui::message::{Effect, Want};
use crate::tui::refused::on_screen;

pub(super) fn blank(label: &'static str, hint: &'static str, text: &str) -> FormField {
    FormField {
        label,
        hint,
        field: Field::offered(text),
    }
}

pub(super) fn form(purpose: Purpose, title: impl Into<String>, blanks: Vec<FormField>) -> Form {
    Form {
        purpose,
        back: ReturnTo::Board,
        title: title.into(),
        blanks,
        at: 0,
        wrong: None,
        offers: Vec::new(),
    }
}

pub(super) fn take(state: &State) -> Form {
    let rings = super::open_rings(state);
    let open = list(rings.iter().map(|ring| ring.project.to_string()));
    let title = if open.is_empty() {
        "Take to a project ring".to_owned()
    } else {
        format!("Take to a project ring (open: {open})")
    };
    let hint = if open.is_empty() {
        "a name makes a new ring"
    } else {
        "a new name makes a new ring; Down and Up go through the open ones"
    };
    let project = blank("project", hint, "");
    form(Purpose::Take, title, vec![project])
}

pub(super) fn import(state: &State) -> Form {
    let mut ranges = state.ranges();
    let range = match (ranges.next(), ranges.next()) {
        (Some(only), None) => only.name.as_str(),
        _ => "",
    };
    let blanks = vec![
        blank(
            "file",
            "a CSV file, as a spreadsheet saves it; Tab completes",
            "",
        ),
        blank(
            "range",
            "the maker's name for the row of numbers; may be empty",
            range,
        ),
    ];
    form(Purpose::Import, "Import a card list", blanks)
}

pub(super) fn hang_up(ring: RingId, hook_name: &str) -> Form {
    let hook = blank("hook", "its name, such as C07", hook_name);
    form(
        Purpose::HangUp(ring),
        "Leave the ring on a hook",
        vec![hook],
    )
}

pub(super) fn block(state: &State, hook: HookRef) -> Form {
    let hook_name = state.hook_name(hook);
    let title = match cards_at(state, hook).len() {
        0 => format!("Block hook {hook_name}"),
        1 => format!("Block hook {hook_name}: its card is to hang"),
        n => format!("Block hook {hook_name}: its {n} cards are to hang"),
    };
    let why = blank("why", "bracket, light, out of reach ...", "");
    form(Purpose::Block(hook), title, vec![why])
}

/// The line that is being written.
fn current(form: &mut Form) -> Option<&mut Field> {
    form.wrong = None;
    form.offers.clear();
    form.blanks.get_mut(form.at).map(|blank| &mut blank.field)
}

pub(super) fn typed(form: &mut Form, key: Key) {
    if let Some(field) = current(form) {
        field.press(key);
    }
}

pub(super) fn paste(form: &mut Form, text: &str) -> LeftOut {
    current(form).map_or_else(LeftOut::default, |field| field.insert(text))
}

pub(super) fn act(app: &mut App, stash: Stash<'_>, action: Action) -> Vec<Effect> {
    let Mode::Form(form) = &mut app.mode else {
        return Vec::new();
    };
    let last = form.blanks.len().saturating_sub(1);
    match action {
        Action::Complete if form.blanks.get(form.at).is_some_and(|b| b.label == "file") => {
            let typed = current(form).map(|field| field.text().to_owned());
            let typed = typed.unwrap_or_default();
            return vec![Effect::ListFiles { typed }];
        }
        Action::Complete => return act(app, stash, Action::Next),
        Action::Next | Action::Previous if form.purpose == Purpose::Take => {
            offer(form, stash.state, action);
        }
        Action::Next => form.at = if form.at == last { 0 } else { form.at + 1 },
        Action::Previous => form.at = form.at.checked_sub(1).unwrap_or(last),
        Action::Accept if lacks_its_file(form) => {
            form.wrong = Some("write where the file is, such as ~/cards.csv".to_owned());
        }
        Action::Accept if form.at < last => form.at += 1,
        Action::Accept | Action::Save => return done(app, stash),
        Action::Cancel => app.mode = form.back.clone().mode(),
        _ => {}
    }
    Vec::new()
}

/// Whether the line that is written wants a file and has none.
fn lacks_its_file(form: &Form) -> bool {
    let wanted = matches!(form.purpose, Purpose::Import | Purpose::ImportKey(_));
    let here = form.blanks.get(form.at);
    wanted && here.is_some_and(|b| b.label == "file" && b.field.text().trim().is_empty())
}

/// Files were found: what they have in common is written, and where there are several they are
/// offered.
pub(super) fn files(app: &mut App, typed: &str, found: Vec<String>) {
    let Mode::Form(form) = &mut app.mode else {
        return;
    };
    let blank = form.blanks.get_mut(form.at);
    let Some(blank) = blank.filter(|b| b.label == "file" && b.field.text() == typed) else {
        return;
    };
    let Some(first) = found.first() else {
        form.wrong = Some(match typed {
            "" => "there is no file here: type where it is, such as ~/cards.csv".to_owned(),
            typed => format!("no file begins with '{typed}'"),
        });
        return;
    };
    let alike = |a: &str, b: &str| {
        let same = a.chars().zip(b.chars()).take_while(|(x, y)| x == y);
        same.map(|(c, _)| c.len_utf8()).sum()
    };
    let common = found.iter().map(|path| alike(first, path)).min();
    let common = first.get(..common.unwrap_or(0)).unwrap_or_default();
    if common.len() > typed.len() {
        blank.field = Field::with(common);
    }
    form.offers = match found.len() {
        1 => Vec::new(),
        _ => found,
    };
}

/// Writes the next open ring, or the one before, into the only line of the form.
fn offer(form: &mut Form, state: &State, action: Action) {
    let rings = super::open_rings(state);
    let Some(field) = current(form) else { return };
    let at = rings
        .iter()
        .position(|ring| ring.project.same_as(field.text()));
    let last = rings.len().saturating_sub(1);
    let next = match (at, action) {
        (None, Action::Previous) => last,
        (None, _) => 0,
        (Some(at), Action::Previous) => at.checked_sub(1).unwrap_or(last),
        (Some(at), _) if at == last => 0,
        (Some(at), _) => at + 1,
    };
    if let Some(ring) = rings.get(next) {
        *field = Field::offered(ring.project.as_str());
    }
}

/// The form is filled in: asks for what it was for, or says what is wrong with it.
fn done(app: &mut App, stash: Stash<'_>) -> Vec<Effect> {
    let Mode::Form(form) = &app.mode else {
        return Vec::new();
    };
    let text = |label: &str| {
        let blank = form.blanks.iter().find(|blank| blank.label == label);
        blank.map_or("", |blank| blank.field.text().trim())
    };
    let (state, now) = (stash.state, app.now);
    let event = match form.purpose {
        Purpose::Import => {
            return vec![Effect::ReadFile {
                path: text("file").to_owned(),
                want: Want::CardList {
                    range: text("range").to_owned(),
                },
            }];
        }
        Purpose::Take => say(ring::take(state, text("project"), &chosen(app, stash), now)),
        Purpose::Elsewhere => {
            let cards = chosen(app, stash);
            say(card::elsewhere(state, &cards, text("where"), None, now))
        }
        Purpose::Remove => say(card::remove(state, &chosen(app, stash), text("why"))),
        Purpose::NewCard => {
            card_form::written(&text).and_then(|row| card_form::new_event(state, row, now))
        }
        Purpose::ChangeCard(id) => card_form::changed(state, id, &text)
            .and_then(|row| card_form::change_event(state, id, row, now)),
        Purpose::HangUp(id) => {
            on(state, id).and_then(|ring| say(ring::hang_up(state, ring, text("hook"), now)))
        }
        Purpose::NewProject => {
            let project = text("project").to_owned();
            if !text("file").is_empty() {
                return vec![Effect::ReadFile {
                    path: text("file").to_owned(),
                    want: Want::Key {
                        project,
                        range: text("range").to_owned(),
                    },
                }];
            }
            say(ring::open(state, &project, now))
        }
        Purpose::ImportKey(id) => {
            let project = state.ring(id).map(|ring| ring.project.to_string());
            return vec![Effect::ReadFile {
                path: text("file").to_owned(),
                want: Want::Key {
                    project: project.unwrap_or_default(),
                    range: text("range").to_owned(),
                },
            }];
        }
        Purpose::KeyLine(id, at) => on(state, id).and_then(|ring| {
            let old = at.and_then(|at| ring.key.get(at));
            let row = forms::key_row(&text, old)?;
            let event = key::write(state, ring, at, &row);
            something(event, "the line says just that already")
        }),
        Purpose::Fabric(id) => on(state, id).and_then(|ring| {
            let said = forms::said(&text)?;
            something(fabric::set(ring, &said), "that is what it says already")
        }),
        Purpose::Split(id, card) => on(state, id).and_then(|ring| {
            let amount = forms::amount(state, card, &text)?;
            let project = ring.project.as_str();
            say(thread::split(
                state,
                project,
                card,
                amount,
                None,
                text("label"),
                now,
            ))
        }),
        Purpose::Progress(id) => on(state, id).and_then(|ring| {
            let percent = text("percent")
                .parse()
                .map_err(|wrong| capital(&percent_error(&wrong)))?;
            let of = text("of");
            let colour = Some(of).filter(|of| !of.eq_ignore_ascii_case(forms::ALL));
            let said = progress::set(state, ring, Progress::Done { colour, percent });
            something(said, "that is what is known already")
        }),
        Purpose::Use(id, card) => on(state, id).and_then(|ring| {
            let amount = forms::amount(state, card, &text)?;
            say(thread::use_thread(state, Some(ring), card, amount, None))
        }),
        Purpose::Paper => match paper::asked(app, state, &text) {
            Ok(effect) => return vec![effect],
            Err(wrong) => Err(wrong),
        },
        purpose @ (Purpose::NewFamily | Purpose::RenameFamily(_)) => {
            say(families::filled_in(state, purpose, text("name")))
        }
        Purpose::Block(hook) => {
            let hook_name = state.hook_name(hook);
            say(board::block(
                state,
                &hook_name,
                text("why"),
                Unhang::Allowed,
                now,
            ))
        }
    };
    match event {
        Ok(event) => commit(app, stash, Ok(event)),
        Err(wrong) => {
            if let Mode::Form(form) = &mut app.mode {
                form.wrong = Some(wrong);
            }
            Vec::new()
        }
    }
}

/// The ring that a form is about.
fn on(state: &State, ring: RingId) -> Result<&Ring, String> {
    let ring = state.ring(ring);
    ring.ok_or_else(|| "that ring is gone".to_owned())
}

/// The event, or that nothing would change.
fn something(event: Result<Option<Event>, Refusal>, same: &str) -> Result<Event, String> {
    match event {
        Ok(Some(event)) => Ok(event),
        Ok(None) => Err(same.to_owned()),
        Err(refusal) => Err(on_screen(&refusal)),
    }
}

fn say(event: Result<Event, Refusal>) -> Result<Event, String> {
    event.map_err(|refusal| on_screen(&refusal))
}

pub(super) fn whole<T: std::str::FromStr>(text: &str, what: &str) -> Result<T, String> {
    text.parse()
        .map_err(|_| format!("{what}: '{text}' is not a whole number that can be kept"))
}
