//! The forms of a project: starting one, its chart key and its lines, the fabric, and thread split
//! off or used.

use crate::model::assumptions::{Assumptions, Way};
use crate::model::ids::{CardId, RingId};
use crate::model::length::Unit;
use crate::model::range::PutUp;
use crate::model::ring::{KeyLine, KeyThread, NotionKind, Ring, StitchCounts};
use crate::model::thread::Strands;
use crate::stash::command::fabric::{self, Said};
use crate::stash::command::import::KeyRow;
use crate::stash::command::progress::{self, Progress as HowFar};
use crate::stash::command::{key, ring, thread};
use crate::stash::event::Act;
use crate::stash::projects::needs::usual_put_up;
use crate::stash::state::{CardState, State};
use crate::text::faults::percent_error;
use crate::text::{self, capital};
use crate::tui::app::screen::Context;
use crate::tui::message::{Effect, Want};
use crate::tui::screens::card_form::{ranges, usual_range};
use crate::tui::screens::counting::LotToTake;
use crate::tui::screens::form::{Asks, Fields, Form, Input, Wrong, inputs, something};
use crate::tui::screens::project::ProjectPage;
use crate::tui::screens::sheet::List;
use crate::tui::widgets::chooser::{Choice, Chooser};

/// The form's ring.
fn the_ring(state: &State, ring: RingId) -> Result<&Ring, Wrong> {
    let ring = state.ring(ring);
    ring.ok_or_else(|| "That ring is gone.".to_owned().into())
}

/// A whole number; 0 if the line is empty.
fn number<T: std::str::FromStr + Default>(input: &Input) -> Result<T, Wrong> {
    match input.value() {
        "" => Ok(T::default()),
        _ => whole(input),
    }
}

fn whole<T: std::str::FromStr>(input: &Input) -> Result<T, Wrong> {
    input.number().map_err(|wrong| Wrong::at(input, wrong))
}

/// A number as text; empty for 0.
fn count(n: impl Into<u32>) -> String {
    match n.into() {
        0 => String::new(),
        n => n.to_string(),
    }
}

const RANGE_OF_ROWS: &str = "for rows that name no range";

/// The input for the range of rows that name none.
fn range_of_rows(state: &State) -> Input {
    let usual = usual_range(state).map_or("", |range| range.name.as_str());
    Input::choice("range", RANGE_OF_ROWS, ranges(state, usual))
}

/// Opens the form that led to a chart key again, with the values of then.
pub fn key_form_again(context: &mut Context<'_>, (file, project, range): (&str, &str, &str)) {
    let state = context.stash.state;
    let range = Input::choice("range", RANGE_OF_ROWS, ranges(state, range));
    match state.find_ring(project) {
        Some(_) => context.open(Form::new(ImportKey::with(project, file, range))),
        None => context.open(Form::new(NewProject::with(project, file, range))),
    }
}

/// Requests that a chart key be read.
fn read_key(file: &Input, range: &Input, project: &str) -> Asks {
    Asks::Effect(Effect::ReadFile {
        path: file.value().to_owned(),
        want: Want::Key {
            project: project.to_owned(),
            range: range.value().to_owned(),
        },
    })
}

/// The form for a new project.
#[derive(Clone, Debug)]
pub struct NewProject {
    project: Input,
    file: Input,
    range: Input,
}

impl NewProject {
    /// The form as it opens.
    #[must_use]
    pub fn form(state: &State) -> Form<Self> {
        Form::new(Self::with("", "", range_of_rows(state)))
    }

    fn with(project: &str, file: &str, range: Input) -> Self {
        let hint = "CSV, .xlsx or .ods; empty: without a key yet";
        Self {
            project: Input::text("project", "what you call it", project),
            file: Input::file("chart key", hint).with(file),
            range,
        }
    }
}

impl Fields for NewProject {
    fn title(&self, _: &State) -> String {
        "Begin a project".to_owned()
    }

    inputs!(project, file, range);

    fn done(&self, context: &mut Context<'_>) -> Result<Asks, Wrong> {
        let project = self.project.value();
        if !self.file.value().is_empty() {
            return Ok(read_key(&self.file, &self.range, project));
        }
        Ok(ring::open(context.stash.state, project, context.app.now)?.into())
    }

    fn recorded(&self, context: &mut Context<'_>, act: &Act) {
        if let Act::OpenRing { ring } = act {
            context.open(ProjectPage::of(*ring));
        }
    }

    fn read(&self, context: &mut Context<'_>, bytes: &[u8]) -> Result<(), String> {
        let list = List::Key {
            path: self.file.value().to_owned(),
            project: self.project.value().to_owned(),
            range: self.range.value().to_owned(),
        };
        list.read(context, bytes)
    }
}

/// The form for importing a project's chart key.
#[derive(Clone, Debug)]
pub struct ImportKey {
    project: String,
    file: Input,
    range: Input,
}

impl ImportKey {
    /// The form as it opens.
    #[must_use]
    pub fn form(state: &State, ring: &Ring) -> Form<Self> {
        Form::new(Self::with(ring.project.as_str(), "", range_of_rows(state)))
    }

    fn with(project: &str, file: &str, range: Input) -> Self {
        Self {
            project: project.to_owned(),
            file: Input::file("file", "CSV, .xlsx or .ods; Tab completes").with(file),
            range,
        }
    }
}

impl Fields for ImportKey {
    fn title(&self, _: &State) -> String {
        format!("Import the chart key of {project}", project = self.project)
    }

    inputs!(file, range);

    fn done(&self, _: &mut Context<'_>) -> Result<Asks, Wrong> {
        if self.file.value().is_empty() {
            return Err(Wrong::at(
                &self.file,
                "write where it is, such as ~/key.csv.",
            ));
        }
        Ok(read_key(&self.file, &self.range, &self.project))
    }

    fn read(&self, context: &mut Context<'_>, bytes: &[u8]) -> Result<(), String> {
        let list = List::Key {
            path: self.file.value().to_owned(),
            project: self.project.clone(),
            range: self.range.value().to_owned(),
        };
        list.read(context, bytes)
    }
}

/// The form for a line of a chart key. For a blend it edits the first thread and keeps the others.
#[derive(Clone, Debug)]
pub struct KeyEntry {
    ring: RingId,
    /// Index of the line; `None` adds one at the end.
    at: Option<usize>,
    number: Input,
    what: Input,
    range: Input,
    symbol: Input,
    name: Input,
    /// For a notion.
    pieces: Input,
    strands: Input,
    full: Input,
    half: Input,
    quarter: Input,
    three_quarter: Input,
    backstitch: Input,
    backstitch_strands: Input,
    knots: Input,
    /// For a line with one thread.
    with: Input,
    is_blend: bool,
}

/// The kinds of line besides thread.
const NOTIONS: [(NotionKind, &str); 4] = [
    (NotionKind::Bead, "bead"),
    (NotionKind::Button, "button"),
    (NotionKind::MetallicOrnament, "ornament"),
    (NotionKind::Other, "other"),
];

/// The choice that means thread.
const THREAD: &str = "thread";

impl KeyEntry {
    /// The kind of notion, if the line isn't thread.
    fn notion(&self) -> Option<NotionKind> {
        let found = NOTIONS.iter().find(|(_, word)| *word == self.what.value());
        found.map(|&(kind, _)| kind)
    }

    /// The form for a line of the key. A new line starts with the range of the line before it.
    #[must_use]
    pub fn form(state: &State, ring: &Ring, at: Option<usize>) -> Form<Self> {
        let old = at.and_then(|at| ring.key.get(at));
        let like = old.or(ring.key.last());
        let range = match like.and_then(|line| line.threads().first()) {
            Some(thread) => state.range(thread.colour.range),
            None => usual_range(state),
        };
        let range = range.map_or("", |range| range.name.as_str());
        let first = old.and_then(|line| line.threads().first());
        let of_thread = |of: fn(&KeyThread) -> String| first.map(of).unwrap_or_default();
        let counted: StitchCounts = old.map(KeyLine::stitches).unwrap_or_default();
        let symbol = old.map_or("", |line| line.symbol.as_str());
        let notion = old.and_then(KeyLine::notion);
        let word = NOTIONS
            .iter()
            .find(|(kind, _)| notion.is_some_and(|of| of.kind == *kind));
        let what = word.map_or(THREAD, |&(_, word)| word);
        let words = [THREAD].into_iter().chain(NOTIONS.map(|(_, word)| word));
        let name = match notion {
            Some(notion) => notion.name.to_string(),
            None => of_thread(|t| t.name.to_string()),
        };
        let with = old.and_then(|line| line.threads().first());
        let with = with.and_then(|thread| thread.stitched_with.as_ref());
        let with = with.map_or_else(String::new, |of| {
            let range = state
                .range(of.range)
                .map_or("", |range| range.name.as_str());
            format!("{range}:{number}", number = of.number)
        });
        let text = |label, hint, value: String| Input::text(label, hint, &value);
        let named = "may be empty: then the card's or the range's";
        let strands = "in the needle, of a blend 1+1; empty: as for the project";
        Form::new(Self {
            ring: ring.id,
            at: at.filter(|_| old.is_some()),
            number: text(
                "number",
                "as in the key",
                of_thread(|t| t.colour.number.to_string()),
            ),
            what: Input::one_of("what", "thread, or something that is sewn on", words, what),
            range: Input::choice("range", "the maker's range", ranges(state, range)),
            symbol: Input::text("symbol", "as in the chart; may be empty", symbol),
            name: text("name", named, name),
            pieces: text(
                "pieces",
                "how many the chart needs",
                count(notion.map_or(0, |notion| notion.pieces)),
            ),
            strands: text("strands", strands, of_thread(|t| count(t.strands))),
            full: text("stitches", "full crosses", count(counted.full)),
            half: text("half", "half stitches", count(counted.half)),
            quarter: text("quarter", "quarter stitches", count(counted.quarter)),
            three_quarter: text(
                "three-quarter",
                "three-quarter stitches",
                count(counted.three_quarter),
            ),
            backstitch: text(
                "backstitch",
                "length of its lines in squares of the chart",
                count(counted.backstitch),
            ),
            backstitch_strands: text(
                "its strands",
                "in the needle for backstitch",
                count(counted.backstitch_strands),
            ),
            knots: text("knots", "French knots", count(counted.french_knots)),
            with: text(
                "stitched with",
                "your own colour in its place; empty: as in the chart",
                with,
            ),
            is_blend: old.is_some_and(|line| line.threads().len() > 1),
        })
    }

    /// The line as entered.
    fn row(&self, old: Option<&KeyLine>) -> Result<KeyRow, Wrong> {
        let number_of = self.number.value();
        if let Some(notion) = self.notion() {
            if number_of.is_empty() && self.name.filled().is_none() {
                return Err(Wrong::at(&self.number, "write its number or its name."));
            }
            return Ok(KeyRow {
                line: 1,
                symbol: self.symbol.filled(),
                number: number_of.to_owned(),
                name: self.name.filled(),
                notion: Some(notion),
                pieces: number(&self.pieces)?,
                ..KeyRow::default()
            });
        }
        if number_of.is_empty() {
            return Err(Wrong::at(&self.number, "write the number of the colour."));
        }
        let each = self.strands.value().split('+').map(str::trim);
        let each: Vec<Option<u8>> = each.map(|text| text.parse().ok()).collect();
        let (strands, strands_of_each) = match each.into_iter().collect::<Option<Vec<u8>>>() {
            Some(each) if each.len() > 1 => (0, each),
            _ => (number(&self.strands)?, Vec::new()),
        };
        Ok(KeyRow {
            line: 1,
            symbol: self.symbol.filled(),
            range: self.range.filled(),
            number: number_of.to_owned(),
            name: self.name.filled(),
            // An imported colour stays with its number.
            colour: old
                .and_then(|line| line.threads().first())
                .filter(|thread| thread.colour.number.as_str() == number_of)
                .and_then(|thread| thread.hex),
            strands,
            strands_of_each,
            stitches: number(&self.full)?,
            half: number(&self.half)?,
            quarter: number(&self.quarter)?,
            three_quarter: number(&self.three_quarter)?,
            backstitch: number(&self.backstitch)?,
            backstitch_strands: number(&self.backstitch_strands)?,
            french_knots: number(&self.knots)?,
            ..KeyRow::default()
        })
    }
}

/// The form's lines for the chosen kind, shared or mutable.
macro_rules! lines_of {
    ($form:ident $($mutable:ident)?) => {
        if $form.notion().is_some() {
            vec![
                & $($mutable)? $form.number,
                & $($mutable)? $form.what,
                & $($mutable)? $form.name,
                & $($mutable)? $form.symbol,
                & $($mutable)? $form.pieces,
            ]
        } else {
            let lines = [
                & $($mutable)? $form.number,
                & $($mutable)? $form.what,
                & $($mutable)? $form.range,
                & $($mutable)? $form.symbol,
                & $($mutable)? $form.name,
                & $($mutable)? $form.strands,
                & $($mutable)? $form.full,
                & $($mutable)? $form.half,
                & $($mutable)? $form.quarter,
                & $($mutable)? $form.three_quarter,
                & $($mutable)? $form.backstitch,
                & $($mutable)? $form.backstitch_strands,
                & $($mutable)? $form.knots,
            ];
            let with = (!$form.is_blend).then_some(& $($mutable)? $form.with);
            lines.into_iter().chain(with).collect()
        }
    };
}

impl Fields for KeyEntry {
    fn title(&self, state: &State) -> String {
        let ring = state.ring(self.ring);
        let line = self
            .at
            .and_then(|at| ring?.key.get(at).map(|line| (at, line)));
        match line {
            Some((at, line)) => format!(
                "Line {line} of the key: {number}",
                line = at + 1,
                number = text::thread::line_in_brief(line)
            ),
            None => "A new line of the key".to_owned(),
        }
    }

    fn inputs(&self) -> Vec<&Input> {
        lines_of!(self)
    }

    fn inputs_mut(&mut self) -> Vec<&mut Input> {
        lines_of!(self mut)
    }

    fn done(&self, context: &mut Context<'_>) -> Result<Asks, Wrong> {
        let state = context.stash.state;
        let ring = the_ring(state, self.ring)?;
        let row = self.row(self.at.and_then(|at| ring.key.get(at)))?;
        let with = (!self.is_blend).then_some(self.with.value());
        let event = key::write(state, ring, self.at, &row, with);
        something(event, "The line says just that already.")
    }
}

/// The form for a project's fabric and way of stitching.
#[derive(Clone, Debug)]
pub struct Fabric {
    ring: RingId,
    /// The assumed or previous values.
    is: Assumptions,
    /// The usual threads under a stitch for the count, if nobody typed others.
    usual: String,
    count: Input,
    over: Input,
    strands: Input,
    backstitch: Input,
    rows: Input,
    working: Input,
    waste: Input,
    cloth: Input,
    knot: Input,
    margin: Input,
}

/// The ways of stitching, with their names in the form.
const WAYS: [(Way, &str); 2] = [
    (Way::ThereAndBack, "there and back"),
    (Way::OneByOne, "one by one"),
];

impl Fabric {
    /// The form, with the assumed or previous values.
    #[must_use]
    pub fn form(ring: &Ring) -> Form<Self> {
        let is: Assumptions = ring.fabric.unwrap_or_default();
        let tenths = |n: u16| format!("{}.{}", n / 10, n % 10);
        let text = |label, hint, value: String| Input::text(label, hint, &value);
        let way = WAYS.iter().find(|(way, _)| *way == is.way);
        Form::new(Self {
            ring: ring.id,
            is,
            usual: is.over.to_string(),
            count: text(
                "count",
                "threads or squares of the fabric in an inch",
                is.count.to_string(),
            ),
            over: text(
                "over",
                "threads under a stitch: 2 is usual from 25 count, but 1 on Aida",
                is.over.to_string(),
            ),
            strands: text(
                "strands",
                "in the needle, where the key does not say",
                is.strands.to_string(),
            ),
            backstitch: text(
                "backstitch",
                "strands in the needle for backstitch",
                is.backstitch_strands.to_string(),
            ),
            rows: Input::one_of(
                "rows",
                "how crosses of a row are worked",
                WAYS.map(|(_, name)| name),
                way.map_or("", |(_, name)| name),
            ),
            working: text(
                "working",
                "the longest working thread, in cm, or such as 18in",
                is.working_cm.to_string(),
            ),
            waste: text(
                "waste",
                "what it loses at start and finish together, in cm, or such as 3in",
                tenths(is.waste_mm),
            ),
            cloth: text(
                "cloth",
                "how thick the fabric is, in mm",
                tenths(is.fabric_tenth_mm),
            ),
            knot: text(
                "knot",
                "thread in a French knot, in mm",
                is.knot_mm.to_string(),
            ),
            margin: text(
                "margin",
                "more for safety, in percent",
                is.margin_percent.to_string(),
            ),
        })
    }
}

impl Fabric {
    /// The values as entered.
    fn said(&self) -> Result<Said, Wrong> {
        let way = WAYS.iter().find(|(_, name)| *name == self.rows.value());
        let way = way.ok_or_else(|| Wrong::at(&self.rows, "choose one of the list."))?;
        Ok(Said {
            count: Some(whole(&self.count)?),
            over: Some(whole(&self.over)?),
            strands: Some(whole(&self.strands)?),
            backstitch_strands: Some(whole(&self.backstitch)?),
            way: Some(way.0),
            working_cm: Some(self.working.length(Unit::Cm)?.cm()),
            waste_mm: Some(self.waste.length(Unit::Cm)?.mm()),
            fabric_tenth_mm: Some(self.cloth.length(Unit::Mm)?.tenth_mm()),
            knot_mm: Some(self.knot.length(Unit::Mm)?.mm()),
            margin_percent: Some(whole(&self.margin)?),
        })
    }
}

impl Fields for Fabric {
    fn title(&self, state: &State) -> String {
        let ring = state.ring(self.ring);
        let project = ring.map_or("it", |ring| ring.project.as_str());
        format!("What {project} is stitched on, and how")
    }

    inputs!(
        count, over, strands, backstitch, rows, working, waste, cloth, knot, margin
    );

    /// If only the count changes, the threads under a stitch follow the usual number for that
    /// count.
    fn follow(&mut self, _: &State) {
        let Ok(count) = self.count.number() else {
            return;
        };
        let said = Said {
            count: Some(count),
            ..Said::default()
        };
        let usual = said.over(self.is).over.to_string();
        if self.over.value() == self.usual && usual != self.usual {
            self.over.offer(&usual);
            self.usual = usual;
        }
    }

    fn note(&self, state: &State) -> Option<String> {
        let ring = state.ring(self.ring)?;
        let assumed = self.said().ok()?.over(self.is);
        assumed.check().ok()?;
        let covers = text::thread::skein_covers(&assumed, usual_put_up(state, ring));
        Some(format!("So {covers}."))
    }

    fn done(&self, context: &mut Context<'_>) -> Result<Asks, Wrong> {
        let ring = the_ring(context.stash.state, self.ring)?;
        something(
            fabric::set(ring, &self.said()?),
            "That is what it says already.",
        )
    }
}

/// Inputs for an amount of thread: whole lengths and single strands.
#[derive(Clone, Debug)]
struct Amount {
    put_up: PutUp,
    lengths: Input,
    strands: Input,
}

impl Amount {
    fn of(state: &State, kept: &CardState, suggested: Option<Strands>) -> Self {
        let put_up = state.put_up(&kept.card);
        let (lengths, strands) = suggested.map_or((String::new(), String::new()), |amount| {
            (count(put_up.lengths(amount)), count(put_up.loose(amount)))
        });
        let hint = match put_up.in_length() {
            6 => "whole lengths of six strands",
            _ => "whole lengths",
        };
        Self {
            put_up,
            lengths: Input::text("lengths", hint, &lengths),
            strands: Input::text("strands", "single strands besides", &strands),
        }
    }

    fn read(&self) -> Result<Strands, Wrong> {
        let lengths: u32 = number(&self.lengths)?;
        let loose: u32 = number(&self.strands)?;
        let whole = self.put_up.from_lengths(lengths);
        Ok(Strands(whole.0.saturating_add(loose)))
    }
}

fn card_name(state: &State, card: CardId) -> String {
    let kept = state.card(card);
    kept.map_or_else(String::new, |kept| state.card_name(kept))
}

/// The form for winding thread onto a split card.
#[derive(Clone, Debug)]
pub struct Split {
    ring: RingId,
    card: CardId,
    amount: Amount,
    lot: LotToTake,
    label: Input,
}

impl Split {
    /// The form, with the amount the key needs, if known.
    #[must_use]
    pub fn form(
        state: &State,
        ring: RingId,
        kept: &CardState,
        suggested: Option<Strands>,
    ) -> Form<Self> {
        let label = "what its temporary label says; may be empty";
        Form::new(Self {
            ring,
            card: kept.card.id,
            amount: Amount::of(state, kept, suggested),
            lot: LotToTake::of(state, kept),
            label: Input::text("label", label, ""),
        })
    }
}

impl Fields for Split {
    fn title(&self, state: &State) -> String {
        let kept = state.card(self.card);
        let there = kept.map_or_else(String::new, |kept| {
            let amount = text::thread::amount(kept.strands(), state.put_up(&kept.card));
            format!(" of {amount}")
        });
        format!(
            "Split some{there} off {card} onto a split card",
            card = card_name(state, self.card)
        )
    }

    fn inputs(&self) -> Vec<&Input> {
        let amount = [&self.amount.lengths, &self.amount.strands].into_iter();
        amount
            .chain(self.lot.input())
            .chain([&self.label])
            .collect()
    }

    fn inputs_mut(&mut self) -> Vec<&mut Input> {
        let amount = [&mut self.amount.lengths, &mut self.amount.strands].into_iter();
        let lot = self.lot.input_mut();
        amount.chain(lot).chain([&mut self.label]).collect()
    }

    fn done(&self, context: &mut Context<'_>) -> Result<Asks, Wrong> {
        let (state, now) = (context.stash.state, context.app.now);
        let ring = the_ring(state, self.ring)?;
        let amount = self.amount.read()?;
        let project = ring.project.as_str();
        let label = self.label.value();
        let lot = self.lot.lot(state, self.card)?;
        Ok(thread::split(state, project, self.card, amount, lot.as_ref(), label, now)?.into())
    }
}

/// The form for thread used from a card.
#[derive(Clone, Debug)]
pub struct Use {
    ring: RingId,
    card: CardId,
    /// The card that the thread comes from: the split card on the ring, if there is one.
    from: CardId,
    amount: Amount,
    lot: LotToTake,
}

impl Use {
    /// The form as it opens.
    #[must_use]
    pub fn form(state: &State, ring: RingId, kept: &CardState) -> Form<Self> {
        let split = state
            .ring(ring)
            .and_then(|ring| thread::split_cards_on(state, ring, kept.card.id).next());
        let from = split.unwrap_or(kept);
        Form::new(Self {
            ring,
            card: kept.card.id,
            from: from.card.id,
            amount: Amount::of(state, kept, None),
            lot: LotToTake::of(state, from),
        })
    }
}

impl Fields for Use {
    fn title(&self, state: &State) -> String {
        let card = card_name(state, self.card);
        format!("How much of {card} was used")
    }

    fn inputs(&self) -> Vec<&Input> {
        let amount = [&self.amount.lengths, &self.amount.strands].into_iter();
        amount.chain(self.lot.input()).collect()
    }

    fn inputs_mut(&mut self) -> Vec<&mut Input> {
        let amount = [&mut self.amount.lengths, &mut self.amount.strands].into_iter();
        amount.chain(self.lot.input_mut()).collect()
    }

    fn done(&self, context: &mut Context<'_>) -> Result<Asks, Wrong> {
        let state = context.stash.state;
        let ring = the_ring(state, self.ring)?;
        let amount = self.amount.read()?;
        let lot = self.lot.lot(state, self.from)?;
        Ok(thread::use_thread(state, Some(ring), self.card, amount, lot.as_ref())?.into())
    }
}

/// The form for the progress of a project.
#[derive(Clone, Debug)]
pub struct Progress {
    ring: RingId,
    percent: Input,
    of: Input,
}

/// The choice that means every colour of a key.
const ALL: &str = "all";

impl Progress {
    /// The form, with the colour of a line selected.
    #[must_use]
    pub fn form(state: &State, ring: &Ring, line: &KeyLine) -> Form<Self> {
        let name = |thread: &KeyThread| {
            let colour = thread.stitched();
            let range = state.range(colour.range);
            let range = range.map_or("", |range| range.name.as_str());
            format!("{range}:{}", colour.number)
        };
        let mut choices = vec![Choice::new(ALL, "every colour that the key counts")];
        for thread in ring.threads() {
            choices.push(Choice::new(name(thread), state.thread_name(thread)));
        }
        let chosen = line.threads().first().map_or_else(|| ALL.to_owned(), name);
        Form::new(Self {
            ring: ring.id,
            percent: Input::text("percent", "how much of it is stitched, 0 to 100", ""),
            of: Input::choice("of", "this colour, or all", Chooser::of(choices, &chosen)),
        })
    }
}

impl Fields for Progress {
    fn title(&self, state: &State) -> String {
        let ring = state.ring(self.ring);
        let project = ring.map_or("it", |ring| ring.project.as_str());
        format!("How far {project} has come")
    }

    inputs!(percent, of);

    fn done(&self, context: &mut Context<'_>) -> Result<Asks, Wrong> {
        let state = context.stash.state;
        let ring = the_ring(state, self.ring)?;
        let percent = self.percent.value().parse();
        let percent = percent.map_err(|wrong| capital(&percent_error(&wrong)))?;
        let colour = Some(self.of.value()).filter(|&of| of != ALL);
        let said = progress::set(state, ring, HowFar::Done { colour, percent });
        something(said, "Nothing to change: that is set already.")
    }
}
