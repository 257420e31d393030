//! Writes the extra files of a package where an installation has them: completions, manual pages, the
//! desktop entry and the handbook.
//!
//! `cargo run --example packaging -- DIR` fills `DIR/share`, to be copied to `/usr/share` or its like.
//! Completions and manual pages are generated from the definition of the command line.

use std::error::Error;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::{env, fs};

use clap_complete::{Shell, generate_to};

/// The folder and the file name that each shell looks for. Elvish and PowerShell have no common folder.
const COMPLETIONS: [(Shell, &str, &str); 5] = [
    (Shell::Bash, "bash-completion/completions", "homehook"),
    (Shell::Zsh, "zsh/site-functions", "_homehook"),
    (Shell::Fish, "fish/vendor_completions.d", "homehook.fish"),
    (Shell::Elvish, "homehook/completions", "homehook.elv"),
    (Shell::PowerShell, "homehook/completions", "homehook.ps1"),
];

/// The folders of the project, whose files are installed as they are, and theirs in `share`.
const COPIED: [(&str, &str); 3] = [
    ("assets/homehook.desktop", "applications"),
    ("assets/handbook", "doc/homehook/handbook"),
    ("CHANGELOG.md", "doc/homehook"),
];

/// The folder, made if it isn't there.
fn folder(path: PathBuf) -> std::io::Result<PathBuf> {
    fs::create_dir_all(&path)?;
    Ok(path)
}

/// Writes the files, and returns their paths.
fn write(dir: &Path) -> Result<Vec<PathBuf>, Box<dyn Error>> {
    let share = dir.join("share");
    let mut written = Vec::new();
    for (shell, place, name) in COMPLETIONS {
        let place = folder(share.join(place))?;
        let file = generate_to(shell, &mut homehook::cli::command(), "homehook", &place)?;
        let wanted = place.join(name);
        fs::rename(file, &wanted)?;
        written.push(wanted);
    }

    let pages = folder(share.join("man/man1"))?;
    clap_mangen::generate_to(homehook::cli::command(), &pages)?;
    for page in fs::read_dir(&pages)? {
        written.push(page?.path());
    }

    let project = Path::new(env!("CARGO_MANIFEST_DIR"));
    for (what, place) in COPIED {
        let (from, place) = (project.join(what), folder(share.join(place))?);
        let files = if from.is_dir() {
            fs::read_dir(&from)?
                .map(|entry| Ok(entry?.path()))
                .collect::<std::io::Result<Vec<_>>>()?
        } else {
            vec![from]
        };
        for file in files {
            let to = place.join(file.file_name().unwrap_or_default());
            fs::copy(&file, &to)?;
            written.push(to);
        }
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
