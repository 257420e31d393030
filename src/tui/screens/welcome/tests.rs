use super::Step;
use super::greet;
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
    assert_eq!(desk.app.scope(), Scope::Welcome);
    let shown = format!("{:?}", desk.app.stack.last().unwrap());
    let at = shown.split("at: ").nth(1).unwrap();
    let at = at.trim_end_matches([' ', '}']);
    Step::ALL[at.parse::<usize>().unwrap()]
}

#[test]
fn empty_stash_opens_on_first_steps_others_on_the_board() {
    let mut desk = TestApp::sample(Depth::None);
    greeted(&mut desk);
    assert_ne!(desk.app.scope(), Scope::Welcome);
    let mut desk = TestApp::empty(Depth::None);
    greeted(&mut desk);
    assert_eq!(step(&desk), Step::List);
}

#[test]
fn each_step_leads_to_the_next_until_all_cards_hang() {
    let mut desk = TestApp::empty(Depth::None);
    greeted(&mut desk);
    desk.keys(&format!("\n{ODD}\n\n\n"));
    assert_eq!(step(&desk), Step::Board);
    assert!(desk.said().contains("3 cards new"), "{}", desk.said());
    // The wall previews the cards before there is a board.
    let drawn = desk.drawn((120, 40)).join("\n");
    assert!(drawn.contains("A wall for your cards"), "{drawn}");
    desk.keys("\n\u{13}");
    assert_eq!(step(&desk), Step::Hang);
    desk.keys("\n");
    assert_eq!(desk.app.scope(), Scope::Plans);
    // The user leaves before it starts, and finds it again among the steps.
    desk.keys("\u{1b}");
    assert_eq!(step(&desk), Step::Hang);
    desk.keys("\n\n\n\n\n");
    assert!(desk.state.cards().all(|kept| kept.is_home()));
    assert_eq!(step(&desk), Step::BoardView);
}

#[test]
fn first_card_can_be_entered_by_hand() {
    let mut desk = TestApp::empty(Depth::None);
    greeted(&mut desk);
    desk.keys("jjjj");
    assert_eq!(step(&desk), Step::Hang);
    desk.keys("\n");
    assert!(desk.said().contains("no card to hang"), "{}", desk.said());
    desk.keys("kkk\n71\u{13}");
    assert_eq!(step(&desk), Step::Board);
    assert_eq!(desk.state.cards().len(), 1);
}

#[test]
fn import_from_the_board_leads_to_the_remaining_steps() {
    let mut desk = TestApp::empty(Depth::None);
    desk.keys(&format!("i{ODD}\n\n\n"));
    assert_eq!(step(&desk), Step::Board);
}

#[test]
fn message_about_too_small_a_board_names_the_way_out() {
    let mut desk = TestApp::empty(Depth::None);
    greeted(&mut desk);
    desk.keys(&format!("jjj\n\n1\n2\u{13}\n{ODD}\n\n"));
    let drawn = desk.drawn((80, 24)).join("\n");
    assert!(drawn.contains("too few places"), "{drawn}");
    desk.keys("\n");
    assert!(desk.app.stack.is_empty());
    assert!(
        desk.said().contains("Press E to make the board larger"),
        "{}",
        desk.said()
    );
    assert!(desk.said().len() < 78);
}

#[test]
fn demo_stash_is_requested_once() {
    let mut desk = TestApp::empty(Depth::None);
    greeted(&mut desk);
    desk.keys("d");
    assert_eq!(desk.asked, [Effect::Demo]);
    desk.app.demo = true;
    desk.keys("d");
    assert_eq!(desk.asked.len(), 1);
}

#[test]
fn clicking_a_step_performs_it() {
    let mut desk = TestApp::empty(Depth::None);
    greeted(&mut desk);
    let lines = desk.drawn((80, 24));
    let row = |text: &str| {
        let at = lines.iter().position(|line| line.contains(text));
        u16::try_from(at.unwrap()).unwrap()
    };
    let click = |desk: &mut TestApp, row| desk.take(Message::Click { column: 20, row });
    click(&mut desk, row("Welcome"));
    assert_eq!(step(&desk), Step::List);
    click(&mut desk, row("Go to the board"));
    assert!(desk.app.stack.is_empty());
    desk.keys("W");
    click(&mut desk, row("Homehook proposes"));
    assert_eq!(desk.app.scope(), Scope::BoardSize);
}

#[test]
fn range_list_adds_colours_to_cards() {
    let mut desk = TestApp::empty(Depth::None);
    greeted(&mut desk);
    desk.keys(&format!("\n{ODD}\n\n\n"));
    let drawn = desk.drawn((80, 24)).join("\n");
    assert!(drawn.contains("3 cards without a colour"), "{drawn}");
    // One up from the board's step.
    desk.keys("k\n");
    let drawn = desk.drawn((80, 24)).join("\n");
    assert!(drawn.contains("Import a range list"), "{drawn}");
}
