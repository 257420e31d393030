//! Keys on the page of what was done.

use super::stepped;
use crate::tui::app::log::{Line, Log};
use crate::tui::app::{App, Mode};
use crate::tui::keymap::Action;
use crate::tui::layout;
use crate::tui::message::Effect;

pub(super) fn act(app: &mut App, action: Action) -> Vec<Effect> {
    let parts = layout::parts(app.size.0, app.size.1);
    let page = usize::from(parts.body.height) / 2;
    let Mode::Log(log) = &mut app.mode else {
        return Vec::new();
    };
    let last = log.lines.len().saturating_sub(1);
    log.top = match action {
        Action::First => 0,
        // Some of those before it are in view too.
        Action::Last => last.saturating_sub(page.saturating_sub(1)),
        Action::PageUp => log.top.saturating_sub(page),
        Action::PageDown => (log.top + page).min(last),
        action => stepped(log.top, last + 1, action),
    };
    if action == Action::Cancel {
        app.mode = Mode::Board;
    }
    Vec::new()
}

/// What was done was read.
pub(super) fn read(app: &mut App, lines: Result<Vec<Line>, String>) {
    match lines {
        Ok(lines) => app.mode = Mode::Log(Log { lines, top: 0 }),
        Err(wrong) => app.complain(wrong),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::message::Message;
    use crate::tui::testing::TestApp;
    use crate::tui::theme::Depth;

    #[test]
    fn the_log_is_scrolled_and_says_who_did_what() {
        let mut desk = TestApp::sample(Depth::None);
        desk.keys("L");
        assert_eq!(desk.asked, [Effect::ReadLog]);
        let shown = |desk: &TestApp| desk.drawn((80, 24)).join("\n");
        assert!(
            shown(&desk).contains("Took 40 cards, by ada"),
            "{}",
            shown(&desk)
        );
        assert!(shown(&desk).contains("Took 39 cards (taken back by 40)"));
        assert!(!shown(&desk).contains("Took 1 cards"));
        let last = crate::tui::key::Key::plain(crate::tui::key::Code::End);
        desk.take(Message::Key(last));
        assert!(shown(&desk).contains("Took 1 cards"), "{}", shown(&desk));
        let top = |desk: &TestApp| match &desk.app.mode {
            Mode::Log(log) => log.top,
            _ => usize::MAX,
        };
        desk.keys(&"j".repeat(40));
        assert_eq!(top(&desk), 39);
        desk.keys("kq");
        assert!(matches!(desk.app.mode, Mode::Board));
        desk.take(Message::LogRead(Err("no".to_owned())));
        assert_eq!(desk.app.notice.as_ref().unwrap().text, "no");
        desk.take(Message::LogRead(Ok(Vec::new())));
        assert!(shown(&desk).contains("Nothing has been written down"));
        desk.keys("jL");
        assert!(matches!(desk.app.mode, Mode::Board));
    }
}
