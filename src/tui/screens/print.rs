//! The form for printing and exporting.

use std::collections::BTreeSet;
use std::path::PathBuf;

use jiff::Timestamp;
use jiff::tz::TimeZone;

use crate::exchange::export::{as_csv, as_json};
use crate::model::board::HookRef;
use crate::model::ids::CardId;
use crate::model::ring::Ring;
use crate::model::whereabouts::Whereabouts;
use crate::print::board_map::board_maps;
use crate::print::buy_list::for_projects;
use crate::print::labels::labels;
use crate::print::labels::{USUAL_HOOK_LABEL, hook_labels};
use crate::print::page::Document;
use crate::print::paper::{Paper, Sheet};
use crate::print::pocket::pocket;
use crate::print::ring_card::{self, ring_card};
use crate::print::{PrintForm, html, svg_files};
use crate::stash::projects::kit::{rings_in_use, rings_named};
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};
use crate::text::places::listed_at_home;
use crate::text::{self, capital, export, list};
use crate::tui::app::screen::Context;
use crate::tui::app::{App, Stash};
use crate::tui::message::Effect;
use crate::tui::refused::on_screen;
use crate::tui::screens::form::{Asks, Fields, Form, Input, Wrong, inputs};
use crate::tui::screens::take::ring_choices;
use crate::tui::widgets::chooser::{Choice, Chooser};

/// A document to print or export.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum What {
    /// Card labels.
    Labels,
    /// Hook labels.
    HookLabels,
    /// The card of a project ring.
    RingCard,
    /// A map of each board.
    BoardMap,
    /// The buy list.
    BuyList,
    /// The stash and the buy list, for a phone.
    Pocket,
    /// The whole stash as a table.
    Csv,
    /// The whole stash as JSON.
    Json,
}

impl What {
    const ALL: [Self; 8] = [
        Self::Labels,
        Self::HookLabels,
        Self::RingCard,
        Self::BoardMap,
        Self::BuyList,
        Self::Pocket,
        Self::Csv,
        Self::Json,
    ];

    /// Its name and description.
    const fn words(self) -> (&'static str, &'static str) {
        match self {
            Self::Labels => ("card labels", "one for each card"),
            Self::HookLabels => ("hook labels", "one for each hook"),
            Self::RingCard => ("ring card", "a project's key and where each card is"),
            Self::BoardMap => ("board map", "every hook with its card"),
            Self::BuyList => ("buy list", "what to buy for projects"),
            Self::Pocket => ("pocket page", "for a phone in the shop, to search and tick"),
            Self::Csv => ("csv", "export the stash as a table"),
            Self::Json => ("json", "export the stash for other programs"),
        }
    }

    /// The default file name.
    const fn file(self) -> &'static str {
        match self {
            Self::Labels => "labels.html",
            Self::HookLabels => "hook-labels.html",
            Self::RingCard => "ring.html",
            Self::BoardMap => "board.html",
            Self::BuyList => "buy.html",
            Self::Pocket => "pocket.html",
            Self::Csv => "stash.csv",
            Self::Json => "stash.json",
        }
    }
}

const SELECTED: &str = "selected";
const NEW: &str = "to hang";
const CHANGED: &str = "changed";
const ALL: &str = "all";

const SHEETS: [(&str, Sheet); 4] = [
    ("A4", sheet(Paper::A4, false)),
    ("A4 wide", sheet(Paper::A4, true)),
    ("letter", sheet(Paper::Letter, false)),
    ("letter wide", sheet(Paper::Letter, true)),
];

const fn sheet(paper: Paper, landscape: bool) -> Sheet {
    Sheet { paper, landscape }
}

/// The form.
#[derive(Clone, Debug)]
pub struct Print {
    selected: Vec<CardId>,
    /// The cards whose hook changed in the last re-hang.
    changed: Vec<CardId>,
    what: Input,
    of: Input,
    paper: Input,
    file: Input,
}

impl Print {
    /// The form as it opens, for a project or for the selected cards.
    #[must_use]
    pub fn form(app: &App, stash: Stash<'_>, what: What, project: Option<&str>) -> Form<Self> {
        let state = stash.state;
        let selected = app.chosen.iter().filter_map(|&card| state.card(card));
        let selected: Vec<CardId> = (state.in_board_order(selected).iter())
            .map(|kept| kept.card.id)
            .collect();
        let count = |n: usize| text::cards(u32::try_from(n).unwrap_or(u32::MAX));
        let mut of = vec![Choice::new(ALL, "cards of the stash, or projects in use")];
        let new = state.cards();
        let new = new
            .filter(|kept| kept.place.at == Whereabouts::Unhung)
            .count();
        of.push(Choice::new(NEW, count(new)));
        let changed = stash.history.last_rehang().unwrap_or_default();
        let hung = |kept: &&CardState| kept.home.is_some() && changed.contains(&kept.card.id);
        let changed: Vec<CardId> = (state.in_board_order(state.cards().filter(hung)).iter())
            .map(|kept| kept.card.id)
            .collect();
        if !changed.is_empty() {
            let note = format!("{} by the last re-hang", count(changed.len()));
            of.push(Choice::new(CHANGED, note));
        }
        if !selected.is_empty() {
            of.insert(0, Choice::new(SELECTED, count(selected.len())));
        }
        of.extend(ring_choices(app, state));
        let first = of[0].value.clone();
        let whats = What::ALL.map(|what| Choice::new(what.words().0, what.words().1));
        let sheets = SHEETS.map(|(name, _)| name);
        Form::new(Self {
            selected,
            changed,
            what: Input::choice("what", "", Chooser::of(whats.to_vec(), what.words().0)),
            of: Input::choice(
                "of",
                "for which cards or project",
                Chooser::of(of, project.unwrap_or(&first)),
            ),
            paper: Input::one_of("paper", "wide: the long side on top", sheets, SHEETS[0].0),
            file: Input::file("file", "ends in .html or .svg; empty: named after it, here"),
        })
    }

    fn what(&self) -> Result<What, Wrong> {
        let named = |what: &What| what.words().0 == self.what.value();
        let what = What::ALL.into_iter().find(named);
        what.ok_or_else(|| Wrong::at(&self.what, "choose one of the list."))
    }

    /// The path of the output.
    fn path(&self, what: What) -> PathBuf {
        PathBuf::from(match self.file.value() {
            "" => what.file(),
            file => file,
        })
    }

    /// The chosen project, if any.
    fn project(&self) -> Option<&str> {
        let of = self.of.value();
        (![SELECTED, NEW, CHANGED, ALL].contains(&of)).then_some(of)
    }

    /// The cards to print labels for.
    fn cards<'a>(&self, state: &'a State) -> Result<Vec<&'a CardState>, Wrong> {
        let whole = state.cards().filter(|kept| kept.card.parent.is_none());
        Ok(match (self.of.value(), self.project()) {
            (_, Some(project)) => {
                let ring = state.need_ring(project);
                let ring = ring.map_err(|wrong| Wrong::at(&self.of, on_screen(&wrong)))?;
                state.cards_on(ring).collect()
            }
            (of @ (SELECTED | CHANGED), _) => {
                let cards = if of == SELECTED {
                    &self.selected
                } else {
                    &self.changed
                };
                cards.iter().filter_map(|&card| state.card(card)).collect()
            }
            (NEW, _) => {
                let new = whole.filter(|kept| kept.place.at == Whereabouts::Unhung);
                state.in_wanted_order(new)
            }
            _ => state.in_board_order(whole),
        })
    }

    /// The chosen project, or all projects in use.
    fn rings<'a>(&self, state: &'a State) -> Result<Vec<&'a Ring>, Refusal> {
        match self.project() {
            Some(project) => rings_named(state, &[project.to_owned()]),
            None => rings_in_use(state),
        }
    }

    /// Without a project's key, it still shows the cards and the want list.
    fn pocket_page(&self, state: &State, now: Timestamp) -> Result<String, Wrong> {
        let rings = match self.rings(state) {
            Err(wrong) if self.project().is_some() => return Err(wrong.into()),
            rings => rings.unwrap_or_default(),
        };
        let made = now.to_zoned_datetime(TimeZone::system()).date();
        let page = pocket(state, &rings, state.new_pocket_page(now), made);
        page.ok_or_else(|| Wrong::from("There are no cards yet, and nothing to buy.".to_owned()))
    }

    fn document(&self, state: &State, what: What) -> Result<Document, Wrong> {
        let sheet = SHEETS.iter().find(|(name, _)| *name == self.paper.value());
        let sheet = sheet
            .ok_or_else(|| Wrong::at(&self.paper, "choose one of the list."))?
            .1;
        let nothing = |words: &str| Wrong::from(words.to_owned());
        match what {
            What::Labels => labels(state, &self.cards(state)?, sheet, None, 0)
                .map_err(|wrong| capital(&wrong.sentence()).into()),
            What::HookLabels => {
                let hooks: BTreeSet<HookRef> = match self.of.value() {
                    ALL => state.hooks().collect(),
                    _ => (self.cards(state)?.iter())
                        .filter_map(|kept| kept.home)
                        .collect(),
                };
                if hooks.is_empty() {
                    let words = "none of these cards has a hook yet.";
                    return Err(Wrong::at(&self.of, words));
                }
                let hooks = state.hooks().filter(|hook| hooks.contains(hook));
                hook_labels(state, hooks, sheet, USUAL_HOOK_LABEL)
                    .map_err(|wrong| capital(&wrong.sentence()).into())
            }
            What::RingCard => {
                let project = self.project();
                let project = project
                    .ok_or_else(|| Wrong::at(&self.of, "choose the project whose ring it is."))?;
                let ring = state.need_ring(project);
                let ring = ring.map_err(|wrong| Wrong::at(&self.of, on_screen(&wrong)))?;
                ring_card(state, ring, sheet, ring_card::USUAL)
                    .map_err(|wrong| capital(&wrong.sentence()).into())
            }
            What::BoardMap => {
                board_maps(state, sheet).ok_or_else(|| nothing("There is no board yet."))
            }
            What::BuyList => for_projects(state, &self.rings(state)?, sheet)
                .ok_or_else(|| nothing("Nothing to buy for these projects.")),
            What::Pocket | What::Csv | What::Json => {
                Err(nothing("That goes into a file, not on paper."))
            }
        }
    }

    /// The files to write.
    fn files(&self, state: &State, now: Timestamp) -> Result<Vec<(String, String)>, Wrong> {
        let what = self.what()?;
        let path = self.path(what);
        let one = |text: String| vec![(path.to_string_lossy().into_owned(), text)];
        match what {
            What::Pocket => return Ok(one(self.pocket_page(state, now)?)),
            What::Csv => return Ok(one(as_csv(state))),
            What::Json => {
                let json = as_json(export(state)).map_err(|wrong| wrong.to_string())?;
                return Ok(one(json));
            }
            _ => {}
        }
        let document = self.document(state, what)?;
        if document.pages.is_empty() {
            let words = "No card or hook is asked for, so there is nothing to print.";
            return Err(words.to_owned().into());
        }
        match PrintForm::named(&path) {
            Some(PrintForm::Html) => Ok(one(html(&document))),
            Some(PrintForm::Svg) => {
                let files = svg_files(&document, &path).into_iter();
                let files = files.map(|(file, text)| (file.to_string_lossy().into_owned(), text));
                Ok(files.collect())
            }
            None => {
                let words =
                    "Use a name that ends in .html or .svg. A browser saves the page as PDF.";
                Err(words.to_owned().into())
            }
        }
    }
}

impl Fields for Print {
    fn title(&self, _: &State) -> String {
        "Print, or export to a file".to_owned()
    }

    inputs!(what, of, paper, file);

    fn done(&self, context: &mut Context<'_>) -> Result<Asks, Wrong> {
        let files = self.files(context.stash.state, context.app.now)?;
        Ok(Asks::Effect(Effect::WriteFiles(files)))
    }

    fn written(&self, context: &mut Context<'_>, files: &[String]) {
        let is_page = |file: &String| file.ends_with(".html") || file.ends_with(".svg");
        let is_paper = files.iter().any(is_page);
        let files = list(files.iter().cloned());
        context.app.say(if self.what() == Ok(What::Pocket) {
            format!("Wrote {files}. Copy it to your phone and open it there in a web browser.")
        } else if is_paper {
            format!("Wrote {files}. Open it in a web browser and print it at 100 %.")
        } else {
            let of_list = self.what() == Ok(What::Csv);
            let away = Some(context.stash.state).filter(|_| of_list);
            let away = away.and_then(listed_at_home);
            let away = away.map(|words| format!(" {words} 'json' says where each card is."));
            format!("Wrote {files}.{}", away.unwrap_or_default())
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::keymap::Scope;
    use crate::tui::testing::{FILE, TestApp};
    use crate::tui::theme::Depth;

    /// The form, filled in.
    fn filled(desk: &TestApp, what: &str, of: &str, paper: &str, file: &str) -> TestApp {
        desk.after(&format!("P{what}\n{of}\n{paper}\n{file}\n"))
    }

    fn files(desk: &TestApp) -> Vec<(String, String)> {
        match desk.asked.last() {
            Some(Effect::WriteFiles(files)) => files.clone(),
            _ => Vec::new(),
        }
    }

    #[test]
    fn every_document_is_written() {
        let desk = TestApp::sample(Depth::None);
        for (what, of, file, names) in [
            ("card", "", "", &["labels.html"][..]),
            ("card", "to hang", "new.html", &["new.html"]),
            ("Card", "ron", "", &["labels.html"]),
            ("hook", "", "m.svg", &["m-1.svg"]),
            ("ring", "Heron", "", &["ring.html"]),
            ("map", "", "wall.svg", &["wall-1.svg", "wall-2.svg"]),
            ("pocket", "", "", &["pocket.html"]),
            ("csv", "", "", &["stash.csv"]),
            ("json", "", "all.json", &["all.json"]),
        ] {
            let desk = filled(&desk, what, of, "letter w", file);
            let files = files(&desk);
            let written: Vec<&str> = files.iter().map(|(name, _)| name.as_str()).collect();
            assert_eq!(written, names, "{what}: {}", desk.wrong());
            assert!(files.iter().all(|(_, text)| text.len() > 100), "{what}");
            assert_eq!(desk.app.scope(), Scope::Board);
            let said = &desk.app.notice.as_ref().unwrap().text;
            let how = match what {
                "pocket" => " Copy it to your phone and open it there in a web browser.",
                "csv" => {
                    " The list has 5 cards on their hooks as if they hung there: 20, 30, 50, 60, 77. \
                     'json' says where each card is."
                }
                "json" => "",
                _ => " Open it in a web browser and print it at 100 %.",
            };
            assert_eq!(said, &format!("Wrote {}.{how}", names.join(", ")));
        }
        let chosen = filled(&desk.after(" "), "card", "", "", "");
        let all = filled(&desk.after(" "), "card", "all", "", "");
        let html = |desk: &TestApp| files(desk)[0].1.clone();
        assert!(html(&chosen).contains("dune") && !html(&chosen).contains("burr"));
        assert!(html(&all).contains("burr"));
    }

    #[test]
    fn error_shows_in_the_form_with_the_cursor_on_its_line() {
        let desk = TestApp::sample(Depth::None);
        for (what, of, paper, file, words, line) in [
            ("stamps", "", "", "", "what: choose one of the list", 0),
            ("ring", "", "", "", "of: choose the project", 1),
            ("card", "Nobody", "", "", "There is no ring for 'Nobody'", 1),
            ("hook", "", "A9", "", "paper: choose one of the list", 2),
            ("buy", "", "", "", "No project has a key yet", 3),
            ("board", "", "", FILE, "ends in .html or .svg", 3),
            ("board", "", "", "labels", "ends in .html or .svg", 3),
            ("csv", "", "", FILE, "is there already", 3),
        ] {
            let mut desk = filled(&desk, what, of, paper, file);
            assert!(desk.wrong().contains(words), "{what}: {}", desk.wrong());
            assert_eq!(desk.line(), line, "{what}: {}", desk.wrong());
        }
        // The list of rings preselects the card of the selected ring.
        let rings = desk.after("rP\n\n\n\n");
        assert_eq!(files(&rings)[0].0, "ring.html");
        assert_eq!(rings.app.scope(), Scope::Rings);
    }
}
