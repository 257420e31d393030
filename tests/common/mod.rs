//! A stash folder, and the program run on it.

#![allow(dead_code, reason = "each test file uses its part")]

use std::fs;
use std::io::{Write, stderr};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use serde_json::Value;
use tempfile::TempDir;

/// The outcome of a run of the program.
#[derive(Debug)]
pub struct Run {
    pub code: i32,
    pub out: String,
    pub err: String,
}

impl Run {
    /// The error object on standard error.
    pub fn error(&self) -> Value {
        let value: Value = serde_json::from_str(self.err.trim()).unwrap_or_else(|_| {
            panic!("not one JSON object on standard error: {self:?}");
        });
        value["error"].clone()
    }
}

/// A temporary folder with a stash in it.
pub struct Stash {
    pub folder: TempDir,
}

impl Stash {
    pub fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        Self { folder }
    }

    /// The stash folder, which the program creates.
    pub fn dir(&self) -> PathBuf {
        self.folder.path().join("stash")
    }

    pub fn record(&self) -> Vec<u8> {
        fs::read(self.dir().join("record.jsonl")).unwrap()
    }

    /// Writes a file next to the stash.
    pub fn file(&self, name: &str, bytes: impl AsRef<[u8]>) -> String {
        let path = self.folder.path().join(name);
        fs::write(&path, bytes).unwrap();
        path.to_str().unwrap().to_owned()
    }

    pub fn run(&self, args: &[&str]) -> Run {
        run_in(&self.dir(), args)
    }

    /// Runs a command that must succeed.
    pub fn ok(&self, args: &[&str]) -> String {
        let run = self.run(args);
        assert_eq!(run.code, 0, "{args:?}: {run:?}");
        run.out
    }

    /// Runs a command that must succeed, with `--json`, and parses its single object.
    pub fn json(&self, args: &[&str]) -> Value {
        let mut args = args.to_vec();
        args.push("--json");
        let out = self.ok(&args);
        assert_eq!(out.lines().count(), 1, "{args:?}: {out}");
        serde_json::from_str(&out).unwrap()
    }
}

pub fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_homehook"));
    command.env_remove("HOMEHOOK_STASH").stdin(Stdio::null());
    command
}

pub fn run_in(dir: &Path, args: &[&str]) -> Run {
    finish(program().arg("--stash").arg(dir).args(args))
}

pub fn finish(command: &mut Command) -> Run {
    let output = command.output().unwrap();
    Run {
        code: output.status.code().unwrap(),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

/// Whether the long runs were requested, with `HOMEHOOK_LONG=1`.
pub fn is_long() -> bool {
    std::env::var_os("HOMEHOOK_LONG").is_some_and(|value| value != "0")
}

/// Whether to run a test that depends on something external. Unless requested, it is skipped with a
/// note. If requested where it can't run, it fails: it must never look as if it had passed.
pub fn is_asked_for(test: &str, needs: &str, can_run: impl FnOnce() -> bool) -> bool {
    if is_long() {
        assert!(can_run(), "{test} can't run here: it needs {needs}");
        return true;
    }
    // Bypasses the test harness, which hides the output of passing tests.
    let _ = writeln!(
        stderr(),
        "{test} not run: it needs {needs}. Set HOMEHOOK_LONG=1."
    );
    false
}

/// Whether system calls can be traced here.
pub fn can_trace() -> bool {
    let tried = Command::new("strace")
        .args(["-f", "-o", "/dev/null", "-e", "trace=write", "true"])
        .stderr(Stdio::null())
        .status();
    tried.is_ok_and(|status| status.success())
}
