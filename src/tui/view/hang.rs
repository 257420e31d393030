//! A card on its way to another hook, in the panel.

use ratatui::style::Style;
use ratatui::text::Line;

use super::panel;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::text;
use crate::tui::app::App;
use crate::tui::app::hang::Hang;
use crate::tui::refused::on_screen;
use crate::tui::spot::HookStatus;
use crate::tui::widgets::text::paragraph;

/// The card, the hook under the cursor, and what it would be like there.
pub(super) fn draw(app: &App, state: &State, hang: &Hang, width: usize) -> Vec<Line<'static>> {
    let theme = &app.theme;
    let (Some(kept), Some(hook), Ok(wall)) =
        (state.card(hang.card), app.hook(state), hang.wall(state))
    else {
        return Vec::new();
    };
    let mut lines = panel::heading(app, state, kept, width).to_vec();
    lines.extend(paragraph(
        &text::places::place_of(state, kept),
        width,
        theme.faint(),
    ));
    lines.push(Line::default());
    match wall.at(hook) {
        _ if kept.home == Some(hook) && kept.is_home() => {
            let text = format!(
                "{hook} is where it hangs now.",
                hook = state.hook_name(hook)
            );
            lines.extend(paragraph(&text, width, Style::new()));
        }
        Err(Refusal::LivesThere { hook_name, .. }) => {
            lines.extend(paragraph(
                &format!("{hook_name} is its home now."),
                width,
                Style::new(),
            ));
        }
        Err(refusal) => lines.extend(paragraph(&on_screen(&refusal), width, theme.wrong())),
        Ok(hanging) => {
            let order = match hanging.keeps_order {
                true => theme.strong(),
                false => theme.wrong(),
            };
            let mut say = |text: &str, style| {
                lines.extend(paragraph(&format!("{text}."), width, style));
            };
            say(&text::hang::target(&hanging), Style::new());
            say(&text::hang::order(&hanging), order);
            say(&text::hang::label(&hanging), Style::new());
            for warning in text::hang::warnings(&hanging) {
                say(&warning, theme.away());
            }
        }
    }
    lines.push(Line::default());
    let fitting = match wall.keeping_order().len() {
        0 => "No free hook keeps the order.".to_owned(),
        1 => format!(
            "One free hook ({glyph}) keeps the order.",
            glyph = HookStatus::Fits.glyph()
        ),
        n => format!(
            "{n} free hooks ({glyph}) keep the order.",
            glyph = HookStatus::Fits.glyph()
        ),
    };
    lines.extend(paragraph(&fitting, width, theme.faint()));
    lines
}
