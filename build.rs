//! Gives the program a digest of its own rules: the source code that determines the state a record
//! makes. A snapshot taken by other rules is ignored.

use std::path::{Path, PathBuf};
use std::{env, fs, io};

/// The source of the stash's contents, the effects of events, and the formats of both.
const RULES: [&str; 3] = ["src/model", "src/stash", "src/journal"];

fn main() -> io::Result<()> {
    let mut files = Vec::new();
    for folder in RULES {
        println!("cargo:rerun-if-changed={folder}");
        collect(Path::new(folder), &mut files)?;
    }
    println!("cargo:rerun-if-changed=build.rs");
    files.sort();
    let version = env::var("CARGO_PKG_VERSION").unwrap_or_default();
    let mut digest = Fnv::new();
    digest.take(version.as_bytes());
    for file in files {
        digest.take(file.to_string_lossy().as_bytes());
        digest.take(&fs::read(file)?);
    }
    println!("cargo:rustc-env=HOMEHOOK_RULES={:016x}", digest.0);
    Ok(())
}

fn collect(folder: &Path, files: &mut Vec<PathBuf>) -> io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            collect(&path, files)?;
        } else {
            files.push(path);
        }
    }
    Ok(())
}

/// 64-bit FNV-1a (Fowler, Noll, Vo; constants of RFC 9923, from memory). It distinguishes builds
/// and isn't meant to resist attacks.
struct Fnv(u64);

impl Fnv {
    fn new() -> Self {
        Self(0xcbf2_9ce4_8422_2325)
    }

    fn take(&mut self, bytes: &[u8]) {
        let length = (bytes.len() as u64).to_le_bytes();
        for byte in length.iter().chain(bytes) {
            self.0 = (self.0 ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3);
        }
    }
}
