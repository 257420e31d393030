//! The stash of `homehook demo`: an invented stash, built with the same commands as any other.

use std::path::Path;

use jiff::{SignedDuration, Timestamp};

use super::failure::Failure;
use crate::exchange::{FileError, read_cards, read_key, read_range};
use crate::journal::store::Store;
use crate::model::board::ReadingOrder;
use crate::model::label::Who;
use crate::stash::command::board::{self, NewBoard, Unhang};
use crate::stash::command::import::{self, CardRow, Terms};
use crate::stash::command::{key, rehang, ring};
use crate::stash::event::Event;
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};
use crate::text::files::rejected;
use crate::tui::Throwaway;

/// The invented range.
const RANGE: &str = "Lantern Hill";
/// The invented owner.
const OWNER: &str = "you";
/// The blocked hooks, and why.
const BLOCKED: [(&str, &str); 3] = [
    ("A20", "bracket of the lamp"),
    ("F01", "light switch behind"),
    ("L10", "hook bent, to be mended"),
];
/// The projects: name, chart key, days since the cards were taken, and the hook where the ring
/// hangs.
const PROJECTS: [(&str, &[u8], i64, Option<&str>); 3] = [
    (
        "Fox in the Ferns",
        include_bytes!("../../assets/demo/keys/fox-in-the-ferns.csv"),
        96,
        Some("L20"),
    ),
    (
        "Orchard in September",
        include_bytes!("../../assets/demo/keys/orchard-in-september.csv"),
        40,
        None,
    ),
    (
        "Harbour at Dusk",
        include_bytes!("../../assets/demo/keys/harbour-at-dusk.csv"),
        12,
        None,
    ),
];
/// The next project: its cards are still to be fetched.
const NEXT: (&str, &[u8]) = (
    "Kingfisher Pool",
    include_bytes!("../../assets/demo/keys/kingfisher-pool.csv"),
);
/// Number of missing cards.
const MISSING: usize = 2;

/// Builds the stash in a folder of its own, to be viewed from the screen.
pub(crate) fn throwaway() -> Result<Throwaway, String> {
    in_new_folder().map_err(|failure| failure.to_string())
}

/// Builds the same for the command.
pub(crate) fn in_new_folder() -> Result<Throwaway, Failure> {
    let folder = tempfile::Builder::new()
        .prefix("homehook-demo-")
        .tempdir()
        .map_err(Failure::NoTemporaryFolder)?;
    let store = build(folder.path(), Timestamp::now())?;
    Ok(Throwaway { store, folder })
}

/// Builds the demo stash in an empty folder, with a history that ends at `now`.
pub(crate) fn build(dir: &Path, now: Timestamp) -> Result<Store, Failure> {
    let (mut store, _) = Store::open(dir)?;
    store.sign_as(Who::cleaned(OWNER));
    let ago = |days: i64| now - SignedDuration::from_hours(24 * days);

    begin(&mut store, ago(400))?;
    for (project, key, days, hanging) in PROJECTS {
        take(&mut store, project, key, ago(days))?;
        if let Some(hook_name) = hanging {
            hang_up(&mut store, project, hook_name, ago(days))?;
        }
    }
    let lost: Vec<_> = at_home(store.state())
        .step_by(61)
        .skip(1)
        .take(MISSING)
        .map(|kept| kept.card.id)
        .collect();
    let event = ring::missing(store.state(), &lost, ago(9))?;
    store.commit(ago(9), &event)?;

    let list = read_cards(include_bytes!("../../assets/demo/purchase.csv"))
        .map_err(in_file("purchase.csv"))?;
    let bought = ago(1);
    let terms = Terms::default();
    let purchase = import::card_list(
        store.state(),
        &list.rows,
        rejected(&list.rejected),
        &terms,
        bought,
    )?;
    commit(&mut store, bought, purchase.event)?;
    let (project, key) = NEXT;
    import_key(&mut store, project, key, now)?;
    Ok(store)
}

/// The wall with its blocked hooks, the range, and the cards that hang on the wall from the start.
fn begin(store: &mut Store, start: Timestamp) -> Result<(), Failure> {
    let wall = NewBoard {
        name: "Workroom wall".to_owned(),
        prefix: String::new(),
        rows: 12,
        columns: 20,
        cards_per_hook: 1,
        reading: ReadingOrder::Rows,
    };
    let event = board::new_board(store.state(), &wall)?;
    store.commit(start, &event)?;
    for (hook_name, why) in BLOCKED {
        let event = board::block(store.state(), hook_name, why, Unhang::Refused, start)?;
        store.commit(start, &event)?;
    }
    let list =
        read_range(include_bytes!("../../assets/demo/range.csv")).map_err(in_file("range.csv"))?;
    let shades = import::range(store.state(), &list.rows, rejected(&list.rejected), RANGE)?;
    commit(store, start, shades.event)?;

    let list =
        read_cards(include_bytes!("../../assets/demo/stock.csv")).map_err(in_file("stock.csv"))?;
    let rows = laid_out(store.state(), list.rows, start)?;
    let card_list = import::card_list(
        store.state(),
        &rows,
        rejected(&list.rejected),
        &Terms::default(),
        start,
    )?;
    commit(store, start, card_list.event)
}

fn in_file(name: &'static str) -> impl FnOnce(FileError) -> Failure {
    move |source| Failure::NotAList {
        path: name.into(),
        source,
    }
}

fn commit(store: &mut Store, at: Timestamp, event: Option<Event>) -> Result<(), Failure> {
    if let Some(event) = event {
        store.commit(at, &event)?;
    }
    Ok(())
}

fn at_home(state: &State) -> impl Iterator<Item = &CardState> {
    state.cards().filter(|kept| kept.is_home())
}

/// Assigns each row its hook from the plan with the most room, computed on a copy of the stash.
fn laid_out(
    state: &State,
    mut rows: Vec<CardRow>,
    now: Timestamp,
) -> Result<Vec<CardRow>, Failure> {
    let mut copy = state.clone();
    let card_list = import::card_list(&copy, &rows, Vec::new(), &Terms::default(), now)?;
    if let Some(event) = &card_list.event {
        copy.apply(event).map_err(Refusal::from)?;
    }
    let plans = rehang::plans(&copy)?;
    let homes = plans.last().map_or(&[][..], |plan| &plan.homes);
    for &(card, hook) in homes {
        let Some(kept) = copy.card(card) else {
            continue;
        };
        let number = kept.card.number.as_str();
        if let Some(row) = rows.iter_mut().find(|row| row.number == number) {
            row.hook = Some(copy.hook_name(hook));
        }
    }
    Ok(rows)
}

/// Takes the cards of a chart key that are at home to the project's ring, in key order.
fn take(store: &mut Store, project: &str, key: &[u8], at: Timestamp) -> Result<(), Failure> {
    import_key(store, project, key, at)?;
    let state = store.state();
    let ring = state.need_ring(project)?;
    let colours = ring.colours().into_iter();
    let owned = colours.filter_map(|colour| state.cards_of(colour).next());
    let cards: Vec<_> = owned
        .filter(|kept| kept.is_home())
        .map(|kept| kept.card.id)
        .collect();
    let event = ring::take(state, project, &cards, at)?;
    store.commit(at, &event)?;
    Ok(())
}

/// Imports the chart key of a project.
fn import_key(store: &mut Store, project: &str, list: &[u8], at: Timestamp) -> Result<(), Failure> {
    let list = read_key(list).map_err(in_file("its key"))?;
    let terms = Terms::default();
    let state = store.state();
    let keyed = key::import(
        state,
        &list.rows,
        rejected(&list.rejected),
        project,
        &terms,
        at,
    )?;
    commit(store, at, keyed.event)
}

fn hang_up(
    store: &mut Store,
    project: &str,
    hook_name: &str,
    at: Timestamp,
) -> Result<(), Failure> {
    let state = store.state();
    let event = ring::hang_up(state, state.need_ring(project)?, hook_name, at)?;
    store.commit(at, &event)?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stash::projects::kit::{Availability, check};
    use crate::stash::whereabouts::Counts;

    #[test]
    fn the_demo_keeps_every_invariant_and_has_work_to_do() {
        let folder = tempfile::tempdir().unwrap();
        let store = build(folder.path(), Timestamp::now()).unwrap();
        assert_eq!(store.broken_laws(), []);
        let mut past = store.past().unwrap();
        assert!(past.all(|entry| entry.unwrap().by == Who::cleaned(OWNER)));
        let counts = Counts::of(store.state());
        assert_eq!((counts.missing, counts.to_hang), (MISSING, 30));
        assert_eq!(counts.home + counts.away() + counts.missing, 195);

        let rings: Vec<_> = store.state().rings().collect();
        assert_eq!(rings.len(), PROJECTS.len() + 1);
        for ring in &rings[..PROJECTS.len()] {
            assert!(ring.key.len() >= 22, "{}", ring.project);
            let on_it = store.state().cards_on(ring);
            let numbers: Vec<_> = on_it.map(|kept| kept.card.number.as_str()).collect();
            let colours = ring.colours().into_iter();
            let key: Vec<_> = colours.map(|colour| colour.number.as_str()).collect();
            let in_key = |number: &&str| key.iter().position(|other| other == number);
            assert!(numbers.len() > 15 && numbers.iter().map(in_key).is_sorted());
        }

        // The next project shows every availability of a colour.
        let kit = check(store.state(), &rings[PROJECTS.len()..]);
        let stands = |wanted| {
            let mut threads = kit.projects[0].threads();
            threads.any(|thread| thread.standing == wanted)
        };
        for standing in [
            Availability::Home,
            Availability::Split,
            Availability::Short,
            Availability::Uncounted,
            Availability::Lost,
            Availability::NotOwned,
        ] {
            assert!(stands(standing), "{standing:?}");
        }

        let plans = rehang::plans(store.state()).unwrap();
        assert!(plans.len() > 1);
        let work = |plan: &rehang::RehangPlan| plan.touched + plan.relabel;
        assert!(work(&plans[1]) > 0 && work(&plans[1]) < work(&plans[plans.len() - 1]));
        assert!(plans.iter().all(|plan| plan.newly_hung == 30));
    }
}
