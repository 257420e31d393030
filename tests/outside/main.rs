//! The program against published or independent results: standards, reference instances, other
//! solvers, and rules of its own for the whole source.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

#[path = "../common/mod.rs"]
mod common;
#[path = "../common/json_schema.rs"]
mod json_schema;
#[path = "../common/source.rs"]
mod source;

mod colour_standards;
mod csv_standard;
mod habits;
mod hue_families;
mod layers;
mod licences;
mod purchases;
mod reference_instances;
mod schema;
mod sheets;
mod solvers;
