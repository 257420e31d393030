//! Every screen in a real pseudo-terminal matches what the library draws in memory for the same
//! stash and the same keys. There are no stored files: the test computes both.

use std::path::{Path, PathBuf};

use homehook::journal::store::Store;
use homehook::stash::command::rehang::plans;
use homehook::stash::event::{Act, Event};
use homehook::stash::history::History;
use homehook::stash::refusal::Refusal;
use homehook::stash::state::State;
use homehook::text::history::Brief;
use homehook::tui::app::derived::Derived;
use homehook::tui::app::{App, Stash};
use homehook::tui::key::{Code, Key};
use homehook::tui::keymap::Scope;
use homehook::tui::message::PastEvent;
use homehook::tui::message::{Effect, Message};
use homehook::tui::screens::welcome::greet;
use homehook::tui::theme::{Depth, Theme};
use homehook::tui::update::update;
use homehook::tui::view::view;
use jiff::Timestamp;
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use unicode_width::UnicodeWidthStr;

use crate::common::is_long;
use crate::harness::{ESC, Folder, Screen};

/// Cards at home, two on one hook, two to hang, a name in letters two columns wide, and one too
/// long for any place.
const CARDS: &str = "range,number,name,hex,family,lengths,hook\n\
    Sandbank,10,dune,#C8A165,shore,8,A01\n\
    Sandbank,20,shell pale,#F1E4D4,shore,8,A02\n\
    Sandbank,30,kelp,#2E5339,shore,8,A04\n\
    Sandbank,40,\u{65e5}\u{672c} e\u{301},#224466,shore,8,A05\n\
    Sandbank,50,a name that is far too long for any hook on any board,#102030,sea,8,B01\n\
    Sandbank,60,foam,,sea,8,B02\n\
    Meadow,11,clover,#66AA55,field,8,2-A01\n\
    Meadow,1234567890,daisy,#FFFFFF,field,8,2-A01\n\
    Meadow,77,burr,#000000,field,8,C06\n\
    Meadow,80,hay,#DDCC88,field,8,\n\
    Meadow,81,straw,#DDCC99,field,8,\n";
/// Colours at home, on a ring, to hang, missing and not owned.
const KEY: &str = "symbol,range,number,strands,stitches,hex\n\
    X,Sandbank,10,2,400,\n\
    O,Sandbank,20,2,300,\n\
    /,Meadow,11,2,,\n\
    +,Meadow,80,2,2500,\n\
    -,Sandbank,60,2,50,\n\
    #,Sandbank,99,2,700,#C9A267\n";
/// Columns with odd titles, and a row that can't be imported.
const ODD: &str = "Farbe;Ton;Vorrat\n701;soot;2\n9;chalk;\n12;x;y\n";

/// The program without its terminal.
struct Mirror {
    app: App,
    state: State,
    history: History,
    stash: PathBuf,
    seq: u64,
}

impl Mirror {
    /// The state of the program after it opens a stash.
    fn open(folder: &Path, size: (u16, u16)) -> Self {
        let (store, _) = Store::open(folder).unwrap();
        let mut app = App::new(size, Timestamp::now(), Theme::new(Depth::True));
        app.kept_in = store.dir().display().to_string();
        app.derived = Derived::of(store.state());
        app.opened_after = store.history().last_done().map_or(0, |past| past.seq);
        let stash = Stash {
            state: store.state(),
            history: store.history(),
            read_only: None,
            last_is_others: false,
        };
        greet(&mut app, stash);
        Self {
            app,
            state: store.state().clone(),
            history: store.history().clone(),
            stash: folder.to_owned(),
            seq: store.events(),
        }
    }

    fn record(&mut self, event: Result<Event, Refusal>) -> Message {
        let done = event.map_err(|refusal| refusal.to_string());
        Message::Recorded(done.map(|event| {
            self.state.apply(&event).unwrap();
            self.seq += 1;
            let act = event.act.clone();
            self.history.note(self.seq, event);
            act
        }))
    }

    /// The history in the record on disk, newest first.
    fn log(&self) -> Vec<PastEvent> {
        let (store, _) = Store::open(&self.stash).unwrap();
        let mut lines: Vec<PastEvent> = Vec::new();
        let described = store.describe(1, homehook::text::history::act, Brief::of, |entry| {
            if let Act::Undo { seq } = entry.act {
                let undone = lines.iter_mut().find(|line| line.seq == seq);
                undone.unwrap().taken_back_by = Some(entry.seq);
            }
            lines.push(PastEvent {
                seq: entry.seq,
                time: entry.time,
                by: entry.by.map(String::from),
                which: homehook::text::history::in_brief(&entry.summary),
                what: entry.summary.what,
                taken_back_by: None,
            });
        });
        described.unwrap();
        lines.reverse();
        lines
    }

    fn perform(&mut self, effect: Effect) -> Option<Message> {
        match effect {
            Effect::Commit(event) => Some(self.record(Ok(event))),
            Effect::Undo { .. } => {
                let event = self.history.undo();
                Some(self.record(event))
            }
            Effect::Redo { .. } => {
                let event = self.history.redo();
                Some(self.record(event))
            }
            Effect::Plan => Some(Message::Planned(plans(&self.state))),
            Effect::ReadLog => Some(Message::LogRead(Ok(self.log()))),
            Effect::ReadFile { path, want } => {
                let bytes = std::fs::read(&path);
                let bytes = bytes.map_err(|error| format!("'{path}' cannot be read: {error}"));
                Some(Message::FileRead { path, want, bytes })
            }
            Effect::Flash
            | Effect::StopPlanning
            | Effect::KeepLooks(_)
            | Effect::Mouse(_)
            | Effect::Speak(_) => None,
            effect @ (Effect::WriteFiles(_)
            | Effect::ListFiles { .. }
            | Effect::Demo
            | Effect::Suspend
            | Effect::Quit) => panic!("not to be asked for here: {effect:?}"),
        }
    }

    fn press(&mut self, key: Key) {
        self.app.now = Timestamp::now();
        let mut messages = vec![Message::Key(key)];
        while let Some(message) = messages.pop() {
            let stash = Stash {
                state: &self.state,
                history: &self.history,
                read_only: None,
                last_is_others: false,
            };
            for effect in update(&mut self.app, stash, message) {
                messages.extend(self.perform(effect));
            }
        }
    }

    /// The screen drawn line by line; a character two columns wide appears once.
    fn drawn(&self) -> Vec<String> {
        let (width, height) = self.app.size;
        let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
        let stash = Stash {
            state: &self.state,
            history: &self.history,
            read_only: None,
            last_is_others: false,
        };
        terminal
            .draw(|frame| view(&self.app, stash, frame))
            .unwrap();
        let buffer = terminal.backend().buffer();
        let row = |y: u16| {
            let (mut row, mut x) = (String::new(), 0);
            while x < width {
                let symbol = buffer[(x, y)].symbol();
                row.push_str(symbol);
                x += u16::try_from(symbol.width()).unwrap().max(1);
            }
            row.trim_end().to_owned()
        };
        (0..height).map(row).collect()
    }
}

/// The key for a character of a story, and the bytes a terminal sends for it.
fn key(c: char) -> (Key, String) {
    let plain = |code, bytes: &str| (Key::plain(code), bytes.to_owned());
    match c {
        '\n' => plain(Code::Enter, "\r"),
        '\t' => plain(Code::Tab, "\t"),
        '\u{1b}' => plain(Code::Esc, ESC),
        '\u{13}' => (Key::ctrl('s'), "\u{13}".to_owned()),
        c => (Key::char(c), c.to_string()),
    }
}

/// The program in a terminal, with its mirror.
struct Pair {
    screen: Screen,
    mirror: Mirror,
    /// The scopes compared so far.
    scopes: Vec<Scope>,
}

impl Pair {
    fn open(folder: &Folder, size: (u16, u16)) -> Self {
        let mirror = Mirror::open(&folder.stash(), size);
        let screen = Screen::open(&folder.stash(), size);
        let mut pair = Self {
            screen,
            mirror,
            scopes: Vec::new(),
        };
        pair.compare("");
        pair
    }

    /// Waits until the terminal shows what the mirror draws.
    fn compare(&mut self, after: &str) {
        let drawn = self.mirror.drawn();
        let width = self.mirror.app.size.0;
        let what = format!("screen as in memory after {after:?}:\n{}", drawn.join("\n"));
        self.screen.wait_until(&what, || {
            let rows = self.screen.rows(width);
            rows.iter().map(|row| row.trim_end()).eq(drawn.iter())
        });
        self.scopes.push(self.mirror.app.scope());
    }

    /// Presses keys on both. Escape is sent alone, because a key right after it would count as one
    /// with Alt, and the screen before it must be seen, because Escape may lead back to an earlier
    /// one.
    fn keys(&mut self, keys: &str) {
        let parts = keys.split_inclusive(ESC).flat_map(|part| {
            let typed = part.strip_suffix(ESC);
            typed.map_or([part, ""], |typed| [typed, ESC])
        });
        for part in parts.filter(|part| !part.is_empty()) {
            let mut bytes = String::new();
            for c in part.chars() {
                let (key, sent) = key(c);
                self.mirror.press(key);
                bytes.push_str(&sent);
            }
            self.screen.keys(&bytes);
            self.compare(part);
        }
    }

    /// Returns to the board with Escape.
    fn back(&mut self) {
        for _ in 0..5 {
            if self.mirror.app.scope() == Scope::Board {
                return;
            }
            self.keys(ESC);
        }
        panic!("{:?} is not left by Escape", self.mirror.app.scope());
    }
}

/// A stash with cards in every state, and a hanging ring.
fn stash() -> Folder {
    let folder = Folder::new();
    let list = folder.file("cards.csv", CARDS);
    folder.file("key.csv", KEY);
    folder.file("odd.csv", ODD);
    let door = ["--rows", "2", "--columns", "3", "--cards-per-hook", "2"];
    for args in [
        &["board", "new", "wall", "--rows", "4", "--columns", "6"][..],
        &[&["board", "new", "door", "--prefix", "2-"], &door[..]].concat(),
        &["board", "block", "A06", "--why", "bracket"],
        &["import", "cards", &list],
        &["ring", "take", "Heron", "20", "30", "77"],
        &["ring", "take", "Kite", "50"],
        &["ring", "hang", "Kite", "D06"],
        &["missing", "60"],
    ] {
        folder.json(args);
    }
    folder
}

/// Every screen, by its keys from the board. Escape leads back there after each one. Changes
/// persist, so the order matters. `KEY`, `ODD` and `OWN` (the existing cards) stand for the paths
/// of those files.
#[rustfmt::skip]
const STORY: &[&str] = &[

    // The board, its views and its cards.
    " l ", "\u{1b}", "lllll", "hhhhh", "jl", "kh", "b", "\t", "b", "-", "-", "-", "+", "+", "+",
    "-", "H", "H", "H", "M", "M",
    // Windows over it and panes beside it.
    "?", "?strand", "?zzz", ":", ":undo", ":zzz", "C", "/", "/dune", "/zzzzzz", "/60\n", "L", "w", "wjj",
    "e", "e\t", "lejjl\n", "wje", "W", "Wj", "P",
    // Forms.
    "t", "t\n", "i", "n", "n\n\n\n\n\n\n\n", "x", "jjx", "kkx", "iODD\n\n",
    "iODD\n\njjt", "iODD\n\n ", "iOWN\n\n\n",
    // Editing boards.
    "B", "B\n\n\n\n\n", "B\n\n\n\n\n\n", "E", "E\n5\n", "E\n\n\n\n\n xr",
    // Rings and a project.
    "r", "rj", "rjh", "rn", "rnWren\n\u{13}", "rnRobin\nKEY\n\n", "rnRobin\nKEY\n\n\n", "rjjj\n",
    "rjjj\njj-", "rjjj\ns", "rjjj\ne", "rjjj\na", "rjjj\nf", "rjjj\njd", "rjjj\n%", "rjjj\nn",
    "rjjj\ni", "rjjj\nt", "rjjj\nts", "rjjj\nt\nm", "rjjj\ntAy", "rjjj\nb", "rjjj\nbj+", "rp", "rpkelp",
    "rp\n", "rp\n-", "rc",
    // Families.
    "F", "Fjc", "Fn", "Fe", "F\n", "F\njj a", "F\ns", "F\n\u{1b}", "u", "U",
    // A roll call.
    "v", "vm", "vj", "vs", "v77", "v999", "v999\n", "v40\n", "v40\n\n\u{1b}", "vn40\n\n\u{1b}\n",
    // A re-hang.
    "g", "g\t", "gl", "gl\t", "g\n", "gs", "g\n", "gm", "gG", "gR", "gRy",
    // A card in hand.
    "20", "20\n", "1",
];

fn walk(size: (u16, u16)) {
    let folder = stash();
    let path = |name: &str| folder.stash().with_file_name(name).display().to_string();
    let (key, odd, own) = (path("key.csv"), path("odd.csv"), path("cards.csv"));
    let mut pair = Pair::open(&folder, size);
    for keys in STORY {
        let keys = keys.replace("KEY", &key).replace("ODD", &odd);
        pair.keys(&keys.replace("OWN", &own));
        pair.back();
    }
    // Plans for so few cards are ready at once.
    let not_here = [Scope::Anywhere, Scope::Planning];
    for scope in Scope::ALL {
        let seen = pair.scopes.contains(&scope);
        assert_eq!(seen, !not_here.contains(&scope), "{scope:?}");
    }
    pair.screen.keys("q");
    assert_eq!(pair.screen.ended().exit_code(), 0);
    assert_eq!(folder.json(&["check"])["events"], pair.mirror.seq);
}

/// At the smallest size that shows everything; in a long run also at the largest.
#[test]
fn terminal_shows_the_screens_drawn_in_memory() {
    walk((80, 24));
    if is_long() {
        walk((220, 60));
    }
}

/// The first steps and the empty pages.
#[test]
fn terminal_shows_an_empty_stash_as_drawn_in_memory() {
    for size in [(80, 24), (120, 40), (220, 60)] {
        let folder = Folder::new();
        let mut pair = Pair::open(&folder, size);
        for keys in ["j", "r", "w", "F", "L", "g", "/x", "?", ":", "B", "W"] {
            pair.keys(keys);
            pair.back();
        }
        pair.screen.keys("q");
        assert_eq!(pair.screen.ended().exit_code(), 0);
    }
}
