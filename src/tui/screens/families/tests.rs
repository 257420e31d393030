//! The families page, driven by keys.

use crate::model::card::CardFamily;
use crate::tui::keymap::Scope;
use crate::tui::testing::TestApp;
use crate::tui::theme::Depth;

fn desk() -> TestApp {
    TestApp::sample(Depth::True)
}

fn names(desk: &TestApp) -> Vec<&str> {
    let families = desk.state.families().iter();
    families.map(|family| family.name.as_str()).collect()
}

fn family(desk: &TestApp, card: &str) -> String {
    let id = desk.state.find_card(card).unwrap();
    desk.state
        .family_name(desk.state.card(id).unwrap())
        .to_owned()
}

fn notice(desk: &TestApp) -> &str {
    desk.app.notice.as_ref().map_or("", |notice| &notice.text)
}

fn screen(desk: &TestApp) -> String {
    desk.drawn((80, 24)).join("\n")
}

#[test]
fn families_are_listed_in_wall_order() {
    let desk = desk().after("F");
    let screen = screen(&desk);
    for line in [
        "shore  4 cards, 4 chosen",
        "sea    2 cards, 2 chosen",
        "field  5 cards, 5 chosen",
    ] {
        assert!(screen.contains(line), "{line:?} in\n{screen}");
    }
}

#[test]
fn cursor_follows_a_family_that_moves() {
    let mut desk = desk();
    assert_eq!(names(&desk), ["shore", "sea", "field"]);
    desk.keys("F>>");
    assert_eq!(names(&desk), ["sea", "field", "shore"]);
    desk.keys(">");
    assert_eq!(notice(&desk), "The families are in that order already.");
    desk.keys("<");
    assert_eq!(names(&desk), ["sea", "shore", "field"]);
    desk.keys("uuu");
    assert_eq!(names(&desk), ["shore", "sea", "field"]);
}

#[test]
fn families_can_be_created_renamed_held_and_removed() {
    let mut desk = desk();
    desk.keys("FnMoss\n");
    assert_eq!(names(&desk), ["shore", "sea", "field", "Moss"]);
    assert_eq!(notice(&desk), "Made the family 'Moss'");
    desk.keys("eMosses\n");
    assert_eq!(names(&desk)[3], "Mosses");
    desk.keys("p");
    assert!(desk.state.families()[3].held);
    desk.keys("p");
    assert!(!desk.state.families()[3].held);
    desk.keys("X");
    assert_eq!(names(&desk), ["shore", "sea", "field"]);
    desk.keys("nSEA\n");
    assert!(screen(&desk).contains("There is a family 'sea' already"));
}

#[test]
fn cards_of_a_removed_family_fall_back_to_their_colours() {
    let mut desk = desk();
    desk.keys("FjX");
    // In the family "sea", 50 is nearly black or blue by colour, and 60 has no colour.
    assert!(!names(&desk).contains(&"sea"));
    assert_eq!(family(&desk, "60"), "");
    assert!(!family(&desk, "50").is_empty());
    assert!(screen(&desk).contains("(no family)"));
    desk.keys("u");
    assert_eq!(family(&desk, "60"), "sea");
}

#[test]
fn selected_cards_move_to_another_family() {
    let mut desk = desk();
    let before = desk.state.clone();
    // The two lightest cards of the shore.
    desk.keys("F\n j s");
    assert_eq!(desk.app.scope(), Scope::SendTo);
    assert!(screen(&desk).contains("Send the 2 cards chosen to which family?"));
    desk.keys("jj\n");
    assert_eq!(desk.app.scope(), Scope::FamilyCards);
    assert_eq!(notice(&desk), "Put 2 cards in the family 'field'");
    assert_eq!(
        [family(&desk, "20"), family(&desk, "Sandbank:10")],
        ["field", "field"]
    );
    assert!(desk.app.chosen.is_empty());
    desk.keys("u");
    assert!(desk.state == before);
}

#[test]
fn card_under_the_cursor_is_sent_if_none_is_selected() {
    let mut desk = desk();
    desk.keys("F\nsj\n");
    assert_eq!(family(&desk, "20"), "sea");
    desk.keys("\u{1b}\u{1b}");
    assert!(desk.app.stack.is_empty());
}

#[test]
fn cards_selected_on_the_board_go_to_a_new_family() {
    let mut desk = desk();
    desk.keys(" l F");
    assert_eq!(desk.app.scope(), Scope::SendTo);
    desk.keys("nDunes\n\n");
    assert!(desk.app.stack.is_empty());
    assert_eq!(
        [family(&desk, "Sandbank:10"), family(&desk, "20")],
        ["Dunes", "Dunes"]
    );
    assert!(desk.app.chosen.is_empty());
}

#[test]
fn family_of_cards_can_be_recomputed() {
    let mut desk = desk();
    desk.keys("F\naw");
    assert_eq!(
        notice(&desk),
        "Let colour or range decide the family of 4 cards"
    );
    for card in ["Sandbank:10", "20", "30", "40"] {
        let id = desk.state.find_card(card).unwrap();
        let of = desk.state.card(id).unwrap().card.family;
        assert!(matches!(of, CardFamily::WorkedOut(_)), "{card}: {of:?}");
    }
    assert_eq!(family(&desk, "30"), "greens");
    desk.keys("w");
    assert_eq!(notice(&desk), "There is no card in this family.");
}

#[test]
fn families_are_arranged_by_colour() {
    let mut desk = desk();
    desk.keys("Fc");
    let arranged = names(&desk)
        .iter()
        .map(|name| (*name).to_owned())
        .collect::<Vec<_>>();
    assert_ne!(arranged, ["shore", "sea", "field"]);
    desk.keys("c");
    assert_eq!(notice(&desk), "The families are in that order already.");
    desk.keys("u");
    assert_eq!(names(&desk), ["shore", "sea", "field"]);
}

#[test]
fn read_only_stash_stays_unchanged() {
    let mut desk = desk();
    desk.read_only = Some("another window writes".to_owned());
    let before = desk.state.clone();
    desk.keys("F>cpX\ns\u{1b}w");
    assert!(desk.state == before);
    assert_eq!(desk.commits(), 0);
}

#[test]
fn empty_page_names_the_key_for_a_new_family() {
    let mut desk = TestApp::empty(Depth::None);
    desk.keys("F");
    assert!(screen(&desk).contains("There is no family yet"));
    desk.keys("\nX");
    assert_eq!(notice(&desk), "There is no family yet. n makes one.");
    desk.keys("s");
    assert!(notice(&desk).starts_with("No card is selected"));
    desk.keys("nred\n");
    assert_eq!(names(&desk), ["red"]);
}
