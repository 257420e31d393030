//! Properties of every sheet: nothing is off the page or overlaps, and sizes are in real
//! millimetres.

use std::collections::BTreeSet;
use std::path::Path;

use expect_test::expect_file;
use proptest::prelude::*;

use super::board_map::board_map;
use super::buy_list::buy_list;
use super::labels::hook_labels;
use super::labels::{LabelSheet, labels};
use super::page::{About, Document, Shape, width};
use super::page::{Area, Mm};
use super::paper::{EDGE, Paper, Sheet};
use super::ring_card::ring_card;
use super::{escape, html, svg_page};
use crate::exchange::BuyRow;
use crate::model::board::HookRef;
use crate::model::label::Label;
use crate::stash::command::board::{Unhang, block};
use crate::stash::command::import::{CardRow, KeyRow, Terms, card_list};
use crate::stash::command::{key, ring};
use crate::stash::state::{CardState, State};
use crate::stash::testing::{apply, at, id, wall};
use crate::testing::one_case_in;

const A4: Sheet = Sheet {
    paper: Paper::A4,
    landscape: false,
};

/// A wall with cards of these names, numbered from 101, the first ones on hooks. Every third is on
/// the ring of a project whose key has all of them and one unowned colour.
fn stash(rows: u16, columns: u16, cards_per_hook: u8, names: &[String], project: &str) -> State {
    let mut state = wall(rows, columns, cards_per_hook);
    if rows * columns > 1 {
        let last = state.hook_name(state.hooks().last().unwrap());
        let event = block(&state, &last, "bracket of the lamp", Unhang::Refused, at(0));
        apply(&mut state, &event.unwrap());
    }
    if names.is_empty() {
        return state;
    }
    let hooks: Vec<HookRef> = state
        .hooks()
        .filter(|&hook| state.capacity(hook) > 0)
        .collect();
    let card_rows: Vec<CardRow> = (0..)
        .zip(names)
        .map(|(line, name)| CardRow {
            line: line + 2,
            range: Some("Lantern Hill".to_owned()),
            number: (101 + line).to_string(),
            name: Some(name.clone()),
            colour: (line % 4 != 3).then(|| "#5E7480".parse().unwrap()),
            family: Some(
                ["blues", "blue-greys", "<&>"][usize::try_from(line).unwrap() % 3].to_owned(),
            ),
            hook: hooks
                .get(usize::try_from(line).unwrap())
                .map(|&hook| state.hook_name(hook)),
            ..CardRow::default()
        })
        .collect();
    let outcome = card_list(&state, &card_rows, Vec::new(), &Terms::default(), at(0)).unwrap();
    assert_eq!(outcome.rejected, []);
    if let Some(event) = outcome.event {
        apply(&mut state, &event);
    }
    give_key(&mut state, names.len(), project);
    let out: Vec<_> = (0..names.len())
        .step_by(3)
        .map(|line| id(&state, &(101 + line).to_string()))
        .collect();
    let event = ring::take(&state, project, &out, at(2)).unwrap();
    apply(&mut state, &event);
    state
}

/// A key with this many cards, numbered from 101, and one more colour that isn't owned.
fn give_key(state: &mut State, cards: usize, project: &str) {
    let key_rows: Vec<KeyRow> = (0..=cards)
        .map(|line| KeyRow {
            line: u64::try_from(line).unwrap() + 2,
            range: Some("Lantern Hill".to_owned()),
            number: (101 + line).to_string(),
            symbol: Some("&".to_owned()),
            strands: 2,
            ..KeyRow::default()
        })
        .collect();
    let terms = Terms::default();
    let event = key::import(state, &key_rows, Vec::new(), project, &terms, at(1));
    apply(state, &event.unwrap().event.unwrap());
}

/// Checks a document, each of its pages as SVG, and its HTML.
fn assert_sound(document: &Document, sheet: Sheet) {
    let (w, h) = sheet.size();
    assert_eq!((document.width, document.height), (w, h));
    assert!(!document.pages.is_empty());
    let printable = Area::new(EDGE, EDGE, w - EDGE * 2, h - EDGE * 2);
    for page in &document.pages {
        for (at, item) in page.items.iter().enumerate() {
            assert!(printable.contains(item.at), "{item:?}");
            for other in &page.items[at + 1..] {
                assert!(!item.at.overlaps(other.at), "{item:?} {other:?}");
            }
            for shape in &item.shapes {
                assert!(
                    item.whole().contains(shape.bounds()),
                    "{:?} {shape:?}",
                    item.at
                );
                if let Shape::Text { at, text, .. } = shape {
                    assert!(width(&text.text, text.size) <= at.w, "{shape:?}");
                    assert!(text.size <= at.h, "{shape:?}");
                }
            }
        }
        let text = svg_page(document, page);
        let parsed = roxmltree::Document::parse(&text).unwrap();
        let root = parsed.root_element();
        assert_eq!(root.attribute("width"), Some(format!("{w}mm").as_str()));
        assert_eq!(root.attribute("height"), Some(format!("{h}mm").as_str()));
        assert_eq!(
            root.attribute("viewBox"),
            Some(format!("0 0 {w} {h}").as_str())
        );
        assert_written(root, page);
    }
    assert_html_is_sound(document, sheet);
}

/// Checks that an SVG page has the page's items in their places, each with its texts.
fn assert_written(root: roxmltree::Node<'_, '_>, page: &super::page::Page) {
    let items: Vec<_> = root
        .children()
        .filter(|node| node.tag_name().name() == "svg")
        .collect();
    assert_eq!(items.len(), page.items.len());
    for (node, item) in items.iter().zip(&page.items) {
        let length = |name: &str| node.attribute(name).unwrap().parse::<Mm>().unwrap();
        let read = Area::new(length("x"), length("y"), length("width"), length("height"));
        assert_eq!(read, item.at);
        let written: Vec<&str> = node
            .descendants()
            .filter(|n| n.tag_name().name() == "text")
            .map(|n| n.text().unwrap_or(""))
            .collect();
        let meant: Vec<&str> = item
            .shapes
            .iter()
            .filter_map(|shape| match shape {
                Shape::Text { text, .. } => Some(text.text.as_str()),
                _ => None,
            })
            .collect();
        assert_eq!(written, meant);
    }
}

/// Checks that the HTML is well-formed, with one section per page and the paper's size.
fn assert_html_is_sound(document: &Document, sheet: Sheet) {
    let (w, h) = sheet.size();
    let page = html(document);
    let options = roxmltree::ParsingOptions {
        allow_dtd: true,
        ..Default::default()
    };
    let parsed = roxmltree::Document::parse_with_options(&page, options).unwrap();
    let sections = parsed
        .descendants()
        .filter(|node| node.tag_name().name() == "section");
    assert_eq!(sections.count(), document.pages.len());
    assert!(page.contains(&format!("@page {{ size: {w}mm {h}mm; margin: 0; }}")));
}

/// The subjects of the items, other than words.
fn about(document: &Document) -> Vec<&About> {
    let items = document.pages.iter().flat_map(|page| &page.items);
    items
        .map(|item| &item.about)
        .filter(|about| **about != About::Words)
        .collect()
}

fn sheets() -> impl Strategy<Value = Sheet> {
    (
        prop_oneof![Just(Paper::A4), Just(Paper::Letter)],
        any::<bool>(),
    )
        .prop_map(|(paper, landscape)| Sheet { paper, landscape })
}

/// Each case draws whole documents.
fn config() -> ProptestConfig {
    one_case_in(32)
}

/// Names that the stash accepts.
fn names(most: usize) -> impl Strategy<Value = Vec<String>> {
    let name = "\\PC{0,40}|[<>&\"']{1,9}|藍{1,30}|(e\u{301}){1,40}"
        .prop_filter("a label", |text| Label::new(text).is_ok());
    prop::collection::vec(name, 1..most)
}

#[test]
fn papers_have_their_standard_sizes() {
    let size = |paper| {
        Sheet {
            paper,
            landscape: false,
        }
        .size()
    };
    assert_eq!(size(Paper::A4), (Mm::whole(210), Mm::whole(297)));
    // 8.5 in and 11 in of 25.4 mm each.
    assert_eq!(
        size(Paper::Letter),
        (Mm::hundredths(85 * 254), Mm::hundredths(110 * 254))
    );
    let lying = Sheet {
        paper: Paper::A4,
        landscape: true,
    };
    assert_eq!(lying.size(), (Mm::whole(297), Mm::whole(210)));
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn every_card_has_one_label_on_as_few_pages_as_possible(
        names in names(70), sheet in sheets(), skip in 0..5_usize, given in any::<bool>(),
    ) {
        let state = stash(6, 10, 1, &names, "Harbour");
        let cards: Vec<&CardState> = state.cards().collect();
        let measured: LabelSheet = "columns=3,rows=4,width=60,height=33.5,left=8.5,top=8,across=63,down=34".parse().unwrap();
        let document = labels(&state, &cards, sheet, given.then_some(&measured), skip).unwrap();
        assert_sound(&document, sheet);
        let on_labels: Vec<_> = about(&document).into_iter().filter_map(|about| match about {
            About::Card(card) => Some(*card),
            _ => None,
        }).collect();
        prop_assert_eq!(on_labels, cards.iter().map(|kept| kept.card.id).collect::<Vec<_>>());
        if given {
            prop_assert_eq!(document.pages.len(), (cards.len() + skip).div_ceil(12));
            let first = document.pages[0].items[0].at;
            prop_assert_eq!((first.w, first.h), (Mm::whole(60), Mm::hundredths(3_350)));
        }
    }

    #[test]
    fn every_usable_hook_has_one_label(
        rows in 1..20_u16, columns in 1..20_u16, sheet in sheets(), w in 6..60_i32, h in 4..40_i32,
    ) {
        let state = stash(rows, columns, 1, &[], "Harbour");
        let size = (Mm::whole(w), Mm::whole(h));
        let usable: Vec<HookRef> = state.hooks().filter(|&hook| state.capacity(hook) > 0).collect();
        let document = hook_labels(&state, state.hooks(), sheet, size).unwrap();
        assert_sound(&document, sheet);
        let marked: Vec<HookRef> = about(&document).into_iter().filter_map(|about| match about {
            About::Hook(hook) => Some(*hook),
            _ => None,
        }).collect();
        prop_assert_eq!(marked, usable);
        prop_assert_eq!((document.pages[0].items[0].at.w, document.pages[0].items[0].at.h), size);
    }

    #[test]
    fn a_ring_card_has_each_line_of_the_key_once(
        names in names(60), project in "\\PC{1,40}", sheet in sheets(), w in 45..120_i32, h in 45..170_i32,
    ) {
        prop_assume!(Label::new(&project).is_ok_and(|label| !label.is_empty()));
        let state = stash(6, 10, 1, &names, &project);
        let ring = state.rings().next().unwrap();
        let document = ring_card(&state, ring, sheet, (Mm::whole(w), Mm::whole(h))).unwrap();
        assert_sound(&document, sheet);
        let mut next = 0;
        for about in about(&document) {
            let About::Lines(lines) = about else { panic!("{about:?}") };
            prop_assert_eq!(lines.start, next);
            next = lines.end;
        }
        prop_assert_eq!(next, names.len() + 1);
    }

    #[test]
    fn a_map_shows_every_hook(
        names in names(40), rows in 1..40_u16, columns in 1..60_u16, cards_per_hook in 1..5_u8, sheet in sheets(),
    ) {
        let state = stash(rows, columns, cards_per_hook, &names, "Harbour");
        let board = state.boards().next().unwrap();
        let document = board_map(&state, board, sheet);
        assert_sound(&document, sheet);
        let shown: BTreeSet<HookRef> = about(&document).into_iter().filter_map(|about| match about {
            About::Hook(hook) => Some(*hook),
            _ => None,
        }).collect();
        prop_assert_eq!(shown, board.hooks().collect::<BTreeSet<_>>());
    }

    #[test]
    fn a_buy_list_has_each_row_once(
        names in names(60), title in "\\PC{0,60}", sheet in sheets(), skeins in any::<u32>(),
    ) {
        let rows: Vec<BuyRow> = names.iter().map(|name| BuyRow {
            range: name.clone(),
            number: name.clone(),
            name: name.clone(),
            colour: None,
            skeins,
            why: name.clone(),
        }).collect();
        let document = buy_list(&rows, &title, sheet);
        assert_sound(&document, sheet);
        let lines = about(&document).into_iter().cloned();
        prop_assert!(lines.eq((0..rows.len()).map(|at| About::Lines(at..at + 1))));
    }

    #[test]
    fn any_text_is_well_formed(text in any::<String>()) {
        let xml = format!("<t a=\"{0}\">{0}</t>", escape(&text));
        let parsed = roxmltree::Document::parse(&xml).unwrap();
        let kept: String = text.chars().map(|c| match c {
            '\t' | '\n' | '\r' => ' ',
            '\u{FFFE}' | '\u{FFFF}' => '\u{FFFD}',
            c if c.is_control() => '\u{FFFD}',
            c => c,
        }).collect();
        prop_assert_eq!(parsed.root_element().attribute("a"), Some(kept.as_str()));
    }
}

#[test]
fn a_blocked_hook_shows_the_reason_and_signs_are_next_to_numbers() {
    let names = ["chalk", "slate", "fir"].map(str::to_owned);
    let state = stash(2, 3, 1, &names, "Harbour");
    let document = board_map(&state, state.boards().next().unwrap(), A4);
    let cell = |hook_name: &str| {
        let hook = state.find_hook(hook_name).unwrap();
        document.pages[0]
            .items
            .iter()
            .find(|item| item.about == About::Hook(hook))
            .unwrap()
    };
    let text = |hook_name: &str| -> String {
        let shapes = cell(hook_name)
            .shapes
            .iter()
            .filter_map(|shape| match shape {
                Shape::Text { text, .. } => Some(text.text.as_str()),
                _ => None,
            });
        shapes.collect::<Vec<_>>().join(" ")
    };
    assert_eq!(text("B03"), "B03 bracket of the lamp");
    assert_eq!(text("A01"), "A01 blu 101");
    assert_eq!(text("A02"), "A02 blu2 102");
    assert_eq!(text("B01"), "B01 free");
    let discs = |hook_name: &str| {
        cell(hook_name)
            .shapes
            .iter()
            .filter(|s| matches!(s, Shape::Disc { .. }))
            .count()
    };
    assert_eq!((discs("A01"), discs("A02")), (1, 0));
}

/// Small examples, kept as files. After an intended change, regenerate them with
/// `UPDATE_EXPECT=1 cargo test --lib print::`, look at them in a browser, and commit them.
#[test]
fn small_examples_are_unchanged() {
    let names = ["chalk", "river slate", "fir & moss"].map(str::to_owned);
    let state = stash(2, 3, 2, &names, "Harbour");
    let cards: Vec<&CardState> = state.cards().collect();
    let size = (Mm::whole(60), Mm::whole(90));
    let row = BuyRow {
        range: "Lantern Hill".to_owned(),
        number: "104".to_owned(),
        name: "oat".to_owned(),
        colour: None,
        skeins: 2,
        why: "'Harbour' is short by 2 lengths".to_owned(),
    };
    let small = (Mm::whole(18), Mm::whole(8));
    for (name, document) in [
        ("labels", labels(&state, &cards, A4, None, 0).unwrap()),
        (
            "hook-labels",
            hook_labels(&state, state.hooks(), A4, small).unwrap(),
        ),
        (
            "ring",
            ring_card(&state, state.rings().next().unwrap(), A4, size).unwrap(),
        ),
        (
            "board",
            board_map(&state, state.boards().next().unwrap(), A4),
        ),
        ("buy", buy_list(&[row], "To buy for Harbour", A4)),
    ] {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/print");
        for (file, text) in [
            (
                format!("{name}.svg"),
                svg_page(&document, &document.pages[0]),
            ),
            (format!("{name}.html"), html(&document)),
        ] {
            expect_file![folder.join(file)].assert_eq(&text);
        }
    }
}

#[test]
fn a_ring_card_has_each_thread_of_a_blend_and_each_notion() {
    use crate::stash::command::key;
    use crate::stash::testing::projects::{line_of, notion, thread};
    let mut state = stash(2, 2, 1, &["slate".into(), "moss".into()], "Harbour");
    let mut second = thread(&state, "102", 2);
    second.stitched_with = Some(thread(&state, "7", 0).colour);
    let blend = line_of(&[thread(&state, "101", 1), second], 40);
    for line in [blend, notion("seed bead", 24)] {
        let event = key::put(state.rings().next().unwrap(), None, line).unwrap();
        apply(&mut state, &event.unwrap());
    }
    let ring = state.rings().next().unwrap();
    let size = (Mm::whole(60), Mm::whole(200));
    let document = ring_card(&state, ring, A4, size).unwrap();
    assert_sound(&document, A4);
    let page = svg_page(&document, &document.pages[0]);
    for text in ["7 for 102", "seed bead", "x24", ">x1<", ">x2<"] {
        assert!(page.contains(text), "{text}: {page}");
    }
}

#[test]
fn each_page_file_has_its_number_before_the_extension() {
    for (file, page) in [("a", "a-2.svg"), ("a.svg", "a-2.svg"), ("a.b", "a.b-2.svg")] {
        assert_eq!(super::page_file(Path::new(file), 2), Path::new(page));
    }
}
