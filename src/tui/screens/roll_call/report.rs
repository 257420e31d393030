//! The report of a roll call: differences from the record, and what will be recorded.

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;

use super::home::HangHome;
use super::rows::{Seen, sightings};
use crate::model::ids::CardId;
use crate::model::whereabouts::Place;
use crate::stash::command::rollcall;
use crate::stash::event::Act;
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};
use crate::text;
use crate::tui::app::screen::{Context, Screen};
use crate::tui::app::{App, Stash};
use crate::tui::keymap::{Action, Scope};
use crate::tui::refused::on_screen;
use crate::tui::theme::Theme;
use crate::tui::wall::walk;
use crate::tui::widgets::digits::{self, Size};
use crate::tui::widgets::list::{List, counter, stepped};
use crate::tui::widgets::pane::{self, Pane};
use crate::tui::widgets::text::{fit, pad, paragraph, put_within};

/// The screen.
#[derive(Clone, PartialEq, Debug)]
pub struct Report {
    /// Rows confirmed, and rows in all.
    rows: (usize, usize),
    report: rollcall::Report,
    /// Index of the selected line.
    at: usize,
}

/// A card that isn't where the record has it.
struct Differs<'a> {
    kept: &'a CardState,
    /// The place to be recorded.
    now: String,
    /// The place in the record.
    before: String,
    missing: bool,
}

impl Report {
    /// The report of the sightings.
    ///
    /// # Errors
    /// Like [`rollcall::report`].
    pub fn of(state: &State, seen: &Seen, rows: (usize, usize)) -> Result<Self, Refusal> {
        let report = rollcall::report(state, &sightings(state, seen))?;
        Ok(Self {
            rows,
            report,
            at: 0,
        })
    }

    /// The differences in wall order: cards on another hook first, then missing ones.
    fn differs<'a>(&self, state: &'a State) -> Vec<Differs<'a>> {
        let line = |card: CardId, now: String, recorded: &Place, missing| {
            let kept = state.card(card)?;
            let before = CardState {
                place: recorded.clone(),
                ..kept.clone()
            };
            let before = text::places::place_of(state, &before);
            Some(Differs {
                kept,
                now,
                before,
                missing,
            })
        };
        let misplaced = self.report.misplaced.iter().filter_map(|of| {
            let now = format!("hangs on {}", state.hook_name(of.seen));
            line(of.card, now, &of.recorded, false)
        });
        let missing = self.report.missing.iter();
        let missing =
            missing.filter_map(|of| line(of.card, "missing".to_owned(), &of.recorded, true));
        misplaced.chain(missing).collect()
    }

    /// Records the report if it is still accurate.
    fn record(&mut self, context: &mut Context<'_>) {
        let state = context.stash.state;
        let seen = rollcall::underway(context.stash.history);
        match rollcall::report(state, &sightings(state, &seen)) {
            Ok(now) if now == self.report => {
                let event = rollcall::record(&self.report, context.app.now);
                context.commit(Ok(event));
            }
            // Another window may have changed the stash since it was shown.
            Ok(now) => {
                (self.report, self.at) = (now, 0);
                let text = "The stash has changed meanwhile. Look at the report again";
                context.app.say(text);
            }
            Err(refusal) => context.app.complain(on_screen(&refusal)),
        }
    }

    /// How many cards were found, misplaced and missing, in large figures if they fit.
    fn figures(&self, theme: &Theme, area: Rect, frame: &mut Frame<'_>) -> u16 {
        let report = &self.report;
        let figures = [
            (report.found.len(), "as recorded", theme.good()),
            (report.misplaced.len(), "on another hook", theme.away()),
            (report.missing.len(), "missing", theme.wrong()),
        ];
        let large = area.height >= 16 && area.width >= 72;
        let height = if large { Size::Half.height() + 1 } else { 1 };
        let width = area.width / 3;
        let buffer = frame.buffer_mut();
        for ((count, words, style), at) in figures.into_iter().zip(0..) {
            let style = if count > 0 { style } else { theme.muted() };
            let place = Rect {
                x: area.x + width * at,
                width: width.saturating_sub(1),
                height: height.min(area.height),
                ..area
            };
            let count = count.to_string();
            if large {
                let digits = Rect {
                    height: Size::Half.height(),
                    ..place
                };
                digits::draw(buffer, digits, &count, Size::Half, style);
                let below = (place.x, place.bottom() - 1);
                put_within(buffer, below, words, place.width.into(), theme.muted());
            } else {
                let text = fit(&format!("{count} {words}"), place.width.into());
                put_within(buffer, (place.x, place.y), text, place.width.into(), style);
            }
        }
        height + 1
    }

    /// What Enter does, and which rows it covers.
    fn words(&self) -> String {
        let (done, all) = self.rows;
        let rows = if done < all {
            format!("Rows confirmed: {done} of {all}. The others stay as recorded.")
        } else {
            "Every row was confirmed.".to_owned()
        };
        if self.report.misplaced.is_empty() && self.report.missing.is_empty() {
            return format!("{rows} All is as recorded. Enter records the check.");
        }
        format!("{rows} Enter records the list below. Until then, no card counts as moved.")
    }

    fn line(
        app: &App,
        state: &State,
        differs: &Differs<'_>,
        here: bool,
        width: usize,
    ) -> Line<'static> {
        let theme = &app.theme;
        let row = if here { theme.row() } else { Style::new() };
        let kept = differs.kept;
        let swatch = kept.card.colour.and_then(|colour| theme.swatch(colour));
        let style = if differs.missing {
            theme.wrong()
        } else {
            theme.away()
        };
        let name = format!("{:<5} {}", state.card_name(kept), kept.card.name);
        let room = width.saturating_sub(5);
        let (first, second) = (room * 2 / 5, room / 5 + 4);
        let third = room.saturating_sub(first + second + 2);
        Line::from(vec![
            Span::styled(if here { "▸ " } else { "  " }, row.patch(theme.accent())),
            Span::styled("  ", swatch.unwrap_or(row)),
            Span::styled(format!(" {} ", pad(&name, first)), row),
            Span::styled(format!("{} ", pad(&differs.now, second)), row.patch(style)),
            Span::styled(
                pad(&format!("was {}", differs.before), third),
                row.patch(theme.muted()),
            ),
        ])
    }
}

impl Screen for Report {
    fn scope(&self) -> Scope {
        Scope::Report
    }

    fn act(&mut self, context: &mut Context<'_>, action: Action) {
        let state = context.stash.state;
        match action {
            Action::Previous => context.close(),
            Action::Cancel => {
                context.close();
                // The roll call beneath closes, too.
                context.then(Action::GiveUp);
                let (done, all) = self.rows;
                let text = format!("Saved: {done} of {all} rows confirmed. Press v to continue.");
                context.app.say(text);
            }
            Action::Accept => self.record(context),
            action => {
                let differs = self.differs(state);
                self.at = stepped(self.at, differs.len(), action);
                if let Some(differs) = differs.get(self.at) {
                    context.app.look_at_card(state, differs.kept.card.id);
                }
            }
        }
    }

    /// The report is on disk: offers to hang misplaced cards back home.
    fn recorded(&mut self, context: &mut Context<'_>, act: &Act) {
        if !matches!(act, Act::RollCall { .. }) {
            return;
        }
        let state = context.stash.state;
        context.close();
        match HangHome::of(state, self.report.strays(state), act) {
            Some(walk) => context.open(walk),
            None => {
                let said = text::history::act(state, act);
                context.app.say(said);
            }
        }
    }

    fn title(&self, app: &App, _: Stash<'_>, width: u16) -> Option<Line<'static>> {
        let words = format!("{} of {} rows", self.rows.0, self.rows.1);
        Some(walk::title(
            app,
            ("Roll call", "Report"),
            self.rows,
            &words,
            width,
        ))
    }

    fn view(&self, app: &App, stash: Stash<'_>, frame: &mut Frame<'_>, body: Rect) {
        let (state, theme) = (stash.state, &app.theme);
        let differs = self.differs(state);
        let count = counter(self.at, differs.len());
        let pane = Pane {
            title: "Report",
            counter: &count,
            focus: true,
        };
        let inside = pane.draw(theme, body, frame.buffer_mut());
        let used = self.figures(theme, inside, frame);
        let below =
            |area: Rect, used: u16| pane::with_foot(area, area.height.saturating_sub(used)).1;
        let rest = below(inside, used);
        let words = paragraph(&self.words(), rest.width.into(), Style::new());
        let lines = u16::try_from(words.len()).unwrap_or(u16::MAX);
        frame.render_widget(Paragraph::new(words), rest);
        let list = List {
            at: self.at,
            count: differs.len(),
            each: 1,
        };
        let rest = below(rest, lines.saturating_add(1));
        list.draw(theme, rest, frame.buffer_mut(), |at, width| {
            vec![Self::line(app, state, &differs[at], at == self.at, width)]
        });
    }
}
