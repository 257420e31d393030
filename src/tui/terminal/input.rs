//! From the terminal's events to ours.

use std::io;
use std::sync::mpsc::Sender;
use std::thread;

use crossterm::event::{
    Event, KeyCode, KeyEvent, KeyEventKind, KeyModifiers, MouseButton, MouseEvent, MouseEventKind,
    read,
};

use crate::tui::key::{Code, Key};
use crate::tui::message::Message;

/// Listens to the terminal until it fails or nobody asks any more.
///
/// In a thread of its own: a terminal that is gone, or that has sent half a key, keeps the reader
/// inside `read` for ever, and a signal to end must be heard all the same.
pub(super) fn listen(to: Sender<io::Result<Message>>) {
    thread::spawn(move || {
        loop {
            let event = read();
            let failed = event.is_err();
            if let Some(message) = event.map(message).transpose()
                && (to.send(message).is_err() || failed)
            {
                return;
            }
        }
    });
}

/// The message of an event; `None` for those that mean nothing here. Some terminals also send
/// releases of keys: only presses and repeats count.
fn message(event: Event) -> Option<Message> {
    match event {
        Event::Key(key) if key.kind != KeyEventKind::Release => self::key(key).map(Message::Key),
        Event::Paste(text) => Some(Message::Paste(text)),
        Event::Resize(width, height) => Some(Message::Resize { width, height }),
        Event::Mouse(MouseEvent {
            kind, column, row, ..
        }) => match kind {
            MouseEventKind::Down(MouseButton::Left) => Some(Message::Click { column, row }),
            MouseEventKind::Drag(MouseButton::Left) => Some(Message::Drag { column, row }),
            MouseEventKind::Up(MouseButton::Left) => Some(Message::Release { column, row }),
            MouseEventKind::ScrollUp => Some(Message::Wheel { up: true }),
            MouseEventKind::ScrollDown => Some(Message::Wheel { up: false }),
            _ => None,
        },
        _ => None,
    }
}

fn key(event: KeyEvent) -> Option<Key> {
    let code = match event.code {
        KeyCode::Char(c) => Code::Char(c),
        KeyCode::Enter => Code::Enter,
        KeyCode::Esc => Code::Esc,
        KeyCode::Tab => Code::Tab,
        KeyCode::BackTab => Code::BackTab,
        KeyCode::Backspace => Code::Backspace,
        KeyCode::Delete => Code::Delete,
        KeyCode::Up => Code::Up,
        KeyCode::Down => Code::Down,
        KeyCode::Left => Code::Left,
        KeyCode::Right => Code::Right,
        KeyCode::Home => Code::Home,
        KeyCode::End => Code::End,
        KeyCode::PageUp => Code::PageUp,
        KeyCode::PageDown => Code::PageDown,
        _ => return None,
    };
    // Alt with a letter is not that letter.
    if event
        .modifiers
        .intersects(KeyModifiers::ALT | KeyModifiers::SUPER)
    {
        return None;
    }
    let ctrl = event.modifiers.contains(KeyModifiers::CONTROL);
    Some(Key { code, ctrl })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_release_is_no_press() {
        let mut event = KeyEvent::new(KeyCode::Char('q'), KeyModifiers::NONE);
        assert_eq!(
            message(Event::Key(event)),
            Some(Message::Key(Key::char('q')))
        );
        event.kind = KeyEventKind::Release;
        assert_eq!(message(Event::Key(event)), None);
    }
}
