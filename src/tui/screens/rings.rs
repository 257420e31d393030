//! The project rings: the cards on each, its progress, and the actions.

use std::collections::HashSet;

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;
use unicode_width::UnicodeWidthStr;

use super::buy::Buy;
use super::print::{Print, What};
use super::project::ProjectPage;
use super::project::forms::NewProject;
use super::put_away::PutAway;
use crate::model::board::HookRef;
use crate::model::ids::RingId;
use crate::model::ring::{Ring, RingState};
use crate::stash::command::ring;
use crate::stash::event::Act;
use crate::stash::projects::kit::{hanging_with_key, rings_in_use};
use crate::stash::state::{CardState, State};
use crate::text;
use crate::tui::app::question::Then;
use crate::tui::app::screen::Lights;
use crate::tui::app::screen::{Context, Extent, Screen};
use crate::tui::app::{App, Stash};
use crate::tui::keymap::{Action, Scope};
use crate::tui::refused::on_screen;
use crate::tui::screens::form::{Asks, Fields, Form, Input, Wrong, inputs, something};
use crate::tui::told::told;
use crate::tui::wall::panel::ring_stands;
use crate::tui::widgets::gauge::{gauge, thousandths};
use crate::tui::widgets::list::{in_view, is_low, stepped};
use crate::tui::widgets::pane::Pane;
use crate::tui::widgets::text::{fit, pad, paragraph};

/// The fewest columns for a card of a ring.
const LEAST_COLUMN: usize = 36;
/// The most columns of a ring's line.
const WIDEST: usize = 110;
/// Lines of a ring in the list.
const EACH: usize = 4;
/// Lines left below the list for the cards of the selected ring.
const LEAST_BELOW: usize = 4;

/// The list of rings.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Rings {
    /// Index of the selected ring.
    at: usize,
}

impl Rings {
    /// The list, with this ring selected.
    #[must_use]
    pub fn at(state: &State, ring: RingId) -> Self {
        let listed = state.listed_rings();
        let at = listed.iter().position(|listed| listed.id == ring);
        Self {
            at: at.unwrap_or(0),
        }
    }

    /// Moves a project up or down in the order; the cursor follows it.
    fn shift(&mut self, context: &mut Context<'_>, ring: &Ring, by: isize) {
        let event = ring::shift(context.stash.state, ring, by);
        if event.is_ok() && context.stash.read_only.is_none() {
            self.at = self.at.saturating_add_signed(by);
        }
        context.commit(event);
    }

    fn chosen<'a>(&self, state: &'a State) -> Option<&'a Ring> {
        state.listed_rings().get(self.at).copied()
    }
}

/// Shows the buy list of the selected projects, or of all projects in use and the want list.
fn buy(context: &mut Context<'_>) {
    let state = context.stash.state;
    if !context.app.chosen_rings.is_empty() {
        let chosen = context.app.chosen_rings.iter().copied().collect();
        Buy::of(chosen).open(context);
        return;
    }
    let wants = state.want_list().next().is_some();
    let hanging = hanging_with_key(state).next();
    match (rings_in_use(state), hanging) {
        (Err(_), _) if wants => {
            Buy::and_wants(Vec::new()).open(context);
        }
        (Ok(rings), hanging) => {
            let rings = rings.iter().map(|ring| ring.id).collect();
            let buy = match wants {
                true => Buy::and_wants(rings),
                false => Buy::of(rings),
            };
            let there = buy.open(context);
            if let (true, Some(ring)) = (there, hanging) {
                context.app.say(format!(
                    "'{project}' hangs on a hook and is left out. Space in the list of rings chooses it.",
                    project = ring.project
                ));
            }
        }
        (Err(_), Some(ring)) => context.app.complain(format!(
            "'{project}' hangs on a hook. Enter opens it, b there buys for it.",
            project = ring.project
        )),
        (Err(refusal), None) => context.app.complain(on_screen(&refusal)),
    }
}

/// Starts to put a ring away, or says that it has no cards.
pub fn put_away(context: &mut Context<'_>, ring: &Ring) {
    match PutAway::of(context.stash.state, ring) {
        Ok(mut walk) => {
            walk.go_on(context);
            context.open(walk);
        }
        Err(refusal) => context.app.complain(on_screen(&refusal)),
    }
}

impl Screen for Rings {
    fn scope(&self) -> Scope {
        Scope::Rings
    }

    fn extent(&self) -> Extent {
        Extent::Beside
    }

    /// Lights the homes of the cards on the selected ring.
    fn lights<'a>(&'a self, _: &'a App, state: &'a State) -> Lights<'a> {
        let ring = self.chosen(state);
        let homes = ring.map(|ring| {
            let cards = state.cards_on(ring);
            let mut hooks: HashSet<HookRef> = cards.filter_map(|kept| kept.home).collect();
            if let RingState::Hanging { hook, .. } = ring.state {
                hooks.insert(hook);
            }
            hooks
        });
        Lights {
            found: homes.filter(|homes| !homes.is_empty()),
            ..Lights::default()
        }
    }

    fn can(&self, app: &App, stash: Stash<'_>, action: Action) -> bool {
        let state = stash.state;
        let ring = self.chosen(state);
        let open = state.rings_in_order().len();
        match action {
            Action::Accept | Action::Close | Action::Print | Action::Edit => ring.is_some(),
            Action::PutAway => ring.is_some_and(|ring| state.cards_on(ring).next().is_some()),
            Action::HangUp | Action::Select => ring.is_some_and(|ring| !ring.is_closed()),
            Action::ShiftUp => (1..open).contains(&self.at),
            Action::ShiftDown => self.at + 1 < open,
            Action::Buy => {
                let wants = || state.want_list().next().is_some();
                !app.chosen_rings.is_empty() || rings_in_use(state).is_ok() || wants()
            }
            Action::Undo => stash.history.last_done().is_some(),
            _ => true,
        }
    }

    fn act(&mut self, context: &mut Context<'_>, action: Action) {
        let (state, now) = (context.stash.state, context.app.now);
        self.at = stepped(self.at, state.listed_rings().len(), action);
        match action {
            Action::Cancel => return context.close(),
            Action::NewProject => return context.open(NewProject::form(state)),
            Action::Buy => return buy(context),
            _ => {}
        }
        let Some(ring) = self.chosen(state) else {
            let words = "There is no ring yet. n begins a project, or select cards and press t.";
            return context.app.complain(words);
        };
        match (action, ring.state) {
            (Action::Up | Action::Down, RingState::Hanging { hook, .. }) => {
                context.app.look_at(state, hook);
            }
            (Action::Accept, _) => context.open(ProjectPage::of(ring.id)),
            (Action::Close, RingState::Closed { .. }) => {
                context.commit(ring::open(state, ring.project.as_str(), now));
            }
            (Action::Close, _) => match ring::close(state, ring, now) {
                Ok(event) => context.ask_for(
                    format!("Is '{}' finished? y closes its ring.", ring.project),
                    Then::Record(Box::new(event)),
                ),
                Err(refusal) => context.commit(Err(refusal)),
            },
            (Action::Select | Action::PutAway, RingState::Closed { .. }) => {
                let project = &ring.project;
                let words = format!("'{project}' is closed. c reopens it.");
                context.app.complain(words);
            }
            (Action::Select, _) if context.app.chosen_rings.remove(&ring.id) => {}
            (Action::Select, _) => {
                context.app.chosen_rings.insert(ring.id);
            }
            (Action::Print, _) => {
                let project = Some(ring.project.as_str());
                let form = Print::form(context.app, context.stash, What::RingCard, project);
                context.open(form);
            }
            (Action::PutAway, _) => put_away(context, ring),
            (Action::Edit, _) => context.open(Status::form(ring)),
            (Action::ShiftUp, _) => self.shift(context, ring, -1),
            (Action::ShiftDown, _) => self.shift(context, ring, 1),
            (Action::HangUp, RingState::Hanging { .. }) => context.commit(ring::take_down(ring)),
            (Action::HangUp, _) => {
                let form = HangUp::form(context.app, state, ring.id);
                context.open(form);
            }
            _ => {}
        }
    }

    fn recorded(&mut self, context: &mut Context<'_>, act: &Act) {
        self.at = stepped(
            self.at,
            context.stash.state.listed_rings().len(),
            Action::Help,
        );
        if context.app.notice.is_none() {
            let words = told(context.stash, act);
            context.app.say(words);
        }
    }

    fn view(&self, app: &App, stash: Stash<'_>, frame: &mut Frame<'_>, pane: Rect) {
        let state = stash.state;
        let listed = state.listed_rings();
        let counter = match listed.len() {
            0 => String::new(),
            n => format!("{} of {n}", (self.at + 1).min(n)),
        };
        let frame_of = Pane {
            title: "Rings",
            counter: &counter,
            focus: true,
        };
        let inside = frame_of.draw(&app.theme, pane, frame.buffer_mut());
        let (width, height) = (usize::from(inside.width), usize::from(inside.height));
        let mut lines = Vec::new();
        if listed.is_empty() {
            let text = "No ring is open. Press n to begin a project, with its chart key or without. Or select cards on the board with Space and press t.";
            lines = paragraph(text, width, app.theme.muted());
        }
        let low = is_low(inside);
        let room = if low { height } else { (height + 1) / EACH };
        for n in in_view(self.at, listed.len(), room) {
            match listed.get(n) {
                Some(ring) if low => {
                    lines.push(line_of_ring(app, state, ring, n == self.at, width))
                }
                Some(ring) => lines.extend(of_ring(app, state, ring, n == self.at, width)),
                None => {}
            }
        }
        let room = height.saturating_sub(lines.len());
        if let (Some(ring), true) = (self.chosen(state), room > LEAST_BELOW) {
            lines.extend(cards_on_it(app, state, ring, (width, room)));
        }
        frame.render_widget(Paragraph::new(lines), inside);
    }
}

/// The cards on a ring in wall order, below the list, in as many columns as fit. The last line
/// counts the rest.
fn cards_on_it(
    app: &App,
    state: &State,
    ring: &Ring,
    (width, room): (usize, usize),
) -> Vec<Line<'static>> {
    let theme = &app.theme;
    let cards = state.in_board_order(state.cards_on(ring));
    if cards.is_empty() {
        return Vec::new();
    }
    let title = format!("On '{}'", ring.project);
    let mut lines = vec![Line::styled(fit(&title, width), theme.faint())];
    let columns = (width / LEAST_COLUMN).max(1);
    let each = width / columns;
    let is_all = cards.len() <= columns * (room - 1);
    let rows = if is_all { room - 1 } else { room - 2 };
    let rows = rows.min(cards.len().div_ceil(columns));
    for row in 0..rows {
        let of_row = (0..columns).filter_map(|column| cards.get(column * rows + row));
        let spans = of_row.flat_map(|kept| card_on_it(app, state, kept, each));
        lines.push(Line::from(spans.collect::<Vec<_>>()));
    }
    if !is_all {
        let more = format!("  and {} more", cards.len() - columns * rows);
        lines.push(Line::styled(fit(&more, width), theme.faint()));
    }
    lines
}

/// A card on a ring: its colour, number, name and home.
fn card_on_it(app: &App, state: &State, kept: &CardState, width: usize) -> [Span<'static>; 5] {
    let theme = &app.theme;
    let colour = kept.card.colour.and_then(|colour| theme.swatch(colour));
    let home = kept.home.map(|home| state.hook_name(home));
    let home = home.unwrap_or_default();
    let number = format!("{:<6}", state.number_and_tag(kept));
    let name = width.saturating_sub(6 + number.width() + home.width());
    [
        Span::raw("  "),
        Span::styled("  ", colour.unwrap_or_default()),
        Span::styled(format!(" {number}"), theme.strong()),
        Span::styled(pad(kept.card.name.as_str(), name), theme.muted()),
        Span::styled(format!(" {home}"), theme.faint()),
    ]
}

/// The style of a ring's line.
fn ink(app: &App, ring: &Ring, chosen: bool) -> Style {
    match (chosen, ring.is_closed()) {
        (true, _) => app.theme.row(),
        (false, true) => app.theme.muted(),
        (false, false) => Style::new(),
    }
}

/// How much of a kit is on its ring, such as `kitted 24 of 26`; `None` without a key.
fn kitted(app: &App, ring: &Ring) -> Option<String> {
    let (there, of) = app.derived.kit(ring.id).kitted;
    (of > 0).then(|| format!("kitted {there} of {of}"))
}

/// How many cards are on a ring.
fn cards_on(state: &State, ring: &Ring) -> String {
    text::cards(u32::try_from(state.cards_on(ring).count()).unwrap_or(u32::MAX))
}

/// A ring's name, with the number of its cards.
fn name_of_ring(
    app: &App,
    ring: &Ring,
    (base, cards): (Style, &str),
    width: usize,
) -> Vec<Span<'static>> {
    let theme = &app.theme;
    let mark = match app.chosen_rings.contains(&ring.id) {
        true => "* ",
        false => "  ",
    };
    let room = width.saturating_sub(cards.len() + 3);
    vec![
        Span::styled(mark, base.patch(theme.accent())),
        Span::styled(pad(ring.project.as_str(), room), base.patch(theme.strong())),
        Span::styled(format!(" {cards}"), base.patch(theme.muted())),
    ]
}

/// The owner's status text for a project, then where its ring is and since when.
fn whereabouts(app: &App, state: &State, ring: &Ring) -> (String, Style) {
    let (theme, place) = (&app.theme, ring_stands(app, state, ring));
    let (place, style) = match ring.state {
        RingState::Hanging { .. } => (place, theme.away()),
        RingState::Closed { .. } => (format!("{place}; c reopens it"), theme.muted()),
        RingState::Live => (place, theme.muted()),
    };
    match ring.status.as_str() {
        "" => (place, style),
        status => (format!("{status}, {place}"), style),
    }
}

/// The progress of a ring, and colours running low.
fn progress(app: &App, ring: &Ring, width: usize) -> Vec<Span<'static>> {
    let (theme, kit) = (&app.theme, app.derived.kit(ring.id));
    if ring.is_closed() {
        return Vec::new();
    }
    let low = match kit.low {
        0 => String::new(),
        1 => "  1 colour low".to_owned(),
        n => format!("  {n} colours low"),
    };
    let mut spans = Vec::new();
    if kit.needed_cm > 0 {
        let share = thousandths(kit.used_cm, kit.needed_cm);
        let words = format!(" {} %", share / 10);
        let room = width.saturating_sub(2 + words.len() + low.len());
        let bar = u16::try_from(room.min(width / 3).clamp(4, 16)).unwrap_or(4);
        spans.extend(gauge(bar, share, theme.away(), theme.line()));
        spans.push(Span::styled(words, theme.muted()));
    }
    spans.push(Span::styled(low, theme.wrong()));
    spans
}

/// A ring in four lines: name and cards, place, progress with low colours, and a gap.
fn of_ring(
    app: &App,
    state: &State,
    ring: &Ring,
    chosen: bool,
    width: usize,
) -> [Line<'static>; EACH] {
    let cards = cards_on(state, ring);
    let name = name_of_ring(app, ring, (ink(app, ring, chosen), &cards), width);
    let (stands, mood) = whereabouts(app, state, ring);
    let stands = Line::styled(format!("  {}", fit(&stands, width.saturating_sub(2))), mood);
    let mut how_far = vec![Span::raw("  ")];
    // A fixed width, so that the gauges line up.
    let kitted = kitted(app, ring).map_or_else(String::new, |kitted| format!("{kitted:<17}"));
    let rest = width.saturating_sub(kitted.len());
    how_far.push(Span::styled(kitted, app.theme.muted()));
    how_far.extend(progress(app, ring, rest));
    [
        Line::from(name),
        stands,
        Line::from(how_far),
        Line::default(),
    ]
}

/// The same on one line.
fn line_of_ring(
    app: &App,
    state: &State,
    ring: &Ring,
    chosen: bool,
    width: usize,
) -> Line<'static> {
    let base = ink(app, ring, chosen);
    let width = width.min(WIDEST);
    // On a narrow line, the kit goes beside the name so that both fit.
    let half = match width {
        105.. => width * 2 / 5,
        _ => width * 47 / 100,
    };
    let (stands, mood) = whereabouts(app, state, ring);
    // Shorten the warning about low colours if the line has no space for more.
    let (most, how_far) = match width {
        105.. => (33, progress(app, ring, 36)),
        _ => (12, share_and_low(app, ring)),
    };
    let most = if how_far.iter().all(|span| span.content.trim().is_empty()) {
        0
    } else {
        most
    };
    let room = (width - half).saturating_sub(most + 3);
    // The owner's own words come first.
    let stands = match ring.status.as_str() {
        status if !status.is_empty() && stands.width() > room => status.to_owned(),
        _ => stands,
    };
    let on_it = match kitted(app, ring) {
        Some(kitted) if width < 105 => kitted.replacen("kitted", "kit", 1),
        Some(kitted) => kitted,
        None => cards_on(state, ring),
    };
    let mut spans = name_of_ring(app, ring, (base, &on_it), half);
    spans.push(Span::styled(
        format!("  {} ", pad(&stands, room)),
        base.patch(mood),
    ));
    spans.extend(how_far);
    Line::from(spans)
}

/// The progress of a ring and its number of low colours, in at most 13 columns.
fn share_and_low(app: &App, ring: &Ring) -> Vec<Span<'static>> {
    let kit = app.derived.kit(ring.id);
    if ring.is_closed() {
        return Vec::new();
    }
    let share = match kit.needed_cm {
        0 => String::new(),
        all => format!("{:>3} %", thousandths(kit.used_cm, all) / 10),
    };
    let low = match kit.low {
        0 => String::new(),
        n => format!(" {n} low"),
    };
    vec![
        Span::styled(format!("{share:<5}"), app.theme.muted()),
        Span::styled(low, app.theme.wrong()),
    ]
}

/// The form for the hook a ring is hung on.
#[derive(Clone, Debug)]
pub struct HangUp {
    ring: RingId,
    hook: Input,
}

impl HangUp {
    /// The form, with the hook under the cursor as default.
    #[must_use]
    pub fn form(app: &App, state: &State, ring: RingId) -> Form<Self> {
        let hook = app.hook(state).map(|hook| state.hook_name(hook));
        let hook = Input::text("hook", "its name, such as C07", &hook.unwrap_or_default());
        Form::new(Self { ring, hook })
    }
}

/// The form for a project's status, in the owner's words.
#[derive(Clone, Debug)]
pub struct Status {
    ring: RingId,
    status: Input,
}

impl Status {
    /// The form, with the current status.
    #[must_use]
    pub fn form(ring: &Ring) -> Form<Self> {
        let hint = "such as waiting for linen; empty takes it away";
        let status = Input::text("status", hint, ring.status.as_str());
        Form::new(Self {
            ring: ring.id,
            status,
        })
    }
}

impl Fields for Status {
    fn title(&self, state: &State) -> String {
        let project = state.ring(self.ring).map(|ring| ring.project.as_str());
        format!("How {} stands, in your own words", project.unwrap_or("it"))
    }

    inputs!(status);

    fn done(&self, context: &mut Context<'_>) -> Result<Asks, Wrong> {
        let ring = context.stash.state.ring(self.ring);
        let ring = ring.ok_or_else(|| "That ring is gone.".to_owned())?;
        let event = ring::status(ring, self.status.value());
        something(event, "That is what it says already.")
    }
}

impl Fields for HangUp {
    fn title(&self, _: &State) -> String {
        "Leave the ring on a hook".to_owned()
    }

    inputs!(hook);

    fn done(&self, context: &mut Context<'_>) -> Result<Asks, Wrong> {
        let (state, now) = (context.stash.state, context.app.now);
        let ring = state.ring(self.ring);
        let ring = ring.ok_or_else(|| "That ring is gone.".to_owned())?;
        Ok(ring::hang_up(state, ring, self.hook.value(), now)?.into())
    }
}

#[cfg(test)]
mod tests {
    use crate::stash::state::State;
    use crate::tui::keymap::Action;
    use crate::tui::testing::{ROBIN, TestApp, now};
    use crate::tui::theme::Depth;

    fn names(state: &State) -> Vec<String> {
        let listed = state.listed_rings();
        listed.iter().map(|ring| ring.project.to_string()).collect()
    }

    fn drawn(desk: &TestApp) -> String {
        desk.drawn((120, 40)).join("\n")
    }

    fn can(desk: &TestApp, action: Action) -> bool {
        let top = desk.app.stack.last().unwrap();
        top.can(&desk.app, desk.stash(), action)
    }

    #[test]
    fn cursor_follows_a_project_up_and_down() {
        let mut desk = TestApp::sample(Depth::None).after("r>");
        assert_eq!(names(&desk.state), ["Kite", "Heron"]);
        assert!(drawn(&desk).contains("2 of 2"));
        assert!(can(&desk, Action::ShiftUp) && !can(&desk, Action::ShiftDown));
        desk.keys("K");
        assert_eq!(names(&desk.state), ["Heron", "Kite"]);
        assert!(drawn(&desk).contains("1 of 2"));
        // It is already the first.
        desk.keys("<");
        let notice = desk.app.notice.as_ref().unwrap();
        assert!(
            notice.text.contains("in that order already"),
            "{}",
            notice.text
        );
        desk.keys("u");
        assert_eq!(names(&desk.state), ["Kite", "Heron"]);
    }

    #[test]
    fn pane_beside_the_board_says_the_same_of_a_ring_as_the_list() {
        let mut desk = TestApp::sample(Depth::None);
        desk.app.now = now() + jiff::SignedDuration::from_hours(40 * 24);
        for words in ["open for 40 days", "hanging on D06 for 40 days"] {
            assert!(drawn(&desk).contains(words), "{}", drawn(&desk));
            assert!(drawn(&desk.after("r")).contains(words));
        }
    }

    #[test]
    fn project_status_can_be_set_and_removed() {
        let mut desk = TestApp::sample(Depth::None).after("rewaiting for linen\n");
        assert!(drawn(&desk).contains("waiting for linen, open since today"));
        assert!(
            desk.drawn((80, 24))
                .join("\n")
                .contains("waiting for linen")
        );
        desk.keys("e\n");
        assert!(
            desk.wrong().contains("what it says already"),
            "{}",
            desk.wrong()
        );
        desk.keys("\u{8}\n");
        assert!(!drawn(&desk).contains("waiting"), "{}", drawn(&desk));
    }

    #[test]
    fn list_shows_how_much_of_each_kit_is_on_its_ring() {
        let mut desk = TestApp::sample(Depth::None).after(ROBIN);
        assert!(drawn(&desk).contains("kitted 0 of 7"), "{}", drawn(&desk));
        desk.keys("tAy\u{1b}\u{1b}");
        for (size, words) in [
            ((80, 24), "kit 2 of 7"),
            ((120, 40), "kitted 2 of 7"),
            ((220, 60), "kitted 2 of 7"),
        ] {
            let text = desk.drawn(size).join("\n");
            assert!(text.contains(words), "{text}");
        }
    }

    #[test]
    fn impossible_ring_actions_are_disabled() {
        let empty = TestApp::empty(Depth::None).after("r");
        let actions = [Action::Accept, Action::PutAway, Action::Edit, Action::Buy];
        assert!(actions.iter().all(|&action| !can(&empty, action)));
        assert!(can(&empty, Action::NewProject));
        let open = TestApp::sample(Depth::None).after("rnWren\n\u{13}\u{1b}");
        assert!(!can(&open, Action::ShiftUp) && can(&open, Action::PutAway));
        assert!(!can(&open.after("jj"), Action::PutAway));
    }
}
