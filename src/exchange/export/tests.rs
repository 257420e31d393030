use std::collections::BTreeMap;

use jiff::Timestamp;
use proptest::prelude::*;

use super::*;
use crate::exchange::{read_cards, write_cards_csv};
use crate::model::ids::CardId;
use crate::model::thread::Strands;
use crate::stash::command::import::{Outcome, Terms, card_list};
use crate::stash::command::{ring, thread};
use crate::stash::testing::{apply, rows, wall};

fn total(state: &State) -> u64 {
    state.cards().map(|kept| u64::from(kept.strands().0)).sum()
}

/// Number of strands by colour and lot.
fn by_lot(state: &State) -> BTreeMap<(String, String, String), u64> {
    let mut sums = BTreeMap::new();
    for kept in state.cards() {
        for (lot, of) in kept.thread.lots() {
            let range = state.range_name(kept).to_owned();
            let key = (range, kept.card.number.to_string(), lot.to_string());
            *sums.entry(key).or_default() += u64::from(of.strands.0);
        }
    }
    sums.retain(|_, sum| *sum > 0);
    sums
}

fn bring(state: &State, text: &str) -> Outcome {
    let list = read_cards(text.as_bytes()).unwrap();
    assert_eq!(list.rejected, []);
    let now = Timestamp::UNIX_EPOCH;
    card_list(state, &list.rows, Vec::new(), &Terms::default(), now).unwrap()
}

#[test]
fn any_amount_round_trips() {
    let mut state = wall(1, 1, 1);
    let mut list = rows(&["701@A01", "701@A01"]);
    for (row, (lot, lengths, skeins)) in list.iter_mut().zip([
        ("K7", 12_000.5, 1_500),
        ("V1", f64::from(u32::MAX) / 6.0, u32::MAX),
    ]) {
        row.dye_lot = Some(lot.to_owned());
        row.amount = Some(crate::stash::command::import::Amount::Lengths(lengths));
        row.uncut = Some(skeins);
    }
    let first = card_list(
        &state,
        &list,
        Vec::new(),
        &Terms::default(),
        Timestamp::UNIX_EPOCH,
    )
    .unwrap();
    apply(&mut state, &first.event.unwrap());
    let again = bring(&state, &as_csv(&state));
    assert_eq!((again.event, again.rejected), (None, vec![]));
    let mut copy = wall(1, 1, 1);
    let outcome = bring(&copy, &as_csv(&state));
    apply(&mut copy, &outcome.event.unwrap());
    assert_eq!(by_lot(&copy), by_lot(&state));
}

proptest! {
    #![proptest_config(crate::testing::one_case_in(4))]

    /// Importing an export changes nothing in its own stash, and loses no strand on the way into an
    /// empty one.
    #[test]
    fn nothing_is_lost_in_a_list_with_split_cards(
        steps in prop::collection::vec((any::<u8>(), any::<u8>(), 0_u8..7, 1_u32..9), 0..24),
    ) {
        let mut state = wall(2, 3, 1);
        let mut list = rows(&["Cove:701@A01 lamp black", "Sandbank:701@A02", "Cove:9@A04", "Cove:12"]);
        for (at, row) in list.iter_mut().enumerate() {
            row.colour = ["#101214", "#b4233c", "#2e8b3a"].get(at).map(|hex| hex.parse().unwrap());
            row.dye_lot = [Some("K7"), None, Some("V1")].get(at).copied().flatten().map(str::to_owned);
        }
        for (of, lot) in [(0, Some("V1")), (0, None), (1, Some("K7")), (3, Some("k7"))] {
            let mut row = list[of].clone();
            row.dye_lot = lot.map(str::to_owned);
            list.push(row);
        }
        let now = Timestamp::UNIX_EPOCH;
        let first = card_list(&state, &list, Vec::new(), &Terms::default(), now).unwrap();
        apply(&mut state, &first.event.unwrap());
        for (n, p, what, strands) in steps {
            let pick = |of: Vec<CardId>| (!of.is_empty()).then(|| of[usize::from(n) % of.len()]);
            let project = ["Harbour", "Robin", "#7", "a@b"][usize::from(p) % 4];
            let split_card = pick(state.split_cards().map(|kept| kept.card.id).collect());
            let any = pick(state.cards().map(|kept| kept.card.id).collect()).unwrap();
            let event = match (what, split_card) {
                (0, Some(split_card)) => ring::missing(&state, &[split_card], now),
                (1, Some(split_card)) => ring::found(&state, split_card, now),
                (2, Some(split_card)) => ring::take(&state, project, &[split_card], now),
                (3, _) => ring::missing(&state, &[any], now),
                (4, _) => thread::use_thread(&state, None, any, Strands(strands), None),
                _ => thread::split(&state, project, any, Strands(strands), None, "", now),
            };
            if let Ok(event) = event {
                apply(&mut state, &event);
            }
        }
        let text = write_cards_csv(&card_rows(&state));
        let again = bring(&state, &text);
        prop_assert_eq!(again.rejected, []);
        prop_assert_eq!((again.added, again.changed, again.onto_own), (0, 0, 0), "{}", text);

        let mut empty = wall(2, 3, 1);
        let new = bring(&empty, &text);
        prop_assert_eq!(&new.rejected, &[]);
        let rows_of_split_cards = card_rows(&state).iter().filter(|row| row.split_card_of.is_some()).count();
        prop_assert_eq!(new.onto_own as usize, rows_of_split_cards);
        apply(&mut empty, &new.event.unwrap());
        prop_assert_eq!(total(&empty), total(&state));
        prop_assert_eq!(by_lot(&empty), by_lot(&state));
        prop_assert_eq!(empty.split_cards().count(), 0);
        // Repeating it changes nothing: the list describes the state.
        let twice = bring(&empty, &text);
        prop_assert_eq!((twice.added, twice.changed), (0, 0));
    }
}

#[test]
fn a_split_card_is_updated_by_its_row() {
    let mut state = wall(1, 2, 1);
    let outcome = bring(&state, "range,number,hook,lengths\nCove,701,A01,8\n");
    apply(&mut state, &outcome.event.unwrap());
    let card = state.find_card("701").unwrap();
    let now = Timestamp::UNIX_EPOCH;
    let event = thread::split(&state, "Robin", card, Strands(6), None, "", now).unwrap();
    apply(&mut state, &event);
    let outcome = bring(
        &state,
        "number,lengths,note,split of project\n701,0.5,frayed,robin\n",
    );
    assert_eq!((outcome.added, outcome.changed), (0, 1));
    apply(&mut state, &outcome.event.unwrap());
    let split_card = state.card(state.find_card("701@Robin").unwrap()).unwrap();
    assert_eq!(
        (split_card.strands(), split_card.card.note.as_str()),
        (Strands(3), "frayed")
    );
    assert_eq!(split_card.card.parent, Some(card));
    for (row, reason) in [
        ("701,1,,Kite", "there is no such split card of 701 here"),
        ("701,,,Kite", "the row of a split card needs an amount"),
        ("701,1,A02,Robin", "a split card has no hook"),
    ] {
        let text = format!("number,lengths,hook,split of project\n9,1,,\n{row}\n");
        let rejected = bring(&state, &text).rejected;
        assert_eq!(rejected.len(), 1);
        assert!(
            crate::text::refusal::row_fault(&rejected[0].reason).starts_with(reason),
            "{:?}",
            rejected[0].reason
        );
    }
}
