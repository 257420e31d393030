//! A step of a walk, readable from the wall: the card in hand and its place in large letters, the
//! hook highlighted on the wall, and the next cards.

use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::{Paragraph, Widget};
use unicode_width::UnicodeWidthStr;

use crate::model::board::HookRef;
use crate::stash::state::{CardState, State};
use crate::text::{self, capital};
use crate::tui::app::App;
use crate::tui::layout;
use crate::tui::theme::Signs;
use crate::tui::wall::{BoardView, board};
use crate::tui::widgets::digits::{self, Size};
use crate::tui::widgets::gauge::{gauge, thousandths};
use crate::tui::widgets::pane::{self, Pane};
use crate::tui::widgets::text::{fit, paragraph, put_within};

/// Columns of the pane with the card in hand if the wall is beside it; more on a large screen.
const NOW: u16 = 50;
const LARGE_NOW: u16 = 72;
/// Rows of the list of the next cards below the wall.
const NEXT: u16 = 11;

/// A card that comes later.
#[derive(Clone, Debug)]
pub struct Next<'a> {
    /// The card.
    pub kept: &'a CardState,
    /// Where it goes, or comes from.
    pub place: String,
    /// Whether it was skipped.
    pub later: bool,
}

/// A step.
#[derive(Clone, Debug)]
pub struct Step<'a> {
    /// Its card.
    pub kept: &'a CardState,
    /// The instruction: `hang it on`.
    pub words: String,
    /// The place, in large letters; may be empty.
    pub place: String,
    /// The hook whose neighbours are shown.
    pub beside: Option<HookRef>,
    /// Further help; may be empty.
    pub more: String,
    /// The highlighted hook.
    pub target: Option<HookRef>,
    /// The hook that the card comes from.
    pub source: Option<HookRef>,
    /// The steps after it.
    pub next: Vec<Next<'a>>,
    /// The typing hint; may be empty.
    pub hint: &'static str,
}

/// The title of a walk: its kind, its subject and its progress.
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

/// The cards on either side of a hook: `between 152 on C18 and 155 on C20`.
fn neighbours(state: &State, kept: &CardState, hook: HookRef) -> String {
    let (before, after) = state.hanging_beside(hook, kept.card.id);
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
    /// Draws the wall, the card and the list if there is space for all, or else the card and the
    /// list.
    pub fn draw(&self, app: &App, state: &State, frame: &mut Frame<'_>, body: Rect) {
        let (now, next) = if body.width >= 100 && body.height >= 24 {
            let next = if body.height >= 34 { NEXT } else { 5 };
            let (upper, next) = pane::with_foot(body, next);
            let is_large = body.width >= 180 && body.height >= 50;
            let (wall, now) = pane::with_right(upper, if is_large { LARGE_NOW } else { NOW });
            // A blank column separates them.
            self.wall(app, state, frame, pane::with_right(wall, 1).0);
            (now, next)
        } else {
            let now = body.width.min(NOW).min(body.width.max(60) - 22);
            pane::with_right(body, body.width - now)
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

    /// Draws the next cards.
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
        let places = next.iter().map(|next| next.place.width());
        let wide = places.max().unwrap_or(0).clamp(3, 8);
        let number_at = u16::try_from(wide).unwrap_or(8);
        let columns: &[u16] = match column < inside.width {
            true => &[0, column],
            false => &[0],
        };
        // With two columns, the last row is free for the hint.
        let is_below = column < inside.width && !self.hint.is_empty();
        let rows = inside.y..inside.bottom() - u16::from(is_below);
        let places = columns
            .iter()
            .flat_map(|&x| rows.clone().map(move |y| (inside.x + x, y)));
        for (next, (x, y)) in next.iter().zip(places) {
            let kept = next.kept;
            let strong = if next.later {
                app.theme.faint()
            } else {
                app.theme.strong()
            };
            let place = fit(&next.place, wide);
            put_within(buffer, (x, y), place, wide, app.theme.accent());
            let number = format!("{:>5}", state.number_and_tag(kept));
            put_within(buffer, (x + number_at, y), &number, 12, strong);
            let name_at = number_at + 7;
            let room = usize::from(column.saturating_sub(name_at + 1));
            let name = fit(&text::places::colour_to_tell(state, kept), room);
            put_within(buffer, (x + name_at, y), name, room, app.theme.muted());
        }
        let at = if is_below {
            Some((inside.x, inside.bottom() - 1))
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

    /// Draws the card in hand: its number on its colour, and where it goes.
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
        let number = state.number_and_tag(kept);
        let room = inside.width.saturating_sub(1);
        // The name below includes the tag of a split card, too.
        let number = match number.split_once('@') {
            Some((number, _)) if Size::Large.width(&state.number_and_tag(kept)) > room => number,
            _ => &*number,
        };
        let sizes = Sizes::of(inside, number, &self.place);
        let swatch = kept.card.colour.and_then(|colour| theme.swatch(colour));
        let style = swatch.unwrap_or_else(|| theme.strong());
        let patch = Rect {
            height: (sizes.number.height() + 1 + 2 * sizes.spare).min(inside.height),
            ..inside
        };
        if swatch.is_some() {
            buffer.set_style(patch, style);
        }
        let digits = Rect {
            x: patch.x + 1,
            y: patch.y + sizes.spare,
            width: patch.width.saturating_sub(1),
            height: sizes.number.height().min(patch.height),
        };
        let size = sizes.number.within(number, room);
        digits::draw(buffer, digits, number, size, style);
        let name = match kept.card.parent {
            Some(_) => state.card_name(kept),
            None => text::places::colour_to_tell(state, kept).into_owned(),
        };
        let name = fit(&name, usize::from(patch.width.saturating_sub(2)));
        if patch.height > 1 {
            let at = (patch.x + 1, patch.bottom() - 1);
            put_within(buffer, at, name, patch.width.into(), style);
        }
        let rest = below(inside, patch.height + sizes.spare);
        if rest.height > 0 {
            self.place(app, state, rest, sizes, buffer);
        }
    }

    /// Draws where the card goes, with its neighbours there.
    fn place(&self, app: &App, state: &State, area: Rect, sizes: Sizes, buffer: &mut Buffer) {
        let theme = &app.theme;
        let wide = usize::from(area.width);
        let words = fit(&self.words, wide);
        put_within(buffer, (area.x, area.y), words, wide, theme.muted());
        let large = Rect {
            x: area.x + 1,
            y: area.y + 1,
            width: area.width.saturating_sub(1),
            height: if self.place.is_empty() {
                0
            } else {
                area.height.saturating_sub(1).min(sizes.hook.height())
            },
        };
        let size = sizes.hook.within(&self.place, large.width);
        digits::draw(buffer, large, &self.place, size, theme.accent());
        let mut rest = below(area, 1 + large.height);
        if rest.height > Size::Small.height() {
            rest = below(rest, 1);
        }
        let mut lines = Vec::new();
        if let Some(hook) = self.beside {
            if self.neighbours_large(app, state, hook, rest, buffer) {
                rest = below(rest, Size::Small.height() + sizes.spare);
            } else {
                let words = format!("{}.", capital(&neighbours(state, self.kept, hook)));
                lines = paragraph(&words, wide, Style::new());
            }
        }
        lines.extend(paragraph(&self.more, wide, theme.muted()));
        Paragraph::new(lines).render(rest, buffer);
    }

    /// Draws the numbers of the neighbours of a hook in large letters, each on its thread's colour
    /// with its hook beside it. Returns whether they fit.
    fn neighbours_large(
        &self,
        app: &App,
        state: &State,
        hook: HookRef,
        area: Rect,
        buffer: &mut Buffer,
    ) -> bool {
        let theme = &app.theme;
        let (before, after) = state.hanging_beside(hook, self.kept.card.id);
        let half = area.width / 2;
        let number = |of: &Option<(HookRef, &CardState)>| {
            of.map_or_else(String::new, |(_, kept)| {
                state.number_and_tag(kept).into_owned()
            })
        };
        let numbers = [number(&before), number(&after)];
        let patch = |number: &str| Size::Small.width(number) + 1;
        let fits = |number: &String| digits::is_small(number) && patch(number) + 7 <= half;
        let plain = theme.signs == Signs::Ascii || area.height < Size::Small.height();
        if plain || !numbers.iter().all(fits) || (before.is_none() && after.is_none()) {
            return false;
        }
        let sides = [before, after].into_iter().zip(numbers).zip([true, false]);
        for ((side, number), is_left) in sides {
            let Some((on, kept)) = side else {
                continue;
            };
            let width = patch(&number);
            let x = if is_left {
                area.x
            } else {
                area.right() - width
            };
            let area = Rect::new(x, area.y, width, Size::Small.height());
            let swatch = kept.card.colour.and_then(|colour| theme.swatch(colour));
            let style = swatch.unwrap_or_else(|| theme.strong());
            if swatch.is_some() {
                buffer.set_style(area, style);
            }
            let inside = Rect {
                x: x + 1,
                width: width - 1,
                ..area
            };
            digits::draw(buffer, inside, &number, Size::Small, style);
            let hook = fit(&state.hook_name(on), 6);
            let used = u16::try_from(hook.width()).unwrap_or(6);
            let at = if is_left {
                area.right() + 1
            } else {
                x.saturating_sub(used + 1)
            };
            put_within(buffer, (at, area.y + 1), &hook, 6, theme.muted());
        }
        true
    }
}

/// The size of the letters in the pane with the card.
#[derive(Clone, Copy)]
struct Sizes {
    number: Size,
    hook: Size,
    /// A blank row between parts, if there is space.
    spare: u16,
}

impl Sizes {
    /// The largest that fit for both and the neighbours; if space is short, the hook is larger than
    /// the number.
    fn of(inside: Rect, number: &str, place: &str) -> Self {
        let fits = |size: Size| {
            let room = inside.width.saturating_sub(1);
            size.width(number) <= room && size.width(place) <= room
        };
        // The name, the instruction, a gap and the neighbours.
        let others = 3 + Size::Small.height();
        let both = |size: Size| 2 * size.height() + others;
        let of = |number, hook, spare| Self {
            number,
            hook,
            spare,
        };
        match inside.height {
            h if h >= both(Size::Huge) + 3 && fits(Size::Huge) => of(Size::Huge, Size::Huge, 1),
            h if h >= both(Size::Large) + 3 => of(Size::Large, Size::Large, 1),
            h if h >= both(Size::Large) => of(Size::Large, Size::Large, 0),
            h if h >= Size::Large.height() + Size::Half.height() + 4 => {
                of(Size::Half, Size::Large, 0)
            }
            _ => of(Size::Half, Size::Half, 0),
        }
    }
}

/// An area without its first rows.
fn below(area: Rect, rows: u16) -> Rect {
    pane::with_foot(area, area.height.saturating_sub(rows)).1
}
