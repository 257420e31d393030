//! Importing a card list: what its columns mean, how its lines are read, and how it affects
//! existing cards.

mod list;
#[cfg(test)]
mod tests;
mod view;

use ratatui::Frame;
use ratatui::layout::Rect;

use self::list::{Amounts, CardList, EitherWay};
use super::import_list::ImportList;
use crate::stash::event::Act;
use crate::stash::state::State;
use crate::text::places::moved_by_list;
use crate::text::{self, files};
use crate::tui::app::question::Then;
use crate::tui::app::screen::{Context, Screen};
use crate::tui::app::{App, Stash};
use crate::tui::field::LeftOut;
use crate::tui::key::Key;
use crate::tui::keymap::{Action, Scope};
use crate::tui::message::{Effect, Message, Want};
use crate::tui::widgets::list::stepped;
use crate::tui::widgets::text::shown;

/// The screen.
#[derive(Clone, Debug)]
pub struct Import {
    list: CardList,
    over: Option<Window>,
}

/// A window over the columns.
#[derive(Clone, Debug)]
enum Window {
    /// Choosing whether the list is a purchase or what is owned now.
    Amounts {
        /// The effect on existing cards.
        cards: Vec<EitherWay>,
        /// Those that get another home, in words.
        rehomed: Option<String>,
        /// The selected answer.
        chosen: Amounts,
        /// Index of the first card shown.
        top: usize,
    },
}

impl Import {
    /// A card list from a file, or from a sheet of a workbook.
    ///
    /// # Errors
    /// Why the file isn't a list.
    pub fn of(
        app: &App,
        state: &State,
        (path, range): (&str, &str),
        (bytes, sheet): (Vec<u8>, Option<&str>),
    ) -> Result<Self, String> {
        let named = (path.to_owned(), shown(path), range.to_owned());
        let list = CardList::new(state, named, (bytes, sheet), app.now)?;
        Ok(Self { list, over: None })
    }

    /// Performs the action of a key on the columns.
    fn columns(&mut self, context: &mut Context<'_>, action: Action) {
        let list = &mut self.list;
        if list.page.scope() == Scope::Meaning {
            return self.turn(context, action);
        }
        match action {
            Action::PageUp | Action::PageDown => {
                list.top = view::paged(context.app, list, action == Action::PageDown);
            }
            Action::Accept => self.import(context),
            Action::Cancel => {
                context.close();
                let (path, range) = (&list.path, &list.range);
                context.open(ImportList::of(path, context.stash.state, range));
            }
            _ => self.turn(context, action),
        }
    }

    /// Performs the action of a key on the page of columns.
    fn turn(&mut self, context: &mut Context<'_>, action: Action) {
        if self.list.page.act(context, action) {
            self.list.top = 0;
            self.list.judge(context.stash.state, context.app.now);
        }
    }

    /// Requests that the list be recorded for the current stash, asks what its amounts mean, or
    /// shows why it can't be imported.
    fn import(&mut self, context: &mut Context<'_>) {
        let list = &mut self.list;
        list.judge(context.stash.state, context.app.now);
        if list.unreadable {
            // The file may have been corrected since.
            return context.ask(Effect::ReadFile {
                path: list.path.clone(),
                want: Want::CardList {
                    range: list.range.clone(),
                },
            });
        }
        let judged = match &list.judged {
            Err(why) => return context.app.complain(why.clone()),
            Ok(judged) => judged,
        };
        let Some(outcome) = &judged.outcome else {
            return context
                .app
                .complain("No line can be taken. See why below, and change the columns.");
        };
        if list.amounts.is_none() && !outcome.amounts.is_empty() && !outcome.is_purchase {
            let cards = list.either_way(context.stash.state, context.app.now);
            // A list with most of the cards is more likely an inventory than a purchase.
            let most = cards.len() * 2 > context.stash.state.cards().len();
            let chosen = if most {
                Amounts::Owned
            } else {
                Amounts::Purchase
            };
            self.over = Some(Window::Amounts {
                cards,
                rehomed: moved_by_list(context.stash.state, outcome),
                chosen,
                top: 0,
            });
            return;
        }
        match outcome.event.clone() {
            Some(event) if !judged.key_titles.is_empty() => {
                let question = format!(
                    "{looks} Rings, then n, begin a project from it. Import its lines as cards you own all the same?",
                    looks = text::capital(&files::looks_like_key(&judged.key_titles))
                );
                context.ask_for(question, Then::Record(Box::new(event)));
            }
            Some(event) => context.commit(Ok(event)),
            None => {
                context.close();
                context.app.say("The list changes nothing.");
            }
        }
    }

    /// Performs the action of a key on the question about amounts.
    fn amounts(&mut self, context: &mut Context<'_>, action: Action) {
        let Some(Window::Amounts {
            cards, chosen, top, ..
        }) = &mut self.over
        else {
            return;
        };
        match action {
            Action::Up => *chosen = Amounts::Purchase,
            Action::Down => *chosen = Amounts::Owned,
            Action::PageUp | Action::PageDown => *top = stepped(*top, cards.len(), action),
            Action::Cancel => self.over = None,
            Action::Accept => {
                self.list.amounts = Some(*chosen);
                self.over = None;
                self.import(context);
                // Ask again if the import failed.
                if context
                    .app
                    .notice
                    .as_ref()
                    .is_some_and(|notice| notice.wrong)
                {
                    self.list.amounts = None;
                    self.list.judge(context.stash.state, context.app.now);
                }
            }
            _ => {}
        }
    }
}

impl Screen for Import {
    fn scope(&self) -> Scope {
        match self.over {
            None => self.list.page.scope(),
            Some(Window::Amounts { .. }) => Scope::PurchaseOrOwned,
        }
    }

    fn act(&mut self, context: &mut Context<'_>, action: Action) {
        match self.over {
            None => self.columns(context, action),
            Some(Window::Amounts { .. }) => self.amounts(context, action),
        }
    }

    fn typed(&mut self, _: &mut Context<'_>, key: Key) {
        self.list.page.typed(key);
    }

    fn pasted(&mut self, text: &str) -> LeftOut {
        self.list.page.pasted(text)
    }

    #[cfg(test)]
    fn field(&self) -> Option<&crate::tui::field::Field> {
        self.list.page.field()
    }

    /// The cards are recorded. Continues with hanging those without a hook, after creating a board
    /// if there is none.
    fn recorded(&mut self, context: &mut Context<'_>, act: &Act) {
        if !matches!(act, Act::ImportCards { .. }) {
            return self.settle(context);
        }
        if let Some(said) = self.list.imported() {
            context.app.say(said);
        }
        context.close();
        let state = context.stash.state;
        if state.boards().len() == 0 {
            context.then(Action::FirstSteps);
        } else if crate::stash::command::rehang::to_hang(state)
            .next()
            .is_some()
        {
            context.then(Action::Rehang);
        }
    }

    fn failed(&mut self, context: &mut Context<'_>, wrong: String) {
        self.list.amounts = None;
        self.settle(context);
        context.app.complain(wrong);
    }

    fn answered(&mut self, context: &mut Context<'_>, answer: &Message) -> bool {
        let Message::FileRead {
            want: Want::CardList { .. },
            bytes,
            ..
        } = answer
        else {
            return false;
        };
        let again = bytes.clone().and_then(|bytes| {
            let (state, now) = (context.stash.state, context.app.now);
            self.list.read_again(state, bytes, now)
        });
        let wrong = again.and_then(|again| {
            let judged = again.judged.as_ref().map(drop).map_err(Clone::clone);
            self.list = again;
            judged
        });
        match wrong {
            Err(wrong) => context.app.complain(wrong),
            Ok(()) => context
                .app
                .say("The file was read again. Enter imports it."),
        }
        true
    }

    fn settle(&mut self, context: &mut Context<'_>) {
        let (state, now) = (context.stash.state, context.app.now);
        self.list.judge(state, now);
        if let Some(Window::Amounts {
            cards, rehomed: of, ..
        }) = &mut self.over
        {
            *cards = self.list.either_way(state, now);
            let judged = self.list.judged.as_ref().ok();
            let outcome = judged.and_then(|judged| judged.outcome.as_ref());
            *of = outcome.and_then(|outcome| moved_by_list(state, outcome));
            if cards.is_empty() {
                self.over = None;
            }
        }
    }

    fn view(&self, app: &App, stash: Stash<'_>, frame: &mut Frame<'_>, body: Rect) {
        view::columns(app, &self.list, frame, body);
        match &self.over {
            None => self.list.page.draw_choice(app, frame, body),
            Some(Window::Amounts {
                cards,
                rehomed,
                chosen,
                top,
            }) => {
                let (said, at) = ((&cards[..], rehomed.as_deref()), (*chosen, *top));
                view::either_way(app, stash.state, said, at, frame, body);
            }
        }
    }
}
