//! What follows when a change is on disk, or is not, and when a file was read.

use jiff::Timestamp;

use super::{families, lists, matching, project, rollcall};
use crate::exchange::read_key;
use crate::model::whereabouts::Whereabouts;
use crate::stash::command::rehang::to_hang;
use crate::stash::command::{import, key};
use crate::stash::event::Act;
use crate::stash::history::UndoEntry;
use crate::stash::projects::low::low_of;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::text;
use crate::text::files::{file_error, rejected};
use crate::text::refusal::row_fault;
use crate::tui::app::project::Project;
use crate::tui::app::welcome::{Progress, Welcome};
use crate::tui::app::{App, Intake, Mode, Purpose, Stash};
use crate::tui::message::{Effect, Want};
use crate::tui::screen::beneath;
use crate::tui::screens::hang;
use crate::tui::screens::rehang;
use crate::tui::view::shown;

pub(super) fn recorded(
    app: &mut App,
    stash: Stash<'_>,
    result: Result<Act, String>,
) -> Vec<Effect> {
    let state = stash.state;
    let act = match result {
        Ok(act) => act,
        Err(wrong) => {
            match &mut app.mode {
                Mode::Form(form) => form.wrong = Some(wrong),
                _ => app.complain(wrong),
            }
            return Vec::new();
        }
    };
    if let Act::Take { .. } = act {
        app.chosen.clear();
    }
    match (&mut app.mode, &act) {
        (Mode::Form(form), _) => {
            let purpose = form.purpose;
            app.mode = match purpose {
                Purpose::NewProject => opened_page(state, &act),
                _ => form.back.clone().mode(),
            };
            // A new line stands at the end of the key, and is looked at.
            if let (Purpose::KeyLine(ring, None), Mode::Project(page)) = (purpose, &mut app.mode) {
                let lines = state.ring(ring).map_or(0, |ring| ring.key.len());
                page.at = lines.saturating_sub(1);
            }
            if let Purpose::ChangeCard(card) = purpose
                && let Some(kept) = state.card(card)
            {
                app.say(format!(
                    "card {card} is changed",
                    card = state.card_name(kept)
                ));
            }
            match app.mode {
                Mode::Pull(_) => fetched(app, state, &act),
                Mode::Families(_) => families::recorded(app, state, &act),
                _ => {}
            }
        }
        (Mode::Pull(_), _) => fetched(app, state, &act),
        (Mode::Families(_), _) => families::recorded(app, state, &act),
        (Mode::Intake(intake), _) => app.mode = lists::after_key(state, &intake.project),
        (Mode::Design(design), _) => {
            let back = design.back.clone();
            if let Act::NewBoard { board } = act {
                let at = state.boards().position(|up| up.id == board);
                app.eye.board = at.unwrap_or(app.eye.board);
            }
            app.mode = back.mode();
            let waiting = Progress::of(state).to_hang;
            if waiting > 0 && matches!(app.mode, Mode::Board) {
                app.say(format!("the board is made; g hangs what waits: {waiting}"));
            }
        }
        // What was imported or bought is to be hung.
        (Mode::Buy(buy), Act::Bought { .. }) => {
            let replaced = std::mem::take(&mut buy.replaced);
            app.mode = buy.page.map_or(Mode::Rings(0), Mode::Project);
            let replaced = replaced.iter().filter_map(|&card| state.card(card));
            let replaced: Vec<String> = replaced
                .map(|kept| text::thread::replaced(state, kept))
                .collect();
            if !replaced.is_empty() {
                app.say(replaced.join("; "));
            }
            if to_hang(state).next().is_some() {
                return beneath(app, stash, rehang::open_plans);
            }
        }
        (Mode::Matching(matching), _) => {
            if let Some(said) = matching.imported() {
                app.say(said);
            }
            let progress = Progress::of(state);
            if progress.boards == 0 {
                app.mode = Mode::Welcome(Welcome::new(state));
                return Vec::new();
            }
            app.mode = Mode::Board;
            if to_hang(state).next().is_some() {
                return beneath(app, stash, rehang::open_plans);
            }
        }
        (Mode::Board, Act::Rehang { card } | Act::HangHome { card }) if app.notice.is_none() => {
            hang::hung(app, state, *card);
        }
        (Mode::RollCall(_), _) => rollcall::recorded(app, state, &act),
        _ => {}
    }
    if let Mode::Welcome(page) = &mut app.mode {
        *page = Welcome::new(state);
    }
    if let (Mode::Project(page), Act::Use { card, .. }) = (&app.mode, &act)
        && let Some(low) = state
            .ring(page.ring)
            .and_then(|ring| low_of(state, ring, *card))
    {
        app.complain(text::thread::low(state, &low));
    }
    let listed = matches!(
        app.mode,
        Mode::Board | Mode::Rings(_) | Mode::Project(_) | Mode::Families(_) | Mode::Welcome(_)
    );
    if listed && app.notice.is_none() {
        app.say(said(stash, &act));
    }
    Vec::new()
}

/// The page of the project that was begun.
fn opened_page(state: &State, act: &Act) -> Mode {
    match act {
        Act::OpenRing { ring } if state.ring(*ring).is_some() => Mode::Project(Project::of(*ring)),
        _ => Mode::Rings(0),
    }
}

/// Counts what was fetched and goes on with the walk.
fn fetched(app: &mut App, state: &State, act: &Act) {
    if let Mode::Pull(pull) = &mut app.mode {
        pull.done += match act {
            Act::Take { cards, .. } => usize::try_from(*cards).unwrap_or(usize::MAX),
            Act::Split { .. } => 1,
            _ => 0,
        };
    }
    project::follow_pull(app, state);
}

/// What an act was, in words, and what the hands have to do for it; for an undo or a redo, what it took
/// back or did again.
pub(in crate::tui) fn said(stash: Stash<'_>, act: &Act) -> String {
    let state = stash.state;
    let words = |past: Option<&UndoEntry>| {
        past.map_or_else(String::new, |past| text::history::act(state, &past.act))
    };
    let last = stash.history.last_done();
    match act {
        Act::Undo { .. } => {
            let undone = stash.history.last_undone();
            format!(
                "taken back: {words}{now}",
                words = words(undone),
                now = undone.map_or_else(String::new, |past| put_right(state, past))
            )
        }
        Act::Redo { .. } => format!(
            "done again: {words}{now}",
            words = words(last),
            now = last.map_or_else(String::new, |past| put_right(state, past))
        ),
        Act::Missing { cards: 1 } => match last
            .and_then(|past| past.event.moved().next())
            .and_then(|card| state.card(card))
        {
            Some(kept) => format!(
                "{card} is declared missing; u takes it back",
                card = state.card_name(kept)
            ),
            _ => text::history::act(state, act),
        },
        Act::Found { card } => {
            let what = text::history::act(state, act);
            let place = state.card(*card).map(|kept| &kept.place.at);
            match place {
                Some(Whereabouts::Hook { hook }) => {
                    format!("{what}: hang it on {hook}", hook = state.hook_name(*hook))
                }
                Some(Whereabouts::Unhung) => {
                    format!("{what}: it is to hang, since it has no hook yet")
                }
                _ => what,
            }
        }
        act => text::history::act(state, act),
    }
}

/// What the hands have to do after an event was taken back or done again, so that the wall is as the
/// record says: `; hang it on G11 again`. Nothing where no card moved.
fn put_right(state: &State, past: &UndoEntry) -> String {
    let mut cards = past.event.moved().filter_map(|card| state.card(card));
    let (Some(kept), others) = (cards.next(), cards.count()) else {
        return String::new();
    };
    if others > 0 {
        return "; the board shows where the cards belong now".to_owned();
    }
    format!("; {}", text::places::again(state, kept, &past.act))
}

/// A list was read: shows what would come of it, or says in the form what is wrong.
pub(super) fn file_read(
    app: &mut App,
    state: &State,
    path: &str,
    want: &Want,
    bytes: Result<Vec<u8>, String>,
) {
    let read = match (bytes, want) {
        (Ok(bytes), Want::CardList { range }) => {
            matching::open(app, state, (path, range), bytes);
            return;
        }
        (Ok(bytes), Want::Key { project, range }) => {
            key_read(state, shown(path), (project, range), &bytes, app.now)
        }
        (Err(wrong), _) => Err(wrong),
    };
    match (read, &mut app.mode) {
        (Ok(intake), _) => app.mode = Mode::Intake(intake),
        (Err(wrong), Mode::Form(form)) => form.wrong = Some(wrong),
        (Err(wrong), _) => app.complain(wrong),
    }
}

/// What would come of a key.
fn key_read(
    state: &State,
    file: String,
    (project, range): (&str, &str),
    bytes: &[u8],
    now: Timestamp,
) -> Result<Intake, String> {
    let terms = import::Terms {
        range: Some(range.to_owned()).filter(|range| !range.is_empty()),
        ..import::Terms::default()
    };
    let list = read_key(bytes).map_err(|error| file_error(&error))?;
    let keyed = key::import(
        state,
        &list.rows,
        rejected(&list.rejected),
        project,
        &terms,
        now,
    );
    Ok(Intake {
        file,
        project: project.to_owned(),
        keyed: keyed.map_err(said_of_rows)?,
        ignored: list.ignored,
        top: 0,
    })
}

/// Why a list was refused, without the words about options that the screen does not have.
fn said_of_rows(refusal: Refusal) -> String {
    match refusal {
        Refusal::RowsRejected { every, .. } if !every.is_empty() => format!(
            "No row can be taken. Line {line}: {reason}",
            line = every[0].line,
            reason = row_fault(&every[0].reason)
        ),
        refusal => text::refusal::sentence(&refusal),
    }
}
