//! Recognized titles, and guessed columns.

use proptest::prelude::*;

use super::*;
use crate::exchange::table::{Delimiter, Rows};
use crate::exchange::{FileError, look_over, read_cards, read_cards_as, read_key_as};

fn header(line: &str) -> Result<Header, ColumnsError> {
    let row = Rows::new(line, Delimiter::Comma).next().unwrap().unwrap();
    Header::of(&row, &Column::OF_CARD_LIST)
}

#[test]
fn case_and_spaces_do_not_matter() {
    let read = header(" Colour  Number ,BRAND,dye_lot,Shoe Size").unwrap();
    let columns: Vec<_> = read.columns.iter().map(|(column, _)| *column).collect();
    assert_eq!(columns, [Column::Number, Column::Range, Column::DyeLot]);
    assert_eq!(read.ignored, ["Shoe Size"]);
}

#[test]
fn a_duplicate_column_is_refused() {
    let twice = header("number,name,No").unwrap_err();
    assert_eq!(
        twice,
        ColumnsError::Twice {
            column: Column::Number,
            first: "number".into(),
            second: "No".into(),
        }
    );
}

#[test]
fn a_column_of_known_ranges_is_the_range_whatever_its_title() {
    let text = "No,Haus,Shop\n1,Cove,\n2,cove,\n3,,z\n";
    let mut found = look_over(text.as_bytes(), &Column::OF_CARD_LIST).unwrap();
    assert_eq!(found.guess.uses[1], Some(Column::Name));
    found.know_ranges(|name| name.eq_ignore_ascii_case("cove"));
    assert_eq!(
        found.guess.uses,
        [Some(Column::Number), Some(Column::Range), None]
    );
    // One known name among others is a chance.
    let mut found = look_over(b"No,Haus\n1,Cove\n2,a\n3,b\n", &Column::OF_CARD_LIST).unwrap();
    found.know_ranges(|name| name == "Cove");
    assert!(!found.guess.uses.contains(&Some(Column::Range)));
}

fn guessed(text: &str) -> (bool, Vec<Option<Column>>) {
    let found = look_over(text.as_bytes(), &Column::OF_CARD_LIST).unwrap();
    (found.guess.header, found.guess.uses)
}

#[test]
fn columns_are_guessed_by_title_then_by_word_then_by_value() {
    use Column::{Hex, Hook, Lengths, Name, Note, Number, Range};
    for (text, header, uses) in [
        ("number,name\n1,a", true, vec![Some(Number), Some(Name)]),
        (
            "Thread number;My notes;Where on the wall, place\n1;x;A01\n",
            true,
            vec![Some(Number), Some(Note), Some(Hook)],
        ),
        (
            "Farbe,Bezeichnung,Ton\n701,soot,#101214\n9,chalk,#FFFFFF\n",
            true,
            vec![Some(Number), Some(Name), Some(Hex)],
        ),
        (
            "701,soot,#101214,8\n9,chalk,#FFFFFF,8\n",
            false,
            vec![Some(Number), Some(Name), Some(Hex), None],
        ),
        ("7\n", false, vec![Some(Number)]),
        (
            "No,Colour,Lengths\n7,soot,8\n8,chalk,8",
            true,
            vec![Some(Number), Some(Name), Some(Lengths)],
        ),
        // An ambiguous title, settled by its values.
        (
            "Maker;Shade;Thread no\nMeadow;shade of grey 1;3\nMeadow;shade of red 2;9\n",
            true,
            vec![Some(Range), None, Some(Number)],
        ),
        (
            "Code,Colour\nsnow,#FFFFFF\nsoot,#000000\n",
            true,
            vec![Some(Number), Some(Hex)],
        ),
        // Titles that are just as common above numbers or names, here above colours with one slip.
        (
            "Shade,No,Title\n#F4E3B2,3,straw\nyellowish,4,wheat\n#B4233C,5,poppy\n",
            true,
            vec![Some(Hex), Some(Number), Some(Name)],
        ),
        (
            "No;Tone;Colour\n3;#F4E3B2;straw\n4;#D8C070;wheat\n5;reddish;poppy\n",
            true,
            vec![Some(Number), Some(Hex), Some(Name)],
        ),
        (
            "Colour;Shade\nstraw;3\nwheat;4\npoppy;5\n",
            true,
            vec![Some(Name), Some(Number)],
        ),
        // Names that repeat, and hooks under an unusual title.
        (
            "No;Colour;Wall\n3;plum;A01\n4;plum;A02\n5;plum;A03\n6;straw;A04\n",
            true,
            vec![Some(Number), Some(Name), Some(Hook)],
        ),
        // Colours made of digits aren't names.
        (
            "No;Colour\n3;84 129 79\n4;84 129 80\n",
            true,
            vec![Some(Number), None],
        ),
        // Two titles with the same meaning: the first is used, and nothing is refused.
        ("number,no,x\n1,2,\n", true, vec![Some(Number), None, None]),
        ("soot\nchalk\n", true, vec![Some(Name)]),
    ] {
        assert_eq!(guessed(text), (header, uses), "{text}");
    }
}

#[test]
fn titles_of_other_languages_are_understood_in_both_lists() {
    use Column::{Hex, Name, Number, Skeins, Stitches, Strands, Symbol};
    for (text, known, uses) in [
        (
            "Farbe;Nummer;Anzahl\nRuß;701;2\nKreide;9;1\n",
            &Column::OF_CARD_LIST[..],
            [Some(Name), Some(Number), Some(Skeins)],
        ),
        (
            "Numéro;Couleur;Nombre\n701;#101214;suie\n9;#FFFFFF;craie\n",
            &Column::OF_CARD_LIST,
            [Some(Number), Some(Hex), Some(Name)],
        ),
        // 'Nombre' is a name in Spanish and a count in French.
        (
            "Numéro;Nom;Nombre\n701;suie;40\n9;craie;7\n",
            &Column::OF_KEY,
            [Some(Number), Some(Name), None],
        ),
        (
            "Zeichen;Farbnummer;Fäden\nX;701;2\nO;9;1\n",
            &Column::OF_KEY,
            [Some(Symbol), Some(Number), Some(Strands)],
        ),
        (
            "Kleur;Kruissteken;Draden\n701;40;2\n9;50;1\n",
            &Column::OF_KEY,
            [Some(Number), Some(Stitches), Some(Strands)],
        ),
    ] {
        let found = look_over(text.as_bytes(), known).unwrap();
        assert_eq!(found.guess.uses, uses, "{text}");
        assert_eq!(found.unclear(), None, "{text}");
    }
}

#[test]
fn a_chart_key_is_read_with_assigned_columns() {
    let text = "Was;Wo;Wieviel\nX;701;40\nO;9;50\n";
    let columns = Columns {
        header: true,
        uses: vec![
            Some(Column::Symbol),
            Some(Column::Number),
            Some(Column::Stitches),
        ],
    };
    let read = read_key_as(text.as_bytes(), &columns).unwrap();
    let rows: Vec<_> = (read.rows.iter())
        .map(|row| (row.symbol.as_deref(), &*row.number, row.stitches))
        .collect();
    assert_eq!(rows, [(Some("X"), "701", 40), (Some("O"), "9", 50)]);
}

#[test]
fn a_file_without_a_header_keeps_its_first_row() {
    let text = "soot,701\nchalk,9\n";
    let found = look_over(text.as_bytes(), &Column::OF_CARD_LIST).unwrap();
    assert!(!found.guess.header);
    let read = read_cards_as(text.as_bytes(), &found.guess).unwrap();
    let rows: Vec<_> = read
        .rows
        .iter()
        .map(|row| (row.line, &*row.number))
        .collect();
    assert_eq!(rows, [(1, "701"), (2, "9")]);
    assert_eq!(read.rows[0].name.as_deref(), Some("soot"));
    assert_eq!(found.title(&found.guess, 1), "column 2");
    let values: Vec<_> = found.values(&found.guess, 0).collect();
    assert_eq!(values, ["soot", "chalk"]);
}

#[test]
fn invalid_columns_are_refused() {
    let columns = |uses| Columns { header: true, uses };
    let text = b"a,b\n1,2\n";
    let twice = columns(vec![Some(Column::Number), Some(Column::Number)]);
    let error = read_cards_as(text, &twice).unwrap_err();
    assert!(
        matches!(error, FileError::Columns(ColumnsError::Twice { .. })),
        "{error}"
    );
    let none = columns(vec![None, Some(Column::Name)]);
    let error = read_cards_as(text, &none).unwrap_err();
    assert!(
        matches!(error, FileError::Columns(ColumnsError::NoNumber { .. })),
        "{error}"
    );
    let few = columns(vec![Some(Column::Number)]);
    let read = read_cards_as(text, &few).unwrap();
    assert_eq!((read.rows.len(), read.ignored), (1, vec!["b".to_owned()]));
}

proptest! {
    #[test]
    fn any_bytes_are_examined_and_read_or_refused(
        bytes in prop::collection::vec(any::<u8>(), 0..200)
    ) {
        if let Ok(found) = look_over(&bytes, &Column::OF_CARD_LIST) {
            let _ = read_cards_as(&bytes, &found.guess);
        }
    }

    /// A list that reads without help gets the same columns from the guess.
    #[test]
    fn a_list_with_known_titles_is_guessed_as_it_is_read(
        numbers in prop::collection::vec("[0-9]{1,4}", 1..6),
        at in 0usize..3,
    ) {
        let mut titles = vec!["brand", "skeins", "note"];
        titles.insert(at, "no.");
        let mut text = titles.join(";");
        for number in &numbers {
            let mut row = vec!["Meadow", "2", "x"];
            row.insert(at, number);
            text += &format!("\n{}", row.join(";"));
        }
        let found = look_over(text.as_bytes(), &Column::OF_CARD_LIST).unwrap();
        let guessed = read_cards_as(text.as_bytes(), &found.guess).unwrap();
        prop_assert_eq!(guessed, read_cards(text.as_bytes()).unwrap());
    }
}
