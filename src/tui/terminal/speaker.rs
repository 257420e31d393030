//! Speaks the steps of walks through a program of the user's choice.
//!
//! The program can't affect the screen: it has no terminal to write to, nobody waits for it, and
//! the next sentence ends it.

use std::io::{self, Write};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread;
use std::time::Duration;

use crate::tui::message::Message;

/// A pipe accepts a sentence of this many characters at once, even if nobody reads it.
const LONGEST: usize = 500;
/// How long the program may take to end when the screen closes.
const PATIENCE: Duration = Duration::from_millis(500);

/// Speaks sentences, always only the latest.
pub(super) struct Speaker {
    to: Option<Sender<String>>,
    ended: Receiver<()>,
}

impl Speaker {
    /// Speaks through a program with its arguments; `None` without a program. If it can't be
    /// started, that is reported once.
    pub fn new(command: Vec<String>, news: Sender<io::Result<Message>>) -> Option<Self> {
        if command.is_empty() {
            return None;
        }
        let (to, sentences) = channel();
        let (end, ended) = channel();
        thread::spawn(move || {
            speak(&command, &sentences, &news);
            // If the screen no longer waits, nobody is listening.
            let _ = end.send(());
        });
        Some(Self {
            to: Some(to),
            ended,
        })
    }

    /// Ends the current sentence and speaks a new one.
    pub fn say(&self, sentence: String) {
        if let Some(to) = &self.to {
            // The thread ends only with the speaker.
            let _ = to.send(sentence);
        }
    }
}

impl Drop for Speaker {
    /// Ends the current sentence.
    fn drop(&mut self) {
        self.to = None;
        let _ = self.ended.recv_timeout(PATIENCE);
    }
}

fn speak(command: &[String], sentences: &Receiver<String>, news: &Sender<io::Result<Message>>) {
    let mut saying: Option<Saying> = None;
    let mut told = false;
    while let Ok(first) = sentences.recv() {
        let sentence = sentences.try_iter().last().unwrap_or(first);
        drop(saying.take());
        match Saying::begin(command, &sentence) {
            Ok(begun) => saying = Some(begun),
            Err(error) if !told => {
                told = true;
                let name = command.first().map_or("", String::as_str);
                let text = format!("Steps aren't spoken: '{name}' doesn't start ({error}).");
                let _ = news.send(Ok(Message::News(text)));
            }
            Err(_) => {}
        }
    }
}

/// The program while it speaks a sentence; killed when dropped.
struct Saying(Child);

impl Saying {
    fn begin(command: &[String], sentence: &str) -> io::Result<Self> {
        let (program, arguments) = command.split_first().ok_or(io::ErrorKind::NotFound)?;
        let mut command = Command::new(program);
        command
            .args(arguments)
            .stdin(Stdio::piped())
            .stdout(Stdio::null())
            .stderr(Stdio::null());
        // Its own child processes end with it.
        #[cfg(unix)]
        std::os::unix::process::CommandExt::process_group(&mut command, 0);
        let mut child = command.spawn()?;
        if let Some(mut input) = child.stdin.take() {
            let line: String = sentence.chars().take(LONGEST).chain(['\n']).collect();
            // A program that reads nothing may have exited already.
            let _ = input.write_all(line.as_bytes());
        }
        Ok(Self(child))
    }
}

impl Drop for Saying {
    fn drop(&mut self) {
        #[cfg(unix)]
        {
            use rustix::process::{Pid, Signal, kill_process_group};
            let _ = kill_process_group(Pid::from_child(&self.0), Signal::KILL);
        }
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}
