//! The full-screen board.
