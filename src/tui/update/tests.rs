//! Random keys and messages, and the invariants that must survive them.

use proptest::prelude::*;
use ratatui::style::Modifier;

use crate::model::thread::Strands;
use crate::stash::command::{ring, thread};
use crate::stash::invariants;
use crate::tui::key::{Code, Key};
use crate::tui::keymap::{self, Scope};
use crate::tui::message::{Effect, Message};
use crate::tui::screens::rehang::Work;
use crate::tui::testing::{FILE, TestApp, now};
use crate::tui::theme::Depth;

/// A random event.
#[derive(Clone, Debug)]
enum Happens {
    /// One of the keys that have a meaning at that moment.
    Bound(usize),
    /// Any message.
    Sent(Message),
}

fn any_key() -> impl Strategy<Value = Key> {
    let code = prop_oneof![
        any::<char>().prop_map(Code::Char),
        prop::char::range(' ', '~').prop_map(Code::Char),
        prop::sample::select(vec![
            Code::Enter,
            Code::Esc,
            Code::Tab,
            Code::BackTab,
            Code::Backspace,
            Code::Delete,
            Code::Up,
            Code::Down,
            Code::Left,
            Code::Right,
            Code::Home,
            Code::End,
            Code::PageUp,
            Code::PageDown,
        ]),
    ];
    (code, prop::bool::weighted(0.1)).prop_map(|(code, ctrl)| Key { code, ctrl })
}

fn happens() -> impl Strategy<Value = Happens> {
    let pasted = prop_oneof![
        Just(FILE.to_owned()),
        Just("dune".to_owned()),
        Just("C05".to_owned()),
        "[0-9]{1,3}",
        "\\PC{0,8}",
        prop::collection::vec(any::<char>(), 0..6).prop_map(String::from_iter),
    ];
    prop_oneof![
        12 => any::<prop::sample::Index>().prop_map(|at| Happens::Bound(at.index(1 << 16))),
        4 => any_key().prop_map(|key| Happens::Sent(Message::Key(key))),
        2 => pasted.prop_map(|text| Happens::Sent(Message::Paste(text))),
        2 => (0u16..130, 0u16..45)
            .prop_map(|(column, row)| Happens::Sent(Message::Click { column, row })),
        2 => (any::<bool>(), 0u16..60, 0u16..30).prop_map(|(up, column, row)| {
            Happens::Sent(match up {
                true => Message::Release { column, row },
                false => Message::Drag { column, row },
            })
        }),
        1 => any::<bool>().prop_map(|up| Happens::Sent(Message::Wheel { up })),
        1 => (1u16..130, 1u16..45)
            .prop_map(|(width, height)| Happens::Sent(Message::Resize { width, height })),
        1 => Just(Happens::Sent(Message::Tick(now()))),
    ]
}

fn let_happen(desk: &mut TestApp, what: Happens) {
    desk.take(match what {
        Happens::Sent(message) => message,
        Happens::Bound(n) => {
            let keys: Vec<Key> = keymap::in_scope(desk.app.scope())
                .flat_map(|binding| binding.keys.iter().copied())
                .collect();
            Message::Key(keys[n % keys.len()])
        }
    });
}

/// Invariants after every message.
fn sound(desk: &TestApp) -> Result<(), TestCaseError> {
    prop_assert_eq!(invariants::check_all(&desk.state), vec![]);
    let (app, state) = (&desk.app, &desk.state);
    match app.board(state) {
        Some(board) => {
            prop_assert!(app.eye.row < board.rows && app.eye.column < board.columns);
        }
        None => prop_assert_eq!(state.boards().len(), 0),
    }
    prop_assert!(app.chosen.iter().all(|&card| state.card(card).is_some()));
    if let Some(work) = desk.top::<Work>() {
        prop_assert!(work.at < work.steps.len());
    }
    desk.drawn(app.size);
    Ok(())
}

proptest! {
    // Each case draws up to a hundred frames.
    #![proptest_config(crate::testing::one_case_in(24))]

    #[test]
    fn random_input_keeps_the_stash_sound_and_can_be_undone(
        empty in prop::bool::weighted(0.2),
        steps in prop::collection::vec(happens(), 0..60),
    ) {
        let mut desk = if empty { TestApp::empty(Depth::None) } else { TestApp::sample(Depth::True) };
        let before = desk.state.clone();
        for step in steps {
            let_happen(&mut desk, step);
            sound(&desk)?;
        }
        // Everything can be undone.
        desk.app.stack.clear();
        while desk.history.last_done().is_some() {
            desk.keys("u");
            sound(&desk)?;
        }
        prop_assert!(desk.state == before);
    }

    #[test]
    fn read_only_interface_never_requests_a_change(steps in prop::collection::vec(happens(), 0..60)) {
        let mut desk = TestApp::sample(Depth::None);
        desk.read_only = Some("read-only: another window writes".to_owned());
        for step in steps {
            let_happen(&mut desk, step);
        }
        let changes = |effect: &Effect| matches!(effect, Effect::Commit(_));
        prop_assert!(!desk.asked.iter().any(changes));
    }
}

#[test]
fn escape_leaves_every_mode_and_q_quits() {
    for (keys, mut desk) in crate::tui::testing::every_mode(Depth::None) {
        // At most four screens are stacked: a form, the walk, the project page and the list of
        // rings; or a number being typed, the walk of a roll call and its report.
        for _ in 0..4 {
            if desk.app.scope() != Scope::Board {
                desk.take(Message::Key(Key::plain(Code::Esc)));
            }
        }
        assert_eq!(desk.app.scope(), Scope::Board, "after {keys:?}");
        desk.keys("q");
        assert_eq!(desk.asked.last(), Some(&Effect::Quit), "after {keys:?}");
    }
}

#[test]
fn cursor_stays_on_the_board() {
    let mut desk = TestApp::sample(Depth::None);
    for code in [Code::Left, Code::Up, Code::PageUp, Code::Home] {
        desk.take(Message::Key(Key::plain(code)));
        assert_eq!((desk.app.eye.row, desk.app.eye.column), (0, 0));
    }
    for code in [Code::PageDown, Code::End, Code::Down, Code::Right] {
        desk.take(Message::Key(Key::plain(code)));
    }
    assert_eq!((desk.app.eye.row, desk.app.eye.column), (3, 5));
    // The other board is smaller.
    desk.keys("b");
    assert_eq!((desk.app.eye.row, desk.app.eye.column), (1, 2));
}

#[test]
fn take_form_lists_the_open_rings_in_order() {
    let mut desk = TestApp::sample(Depth::None);
    let open: Vec<String> = desk
        .state
        .rings_in_order()
        .iter()
        .map(|ring| ring.project.to_string())
        .collect();
    desk.keys("t");
    for ring in &open {
        assert_eq!(&desk.filled("project"), ring);
        desk.take(Message::Key(Key::plain(Code::Down)));
    }
    // The end of the list doesn't wrap around.
    assert_eq!(desk.filled("project"), open[open.len() - 1]);
    desk.take(Message::Key(Key::plain(Code::Up)));
    assert_eq!(desk.filled("project"), open[open.len() - 2]);
}

#[test]
fn long_notice_wraps_above_the_status_line() {
    let mut desk = TestApp::sample(Depth::None);
    let text = format!(
        "{} and this is its end",
        "a long word after another ".repeat(3)
    );
    desk.app.say(&text);
    let lines = desk.drawn((80, 24));
    assert!(lines[20].contains("a long word"), "{lines:#?}");
    assert!(lines[21].contains("its end"), "{lines:#?}");
    desk.app.say("short");
    let lines = desk.drawn((80, 24));
    assert!(lines[21].contains("│ short"), "{lines:#?}");
    assert!(lines[23].contains("find"), "{lines:#?}");
}

#[test]
fn keys_hold_cards_and_reserve_hooks() {
    let mut desk = TestApp::sample(Depth::None);
    let id = desk.app.card(&desk.state).unwrap().card.id;
    let stays = |desk: &TestApp| desk.state.stays(desk.state.card(id).unwrap());
    let drawn = |desk: &TestApp| desk.drawn(desk.app.size).join("\n");
    desk.keys("p");
    assert!(stays(&desk));
    assert!(drawn(&desk).contains("held") && drawn(&desk).contains("[10="));
    desk.keys("p");
    assert!(!stays(&desk) && !drawn(&desk).contains("[10="));

    // A03 isn't the home of any card.
    desk.keys("llo");
    let hook = desk.app.hook(&desk.state).unwrap();
    let reserved = |desk: &TestApp| desk.app.board(&desk.state).unwrap().reserved(hook);
    assert!(reserved(&desk) && drawn(&desk).contains("Reserved: a re-hang"));
    desk.keys("o");
    assert!(!reserved(&desk) && !drawn(&desk).contains("Reserved: a re-hang"));
}

#[test]
fn putting_away_rejoins_split_cards() {
    let mut desk = TestApp::sample(Depth::None);
    let card = |desk: &TestApp, name: &str| desk.state.find_card(name).unwrap();
    let drawn = |desk: &TestApp| desk.drawn((120, 40)).join("\n");
    let whole = card(&desk, "40");
    let split = |desk: &mut TestApp, name: &str, project: &str| {
        let of = card(desk, name);
        let event = thread::split(&desk.state, project, of, Strands(6), None, "", now()).unwrap();
        desk.state.apply(&event).unwrap();
    };
    // 30 is on the ring itself, 50 is on another ring.
    split(&mut desk, "40", "Heron");
    split(&mut desk, "50", "Heron");
    desk.keys("rp");
    assert_eq!(desk.app.scope(), Scope::PutAway);
    for _ in 0..6 {
        if drawn(&desk).contains("leave it on the ring") {
            desk.take(Message::Key(Key::plain(Code::Down)));
        } else if !drawn(&desk).contains("rejoin it with") {
            desk.keys("\n");
        }
    }
    let text = drawn(&desk);
    assert!(
        text.contains("rejoin it with") && text.contains("at home on hook A05"),
        "{text}"
    );
    assert!(text.contains("40@Heron"), "{text}");
    // The board shows its place.
    assert_eq!(desk.app.card(&desk.state).unwrap().card.id, whole);
    let split_card = card(&desk, "40@heron");
    desk.keys("\n");
    assert!(desk.state.card(split_card).is_none());
    assert_eq!(desk.state.card(whole).unwrap().strands(), Strands(48));
    // The other one stays: the screen shows where its source card is, and Enter says so, too.
    let text = drawn(&desk);
    assert!(
        text.contains("leave it on the ring; it belongs with"),
        "{text}"
    );
    desk.keys("\n");
    assert!(desk.app.notice.as_ref().unwrap().wrong);
    assert!(card(&desk, "50@Heron") != card(&desk, "50"));
    // Once that card is at hand, the walk continues to its end.
    let kite = desk.state.find_ring("Kite").unwrap();
    let event = ring::give_back_all(&desk.state, kite, now()).unwrap();
    desk.state.apply(&event).unwrap();
    desk.keys("\n\n\n\n");
    assert_eq!(desk.app.scope(), Scope::Confirm);
    desk.keys("y");
    assert!(desk.state.find_ring("Heron").unwrap().is_closed());
}

#[test]
fn name_typed_while_putting_away_changes_nothing_before_enter() {
    let mut desk = TestApp::sample(Depth::None).after("rp");
    assert_eq!(desk.app.scope(), Scope::PutAway);
    for letter in ('a'..='z').chain('A'..='Z').chain(['\u{e4}']) {
        let typed = desk.after(&letter.to_string());
        assert_eq!(typed.app.scope(), Scope::InHand, "{letter}");
        assert_eq!(typed.asked, desk.asked, "{letter}");
        assert_eq!(typed.after("\u{8}").app.scope(), Scope::PutAway, "{letter}");
    }
    // The words of a name, whatever their case, and the whole name before longer ones.
    let home = |desk: &TestApp, name: &str| {
        let card = desk.state.find_card(name).unwrap();
        desk.state.card(card).unwrap().is_home()
    };
    desk.keys("Pale");
    let text = screen(&desk);
    assert!(
        text.contains("shell pale") && text.contains("Enter: hang on A02"),
        "{text}"
    );
    assert!(!home(&desk, "20"));
    desk.keys("\n");
    assert!(home(&desk, "20") && !home(&desk, "30"));
    assert_eq!(desk.app.scope(), Scope::PutAway);
    let said = desk.after("mauve\n");
    assert_eq!(said.said(), "No card mauve");
    // The commands have other keys.
    let lost = desk.after("-");
    assert_eq!(lost.commits(), desk.commits() + 1);
    let mut back = desk.after("kelp\n");
    assert!(home(&back, "30"));
    back.take(Message::Key(Key::ctrl('u')));
    assert!(!home(&back, "30"));
}

/// The screen drawn at the usual size.
fn screen(desk: &TestApp) -> String {
    desk.drawn((80, 24)).join("\n")
}

#[test]
fn actions_are_found_by_typing_and_help_returns() {
    let mut desk = TestApp::sample(Depth::None).after("r:");
    assert_eq!(desk.app.scope(), Scope::Actions);
    desk.keys("begin project\n");
    assert!(
        screen(&desk).contains("Begin a project"),
        "{}",
        screen(&desk)
    );
    desk.keys("\u{1b}?");
    assert_eq!(desk.app.scope(), Scope::Help);
    desk.keys("hang up");
    assert_eq!(desk.app.scope(), Scope::Help);
    desk.keys("\u{1b}");
    assert_eq!(desk.app.scope(), Scope::Rings);
    desk.keys("\u{1b}:qqqq\n");
    assert_eq!(desk.app.scope(), Scope::Actions);
    assert!(screen(&desk).contains("Nothing here does that"));
}

#[test]
fn custom_keys_show_in_the_footer_and_the_help() {
    use crate::tui::keymap::Keymap;

    let mut desk = TestApp::sample(Depth::None);
    let (keys, wrong) = Keymap::read(r#"{"board":{"rings":["R"],"find":["Ctrl-F"]}}"#);
    assert_eq!(wrong, Vec::<String>::new());
    desk.app.keys = keys;
    desk.keys("r/");
    assert_eq!(desk.app.scope(), Scope::Board);
    assert!(screen(&desk).contains("Ctrl-F find"), "{}", screen(&desk));
    assert!(
        screen(&desk.after("?the rings")).contains("R "),
        "{}",
        screen(&desk.after("?the rings"))
    );
    desk.keys("R");
    assert_eq!(desk.app.scope(), Scope::Rings);
}

#[test]
fn take_form_creates_a_ring_only_if_the_new_name_is_selected() {
    let desk = TestApp::sample(Depth::None);
    // Part of a name selects an existing ring; the new name is the last line of the list.
    let there = desk.after("ther\n");
    assert_eq!(there.state.rings().count(), desk.state.rings().count());
    let mut new = desk.after("ther\t");
    assert_eq!(new.filled("project"), "Heron");
    new.take(Message::Key(Key::plain(Code::Down)));
    assert_eq!(new.filled("project"), "her");
    new.keys("\n");
    assert!(new.state.find_ring("her").is_some());
}

#[test]
fn taking_a_card_from_another_ring_asks_first() {
    let desk = TestApp::sample(Depth::None);
    // 20 is on Heron, 10 is at home.
    let mut asked = desk.after(" l tKite\n");
    let question = asked.question().to_owned();
    assert!(question.contains("20 is on the ring 'Heron'"), "{question}");
    let on = |desk: &TestApp, card: &str| {
        let id = desk.state.find_card(card).unwrap();
        let ring = desk.state.card(id).unwrap().place.at.ring();
        ring.map(|ring| desk.state.ring(ring).unwrap().project.to_string())
    };
    let taken = asked.after("y");
    for card in ["Sandbank:10", "Sandbank:20"] {
        assert_eq!(on(&taken, card).as_deref(), Some("Kite"));
    }
    assert_eq!(taken.app.scope(), Scope::Board);
    let left = asked.after("n");
    assert_eq!(on(&left, "Sandbank:10").as_deref(), Some("Kite"));
    assert_eq!(on(&left, "Sandbank:20").as_deref(), Some("Heron"));
    // Escape changes nothing.
    asked.keys("\u{1b}");
    assert_eq!(asked.commits(), desk.commits());
    assert_eq!(asked.app.scope(), Scope::Form);
}

#[test]
fn undoing_a_change_from_before_the_board_opened_asks_first() {
    let mut desk = TestApp::sample(Depth::None).after("m");
    let gone = desk.state.clone();
    desk.app.opened_after = desk.history.last_done().unwrap().seq;
    desk.keys("jm");
    desk.keys("u");
    assert_eq!(desk.state, gone);
    desk.keys("u");
    let question = desk.question();
    assert!(
        question.starts_with("This was done before you opened the board"),
        "{question}"
    );
    assert_eq!(desk.after("n").state, gone);
    assert_ne!(desk.after("y").state, gone);
}

#[test]
fn unbound_key_says_that_it_does_nothing() {
    let said = |keys: &str| {
        let notice = TestApp::sample(Depth::None).after(keys).app.notice;
        notice.map_or_else(String::new, |notice| notice.text)
    };
    let words = "Z does nothing here; ? shows the keys";
    // On the board, in a list and on a walk. In a text field it is a letter.
    for keys in ["Z", "wZ", "vZ"] {
        assert_eq!(said(keys), words, "{keys}");
    }
    assert_eq!(said("/Z"), "");
}

#[test]
fn hint_of_a_disabled_key_is_greyed_in_place() {
    let hint = |desk: TestApp| {
        let desk = desk.after("w");
        let rows = desk.drawn((80, 24));
        let x = rows[23].split("Enter").next().unwrap().chars().count();
        let x = u16::try_from(x).unwrap();
        (x, desk.buffer((80, 24))[(x, 23)].fg)
    };
    let (some, none) = (TestApp::sample(Depth::True), TestApp::empty(Depth::True));
    let theme = some.app.theme;
    let ((x, fg), (same, grey)) = (hint(some), hint(none));
    assert_eq!(x, same);
    assert_eq!(
        (Some(fg), Some(grey)),
        (theme.accent().fg, theme.faint().fg)
    );
}

#[test]
fn hook_flashes_where_a_card_lands() {
    let light = |desk: &TestApp| {
        let seen = desk.drawn((120, 40));
        let buffer = desk.buffer((120, 40));
        let at = (0..buffer.area.height).flat_map(|y| (0..buffer.area.width).map(move |x| (x, y)));
        let all = at.filter(|&at| buffer[at].modifier.contains(Modifier::REVERSED));
        (all.count(), seen)
    };
    let mut desk = TestApp::sample(Depth::True);
    let before = light(&desk);
    // The card in hand goes home.
    desk.keys("30\n");
    assert_eq!(desk.asked.last(), Some(&Effect::Flash), "{:?}", desk.asked);
    let lit = light(&desk);
    assert!(lit.0 >= before.0 + 3, "{} {}", before.0, lit.0);
    desk.take(Message::FlashOver);
    assert_eq!(light(&desk).0, before.0);
    let mut still = TestApp::sample(Depth::True);
    still.app.still = true;
    still.keys("30\n");
    assert!(!still.asked.contains(&Effect::Flash));
    let mut plain = TestApp::sample(Depth::None);
    plain.keys("30\n");
    assert!(!plain.asked.contains(&Effect::Flash));
}
