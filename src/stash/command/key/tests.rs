use super::*;
use crate::model::ring::RingState;
use crate::stash::command::ring;
use crate::stash::testing::{add_cards, apply, at, id, wall};
use crate::text;

/// Rows that say `RANGE:NUMBER STITCHES`, from line 2 on.
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
fn a_key_opens_a_ring_without_cards_and_keeps_its_order() {
    let mut state = wall(1, 3, 1);
    add_cards(&mut state, &["Hill:9@A01", "Hill:310"]);
    let keyed = read(&state, "Harbour", &["310 40", "9 12", "77 5", "310"]);
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
    assert_eq!(numbers(&state, "harbour"), ["310", "9", "77", "310"]);
    let ring = state.need_ring("Harbour").unwrap();
    assert_eq!(
        (ring.state, state.cards_on(ring).count()),
        (RingState::Live, 0)
    );
    assert_eq!(
        read(&state, "Harbour", &["310 40", "9 12", "77 5", "310"]).event,
        None
    );
}

/// What a row's colour is taken for, as `RANGE:NUMBER`.
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
fn a_range_is_seen_from_the_stash_where_nobody_says_it() {
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
        // Nothing shows that this is 1 of Meadow.
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
fn a_number_that_is_owned_in_another_range_is_told() {
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
    let hint = "308 of Hillside is not owned; you own 308 of Meadow".to_owned();
    assert_eq!(told, [Some(hint.clone()), Some(hint), None]);
}

#[test]
fn a_second_key_takes_the_place_of_the_first_and_the_cards_stay() {
    let mut state = wall(1, 3, 1);
    add_cards(&mut state, &["Hill:9@A01"]);
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
fn a_closed_ring_is_opened_again() {
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
fn a_range_that_is_new_comes_with_the_key_and_not_with_a_row_that_is_refused() {
    let mut state = wall(1, 3, 1);
    add_cards(&mut state, &["Hill:9"]);
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
    assert_eq!(names, ["Hill", "Moor"]);
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
