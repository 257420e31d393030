//! Which command does what.

use std::process::ExitCode;

use super::args::{Cli, Command};
use super::failure::Failure;
use super::output::Output;
use super::{
    away, board, buy, check, demo, export, family, find, hang, hold, import, keys, log, merge,
    need, open, print, rehang, remove, ring, rollcall, schema, screen, thread, undo,
};

/// Does what the command line says.
pub fn run(cli: Cli, output: &mut Output) -> Result<ExitCode, Failure> {
    let command = match cli.command {
        Some(Command::Demo { plain }) => return demo::run(plain, &cli.looks, output),
        Some(Command::Keyboard) => {
            keys::run(output)?;
            return Ok(ExitCode::SUCCESS);
        }
        Some(Command::Schema { name }) => {
            schema::run(name.as_deref(), output)?;
            return Ok(ExitCode::SUCCESS);
        }
        other => other,
    };
    let dir = open::folder(cli.stash)?;
    let Some(command) = command else {
        return screen::run(&dir, &cli.looks, output);
    };
    match command {
        Command::Board(command) => board::run(command, &dir, output)?,
        Command::Import(command) => import::run(command, &dir, output)?,
        Command::Find { text } => find::run(&text.join(" "), &dir, output)?,
        Command::Where => away::run(&dir, output)?,
        Command::Ring(command) => ring::run(command, &dir, output)?,
        Command::Use(args) => thread::use_thread(&args, &dir, output)?,
        Command::Missing { cards } => ring::missing(&cards, &dir, output)?,
        Command::Elsewhere { cards, note } => ring::elsewhere(&cards, &note, &dir, output)?,
        Command::Remove(args) => remove::run(&args, &dir, output)?,
        Command::Found { card } => ring::found(&card, &dir, output)?,
        Command::Family(command) => family::run(command, &dir, output)?,
        Command::Hang(args) => hang::run(&args, &dir, output)?,
        Command::Hold(args) => hold::hold(&args, &dir, output)?,
        Command::Release(args) => hold::release(&args, &dir, output)?,
        Command::Effort(args) => hold::effort(&args, &dir, output)?,
        Command::Rehang(args) => rehang::run(&args, &dir, output)?,
        Command::Rollcall(args) => rollcall::run(&args, &dir, output)?,
        Command::Need { projects } => need::run(&projects, &dir, output)?,
        Command::Buy {
            projects,
            csv,
            force,
        } => buy::run(&projects, csv.as_deref(), force, &dir, output)?,
        Command::Bought { what } => buy::bought(&what, &dir, output)?,
        Command::Export { form, file, force } => {
            export::run(form, file.as_deref(), force, &dir, output)?;
        }
        Command::Print(command) => print::run(&command, &dir, output)?,
        Command::History(args) => log::run(&args, &dir, output)?,
        Command::Merge(args) => return merge::run(&args, &dir, output),
        Command::Check(args) => return check::run(&args, &dir, output),
        Command::Undo { count } => undo::undo(count, &dir, output)?,
        Command::Redo { count } => undo::redo(count, &dir, output)?,
        Command::Demo { .. } | Command::Keyboard | Command::Schema { .. } => {}
    }
    Ok(ExitCode::SUCCESS)
}
