//! Exact computation on plain data: fewest moves, order of work, colour.

pub mod colour;
pub mod family;
