//! Exact computation on plain data: fewest moves, order of work, colour.

pub mod chain;
pub mod instance;
#[cfg(test)]
mod testing;
