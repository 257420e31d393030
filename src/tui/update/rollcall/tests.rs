//! A roll call by keys. The sample has on `wall`: 10 on A01, 20 (A02) and 30 (A04) out, 40 on A05,
//! 50 (B01) out, 60 (B02) missing, 77 (C06) out; on `door`: 10 and 1234567890 on 2-A01.

use super::*;
use crate::model::ids::CardId;
use crate::model::whereabouts::Whereabouts;
use crate::stash::command::ring;
use crate::tui::keymap::Scope;
use crate::tui::testing::{TestApp, now};
use crate::tui::theme::Depth;

fn desk() -> TestApp {
    TestApp::sample(Depth::None)
}

fn call(desk: &TestApp) -> &RollCall {
    match &desk.app.mode {
        Mode::RollCall(call) => call,
        other => panic!("{other:?}"),
    }
}

fn hook_name(desk: &TestApp) -> String {
    let hook_name = desk.state.hook_name(call(desk).hook().unwrap());
    assert_eq!(
        hook_name,
        desk.state.hook_name(desk.app.hook(&desk.state).unwrap())
    );
    hook_name
}

fn said(desk: &TestApp) -> &str {
    desk.app.notice.as_ref().map_or("", |notice| &notice.text)
}

fn id(desk: &TestApp, name: &str) -> CardId {
    desk.state.find_card(name).unwrap()
}

fn hangs_on(desk: &TestApp, name: &str) -> Option<String> {
    let hook = desk.state.card(id(desk, name)).unwrap().place.at.hook();
    hook.map(|hook| desk.state.hook_name(hook))
}

fn drawn(desk: &TestApp) -> String {
    desk.drawn((120, 40)).join("\n")
}

#[test]
fn the_walk_stops_where_a_card_hangs_or_lives_and_the_cursor_follows() {
    let mut desk = desk().after("v");
    let mut stops = Vec::new();
    while matches!(call(&desk).stage, Stage::Walk) {
        stops.push(hook_name(&desk));
        desk.keys("\n");
    }
    assert_eq!(
        stops,
        ["A01", "A02", "A04", "A05", "B01", "B02", "C06", "2-A01"]
    );
    let Stage::Report(report, _) = &call(&desk).stage else {
        panic!("{:?}", call(&desk).stage);
    };
    assert_eq!((report.walked, report.found.len()), (8, 4));
    assert!(drawn(&desk).contains("Every hook was confirmed"));

    // All is well: it is recorded that somebody looked, and can be taken back.
    let before = desk.state.clone();
    desk.keys("\n");
    assert_eq!(said(&desk), "Roll call: 4 found, 0 misplaced, 0 missing");
    assert_eq!(desk.app.scope(), Scope::Board);
    assert!(desk.state == before);
    desk.keys("u");
    assert!(said(&desk).starts_with("taken back: Roll call"));
}

#[test]
fn it_begins_on_the_board_of_the_cursor_and_goes_around() {
    let mut desk = desk().after("bv");
    assert_eq!(hook_name(&desk), "2-A01");
    desk.keys("\n");
    assert_eq!(hook_name(&desk), "A01");
}

#[test]
fn what_hangs_wrong_is_recorded_and_hung_home() {
    // 40 hangs on A01 instead of 10 of Sandbank, which is nowhere; 20 came home unrecorded.
    let mut desk = desk().after("vms40\n");
    assert_eq!(desk.app.scope(), Scope::RollCall);
    assert!(
        drawn(&desk).contains("not here: Sandbank:10") && drawn(&desk).contains("also here: 40")
    );
    desk.keys("\ns20\n\n\n");
    assert_eq!(hook_name(&desk), "A05");
    // It was seen on A01 already.
    assert!(call(&desk).absent.contains(&id(&desk, "40")));
    desk.keys("a");
    assert_eq!(hook_name(&desk), "B01");
    desk.keys("\u{1b}");
    let text = drawn(&desk);
    assert!(text.contains("Roll call: 0 found, 2"), "{text}");
    assert!(text.contains("4 hooks confirmed, 4 not."), "{text}");
    assert_eq!(desk.asked, []);

    desk.keys("\n");
    assert_eq!(desk.app.scope(), Scope::HangHome);
    let place =
        |desk: &TestApp, name: &str| desk.state.card(id(desk, name)).unwrap().place.at.clone();
    assert!(matches!(
        place(&desk, "Sandbank:10"),
        Whereabouts::Missing { .. }
    ));
    assert_eq!(hangs_on(&desk, "20").as_deref(), Some("A02"));
    assert_eq!(hangs_on(&desk, "40").as_deref(), Some("A01"));
    // 20 hangs at home, so only 40 is offered.
    assert!(drawn(&desk).contains("hang 40 on its own hook A05"));
    let mut left = desk.after("s");
    assert_eq!(said(&left), "Roll call: 0 found, 2 misplaced, 1 missing");
    assert_eq!(hangs_on(&left, "40").as_deref(), Some("A01"));
    left.keys("u");
    assert_eq!(hangs_on(&left, "40").as_deref(), Some("A05"));

    desk.keys("\n");
    assert_eq!(hangs_on(&desk, "40").as_deref(), Some("A05"));
    assert_eq!(said(&desk), "Roll call: 0 found, 2 misplaced, 1 missing");
    assert_eq!(desk.app.scope(), Scope::Board);
}

#[test]
fn the_rest_of_a_row_is_confirmed_with_one_key() {
    let mut desk = desk().after("v");
    desk.keys("\na");
    assert_eq!(hook_name(&desk), "B01");
    assert_eq!(call(&desk).seen.len(), 4);
    desk.keys("aaa");
    assert_eq!(desk.app.scope(), Scope::Report);
    assert_eq!(call(&desk).seen.len(), 8);
}

#[test]
fn tab_chooses_which_card_is_not_here() {
    let mut desk = desk().after("bv\tm\n");
    let hook = desk.state.find_hook("2-A01").unwrap();
    let seen = call(&desk).seen[&hook].clone();
    assert_eq!(seen.len(), 1);
    desk.keys("\u{8}");
    assert_eq!(hook_name(&desk), "2-A01");
    assert!(!call(&desk).seen.contains_key(&hook));
    assert_eq!(call(&desk).absent.len(), 1);
    desk.keys("\tm\n");
    assert_eq!(call(&desk).seen[&hook].len(), 2);
}

#[test]
fn a_stranger_on_a_free_hook_is_reached_with_the_arrows() {
    let mut desk = desk().after("vlls40\n");
    assert_eq!(hook_name(&desk), "A03");
    desk.keys("\n\n");
    assert_eq!(hook_name(&desk), "A05");
    desk.keys("\n\u{1b}\n");
    assert_eq!(hangs_on(&desk, "40").as_deref(), Some("A03"));
    // A01 and A02 were passed over, so nothing is known of them.
    assert_eq!(hangs_on(&desk, "Sandbank:10").as_deref(), Some("A01"));
}

#[test]
fn a_card_confirmed_by_mistake_counts_where_it_is_seen() {
    let mut desk = desk().after("v\n");
    desk.keys("sSandbank:10\n");
    assert_eq!(
        said(&desk),
        "Sandbank:10 was confirmed on A01: it counts as here now"
    );
    // Not before it is confirmed here.
    let stopped = desk.after("\u{1b}\n");
    assert_eq!(said(&stopped), "Roll call: 1 found, 0 misplaced, 0 missing");
    desk.keys("\n\u{1b}\n\n");
    assert_eq!(said(&desk), "Roll call: 0 found, 1 misplaced, 0 missing");
    assert_eq!(
        hangs_on(&desk, "Sandbank:10").as_deref(),
        Some("A01"),
        "it was hung home"
    );
}

#[test]
fn a_number_that_cannot_be_is_told_where_it_is_typed() {
    let mut desk = desk().after("vlls10\n");
    assert_eq!(desk.app.scope(), Scope::Seen);
    assert!(drawn(&desk).contains("could be any of"));
    desk.keys("\u{8}\u{8}zzz\n");
    assert!(drawn(&desk).contains("No card 'zzz'"));
    desk.keys("\u{1b}");
    assert_eq!(desk.app.scope(), Scope::RollCall);
    // A06 is blocked.
    desk.keys("llls40\n");
    assert!(drawn(&desk).contains("is blocked"), "{}", drawn(&desk));
}

#[test]
fn a_roll_call_left_at_once_changes_nothing() {
    let mut desk = desk().after("v\u{1b}");
    assert!(said(&desk).contains("no hook was confirmed"));
    desk.keys("v\n\u{1b}\u{1b}");
    assert!(said(&desk).contains("on 1 hook is forgotten"));
    assert_eq!(desk.asked, []);
    // From the report one can go on.
    desk.keys("v\n\u{1b}\u{8}\n");
    assert_eq!(hook_name(&desk), "A04");
    assert!(
        TestApp::empty(Depth::None)
            .after("v")
            .app
            .notice
            .unwrap()
            .wrong
    );
}

#[test]
fn a_report_that_is_no_longer_so_is_shown_anew() {
    let mut desk = desk().after("v\n\u{1b}");
    let event = ring::missing(&desk.state, &[id(&desk, "Sandbank:10")], now()).unwrap();
    desk.state.apply(&event).unwrap();
    desk.keys("\n");
    assert_eq!(desk.app.scope(), Scope::Report);
    assert!(said(&desk).contains("changed meanwhile"));
    assert_eq!(desk.asked, []);
    desk.keys("\n");
    assert_eq!(said(&desk), "Roll call: 0 found, 1 misplaced, 0 missing");
}
