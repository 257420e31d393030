//! What exists: ranges, cards, boards, rings, and the laws they keep.

pub mod colour;
