//! Frames, gauges and cards in ASCII characters.

use ratatui::buffer::{Buffer, Cell};
use ratatui::style::Color;

/// Replaces line and block characters. The user's text stays as it is.
pub fn rewrite(buffer: &mut Buffer) {
    for cell in &mut buffer.content {
        if let Some(plain) = plain(cell) {
            cell.set_char(plain);
        }
    }
}

/// The replacement for a sign; `None` for any other character.
fn plain(cell: &mut Cell) -> Option<char> {
    Some(match cell.symbol() {
        "─" | "▔" => '-',
        "━" => '=',
        "│" | "┃" => '|',
        "╭" | "╮" | "╰" | "╯" => '+',
        "…" => '~',
        "·" => '.',
        "→" | "▸" | "›" | "»" => '>',
        "←" | "◂" | "‹" => '<',
        "▲" | "↑" => '^',
        "▼" | "↓" => 'v',
        "█" => '#',
        // The gap at the edge of a card: half of this cell is board. In ASCII the whole cell is.
        "▐" | "▟" => {
            if cell.fg != Color::Reset {
                cell.bg = cell.fg;
            }
            ' '
        }
        // The gap below a card is dropped; half a large letter is drawn whole.
        "▄" if cell.bg != Color::Reset => ' ',
        "▄" | "▀" => '#',
        _ => return None,
    })
}
