//! Where on the board a family begins.

use std::collections::HashMap;

use ratatui::buffer::Buffer;
use ratatui::style::Style;
use unicode_width::UnicodeWidthStr;

use super::text::fit;
use crate::model::board::{Board, HookRef};
use crate::model::ids::FamilyId;
use crate::stash::state::State;
use crate::tui::app::{App, Zoom};
use crate::tui::layout::Grid;
use crate::tui::spot::BoardView;

/// Stands before the first hook of a family.
pub(super) const EDGE: &str = "|";

/// The fewest columns beside the grid in which names are worth showing.
const LEAST_BESIDE: u16 = 6;

/// The hooks in view on which a family begins, with its name.
pub(super) struct Regions<'a>(HashMap<HookRef, &'a str>);

impl<'a> Regions<'a> {
    /// Looks for them. There are none where families are so mixed that edges would be all there is to
    /// see: where on average fewer than two hooks with cards lie between them. O(hooks in view and
    /// the free ones before them).
    pub(super) fn new(look: &BoardView<'a>, state: &'a State, board: &Board, grid: &Grid) -> Self {
        let names: HashMap<FamilyId, &str> = state
            .families()
            .iter()
            .map(|family| (family.id, family.name.as_str()))
            .collect();
        let mut found = HashMap::new();
        let mut cards = 0;
        // The last hook with a family, by its place in reading order: mostly that before the next.
        let mut last: Option<(u32, FamilyId)> = None;
        for row in grid.top..grid.top + grid.rows {
            for column in grid.left..grid.left + grid.columns {
                let hook = board.hook(row, column);
                let Some(own) = look.family(hook) else {
                    continue;
                };
                cards += 1;
                let at = board.reading_index(hook);
                let before = match last {
                    Some((index, family)) if index + 1 == at => Some(family),
                    _ => look.family_before(board, at),
                };
                if before != Some(own)
                    && let Some(&name) = names.get(&own)
                {
                    found.insert(hook, name);
                }
                last = Some((at, own));
            }
        }
        if found.len() > 1 && found.len() * 2 > cards {
            found.clear();
        }
        Self(found)
    }

    /// The name of the family that begins on a hook.
    pub(super) fn begins(&self, hook: HookRef) -> Option<&'a str> {
        self.0.get(&hook).copied()
    }

    /// The families that begin in a row, by their columns.
    fn in_row(&self, row: u16) -> Vec<(u16, &'a str)> {
        let here = self.0.iter().filter(|(hook, _)| hook.row == row);
        let mut here: Vec<_> = here.map(|(hook, &name)| (hook.column, name)).collect();
        here.sort_unstable();
        here
    }

    /// Names each family on the blank second line of its first hooks, from the far where there is no
    /// room beside the grid.
    pub(super) fn names_across(&self, grid: &Grid, buffer: &mut Buffer) {
        if grid.zoom != Zoom::Far || grid.cell_height < 2 || beside(grid).is_some() {
            return;
        }
        for row in grid.top..grid.top + grid.rows {
            let here = self.in_row(row);
            for (at, &(column, name)) in here.iter().enumerate() {
                let next = here
                    .get(at + 1)
                    .map_or(grid.left + grid.columns, |next| next.0);
                let room = (next - column) * grid.cell_width - 1;
                if let Some(cell) = grid
                    .cell(row, column)
                    .filter(|c| c.y + 1 < grid.area.bottom())
                {
                    // Without a style of its own, in the ink of each swatch.
                    let name = fit(name, room.into());
                    buffer.set_string(cell.x + 1, cell.y + 1, name, Style::new());
                }
            }
        }
    }

    /// Names the families that begin in each row at its end, where there is room and the hooks have
    /// none.
    pub(super) fn names_beside(&self, app: &App, grid: &Grid, buffer: &mut Buffer) {
        let Some((x, room)) = beside(grid) else {
            return;
        };
        let in_the_hooks = match grid.zoom {
            Zoom::Far => false,
            Zoom::Middle => grid.cell_height > 2,
            Zoom::Near => true,
        };
        if in_the_hooks {
            return;
        }
        for row in grid.top..grid.top + grid.rows {
            let Some(cell) = grid
                .cell(row, grid.left)
                .filter(|c| c.y < grid.area.bottom())
            else {
                continue;
            };
            // As many whole names as there is room for, and the first in any case.
            let mut text = String::new();
            for (_, name) in self.in_row(row) {
                if !text.is_empty() && text.width() + 1 + name.width() > room.into() {
                    break;
                }
                text = format!("{text}{}{name}", if text.is_empty() { "" } else { " " });
            }
            buffer.set_string(x, cell.y, fit(&text, room.into()), app.theme.faint());
        }
    }
}

/// The first column beside the grid, with one left blank, and how many there are, if they are enough
/// for names.
fn beside(grid: &Grid) -> Option<(u16, u16)> {
    let x = grid.area.x + grid.gutter + grid.columns * grid.cell_width + 1;
    let room = grid.area.right().saturating_sub(x);
    (room >= LEAST_BESIDE).then_some((x, room))
}
