//! Text on paper: titles, captions and legends, and why something doesn't fit a sheet.
//!
//! Lengths are passed as formatted millimetres.

use std::fmt::Display;

use jiff::civil::Date;

use super::{list, one_or_many, thread};
use crate::exchange::BuyRow;
use crate::model::range::PutUp;
use crate::model::ring::Ring;
use crate::model::thread::Strands;
use crate::stash::projects::buy_list::{Purchase, Why};
use crate::stash::state::State;

/// The note on every page with colours.
pub(crate) const COLOURS_ARE_HINTS: &str =
    "Print colours are hints: match by the thread in daylight.";

/// The text next to the line at the foot of a page, by which the user checks the print size.
pub(crate) fn foot(words: &str) -> String {
    format!("this line is 50 mm: print at 100 %.  {words}")
}

/// The instructions above the pages in a browser.
pub(crate) fn how_to_print(width: impl Display, height: impl Display) -> String {
    format!("Print on paper of {width} x {height} mm at 100 %, without 'fit to page'.")
}

pub(crate) const LABELS: &str = "Labels for cards";
pub(crate) const HOOK_LABELS: &str = "Hook labels";

/// The text on the label of a split card without a hook: where its thread goes.
pub(crate) fn back_onto(card: &str) -> String {
    format!("split, back onto {card}")
}

pub(crate) fn ring_card(project: impl Display) -> String {
    format!("Ring card of {project}")
}

/// The text at the foot of a ring card: how to read it, and what to watch out for.
pub(crate) const FOOT_OF_A_RING_CARD: &str =
    "x2: two strands in the needle. Leave no needle on the ring.";

/// Where the thread for a line of a ring card is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Standing {
    /// On the ring, with the names of split cards next to it.
    OnRing {
        /// Joined names; may be empty.
        split: String,
    },
    /// On the ring, but not in the chart key.
    NotInKey,
    /// Only on split cards, with their names.
    Split(String),
    /// Elsewhere, in words.
    NotHere(String),
    /// Missing.
    Missing,
    /// There is no such card.
    NotOwned,
}

/// The text next to the sign for where the thread of a ring card's line is.
pub(crate) fn standing(of: &Standing) -> String {
    match of {
        Standing::OnRing { split } if split.is_empty() => "on the ring".to_owned(),
        Standing::OnRing { split } => format!("on the ring, and split {split}"),
        Standing::NotInKey => "on the ring, not in the key".to_owned(),
        Standing::Split(cards) => format!("split card {cards}"),
        Standing::NotHere(place) => format!("not here: {place}"),
        Standing::Missing => "not here: missing".to_owned(),
        Standing::NotOwned => "not owned".to_owned(),
    }
}

pub(crate) fn map_of(board: impl Display) -> String {
    format!("Map of {board}")
}

pub(crate) const MAPS: &str = "Maps of the boards";

/// The heading of a page that holds only the legend.
pub(crate) fn legend_of(board: impl Display) -> String {
    format!("{board}: legend")
}

/// The legend for a map's signs: a card that is out, missing or elsewhere, a guest, and a hanging
/// ring.
pub(crate) const SIGNS: [&str; 5] = [
    "out on a ring",
    "missing",
    "elsewhere or to hang",
    "belongs on another hook",
    "a ring hangs here",
];

/// The free places of a hook on a map, if any.
pub(crate) fn free_places(reserved: bool, free: usize) -> Option<String> {
    match (reserved, free) {
        (true, _) => Some("reserved".to_owned()),
        (false, 0) => None,
        (false, 1) => Some("free".to_owned()),
        (false, free) => Some(format!("{free} free")),
    }
}

/// The heading of a map: the part of the board that it shows.
pub(crate) fn part_of(
    board: impl Display,
    (first_row, last_row): (String, String),
    (first, last): (u16, u16),
) -> String {
    format!("{board}: rows {first_row} to {last_row}, columns {first} to {last}")
}

/// The line below the heading if the map shows the whole board.
pub(crate) fn whole_board(rows: u16, columns: u16) -> String {
    let row = one_or_many(rows, "row", "rows");
    let hooks = one_or_many(columns, "hook", "hooks");
    format!("{rows} {row} of {columns} {hooks}")
}

/// The line below the heading if the board takes several maps: the number of this one, and its
/// overlaps with the maps next to it.
pub(crate) fn map_of_several(number: usize, all: usize, shared: &[(Shared, usize)]) -> String {
    let mut words = format!("map {number} of {all}");
    for (what, map) in shared {
        let what = match what {
            Shared::Column(column) => format!("column {column}"),
            Shared::Row(letters) => format!("row {letters}"),
        };
        words.push_str(&format!("; {what} is also on map {map}"));
    }
    words
}

/// The overlap of two maps of a board.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Shared {
    /// A column by its number.
    Column(u16),
    /// A row by its letters.
    Row(String),
}

pub(crate) fn pocket_title(made: Date) -> String {
    format!("Thread in your pocket, {}", made.strftime("%-d %B %Y"))
}

/// On a pocket page: how many skeins to buy, and the purpose.
pub(crate) fn buy_for(skeins: u32, why: &str) -> String {
    format!("buy {}: {why}", thread::skeins(skeins))
}

/// On a pocket page: the note that a missing card holds everything needed.
pub(crate) fn look_first(why: &str) -> String {
    format!("look for its missing card before you buy: {why}")
}

/// On a pocket page: the thread left on a card, with its name if the colour has several cards.
pub(crate) fn left_on(card: Option<&str>, thread: &str, missing: bool) -> String {
    let card = card.map_or_else(String::new, |card| format!("{card}: "));
    let missing = if missing { " on a missing card" } else { "" };
    format!("{card}{thread}{missing}")
}

/// On a pocket page: the thread left on all cards of a colour.
pub(crate) fn owned(left: &[String]) -> String {
    match left {
        [] => "not owned".to_owned(),
        left => format!("owned: {}", left.join("; ")),
    }
}

/// The accessible name of a button on a pocket page.
pub(crate) fn one_skein(which: &str, number: &str) -> String {
    format!("One skein {which} of {number}")
}

/// The accessible name of the dye lot field on a pocket page.
pub(crate) fn dye_lot_of(number: &str) -> String {
    format!("{DYE_LOT} of {number}")
}

/// The words in the HTML of a pocket page.
pub(crate) const TO_BUY: &str = "To buy";
pub(crate) const OWNED: &str = "Owned";
pub(crate) const ALL: &str = "All";
pub(crate) const BOUGHT: &str = "Bought";
pub(crate) const SEARCH: &str = "Number or name";
pub(crate) const NOTHING_FOUND: &str =
    "Nothing here. To search all colours, type a number or a name above.";
pub(crate) const WITHOUT_SCRIPT: &str =
    "Scripts are off in this browser: the list can be read, and nothing is counted or saved.";
pub(crate) const SAVE: &str = "Save file";
pub(crate) const AS_TEXT: &str = "As text";
pub(crate) const NEXT: &str = "Next purchase";
pub(crate) const COPY: &str = "Copy";
pub(crate) const DYE_LOT: &str = "Dye lot";
pub(crate) const TO_TYPE: &str = "A command to type at home, in place of the file:";
pub(crate) const FILE_TEXT: &str = "The purchase file, to paste into a file of your own:";

/// The words that the script of a pocket page shows.
#[derive(serde::Serialize)]
pub(crate) struct PocketWords {
    none: &'static str,
    colour: &'static str,
    colours: &'static str,
    skein: &'static str,
    skeins: &'static str,
    saved: &'static str,
    unsaved: &'static str,
    copied: &'static str,
    select: &'static str,
    next: &'static str,
}

impl PocketWords {
    pub(crate) const fn new() -> Self {
        Self {
            none: "Nothing bought yet. Tick what you buy.",
            colour: "colour",
            colours: "colours",
            skein: "skein",
            skeins: "skeins",
            saved: "Saved with your downloads. At home: homehook import cards FILE --purchase",
            unsaved: "This browser saves no files. Copy the text below.",
            copied: "Copied.",
            select: "Selected. Copy it from the menu of your browser.",
            next: "Begin the next purchase? That clears all ticks, so save these first.",
        }
    }
}

pub(crate) fn to_buy_for(rings: &[&Ring]) -> String {
    let projects = list(rings.iter().map(|ring| ring.project.to_string()));
    format!("To buy for {projects}")
}

/// The corner text on a page of a buy list.
pub(crate) fn skeins_and_page(skeins: u64, page: usize, of: usize) -> String {
    let word = one_or_many(skeins, "skein", "skeins");
    format!("{skeins} {word}, page {page} of {of}")
}

/// Purchases as rows of a buy list, for a file or for paper. Leaves out colours with no skeins to
/// buy.
#[must_use]
pub(crate) fn buy_rows(state: &State, purchases: &[Purchase]) -> Vec<BuyRow> {
    let purchases = purchases.iter().filter(|purchase| purchase.skeins > 0);
    purchases.map(|purchase| buy_row(state, purchase)).collect()
}

/// A purchase as a row of a buy list, with its purpose.
#[must_use]
pub(crate) fn buy_row(state: &State, purchase: &Purchase) -> BuyRow {
    let why = purchase.why.iter();
    let why = why.map(|why| why_to_buy(state, why, purchase.put_up));
    let wanted = (purchase.wanted > 0).then(|| {
        let skeins = thread::skeins(purchase.wanted);
        format!("{skeins} on the want list")
    });
    let lots = purchase.lots.iter().map(thread::lot).collect::<Vec<_>>();
    let lots = (!lots.is_empty()).then(|| format!("ask for {}", lots.join(" or ")));
    let sold = (!purchase.put_up.is_usual()).then(|| thread::put_up(purchase.put_up));
    let scarce = state.is_discontinued(&purchase.of());
    let scarce = scarce.then(|| "discontinued, so look for a stand-in too".to_owned());
    let matching = thread::owned_matches(state, purchase.matches.iter().copied());
    let notes = [matching, lots, sold, scarce].into_iter().flatten();
    let why = list(why.chain(wanted).chain(notes));
    BuyRow::of(state, purchase, why)
}

fn why_to_buy(state: &State, why: &Why, put_up: PutUp) -> String {
    let ring = state.ring(why.ring);
    let project = ring.map_or("", |ring| ring.project.as_str());
    match why.short {
        Some(short) if short > Strands(0) => {
            let used = thread::used(why.used, why.still_needed, put_up);
            let used = used.map_or_else(String::new, |used| format!(" ({used})"));
            let amount = thread::amount(short, put_up);
            format!("'{project}' is short by {amount}{used}")
        }
        _ => format!("'{project}' has it in its key without an amount"),
    }
}

/// A sheet of labels is wider or higher than the paper.
pub(crate) fn labels_reach(direction: &str, reach: impl Display, paper: impl Display) -> String {
    format!(
        "labels of that sheet reach {reach} mm {direction}, and the paper has {paper} mm. Measure \
         the sheet again, or choose another paper."
    )
}

/// Labels overlap.
pub(crate) fn labels_overlap(direction: &str, size: impl Display, pitch: impl Display) -> String {
    format!(
        "labels of {size} mm overlap at a pitch of {pitch} mm {direction}. Measure from the edge of \
         one label to the same edge of the next."
    )
}

/// A piece is too small to write on, or larger than the page.
pub(crate) fn wrong_size<T: Display>(
    what: &str,
    size: &(T, T),
    least: &(T, T),
    most: &(T, T),
) -> String {
    format!(
        "a {what} of {} x {} mm can't be printed. Give {} x {} to {} x {} mm.",
        size.0, size.1, least.0, least.1, most.0, most.1
    )
}

/// Skipping leaves no label on the sheet.
pub(crate) fn too_many_skipped(skip: usize, all: usize) -> String {
    let labels = one_or_many(all, "label", "labels");
    let most = all.saturating_sub(1);
    format!("can't skip {skip}: the sheet has {all} {labels}. Skip at most {most}.")
}

/// A text isn't a length.
pub(crate) fn not_a_length(text: &str, longest: i32) -> String {
    format!(
        "'{text}' isn't a length. Write millimetres from 0 to {longest}, such as 33.5, or inches, such as 2.5in."
    )
}

/// A word isn't a measurement of a label sheet.
pub(crate) fn not_a_measurement(word: &str) -> String {
    format!(
        "'{word}' isn't a measurement. Write columns, rows, width, height, left, top, across and \
         down in mm, such as columns=3,rows=8,width=60,height=33.5."
    )
}

/// A number of columns or rows that no label sheet has.
pub(crate) fn not_a_count_of_labels(text: &str, most: usize) -> String {
    format!("'{text}' isn't a number of labels. Give 1 to {most}.")
}
