//! Settings for the screen's colours and signs, previewed live.

use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

use crate::model::colour::Srgb;
use crate::tui::app::screen::{Context, Extent, Screen};
use crate::tui::app::{App, Stash};
use crate::tui::keymap::{Action, Scope};
use crate::tui::looks::{Looks, Wish};
use crate::tui::message::Effect;
use crate::tui::theme::{Depth, Ground, Signs};
use crate::tui::widgets::list::stepped;
use crate::tui::widgets::pane::{Pane, clear};
use crate::tui::widgets::text::{pad, put_within, wrap};

/// The width of the window, if there is space.
const WIDTH: u16 = 52;

/// A row of the window.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Row {
    Depth,
    Ground,
    Signs,
}

impl Row {
    const ALL: [Self; 3] = [Self::Depth, Self::Ground, Self::Signs];

    const fn label(self) -> &'static str {
        match self {
            Self::Depth => "colours",
            Self::Ground => "background",
            Self::Signs => "signs",
        }
    }

    /// Its options, the terminal's own choice first.
    const fn names(self) -> &'static [&'static str] {
        match self {
            Self::Depth => &["", "true colour", "256", "16", "none"],
            Self::Ground => &["", "dark", "light"],
            Self::Signs => &["", "lines and blocks", "plain"],
        }
    }

    /// The index of a preference among them.
    fn place(self, wish: Wish) -> usize {
        match self {
            Self::Depth => DEPTHS.iter().position(|&depth| depth == wish.depth),
            Self::Ground => GROUNDS.iter().position(|&ground| ground == wish.ground),
            Self::Signs => SIGNS.iter().position(|&signs| signs == wish.signs),
        }
        .unwrap_or(0)
    }

    /// Selects an option, which overrides the settings for this run.
    fn choose(self, looks: &mut Looks, at: usize) {
        let (said, kept) = (&mut looks.said, &mut looks.kept);
        match self {
            Self::Depth => (said.depth, kept.depth) = (None, DEPTHS[at]),
            Self::Ground => (said.ground, kept.ground) = (None, GROUNDS[at]),
            Self::Signs => (said.signs, kept.signs) = (None, SIGNS[at]),
        }
    }

    /// The selected option, in words.
    fn shown(self, looks: &Looks) -> String {
        let at = self.place(looks.wanted());
        if at > 0 {
            return self.names()[at].to_owned();
        }
        let terminal = looks.terminal;
        let tells = self.place(Wish {
            depth: Some(terminal.depth),
            ground: Some(terminal.ground),
            signs: Some(terminal.signs),
        });
        format!("the terminal's: {}", self.names()[tells])
    }
}

const DEPTHS: [Option<Depth>; 5] = [
    None,
    Some(Depth::True),
    Some(Depth::Indexed),
    Some(Depth::Sixteen),
    Some(Depth::None),
];
const GROUNDS: [Option<Ground>; 3] = [None, Some(Ground::Dark), Some(Ground::Light)];
const SIGNS: [Option<Signs>; 3] = [None, Some(Signs::Unicode), Some(Signs::Ascii)];

/// The window. The screen behind it shows the changes and so isn't dimmed.
#[derive(Clone, Debug)]
pub struct Colours {
    before: Looks,
    at: usize,
}

impl Colours {
    /// The window over the screen as it looks now.
    #[must_use]
    pub const fn over(app: &App) -> Self {
        Self {
            before: app.looks,
            at: 0,
        }
    }

    fn change(&self, app: &mut App, action: Action) {
        let row = Row::ALL[self.at];
        let count = row.names().len();
        let step = if action == Action::Right {
            1
        } else {
            count - 1
        };
        let mut looks = app.looks;
        let at = (row.place(looks.wanted()) + step) % count;
        row.choose(&mut looks, at);
        app.look(looks);
    }

    /// The remark below the rows.
    fn remark(&self, app: &App) -> &'static str {
        let now = app.looks.said;
        if now != self.before.said {
            return "An option or a variable such as NO_COLOR sets this, and will again next time.";
        }
        match app.theme.depth {
            Depth::True | Depth::Indexed => {
                "If the band has gaps or is of one colour, choose fewer colours."
            }
            Depth::Sixteen => "With 16 colours no thread colour is shown: none would be true.",
            Depth::None => "Without colours, signs alone show the states.",
        }
    }
}

impl Screen for Colours {
    fn scope(&self) -> Scope {
        Scope::Colours
    }

    fn extent(&self) -> Extent {
        Extent::Window
    }

    fn act(&mut self, context: &mut Context<'_>, action: Action) {
        match action {
            Action::Left | Action::Right => self.change(context.app, action),
            Action::Accept => {
                if context.app.looks != self.before {
                    context.ask(Effect::KeepLooks(context.app.looks.kept));
                }
                context.close();
            }
            Action::Cancel => {
                context.app.look(self.before);
                context.close();
            }
            action => self.at = stepped(self.at, Row::ALL.len(), action),
        }
    }

    fn view(&self, app: &App, _: Stash<'_>, frame: &mut Frame<'_>, body: Rect) {
        let theme = &app.theme;
        let width = WIDTH.min(body.width);
        let inner = usize::from(width.saturating_sub(4));
        let remark = wrap(self.remark(app), inner);
        let rows = Row::ALL.len() + 3 + remark.len();
        let height = u16::try_from(rows + 2).unwrap_or(u16::MAX).min(body.height);
        let area = Rect::new(body.right() - width, body.bottom() - height, width, height);
        let buffer = frame.buffer_mut();
        clear(area, theme.base(), buffer);
        let pane = Pane {
            title: "Colours of the screen",
            counter: "",
            focus: true,
        };
        let inside = pane.draw(theme, area, buffer);
        let mut lines = inside.rows();
        for (at, row) in Row::ALL.into_iter().enumerate() {
            let Some(line) = lines.next() else { return };
            let style = if at == self.at {
                theme.row()
            } else {
                Style::new()
            };
            let (before, after) = if at == self.at {
                ("‹", "›")
            } else {
                (" ", " ")
            };
            let text = format!(
                "{label:<11}{before} {shown} {after}",
                label = row.label(),
                shown = row.shown(&app.looks)
            );
            let width = usize::from(line.width);
            put_within(buffer, (line.x, line.y), pad(&text, width), width, style);
        }
        lines.next();
        if let Some(line) = lines.next() {
            band(app, buffer, line);
        }
        lines.next();
        for (line, text) in lines.zip(&remark) {
            let width = usize::from(line.width);
            put_within(buffer, (line.x, line.y), text, width, theme.muted());
        }
    }
}

/// A colour gradient, drawn like threads; nothing if threads aren't shown in colour.
fn band(app: &App, buffer: &mut Buffer, line: Rect) {
    let steps = f32::from(line.width.max(2) - 1);
    for (step, at) in (0_u16..).zip(line.positions()) {
        let colour = hue(f32::from(step) / steps);
        if let Some(style) = app.theme.swatch(colour) {
            put_within(buffer, (at.x, at.y), " ", 1, style);
        }
    }
}

/// A bright hue, from red at 0 through green and blue nearly back to red at 1.
fn hue(share: f32) -> Srgb {
    let channel = |shift: f32| {
        let around = (share * 0.92 + shift).fract() * 6.0;
        let level = (2.0 - (around - 3.0).abs()).clamp(0.0, 1.0);
        // Between 60 and 230.
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let level = (60.0 + 170.0 * level).round() as u8;
        level
    };
    Srgb::new(
        channel(0.5),
        channel(0.5 + 2.0 / 3.0),
        channel(0.5 + 1.0 / 3.0),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::testing::TestApp;

    fn kept(desk: &TestApp) -> Vec<Wish> {
        let asked = desk.asked.iter();
        let kept = asked.filter_map(|effect| match effect {
            Effect::KeepLooks(wish) => Some(*wish),
            _ => None,
        });
        kept.collect()
    }

    #[test]
    fn choice_previews_at_once_and_enter_saves_it() {
        let mut desk = TestApp::sample(Depth::Sixteen);
        desk.keys("C");
        let shown = desk.drawn((80, 24)).join("\n");
        assert!(shown.contains("‹ the terminal's: 16 ›"), "{shown}");
        desk.keys("l");
        assert_eq!(desk.app.theme.depth, Depth::True);
        let cell = &desk.buffer((80, 24))[(2, 2)];
        assert!(
            matches!(cell.bg, ratatui::style::Color::Rgb(..)),
            "{cell:?}"
        );
        desk.keys("jhjll");
        assert_eq!(desk.app.theme.ground, Ground::Light);
        assert_eq!(desk.app.theme.signs, Signs::Ascii);
        assert_eq!(kept(&desk), []);
        desk.keys("\n");
        let wish = Wish {
            depth: Some(Depth::True),
            ground: Some(Ground::Light),
            signs: Some(Signs::Ascii),
        };
        assert_eq!(kept(&desk), [wish]);
        assert!(desk.app.stack.is_empty());
        // The options wrap around, and the terminal's own is one of them.
        desk.keys("Ch\n");
        assert_eq!(
            kept(&desk)[1],
            Wish {
                depth: None,
                ..wish
            }
        );
        assert_eq!(desk.app.theme.depth, Depth::Sixteen);
        // Nothing is written if nothing changed.
        desk.keys("C\n");
        assert_eq!(kept(&desk).len(), 2);
    }

    #[test]
    fn escape_restores_the_previous_looks() {
        let mut desk = TestApp::sample(Depth::True);
        let before = desk.app.theme;
        desk.keys("Cllljl\u{1b}");
        assert_eq!(desk.app.theme, before);
        assert_eq!(kept(&desk), []);
        assert!(desk.app.stack.is_empty());
    }

    #[test]
    fn colours_open_over_another_screen_only_once() {
        let mut desk = TestApp::sample(Depth::True);
        desk.keys("r:colours of the screen\nC");
        assert_eq!(desk.app.scope(), Scope::Colours);
        desk.keys("\u{1b}");
        assert_eq!(desk.app.scope(), Scope::Rings);
    }

    #[test]
    fn settings_for_this_run_hold_until_changed_here() {
        let mut desk = TestApp::sample(Depth::True);
        let mut looks = desk.app.looks;
        looks.said.depth = Some(Depth::None);
        looks.kept.depth = Some(Depth::Indexed);
        desk.app.look(looks);
        desk.keys("Cjll\n");
        // The depth set for this run isn't saved.
        assert_eq!(kept(&desk)[0].depth, Some(Depth::Indexed));
        assert_eq!(desk.app.theme.depth, Depth::None);
        desk.keys("Ch");
        assert_eq!(desk.app.theme.depth, Depth::Sixteen);
        let shown = desk.drawn((80, 24)).join("\n");
        assert!(shown.contains("NO_COLOR"), "{shown}");
    }

    #[test]
    fn notice_about_few_colours_names_the_key() {
        let said = |looks: Looks| {
            let mut desk = TestApp::sample(looks.terminal.depth);
            desk.app.look(looks);
            desk.app.call_out_few_colours();
            desk.app.notice.map(|notice| notice.text)
        };
        let of = |depth| Looks::of(crate::tui::theme::Theme::new(depth));
        let sixteen = said(of(Depth::Sixteen)).unwrap();
        assert!(
            sixteen.contains("16 colours") && sixteen.contains("Press C"),
            "{sixteen}"
        );
        assert!(said(of(Depth::None)).is_some());
        assert!(said(of(Depth::Indexed)).is_none());
        let mut chosen = of(Depth::Sixteen);
        chosen.kept.depth = Some(Depth::Sixteen);
        assert!(said(chosen).is_none());
    }
}
