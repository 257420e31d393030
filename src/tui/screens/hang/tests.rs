use super::*;
use crate::tui::message::Message;
use crate::tui::testing::TestApp;
use crate::tui::theme::Depth;

/// The middle of a hook on the screen.
fn spot(desk: &TestApp, hook_name: &str) -> (u16, u16) {
    let hook = desk.state.find_hook(hook_name).unwrap();
    let cell = layout::current(&desk.app, &desk.state).unwrap();
    let cell = cell.cell(hook.row, hook.column).unwrap();
    (cell.x + cell.width / 2, cell.y)
}

fn press(desk: &mut TestApp, hook_name: &str) {
    let (column, row) = spot(desk, hook_name);
    desk.take(Message::Click { column, row });
}

fn drag(desk: &mut TestApp, hook_name: &str) {
    let (column, row) = spot(desk, hook_name);
    desk.take(Message::Drag { column, row });
}

fn release(desk: &mut TestApp, hook_name: &str) {
    let (column, row) = spot(desk, hook_name);
    desk.take(Message::Release { column, row });
}

fn home(desk: &TestApp, name: &str) -> Option<String> {
    let card = desk.state.find_card(name).unwrap();
    let home = desk.state.card(card).unwrap().home;
    home.map(|hook| desk.state.hook_name(hook))
}

fn notice(desk: &TestApp) -> &str {
    desk.app.notice.as_ref().map_or("", |notice| &notice.text)
}

#[test]
fn hook_that_breaks_the_order_asks_first() {
    let mut desk = TestApp::sample(Depth::None);
    // Card 40 is on A05: A06 is blocked, and B01 is the next card's home.
    desk.keys("llll");
    assert_eq!(
        desk.app
            .hook(&desk.state)
            .map(|h| desk.state.hook_name(h))
            .unwrap(),
        "A05"
    );
    desk.keys("e");
    let screen = desk.drawn((80, 24)).join("\n");
    assert!(screen.contains("A05 is where it hangs now"), "{screen}");
    desk.keys("l\n");
    assert!(
        notice(&desk).contains("blocked (bracket)"),
        "{}",
        notice(&desk)
    );
    // A hook that breaks the order needs a yes; "no" changes nothing.
    desk.keys("jjh\n");
    assert_eq!(
        desk.question(),
        "Card 40 goes to C05, between 60 on B02 and 77 on C06. That breaks the order: it belongs \
         between 30 on A04 and 50 on B01. Write C05 on its label. Hang it there?"
    );
    desk.keys("n");
    assert_eq!(home(&desk, "40").as_deref(), Some("A05"));
    assert_eq!(desk.asked, []);
}

#[test]
fn hook_that_keeps_the_order_is_used_without_asking() {
    let mut desk = TestApp::sample(Depth::None);
    desk.keys("le\t");
    let hook_name = desk.app.hook(&desk.state).map(|h| desk.state.hook_name(h));
    assert_eq!(hook_name.as_deref(), Some("A03"));
    let screen = desk.drawn((80, 24)).join("\n");
    assert!(screen.contains("keeps the order"), "{screen}");
    assert!(screen.contains("only its home changes"), "{screen}");
    desk.keys("\n");
    assert_eq!(home(&desk, "20").as_deref(), Some("A03"));
    assert_eq!(
        notice(&desk),
        "20 belongs on A03 now. Its label must say A03"
    );
    assert!(desk.app.stack.is_empty());
    desk.keys("u");
    assert_eq!(home(&desk, "20").as_deref(), Some("A02"));
}

#[test]
fn card_to_hang_can_be_hung_from_the_away_list() {
    let mut desk = TestApp::sample(Depth::None);
    // The first card to hang is listed after the missing one.
    let name = "80";
    desk.keys("wje");
    assert!(desk.app.scope() == Scope::Hang, "{}", notice(&desk));
    let screen = desk.drawn((80, 24)).join("\n");
    assert!(screen.contains("No free hook keeps"), "{screen}");
    // Right after the card it follows in order, because no free hook keeps the order.
    assert_eq!(
        desk.app
            .hook(&desk.state)
            .map(|h| desk.state.hook_name(h))
            .as_deref(),
        Some("D01")
    );
    desk.keys("\ny");
    let hung = desk
        .state
        .card(desk.state.find_card(name).unwrap())
        .unwrap();
    assert!(hung.is_home());
    assert!(notice(&desk).starts_with(&format!("{name} hangs on")));
}

#[test]
fn escape_cancels_and_restores_the_cursor() {
    let mut desk = TestApp::sample(Depth::None);
    let before = desk.app.eye.clone();
    desk.keys("ejjl\u{1b}");
    assert!(desk.app.stack.is_empty());
    assert_eq!(desk.app.eye, before);
    assert_eq!(desk.asked, []);
    // It doesn't start on an empty hook, with several cards selected, or read-only.
    desk.keys("lle");
    assert!(notice(&desk).contains("Put the cursor on a card"));
    desk.keys("hh l e");
    assert!(
        notice(&desk).contains("One card at a time"),
        "{}",
        notice(&desk)
    );
    desk.keys("\u{1b}");
    desk.read_only = Some("read-only: somebody".to_owned());
    desk.keys("e");
    assert_eq!(notice(&desk), "read-only: somebody");
}

#[test]
fn dragging_a_card_asks_before_hanging_it() {
    let mut desk = TestApp::sample(Depth::None);
    press(&mut desk, "A05");
    drag(&mut desk, "A05");
    assert!(desk.app.stack.is_empty());
    drag(&mut desk, "B03");
    assert!(desk.app.screen().unwrap().extent() == Extent::InPane);
    drag(&mut desk, "A03");
    let screen = desk.drawn((80, 24)).join("\n");
    assert!(screen.contains("goes to A03"), "{screen}");
    release(&mut desk, "A03");
    assert!(
        desk.question().contains("Hang it there?"),
        "{}",
        desk.question()
    );
    assert!(
        desk.question().contains("breaks the order: it belongs"),
        "{}",
        desk.question()
    );
    desk.keys("n");
    assert_eq!(home(&desk, "40").as_deref(), Some("A05"));
    press(&mut desk, "A05");
    drag(&mut desk, "C01");
    release(&mut desk, "C01");
    desk.keys("y");
    assert_eq!(home(&desk, "40").as_deref(), Some("C01"));
    assert_eq!(notice(&desk), "40 hangs on C01. Write C01 on its label");
}

#[test]
fn drag_without_a_valid_target_changes_nothing() {
    let mut desk = TestApp::sample(Depth::None);
    // The press selected the card because the cursor was already there; a drag undoes that.
    press(&mut desk, "A01");
    assert_eq!(desk.app.chosen.len(), 1);
    drag(&mut desk, "A03");
    assert!(desk.app.chosen.is_empty());
    desk.take(Message::Release { column: 79, row: 0 });
    assert!(desk.app.stack.is_empty());
    assert_eq!((desk.app.eye.row, desk.app.eye.column), (0, 0));
    // Back to its start, onto a blocked hook, and from a free hook.
    for (from, to) in [("A01", "A01"), ("A01", "A06"), ("A03", "B03")] {
        press(&mut desk, from);
        drag(&mut desk, "B04");
        drag(&mut desk, to);
        release(&mut desk, to);
        assert!(desk.app.stack.is_empty(), "{from} {to}");
    }
    assert_eq!(desk.asked, []);
    // Escape ends the drag, and later mouse moves do nothing.
    press(&mut desk, "A01");
    drag(&mut desk, "B03");
    desk.keys("\u{1b}");
    drag(&mut desk, "B04");
    release(&mut desk, "B04");
    assert!(desk.app.stack.is_empty());
    assert_eq!(desk.asked, []);
    // A click on the hook under the cursor hangs the card, as Enter does.
    desk.keys("e");
    press(&mut desk, "A03");
    press(&mut desk, "A03");
    assert!(!desk.question().is_empty() || home(&desk, "Sandbank:10").as_deref() == Some("A03"));
}
