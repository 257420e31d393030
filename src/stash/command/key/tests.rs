use super::*;
use crate::model::ring::RingState;
use crate::stash::command::import::Terms;
use crate::stash::command::{key, ring};
use crate::stash::testing::projects::{line_of, notion, thread};
use crate::stash::testing::{add_cards, apply, at, id, wall};
use crate::text;

fn row(number: &str, stitches: u32) -> KeyRow {
    KeyRow {
        line: 1,
        number: number.to_owned(),
        stitches,
        ..KeyRow::default()
    }
}

fn keyed(numbers: &[&str]) -> State {
    let mut state = wall(1, 3, 1);
    let rows: Vec<KeyRow> = numbers.iter().map(|number| row(number, 5)).collect();
    let keyed = key::import(
        &state,
        &rows,
        Vec::new(),
        "Harbour",
        &Terms::default(),
        at(5),
    );
    apply(&mut state, &keyed.unwrap().event.unwrap());
    state
}

fn in_key(state: &State) -> Vec<&str> {
    let key = &state.need_ring("Harbour").unwrap().key;
    let threads = key.iter().flat_map(KeyLine::threads);
    threads
        .map(|thread| thread.colour.number.as_str())
        .collect()
}

#[test]
fn lines_are_written_moved_and_removed() {
    let mut state = keyed(&["1", "2", "3"]);
    let mut does = |ask: fn(&State, &Ring) -> Result<Option<Event>, Refusal>| {
        let event = ask(&state, state.need_ring("Harbour").unwrap()).unwrap();
        if let Some(event) = &event {
            assert_eq!(
                text::history::act(&state, &event.act),
                "Changed the chart key of the ring 'Harbour'"
            );
            apply(&mut state, event);
        }
        (event.is_some(), in_key(&state).join(" "))
    };
    let told = |text: &str| (true, text.to_owned());
    assert_eq!(
        does(|s, r| write(s, r, Some(1), &row("9", 7), None)),
        told("1 9 3")
    );
    assert_eq!(
        does(|s, r| write(s, r, None, &row("4", 0), None)),
        told("1 9 3 4")
    );
    assert_eq!(does(|_, r| shift(r, 3, 0)), told("4 1 9 3"));
    assert_eq!(does(|_, r| shift(r, 0, 1)), told("1 4 9 3"));
    assert_eq!(does(|_, r| strike(r, 2)), told("1 4 3"));
    for unchanged in [
        does(|_, r| shift(r, 1, 1)),
        does(|_, r| shift(r, 0, 3)),
        does(|_, r| strike(r, 3)),
        does(|s, r| write(s, r, Some(2), &row("3", 5), None)),
    ] {
        assert_eq!(unchanged, (false, "1 4 3".to_owned()));
    }
}

#[test]
fn writing_over_a_blend_changes_its_first_thread() {
    let mut state = keyed(&["1"]);
    let harbour = state.need_ring("Harbour").unwrap();
    let mut second = thread(&state, "2", 1);
    second.stitched_with = Some(thread(&state, "7", 0).colour);
    let mut first = thread(&state, "1", 1);
    first.stitched_with = Some(thread(&state, "8", 0).colour);
    let event = put(harbour, Some(0), line_of(&[first, second.clone()], 5)).unwrap();
    apply(&mut state, &event.unwrap());
    for (number, with) in [("1", Some("8")), ("3", None)] {
        let harbour = state.need_ring("Harbour").unwrap();
        let event = write(&state, harbour, Some(0), &row(number, 9), None).unwrap();
        apply(&mut state, &event.unwrap());
        let line = &state.need_ring("Harbour").unwrap().key[0];
        let [one, two] = line.threads() else {
            panic!("{line:?}")
        };
        assert_eq!((one.colour.number.as_str(), two), (number, &second));
        let stitched = one.stitched_with.as_ref().map(|with| with.number.as_str());
        assert_eq!((stitched, line.stitches().full), (with, 9));
    }
    // A needle has each colour only once.
    let harbour = state.need_ring("Harbour").unwrap();
    let twice = write(&state, harbour, Some(0), &row("2", 9), None).unwrap_err();
    assert_eq!(
        twice.to_string(),
        Refusal::NotALine(RowFault::Amount).to_string()
    );
    // It replaces a notion entirely.
    let event = put(harbour, Some(0), notion("bead", 3)).unwrap();
    apply(&mut state, &event.unwrap());
    assert_eq!(state.need_ring("Harbour").unwrap().colours().len(), 0);
    let harbour = state.need_ring("Harbour").unwrap();
    let event = write(&state, harbour, Some(0), &row("4", 2), None).unwrap();
    apply(&mut state, &event.unwrap());
    assert_eq!(in_key(&state), ["4"]);
}

#[test]
fn impossible_lines_are_refused_with_the_reason() {
    let mut state = keyed(&["1"]);
    let harbour = state.need_ring("Harbour").unwrap();
    let wrong = write(&state, harbour, None, &row("", 1), None).unwrap_err();
    assert!(
        matches!(&wrong, Refusal::NotALine(RowFault::Number(_))),
        "{wrong:?}"
    );
    let close = ring::close(&state, harbour, at(6)).unwrap();
    apply(&mut state, &close);
    let harbour = state.need_ring("Harbour").unwrap();
    for event in [
        write(&state, harbour, None, &row("2", 1), None),
        strike(harbour, 0),
        shift(harbour, 0, 0),
    ] {
        assert!(matches!(event, Err(Refusal::RingClosed(_))));
    }
}

/// Rows parsed from `RANGE:NUMBER STITCHES`, from line 2 on.
fn rows(texts: &[&str]) -> Vec<KeyRow> {
    let row = |(text, line): (&&str, u64)| {
        let (card, stitches) = text.split_once(' ').unwrap_or((text, "0"));
        let (range, number) = card
            .split_once(':')
            .map_or((None, card), |(range, number)| (Some(range), number));
        KeyRow {
            line,
            range: range.map(str::to_owned),
            number: number.to_owned(),
            stitches: stitches.parse().unwrap(),
            ..KeyRow::default()
        }
    };
    texts.iter().zip(2..).map(row).collect()
}

fn read(state: &State, project: &str, texts: &[&str]) -> Keyed {
    let terms = Terms::default();
    import(state, &rows(texts), Vec::new(), project, &terms, at(5)).unwrap()
}

fn numbers(state: &State, project: &str) -> Vec<String> {
    let key = &state.need_ring(project).unwrap().key;
    let threads = key.iter().flat_map(KeyLine::threads);
    threads
        .map(|thread| thread.colour.number.to_string())
        .collect()
}

#[test]
fn importing_a_key_opens_a_ring_without_cards_and_keeps_its_order() {
    let mut state = wall(1, 3, 1);
    add_cards(&mut state, &["Cove:9@A01", "Cove:701"]);
    let keyed = read(&state, "Harbour", &["701 40", "9 12", "77 5", "701"]);
    assert_eq!((keyed.entries, keyed.rejected.len()), (4, 0));
    let unknown: Vec<_> = keyed
        .not_owned
        .iter()
        .map(|of| (of.line, of.number.as_str(), of.in_list))
        .collect();
    assert_eq!(unknown, [(4, "77", false)]);
    let event = keyed.event.unwrap();
    apply(&mut state, &event);
    assert_eq!(
        text::history::act(&state, &event.act),
        "Imported a chart key of 4 lines for the ring 'Harbour'"
    );
    assert_eq!(numbers(&state, "harbour"), ["701", "9", "77", "701"]);
    let ring = state.need_ring("Harbour").unwrap();
    assert_eq!(
        (ring.state, state.cards_on(ring).count()),
        (RingState::Live, 0)
    );
    assert_eq!(
        read(&state, "Harbour", &["701 40", "9 12", "77 5", "701"]).event,
        None
    );
}

/// The colour that a row means, as `RANGE:NUMBER`.
fn taken_for(state: &State, range: Option<&str>, number: &str, asked: Option<&str>) -> String {
    let row = KeyRow {
        line: 2,
        range: range.map(str::to_owned),
        number: number.to_owned(),
        ..KeyRow::default()
    };
    let terms = Terms {
        range: asked.map(str::to_owned),
        ..Terms::default()
    };
    let keyed = import(state, &[row], Vec::new(), "P", &terms, at(5)).unwrap();
    let mut after = state.clone();
    apply(&mut after, &keyed.event.unwrap());
    let entry = &after.need_ring("P").unwrap().key[0].threads()[0].colour;
    let range = after.range(entry.range).unwrap();
    format!("{}:{}", range.name, entry.number)
}

#[test]
fn a_missing_range_is_inferred_from_the_stash() {
    let mut state = wall(1, 3, 1);
    add_cards(
        &mut state,
        &["Meadow:308", "Hillside:9", "Hillside:7", "Meadow:7", "B:12"],
    );
    for (range, number, asked, expected) in [
        (None, "308", None, "Meadow:308"),
        (None, "308", Some("Hillside"), "Hillside:308"),
        (Some("Hillside"), "308", None, "Hillside:308"),
        // In two ranges, and in none.
        (None, "7", None, "Thread:7"),
        (None, "1", None, "Thread:1"),
        (None, "Meadow 308", None, "Meadow:308"),
        (None, "MEADOW: 308", Some("Hillside"), "Meadow:308"),
        (None, "meadow-1", None, "Meadow:1"),
        (None, " hill side  9", None, "Hillside:9"),
        (None, "meadow308", None, "Meadow:308"),
        // Nothing suggests that this is 1 of Meadow.
        (None, "meadow1", None, "Thread:meadow1"),
        (None, "b12", None, "B:12"),
        (None, "B13", None, "Thread:B13"),
        (Some("meadow"), "Meadow 308", None, "Meadow:308"),
        (Some("Hillside"), "Meadow 308", None, "Hillside:Meadow 308"),
        (None, "Meadow", None, "Thread:Meadow"),
    ] {
        assert_eq!(
            taken_for(&state, range, number, asked),
            expected,
            "{number}"
        );
    }
}

#[test]
fn a_number_owned_in_another_range_is_reported() {
    let mut state = wall(1, 3, 1);
    add_cards(&mut state, &["Meadow:308", "Hillside:9"]);
    let keyed = read(
        &state,
        "P",
        &["Hillside:308", "Hillside:9", "Hillside:308", "Moor:2"],
    );
    assert_eq!(
        (keyed.colours, keyed.owned, keyed.not_owned.len()),
        (3, 1, 3)
    );
    assert_eq!(
        text::thread::owned_colours(&keyed),
        "1 of its 3 colours is in the stash."
    );
    let told: Vec<_> = keyed
        .not_owned
        .iter()
        .map(crate::text::thread::owned_elsewhere)
        .collect();
    let hint = "308 of Hillside isn't owned; you own 308 of Meadow".to_owned();
    assert_eq!(told, [Some(hint.clone()), Some(hint), None]);
}

#[test]
fn a_second_key_replaces_the_first_and_the_cards_stay() {
    let mut state = wall(1, 3, 1);
    add_cards(&mut state, &["Cove:9@A01"]);
    let event = ring::take(&state, "Robin", &[id(&state, "9")], at(1)).unwrap();
    apply(&mut state, &event);
    for key in [&["9 1", "10 2"][..], &["11 3"]] {
        let event = read(&state, "robin", key).event.unwrap();
        apply(&mut state, &event);
    }
    assert_eq!(numbers(&state, "Robin"), ["11"]);
    let ring = state.need_ring("Robin").unwrap();
    assert_eq!(state.cards_on(ring).count(), 1);
    assert_eq!(state.rings().len(), 1);
}

#[test]
fn importing_a_key_reopens_a_closed_ring() {
    let mut state = wall(1, 3, 1);
    add_cards(&mut state, &["9@A01"]);
    let event = ring::take(&state, "Robin", &[id(&state, "9")], at(1)).unwrap();
    apply(&mut state, &event);
    let event = ring::give_back_all(&state, state.need_ring("Robin").unwrap(), at(2)).unwrap();
    apply(&mut state, &event);
    let event = ring::close(&state, state.need_ring("Robin").unwrap(), at(3)).unwrap();
    apply(&mut state, &event);
    let event = read(&state, "Robin", &["9 1"]).event.unwrap();
    apply(&mut state, &event);
    let ring = state.need_ring("Robin").unwrap();
    assert_eq!((ring.state, ring.opened), (RingState::Live, at(5)));
}

#[test]
fn a_new_range_is_added_with_the_key_but_not_by_a_refused_row() {
    let mut state = wall(1, 3, 1);
    add_cards(&mut state, &["Cove:9"]);
    let mut list = rows(&["Moor:1", "2", "3"]);
    list[2].range = Some("Mi:ll".into());
    let keyed = import(&state, &list, Vec::new(), "P", &Terms::default(), at(0)).unwrap();
    assert_eq!(keyed.rejected.len(), 1);
    assert!(matches!(
        keyed.rejected[0].reason,
        crate::stash::refusal::RowFault::RangeColon(_)
    ));
    apply(&mut state, &keyed.event.unwrap());
    let names: Vec<_> = state.ranges().map(|range| range.name.as_str()).collect();
    assert_eq!(names, ["Cove", "Moor"]);
    let strict = Terms {
        strict: true,
        ..Terms::default()
    };
    let refusal = import(&state, &list, Vec::new(), "P", &strict, at(0)).unwrap_err();
    assert_eq!(refusal.to_string(), "rows_rejected");
    let of = |project, rows: &[KeyRow]| {
        import(&state, rows, Vec::new(), project, &Terms::default(), at(0))
            .unwrap_err()
            .to_string()
    };
    assert_eq!([of(" ", &list), of("P", &[])], ["no_project", "no_rows"]);
}

/// Imports a key of one row, and returns the strands and name of each of its threads.
fn of_row(state: &State, row: KeyRow) -> Result<Vec<(String, u8, String)>, RowFault> {
    let keyed = key::import(state, &[row], Vec::new(), "Fox", &Terms::default(), at(5));
    let event = match keyed {
        Ok(keyed) => keyed.event.unwrap(),
        Err(Refusal::RowsRejected { every, .. }) => return Err(every[0].reason.clone()),
        Err(other) => panic!("{other}"),
    };
    let mut state = state.clone();
    apply(&mut state, &event);
    let ring = state.need_ring("Fox").unwrap();
    let threads = ring.threads().map(|of| {
        let number = of.colour.number.to_string();
        (number, of.strands, of.name.to_string())
    });
    Ok(threads.collect())
}

#[test]
fn numbers_joined_by_plus_are_the_threads_of_a_blend() {
    let mut state = wall(1, 3, 1);
    add_cards(&mut state, &["447", "96"]);
    let blend = |number: &str, strands: u8, each: &[u8], name: Option<&str>| KeyRow {
        strands,
        strands_of_each: each.to_vec(),
        name: name.map(str::to_owned),
        ..row(number, 40)
    };
    let thread = |number: &str, strands, name: &str| (number.to_owned(), strands, name.to_owned());
    for (row, expected) in [
        (
            blend("447+96", 2, &[], Some("slate + dandelion")),
            vec![thread("447", 1, "slate"), thread("96", 1, "dandelion")],
        ),
        (
            blend("447 + 96", 0, &[1, 2], None),
            vec![thread("447", 1, ""), thread("96", 2, "")],
        ),
        (
            blend("447+96+5", 0, &[], Some("mixed")),
            vec![
                thread("447", 0, ""),
                thread("96", 0, ""),
                thread("5", 0, ""),
            ],
        ),
    ] {
        assert_eq!(of_row(&state, row), Ok(expected));
    }
    for (row, fault) in [
        (blend("447+96", 3, &[], None), RowFault::StrandsOfEach(2)),
        (
            blend("447+96", 0, &[1, 1, 1], None),
            RowFault::StrandsOfEach(2),
        ),
        (blend("447", 0, &[1, 1], None), RowFault::StrandsOfEach(1)),
        (
            KeyRow {
                pieces: 3,
                ..row("447", 0)
            },
            RowFault::PiecesOfThread,
        ),
    ] {
        assert_eq!(of_row(&state, row), Err(fault));
    }
    let twice = of_row(&state, blend("447+447", 0, &[], None));
    assert!(matches!(
        twice,
        Err(RowFault::Needle(NeedleError::Twice(_)))
    ));
    // If a card has that whole number, it means that card.
    add_cards(&mut state, &["447+96"]);
    let one = of_row(&state, blend("447+96", 2, &[], None));
    assert_eq!(one, Ok(vec![thread("447+96", 2, "")]));
}

#[test]
fn a_notion_is_named_by_its_number_and_name() {
    let mut state = wall(1, 3, 1);
    let bead = |number: &str, name: Option<&str>| KeyRow {
        notion: Some(NotionKind::Bead),
        pieces: 24,
        name: name.map(str::to_owned),
        ..row(number, 0)
    };
    let rows = [
        bead("B12", Some("gold")),
        bead("", Some("brass")),
        bead("7", None),
    ];
    let keyed = key::import(&state, &rows, Vec::new(), "Fox", &Terms::default(), at(5)).unwrap();
    assert_eq!((keyed.entries, keyed.colours), (3, 0));
    apply(&mut state, &keyed.event.unwrap());
    let ring = state.need_ring("Fox").unwrap();
    let names: Vec<String> = ring.key.iter().map(text::thread::notion).collect();
    assert_eq!(
        names,
        [
            "B12 gold: bead, 24 pieces",
            "brass: bead, 24 pieces",
            "7: bead, 24 pieces"
        ]
    );
    assert_eq!(
        of_row(&state, bead("", None)),
        Err(RowFault::Number(ParseNumberError::Empty))
    );
}

#[test]
fn a_colour_is_substituted_in_every_line_and_restored() {
    let mut state = keyed(&["1", "2", "1"]);
    let stitched = |state: &State| -> Vec<String> {
        let ring = state.need_ring("Harbour").unwrap();
        ring.threads()
            .map(|of| of.stitched().number.to_string())
            .collect()
    };
    let ask = |state: &State, colour: &str, with: Option<&str>| {
        swap(state, state.need_ring("Harbour").unwrap(), colour, with)
    };
    let event = ask(&state, "1", Some("77")).unwrap().unwrap();
    apply(&mut state, &event);
    assert_eq!(stitched(&state), ["77", "2", "77"]);
    assert_eq!(ask(&state, "1", Some("77")), Ok(None));
    let event = ask(&state, "1", None).unwrap().unwrap();
    apply(&mut state, &event);
    assert_eq!(stitched(&state), ["1", "2", "1"]);
    assert_eq!(ask(&state, "1", None), Ok(None));
    let itself = ask(&state, "1", Some("1")).unwrap_err();
    assert_eq!(itself.to_string(), "not_a_line");
    assert_eq!(
        ask(&state, "9", Some("1")).unwrap_err().to_string(),
        "not_in_key"
    );
}
