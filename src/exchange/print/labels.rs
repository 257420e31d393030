//! Labels for cards: the number large, the range, the name, a swatch, and in pencil the mark of the
//! hook.

use super::label_sheet::{LEAST, LabelSheet, USUAL_HEIGHT, USUAL_WIDTH};
use super::mm::{Area, Mm};
use super::page::Pen;
use super::page::{About, Align, BLACK, BOLD, CUT, Document, IN_PENCIL, Item, PENCIL, PLAIN, Page};
use super::paper::{DoesNotFit, Grid, Sheet, hint};
use crate::stash::state::{CardState, State};

/// Labels for cards, in the order given, from the label after those skipped on. Without a sheet of
/// labels they are drawn to be cut out of plain paper. O(cards).
///
/// # Errors
/// When the sheet does not fit the paper, or more labels are skipped than it has.
pub fn labels(
    state: &State,
    cards: &[&CardState],
    sheet: Sheet,
    labels: Option<&LabelSheet>,
    skip: usize,
) -> Result<Document, DoesNotFit> {
    let grid = match labels {
        Some(labels) => labels.grid(sheet)?,
        None => Grid::packed(sheet, "label", (USUAL_WIDTH, USUAL_HEIGHT), LEAST)?,
    };
    let all = grid.on_a_page();
    if skip >= all {
        return Err(DoesNotFit::Skip { skip, all });
    }
    let printable = sheet.printable();
    let (width, height) = sheet.size();
    let mut pages: Vec<Page> = Vec::new();
    for (at, kept) in (skip..).zip(cards) {
        let (page, place) = grid.place(at);
        // What a printer leaves white at the edge is not written on.
        let mut item = Item::new(place.common(printable), About::Card(kept.card.id));
        if item.at.w < LEAST.0 - Mm::whole(5) || item.at.h < LEAST.1 - Mm::whole(5) {
            return Err(DoesNotFit::Size {
                what: "label that near the edge",
                w: item.at.w,
                h: item.at.h,
                least_w: LEAST.0 - Mm::whole(5),
                least_h: LEAST.1 - Mm::whole(5),
                most_w: printable.w,
                most_h: printable.h,
            });
        }
        if labels.is_none() {
            item.outline(Pen::dashes(15, CUT));
        }
        draw(state, kept, &mut item);
        pages.resize_with(pages.len().max(page + 1), Page::default);
        if let Some(page) = pages.get_mut(page) {
            page.items.push(item);
        }
    }
    let foot = sheet.foot(hint());
    for page in &mut pages {
        if !page.items.iter().any(|item| item.at.overlaps(foot.at)) {
            page.items.push(foot.clone());
        }
    }
    Ok(Document {
        title: "Labels for cards".to_owned(),
        width,
        height,
        pages,
    })
}

/// The swatch at the left, words beside it, the mark below at the right.
fn draw(state: &State, kept: &CardState, item: &mut Item) {
    let card = &kept.card;
    let inner = item.whole().inset(Mm::hundredths(150));
    let side = inner.w.percent(27);
    item.swatch(inner.columns(Mm::ZERO, side), card.colour);
    let words = inner.columns(side + Mm::hundredths(150), inner.w);
    let h = words.h;
    let small = Mm::hundredths(150);
    let number = if card.parent.is_some() {
        state.card_name(kept)
    } else {
        state.number_and_tag(kept).into_owned()
    };
    let row = |from: i32, to: i32| words.rows(h.percent(from), h.percent(to));
    item.text(
        row(0, 42),
        &number,
        Mm::whole(12),
        Mm::hundredths(200),
        BOLD,
    );
    let size = Mm::hundredths(380);
    item.text(row(42, 60), state.range_name(kept), size, small, PLAIN);
    item.text(row(60, 78), card.name.as_str(), size, small, PLAIN);
    foot(state, kept, item, row(78, 100));
}

/// The mark, lighter than print since it may change; of a split card, where its thread goes.
fn foot(state: &State, kept: &CardState, item: &mut Item, at: Area) {
    let (size, small) = (Mm::whole(4), Mm::hundredths(150));
    let whole = kept.card.parent.and_then(|parent| state.card(parent));
    let style = IN_PENCIL.at(Align::Right);
    match (kept.home, whole) {
        (Some(home), _) => item.text(at, &state.hook_name(home), size, small, style),
        (None, Some(whole)) => {
            let text = format!("split, back onto {whole}", whole = state.card_name(whole));
            item.text(at, &text, size.percent(75), small, style.in_colour(BLACK));
        }
        // A line to write on: the hook is not known yet.
        (None, None) => {
            let y = at.bottom() - Mm::hundredths(40);
            let from = at.right() - at.w.min(Mm::whole(14));
            item.line((from, y), (at.right(), y), Pen::dashes(20, PENCIL));
        }
    }
}
