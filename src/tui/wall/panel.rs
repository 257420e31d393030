//! The panes around the board: the card under the cursor, the rings, and others as space allows.

use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Modifier, Style};
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;
use strum::VariantArray;
use unicode_width::UnicodeWidthStr;

use super::corner;
use crate::model::board::HookRef;
use crate::model::card::MoveCost;
use crate::model::ring::{Ring, RingState};
use crate::stash::state::{AwayReason, CardState, State};
use crate::stash::whereabouts::forgotten;
use crate::text;
use crate::text::cards;
use crate::tui::app::derived::KitState;
use crate::tui::app::{App, Stash, cards_at};
use crate::tui::heat::Heat;
use crate::tui::layout::{Grid, STRIP};
use crate::tui::theme::Theme;
use crate::tui::widgets::gauge::{self, gauge, thousandths};
use crate::tui::widgets::pane::Pane;
use crate::tui::widgets::text::{ago, fit, labelled, pad, paragraph, put, put_within, since_when};

/// Columns of the swatch beside the details of a card.
const SWATCH: u16 = 10;
/// Columns of a label.
const LABEL: usize = 10;

/// A function that draws a pane.
type Draw = fn(&App, &State, &Grid, Rect, &mut Frame<'_>);

/// Draws the panes around the board.
pub(in crate::tui) fn panes(
    app: &App,
    stash: Stash<'_>,
    grid: &Grid,
    all: &[Rect],
    frame: &mut Frame<'_>,
) {
    let state = stash.state;
    let scrolls = app.board(state).is_some_and(|board| {
        grid.rows > 0
            && grid.columns > 0
            && (grid.rows < board.rows || grid.columns < board.columns)
    });
    let mut others: Vec<Draw> = Vec::new();
    if app.heat != Heat::Off {
        others.push(heat);
    }
    if scrolls {
        others.push(map);
    }
    others.push(rings);
    others.push(away);
    let Some((first, rest)) = all.split_first() else {
        return;
    };
    card_pane(app, state, *first, frame);
    for (area, draw) in rest.iter().zip(others) {
        draw(app, state, grid, *area, frame);
    }
}

/// Draws the frame of a pane and returns its inside; a strip has no frame.
fn framed(
    app: &App,
    area: Rect,
    title: &str,
    counter: &str,
    focus: bool,
    buffer: &mut Buffer,
) -> Rect {
    if area.height <= STRIP {
        return Rect {
            x: area.x + 1,
            width: area.width.saturating_sub(2),
            ..area
        };
    }
    let pane = Pane {
        title,
        counter,
        focus,
    };
    pane.draw(&app.theme, area, buffer)
}

/// Draws a card in the colour of its thread, with its number on it, and returns the area left
/// beside it. Without a colour or the space, that is the whole area.
fn beside_swatch(
    app: &App,
    state: &State,
    kept: &CardState,
    area: Rect,
    buffer: &mut Buffer,
) -> Rect {
    let theme = &app.theme;
    let colour = kept.card.colour;
    let Some((colour, style)) = colour.and_then(|colour| Some((colour, theme.swatch(colour)?)))
    else {
        return area;
    };
    if area.width < SWATCH + 22 {
        return area;
    }
    let swatch = Rect::new(area.x, area.y, SWATCH, area.height.min(4));
    buffer.set_style(swatch, style);
    let number = fit(&format!(" {}", state.number_and_tag(kept)), SWATCH.into());
    let at = swatch.bottom().saturating_sub(2).max(swatch.y);
    let ink = style.add_modifier(Modifier::BOLD);
    put(buffer, (swatch.x, at), number, ink);
    if let (Some(gap), true) = (theme.gap_of(colour), swatch.height >= 2) {
        let foot = (swatch.x, swatch.bottom() - 1);
        put(buffer, foot, "▄".repeat(SWATCH.into()), style.fg(gap));
    }
    Rect {
        x: area.x + SWATCH + 2,
        width: area.width - SWATCH - 2,
        ..area
    }
}

/// The card under the cursor, or information about the hook.
fn card_pane(app: &App, state: &State, area: Rect, frame: &mut Frame<'_>) {
    let Some(hook) = app.hook(state) else {
        return;
    };
    let kept = app.card(state);
    let title = match kept {
        Some(kept) => format!("{} {}", state.card_name(kept), kept.card.name),
        None => "No card".to_owned(),
    };
    let hook_name = format!("hook {}", state.hook_name(hook));
    let strip = area.height <= STRIP;
    let mut inside = framed(
        app,
        area,
        title.trim(),
        &hook_name,
        true,
        frame.buffer_mut(),
    );
    if !strip && inside.height >= 6 {
        inside.y += 1;
        inside.height -= 1;
    }
    if let (Some(kept), false) = (kept, strip) {
        inside = beside_swatch(app, state, kept, inside, frame.buffer_mut());
    }
    let width = usize::from(inside.width);
    let mut lines = Vec::new();
    if strip && let Some(kept) = kept {
        let colour = kept.card.colour.and_then(|colour| app.theme.swatch(colour));
        let chip = colour.unwrap_or_default();
        let mut spans = vec![
            Span::styled("    ", chip),
            Span::styled(format!(" {title} "), app.theme.strong()),
            Span::styled(format!(" {hook_name}"), app.theme.muted()),
        ];
        let which = which_card(app, state, hook);
        spans.push(Span::styled(which, app.theme.muted()));
        lines.push(Line::from(spans));
    } else if kept.is_some() {
        let which = which_card(app, state, hook);
        if !which.is_empty() {
            lines.push(Line::styled(which, app.theme.muted()));
        }
    }
    lines.extend(hook_lines(app, state, hook, width));
    match kept {
        Some(kept) => lines.extend(facts(app, state, kept, hook, width)),
        None => lines.extend(no_card(app, state, hook, width)),
    }
    frame.render_widget(Paragraph::new(lines), inside);
}

/// `card 1 of 2 on this hook (Tab)`; empty if there is only one.
fn which_card(app: &App, state: &State, hook: HookRef) -> String {
    match cards_at(state, hook).len() {
        0 | 1 => String::new(),
        n => format!("card {} of {n} here, Tab", app.eye.pick.min(n - 1) + 1),
    }
}

/// Information about the hook itself.
fn hook_lines(app: &App, state: &State, hook: HookRef, width: usize) -> Vec<Line<'static>> {
    let mut lines = Vec::new();
    for ring in state.rings() {
        if let RingState::Hanging { hook: at, since } = ring.state
            && at == hook
        {
            let left = state.cards_on(ring).count();
            let text = format!(
                "'{project}' hangs here {since}, with {cards}",
                project = ring.project,
                since = since_when(since, app.now),
                cards = cards(u32::try_from(left).unwrap_or(u32::MAX))
            );
            lines.extend(paragraph(&text, width, app.theme.away()));
        }
    }
    if (state.board(hook.board)).is_some_and(|board| board.reserved(hook)) {
        let text = "Reserved: a re-hang leaves it free";
        lines.extend(paragraph(text, width, app.theme.muted()));
    }
    lines
}

fn no_card(app: &App, state: &State, hook: HookRef, width: usize) -> Vec<Line<'static>> {
    let board = state.board(hook.board);
    let text = match board.and_then(|board| board.blocked(hook)) {
        Some(why) => format!("Blocked: {why}"),
        None => match state.capacity(hook) {
            1 => "A free hook".to_owned(),
            n => format!("Room for {n} cards"),
        },
    };
    paragraph(&text, width, app.theme.muted())
}

/// Details of a card, most important first, for the pane beside its swatch.
fn facts(
    app: &App,
    state: &State,
    kept: &CardState,
    hook: HookRef,
    width: usize,
) -> Vec<Line<'static>> {
    let theme = &app.theme;
    let muted = theme.muted();
    let mut lines = place_lines(app, state, kept, width);
    lines.push(left_line(app, state, kept, width));
    let marks = marks(state, kept);
    if !marks.is_empty() {
        let style = match state.is_discontinued(&kept.colour_ref()) {
            true => theme.wrong(),
            false => theme.away(),
        };
        lines.extend(paragraph(&text::capital(&marks), width, style));
    }
    let label = |text: &str| Span::styled(pad(text, LABEL), muted);
    let room = width.saturating_sub(LABEL);
    for (at, wanted) in app.derived.wanted(kept.card.id).iter().enumerate() {
        let Some(ring) = state.ring(wanted.ring) else {
            continue;
        };
        let much = wanted.left.map_or_else(String::new, |left| {
            format!("  {}", text::thread::amount(left, wanted.put_up))
        });
        lines.push(Line::from(vec![
            label(if at == 0 { "wanted by" } else { "" }),
            Span::raw(match format!("{}{much}", ring.project) {
                words if words.width() <= room => words,
                _ => fit(ring.project.as_str(), room),
            }),
        ]));
    }
    let wants = wants(state, kept);
    if !wants.is_empty() {
        let first = app.derived.wanted(kept.card.id).is_empty();
        lines.push(Line::from(vec![
            label(if first { "wanted" } else { "" }),
            Span::raw(fit(&wants, room)),
        ]));
    }
    if let Some(text) = neighbours(state, hook) {
        lines.push(Line::from(vec![
            label("between"),
            Span::styled(fit(&text, room), muted),
        ]));
    }
    if let Some(with) = text::places::last_seen_with(state, kept) {
        lines.extend(paragraph(&with, width, Style::new()));
    }
    let mut say = |what: &str, value: &str| {
        if !value.is_empty() {
            lines.push(Line::from(vec![
                label(what),
                Span::styled(fit(value, room), muted),
            ]));
        }
    };
    say("part-used", &part_used(kept));
    say("range", state.range_name(kept));
    say("family", state.family_name(kept));
    say("lot", &by_lot(state, kept));
    say("note", kept.card.note.as_str());
    say("held", &held(state, kept));
    let colour = kept.card.colour.map(|colour| colour.to_string());
    say("colour", &colour.unwrap_or_default());
    if app.chosen.contains(&kept.card.id) {
        lines.push(Line::styled("* selected", theme.strong()));
    }
    lines
}

fn place_lines(app: &App, state: &State, kept: &CardState, width: usize) -> Vec<Line<'static>> {
    let (at_home, missing) = (
        kept.is_home(),
        AwayReason::of(kept) == Some(AwayReason::Missing),
    );
    if at_home {
        let text = format!("at home {}", since_when(kept.place.since, app.now));
        return vec![Line::raw(fit(&text, width))];
    }
    let place = text::places::place_of(state, kept);
    let text = format!("{place}, {}", ago(kept.place.since, app.now));
    let style = if missing {
        app.theme.wrong()
    } else {
        app.theme.away()
    };
    paragraph(&text, width, style)
}

/// The thread left on a card, relative to a whole skein.
fn left_line(app: &App, state: &State, kept: &CardState, width: usize) -> Line<'static> {
    let theme = &app.theme;
    let put_up = state.put_up(&kept.card);
    let skein = put_up.cut_skein(kept.card.cut_cm);
    let share = thousandths(kept.strands().0.into(), skein.0.into());
    let style = if share >= 250 {
        theme.good()
    } else {
        theme.wrong()
    };
    let mut text = amount(state, kept);
    if kept.skeins() > 0 {
        text = format!("{text} + {}", text::thread::skeins(kept.skeins()));
    }
    let bar = width.saturating_sub(LABEL + text.width() + 2).clamp(0, 18);
    let mut spans = vec![Span::styled(pad("left", LABEL), theme.muted())];
    if bar >= 6 {
        let bar = u16::try_from(bar).unwrap_or(6);
        spans.extend(gauge(bar, share, style, theme.line()));
        spans.push(Span::raw("  "));
    }
    spans.push(Span::raw(fit(&text, width.saturating_sub(LABEL))));
    Line::from(spans)
}

/// The cards before and after a hook, in board order: `223 and 226`.
fn neighbours(state: &State, hook: HookRef) -> Option<String> {
    let (before, after) = state.cards_beside(hook);
    let name = |(_, kept): (HookRef, &CardState)| state.number_and_tag(kept).into_owned();
    Some(match (before.map(name), after.map(name)) {
        (Some(before), Some(after)) => format!("{before} and {after}"),
        (Some(before), None) => format!("{before} and the end"),
        (None, Some(after)) => format!("the start and {after}"),
        (None, None) => return None,
    })
}

/// How much of a card's colour is on the want list; empty if it isn't on it.
fn wants(state: &State, kept: &CardState) -> String {
    match state.wanted(&kept.colour_ref()) {
        0 => String::new(),
        n => format!("want list: {}", text::thread::skeins(n)),
    }
}

/// The rest of a part-used skein kept with a card; empty if there is none.
fn part_used(kept: &CardState) -> String {
    match kept.thread.part_cm() {
        0 => String::new(),
        cm => text::thread::metres(cm),
    }
}

/// The dye lots of a card, with the amount of each if there are several.
fn by_lot(state: &State, kept: &CardState) -> String {
    let left = kept.thread.lots().filter(|(_, of)| !of.is_used_up());
    match left.count() {
        0 | 1 => kept.thread.lot_names(),
        _ => text::thread::by_lot(&kept.thread, state.put_up(&kept.card)),
    }
}

/// The marks of a card's colour: `variegated; discontinued, this is the last uncut skein`.
fn marks(state: &State, kept: &CardState) -> String {
    let variegated = state.is_variegated(&kept.card);
    let variegated = variegated.then(|| "variegated".to_owned());
    let scarce = text::thread::scarcity(state, &kept.colour_ref());
    let marks: Vec<String> = variegated.into_iter().chain(scarce).collect();
    marks.join("; ")
}

fn held(state: &State, kept: &CardState) -> String {
    match (kept.card.touch, state.family_hold(kept)) {
        (MoveCost::Held, _) => "here: a re-hang leaves it".to_owned(),
        (_, Some(family)) => format!("with its family, {name}", name = family.name),
        _ => String::new(),
    }
}

/// The open rings: how much is back home or kitted, and how long each has been out.
fn rings(app: &App, state: &State, _: &Grid, area: Rect, frame: &mut Frame<'_>) {
    let open: Vec<&Ring> = state
        .listed_rings()
        .into_iter()
        .filter(|ring| !ring.is_closed())
        .collect();
    let counter = open.len().to_string();
    let inside = framed(app, area, "Rings", &counter, false, frame.buffer_mut());
    let mut inside = inside;
    if open.is_empty() {
        let text = "No ring is out. t takes cards to one.";
        let lines = paragraph(text, inside.width.into(), app.theme.muted());
        frame.render_widget(Paragraph::new(lines), inside);
        return;
    }
    // Two lines per ring if there is space, and a blank one above.
    let count = u16::try_from(open.len()).unwrap_or(u16::MAX);
    let each = if inside.height >= count.saturating_mul(2) {
        2
    } else {
        1
    };
    if inside.height > count.saturating_mul(each) {
        inside.y += 1;
        inside.height -= 1;
    }
    let late = forgotten(state, app.now);
    let buffer = frame.buffer_mut();
    let shown = usize::from(inside.height / each);
    for (at, ring) in open.iter().enumerate() {
        let y = inside.y + u16::try_from(at).unwrap_or(0) * each;
        if at + 1 >= shown && open.len() > shown {
            let more = format!("and {} more: r", open.len() - at);
            put_within(
                buffer,
                (inside.x, y),
                more,
                inside.width.into(),
                app.theme.muted(),
            );
            break;
        }
        let late = late.iter().find(|one| one.ring.id == ring.id);
        ring_lines(
            app,
            state,
            (ring, late.map(|one| one.days)),
            Rect {
                y,
                height: each,
                ..inside
            },
            buffer,
        );
    }
}

/// A ring on one or two lines, highlighted with its days if it is late.
fn ring_lines(
    app: &App,
    state: &State,
    (ring, late): (&Ring, Option<i64>),
    area: Rect,
    buffer: &mut Buffer,
) {
    let theme = &app.theme;
    let count = state.cards_on(ring).count();
    let kit = app.derived.kit(ring.id);
    let right = match (count, kit.kitted) {
        (0, (_, 0)) => "no cards".to_owned(),
        (_, (there, of)) if of > 0 => format!("kit {there} of {of}"),
        (n, _) => cards(u32::try_from(n).unwrap_or(u32::MAX)),
    };
    let or_late = |style: Style| if late.is_some() { theme.wrong() } else { style };
    let name = |room: usize, buffer: &mut Buffer| {
        let name = fit(ring.project.as_str(), room);
        let style = or_late(theme.strong());
        put_within(buffer, (area.x, area.y), name, room, style);
    };
    let width = usize::from(area.width);
    if area.height < 2 {
        let short = late.map_or(right, |days| format!("{days} days"));
        name(width.saturating_sub(short.width() + 1), buffer);
        let at = area.right() - u16::try_from(short.width().min(width)).unwrap_or(0);
        let style = or_late(theme.muted());
        put_within(buffer, (at, area.y), short, width, style);
        return;
    }
    let bar: u16 = if area.width >= 44 { 10 } else { 0 };
    name(width.saturating_sub(13 + usize::from(bar)), buffer);
    let at = area.right().saturating_sub(12);
    if bar > 0 {
        let share = share_done(ring, kit, count);
        let bars = gauge(bar, share, or_late(theme.away()), theme.line());
        gauge::draw(buffer, (at - bar - 1, area.y), bars);
    }
    put_within(buffer, (at, area.y), fit(&right, 12), 12, theme.muted());
    let stands = fit(&ring_stands(app, state, ring), width);
    let below = (area.x, area.y + 1);
    put_within(buffer, below, stands, width, or_late(theme.faint()));
}

/// Where a ring is, and since when: `hanging on D06 for 12 days`, `open since today`.
#[must_use]
pub fn ring_stands(app: &App, state: &State, ring: &Ring) -> String {
    let since = |then| since_when(then, app.now);
    match ring.state {
        RingState::Hanging { hook, since: then } => {
            format!("hanging on {} {}", state.hook_name(hook), since(then))
        }
        RingState::Closed { at } => format!("closed {}", since(at)),
        RingState::Live => format!("open {}", since(ring.opened)),
    }
}

/// The progress of a ring in thousandths: stitching, or without a stitch count the share of cards
/// that are home again.
fn share_done(ring: &Ring, kit: KitState, on_it: usize) -> u32 {
    if kit.needed_cm > 0 {
        return thousandths(kit.used_cm, kit.needed_cm);
    }
    match ring.went_out.len() {
        0 => 0,
        out => thousandths((out - on_it.min(out)) as u64, out as u64),
    }
}

/// The cards away from home.
fn away(app: &App, state: &State, _: &Grid, area: Rect, frame: &mut Frame<'_>) {
    let index = state.index();
    let all: Vec<&CardState> = AwayReason::VARIANTS
        .iter()
        .flat_map(|&reason| index.abroad(reason))
        .filter_map(|id| state.card(id))
        .collect();
    let counter = all.len().to_string();
    let inside = framed(
        app,
        area,
        "Not at home",
        &counter,
        false,
        frame.buffer_mut(),
    );
    if all.is_empty() {
        let lines = paragraph(
            "Every card is at home.",
            inside.width.into(),
            app.theme.muted(),
        );
        frame.render_widget(Paragraph::new(lines), inside);
        return;
    }
    let buffer = frame.buffer_mut();
    let width = usize::from(inside.width);
    for (kept, y) in all.iter().zip(inside.y..inside.bottom()) {
        let left = all.len().saturating_sub(usize::from(y - inside.y));
        if y + 1 == inside.bottom() && left > 1 {
            let more = format!("and {left} more: w");
            put_within(buffer, (inside.x, y), more, width, app.theme.muted());
            break;
        }
        let colour = kept.card.colour.and_then(|colour| app.theme.swatch(colour));
        if let Some(style) = colour {
            put(buffer, (inside.x, y), "  ", style);
        }
        let name = format!("{} {}", state.number_and_tag(kept), kept.card.name);
        let side = (width / 3).min(24);
        let room = width.saturating_sub(side + 4);
        put_within(
            buffer,
            (inside.x + 3, y),
            fit(&name, room),
            room,
            Style::new(),
        );
        let place = text::places::brief(&state.place_of(kept));
        let at = inside.right() - u16::try_from(side.min(width)).unwrap_or(0);
        let style = if kept.place.at.is_missing() {
            app.theme.wrong()
        } else {
            app.theme.muted()
        };
        put_within(buffer, (at, y), fit(&place, side), side, style);
    }
}

fn heat(app: &App, _: &State, _: &Grid, area: Rect, frame: &mut Frame<'_>) {
    let title = app.heat.title();
    let inside = framed(app, area, title, "H", false, frame.buffer_mut());
    corner::scale(app, frame.buffer_mut(), inside);
}

fn map(app: &App, state: &State, grid: &Grid, area: Rect, frame: &mut Frame<'_>) {
    let Some(board) = app.board(state) else {
        return;
    };
    let counter = format!(
        "rows {} to {} of {}",
        grid.top + 1,
        grid.top + grid.rows,
        board.rows
    );
    let inside = framed(app, area, "Map", &counter, false, frame.buffer_mut());
    corner::map(app, state, board, grid, frame.buffer_mut(), inside);
}

/// The number and name of a card on its swatch.
pub(in crate::tui) fn heading(
    app: &App,
    state: &State,
    kept: &CardState,
    width: usize,
) -> [Line<'static>; 2] {
    let number = state.card_name(kept);
    [number.as_str(), kept.card.name.as_str()].map(|text| swatch(&app.theme, kept, text, width))
}

/// A swatch as wide as the panel, if the terminal shows colour.
fn swatch(theme: &Theme, kept: &CardState, text: &str, width: usize) -> Line<'static> {
    let style = kept.card.colour.and_then(|colour| theme.swatch(colour));
    match style {
        Some(style) => Line::styled(pad(&format!(" {text}"), width), style),
        None => Line::styled(fit(text, width), theme.strong()),
    }
}

/// All details of a card, below a list.
pub(in crate::tui) fn about(
    app: &App,
    state: &State,
    kept: &CardState,
    width: usize,
) -> Vec<Line<'static>> {
    let theme = &app.theme;
    let mut lines = heading(app, state, kept, width).to_vec();
    lines.push(Line::default());
    let place = if kept.is_home() {
        "at home".to_owned()
    } else {
        format!(
            "{} ({})",
            text::places::place_of(state, kept),
            ago(kept.place.since, app.now)
        )
    };
    let style = if kept.is_home() {
        Style::new()
    } else {
        theme.away()
    };
    lines.extend(paragraph(&place, width, style));
    if let Some(with) = text::places::last_seen_with(state, kept) {
        lines.extend(paragraph(&with, width, Style::new()));
    }
    lines.push(Line::default());
    let mut say = |label: &str, value: &str| {
        if !value.is_empty() {
            lines.push(labelled(label, value, width, theme.faint()));
        }
    };
    let home = kept
        .home
        .map_or("none yet".to_owned(), |home| state.hook_name(home));
    say("home", &home);
    say("held", &held(state, kept));
    say("range", state.range_name(kept));
    say("family", state.family_name(kept));
    let colour = kept.card.colour.map(|colour| colour.to_string());
    say("colour", &colour.unwrap_or_default());
    say("left", &amount(state, kept));
    if kept.skeins() > 0 {
        say("uncut", &text::thread::skeins(kept.skeins()));
    }
    say("part", &part_used(kept));
    say("wanted", &wants(state, kept));
    say("marks", &marks(state, kept));
    say("lot", &by_lot(state, kept));
    say("note", kept.card.note.as_str());
    lines
}

/// The thread on a card, in lengths, strands and metres.
pub fn amount(state: &State, kept: &CardState) -> String {
    let (strands, put_up) = (kept.strands(), state.put_up(&kept.card));
    let metres = put_up.to_fraction(strands) * f64::from(kept.card.cut_cm) / 100.0;
    format!("{} ({metres:.1} m)", text::thread::amount(strands, put_up))
}
