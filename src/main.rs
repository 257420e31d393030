//! The `homehook` binary: passes the command line to the library.

use std::process::ExitCode;

fn main() -> ExitCode {
    homehook::cli::main()
}
