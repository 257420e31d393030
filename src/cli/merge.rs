//! `homehook merge`.

use std::collections::BTreeMap;
use std::io::{self, BufRead};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::str::FromStr;

use clap::Args;
use jiff::Timestamp;
use serde::Serialize;

use super::failure::Failure;
use super::output::Output;
use super::{open, plain};
use crate::exchange::export::CardOut;
use crate::journal::read_copy;
use crate::journal::store::Store;
use crate::model::ids::{CardId, EventId};
use crate::model::label::Who;
use crate::stash::event::{Change, Event, Fact};
use crate::stash::merge::{Answers, Claim, Line, Merged, Question, Side, Subject, merge};
use crate::stash::state::{CardState, State};
use crate::text;
use crate::text::one_or_many;

/// What comes of a merge.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct MergeAnswer {
    /// How many changes of the other copy are not here.
    merged: usize,
    /// What both copies changed in different ways.
    questions: Vec<QuestionOut>,
    /// Whether the stash was changed.
    applied: bool,
    /// The number of the event in the record; `null` where nothing was changed.
    event: Option<u64>,
    /// The cards that are somewhere else than before, as they are now.
    cards: Vec<CardOut>,
    /// Changes of the other copy that are about nothing that is there any more.
    left_out: Vec<String>,
    /// Cards to count: both sides together used more thread than there was, or each counted it differently.
    to_count: Vec<String>,
    /// Cards without a hook that had one on a side: it is blocked, gone, or was given up.
    without_hook: Vec<String>,
    /// Split cards that each side made for the same project, so that there are two now.
    split_twice: Vec<String>,
}

/// Something that both copies changed in different ways.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct QuestionOut {
    /// Its number, for `--answer`.
    n: usize,
    /// What names the question in every copy.
    name: String,
    /// What it is about.
    about: String,
    /// What this copy says.
    mine: ClaimOut,
    /// What the other copy says.
    theirs: ClaimOut,
    /// Which side changed it later.
    later: SideOut,
    /// The answer; `null` where it is open.
    answer: Option<SideOut>,
}

/// What one side says.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct ClaimOut {
    /// What it is there.
    what: String,
    /// When it was last changed there.
    #[cfg_attr(test, schemars(with = "Option<crate::model::schema::Instant>"))]
    time: Option<Timestamp>,
    /// Who did that, where a name is kept.
    #[cfg_attr(test, schemars(with = "Option<String>"))]
    by: Option<Who>,
    /// What was done.
    did: Option<String>,
}

/// One of the two copies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub(crate) enum SideOut {
    /// This one.
    Mine,
    /// The other one.
    Theirs,
}

impl From<Side> for SideOut {
    fn from(side: Side) -> Self {
        match side {
            Side::Mine => Self::Mine,
            Side::Theirs => Self::Theirs,
        }
    }
}

/// Which copy, and whose way it is where both sides differ.
#[derive(Debug, Args)]
pub(crate) struct MergeArgs {
    /// The other copy: a stash folder, or a record file.
    pub other: PathBuf,
    /// Where both changed the same thing, keep this side.
    #[arg(long, conflicts_with = "theirs")]
    pub mine: bool,
    /// Where both changed the same thing, take the other side.
    #[arg(long)]
    pub theirs: bool,
    /// The answer to question N of the list.
    #[arg(long, value_name = "N=mine|theirs", num_args = 1..)]
    pub answer: Vec<AnswerArg>,
    /// Show the changes and the questions, and change nothing.
    #[arg(long)]
    pub dry_run: bool,
}

/// An answer to one question.
#[derive(Debug, Clone, Copy)]
pub(crate) struct AnswerArg(usize, Side);

impl FromStr for AnswerArg {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let parts = text.split_once('=').and_then(|(n, side)| {
            let side = match side.trim() {
                "mine" => Side::Mine,
                "theirs" => Side::Theirs,
                _ => return None,
            };
            Some(Self(n.trim().parse().ok().filter(|&n| n > 0)?, side))
        });
        parts.ok_or_else(|| "give the number of a question and a side, such as 1=theirs".to_owned())
    }
}

impl MergeArgs {
    /// The answers given on the command line.
    fn answers(&self) -> Answers {
        let all = match (self.mine, self.theirs) {
            (true, _) => Some(Side::Mine),
            (_, true) => Some(Side::Theirs),
            _ => None,
        };
        let each = self.answer.iter().map(|&AnswerArg(n, side)| (n, side));
        Answers {
            all,
            each: each.collect(),
        }
    }
}

/// Merges the other copy if every question has an answer; otherwise lists the questions.
pub(crate) fn run(args: &MergeArgs, dir: &Path, output: &mut Output) -> Result<ExitCode, Failure> {
    if !Store::is_in(dir) {
        return Err(Failure::NoStash(dir.to_owned()));
    }
    let theirs = lines(&args.other)?;
    let reading = open::reading(dir, output)?;
    if let Some(why) = reading.store().and_then(Store::unsound) {
        return Err(Failure::ReadOnly(why));
    }
    let mut answers = args.answers();
    // Writing isn't blocked while the questions are being answered.
    let ours = lines(dir)?;
    let mut merged = merge(&ours, &theirs, &answers, Timestamp::now())?;
    if args.dry_run {
        known_answers(args, &merged)?;
        tell(
            &Telling::of(reading.state(), &ours, &merged),
            None,
            None,
            output,
        )?;
        return Ok(ExitCode::SUCCESS);
    }
    while merged.is_open() && Output::is_terminal() && !output.is_json() {
        let telling = Telling::of(reading.state(), &ours, &merged);
        if !ask(&telling, &mut answers, output)? {
            break;
        }
        merged = merge(&ours, &theirs, &answers, Timestamp::now())?;
    }
    let (writing, now, ()) = open::writing(dir, output, |_, _| Ok(()))?;
    // Nobody else can write from here on. Events since the questions may raise others.
    let ours = match writing.store().events() == ours.len() as u64 {
        true => ours,
        false => {
            let ours = lines(dir)?;
            merged = merge(&ours, &theirs, &answers, now)?;
            ours
        }
    };
    known_answers(args, &merged)?;
    let event = merged.event.as_ref();
    let before = writing.state().clone();
    let was = event.map(|event| was(&before, event));
    let (store, seq) = writing.commit_if(now, event, output)?;
    let moved = was.map(|was| Moved {
        was,
        state: store.state(),
    });
    let telling = Telling::of(&before, &ours, &merged);
    tell(&telling, seq, moved.as_ref(), output)?;
    if merged.is_open() && output.is_json() {
        let why = "Nothing changed: the questions need answers. Give --answer N=mine|theirs for each, or --mine or --theirs for all.";
        output.note("questions_open", why);
    }
    Ok(match merged.is_open() {
        true => ExitCode::FAILURE,
        false => ExitCode::SUCCESS,
    })
}

/// The result of a merge, with everything needed to describe it.
struct Telling<'a> {
    states: [&'a State; 2],
    ours: &'a [Line],
    merged: &'a Merged,
}

/// A past change: when, by whom, and what.
struct Did {
    time: Timestamp,
    by: Option<Who>,
    what: String,
}

impl<'a> Telling<'a> {
    fn of(state: &'a State, ours: &'a [Line], merged: &'a Merged) -> Self {
        Self {
            states: [state, &merged.theirs],
            ours,
            merged,
        }
    }

    fn find(&self, id: EventId) -> Option<&'a Fact> {
        self.merged.new.iter().find(|fact| fact.id == id)
    }

    fn fact(&self, fact: &Fact) -> Did {
        Did {
            time: fact.time,
            by: fact.by.clone(),
            what: text::merge::deed(&self.merged.theirs, fact, |id| self.find(id)),
        }
    }

    /// The subject of a question, with the undone change if it is about one.
    fn about(&self, question: &Question) -> String {
        let about = text::merge::about(self.states, &question.subject);
        let Subject::Undone(id) = question.subject else {
            return about;
        };
        match self.did(id) {
            Some(did) => format!("{about}: {}", did.what),
            None => about,
        }
    }

    /// The last event that supports a side's claim.
    fn last(&self, claim: &Claim) -> Option<Did> {
        self.did(*claim.events.last()?)
    }

    /// The change made by an event of either side.
    fn did(&self, id: EventId) -> Option<Did> {
        if let Some(fact) = self.find(id) {
            return Some(self.fact(fact));
        }
        if let Some(line) = self.ours.iter().find(|line| line.id == id) {
            return Some(Did {
                time: line.time,
                by: line.by.clone(),
                what: text::history::act(self.states[0], &line.event.act),
            });
        }
        let mut carried = self.ours.iter().flat_map(|line| line.event.act.facts());
        let fact = carried.find(|fact| fact.id == id)?;
        Some(Did {
            time: fact.time,
            by: fact.by.clone(),
            what: text::merge::deed(self.states[0], fact, |_| None),
        })
    }
}

/// The current places, in words, of existing cards that an event moves.
fn was(state: &State, event: &Event) -> BTreeMap<CardId, String> {
    let elsewhere = event.changes.iter().filter_map(|change| match change {
        Change::Place {
            card,
            before: Some(before),
            after: Some(after),
        } if before.at != after.at => state.card(*card),
        _ => None,
    });
    elsewhere
        .map(|kept| (kept.card.id, text::places::place_of(state, kept)))
        .collect()
}

/// The existing cards that a merge moved.
struct Moved<'a> {
    /// Their former places.
    was: BTreeMap<CardId, String>,
    /// The stash after it.
    state: &'a State,
}

impl<'a> Moved<'a> {
    fn cards(&self) -> Vec<&'a CardState> {
        let cards = self.was.keys().filter_map(|&id| self.state.card(id));
        self.state.in_board_order(cards)
    }

    fn out(&self) -> Vec<CardOut> {
        let cards = self.cards().into_iter();
        cards
            .map(|kept| CardOut::of(text::export(self.state), kept))
            .collect()
    }

    fn tell(&self, output: &mut Output) -> Result<(), Failure> {
        if self.was.is_empty() {
            return Ok(());
        }
        output.line("In another place than before. Check these on the wall:")?;
        for kept in self.cards() {
            output.line(format!(
                "  {card}  {name}: {now}; it was {before}",
                card = self.state.card_name(kept),
                name = kept.card.name,
                now = text::places::place_of(self.state, kept),
                before = self.was.get(&kept.card.id).map_or("", String::as_str)
            ))?;
        }
        Ok(())
    }
}

/// Refuses answers to questions that weren't asked. While a question is open, its answer may raise
/// others.
fn known_answers(args: &MergeArgs, merged: &Merged) -> Result<(), Failure> {
    let asked = merged.questions.len();
    let unknown = args.answer.iter().find(|answer| answer.0 > asked);
    match unknown {
        Some(answer) if !merged.is_open() => Err(Failure::NoQuestion { n: answer.0, asked }),
        _ => Ok(()),
    }
}

/// The lines of a record in the form a merge needs.
fn lines(path: &Path) -> Result<Vec<Line>, Failure> {
    let entries = read_copy::<Event>(path)?;
    Ok(entries.into_iter().map(Line::from).collect())
}

/// Asks on the terminal for every missing answer. Returns false if the user gives up.
fn ask(telling: &Telling<'_>, answers: &mut Answers, output: &mut Output) -> Result<bool, Failure> {
    let questions = telling.merged.questions.iter();
    for question in questions.filter(|question| question.answer.is_none()) {
        print(telling, question, output)?;
        let later = side_name(question.later);
        output.line(format!(
            "  mine or theirs? (Enter: {later}, the later; q: stop)"
        ))?;
        output.flush()?;
        let mut line = String::new();
        if io::stdin().lock().read_line(&mut line)? == 0 {
            return Ok(false);
        }
        let side = match line.trim() {
            "" => question.later,
            "m" | "mine" => Side::Mine,
            "t" | "theirs" => Side::Theirs,
            "q" => return Ok(false),
            // Ask again, since a typo shouldn't end the merge.
            _ => return Ok(true),
        };
        answers.each.insert(question.n, side);
    }
    Ok(true)
}

const fn side_name(side: Side) -> &'static str {
    match side {
        Side::Mine => "mine",
        Side::Theirs => "theirs",
    }
}

fn tell(
    telling: &Telling<'_>,
    seq: Option<u64>,
    moved: Option<&Moved<'_>>,
    output: &mut Output,
) -> Result<(), Failure> {
    let merged = telling.merged;
    let count = merged.new.len();
    let to_count = telling.cards(&merged.to_count);
    let without_hook = telling.cards(&merged.without_hook);
    let mut split_twice = telling.cards(&merged.split_twice);
    split_twice.sort_unstable();
    split_twice.dedup();
    let left_out: Vec<Did> = (merged.left_out.iter())
        .filter_map(|&id| Some(telling.fact(telling.find(id)?)))
        .collect();
    if output.is_json() {
        let questions = merged.questions.iter();
        output.object(&MergeAnswer {
            merged: count,
            questions: questions.map(|of| telling.question(of)).collect(),
            applied: seq.is_some(),
            event: seq,
            cards: moved.map(Moved::out).unwrap_or_default(),
            left_out: left_out.into_iter().map(|of| of.what).collect(),
            to_count,
            without_hook,
            split_twice,
        })?;
        return Ok(());
    }
    let changes = one_or_many(count, "change", "changes");
    if count == 0 {
        output.line("Nothing new in the other copy.")?;
    } else if seq.is_some() {
        output.line(format!("Merged {count} {changes} of the other copy."))?;
    } else {
        output.line(format!(
            "The other copy has {count} {changes} this one lacks:"
        ))?;
    }
    let now = Timestamp::now();
    for fact in &merged.new {
        let did = telling.fact(fact);
        output.line(format_args!("  {}", did.sentence(now)))?;
    }
    if let Some(moved) = moved {
        moved.tell(output)?;
    }
    if !left_out.is_empty() {
        output.line("Left out, because their card, ring or board is gone:")?;
        for did in &left_out {
            output.line(format_args!("  {}", did.sentence(now)))?;
        }
    }
    if !without_hook.is_empty() {
        output.line(format!(
            "Without a hook now: {cards}. Choose one with homehook hang CARD HOOK, or plan a re-hang.",
            cards = without_hook.join(", ")
        ))?;
    }
    if !to_count.is_empty() {
        output.line(format!(
            "Used up on both sides, or counted differently. Count: {cards}",
            cards = to_count.join(", ")
        ))?;
    }
    if !split_twice.is_empty() {
        output.line(format!(
            "Split on both sides, so there are two of each now: {cards}. If only one was cut, rejoin the other.",
            cards = split_twice.join(", ")
        ))?;
    }
    tell_questions(telling, output)
}

/// Lists the questions, and how to answer the open ones.
fn tell_questions(telling: &Telling<'_>, output: &mut Output) -> Result<(), Failure> {
    let merged = telling.merged;
    if merged.questions.is_empty() {
        return Ok(());
    }
    output.line("Questions:")?;
    for question in &merged.questions {
        print(telling, question, output)?;
    }
    let mut open = merged.questions.iter().filter(|of| of.answer.is_none());
    if let Some(first) = open.next() {
        output.line(format!(
            "Nothing changed. Answer with --answer {n}={side} and so on for each, or \
             --mine or --theirs for all. Your answers may lead to more questions.",
            n = first.n,
            side = side_name(first.later)
        ))?;
    }
    Ok(())
}

impl Did {
    /// `25 Nov 14:05  Used 3 lengths of card 1, by laptop`
    fn sentence(&self, now: Timestamp) -> String {
        let by = self.by.as_ref().map(|by| format!(", by {by}"));
        let at = plain::at(self.time, now);
        format!("{at}  {}{}", self.what, by.unwrap_or_default())
    }
}

fn print(telling: &Telling<'_>, question: &Question, output: &mut Output) -> Result<(), Failure> {
    let now = Timestamp::now();
    let about = telling.about(question);
    output.line(format_args!("{:>3}. {about}", question.n))?;
    for side in [Side::Mine, Side::Theirs] {
        let last = telling.last(question.claim(side)).map(|did| {
            let by = did.by.map(|by| format!(" by {by}")).unwrap_or_default();
            format!(" ({}{by}: {})", plain::at(did.time, now), did.what)
        });
        let later = if question.later == side {
            ", the later"
        } else {
            ""
        };
        let answer = if question.answer == Some(side) {
            " <- taken"
        } else {
            ""
        };
        output.line(format_args!(
            "       {}: {}{}{later}{answer}",
            side_name(side),
            text::merge::claim(telling.states, question, side),
            last.unwrap_or_default()
        ))?;
    }
    Ok(())
}

impl Telling<'_> {
    fn cards(&self, ids: &[CardId]) -> Vec<String> {
        let named = ids.iter().filter_map(|&id| {
            let mut states = self.states.into_iter();
            states.find_map(|state| Some(state.card_name(state.card(id)?)))
        });
        named.collect()
    }

    fn question(&self, question: &Question) -> QuestionOut {
        let side = |side: Side| {
            let claim = question.claim(side);
            let last = self.last(claim);
            ClaimOut {
                what: text::merge::claim(self.states, question, side),
                time: last.as_ref().map(|did| did.time),
                by: last.as_ref().and_then(|did| did.by.clone()),
                did: last.map(|did| did.what),
            }
        };
        QuestionOut {
            n: question.n,
            name: question.name(),
            about: self.about(question),
            mine: side(Side::Mine),
            theirs: side(Side::Theirs),
            later: question.later.into(),
            answer: question.answer.map(SideOut::from),
        }
    }
}
