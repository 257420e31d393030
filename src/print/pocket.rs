//! The pocket page: the stash and the buy list, as one file for a phone in the shop.
//!
//! The page needs neither network nor other files. Every row is in the HTML, so the page can be
//! read without its script, which searches, counts purchases, and makes a purchase file. Names
//! reach the script as JSON in a data block without any `<` (WHATWG, HTML, 4.12.1.3, Restrictions
//! for contents of script elements). Its policy allows only the page's own style and script, by
//! their digests (W3C, Content Security Policy Level 3).

use std::collections::BTreeSet;
use std::fmt::Write;

use jiff::civil::Date;
use serde::Serialize;
use sha2::{Digest as _, Sha256};

use super::escape;
use crate::exchange::{Column, table};
use crate::model::colour::Srgb;
use crate::model::ids::RangeId;
use crate::model::ring::{ColourRef, Ring};
use crate::stash::projects::buy_list::{Purchase, add_wanted, buy_list};
use crate::stash::projects::kit::check;
use crate::stash::state::{CardState, State};
use crate::text::print::{self as words, PocketWords, buy_row};
use crate::text::thread::{by_lot, scarcity};

const STYLE: &str = include_str!("../../assets/pocket/pocket.css");
const SCRIPT: &str = include_str!("../../assets/pocket/pocket.js");

/// The columns of the purchase file. `skeins` next to `uncut` are cut onto the card.
const COLUMNS: [Column; 8] = [
    Column::Range,
    Column::Number,
    Column::Name,
    Column::Hex,
    Column::DyeLot,
    Column::Skeins,
    Column::Uncut,
    Column::PurchaseId,
];

#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
struct Row {
    range: String,
    number: String,
    name: String,
    /// Skeins to buy.
    buy: u32,
    /// Whether it has a card.
    owned: bool,
    /// Its cells in the purchase file before the dye lot.
    cells: String,
    #[serde(skip)]
    colour: Option<Srgb>,
    /// The thread left of it, or that it isn't owned.
    #[serde(skip)]
    have: String,
    /// How much to buy and the purpose; empty if there is nothing to buy.
    #[serde(skip)]
    why: String,
}

/// The data for the script.
#[derive(Serialize)]
struct Data<'a> {
    /// The random number of the page, 8 hex digits: the end of the ids of its purchases.
    page: String,
    /// The first line of the purchase file.
    titles: String,
    words: PocketWords,
    rows: Vec<&'a Row>,
}

/// The colours of the page, both lists sorted by range and number.
struct Rows {
    /// The colours on the buy list.
    wanted: Vec<Row>,
    /// All others.
    owned: Vec<Row>,
}

/// The page: all owned colours, and the colours that projects and the want list need. `page` is a
/// random number that makes the ids of its purchases unique in the stash. `None` if there is
/// neither a card nor anything to buy. O(cards · log cards + lines²).
#[must_use]
pub(crate) fn pocket(state: &State, rings: &[&Ring], page: u32, made: Date) -> Option<String> {
    let rows = rows(state, rings);
    let any = !(rows.wanted.is_empty() && rows.owned.is_empty());
    any.then(|| html(&rows, page, made))
}

/// The colours to buy, or to look for first, and all other owned ones.
fn rows(state: &State, rings: &[&Ring]) -> Rows {
    let mut purchases = buy_list(state, &check(state, rings));
    add_wanted(state, &mut purchases);
    let mut seen: BTreeSet<(RangeId, String)> = BTreeSet::new();
    let mut is_new = |of: &ColourRef| seen.insert((of.range, of.number.key()));
    let mut rows = Rows {
        wanted: Vec::new(),
        owned: Vec::new(),
    };
    for purchase in &purchases {
        if is_new(&purchase.of()) {
            rows.wanted.push(Row::wanted(state, purchase));
        }
    }
    let whole = state.cards().filter(|kept| kept.card.parent.is_none());
    let mut cards: Vec<&CardState> = whole.collect();
    cards.sort_by(|a, b| (a.card.range, &a.card.number).cmp(&(b.card.range, &b.card.number)));
    for kept in cards {
        let colour = ColourRef::new(kept.card.range, kept.card.number.clone());
        if is_new(&colour) {
            rows.owned.push(Row::owned(state, kept, &colour));
        }
    }
    rows
}

impl Row {
    fn wanted(state: &State, purchase: &Purchase) -> Self {
        let said = buy_row(state, purchase);
        let why = match purchase.missing {
            true => words::look_first(&said.why),
            false => words::buy_for(purchase.skeins, &said.why),
        };
        Self {
            range: said.range,
            number: said.number,
            name: said.name,
            buy: purchase.skeins,
            colour: said.colour,
            why,
            ..Self::of(state, &purchase.of())
        }
        .with_cells()
    }

    fn owned(state: &State, kept: &CardState, colour: &ColourRef) -> Self {
        Self {
            range: state.range_name(kept).to_owned(),
            number: kept.card.number.to_string(),
            name: kept.card.name.to_string(),
            colour: kept.card.colour,
            why: scarcity(state, colour).unwrap_or_default(),
            ..Self::of(state, colour)
        }
        .with_cells()
    }

    /// The supply of a colour, including split cards.
    fn of(state: &State, colour: &ColourRef) -> Self {
        let cards: Vec<&CardState> = state.cards_of(colour).collect();
        let left = cards.iter().map(|kept| {
            let missing = kept.place.at.is_missing();
            let thread = by_lot(&kept.thread, state.put_up(&kept.card));
            let name = (cards.len() > 1).then(|| state.card_name(kept));
            words::left_on(name.as_deref(), &thread, missing)
        });
        Self {
            range: String::new(),
            number: String::new(),
            name: String::new(),
            buy: 0,
            owned: cards.iter().any(|kept| kept.card.parent.is_none()),
            cells: String::new(),
            colour: None,
            have: words::owned(&left.collect::<Vec<_>>()),
            why: String::new(),
        }
    }

    fn with_cells(mut self) -> Self {
        let hex = self.colour.map_or_else(String::new, |of| of.to_string());
        let cells = [&self.range, &self.number, &self.name, &hex].map(|text| table::protect(text));
        self.cells = line(&cells);
        self
    }
}

/// Fields as written to a file, without the line end.
fn line(fields: &[impl AsRef<str>]) -> String {
    let mut text = String::new();
    table::write_row(&mut text, fields);
    text.trim_end_matches("\r\n").to_owned()
}

/// JSON for a data block: unchanged in meaning, but unable to start a tag or comment.
fn in_data_block(of: &impl Serialize) -> String {
    let json = serde_json::to_string(of).unwrap_or_default();
    // Outside strings JSON has no `<`.
    json.replace('<', "\\u003c")
}

/// A policy source: the digest of a style or a script, in Base64 (RFC 4648, 4).
fn digest(of: &str) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let digest = Sha256::digest(of.as_bytes());
    let mut out = String::from("'sha256-");
    for three in digest.chunks(3) {
        let byte = |at: usize| u32::from(three.get(at).copied().unwrap_or(0));
        let bits = byte(0) << 16 | byte(1) << 8 | byte(2);
        for at in 0..4 {
            let six = (bits >> (18 - 6 * at)) as usize & 63;
            let letter = LETTERS.get(six).copied().filter(|_| at <= three.len());
            out.push(char::from(letter.unwrap_or(b'=')));
        }
    }
    out.push('\'');
    out
}

fn html(rows: &Rows, page: u32, made: Date) -> String {
    let data = Data {
        page: format!("{page:08x}"),
        titles: line(&COLUMNS.map(Column::title)),
        words: PocketWords::new(),
        rows: rows.wanted.iter().chain(&rows.owned).collect(),
    };
    let title = escape(&words::pocket_title(made));
    let policy = format!(
        "default-src 'none'; style-src {style}; script-src {script}; base-uri 'none'; form-action 'none'",
        style = digest(STYLE),
        script = digest(SCRIPT)
    );
    let mut out = format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"{policy}\"/>\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n\
         <meta name=\"referrer\" content=\"no-referrer\"/>\n\
         <title>{title}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n<h1>{title}</h1>\n",
        policy = escape(&policy)
    );
    tools(&mut out);
    section(&mut out, words::TO_BUY, &rows.wanted);
    section(&mut out, words::OWNED, &rows.owned);
    foot(&mut out);
    // Writing to a string can't fail.
    let _ = write!(
        out,
        "<script type=\"application/json\" id=\"data\">{data}</script>\n<script>{SCRIPT}</script>\n\
         </body>\n</html>\n",
        data = in_data_block(&data)
    );
    out
}

fn section(out: &mut String, title: &str, rows: &[Row]) {
    if rows.is_empty() {
        return;
    }
    let _ = writeln!(out, "<section>\n<h2>{}</h2>\n<ul>", escape(title));
    for row in rows {
        item(out, row);
    }
    out.push_str("</ul>\n</section>\n");
}

/// A row without the script: a tick box, the colour and its texts. The policy forbids style
/// attributes, so the swatch is a drawing.
fn item(out: &mut String, row: &Row) {
    let number = escape(&row.number);
    let fill = row
        .colour
        .map_or_else(|| "none".to_owned(), |of| of.to_string());
    let _ = write!(
        out,
        "<li><label><input type=\"checkbox\" autocomplete=\"off\"/>\
         <svg viewBox=\"0 0 1 1\" aria-hidden=\"true\"><rect width=\"1\" height=\"1\" fill=\"{fill}\"/></svg>\
         <span class=\"what\"><b>{number}</b> {name} <small>{range}</small>",
        name = escape(&row.name),
        range = escape(&row.range)
    );
    if !row.why.is_empty() {
        let _ = write!(out, "<span class=\"why\">{}</span>", escape(&row.why));
    }
    let _ = writeln!(
        out,
        "<span class=\"have\">{have}</span></span></label>\
         <span class=\"count\" hidden=\"\"><input class=\"lot\" autocomplete=\"off\" maxlength=\"40\" \
         placeholder=\"{lot}\" aria-label=\"{lot_of}\"/><button type=\"button\" aria-label=\"{less}\">\u{2212}</button>\
         <output>0</output><button type=\"button\" aria-label=\"{more}\">+</button></span></li>",
        have = escape(&row.have),
        lot = escape(words::DYE_LOT),
        lot_of = escape(&words::dye_lot_of(&row.number)),
        less = escape(&words::one_skein("less", &row.number)),
        more = escape(&words::one_skein("more", &row.number))
    );
}

/// The controls at the top, for the script.
fn tools(out: &mut String) {
    let _ = writeln!(
        out,
        "<noscript><p>{}</p></noscript>\n<div id=\"tools\" hidden=\"\">\
         <input type=\"search\" id=\"search\" autocomplete=\"off\" placeholder=\"{search}\" aria-label=\"{search}\"/>\n\
         <div class=\"views\" role=\"radiogroup\">",
        escape(words::WITHOUT_SCRIPT),
        search = escape(words::SEARCH)
    );
    for (value, view) in [
        ("buy", words::TO_BUY),
        ("all", words::ALL),
        ("bought", words::BOUGHT),
    ] {
        let checked = if value == "buy" { " checked=\"\"" } else { "" };
        let _ = writeln!(
            out,
            "<label><input type=\"radio\" name=\"view\" value=\"{value}\" autocomplete=\"off\"{checked}/>\
             <span>{}</span></label>",
            escape(view)
        );
    }
    let _ = writeln!(
        out,
        "</div></div>\n<p id=\"nothing\" hidden=\"\">{}</p>",
        escape(words::NOTHING_FOUND)
    );
}

/// The controls at the foot, for the script.
fn foot(out: &mut String) {
    out.push_str("<div id=\"foot\" hidden=\"\"><p id=\"sum\"></p>\n<div class=\"row\">");
    for (id, label) in [
        ("save", words::SAVE),
        ("text", words::AS_TEXT),
        ("next", words::NEXT),
    ] {
        let _ = write!(
            out,
            "<button type=\"button\" id=\"{id}\">{}</button>",
            escape(label)
        );
    }
    out.push_str("</div>\n<p id=\"said\" role=\"status\"></p>\n<div id=\"texts\" hidden=\"\">");
    for (id, label) in [("typed", words::TO_TYPE), ("csv", words::FILE_TEXT)] {
        let _ = write!(
            out,
            "<p><label for=\"{id}\">{}</label></p><textarea id=\"{id}\" readonly=\"\"></textarea>\
             <div class=\"row\"><button type=\"button\" id=\"copy-{id}\">{}</button></div>",
            escape(label),
            escape(words::COPY)
        );
    }
    out.push_str("</div></div>\n");
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use serde_json::Value;

    use super::*;
    use crate::exchange::read_cards;
    use crate::model::ids::PurchaseId;
    use crate::stash::command::import::{Amount, CardRow, KeyRow, Terms, card_list};
    use crate::stash::command::key;
    use crate::stash::command::range::want;
    use crate::stash::projects::kit::rings_in_use;
    use crate::stash::testing::{apply, at, wall};

    const PAGE: u32 = 0xa1b2_c3d4;
    const MADE: Date = jiff::civil::date(2026, 11, 30);

    /// Cards of these names, numbered from 401, and two projects whose keys need far more of each
    /// than there is, and an unowned colour.
    fn stash(names: &[&str], range: &str) -> State {
        let mut state = wall(2, 4, 1);
        let range = Some(range.to_owned());
        let row = |(at, name): (usize, &&str)| CardRow {
            line: 2,
            range: range.clone(),
            number: (401 + at).to_string(),
            name: Some((*name).to_owned()),
            colour: Some("#5E7480".parse().unwrap()),
            amount: Some(Amount::Lengths(2.0)),
            uncut: Some(1),
            ..CardRow::default()
        };
        let list: Vec<CardRow> = names.iter().enumerate().map(row).collect();
        let cards = card_list(&state, &list, Vec::new(), &Terms::default(), at(0)).unwrap();
        assert_eq!(cards.rejected, []);
        apply(&mut state, &cards.event.unwrap());
        for (project, first) in [("Winter Fox", 401), ("<i>Robin</i>", 402)] {
            let numbers = (first..=402).chain([499]);
            let row = |number: i32| KeyRow {
                line: 2,
                range: range.clone(),
                number: number.to_string(),
                strands: 2,
                stitches: 20_000,
                ..KeyRow::default()
            };
            let rows: Vec<KeyRow> = numbers.map(row).collect();
            let terms = Terms::default();
            let keyed = key::import(&state, &rows, Vec::new(), project, &terms, at(1)).unwrap();
            apply(&mut state, &keyed.event.unwrap());
        }
        state
    }

    fn page(state: &State) -> String {
        pocket(state, &rings_in_use(state).unwrap(), PAGE, MADE).unwrap()
    }

    /// The JSON of a page, as a browser extracts it.
    fn data(page: &str) -> Value {
        let (_, rest) = page.split_once("id=\"data\">").unwrap();
        serde_json::from_str(rest.split_once("</script>").unwrap().0).unwrap()
    }

    /// The page without its scripts, as XML.
    fn body(page: &str) -> String {
        let (before, rest) = page.split_once("<script").unwrap();
        let (_, after) = rest.rsplit_once("</script>").unwrap();
        before.replace("<!DOCTYPE html>", "") + after
    }

    const HOSTILE: [&str; 4] = [
        "</script><b>x",
        "<!--<script>\"'&",
        "=cmd|' /C calc'!A0, \"q\"",
        "\u{2028}]]> \\u003c",
    ];

    #[test]
    fn hostile_names_are_text_on_the_page_and_in_its_data() {
        let state = stash(&HOSTILE[..3], "A & B <sock>");
        let page = page(&state);
        assert_eq!(page.matches("<script").count(), 2);
        assert_eq!(page.matches("</script>").count(), 2);
        assert!(!page.contains("<b>x") && !page.contains("<!--") && !page.contains("<i>Robin"));
        let data = data(&page);
        let rows = data["rows"].as_array().unwrap();
        let body = body(&page);
        let parsed = roxmltree::Document::parse(&body).unwrap();
        let items: Vec<_> = parsed
            .descendants()
            .filter(|n| n.has_tag_name("li"))
            .collect();
        assert_eq!(items.len(), rows.len());
        for (item, row) in items.iter().zip(rows) {
            let text: String = item.descendants().filter_map(|n| n.text()).collect();
            for member in ["number", "name", "range"] {
                assert!(text.contains(row[member].as_str().unwrap()), "{row} {text}");
            }
        }
        for name in &HOSTILE[..3] {
            assert!(rows.iter().any(|row| row["name"] == *name), "{name}");
        }
    }

    #[test]
    fn wanted_colours_list_their_projects_and_owned_ones_their_thread() {
        let mut state = stash(&["slate", "moss", "rush"], "Lantern Hall");
        let wanted = want(&state, &["403".to_owned()], 2).unwrap();
        apply(&mut state, &wanted);
        let page = page(&state);
        let body = body(&page);
        let parsed = roxmltree::Document::parse(&body).unwrap();
        let text = |at: usize| -> String {
            let mut items = parsed.descendants().filter(|n| n.has_tag_name("li"));
            let item = items.nth(at).unwrap();
            item.descendants().filter_map(|n| n.text()).collect()
        };
        let (first, second, third, fourth) = (text(0), text(1), text(2), text(3));
        assert!(
            first.contains("401") && first.contains("'Winter Fox'"),
            "{first}"
        );
        assert!(
            !first.contains("Robin") && first.contains("2 lengths"),
            "{first}"
        );
        assert!(
            second.contains("'Winter Fox'") && second.contains("'<i>Robin</i>'"),
            "{second}"
        );
        assert!(
            third.contains("buy 2 skeins: 2 skeins on the want list"),
            "{third}"
        );
        assert!(
            fourth.contains("499") && fourth.contains("not owned"),
            "{fourth}"
        );
        let data = data(&page);
        let buy: Vec<u64> = (0..4)
            .map(|at| data["rows"][at]["buy"].as_u64().unwrap())
            .collect();
        let listed = buy_list(&state, &check(&state, &rings_in_use(&state).unwrap()));
        assert_eq!(buy[0], u64::from(listed[0].skeins));
        assert_eq!(
            (buy[2], data["rows"][3]["owned"].as_bool()),
            (2, Some(false))
        );
        assert_eq!(body.matches("<li>").count(), 4);
    }

    #[test]
    fn the_policy_allows_only_this_style_and_this_script() {
        // Digest computed with openssl dgst -sha256 -binary | base64.
        assert_eq!(
            digest("abc"),
            "'sha256-ungWv48Bz+pBQUDeXa4iI7ADYaOWF3qctBD/YfIAFa0='"
        );
        let page = page(&stash(&["slate", "moss"], "Lantern Hall"));
        let (_, policy) = page
            .split_once("Content-Security-Policy\" content=\"")
            .unwrap();
        let policy = policy.split_once('"').unwrap().0.replace("&#39;", "'");
        assert!(policy.starts_with("default-src 'none'; "), "{policy}");
        let style = page
            .split_once("<style>")
            .unwrap()
            .1
            .split_once("</style>")
            .unwrap()
            .0;
        let script = page
            .rsplit_once("<script>")
            .unwrap()
            .1
            .split_once("</script>")
            .unwrap()
            .0;
        assert!(policy.contains(&digest(style)) && policy.contains(&digest(script)));
        // In a comment and in a digest, two slashes aren't an address.
        let rest = page.replace("\n  //", "").replace("\n      //", "");
        let rest = [style, script].iter().fold(rest, |rest, of| {
            rest.replace(digest(of).trim_matches('\''), "")
        });
        for outside in [
            "http:",
            "https:",
            "//",
            "url(",
            " src=",
            " style=",
            " onclick",
            "@import",
            "innerHTML",
        ] {
            assert!(!rest.contains(outside), "{outside}");
        }
    }

    #[test]
    fn a_purchase_file_of_the_page_imports_as_its_purchase() {
        let state = stash(&HOSTILE[..3], "A & B <sock>");
        let data = data(&page(&state));
        let id = PurchaseId::first_of(PAGE);
        let mut text = format!("{}\r\n", data["titles"].as_str().unwrap());
        let rows = data["rows"].as_array().unwrap();
        for row in rows {
            // As the script does it.
            let id = format!("p{:08x}{}", 1, data["page"].as_str().unwrap());
            text.push_str(&format!(
                "{},K7,0,3,{id}\r\n",
                row["cells"].as_str().unwrap()
            ));
        }
        let read = read_cards(text.as_bytes()).unwrap();
        assert_eq!((&read.rejected[..], &read.ignored[..]), (&[][..], &[][..]));
        for (read, row) in read.rows.iter().zip(rows) {
            assert_eq!((read.purchase, read.uncut), (Some(id), Some(3)));
            assert_eq!(read.dye_lot.as_deref(), Some("K7"));
            assert_eq!(read.number, row["number"].as_str().unwrap());
            assert_eq!(
                read.name.as_deref().unwrap_or_default(),
                row["name"].as_str().unwrap()
            );
        }
    }

    #[test]
    fn without_cards_and_wants_there_is_no_page() {
        assert_eq!(pocket(&wall(1, 1, 1), &[], PAGE, MADE), None);
    }

    proptest! {
        #![proptest_config(crate::testing::one_case_in(16))]

        #[test]
        fn data_parses_back_equal_and_contains_no_tag(texts: Vec<String>) {
            let mut texts = texts;
            texts.extend(HOSTILE.map(str::to_owned));
            let json = in_data_block(&texts);
            prop_assert!(!json.contains('<'));
            prop_assert_eq!(serde_json::from_str::<Vec<String>>(&json).unwrap(), texts);
        }
    }
}
