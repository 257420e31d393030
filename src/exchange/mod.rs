//! Reading and writing files people already have: CSV and JSON.

pub mod table;
