//! One line of the record: its bytes, checksum and content. Also `record.end`, the commit marker:
//! it names the last acknowledged event, so that a shortened or exchanged record shows.
//!
//! The marker is one line in the record's form, padded with spaces to a fixed length so that a new
//! one overwrites the old one exactly. It is created whole at the first event, then rewritten in
//! place once each event is on disk and before it is acknowledged. It isn't forced to disk each
//! time: after a power cut it may lag behind the record, but never runs ahead.

use std::fs::File;
use std::io::{self, Read, Seek, Write};

use jiff::Timestamp;
use serde::de::{DeserializeOwned, IgnoredAny};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::error::LineError;
use super::folder::{Folder, Identity};
use crate::model::ids::{EventId, Stamp};
use crate::model::label::Who;
use crate::stash::event::Event;
use crate::stash::merge;

pub(super) use super::folder::MARKER;

/// The format version that this program writes, and the highest it reads.
pub const FORMAT_VERSION: u64 = 1;

/// The longest line read or written, in bytes, including its line break.
pub(crate) const MAX_LINE: usize = 64 << 20;

const SUM_LEN: usize = 16;
const BEFORE_SUM: &[u8] = br#","sum":""#;
const AFTER_SUM: &[u8] = b"\"}\n";
/// The length of the end of a line: its checksum, brace and line break.
pub(super) const SEAL_LEN: usize = BEFORE_SUM.len() + SUM_LEN + AFTER_SUM.len();

/// One event of the record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry<E> {
    /// Its position in the record, from 1 without gaps.
    pub seq: u64,
    /// Identifies the event in every copy of the record.
    pub id: EventId,
    /// Orders the events of all copies: higher than in every line before.
    pub stamp: Stamp,
    /// The writer's clock when the event was recorded; may run backwards if the clock did.
    pub time: Timestamp,
    /// Who made the change, if known.
    pub by: Option<Who>,
    /// The event itself.
    pub event: E,
}

impl From<Entry<Event>> for merge::Line {
    fn from(entry: Entry<Event>) -> Self {
        Self {
            seq: entry.seq,
            id: entry.id,
            stamp: entry.stamp,
            time: entry.time,
            by: entry.by,
            event: entry.event,
        }
    }
}

/// A line's checksum: 16 hex digits in lower case, as they stand in the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Sum([u8; SUM_LEN]);

impl Sum {
    /// The digest of bytes that follow nothing.
    pub(super) fn digest(bytes: &[u8]) -> Sum {
        Sum::of(None, bytes)
    }

    /// The checksum of a line whose body (everything before `,"sum":`) follows a line with `previous`.
    fn of(previous: Option<Sum>, body: &[u8]) -> Sum {
        const DIGITS: &[u8; 16] = b"0123456789abcdef";
        let mut hash = Sha256::new();
        if let Some(Sum(digits)) = previous {
            hash.update(digits);
        }
        hash.update(body);
        let digest = hash.finalize();
        let mut digits = [0; SUM_LEN];
        for (pair, byte) in digits.chunks_exact_mut(2).zip(digest) {
            pair[0] = DIGITS[usize::from(byte >> 4)];
            pair[1] = DIGITS[usize::from(byte & 15)];
        }
        Sum(digits)
    }

    /// The checksum with these digits; `None` unless there are 16 hex digits.
    pub(super) fn read(text: &str) -> Option<Sum> {
        let digits: [u8; SUM_LEN] = text.as_bytes().try_into().ok()?;
        let good = |digit: &u8| matches!(digit, b'0'..=b'9' | b'a'..=b'f');
        digits.iter().all(good).then_some(Sum(digits))
    }

    pub(super) fn text(&self) -> &str {
        // Made of ASCII digits only, so the conversion cannot fail.
        std::str::from_utf8(&self.0).unwrap_or_default()
    }
}

/// Ends a line: appends checksum, closing brace and line break to the body in `line`.
pub(super) fn seal(previous: Option<Sum>, line: &mut Vec<u8>) -> Sum {
    let sum = Sum::of(previous, line);
    line.extend_from_slice(BEFORE_SUM);
    line.extend_from_slice(&sum.0);
    line.extend_from_slice(AFTER_SUM);
    sum
}

/// Checks a whole line, including its line break, against the previous line.
pub(super) fn verify(previous: Option<Sum>, line: &[u8]) -> Result<Sum, LineError> {
    let (body, written) = split_seal(line).ok_or(LineError::Shape)?;
    let sum = Sum::of(previous, body);
    if sum == written {
        Ok(sum)
    } else {
        Err(LineError::Changed)
    }
}

/// The checksum written in a line, right or wrong, if it has one.
pub(super) fn written_sum(line: &[u8]) -> Option<Sum> {
    split_seal(line).map(|(_, sum)| sum)
}

/// A line with the seal that its body should have after a line with sum `previous`, whatever its
/// current seal is; `None` if the line is too short to have one.
pub(super) fn resealed(previous: Sum, line: &[u8]) -> Option<(Vec<u8>, Sum)> {
    let mut whole = line[..line.len().checked_sub(SEAL_LEN)?].to_vec();
    let sum = seal(Some(previous), &mut whole);
    Some((whole, sum))
}

/// The end of a line with this checksum.
pub(super) fn seal_of(sum: Sum) -> Vec<u8> {
    [BEFORE_SUM, &sum.0, AFTER_SUM].concat()
}

fn split_seal(line: &[u8]) -> Option<(&[u8], Sum)> {
    let (body, seal) = line.split_at(line.len().checked_sub(SEAL_LEN)?);
    let digits = seal.strip_prefix(BEFORE_SUM)?.strip_suffix(AFTER_SUM)?;
    Some((body, Sum(digits.try_into().ok()?)))
}

/// The header line and its checksum, the start of the chain.
pub(super) fn header() -> (Vec<u8>, Sum) {
    let mut line = format!(r#"{{"homehook":{FORMAT_VERSION}"#).into_bytes();
    let sum = seal(None, &mut line);
    (line, sum)
}

/// The format version in a header line, whatever else the line contains.
pub(super) fn header_version(line: &[u8]) -> Option<u64> {
    #[derive(Deserialize)]
    struct Header {
        homehook: u64,
    }
    serde_json::from_slice::<Header>(line)
        .ok()
        .map(|header| header.homehook)
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Line<E> {
    seq: u64,
    id: EventId,
    stamp: Stamp,
    time: Timestamp,
    #[serde(default)]
    by: Option<Who>,
    /// Only [`state_digest`] reads its value.
    #[serde(default)]
    state: Option<IgnoredAny>,
    event: E,
    #[serde(rename = "sum")]
    _sum: IgnoredAny,
}

/// Reads a verified line.
pub(super) fn parse<E: DeserializeOwned>(line: &[u8]) -> Result<Entry<E>, LineError> {
    Ok(parse_line(line)?.0)
}

/// Reads a verified line, and returns whether it holds the digest of a snapshot.
fn parse_line<E: DeserializeOwned>(line: &[u8]) -> Result<(Entry<E>, bool), LineError> {
    match serde_json::from_slice::<Line<E>>(line) {
        Ok(Line {
            seq,
            id,
            stamp,
            time,
            by,
            state,
            event,
            ..
        }) => Ok((
            Entry {
                seq,
                id,
                stamp,
                time,
                by,
                event,
            },
            state.is_some(),
        )),
        // Reading the line without its event distinguishes a bad line from an unknown event.
        Err(error) => Err(match serde_json::from_slice::<Line<IgnoredAny>>(line) {
            Ok(_) => LineError::UnknownEvent {
                detail: error.to_string(),
            },
            Err(_) => LineError::Shape,
        }),
    }
}

/// Reads a verified line that must hold event number `seq`.
pub(super) fn parse_next<E: DeserializeOwned>(
    seq: u64,
    line: &[u8],
) -> Result<Entry<E>, LineError> {
    Ok(parse_next_line(seq, Stamp::default(), line)?.0)
}

/// Like [`parse_next`], for a line whose predecessor has the stamp `after`; also returns whether
/// the line holds the digest of a snapshot.
pub(super) fn parse_next_line<E: DeserializeOwned>(
    seq: u64,
    after: Stamp,
    line: &[u8],
) -> Result<(Entry<E>, bool), LineError> {
    let parsed: (Entry<E>, bool) = parse_line(line)?;
    let found = parsed.0.seq;
    if found != seq {
        return Err(LineError::Sequence {
            expected: seq,
            found,
        });
    }
    let stamp = parsed.0.stamp;
    if stamp <= after || stamp > Stamp::MOST {
        return Err(LineError::Stamp { stamp, after });
    }
    Ok(parsed)
}

/// The stamp in a line, if any.
pub(super) fn written_stamp(line: &[u8]) -> Option<Stamp> {
    #[derive(Deserialize)]
    struct Stamped {
        stamp: Stamp,
    }
    Some(serde_json::from_slice::<Stamped>(line).ok()?.stamp)
}

/// The digest in a line of the state after its event, if any.
pub(super) fn state_digest(line: &[u8]) -> Option<Sum> {
    #[derive(Deserialize)]
    struct Digest<'a> {
        state: &'a str,
    }
    Sum::read(serde_json::from_slice::<Digest<'_>>(line).ok()?.state)
}

/// The fields of a line other than its event and number.
#[derive(Debug, Clone, Copy)]
pub(super) struct Envelope<'a> {
    /// Identifies the event.
    pub(super) id: EventId,
    /// Orders the events of all copies.
    pub(super) stamp: Stamp,
    /// When the event is recorded.
    pub(super) time: Timestamp,
    /// Who makes the change.
    pub(super) by: Option<&'a Who>,
    /// The digest of a snapshot of the state after this event.
    pub(super) state: Option<Sum>,
}

/// Writes the line of event number `seq` into `line`, overwriting its contents.
pub(super) fn compose<E: Serialize>(
    line: &mut Vec<u8>,
    previous: Sum,
    seq: u64,
    envelope: Envelope<'_>,
    event: &E,
) -> Result<Sum, serde_json::Error> {
    let Envelope {
        id,
        stamp,
        time,
        by,
        state,
    } = envelope;
    line.clear();
    let stamp = stamp.0;
    write!(
        line,
        r#"{{"seq":{seq},"id":"{id}","stamp":{stamp},"time":"{time}","#
    )
    .map_err(serde_json::Error::io)?;
    if let Some(by) = by {
        line.extend_from_slice(br#""by":"#);
        serde_json::to_writer(&mut *line, by)?;
        line.push(b',');
    }
    if let Some(state) = state {
        write!(line, r#""state":"{}","#, state.text()).map_err(serde_json::Error::io)?;
    }
    line.extend_from_slice(br#""event":"#);
    serde_json::to_writer(&mut *line, event)?;
    Ok(seal(Some(previous), line))
}

const LEN: usize = 128;

/// The last acknowledged event, and the identity of its record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct CommitMarker {
    /// Its number.
    pub(super) events: u64,
    /// The checksum of its line.
    pub(super) last: Sum,
    /// The checksum of the record's first event, which identifies a stash.
    pub(super) first: Sum,
}

/// The state of `record.end`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum MarkerState {
    /// The file doesn't exist.
    Absent,
    /// The file exists but can't be understood.
    Unreadable,
    /// The content of the file.
    Known(CommitMarker),
}

impl MarkerState {
    /// Reads the marker in a folder. Reads a bounded number of bytes, however long the file is.
    pub(super) fn read(folder: &Folder) -> io::Result<Self> {
        let Some(file) = folder.read(MARKER)? else {
            return Ok(Self::Absent);
        };
        let mut text = Vec::new();
        file.take(LEN as u64 + 1).read_to_end(&mut text)?;
        Ok(CommitMarker::parse(&text).map_or(Self::Unreadable, Self::Known))
    }

    /// The same, or what else proves the last acknowledged event where the file doesn't exist.
    pub(super) fn or_proved(&self, proof: impl FnOnce() -> Option<CommitMarker>) -> Self {
        match self {
            Self::Absent => proof().map_or(Self::Absent, Self::Known),
            known => known.clone(),
        }
    }

    /// The content, if known.
    pub(super) const fn known(&self) -> Option<&CommitMarker> {
        match self {
            Self::Known(marker) => Some(marker),
            _ => None,
        }
    }
}

impl CommitMarker {
    fn parse(text: &[u8]) -> Option<Self> {
        #[derive(Deserialize)]
        #[serde(deny_unknown_fields)]
        struct Fields<'a> {
            events: u64,
            last: &'a str,
            first: &'a str,
            #[serde(rename = "sum")]
            _sum: &'a str,
        }
        let filled = text
            .strip_suffix(b"\n")
            .filter(|rest| rest.len() + 1 == LEN)?;
        // Only the spaces that were written: any other byte there was changed.
        let end = filled.iter().rposition(|&byte| byte != b' ')?;
        let mut line = filled[..=end].to_vec();
        line.push(b'\n');
        verify(None, &line).ok()?;
        let fields: Fields<'_> = serde_json::from_slice(&line).ok()?;
        Some(Self {
            events: fields.events,
            last: Sum::read(fields.last)?,
            first: Sum::read(fields.first)?,
        })
    }

    pub(super) fn line(&self) -> Vec<u8> {
        let Self {
            events,
            last,
            first,
        } = self;
        let (last, first) = (last.text(), first.text());
        let line = format!(r#"{{"events":{events},"last":"{last}","first":"{first}""#);
        let mut line = line.into_bytes();
        seal(None, &mut line);
        line.pop();
        line.resize(LEN - 1, b' ');
        line.push(b'\n');
        line
    }
}

/// Keeps `record.end` up to date.
#[derive(Debug, Default)]
pub(super) struct MarkerFile {
    file: Option<File>,
    /// Its current content.
    before: Vec<u8>,
}

impl MarkerFile {
    /// Opens the marker for rewriting; if there is none, the first note creates it.
    pub(super) fn open(folder: &Folder) -> io::Result<Self> {
        let mut marker = Self {
            file: folder.change(MARKER)?,
            before: Vec::new(),
        };
        if let Some(file) = &mut marker.file {
            file.take(LEN as u64).read_to_end(&mut marker.before)?;
        }
        Ok(marker)
    }

    /// Notes the last acknowledged event. If this fails, the marker keeps its previous content.
    pub(super) fn note(&mut self, folder: &Folder, marker: &CommitMarker) -> io::Result<()> {
        let line = marker.line();
        if self.is_in_place(folder)? {
            if self.rewrite(&line).is_ok() {
                self.before = line;
                return Ok(());
            }
            // The remains of a failed write must not pass for damage.
            let before = std::mem::take(&mut self.before);
            self.rewrite(&before)?;
            self.before = before;
        }
        // Created whole under another name: a half-written marker would count as unreadable.
        let mut new = folder.begin("record.end-", ".new")?;
        new.fill(&line)?;
        new.place(MARKER)?;
        // It counts from here on, so no later step may fail. It needn't reach the disk at once.
        let _ = folder.sync();
        *self = Self::open(folder).unwrap_or_default();
        Ok(())
    }

    /// Whether the marker under its name is the file that was opened, with the right length.
    fn is_in_place(&self, folder: &Folder) -> io::Result<bool> {
        let there = folder.identity(MARKER)?;
        let ours = self.file.as_ref().map(Identity::of).transpose()?;
        let both = there.zip(ours);
        Ok(both.is_some_and(|(there, ours)| {
            there.is_same_file(&ours) && there.length == LEN as u64 && self.before.len() == LEN
        }))
    }

    fn rewrite(&mut self, line: &[u8]) -> io::Result<()> {
        let file = self.file.as_mut().ok_or(io::ErrorKind::NotFound)?;
        file.rewind()?;
        file.write_all(line)
    }
}

#[cfg(test)]
mod tests {
    use std::fs;

    use proptest::prelude::*;

    use super::*;

    fn envelope(by: Option<&Who>) -> Envelope<'_> {
        Envelope {
            id: EventId(7),
            stamp: Stamp(9),
            time: Timestamp::UNIX_EPOCH,
            by,
            state: None,
        }
    }

    fn line_of(previous: Sum, seq: u64, event: &str) -> (Vec<u8>, Sum) {
        let mut line = Vec::new();
        let sum = compose(&mut line, previous, seq, envelope(None), &event).unwrap();
        (line, sum)
    }

    /// FIPS 180-4 example, one block: NIST, "SHA256.pdf" of the Cryptographic Standards and
    /// Guidelines examples, message "abc": BA7816BF 8F01CFEA 414140DE 5DAE2223 ...
    #[test]
    fn hash_agrees_with_the_published_example() {
        assert_eq!(Sum::of(None, b"abc").text(), "ba7816bf8f01cfea");
    }

    /// The same example, split into the previous sum's 16 bytes and the body: NIST, same file,
    /// two-block message: 248D6A61 D20638B8 E5C02693 0C3E6039 ...
    #[test]
    fn the_previous_sum_is_hashed_before_the_body() {
        let previous = Sum(*b"abcdbcdecdefdefg");
        let body = b"efghfghighijhijkijkljklmklmnlmnomnopnopq";
        assert_eq!(Sum::of(Some(previous), body).text(), "248d6a61d20638b8");
    }

    /// The line given in the module's documentation, computed with
    /// `printf '{"homehook":1' | sha256sum`.
    #[test]
    fn header_is_the_documented_line() {
        assert_eq!(
            header().0,
            b"{\"homehook\":1,\"sum\":\"60a9cdee4aa252ae\"}\n"
        );
    }

    #[test]
    fn a_line_reads_as_documented() {
        let (line, sum) = line_of(header().1, 1, "x");
        let text = String::from_utf8(line).unwrap();
        let expected = format!(
            "{{\"seq\":1,\"id\":\"0000000000000007\",\"stamp\":9,\"time\":\"1970-01-01T00:00:00Z\",\"event\":\"x\",\"sum\":\"{}\"}}\n",
            sum.text()
        );
        assert_eq!(text, expected);
    }

    /// The sums of both lines were computed with
    /// `printf '60a9cdee4aa252ae{"seq":1,...,"event":"x"' | sha256sum`.
    #[test]
    fn the_writer_comes_between_time_and_event_and_is_optional() {
        let nameless: &[u8] = b"{\"seq\":1,\"id\":\"0000000000000007\",\"stamp\":9,\"time\":\"2026-03-01T10:32:00Z\",\
            \"event\":\"x\",\"sum\":\"ff997c10d60343a1\"}\n";
        let named: &[u8] = b"{\"seq\":1,\"id\":\"0000000000000007\",\"stamp\":9,\"time\":\"2026-03-01T10:32:00Z\",\"by\":\"laptop\",\
            \"event\":\"x\",\"sum\":\"191c08b245c09749\"}\n";
        let time: Timestamp = "2026-03-01T10:32:00Z".parse().unwrap();
        for (line, by) in [(nameless, None), (named, Some(Who::new("laptop").unwrap()))] {
            assert!(verify(Some(header().1), line).is_ok());
            let mut written = Vec::new();
            let envelope = Envelope {
                time,
                ..envelope(by.as_ref())
            };
            compose(&mut written, header().1, 1, envelope, &"x").unwrap();
            assert_eq!(written, line);
            let (seq, event) = (1, "x".to_owned());
            let expected = Entry {
                seq,
                id: EventId(7),
                stamp: Stamp(9),
                time,
                by,
                event,
            };
            assert_eq!(parse(line), Ok(expected));
        }
    }

    #[test]
    fn an_invalid_writer_makes_the_line_invalid() {
        for by in ["\"\"", "\"a\\u001b\"", "7"] {
            let line = format!(
                "{{\"seq\":1,\"id\":\"0000000000000007\",\"stamp\":9,\"time\":\"1970-01-01T00:00:00Z\",\"by\":{by},\"event\":\"x\",\"sum\":\"\"}}\n"
            );
            assert_eq!(
                parse::<String>(line.as_bytes()),
                Err(LineError::Shape),
                "{by}"
            );
        }
    }

    #[test]
    fn wrong_number_unknown_event_and_wrong_shape_are_distinct_errors() {
        let (line, _) = line_of(header().1, 3, "x");
        let due = LineError::Sequence {
            expected: 2,
            found: 3,
        };
        assert_eq!(parse_next::<String>(2, &line), Err(due));
        assert!(matches!(
            parse::<u8>(&line),
            Err(LineError::UnknownEvent { .. })
        ));
        assert_eq!(parse::<String>(b"{\"seq\":3}\n"), Err(LineError::Shape));
        assert_eq!(parse::<String>(b"[]\n"), Err(LineError::Shape));
    }

    #[test]
    fn version_is_read_from_any_object_with_a_number() {
        assert_eq!(header_version(&header().0), Some(1));
        assert_eq!(
            header_version(b"{\"kept\":\"for later\",\"homehook\":12}\n"),
            Some(12)
        );
        assert_eq!(header_version(b"{\"homehook\":\"1\"}\n"), None);
        assert_eq!(header_version(b"{\"homehook\":-2}\n"), None);
    }

    proptest! {
        #[test]
        fn composed_lines_verify_and_read_back(
            seq: u64,
            event: String,
            name: String,
            base: [u8; 8],
            digest: bool,
        ) {
            let by = Who::cleaned(&name);
            let previous = Sum::of(None, &base);
            let mut line = b"left over".to_vec();
            let time = Timestamp::UNIX_EPOCH;
            let state = digest.then_some(previous);
            let (id, stamp) = (EventId(seq), Stamp(seq));
            let envelope = Envelope { id, stamp, time, by: by.as_ref(), state };
            let sum = compose(&mut line, previous, seq, envelope, &event).unwrap();
            prop_assert_eq!(state_digest(&line), state);
            prop_assert_eq!(parse_line::<String>(&line).unwrap().1, digest);
            prop_assert_eq!(verify(Some(previous), &line), Ok(sum));
            prop_assert_eq!(written_sum(&line), Some(sum));
            prop_assert_eq!(line.iter().filter(|&&byte| byte == b'\n').count(), 1);
            let entry = parse::<String>(&line).unwrap();
            prop_assert_eq!(entry, Entry { seq, id, stamp, time, by, event });
        }

        #[test]
        fn a_line_with_another_predecessor_does_not_verify(event: String, a: [u8; 8], b: [u8; 8]) {
            prop_assume!(a != b);
            let (line, _) = line_of(Sum::of(None, &a), 1, &event);
            prop_assert_eq!(verify(Some(Sum::of(None, &b)), &line), Err(LineError::Changed));
        }
    }

    fn is_noted_and_read(file: &mut MarkerFile, folder: &Folder, events: u64) {
        let sum = header().1;
        let marker = CommitMarker {
            events,
            last: sum,
            first: sum,
        };
        file.note(folder, &marker).unwrap();
        let read = MarkerState::read(folder).unwrap();
        assert_eq!(read, MarkerState::Known(marker));
    }

    #[test]
    fn a_marker_reads_back_and_any_changed_byte_makes_it_unreadable() {
        let dir = tempfile::tempdir().unwrap();
        let folder = Folder::open(dir.path()).unwrap().unwrap();
        assert_eq!(MarkerState::read(&folder).unwrap(), MarkerState::Absent);
        let mut file = MarkerFile::open(&folder).unwrap();
        for events in [u64::MAX, 7] {
            is_noted_and_read(&mut file, &folder, events);
        }
        let path = dir.path().join(MARKER);
        let good = fs::read(&path).unwrap();
        for at in 0..good.len() {
            // Another letter, and what stands for a blank like the padding.
            let changed = [good[at] ^ 0x41, b'\t', b'\r', b'\n', 0x0c];
            let changed = changed.into_iter().filter(|&byte| byte != good[at]);
            let mut all: Vec<Vec<u8>> = changed
                .map(|byte| {
                    let mut bad = good.clone();
                    bad[at] = byte;
                    bad
                })
                .collect();
            all.push(good[..at].to_vec());
            for bytes in all {
                fs::write(&path, bytes).unwrap();
                let read = MarkerState::read(&folder).unwrap();
                assert_eq!(read, MarkerState::Unreadable, "byte {at}");
            }
        }
    }

    #[test]
    fn a_removed_or_exchanged_marker_is_recreated() {
        let dir = tempfile::tempdir().unwrap();
        let folder = Folder::open(dir.path()).unwrap().unwrap();
        let mut file = MarkerFile::open(&folder).unwrap();
        let path = dir.path().join(MARKER);
        for events in 1..5 {
            is_noted_and_read(&mut file, &folder, events);
            if events % 2 == 0 {
                fs::remove_file(&path).unwrap();
            } else {
                fs::write(&path, "short").unwrap();
            }
        }
    }
}
