//! Keys on the page of what was done.

use super::stepped;
use crate::tui::app::{App, Mode};
use crate::tui::keymap::Action;
use crate::tui::layout;
use crate::tui::log::{Line, Log};
use crate::tui::message::Effect;
use crate::tui::view::LOG_HEAD;

pub(super) fn act(app: &mut App, action: Action) -> Vec<Effect> {
    let parts = layout::parts(app.size.0, app.size.1);
    let body = parts.notice.y.saturating_sub(parts.grid.y);
    let room = usize::from(body.saturating_sub(LOG_HEAD));
    let Mode::Log(log) = &mut app.mode else {
        return Vec::new();
    };
    // The last screenful is as far as it goes.
    let tops = log.lines.len().saturating_sub(room) + 1;
    let page = room.max(1);
    log.top = match action {
        Action::First => 0,
        Action::Last => tops - 1,
        Action::PageUp => log.top.saturating_sub(page),
        Action::PageDown => (log.top + page).min(tops - 1),
        action => stepped(log.top, tops, action),
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
    use crate::tui::testing::Desk;
    use crate::tui::theme::Depth;

    #[test]
    fn the_log_is_scrolled_and_says_who_did_what() {
        let mut desk = Desk::sample(Depth::None);
        desk.keys("L");
        assert_eq!(desk.asked, [Effect::ReadLog]);
        let shown = |desk: &Desk| desk.drawn((80, 24)).join("\n");
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
        let top = |desk: &Desk| match &desk.app.mode {
            Mode::Log(log) => log.top,
            _ => usize::MAX,
        };
        let end = top(&desk);
        desk.keys("j");
        assert_eq!(top(&desk), end);
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
