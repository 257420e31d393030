//! A roll call driven by keys. On `wall` the sample has 10 on A01, 20 (A02) and 30 (A04) out, 40 on
//! A05, A06 blocked, 50 (B01) out, 60 (B02) missing and 77 (C06) out; on `door`, 10 and 1234567890
//! on 2-A01.

use crate::model::ids::CardId;
use crate::model::whereabouts::Whereabouts;
use crate::stash::command::ring;
use crate::tui::keymap::Scope;
use crate::tui::screens::welcome::greet;
use crate::tui::testing::{TestApp, now};
use crate::tui::theme::Depth;

fn desk() -> TestApp {
    TestApp::sample(Depth::None)
}

fn hook_name(desk: &TestApp) -> String {
    desk.state.hook_name(desk.app.hook(&desk.state).unwrap())
}

fn id(desk: &TestApp, name: &str) -> CardId {
    desk.state.find_card(name).unwrap()
}

fn place(desk: &TestApp, name: &str) -> Whereabouts {
    desk.state.card(id(desk, name)).unwrap().place.at.clone()
}

fn hangs_on(desk: &TestApp, name: &str) -> Option<String> {
    let hook = place(desk, name).hook();
    hook.map(|hook| desk.state.hook_name(hook))
}

fn drawn(desk: &TestApp) -> String {
    desk.drawn((120, 40)).join("\n")
}

fn title(desk: &TestApp) -> String {
    desk.drawn((120, 40)).swap_remove(0)
}

#[test]
fn one_key_confirms_each_row_worth_checking() {
    let mut desk = desk().after("v");
    let mut rows = Vec::new();
    while desk.app.scope() == Scope::RollCall {
        let title = title(&desk);
        assert!(
            title.contains(&format!("{} of 4 rows", rows.len())),
            "{title}"
        );
        rows.push((hook_name(&desk), title));
        desk.keys("\n");
    }
    let hooks: Vec<&str> = rows.iter().map(|(hook, _)| hook.as_str()).collect();
    assert_eq!(hooks, ["A01", "B01", "C01", "2-A01"]);
    assert!(rows[2].1.contains("Row C"), "{}", rows[2].1);
    assert!(drawn(&desk).contains("Every row was confirmed"));

    // Everything is in place: the roll call itself is recorded, and can be undone.
    let before = desk.state.clone();
    desk.keys("\n");
    assert_eq!(desk.said(), "Roll call: 4 found, 0 misplaced, 0 missing");
    assert_eq!(desk.app.scope(), Scope::Board);
    assert!(desk.state == before);
    desk.keys("u");
    assert!(desk.said().starts_with("Undone: Roll call"));
}

#[test]
fn roll_call_starts_on_the_current_board_and_wraps_around() {
    let mut desk = desk().after("bv");
    assert_eq!(hook_name(&desk), "2-A01");
    desk.keys("\n");
    assert_eq!(hook_name(&desk), "A01");
}

#[test]
fn misplaced_cards_are_recorded_and_hung_home() {
    // 40 hangs on A01 instead of Sandbank 10, which is nowhere; 20 came home unrecorded.
    let mut desk = desk().after("v40\n");
    assert_eq!(desk.app.scope(), Scope::RollCall);
    let text = drawn(&desk);
    assert_eq!(text.matches("? not here").count(), 2, "{text}");
    assert!(text.contains("! A05"), "{text}");
    // A01 has two tiles now, followed by A02.
    desk.keys("ll");
    assert_eq!(hook_name(&desk), "A02");
    desk.keys("m\n\u{1b}");
    let text = drawn(&desk);
    assert!(text.contains("Rows confirmed: 1 of 4"), "{text}");
    assert!(
        text.contains("hangs on A01") && text.contains("was at home on hook A05"),
        "{text}"
    );
    assert_eq!(desk.commits(), 1);

    desk.keys("\n");
    assert_eq!(desk.app.scope(), Scope::HangHome);
    assert!(matches!(
        place(&desk, "Sandbank:10"),
        Whereabouts::Missing { .. }
    ));
    assert_eq!(hangs_on(&desk, "20").as_deref(), Some("A02"));
    assert_eq!(hangs_on(&desk, "40").as_deref(), Some("A01"));
    // 20 hangs at home, so only 40 is offered.
    let text = drawn(&desk);
    assert!(
        text.contains("take it off A01") && text.contains("0 of 1 cards"),
        "{text}"
    );
    let mut left = desk.after("s");
    assert_eq!(left.said(), "Roll call: 0 found, 2 misplaced, 1 missing");
    assert_eq!(hangs_on(&left, "40").as_deref(), Some("A01"));
    left.keys("u");
    assert_eq!(hangs_on(&left, "40").as_deref(), Some("A05"));

    desk.keys("\n");
    assert_eq!(hangs_on(&desk, "40").as_deref(), Some("A05"));
    assert_eq!(desk.said(), "Roll call: 0 found, 2 misplaced, 1 missing");
    assert_eq!(desk.app.scope(), Scope::Board);
}

#[test]
fn absent_mark_can_be_toggled() {
    let mut desk = desk().after("bvlm");
    assert!(drawn(&desk).contains("? not here"));
    let back = desk.after("m");
    assert!(!drawn(&back).contains("? not here"));
    desk.keys("\n");
    assert!(title(&desk).contains("1 not there"), "{}", title(&desk));
    // One step back shows the row as marked, but unconfirmed.
    desk.keys("\u{8}");
    assert_eq!(hook_name(&desk), "2-A01");
    assert!(drawn(&desk).contains("? not here") && title(&desk).contains("0 of 4 rows"));
    // A free hook has no card to mark.
    desk.keys("llm");
    assert!(desk.said().contains("Nothing should hang here"));
}

#[test]
fn card_on_a_free_hook_is_entered_there() {
    let mut desk = desk().after("vll40\n");
    assert_eq!(hook_name(&desk), "A03");
    desk.keys("\n\u{1b}\n");
    assert_eq!(hangs_on(&desk, "40").as_deref(), Some("A03"));
    assert_eq!(hangs_on(&desk, "Sandbank:10").as_deref(), Some("A01"));
    // An empty row is skipped, but the arrows reach it.
    let desk = self::desk().after("vjjj");
    assert_eq!(hook_name(&desk), "D01");
}

#[test]
fn card_seen_twice_counts_where_it_was_seen_last() {
    let mut desk = desk().after("v\n");
    desk.keys("s40\n");
    assert_eq!(
        desk.said(),
        "40 was confirmed on A05. It counts as here now"
    );
    // It doesn't count before this row is confirmed.
    let stopped = desk.after("\u{1b}\n");
    assert!(
        stopped
            .said()
            .starts_with("Roll call: 2 found, 0 misplaced, 0 missing")
    );
    desk.keys("\n\u{1b}\n\n");
    assert_eq!(desk.said(), "Roll call: 1 found, 1 misplaced, 0 missing");
    assert_eq!(
        hangs_on(&desk, "40").as_deref(),
        Some("A05"),
        "it was hung home"
    );
}

#[test]
fn card_of_the_hook_comes_first_among_equal_numbers() {
    let desk = desk().after("vm10");
    let text = drawn(&desk);
    let choice = |name: &str| text.rfind(name).unwrap_or_else(|| panic!("{name}: {text}"));
    assert!(
        choice("Sandbank:10 dune") < choice("Meadow:10 clover"),
        "{text}"
    );
    assert!(text.contains("hangs here, on A01"), "{text}");
    let here = desk.after("\n");
    assert!(!drawn(&here).contains("? not here"));
}

#[test]
fn unknown_number_becomes_a_new_card_on_the_hook() {
    let mut desk = desk().after("vll999");
    assert_eq!(hook_name(&desk), "A03");
    let text = drawn(&desk);
    assert!(text.contains("No card 999 in the stash"), "{text}");
    // The range with the most cards comes first.
    assert!(
        text.contains("Sandbank 999") && text.contains("Meadow 999"),
        "{text}"
    );
    let meadow = desk.after("\t\n");
    assert_eq!(
        meadow
            .state
            .range_name(meadow.state.card(id(&meadow, "999")).unwrap()),
        "Meadow"
    );
    desk.keys("\n");
    assert_eq!(desk.said(), "999 is a new card on A03");
    assert_eq!(desk.app.scope(), Scope::RollCall);
    let kept = desk.state.card(id(&desk, "999")).unwrap();
    assert!(kept.is_home() && hangs_on(&desk, "999").as_deref() == Some("A03"));
    let undone = desk.after("u");
    assert!(undone.state.find_card("999").is_err());
    // On another card's hook the new card waits to be hung, and the report says where it hangs.
    desk.keys("l998\n");
    assert!(matches!(place(&desk, "998"), Whereabouts::Unhung));
    desk.keys("\n\u{1b}\n");
    assert_eq!(hangs_on(&desk, "998").as_deref(), Some("A04"));
}

#[test]
fn abandoned_roll_call_changes_nothing() {
    let mut desk = desk().after("v\u{1b}");
    assert!(desk.said().contains("No row was confirmed"));
    let before = desk.state.clone();
    desk.keys("v\n\u{1b}\u{1b}");
    assert_eq!(
        desk.said(),
        "Saved: 1 of 4 rows confirmed. Press v to continue."
    );
    assert!(desk.state == before);
    assert_eq!(desk.app.scope(), Scope::Board);
    // The report can return to the roll call.
    desk.keys("vy\u{1b}\u{8}\n");
    assert_eq!(hook_name(&desk), "C01");
    let empty = TestApp::empty(Depth::None).after("v");
    assert!(empty.app.notice.unwrap().wrong);
}

/// The same stash opened anew: what is on disk, and no screen.
fn restarted(desk: &TestApp) -> TestApp {
    let mut again = self::desk();
    (again.state, again.history) = (desk.state.clone(), desk.history.clone());
    again
}

#[test]
fn roll_call_continues_after_a_restart_with_every_answer() {
    // 10 isn't on A01, 40 hangs on A03, and row B is as recorded.
    let desk = desk().after("vmlls40\n\n\n");
    assert_eq!(hook_name(&desk), "C01");
    let mut again = restarted(&desk);
    let mut opened = again.clone();
    greet(&mut opened.app, again.stash());
    let words = "A roll call is underway: 2 of 4 rows confirmed";
    assert!(drawn(&opened).contains(words), "{}", drawn(&opened));
    again.keys("v");
    assert_eq!(
        again.question(),
        "A roll call is underway: 2 of 4 rows confirmed. Continue it? n begins again."
    );
    assert_eq!(again.after("\u{1b}").app.scope(), Scope::Board);
    let anew = again.after("n");
    assert_eq!(hook_name(&anew), "A01");
    assert!(title(&anew).contains("0 of 4 rows"), "{}", title(&anew));
    // A new one leaves nothing of the old one over.
    let anew = restarted(&anew.after("\n")).after("vy");
    assert!(title(&anew).contains("1 of 4 rows"), "{}", title(&anew));
    assert!(!drawn(&anew.after("k")).contains("? not here"));

    again.keys("y");
    assert_eq!(hook_name(&again), "C01");
    let ends = |desk: &TestApp| {
        let ended = desk.after("\n\n\n\u{1b}");
        assert_eq!(ended.app.scope(), Scope::Board);
        assert!(ended.after("v").question().is_empty());
        (ended.said().to_owned(), ended.state)
    };
    assert!(ends(&again) == ends(&desk));
    assert_eq!(ends(&again).0, "Roll call: 2 found, 1 misplaced, 1 missing");
    // The last row can still be taken back, and shows what was confirmed.
    let mut back = again.after("uu");
    assert!(title(&back).contains("0 of 4 rows"), "{}", title(&back));
    assert_eq!(hook_name(&back), "A01");
    assert_eq!(drawn(&back).matches("? not here").count(), 2);
    back.keys("\n");
    assert_eq!(hook_name(&back), "B01");
}

#[test]
fn card_moved_after_its_row_was_confirmed_counts_where_it_is_now() {
    // 10 wasn't on A01, and turned up there; 40 was on A05, and is missing now.
    let mut desk = desk().after("vm\n\u{1b}\u{1b}");
    desk.keys("/Sandbank:10\nmm/40\nm");
    desk.keys("vy\n\n\n");
    assert_eq!(desk.app.scope(), Scope::Report);
    let text = drawn(&desk);
    assert!(text.contains("All is as recorded"), "{text}");
}

#[test]
fn outdated_report_is_refreshed_before_recording() {
    let mut desk = desk().after("v\n\u{1b}");
    let event = ring::missing(&desk.state, &[id(&desk, "Sandbank:10")], now()).unwrap();
    desk.state.apply(&event).unwrap();
    desk.keys("\n");
    assert_eq!(desk.app.scope(), Scope::Report);
    assert!(desk.said().contains("changed meanwhile"));
    assert_eq!(desk.commits(), 1);
    desk.keys("\n");
    assert!(
        desk.said()
            .starts_with("Roll call: 1 found, 1 misplaced, 0 missing")
    );
}

#[test]
fn row_numbers_are_drawn_large() {
    let mut desk = TestApp::empty(Depth::True);
    desk.state = crate::tui::testing::crowded(300);
    desk.keys("v");
    for (size, letters) in [((80, 24), "▐▌"), ((120, 40), "██"), ((220, 60), "████")]
    {
        desk.app.size = size;
        let text = desk.drawn(size).join("\n");
        assert!(text.contains(letters), "{text}");
        // All twenty hooks of the row fit.
        assert!(text.contains("A01") && text.contains("A20"), "{text}");
    }
}
