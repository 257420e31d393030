//! The append-only record on disk.
