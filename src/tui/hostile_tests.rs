//! Every line that can be typed on the screen, with what nobody should type there.

use super::app::App;
use super::field::{Field, LONGEST};
use super::key::{Code, Key};
use super::keymap::Scope;
use super::message::{Effect, Message};
use super::testing::{FILE, MATCHES, TestApp};
use super::theme::Depth;
use crate::stash::event::Event;
use crate::testing::is_long;

/// A line that can be typed: the keys that lead to it, and what goes with it, where it is one of
/// several that are filled in together.
struct Way {
    form: &'static str,
    keys: &'static str,
    filled: &'static [&'static str],
}

const fn way(form: &'static str, keys: &'static str, filled: &'static [&'static str]) -> Way {
    Way { form, keys, filled }
}

/// The way to every form there is. Whoever adds a form adds its way here, and a line of the form what
/// may stand in it.
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

/// The keys to every line that is typed alone.
const ALONE: [&str; 5] = ["/", "?", ":", "vs", "iodd.csv\n\njj "];

/// The line that is typed now, where there is one. A screen with a new line belongs in [`ALONE`] or [`FORMS`].
fn field(app: &App) -> Option<&Field> {
    app.stack.last().and_then(|top| top.field())
}

/// What nobody should type, and whether a line leaves some of it out.
struct Hostile {
    text: String,
    cut: bool,
}

fn hostile() -> Vec<Hostile> {
    let controls: String = ('\0'..='\u{9f}').filter(|c| c.is_control()).collect();
    let mut texts: Vec<String> = [
        "\u{1b}[31mred\u{1b}[2J\u{1b}]0;mine\u{7}\u{1b}Pq\u{1b}\\\u{9b}H\u{9d}0;mine\u{9c}",
        // Right to left, and what turns the direction round.
        "\u{5d0}\u{5d3}\u{5d5}\u{5dd} \u{623}\u{62d}\u{645}\u{631} 701",
        "\u{202e}der\u{202c}\u{2067}b\u{2069}\u{200f}\u{61c}",
        // Wide.
        "\u{8d64}\u{3044}\u{7cf8}\u{ff21}\u{1f9f5}\u{1f468}\u{200d}\u{1f469}\u{200d}\u{1f467}",
        // Nothing to be seen.
        "\u{200b}\u{200c}\u{200d}\u{2060}\u{feff}\u{ad}\u{e0041}",
        "\u{34f}\u{3164}\u{115f}\u{fe0f}\u{180b}\u{2800}",
        // Marks that combine, also with nothing before them.
        "\u{301}e\u{301}\u{327}\u{323}\u{300}",
        "  \t\r\n\u{a0}\u{2028}\u{3000} ",
        "%s{}{0}\"'`$(ls);<b>&\\u{1b}[31m",
    ]
    .map(str::to_owned)
    .to_vec();
    texts.push(controls);
    // Far more than a line takes; a megabyte is pasted in a pseudo-terminal.
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

/// Whether a terminal would obey a character, or a reader not see it: told apart by ranges of our own
/// here, since what is tested uses the model's.
fn is_bad(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{ad}' | '\u{61c}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}' | '\u{feff}' | '\u{e0000}'..='\u{e007f}')
}

const SMALL: [(u16, u16); 2] = [(1, 1), (20, 5)];
const USUAL: (u16, u16) = (80, 24);

/// Draws at a size and finds nothing in a cell that should not be there. Gives the text.
fn drawn(desk: &mut TestApp, size: (u16, u16), what: &str) -> String {
    desk.app.size = size;
    let text = desk.drawn(size).concat();
    let bad = text.chars().find(|&c| is_bad(c));
    assert_eq!(bad, None, "{what} at {size:?}");
    text
}

/// Pastes a text into the line that is typed.
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

/// What the screen says is wrong, or did not do.
fn words(desk: &TestApp) -> Option<String> {
    let notice = desk.app.notice.as_ref().map(|notice| notice.text.clone());
    if let Some(top) = desk.app.stack.last() {
        return top.wrong().or(notice);
    }
    notice
}

/// After what was typed is accepted: a change that is clean, or words that can be seen.
fn taken_or_told(desk: &mut TestApp, before: usize, typed: &str, what: &str) {
    // A list is shown, then it is asked what its amounts are.
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

/// Whether a text is tried in a line: each in every nineteenth, in a long run each in each.
fn is_tried(text: usize, form: usize, line: usize) -> bool {
    let every = if is_long() { 1 } else { 19 };
    (text + form + line).is_multiple_of(every)
}

/// A text by its first letters, for messages.
fn short(text: &str) -> String {
    text.chars()
        .take(12)
        .flat_map(char::escape_unicode)
        .collect()
}

#[test]
fn nothing_that_is_typed_does_harm() {
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
            // An empty line is accepted too, and says nothing.
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
        // Filled in like this, it is taken.
        let mut good = desk.clone();
        let before = good.asked.len();
        good.keys("\u{13}");
        taken_or_told(&mut good, before, "", way.keys);
        let taken = good.asked.iter().skip(before);
        let mut taken =
            taken.filter(|effect| matches!(effect, Effect::Commit(_) | Effect::WriteFiles(_)));
        // The lot of a purchase is only kept on the list beneath, until that is taken in.
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

/// The measures of a board that is drawn.
#[test]
fn nothing_that_is_typed_of_a_board_does_harm() {
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
fn keys_of_any_character_do_no_harm() {
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
