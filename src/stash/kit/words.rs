//! What is assumed and what is needed, in words.

use std::collections::BTreeMap;

use crate::model::assumptions::{Assumptions, Way};
use crate::model::range::PutUp;
use crate::model::ring::{KeyLine, NotionKind};
use crate::model::thread::Strands;
use crate::text::one_or_many;

/// Everything that is assumed, in one line.
#[must_use]
pub fn assumptions_in_words(assumed: &Assumptions) -> String {
    let threads = |n: u8| one_or_many(n, "thread", "threads");
    let way = match assumed.way {
        Way::ThereAndBack => "rows there and back",
        Way::OneByOne => "crosses one by one",
    };
    format!(
        "{count} count over {over} {threads}, {strands} in the needle, {strands2} for \
         backstitch, {way}; working threads up to {working_cm} cm, of which {tenths} cm lost \
         at start and finish; {tenths2} mm of fabric at each pass; {knot_mm} mm in a French \
         knot; {margin_percent} percent more for safety",
        count = assumed.count,
        over = assumed.over,
        threads = threads(assumed.over),
        strands = strands_in_words(assumed.strands),
        strands2 = strands_in_words(assumed.backstitch_strands),
        working_cm = assumed.working_cm,
        tenths = tenths(assumed.waste_mm),
        tenths2 = tenths(assumed.fabric_tenth_mm),
        knot_mm = assumed.knot_mm,
        margin_percent = assumed.margin_percent
    )
}

fn strands_in_words(n: u8) -> String {
    format!("{n} {}", one_or_many(n, "strand", "strands"))
}

/// A number of tenths: `75` is `7.5`, `100` is `10`.
fn tenths(n: u16) -> String {
    match n % 10 {
        0 => (n / 10).to_string(),
        part => format!("{}.{part}", n / 10),
    }
}

/// Uncut skeins that go with a card: ` and 2 uncut skeins`; nothing for none.
#[must_use]
pub fn and_skeins(skeins: u32) -> String {
    match skeins {
        0 => String::new(),
        n => format!(
            " and {n} uncut {skeins}",
            skeins = one_or_many(n, "skein", "skeins")
        ),
    }
}

/// An amount in lengths and loose strands: `5 lengths`, `1 length 2 strands`, `3 strands`.
#[must_use]
pub fn amount_in_words(amount: Strands, put_up: PutUp) -> String {
    lengths_in_words(put_up.lengths(amount), put_up.loose(amount))
}

/// Amounts of several threads together, in the same words. Loose strands of one put-up make lengths.
#[must_use]
pub fn amounts_in_words(amounts: impl Iterator<Item = (Strands, PutUp)>) -> String {
    let mut of_a_length: BTreeMap<u32, (Strands, PutUp)> = BTreeMap::new();
    for (amount, put_up) in amounts {
        let sum = of_a_length
            .entry(put_up.in_length())
            .or_insert((Strands(0), put_up));
        sum.0.0 = sum.0.0.saturating_add(amount.0);
    }
    let (mut lengths, mut loose) = (0_u32, 0_u32);
    for (amount, put_up) in of_a_length.into_values() {
        lengths = lengths.saturating_add(put_up.lengths(amount));
        loose = loose.saturating_add(put_up.loose(amount));
    }
    lengths_in_words(lengths, loose)
}

fn lengths_in_words(lengths: u32, loose: u32) -> String {
    let whole = |n: u32| match n {
        1 => "1 length".to_owned(),
        n => format!("{n} lengths"),
    };
    let strands = |n: u32| match n {
        1 => "1 strand".to_owned(),
        n => format!("{n} strands"),
    };
    match (lengths, loose) {
        (lengths, 0) => whole(lengths),
        (0, loose) => strands(loose),
        (lengths, loose) => format!("{} {}", whole(lengths), strands(loose)),
    }
}

/// What was used of a need and what is left of it: `2 lengths used, 3 lengths still needed`; `None`
/// where nothing was used.
#[must_use]
pub fn used_in_words(used: Strands, left: Option<Strands>, put_up: PutUp) -> Option<String> {
    if used == Strands(0) {
        return None;
    }
    let left = match left {
        None => String::new(),
        Some(Strands(0)) => ", nothing still needed".to_owned(),
        Some(left) => format!(
            ", {amount} still needed",
            amount = amount_in_words(left, put_up)
        ),
    };
    Some(format!(
        "{amount} used{left}",
        amount = amount_in_words(used, put_up)
    ))
}

/// `2 skeins`.
#[must_use]
pub fn skeins_in_words(skeins: u32) -> String {
    format!("{skeins} {}", one_or_many(skeins, "skein", "skeins"))
}

/// What a line of a key is of, as short as can be: `310`, `447+96` for a blend, the name of a notion.
#[must_use]
pub fn line_in_brief(line: &KeyLine) -> String {
    let threads = line.threads().iter();
    let numbers: Vec<&str> = threads
        .map(|thread| thread.colour.number.as_str())
        .collect();
    let notion = line.notion().map(|notion| notion.name.to_string());
    notion.unwrap_or_else(|| numbers.join("+"))
}

/// What is sewn on for a line of a key, and how many: `seed bead: bead, 24 pieces`; empty where the
/// line is stitched.
#[must_use]
pub fn notion_in_words(line: &KeyLine) -> String {
    let Some(notion) = line.notion() else {
        return String::new();
    };
    let kind = match notion.kind {
        NotionKind::Bead => "bead",
        NotionKind::Button => "button",
        NotionKind::MetallicOrnament => "metallic ornament",
        NotionKind::Other => "other",
    };
    let name = &notion.name;
    match notion.pieces {
        0 => format!("{name}: {kind}, pieces not counted"),
        pieces => format!(
            "{name}: {kind}, {pieces} {word}",
            word = one_or_many(pieces, "piece", "pieces")
        ),
    }
}

/// What a line of a key counts: `1740 full, 30 half, 120 squares of backstitch`; empty where it
/// counts nothing.
#[must_use]
pub fn stitches_in_words(line: &KeyLine) -> String {
    let entry = line.stitches();
    let counts = [
        (entry.full, "full"),
        (entry.half, "half"),
        (entry.quarter, "quarter"),
        (entry.three_quarter, "three-quarter"),
        (entry.backstitch, "squares of backstitch"),
        (entry.french_knots, "French knots"),
    ];
    let said = counts.iter().filter(|(count, _)| *count > 0);
    let said: Vec<String> = said.map(|(n, what)| format!("{n} {what}")).collect();
    said.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_assumption_is_named() {
        let assumed = Assumptions {
            waste_mm: 75,
            ..Assumptions::default()
        };
        assert_eq!(
            assumptions_in_words(&assumed),
            "14 count over 1 thread, 2 strands in the needle, 1 strand for backstitch, rows there \
             and back; working threads up to 50 cm, of which 7.5 cm lost at start and finish; 0.5 \
             mm of fabric at each pass; 20 mm in a French knot; 10 percent more for safety"
        );
    }

    #[test]
    fn what_was_used_is_said_with_what_is_left() {
        let said = |used, left: Option<u32>| {
            used_in_words(Strands(used), left.map(Strands), PutUp::default())
        };
        assert_eq!(said(0, Some(3)), None);
        for (left, words) in [
            (Some(7), "2 strands used, 1 length 1 strand still needed"),
            (Some(0), "2 strands used, nothing still needed"),
            (None, "2 strands used"),
        ] {
            assert_eq!(said(2, left).as_deref(), Some(words));
        }
    }

    #[test]
    fn amounts_are_said_as_they_hang() {
        for (strands, words) in [
            (0, "0 lengths"),
            (1, "1 strand"),
            (6, "1 length"),
            (44, "7 lengths 2 strands"),
        ] {
            assert_eq!(amount_in_words(Strands(strands), PutUp::default()), words);
        }
    }
}
