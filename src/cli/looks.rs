//! How the screen looks, as far as the command line says so.

use std::ffi::OsString;

use clap::{Args, ValueEnum};

use crate::tui::theme::{Depth, Ground, Theme, Wish};

/// How many colours to use.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Colours {
    /// What the terminal says it can show.
    // The empty name: a variable that is set to nothing says nothing.
    #[value(alias = "")]
    Auto,
    /// Any colour.
    True,
    /// The 256 of xterm.
    #[value(name = "256")]
    Indexed,
    /// The sixteen of the terminal, and no swatches.
    #[value(name = "16")]
    Sixteen,
    /// None at all.
    None,
}

/// What background the colours are for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Background {
    /// What the terminal says in COLORFGBG, else dark.
    #[value(alias = "")]
    Auto,
    /// Light text on dark.
    Dark,
    /// Dark text on light.
    Light,
}

/// How the screen looks.
#[derive(Debug, Clone, Args)]
pub struct LooksArgs {
    /// How many colours the screen uses: auto, true, 256, 16 or none.
    // Ids of their own: a global argument must not be called as one of any command.
    #[arg(
        id = "colours of the screen",
        long = "colour",
        alias = "color",
        global = true,
        value_name = "HOW",
        env = "HOMEHOOK_COLOUR",
        default_value = "auto",
        hide_default_value = true,
        hide_possible_values = true
    )]
    pub colours: Colours,
    /// The background the colours of the screen are for: auto, dark or light.
    #[arg(
        id = "background of the screen",
        long = "theme",
        global = true,
        value_name = "GROUND",
        env = "HOMEHOOK_THEME",
        default_value = "auto",
        hide_default_value = true,
        hide_possible_values = true
    )]
    pub background: Background,
    /// A file with keys of your own for the screen; keys.json in the usual folder of settings if not
    /// given, and "" for none.
    #[arg(long, global = true, value_name = "FILE", env = "HOMEHOOK_KEYS")]
    pub keys: Option<OsString>,
}

impl LooksArgs {
    /// What is wished for.
    const fn wish(&self) -> Wish {
        Wish {
            depth: match self.colours {
                Colours::Auto => None,
                Colours::True => Some(Depth::True),
                Colours::Indexed => Some(Depth::Indexed),
                Colours::Sixteen => Some(Depth::Sixteen),
                Colours::None => Some(Depth::None),
            },
            ground: match self.background {
                Background::Auto => None,
                Background::Dark => Some(Ground::Dark),
                Background::Light => Some(Ground::Light),
            },
        }
    }

    /// The theme, with what is not said taken from the environment.
    pub fn theme(&self) -> Theme {
        self.wish().theme(|name| std::env::var(name).ok())
    }
}
