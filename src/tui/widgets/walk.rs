//! A step of a walk, to be read from the wall: the card in the hand and its place in large letters, the hook lit on the
//! wall, and what comes next.

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;

use super::digits::{self, Size};
use super::gauge::{gauge, thousandths};
use super::pane::Pane;
use super::text::{fit, paragraph, put_within};
use crate::model::board::HookRef;
use crate::stash::state::{CardState, State};
use crate::tui::app::App;
use crate::tui::layout;
use crate::tui::spot::BoardView;
use crate::tui::view::board;

/// Columns of the pane with the card in the hand, where the wall is shown beside it.
const NOW: u16 = 50;
/// Rows of the list of the next cards below the wall.
const NEXT: u16 = 11;

/// A card that comes later.
#[derive(Clone, Debug)]
pub struct Next<'a> {
    /// The card.
    pub kept: &'a CardState,
    /// Where it goes, or comes from.
    pub place: String,
    /// Whether it was put off.
    pub later: bool,
}

/// A step.
#[derive(Clone, Debug)]
pub struct Step<'a> {
    /// The card it is about.
    pub kept: &'a CardState,
    /// What the hands do: `hang it on`.
    pub words: String,
    /// Where, in large letters; may be empty.
    pub place: String,
    /// What else helps: who hangs on either side.
    pub more: String,
    /// The hook that is lit.
    pub target: Option<HookRef>,
    /// The hook that the card comes from.
    pub source: Option<HookRef>,
    /// The steps after it.
    pub next: Vec<Next<'a>>,
    /// What may be typed; may be empty.
    pub hint: &'static str,
}

/// The line above a walk: what it is, of what, and how far it has come.
#[must_use]
pub fn title(
    app: &App,
    (what, of): (&str, &str),
    (done, all): (usize, usize),
    words: &str,
    width: u16,
) -> Line<'static> {
    let theme = &app.theme;
    let share = thousandths(done as u64, all as u64);
    let name = fit(of, usize::from(width / 3));
    let mut spans = vec![
        Span::styled(format!(" {what}  "), theme.accent()),
        Span::styled(name, theme.strong()),
        Span::raw("  "),
    ];
    spans.extend(gauge(
        (width / 3).min(40),
        share,
        theme.good(),
        theme.line(),
    ));
    spans.push(Span::styled(format!("  {words}"), theme.muted()));
    Line::from(spans)
}

/// Who hangs on either side of a hook: `between 152 on C18 and 155 on C20`.
#[must_use]
pub fn neighbours(state: &State, hook: HookRef) -> String {
    let (before, after) = state.cards_beside(hook);
    let name = |(hook, kept): (HookRef, &CardState)| {
        format!(
            "{} on {}",
            state.number_and_tag(kept),
            state.hook_name(hook)
        )
    };
    match (before.map(name), after.map(name)) {
        (Some(before), Some(after)) => format!("between {before} and {after}"),
        (Some(before), None) => format!("after {before}, the last"),
        (None, Some(after)) => format!("before {after}, the first"),
        (None, None) => "the first on this board".to_owned(),
    }
}

impl Step<'_> {
    /// Draws it: the wall, the card and the list where there is room for all, else the card and the list.
    pub fn draw(&self, app: &App, state: &State, frame: &mut Frame<'_>, body: Rect) {
        let (now, next) = if body.width >= 100 && body.height >= 24 {
            let next = if body.height >= 34 { NEXT } else { 5 };
            let (upper, next) = layout::with_foot(body, next);
            let (wall, now) = layout::with_right(upper, NOW);
            // A column keeps them apart.
            self.wall(app, state, frame, layout::with_right(wall, 1).0);
            (now, next)
        } else {
            let now = body.width.min(NOW).min(body.width.max(60) - 22);
            layout::with_right(body, body.width - now)
        };
        self.hand(app, state, frame, now);
        self.list(app, state, frame, next);
    }

    /// The wall with the hook that the card goes to.
    fn wall(&self, app: &App, state: &State, frame: &mut Frame<'_>, area: Rect) {
        let Some(board) = app.board(state) else {
            return;
        };
        let grid = layout::whole(state, board, &app.eye, area);
        let look = BoardView::lit(app, state, self.target, self.source);
        board::draw(app, state, &look, &grid, frame);
    }

    /// The next cards.
    fn list(&self, app: &App, state: &State, frame: &mut Frame<'_>, area: Rect) {
        if area.width < 14 || area.height < 3 {
            return;
        }
        let next = &self.next;
        let counter = format!("{} to go", next.len() + 1);
        let pane = Pane {
            title: "Next",
            counter: &counter,
            focus: false,
        };
        let inside = pane.draw(&app.theme, area, frame.buffer_mut());
        let buffer = frame.buffer_mut();
        let column = if inside.width >= 90 {
            inside.width / 2
        } else {
            inside.width
        };
        for (next, y) in next.iter().zip(inside.y..inside.bottom()) {
            let kept = next.kept;
            let strong = if next.later {
                app.theme.faint()
            } else {
                app.theme.strong()
            };
            put_within(
                buffer,
                (inside.x, y),
                fit(&next.place, 6),
                6,
                app.theme.accent(),
            );
            let number = format!("{:>5}", state.number_and_tag(kept));
            put_within(buffer, (inside.x + 6, y), &number, 12, strong);
            let room = usize::from(column.saturating_sub(16));
            let name = fit(kept.card.name.as_str(), room);
            put_within(buffer, (inside.x + 13, y), name, room, app.theme.muted());
        }
        let at = if column < inside.width {
            Some((inside.x + column, inside.y))
        } else {
            let y = inside.y
                + u16::try_from(next.len())
                    .unwrap_or(u16::MAX)
                    .saturating_add(1);
            (y + 3 <= inside.bottom()).then_some((inside.x, inside.bottom() - 3))
        };
        if let Some((x, y)) = at {
            let room = inside.right() - x;
            let lines = paragraph(self.hint, room.into(), app.theme.faint());
            let area = Rect::new(x, y, room, inside.bottom() - y);
            frame.render_widget(Paragraph::new(lines), area);
        }
    }

    /// The card in the hand: its number on its own colour, and where it goes.
    fn hand(&self, app: &App, state: &State, frame: &mut Frame<'_>, area: Rect) {
        let kept = self.kept;
        let theme = &app.theme;
        let pane = Pane {
            title: "Now",
            counter: "",
            focus: true,
        };
        let inside = pane.draw(theme, area, frame.buffer_mut());
        let buffer = frame.buffer_mut();
        let swatch = kept.card.colour.and_then(|colour| theme.swatch(colour));
        let style = swatch.unwrap_or_else(|| theme.strong());
        // Both in large letters where there is room, else the hook alone, else neither.
        let both = 2 * Size::Large.height() + 6;
        let (number_size, hook_size) = match inside.height {
            h if h >= both => (Size::Large, Size::Large),
            h if h >= Size::Large.height() + Size::Half.height() + 4 => (Size::Half, Size::Large),
            _ => (Size::Half, Size::Half),
        };
        let spare = inside.height > both;
        let block = number_size.height() + 2 + u16::from(spare);
        let patch = Rect {
            height: block.min(inside.height),
            ..inside
        };
        if swatch.is_some() {
            buffer.set_style(patch, style);
        }
        let number = state.number_and_tag(kept);
        let digits = Rect {
            x: patch.x + 1,
            y: patch.y + u16::from(spare),
            width: patch.width.saturating_sub(1),
            height: number_size.height().min(patch.height),
        };
        digits::draw(buffer, digits, &number, number_size, style);
        let name = match kept.card.parent {
            Some(_) => state.card_name(kept),
            None => kept.card.name.to_string(),
        };
        let name = fit(&name, usize::from(patch.width.saturating_sub(2)));
        if patch.height > 1 {
            let at = (patch.x + 1, patch.bottom() - 1);
            put_within(buffer, at, name, patch.width.into(), style);
        }
        let rest = Rect {
            y: patch.bottom(),
            height: inside.bottom().saturating_sub(patch.bottom()),
            ..inside
        };
        if rest.height == 0 {
            return;
        }
        let at = (rest.x, rest.y);
        put_within(
            buffer,
            at,
            fit(&self.words, rest.width.into()),
            rest.width.into(),
            theme.muted(),
        );
        let large = Rect {
            x: rest.x + 1,
            y: rest.y + 1,
            width: rest.width.saturating_sub(1),
            height: rest.height.saturating_sub(1).min(hook_size.height()),
        };
        digits::draw(buffer, large, &self.place, hook_size, theme.accent());
        let y = large.bottom() + u16::from(spare);
        let lines = paragraph(&self.more, rest.width.into(), Style::new());
        let below = Rect {
            y,
            height: rest.bottom().saturating_sub(y),
            ..rest
        };
        frame.render_widget(Paragraph::new(lines), below);
    }
}
