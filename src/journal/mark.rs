//! A place in a record from which it can be read on.

use std::collections::BTreeSet;
use std::io::{self, Read};

use serde::de::DeserializeOwned;

use super::line::{self, Entry, Sum};
use super::scan::{Chain, Lines, Step, read_header};

/// The end of an event's line, known by its checksum. As each checksum takes in the one before, a record
/// that has it there has the very same lines up to there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mark {
    /// The number of the event.
    pub events: u64,
    /// The length of the record up to there, in bytes.
    pub bytes: u64,
    pub(super) sum: Sum,
}

impl Mark {
    /// Before the first byte.
    pub(super) fn start() -> Mark {
        let Chain { events, bytes, sum } = Chain::start();
        Mark { events, bytes, sum }
    }

    /// What is proven good once the lines up to the mark have been followed.
    pub(super) fn chain(&self) -> Chain {
        Chain {
            events: self.events,
            bytes: self.bytes,
            sum: self.sum,
        }
    }
}

/// What is known of the lines before a mark that were followed.
#[derive(Debug)]
pub(super) struct Followed<E> {
    /// The events that were asked for.
    pub(super) entries: Vec<Entry<E>>,
    /// The checksum of the event to be watched, where it is among them.
    pub(super) sum_at: Option<Sum>,
}

/// Verifies the lines from the first to `mark` without reading what they say, but for the events with
/// the numbers in `wanted`. Nothing where the record does not go through the mark, or cannot be
/// followed that far: then it has to be read from the start to say what it holds. Time is linear in the
/// bytes, about a tenth of that for reading all of them.
pub(super) fn follow<E: DeserializeOwned>(
    lines: &mut Lines<impl Read>,
    mark: &Mark,
    wanted: &BTreeSet<u64>,
    watch: Option<u64>,
) -> io::Result<Option<Followed<E>>> {
    let mut chain = Chain::start();
    let mut followed = Followed {
        entries: Vec::with_capacity(wanted.len()),
        sum_at: None,
    };
    if lines.next()? != Step::Line || read_header(&lines.line).is_err() {
        return Ok(None);
    }
    chain.bytes = lines.line.len() as u64;
    while chain.events < mark.events {
        if lines.next()? != Step::Line {
            return Ok(None);
        }
        let Ok(sum) = line::verify(Some(chain.sum), &lines.line) else {
            return Ok(None);
        };
        chain = Chain {
            events: chain.events + 1,
            bytes: chain.bytes + lines.line.len() as u64,
            sum,
        };
        if watch == Some(chain.events) {
            followed.sum_at = Some(sum);
        }
        if wanted.contains(&chain.events) {
            match line::parse_next(chain.events, &lines.line) {
                Ok(entry) => followed.entries.push(entry),
                Err(_) => return Ok(None),
            }
        }
    }
    Ok((chain == mark.chain()).then_some(followed))
}
