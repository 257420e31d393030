use crate::journal::{AcceptError, CommitError, Other, ReadOnly, RecordError};
use crate::model::label::Who;
use crate::stash::event::{Act, Event};
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use std::fs;
use std::path::Path;
use std::time::Duration;

use super::crash::{Fault, Faulty};
use super::{contents, record_in};
use crate::journal::store::*;
use crate::model::thread::{Lot, ThreadPart};
use crate::stash::command::board::{Unhang, block, new_board};
use crate::stash::command::import::{Terms, card_list};
use crate::stash::command::ring;
use crate::stash::event::{AmountChange, Change};
use crate::stash::testing::{at, board, id, rows};

fn open(dir: &Path) -> Store {
    let (store, notices) = Store::open(dir).unwrap();
    assert_eq!(notices, []);
    assert_eq!(store.broken_laws(), []);
    store
}

/// A stash with a board and two cards, one of them on a ring.
fn fill(store: &mut Store) {
    let event = new_board(store.state(), &board("wall", "", 1, 2, 1)).unwrap();
    store.commit(at(1), &event).unwrap();
    let list = rows(&["1@A01 moss", "2"]);
    let list = card_list(store.state(), &list, Vec::new(), &Terms::default(), at(2));
    store.commit(at(2), &list.unwrap().event.unwrap()).unwrap();
    let cards = [id(store.state(), "1")];
    let event = ring::take(store.state(), "Robin", &cards, at(3)).unwrap();
    assert_eq!(store.commit(at(3), &event).unwrap(), 3);
}

#[test]
fn a_reopened_stash_is_the_same() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = open(dir.path());
    assert_eq!(store.read_only(), None);
    fill(&mut store);
    let (state, history) = (store.state().clone(), store.history().clone());
    drop(store);
    let store = open(dir.path());
    assert_eq!(store.state(), &state);
    assert_eq!(store.state().index(), state.index());
    assert_eq!(store.history(), &history);
    assert_eq!((store.events(), store.misfit()), (3, None));
}

#[test]
fn undo_and_redo_continue_after_reopening() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = open(dir.path());
    fill(&mut store);
    let full = store.state().clone();
    store.undo(at(4)).unwrap();
    drop(store);

    let mut store = open(dir.path());
    store.undo(at(5)).unwrap();
    store.undo(at(6)).unwrap();
    assert_eq!(store.state(), &State::default());
    assert!(matches!(
        store.undo(at(7)),
        Err(CommitError::Refused(Refusal::NothingToUndo))
    ));
    drop(store);

    let mut store = open(dir.path());
    for _ in 0..3 {
        store.redo(at(8)).unwrap();
    }
    assert_eq!(store.state(), &full);
    assert!(matches!(
        store.redo(at(9)),
        Err(CommitError::Refused(Refusal::NothingToRedo))
    ));
    assert_eq!(store.events(), 9);
}

#[test]
fn an_event_that_breaks_an_invariant_or_does_not_apply_is_not_written() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = open(dir.path());
    fill(&mut store);
    let (state, history) = (store.state().clone(), store.history().clone());
    let record = fs::read(record_in(dir.path())).unwrap();
    let card = id(&state, "2");
    let home = state.find_hook("A01").unwrap();
    let breaks = Change::Home {
        card,
        before: None,
        after: Some(home),
    };
    let does_not_fit = Change::Thread {
        card,
        lot: Lot::unknown(),
        part: ThreadPart::Strands,
        amount: AmountChange::Set {
            before: 1,
            after: 2,
        },
    };
    for change in [breaks, does_not_fit] {
        let event = Event {
            act: Act::OrderFamilies,
            changes: vec![change],
        };
        let refused = store.commit(at(4), &event).unwrap_err();
        assert!(matches!(
            refused,
            CommitError::Refused(Refusal::ApplyError(_))
        ));
        assert_eq!(fs::read(record_in(dir.path())).unwrap(), record);
        assert_eq!(store.state(), &state);
        assert_eq!(store.history(), &history);
    }
    // The next good event gets the next number.
    let event = block(&state, "A02", "light", Unhang::Refused, at(5)).unwrap();
    assert_eq!(store.commit(at(5), &event).unwrap(), 4);
}

#[test]
fn an_event_that_cannot_be_written_is_reverted() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = open(dir.path());
    fill(&mut store);
    fs::remove_file(dir.path().join("record.end")).unwrap();
    fs::create_dir(dir.path().join("record.end")).unwrap();
    let (state, history) = (store.state().clone(), store.history().clone());
    let event = ring::missing(store.state(), &[id(store.state(), "2")], at(4)).unwrap();
    let refused = store.commit(at(4), &event).unwrap_err();
    assert!(matches!(refused, CommitError::Record(_)));
    assert_eq!((store.state(), store.history()), (&state, &history));
    fs::remove_dir(dir.path().join("record.end")).unwrap();
    store.commit(at(5), &event).unwrap();
}

#[test]
fn an_open_store_sees_a_byte_changed_in_place_and_writes_no_more() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = open(dir.path());
    fill(&mut store);
    assert!(!store.refresh().unwrap());
    let path = dir.path().join("record.jsonl");
    let mut bytes = fs::read(&path).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 1;
    // In the same file, which stays as long as it was.
    let mut file = fs::File::options().write(true).open(&path).unwrap();
    std::io::Write::write_all(&mut file, &bytes).unwrap();
    drop(file);
    let event = ring::missing(store.state(), &[id(store.state(), "2")], at(4)).unwrap();
    let refused = store.commit(at(4), &event).unwrap_err();
    assert!(
        matches!(refused, CommitError::Record(RecordError::ReadOnly(_))),
        "{refused:?}"
    );
    assert!(store.unsound().is_some());
    assert_eq!(fs::read(&path).unwrap(), bytes);
}

#[test]
fn two_stores_of_one_folder_take_turns_and_see_each_others_changes() {
    let dir = tempfile::tempdir().unwrap();
    let (mut one, mut two) = (open(dir.path()), open(dir.path()));
    fill(&mut one);
    assert!(two.refresh().unwrap());
    assert_eq!(two.take_others().len(), 3);
    assert!(!two.refresh().unwrap());
    assert_eq!(one.state(), two.state());
    let missing = |store: &Store, number| {
        let card = id(store.state(), number);
        ring::missing(store.state(), &[card], at(4)).unwrap()
    };
    // A change computed before the other store's change is written if it still applies.
    let (first, second) = (missing(&one, "1"), missing(&two, "2"));
    one.commit(at(4), &first).unwrap();
    assert_eq!(two.commit(at(4), &second).unwrap(), 5);
    assert!(one.refresh().unwrap());
    assert_eq!((one.state(), one.history()), (two.state(), two.history()));
    assert!(one.is_others(5) && !one.is_others(4));
    assert!(two.is_others(4) && !two.is_others(5));
}

#[test]
fn a_change_that_no_longer_applies_is_refused_with_the_others_changes() {
    let dir = tempfile::tempdir().unwrap();
    let mut one = open(dir.path());
    fill(&mut one);
    one.sign_as(Who::new("laptop").ok());
    let mut two = open(dir.path());
    let card = id(two.state(), "2");
    let event = ring::missing(two.state(), &[card], at(4)).unwrap();
    one.commit(at(4), &event).unwrap();
    let before = contents(dir.path());
    let refused = two.commit(at(5), &event).unwrap_err();
    let CommitError::Overtaken { others } = refused else {
        panic!("{refused:?}");
    };
    let [Other { seq: 4, by, act }] = &others[..] else {
        panic!("{others:?}");
    };
    assert_eq!((by, act), (&Who::new("laptop").ok(), &event.act));
    assert_eq!(contents(dir.path()), before);
    assert_eq!(two.state(), one.state());
    // A change that doesn't apply to the known state is an ordinary refusal.
    let refused = two.commit(at(6), &event).unwrap_err();
    assert!(matches!(refused, CommitError::Refused(_)), "{refused:?}");
}

#[test]
fn an_undo_reverts_the_change_it_was_asked_for_or_none() {
    let dir = tempfile::tempdir().unwrap();
    let mut one = open(dir.path());
    fill(&mut one);
    let mut two = open(dir.path());
    let event = ring::missing(two.state(), &[id(two.state(), "2")], at(4)).unwrap();
    two.commit(at(4), &event).unwrap();
    let refused = one.undo_event(at(5), 3).unwrap_err();
    assert!(
        matches!(refused, CommitError::Overtaken { .. }),
        "{refused:?}"
    );
    assert_eq!(one.events(), 4);
    assert!(one.is_others(4));
    assert_eq!(one.undo_event(at(6), 4).unwrap(), 5);
    // The other store would redo a change whose undo it never saw.
    let refused = two.redo_event(at(7), 4).unwrap_err();
    assert!(
        matches!(refused, CommitError::Overtaken { .. }),
        "{refused:?}"
    );
    assert_eq!(two.redo_event(at(8), 5).unwrap(), 6);
}

#[test]
fn only_a_first_change_creates_a_missing_stash() {
    let outer = tempfile::tempdir().unwrap();
    let dir = outer.path().join("deep/stash");
    let mut store = open(&dir);
    assert!(matches!(
        store.undo(at(1)),
        Err(CommitError::Refused(Refusal::NothingToUndo))
    ));
    let event = Event {
        act: Act::OrderFamilies,
        changes: vec![Change::Ring {
            before: None,
            after: None,
        }],
    };
    assert!(store.commit(at(1), &event).is_err());
    assert!(!outer.path().join("deep").exists());
    fill(&mut store);
    assert!(dir.is_dir());
    assert_eq!(open(&dir).state(), store.state());
}

#[test]
fn a_loss_must_be_accepted_explicitly_and_nothing_else_can_be() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = open(dir.path());
    fill(&mut store);
    drop(store);
    let bytes = fs::read(record_in(dir.path())).unwrap();
    let ends: Vec<usize> = super::line_ends(&bytes);
    let accept = || Store::accept_loss(dir.path(), None, at(9));
    assert!(matches!(accept(), Err(AcceptError::NothingLost)));
    let mut bad = bytes.clone();
    bad[ends[1] + 20] ^= 1;
    fs::write(record_in(dir.path()), &bad).unwrap();
    let before = contents(dir.path());
    assert!(matches!(accept(), Err(AcceptError::Damaged(_))));
    assert_eq!(contents(dir.path()), before);
    fs::write(record_in(dir.path()), &bytes[..ends[3] - 9]).unwrap();
    assert_eq!(accept().unwrap(), (Some(3), 2));
    let store = open(dir.path());
    assert_eq!((store.events(), store.unsound()), (3, None));
    let last = store.past().unwrap().last().unwrap().unwrap();
    let (recorded, found) = (Some(3), 2);
    assert_eq!(last.event.act, Act::AcceptLoss { recorded, found });
    // It isn't a change that can be undone.
    assert_eq!(store.history().last_done().unwrap().seq, 2);
    for name in ["record.jsonl", "record.end"] {
        fs::remove_file(dir.path().join(name)).unwrap();
        assert_eq!(accept().is_ok(), name == "record.jsonl", "{name}");
    }
}

#[test]
fn a_record_is_read_up_to_an_event_that_does_not_apply() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = open(dir.path());
    fill(&mut store);
    let state = store.state().clone();
    // Written past the invariants, as a buggy program would.
    let event = Event {
        act: Act::OrderFamilies,
        changes: vec![
            Change::Families {
                before: Vec::new(),
                after: Vec::new(),
            };
            2
        ],
    };
    let mut wrong = event.clone();
    wrong.changes.push(Change::Ring {
        before: None,
        after: None,
    });
    store.log_mut().hold(Duration::ZERO).unwrap();
    store.log_mut().append(at(4), &wrong).unwrap();
    store.log_mut().append(at(5), &event).unwrap();
    drop(store);
    let mut store = open(dir.path());
    assert_eq!(store.state(), &state);
    assert_eq!(store.misfit().unwrap().0, 4);
    assert!(store.unsound().is_some());
    assert!(matches!(
        store.undo(at(6)),
        Err(CommitError::ReadOnly(ReadOnly::ApplyError { seq: 4, .. }))
    ));
}

/// Reopens a ring, adds a card to it, hangs it on a hook and takes it up again.
fn row_of_events(state: &State) -> Vec<Event> {
    let mut state = state.clone();
    let mut events = Vec::new();
    let mut make = |ask: &dyn Fn(&State) -> Event| {
        let event = ask(&state);
        state.apply(&event).unwrap();
        events.push(event);
    };
    make(&|state| ring::take(state, "Robin", &[id(state, "2")], at(4)).unwrap());
    make(&|state| ring::hang_up(state, state.need_ring("Robin").unwrap(), "A02", at(4)).unwrap());
    make(&|state| ring::take_down(state.need_ring("Robin").unwrap()).unwrap());
    events
}

#[test]
fn several_events_are_single_events_in_the_record_and_the_history() {
    let (one, two) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let mut row = open(one.path());
    fill(&mut row);
    drop(row);
    for name in ["record.jsonl", "record.end"] {
        fs::copy(one.path().join(name), two.path().join(name)).unwrap();
    }
    let (mut row, mut single) = (open(one.path()), open(two.path()));
    let events = row_of_events(row.state());
    assert_eq!(row.commit_all(at(4), &events).unwrap(), 6);
    for event in &events {
        single.commit(at(4), event).unwrap();
    }
    let read = |dir: &Path| -> Vec<serde_json::Value> {
        let text = fs::read_to_string(record_in(dir)).unwrap();
        let lines = text.lines().map(|line| serde_json::from_str(line).unwrap());
        lines
            .map(|mut line: serde_json::Value| line["event"].take())
            .collect()
    };
    assert_eq!(read(one.path()), read(two.path()));
    assert_eq!(row.state(), single.state());
    assert_eq!(row.history(), single.history());
    // An empty list of events changes nothing.
    assert_eq!(row.commit_all(at(5), &[]).unwrap(), 6);
    assert_eq!(row.undo(at(6)).unwrap(), 7);
    drop(row);
    let row = open(one.path());
    assert_eq!((row.events(), row.misfit()), (7, None));
}

#[test]
fn one_event_that_does_not_apply_keeps_all_from_being_written() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = open(dir.path());
    fill(&mut store);
    // Reverting must close the reopened ring again.
    let ring = store.state().need_ring("Robin").unwrap().clone();
    let event = ring::give_back_all(store.state(), &ring, at(4)).unwrap();
    store.commit(at(4), &event).unwrap();
    let event = ring::close(store.state(), &ring, at(4)).unwrap();
    store.commit(at(4), &event).unwrap();
    let (state, history) = (store.state().clone(), store.history().clone());
    let record = fs::read(record_in(dir.path())).unwrap();
    let mut events = row_of_events(store.state());
    events.push(events[0].clone());
    let refused = store.commit_all(at(5), &events).unwrap_err();
    assert!(matches!(
        refused,
        CommitError::Refused(Refusal::ApplyError(_))
    ));
    assert_eq!(fs::read(record_in(dir.path())).unwrap(), record);
    assert_eq!(store.state(), &state);
    assert_eq!(store.history(), &history);
}

#[test]
fn after_a_failed_commit_memory_matches_the_disk() {
    for faults in [
        vec![Fault::Fail],
        // The first line and part of the second are written.
        vec![Fault::ShortThenFail(400)],
        vec![Fault::Short(1), Fault::Short(300), Fault::Fail],
        // Everything is written, but the sync fails.
        vec![Fault::None, Fault::Fail],
        // Both the rest and the cut fail: a part stays in the file, unacknowledged.
        vec![Fault::ShortThenFail(9), Fault::Fail],
    ] {
        let dir = tempfile::tempdir().unwrap();
        let mut store = open(dir.path());
        fill(&mut store);
        let (state, history) = (store.state().clone(), store.history().clone());
        let undoable = faults.len() != 2;
        store.hold(Duration::ZERO).unwrap();
        store
            .log_mut()
            .write_through(Faulty::new(dir.path(), faults.clone()));
        let events = row_of_events(store.state());
        let failed = store.commit_all(at(5), &events).unwrap_err();
        assert!(matches!(failed, CommitError::Record(_)), "{faults:?}");
        assert_eq!(store.state(), &state, "{faults:?}");
        assert_eq!(store.history(), &history, "{faults:?}");
        if undoable {
            assert_eq!(store.commit_all(at(6), &events).unwrap(), 6);
            let state = store.state().clone();
            drop(store);
            assert_eq!(open(dir.path()).state(), &state, "{faults:?}");
        } else {
            drop(store);
            let (store, _) = Store::open(dir.path()).unwrap();
            assert_eq!(store.state(), &state, "{faults:?}");
        }
    }
}
