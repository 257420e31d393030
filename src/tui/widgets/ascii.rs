//! Frames, gauges and cards in the characters of ASCII.

use ratatui::buffer::{Buffer, Cell};
use ratatui::style::Color;

/// Rewrites what was drawn with lines and blocks. What the user wrote stays as it is.
pub fn rewrite(buffer: &mut Buffer) {
    for cell in &mut buffer.content {
        if let Some(plain) = plain(cell) {
            cell.set_char(plain);
        }
    }
}

/// What stands for a sign; `None` for what is no sign of ours.
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
        // The gaps of a card: half of the cell is the board's. The whole of it is, to its right.
        "▐" | "▟" => {
            if cell.fg != Color::Reset {
                cell.bg = cell.fg;
            }
            ' '
        }
        // The gap below a card is left out; a half of a large letter is drawn as a whole.
        "▄" if cell.bg != Color::Reset => ' ',
        "▄" | "▀" => '#',
        _ => return None,
    })
}
