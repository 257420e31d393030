//! Labels for hooks: small strips to be cut out.

use super::mm::Mm;
use super::page::{About, Align, BOLD, CUT, Document, Item, Page, Pen};
use super::paper::{DoesNotFit, Grid, Piece, Sheet};
use crate::model::board::HookRef;
use crate::stash::state::State;
use crate::text::print::HOOK_LABELS;

/// The size of a strip where none is given.
pub(crate) const USUAL: (Mm, Mm) = (Mm::whole(18), Mm::whole(8));
/// The smallest strip.
pub(crate) const LEAST: (Mm, Mm) = (Mm::whole(6), Mm::whole(4));

/// Strips for hooks in reading order, blocked ones left out. O(hooks).
///
/// # Errors
/// When a strip is too small or too large.
pub(crate) fn hook_labels(
    state: &State,
    hooks: impl IntoIterator<Item = HookRef>,
    sheet: Sheet,
    size: (Mm, Mm),
) -> Result<Document, DoesNotFit> {
    let grid = Grid::packed(sheet, Piece::HookLabel, size, LEAST)?;
    let usable = hooks.into_iter().filter(|&hook| state.capacity(hook) > 0);
    let mut pages: Vec<Page> = Vec::new();
    for (at, hook) in usable.enumerate() {
        let (page, place) = grid.place(at);
        let mut item = Item::new(place, About::Hook(hook));
        item.outline(Pen::line(15, CUT));
        let words = item.whole().inset(Mm::hundredths(60));
        let (most, style) = (Mm::whole(20), BOLD.at(Align::Middle));
        item.text(
            words,
            &state.hook_name(hook),
            most,
            Mm::hundredths(150),
            style,
        );
        pages.resize_with(pages.len().max(page + 1), Page::default);
        if let Some(page) = pages.get_mut(page) {
            page.items.push(item);
        }
    }
    let foot = format!("{HOOK_LABELS}.");
    for page in &mut pages {
        page.items.push(sheet.foot(&foot));
    }
    let (width, height) = sheet.size();
    Ok(Document {
        title: HOOK_LABELS.to_owned(),
        width,
        height,
        pages,
    })
}
