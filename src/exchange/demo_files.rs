//! Checks that the invented files in `assets/demo` fit together.

use std::collections::BTreeSet;

use super::{read_cards, read_range};
use crate::engine::colour_families::{EverydayFamily, family_of};
use crate::stash::command::import::CardRow;

const KEYS: [(&str, usize); 3] = [
    (
        include_str!("../../assets/demo/keys/harbour-at-dusk.csv"),
        26,
    ),
    (
        include_str!("../../assets/demo/keys/orchard-in-september.csv"),
        30,
    ),
    (
        include_str!("../../assets/demo/keys/fox-in-the-ferns.csv"),
        22,
    ),
];

fn range() -> super::RangeFile {
    read_range(include_bytes!("../../assets/demo/range.csv")).unwrap()
}

fn rows(bytes: &[u8]) -> Vec<CardRow> {
    let read = read_cards(bytes).unwrap();
    assert_eq!(read.rejected, []);
    assert_eq!(read.ignored, Vec::<String>::new());
    read.rows
}

fn numbers(rows: &[CardRow]) -> BTreeSet<String> {
    rows.iter().map(|row| row.number.clone()).collect()
}

#[test]
fn the_range_list_is_sound() {
    let read = range();
    assert_eq!((read.rows.len(), read.rejected.len()), (240, 0));
    let names: BTreeSet<_> = read.rows.iter().map(|row| &row.name).collect();
    assert_eq!(names.len(), 240);
    let words: BTreeSet<_> = EverydayFamily::ALL
        .iter()
        .map(ToString::to_string)
        .collect();
    let families = read.rows.iter().map(|row| row.family.clone().unwrap());
    assert_eq!(families.collect::<BTreeSet<_>>(), words);
}

/// A maker keeps a ramp together, so its dark end may fall into another family by colour alone.
#[test]
fn nine_in_ten_colours_of_the_range_are_in_the_family_of_their_colour() {
    let read = range();
    let agreeing = read.rows.iter().filter(|row| {
        let by_colour = family_of(row.colour.unwrap()).name();
        row.family.as_deref() == Some(by_colour)
    });
    assert!(agreeing.count() >= 216);
}

#[test]
fn the_card_list_and_the_purchase_are_of_the_range_and_do_not_overlap() {
    let card_list = rows(include_bytes!("../../assets/demo/stock.csv"));
    let purchase = rows(include_bytes!("../../assets/demo/purchase.csv"));
    assert_eq!((card_list.len(), purchase.len()), (195, 30));
    let range: BTreeSet<_> = range().rows.into_iter().map(|row| row.number).collect();
    let (owned, bought) = (numbers(&card_list), numbers(&purchase));
    assert!(owned.is_subset(&range) && bought.is_subset(&range));
    assert!(owned.is_disjoint(&bought));
    for row in card_list.iter().chain(&purchase) {
        assert_eq!(row.range.as_deref(), Some("Lantern Hill"));
        assert!(row.amount.is_some() && row.hook.is_none(), "{}", row.number);
    }
}

#[test]
fn the_keys_ask_for_owned_colours_and_share_some() {
    let owned = numbers(&rows(include_bytes!("../../assets/demo/stock.csv")));
    let names = range().rows.into_iter().map(|row| (row.number, row.name));
    let names: std::collections::BTreeMap<_, _> = names.collect();
    let mut asked = Vec::new();
    for (text, colours) in KEYS {
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        assert_eq!(
            reader.headers().unwrap(),
            vec!["symbol", "number", "name", "strands", "stitches"]
        );
        let lines: Vec<(String, String, String, u8, u32)> =
            reader.deserialize().map(Result::unwrap).collect();
        assert_eq!(lines.len(), colours);
        let symbols: BTreeSet<_> = lines.iter().map(|line| &line.0).collect();
        assert_eq!(symbols.len(), colours);
        for (_, number, name, strands, stitches) in lines {
            assert!(owned.contains(&number), "{number}");
            assert_eq!(names[&number], name);
            assert!((1..=2).contains(&strands) && stitches > 0);
            asked.push(number);
        }
    }
    let different: BTreeSet<_> = asked.iter().collect();
    assert_eq!(asked.len() - different.len(), 11);
}
