//! A page of the handbook.

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::text::Line;
use ratatui::widgets::Paragraph;

use crate::tui::app::screen::{Context, Extent, Screen};
use crate::tui::app::{App, Stash};
use crate::tui::handbook::{PAGES, Page, plain, title};
use crate::tui::keymap::{Action, Scope};
use crate::tui::layout;
use crate::tui::widgets::list::stepped;
use crate::tui::widgets::window;

/// The most columns of the window.
const WIDEST: u16 = 84;

/// The page and its scroll position.
#[derive(Clone, Debug)]
pub struct Guide {
    /// Index of the page.
    page: usize,
    /// First line shown.
    top: usize,
}

impl Guide {
    /// The page about the screen with these keys.
    #[must_use]
    pub fn about(scope: Scope) -> Self {
        let page = PAGES.iter().position(|(of, _)| *of == scope.guide());
        Self {
            page: page.unwrap_or(0),
            top: 0,
        }
    }

    fn page(&self) -> Page {
        PAGES.get(self.page).copied().unwrap_or_default()
    }

    /// The lines of the page, for a body of this width.
    fn lines(&self, width: u16) -> Vec<String> {
        let (_, text) = self.page();
        let inner = usize::from(WIDEST.min(width).saturating_sub(4));
        // The window shows the title.
        let text = plain(text, inner);
        let lines = text.lines().skip(3);
        lines.map(str::to_owned).collect()
    }
}

impl Screen for Guide {
    fn scope(&self) -> Scope {
        Scope::Help
    }

    fn extent(&self) -> Extent {
        Extent::Window
    }

    fn act(&mut self, context: &mut Context<'_>, action: Action) {
        match action {
            Action::Cancel => context.close(),
            Action::Guide => {
                *self = Self {
                    page: (self.page + 1) % PAGES.len(),
                    top: 0,
                };
            }
            _ => {
                let (width, height) = context.app.size;
                let body = layout::parts(width, height).body;
                let count = self.lines(body.width).len();
                let last = count.saturating_sub(body.height.saturating_sub(2).into());
                self.top = stepped(self.top, last + 1, action);
            }
        }
    }

    fn view(&self, app: &App, _: Stash<'_>, frame: &mut Frame<'_>, body: Rect) {
        let lines = self.lines(body.width);
        let last = lines
            .len()
            .saturating_sub(body.height.saturating_sub(2).into());
        let lines = lines.into_iter().skip(self.top.min(last)).map(Line::raw);
        let width = WIDEST.min(body.width);
        let (_, text) = self.page();
        let title = title(text);
        let inside = window::draw(&app.theme, title, (width, body.height.into()), frame, body);
        frame.render_widget(Paragraph::new(lines.collect::<Vec<_>>()), inside);
    }
}

#[cfg(test)]
mod tests {
    use crate::tui::key::{Code, Key};
    use crate::tui::message::Message;
    use crate::tui::testing::TestApp;
    use crate::tui::theme::Depth;

    fn drawn(desk: &TestApp) -> String {
        desk.drawn((80, 24)).join("\n")
    }

    #[test]
    fn help_opens_the_page_of_its_screen_then_the_next() {
        let desk = TestApp::sample(Depth::None);
        for (keys, title) in [
            ("?\t", "First steps"),
            ("r?\t", "Projects"),
            ("g?\t", "Re-hang"),
        ] {
            let desk = desk.after(keys);
            assert!(drawn(&desk).contains(title), "{keys:?}\n{}", drawn(&desk));
        }
        let first = desk.after("?\t");
        let second = first.after("\t");
        assert!(drawn(&second).contains("Projects"), "{}", drawn(&second));
        // A page can be scrolled to its end.
        let mut end = first.clone();
        for _ in 0..40 {
            end.take(Message::Key(Key::plain(Code::PageDown)));
        }
        assert_ne!(drawn(&end), drawn(&first));
        // Esc returns to the keyboard help.
        let back = second.after("\u{1b}");
        assert!(drawn(&back).contains("Keys"), "{}", drawn(&back));
    }
}
