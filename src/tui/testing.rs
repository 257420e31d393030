//! An app with a stash in memory and simulated keys, for tests.

use std::any::Any;
pub mod ways;

use std::collections::VecDeque;

use jiff::Timestamp;
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::buffer::Buffer;

use super::app::derived::Derived;
use super::app::screen::Screen;
use super::app::{App, Stash};
use super::key::{Code, Key};
use super::message::PastEvent;
use super::message::{Effect, Message};
use super::theme::{Depth, Theme};
use super::update::update;
use super::view::{shown, view};
use crate::exchange::read_cards;
use crate::model::board::ReadingOrder;
use crate::stash::command::board::{NewBoard, Unhang, block, new_board};
use crate::stash::command::import::{self, Terms};
use crate::stash::command::{rehang, ring};
use crate::stash::event::{Act, Event};
use crate::stash::history::History;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::text::files::rejected;

/// A conversion list, and one with a row that can't be imported.
pub const MATCHES: &str = "matches.csv";
pub const MATCHES_IN_PART: &str = "matches-in-part.csv";
const MATCH_LIST: &str =
    "range,number,range,number\nMeadow,77,Sandbank,99\nMeadow,80,Sandbank,60\n";
const MATCH_LIST_IN_PART: &str = "range,number,range,number\n\
    Meadow,77,Sandbank,99\nMeadow,80,Sandbank,60\nMeadow,81,Heath,1\n";

/// A readable file: a list with a new card, a card of the stash, and a bad row.
pub const FILE: &str = "more.csv";
const MORE: &str = "range,number,name,hex\nSandbank,15,new dune,#AA8844\nSandbank,10,dune,\n,,x,\n";
/// A list with odd column names and a bad row.
pub const ODD: &str = "odd.csv";
const ODD_LIST: &str = "Farbe;Ton;Vorrat\n701;soot;2\n9;chalk;\n12;x;y\n";
/// A purchase: a card at home, a card that is out, and a new card.
pub const BOUGHT: &str = "bought.csv";
const BOUGHT_LIST: &str = "range,number,name,hex,skeins\n\
    Sandbank,10,dune,#C8A165,1\nSandbank,20,shell pale,#F1E4D4,2\nSandbank,25,reed,#7A8B4F,1\n";
/// A workbook: a sheet of notes, one with [`MORE`], one with a chart key.
pub const BOOK: &str = "book.xlsx";
/// A chart key: two colours at home, two on a ring, one to hang, one missing and one not owned.
const KEY: &str = "symbol,range,number,strands,stitches,hex\n\
    X,Sandbank,10,2,400,\n\
    O,Sandbank,20,2,300,\n\
    /,Meadow,10,2,,\n\
    +,Meadow,80,2,2500,\n\
    -,Sandbank,60,2,50,\n\
    #,Sandbank,99,2,700,#C9A267\n\
    :,Sandbank,50,1,90,\n";
/// The keys that start the project Robin with that chart key.
pub const ROBIN: &str = "rnRobin\nkey.csv\n\n\n";
const CARDS: &str = "range,number,name,hex,family,hook\n\
    Sandbank,10,dune,#C8A165,shore,A01\n\
    Sandbank,20,shell pale,#F1E4D4,shore,A02\n\
    Sandbank,30,kelp,#2E5339,shore,A04\n\
    Sandbank,40,\u{65e5}\u{672c} e\u{301},#224466,shore,A05\n\
    Sandbank,50,a name that is far too long for any hook on any board,#102030,sea,B01\n\
    Sandbank,60,foam,,sea,B02\n\
    Meadow,10,clover,#66AA55,field,2-A01\n\
    Meadow,1234567890,daisy,#FFFFFF,field,2-A01\n\
    Meadow,77,burr,#000000,field,C06\n\
    Meadow,80,hay,#DDCC88,field,\n\
    Meadow,81,straw,#DDCC99,field,\n";

/// The contents of [`BOOK`].
fn workbook() -> Vec<u8> {
    let mut book = rust_xlsxwriter::Workbook::new();
    let sheets = [
        ("Notes", "what to do\nwind the skeins\n"),
        ("Cards", MORE),
        ("Key", KEY),
    ];
    for (name, text) in sheets {
        let sheet = book.add_worksheet();
        sheet.set_name(name).unwrap();
        for (row, line) in (0..).zip(text.lines()) {
            for (column, cell) in (0..).zip(line.split(',')) {
                sheet.write_string(row, column, cell).unwrap();
            }
        }
    }
    book.save_to_buffer().unwrap()
}

/// A fixed time.
pub fn now() -> Timestamp {
    Timestamp::from_second(1_770_000_000).unwrap()
}

/// A stash of this many cards, in order on a wall with a few free hooks, and one card to hang.
pub fn crowded(cards: usize) -> State {
    let mut state = State::default();
    let board = NewBoard {
        name: "wall".to_owned(),
        prefix: String::new(),
        rows: u16::try_from(cards / 20 + 2).unwrap(),
        columns: 20,
        cards_per_hook: 1,
        reading: ReadingOrder::Rows,
    };
    let up = new_board(&state, &board).unwrap();
    state.apply(&up).unwrap();
    let hook = |n: usize| state.hook_name(state.hooks().nth(n).unwrap());
    let mut text = "range,number,family,hook\nSandbank,15,sea,\n".to_owned();
    for n in 1..cards {
        text += &format!("Sandbank,{},sea,{}\n", 10 * n, hook(n));
    }
    let list = read_cards(text.as_bytes()).unwrap();
    let card_list =
        import::card_list(&state, &list.rows, Vec::new(), &Terms::default(), now()).unwrap();
    state.apply(&card_list.event.unwrap()).unwrap();
    state
}

/// Performs the interface's requests in memory.
#[derive(Clone)]
pub struct TestApp {
    pub app: App,
    pub state: State,
    pub history: History,
    pub read_only: Option<String>,
    /// The requests, in order.
    pub asked: Vec<Effect>,
    seq: u64,
}

impl TestApp {
    /// The notice on the screen; empty without one.
    pub fn said(&self) -> &str {
        let notice = self.app.notice.as_ref();
        notice.map_or("", |notice| notice.text.as_str())
    }

    /// The number of commit requests.
    pub fn commits(&self) -> usize {
        let commits = self
            .asked
            .iter()
            .filter(|effect| matches!(effect, Effect::Commit(_)));
        commits.count()
    }

    /// An empty stash.
    pub fn empty(depth: Depth) -> Self {
        Self {
            app: App::new((80, 24), now(), Theme::new(depth)),
            state: State::default(),
            history: History::default(),
            read_only: None,
            asked: Vec::new(),
            seq: 0,
        }
    }

    /// Two boards and eleven cards: at home, out on a ring that hangs on a hook, out on a ring in
    /// use, missing, two on one hook, and two to hang. One hook is blocked.
    pub fn sample(depth: Depth) -> Self {
        let mut desk = Self::empty(depth);
        let mut board = NewBoard {
            name: "wall".to_owned(),
            prefix: String::new(),
            rows: 4,
            columns: 6,
            cards_per_hook: 1,
            reading: ReadingOrder::Rows,
        };
        desk.does(|state| new_board(state, &board));
        (board.name, board.prefix) = ("door".to_owned(), "2-".to_owned());
        (board.rows, board.columns, board.cards_per_hook) = (2, 3, 2);
        desk.does(|state| new_board(state, &board));
        desk.does(|state| block(state, "A06", "bracket", Unhang::Refused, now()));
        let list = read_cards(CARDS.as_bytes()).unwrap();
        let terms = Terms::default();
        desk.does(|state| {
            let outcome =
                import::card_list(state, &list.rows, rejected(&list.rejected), &terms, now())?;
            assert_eq!(outcome.rejected, []);
            Ok(outcome.event.unwrap())
        });
        let card = |state: &State, name: &str| state.find_card(name).unwrap();
        desk.does(|state| {
            let cards = ["20", "30", "77"].map(|name| card(state, name));
            ring::take(state, "Heron", &cards, now())
        });
        desk.does(|state| ring::take(state, "Kite", &[card(state, "50")], now()));
        desk.does(|state| ring::hang_up(state, state.find_ring("Kite").unwrap(), "D06", now()));
        desk.does(|state| ring::missing(state, &[card(state, "60")], now()));
        // Undo must not reach the setup.
        desk.history = History::default();
        desk.app.derived = Derived::of(&desk.state);
        desk
    }

    fn does(&mut self, ask: impl FnOnce(&State) -> Result<Event, Refusal>) {
        let event = ask(&self.state).unwrap();
        self.record(&event).unwrap();
    }

    pub fn stash(&self) -> Stash<'_> {
        Stash {
            state: &self.state,
            history: &self.history,
            read_only: self.read_only.as_deref(),
            last_is_others: false,
        }
    }

    fn record(&mut self, event: &Event) -> Result<Act, String> {
        let applied = self.state.apply(event);
        applied.map_err(|misfit| Refusal::from(misfit).to_string())?;
        self.seq += 1;
        self.history.note(self.seq, event.clone());
        Ok(event.act.clone())
    }

    fn perform(&mut self, effect: Effect) -> Option<Message> {
        let event = match effect {
            Effect::Commit(event) => Ok(event),
            Effect::Undo { .. } => self.history.undo(),
            Effect::Redo { .. } => self.history.redo(),
            Effect::ReadFile { path, want } => {
                let text = match path.as_str() {
                    FILE => Ok(MORE),
                    ODD => Ok(ODD_LIST),
                    BOUGHT => Ok(BOUGHT_LIST),
                    "key.csv" => Ok(KEY),
                    MATCHES => Ok(MATCH_LIST),
                    MATCHES_IN_PART => Ok(MATCH_LIST_IN_PART),
                    _ => Err(format!("'{}' cannot be read", shown(&path))),
                };
                let bytes = match path.as_str() {
                    BOOK => Ok(workbook()),
                    _ => text.map(|text| text.as_bytes().to_vec()),
                };
                return Some(Message::FileRead { path, want, bytes });
            }
            Effect::WriteFiles(files) => {
                let names = files.into_iter().map(|(name, _)| name);
                return Some(Message::Written(match names.collect::<Vec<_>>() {
                    names if names.iter().any(|name| name == FILE) => {
                        Err(format!("'{FILE}' is there already"))
                    }
                    names => Ok(names),
                }));
            }
            Effect::Plan => return Some(Message::Planned(rehang::plans(&self.state))),
            Effect::ReadLog => {
                let line = |seq| PastEvent {
                    seq,
                    time: now(),
                    by: (seq == 40).then(|| "laptop".to_owned()),
                    what: format!("Took {seq} cards"),
                    which: String::new(),
                    taken_back_by: (seq == 39).then_some(40),
                };
                return Some(Message::LogRead(Ok((1..=40).rev().map(line).collect())));
            }
            Effect::ListFiles { typed } => {
                let found = [FILE, ODD, "key.csv"].map(str::to_owned).to_vec();
                let found = found.into_iter().filter(|name| name.starts_with(&typed));
                let found = found.collect();
                return Some(Message::Files { typed, found });
            }
            Effect::StopPlanning
            | Effect::Flash
            | Effect::Speak(_)
            | Effect::KeepLooks(_)
            | Effect::Mouse(_)
            | Effect::Suspend
            | Effect::Demo
            | Effect::Quit => {
                return None;
            }
        };
        let done = event.map_err(|refusal| refusal.to_string());
        Some(Message::Recorded(
            done.and_then(|event| self.record(&event)),
        ))
    }

    /// Handles a message and performs all its effects.
    pub fn take(&mut self, message: Message) {
        let mut messages = VecDeque::from([message]);
        while let Some(message) = messages.pop_front() {
            let mut app = self.app.clone();
            let effects = update(&mut app, self.stash(), message);
            self.app = app;
            for effect in effects {
                self.asked.push(effect.clone());
                messages.extend(self.perform(effect));
            }
        }
    }

    /// Presses keys: characters, with `\n` for Enter, `\t` for Tab, `\u{8}` for Backspace, `\u{1b}` for
    /// Escape, `↓` for Down and `\u{13}` for Ctrl-S.
    pub fn keys(&mut self, keys: &str) {
        for c in keys.chars() {
            self.take(Message::Key(match c {
                '\n' => Key::plain(Code::Enter),
                '\t' => Key::plain(Code::Tab),
                '\u{8}' => Key::plain(Code::Backspace),
                '\u{1b}' => Key::plain(Code::Esc),
                '\u{2193}' => Key::plain(Code::Down),
                '\u{c}' => Key::ctrl('l'),
                '\u{13}' => Key::ctrl('s'),
                c => Key::char(c),
            }));
        }
    }

    /// A copy after these keys.
    pub fn after(&self, keys: &str) -> Self {
        let mut desk = self.clone();
        desk.keys(keys);
        desk
    }

    /// The screen drawn at this size.
    pub fn buffer(&self, (width, height): (u16, u16)) -> Buffer {
        let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
        terminal
            .draw(|frame| view(&self.app, self.stash(), frame))
            .unwrap();
        terminal.backend().buffer().clone()
    }

    /// The topmost screen, if it is of this type.
    pub fn top<T: Screen>(&self) -> Option<&T> {
        let top: &dyn Any = &**self.app.stack.last()?;
        top.downcast_ref()
    }

    /// The question on the screen; empty if there is none.
    pub fn question(&self) -> &str {
        let top = self.app.stack.last();
        top.and_then(|screen| screen.question()).unwrap_or("")
    }

    /// The error of the form on the screen; empty if there is none.
    pub fn wrong(&self) -> String {
        let top = self.app.stack.last();
        top.and_then(|screen| screen.wrong()).unwrap_or_default()
    }

    /// Index of the current line of the form on the screen.
    pub fn line(&mut self) -> usize {
        let top = self.app.stack.last_mut().expect("a form");
        *top.line().expect("a form")
    }

    /// The text in a line of the form on the screen.
    pub fn filled(&mut self, label: &str) -> String {
        let top = self.app.stack.last_mut().expect("a form");
        let mut inputs = top.inputs().into_iter();
        let input = inputs.find(|input| input.label() == label).expect(label);
        input.value().to_owned()
    }

    /// The screen drawn at this size, line by line.
    pub fn drawn(&self, (width, height): (u16, u16)) -> Vec<String> {
        let buffer = self.buffer((width, height));
        let row = |y: u16| (0..width).map(|x| buffer[(x, y)].symbol()).collect();
        (0..height).map(row).collect()
    }
}

/// Every screen at a usual size, with its name.
pub fn every_mode(depth: Depth) -> Vec<(&'static str, TestApp)> {
    let screens = ways::every_screen((80, 24), depth).into_iter();
    screens.map(|screen| (screen.name, screen.desk)).collect()
}
