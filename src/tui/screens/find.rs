//! Finding a colour. The board follows the best match during typing, and dims everything else.

use std::collections::HashSet;

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;
use unicode_segmentation::UnicodeSegmentation;
use unicode_width::UnicodeWidthStr;

use crate::model::board::HookRef;
use crate::model::ids::CardId;
use crate::model::ring::ColourRef;
use crate::stash::find::{Detail, Found, Match, NotOwned, matched};
use crate::stash::state::{CardState, State};
use crate::text;
use crate::tui::app::screen::Lights;
use crate::tui::app::screen::{Context, Extent, Screen};
use crate::tui::app::{App, Stash, Viewport};
use crate::tui::field::{Field, LeftOut};
use crate::tui::key::Key;
use crate::tui::keymap::{Action, Scope};
use crate::tui::screens::want::{Want, colours_of};
use crate::tui::wall::panel;
use crate::tui::widgets::list::{List, counter, is_low, stepped, with_about};
use crate::tui::widgets::pane::{self, Pane};
use crate::tui::widgets::text::{fit, paragraph, typed};

/// The fewest list rows that leave space for the card below it.
const LEAST: u16 = 5;
/// The most columns for a number in a list.
const NUMBER: usize = 10;

/// A search result.
#[derive(Clone, PartialEq, Debug)]
enum Entry {
    /// A card.
    Card(Found),
    /// A hook with no card on it and no card's home.
    Hook(HookRef),
    /// A card whose number is close to the typed one.
    Near(CardId),
    /// A colour without a card.
    NotOwned(NotOwned),
}

impl Entry {
    /// The result's card.
    const fn card(&self) -> Option<CardId> {
        match self {
            Self::Card(found) => Some(found.card),
            Self::Near(card) => Some(*card),
            Self::Hook(_) | Self::NotOwned(_) => None,
        }
    }
}

/// The screen.
#[derive(Clone, Debug)]
pub struct Find {
    field: Field,
    /// Index of the selected result.
    at: usize,
    entries: Vec<Entry>,
    /// Columns of the widest number among them.
    number: usize,
    /// Their hooks on the wall.
    hooks: HashSet<HookRef>,
    /// The viewport before the search.
    back: Viewport,
}

impl Find {
    /// The screen with an empty search.
    #[must_use]
    pub fn over(app: &App) -> Self {
        Self {
            field: Field::default(),
            at: 0,
            entries: Vec::new(),
            number: 0,
            hooks: HashSet::new(),
            back: app.eye.clone(),
        }
    }

    /// Searches for the text: cards, otherwise a hook, then colours without a card. If no card has
    /// the number, similar numbers follow.
    fn search(&mut self, app: &mut App, state: &State) {
        let text = self.field.text();
        let found = state.find(text);
        let is_owned = found.iter().any(|found| found.how <= Match::NumberStart);
        let mut entries: Vec<Entry> = found.into_iter().map(Entry::Card).collect();
        if entries.is_empty() {
            entries.extend(state.hook_meant(text).map(Entry::Hook));
        }
        let not_owned = state.find_not_owned(text).into_iter();
        entries.extend(not_owned.map(Entry::NotOwned));
        if !is_owned {
            let known: HashSet<CardId> = entries.iter().filter_map(Entry::card).collect();
            let near = state.near_numbers(text).into_iter();
            let near = near.filter(|card| !known.contains(card));
            entries.extend(near.map(Entry::Near));
        }
        let numbers = entries.iter().map(|of| match of {
            Entry::Hook(hook) => state.hook_name(*hook).width(),
            Entry::NotOwned(of) => of.number.as_str().width(),
            Entry::Card(Found { card, .. }) | Entry::Near(card) => {
                let kept = state.card(*card);
                kept.map_or(0, |kept| state.card_name(kept).width())
            }
        });
        self.number = numbers.max().unwrap_or(0).min(NUMBER);
        let cards = entries.iter().filter_map(Entry::card);
        let hooks = cards.filter_map(|card| state.card(card));
        let hooks = hooks.flat_map(|kept| [kept.home, kept.place.at.hook()]);
        self.hooks = hooks.flatten().collect();
        self.hooks.extend(entries.iter().filter_map(|of| match of {
            Entry::Hook(hook) => Some(*hook),
            _ => None,
        }));
        self.entries = entries;
        self.at = self.at.min(self.entries.len().saturating_sub(1));
        self.follow(app, state);
    }

    /// Moves the cursor to the selected result, or back to where it was.
    fn follow(&self, app: &mut App, state: &State) {
        let zoom = app.eye.zoom;
        // A card without a hook has no place on the wall.
        app.eye = self.back.clone();
        match self.entries.get(self.at) {
            Some(Entry::Hook(hook)) => app.look_at(state, *hook),
            Some(Entry::Card(Found { card, .. }) | Entry::Near(card)) => {
                app.look_at_card(state, *card);
            }
            Some(Entry::NotOwned(_)) | None => {}
        }
        app.eye.zoom = zoom;
    }

    /// Selects or deselects the card, and prepares the line for the next search.
    fn select(&mut self, context: &mut Context<'_>) {
        let state = context.stash.state;
        let Some(card) = self.entries.get(self.at).and_then(Entry::card) else {
            return;
        };
        let app = &mut *context.app;
        app.toggle(card);
        self.field = Field::default();
        if let Some(kept) = state.card(card) {
            let (name, count) = (state.card_name(kept), app.chosen.len());
            app.say(format!(
                "{name}: {count} selected. Esc, then t takes them to a ring"
            ));
        }
        self.search(app, state);
    }

    /// The selected colour, owned or not.
    fn colour(&self, state: &State) -> Option<ColourRef> {
        let entry = self.entries.get(self.at)?;
        if let Entry::NotOwned(of) = entry {
            return Some(ColourRef::new(of.range, of.number.clone()));
        }
        colours_of(state, &[entry.card()?]).pop()
    }

    /// Asks how many skeins of the selected colour are wanted.
    fn want(&self, context: &mut Context<'_>) {
        let state = context.stash.state;
        match Want::form(state, self.colour(state).into_iter().collect()) {
            Some(form) => context.open(form),
            None => context.app.complain("Find a colour first"),
        }
    }

    /// Goes to the selected result and says where it is, or says that the colour isn't owned.
    fn accept(&self, context: &mut Context<'_>) {
        let state = context.stash.state;
        let app = &mut *context.app;
        match self.entries.get(self.at) {
            Some(Entry::NotOwned(of)) => app.complain(not_owned(state, of)),
            Some(Entry::Hook(_)) => context.close(),
            Some(Entry::Card(Found { card, .. }) | Entry::Near(card)) => {
                if let Some(kept) = state.card(*card) {
                    let text = format!(
                        "{} {}: {}",
                        state.card_name(kept),
                        kept.card.name,
                        text::places::place_of(state, kept)
                    );
                    app.say(text);
                }
                context.close();
            }
            None if self.field.text().is_empty() => {}
            None => app.complain("no card like that in the stash"),
        }
    }

    /// The message if there are no results.
    fn words(&self, app: &App, width: usize) -> Vec<Line<'static>> {
        if !self.field.text().is_empty() {
            let text = "Nothing like that in the stash. To write a new card, press Esc, then n.";
            return paragraph(text, width, app.theme.wrong());
        }
        let text = "Type a number, a name, a hook such as C07, a family, a project, a dye lot or part of a note.";
        paragraph(text, width, app.theme.faint())
    }

    /// A result: its swatch, number and name, and where it is.
    fn line(&self, app: &App, state: &State, at: usize, width: usize) -> Option<Line<'static>> {
        let theme = &app.theme;
        let here = at == self.at;
        let row = if here { theme.row() } else { Style::new() };
        let entry = self.entries.get(at)?;
        let kept = entry.card().and_then(|card| state.card(card));
        let (number, name, place, far) = match entry {
            Entry::Card(_) | Entry::Near(_) => {
                let kept = kept?;
                let mut name = kept.card.name.to_string();
                if let Some(why) = self.why(state, entry, kept) {
                    name = format!("{name} · {why}");
                }
                let far = (!kept.is_home()).then(|| theme.away());
                (
                    state.card_name(kept),
                    name,
                    text::places::brief_of(state, kept),
                    far,
                )
            }
            Entry::Hook(hook) => {
                let free = match state.capacity(*hook) {
                    0 => "a blocked hook",
                    _ => "a free hook",
                };
                (state.hook_name(*hook), free.to_owned(), String::new(), None)
            }
            Entry::NotOwned(of) => {
                let needed = !of.needed_by.is_empty();
                let style = if needed { theme.wrong() } else { theme.faint() };
                let projects = text::list(projects(state, of));
                let colour = ColourRef::new(of.range, of.number.clone());
                let mut matching = of.matches.iter().filter_map(|&card| state.card(card));
                let words = if let Some(kept) = matching.next() {
                    format!("match: {}", state.card_name(kept))
                } else if needed {
                    format!("for {projects}")
                } else if state.wanted(&colour) > 0 {
                    "wanted".to_owned()
                } else {
                    "not owned".to_owned()
                };
                (
                    of.number.to_string(),
                    of.name.to_string(),
                    words,
                    Some(style),
                )
            }
        };
        let quiet = matches!(entry, Entry::NotOwned(_) | Entry::Near(_));
        let ink = if quiet && !here {
            row.patch(theme.faint())
        } else {
            row
        };
        let colour = kept.and_then(|kept| kept.card.colour);
        let swatch = colour.and_then(|colour| theme.swatch(colour));
        let mark = kept.is_some_and(|kept| app.chosen.contains(&kept.card.id));
        let mut spans = vec![
            Span::styled(if here { "▸" } else { " " }, row.patch(theme.accent())),
            Span::styled("  ", swatch.unwrap_or(row)),
            Span::styled(if mark { "*" } else { " " }, row),
        ];
        let side = place.width().min(width / 3);
        let room = width.saturating_sub(4 + side + 1);
        let words = format!("{number:<columns$} {name}", columns = self.number);
        spans.extend(self.marked(app, &fit(&words, room), ink));
        let used: usize = spans.iter().map(Span::width).sum();
        let gap = width.saturating_sub(used + side);
        spans.push(Span::styled(" ".repeat(gap), row));
        let ink = far.map_or(ink, |far| row.patch(far));
        spans.extend(self.marked(app, &fit(&place, side), ink));
        Some(Line::from(spans))
    }

    /// The field that matched, unless it is the number, name or place that the line shows anyway.
    fn why(&self, state: &State, entry: &Entry, kept: &CardState) -> Option<String> {
        let Entry::Card(Found { how, .. }) = entry else {
            return None;
        };
        Some(match how {
            Match::Detail(Detail::Family) => state.family_name(kept).to_owned(),
            Match::Detail(Detail::Lot) => format!("lot {}", kept.thread.lot_names()),
            Match::Detail(Detail::Note) => kept.card.note.to_string(),
            Match::Detail(Detail::Range) => state.range_name(kept).to_owned(),
            Match::Detail(Detail::Project) if kept.place.at.ring().is_none() => {
                let has = |ring: &&crate::model::ring::Ring| {
                    let mut colours = ring.threads().map(|thread| thread.stitched());
                    colours.any(|of| of.is(kept.card.range, &kept.card.number))
                };
                let named = |ring: &&crate::model::ring::Ring| {
                    !matched(self.field.text(), ring.project.as_str()).is_empty()
                };
                let mut rings = state.rings().filter(|ring| !ring.is_closed());
                let ring = rings.find(|ring| named(ring) && has(ring))?;
                format!("for {}", ring.project)
            }
            _ => return None,
        })
    }

    /// A text with the matches in bold.
    fn marked(&self, app: &App, text: &str, style: Style) -> Vec<Span<'static>> {
        let parts = matched(self.field.text(), text);
        let mut spans: Vec<(String, bool)> = Vec::new();
        for (at, letter) in text.grapheme_indices(true) {
            let end = at + letter.len();
            let is_in = parts.iter().any(|part| part.start < end && part.end > at);
            match spans.last_mut() {
                Some((last, so)) if *so == is_in => last.push_str(letter),
                _ => spans.push((letter.to_owned(), is_in)),
            }
        }
        let bold = style.patch(app.theme.accent());
        let styled = |(text, is_in)| Span::styled(text, if is_in { bold } else { style });
        spans.into_iter().map(styled).collect()
    }

    /// Details of the selected result.
    fn about(&self, app: &App, state: &State, width: usize) -> Vec<Line<'static>> {
        let mut lines = vec![Line::default()];
        match self.entries.get(self.at) {
            Some(Entry::NotOwned(of)) => {
                lines.extend(paragraph(&not_owned(state, of), width, Style::new()));
            }
            Some(entry) => {
                let kept = entry.card().and_then(|card| state.card(card));
                if let (Entry::Near(_), true) = (entry, kept.is_some()) {
                    let text = format!(
                        "No card {}. This number is near it.",
                        self.field.text().trim()
                    );
                    lines.extend(paragraph(&text, width, app.theme.away()));
                    lines.push(Line::default());
                }
                lines.extend(
                    kept.into_iter()
                        .flat_map(|kept| panel::about(app, state, kept, width)),
                );
            }
            None => {}
        }
        lines
    }
}

/// The projects that need a colour.
fn projects(state: &State, of: &NotOwned) -> Vec<String> {
    let rings = of.needed_by.iter().filter_map(|&ring| state.ring(ring));
    rings.map(|ring| ring.project.to_string()).collect()
}

/// `Sandbank 99 sandbar: not owned; needed by Robin.`
fn not_owned(state: &State, of: &NotOwned) -> String {
    let range = state.range(of.range);
    let name = format!("{} {}", of.number, of.name);
    format!(
        "{range} {name}: {words}.",
        range = range.map_or("", |range| range.name.as_str()),
        name = name.trim(),
        words = text::thread::not_owned(state, of)
    )
}

impl Screen for Find {
    fn scope(&self) -> Scope {
        Scope::Find
    }

    fn extent(&self) -> Extent {
        Extent::Beside
    }

    fn lights<'a>(&'a self, _: &'a App, _: &'a State) -> Lights<'a> {
        Lights {
            found: (!self.hooks.is_empty()).then(|| self.hooks.clone()),
            ..Lights::default()
        }
    }

    fn can(&self, _: &App, stash: Stash<'_>, action: Action) -> bool {
        action != Action::Want || self.colour(stash.state).is_some()
    }

    fn act(&mut self, context: &mut Context<'_>, action: Action) {
        match action {
            Action::Up | Action::Down | Action::PageUp | Action::PageDown => {
                self.at = stepped(self.at, self.entries.len(), action);
                self.follow(context.app, context.stash.state);
            }
            Action::Select => self.select(context),
            Action::Want => self.want(context),
            Action::Accept => self.accept(context),
            Action::Cancel => {
                context.app.eye = self.back.clone();
                context.close();
            }
            _ => {}
        }
    }

    fn typed(&mut self, context: &mut Context<'_>, key: Key) {
        if self.field.press(key) {
            self.at = 0;
            self.search(context.app, context.stash.state);
        }
    }

    fn pasted(&mut self, text: &str) -> LeftOut {
        self.at = 0;
        self.field.insert(text)
    }

    #[cfg(test)]
    fn field(&self) -> Option<&Field> {
        Some(&self.field)
    }

    fn settle(&mut self, context: &mut Context<'_>) {
        self.search(context.app, context.stash.state);
    }

    fn view(&self, app: &App, stash: Stash<'_>, frame: &mut Frame<'_>, body: Rect) {
        let state = stash.state;
        let counter = counter(self.at, self.entries.len());
        let pane = Pane {
            title: "Find",
            counter: &counter,
            focus: true,
        };
        let inside = pane.draw(&app.theme, body, frame.buffer_mut());
        let width = usize::from(inside.width);
        let gap = if is_low(inside) { 1 } else { 2 };
        let (_, rest) = pane::with_foot(inside, inside.height.saturating_sub(gap));
        let line = typed(&app.theme, self.field.halves(), width);
        frame.render_widget(
            line,
            Rect {
                height: 1,
                ..inside
            },
        );
        if self.entries.is_empty() {
            frame.render_widget(Paragraph::new(self.words(app, width)), rest);
            return;
        }
        let least = (rest.height / 2).max(LEAST);
        let (list, below, about) = with_about(rest, (self.entries.len(), least), |width| {
            self.about(app, state, width)
        });
        let entries = List {
            at: self.at,
            count: self.entries.len(),
            each: 1,
        };
        entries.draw(&app.theme, list, frame.buffer_mut(), |at, width| {
            self.line(app, state, at, width).into_iter().collect()
        });
        frame.render_widget(Paragraph::new(about), below);
    }
}

#[cfg(test)]
mod tests {
    use crate::tui::testing::{ROBIN, TestApp};
    use crate::tui::theme::Depth;
    use ratatui::style::Modifier;

    fn drawn(desk: &TestApp) -> String {
        desk.drawn((120, 40)).join("\n")
    }

    fn hook(desk: &TestApp) -> String {
        desk.state.hook_name(desk.app.hook(&desk.state).unwrap())
    }

    #[test]
    fn cursor_follows_the_match_and_returns_on_escape() {
        let mut desk = TestApp::sample(Depth::None).after("lll/kel");
        assert_eq!(hook(&desk), "A04");
        let left = desk.after("\u{1b}");
        assert_eq!((hook(&left).as_str(), left.app.stack.len()), ("A04", 0));
        let back = desk.after("zzz\u{1b}");
        assert_eq!(hook(&back), "A04");
        desk.keys("\n");
        assert!(desk.app.stack.is_empty());
        let said = &desk.app.notice.as_ref().unwrap().text;
        assert!(said.starts_with("30 kelp: on the ring 'Heron'"), "{said}");
    }

    #[test]
    fn match_without_a_hook_returns_the_cursor() {
        let mut desk = TestApp::sample(Depth::None).after("/kel");
        assert_eq!(hook(&desk), "A04");
        desk.keys("\u{8}\u{8}\u{8}straw");
        assert_eq!(hook(&desk), "A01");
    }

    #[test]
    fn search_finds_hooks_with_and_without_cards() {
        let mut desk = TestApp::sample(Depth::None).after("/a5");
        assert!(drawn(&desk).contains("40"), "{}", drawn(&desk));
        assert_eq!(hook(&desk), "A05");
        desk.keys("\u{8}\u{8}CO3");
        assert!(drawn(&desk).contains("a free hook"), "{}", drawn(&desk));
        desk.keys("\n");
        assert_eq!(hook(&desk), "C03");
    }

    #[test]
    fn long_result_list_shows_position_and_scrollbar() {
        let mut desk = TestApp::empty(Depth::None);
        desk.state = crate::tui::testing::crowded(300);
        desk.app.size = (80, 24);
        desk.keys("/sea");
        let text = desk.drawn((80, 24)).join("\n");
        assert!(text.contains("1 of 300") && text.contains('█'), "{text}");
    }

    #[test]
    fn unowned_and_similar_numbers_are_found() {
        let desk = TestApp::sample(Depth::None)
            .after(ROBIN)
            .after("\u{1b}\u{1b}/99");
        let text = drawn(&desk);
        assert!(text.contains("for Robin"), "{text}");
        assert!(text.contains("Sandbank 99: not owned; needed"), "{text}");
        let near = drawn(&desk.after("\u{8}\u{8}79"));
        assert!(near.contains("No card 79. This number is near"), "{near}");
    }

    #[test]
    fn matches_are_bold_and_other_hooks_are_dimmed() {
        let desk = TestApp::sample(Depth::True).after("/un");
        let (buffer, rows) = (desk.buffer((120, 40)), desk.drawn((120, 40)));
        let y = rows.iter().position(|row| row.contains('▸')).unwrap();
        let x = rows[y].split("une").next().unwrap().chars().count();
        let cell = |n: usize| &buffer[(u16::try_from(x + n).unwrap(), u16::try_from(y).unwrap())];
        assert_eq!(cell(0).fg, cell(1).fg);
        assert_ne!(cell(1).fg, cell(2).fg);
        assert!(cell(0).modifier.contains(Modifier::BOLD));
        // 40 hangs on A05 and doesn't match.
        let all = desk.after("\u{8}\u{8}").buffer((120, 40));
        let hook = rows[2].split("40").next().unwrap().chars().count();
        let hook = (u16::try_from(hook).unwrap(), 2);
        assert_ne!(all[hook].bg, buffer[hook].bg);
    }

    #[test]
    fn wall_of_12_rows_stays_in_view_during_a_search() {
        let mut desk = TestApp::empty(Depth::None);
        desk.state = crate::tui::testing::crowded(200);
        desk.app.size = (80, 24);
        let (before, found) = (desk.drawn((80, 24)), desk.after("/sea").drawn((80, 24)));
        // Column numbers and row letters stay in place.
        assert_eq!(before[1], found[1]);
        for (was, is) in before[3..14].iter().zip(&found[3..14]) {
            assert_eq!(was.chars().next(), is.chars().next());
        }
        assert!(found[14].contains("Find"), "{}", found.join("\n"));
    }
}
