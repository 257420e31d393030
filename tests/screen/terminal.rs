//! The program and its terminal: sizes, signals, other windows, no colour, hostile pastes.

use std::fs;
use std::path::{Path, PathBuf};

use homehook::tui::layout;
use homehook::tui::wall::HookStatus;

use crate::harness::{DOWN, Display, ENTER, Folder, RIGHT, Screen, times};

const USUAL: (u16, u16) = (80, 24);

/// A stash with a board of 2 rows and 5 columns: one card at home on A01, one out, one missing, a
/// blocked hook and a free one.
fn small_stash() -> Folder {
    let folder = Folder::new();
    let list = "range,number,name,hex,hook\n\
                Sandbank,10,dune,#C8A165,A01\n\
                Sandbank,20,shell,#F1E4D4,A02\n\
                Sandbank,30,kelp,#2E5339,A03\n";
    let file = folder.file("cards.csv", list);
    folder.json(&["board", "new", "wall", "--rows", "2", "--columns", "5"]);
    folder.json(&["import", "cards", &file]);
    folder.json(&["ring", "take", "Heron", "20"]);
    folder.json(&["missing", "30"]);
    folder.json(&["board", "block", "A04", "--why", "bracket"]);
    folder
}

fn quit(mut screen: Screen) -> Screen {
    screen.keys("q");
    assert_eq!(screen.ended().exit_code(), 0);
    screen.wait_restored();
    screen
}

#[test]
fn display_shows_a_line_however_it_is_split() {
    let line = "d\u{e9}j \u{65e5}\u{672c}\u{b7} \u{2500}\u{2510}";
    for cut in 0..line.len() {
        let (first, rest) = line.as_bytes().split_at(cut);
        let mut display = Display::new(20, 1);
        display.take(first);
        display.take(rest);
        assert_eq!(display.screen().contents(), line, "cut at {cut}");
    }
}

#[test]
fn board_opens_and_responds_at_every_usual_size() {
    let folder = small_stash();
    for size in [USUAL, (120, 40), (220, 60)] {
        let mut screen = Screen::open(&folder.stash(), size);
        screen.wait_for("? 1 ");
        screen.press(RIGHT, "A02 · ");
        screen.press("?", "Signs on the board");
        screen.escape("Signs on the board");
        quit(screen);
    }
}

#[test]
fn rapid_resizing_is_harmless() {
    let folder = small_stash();
    let mut screen = Screen::open(&folder.stash(), USUAL);
    screen.wait_for("? 1 ");
    for n in 0..60_u16 {
        let (columns, rows) = (n * 7 % 83 + 1, n * 5 % 29 + 1);
        screen.resize(columns, rows);
        screen.keys(if n % 2 == 0 { RIGHT } else { DOWN });
    }
    // Each of these is drawn before the next one.
    for (columns, rows) in [
        (3, 3),
        (1, 1),
        (1, 24),
        (80, 1),
        (2, 2),
        (300, 90),
        (1, 1),
        USUAL,
    ] {
        let drawn = times(&screen.raw(), b"\x1b[2J");
        screen.resize(columns, rows);
        screen.wait_raw(b"\x1b[2J", drawn + 1);
    }
    screen.wait_for("? 1 ");
    screen.press("r", "Heron");
    screen.keys("q");
    screen.press("w", "Not at home");
    screen.keys("q");
    quit(screen);
}

#[test]
fn termination_signal_restores_the_terminal() {
    let folder = small_stash();
    for name in ["TERM", "HUP", "INT"] {
        let mut screen = Screen::open(&folder.stash(), USUAL);
        screen.wait_for("? 1 ");
        screen.signal(name);
        let status = screen.ended();
        assert_eq!(status.signal(), None, "SIG{name} was left to do its worst");
        screen.wait_restored();
    }
}

#[test]
fn half_a_key_sequence_does_not_delay_a_signal() {
    let folder = small_stash();
    let mut screen = Screen::open(&folder.stash(), USUAL);
    screen.wait_for("? 1 ");
    // A paste that never ends; the key before it proves that it was read.
    screen.press("?", "Signs on the board");
    screen.keys("\x1b[200~for ever");
    screen.signal("TERM");
    screen.ended();
    screen.wait_restored();
}

#[test]
fn closing_the_terminal_ends_the_program() {
    let folder = small_stash();
    let screen = Screen::open(&folder.stash(), USUAL);
    screen.wait_for("? 1 ");
    screen.hang_up();
    // The stash is free for the next process.
    folder.json(&["found", "30"]);
    assert_eq!(folder.json(&["check"])["ok"], true);
}

#[test]
fn two_windows_show_and_change_the_same_stash() {
    let folder = small_stash();
    let mut first = Screen::open(&folder.stash(), (120, 40));
    first.wait_for("? 1 ");
    let mut second = Screen::open(&folder.stash(), (120, 40));
    second.wait_for("? 1 ");
    first.press("m", "2 missing");
    second.wait_for("2 missing");
    second.press("m", "? 1 ");
    first.wait_for("? 1 ");
    quit(first);
    quit(second);
    assert_eq!(folder.json(&["check"])["ok"], true);
}

/// Every parameter of every SGR sequence, with `38;2;1;2;3` as 38 alone.
fn sgr(raw: &[u8]) -> Vec<u16> {
    let text = String::from_utf8_lossy(raw);
    let mut found = Vec::new();
    for sequence in text.split("\x1b[").skip(1) {
        let end = sequence.find(|c: char| !c.is_ascii_digit() && c != ';' && c != ':');
        let Some((parameters, rest)) = end.map(|end| sequence.split_at(end)) else {
            continue;
        };
        if rest.starts_with('m') {
            let mut numbers = parameters.split([';', ':']).map(|n| n.parse().unwrap_or(0));
            while let Some(n) = numbers.next() {
                found.push(n);
                if n == 38 || n == 48 {
                    let skip = if numbers.next() == Some(2) { 3 } else { 1 };
                    numbers.by_ref().take(skip).for_each(drop);
                }
            }
        }
    }
    found
}

const fn is_colour(n: u16) -> bool {
    matches!(n, 30..=38 | 40..=48 | 90..=107)
}

/// The signs on the first row of hooks, each run of a character once, with the cursor elsewhere.
fn first_row(screen: &mut Screen, (columns, rows): (u16, u16)) -> String {
    screen.press(DOWN, "B01 · ");
    screen.keys("--");
    let row = |line: String| {
        // Without the edges of cards and the families beside them.
        let line = line.replace(['▐', '▄', '▟'], " ");
        let words = line.split_whitespace();
        let signs = words.take_while(|word| word.chars().count() == 1);
        let mut signs: Vec<char> = signs.flat_map(str::chars).collect();
        signs.dedup();
        signs.into_iter().collect::<String>()
    };
    let width = layout::beside(layout::parts(columns, rows).body).0.width;
    let signs = || {
        screen
            .rows(width)
            .into_iter()
            .find(|line| line.starts_with("A "))
    };
    screen.wait_until("signs alone", || {
        signs().is_some_and(|line| !line.contains(|c: char| c.is_ascii_digit()))
    });
    row(signs().unwrap())
}

fn glyphs(shapes: &[HookStatus]) -> String {
    shapes.iter().map(|shape| shape.glyph()).collect()
}

#[test]
fn letters_show_the_states_without_colour() {
    let folder = small_stash();
    let stash = folder.stash().display().to_string();
    let states = [
        HookStatus::Out,
        HookStatus::Missing,
        HookStatus::Blocked,
        HookStatus::Free,
    ];

    let mut plain = Screen::start(&["--stash", &stash], &[("NO_COLOR", "1")], USUAL);
    plain.wait_for("? 1 ");
    let signs = first_row(&mut plain, USUAL);
    let home = HookStatus::Home.glyph();
    assert_eq!(signs, format!("A{home}{}", glyphs(&states)));
    plain.press("?", "Signs on the board");
    plain.escape("Signs on the board");
    let raw = quit(plain).raw();
    let colours: Vec<u16> = sgr(&raw).into_iter().filter(|&n| is_colour(n)).collect();
    assert_eq!(colours, Vec::<u16>::new());

    // With colour, the letters are the same, but a card at home is a swatch.
    let mut coloured = Screen::open(&folder.stash(), USUAL);
    coloured.wait_for("? 1 ");
    assert_eq!(
        first_row(&mut coloured, USUAL),
        format!("A{}", glyphs(&states))
    );
    let raw = quit(coloured).raw();
    assert!(sgr(&raw).contains(&48), "a swatch is a background colour");
}

/// All output while a board is opened, coloured by heat, used and closed.
fn sent(folder: &Folder, args: &[&str], vars: &[(&str, &str)]) -> Vec<u8> {
    let stash = folder.stash().display().to_string();
    let args = [&["--stash", &stash][..], args].concat();
    let mut screen = Screen::start(&args, vars, USUAL);
    screen.wait_for("? 1 ");
    screen.press("H", "metres left");
    screen.press("H", "weeks away");
    screen.press("H", "Heat view off");
    screen.press(RIGHT, "A02 · ");
    quit(screen).raw()
}

#[test]
fn output_uses_only_the_requested_colours() {
    let folder = small_stash();
    let no_colour = ("NO_COLOR", "1");
    for (args, vars) in [
        (&[][..], &[no_colour][..]),
        (&["--colour", "none"], &[]),
        (&[], &[("HOMEHOOK_COLOUR", "none")]),
        (&[], &[("CLICOLOR", "0")]),
        (&[], &[no_colour, ("HOMEHOOK_COLOUR", "")]),
        (
            &["--colour", "auto"],
            &[no_colour, ("HOMEHOOK_COLOUR", "true")],
        ),
    ] {
        let sent = sgr(&sent(&folder, args, vars));
        let colours: Vec<u16> = sent.into_iter().filter(|&n| is_colour(n)).collect();
        assert_eq!(colours, Vec::<u16>::new(), "{args:?} {vars:?}");
    }
    let has = |raw: &[u8], bytes: &[u8]| times(raw, bytes) > 0;
    // Settings for this program beat settings for all programs.
    for (args, vars) in [
        (&["--colour", "true"][..], &[no_colour][..]),
        (&[], &[no_colour, ("HOMEHOOK_COLOUR", "true")]),
        (
            &["--color", "true", "--theme", "light"],
            &[("TERM", "linux")],
        ),
    ] {
        let raw = sent(&folder, args, vars);
        assert!(has(&raw, b"48;2;"), "{args:?} {vars:?}");
        assert!(!has(&raw, b"8;5;"));
    }
    let raw = sent(
        &folder,
        &["--colour", "256"],
        &[("HOMEHOOK_COLOUR", "none")],
    );
    assert!(has(&raw, b"48;5;") && !has(&raw, b"8;2;"));
    let raw = sent(&folder, &["--colour", "16"], &[]);
    assert!(!has(&raw, b"8;5;") && !has(&raw, b"8;2;"));
    let few = |&n: &u16| matches!(n, 30..=37 | 40..=47 | 90..=97 | 100..=107);
    assert!(sgr(&raw).iter().any(few));
}

#[test]
fn themes_send_different_colours() {
    let folder = small_stash();
    let dark = sent(&folder, &[], &[("COLORFGBG", "15;0")]);
    let light = sent(&folder, &[], &[("COLORFGBG", "0;15")]);
    let asked = sent(&folder, &["--theme", "light"], &[("COLORFGBG", "15;0")]);
    let away =
        |raw: &[u8]| [&b"38;2;215;135;255"[..], b"38;2;135;0;175"].map(|c| times(raw, c) > 0);
    assert_eq!(away(&dark), [true, false]);
    assert_eq!(away(&light), [false, true]);
    assert_eq!(away(&asked), [false, true]);
}

#[test]
fn pasting_control_characters_is_harmless() {
    let folder = small_stash();
    let mut screen = Screen::open(&folder.stash(), USUAL);
    screen.press("/", "Type a number");
    screen.keys("\x1b[200~zz\x1b]0;title\x07\x1b[31mred\x00\u{202e}\u{9b}2J\r\nq\x03\x1a\x1b[201~");
    // The program is alive, shows the readable part, and reports the rest.
    screen.wait_for("zz]0;title[31mred");
    screen.wait_for("Left out of what was pasted: 8 invisible characters");
    screen.wait_for("Nothing like that");
    let raw = screen.raw();
    for bytes in [
        &b"\x1b]0"[..],
        b"\x07",
        b"\x1b[31mred",
        "\u{202e}".as_bytes(),
        "\u{9b}".as_bytes(),
    ] {
        assert_eq!(times(&raw, bytes), 0, "{}", bytes.escape_ascii());
    }
    screen.escape("Nothing like that");
    quit(screen);
}

#[test]
fn pasting_a_megabyte_is_cut_and_reported() {
    let folder = small_stash();
    let mut screen = Screen::open(&folder.stash(), USUAL);
    screen.press("/", "Type a number");
    screen.keys(&format!(
        "\x1b[200~{}\x1b[201~",
        "\u{8d64}q ".repeat((1 << 20) / 5)
    ));
    screen.wait_for("A line takes 1000 characters: 628145 of what was pasted");
    // Delete it, and search for something else.
    screen.press("\x1510", "dune");
    screen.press(ENTER, "A01 · ");
    quit(screen);
}

/// Whether a process is stopped, according to Linux.
#[cfg(target_os = "linux")]
fn is_stopped(pid: u32) -> bool {
    let stat = std::fs::read_to_string(format!("/proc/{pid}/stat")).unwrap();
    let (_, after_name) = stat.rsplit_once(") ").unwrap();
    after_name.starts_with('T')
}

#[cfg(target_os = "linux")]
#[test]
fn ctrl_z_stops_the_program_until_it_is_resumed() {
    let folder = small_stash();
    let mut screen = Screen::open(&folder.stash(), USUAL);
    screen.wait_for("? 1 ");
    screen.keys("\x1a");
    screen.wait_restored();
    screen.wait_until("stop", || is_stopped(screen.pid()));
    // The terminal may have been resized in the meantime.
    screen.resize(100, 30);
    screen.signal("CONT");
    // Only from here on do keys reach the program instead of the shell.
    screen.wait_raw(b"\x1b[?1049h", 2);
    screen.wait_raw(b"? 1 ", 2);
    screen.press(RIGHT, "A02 · ");
    quit(screen);
}

#[test]
fn ascii_signs_can_be_set_by_option_or_variable() {
    let folder = small_stash();
    let stash = folder.stash().display().to_string();
    let args = ["--stash", stash.as_str()];
    for (option, vars, plain) in [
        (None, &[("HOMEHOOK_ASCII", "1")][..], true),
        (None, &[("HOMEHOOK_ASCII", "")], false),
        (Some("--ascii"), &[], true),
    ] {
        let args: Vec<&str> = args.into_iter().chain(option).collect();
        let mut screen = Screen::start(&args, vars, USUAL);
        screen.wait_for("? help");
        assert_eq!(!screen.text().contains('╭'), plain, "{option:?} {vars:?}");
        screen.keys("q");
        assert_eq!(screen.ended().exit_code(), 0);
    }
}

/// The settings file in a home folder.
fn settings(home: &Path) -> PathBuf {
    let folder = match cfg!(target_os = "macos") {
        true => "Library/Application Support/homehook",
        false => ".config/homehook",
    };
    home.join(folder).join("screen.json")
}

/// The board of a user with a home folder, on a terminal that reports sixteen colours.
fn at_home(folder: &Folder, home: &Path, args: &[&str], vars: &[(&str, &str)]) -> Screen {
    let (stash, home) = (
        folder.stash().display().to_string(),
        home.display().to_string(),
    );
    let config = format!("{home}/.config");
    let usual = [
        ("HOME", &*home),
        ("XDG_CONFIG_HOME", &config),
        ("TERM", "xterm"),
        ("COLORTERM", ""),
    ];
    let args = [&["--stash", &stash][..], args].concat();
    let screen = Screen::start(&args, &[&usual[..], vars].concat(), USUAL);
    screen.wait_for("? 1 ");
    screen
}

#[test]
fn colours_chosen_on_the_screen_apply_at_once_and_are_saved() {
    let (folder, home) = (small_stash(), tempfile::tempdir().unwrap());
    let has = |raw: &[u8], bytes: &[u8]| times(raw, bytes) > 0;
    let mut screen = at_home(&folder, home.path(), &[], &[]);
    screen.wait_for("Press C if it has more");
    screen.press("C", "the terminal's: 16");
    assert!(!has(&screen.raw(), b"48;2;"));
    screen.press(RIGHT, "true colour");
    screen.wait_raw(b"48;2;", 1);
    screen.press("jl", "‹ dark");
    screen.press("l", "‹ light");
    screen.press(ENTER, "BOARD");
    quit(screen);
    let kept = fs::read_to_string(settings(home.path())).unwrap();

    let light = b"48;2;255;255;255";
    let screen = at_home(&folder, home.path(), &[], &[]);
    assert!(!screen.text().contains("Press C"));
    assert!(has(&quit(screen).raw(), light));
    // Settings for this run beat the saved ones, and aren't saved.
    let said = at_home(&folder, home.path(), &["--colour", "256"], &[]);
    assert!(!has(&quit(said).raw(), b"48;2;"));
    let refused = at_home(&folder, home.path(), &[], &[("NO_COLOR", "1")]);
    let sent = sgr(&quit(refused).raw());
    assert!(!sent.into_iter().any(is_colour));
    assert_eq!(fs::read_to_string(settings(home.path())).unwrap(), kept);
}

#[test]
fn broken_colour_file_is_reported_and_left_unchanged() {
    let (folder, home) = (small_stash(), tempfile::tempdir().unwrap());
    let file = settings(home.path());
    fs::create_dir_all(file.parent().unwrap()).unwrap();
    fs::write(&file, r#"{"colour": "blue"}"#).unwrap();
    let mut screen = at_home(&folder, home.path(), &[], &[]);
    screen.wait_for("The colours kept in");
    screen.press(RIGHT, "A02 · ");
    assert!(!screen.text().contains("The colours kept in"));
    let raw = quit(screen).raw();
    assert_eq!(times(&raw, b"48;2;"), 0);
    assert_eq!(fs::read_to_string(&file).unwrap(), r#"{"colour": "blue"}"#);
}

#[test]
fn damaged_stash_names_the_command_that_checks_it() {
    let folder = small_stash();
    let record = folder.stash().join("record.jsonl");
    let text = fs::read_to_string(&record).unwrap();
    fs::write(&record, text.replacen("new_board", "old_board", 1)).unwrap();
    let screen = Screen::open(&folder.stash(), (220, 60));
    screen.wait_for("Read-only, see");
    let command = format!("homehook --stash {} check", folder.stash().display());
    assert!(screen.text().contains(&command), "{}", screen.text());
    quit(screen);
}
