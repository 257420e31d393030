use super::greet;
use crate::tui::app::Mode;
use crate::tui::app::welcome::Step;
use crate::tui::keymap::Scope;
use crate::tui::message::{Effect, Message};
use crate::tui::testing::{ODD, TestApp};
use crate::tui::theme::Depth;

fn greeted(desk: &mut TestApp) {
    let mut app = desk.app.clone();
    greet(&mut app, desk.stash());
    desk.app = app;
}

fn step(desk: &TestApp) -> Step {
    match &desk.app.mode {
        Mode::Welcome(page) => page.step(),
        other => panic!("{other:?}"),
    }
}

fn said(desk: &TestApp) -> &str {
    desk.app.notice.as_ref().map_or("", |notice| &notice.text)
}

#[test]
fn an_empty_stash_opens_on_the_first_steps_and_one_in_use_on_the_board() {
    let mut desk = TestApp::sample(Depth::None);
    greeted(&mut desk);
    assert!(matches!(desk.app.mode, Mode::Board));
    let mut desk = TestApp::empty(Depth::None);
    greeted(&mut desk);
    assert_eq!(step(&desk), Step::Board);
}

#[test]
fn every_step_leads_to_the_next_until_all_cards_hang() {
    let mut desk = TestApp::empty(Depth::None);
    greeted(&mut desk);
    desk.keys("\n\n3\n4\n\n\n\n\n");
    assert_eq!(step(&desk), Step::List);
    desk.keys(&format!("\n{ODD}\n\n\n"));
    assert_eq!(desk.app.scope(), Scope::Plans);
    assert!(said(&desk).contains("3 cards new"), "{}", said(&desk));
    // Left before it is begun, and found again where the steps are shown.
    desk.keys("\u{1b}W");
    assert_eq!(step(&desk), Step::Hang);
    desk.keys("\n\n\n\n\n");
    assert!(desk.state.cards().all(|kept| kept.is_home()));
    assert_eq!(step(&desk), Step::BoardView);
}

#[test]
fn a_card_written_by_hand_is_a_beginning_too() {
    let mut desk = TestApp::empty(Depth::None);
    greeted(&mut desk);
    desk.keys("\n\u{13}jj");
    assert_eq!(step(&desk), Step::Hang);
    desk.keys("\n");
    assert!(said(&desk).contains("nothing to hang"), "{}", said(&desk));
    desk.keys("k\n310\u{13}");
    assert_eq!(step(&desk), Step::Hang);
    assert_eq!(desk.state.cards().len(), 1);
}

#[test]
fn cards_wait_for_a_board() {
    let mut desk = TestApp::empty(Depth::None);
    greeted(&mut desk);
    for keys in ["j\n", "j\n"] {
        desk.keys(keys);
        assert!(said(&desk).contains("board first"), "{}", said(&desk));
    }
    // From the board a list can be brought in all the same; then the board is what is missing.
    desk.keys(&format!("\u{1b}i{ODD}\n\n\n"));
    assert_eq!(step(&desk), Step::Board);
}

#[test]
fn cards_that_do_not_fit_are_told_with_the_way_out() {
    let mut desk = TestApp::empty(Depth::None);
    greeted(&mut desk);
    desk.keys(&format!("\n\n1\n2\u{13}\n{ODD}\n\n"));
    let drawn = desk.drawn((80, 24)).join("\n");
    assert!(drawn.contains("too few places"), "{drawn}");
    desk.keys("\n");
    assert!(matches!(desk.app.mode, Mode::Board));
    assert!(
        said(&desk).contains("Press E to make the board larger"),
        "{}",
        said(&desk)
    );
    assert!(said(&desk).len() < 78);
}

#[test]
fn the_invented_stash_is_asked_for_once() {
    let mut desk = TestApp::empty(Depth::None);
    greeted(&mut desk);
    desk.keys("d");
    assert_eq!(desk.asked, [Effect::Demo]);
    desk.app.demo = true;
    desk.keys("d");
    assert_eq!(desk.asked.len(), 1);
}

#[test]
fn a_click_on_a_step_does_it() {
    let mut desk = TestApp::empty(Depth::None);
    greeted(&mut desk);
    let lines = desk.drawn((80, 24));
    let row = |text: &str| {
        let at = lines.iter().position(|line| line.contains(text));
        u16::try_from(at.unwrap()).unwrap()
    };
    let click = |desk: &mut TestApp, row| desk.take(Message::Click { column: 20, row });
    click(&mut desk, row("Welcome"));
    assert_eq!(step(&desk), Step::Board);
    click(&mut desk, row("Go to the board"));
    assert!(matches!(desk.app.mode, Mode::Board));
    desk.keys("W");
    click(&mut desk, row("how many rows"));
    assert!(matches!(desk.app.mode, Mode::Design(_)));
}
