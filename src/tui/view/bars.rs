//! The title line, the status line, and notices.

use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use unicode_width::UnicodeWidthStr;

use crate::stash::state::State;
use crate::stash::whereabouts::Counts;
use crate::tui::app::screen::Extent;
use crate::tui::app::{App, Stash};
use crate::tui::keymap::Action;
use crate::tui::wall::HookStatus;
use crate::tui::widgets::pane::{Pane, clear};
use crate::tui::widgets::text::{fit, put, put_within, wrap};

/// The fewest columns that still show a useful part of a board's name.
const LEAST_NAME: usize = 12;
/// Shown beside the mode if the stash is read-only.
const READ_ONLY: &str = "read-only";
/// The columns from which the status line has room for a family beside the keys; the pane of the card names it too.
const FAMILY_FROM: usize = 100;
/// The most columns of a notice.
const WIDEST_TOAST: u16 = 76;

/// A count: its sign and number, with a label if there is space.
struct Count {
    short: String,
    words: &'static str,
    style: Style,
}

impl Count {
    fn text(&self, with_words: bool) -> String {
        match with_words && !self.words.is_empty() {
            true => format!("{} {}", self.short, self.words),
            false => self.short.clone(),
        }
    }
}

/// The board's name, and counts of the stash with the board's signs. If space is short, the labels
/// go first, from the last count to the first, then the free hooks; finally the name is cut.
pub(super) fn title(app: &App, state: &State, frame: &mut Frame<'_>, area: Rect) {
    let width = usize::from(area.width);
    let name = heading(app, state);
    let counts = counted(app, state);
    let free = free(app, state);
    let used = |worded: usize| -> usize {
        let texts = counts.iter().enumerate();
        texts
            .map(|(at, count)| count.text(at < worded).width() + 2)
            .sum()
    };
    let least = name.width().min(LEAST_NAME) + 3;
    let spare = |worded: usize, free: usize| used(worded) + least + free <= width;
    let free_width = free.width() + 2;
    let worded = (0..=counts.len()).rev().find(|&n| spare(n, free_width));
    let shows_free = worded.is_some();
    let worded = worded.unwrap_or(0);
    let right = if shows_free { free_width } else { 0 };
    let room = width.saturating_sub(used(worded) + right);
    let mut spans = Vec::new();
    if room >= 5 {
        let name = fit(&name, room - 3);
        spans.push(Span::styled(format!(" {name}  "), app.theme.strong()));
    } else {
        spans.push(Span::raw(" "));
    }
    for (at, count) in counts.iter().enumerate() {
        spans.push(Span::styled(count.text(at < worded), count.style));
        spans.push(Span::raw("  "));
    }
    frame.render_widget(Line::from(spans), area);
    if shows_free {
        let at = area.right() - u16::try_from(free_width - 1).unwrap_or(0);
        let buffer = frame.buffer_mut();
        put_within(buffer, (at, area.y), free, free_width, app.theme.muted());
    }
}

/// The current board, and its position among the boards.
fn heading(app: &App, state: &State) -> String {
    let name = app
        .board(state)
        .map_or_else(|| "Homehook".to_owned(), |board| board.name.to_string());
    match state.boards().len() {
        0 | 1 => name,
        n => format!("{name} ({board} of {n})", board = app.eye.board + 1),
    }
}

fn free(app: &App, state: &State) -> String {
    if app.board(state).is_none() {
        return String::new();
    }
    match Counts::of(state).free {
        1 => "1 free".to_owned(),
        n => format!("{n} free"),
    }
}

fn counted(app: &App, state: &State) -> Vec<Count> {
    let Counts {
        home,
        on_rings,
        in_hand,
        elsewhere,
        missing,
        to_hang,
        free: _,
    } = Counts::of(state);
    let theme = &app.theme;
    let some = |n: usize, style| if n > 0 { style } else { theme.muted() };
    let signed = |sign: HookStatus, n: usize, words, style| Count {
        short: format!("{} {n}", sign.glyph()),
        words,
        style: some(n, style),
    };
    let to_hang = to_hang + in_hand;
    let mut all = vec![
        Count {
            short: home.to_string(),
            words: "home",
            style: theme.muted(),
        },
        signed(HookStatus::Out, on_rings, "on rings", theme.away()),
        signed(HookStatus::Missing, missing, "missing", theme.wrong()),
        signed(HookStatus::Coming, to_hang, "to hang", theme.accent()),
    ];
    if elsewhere > 0 {
        all.push(signed(
            HookStatus::Elsewhere,
            elsewhere,
            "elsewhere",
            theme.away(),
        ));
    }
    if !app.chosen.is_empty() {
        all.push(Count {
            short: format!("* {}", app.chosen.len()),
            words: "selected",
            style: theme.strong(),
        });
    }
    all
}

/// The mode, as many key hints as fit, and the cursor position. The help key always fits, and the
/// one that leaves wherever there is space for both.
pub(super) fn status(app: &App, stash: Stash<'_>, frame: &mut Frame<'_>, area: Rect) {
    let theme = &app.theme;
    frame.buffer_mut().set_style(area, theme.raised());
    let scope = app.scope();
    let chip = format!(" {} ", scope.chip());
    let width = usize::from(area.width);
    let here = position(app, stash.state, width >= FAMILY_FROM);
    let mut spans = vec![
        Span::raw(" "),
        Span::styled(fit(&chip, width.saturating_sub(2)), theme.target()),
        Span::raw("  "),
    ];
    let mut used = chip.width() + 3;
    if stash.read_only.is_some() {
        spans.push(Span::styled(READ_ONLY, theme.wrong()));
        spans.push(Span::raw("   "));
        used += READ_ONLY.width() + 3;
    }
    let right = if here.is_empty() { 0 } else { here.width() + 3 };
    let underway = stash.state.underway().map(|rehang| {
        let (done, steps) = (rehang.done, rehang.steps);
        format!("re-hang {done} of {steps}")
    });
    let mut hinted: Vec<(String, &str, Action)> = app
        .keys
        .in_scope(scope)
        .filter(|bound| {
            let holds = bound.binding.scope == scope || !scope.is_typed_in();
            holds && !bound.binding.hint.is_empty()
        })
        .filter_map(|bound| {
            let key = bound.keys.first()?.to_string();
            let hint = match (bound.binding.action, &underway) {
                (Action::Rehang, Some(how_far)) => how_far.as_str(),
                _ => bound.binding.hint(),
            };
            Some((key, hint, bound.binding.action))
        })
        .collect();
    // A re-hang that waits to be continued comes first.
    if underway.is_some() {
        hinted.sort_by_key(|(_, _, action)| *action != Action::Rehang);
    }
    let wide = |(key, hint, _): &(String, &str, Action)| key.width() + 1 + hint.width() + 3;
    let is_help = |(_, _, action): &&(String, &str, Action)| *action == Action::Help;
    let help = hinted.iter().find(is_help);
    let does = |what: Action| hinted.iter().find(move |(_, _, action)| *action == what);
    let leave = does(Action::Quit).or_else(|| does(Action::Cancel));
    let first = hinted.first().map_or(0, wide);
    let least = used + first + help.map_or(0, wide);
    let leave = leave.filter(|leave| least + wide(leave) <= width + 3);
    let kept = [leave, help].into_iter().flatten().map(wide).sum::<usize>();
    let keys = hinted.iter().filter(|hint| {
        let leaves = leave.is_some_and(|leave| leave.2 == hint.2);
        !is_help(hint) && !leaves
    });
    // Impossible actions are greyed, so that the hints keep their places.
    let can = |action| {
        let top = app.stack.last();
        top.is_none_or(|screen| screen.can(app, stash, action))
    };
    let push = |spans: &mut Vec<Span<'_>>, hint: &(String, &str, Action)| {
        let (key, word) = if can(hint.2) {
            (theme.accent(), theme.muted())
        } else {
            (theme.faint(), theme.faint())
        };
        spans.push(Span::styled(hint.0.clone(), key));
        spans.push(Span::styled(format!(" {}   ", hint.1), word));
    };
    for hint in keys {
        let more = wide(hint);
        if used + more + kept + right > width {
            break;
        }
        push(&mut spans, hint);
        used += more;
    }
    if let Some(leave) = leave {
        push(&mut spans, leave);
        used += wide(leave);
    }
    if let Some(help) = help.filter(|help| used + wide(help) <= width + 3) {
        push(&mut spans, help);
        used += wide(help);
    }
    frame.render_widget(Line::from(spans), area);
    if !here.is_empty() && used + here.width() < width {
        let at = area.right() - u16::try_from(here.width() + 1).unwrap_or(0);
        let buffer = frame.buffer_mut();
        put(
            buffer,
            (at, area.y),
            here,
            theme.raised().patch(theme.muted()),
        );
    }
}

/// The hook under the cursor and its position among all hooks, and with `family` its family if the
/// margin doesn't name it.
fn position(app: &App, state: &State, family: bool) -> String {
    let covered = app
        .stack
        .last()
        .is_some_and(|screen| screen.extent() != Extent::Beside);
    if covered {
        return String::new();
    }
    let (Some(board), Some(hook)) = (app.board(state), app.hook(state)) else {
        return String::new();
    };
    let all = u32::from(board.rows) * u32::from(board.columns);
    let at = board.reading_index(hook) + 1;
    let place = format!("{} · {at}/{all}", board.hook_name(hook));
    let margin = super::layout::current(app, state).and_then(|grid| grid.margin());
    let family = app
        .card(state)
        .filter(|_| family)
        .map(|kept| state.family_name(kept));
    match family {
        Some(name) if margin.is_none() && !name.is_empty() => format!("{name} · {place}"),
        _ => place,
    }
}

/// The notice, at the bottom of the body. For a change it names the undo key, if there is one. Text
/// beyond the available lines is cut.
pub(super) fn toast(app: &App, stash: Stash<'_>, buffer: &mut Buffer, body: Rect) {
    let theme = &app.theme;
    let Some(notice) = &app.notice else { return };
    let undo = app.keys.first(app.scope(), Action::Undo);
    let undo = undo.filter(|_| notice.undo && stash.read_only.is_none());
    let text = match undo {
        Some(key) => format!("{} · {key} undo", notice.text),
        None => notice.text.clone(),
    };
    let text = text.as_str();
    let style = if notice.wrong {
        theme.wrong()
    } else {
        Style::new()
    };
    let widest = body.width.min(WIDEST_TOAST);
    if body.height < 3 || widest < 12 {
        let line = Rect {
            y: body.bottom().saturating_sub(1),
            height: body.height.min(1),
            ..body
        };
        clear(line, theme.base(), buffer);
        put_within(
            buffer,
            (line.x, line.y),
            fit(text, line.width.into()),
            line.width.into(),
            style,
        );
        return;
    }
    let mut lines = wrap(text, usize::from(widest) - 4);
    let most = usize::from(body.height - 2).min(6);
    if lines.len() > most {
        let rest = lines.split_off(most - 1).join(" ");
        lines.push(fit(&rest, usize::from(widest) - 4));
    }
    let longest = lines.iter().map(|line| line.width()).max().unwrap_or(0);
    let width = u16::try_from(longest + 4)
        .unwrap_or(widest)
        .clamp(12, widest);
    let height = u16::try_from(lines.len()).unwrap_or(1) + 2;
    let area = Rect::new(body.right() - width, body.bottom() - height, width, height);
    clear(area, theme.base(), buffer);
    let pane = Pane {
        title: "",
        counter: "",
        focus: true,
    };
    let inside = pane.draw(theme, area, buffer);
    for (line, y) in lines.iter().zip(inside.y..inside.bottom()) {
        put_within(buffer, (inside.x, y), line, inside.width.into(), style);
    }
}

#[cfg(test)]
mod tests {
    use crate::tui::keymap::Keymap;
    use crate::tui::testing::TestApp;
    use crate::tui::theme::Depth;

    fn drawn(desk: &TestApp) -> String {
        desk.drawn((120, 40)).join("\n")
    }

    #[test]
    fn notice_about_a_change_names_the_undo_key() {
        let mut desk = TestApp::sample(Depth::None).after("m");
        let told = "10 is marked as missing";
        assert!(drawn(&desk).contains(&format!("{told} · u undo")));
        // A custom key is named.
        let (keys, wrong) = Keymap::read(r#"{"board": {"undo": ["Z"]}}"#);
        assert_eq!(wrong, Vec::<String>::new());
        desk.app.keys = keys;
        assert!(drawn(&desk).contains(&format!("{told} · Z undo")));
        // The same key doesn't undo an undo, and a notice that changed nothing offers no undo.
        for keys in ["Z", "H"] {
            let desk = desk.after(keys);
            assert!(desk.app.notice.is_some(), "{keys}");
            assert!(!drawn(&desk).contains("· Z undo"), "{keys}");
        }
        // An unbound key keeps the notice; the next working key removes it.
        desk.keys("~");
        assert!(drawn(&desk).contains(told));
        desk.keys("l");
        assert!(!drawn(&desk).contains(told));
    }

    #[test]
    fn read_only_label_shows_beside_the_mode_and_covers_nothing() {
        let mut desk = TestApp::sample(Depth::None);
        let panes = drawn(&desk);
        desk.read_only = Some("Read-only: another window writes".to_owned());
        let text = drawn(&desk);
        let (before, after): (Vec<&str>, Vec<&str>) =
            (panes.lines().collect(), text.lines().collect());
        assert_eq!(before[..39], after[..39]);
        assert!(
            after[39].starts_with("  BOARD   read-only   / find"),
            "{}",
            after[39]
        );
        // A change shows the reason.
        assert!(drawn(&desk.after("m")).contains("another window writes"));
    }
}
