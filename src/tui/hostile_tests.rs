//! Hostile input for every text field on the screen.

use super::app::App;
use super::field::{Field, LONGEST};
use super::key::{Code, Key};
use super::keymap::Scope;
use super::message::{Effect, Message};
use super::testing::{FILE, MATCHES, TestApp};
use super::theme::Depth;
use crate::stash::event::Event;
use crate::testing::is_long;

/// A form to attack: the keys that open it, and valid text for each of its lines.
struct Way {
    form: &'static str,
    keys: &'static str,
    filled: &'static [&'static str],
}

const fn way(form: &'static str, keys: &'static str, filled: &'static [&'static str]) -> Way {
    Way { form, keys, filled }
}

/// The way to every form. Whoever adds a form or a line of one adds it here, with valid text.
const FORMS: [Way; 30] = [
    way("Take", "t", &["Robin"]),
    way("ImportList", "i", &[FILE, "Sandbank"]),
    way("ImportRange", "Wkk\n", &[FILE, "Sandbank"]),
    way("ImportMatches", "I", &[MATCHES]),
    way(
        "NewCard",
        "n",
        &["123", "Sandbank", "heath", "#AABBCC", "8", ""],
    ),
    way("Status", "re", &["waiting for linen"]),
    way("HangUp", "rh", &["C01"]),
    way("Block", "jx", &["bracket"]),
    way("NewProject", "rn", &["Wren", "key.csv", "Sandbank"]),
    way("ImportKey", "rnWren\n\u{13}i", &["key.csv", "Sandbank"]),
    way(
        "KeyEntry",
        "rnRobin\nkey.csv\n\n\ne",
        &[
            "10",
            "thread",
            "Sandbank",
            "X",
            "dune",
            "2",
            "400",
            "",
            "",
            "",
            "",
            "",
            "",
            "Sandbank:20",
        ],
    ),
    way(
        "KeyEntry",
        "rnRobin\nkey.csv\n\n\na",
        &[
            "40", "thread", "Sandbank", "X", "dune", "2", "400", "", "", "", "", "", "", "",
        ],
    ),
    way(
        "KeyEntry",
        "rnRobin\nkey.csv\n\n\na40\nbead\t",
        &["B12", "bead", "gold seed", "B", "24"],
    ),
    way("DyeLot", "rnRobin\nkey.csv\n\n\nbe", &["K7"]),
    way(
        "Fabric",
        "rnRobin\nkey.csv\n\n\nf",
        &[
            "16",
            "1",
            "3",
            "1",
            "one by one",
            "50",
            "6.5",
            "0.5",
            "20",
            "10",
        ],
    ),
    way(
        "Split",
        "rnRobin\nkey.csv\n\n\njd",
        &["1", "0", "for a while"],
    ),
    way("Progress", "rnRobin\nkey.csv\n\n\n%", &["50", "all"]),
    way("Use", "r\nikey.csv\n\n\njn", &["1", "2"]),
    way("FamilyName", "Fn", &["lichens"]),
    way("FamilyName", "Fe", &["mosses"]),
    way("Print", "P", &["card", "", "A4", "labels.html"]),
    way(
        "ChangeCard",
        "c",
        &["heath", "#AABBCC", "8", "1", "mosses", "7", "frayed"],
    ),
    way("Elsewhere", "a", &["drawer", "a friend", "2026-12-24"]),
    way("Want", "$", &["2"]),
    way("Count", "N", &["K7", "7", "1", "3.5m", "1"]),
    way("Cut", "N\n\n\n\n2\nS", &["1", ""]),
    way("Sheet", "ibook.xlsx\n\n", &["Cards"]),
    way("Marks", "V", &["variegated"]),
    way("RangeThread", "R", &["Shore", "perle", "5", "25m", "1"]),
    way("Remove", "D", &["moths"]),
];

/// The keys to every field outside a form.
const ALONE: [&str; 5] = ["/", "?", ":", "vs", "iodd.csv\n\njj "];

/// The active field, if any. A screen with a new field belongs in [`ALONE`] or [`FORMS`].
fn field(app: &App) -> Option<&Field> {
    app.stack.last().and_then(|top| top.field())
}

/// A hostile text, and whether a field strips part of it.
struct Hostile {
    text: String,
    cut: bool,
}

fn hostile() -> Vec<Hostile> {
    let controls: String = ('\0'..='\u{9f}').filter(|c| c.is_control()).collect();
    let mut texts: Vec<String> = [
        "\u{1b}[31mred\u{1b}[2J\u{1b}]0;mine\u{7}\u{1b}Pq\u{1b}\\\u{9b}H\u{9d}0;mine\u{9c}",
        // Right-to-left text, and direction overrides.
        "\u{5d0}\u{5d3}\u{5d5}\u{5dd} \u{623}\u{62d}\u{645}\u{631} 701",
        "\u{202e}der\u{202c}\u{2067}b\u{2069}\u{200f}\u{61c}",
        // Wide characters.
        "\u{8d64}\u{3044}\u{7cf8}\u{ff21}\u{1f9f5}\u{1f468}\u{200d}\u{1f469}\u{200d}\u{1f467}",
        // Invisible characters.
        "\u{200b}\u{200c}\u{200d}\u{2060}\u{feff}\u{ad}\u{e0041}",
        "\u{34f}\u{3164}\u{115f}\u{fe0f}\u{180b}\u{2800}",
        // Combining marks, also with nothing before them.
        "\u{301}e\u{301}\u{327}\u{323}\u{300}",
        "  \t\r\n\u{a0}\u{2028}\u{3000} ",
        "%s{}{0}\"'`$(ls);<b>&\\u{1b}[31m",
    ]
    .map(str::to_owned)
    .to_vec();
    texts.push(controls);
    // Far more than a field holds. The pseudo-terminal tests paste a whole megabyte.
    let marks = format!("e{}", "\u{301}".repeat(1 << 15));
    let long = |text: &str| text.repeat((1 << 16) / text.len());
    texts.push(marks);
    texts.extend(["9", "\u{8d64}", "\u{202e}"].map(long));
    let invisible = |c: char| is_bad(c) && !matches!(c, '\t' | '\n' | '\r');
    let cut = |text: &str| text.chars().any(invisible) || text.chars().count() > LONGEST;
    (texts.into_iter())
        .map(|text| Hostile {
            cut: cut(&text),
            text,
        })
        .collect()
}

/// Whether a terminal would obey a character, or a reader couldn't see it. The ranges are
/// independent of the model's, which are under test.
fn is_bad(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{ad}' | '\u{61c}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}' | '\u{feff}' | '\u{e0000}'..='\u{e007f}')
}

const SMALL: [(u16, u16); 2] = [(1, 1), (20, 5)];
const USUAL: (u16, u16) = (80, 24);

/// Draws at a size, asserts that no cell holds a bad character, and returns the text.
fn drawn(desk: &mut TestApp, size: (u16, u16), what: &str) -> String {
    desk.app.size = size;
    let text = desk.drawn(size).concat();
    let bad = text.chars().find(|&c| is_bad(c));
    assert_eq!(bad, None, "{what} at {size:?}");
    text
}

/// Pastes a text into the active field.
fn paste(desk: &mut TestApp, hostile: &Hostile, what: &str) {
    desk.take(Message::Paste(hostile.text.clone()));
    let kept = field(&desk.app).unwrap().text();
    assert!(!kept.chars().any(is_bad), "{what}");
    assert!(kept.chars().count() <= LONGEST, "{what}");
    for size in SMALL {
        drawn(desk, size, what);
    }
    let seen = drawn(desk, USUAL, what);
    if hostile.cut {
        let notice = desk.app.notice.as_ref().expect(what);
        assert!(notice.wrong, "{what}");
        assert!(seen.contains("of what was pasted"), "{what}: {seen}");
    }
}

/// The error or notice on the screen.
fn words(desk: &TestApp) -> Option<String> {
    let notice = desk.app.notice.as_ref().map(|notice| notice.text.clone());
    if let Some(top) = desk.app.stack.last() {
        return top.wrong().or(notice);
    }
    notice
}

/// Asserts that accepting the input made a clean change or showed a visible message.
fn taken_or_told(desk: &mut TestApp, before: usize, typed: &str, what: &str) {
    // A card list is previewed before the question about its amounts.
    while matches!(
        desk.app.scope(),
        Scope::Intake | Scope::Matching | Scope::PurchaseOrOwned
    ) {
        drawn(desk, USUAL, what);
        desk.keys("\n");
        if desk.app.notice.is_some() {
            break;
        }
    }
    let seen = drawn(desk, USUAL, what);
    let commits: Vec<_> = (desk.asked[before..].iter())
        .filter_map(|effect| match effect {
            Effect::Commit(event) => Some(event),
            _ => None,
        })
        .collect();
    for event in &commits {
        let written = serde_json::to_string(event).unwrap();
        assert!(!written.chars().any(is_bad), "{what}: {written}");
        assert_eq!(
            &serde_json::from_str::<Event>(&written).unwrap(),
            *event,
            "{what}"
        );
    }
    let said = words(desk);
    if commits.is_empty() {
        let said = said.as_ref().unwrap_or_else(|| panic!("{what}: no words"));
        let ours = said.split(|c: char| !c.is_ascii_alphabetic());
        let mut ours = ours.filter(|word| word.len() > 2 && !typed.contains(word));
        assert!(ours.any(|word| seen.contains(word)), "{what}: {said}");
    }
    if let Some(said) = said {
        assert!(!said.chars().any(is_bad), "{what}: {said}");
    }
}

/// Whether to try a text in a line: one in 19 in a normal run, all of them in a long run.
fn is_tried(text: usize, form: usize, line: usize) -> bool {
    let every = if is_long() { 1 } else { 19 };
    (text + form + line).is_multiple_of(every)
}

/// The first characters of a text, for messages.
fn short(text: &str) -> String {
    text.chars()
        .take(12)
        .flat_map(char::escape_unicode)
        .collect()
}

#[test]
fn hostile_text_is_harmless_in_every_field() {
    let sample = TestApp::sample(Depth::True);
    let texts = hostile();
    for (at, keys) in ALONE.into_iter().enumerate() {
        let desk = sample.after(keys);
        assert!(field(&desk.app).is_some(), "{keys:?}");
        let tried = (texts.iter().enumerate()).filter(|&(nth, _)| is_tried(nth, at, 0));
        for (_, hostile) in tried {
            let what = format!("{keys:?} {}", short(&hostile.text));
            let mut desk = desk.clone();
            paste(&mut desk, hostile, &what);
            let before = desk.asked.len();
            // An empty line is also accepted, without a message.
            let blank = field(&desk.app).is_some_and(|field| field.text().trim().is_empty());
            desk.keys("\n");
            drawn(&mut desk, USUAL, &what);
            if !blank && ["/", "vs"].contains(&keys) {
                taken_or_told(&mut desk, before, &hostile.text, &what);
            }
        }
    }
    for (at, way) in FORMS.iter().enumerate() {
        let mut desk = sample.after(way.keys);
        let form = desk.app.stack.last_mut().expect(way.keys);
        let name = form.name();
        assert!(name.ends_with(&format!("::{}>", way.form)), "{name}");
        let inputs = form.inputs();
        assert_eq!(inputs.len(), way.filled.len(), "{:?}", way.keys);
        for (input, text) in inputs.into_iter().zip(way.filled) {
            input.fill(text);
        }
        // The valid text is accepted.
        let mut good = desk.clone();
        let before = good.asked.len();
        good.keys("\u{13}");
        taken_or_told(&mut good, before, "", way.keys);
        let taken = good.asked.iter().skip(before);
        let mut taken =
            taken.filter(|effect| matches!(effect, Effect::Commit(_) | Effect::WriteFiles(_)));
        // The lot of a purchase stays in the list beneath until the purchase is recorded.
        let kept = way.form == "DyeLot" && words(&good) == Some("Sandbank 60: lot K7".to_owned());
        assert!(
            taken.next().is_some() || kept,
            "{:?}: {:?}",
            way.keys,
            words(&good)
        );
        for line in 0..way.filled.len() {
            for (nth, hostile) in texts.iter().enumerate() {
                if !is_tried(nth, at, line) {
                    continue;
                }
                let what = format!("{:?} line {line} {}", way.keys, short(&hostile.text));
                let mut desk = desk.clone();
                *desk.app.stack.last_mut().unwrap().line().unwrap() = line;
                desk.take(Message::Key(Key::ctrl('u')));
                paste(&mut desk, hostile, &what);
                let before = desk.asked.len();
                desk.keys("\u{13}");
                taken_or_told(&mut desk, before, &hostile.text, &what);
            }
        }
    }
}

/// The measures of a new board.
#[test]
fn hostile_text_is_harmless_in_a_new_board() {
    let sample = TestApp::sample(Depth::True).after("B");
    // Its name, rows, columns, cards per hook and prefix.
    for line in 0..5 {
        for hostile in &hostile() {
            let what = format!("line {line} {}", short(&hostile.text));
            let mut desk = sample.clone();
            for _ in 0..line {
                desk.take(Message::Key(Key::plain(Code::Down)));
            }
            paste(&mut desk, hostile, &what);
            let before = desk.asked.len();
            desk.keys("\u{13}");
            taken_or_told(&mut desk, before, &hostile.text, &what);
        }
    }
}

#[test]
fn hostile_key_presses_are_harmless_in_every_field() {
    let sample = TestApp::sample(Depth::True);
    let texts = hostile();
    let fields = ALONE.into_iter().chain(FORMS.map(|way| way.keys));
    for (at, keys) in fields.enumerate() {
        let mut desk = sample.after(keys);
        for (nth, Hostile { text, .. }) in texts.iter().enumerate() {
            if !is_long() && !(at + nth).is_multiple_of(4) {
                continue;
            }
            for c in text.chars().take(40) {
                desk.take(Message::Key(Key::char(c)));
            }
            for code in [Code::Left, Code::Backspace, Code::Right, Code::Delete] {
                desk.take(Message::Key(Key::plain(code)));
            }
            let what = format!("{keys:?} {}", short(text));
            assert!(
                field(&desk.app).is_some_and(|field| !field.text().chars().any(is_bad)),
                "{what}"
            );
            drawn(&mut desk, USUAL, &what);
        }
    }
}
