//! Typing a number, or where letters are no commands a name, means "I hold this card". One line
//! shows what Enter will do with it.

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;
use unicode_width::UnicodeWidthStr;

use crate::model::board::HookRef;
use crate::model::ids::CardId;
use crate::model::whereabouts::Whereabouts;
use crate::stash::command::ring;
use crate::stash::event::{Act, Event};
use crate::stash::find::Match;
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};
use crate::text;
use crate::tui::app::screen::{Context, Extent, Screen};
use crate::tui::app::{App, Stash};
use crate::tui::field::{Field, LeftOut};
use crate::tui::key::Key;
use crate::tui::keymap::{Action, Scope};
use crate::tui::widgets::list::stepped;
use crate::tui::widgets::text::{fit, typed};
use crate::tui::widgets::window;

/// The columns of the line, on a screen that has them: enough to show whole what Enter does.
const WIDTH: u16 = 78;
/// The most cards to choose from.
const MOST: usize = 6;

/// The effect of Enter on a card.
#[derive(Clone, PartialEq, Eq, Debug)]
enum Deed {
    /// It comes off its ring and hangs on its hook.
    Hang(HookRef),
    /// Its thread is rejoined with the card it was split from.
    Rejoin(CardId),
    /// It comes off its ring and has no hook yet.
    ToHang,
    /// It was missing or elsewhere, and is back.
    Found(Option<HookRef>),
    /// It is where it should be, and is shown.
    Show(HookRef),
    /// Nothing: it waits to be hung.
    Waits,
    /// Nothing, with the reason.
    Not(Box<Refusal>),
}

/// A card with the typed number.
#[derive(Clone, Debug)]
struct Candidate {
    card: CardId,
    deed: Deed,
}

impl Candidate {
    fn of(state: &State, kept: &CardState) -> Self {
        let deed = match &kept.place.at {
            Whereabouts::Ring { ring } if kept.card.parent.is_some() => {
                let may = state.ring(*ring).map(|ring| {
                    let now = kept.place.since;
                    ring::give_back(state, ring, &[kept.card.id], now).map(|_| ())
                });
                match (may, state.rejoins(kept)) {
                    (Some(Err(why)), _) => Deed::Not(Box::new(why)),
                    (_, Ok(whole)) => Deed::Rejoin(whole.card.id),
                    (_, Err((whole, _))) => Deed::Rejoin(whole.card.id),
                }
            }
            Whereabouts::Ring { .. } => kept.home.map_or(Deed::ToHang, Deed::Hang),
            Whereabouts::Hook { hook } => Deed::Show(*hook),
            Whereabouts::Hand => kept.home.map_or(Deed::Waits, Deed::Show),
            Whereabouts::Unhung => Deed::Waits,
            Whereabouts::Missing { .. } | Whereabouts::Elsewhere { .. } => Deed::Found(kept.home),
        };
        Self {
            card: kept.card.id,
            deed,
        }
    }

    /// The event for Enter; `None` if it changes nothing.
    fn event(&self, state: &State, app: &App) -> Option<Result<Event, Refusal>> {
        match &self.deed {
            Deed::Hang(_) | Deed::Rejoin(_) | Deed::ToHang => {
                let ring = state.card(self.card)?.place.at.ring()?;
                let ring = state.ring(ring)?;
                Some(ring::give_back(state, ring, &[self.card], app.now))
            }
            Deed::Found(_) => Some(ring::found(state, self.card, app.now)),
            Deed::Not(why) => Some(Err((**why).clone())),
            Deed::Show(_) | Deed::Waits => None,
        }
    }

    /// The effect of Enter, in words.
    fn words(&self, state: &State) -> String {
        let on = |hook: HookRef| state.hook_name(hook);
        let whole = |card: CardId| {
            let kept = state.card(card);
            kept.map_or_else(String::new, |kept| state.card_name(kept))
        };
        match &self.deed {
            Deed::Hang(hook) => {
                let ring = state.card(self.card).and_then(|kept| kept.place.at.ring());
                let ring = ring.and_then(|ring| state.ring(ring));
                let off = ring.map_or_else(String::new, |ring| format!(", off '{}'", ring.project));
                format!("Enter: hang on {}{off}", on(*hook))
            }
            Deed::Rejoin(card) => format!("Enter: rejoin {}", whole(*card)),
            Deed::ToHang => "Enter: off the ring, to hang".to_owned(),
            Deed::Found(Some(hook)) => format!("Enter: found, hang on {}", on(*hook)),
            Deed::Found(None) => "Enter: found, to hang".to_owned(),
            Deed::Show(hook) => format!("Enter: show {}", on(*hook)),
            Deed::Waits => "to hang: g plans its hook".to_owned(),
            Deed::Not(_) => "stays on the ring".to_owned(),
        }
    }

    /// Sort key: cards that are out come before cards that can only be shown.
    const fn rank(&self) -> u8 {
        match self.deed {
            Deed::Hang(_) | Deed::Rejoin(_) | Deed::ToHang => 0,
            Deed::Found(_) | Deed::Not(_) => 1,
            Deed::Show(_) | Deed::Waits => 2,
        }
    }
}

/// The number being typed, over the screen where it began.
#[derive(Clone, Debug)]
pub struct CardInHand {
    field: Field,
    at: usize,
    /// The card that Enter acted on, until the change is on disk.
    done: Option<CardId>,
}

/// Whether a key begins a number: a digit, or `#` for a number that begins with a letter.
#[must_use]
pub fn begins(key: Key) -> bool {
    use crate::tui::key::Code;
    matches!(key.code, Code::Char(c) if !key.ctrl && (c.is_ascii_digit() || c == '#'))
}

/// Whether a key begins a name: a letter.
#[must_use]
pub fn begins_name(key: Key) -> bool {
    use crate::tui::key::Code;
    matches!(key.code, Code::Char(c) if !key.ctrl && c.is_alphabetic())
}

impl CardInHand {
    /// The line, with the key that began it.
    #[must_use]
    pub fn begun(key: Key) -> Self {
        let mut field = Field::default();
        field.press(key);
        Self {
            field,
            at: 0,
            done: None,
        }
    }

    /// The text without its `#`.
    fn number(&self) -> &str {
        let text = self.field.text().trim();
        text.strip_prefix('#').unwrap_or(text).trim()
    }

    /// The cards with exactly that number, those that are out first. If there is none, the cards
    /// with that name or with words that begin so. O(cards).
    fn candidates(&self, state: &State) -> Vec<Candidate> {
        let number = self.number();
        // Tag, range and project are compared only if the text contains one.
        let more = number.contains(['/', ':', '@']);
        let is_it = |kept: &&CardState| {
            let is = |name: &str| name.eq_ignore_ascii_case(number);
            is(kept.card.number.as_str())
                || more && (is(&state.number_and_tag(kept)) || is(&state.card_name(kept)))
        };
        let found = state.cards().filter(is_it);
        let mut found: Vec<Candidate> = found.map(|kept| Candidate::of(state, kept)).collect();
        if found.is_empty() && number.contains(char::is_alphabetic) {
            return Self::named(state, number);
        }
        found.sort_by_key(Candidate::rank);
        found
    }

    /// The cards found by their name: those of exactly that name first, then those that are out.
    fn named(state: &State, name: &str) -> Vec<Candidate> {
        let found = state.find(name).into_iter();
        let found = found.filter(|found| matches!(found.how, Match::Name | Match::WordStart));
        let mut found: Vec<(bool, Candidate)> = found
            .filter_map(|found| {
                let candidate = Candidate::of(state, state.card(found.card)?);
                Some((found.how != Match::Name, candidate))
            })
            .collect();
        found.sort_by_key(|(is_part, candidate)| (*is_part, candidate.rank()));
        found.into_iter().map(|(_, candidate)| candidate).collect()
    }

    /// The first few numbers that begin with the text.
    fn longer(&self, state: &State) -> Vec<String> {
        let number = self.number().to_lowercase();
        let all = state.cards().map(|kept| kept.card.number.to_string());
        let mut longer: Vec<String> = all
            .filter(|other| !number.is_empty() && other.to_lowercase().starts_with(&number))
            .collect();
        longer.dedup();
        longer.truncate(5);
        longer
    }

    /// The message if no card has the number.
    fn nothing(&self, state: &State) -> String {
        let longer = self.longer(state);
        match (self.number(), longer.is_empty()) {
            ("", _) => "Type the number of the card in your hand".to_owned(),
            (number, true) => format!("No card {number}"),
            (number, false) => format!("No card {number}. There is {}", longer.join(", ")),
        }
    }
}

impl Screen for CardInHand {
    fn scope(&self) -> Scope {
        Scope::InHand
    }

    fn extent(&self) -> Extent {
        Extent::Window
    }

    fn act(&mut self, context: &mut Context<'_>, action: Action) {
        let state = context.stash.state;
        let found = self.candidates(state);
        self.at = stepped(self.at, found.len(), action);
        match action {
            Action::Cancel => return context.close(),
            Action::Select | Action::Accept => {}
            _ => return,
        }
        let Some(chosen) = found.get(self.at) else {
            let nothing = self.nothing(state);
            return context.app.complain(nothing);
        };
        let card = chosen.card;
        match chosen.event(state, context.app) {
            Some(event) if action == Action::Accept => {
                self.done = Some(card);
                return context.commit(event);
            }
            _ => {}
        }
        let app = &mut *context.app;
        if let (Action::Select, Some(kept)) = (action, state.card(card)) {
            app.toggle(card);
            let (name, count) = (state.card_name(kept), app.chosen.len());
            app.say(format!("{name}: {count} selected. t takes them to a ring"));
        }
        app.look_at_card(state, card);
        context.close();
    }

    fn typed(&mut self, context: &mut Context<'_>, key: Key) {
        self.field.press(key);
        self.at = 0;
        if self.field.text().is_empty() {
            context.close();
        }
    }

    fn pasted(&mut self, text: &str) -> LeftOut {
        self.field.insert(text)
    }

    #[cfg(test)]
    fn field(&self) -> Option<&Field> {
        Some(&self.field)
    }

    fn recorded(&mut self, context: &mut Context<'_>, act: &Act) {
        if let Some(card) = self.done {
            context.app.look_at_card(context.stash.state, card);
            let state = context.stash.state;
            if let Some(kept) = state.card(card) {
                let name = state.card_name(kept);
                let what = match kept.home {
                    Some(home) if kept.is_home() => format!("{name} on {}", state.hook_name(home)),
                    _ => text::history::act(state, act),
                };
                context.app.say(what);
            }
        }
        context.close();
    }

    fn view(&self, app: &App, stash: Stash<'_>, frame: &mut Frame<'_>, body: Rect) {
        let state = stash.state;
        let found = self.candidates(state);
        let lines = found.len().clamp(1, MOST) + 1;
        let heading = ("Card in hand", "");
        let inside = window::over_foot(&app.theme, heading, (WIDTH, lines), frame, body);
        let room = usize::from(inside.width);
        let mut lines = vec![typed(&app.theme, self.field.halves(), room)];
        if found.is_empty() {
            let text = fit(&self.nothing(state), room);
            lines.push(Line::styled(text, app.theme.muted()));
        }
        let first = (self.at + 1).saturating_sub(MOST);
        for (at, candidate) in found.iter().enumerate().skip(first).take(MOST) {
            let Some(kept) = state.card(candidate.card) else {
                continue;
            };
            let here = at == self.at;
            let colour = kept.card.colour.and_then(|colour| app.theme.swatch(colour));
            let words = candidate.words(state);
            let name = format!(" {} {}", state.card_name(kept), kept.card.name);
            // What Enter will do matters more than the end of a name.
            let rest = room.saturating_sub(4);
            let most = rest.saturating_sub(words.width() + 2).max(rest / 3);
            let name = format!("{}  ", fit(&name, most));
            let rest = rest.saturating_sub(name.width());
            let style = if here {
                app.theme.strong()
            } else {
                app.theme.muted()
            };
            let point = if here && found.len() > 1 {
                "▸ "
            } else {
                "  "
            };
            lines.push(Line::from(vec![
                Span::styled(point, app.theme.accent()),
                Span::styled("  ", colour.unwrap_or_else(Style::new)),
                Span::styled(name, app.theme.muted()),
                Span::styled(fit(&words, rest), style),
            ]));
        }
        frame.render_widget(Paragraph::new(lines), inside);
    }
}
