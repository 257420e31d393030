//! `homehook need`: whether the thread for projects is there.

mod json;

use std::path::Path;

use super::failure::Failure;
use super::open;
use super::output::Output;
use crate::model::ids::RingId;
use crate::model::ring::Ring;
use crate::model::thread::Strands;
use crate::stash::kit::check::{
    Availability, Kit, Line, ProjectKit, ThreadLine, check, rings_in_use, rings_named,
};
use crate::stash::kit::low::low;
use crate::stash::kit::substitute::{Substitute, WARN_ABOVE};
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::text;

/// The name of a project.
pub fn project_name(state: &State, ring: RingId) -> String {
    state
        .ring(ring)
        .map_or_else(String::new, |ring| ring.project.to_string())
}

/// The projects named, or those in use; then it is said which are left out.
pub fn asked_for<'a>(
    state: &'a State,
    projects: &[String],
    output: &Output,
) -> Result<Vec<&'a Ring>, Refusal> {
    if !projects.is_empty() {
        return rings_named(state, projects);
    }
    let rings = rings_in_use(state)?;
    if let Some(hanging) = text::thread::hanging_projects(state) {
        output.note(format!(
            "left out, hanging up: {hanging}; name a project to ask for it"
        ));
    }
    Ok(rings)
}

/// Checks the projects named, or those in use.
pub fn run(projects: &[String], dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let reading = open::reading(dir, output)?;
    let state = reading.state();
    let rings = asked_for(state, projects, output)?;
    let kit = check(state, &rings);
    if output.is_json() {
        output.object(&json::answer(state, &kit))?;
        return Ok(());
    }
    say(state, &kit, output)
}

fn say(state: &State, kit: &Kit<'_>, output: &mut Output) -> Result<(), Failure> {
    for (at, project) in kit.projects.iter().enumerate() {
        if at > 0 {
            output.line("")?;
        }
        heading(project, output)?;
        for line in &project.lines {
            if line.line.notion().is_some() {
                let notion = text::thread::notion(line.line);
                output.line(format_args!("  {:<2} {notion}", line.line.symbol))?;
            }
            for (at, thread) in line.threads.iter().enumerate() {
                output.line(thread_in_words(state, line, at, thread))?;
                for found in &thread.substitutes {
                    output.line(format_args!(
                        "       {}",
                        text::thread::substitute(state, found)
                    ))?;
                }
                if thread.standing.is_missing() && thread.substitutes.is_empty() {
                    let why = match state.thread_colour(thread.thread) {
                        None => "its colour is not known; a range list of its range would tell",
                        Some(_) => "no other colour with thread to spare has its colour noted",
                    };
                    output.line(format!("       nothing to stand in: {why}"))?;
                }
            }
        }
        output.line(sum_in_words(project))?;
        for low in low(state, project.ring) {
            output.line(format!(
                "  Low: {low}.",
                low = text::thread::low(state, &low)
            ))?;
        }
    }
    let far = |line: &ThreadLine<'_>| line.substitutes.iter().any(Substitute::is_far);
    if kit.projects.iter().any(|p| p.threads().any(far)) {
        output.line("")?;
        output.line(format!(
            "A stand-in that differs by more than {WARN_ABOVE} (CIEDE2000) is another colour to \
         the eye: about 1 is just seen side by side. Match by the thread in daylight."
        ))?;
    }
    let to_buy = |line: &ThreadLine<'_>| {
        line.lacking > Strands(0) || line.standing == Availability::NotOwned
    };
    if kit.projects.iter().any(|p| p.threads().any(to_buy)) {
        let names = kit.projects.iter();
        let names = names.map(|project| format!(" \"{}\"", project.ring.project));
        output.line(format!(
            "What to buy: homehook buy{names}",
            names = names.collect::<String>()
        ))?;
    }
    Ok(())
}

fn heading(project: &ProjectKit<'_>, output: &mut Output) -> Result<(), Failure> {
    let name = &project.ring.project;
    output.line(name)?;
    output.line(format!(
        "  Reckoned for {assumptions}.",
        assumptions = text::thread::assumptions(&project.assumed)
    ))?;
    if project.ring.fabric.is_none() {
        output.line(format!(
            "  Nobody has said what it is stitched on: homehook ring fabric \"{name}\" --count \
         14 --over 1 --strands 2"
        ))?;
    }
    Ok(())
}

/// `  X  Lantern Hill 310  lamp black   needs 5 lengths (1000 full)   enough: at home on hook C07`; the
/// symbol of a blend stands before its first thread.
fn thread_in_words(state: &State, line: &Line<'_>, at: usize, of: &ThreadLine<'_>) -> String {
    let mut needs = of.need.map_or_else(
        || "stitches not counted".to_owned(),
        |need| {
            format!(
                "needs {amount}, {metres:.1} m ({stitches})",
                amount = text::thread::amount(need.strands, of.put_up),
                metres = need.metres,
                stitches = text::thread::stitches(line.line)
            )
        },
    );
    if of.need.is_some() && state.colour_is_variegated(of.thread.stitched()) {
        needs.push_str(", variegated: crosses one by one");
    }
    if let Some(used) = text::thread::used(of.used, of.left, of.put_up) {
        needs.push_str(&format!(", {used}"));
    }
    let symbol = if at == 0 {
        line.line.symbol.as_str()
    } else {
        "+"
    };
    format!(
        "  {symbol:<2} {}  {}   {needs}   {}",
        text::thread::key_thread(state, of.thread),
        state.thread_name(of.thread),
        text::thread::availability(state, of)
    )
}

fn sum_in_words(project: &ProjectKit<'_>) -> String {
    let count = |is: fn(Availability) -> bool| {
        let threads = project.threads();
        threads.filter(|thread| is(thread.standing)).count()
    };
    let mut text = format!(
        "  {count} enough, {count2} to split off, {count3} short, {count4} missing",
        count = count(|s| matches!(
            s,
            Availability::Done | Availability::OnRing | Availability::Home
        )),
        count2 = count(|s| s == Availability::Split),
        count3 = count(|s| s == Availability::Short),
        count4 = count(Availability::is_missing)
    );
    let uncounted = count(|s| s == Availability::Uncounted);
    if uncounted > 0 {
        text.push_str(&format!(", {uncounted} owned but not counted in the key"));
    }
    text.push('.');
    text
}
