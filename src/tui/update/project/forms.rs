//! Forms about a project: a line of its key, its fabric, thread split off and thread used.

use crate::model::assumptions::{Assumptions, Way};
use crate::model::ids::{CardId, RingId};
use crate::model::range::PutUp;
use crate::model::ring::{KeyLine, KeyThread, Ring, StitchCounts};
use crate::model::thread::Strands;
use crate::stash::command::fabric::{Said, tenths};
use crate::stash::command::import::KeyRow;
use crate::stash::state::State;
use crate::text::values::tenths_error;
use crate::text::{self, capital};
use crate::tui::app::{Form, FormField, Purpose};
use crate::tui::update::card_form::usual_range;
use crate::tui::update::form::{blank, form, whole};

pub(in crate::tui::update) fn new_project() -> Form {
    let blanks = vec![
        blank("project", "what you call it", ""),
        blank("file", "its key as a CSV file; may be empty", ""),
        blank("range", "for rows that name no range; may be empty", ""),
    ];
    form(Purpose::NewProject, "Begin a project", blanks)
}

pub(in crate::tui::update) fn import_key(ring: &Ring) -> Form {
    let blanks = vec![
        blank("file", "a CSV file with at least a column 'number'", ""),
        blank("range", "for rows that name no range; may be empty", ""),
    ];
    let title = format!("Bring in the key of {project}", project = ring.project);
    form(Purpose::ImportKey(ring.id), title, blanks)
}

/// A number, or nothing for 0.
fn count(n: impl Into<u32>) -> String {
    match n.into() {
        0 => String::new(),
        n => n.to_string(),
    }
}

/// A form for a line of a key; a new one begins with the range of the line before it.
pub(in crate::tui::update) fn key_line(state: &State, ring: &Ring, at: Option<usize>) -> Form {
    let old = at.and_then(|at| ring.key.get(at));
    let like = old.or(ring.key.last());
    let range = match like.and_then(|line| line.threads().first()) {
        Some(thread) => state.range(thread.colour.range),
        None => usual_range(state),
    };
    let range = range.map_or("", |range| range.name.as_str());
    // Of a blend its first thread is written in; the others stay.
    let first = old.and_then(|line| line.threads().first());
    let thread = |of: fn(&KeyThread) -> String| first.map(of).unwrap_or_default();
    let symbol = old.map_or("", |line| line.symbol.as_str());
    let counted = old.map(KeyLine::stitches).unwrap_or_default();
    let text = |of: fn(StitchCounts) -> String| of(counted);
    let blanks: Vec<FormField> = vec![
        blank(
            "number",
            "as in the key",
            &thread(|t| t.colour.number.to_string()),
        ),
        blank("range", "the maker's range", range),
        blank("symbol", "as in the chart; may be empty", symbol),
        blank(
            "name",
            "may be empty: then the card's or the range's",
            &thread(|t| t.name.to_string()),
        ),
        blank(
            "strands",
            "in the needle; empty: as for the project",
            &thread(|t| count(t.strands)),
        ),
        blank("stitches", "full crosses", &text(|e| count(e.full))),
        blank("half", "half stitches", &text(|e| count(e.half))),
        blank("quarter", "quarter stitches", &text(|e| count(e.quarter))),
        blank(
            "three-quarter",
            "three-quarter stitches",
            &text(|e| count(e.three_quarter)),
        ),
        blank(
            "backstitch",
            "length of its lines in squares of the chart",
            &text(|e| count(e.backstitch)),
        ),
        blank(
            "its strands",
            "in the needle for backstitch",
            &text(|e| count(e.backstitch_strands)),
        ),
        blank("knots", "French knots", &text(|e| count(e.french_knots))),
    ];
    let title = match old {
        Some(line) => format!(
            "Line {line} of the key: {number}",
            line = at.unwrap_or(0) + 1,
            number = text::thread::line_in_brief(line)
        ),
        None => "A new line of the key".to_owned(),
    };
    form(
        Purpose::KeyLine(ring.id, at.filter(|_| old.is_some())),
        title,
        blanks,
    )
}

/// A whole number, 0 where nothing is written.
fn number<T: std::str::FromStr + Default>(text: &str, what: &str) -> Result<T, String> {
    if text.is_empty() {
        return Ok(T::default());
    }
    whole(text, what)
}

/// The line of a key that a form says.
pub(in crate::tui::update) fn key_row<'a>(
    text: &impl Fn(&str) -> &'a str,
    old: Option<&KeyLine>,
) -> Result<KeyRow, String> {
    let filled = |label: &str| Some(text(label).to_owned()).filter(|text| !text.is_empty());
    if text("number").is_empty() {
        return Err("write the number of the colour".to_owned());
    }
    Ok(KeyRow {
        line: 1,
        symbol: filled("symbol"),
        range: filled("range"),
        number: text("number").to_owned(),
        name: filled("name"),
        // A colour that came with a list stays with its number.
        colour: old
            .and_then(|line| line.threads().first())
            .filter(|thread| thread.colour.number.as_str() == text("number"))
            .and_then(|thread| thread.hex),
        strands: number(text("strands"), "strands")?,
        stitches: number(text("stitches"), "stitches")?,
        half: number(text("half"), "half")?,
        quarter: number(text("quarter"), "quarter")?,
        three_quarter: number(text("three-quarter"), "three-quarter")?,
        backstitch: number(text("backstitch"), "backstitch")?,
        backstitch_strands: number(text("its strands"), "strands for backstitch")?,
        french_knots: number(text("knots"), "knots")?,
    })
}

/// How a way of stitching is said in a form.
fn way_name(way: Way) -> &'static str {
    match way {
        Way::ThereAndBack => "there and back",
        Way::OneByOne => "one by one",
    }
}

pub(in crate::tui::update) fn fabric(ring: &Ring) -> Form {
    let is: Assumptions = ring.fabric.unwrap_or_default();
    let with_tenths = |n: u16| format!("{}.{}", n / 10, n % 10);
    let way = way_name(is.way);
    let blanks = vec![
        blank(
            "count",
            "threads or squares of the fabric in an inch",
            &is.count.to_string(),
        ),
        blank(
            "over",
            "threads that a stitch goes over: 1 or 2",
            &is.over.to_string(),
        ),
        blank(
            "strands",
            "in the needle, where the key does not say",
            &is.strands.to_string(),
        ),
        blank(
            "backstitch",
            "strands in the needle for backstitch",
            &is.backstitch_strands.to_string(),
        ),
        blank("rows", "'there and back', or crosses 'one by one'", way),
        blank(
            "working",
            "the longest working thread, in cm",
            &is.working_cm.to_string(),
        ),
        blank(
            "waste",
            "what it loses at start and finish together, in cm",
            &with_tenths(is.waste_mm),
        ),
        blank(
            "cloth",
            "how thick the fabric is, in mm",
            &with_tenths(is.fabric_tenth_mm),
        ),
        blank(
            "knot",
            "thread in a French knot, in mm",
            &is.knot_mm.to_string(),
        ),
        blank(
            "margin",
            "more for safety, in percent",
            &is.margin_percent.to_string(),
        ),
    ];
    let title = format!(
        "What {project} is stitched on, and how",
        project = ring.project
    );
    form(Purpose::Fabric(ring.id), title, blanks)
}

/// What a form says of the fabric.
pub(in crate::tui::update) fn said<'a>(text: &impl Fn(&str) -> &'a str) -> Result<Said, String> {
    let folded = text("rows").to_lowercase();
    let ways = [Way::ThereAndBack, Way::OneByOne];
    let is = |way: &Way| way_name(*way).to_lowercase() == folded;
    let way = ways.into_iter().find(is).ok_or_else(|| {
        format!(
            "rows: '{other}' is neither '{there_and_back}' nor '{one_by_one}'",
            other = text("rows"),
            there_and_back = way_name(Way::ThereAndBack),
            one_by_one = way_name(Way::OneByOne)
        )
    })?;
    Ok(Said {
        count: Some(whole(text("count"), "count")?),
        over: Some(whole(text("over"), "over")?),
        strands: Some(whole(text("strands"), "strands")?),
        backstitch_strands: Some(whole(text("backstitch"), "backstitch")?),
        way: Some(way),
        working_cm: Some(whole(text("working"), "working")?),
        waste_mm: Some(measure(text("waste"))?),
        fabric_tenth_mm: Some(measure(text("cloth"))?),
        knot_mm: Some(whole(text("knot"), "knot")?),
        margin_percent: Some(whole(text("margin"), "margin")?),
    })
}

fn measure(text: &str) -> Result<u16, String> {
    tenths(text).map_err(|wrong| capital(&tenths_error(&wrong)))
}

fn amount_blanks(put_up: PutUp, suggested: Option<Strands>) -> Vec<FormField> {
    let (lengths, strands) = suggested.map_or((String::new(), String::new()), |amount| {
        (count(put_up.lengths(amount)), count(put_up.loose(amount)))
    });
    vec![
        blank(
            "lengths",
            match put_up.in_length() {
                6 => "whole lengths of six strands",
                _ => "whole lengths",
            },
            &lengths,
        ),
        blank("strands", "single strands besides", &strands),
    ]
}

/// A form for thread to be wound onto a split card.
pub(in crate::tui::update) fn split(
    state: &State,
    ring: RingId,
    card: CardId,
    suggested: Option<Strands>,
) -> Form {
    let name = state.card(card).map(|kept| state.card_name(kept));
    let title = format!(
        "Decant {name} onto a split card",
        name = name.unwrap_or_default()
    );
    let mut blanks = amount_blanks(put_up(state, card), suggested);
    blanks.push(blank(
        "label",
        "what its temporary label says; may be empty",
        "",
    ));
    form(Purpose::Split(ring, card), title, blanks)
}

/// What stands for every colour of a key.
pub(in crate::tui::update) const ALL: &str = "all";

/// A form for how far a project has come.
pub(in crate::tui::update) fn progress(state: &State, ring: &Ring, line: &KeyLine) -> Form {
    let colour = line.threads().first().map(KeyThread::stitched);
    let colour = colour.map_or_else(
        || ALL.to_owned(),
        |colour| {
            let range = state.range(colour.range);
            let range = range.map_or("", |range| range.name.as_str());
            format!("{range}:{}", colour.number)
        },
    );
    let blanks = vec![
        blank("percent", "how much of it is stitched, 0 to 100", ""),
        blank("of", "this colour; or 'all' that the key counts", &colour),
    ];
    let title = format!("How far {project} has come", project = ring.project);
    form(Purpose::Progress(ring.id), title, blanks)
}

/// A form for thread that was used.
pub(in crate::tui::update) fn used(state: &State, ring: RingId, card: CardId) -> Form {
    let name = state.card(card).map(|kept| state.card_name(kept));
    let title = format!(
        "How much of {name} was used",
        name = name.unwrap_or_default()
    );
    form(
        Purpose::Use(ring, card),
        title,
        amount_blanks(put_up(state, card), None),
    )
}

fn put_up(state: &State, card: CardId) -> PutUp {
    let kept = state.card(card);
    kept.map_or_else(PutUp::default, |kept| state.put_up(&kept.card))
}

/// The amount a form says of a card.
pub(in crate::tui::update) fn amount<'a>(
    state: &State,
    card: CardId,
    text: &impl Fn(&str) -> &'a str,
) -> Result<Strands, String> {
    let lengths: u32 = number(text("lengths"), "lengths")?;
    let loose: u32 = number(text("strands"), "strands")?;
    let whole = put_up(state, card).from_lengths(lengths);
    Ok(Strands(whole.0.saturating_add(loose)))
}
