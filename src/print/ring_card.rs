//! The ring card: a project's cards in the order of its chart key, to cut out and hang on the ring.

use super::page::{About, Align, BLACK, BOLD, CUT, Document, Item, PENCIL, PLAIN, Page, Pen};
use super::page::{Area, Mm};
use super::paper::{DoesNotFit, Grid, Piece, Sheet};
use crate::model::assumptions::Assumptions;
use crate::model::colour::Srgb;
use crate::model::ring::{ColourRef, KeyLine, KeyThread, Ring};
use crate::stash::projects::needs::{backstitch_strands, strands_in_needle};
use crate::stash::state::{CardState, State};
use crate::text::places::place_of;
use crate::text::print::{self as text, Standing};
use crate::text::thread::notion as notion_text;

/// The default size of a card.
pub(crate) const USUAL: (Mm, Mm) = (Mm::whole(60), Mm::whole(90));
/// The smallest card.
pub(crate) const LEAST: (Mm, Mm) = (Mm::whole(45), Mm::whole(45));
/// From the upper edge to the lower end of the project's name.
const HEAD: Mm = Mm::whole(19);
/// The height of a line of the key.
const LINE: Mm = Mm::hundredths(1_050);
/// Space below the last line.
const TAIL: Mm = Mm::hundredths(450);

/// A line of the card.
struct Line {
    symbol: String,
    number: String,
    name: String,
    colour: Option<Srgb>,
    strands: String,
    /// `None` for anything but thread.
    standing: Option<Standing>,
    words: String,
}

/// The names of cards, joined.
fn named<'a>(state: &State, cards: impl Iterator<Item = &'a CardState>) -> String {
    let names: Vec<String> = cards.map(|kept| state.card_name(kept)).collect();
    names.join(", ")
}

fn standing(state: &State, ring: &Ring, colour: &ColourRef) -> Standing {
    let cards: Vec<&CardState> = state.cards_of(colour).collect();
    let here = |kept: &&&CardState| kept.place.at.ring() == Some(ring.id);
    let (split, whole): (Vec<&CardState>, Vec<&CardState>) = cards
        .iter()
        .filter(here)
        .copied()
        .partition(|kept| kept.card.parent.is_some());
    let split = named(state, split.into_iter());
    if !whole.is_empty() {
        return Standing::OnRing { split };
    }
    if !split.is_empty() {
        return Standing::Split(split);
    }
    let missing = |kept: &&CardState| kept.place.at.is_missing();
    match cards.iter().find(|kept| !missing(kept)) {
        Some(kept) => Standing::NotHere(place_of(state, kept)),
        None if cards.is_empty() => Standing::NotOwned,
        None => Standing::Missing,
    }
}

/// Strands in the needle, from the key or else from the project.
fn strands(state: &State, line: &KeyLine, thread: &KeyThread, assumed: &Assumptions) -> String {
    let counted = line.stitches();
    let put_up = state.colour_put_up(thread.stitched());
    let crosses = strands_in_needle(assumed, line, thread, put_up);
    let back = match backstitch_strands(line, put_up) {
        0 => assumed.backstitch_strands,
        own => own,
    };
    let lines_only = counted.backstitch > 0
        && [
            counted.full,
            counted.half,
            counted.quarter,
            counted.three_quarter,
        ] == [0; 4];
    match (counted.backstitch > 0, lines_only) {
        (true, true) => format!("back x{back}"),
        (true, false) => format!("x{crosses}, back x{back}"),
        _ => format!("x{crosses}"),
    }
}

/// The number of the stitched colour, with its range if the key has several ranges.
fn number_of(state: &State, thread: &KeyThread, several: bool) -> String {
    let colour = thread.stitched();
    let mut number = colour.number.to_string();
    if thread.stitched_with.is_some() {
        number = format!("{number} for {of}", of = thread.colour.number);
    }
    // Last, since a long text is cut at its end.
    if several {
        let range = state.range(colour.range);
        let range = range.map_or("", |range| range.name.as_str());
        number = format!("{number} {range}");
    }
    number
}

fn key_lines(state: &State, ring: &Ring) -> Vec<Line> {
    let assumed = ring.fabric.unwrap_or_default();
    let ranges: Vec<_> = ring.threads().map(|t| t.stitched().range).collect();
    let several = ranges.windows(2).any(|pair| pair[0] != pair[1]);
    let in_key = ring.key.iter().flat_map(|line| {
        let threads = line.threads().iter().enumerate();
        let threads = threads.map(|(at, thread)| {
            let standing = standing(state, ring, thread.stitched());
            Line {
                // A blend continues under its symbol.
                symbol: match at {
                    0 => line.symbol.to_string(),
                    _ => "+".to_owned(),
                },
                number: number_of(state, thread, several),
                name: state.thread_name(thread).to_owned(),
                colour: state.thread_colour(thread),
                strands: strands(state, line, thread, &assumed),
                words: text::standing(&standing),
                standing: Some(standing),
            }
        });
        let notion = line.notion().map(|notion| Line {
            symbol: line.symbol.to_string(),
            number: match notion.pieces {
                0 => String::new(),
                pieces => format!("x{pieces}"),
            },
            name: notion.name.to_string(),
            colour: None,
            strands: String::new(),
            standing: None,
            words: notion_text(line),
        });
        threads.chain(notion)
    });
    let beside = state.cards_on(ring).filter(|kept| {
        let colour = ColourRef::new(kept.card.range, kept.card.number.clone());
        !ring.is_stitched_in(&colour)
    });
    let of_beside = if ring.key.is_empty() {
        let split = String::new();
        Standing::OnRing { split }
    } else {
        Standing::NotInKey
    };
    let beside = beside.map(|kept| Line {
        symbol: String::new(),
        number: state.card_name(kept),
        name: kept.card.name.to_string(),
        colour: kept.card.colour,
        strands: String::new(),
        words: text::standing(&of_beside),
        standing: Some(of_beside.clone()),
    });
    in_key.chain(beside).collect()
}

/// The ring card of a project, on as many cards as its key needs. Cards on the ring but not in the
/// key come last. A ring with neither cards nor key has one card with its name. O(lines · log
/// cards).
///
/// # Errors
/// When a card is too small or too large.
pub(crate) fn ring_card(
    state: &State,
    ring: &Ring,
    sheet: Sheet,
    size: (Mm, Mm),
) -> Result<Document, DoesNotFit> {
    let grid = Grid::packed(sheet, Piece::RingCard, size, LEAST)?;
    let lines = key_lines(state, ring);
    let on_one = (size.1 - HEAD - TAIL).fits(LINE, Mm::ZERO).max(1);
    let cards = lines.len().div_ceil(on_one).max(1);
    let mut pages: Vec<Page> = Vec::new();
    for card in 0..cards {
        let (page, place) = grid.place(card);
        let first = card * on_one;
        let held = first..(first + on_one).min(lines.len());
        let mut item = Item::new(place, About::Lines(held.clone()));
        head(&mut item, ring.project.as_str(), card + 1, cards);
        let inner = item.whole().inset(Mm::whole(2));
        for (row, at) in held.enumerate() {
            let from = HEAD - Mm::whole(2) + LINE.times(row);
            if let Some(line) = lines.get(at) {
                draw(&mut item, inner.rows(from, from + LINE), at + 1, line);
            }
        }
        tail(&mut item, inner);
        pages.resize_with(pages.len().max(page + 1), Page::default);
        if let Some(page) = pages.get_mut(page) {
            page.items.push(item);
        }
    }
    for page in &mut pages {
        page.items.push(sheet.foot(text::COLOURS_ARE_HINTS));
    }
    let (width, height) = sheet.size();
    Ok(Document {
        title: text::ring_card(&ring.project),
        width,
        height,
        pages,
    })
}

/// Draws the hole, the project, and the card's number out of the total.
fn head(item: &mut Item, project: &str, number: usize, of: usize) {
    item.outline(Pen::dashes(20, CUT));
    let whole = item.whole();
    let (hole, from_top) = (Mm::whole(6), Mm::whole(4));
    let at = Area::new((whole.w - hole) / 2, from_top, hole, hole);
    item.disc(at, None, Some(Pen::line(20, PENCIL)));
    let (x, y, arm) = (at.x + hole / 2, at.y + hole / 2, Mm::whole(1));
    let pen = Pen::line(15, PENCIL);
    item.line((x - arm, y), (x + arm, y), pen);
    item.line((x, y - arm), (x, y + arm), pen);
    let inner = whole.inset(Mm::whole(2));
    let count = format!("{number} of {of}");
    let (size, small) = (Mm::hundredths(260), Mm::hundredths(180));
    let corner = inner.rows(Mm::ZERO, Mm::whole(4));
    let corner = corner.columns(inner.w / 2 + Mm::whole(5), inner.w);
    item.text(corner, &count, size, small, PLAIN.at(Align::Right));
    let name = inner.rows(Mm::hundredths(950), Mm::hundredths(1_550));
    item.text(
        name,
        project,
        Mm::hundredths(480),
        Mm::hundredths(220),
        BOLD.at(Align::Middle),
    );
    let y = HEAD - Mm::hundredths(100);
    item.line((inner.x, y), (inner.right(), y), Pen::line(20, BLACK));
}

fn tail(item: &mut Item, inner: Area) {
    let at = inner.rows(inner.h - TAIL + Mm::whole(2), inner.h);
    let (size, small) = (Mm::hundredths(200), Mm::hundredths(140));
    item.text(
        at,
        text::FOOT_OF_A_RING_CARD,
        size,
        small,
        PLAIN.at(Align::Middle).in_colour(PENCIL),
    );
}

/// Draws place and symbol, the swatch, then number, name and whereabouts.
fn draw(item: &mut Item, at: Area, place: usize, line: &Line) {
    let at = at.rows(Mm::hundredths(30), at.h - Mm::hundredths(30));
    let small = Mm::hundredths(180);
    let first = at.columns(Mm::ZERO, Mm::whole(6));
    let half = at.h / 2;
    let left = PLAIN.at(Align::Middle);
    item.text(
        first.rows(Mm::ZERO, half),
        &place.to_string(),
        Mm::hundredths(260),
        small,
        left.in_colour(PENCIL),
    );
    item.text(
        first.rows(half, at.h),
        &line.symbol,
        Mm::whole(4),
        small,
        BOLD.at(Align::Middle),
    );
    item.swatch(
        at.columns(Mm::hundredths(650), Mm::hundredths(1_750)),
        line.colour,
    );
    draw_words(item, at.columns(Mm::hundredths(1_900), at.w), line);
    let y = at.bottom() + Mm::hundredths(30);
    item.line((at.x, y), (at.right(), y), Pen::line(10, CUT));
}

/// Draws number and strands, the name, then the whereabouts.
fn draw_words(item: &mut Item, words: Area, line: &Line) {
    let small = Mm::hundredths(180);
    let third = words.h.percent(40);
    let right = words.w.percent(40).min(Mm::whole(16));
    let number = words
        .columns(Mm::ZERO, words.w - right)
        .rows(Mm::ZERO, third);
    item.text(number, &line.number, Mm::hundredths(340), small, BOLD);
    let needle = words
        .columns(words.w - right, words.w)
        .rows(Mm::ZERO, third);
    item.text(
        needle,
        &line.strands,
        Mm::hundredths(260),
        small,
        PLAIN.at(Align::Right),
    );
    let (two, three) = (words.h.percent(68), words.h);
    item.text(
        words.rows(third, two),
        &line.name,
        Mm::hundredths(260),
        small,
        PLAIN,
    );
    let side = Mm::hundredths(190);
    let row = words.rows(two, three);
    let square = Area::new(row.x, row.y + (row.h - side) / 2, side, side);
    if let Some(of) = &line.standing {
        sign(item, square.inset(Mm::hundredths(15)), of);
    }
    let said = row.columns(side + Mm::hundredths(80), row.w);
    item.text(
        said,
        &line.words,
        Mm::hundredths(220),
        Mm::hundredths(170),
        PLAIN,
    );
}

/// Draws a full disc for thread on the ring, a circle with a dot for a split card, an empty circle
/// for a card that is elsewhere, a cross for a missing one, and a stroke for an unowned colour.
fn sign(item: &mut Item, at: Area, of: &Standing) {
    let pen = Pen::line(20, BLACK);
    match of {
        Standing::OnRing { .. } | Standing::NotInKey => item.disc(at, Some(BLACK), Some(pen)),
        Standing::Split(_) => {
            item.disc(at, None, Some(pen));
            item.disc(at.inset(at.w / 4), Some(BLACK), None);
        }
        Standing::NotHere(_) => item.disc(at, None, Some(pen)),
        Standing::Missing => item.cross(at, Pen::line(35, BLACK)),
        Standing::NotOwned => {
            let y = at.y + at.h / 2;
            item.line((at.x, y), (at.right(), y), Pen::line(40, BLACK));
        }
    }
}
