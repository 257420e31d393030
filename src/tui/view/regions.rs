//! The families of each row, named beside it.

use std::collections::HashMap;

use ratatui::buffer::Buffer;
use unicode_width::UnicodeWidthStr;

use crate::model::board::Board;
use crate::model::ids::FamilyId;
use crate::stash::state::State;
use crate::tui::app::App;
use crate::tui::layout::Grid;
use crate::tui::spot::BoardView;
use crate::tui::widgets::text::{fit, put};

/// Names the families of each row in its margin, in the order of its hooks: as many whole names as there is room
/// for, and the first in any case. O(hooks in view).
pub(super) fn names(
    app: &App,
    look: &BoardView<'_>,
    state: &State,
    board: &Board,
    grid: &Grid,
    buffer: &mut Buffer,
) {
    let Some(margin) = grid.margin() else {
        return;
    };
    let names: HashMap<FamilyId, &str> = state
        .families()
        .iter()
        .map(|family| (family.id, family.name.as_str()))
        .collect();
    for row in grid.top..grid.top + grid.rows {
        let Some(cell) = grid.cell(row, grid.left).filter(|cell| !cell.is_empty()) else {
            continue;
        };
        let mut here: Vec<&str> = Vec::new();
        for column in grid.left..grid.left + grid.columns {
            let family = look.family(board.hook(row, column));
            if let Some(&name) = family.and_then(|id| names.get(&id))
                && !here.contains(&name)
            {
                here.push(name);
            }
        }
        let room = usize::from(margin.width);
        let mut text = String::new();
        for name in here {
            if !text.is_empty() && text.width() + 1 + name.width() > room {
                break;
            }
            text = format!("{text}{}{name}", if text.is_empty() { "" } else { " " });
        }
        put(
            buffer,
            (margin.x, cell.y),
            fit(&text, room),
            app.theme.muted(),
        );
    }
}
