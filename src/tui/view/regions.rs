//! Where on the board a family begins.

use std::collections::HashMap;

use ratatui::buffer::Buffer;
use unicode_width::UnicodeWidthStr;

use super::text::fit;
use crate::model::board::{Board, HookRef};
use crate::model::ids::FamilyId;
use crate::stash::state::State;
use crate::tui::app::{App, Zoom};
use crate::tui::layout::Grid;
use crate::tui::spot::Look;

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
    pub(super) fn new(look: &Look<'a>, state: &'a State, board: &Board, grid: &Grid) -> Self {
        let names: HashMap<FamilyId, &str> = state
            .families()
            .iter()
            .map(|family| (family.id, family.name.as_str()))
            .collect();
        let mut found = HashMap::new();
        let mut cards = 0;
        for row in grid.top..grid.top + grid.rows {
            for column in grid.left..grid.left + grid.columns {
                let hook = board.hook(row, column);
                cards += usize::from(look.is_used(hook));
                if let Some(&name) = look.begins(board, hook).and_then(|id| names.get(&id)) {
                    found.insert(hook, name);
                }
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

    /// Names the families that begin in each row at its end, where there is room and the hooks have
    /// none.
    pub(super) fn names_beside(&self, app: &App, grid: &Grid, buffer: &mut Buffer) {
        let x = grid.area.x + grid.gutter + grid.columns * grid.cell_width + 1;
        let room = grid.area.right().saturating_sub(x);
        let in_the_hooks = match grid.zoom {
            Zoom::Far => false,
            Zoom::Middle => grid.cell_height > 2,
            Zoom::Near => true,
        };
        if in_the_hooks || room < LEAST_BESIDE {
            return;
        }
        for row in grid.top..grid.top + grid.rows {
            let Some(cell) = grid
                .cell(row, grid.left)
                .filter(|c| c.y < grid.area.bottom())
            else {
                continue;
            };
            let mut here: Vec<_> = self.0.iter().filter(|(hook, _)| hook.row == row).collect();
            here.sort_by_key(|(hook, _)| hook.column);
            // As many whole names as there is room for, and the first in any case.
            let mut text = String::new();
            for (_, name) in here {
                if !text.is_empty() && text.width() + 1 + name.width() > room.into() {
                    break;
                }
                text = format!("{text}{}{name}", if text.is_empty() { "" } else { " " });
            }
            buffer.set_string(x, cell.y, fit(&text, room.into()), app.theme.faint());
        }
    }
}
