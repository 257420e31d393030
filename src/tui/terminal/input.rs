//! Converts terminal events to messages.

use std::io;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, sync_channel};
use std::thread;
use std::time::Duration;

use crossterm::event::{
    Event, KeyCode, KeyEvent, KeyEventKind, KeyModifiers, MouseButton, MouseEvent, MouseEventKind,
    read,
};

use crate::tui::key::{Code, Key};
use crate::tui::message::Message;

/// How many terminal messages may wait. Further input stays in the terminal and blocks its sender.
const ROOM: usize = 64;

/// All messages for the loop, in the order they arrived.
pub(super) struct Inbox {
    messages: Receiver<io::Result<Message>>,
    /// A slot for each waiting terminal message. Background threads use none, so they never wait
    /// for the loop.
    taken: Receiver<()>,
    /// The message behind a run of resizes.
    next: Option<io::Result<Message>>,
}

/// Listens to the terminal until it fails or the inbox is gone. Messages go out through `to`; the
/// inbox receives them through `messages`, the other end of that channel.
///
/// It runs in a thread of its own: a terminal that is gone, or that sent half a key sequence,
/// blocks the reader in `read` forever, and a termination signal must still be handled.
pub(super) fn listen(
    to: Sender<io::Result<Message>>,
    messages: Receiver<io::Result<Message>>,
) -> Inbox {
    let (take, taken) = sync_channel(ROOM);
    thread::spawn(move || {
        loop {
            let event = read();
            let failed = event.is_err();
            if let Some(message) = event.map(message).transpose()
                && (take.send(()).is_err() || to.send(message).is_err() || failed)
            {
                return;
            }
        }
    });
    Inbox {
        messages,
        taken,
        next: None,
    }
}

impl Inbox {
    /// The next message, waiting at most `wait`. Consecutive resizes collapse into the last one.
    pub fn take(&mut self, wait: Duration) -> io::Result<Option<Message>> {
        let first = match self.next.take() {
            Some(message) => message,
            None => match self.messages.recv_timeout(wait) {
                Ok(message) => self.received(message),
                Err(RecvTimeoutError::Timeout) => return Ok(None),
                Err(RecvTimeoutError::Disconnected) => {
                    return Err(io::ErrorKind::BrokenPipe.into());
                }
            },
        };
        let mut message = first?;
        while matches!(message, Message::Resize { .. })
            && let Ok(next) = self.messages.try_recv()
        {
            match self.received(next) {
                Ok(size @ Message::Resize { .. }) => message = size,
                other => {
                    self.next = Some(other);
                    break;
                }
            }
        }
        Ok(Some(message))
    }

    /// Frees a slot. A message without a slot may free one too early, and then one more message can
    /// wait.
    fn received(&self, message: io::Result<Message>) -> io::Result<Message> {
        let _ = self.taken.try_recv();
        message
    }
}

/// The message for an event; `None` for events without a meaning here. Some terminals also send key
/// releases, but only presses and repeats count.
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
    // Alt with a letter isn't that letter.
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
    use std::sync::mpsc::channel;

    use super::*;

    const SIZE: Message = Message::Resize {
        width: 80,
        height: 24,
    };

    #[test]
    fn consecutive_resizes_collapse_and_nothing_else_is_lost() {
        let (to, messages) = channel();
        let (_take, taken) = sync_channel(ROOM);
        let mut inbox = Inbox {
            messages,
            taken,
            next: None,
        };
        let size = |width| Message::Resize { width, height: 24 };
        let key = |c| Message::Key(Key::char(c));
        for message in [key('a'), size(1), SIZE, key('b'), key('c'), size(2), SIZE] {
            to.send(Ok(message)).unwrap();
        }
        to.send(Err(io::ErrorKind::Other.into())).unwrap();
        for message in [key('a'), SIZE, key('b'), key('c'), SIZE] {
            assert_eq!(inbox.take(Duration::ZERO).unwrap(), Some(message));
        }
        assert!(inbox.take(Duration::ZERO).is_err());
        assert_eq!(inbox.take(Duration::ZERO).unwrap(), None);
    }

    #[test]
    fn key_release_is_ignored() {
        let mut event = KeyEvent::new(KeyCode::Char('q'), KeyModifiers::NONE);
        assert_eq!(
            message(Event::Key(event)),
            Some(Message::Key(Key::char('q')))
        );
        event.kind = KeyEventKind::Release;
        assert_eq!(message(Event::Key(event)), None);
    }
}
