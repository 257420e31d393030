use super::usual_range;
use crate::model::label::Label;
use crate::model::thread::Strands;
use crate::stash::invariants;
use crate::tui::key::{Code, Key};
use crate::tui::message::Message;
use crate::tui::testing::TestApp;
use crate::tui::theme::Depth;

#[test]
fn editing_a_card_keeps_its_place_and_undo_restores_it() {
    let mut desk = TestApp::sample(Depth::None);
    let before = desk.app.card(&desk.state).unwrap().clone();
    desk.keys("c");
    assert_eq!(desk.filled("name"), before.card.name.as_str());
    assert_eq!(desk.filled("lengths"), "8");
    // Typing replaces the default text; the rest stays as it is.
    desk.keys("moorland\n\n5,5\n2\n\n\nfrayed\u{13}");
    let after = desk.state.card(before.card.id).unwrap();
    assert_eq!(after.card.name.as_str(), "moorland");
    assert_eq!(after.card.note.as_str(), "frayed");
    assert_eq!((after.strands(), after.skeins()), (Strands(33), 2));
    assert_eq!(
        (&after.home, &after.place, after.card.colour),
        (&before.home, &before.place, before.card.colour)
    );
    assert_eq!(invariants::check_all(&desk.state), []);
    let said = &desk.app.notice.as_ref().unwrap().text;
    assert!(said.ends_with("is changed"), "{said}");
    // Saving without a change is refused. A note can be deleted, a name can't.
    desk.keys("c\u{13}");
    assert_eq!(
        desk.wrong(),
        "Nothing to change: the card is like that already."
    );
    desk.keys("\u{8}\u{13}");
    assert_eq!(desk.wrong(), "name: you can change it, not delete it.");
    desk.keys("\u{1b}c");
    desk.take(Message::Key(Key::plain(Code::Up)));
    desk.keys("\u{8}\u{13}");
    let after = desk.state.card(before.card.id).unwrap();
    assert_eq!(after.card.note, Label::default());
    desk.keys("uu");
    assert_eq!(desk.state.card(before.card.id), Some(&before));
}

#[test]
fn implausible_lengths_are_refused() {
    let mut desk = TestApp::sample(Depth::None);
    let cards = desk.state.cards().len();
    desk.keys("n123");
    desk.keys("\n\n\n\n816\u{13}");
    assert!(
        desk.wrong()
            .starts_with("lengths: 816 lengths is more than a card can hold"),
        "{}",
        desk.wrong()
    );
    for slip in ["eight", "-1", "NaN"] {
        desk.take(Message::Key(Key::ctrl('u')));
        desk.keys(slip);
        desk.keys("\u{13}");
        assert!(desk.wrong().contains("isn't a number"), "{slip}");
    }
    desk.take(Message::Key(Key::ctrl('u')));
    desk.keys("16\u{13}");
    assert_eq!(desk.state.cards().len(), cards + 1);
    let id = desk.state.find_card("123").unwrap();
    assert_eq!(desk.state.card(id).unwrap().strands(), Strands(96));
}

#[test]
fn new_card_defaults_to_the_most_common_range() {
    let mut desk = TestApp::sample(Depth::None);
    let usual = usual_range(&desk.state).unwrap().clone();
    let count = |desk: &TestApp, range| {
        let cards = desk.state.cards();
        cards.filter(|kept| kept.card.range == range).count()
    };
    for range in desk.state.ranges() {
        assert!(count(&desk, range.id) <= count(&desk, usual.id));
    }
    let other = desk.state.ranges().find(|range| range.id != usual.id);
    let other = other.unwrap().clone();
    let missing = count(&desk, usual.id) - count(&desk, other.id);
    for number in 0..=missing {
        desk.keys(&format!("n{}\n{}\n\u{13}", 9000 + number, other.name));
    }
    assert_eq!(usual_range(&desk.state).unwrap().id, other.id);
    desk.keys("n");
    assert_eq!(desk.filled("range"), other.name.as_str());
}

#[test]
fn existing_number_is_refused_for_a_new_card() {
    let mut desk = TestApp::sample(Depth::None);
    let before = desk.app.card(&desk.state).unwrap().clone();
    let (range, number) = (desk.state.range(before.card.range), &before.card.number);
    desk.keys(&format!("n{number}\n{}\n\n\n3\u{13}", range.unwrap().name));
    assert_eq!(
        desk.wrong(),
        "Card Sandbank:10 is in the stash already, with 8 lengths. Find it with / and change it \
         with c."
    );
    assert_eq!(desk.state.card(before.card.id), Some(&before));
}

#[test]
fn messages_tell_adding_a_card_from_editing_one() {
    let mut desk = TestApp::sample(Depth::None);
    desk.keys("n123\u{13}");
    let said = |desk: &TestApp| desk.app.notice.as_ref().unwrap().text.clone();
    assert!(said(&desk).starts_with("Added card "), "{}", said(&desk));
    desk.keys("cmoorland\u{13}u");
    assert!(
        said(&desk).contains("Edited card Sandbank:10"),
        "{}",
        said(&desk)
    );
}

#[test]
fn edited_amount_keeps_the_dye_lot() {
    let mut desk = TestApp::sample(Depth::None);
    let card = desk.app.card(&desk.state).unwrap().card.id;
    let lots = |desk: &TestApp| {
        let thread = &desk.state.card(card).unwrap().thread;
        (thread.lot_names(), thread.strands(), thread.lots().len())
    };
    desk.keys("c\n\n\n\n\nK7\u{13}");
    assert_eq!(lots(&desk), ("K7".to_owned(), Strands(48), 1));
    desk.keys("c\n\n7\u{13}");
    assert_eq!(lots(&desk), ("K7".to_owned(), Strands(42), 1));
}

#[test]
fn amounts_of_a_card_with_several_lots_cannot_be_edited() {
    use crate::stash::command::import::{Amount, CardRow, Terms, card_list};
    let mut desk = TestApp::sample(Depth::None);
    let kept = desk.app.card(&desk.state).unwrap().clone();
    let row = CardRow {
        range: Some(desk.state.range_name(&kept).to_owned()),
        number: kept.card.number.to_string(),
        dye_lot: Some("V1".to_owned()),
        amount: Some(Amount::Lengths(1.0)),
        ..CardRow::default()
    };
    let terms = Terms {
        add: true,
        ..Terms::default()
    };
    let outcome = card_list(&desk.state, &[row], Vec::new(), &terms, desk.app.now).unwrap();
    desk.state.apply(&outcome.event.unwrap()).unwrap();
    desk.keys("c");
    assert_eq!(desk.filled("dye lot"), "V1");
    assert_eq!(desk.filled("lengths"), "9");
    desk.keys("\n\n7\u{13}");
    assert!(
        desk.wrong()
            .starts_with("This card has several dye lots: V1."),
        "{}",
        desk.wrong()
    );
    // Everything else on the card can still be edited.
    desk.take(Message::Key(Key::ctrl('u')));
    desk.keys("9\n\n\n\nfrayed\u{13}");
    let after = desk.state.card(kept.card.id).unwrap();
    assert_eq!(after.card.note.as_str(), "frayed");
    assert_eq!(after.thread.lots().len(), 2);
}

#[test]
fn number_that_differs_from_a_known_one_by_zeros_is_pointed_out() {
    let mut desk = TestApp::sample(Depth::None);
    desk.keys("n020\u{13}");
    let said = &desk.app.notice.as_ref().unwrap().text;
    assert!(
        said.ends_with("020 is a new card. Did you mean 20?"),
        "{said}"
    );
}
