//! Keys on the page of a project, on the walk that fetches its kit, and in what is to be bought.

pub(super) mod forms;

use super::board::missing_or_found;
use super::{commit, look_at_card, put_away, stepped};
use crate::model::ids::{CardId, RingId};
use crate::model::range::PutUp;
use crate::model::ring::{KeyLine, Ring};
use crate::model::thread::Strands;
use crate::model::whereabouts::Whereabouts;
use crate::stash::command::buy::Skeins;
use crate::stash::command::{buy, key, ring, thread};
use crate::stash::event::Event;
use crate::stash::projects::kit::{hanging_with_key, rings_in_use};
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};
use crate::text;
use crate::tui::app::project::{Buy, Fetch, Project, Pull};
use crate::tui::app::{App, Form, Mode, ReturnTo, Stash};
use crate::tui::keymap::Action;
use crate::tui::message::Effect;
use crate::tui::refused::on_screen;

/// The most skeins of one colour that the list counts up to.
const MOST_SKEINS: u32 = 99;

/// Opens a form that leads back to the page.
fn fill_in(app: &mut App, page: Project, form: Form) {
    app.mode = Mode::Form(Form {
        back: ReturnTo::Project(page),
        ..form
    });
}

/// The card of a line that is on the ring: of the first thread that has one, a split card before the
/// card itself.
fn on_ring<'a>(state: &'a State, ring: &Ring, line: &KeyLine) -> Option<&'a CardState> {
    let there = |kept: &&CardState| kept.place.at.ring() == Some(ring.id);
    let mut threads = line.threads().iter();
    threads.find_map(|thread| state.cards_of(thread.stitched()).filter(there).last())
}

pub(super) fn page(app: &mut App, stash: Stash<'_>, action: Action) -> Vec<Effect> {
    let (state, now) = (stash.state, app.now);
    let Mode::Project(page) = &mut app.mode else {
        return Vec::new();
    };
    let Some(ring) = state.ring(page.ring) else {
        app.mode = Mode::Rings(0);
        return Vec::new();
    };
    page.at = stepped(page.at, ring.key.len(), action);
    let page = *page;
    let entry = ring.key.get(page.at);
    match (action, entry) {
        (Action::Cancel, _) => app.mode = super::lists::rings_at(state, ring.id),
        (Action::Share, _) => {
            let shared = !page.shared;
            app.mode = Mode::Project(Project { shared, ..page });
            app.say(if shared {
                "shared with all projects in use, those opened before it first"
            } else {
                "as if only this project asked; what lies on other rings stays theirs"
            });
        }
        (Action::Take, _) => begin_pull(app, state, page),
        (Action::PutAway, _) => return put_away(app, stash, ring),
        (Action::Buy, _) => open_buy(app, state, vec![ring.id], Some(page)),
        (Action::Import, _) => fill_in(app, page, forms::import_key(ring)),
        (Action::Fabric, _) => fill_in(app, page, forms::fabric(ring)),
        (Action::Edit | Action::Accept, Some(line)) if line.notion().is_some() => {
            app.complain("a notion can't be edited here: delete the line and write another");
        }
        (Action::Add, _) => fill_in(app, page, forms::key_line(state, ring, None)),
        (Action::Edit | Action::Accept, _) => {
            let at = entry.map(|_| page.at);
            fill_in(app, page, forms::key_line(state, ring, at));
        }
        (_, None) => {
            let is_step = matches!(
                action,
                Action::Up | Action::Down | Action::PageUp | Action::PageDown
            );
            if !is_step {
                app.complain("the key has no line yet: i brings it in from a list, a writes one");
            }
        }
        (Action::Strike, _) => return change_key(app, stash, key::strike(ring, page.at)),
        (Action::ShiftUp | Action::ShiftDown, _) => {
            let to = match action {
                Action::ShiftUp => page.at.saturating_sub(1),
                _ => (page.at + 1).min(ring.key.len() - 1),
            };
            app.mode = Mode::Project(Project { at: to, ..page });
            return change_key(app, stash, key::shift(ring, page.at, to));
        }
        (Action::UseLength, Some(entry)) => {
            return use_up(app, stash, ring, entry, |put_up| put_up.from_lengths(1));
        }
        (Action::UseStrand, Some(entry)) => {
            return use_up(app, stash, ring, entry, |_| Strands(1));
        }
        (Action::UseSome, Some(entry)) => match on_ring(state, ring, entry) {
            Some(kept) => {
                let form = forms::used(state, ring.id, kept.card.id);
                fill_in(app, page, form);
            }
            None => not_on_ring(app, entry),
        },
        (Action::Progress, Some(entry)) => {
            fill_in(app, page, forms::progress(state, ring, entry));
        }
        (Action::Split, Some(entry)) => match whole_card(state, ring, entry) {
            Some(kept) if kept.place.at.ring() == Some(ring.id) => app.complain(format!(
                "{kept} is on this ring itself, so nothing need be split",
                kept = state.card_name(kept)
            )),
            Some(kept) => {
                let suggested = wanted(state, page, kept.card.id);
                let form = forms::split(state, ring.id, kept.card.id, suggested);
                fill_in(app, page, form);
            }
            None => app.complain(format!(
                "no card of {number} is in the stash",
                number = text::thread::line_in_brief(entry)
            )),
        },
        (Action::Rejoin, Some(entry)) => match whole_card(state, ring, entry) {
            Some(kept) => {
                let back = thread::merge(state, ring, kept.card.id);
                return commit(app, stash, back);
            }
            None => app.complain(format!(
                "no card of {number} is in the stash",
                number = text::thread::line_in_brief(entry)
            )),
        },
        (Action::Missing, Some(entry)) => match on_ring(state, ring, entry) {
            Some(kept) => {
                let gone = ring::missing(state, &[kept.card.id], now);
                return commit(app, stash, gone);
            }
            None => not_on_ring(app, entry),
        },
        _ => {}
    }
    Vec::new()
}

fn not_on_ring(app: &mut App, line: &KeyLine) {
    app.complain(format!(
        "no card of {number} is on this ring",
        number = text::thread::line_in_brief(line)
    ));
}

/// A card of a line that is no split card: one with a split card on the ring, else one that is not on
/// the ring itself, else the first.
fn whole_card<'a>(state: &'a State, ring: &Ring, line: &KeyLine) -> Option<&'a CardState> {
    let threads = line.threads().iter();
    let cards = threads.flat_map(|thread| state.cards_of(thread.stitched()));
    let whole = cards.filter(|kept| kept.card.parent.is_none());
    let there = |kept: &CardState| kept.place.at.ring() == Some(ring.id);
    whole.min_by_key(|kept| {
        let is_split = state.split_cards_of(kept.card.id).any(there);
        (!is_split, there(kept))
    })
}

/// What the key wants of a card that is not on the ring.
fn wanted(state: &State, page: Project, card: CardId) -> Option<Strands> {
    let project = page.check(state)?;
    let promises = project.threads().flat_map(|thread| &thread.promises);
    let own = Some(page.ring);
    let of = promises.filter(|promise| promise.card == card);
    let apart = state
        .card(card)
        .is_some_and(|kept| kept.place.at.ring() != own);
    let sum = of.fold(0, |sum: u32, promise| sum.saturating_add(promise.strands.0));
    (apart && sum > 0).then_some(Strands(sum))
}

fn change_key(
    app: &mut App,
    stash: Stash<'_>,
    event: Result<Option<Event>, Refusal>,
) -> Vec<Effect> {
    match event.transpose() {
        Some(event) => commit(app, stash, event),
        None => Vec::new(),
    }
}

fn use_up(
    app: &mut App,
    stash: Stash<'_>,
    ring: &Ring,
    entry: &KeyLine,
    amount: impl FnOnce(PutUp) -> Strands,
) -> Vec<Effect> {
    match on_ring(stash.state, ring, entry) {
        Some(kept) => {
            let amount = amount(stash.state.put_up(&kept.card));
            let used = thread::use_thread(stash.state, Some(ring), kept.card.id, amount, None);
            commit(app, stash, used)
        }
        None => {
            not_on_ring(app, entry);
            Vec::new()
        }
    }
}

/// Begins the walk that fetches a kit, or says why there is none.
fn begin_pull(app: &mut App, state: &State, page: Project) {
    let pull = Pull {
        page,
        later: Vec::new(),
        done: 0,
    };
    app.mode = Mode::Pull(pull);
    follow_pull(app, state);
}

/// Goes to the next card of the walk, or back to the page with what there is to say.
pub(super) fn follow_pull(app: &mut App, state: &State) {
    let Mode::Pull(pull) = &app.mode else { return };
    let (page, done) = (pull.page, pull.done);
    if let Some(fetch) = pull.left(state).first() {
        look_at_card(app, state, fetch.card());
        return;
    }
    app.mode = Mode::Project(Project { at: 0, ..page });
    let lacking = page.check(state).map(|project| {
        let threads = project.threads();
        threads.filter(|of| of.standing.is_missing()).count()
    });
    let lacking = match lacking {
        None | Some(0) => String::new(),
        Some(n) => format!("; {n} of the key not there: b tells what to buy"),
    };
    app.say(if done == 0 {
        format!("there is nothing to fetch{lacking}")
    } else {
        format!("fetched; now put them on the ring in this order, the order of the key{lacking}")
    });
}

pub(super) fn pull(app: &mut App, stash: Stash<'_>, action: Action) -> Vec<Effect> {
    let (state, now) = (stash.state, app.now);
    let Mode::Pull(pull) = &mut app.mode else {
        return Vec::new();
    };
    let page = pull.page;
    let Some(ring) = state.ring(page.ring) else {
        app.mode = Mode::Rings(0);
        return Vec::new();
    };
    let left = pull.left(state);
    let first = left.first().copied();
    match (action, first) {
        (Action::Cancel, _) => {
            let done = pull.done;
            app.mode = Mode::Project(page);
            app.say(format!(
                "stopped with {count} to fetch, {done} fetched",
                count = left.len()
            ));
        }
        (Action::Accept, Some(Fetch::Take(card))) => {
            let taken = ring::take(state, ring.project.as_str(), &[card], now);
            return commit(app, stash, taken);
        }
        (Action::Accept, Some(Fetch::Split(from))) => match from.strands {
            Some(amount) => {
                let project = ring.project.as_str();
                let rejoined = thread::split(state, project, from.card, amount, None, "", now);
                return commit(app, stash, rejoined);
            }
            None => split_form(app, state, from.card, None),
        },
        (Action::Split, Some(fetch)) => {
            let suggested = wanted(state, page, fetch.card());
            split_form(app, state, fetch.card(), suggested);
        }
        (Action::Skip, Some(fetch)) => {
            pull.later.retain(|&card| card != fetch.card());
            pull.later.push(fetch.card());
            follow_pull(app, state);
        }
        (Action::Missing, Some(fetch)) => {
            let gone = missing_or_found(app, stash, fetch.card());
            return commit(app, stash, gone);
        }
        (Action::DoAll, Some(_)) => {
            let takes = left.iter().filter_map(|fetch| match fetch {
                Fetch::Take(card) => Some(*card),
                Fetch::Split(_) => None,
            });
            let takes: Vec<CardId> = takes.collect();
            if takes.is_empty() {
                app.complain("what is left is on other rings: split it off card by card");
                return Vec::new();
            }
            let taken = ring::take(state, ring.project.as_str(), &takes, now);
            return commit(app, stash, taken);
        }
        _ => {}
    }
    Vec::new()
}

/// Opens a form for the thread to be split, which leads back to the walk.
fn split_form(app: &mut App, state: &State, card: CardId, suggested: Option<Strands>) {
    let Mode::Pull(pull) = &app.mode else { return };
    let back = ReturnTo::Pull(pull.clone());
    let form = forms::split(state, pull.page.ring, card, suggested);
    app.mode = Mode::Form(Form { back, ..form });
}

/// Shows what is to be bought for the projects that were chosen, or else for all in use.
pub(super) fn buy_for_all(app: &mut App, state: &State) {
    if !app.chosen_rings.is_empty() {
        let chosen = app.chosen_rings.iter().copied().collect();
        open_buy(app, state, chosen, None);
        return;
    }
    match rings_in_use(state) {
        Ok(rings) => {
            let rings = rings.iter().map(|ring| ring.id).collect();
            open_buy(app, state, rings, None);
            if let (Mode::Buy(_), Some(ring)) = (&app.mode, hanging_with_key(state).next()) {
                app.say(format!(
                    "'{project}' hangs on a hook and is left out: Space in the list of rings chooses it",
                    project = ring.project
                ));
            }
        }
        Err(refusal) => app.complain(match hanging_with_key(state).next() {
            Some(ring) => format!(
                "'{project}' hangs on a hook: Enter opens it, b there buys for it",
                project = ring.project
            ),
            None => on_screen(&refusal),
        }),
    }
}

/// A colour of these projects whose card is missing while an uncut skein of it is there.
fn missing_with_skein<'a>(state: &'a State, rings: &[RingId]) -> Option<&'a CardState> {
    let rings = rings.iter().filter_map(|&ring| state.ring(ring));
    let mut cards = rings
        .flat_map(Ring::threads)
        .flat_map(|thread| state.cards_of(thread.stitched()));
    cards.find(|kept| matches!(kept.place.at, Whereabouts::Missing { .. }) && kept.skeins() > 0)
}

fn open_buy(app: &mut App, state: &State, rings: Vec<RingId>, page: Option<Project>) {
    let buy = Buy {
        rings,
        page,
        at: 0,
        said: std::collections::BTreeMap::new(),
        replaced: Vec::new(),
    };
    if buy.list(state).is_empty() {
        match missing_with_skein(state, &buy.rings) {
            // What was cut onto a new card makes the missing one found.
            Some(kept) => app.say(format!(
                "{card} is missing but has an uncut skein: cut it, then m and c on its hook",
                card = state.card_name(kept)
            )),
            None => app.say("nothing needs to be bought for that"),
        }
        return;
    }
    app.mode = Mode::Buy(buy);
}

pub(super) fn buy(app: &mut App, stash: Stash<'_>, action: Action) -> Vec<Effect> {
    let state = stash.state;
    let Mode::Buy(buy) = &mut app.mode else {
        return Vec::new();
    };
    let list = buy.list(state);
    buy.at = stepped(buy.at, list.len(), action);
    match (action, list.get(buy.at)) {
        (Action::Cancel, _) => {
            app.mode = buy.page.map_or(Mode::Rings(0), Mode::Project);
        }
        (Action::More, Some(line)) => buy.say(line, (line.skeins + 1).min(MOST_SKEINS)),
        (Action::Less, Some(line)) => buy.say(line, line.skeins.saturating_sub(1)),
        (Action::Accept, _) => {
            let bought = list.iter().filter(|line| line.skeins > 0);
            let skeins: Vec<Skeins> = bought.map(Skeins::of).collect();
            let event = buy::bought(state, &skeins, app.now);
            buy.replaced = event.as_ref().map(buy::replaced).unwrap_or_default();
            return commit(app, stash, event);
        }
        _ => {}
    }
    Vec::new()
}

#[cfg(test)]
mod tests;
