//! `homehook merge`.

use std::collections::BTreeMap;
use std::io::{self, BufRead};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::str::FromStr;

use clap::Args;
use jiff::Timestamp;
use serde_json::{Value, json};

use super::failure::Failure;
use super::output::Output;
use super::{open, time};
use crate::exchange::export::CardOut;
use crate::journal::read_copy;
use crate::journal::store::Store;
use crate::language::{one_or_many, say, word};
use crate::model::ids::CardId;
use crate::stash::change::Change;
use crate::stash::event::Event;
use crate::stash::join::{Answers, Conflict, Joined, Line, Side, Version, join};
use crate::stash::state::{Kept, State};

/// Which copy, and whose way what is in conflict goes.
#[derive(Debug, Args)]
pub struct MergeArgs {
    /// The other copy: a stash folder, or the file of a record under any name.
    pub other: PathBuf,
    /// Where both changed the same, keep it as it is here.
    #[arg(long, conflicts_with = "theirs")]
    pub mine: bool,
    /// Where both changed the same, take it as it is there.
    #[arg(long)]
    pub theirs: bool,
    /// The answer to conflict N of the list.
    #[arg(long, value_name = "N=mine|theirs", num_args = 1..)]
    pub answer: Vec<AnswerArg>,
    /// Show what would come in and what is in conflict, and change nothing.
    #[arg(long)]
    pub dry_run: bool,
}

/// An answer to one conflict.
#[derive(Debug, Clone, Copy)]
pub struct AnswerArg(usize, Side);

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
        parts.ok_or_else(|| {
            word!("give the number of a conflict and a side, such as 1=theirs").to_owned()
        })
    }
}

/// Brings the other copy's changes in, where every conflict has an answer; else lists them.
pub fn run(args: &MergeArgs, dir: &Path, output: &mut Output) -> Result<ExitCode, Failure> {
    if !Store::is_in(dir) {
        return Err(Failure::NoStash(dir.to_owned()));
    }
    let theirs = lines(&args.other)?;
    let reading = open::reading(dir, output)?;
    if let Some(why) = reading.store().and_then(Store::unsound) {
        return Err(Failure::ReadOnly(why));
    }
    let mut answers = Answers {
        all: match (args.mine, args.theirs) {
            (true, _) => Some(Side::Mine),
            (_, true) => Some(Side::Theirs),
            _ => None,
        },
        each: args
            .answer
            .iter()
            .map(|&AnswerArg(n, side)| (n, side))
            .collect(),
    };
    if args.dry_run {
        let joined = join(&lines(dir)?, &theirs, &answers)?;
        known_answers(args, &joined)?;
        tell(&joined, None, None, output)?;
        return Ok(ExitCode::SUCCESS);
    }
    // Nobody is kept from writing while the questions are answered.
    let ours = lines(dir)?;
    let mut joined = join(&ours, &theirs, &answers)?;
    while joined.is_open() && Output::is_terminal() && !output.is_json() {
        if !ask(&joined, &mut answers, output)? {
            break;
        }
        joined = join(&ours, &theirs, &answers)?;
    }
    let (writing, now, ()) = open::writing(dir, output, |_, _| Ok(()))?;
    // Nobody else writes from here on. What came since the questions may ask others.
    if writing.store().events() != ours.len() as u64 {
        joined = join(&lines(dir)?, &theirs, &answers)?;
    }
    known_answers(args, &joined)?;
    let event = joined.event.as_ref();
    let was = event.map(|event| was(writing.state(), event));
    let (store, seq) = writing.commit_if(now, event, output)?;
    let moved = was.map(|was| Moved {
        was,
        state: store.state(),
    });
    tell(&joined, seq, moved.as_ref(), output)?;
    Ok(match joined.is_open() {
        true => ExitCode::FAILURE,
        false => ExitCode::SUCCESS,
    })
}

/// Where the cards are, in words, that are here and that an event puts somewhere else.
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
        .map(|kept| (kept.card.id, state.place_in_words(kept)))
        .collect()
}

/// The cards that were here before and are somewhere else by a merge.
struct Moved<'a> {
    /// Where each was.
    was: BTreeMap<CardId, String>,
    /// The stash after it.
    state: &'a State,
}

impl<'a> Moved<'a> {
    fn cards(&self) -> Vec<&'a Kept> {
        let cards = self.was.keys().filter_map(|&id| self.state.card(id));
        self.state.in_board_order(cards)
    }

    fn out(&self) -> Vec<CardOut> {
        let cards = self.cards().into_iter();
        cards.map(|kept| CardOut::of(self.state, kept)).collect()
    }

    fn tell(&self, output: &mut Output) -> Result<(), Failure> {
        if self.was.is_empty() {
            return Ok(());
        }
        output.line(word!(
            "Somewhere else than it was here; see that the wall is so too:"
        ))?;
        for kept in self.cards() {
            output.line(say!(
                "  {card}  {name}: {now}; it was {before}",
                card = self.state.card_name(kept),
                name = kept.card.name,
                now = self.state.place_in_words(kept),
                before = self.was.get(&kept.card.id).map_or("", String::as_str)
            ))?;
        }
        Ok(())
    }
}

/// Refuses an answer to what is not asked. Where a question is open, others may follow from its answer.
fn known_answers(args: &MergeArgs, joined: &Joined) -> Result<(), Failure> {
    let asked = joined.conflicts.len();
    let unknown = args.answer.iter().find(|answer| answer.0 > asked);
    match unknown {
        Some(answer) if !joined.is_open() => Err(Failure::NoConflict { n: answer.0, asked }),
        _ => Ok(()),
    }
}

/// The lines of a record, as a join looks at them.
fn lines(path: &Path) -> Result<Vec<Line>, Failure> {
    let entries = read_copy::<Event>(path)?.into_iter();
    let lines = entries.map(|(entry, sum)| Line {
        seq: entry.seq,
        time: entry.time,
        by: entry.by,
        sum,
        event: entry.event,
    });
    Ok(lines.collect())
}

/// Asks on the terminal for every answer that is wanting. False where the person would rather not.
fn ask(joined: &Joined, answers: &mut Answers, output: &mut Output) -> Result<bool, Failure> {
    for conflict in joined
        .conflicts
        .iter()
        .filter(|conflict| conflict.answer.is_none())
    {
        print(conflict, output)?;
        let later = told_as(conflict.later);
        output.line(say!(
            "  mine or theirs? (Enter: {later}, the later; q: stop)",
            later
        ))?;
        output.flush()?;
        let mut line = String::new();
        if io::stdin().lock().read_line(&mut line)? == 0 {
            return Ok(false);
        }
        let side = match line.trim() {
            "" => conflict.later,
            "m" | "mine" => Side::Mine,
            "t" | "theirs" => Side::Theirs,
            "q" => return Ok(false),
            // Asked again, since a slip should not end it.
            _ => return Ok(true),
        };
        answers.each.insert(conflict.n, side);
    }
    Ok(true)
}

const fn told_as(side: Side) -> &'static str {
    match side {
        Side::Mine => "mine",
        Side::Theirs => "theirs",
    }
}

fn tell(
    joined: &Joined,
    seq: Option<u64>,
    moved: Option<&Moved<'_>>,
    output: &mut Output,
) -> Result<(), Failure> {
    let count = joined.taken.len();
    if output.is_json() {
        let conflicts: Vec<Value> = joined.conflicts.iter().map(as_json).collect();
        let object = json!({
            "merged": count,
            "conflicts": conflicts,
            "applied": seq.is_some(),
            "event": seq,
            "cards": moved.map(Moved::out).unwrap_or_default(),
        });
        output.object(&object)?;
        return Ok(());
    }
    let changes = one_or_many!(count, "change", "changes");
    if count == 0 {
        output.line(word!("There is nothing new in the other copy."))?;
    } else if seq.is_some() {
        output.line(say!(
            "Brought in {count} {changes} of the other copy.",
            count,
            changes
        ))?;
    } else {
        output.line(say!(
            "The other copy has {count} {changes} that are not here:",
            count,
            changes
        ))?;
    }
    let now = Timestamp::now();
    for taken in &joined.taken {
        let by = taken
            .by
            .as_ref()
            .map(|by| say!(", by {by}", by))
            .unwrap_or_default();
        let at = time::at(taken.time, now);
        output.line(format_args!("{:>5}  {at}  {}{by}", taken.seq, taken.what))?;
    }
    let open: Vec<&Conflict> = joined
        .conflicts
        .iter()
        .filter(|of| of.answer.is_none())
        .collect();
    if let Some(moved) = moved {
        moved.tell(output)?;
    }
    if joined.conflicts.is_empty() {
        return Ok(());
    }
    output.line(word!("Changed on both sides:"))?;
    for conflict in &joined.conflicts {
        print(conflict, output)?;
    }
    if let Some(first) = open.first() {
        output.line(say!(
            "Nothing was changed. Answer with --answer {n}={side} and so on for each, or \
             --mine or --theirs for all. What follows from the answers is asked then.",
            n = first.n,
            side = told_as(first.later)
        ))?;
    }
    Ok(())
}

fn print(conflict: &Conflict, output: &mut Output) -> Result<(), Failure> {
    let now = Timestamp::now();
    output.line(format_args!("{:>3}. {}", conflict.n, conflict.about))?;
    for (side, version) in [
        (Side::Mine, &conflict.mine),
        (Side::Theirs, &conflict.theirs),
    ] {
        let last = version.last.as_ref().map(|(at, by, what)| {
            let by = by
                .as_ref()
                .map(|by| say!(" by {by}", by))
                .unwrap_or_default();
            format!(" ({}{by}: {what})", time::at(*at, now))
        });
        let later = if conflict.later == side {
            word!(", the later")
        } else {
            ""
        };
        let answer = if conflict.answer == Some(side) {
            " <- taken"
        } else {
            ""
        };
        output.line(format_args!(
            "       {}: {}{}{later}{answer}",
            told_as(side),
            version.what,
            last.unwrap_or_default()
        ))?;
    }
    Ok(())
}

fn as_json(conflict: &Conflict) -> Value {
    let version = |version: &Version| {
        let last = version.last.as_ref();
        json!({
            "what": version.what,
            "time": last.map(|(time, _, _)| *time),
            "by": last.and_then(|(_, by, _)| by.clone()),
            "did": last.map(|(_, _, did)| did),
        })
    };
    json!({
        "n": conflict.n,
        "about": conflict.about,
        "mine": version(&conflict.mine),
        "theirs": version(&conflict.theirs),
        "later": told_as(conflict.later),
        "answer": conflict.answer.map(told_as),
    })
}
