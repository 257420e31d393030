//! Every screen, with its name and the keys that lead there.

use super::{ROBIN, TestApp, crowded};
use crate::exchange::read_range;
use crate::stash::command::import;
use crate::tui::screens::rehang::Planning;
use crate::tui::screens::welcome::greet;
use crate::tui::theme::Depth;

/// The starting point of the keys.
#[derive(Clone, Copy)]
enum From {
    /// Two small boards with cards in every state.
    Sample,
    /// The sample with the project Robin and its chart key.
    Robin,
    /// A board that doesn't fit on a small screen.
    Crowded,
    /// The sample with colours of a range that aren't owned.
    Shades,
    /// An empty stash.
    Empty,
}

const SCREENS: &[(&str, From, &str)] = &[
    ("board", From::Sample, ""),
    ("board-chosen", From::Sample, " l "),
    ("board-blocked-hook", From::Sample, "lllll"),
    ("board-missing-card", From::Sample, "jl"),
    ("board-second", From::Sample, "b"),
    ("board-second-card", From::Sample, "b\t"),
    ("board-far", From::Sample, "--"),
    ("board-middle", From::Sample, "--+"),
    ("board-near", From::Sample, "++"),
    ("board-heat-thread", From::Sample, "H"),
    ("board-heat-away", From::Sample, "HH"),
    ("board-notice", From::Sample, "m"),
    ("board-refusal", From::Sample, "u"),
    ("board-empty", From::Empty, ""),
    ("board-crowded", From::Crowded, ""),
    ("board-crowded-middle", From::Crowded, "-+"),
    ("board-crowded-near", From::Crowded, "++"),
    ("board-crowded-heat", From::Crowded, "++H"),
    ("welcome", From::Sample, "W"),
    ("welcome-empty", From::Empty, "W"),
    ("find", From::Sample, "/"),
    ("find-matches", From::Sample, "/dune"),
    ("find-nothing", From::Sample, "/zzzzzz"),
    ("find-not-owned", From::Shades, "/99"),
    ("hang", From::Sample, "e"),
    ("hang-breaks-order", From::Sample, "lejjl"),
    ("hang-from-tray", From::Sample, "wje"),
    ("away", From::Sample, "w"),
    ("away-empty", From::Empty, "w"),
    ("rings", From::Sample, "r"),
    ("rings-empty", From::Empty, "r"),
    ("card-in-hand", From::Sample, "20"),
    ("card-in-hand-home", From::Sample, "40"),
    ("card-in-hand-two-ranges", From::Sample, "10"),
    ("card-in-hand-longer", From::Sample, "1"),
    ("put-away", From::Sample, "rp"),
    ("put-away-later", From::Sample, "rp\u{2193}"),
    ("put-away-last", From::Sample, "rp\n\n"),
    ("project", From::Robin, ""),
    ("project-shared", From::Robin, "s"),
    ("project-last-line", From::Robin, "jjjjjj"),
    ("project-without-key", From::Sample, "r\n"),
    ("pull", From::Robin, "t"),
    ("pull-later", From::Robin, "ts"),
    ("confirm-all-taken", From::Robin, "tA"),
    ("pull-done", From::Robin, "tAy"),
    ("buy", From::Robin, "b"),
    ("buy-more", From::Robin, "bj+"),
    ("buy-wanted", From::Shades, "/991\u{c}2\n\u{1b}l$\nrb"),
    ("intake", From::Sample, "rnRobin\nkey.csv\n\n"),
    ("matching", From::Sample, "imore.csv\n\n"),
    ("matching-no-titles", From::Sample, "imore.csv\n\nt"),
    ("matching-odd-titles", From::Sample, "iodd.csv\n\njj"),
    ("matching-meaning", From::Sample, "iodd.csv\n\njj "),
    (
        "matching-meaning-found",
        From::Sample,
        "iodd.csv\n\njj skein",
    ),
    ("matching-purchase", From::Sample, "ibought.csv\n\n\n"),
    ("matching-owned", From::Sample, "ibought.csv\n\n\nj"),
    ("design", From::Sample, "B"),
    ("design-order", From::Sample, "B\n\n\n\n\n"),
    ("design-hooks", From::Sample, "B\n\n\n\n\n\n"),
    ("design-anew", From::Sample, "E\n5\n"),
    ("design-anew-hooks", From::Sample, "E\n\n\n\n\n xr"),
    ("design-first", From::Empty, "B"),
    ("plans", From::Sample, "g"),
    ("plans-before", From::Sample, "g\t"),
    ("plans-next", From::Sample, "gl"),
    ("work", From::Sample, "g\n"),
    ("work-later", From::Sample, "g\ns"),
    ("board-rehang-underway", From::Sample, "g\n\n\u{1b}"),
    ("roll-call", From::Sample, "v"),
    ("roll-call-crowded", From::Crowded, "v"),
    ("roll-call-not-here", From::Sample, "vm"),
    ("roll-call-typing", From::Sample, "v77"),
    ("roll-call-new-card", From::Sample, "v999"),
    ("roll-call-other-here", From::Sample, "v40\n"),
    ("roll-call-report", From::Sample, "v40\n\n\u{1b}"),
    ("roll-call-underway", From::Sample, "v\n\u{1b}\u{1b}v"),
    ("roll-call-hang-home", From::Sample, "v40\n\n\u{1b}\n"),
    ("families", From::Sample, "F"),
    ("families-empty", From::Empty, "F"),
    ("families-cards", From::Sample, "F\n"),
    ("families-cards-chosen", From::Sample, "F\njj a"),
    ("families-send-to", From::Sample, "F\ns"),
    ("log", From::Sample, "L"),
    ("colours", From::Sample, "C"),
    ("help", From::Sample, "?"),
    ("help-handbook", From::Sample, "?\t"),
    ("help-found", From::Sample, "?strand"),
    ("help-nothing", From::Sample, "?zzz"),
    ("help-over-project", From::Robin, "?"),
    ("actions", From::Sample, ":"),
    ("actions-found", From::Sample, ":undo"),
    ("actions-nothing", From::Sample, ":zzz"),
    ("actions-over-project", From::Robin, ":"),
    ("confirm-close", From::Sample, "rp\n\n\n"),
    ("confirm-give-up", From::Sample, "g\nG"),
    ("confirm-all-steps", From::Sample, "g\nA"),
    ("confirm-hang", From::Sample, "lejjl\n"),
    ("form-take", From::Sample, "t"),
    ("form-import", From::Sample, "i"),
    ("form-import-offers", From::Sample, "i\t"),
    ("form-import-wrong", From::Sample, "imissing.csv\n\n"),
    ("form-range", From::Sample, "Wkk\n"),
    ("form-matches", From::Sample, "I"),
    ("form-new-card", From::Sample, "n"),
    ("form-change-card", From::Sample, "c"),
    ("form-new-card-wrong", From::Sample, "n\n\n\n\n\n\n\n"),
    ("form-park", From::Sample, "rh"),
    ("form-status", From::Robin, "\u{1b}e"),
    (
        "rings-with-kit",
        From::Robin,
        "\u{1b}jjewaiting for linen\n<",
    ),
    ("form-block", From::Sample, "jx"),
    ("form-elsewhere", From::Sample, "a"),
    ("form-discard", From::Sample, "D"),
    ("form-want", From::Sample, "$"),
    ("form-want-no-longer", From::Sample, "$2\n$"),
    ("form-count", From::Sample, "N"),
    ("form-count-lots", From::Sample, "NK7\n6\n\n3.5\n2\nN"),
    ("form-cut", From::Sample, "N\n\n\n3.5\n2\nS"),
    ("board-two-lots", From::Sample, "NK7\n6\n\n3.5\n2\n"),
    ("form-sheet", From::Sample, "ibook.xlsx\n\n"),
    ("form-marks", From::Sample, "V"),
    ("form-range-thread", From::Sample, "R"),
    ("board-marked", From::Sample, "V\nVvar\n$\n"),
    ("form-new-project", From::Sample, "rn"),
    ("form-bring-key", From::Sample, "rnWren\n\u{13}i"),
    ("form-key-line", From::Robin, "e"),
    ("form-key-line-wrong", From::Robin, "e\n\n\n\n\nx\u{13}"),
    ("form-key-line-new", From::Robin, "a"),
    ("form-key-line-bead", From::Robin, "a\nbead\t"),
    ("form-bought-lot", From::Robin, "be"),
    ("buy-lot", From::Robin, "beK7\n"),
    ("form-fabric", From::Robin, "f"),
    ("form-fabric-count", From::Robin, "f28"),
    ("form-fabric-wrong", From::Robin, "f\n\n\n\nx\u{13}"),
    ("form-decant", From::Robin, "jd"),
    ("form-progress", From::Robin, "%"),
    ("form-use", From::Sample, "r\nikey.csv\n\n\njn"),
    ("form-new-family", From::Sample, "Fn"),
    ("form-rename-family", From::Sample, "Fe"),
    ("form-paper", From::Sample, "P"),
    ("form-paper-wrong", From::Sample, "Pzzz\n\n\n\n"),
];

/// A screen, and the app that shows it.
pub struct Screen {
    pub name: &'static str,
    pub desk: TestApp,
}

/// Every screen at this size, with its name.
pub fn every_screen(size: (u16, u16), depth: Depth) -> Vec<Screen> {
    let sized = |mut desk: TestApp| {
        desk.app.size = size;
        desk.app.kept_in = "/home/you/homehook".to_owned();
        desk
    };
    let sample = sized(TestApp::sample(depth));
    let robin = sample.after(ROBIN);
    let empty = sized(TestApp::empty(depth));
    let mut shades = sample.clone();
    let list = read_range("number,name\n99,sandstone\n991,sandbar\n".as_bytes()).unwrap();
    let came = import::range(&shades.state, &list.rows, Vec::new(), "Sandbank").unwrap();
    shades.state.apply(&came.event.unwrap()).unwrap();
    let mut full = empty.clone();
    full.state = crowded(300);
    let mut screens: Vec<Screen> = (SCREENS.iter())
        .map(|&(name, from, keys)| {
            let desk = match from {
                From::Sample => &sample,
                From::Robin => &robin,
                From::Crowded => &full,
                From::Shades => &shades,
                From::Empty => &empty,
            };
            let desk = desk.after(keys);
            Screen { name, desk }
        })
        .collect();
    let mut opened = sample.clone();
    let mut app = opened.app.clone();
    greet(&mut app, opened.stash());
    opened.app = app;
    screens.push(Screen {
        name: "start",
        desk: opened,
    });
    // No keys lead there, because a test app in memory answers at once.
    let mut waiting = sample.clone();
    waiting.app.stack.push(Box::new(Planning { count: 7 }));
    screens.push(Screen {
        name: "planning",
        desk: waiting,
    });
    let mut reader = sample.clone();
    reader.read_only = Some("read-only: another window has this stash open".to_owned());
    screens.push(Screen {
        name: "board-read-only",
        desk: reader,
    });
    let mut invented = sample;
    invented.app.demo = true;
    invented.keys("W");
    screens.push(Screen {
        name: "welcome-demo",
        desk: invented,
    });
    screens
}
