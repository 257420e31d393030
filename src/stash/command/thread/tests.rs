use std::collections::BTreeMap;

use proptest::prelude::*;

use super::*;
use crate::model::thread::ThreadPart;
use crate::stash::command::import::{Amount, Terms, card_list};
use crate::stash::command::ring::{
    close, found, give_back, give_back_all, missing, split_cards_that_stay, take,
};
use crate::stash::command::{buy, range, ring};
use crate::stash::event::{AmountChange, inverse};
use crate::stash::history::History;
use crate::stash::testing::{Shown as _, add_cards, apply, at, id, projects, wall};

/// Cards 1 and 2 on their hooks, each with a skein of 48 strands.
fn stash() -> State {
    let mut state = wall(1, 3, 1);
    add_cards(&mut state, &["Cove:1@A01", "Cove:2@A02"]);
    state
}

fn split_off(state: &mut State, project: &str, name: &str, strands: u32) -> CardId {
    let event = split(
        state,
        project,
        id(state, name),
        Strands(strands),
        None,
        "",
        at(1),
    )
    .unwrap();
    apply(state, &event);
    let Act::Split { card, .. } = event.act else {
        panic!("{event:?}");
    };
    card
}

fn on(state: &State, card: CardId) -> u32 {
    state.card(card).unwrap().strands().0
}

fn merged(state: &mut State, project: &str, name: &str) -> Event {
    let ring = state.need_ring(project).unwrap();
    let event = merge(state, ring, id(state, name)).unwrap();
    apply(state, &event);
    event
}

fn words(outcome: Result<Event, Refusal>) -> String {
    outcome.unwrap_err().shown()
}

#[test]
fn thread_moves_to_a_split_card_on_the_ring_and_back() {
    let mut state = stash();
    let whole = id(&state, "1");
    let first = state.clone();
    let event = split(
        &state,
        " Robin ",
        whole,
        Strands(14),
        None,
        "for wings",
        at(1),
    )
    .unwrap();
    apply(&mut state, &event);
    let ring = state.need_ring("robin").unwrap();
    let split_card = state.cards_on(ring).next().unwrap();
    assert_eq!((split_card.strands(), on(&state, whole)), (Strands(14), 34));
    assert_eq!(
        (split_card.card.parent, split_card.card.note.as_str()),
        (Some(whole), "for wings")
    );
    assert_eq!((split_card.skeins(), split_card.home), (0, None));
    // A split card of the same range doesn't make a number ambiguous.
    assert_eq!(state.card_name(split_card), "1@Robin");
    assert_eq!(state.card_name(state.card(whole).unwrap()), "1");
    assert_eq!(id(&state, "1"), whole);

    let event = merged(&mut state, "Robin", "1");
    assert_eq!(state.cards().len(), 2);
    assert_eq!(on(&state, whole), 48);
    assert!(state.need_ring("Robin").unwrap().went_out.is_empty());
    let undo = Event {
        act: Act::Undo { seq: 3 },
        changes: inverse(&event.changes),
    };
    apply(&mut state, &undo);
    assert_eq!((state.cards().len(), on(&state, whole)), (3, 34));
    assert_ne!(state, first);
}

#[test]
fn more_thread_goes_to_the_split_card_already_on_the_ring() {
    let mut state = stash();
    let split_card = split_off(&mut state, "Robin", "1", 6);
    assert_eq!(split_off(&mut state, "robin", "1", 7), split_card);
    let other = split_off(&mut state, "Kite", "1", 5);
    assert_ne!(other, split_card);
    assert_eq!(
        [
            on(&state, id(&state, "1")),
            on(&state, split_card),
            on(&state, other)
        ],
        [30, 13, 5]
    );
    // The split cards of one ring are rejoined, but not those of another ring.
    merged(&mut state, "Robin", "1");
    assert_eq!(on(&state, id(&state, "1")), 43);
    let robin = state.need_ring("Robin").unwrap();
    assert_eq!(
        words(merge(&state, robin, id(&state, "1"))),
        "No split card of 1 is on the ring 'Robin'. Name the project it is with: there is \
         one on the ring 'Kite'."
    );
    assert_eq!(
        words(merge(&state, robin, id(&state, "2"))),
        "No split card of 2 is on the ring 'Robin'. See what is on the rings: homehook ring \
         list"
    );
}

#[test]
fn a_split_can_be_taken_from_a_card_on_another_ring() {
    let mut state = stash();
    let card = id(&state, "1");
    let event = take(&state, "Robin", &[card], at(1)).unwrap();
    apply(&mut state, &event);
    split_off(&mut state, "Kite", "1", 6);
    assert_eq!(on(&state, card), 42);
    assert_eq!(
        words(split(&state, "Robin", card, Strands(1), None, "", at(2))),
        "Card 1 is on the ring 'Robin'. Its thread needn't be split."
    );
}

#[test]
fn impossible_splits_are_refused() {
    let mut state = stash();
    let card = id(&state, "1");
    let no = |state: &State, card, strands| {
        words(split(
            state,
            "Robin",
            card,
            Strands(strands),
            None,
            "",
            at(2),
        ))
    };
    assert_eq!(
        no(&state, card, 49),
        "Card 1 has 8 lengths, less than 8 lengths 1 strand. Ask for no more than there is."
    );
    assert_eq!(
        no(&state, card, 0),
        "No amount of thread is given. Add --lengths N, --strands N or both"
    );
    assert!(no(&state, CardId(77), 1).starts_with("No card"));
    assert_eq!(
        words(split(&state, " ", card, Strands(1), None, "", at(2))),
        "A ring needs the name of its project."
    );
    let split_card = split_off(&mut state, "Robin", "1", 48);
    assert_eq!(on(&state, card), 0);
    assert_eq!(
        no(&state, split_card, 1),
        "Card 1@Robin is a split card itself. Split the card it came from."
    );
    let event = missing(&state, &[card], at(3)).unwrap();
    apply(&mut state, &event);
    let gone =
        "Card 1 is missing, last seen on hook A01. When it turns up, mark it as found first.";
    assert_eq!(no(&state, card, 1), gone);
    // Thread can't be wound onto it, either.
    let ring = state.need_ring("Robin").unwrap();
    assert_eq!(words(merge(&state, ring, card)), gone);
}

#[test]
fn a_ring_cannot_close_over_a_split_card() {
    let mut state = stash();
    let split_card = split_off(&mut state, "Robin", "1", 6);
    let ring = state.need_ring("Robin").unwrap().clone();
    let says = |place| {
        format!(
            "The ring 'Robin' can't close: 1@Robin ({place}) not accounted for. Rejoin the thread \
             with its card: homehook ring rejoin \"Robin\" 1"
        )
    };
    assert_eq!(
        words(close(&state, &ring, at(2))),
        says("on the ring 'Robin'")
    );
    // Left to hang, it would be forgotten.
    let event = missing(&state, &[split_card], at(2)).unwrap();
    apply(&mut state, &event);
    let event = found(&state, split_card, at(2)).unwrap();
    apply(&mut state, &event);
    assert_eq!(
        words(close(&state, &ring, at(3))),
        says("to hang, to be rejoined with 1")
    );
    merged(&mut state, "Robin", "1");
    assert!(state.card(split_card).is_none());
    let event = close(&state, state.need_ring("Robin").unwrap(), at(4)).unwrap();
    apply(&mut state, &event);
}

#[test]
fn a_found_split_card_rejoins_and_a_new_card_is_not_mistaken_for_it() {
    let mut state = stash();
    let split_card = split_off(&mut state, "Robin", "1", 6);
    let event = missing(&state, &[split_card], at(2)).unwrap();
    apply(&mut state, &event);
    let event = found(&state, split_card, at(3)).unwrap();
    apply(&mut state, &event);
    merged(&mut state, "Robin", "1");
    assert_eq!(on(&state, id(&state, "1")), 48);
    add_cards(&mut state, &["Cove:3"]);
    assert_ne!(id(&state, "3"), split_card);
    assert!(
        state
            .rings()
            .all(|ring| !ring.went_out.contains(&split_card))
    );
}

#[test]
fn thread_is_used_from_the_card_or_from_the_ring() {
    let mut state = stash();
    let (one, two) = (id(&state, "1"), id(&state, "2"));
    let event = use_thread(&state, None, one, Strands(7), None).unwrap();
    apply(&mut state, &event);
    assert_eq!(on(&state, one), 41);
    let split_card = split_off(&mut state, "Robin", "1", 6);
    let event = take(&state, "Robin", &[two], at(2)).unwrap();
    apply(&mut state, &event);
    let ring = state.need_ring("Robin").unwrap().clone();
    for (card, strands) in [(one, 6), (two, 8)] {
        let event = use_thread(&state, Some(&ring), card, Strands(strands), None).unwrap();
        apply(&mut state, &event);
    }
    assert_eq!(
        [one, two, split_card].map(|card| on(&state, card)),
        [35, 40, 0]
    );
    assert_eq!(
        words(use_thread(&state, Some(&ring), one, Strands(1), None)),
        "Card 1@Robin has 0 lengths, less than 1 strand. Ask for no more than there is."
    );
    // An empty split card is rejoined like any other.
    merged(&mut state, "Robin", "1");
    let ring = state.need_ring("Robin").unwrap().clone();
    assert_eq!(
        words(use_thread(&state, Some(&ring), one, Strands(1), None)),
        "Card 1 isn't on the ring 'Robin': it is at home on hook A01."
    );
    let event = missing(&state, &[one], at(3)).unwrap();
    apply(&mut state, &event);
    assert!(
        words(use_thread(&state, None, one, Strands(1), None)).starts_with("Card 1 is missing")
    );
}

#[test]
fn more_thread_than_can_be_counted_is_refused() {
    let mut state = stash();
    let card = id(&state, "1");
    split_off(&mut state, "Robin", "1", 6);
    let event = Event {
        act: Act::OrderFamilies,
        changes: vec![Change::Thread {
            card,
            lot: Lot::unknown(),
            part: ThreadPart::Strands,
            amount: AmountChange::Set {
                before: 42,
                after: u32::MAX.into(),
            },
        }],
    };
    apply(&mut state, &event);
    let ring = state.need_ring("Robin").unwrap();
    assert!(words(merge(&state, ring, card)).starts_with("Card 1 would have more thread"));
}

#[test]
fn putting_a_split_card_away_rejoins_it_in_the_same_event() {
    let mut state = stash();
    let (one, two) = (id(&state, "1"), id(&state, "2"));
    let split_card = split_off(&mut state, "Robin", "1", 6);
    let event = take(&state, "Robin", &[two], at(2)).unwrap();
    apply(&mut state, &event);
    let before = state.clone();
    let ring = state.need_ring("Robin").unwrap().clone();
    let event = give_back_all(&state, &ring, at(3)).unwrap();
    assert_eq!(
        event.act,
        Act::Return {
            ring: ring.id,
            cards: 1,
            rejoined: 1
        }
    );
    apply(&mut state, &event);
    assert!(state.card(split_card).is_none());
    assert_eq!((on(&state, one), on(&state, two)), (48, 48));
    // Nothing prevents closing the ring, and everything can be undone.
    assert!(close(&state, state.need_ring("Robin").unwrap(), at(4)).is_ok());
    let undo = Event {
        act: Act::Undo { seq: 1 },
        changes: inverse(&event.changes),
    };
    apply(&mut state, &undo);
    assert_eq!(state, before);
    let event = give_back(&state, &ring, &[split_card], at(3)).unwrap();
    apply(&mut state, &event);
    assert_eq!(on(&state, one), 48);
}

#[test]
fn split_cards_rejoin_a_card_returned_with_them_or_left_on_the_ring() {
    for all in [true, false] {
        let mut state = stash();
        let one = id(&state, "1");
        let split_card = split_off(&mut state, "Robin", "1", 6);
        let event = take(&state, "Robin", &[one], at(2)).unwrap();
        apply(&mut state, &event);
        let ring = state.need_ring("Robin").unwrap().clone();
        let event = match all {
            true => give_back_all(&state, &ring, at(3)),
            false => give_back(&state, &ring, &[split_card], at(3)),
        };
        apply(&mut state, &event.unwrap());
        assert_eq!((state.cards().len(), on(&state, one)), (2, 48));
        assert_eq!(state.card(one).unwrap().place.at.ring().is_none(), all);
    }
}

#[test]
fn a_split_card_whose_whole_card_is_not_there_stays_on_the_ring() {
    let mut state = stash();
    let (one, two) = (id(&state, "1"), id(&state, "2"));
    let split_card = split_off(&mut state, "Robin", "1", 6);
    for (project, card) in [("Kite", one), ("Robin", two)] {
        let event = take(&state, project, &[card], at(2)).unwrap();
        apply(&mut state, &event);
    }
    let ring = state.need_ring("Robin").unwrap().clone();
    let why = "The split card 1@Robin stays on the ring 'Robin': its thread belongs on 1, which \
               is on the ring 'Kite'. Put 1 away first, or rejoin them where they are: homehook \
               ring rejoin \"Robin\" \"1@Robin\"";
    assert_eq!(
        words(give_back(&state, &ring, &[two, split_card], at(3))),
        why
    );
    // If the whole ring is put away, the others leave it.
    let event = give_back_all(&state, &ring, at(3)).unwrap();
    apply(&mut state, &event);
    let left: Vec<_> = split_cards_that_stay(&state, &ring).collect();
    assert_eq!(
        (left[0].0.card.id, left[0].1.shown()),
        (split_card, why.to_owned())
    );
    assert!(state.card(two).unwrap().place.at.hook().is_some());
    assert_eq!(words(give_back_all(&state, &ring, at(4))), why);
    let event = missing(&state, &[one], at(5)).unwrap();
    apply(&mut state, &event);
    assert!(
        words(give_back_all(&state, &ring, at(6)))
            .ends_with("When 1 turns up, mark it as found first: homehook found \"1\"")
    );
}

#[test]
fn a_split_card_goes_from_ring_to_ring() {
    let mut state = stash();
    let split_card = split_off(&mut state, "Robin", "1", 6);
    let event = take(&state, "Kite", &[split_card], at(2)).unwrap();
    apply(&mut state, &event);
    assert_eq!(id(&state, "1@Kite"), split_card);
    // The ring it left no longer needs it; the one it is on does.
    assert!(close(&state, state.need_ring("Robin").unwrap(), at(3)).is_ok());
    assert!(close(&state, state.need_ring("Kite").unwrap(), at(3)).is_err());
}

#[test]
fn a_named_split_card_is_rejoined_alone() {
    let mut state = stash();
    let lost = split_off(&mut state, "Robin", "1", 6);
    let event = missing(&state, &[lost], at(2)).unwrap();
    apply(&mut state, &event);
    let split_card = split_off(&mut state, "Robin", "1", 7);
    let other = split_off(&mut state, "Kite", "1", 5);
    let robin = state.need_ring("Robin").unwrap().clone();
    // A named one on another ring isn't replaced by other split cards.
    assert!(words(merge(&state, &robin, other)).contains("on the ring 'Kite'"));
    let event = found(&state, lost, at(3)).unwrap();
    apply(&mut state, &event);
    let event = merge(&state, &robin, lost).unwrap();
    apply(&mut state, &event);
    assert!(state.card(lost).is_none() && state.card(split_card).is_some());
    assert_eq!(on(&state, id(&state, "1")), 36);
}

#[test]
fn a_missing_split_card_is_not_rejoined() {
    let mut state = stash();
    let lost = split_off(&mut state, "Robin", "1", 6);
    let event = missing(&state, &[lost], at(2)).unwrap();
    apply(&mut state, &event);
    let robin = state.need_ring("Robin").unwrap().clone();
    let whole = id(&state, "1");
    for card in [lost, whole] {
        let why = words(merge(&state, &robin, card));
        assert!(why.contains("When it turns up"), "{why}");
    }
    // Another one at hand is.
    split_off(&mut state, "Robin", "1", 7);
    let event = merge(&state, &robin, whole).unwrap();
    apply(&mut state, &event);
    assert_eq!(on(&state, whole), 42);
    let event = found(&state, lost, at(3)).unwrap();
    apply(&mut state, &event);
    let event = merge(&state, &robin, whole).unwrap();
    apply(&mut state, &event);
    assert_eq!(on(&state, whole), 48);
}

fn named(name: &str) -> Lot {
    Lot(Label::new(name).unwrap())
}

/// Card 1 on its hook, with 12 strands of lot K7 and 30 of V1.
fn two_lots() -> State {
    let mut state = wall(1, 3, 1);
    let list = [("K7", 2.0), ("V1", 5.0)].map(|(lot, lengths)| {
        let mut row = crate::stash::testing::row("Cove:1@A01");
        row.amount = Some(crate::stash::command::import::Amount::Lengths(lengths));
        row.dye_lot = Some(lot.to_owned());
        row
    });
    let event = crate::stash::testing::read(&state, &list).event.unwrap();
    apply(&mut state, &event);
    state
}

/// The strands of each lot of a card.
fn lots(state: &State, card: CardId) -> Vec<(String, u32)> {
    let lots = state.card(card).unwrap().thread.lots();
    lots.map(|(lot, of)| (lot.to_string(), of.strands.0))
        .collect()
}

fn lot(name: &str, strands: u32) -> (String, u32) {
    (name.to_owned(), strands)
}

#[test]
fn a_split_card_keeps_its_lots_and_returns_each_to_its_own() {
    let mut state = two_lots();
    let whole = id(&state, "1");
    // The smallest lot that suffices, then the requested lot, then everything left.
    let split_card = split_off(&mut state, "Robin", "1", 14);
    assert_eq!(lots(&state, split_card), [lot("V1", 14)]);
    let k7 = named("K7");
    let event = split(&state, "Robin", whole, Strands(5), Some(&k7), "", at(2)).unwrap();
    apply(&mut state, &event);
    assert_eq!(lots(&state, split_card), [lot("K7", 5), lot("V1", 14)]);
    let event = split(&state, "Robin", whole, Strands(20), None, "", at(2)).unwrap();
    apply(&mut state, &event);
    assert_eq!(lots(&state, split_card), [lot("K7", 12), lot("V1", 27)]);
    assert_eq!(lots(&state, whole), [lot("K7", 0), lot("V1", 3)]);
    merged(&mut state, "Robin", "1");
    assert_eq!(lots(&state, whole), [lot("K7", 12), lot("V1", 30)]);
    assert_eq!(state.cards().len(), 1);
}

#[test]
fn used_thread_names_its_lots() {
    let mut state = two_lots();
    let card = id(&state, "1");
    let used = |state: &mut State, strands, of: Option<&Lot>| {
        let event = use_thread(state, None, card, Strands(strands), of).unwrap();
        let before = state.clone();
        apply(state, &event);
        crate::text::history::act(&before, &event.act)
    };
    let v1 = named("V1");
    assert_eq!(
        used(&mut state, 6, Some(&v1)),
        "Used 1 length of card 1, lot V1"
    );
    assert_eq!(used(&mut state, 6, None), "Used 1 length of card 1, lot K7");
    assert_eq!(
        used(&mut state, 25, None),
        "Used 4 lengths 1 strand of card 1, lot K7, V1"
    );
    assert_eq!(lots(&state, card), [lot("K7", 0), lot("V1", 5)]);
    // The used-up lot can't give any more.
    let k7 = named("K7");
    assert_eq!(
        words(use_thread(&state, None, card, Strands(1), Some(&k7))),
        "Card 1 has 0 lengths, less than 1 strand. Ask for no more than there is."
    );
    let w2 = named("W2");
    assert_eq!(
        words(use_thread(&state, None, card, Strands(1), Some(&w2))),
        "Card 1 has no lot W2. It has K7, V1."
    );
}

#[test]
fn a_project_uses_the_lot_that_was_cut_for_it() {
    let mut state = projects::stash(&[("1", 12, 0)]);
    let card = id(&state, "1");
    let bought = buy::said(&state, "1=1:V1").unwrap();
    let event = buy::bought(&state, &[bought], at(1)).unwrap();
    apply(&mut state, &event);
    projects::give_key(&mut state, "Harbour", &[("1", 30)]);
    let cut = Cutting {
        card,
        lot: named("V1"),
        lengths: 5,
    };
    let event = fetch(&state, "Harbour", &[card], &[cut], at(2)).unwrap();
    apply(&mut state, &event);
    assert_eq!(lots(&state, card), [lot("", 12), lot("V1", 30)]);
    // The other lot is smaller, and would suffice.
    projects::use_up(&mut state, "1", 6);
    assert_eq!(lots(&state, card), [lot("", 12), lot("V1", 24)]);
    projects::use_up(&mut state, "1", 20);
    assert_eq!(lots(&state, card), [lot("", 12), lot("V1", 4)]);
}

#[test]
fn rejoining_lists_a_lot_again_that_the_card_no_longer_listed() {
    let mut state = two_lots();
    let whole = id(&state, "1");
    split_off(&mut state, "Robin", "1", 12);
    let change = Change::Lot {
        card: whole,
        lot: named("K7"),
        before: Some(Label::default()),
        after: None,
    };
    let event = Event {
        act: Act::ChangeCard { card: whole },
        changes: vec![change],
    };
    apply(&mut state, &event);
    merged(&mut state, "Robin", "1");
    assert_eq!(lots(&state, whole), [lot("K7", 12), lot("V1", 30)]);
}

/// What a card has of a lot: strands, centimetres of a part-used skein, skeins.
fn has(state: &State, lot: &str) -> (u32, u32, u32) {
    let of = state
        .card(id(state, "1"))
        .unwrap()
        .thread
        .lot(&named(lot))
        .cloned();
    let of = of.unwrap_or_default();
    (of.strands.0, of.part_cm, of.skeins)
}

#[test]
fn cutting_starts_with_the_part_used_skein_and_leaves_a_part_used_one() {
    let mut state = two_lots();
    let card = id(&state, "1");
    let k7 = named("K7");
    let said = Counted {
        part_cm: Some(350),
        skeins: Some(2),
        ..Counted::default()
    };
    let event = count(&state, card, said, Some(&k7)).unwrap().unwrap();
    apply(&mut state, &event);
    assert_eq!(has(&state, "K7"), (12, 350, 2));
    let does = |state: &mut State, amount, lot: Option<&Lot>| {
        let event = cut(state, card, amount, lot).unwrap();
        apply(state, &event);
        has(state, "K7")
    };
    assert_eq!(does(&mut state, CutAmount::Lengths(2), None), (24, 150, 2));
    // One from the part-used skein, and three from a new one.
    assert_eq!(does(&mut state, CutAmount::Lengths(4), None), (48, 550, 1));
    assert_eq!(
        does(&mut state, CutAmount::Skeins(1), Some(&k7)),
        (96, 550, 0)
    );
    assert_eq!(
        words(cut(&state, card, CutAmount::Lengths(6), None)),
        "Card 1 has uncut thread for 5 lengths, not 6 lengths, in one dye lot. Cut less, or count what is \
         beside it first."
    );
    let code = |amount, lot: Option<&Lot>| cut(&state, card, amount, lot).unwrap_err().to_string();
    assert_eq!(
        code(CutAmount::Lengths(1), Some(&named("V1"))),
        "too_little"
    );
    assert_eq!(code(CutAmount::Skeins(0), None), "no_thread");
}

#[test]
fn a_count_applies_to_one_lot() {
    let mut state = two_lots();
    let card = id(&state, "1");
    let said = |strands| Counted {
        strands: Some(Strands(strands)),
        ..Counted::default()
    };
    assert_eq!(
        count(&state, card, said(5), None).unwrap_err().to_string(),
        "which_lot"
    );
    let w2 = named("W2");
    let event = count(&state, card, said(5), Some(&w2)).unwrap().unwrap();
    apply(&mut state, &event);
    assert_eq!(has(&state, "W2"), (5, 0, 0));
    assert_eq!(has(&state, "K7"), (12, 0, 0));
    assert_eq!(count(&state, card, said(5), Some(&w2)), Ok(None));
    let nothing = count(&state, card, Counted::default(), None);
    assert_eq!(nothing, Err(Refusal::NoThread));
    assert_eq!(lot_named(&state, card, "k7"), Ok(named("K7")));
    assert_eq!(lot_named(&state, card, "X9"), Ok(named("X9")));
}

/// Something done to the thread of two colours, one of them a perle.
#[derive(Clone, Debug)]
enum Deed {
    Import(usize, usize, u8),
    Buy(usize, usize, u8),
    Take(usize),
    PutAway,
    Use(usize, u8),
    Split(usize, u8),
    Rejoin(usize),
    Cut(usize, u8),
    Undo,
    Redo,
}

const COLOURS: [&str; 2] = ["Heath:1", "Moor:1"];
const DYE_LOTS: [&str; 3] = ["K7", "V1", ""];

/// Centimetres of single strand, by colour, kind of thread and lot.
type Single = BTreeMap<(String, String, String), i64>;

fn single(state: &State) -> Single {
    let mut sums = Single::new();
    for kept in state.cards() {
        let put_up = state.put_up(&kept.card);
        for (lot, of) in kept.thread.lots() {
            let cut = i64::from(of.strands.0) * i64::from(kept.card.cut_cm);
            let skeins = i64::from(of.skeins) * i64::from(put_up.skein_cm());
            let uncut = (i64::from(of.part_cm) + skeins) * i64::from(put_up.in_length());
            *sums.entry(entry(state, kept, lot)).or_default() += cut + uncut;
        }
    }
    sums.retain(|_, sum| *sum != 0);
    sums
}

fn entry(state: &State, kept: &CardState, lot: &Lot) -> (String, String, String) {
    let kind = format!("{:?}", state.put_up(&kept.card).kind());
    (state.range_name(kept).to_owned(), kind, lot.to_string())
}

impl Deed {
    fn event(&self, state: &State) -> Result<Event, Refusal> {
        let card = |at: usize| id(state, COLOURS[at]);
        let ring = || state.need_ring("Fox");
        match *self {
            Self::Import(colour, lot, lengths) => {
                let mut row = crate::stash::testing::row(COLOURS[colour]);
                row.amount = Some(Amount::Lengths(f64::from(lengths)));
                row.dye_lot = Some(DYE_LOTS[lot].to_owned());
                let terms = Terms {
                    add: true,
                    ..Terms::default()
                };
                let outcome = card_list(state, &[row], Vec::new(), &terms, at(1))?;
                outcome.event.ok_or(Refusal::NothingToDo)
            }
            Self::Buy(colour, lot, skeins) => {
                let words = format!("{}={skeins}:{}", COLOURS[colour], DYE_LOTS[lot]);
                buy::bought(state, &[buy::said(state, &words)?], at(1))
            }
            Self::Take(colour) => ring::take(state, "Fox", &[card(colour)], at(1)),
            Self::PutAway => ring::give_back_all(state, ring()?, at(1)),
            Self::Use(colour, strands) => {
                use_thread(state, None, card(colour), Strands(strands.into()), None)
            }
            Self::Split(colour, strands) => {
                let amount = Strands(strands.into());
                split(state, "Fox", card(colour), amount, None, "", at(1))
            }
            Self::Rejoin(colour) => merge(state, ring()?, card(colour)),
            Self::Cut(colour, lengths) => cut(
                state,
                card(colour),
                CutAmount::Lengths(lengths.into()),
                None,
            ),
            Self::Undo | Self::Redo => Err(Refusal::NothingToDo),
        }
    }

    /// What it adds or removes, by its own definition and not by the event.
    fn brings(&self, before: &State, event: &Event) -> Single {
        let card = |at: usize| crate::stash::testing::kept(before, COLOURS[at]);
        let mut brings = Single::new();
        match *self {
            Self::Import(colour, lot, lengths) => {
                let kept = card(colour);
                let per_length = i64::from(before.put_up(&kept.card).in_length()) * 100;
                let lot = named(DYE_LOTS[lot]);
                brings.insert(entry(before, kept, &lot), i64::from(lengths) * per_length);
            }
            Self::Buy(colour, lot, skeins) => {
                let kept = card(colour);
                let put_up = before.put_up(&kept.card);
                let skein = i64::from(put_up.skein_cm()) * i64::from(put_up.in_length());
                let lot = named(DYE_LOTS[lot]);
                brings.insert(entry(before, kept, &lot), i64::from(skeins) * skein);
            }
            Self::Use(colour, strands) => {
                let kept = card(colour);
                // Only the draw chooses the lots, but its sum is known.
                let drawn = kept.thread.draw(Strands(strands.into()), None).unwrap();
                assert!(matches!(event.act, Act::Use { .. }));
                for (lot, of) in drawn {
                    brings.insert(entry(before, kept, &lot), -i64::from(of.0) * 100);
                }
            }
            _ => {}
        }
        brings
    }
}

fn a_deed() -> impl Strategy<Value = Deed> {
    let (colour, lot) = (0..2_usize, 0..3_usize);
    prop_oneof![
        3 => (colour.clone(), 0..2_usize, 1..9_u8).prop_map(|(c, l, n)| Deed::Import(c, l, n)),
        3 => (colour.clone(), lot, 1..4_u8).prop_map(|(c, l, n)| Deed::Buy(c, l, n)),
        2 => colour.clone().prop_map(Deed::Take),
        1 => Just(Deed::PutAway),
        3 => (colour.clone(), 1..40_u8).prop_map(|(c, n)| Deed::Use(c, n)),
        3 => (colour.clone(), 1..20_u8).prop_map(|(c, n)| Deed::Split(c, n)),
        2 => colour.clone().prop_map(Deed::Rejoin),
        2 => (colour, 1..20_u8).prop_map(|(c, n)| Deed::Cut(c, n)),
        2 => Just(Deed::Undo),
        1 => Just(Deed::Redo),
    ]
}

proptest! {
    #![proptest_config(crate::testing::one_case_in(4))]

    #[test]
    fn thread_is_conserved_by_lot_and_kind(deeds in prop::collection::vec(a_deed(), 1..40)) {
        let mut state = wall(1, 3, 1);
        crate::stash::testing::add_cards(&mut state, &["Heath:1@A01", "Moor:1"]);
        let perle = range::PutUpSaid {
            kind: Some(range::Kind::Perle),
            size: Some(5),
            ..Default::default()
        };
        let event = range::put_up(&state, "Moor", &perle).unwrap().unwrap();
        apply(&mut state, &event);
        let mut book = single(&state);
        let mut history = History::default();
        let (mut done, mut undone) = (Vec::new(), Vec::new());
        for (seq, deed) in (1..).zip(deeds) {
            let (event, after) = match deed {
                Deed::Undo => match (history.undo(), done.pop()) {
                    (Ok(event), Some(earlier)) => {
                        undone.push(book.clone());
                        (event, earlier)
                    }
                    _ => continue,
                },
                Deed::Redo => match (history.redo(), undone.pop()) {
                    (Ok(event), Some(later)) => {
                        done.push(book.clone());
                        (event, later)
                    }
                    _ => continue,
                },
                ref deed => {
                    let Ok(event) = deed.event(&state) else { continue };
                    let mut after = book.clone();
                    for (entry, more) in deed.brings(&state, &event) {
                        *after.entry(entry).or_default() += more;
                    }
                    done.push(book.clone());
                    undone.clear();
                    (event, after)
                }
            };
            apply(&mut state, &event);
            history.note(seq, event);
            book = after;
            book.retain(|_, sum| *sum != 0);
            prop_assert_eq!(single(&state), book.clone());
        }
    }
}
