//! The walk that fetches a kit: from hook to hook along the wall, then from other rings.

use std::collections::BTreeSet;

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::text::Line;

use super::ProjectPage;
use super::forms::Split;
use crate::model::ids::CardId;
use crate::model::ring::Ring;
use crate::model::thread::{Lot, Strands};
use crate::stash::command::{ring, thread};
use crate::stash::event::Act;
use crate::stash::projects::kit::{Availability, ProjectKit, ThreadLine};
use crate::stash::projects::pull::{Pull, Splitting, pull};
use crate::stash::state::{CardState, State};
use crate::text::{self, one_or_many, places};

use crate::tui::app::question::Then;
use crate::tui::app::screen::{Context, Screen};
use crate::tui::app::{App, Stash};
use crate::tui::keymap::{Action, Scope};
use crate::tui::screens::away::missing_or_found;
use crate::tui::screens::counting::Cut;
use crate::tui::told::told;
use crate::tui::wall::panel::amount as amount_on;
use crate::tui::wall::walk::{self, Next};

/// An item to fetch for a kit.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Fetch {
    /// A card from the wall, or one that waits to be hung.
    Take(CardId),
    /// Thread from a card on another ring.
    Split(Splitting),
}

impl Fetch {
    /// Its card.
    const fn card(&self) -> CardId {
        match self {
            Self::Take(card) => *card,
            Self::Split(splitting) => splitting.card,
        }
    }
}

/// Fetching the kit of a project, card by card.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Fetching {
    /// The project page it started from.
    page: ProjectPage,
    /// Skipped cards, in the order they were skipped.
    later: Vec<CardId>,
    /// Whether anything was fetched since it started.
    begun: bool,
}

/// The open projects with a kit partly fetched: the number of its cards on the ring, and in all.
#[must_use]
pub fn half_fetched(state: &State) -> Vec<(&Ring, usize, usize)> {
    let open = state.rings().filter(|ring| !ring.is_closed());
    let counted = open.map(|ring| {
        let walk = Fetching {
            page: ProjectPage::of(ring.id),
            later: Vec::new(),
            begun: false,
        };
        let (there, all) = walk.count(state);
        (ring, there, all)
    });
    counted
        .filter(|&(_, there, all)| there > 0 && there < all)
        .collect()
}

/// The cards to take from the wall, or of those to hang.
fn takes(left: &[Fetch]) -> Vec<CardId> {
    let takes = left.iter().filter_map(|fetch| match fetch {
        Fetch::Take(card) => Some(*card),
        Fetch::Split(_) => None,
    });
    takes.collect()
}

impl Fetching {
    /// Starts the walk, or says why there is none.
    pub fn begin(context: &mut Context<'_>, page: ProjectPage) {
        let walk = Self {
            page,
            later: Vec::new(),
            begun: false,
        };
        if walk.left(context.stash.state).is_empty() {
            walk.say_end(context);
        } else {
            walk.look(context);
            context.open(walk);
        }
    }

    /// The items left to fetch, in order: along the wall, then from other rings, then skipped ones.
    fn left(&self, state: &State) -> Vec<Fetch> {
        let project = self.page.check(state);
        project.map_or_else(Vec::new, |project| self.in_order(&pull(state, &project)))
    }

    fn in_order(&self, pull: &Pull) -> Vec<Fetch> {
        let takes = pull.take.iter().copied().map(Fetch::Take);
        let splits = pull.split.iter().copied().map(Fetch::Split);
        let mut all: Vec<Fetch> = takes.chain(splits).collect();
        // The sort is stable, and items that weren't skipped come first in their order.
        all.sort_by_key(|fetch| self.later.iter().position(|&card| card == fetch.card()));
        all
    }

    /// The number of kit cards on the ring, and the total with those left to fetch. The count
    /// resumes from an earlier walk.
    fn count(&self, state: &State) -> (usize, usize) {
        let ring = state.ring(self.page.ring);
        let threads = ring.into_iter().flat_map(Ring::threads);
        let cards = threads.flat_map(|thread| state.cards_of(thread.stitched()));
        let there = cards.filter(|kept| kept.place.at.ring() == Some(self.page.ring));
        let there: BTreeSet<CardId> = there.map(|kept| kept.card.id).collect();
        let there = there.len();
        (there, there + self.left(state).len())
    }

    /// Moves the cursor to the next card.
    fn look(&self, context: &mut Context<'_>) {
        if let Some(fetch) = self.left(context.stash.state).first() {
            context.app.look_at_card(context.stash.state, fetch.card());
        }
    }

    /// Goes to the next card, or back to the page with a summary.
    fn go_on(&mut self, context: &mut Context<'_>) {
        if self.left(context.stash.state).is_empty() {
            context.close();
            self.say_end(context);
        } else {
            self.look(context);
        }
    }

    fn say_end(&self, context: &mut Context<'_>) {
        let lacking = self.page.check(context.stash.state);
        let lacking = lacking.map_or_else(String::new, |project| lacks(&project));
        context.app.say(if self.begun {
            format!(
                "Fetched. Now put them on the ring in this order, the order of the key.{lacking}"
            )
        } else {
            format!("There is nothing to fetch.{lacking}")
        });
    }

    /// Undoes the last step of this walk.
    fn step_back(&self, context: &mut Context<'_>) {
        let last = context.stash.history.last_done().map(|past| &past.act);
        match last {
            Some(Act::Take { ring, .. } | Act::Split { ring, .. })
                if self.begun && *ring == self.page.ring =>
            {
                context.undo();
            }
            _ => context.app.say("This is the first step."),
        }
    }

    fn split(&self, context: &mut Context<'_>, card: CardId, amount: Option<Strands>) {
        let state = context.stash.state;
        if let Some(kept) = state.card(card) {
            context.open(Split::form(state, self.page.ring, kept, amount));
        }
    }
}

/// Notes on the dye lots of a card being fetched, and on thread to cut onto it.
fn lots(state: &State, project: &ProjectKit<'_>, pull: &Pull, kept: &CardState) -> Vec<String> {
    let of_it = |line: &&ThreadLine<'_>| *line.thread.stitched() == kept.colour_ref();
    let line = project.threads().find(of_it);
    let lots = line.and_then(|line| text::thread::lots_of(state, line));
    let cuts = pull.cut.iter().filter(|cut| cut.card == kept.card.id);
    let cuts = cuts.map(|cut| {
        let word = one_or_many(cut.lengths, "length", "lengths");
        let lot = match cut.lot.is_unknown() {
            true => String::new(),
            false => format!(" of {}", text::thread::lot(&cut.lot)),
        };
        format!("then S cuts {} {word}{lot} onto it", cut.lengths)
    });
    lots.into_iter().chain(cuts).collect()
}

/// The lots of the thread to split off.
fn lots_to_split(pull: &Pull, card: CardId) -> Vec<&Lot> {
    let of_it = pull.split_lots.iter().filter(|(of, _)| *of == card);
    of_it.map(|(_, lot)| lot).collect()
}

/// Opens the form that cuts onto a card.
fn cut(context: &mut Context<'_>, card: CardId) {
    let state = context.stash.state;
    let kept = state.card(card);
    match kept.and_then(|kept| Cut::form(state, kept)) {
        Some(form) => context.open(form),
        None => context.app.complain("There is no uncut thread beside it."),
    }
}

/// Threads of the key that have no card or are short, and what to do about them: ` Of the key 2 colours
/// are not there: b tells what to buy.`.
fn lacks(project: &ProjectKit<'_>) -> String {
    let count = |is: fn(Availability) -> bool| {
        let threads = project.threads();
        threads.filter(|of| is(of.standing)).count()
    };
    let gone = count(Availability::has_no_card);
    let short = count(|standing| standing == Availability::Short);
    let are = |n: usize, words: &str| match n {
        0 => None,
        1 => Some(format!("1 colour is {words}")),
        n => Some(format!("{n} colours are {words}")),
    };
    let parts = [are(gone, "not there"), are(short, "short of thread")];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    match parts.is_empty() {
        true => String::new(),
        false => {
            let to_buy = |of: &ThreadLine<'_>| of.lacking.0 > 0 || of.standing.has_no_card();
            let next = match project.threads().any(to_buy) {
                true => "b tells what to buy",
                false => "S cuts the skeins beside their cards",
            };
            format!(" Of the key {}: {next}.", parts.join(" and "))
        }
    }
}

impl Screen for Fetching {
    fn scope(&self) -> Scope {
        Scope::Pull
    }

    fn act(&mut self, context: &mut Context<'_>, action: Action) {
        let (state, now) = (context.stash.state, context.app.now);
        let Some(ring) = state.ring(self.page.ring) else {
            return context.close();
        };
        let Some(project) = self.page.check(state) else {
            return context.close();
        };
        let pull = pull(state, &project);
        let left = self.in_order(&pull);
        match (action, left.first().copied()) {
            (Action::Cancel, _) => {
                let (done, all) = self.count(state);
                context.close();
                let words = format!("Stopped with {done} of {all} fetched. t goes on from here.");
                context.app.say(words);
            }
            (Action::Previous, _) => self.step_back(context),
            (Action::Accept, Some(Fetch::Take(card))) => {
                context.commit(ring::take(state, ring.project.as_str(), &[card], now));
            }
            (Action::Accept, Some(Fetch::Split(from))) => match from.strands {
                Some(amount) => {
                    let project = ring.project.as_str();
                    let lot = match lots_to_split(&pull, from.card).as_slice() {
                        [only] => Some(*only),
                        _ => None,
                    };
                    let split = thread::split(state, project, from.card, amount, lot, "", now);
                    context.commit(split);
                }
                None => self.split(context, from.card, None),
            },
            (Action::Split, Some(fetch)) => {
                let suggested = self.page.wanted(state, fetch.card());
                self.split(context, fetch.card(), suggested);
            }
            (Action::Cut, Some(fetch)) => cut(context, fetch.card()),
            (Action::Skip, Some(fetch)) => {
                self.later.retain(|&card| card != fetch.card());
                self.later.push(fetch.card());
                self.go_on(context);
            }
            (Action::Missing, Some(fetch)) => {
                context.commit(missing_or_found(state, fetch.card(), now));
            }
            (Action::DoAll, Some(_)) => {
                let count = takes(&left).len();
                if count == 0 {
                    let words = "What is left is on other rings. Split it off card by card.";
                    return context.app.complain(words);
                }
                let cards = one_or_many(count, "card", "cards");
                let question =
                    format!("Mark the {count} {cards} left as taken? One undo reverts that.");
                context.ask_for(question, Then::Act(Action::Confirmed));
            }
            (Action::Confirmed, Some(_)) => {
                context.commit(ring::take(state, ring.project.as_str(), &takes(&left), now));
            }
            _ => {}
        }
    }

    fn recorded(&mut self, context: &mut Context<'_>, act: &Act) {
        self.begun |= matches!(act, Act::Take { .. } | Act::Split { .. });
        if matches!(act, Act::Missing { .. } | Act::Found { .. }) {
            let words = told(context.stash, act);
            context.app.say(words);
        }
        self.go_on(context);
    }

    fn settle(&mut self, context: &mut Context<'_>) {
        self.go_on(context);
    }

    fn spoken(&self, state: &State) -> Option<String> {
        let first = self.left(state).first().copied()?;
        let kept = state.card(first.card())?;
        Some(match (first, kept.place.at.hook()) {
            (Fetch::Take(_), Some(hook)) => places::spoken_at_hook(state, kept, "from", hook),
            (Fetch::Take(_), None) => {
                let card = places::spoken_card(state, kept);
                format!("{card}, from the cards to hang")
            }
            (Fetch::Split(from), _) => {
                let ring = state.ring(from.ring)?;
                let card = places::spoken_card(state, kept);
                format!(
                    "Split some {card} off, from {project}",
                    project = ring.project
                )
            }
        })
    }

    fn title(&self, app: &App, stash: Stash<'_>, width: u16) -> Option<Line<'static>> {
        let ring = stash.state.ring(self.page.ring)?;
        let (done, all) = self.count(stash.state);
        let words = format!("{done} of {all} fetched");
        let title = ("Fetch", ring.project.as_str());
        Some(walk::title(app, title, (done, all), &words, width))
    }

    fn view(&self, app: &App, stash: Stash<'_>, frame: &mut Frame<'_>, body: Rect) {
        let state = stash.state;
        let Some(project) = self.page.check(state) else {
            return;
        };
        let pull = pull(state, &project);
        let left = self.in_order(&pull);
        let Some((first, then)) = left.split_first() else {
            return;
        };
        let Some(kept) = state.card(first.card()) else {
            return;
        };
        let on = kept.place.at.hook();
        let hook_name = on.map_or_else(String::new, |hook| state.hook_name(hook));
        let mut more = amount_on(state, kept);
        let (words, place) = match first {
            Fetch::Take(_) if on.is_some() => ("take it off".to_owned(), hook_name),
            Fetch::Take(_) => ("take it from the cards to hang".to_owned(), String::new()),
            Fetch::Split(from) => {
                let amount = from.strands.map_or_else(
                    || "some".to_owned(),
                    |amount| text::thread::amount(amount, state.put_up(&kept.card)),
                );
                let ring = state.ring(from.ring).map_or_else(
                    || "another ring".to_owned(),
                    |ring| format!("the ring '{name}'", name = ring.project),
                );
                more = format!("from {ring}");
                let lots = lots_to_split(&pull, from.card).into_iter();
                let lots = lots.filter(|lot| !lot.is_unknown());
                let lots = text::list(lots.map(text::thread::lot));
                let lots = match lots.is_empty() {
                    true => lots,
                    false => format!(" of {lots}"),
                };
                (format!("split off {amount}{lots}"), String::new())
            }
        };
        // Lots come before the amount, because the end is cut off if space is short.
        let lots = lots(state, &project, &pull, kept).into_iter();
        let lots = lots.map(|words| text::capital(&words));
        more = lots.chain([more]).collect::<Vec<_>>().join(". ");
        let next = then.iter().filter_map(|fetch| {
            let kept = state.card(fetch.card())?;
            let place = match (fetch, kept.place.at.hook()) {
                (Fetch::Take(_), Some(hook)) => state.hook_name(hook),
                (Fetch::Take(_), None) => "to hang".to_owned(),
                (Fetch::Split(_), _) => "split".to_owned(),
            };
            Some(Next {
                kept,
                place,
                later: self.later.contains(&fetch.card()),
            })
        });
        let step = walk::Step {
            kept,
            words,
            place,
            beside: on,
            more,
            target: on,
            source: None,
            next: next.collect(),
            hint: "s puts a card off. m says that it is missing. A takes all that are left.",
        };
        step.draw(app, state, frame, body);
    }
}
