use super::{Plans, Work, cards};
use crate::model::whereabouts::Whereabouts;
use crate::stash::command::board::{Unhang, block};
use crate::stash::command::rehang::{self, HangStep};
use crate::stash::state::State;
use crate::stash::testing::{add_cards, wall};
use crate::text::rehang::{plan_facts, plan_name};
use crate::tui::key::{Code, Key};
use crate::tui::keymap::Scope;
use crate::tui::message::{Effect, Message};
use crate::tui::testing::{TestApp, crowded, now};
use crate::tui::theme::Depth;

/// Steps done of the current re-hang.
fn done(desk: &TestApp) -> Option<u32> {
    desk.state.underway().map(|underway| underway.done)
}

fn shown_step(desk: &TestApp) -> HangStep {
    *desk.top::<Work>().unwrap().step().unwrap()
}

#[test]
fn re_hang_resumes_where_it_stopped() {
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

    // As if the program was reopened.
    let mut again = TestApp::empty(Depth::None);
    again.state = desk.state.clone();
    assert!(again.app.call_out_underway(&again.state));
    let line = format!("A re-hang is underway: 1 of {all} steps done. Press g to continue.");
    assert_eq!(again.said(), line);
    again.keys("g");
    for at in 1..all {
        assert_eq!(done(&again), Some(at));
        again.keys("\n");
    }
    assert_eq!(done(&again), None);
    assert_eq!(
        again.said(),
        "The re-hang is done. 1 card is missing: press w."
    );
    assert!(!again.app.call_out_underway(&again.state));
    assert!(again.state.cards().all(|kept| kept.home.is_some()));
}

#[test]
fn skipped_card_returns_after_the_others() {
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
fn card_marked_missing_does_not_stop_the_re_hang() {
    let mut desk = TestApp::sample(Depth::None).after("g\n");
    let card = shown_step(&desk).card;
    desk.keys("m");
    let at = &desk.state.card(card).unwrap().place.at;
    assert!(matches!(at, Whereabouts::Missing { .. }), "{at:?}");
    let name = desk.state.card_name(desk.state.card(card).unwrap());
    assert_eq!(desk.said(), format!("{name} is marked as missing"));
    desk.keys("Ay");
    assert_eq!(done(&desk), None);
    assert_eq!(desk.app.scope(), Scope::Board);
    assert_eq!(
        desk.said(),
        "The re-hang is done. 2 cards are missing: press w."
    );
}

#[test]
fn marking_all_as_hung_takes_one_change_and_one_undo() {
    let mut desk = TestApp::sample(Depth::None).after("g\n\n");
    let (before, commits) = (desk.state.clone(), desk.commits());
    desk.keys("Ay");
    assert_eq!((done(&desk), desk.commits()), (None, commits + 1));
    assert!(desk.state.cards().all(|kept| kept.home.is_some()));
    desk.keys("u");
    assert_eq!(desk.state, before);
}

#[test]
fn undo_says_where_to_hang_the_card_again() {
    let mut desk = TestApp::sample(Depth::None);
    desk.keys("ell\nyu");
    assert_eq!(
        desk.said(),
        "Undone: Re-hung card Sandbank:10; hang it on A01 again"
    );
    desk.keys("hhm");
    assert_eq!(desk.said(), "Sandbank:10 is marked as missing");
    desk.keys("m");
    assert_eq!(desk.said(), "Found card Sandbank:10 again: hang it on A01");
}

#[test]
fn re_hang_is_abandoned_only_after_a_yes() {
    let desk = TestApp::sample(Depth::None).after("g\n\n");
    let asked = desk.after("G");
    assert_eq!(asked.app.scope(), Scope::Confirm);
    assert_eq!(done(&asked.after("n")), Some(1));
    let given_up = asked.after("y");
    assert_eq!(done(&given_up), None);
    assert_eq!(given_up.app.scope(), Scope::Board);
}

#[test]
fn new_plans_keep_the_current_re_hang_until_one_starts() {
    let desk = TestApp::sample(Depth::None).after("g\n\n");
    let shown = shown_step(&desk);
    let plans = desk.after("R");
    assert_eq!((done(&plans), plans.app.scope()), (Some(1), Scope::Plans));
    // Escape returns to the step.
    let back = plans.after("\u{1b}");
    assert_eq!((done(&back), shown_step(&back)), (Some(1), shown));
    // Starting another plan needs a yes.
    let asked = plans.after("\n");
    assert_eq!((done(&asked), asked.app.scope()), (Some(1), Scope::Confirm));
    assert_eq!(done(&asked.after("n\u{1b}")), Some(1));
    let anew = asked.after("y");
    assert_eq!((done(&anew), anew.app.scope()), (Some(0), Scope::Work));
    assert_eq!(anew.after("\u{1b}").app.scope(), Scope::Board);
}

#[test]
fn presenter_remote_steps_but_answers_no_question() {
    let mut desk = TestApp::sample(Depth::None).after("g\n");
    let press = |desk: &mut TestApp, code| desk.take(Message::Key(Key::plain(code)));
    for (code, steps) in [
        (Code::PageDown, 1),
        (Code::Enter, 2),
        (Code::PageUp, 1),
        (Code::Char(' '), 2),
        (Code::PageUp, 1),
        (Code::PageUp, 0),
        // Undo stops at the start of the re-hang.
        (Code::PageUp, 0),
    ] {
        press(&mut desk, code);
        assert_eq!((done(&desk), desk.app.scope()), (Some(steps), Scope::Work));
    }
    for asks in ["A", "G"] {
        let mut asked = desk.after(asks);
        for code in [Code::PageDown, Code::Enter, Code::Char(' '), Code::PageUp] {
            press(&mut asked, code);
            assert_eq!((done(&asked), asked.app.scope()), (Some(0), Scope::Confirm));
        }
    }
}

#[test]
fn each_step_is_announced_once_if_enabled() {
    let spoken = |desk: &TestApp| -> Vec<String> {
        let spoken = desk.asked.iter().filter_map(|effect| match effect {
            Effect::Speak(sentence) => Some(sentence.clone()),
            _ => None,
        });
        spoken.collect()
    };
    let quiet = TestApp::sample(Depth::None).after("g\n\n");
    assert_eq!(spoken(&quiet), Vec::<String>::new());
    let mut desk = TestApp::sample(Depth::None);
    desk.app.announces = true;
    desk.keys("g\n");
    assert_eq!(spoken(&desk), ["80 to D 4, after 40"]);
    // A window over a step doesn't announce it again.
    desk.keys("?\u{1b}An");
    assert_eq!(spoken(&desk).len(), 1);
    desk.keys("\nu");
    assert_eq!(
        spoken(&desk)[1..],
        ["81 to D 6, after 80", "80 to D 4, after 40"]
    );
    desk.keys("Ay");
    assert_eq!(spoken(&desk).len(), 3, "{:?}", spoken(&desk));
    // Putting a ring away is announced, too.
    desk.keys("rp");
    assert!(spoken(&desk)[3].contains(" to "), "{:?}", spoken(&desk));
}

/// A test app with the plans open on a screen of this size.
fn with_plans(desk: &TestApp, size: (u16, u16)) -> TestApp {
    let mut desk = desk.clone();
    desk.app.size = size;
    desk.after("g")
}

const USUAL: [(u16, u16); 3] = [(80, 24), (120, 40), (220, 60)];

#[test]
fn plans_show_as_cards_with_their_effort() {
    for size in USUAL {
        let mut desk = with_plans(&TestApp::sample(Depth::None), size);
        let plans = desk.top::<Plans>().unwrap().plans.clone();
        assert!(plans.len() > 1);
        desk.keys("hh");
        for (at, plan) in plans.iter().enumerate() {
            let text = desk.drawn(size).join("\n");
            let title = format!("{}  {}", plan.number, plan_name(&plans, plan));
            let minutes = format!("{} min", plan.minutes.ceil());
            for part in [title, cards::work(plan), minutes] {
                assert!(text.contains(&part), "{part} of {at} at {size:?}:\n{text}");
            }
            // The text and the bar count the same cards.
            let line = text.lines().find(|line| line.contains("moved ")).unwrap();
            assert!(line.contains(&format!("{}", plan.touched)), "{line}");
            desk.keys("l");
        }
    }
}

#[test]
fn small_screen_lists_plans_on_one_line_with_a_summary() {
    let size = (60, 16);
    let mut desk = with_plans(&TestApp::sample(Depth::None), size);
    for name in ["1  In order", "2  Families together"] {
        let text = desk.drawn(size).join("\n");
        assert!(text.contains(name), "{text}");
        assert!(text.contains("Hangs 2, moves 1, 2 min, room for"), "{text}");
        desk.keys("l");
    }
}

#[test]
fn clicking_a_card_shows_its_plan() {
    let desk = with_plans(&TestApp::sample(Depth::None), (120, 40));
    assert_eq!(desk.top::<Plans>().unwrap().plan().unwrap().number, 1);
    for (column, number) in [(10, 0), (40, 1), (70, 2)] {
        let mut desk = desk.clone();
        desk.take(Message::Click { column, row: 4 });
        assert_eq!(desk.top::<Plans>().unwrap().plan().unwrap().number, number);
    }
}

#[test]
fn plans_mention_families_only_if_there_are_any() {
    let words = |state: &State| {
        let plans = rehang::plans(state).unwrap();
        let facts = plans.iter().flat_map(|plan| plan_facts(state, plan));
        facts.collect::<Vec<_>>().join(" ").to_lowercase()
    };
    assert!(words(&TestApp::sample(Depth::None).state).contains("famil"));
    let mut state = wall(1, 6, 1);
    add_cards(&mut state, &["1@A01", "3@A02", "4@A03", "2"]);
    assert!(!words(&state).contains("famil"), "{}", words(&state));
    let mut desk = TestApp::empty(Depth::None);
    desk.state = state;
    for size in USUAL {
        let text = with_plans(&desk, size).drawn(size).join("\n");
        assert!(!text.to_lowercase().contains("famil"), "{text}");
    }
}

#[test]
fn moves_scroll_and_show_their_position() {
    let mut desk = TestApp::empty(Depth::None);
    desk.state = crowded(60);
    for size in USUAL {
        let mut desk = with_plans(&desk, size);
        let steps = desk.top::<Plans>().unwrap().plan().unwrap().steps.len();
        assert!(steps > 1);
        let text = |desk: &TestApp| desk.drawn(size).join("\n");
        assert!(
            text(&desk).contains(&format!("1 of {steps} ")),
            "{}",
            text(&desk)
        );
        desk.keys("j");
        assert!(
            text(&desk).contains(&format!("2 of {steps} ")),
            "{}",
            text(&desk)
        );
    }
}

#[test]
fn wall_shows_the_direction_of_moves() {
    let mut desk = TestApp::empty(Depth::None);
    desk.state = wall(1, 6, 1);
    add_cards(&mut desk.state, &["1@A01", "3@A02", "4@A03", "2"]);
    let size = (120, 40);
    let desk = with_plans(&desk, size);
    let row = |desk: &TestApp| {
        let rows = desk.drawn(size);
        rows.into_iter().find(|row| row.starts_with('A')).unwrap()
    };
    let after = row(&desk);
    assert!(
        after.contains("2+") && after.contains("3→") && after.contains("4→"),
        "{after}"
    );
    let now = row(&desk.after("\t"));
    assert!(
        !now.contains("2+") && now.contains("3→") && now.contains("4→"),
        "{now}"
    );
}

#[test]
fn impossible_re_hang_asks_to_abandon_it() {
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
fn undone_step_can_be_redone() {
    let mut desk = TestApp::sample(Depth::None).after("g\n\nu");
    assert_eq!(done(&desk), Some(0));
    desk.keys("U");
    assert_eq!((done(&desk), desk.app.scope()), (Some(1), Scope::Work));
    assert!(desk.said().starts_with("Redone: "), "{}", desk.said());
    // The last step ends the re-hang again.
    desk.keys("Ayug");
    assert_eq!(desk.app.scope(), Scope::Work);
    desk.keys("U");
    assert_eq!((done(&desk), desk.app.scope()), (None, Scope::Board));
    assert!(desk.said().starts_with("Redone: "), "{}", desk.said());
}
