//! Exact computation on plain data: fewest moves, order of work, thread need, colours.

pub mod colour;
pub mod colour_families;
pub mod fewer_moves;
pub mod fewest_moves;
mod gap_cost;
pub mod instance;
mod layout;
pub mod move_nothing;
pub mod need;
pub mod pareto;
pub mod room;
pub mod schedule;
#[cfg(test)]
mod testing;
