//! `homehook undo` and `redo`.

use std::path::Path;

use jiff::Timestamp;
use serde_json::{Value, json};

use super::failure::Failure;
use super::open;
use super::output::Output;
use crate::language::{say, word};
use crate::stash::refusal::Refusal;
use crate::stash::words::act_in_words;

/// Takes back the last `count` changes, or as many as there are.
pub fn undo(count: u32, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let mut keeper = open::writing(dir, output, |_| Err(Refusal::NothingToUndo))?;
    let mut done = Vec::new();
    while done.len() < count as usize {
        // The names are known before the change is taken back, perhaps not after.
        let last = keeper.history().last_done();
        let words = last.map(|past| act_in_words(keeper.state(), &past.act));
        let Some(words) = words else { break };
        let seq = keeper.undo(Timestamp::now())?;
        done.push((seq, words));
    }
    if done.is_empty() {
        return Err(Refusal::NothingToUndo.into());
    }
    tell("undone", word!("Taken back"), &done, count, output)
}

/// Does again the last `count` changes that were taken back, or as many as there are.
pub fn redo(count: u32, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let mut keeper = open::writing(dir, output, |_| Err(Refusal::NothingToRedo))?;
    let mut done = Vec::new();
    while done.len() < count as usize {
        let Some(past) = keeper.history().last_undone() else {
            break;
        };
        let act = past.act.clone();
        let seq = keeper.redo(Timestamp::now())?;
        done.push((seq, act_in_words(keeper.state(), &act)));
    }
    if done.is_empty() {
        return Err(Refusal::NothingToRedo.into());
    }
    tell("redone", word!("Done again"), &done, count, output)
}

/// Says what was done, newest first.
fn tell(
    field: &str,
    words: &str,
    done: &[(u64, String)],
    count: u32,
    output: &mut Output,
) -> Result<(), Failure> {
    if output.is_json() {
        let list: Vec<Value> = done
            .iter()
            .map(|(seq, what)| json!({"event": seq, "what": what}))
            .collect();
        output.object(&json!({ field: list }))?;
        return Ok(());
    }
    for (_, what) in done {
        output.line(format_args!("{words}: {what}."))?;
    }
    if done.len() < count as usize {
        output.line(say!(
            "There is nothing more: {done} of {count}.",
            done = done.len(),
            count
        ))?;
    }
    Ok(())
}
