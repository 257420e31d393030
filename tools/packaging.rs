//! Writes the extra files of a package: completions for five shells, and manual pages.
//!
//! `cargo run --example packaging -- DIR`. Everything is generated from the definition of the
//! command line.

use std::error::Error;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::{env, fs};

use clap::ValueEnum;
use clap_complete::{Shell, generate_to};

/// Writes the files, and returns their paths.
fn write(dir: &Path) -> Result<Vec<PathBuf>, Box<dyn Error>> {
    let (shells, pages) = (dir.join("completions"), dir.join("man"));
    fs::create_dir_all(&shells)?;
    fs::create_dir_all(&pages)?;
    let mut written = Vec::new();
    for shell in Shell::value_variants() {
        let mut command = homehook::cli::command();
        written.push(generate_to(*shell, &mut command, "homehook", &shells)?);
    }
    clap_mangen::generate_to(homehook::cli::command(), &pages)?;
    for page in fs::read_dir(&pages)? {
        written.push(page?.path());
    }
    written.sort();
    Ok(written)
}

fn main() -> ExitCode {
    let Some(dir) = env::args_os().nth(1) else {
        eprintln!("usage: packaging DIR");
        return ExitCode::from(2);
    };
    match write(Path::new(&dir)) {
        Ok(written) => {
            for file in written {
                println!("{}", file.display());
            }
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}
