//! A project ring: the cards pulled for one project, in the order of its chart key.

use std::cmp::Ordering;
use std::collections::BTreeMap;

use jiff::Timestamp;
use serde::{Deserialize, Serialize, Serializer};

use super::assumptions::Assumptions;
use super::board::HookRef;
use super::colour::Srgb;
use super::ids::{CardId, RangeId, RingId};
use super::label::{Label, Name};
use super::number::{Number, natural_order};

/// A colour by range and number, whether or not a card of it exists.
///
/// Equality and order ignore the case of the number.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct ColourRef {
    /// The range.
    pub range: RangeId,
    /// The number in it.
    pub number: Number,
}

impl ColourRef {
    /// The colour with a range and a number.
    #[must_use]
    pub const fn new(range: RangeId, number: Number) -> Self {
        Self { range, number }
    }

    /// Whether this is the colour with that range and number, ignoring case.
    #[must_use]
    pub fn is(&self, range: RangeId, number: &Number) -> bool {
        self.range == range && self.number.key() == number.key()
    }

    /// Whether both are equal, including case.
    pub(super) fn is_written_like(&self, other: &Self) -> bool {
        self.range == other.range && self.number == other.number
    }
}

impl PartialEq for ColourRef {
    fn eq(&self, other: &Self) -> bool {
        self.is(other.range, &other.number)
    }
}

impl Eq for ColourRef {}

impl Ord for ColourRef {
    /// By range, then in the natural order of numbers.
    fn cmp(&self, other: &Self) -> Ordering {
        let numbers = || natural_order(&self.number.key(), &other.number.key());
        self.range.cmp(&other.range).then_with(numbers)
    }
}

impl PartialOrd for ColourRef {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

/// One thread of a needle, as the chart key lists it.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct KeyThread {
    /// The colour in the chart.
    pub colour: ColourRef,
    /// Strands of it in the needle; 0 if the key doesn't say.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub strands: u8,
    /// The colour's name in the key; may be empty.
    #[serde(default, skip_serializing_if = "Label::is_empty")]
    pub name: Label,
    /// Its colour on screen, if the key gives one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hex: Option<Srgb>,
    /// The colour used in place of the one in the chart.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stitched_with: Option<ColourRef>,
}

impl KeyThread {
    /// A thread of a colour with nothing else in the key.
    #[must_use]
    pub const fn new(colour: ColourRef) -> Self {
        Self {
            colour,
            strands: 0,
            name: Label::empty(),
            hex: None,
            stitched_with: None,
        }
    }

    /// The colour stitched with: the substitute if there is one, else the chart's. Cards, need and
    /// use are counted by it.
    #[must_use]
    pub fn stitched(&self) -> &ColourRef {
        self.stitched_with.as_ref().unwrap_or(&self.colour)
    }
}

impl PartialEq for KeyThread {
    /// Compares the case of numbers too, because a key keeps it.
    fn eq(&self, other: &Self) -> bool {
        let with = (&self.stitched_with, &other.stitched_with);
        self.colour.is_written_like(&other.colour)
            && match with {
                (Some(one), Some(other)) => one.is_written_like(other),
                (one, other) => one.is_none() && other.is_none(),
            }
            && (self.strands, self.hex) == (other.strands, other.hex)
            && self.name == other.name
    }
}

impl Eq for KeyThread {}

/// The threads that go through the needle together: one, or several for a blend. It is never empty
/// and has no colour of the chart twice.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(try_from = "Vec<KeyThread>")]
pub struct Needle(Vec<KeyThread>);

/// The threads can't be stitched together.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NeedleError {
    /// No thread.
    #[error("needle_empty")]
    Empty,
    /// A colour of the chart is listed twice.
    #[error("thread_twice")]
    Twice(Number),
    /// A thread is replaced by its own colour.
    #[error("stitched_with_itself")]
    WithItself(Number),
}

impl Needle {
    /// Combines threads into a needle.
    ///
    /// # Errors
    /// When there are none, a colour is listed twice, or a thread is replaced by its own colour.
    pub fn new(threads: Vec<KeyThread>) -> Result<Self, NeedleError> {
        if threads.is_empty() {
            return Err(NeedleError::Empty);
        }
        for (at, thread) in threads.iter().enumerate() {
            let number = || thread.colour.number.clone();
            if threads[..at].iter().any(|t| t.colour == thread.colour) {
                return Err(NeedleError::Twice(number()));
            }
            if thread.stitched_with.as_ref() == Some(&thread.colour) {
                return Err(NeedleError::WithItself(number()));
            }
        }
        Ok(Self(threads))
    }

    /// The threads, in the order of the key; at least one.
    #[must_use]
    pub fn threads(&self) -> &[KeyThread] {
        &self.0
    }
}

impl TryFrom<Vec<KeyThread>> for Needle {
    type Error = NeedleError;

    fn try_from(threads: Vec<KeyThread>) -> Result<Self, NeedleError> {
        Self::new(threads)
    }
}

/// Stitches of one line of the chart key; 0 if the key doesn't say.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
pub struct StitchCounts {
    /// Full stitches.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub full: u32,
    /// Half stitches.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub half: u32,
    /// Quarter stitches.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub quarter: u32,
    /// Three-quarter stitches.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub three_quarter: u32,
    /// Backstitch, as the length of its lines in squares of the chart, so that it holds on any
    /// fabric.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub backstitch: u32,
    /// Strands used together for backstitch, of each thread of a blend; 0 if the key doesn't say.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub backstitch_strands: u8,
    /// French knots.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub french_knots: u32,
}

fn is_zero<T: Default + PartialEq>(n: &T) -> bool {
    *n == T::default()
}

/// What kind of thing is sewn on.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum NotionKind {
    /// A bead.
    Bead,
    /// A button.
    Button,
    /// An ornament of metal.
    MetallicOrnament,
    /// Anything else.
    Other,
}

/// Something in the key to sew on instead of stitching, such as a bead or a button.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Notion {
    /// Its name in the key.
    pub name: Name,
    /// What kind of thing it is.
    pub kind: NotionKind,
    /// How many the chart needs; 0 if the key doesn't say.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub pieces: u32,
}

/// The meaning of a chart symbol.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum KeyWork {
    /// Stitches with one thread or a blend.
    Threads {
        /// The threads.
        needle: Needle,
        /// The stitches, each worked with all the threads.
        stitches: StitchCounts,
    },
    /// A notion, counted in pieces.
    Notion(Notion),
}

/// One line of a chart key: a symbol and its meaning.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(try_from = "LineFields", into = "LineFields")]
pub struct KeyLine {
    /// The symbol printed in the chart; may be empty.
    pub symbol: Label,
    /// The meaning of the symbol.
    pub work: KeyWork,
}

impl KeyLine {
    /// A line of one thread with nothing else in the key.
    #[must_use]
    pub fn of(range: RangeId, number: Number) -> Self {
        Self {
            symbol: Label::empty(),
            work: KeyWork::Threads {
                needle: Needle(vec![KeyThread::new(ColourRef::new(range, number))]),
                stitches: StitchCounts::default(),
            },
        }
    }

    /// Its threads in the order of the key; none for a notion.
    #[must_use]
    pub fn threads(&self) -> &[KeyThread] {
        match &self.work {
            KeyWork::Threads { needle, .. } => needle.threads(),
            KeyWork::Notion(_) => &[],
        }
    }

    /// Its stitches; none for a notion.
    #[must_use]
    pub fn stitches(&self) -> StitchCounts {
        match &self.work {
            KeyWork::Threads { stitches, .. } => *stitches,
            KeyWork::Notion(_) => StitchCounts::default(),
        }
    }

    /// The notion, if the line is one.
    #[must_use]
    pub const fn notion(&self) -> Option<&Notion> {
        match &self.work {
            KeyWork::Threads { .. } => None,
            KeyWork::Notion(notion) => Some(notion),
        }
    }

    /// Whether any of its threads is stitched in a colour.
    #[must_use]
    pub fn is_stitched_in(&self, colour: &ColourRef) -> bool {
        let mut threads = self.threads().iter();
        threads.any(|thread| thread.stitched() == colour)
    }
}

/// The record's form of a line: with threads and their stitches, or with a notion.
#[derive(Serialize, Deserialize)]
struct LineFields {
    #[serde(default, skip_serializing_if = "Label::is_empty")]
    symbol: Label,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    threads: Option<Needle>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    stitches: Option<StitchCounts>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    notion: Option<Notion>,
}

impl From<KeyLine> for LineFields {
    fn from(line: KeyLine) -> Self {
        let (threads, stitches, notion) = match line.work {
            KeyWork::Threads { needle, stitches } => {
                let counted = Some(stitches).filter(|stitches| !is_zero(stitches));
                (Some(needle), counted, None)
            }
            KeyWork::Notion(notion) => (None, None, Some(notion)),
        };
        Self {
            symbol: line.symbol,
            threads,
            stitches,
            notion,
        }
    }
}

impl TryFrom<LineFields> for KeyLine {
    type Error = &'static str;

    fn try_from(fields: LineFields) -> Result<Self, Self::Error> {
        let work = match (fields.threads, fields.stitches, fields.notion) {
            (Some(needle), stitches, None) => KeyWork::Threads {
                needle,
                stitches: stitches.unwrap_or_default(),
            },
            (None, None, Some(notion)) => KeyWork::Notion(notion),
            (None, None, None) => return Err("missing field `threads` or `notion`"),
            _ => return Err("a notion with threads or stitches"),
        };
        Ok(Self {
            symbol: fields.symbol,
            work,
        })
    }
}

/// The record's form of the thread used of a colour.
#[derive(Serialize, Deserialize)]
struct UsedFields {
    range: RangeId,
    number: Number,
    cm: u64,
}

/// The most thread of one colour that a ring can have used, in centimetres of single strand. The
/// difference of any two amounts fits an [`i64`].
pub const MOST_USED_CM: u64 = i64::MAX as u64;

fn write_used<S: Serializer>(used: &BTreeMap<ColourRef, u64>, to: S) -> Result<S::Ok, S::Error> {
    to.collect_seq(used.iter().map(|(colour, &cm)| UsedFields {
        range: colour.range,
        number: colour.number.clone(),
        cm,
    }))
}

fn read_used(list: Vec<UsedFields>) -> Result<BTreeMap<ColourRef, u64>, &'static str> {
    let mut used = BTreeMap::new();
    for UsedFields { range, number, cm } in list {
        if cm == 0 || cm > MOST_USED_CM {
            return Err("an amount used that can't be");
        }
        if used.insert(ColourRef::new(range, number), cm).is_some() {
            return Err("thread used twice for one colour");
        }
    }
    Ok(used)
}

/// The state of a ring.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(tag = "state", rename_all = "snake_case")]
pub enum RingState {
    /// In use.
    Live,
    /// Left hanging on a hook.
    Hanging {
        /// The hook it hangs on.
        hook: HookRef,
        /// When it was hung there.
        since: Timestamp,
    },
    /// The project is over and every card is accounted for.
    Closed {
        /// When it closed.
        at: Timestamp,
    },
}

/// A project ring. The cards themselves record which of them are on it now.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(try_from = "Told")]
pub struct Ring {
    /// Which ring.
    pub id: RingId,
    /// The project's name.
    pub project: Label,
    /// The chart key, in its own order; may be empty.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub key: Vec<KeyLine>,
    /// Single strand used of each colour so far, in centimetres, from 1 to [`MOST_USED_CM`]: the
    /// only unit in which strands of different cut lengths add up. Not tracked for each line.
    #[serde(
        default,
        skip_serializing_if = "BTreeMap::is_empty",
        serialize_with = "write_used"
    )]
    pub used: BTreeMap<ColourRef, u64>,
    /// The fabric and the other assumptions about the stitching; `None` for the defaults.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fabric: Option<Assumptions>,
    /// Every card that was on it since it was opened, in the order they were taken.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub went_out: Vec<CardId>,
    /// Live, hanging or closed.
    #[serde(flatten)]
    pub state: RingState,
    /// When it was opened.
    pub opened: Timestamp,
    /// The status of the project, in its owner's words; may be empty.
    #[serde(default, skip_serializing_if = "Label::is_empty")]
    pub status: Label,
    /// Its position among the projects, from 1, if the user sorted them. Projects with 0 come after
    /// those, in the order in which they were opened.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub place: u32,
}

impl Ring {
    /// Whether the ring is closed.
    #[must_use]
    pub const fn is_closed(&self) -> bool {
        matches!(self.state, RingState::Closed { .. })
    }

    /// Every thread of the key, line by line.
    pub fn threads(&self) -> impl Iterator<Item = &KeyThread> {
        self.key.iter().flat_map(KeyLine::threads)
    }

    /// The colours stitched in, each once, in the order of the key. O(threads²).
    #[must_use]
    pub fn colours(&self) -> Vec<&ColourRef> {
        let mut colours: Vec<&ColourRef> = Vec::new();
        for colour in self.threads().map(KeyThread::stitched) {
            if !colours.contains(&colour) {
                colours.push(colour);
            }
        }
        colours
    }

    /// Whether any thread of the key is stitched in a colour.
    #[must_use]
    pub fn is_stitched_in(&self, colour: &ColourRef) -> bool {
        self.threads().any(|thread| thread.stitched() == colour)
    }

    /// Single strand used of a colour, in centimetres.
    #[must_use]
    pub fn used_of(&self, colour: &ColourRef) -> u64 {
        self.used.get(colour).copied().unwrap_or(0)
    }
}

/// The record's form of a ring, with all fields at one level. serde doesn't have to buffer any
/// until it knows the state.
#[derive(Deserialize)]
struct Told {
    id: RingId,
    project: Label,
    #[serde(default)]
    key: Vec<KeyLine>,
    #[serde(default)]
    used: Vec<UsedFields>,
    fabric: Option<Assumptions>,
    #[serde(default)]
    went_out: Vec<CardId>,
    state: Kind,
    hook: Option<HookRef>,
    since: Option<Timestamp>,
    at: Option<Timestamp>,
    opened: Timestamp,
    #[serde(default)]
    status: Label,
    #[serde(default)]
    place: u32,
}

#[derive(Deserialize)]
#[serde(rename_all = "snake_case")]
enum Kind {
    Live,
    Hanging,
    Closed,
}

impl TryFrom<Told> for Ring {
    type Error = &'static str;

    fn try_from(told: Told) -> Result<Self, Self::Error> {
        let state = match told.state {
            Kind::Live => RingState::Live,
            Kind::Hanging => RingState::Hanging {
                hook: told.hook.ok_or("missing field `hook`")?,
                since: told.since.ok_or("missing field `since`")?,
            },
            Kind::Closed => RingState::Closed {
                at: told.at.ok_or("missing field `at`")?,
            },
        };
        Ok(Self {
            id: told.id,
            project: told.project,
            key: told.key,
            used: read_used(told.used)?,
            fabric: told.fabric,
            went_out: told.went_out,
            state,
            opened: told.opened,
            status: told.status,
            place: told.place,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const RING: &str = r##"{"id":"0000000000000001","project":"Harbour","key":[{"symbol":"X","threads":[{"colour":{"range":"0000000000000001","number":"701"},"strands":2}],"stitches":{"full":40}},{"threads":[{"colour":{"range":"0000000000000001","number":"447"},"strands":1,"name":"moss","hex":"#2E8B3A"},{"colour":{"range":"0000000000000001","number":"96"},"strands":2,"stitched_with":{"range":"0000000000000002","number":"9"}}]},{"symbol":"o","notion":{"name":"seed bead","kind":"bead","pieces":24}}],"used":[{"range":"0000000000000001","number":"701","cm":700}],"state":"live","opened":"2001-09-09T01:46:40Z"}"##;

    fn colour(range: u64, number: &str) -> ColourRef {
        ColourRef::new(RangeId(range), Number::new(number).unwrap())
    }

    fn refusal(text: &str) -> String {
        serde_json::from_str::<Ring>(text).unwrap_err().to_string()
    }

    #[test]
    fn a_ring_with_a_blend_and_a_notion_reads_back_as_written() {
        let ring: Ring = serde_json::from_str(RING).unwrap();
        assert_eq!(serde_json::to_string(&ring).unwrap(), RING);
        assert_eq!(ring.key[0].stitches().full, 40);
        assert_eq!(ring.used_of(&colour(1, "701")), 700);
        assert_eq!(ring.key[2].threads(), []);
        assert_eq!(ring.key[2].notion().map(|notion| notion.pieces), Some(24));
        let stitched: Vec<String> = ring
            .colours()
            .iter()
            .map(|colour| format!("{}:{}", colour.range.0, colour.number))
            .collect();
        assert_eq!(stitched, ["1:701", "1:447", "2:9"]);
    }

    #[test]
    fn impossible_lines_and_amounts_are_refused() {
        let thread = r#"{"colour":{"range":"0000000000000001","number":"B5"}}"#;
        for (key, why) in [
            (r#"{"threads":[]}"#.to_owned(), "needle_empty"),
            (r#"{"symbol":"X"}"#.to_owned(), "threads"),
            (
                format!(r#"{{"threads":[{thread},{}]}}"#, thread.replace('B', "b")),
                "twice",
            ),
            (
                r#"{"threads":[{"colour":{"range":"0000000000000001","number":"B5"},"stitched_with":{"range":"0000000000000001","number":"b5"}}]}"#.to_owned(),
                "stitched_with_itself",
            ),
            (
                format!(r#"{{"threads":[{thread}],"notion":{{"name":"bead","kind":"bead"}}}}"#),
                "notion with threads",
            ),
            (
                r#"{"stitches":{"full":1},"notion":{"name":"bead","kind":"bead"}}"#.to_owned(),
                "notion with",
            ),
            (r#"{"notion":{"name":" ","kind":"bead"}}"#.to_owned(), "empty"),
            (r#"{"notion":{"name":"bead","kind":"snow"}}"#.to_owned(), "snow"),
            (
                r#"{"notion":{"name":"bead","kind":"bead","pieces":-1}}"#.to_owned(),
                "-1",
            ),
        ] {
            let text = format!(
                r#"{{"id":"0000000000000001","project":"Fox","key":[{key}],"state":"live","opened":"2001-09-09T01:46:40Z"}}"#
            );
            let wrong = refusal(&text);
            assert!(wrong.contains(why), "{key}: {wrong}");
        }
        for (cm, why) in [
            ("0".to_owned(), "can't be"),
            ((MOST_USED_CM + 1).to_string(), "can't be"),
            (
                r#"7},{"range":"0000000000000001","number":"701","cm":7"#.to_owned(),
                "twice",
            ),
        ] {
            let wrong = refusal(&RING.replace("700", &cm));
            assert!(wrong.contains(why), "{cm}: {wrong}");
        }
    }

    #[test]
    fn a_key_keeps_the_case_of_numbers_but_colours_ignore_it() {
        assert_eq!(colour(1, "b5"), colour(1, "B5"));
        assert_ne!(colour(1, "b5"), colour(2, "b5"));
        let line = |number| KeyLine::of(RangeId(1), Number::new(number).unwrap());
        assert_ne!(line("b5"), line("B5"));
        assert!(line("b5").is_stitched_in(&colour(1, "B5")));
    }

    fn a_colour() -> impl Strategy<Value = ColourRef> {
        (1..3_u64, "[0-9bB]{1,2}").prop_map(|(range, number)| colour(range, &number))
    }

    fn a_thread() -> impl Strategy<Value = KeyThread> {
        let with = prop::option::of(a_colour());
        (a_colour(), 0..4_u8, "[a-z]{0,3}", with).prop_map(|(colour, strands, name, with)| {
            KeyThread {
                strands,
                name: Label::new(&name).unwrap(),
                hex: name.contains('a').then_some(Srgb::new(1, 2, 3)),
                stitched_with: with,
                ..KeyThread::new(colour)
            }
        })
    }

    proptest! {
        #[test]
        fn a_line_reads_back_or_is_refused_from_any_source(
            threads in prop::collection::vec(a_thread(), 0..4),
            full in 0..3_u32,
            notion in prop::option::of(0..3_u32),
        ) {
            let read = serde_json::from_value::<KeyLine>(serde_json::json!({
                "threads": threads,
                "stitches": { "full": full },
            }));
            match Needle::new(threads) {
                Ok(needle) => {
                    let stitches = StitchCounts { full, ..StitchCounts::default() };
                    let line = KeyLine { symbol: Label::empty(), work: KeyWork::Threads { needle, stitches } };
                    prop_assert_eq!(read.unwrap(), line);
                }
                Err(_) => prop_assert!(read.is_err()),
            }
            if let Some(pieces) = notion {
                let name = Name::new("bead").unwrap();
                let line = KeyLine {
                    symbol: Label::empty(),
                    work: KeyWork::Notion(Notion { name, kind: NotionKind::Button, pieces }),
                };
                let text = serde_json::to_string(&line).unwrap();
                prop_assert_eq!(serde_json::from_str::<KeyLine>(&text).unwrap(), line);
            }
        }

        #[test]
        fn the_order_of_colours_agrees_with_their_equality(a in a_colour(), b in a_colour()) {
            prop_assert_eq!(a == b, a.cmp(&b) == Ordering::Equal);
            prop_assert_eq!(a.cmp(&b), b.cmp(&a).reverse());
        }
    }
}
