//! Hanging a card on another hook: with the cursor, or by dragging it with the mouse.

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::Line;
use ratatui::widgets::Paragraph;

use crate::model::board::HookRef;
use crate::model::ids::CardId;
use crate::stash::command::hang::Wall;
use crate::stash::event::Act;
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};
use crate::text;
use crate::tui::app::question::Then;
use crate::tui::app::screen::Lights;
use crate::tui::app::screen::{Context, Extent, Screen};
use crate::tui::app::{App, Stash, Viewport};
use crate::tui::keymap::{Action, Scope};
use crate::tui::layout;
use crate::tui::refused::on_screen;
use crate::tui::screens::board;
use crate::tui::wall::{HookStatus, panel};

use crate::tui::widgets::pane::Pane;
use crate::tui::widgets::text::paragraph;

/// A card to hang on the hook under the cursor.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Hang {
    card: CardId,
    /// The viewport before it began.
    back: Viewport,
    /// Whether the mouse is dragging it.
    dragged: bool,
}

impl Hang {
    /// The screen for a card, or `None` with a message if the card can't be hung. For a card
    /// without a hook, the cursor moves to where it would fit.
    pub fn of(app: &mut App, stash: Stash<'_>, card: CardId) -> Option<Self> {
        let state = stash.state;
        if let Some(why) = stash.read_only {
            app.complain(why);
            return None;
        }
        let wall = match Wall::new(state, card) {
            Ok(wall) => wall,
            Err(refusal) => {
                app.complain(on_screen(&refusal));
                return None;
            }
        };
        let back = app.eye.clone();
        app.look_at_card(state, card);
        let kept = state.card(card);
        let at = kept.and_then(|kept| kept.home.or(kept.place.at.hook()));
        if let (None, Some(first)) = (at, wall.first_thought()) {
            app.look_at(state, first);
            if wall.keeping_order().is_empty() {
                app.say("No free hook keeps the order. This is the nearest free one");
            }
        }
        Some(Self {
            card,
            back,
            dragged: false,
        })
    }

    /// The screen for a card that the mouse starts to drag to a hook.
    pub fn dragged_to(
        app: &mut App,
        stash: Stash<'_>,
        card: CardId,
        hook: HookRef,
    ) -> Option<Self> {
        let back = app.eye.clone();
        let hang = Self::of(app, stash, card)?;
        app.look_at(stash.state, hook);
        Some(Self {
            back,
            dragged: true,
            ..hang
        })
    }

    /// The wall seen from this card. O(hooks + cards · log cards).
    fn wall<'a>(&self, state: &'a State) -> Result<Wall<'a>, Refusal> {
        Wall::new(state, self.card)
    }

    /// Restores the previous view and closes.
    fn give_up(&self, context: &mut Context<'_>) {
        context.app.eye = self.back.clone();
        context.close();
    }

    /// Moves the cursor to the next or previous free hook that keeps the order, wrapping around.
    fn to_fitting(&self, context: &mut Context<'_>, forward: bool) {
        let state = context.stash.state;
        let wall = self.wall(state);
        let hooks = wall.map_or_else(|_| Vec::new(), |wall| wall.keeping_order());
        let order: Vec<HookRef> = state.hooks().collect();
        let place = |hook: HookRef| order.iter().position(|&other| other == hook);
        let here = context.app.hook(state).and_then(place);
        let next = if forward {
            let mut after = hooks.iter().filter(|&&hook| place(hook) > here);
            after.next().or(hooks.first())
        } else {
            let mut before = hooks.iter().rev().filter(|&&hook| place(hook) < here);
            before.next().or(hooks.last())
        };
        match next {
            Some(&hook) => context.app.look_at(state, hook),
            None => {
                let text = "No free hook keeps the order. Any free hook will do";
                context.app.complain(text);
            }
        }
    }

    /// Hangs the card if there is no objection. Otherwise, and always for the mouse, it asks first.
    fn hang_on(&self, context: &mut Context<'_>, hook: HookRef) {
        let wall = self.wall(context.stash.state);
        let hanging = match wall.and_then(|wall| wall.at(hook)) {
            Ok(hanging) => hanging,
            Err(refusal) => {
                if self.dragged {
                    self.give_up(context);
                }
                return context.app.complain(on_screen(&refusal));
            }
        };
        let warned = !text::rehang::hanging_warnings(&hanging).is_empty();
        match hanging.event(context.app.now) {
            Ok(then) if self.dragged || warned || !hanging.keeps_order => {
                let why = text::rehang::hanging(&hanging).join(" ");
                let question = format!("{why} Hang it there?");
                if self.dragged {
                    context.close();
                }
                context.ask_for(question, Then::Record(Box::new(then)));
            }
            event => context.commit(event),
        }
    }

    /// The card, the hook under the cursor, and how the card would fit there.
    fn lines(&self, app: &App, state: &State, width: usize) -> Vec<Line<'static>> {
        let theme = &app.theme;
        let (Some(kept), Some(hook), Ok(wall)) =
            (state.card(self.card), app.hook(state), self.wall(state))
        else {
            return Vec::new();
        };
        let mut lines = panel::heading(app, state, kept, width).to_vec();
        let place = text::places::place_of(state, kept);
        lines.extend(paragraph(&text::capital(&place), width, theme.muted()));
        lines.push(Line::default());
        lines.extend(there(app, state, (kept, hook), &wall, width));
        lines.push(Line::default());
        let sign = HookStatus::Fits.glyph();
        let fitting = match wall.keeping_order().len() {
            0 => "No free hook keeps the order.".to_owned(),
            1 => format!("One free hook ({sign}) keeps the order. Tab goes there."),
            n => format!("{n} free hooks ({sign}) keep the order. Tab goes there."),
        };
        lines.extend(paragraph(&fitting, width, theme.muted()));
        lines
    }
}

/// How the card would fit on a hook.
fn there(
    app: &App,
    state: &State,
    (kept, hook): (&CardState, HookRef),
    wall: &Wall<'_>,
    width: usize,
) -> Vec<Line<'static>> {
    let theme = &app.theme;
    let hanging = match wall.at(hook) {
        _ if kept.home == Some(hook) && kept.is_home() => {
            let text = format!("{} is where it hangs now.", state.hook_name(hook));
            return paragraph(&text, width, Style::new());
        }
        Err(Refusal::HomeThere { hook_name, .. }) => {
            let text = format!("{hook_name} is its home now.");
            return paragraph(&text, width, Style::new());
        }
        Err(refusal) => return paragraph(&on_screen(&refusal), width, theme.wrong()),
        Ok(hanging) => hanging,
    };
    let order = if hanging.keeps_order {
        theme.strong()
    } else {
        theme.wrong()
    };
    let mut said = vec![
        (text::rehang::hanging_target(&hanging), Style::new()),
        (text::rehang::hanging_order(&hanging), order),
        (text::rehang::hanging_label(&hanging), Style::new()),
    ];
    let warnings = text::rehang::hanging_warnings(&hanging).into_iter();
    said.extend(warnings.map(|warning| (warning, theme.away())));
    let lines = said.into_iter();
    let lines = lines.flat_map(|(text, style)| paragraph(&format!("{text}."), width, style));
    lines.collect()
}

/// The card was hung: moves the cursor to it and deselects it.
pub fn hung(app: &mut App, state: &State, card: CardId) {
    app.chosen.remove(&card);
    app.look_at_card(state, card);
    let Some(kept) = state.card(card) else { return };
    if let Some(home) = kept.home {
        let (name, hook_name) = (state.card_name(kept), state.hook_name(home));
        app.say(if kept.is_home() {
            format!("{name} hangs on {hook_name}. Write {hook_name} on its label")
        } else {
            format!("{name} belongs on {hook_name} now. Its label must say {hook_name}")
        });
    }
}

impl Screen for Hang {
    fn scope(&self) -> Scope {
        Scope::Hang
    }

    fn extent(&self) -> Extent {
        // The hooks don't move under a card being dragged.
        if self.dragged {
            Extent::InPane
        } else {
            Extent::Beside
        }
    }

    fn lights<'a>(&'a self, app: &'a App, state: &'a State) -> Lights<'a> {
        let wall = self.wall(state).ok();
        let from = state.card(self.card);
        Lights {
            target: app.hook(state),
            source: from.and_then(|kept| kept.place.at.hook()),
            fitting: wall.map(|wall| wall.keeping_order().into_iter().collect()),
            ..Lights::default()
        }
    }

    fn act(&mut self, context: &mut Context<'_>, action: Action) {
        match action {
            Action::Accept => {
                if let Some(hook) = context.app.hook(context.stash.state) {
                    self.hang_on(context, hook);
                }
            }
            Action::Cancel => self.give_up(context),
            Action::Next => self.to_fitting(context, true),
            Action::Previous => self.to_fitting(context, false),
            action => board::look_about(context.app, context.stash.state, action),
        }
    }

    fn clicked(&mut self, context: &mut Context<'_>, column: u16, row: u16) {
        let state = context.stash.state;
        match layout::hook_at(context.app, state, column, row) {
            Some(hook) if context.app.hook(state) == Some(hook) => self.hang_on(context, hook),
            Some(hook) => context.app.look_at(state, hook),
            None => {}
        }
    }

    fn dragged(&mut self, context: &mut Context<'_>, column: u16, row: u16) {
        let state = context.stash.state;
        if let (true, Some(hook)) = (
            self.dragged,
            layout::hook_at(context.app, state, column, row),
        ) {
            context.app.look_at(state, hook);
        }
    }

    /// Asks whether to hang the card there. Off the board, or back where it came from, nothing
    /// happens.
    fn released(&mut self, context: &mut Context<'_>, column: u16, row: u16) {
        if !self.dragged {
            return;
        }
        let state = context.stash.state;
        let from = state.card(self.card);
        let from = from.and_then(|kept| kept.place.at.hook());
        match layout::hook_at(context.app, state, column, row) {
            Some(hook) if from != Some(hook) => self.hang_on(context, hook),
            _ => self.give_up(context),
        }
    }

    fn recorded(&mut self, context: &mut Context<'_>, _: &Act) {
        hung(context.app, context.stash.state, self.card);
        context.close();
    }

    fn settle(&mut self, context: &mut Context<'_>) {
        if context.stash.state.card(self.card).is_none() {
            self.give_up(context);
        }
    }

    fn view(&self, app: &App, stash: Stash<'_>, frame: &mut Frame<'_>, body: Rect) {
        let hook = app.hook(stash.state);
        let hook_name = hook.map_or_else(String::new, |hook| stash.state.hook_name(hook));
        let pane = Pane {
            title: "Hang elsewhere",
            counter: &hook_name,
            focus: true,
        };
        let inside = pane.draw(&app.theme, body, frame.buffer_mut());
        let lines = self.lines(app, stash.state, inside.width.into());
        frame.render_widget(Paragraph::new(lines), inside);
    }
}

#[cfg(test)]
mod tests;
