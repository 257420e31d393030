use super::*;

fn board(rows: u16, columns: u16, reading: ReadingOrder, prefix: &str) -> Board {
    Board {
        id: BoardId(1),
        name: Label::new("wall").unwrap(),
        prefix: Label::new(prefix).unwrap(),
        rows,
        columns,
        cards_per_hook: 1,
        reading,
        special: BTreeMap::new(),
    }
}

#[test]
fn every_reading_order_visits_every_hook_once() {
    for reading in [
        ReadingOrder::Rows,
        ReadingOrder::Columns,
        ReadingOrder::ThereAndBack,
    ] {
        let board = board(3, 4, reading, "");
        let hooks: Vec<_> = board.hooks().collect();
        let mut sorted = hooks.clone();
        sorted.sort();
        sorted.dedup();
        assert_eq!(sorted.len(), 12);
        for (index, &hook) in hooks.iter().enumerate() {
            assert_eq!(board.reading_index(hook) as usize, index, "{reading:?}");
        }
    }
}

#[test]
fn there_and_back_turns_at_each_row_end() {
    let board = board(2, 3, ReadingOrder::ThereAndBack, "");
    let hook_names: Vec<_> = board.hooks().map(|hook| board.hook_name(hook)).collect();
    assert_eq!(hook_names, ["A01", "A02", "A03", "B03", "B02", "B01"]);
}

#[test]
fn hook_names_are_read_as_written_and_as_typed() {
    for (columns, prefix) in [(20, ""), (120, ""), (20, "X"), (20, "2-")] {
        let board = board(60, columns, ReadingOrder::Rows, prefix);
        for hook in board.hooks() {
            assert_eq!(board.find_hook(&board.hook_name(hook)), Some(hook));
        }
    }
    let board = board(12, 20, ReadingOrder::Rows, "");
    for text in ["C07", "c7", " c-07 ", "C007"] {
        assert_eq!(board.find_hook(text), Some(board.hook(2, 6)), "{text}");
    }
    for text in [
        "",
        "C",
        "7",
        "C0",
        "C21",
        "M01",
        "C7x",
        "Ä1",
        "C99999999999",
    ] {
        assert_eq!(board.find_hook(text), None, "{text}");
    }
}

#[test]
fn a_blocked_hook_has_no_capacity_but_keeps_its_places() {
    let mut board = board(2, 2, ReadingOrder::Rows, "");
    let hook = board.hook(0, 1);
    board.special.insert(
        (0, 1),
        HookSpec {
            cards_per_hook: Some(3),
            blocked: Some(Label::new("bracket").unwrap()),
            reserved: false,
        },
    );
    assert_eq!((board.capacity(hook), board.places_made(hook)), (0, 3));
    let json = serde_json::to_string(&board).unwrap();
    assert_eq!(serde_json::from_str::<Board>(&json).unwrap(), board);
}

#[test]
fn measures_out_of_bounds_are_refused() {
    assert!(board(0, 1, ReadingOrder::Rows, "").check().is_err());
    assert!(board(702, 9_999, ReadingOrder::Rows, "").check().is_err());
    assert!(board(12, 20, ReadingOrder::Rows, "").check().is_ok());
}
