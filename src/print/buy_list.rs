//! The buy list, with swatches and tick boxes.

use super::page::{About, Align, BLACK, BOLD, CUT, Document, Item, PLAIN, Page, Pen};
use super::page::{Area, Mm};
use super::paper::Sheet;
use crate::exchange::BuyRow;
use crate::model::ring::Ring;
use crate::stash::projects::buy_list;
use crate::stash::projects::kit::check;
use crate::stash::state::State;
use crate::text;
use crate::text::print::{COLOURS_ARE_HINTS, buy_rows, skeins_and_page, to_buy_for};

const HEAD: Mm = Mm::whole(11);
/// The height of a colour.
const ROW: Mm = Mm::whole(13);

/// The skeins to buy for projects; `None` if there are none.
#[must_use]
pub(crate) fn for_projects(state: &State, rings: &[&Ring], sheet: Sheet) -> Option<Document> {
    let rows = buy_rows(state, &buy_list::buy_list(state, &check(state, rings)));
    (!rows.is_empty()).then(|| buy_list(&rows, &to_buy_for(rings), sheet))
}

/// The list on as many pages as needed, at least one. O(rows).
#[must_use]
pub(crate) fn buy_list(rows: &[BuyRow], title: &str, sheet: Sheet) -> Document {
    let body = sheet.body();
    let on_a_page = (body.h - HEAD).fits(ROW, Mm::ZERO).max(1);
    let count = rows.len().div_ceil(on_a_page).max(1);
    let skeins: u64 = rows.iter().map(|row| u64::from(row.skeins)).sum();
    let page = |number: usize| {
        let mut page = Page::default();
        let mut head = Item::new(body.rows(Mm::ZERO, HEAD), About::Words);
        let whole = head.whole();
        let split = whole.w - Mm::whole(45);
        let (size, small) = (Mm::whole(6), Mm::whole(3));
        head.text(whole.columns(Mm::ZERO, split), title, size, small, BOLD);
        let said = skeins_and_page(skeins, number + 1, count);
        let corner = whole.columns(split, whole.w);
        head.text(
            corner,
            &said,
            Mm::whole(3),
            Mm::whole(2),
            PLAIN.at(Align::Right),
        );
        page.items.push(head);
        let first = number * on_a_page;
        let held = rows.iter().enumerate().skip(first).take(on_a_page);
        for (place, (at, row)) in held.enumerate() {
            let from = HEAD + ROW.times(place);
            let mut item = Item::new(body.rows(from, from + ROW), About::Lines(at..at + 1));
            draw(&mut item, row);
            page.items.push(item);
        }
        page.items.push(sheet.foot(COLOURS_ARE_HINTS));
        page
    };
    let (width, height) = sheet.size();
    Document {
        title: title.to_owned(),
        width,
        height,
        pages: (0..count).map(page).collect(),
    }
}

fn draw(item: &mut Item, row: &BuyRow) {
    let whole = item.whole();
    let inner = whole.rows(Mm::hundredths(60), whole.h - Mm::hundredths(60));
    let tick = Mm::whole(6);
    let square = Area::new(
        Mm::hundredths(50),
        inner.y + (inner.h - tick) / 2,
        tick,
        tick,
    );
    item.rect(square, None, Some(Pen::line(35, BLACK)));
    item.swatch(inner.columns(Mm::whole(9), Mm::whole(25)), row.colour);
    let half = inner.h / 2;
    let upper = inner.rows(Mm::ZERO, half);
    let small = Mm::whole(2);
    let number = upper.columns(Mm::whole(27), Mm::whole(57));
    item.text(number, &row.number, Mm::whole(5), small, BOLD);
    let split = whole.w - Mm::whole(28);
    let name = upper.columns(Mm::whole(59), split);
    let text = format!("{}  {}", row.range, row.name);
    item.text(name, text.trim(), Mm::hundredths(360), small, PLAIN);
    let count = inner.columns(split + Mm::whole(1), whole.w - Mm::hundredths(50));
    let text = text::thread::skeins(row.skeins);
    let big = Mm::hundredths(420);
    item.text(
        count.rows(Mm::ZERO, half),
        &text,
        big,
        small,
        BOLD.at(Align::Right),
    );
    let why = inner
        .rows(half, inner.h)
        .columns(Mm::whole(27), whole.w - Mm::whole(1));
    item.text(why, &row.why, Mm::hundredths(300), small, PLAIN);
    item.line((Mm::ZERO, whole.h), (whole.w, whole.h), Pen::line(15, CUT));
}
