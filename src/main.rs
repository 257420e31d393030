//! The `homehook` binary: hands the command line to the library.

fn main() {}
