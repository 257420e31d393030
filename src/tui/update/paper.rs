//! What goes on paper or into a file, and where.

use std::path::PathBuf;

use super::form::{self, blank};
use crate::exchange::export::{as_csv, as_json};
use crate::model::whereabouts::Whereabouts;
use crate::print::board_map::board_maps;
use crate::print::buy_list::for_projects;
use crate::print::hook_labels::{self, hook_labels};
use crate::print::labels::labels;
use crate::print::page::Document;
use crate::print::paper::{Paper, Sheet};
use crate::print::ring_card::{self, ring_card};
use crate::print::write::{html, svg_files};
use crate::stash::projects::kit::{rings_in_use, rings_named};
use crate::stash::state::{CardState, State};
use crate::text::list;
use crate::text::refusal::sentence;
use crate::text::{capital, export};
use crate::tui::app::{App, Form, FormField, Mode, Purpose};
use crate::tui::keymap::Action;
use crate::tui::message::Effect;
use crate::tui::refused::on_screen;

/// The form that asks what goes on paper. The file is named after it where no name is written.
pub(super) fn form(what: &str, of: &str) -> Form {
    let blanks = vec![
        blank(
            "what",
            "labels, hook labels, ring, board, buy; or export: csv, json",
            what,
        ),
        blank(
            "of",
            "a project; labels: new, or empty: the chosen ones, or all",
            of,
        ),
        blank("paper", "A4 or letter; a4 wide: the long side on top", "A4"),
        blank(
            "file",
            "ends in .html or .svg; empty: named after it, here",
            "",
        ),
    ];
    form::form(Purpose::Paper, "Print, or export to a file", blanks)
}

/// Whether an action is about to say that the form is filled in.
pub(super) fn ends(app: &App, action: Action) -> bool {
    let Mode::Form(form) = &app.mode else {
        return false;
    };
    let on_last = form.at + 1 == form.blanks.len();
    let done = action == Action::Save || (action == Action::Accept && on_last);
    done && form.purpose == Purpose::Paper
}

/// Puts the cursor on the line that what is wrong with the form begins with.
pub(super) fn to_its_line(app: &mut App) {
    let Mode::Form(form) = &mut app.mode else {
        return;
    };
    let Some(wrong) = &form.wrong else { return };
    let about = |blank: &FormField| {
        let rest = wrong.strip_prefix(blank.label);
        rest.is_some_and(|rest| rest.starts_with(':'))
    };
    if let Some(at) = form.blanks.iter().position(about) {
        form.at = at;
    }
}

/// The files that were asked for, still to be written; or what is wrong with the form.
pub(super) fn asked<'a>(
    app: &App,
    state: &State,
    text: &impl Fn(&str) -> &'a str,
) -> Result<Effect, String> {
    let what = text("what").to_lowercase();
    let named = |end: &str| match text("file") {
        "" => PathBuf::from(format!("{what}.{end}")),
        file => PathBuf::from(file),
    };
    let one = |file: PathBuf, text: String| {
        Effect::WriteFiles(vec![(file.to_string_lossy().into_owned(), text)])
    };
    match what.as_str() {
        "csv" => return Ok(one(stash_file(text("file"), "csv"), as_csv(state))),
        "json" => {
            let json = as_json(export(state)).map_err(|wrong| wrong.to_string())?;
            return Ok(one(stash_file(text("file"), "json"), json));
        }
        _ => {}
    }
    let document = document(app, state, &what, text("of"), sheet(text("paper"))?)?;
    if document.pages.is_empty() {
        return Err("no card or hook is asked for, so there is nothing to print".to_owned());
    }
    let file = named("html");
    if file.extension().is_some_and(|end| end == "svg") {
        let files = svg_files(&document, &file).into_iter();
        let files = files.map(|(file, text)| (file.to_string_lossy().into_owned(), text));
        return Ok(Effect::WriteFiles(files.collect()));
    }
    Ok(one(file, html(&document)))
}

/// Where an export goes.
fn stash_file(file: &str, end: &str) -> PathBuf {
    match file {
        "" => PathBuf::from(format!("stash.{end}")),
        file => PathBuf::from(file),
    }
}

fn sheet(text: &str) -> Result<Sheet, String> {
    let text = text.to_lowercase();
    let (paper, wide) = match text.trim().strip_suffix("wide") {
        Some(paper) => (paper.trim(), true),
        None => (text.trim(), false),
    };
    let paper = match paper {
        "" | "a4" => Paper::A4,
        "letter" => Paper::Letter,
        _ => {
            return Err("paper: write A4 or letter, with 'wide' for the long side on top".into());
        }
    };
    let landscape = wide;
    Ok(Sheet { paper, landscape })
}

fn document(
    app: &App,
    state: &State,
    what: &str,
    of: &str,
    sheet: Sheet,
) -> Result<Document, String> {
    match what {
        "ring" if of.is_empty() => Err(format!(
            "{of}: write the project whose ring it is",
            of = "of"
        )),
        "labels" => {
            let cards = cards(app, state, of)?;
            labels(state, &cards, sheet, None, 0).map_err(|wrong| capital(&wrong.sentence()))
        }
        "hook-labels" => hook_labels(state, state.hooks(), sheet, hook_labels::USUAL)
            .map_err(|wrong| capital(&wrong.sentence())),
        "ring" => {
            let ring = state.need_ring(of).map_err(|wrong| on_screen(&wrong))?;
            ring_card(state, ring, sheet, ring_card::USUAL)
                .map_err(|wrong| capital(&wrong.sentence()))
        }
        "board" => board_maps(state, sheet).ok_or_else(|| "there is no board yet".to_owned()),
        "buy" => {
            let rings = match of {
                "" => rings_in_use(state),
                project => rings_named(state, &[project.to_owned()]),
            };
            let rings = rings.map_err(|wrong| sentence(&wrong))?;
            for_projects(state, &rings, sheet)
                .ok_or_else(|| "nothing is to be bought for these projects".to_owned())
        }
        _ => Err(format!(
            "'{what}' cannot be printed: write labels, hook labels, ring, board or buy; csv or json"
        )),
    }
}

/// The cards that labels are for: those chosen, else new ones, those on a ring, or all.
fn cards<'a>(app: &App, state: &'a State, of: &str) -> Result<Vec<&'a CardState>, String> {
    let whole = state.cards().filter(|kept| kept.card.parent.is_none());
    if of.eq_ignore_ascii_case("new") {
        let new = whole.filter(|kept| kept.place.at == Whereabouts::Unhung);
        return Ok(state.in_wanted_order(new));
    }
    if !of.is_empty() && !of.eq_ignore_ascii_case("all") {
        let ring = state.need_ring(of).map_err(|wrong| on_screen(&wrong))?;
        return Ok(state.cards_on(ring).collect());
    }
    if of.is_empty() && !app.chosen.is_empty() {
        let chosen = app.chosen.iter().filter_map(|&card| state.card(card));
        return Ok(state.in_board_order(chosen));
    }
    Ok(state.in_board_order(whole))
}

/// The files are there, or they are not.
pub(super) fn written(app: &mut App, done: Result<Vec<String>, String>) {
    match (done, &mut app.mode) {
        (Ok(files), mode) => {
            if let Mode::Form(form) = mode {
                let back = form.back.clone().mode();
                app.mode = back;
            }
            let is_page = |file: &String| file.ends_with(".html") || file.ends_with(".svg");
            let is_paper = files.iter().any(is_page);
            let list = list(files);
            app.say(if is_paper {
                format!("wrote {list}: open it in a web browser and print it at 100 %")
            } else {
                format!("wrote {list}")
            });
        }
        (Err(wrong), Mode::Form(form)) => form.wrong = Some(wrong),
        (Err(wrong), _) => app.complain(wrong),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::testing::{FILE, TestApp};
    use crate::tui::theme::Depth;

    fn wrong(desk: &TestApp) -> String {
        match &desk.app.mode {
            Mode::Form(form) => form.wrong.clone().unwrap_or_default(),
            _ => String::new(),
        }
    }

    /// The form filled in, with its first line emptied.
    fn filled(desk: &TestApp, what: &str, of: &str, paper: &str, file: &str) -> TestApp {
        let clear = "\u{8}".repeat(7);
        desk.after(&format!("P{clear}{what}\t{of}\t{clear}{paper}\t{file}\n"))
    }

    fn files(desk: &TestApp) -> Vec<(String, String)> {
        match desk.asked.last() {
            Some(Effect::WriteFiles(files)) => files.clone(),
            _ => Vec::new(),
        }
    }

    #[test]
    fn everything_that_can_be_printed_or_exported_is_written() {
        let desk = TestApp::sample(Depth::None);
        for (what, of, file, names) in [
            ("labels", "", "", &["labels.html"][..]),
            ("labels", "new", "new.html", &["new.html"]),
            ("Labels", "Heron", "", &["labels.html"]),
            ("hook-labels", "", "m.svg", &["m-1.svg"]),
            ("ring", "Heron", "", &["ring.html"]),
            ("board", "", "wall.svg", &["wall-1.svg", "wall-2.svg"]),
            ("csv", "", "", &["stash.csv"]),
            ("json", "", "all.json", &["all.json"]),
        ] {
            let desk = filled(&desk, what, of, "letter wide", file);
            let files = files(&desk);
            let written: Vec<&str> = files.iter().map(|(name, _)| name.as_str()).collect();
            assert_eq!(written, names, "{what}: {}", wrong(&desk));
            assert!(files.iter().all(|(_, text)| text.len() > 100), "{what}");
            assert!(matches!(desk.app.mode, Mode::Board));
            let said = &desk.app.notice.as_ref().unwrap().text;
            let how = match what {
                "csv" | "json" => "",
                _ => ": open it in a web browser and print it at 100 %",
            };
            assert_eq!(said, &format!("wrote {}{how}", names.join(", ")));
        }
        let chosen = filled(&desk.after(" "), "labels", "", "", "");
        let all = filled(&desk.after(" "), "labels", "all", "", "");
        let html = |desk: &TestApp| files(desk)[0].1.clone();
        assert!(html(&chosen).contains("dune") && !html(&chosen).contains("burr"));
        assert!(html(&all).contains("burr"));
    }

    #[test]
    fn what_is_wrong_stands_in_the_form() {
        let desk = TestApp::sample(Depth::None);
        for (what, of, paper, file, words) in [
            ("stamps", "", "", "", "'stamps' cannot be printed"),
            ("ring", "", "", "", "of: write the project whose ring it is"),
            ("labels", "Nobody", "", "", "There is no ring for 'Nobody'"),
            ("hook-labels", "", "A9", "", "paper: write A4 or letter"),
            ("buy", "", "", "", "No project in use has a key"),
            ("board", "", "", FILE, "is there already"),
        ] {
            let desk = filled(&desk, what, of, paper, file);
            assert!(wrong(&desk).contains(words), "{what}: {}", wrong(&desk));
            // The cursor goes to the line that is wrong, where that is said first.
            let at = match &desk.app.mode {
                Mode::Form(form) => form.blanks[form.at].label,
                other => panic!("{other:?}"),
            };
            let line = words.split_once(": ").map_or("file", |(line, _)| line);
            assert_eq!(at, line, "{what}: {}", wrong(&desk));
        }
        // From the list of rings the card of the one chosen is offered.
        let rings = desk.after("rP\t\t\t\n");
        assert_eq!(files(&rings)[0].0, "ring.html");
        assert!(matches!(rings.app.mode, Mode::Rings(_)));
    }
}
