use crate::model::whereabouts::Whereabouts;
use crate::stash::command::board::{Unhang, block};
use crate::stash::command::rehang::HangStep;
use crate::tui::app::Mode;
use crate::tui::keymap::Scope;
use crate::tui::testing::{TestApp, now};
use crate::tui::theme::Depth;

/// How far the re-hang underway has come.
fn done(desk: &TestApp) -> Option<u32> {
    desk.state.underway().map(|underway| underway.done)
}

fn shown_step(desk: &TestApp) -> HangStep {
    match &desk.app.mode {
        Mode::Work(work) => *work.step().unwrap(),
        other => panic!("{other:?}"),
    }
}

fn said(desk: &TestApp) -> &str {
    desk.app.notice.as_ref().map_or("", |notice| &notice.text)
}

#[test]
fn a_re_hang_goes_on_where_it_was_left() {
    let mut desk = TestApp::sample(Depth::None);
    desk.keys("g\n");
    let all = desk.state.underway().unwrap().steps;
    assert!(all >= 2, "{all} steps");
    desk.keys("\n");
    assert_eq!(done(&desk), Some(1));
    desk.keys("u");
    assert_eq!(done(&desk), Some(0));
    desk.keys("\n\u{1b}");
    assert_eq!(desk.app.scope(), Scope::Board);

    // As when the program is opened again.
    let mut again = TestApp::empty(Depth::None);
    again.state = desk.state.clone();
    assert!(again.app.call_out_underway(&again.state));
    let line = format!("a re-hang is underway: 1 of {all} steps; press g to go on");
    assert_eq!(said(&again), line);
    again.keys("g");
    for at in 1..all {
        assert_eq!(done(&again), Some(at));
        again.keys("\n");
    }
    assert_eq!(done(&again), None);
    assert_eq!(
        said(&again),
        "the re-hang is done; 1 card is missing: w shows it"
    );
    assert!(!again.app.call_out_underway(&again.state));
    assert!(again.state.cards().all(|kept| kept.home.is_some()));
}

#[test]
fn a_card_put_off_comes_again_when_the_others_are_done() {
    let mut desk = TestApp::sample(Depth::None).after("g\n");
    let first = shown_step(&desk);
    desk.keys("s");
    let other = shown_step(&desk);
    assert_ne!(other.card, first.card);
    let mut steps = 0;
    while shown_step(&desk).card != first.card {
        desk.keys("\n");
        steps += 1;
    }
    assert!(steps > 0);
    desk.keys("Ay");
    assert_eq!(done(&desk), None);
}

#[test]
fn a_card_that_is_not_there_is_missing_and_the_rest_goes_on() {
    let mut desk = TestApp::sample(Depth::None).after("g\n");
    let card = shown_step(&desk).card;
    desk.keys("m");
    let at = &desk.state.card(card).unwrap().place.at;
    assert!(matches!(at, Whereabouts::Missing { .. }), "{at:?}");
    let name = desk.state.card_name(desk.state.card(card).unwrap());
    assert_eq!(
        said(&desk),
        format!("{name} is declared missing; u takes it back")
    );
    desk.keys("Ay");
    assert_eq!(done(&desk), None);
    assert_eq!(desk.app.scope(), Scope::Board);
    assert_eq!(
        said(&desk),
        "the re-hang is done; 2 cards are missing: w shows them"
    );
}

#[test]
fn what_is_taken_back_says_where_the_card_hangs_again() {
    let mut desk = TestApp::sample(Depth::None);
    desk.keys("ell\nyu");
    assert_eq!(
        said(&desk),
        "taken back: Re-hung card Sandbank:10; hang it on A01 again"
    );
    desk.keys("hhm");
    assert_eq!(
        said(&desk),
        "Sandbank:10 is declared missing; u takes it back"
    );
    desk.keys("m");
    assert_eq!(said(&desk), "Found card Sandbank:10 again: hang it on A01");
}

#[test]
fn a_re_hang_is_given_up_or_planned_anew() {
    let desk = TestApp::sample(Depth::None).after("g\n\n");
    let asked = desk.after("G");
    assert_eq!(asked.app.scope(), Scope::Confirm);
    assert_eq!(done(&asked.after("n")), Some(1));
    let given_up = asked.after("y");
    assert_eq!(done(&given_up), None);
    assert_eq!(given_up.app.scope(), Scope::Board);
    // The plan that is running is not given up by one key.
    assert_eq!(done(&desk.after("R")), Some(1));
    assert_eq!(desk.after("Rn").app.scope(), Scope::Work);
    let anew = desk.after("Ry");
    assert_eq!(done(&anew), None);
    assert_eq!(anew.app.scope(), Scope::Plans);
}

#[test]
fn a_re_hang_that_cannot_go_on_says_so() {
    let mut desk = TestApp::sample(Depth::None).after("g\n");
    let aim = shown_step(&desk).to.unwrap();
    desk.keys("\u{1b}");
    let hook_name = desk.state.hook_name(aim);
    let event = block(&desk.state, &hook_name, "bracket", Unhang::Refused, now()).unwrap();
    desk.state.apply(&event).unwrap();
    desk.keys("g");
    assert!(
        desk.question()
            .contains(&format!("hook {hook_name} is no longer free")),
        "{}",
        desk.question()
    );
    assert_eq!(done(&desk.after("y")), None);
}

#[test]
fn a_step_taken_back_is_done_again() {
    let mut desk = TestApp::sample(Depth::None).after("g\n\nu");
    assert_eq!(done(&desk), Some(0));
    desk.keys("U");
    assert_eq!((done(&desk), desk.app.scope()), (Some(1), Scope::Work));
    assert!(said(&desk).starts_with("done again: "), "{}", said(&desk));
    // The last one ends the re-hang again.
    desk.keys("Ayug");
    assert_eq!(desk.app.scope(), Scope::Work);
    desk.keys("U");
    assert_eq!((done(&desk), desk.app.scope()), (None, Scope::Board));
    assert!(said(&desk).starts_with("done again: "), "{}", said(&desk));
}
