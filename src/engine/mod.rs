//! Exact computation on plain data: fewest moves, order of work, thread need, colour.

pub mod chain;
pub mod colour;
pub mod distance;
pub mod family;
pub mod hue;
pub mod instance;
mod line;
pub mod need;
pub mod newcomer;
pub mod plans;
pub mod room;
pub mod rows;
#[cfg(test)]
mod testing;
pub mod work;
