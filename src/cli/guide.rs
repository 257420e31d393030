//! `homehook guide`: the handbook, one page per subject.

use std::env;
use std::io::Write;
use std::process::{Command, Stdio};

use serde::Serialize;

use super::failure::Failure;
use super::output::Output;
use crate::tui::handbook::{PAGES, plain, title};

/// The width of a page on a terminal, in columns.
const WIDTH: usize = 80;

/// The pages there are.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct GuideList {
    /// Each page.
    subjects: Vec<Heading>,
}

/// What a page is called.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct Heading {
    /// The word that asks for it.
    subject: &'static str,
    /// Its title.
    title: &'static str,
}

/// A page.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct GuidePage {
    /// The word that asks for it.
    subject: &'static str,
    /// Its title.
    title: &'static str,
    /// All of it, in Markdown.
    text: &'static str,
}

/// Shows a page, using a pager on a terminal; without a subject, lists the pages.
pub(crate) fn run(subject: Option<&str>, output: &mut Output) -> Result<(), Failure> {
    let Some(asked) = subject else {
        return Ok(list(output)?);
    };
    let found = PAGES.iter().find(|(subject, _)| *subject == asked);
    let &(subject, text) = found.ok_or_else(|| Failure::UnknownSubject(asked.to_owned()))?;
    if output.is_json() {
        let title = title(text);
        output.object(&GuidePage {
            subject,
            title,
            text,
        })?;
        return Ok(());
    }
    let text = plain(text, WIDTH);
    if !Output::is_terminal() || !paged(&text) {
        output.raw(&text)?;
    }
    Ok(())
}

fn list(output: &mut Output) -> std::io::Result<()> {
    let pages = PAGES.iter().map(|&(subject, text)| Heading {
        subject,
        title: title(text),
    });
    if output.is_json() {
        let subjects = pages.collect();
        return output.object(&GuideList { subjects });
    }
    for Heading { subject, title } in pages {
        output.line(format_args!("{subject:<13}  {title}"))?;
    }
    output.line("\nRead one with: homehook guide SUBJECT")
}

/// Shows a text in the pager named in `PAGER`, or else in `less`. Returns false if there is none,
/// or if `PAGER` is empty.
fn paged(text: &str) -> bool {
    let command = match env::var("PAGER") {
        Ok(pager) => shell_words::split(&pager).unwrap_or_default(),
        Err(_) => vec!["less".to_owned(), "-R".to_owned()],
    };
    let Some((program, args)) = command.split_first() else {
        return false;
    };
    leave_ctrl_c_to_the_pager();
    let started = Command::new(program)
        .args(args)
        .stdin(Stdio::piped())
        .spawn();
    let Ok(mut pager) = started else {
        return false;
    };
    if let Some(mut pipe) = pager.stdin.take() {
        // A reader who has seen enough closes the pager, and with it the pipe.
        let _ = pipe.write_all(text.as_bytes());
    }
    pager.wait().is_ok()
}

/// `Ctrl-C` reaches every program of the terminal. Exiting here would take the terminal from the
/// pager.
fn leave_ctrl_c_to_the_pager() {
    #[cfg(unix)]
    {
        use std::sync::Arc;
        use std::sync::atomic::AtomicBool;

        let came = Arc::new(AtomicBool::new(false));
        let _ = signal_hook::flag::register(signal_hook::consts::SIGINT, came);
    }
}
