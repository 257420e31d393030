use super::{Amount, *};
use crate::model::card::{CardFamily, WallOrder};
use crate::model::label::Label;
use crate::model::thread::{Lot, Strands};
use crate::model::whereabouts::Whereabouts;
use crate::stash::command::board::{Unhang, block};
use crate::stash::command::range::want;
use crate::stash::command::rehang::{self, HangStep};
use crate::stash::command::{ring, thread};
use crate::stash::event::Event;
use crate::stash::event::inverse;
use crate::stash::refusal::RowFault;
use crate::stash::testing::{
    GREEN, RED, Shown as _, add_cards, apply, at, families, home, id, kept, place, read, row, rows,
    wall,
};
use crate::text::refusal::row_fault;

/// Lines and reasons. The few texts are leaked, so that they can be compared with literals.
fn reasons(outcome: &Outcome) -> Vec<(u64, &'static str)> {
    let rejected = outcome.rejected.iter();
    rejected
        .map(|row| (row.line, &*row_fault(&row.reason).leak()))
        .collect()
}

#[test]
fn a_new_list_adds_cards_on_the_hooks_it_names() {
    let mut state = wall(1, 3, 1);
    let list = rows(&["701@A02 lamp black", "9"]);
    let outcome = read(&state, &list);
    assert_eq!(
        (outcome.added, outcome.changed, outcome.usual_amount),
        (2, 0, 2)
    );
    apply(&mut state, &outcome.event.unwrap());
    assert_eq!(home(&state, "701").as_deref(), Some("A02"));
    assert_eq!(home(&state, "9"), None);
    assert_eq!(place(&state, "9"), Whereabouts::Unhung);
    let card = kept(&state, "701");
    assert_eq!(card.card.name.as_str(), "lamp black");
    assert_eq!(card.strands(), Strands(48));
    assert_eq!(state.range_name(card), RANGE_WITHOUT_NAME);
}

#[test]
fn importing_a_list_again_changes_nothing() {
    let mut state = wall(1, 3, 1);
    let mut list = rows(&["701@A02 lamp black", "Cove:9"]);
    list[0].colour = Some(RED);
    list[1].family = Some("warm".into());
    list[1].amount = Some(Amount::Skeins(0.5));
    list[0].range = Some("Cove".into());
    let event = read(&state, &list).event.unwrap();
    apply(&mut state, &event);
    let again = read(&state, &list);
    assert_eq!((again.added, again.changed), (0, 0));
    assert_eq!(again.event, None);
}

#[test]
fn a_row_changes_only_the_values_it_has() {
    let mut state = wall(1, 3, 1);
    let mut list = rows(&["9@A01 moss"]);
    list[0].note = Some("gift".into());
    list[0].uncut = Some(2);
    let event = read(&state, &list).event.unwrap();
    apply(&mut state, &event);
    let mut list = rows(&["9 dark moss"]);
    list[0].amount = Some(Amount::Lengths(2.5));
    let outcome = read(&state, &list);
    assert_eq!(
        (outcome.added, outcome.changed, outcome.usual_amount),
        (0, 1, 0)
    );
    apply(&mut state, &outcome.event.unwrap());
    let card = kept(&state, "9");
    assert_eq!(card.card.name.as_str(), "dark moss");
    assert_eq!(card.card.note.as_str(), "gift");
    assert_eq!(card.skeins(), 2);
    assert_eq!(card.strands(), Strands(15));
    assert_eq!(home(&state, "9").as_deref(), Some("A01"));
}

#[test]
fn rows_with_an_impossible_hook_are_rejected_with_the_reason() {
    let mut state = wall(1, 3, 1);
    add_cards(&mut state, &["1@A01"]);
    let event = block(&state, "A03", "bracket", Unhang::Refused, at(0)).unwrap();
    apply(&mut state, &event);
    let outcome = read(
        &state,
        &rows(&["2@B07", "3@A03", "4@A01", "5@A02", "6@A02", "7"]),
    );
    assert_eq!(
        reasons(&outcome),
        [
            (2, "there is no hook B07. 'wall' runs from A01 to A03."),
            (3, "hook A03 is blocked (bracket)."),
            (4, "hook A01 is full: 1 belongs there and it has 1 place."),
            (6, "hook A02 is full: 5 belongs there and it has 1 place."),
        ]
    );
    assert_eq!(outcome.added, 2);
    apply(&mut state, &outcome.event.unwrap());
}

#[test]
fn a_number_counts_once_in_a_list_regardless_of_case() {
    let state = wall(1, 3, 1);
    let outcome = read(&state, &rows(&["B5", "b5", "Sandbank:B5", "B5"]));
    assert_eq!(
        reasons(&outcome),
        [
            (3, "number b5 of 'Thread' is on line 2 already."),
            (5, "number B5 of 'Thread' is on line 2 already."),
        ]
    );
    assert_eq!(outcome.added, 2);
}

#[test]
fn a_number_in_different_case_means_the_existing_card() {
    let mut state = wall(1, 3, 1);
    add_cards(&mut state, &["B5"]);
    let outcome = read(&state, &rows(&["b5 moss"]));
    assert_eq!((outcome.added, outcome.changed), (0, 1));
    apply(&mut state, &outcome.event.unwrap());
    assert_eq!(kept(&state, "b5").card.number.as_str(), "B5");
}

#[test]
fn two_cards_can_swap_hooks_through_a_list() {
    let mut state = wall(1, 2, 1);
    add_cards(&mut state, &["1@A01", "2@A02"]);
    let outcome = read(&state, &rows(&["1@A02", "2@A01"]));
    assert_eq!((outcome.changed, outcome.rejected.len()), (2, 0));
    apply(&mut state, &outcome.event.unwrap());
    assert_eq!(home(&state, "1").as_deref(), Some("A02"));
    assert_eq!(home(&state, "2").as_deref(), Some("A01"));
    let hook = state.find_hook("A01").unwrap();
    assert_eq!(place(&state, "2"), Whereabouts::Hook { hook });
}

#[test]
fn a_card_whose_row_is_rejected_keeps_its_hook() {
    let mut state = wall(1, 2, 1);
    add_cards(&mut state, &["1@A01", "2@A02"]);
    // 1 can't go to 2's hook, so it stays, and 3 can't have its hook.
    let outcome = read(&state, &rows(&["1@A02", "3@A01", "4"]));
    assert_eq!(
        reasons(&outcome),
        [
            (2, "hook A02 is full: 2 belongs there and it has 1 place."),
            (3, "hook A01 is full: 1 belongs there and it has 1 place."),
        ]
    );
    apply(&mut state, &outcome.event.unwrap());
    assert_eq!(home(&state, "1").as_deref(), Some("A01"));
}

#[test]
fn a_card_on_a_ring_gets_its_hook_and_stays_on_the_ring() {
    let mut state = wall(1, 2, 1);
    add_cards(&mut state, &["1@A01"]);
    let event = ring::take(&state, "Robin", &[id(&state, "1")], at(1)).unwrap();
    apply(&mut state, &event);
    add_cards(&mut state, &["1@A02"]);
    assert_eq!(home(&state, "1").as_deref(), Some("A02"));
    assert!(place(&state, "1").ring().is_some());
}

#[test]
fn rows_without_a_range_go_to_the_only_one_or_the_requested_one() {
    let mut state = wall(1, 3, 1);
    add_cards(&mut state, &["Cove:1"]);
    add_cards(&mut state, &["2"]);
    assert_eq!(state.range_name(kept(&state, "2")), "Cove");
    let terms = Terms {
        range: Some("Sandbank".into()),
        ..Terms::default()
    };
    let outcome = card_list(&state, &rows(&["3"]), Vec::new(), &terms, at(0)).unwrap();
    apply(&mut state, &outcome.event.unwrap());
    assert_eq!(state.range_name(kept(&state, "3")), "Sandbank");
    // With two ranges, none is implied.
    add_cards(&mut state, &["4", "cove:5"]);
    assert_eq!(state.range_name(kept(&state, "4")), RANGE_WITHOUT_NAME);
    assert_eq!(state.ranges().len(), 3);
}

#[test]
fn a_known_range_before_the_number_is_read_from_its_cell() {
    let mut state = wall(1, 1, 1);
    add_cards(&mut state, &["Marl:9", "Sandbank:1", "Sandbank:cove"]);
    let numbered = |line, number: &str, range: Option<&str>| CardRow {
        line,
        number: number.to_owned(),
        range: range.map(str::to_owned),
        ..CardRow::default()
    };
    let list = [
        numbered(2, "marl 310", None),
        numbered(3, "Sandbank:7", Some("sandbank")),
        numbered(4, "Sandbank 8", Some("Marl")),
        // No known range stands before these.
        numbered(5, "Heath 310", Some("Sandbank")),
        numbered(6, "Sandbank", Some("Sandbank")),
        numbered(7, "Sandbank-5", Some("Sandbank")),
        numbered(8, "Marl:310", None),
    ];
    let outcome = read(&state, &list);
    assert_eq!(
        reasons(&outcome),
        [
            (
                4,
                "the range is 'Marl', but the number begins with 'Sandbank'. Correct one of them."
            ),
            (8, "number 310 of 'Marl' is on line 2 already."),
        ]
    );
    assert_eq!(outcome.rejected[0].reason.to_string(), "two_ranges");
    apply(&mut state, &outcome.event.unwrap());
    for name in [
        "Marl:310",
        "Sandbank:7",
        "Sandbank:Heath 310",
        "Sandbank:Sandbank",
        "Sandbank:Sandbank-5",
    ] {
        assert!(state.find_card(name).is_ok(), "{name}");
    }
    // A number that the stash has as it is written stays whole.
    add_cards(&mut state, &["Heath:1"]);
    let outcome = read(&state, &[numbered(2, "Heath 310", Some("Sandbank"))]);
    assert_eq!((outcome.added, outcome.rejected.len()), (0, 0));
    // A range that is given need not be in the stash.
    let terms = Terms {
        range: Some("Lantern Hill".to_owned()),
        ..Terms::default()
    };
    let list = [numbered(2, "Lantern Hill 12", None)];
    let event = card_list(&state, &list, Vec::new(), &terms, at(0))
        .unwrap()
        .event;
    apply(&mut state, &event.unwrap());
    assert!(state.find_card("Lantern Hill:12").is_ok());
}

#[test]
fn a_rejected_row_adds_no_range_and_no_family() {
    let mut state = wall(1, 1, 1);
    add_cards(&mut state, &["1@A01"]);
    let mut list = rows(&["Cove:2@A01", "Mi:ll:3", "4"]);
    list[0].family = Some("warm".into());
    list[1].range = Some("Mi:ll".into());
    let outcome = read(&state, &list);
    assert_eq!(outcome.rejected.len(), 2);
    assert!(matches!(
        outcome.rejected[1].reason,
        RowFault::RangeColon(_)
    ));
    apply(&mut state, &outcome.event.unwrap());
    assert_eq!(state.ranges().len(), 1);
    assert_eq!(families(&state), [""; 0]);
}

#[test]
fn new_families_are_ordered_as_hung_then_as_listed_then_as_worked_out() {
    let mut state = wall(1, 5, 1);
    let mut list = rows(&["1", "2", "3@A04", "4@A02", "5", "6@A05"]);
    let families_said = [
        None,
        Some("late"),
        Some("right"),
        Some("left"),
        None,
        Some("right"),
    ];
    for (row, family) in list.iter_mut().zip(families_said) {
        row.family = family.map(str::to_owned);
    }
    list[0].colour = Some(GREEN);
    list[4].colour = Some(RED);
    let event = read(&state, &list).event.unwrap();
    apply(&mut state, &event);
    let order = families(&state);
    assert_eq!(order[..3], ["left", "right", "late"]);
    let worked_out = [RED, GREEN].map(crate::engine::colour_families::family_of);
    let mut expected = worked_out;
    expected.sort();
    assert_eq!(order[3..], expected.map(|family| family.name()));
    assert!(matches!(
        kept(&state, "1").card.family,
        CardFamily::WorkedOut(_)
    ));
    assert!(matches!(
        kept(&state, "2").card.family,
        CardFamily::Chosen(_)
    ));
}

#[test]
fn a_worked_out_family_follows_the_colour_and_a_chosen_one_stays() {
    let mut state = wall(1, 3, 1);
    let mut list = rows(&["1", "2"]);
    list[0].colour = Some(RED);
    list[1].colour = Some(RED);
    list[1].family = Some("warm".into());
    let event = read(&state, &list).event.unwrap();
    apply(&mut state, &event);
    list[0].colour = Some(GREEN);
    list[1].colour = Some(GREEN);
    list[1].family = None;
    let event = read(&state, &list).event.unwrap();
    apply(&mut state, &event);
    let name = crate::engine::colour_families::family_of(GREEN).name();
    assert_eq!(state.family_name(kept(&state, "1")), name);
    assert_eq!(state.family_name(kept(&state, "2")), "warm");
}

#[test]
fn amounts_are_exact_to_the_strand() {
    let mut state = wall(1, 3, 1);
    let mut list = rows(&["1", "2", "3", "4"]);
    list[0].amount = Some(Amount::Skeins(1.5));
    list[1].amount = Some(Amount::Lengths(7.0 + 2.0 / 6.0));
    list[2].amount = Some(Amount::Lengths(0.0));
    list[3].amount = Some(Amount::Lengths(f64::INFINITY));
    let outcome = read(&state, &list);
    assert_eq!(outcome.usual_amount, 0);
    assert_eq!(
        reasons(&outcome),
        [(5, "the amount of thread isn't a number that can be kept.")]
    );
    apply(&mut state, &outcome.event.unwrap());
    let strands = ["1", "2", "3"].map(|name| kept(&state, name).strands());
    assert_eq!(strands, [Strands(72), Strands(44), Strands(0)]);
}

#[test]
fn amounts_are_added_if_the_terms_say_so() {
    let mut state = wall(1, 3, 1);
    let mut list = rows(&["1@A01 moss", "2", "3"]);
    list[0].uncut = Some(2);
    let event = read(&state, &list).event.unwrap();
    apply(&mut state, &event);
    let terms = Terms {
        add: true,
        ..Terms::default()
    };
    let mut list = rows(&["1", "2 rush", "3", "4", "5"]);
    list[0].amount = Some(Amount::Lengths(2.5));
    list[0].uncut = Some(3);
    list[1].amount = Some(Amount::Skeins(1.0));
    list[4].amount = Some(Amount::Skeins(2.0));
    let outcome = card_list(&state, &list, Vec::new(), &terms, at(0)).unwrap();
    assert_eq!((outcome.added, outcome.changed), (2, 2));
    let [(line, reason)] = reasons(&outcome)[..] else {
        panic!("{:?}", outcome.rejected);
    };
    assert_eq!(line, 4);
    assert!(reason.contains("no amount to add"), "{reason}");
    apply(&mut state, &outcome.event.unwrap());
    let strands = ["1", "2", "3", "4", "5"].map(|name| kept(&state, name).strands());
    assert_eq!(strands, [63, 96, 48, 48, 96].map(Strands));
    assert_eq!(kept(&state, "1").skeins(), 5);
    assert_eq!(kept(&state, "1").card.name.as_str(), "moss");
    list[0].amount = None;
    list[0].uncut = Some(u32::MAX);
    let outcome = card_list(&state, &list[..1], Vec::new(), &terms, at(0)).unwrap_err();
    assert!(outcome.shown().contains("more thread"), "{outcome:?}");
}

#[test]
fn a_strict_list_with_one_bad_row_is_refused_entirely() {
    let state = wall(1, 1, 1);
    let terms = Terms {
        strict: true,
        ..Terms::default()
    };
    let list = rows(&["1@A01", "2@A01"]);
    let refusal = card_list(&state, &list, Vec::new(), &terms, at(0)).unwrap_err();
    assert_eq!(
        refusal.shown(),
        "Nothing changed: 1 of 2 rows can't be taken. The first is line 3: hook A01 is full: 1 \
         belongs there and it has 1 place."
    );
}

#[test]
fn a_list_without_an_acceptable_row_is_refused() {
    let state = wall(1, 1, 1);
    let refused = |rows: &[CardRow], unreadable| {
        card_list(&state, rows, unreadable, &Terms::default(), at(0))
            .unwrap_err()
            .to_string()
    };
    assert_eq!(refused(&[], Vec::new()), "no_rows");
    assert_eq!(refused(&[row("1@Z99")], Vec::new()), "rows_rejected");
    let unreadable = Rejected {
        line: 2,
        reason: RowFault::Unread("torn".into()),
        number: None,
    };
    assert_eq!(refused(&[], vec![unreadable]), "rows_rejected");
}

#[test]
fn a_row_that_names_its_cards_current_hook_has_priority() {
    let mut state = wall(1, 2, 1);
    add_cards(&mut state, &["1@A01"]);
    let outcome = read(&state, &rows(&["2@A01", "1@A01 moss"]));
    assert_eq!(
        reasons(&outcome),
        [(2, "hook A01 is full: 1 belongs there and it has 1 place.")]
    );
    assert_eq!(outcome.changed, 1);
}

#[test]
fn families_of_a_later_list_are_ordered_as_on_the_wall() {
    let mut state = wall(1, 2, 1);
    add_cards(&mut state, &["1@A02", "2@A01"]);
    let mut list = rows(&["1", "2"]);
    list[0].family = Some("right".into());
    list[1].family = Some("left".into());
    let event = read(&state, &list).event.unwrap();
    apply(&mut state, &event);
    assert_eq!(families(&state), ["left", "right"]);
}

#[test]
fn a_card_in_the_hand_is_hung_on_the_hook_in_its_row() {
    let mut state = wall(1, 2, 1);
    add_cards(&mut state, &["1@A01"]);
    let aside = HangStep {
        card: id(&state, "1"),
        from: None,
        to: None,
    };
    let event = rehang::step(&state, &aside, at(1)).unwrap();
    apply(&mut state, &event);
    add_cards(&mut state, &["1@A02"]);
    let hook = state.find_hook("A02").unwrap();
    assert_eq!(place(&state, "1"), Whereabouts::Hook { hook });
}

#[test]
fn the_requested_range_needs_a_name_without_a_colon() {
    let state = wall(1, 1, 1);
    for range in [" ", "Mi:ll"] {
        let terms = Terms {
            range: Some(range.into()),
            ..Terms::default()
        };
        let refusal = card_list(&state, &rows(&["1"]), Vec::new(), &terms, at(0)).unwrap_err();
        assert_eq!(refusal.shown(), "A range needs a name, without a colon.");
    }
}

#[test]
fn the_first_hung_cards_reveal_the_order_of_the_wall() {
    let order = |hook_names: [&str; 4]| {
        let mut state = wall(1, 5, 1);
        let numbers = ["1", "2", "3", "4"];
        let mut list = rows(
            &std::array::from_fn::<_, 4, _>(|at| format!("{}@{}", numbers[at], hook_names[at]))
                .each_ref()
                .map(String::as_str),
        );
        for (row, colour) in list.iter_mut().zip([RED, GREEN, RED, GREEN]) {
            row.colour = Some(colour);
        }
        let event = read(&state, &list).event.unwrap();
        apply(&mut state, &event);
        let plans = rehang::plans(&state).unwrap();
        assert_eq!(plans[1].touched, 0, "{hook_names:?}");
        state.order()
    };
    assert_eq!(order(["A01", "A02", "A03", "A04"]), WallOrder::Number);
    assert_eq!(order(["A01", "A03", "A02", "A04"]), WallOrder::Family);
}

/// A row with a number, an amount in lengths, and a lot.
fn of_lot(line: u64, number: &str, lengths: f64, lot: Option<&str>) -> CardRow {
    CardRow {
        line,
        amount: Some(Amount::Lengths(lengths)),
        dye_lot: lot.map(str::to_owned),
        ..row(number)
    }
}

fn add(state: &State, rows: &[CardRow]) -> Outcome {
    let terms = Terms {
        add: true,
        ..Terms::default()
    };
    card_list(state, rows, Vec::new(), &terms, at(0)).unwrap()
}

/// The lots of a card: their names, strands and uncut skeins.
fn lots(state: &State, name: &str) -> Vec<(String, u32, u32)> {
    let kept = kept(state, name);
    let lots = kept.thread.lots();
    lots.map(|(lot, of)| (lot.to_string(), of.strands.0, of.skeins))
        .collect()
}

fn lot(name: &str, strands: u32, skeins: u32) -> (String, u32, u32) {
    (name.to_owned(), strands, skeins)
}

#[test]
fn a_purchase_of_another_lot_is_added_to_that_lot() {
    let mut state = wall(1, 1, 1);
    let first = read(&state, &[of_lot(2, "1", 8.0, Some("K7"))]);
    apply(&mut state, &first.event.unwrap());
    let mut skein = row("1");
    skein.amount = Some(Amount::Skeins(1.0));
    skein.dye_lot = Some("V1".into());
    skein.uncut = Some(2);
    let event = add(&state, &[skein]).event.unwrap();
    apply(&mut state, &event);
    assert_eq!(lots(&state, "1"), [lot("K7", 48, 0), lot("V1", 48, 2)]);
    // Without a lot, it joins the unknown lot; with one in different case, the existing lot.
    let rows = [of_lot(2, "1", 1.0, None), of_lot(3, "1", 2.0, Some("k7"))];
    let event = add(&state, &rows).event.unwrap();
    apply(&mut state, &event);
    assert_eq!(
        lots(&state, "1"),
        [lot("", 6, 0), lot("K7", 60, 0), lot("V1", 48, 2)]
    );
}

#[test]
fn a_replacing_list_sets_a_card_to_the_lots_it_names() {
    let mut state = wall(1, 1, 1);
    let first = [of_lot(2, "1", 8.0, Some("K7")), of_lot(3, "1", 2.0, None)];
    let outcome = read(&state, &first);
    assert_eq!((outcome.added, outcome.rejected.len()), (1, 0));
    apply(&mut state, &outcome.event.unwrap());
    assert_eq!(lots(&state, "1"), [lot("", 12, 0), lot("K7", 48, 0)]);
    assert_eq!(read(&state, &first).event, None);
    // A used-up lot stays listed, but the unknown one doesn't have to.
    let event = read(&state, &[of_lot(2, "1", 3.0, Some("V1"))])
        .event
        .unwrap();
    apply(&mut state, &event);
    assert_eq!(lots(&state, "1"), [lot("K7", 0, 0), lot("V1", 18, 0)]);
}

#[test]
fn thread_without_a_lot_joins_the_only_lot_but_never_one_of_several() {
    let mut state = wall(1, 1, 1);
    let event = read(&state, &[of_lot(2, "1", 8.0, Some("K7"))])
        .event
        .unwrap();
    apply(&mut state, &event);
    // The existing amount changes nothing.
    assert_eq!(read(&state, &[of_lot(2, "1", 8.0, None)]).event, None);
    let event = read(&state, &[of_lot(2, "1", 5.0, None)]).event.unwrap();
    apply(&mut state, &event);
    assert_eq!(lots(&state, "1"), [lot("K7", 30, 0)]);
    let event = add(&state, &[of_lot(2, "1", 1.0, None)]).event.unwrap();
    apply(&mut state, &event);
    assert_eq!(lots(&state, "1"), [lot("K7", 36, 0)]);
    // The same applies to a split card wound onto it.
    let split_card = CardRow {
        split_card_of: Some("Kite".into()),
        ..of_lot(3, "1", 2.0, None)
    };
    let list = [of_lot(2, "1", 5.0, None), split_card];
    let event = read(&state, &list).event.unwrap();
    apply(&mut state, &event);
    assert_eq!(lots(&state, "1"), [lot("K7", 42, 0)]);
    // Too much for the only lot is refused as well.
    let mut full = row("1");
    full.uncut = Some(u32::MAX);
    let event = read(&state, std::slice::from_ref(&full)).event.unwrap();
    apply(&mut state, &event);
    let terms = Terms {
        add: true,
        ..Terms::default()
    };
    assert!(card_list(&state, &[full], Vec::new(), &terms, at(0)).is_err());
    // If another row names the lot, or there are several, it joins the unknown lot.
    let list = [of_lot(2, "1", 5.0, None), of_lot(3, "1", 1.0, Some("K7"))];
    let event = read(&state, &list).event.unwrap();
    apply(&mut state, &event);
    let several = [lot("", 30, 0), lot("K7", 6, u32::MAX)];
    assert_eq!(lots(&state, "1"), several);
    let event = read(&state, &[of_lot(2, "1", 4.0, None)]).event.unwrap();
    apply(&mut state, &event);
    let several = [lot("", 24, 0), lot("K7", 0, u32::MAX)];
    assert_eq!(lots(&state, "1"), several);
}

#[test]
fn a_row_with_only_a_lot_names_the_lot_of_the_thread() {
    let mut state = wall(1, 1, 1);
    let mut list = rows(&["1@A01"]);
    list[0].uncut = Some(2);
    let event = read(&state, &list).event.unwrap();
    apply(&mut state, &event);
    let mut named = rows(&["1"]);
    named[0].dye_lot = Some("K7".into());
    let event = read(&state, &named).event.unwrap();
    apply(&mut state, &event);
    assert_eq!(lots(&state, "1"), [lot("K7", 48, 2)]);
    assert_eq!(read(&state, &named).event, None);
}

#[test]
fn a_card_has_one_row_for_each_of_its_lots() {
    let state = wall(1, 2, 1);
    let mut list = vec![
        of_lot(2, "1@A01", 8.0, Some("K7")),
        of_lot(3, "1", 1.0, Some("k7")),
        of_lot(4, "1@A02", 1.0, Some("V1")),
        of_lot(5, "1@A01", 1.0, Some("V1")),
        of_lot(6, "1 moss", 1.0, None),
        of_lot(7, "1", 2.0, None),
    ];
    list[4].uncut = Some(3);
    let outcome = read(&state, &list);
    assert_eq!(
        reasons(&outcome),
        [
            (
                3,
                "this dye lot of number 1 of 'Thread' is on line 2 already."
            ),
            (
                4,
                "line 2 has another hook for this card. Use the same on both."
            ),
            (7, "number 1 of 'Thread' is on line 6 already."),
        ]
    );
    let mut state = state;
    apply(&mut state, &outcome.event.unwrap());
    assert_eq!(
        lots(&state, "1"),
        [lot("", 6, 3), lot("K7", 48, 0), lot("V1", 6, 0)]
    );
    assert_eq!(kept(&state, "1").card.name.as_str(), "moss");
    assert_eq!(state.cards().len(), 1);
}

#[test]
fn every_row_of_a_card_whose_hook_is_full_is_rejected() {
    let mut state = wall(1, 1, 1);
    add_cards(&mut state, &["9@A01"]);
    let list = [
        of_lot(2, "1@A01", 8.0, Some("K7")),
        of_lot(3, "1", 1.0, Some("V1")),
        of_lot(4, "2", 1.0, None),
    ];
    let outcome = read(&state, &list);
    let lines: Vec<u64> = outcome.rejected.iter().map(|row| row.line).collect();
    assert_eq!(lines, [2, 3]);
    assert_eq!(outcome.added, 1);
}

/// Card 1 at A01 with eight lengths and one skein of lot K7, three lengths and two skeins of K8.
fn k7_and_k8() -> State {
    let mut state = wall(1, 2, 1);
    let mut list = [
        of_lot(2, "1@A01", 8.0, Some("K7")),
        of_lot(3, "1", 3.0, Some("K8")),
    ];
    list[0].uncut = Some(1);
    list[1].uncut = Some(2);
    let event = read(&state, &list).event.unwrap();
    apply(&mut state, &event);
    state
}

#[test]
fn a_lot_whose_row_is_refused_keeps_its_thread() {
    let state = k7_and_k8();
    let after = |rows: &[CardRow], unreadable| {
        let mut state = state.clone();
        let outcome = card_list(&state, rows, unreadable, &Terms::default(), at(0)).unwrap();
        apply(&mut state, &outcome.event.unwrap());
        (lots(&state, "1"), outcome.rejected.len())
    };
    let seven = of_lot(2, "1@A01", 7.0, Some("K7"));
    let other_hook = of_lot(3, "1@A02", 2.0, Some("K8"));
    let kept = vec![lot("K7", 42, 1), lot("K8", 18, 2)];
    let list = [seven.clone(), other_hook];
    assert_eq!(after(&list, Vec::new()), (kept.clone(), 1));
    // The same applies to an unreadable row that may have been for this card.
    let torn = |number: Option<&str>| {
        vec![Rejected {
            line: 3,
            reason: RowFault::Unread("torn".into()),
            number: number.map(str::to_owned),
        }]
    };
    let list = [seven];
    assert_eq!(after(&list, torn(Some("1"))), (kept.clone(), 1));
    assert_eq!(after(&list, torn(None)), (kept, 1));
    let none = vec![lot("K7", 42, 1), lot("K8", 0, 2)];
    for of_another in ["2", ""] {
        assert_eq!(after(&list, torn(Some(of_another))), (none.clone(), 1));
    }
    // A row of the card with only a lot doesn't give it any thread then.
    let mut only = row("1");
    only.dye_lot = Some("V1".into());
    only.note = Some("gift".into());
    assert_eq!(after(&[only], torn(Some("1"))).0.len(), 3);
}

#[test]
fn a_row_without_an_amount_leaves_its_lot_unchanged() {
    let mut state = k7_and_k8();
    let mut unsaid = of_lot(3, "1", 0.0, Some("k8"));
    unsaid.amount = None;
    let event = read(&state, &[of_lot(2, "1", 9.0, Some("K7")), unsaid.clone()]).event;
    apply(&mut state, &event.unwrap());
    assert_eq!(lots(&state, "1"), [lot("K7", 54, 1), lot("K8", 18, 2)]);
    // Each amount is independent.
    unsaid.uncut = Some(5);
    let event = read(&state, &[of_lot(2, "1", 7.0, Some("K7")), unsaid]).event;
    apply(&mut state, &event.unwrap());
    assert_eq!(lots(&state, "1"), [lot("K7", 42, 1), lot("K8", 18, 5)]);
}

#[test]
fn a_row_of_a_split_card_without_an_amount_leaves_its_lot_unchanged() {
    let mut state = k7_and_k8();
    for name in ["K7", "K8"] {
        let (card, of) = (id(&state, "1"), Lot(Label::new(name).unwrap()));
        let event = thread::split(&state, "Kite", card, Strands(6), Some(&of), "", at(1)).unwrap();
        apply(&mut state, &event);
    }
    let of_split_card = |line, lengths, lot| CardRow {
        split_card_of: Some("Kite".into()),
        ..of_lot(line, "1", lengths, Some(lot))
    };
    let mut unsaid = of_split_card(5, 0.0, "K8");
    unsaid.amount = None;
    let list = [of_split_card(4, 0.5, "K7"), unsaid];
    let event = read(&state, &list).event.unwrap();
    apply(&mut state, &event);
    assert_eq!(lots(&state, "1@Kite"), [lot("K7", 3, 0), lot("K8", 6, 0)]);
}

#[test]
fn a_split_card_is_not_rejoined_with_a_lot_of_unlisted_amount() {
    let state = k7_and_k8();
    let mut unsaid = of_lot(3, "1", 0.0, Some("K8"));
    unsaid.amount = None;
    let split_card = CardRow {
        split_card_of: Some("Kite".into()),
        ..of_lot(4, "1", 1.0, Some("K8"))
    };
    let no_such = "there is no such split card of 1 here, and no row";
    let second = |list: &[CardRow]| {
        let outcome = read(&state, list);
        let mut after = state.clone();
        apply(&mut after, &outcome.event.unwrap());
        let last = outcome.rejected.last().unwrap();
        assert!(
            last.line == 4 && row_fault(&last.reason).starts_with(no_such),
            "{last:?}"
        );
        lots(&after, "1")
    };
    let seven = of_lot(2, "1", 7.0, Some("K7"));
    let kept = [lot("K7", 42, 1), lot("K8", 18, 2)];
    assert_eq!(second(&[seven.clone(), unsaid, split_card.clone()]), kept);
    let refused = of_lot(3, "1@A02", 3.0, Some("K8"));
    let at_home = of_lot(2, "1@A01", 7.0, Some("K7"));
    assert_eq!(second(&[at_home, refused, split_card]), kept);
}

#[test]
fn thread_of_a_split_card_joins_its_lot_regardless_of_case() {
    let mut state = k7_and_k8();
    let of_split_card = |line, lot| CardRow {
        split_card_of: Some("Kite".into()),
        ..of_lot(line, "1", 1.0, Some(lot))
    };
    let list = [
        of_lot(2, "1", 7.0, Some("K7")),
        of_split_card(3, "k7"),
        of_split_card(4, "k8"),
    ];
    let event = read(&state, &list).event.unwrap();
    apply(&mut state, &event);
    assert_eq!(lots(&state, "1"), [lot("K7", 48, 1), lot("K8", 6, 2)]);
    // An existing split card that lists the lot in different case is rejoined with it as well.
    let (card, of) = (id(&state, "1"), Lot(Label::new("K8").unwrap()));
    let event = thread::split(&state, "Kite", card, Strands(6), Some(&of), "", at(1)).unwrap();
    apply(&mut state, &event);
    let event = read(&state, &[of_split_card(3, "k7")]).event.unwrap();
    apply(&mut state, &event);
    let ring = state.need_ring("Kite").unwrap();
    let event = thread::merge(&state, ring, card).unwrap();
    apply(&mut state, &event);
    assert_eq!(lots(&state, "1"), [lot("K7", 54, 1), lot("K8", 0, 2)]);
}

#[test]
fn amounts_depend_on_the_put_up_of_the_range() {
    use crate::model::range::{PerleSize, PutUp, ThreadKind};
    let mut state = wall(1, 3, 1);
    add_cards(&mut state, &["1"]);
    let before = state.ranges().next().unwrap().clone();
    let size = PerleSize::new(5).unwrap();
    let after = crate::model::range::Range {
        put_up: PutUp::usual(ThreadKind::Perle { size }),
        ..before.clone()
    };
    let change = Event {
        act: crate::stash::event::Act::ImportRange {
            range: before.id,
            shades: 0,
        },
        changes: vec![crate::stash::event::Change::Range {
            before: Some(before),
            after: Some(after),
        }],
    };
    apply(&mut state, &change);
    let mut list = rows(&["2", "3", "4"]);
    list[0].amount = Some(Amount::Lengths(5.0));
    list[1].amount = Some(Amount::Skeins(2.0));
    let event = read(&state, &list).event.unwrap();
    apply(&mut state, &event);
    let strands = ["2", "3", "4"].map(|name| kept(&state, name).strands().0);
    assert_eq!(strands, [5, 50, 25]);
}

mod by_lot {
    use std::collections::{BTreeMap, BTreeSet};

    use proptest::prelude::*;

    use super::*;
    use crate::stash::state::CardState;

    /// A number, a lot, strands and uncut skeins, at least one of the two.
    type Said = (&'static str, Option<&'static str>, Option<u32>, Option<u32>);

    /// Strands and skeins by number and lot; the unknown lot is empty.
    type Book = BTreeMap<(String, String), [u64; 2]>;

    /// The lots listed on the card of each number.
    type Owned = BTreeMap<String, Vec<String>>;

    fn said() -> impl Strategy<Value = Said> {
        let lots = prop::sample::select(vec![None, Some("K7"), Some("V1")]);
        let amounts = prop_oneof![
            (0..40_u32).prop_map(|n| (Some(n), None)),
            (0..4_u32).prop_map(|n| (None, Some(n))),
            (0..40_u32, 0..4_u32).prop_map(|(n, m)| (Some(n), Some(m))),
        ];
        let number = prop::sample::select(vec!["1", "2", "3"]);
        (number, lots, amounts).prop_map(|(number, lot, (n, m))| (number, lot, n, m))
    }

    fn listed(said: &[Said]) -> Vec<CardRow> {
        let row = |(line, &(number, lot, strands, skeins)): (u64, &Said)| CardRow {
            line,
            amount: strands.map(|n| Amount::Lengths(f64::from(n) / 6.0)),
            uncut: skeins,
            dye_lot: lot.map(str::to_owned),
            ..row(number)
        };
        (2..).zip(said).map(row).collect()
    }

    fn book(state: &State) -> Book {
        let mut book = Book::new();
        for kept in state.cards() {
            for (lot, of) in kept.thread.lots() {
                let key = (kept.card.number.to_string(), lot.to_string());
                book.insert(key, [of.strands.0.into(), of.skeins.into()]);
            }
        }
        book.retain(|_, amounts| *amounts != [0, 0]);
        book
    }

    /// The effect of a list on a book, computed card by card.
    fn slow_import(book: &mut Book, owned: &Owned, said: &[Said], add: bool) {
        let mut seen = BTreeSet::new();
        let (said, refused): (Vec<&Said>, Vec<&Said>) =
            said.iter().partition(|of| seen.insert((of.0, of.1)));
        let numbers: BTreeSet<&str> = said.iter().map(|of| of.0).collect();
        for number in numbers {
            let rows: Vec<&&Said> = said.iter().filter(|of| of.0 == number).collect();
            let in_part = refused.iter().any(|of| of.0 == number);
            let is_new = !owned.contains_key(number);
            let only = match owned.get(number).map(Vec::as_slice) {
                Some([only]) if rows.len() == 1 && !in_part => only,
                _ => "",
            };
            let lot_of = |of: &Said| of.1.unwrap_or(only).to_owned();
            for part in 0..2 {
                let amount = |of: &Said| [of.2, of.3][part].map(u64::from);
                let some = rows.iter().any(|of| amount(of).is_some());
                let sum: u64 = rows.iter().filter_map(|of| amount(of)).sum();
                let of_card = |key: &&(String, String)| key.0 == number;
                let keys: Vec<_> = book.keys().filter(of_card).cloned().collect();
                let there: u64 = keys.iter().map(|key| book[key][part]).sum();
                let unnamed = rows.iter().all(|of| of.1.is_none());
                if is_new && part == 0 && !some {
                    let lot = rows[0].1.unwrap_or_default().to_owned();
                    book.entry((number.to_owned(), lot)).or_default()[part] = 48;
                    continue;
                }
                if !add && unnamed && sum == there {
                    continue;
                }
                let spoken: BTreeSet<String> = rows.iter().map(|of| lot_of(of)).collect();
                for key in keys {
                    if !add && some && !in_part && !spoken.contains(&key.1) {
                        book.get_mut(&key).unwrap()[part] = 0;
                    }
                }
                for of in &rows {
                    let key = (number.to_owned(), lot_of(of));
                    let there = &mut book.entry(key).or_default()[part];
                    match amount(of) {
                        Some(amount) if add => *there += amount,
                        Some(amount) => *there = amount,
                        None => {}
                    }
                }
            }
        }
        book.retain(|_, amounts| *amounts != [0, 0]);
    }

    proptest! {
        #[test]
        fn a_list_changes_exactly_the_lots_it_names(
            lists in prop::collection::vec((prop::collection::vec(said(), 1..6), any::<bool>()), 1..4)
        ) {
            let mut state = wall(1, 1, 1);
            let mut expected = Book::new();
            for (said, add) in lists {
                let terms = Terms { add, ..Terms::default() };
                let names = |kept: &CardState| kept.thread.lots().map(|(lot, _)| lot.to_string()).collect();
                let owned = state.cards().map(|kept| (kept.card.number.to_string(), names(kept)));
                let owned = owned.collect();
                let outcome = card_list(&state, &listed(&said), Vec::new(), &terms, at(0)).unwrap();
                slow_import(&mut expected, &owned, &said, add);
                if let Some(event) = outcome.event {
                    apply(&mut state, &event);
                }
                prop_assert_eq!(book(&state), expected.clone());
            }
        }
    }
}

#[test]
fn a_purchase_is_imported_once_unless_forced_and_an_undo_frees_it() {
    let mut state = wall(1, 3, 1);
    add_cards(&mut state, &["1@A01 moss"]);
    let purchase = Some(PurchaseId::first_of(7));
    let list = |numbers: &[&str]| -> Vec<CardRow> {
        let row = |row| CardRow {
            uncut: Some(2),
            purchase,
            ..row
        };
        rows(numbers).into_iter().map(row).collect()
    };
    let take = |state: &State, list: &[CardRow], again, minute| {
        let terms = Terms {
            again,
            ..Terms::default()
        };
        card_list(state, list, Vec::new(), &terms, at(minute))
    };
    // The list itself names its purchase.
    let event = take(&state, &list(&["1"]), false, 1)
        .unwrap()
        .event
        .unwrap();
    apply(&mut state, &event);
    assert_eq!(
        (kept(&state, "1").skeins(), kept(&state, "1").strands()),
        (2, Strands(48))
    );

    let refusal = take(&state, &list(&["1", "2"]), false, 2).unwrap_err();
    let taken = Refusal::PurchaseTaken {
        purchase: PurchaseId::first_of(7),
        at: at(1),
    };
    assert_eq!(refusal, taken);
    assert!(
        refusal.shown().contains("imported already, on"),
        "{refusal:?}"
    );

    let other = CardRow {
        purchase: Some(PurchaseId(PurchaseId::first_of(7).0 + (1 << 32))),
        ..list(&["1"]).remove(0)
    };
    assert!(take(&state, &[other], false, 2).is_ok());

    let before = state.clone();
    let once_more = take(&state, &list(&["1"]), true, 3).unwrap().event.unwrap();
    apply(&mut state, &once_more);
    assert_eq!(kept(&state, "1").skeins(), 4);
    for event in [once_more, event] {
        let undo = Event {
            act: Act::Undo { seq: 1 },
            changes: inverse(&event.changes),
        };
        apply(&mut state, &undo);
    }
    assert!(before.purchases().len() == 1 && state.purchases().is_empty());
    assert!(take(&state, &list(&["1"]), false, 4).is_ok());
}

#[test]
fn a_purchase_with_an_unacceptable_row_is_refused_entirely() {
    let state = wall(1, 3, 1);
    let mut list = rows(&["1", "2"]);
    for row in &mut list {
        row.purchase = Some(PurchaseId::first_of(7));
    }
    list[1].hook = Some("Z99".to_owned());
    let refusal = card_list(&state, &list, Vec::new(), &Terms::default(), at(0)).unwrap_err();
    assert!(matches!(refusal, Refusal::RowsRejected { rejected: 1, .. }));
}

#[test]
fn purchased_skeins_leave_the_want_list() {
    let mut state = wall(1, 3, 1);
    add_cards(&mut state, &["1@A01 moss"]);
    let event = want(&state, &["1".to_owned()], 5).unwrap();
    apply(&mut state, &event);
    let mut list = rows(&["1"]);
    (list[0].amount, list[0].uncut) = (Some(Amount::Skeins(0.5)), Some(2));
    let owned = read(&state, &list).event.unwrap();
    let terms = Terms {
        add: true,
        ..Terms::default()
    };
    let bought = card_list(&state, &list, Vec::new(), &terms, at(1)).unwrap();
    for (event, left) in [(owned, 5), (bought.event.unwrap(), 2)] {
        let mut state = state.clone();
        apply(&mut state, &event);
        let wanted: Vec<u32> = state.want_list().map(|(_, skeins)| skeins).collect();
        assert_eq!(wanted, [left]);
    }
}

#[test]
fn an_oversized_list_says_into_how_many_parts_to_split_it() {
    let state = wall(1, 3, 1);
    let event = read(&state, &rows(&["1@A01", "2@A02", "3"])).event.unwrap();
    let length = event.length();
    assert!(shorter_than(length, event.clone()).is_ok());
    for (most, parts) in [(length - 1, 2), (length / 2, 3), (length / 5, 6)] {
        let refusal = shorter_than(most, event.clone()).unwrap_err();
        let megabytes = 1;
        assert_eq!(refusal, Refusal::ListTooLong { megabytes, parts });
    }
}

#[test]
fn what_is_bought_of_a_missing_card_is_a_new_card_in_its_place() {
    let mut state = wall(1, 3, 1);
    add_cards(&mut state, &["1@A01", "2@A02"]);
    let one = id(&state, "1");
    let event = ring::missing(&state, &[one], at(1)).unwrap();
    apply(&mut state, &event);
    let mut list = rows(&["1"]);
    list[0].amount = Some(Amount::Skeins(1.0));
    let terms = Terms {
        add: true,
        ..Terms::default()
    };
    let bought = card_list(&state, &list, Vec::new(), &terms, at(2)).unwrap();
    let before = state.card(one).unwrap().strands();
    assert_eq!(bought.amounts[0].sums()[1].0, Strands(48));
    apply(&mut state, &bought.event.unwrap());
    let kept = state.card(one).unwrap();
    // The thread of the lost card isn't counted with the new one's.
    assert_eq!((before.0 > 0, kept.strands()), (true, Strands(48)));
    assert_eq!(kept.place.at.hook(), kept.home);
}
