//! The program when its input, output or errors aren't the terminal.

use crate::harness::{Folder, RIGHT, Screen, times};

const USUAL: (u16, u16) = (80, 24);

/// A stash with one card on a board.
fn stash() -> Folder {
    let folder = Folder::new();
    let list = folder.file("cards.csv", "number,hook\n701,A01\n");
    folder.json(&["board", "new", "wall", "--rows", "2", "--columns", "5"]);
    folder.json(&["import", "cards", &list]);
    folder
}

/// The text printed instead of a screen, for a shell line that ends by printing the exit code. The
/// terminal is untouched.
fn plain(line: &str, folder: &Folder) -> String {
    let mut screen = Screen::shell(line, &folder.stash(), USUAL);
    screen.wait_for("code ");
    assert_eq!(screen.ended().exit_code(), 0, "{line}");
    assert!(screen.is_as_it_was(), "{line}: the terminal");
    assert_eq!(
        times(&screen.raw(), b"\x1b"),
        0,
        "{line}: {}",
        screen.text()
    );
    screen.text()
}

#[test]
fn board_is_printed_as_text_without_keyboard_or_screen() {
    let folder = stash();
    for line in [
        r#""$0" --stash "$1" 0<&-; echo "code $?""#,
        r#""$0" --stash "$1" </dev/null; echo "code $?""#,
        r#"echo q | "$0" --stash "$1"; echo "code $?""#,
        r#"{ "$0" --stash "$1"; echo "code $?"; } | cat"#,
        r#"{ "$0" --stash "$1" 0<&-; echo "code $?"; } 2>&1 | cat"#,
    ] {
        let text = plain(line, &folder);
        for words in [
            "wall: 2 rows of 5 hooks",
            "447 at home",
            "1 home, 0 out",
            "code 0",
        ] {
            assert!(text.contains(words), "{line}: {text}");
        }
    }
    // Nobody sees these, and nothing breaks.
    for line in [
        r#""$0" --stash "$1" >&-; echo "code $?""#,
        r#""$0" --stash "$1" >&- 2>&- <&-; echo "code $?""#,
    ] {
        assert_eq!(plain(line, &folder).trim(), "code 0", "{line}");
    }
    // No stash is created if there was none.
    let empty = Folder::new();
    let text = plain(r#""$0" --stash "$1" 0<&-; echo "code $?""#, &empty);
    assert!(text.contains("There is no board yet"), "{text}");
    assert!(!empty.stash().exists());
}

#[test]
fn screen_works_without_standard_error() {
    let folder = stash();
    for line in [
        r#"exec "$0" --stash "$1" 2>&-"#,
        r#"exec "$0" --stash "$1" 2>/dev/null"#,
    ] {
        let mut screen = Screen::shell(line, &folder.stash(), USUAL);
        screen.wait_for("? 0 ");
        screen.press(RIGHT, "A02 · ");
        screen.keys("q");
        assert_eq!(screen.ended().exit_code(), 0, "{line}");
        screen.wait_restored();
    }
}

#[test]
fn handbook_page_goes_through_the_pager() {
    let folder = stash();
    let through = |pager: &str, rest: &str| {
        let line = format!(r#"{{ PAGER={pager} "$0" guide scripts; echo "code $?"; }}{rest}"#);
        let text = plain(&line, &folder);
        assert!(text.contains("to begin your own with."), "{line}: {text}");
        text.contains("paged:")
    };
    let pager = r#""sed s/^/paged:/""#;
    assert!(through(pager, ""));
    // Without a pager, or when output isn't a terminal, the page is printed directly.
    for (pager, rest) in [("''", ""), ("no-such-pager", ""), (pager, " | cat")] {
        assert!(!through(pager, rest), "{pager}{rest}");
    }
}
