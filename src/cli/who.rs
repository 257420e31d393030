//! The name that changes are written down with.

use std::env;

use crate::model::who::{ParseNameError, Who};

/// What was said about the name; empty turns it off.
#[derive(Debug, Clone)]
pub struct ByArg(Option<Who>);

impl ByArg {
    /// Reads what was typed.
    pub fn read(text: &str) -> Result<Self, ParseNameError> {
        match Who::new(text) {
            Ok(who) => Ok(Self(Some(who))),
            Err(ParseNameError::Empty) => Ok(Self(None)),
            Err(other) => Err(other),
        }
    }
}

/// The name to write down: the one that was given, else the one of the login, if there is any.
pub fn of(given: Option<&ByArg>) -> Option<Who> {
    match given {
        Some(ByArg(by)) => by.clone(),
        None => ["USER", "USERNAME"]
            .into_iter()
            .filter_map(env::var_os)
            .find_map(|login| Who::cleaned(&login.to_string_lossy())),
    }
}
