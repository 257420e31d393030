//! The user's preferences for the screen, and the file that stores them.

use serde::{Deserialize, Serialize};

use super::theme::{Depth, Ground, Signs, Theme};

/// The user's preferences; `None` leaves a setting to the terminal.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Wish {
    /// The colour depth.
    #[serde(rename = "colour", skip_serializing_if = "Option::is_none")]
    pub depth: Option<Depth>,
    /// The background.
    #[serde(rename = "theme", skip_serializing_if = "Option::is_none")]
    pub ground: Option<Ground>,
    /// The characters for lines and blocks.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub signs: Option<Signs>,
}

impl Wish {
    /// Parses the output of [`Self::to_json`].
    ///
    /// # Errors
    /// Describes what is wrong with the text.
    pub fn read(text: &str) -> Result<Self, String> {
        serde_json::from_str(text).map_err(|wrong| wrong.to_string())
    }

    /// The text of the preferences file.
    #[must_use]
    pub fn to_json(self) -> String {
        let text = serde_json::to_string_pretty(&self).unwrap_or_default();
        text + "\n"
    }

    /// These preferences, falling back to another set.
    const fn or(self, other: Self) -> Self {
        Self {
            depth: either(self.depth, other.depth),
            ground: either(self.ground, other.ground),
            signs: either(self.signs, other.signs),
        }
    }
}

const fn either<T: Copy>(one: Option<T>, other: Option<T>) -> Option<T> {
    match one {
        Some(_) => one,
        None => other,
    }
}

/// Settings for this run, saved preferences and the terminal's capabilities. The first to set a
/// value wins.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Looks {
    /// Set by an option, a Homehook variable or `NO_COLOR`, and not changed on the screen since.
    pub said: Wish,
    /// Chosen on the screen, now or earlier.
    pub kept: Wish,
    /// Detected from the terminal.
    pub terminal: Theme,
}

impl Looks {
    /// Combines settings given to Homehook, saved preferences, and an environment; `var` looks up a
    /// variable. Settings given to Homehook beat `NO_COLOR`, as no-color.org recommends for
    /// per-program settings. `auto` leaves each of its parts to the terminal, ignoring saved
    /// preferences.
    #[must_use]
    pub fn new(said: Wish, kept: Wish, auto: Auto, var: impl Fn(&str) -> Option<String>) -> Self {
        let refused = Depth::is_refused(&var).then_some(Depth::None);
        let terminal = Theme {
            depth: Depth::detect(&var),
            ground: Ground::detect(&var),
            signs: Signs::detect(&var),
        };
        let auto = Wish {
            depth: auto.depth.then_some(terminal.depth),
            ground: auto.ground.then_some(terminal.ground),
            signs: None,
        };
        let refused = Wish {
            depth: refused,
            ..Wish::default()
        };
        Self {
            said: said.or(auto).or(refused),
            kept,
            terminal,
        }
    }

    /// The looks of a terminal with this theme, without other settings.
    #[must_use]
    pub fn of(terminal: Theme) -> Self {
        Self {
            said: Wish::default(),
            kept: Wish::default(),
            terminal,
        }
    }

    /// The effective preferences.
    #[must_use]
    pub const fn wanted(&self) -> Wish {
        self.said.or(self.kept)
    }

    /// The resulting theme.
    #[must_use]
    pub fn theme(&self) -> Theme {
        let wanted = self.wanted();
        Theme {
            depth: wanted.depth.unwrap_or(self.terminal.depth),
            ground: wanted.ground.unwrap_or(self.terminal.ground),
            signs: wanted.signs.unwrap_or(self.terminal.signs),
        }
    }

    /// Whether threads have no swatches although nobody asked for that.
    #[must_use]
    pub fn is_short_of_colours(&self) -> bool {
        let few = matches!(self.terminal.depth, Depth::Sixteen | Depth::None);
        few && self.wanted().depth.is_none()
    }
}

/// The settings left to the terminal on request.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Auto {
    /// The colour depth.
    pub depth: bool,
    /// The background.
    pub ground: bool,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wish(depth: Depth, ground: Ground, signs: Signs) -> Wish {
        Wish {
            depth: Some(depth),
            ground: Some(ground),
            signs: Some(signs),
        }
    }

    fn theme(said: Wish, kept: Wish, auto: Auto, vars: &[(&str, &str)]) -> Theme {
        let var = |name: &str| {
            let found = vars.iter().find(|(known, _)| *known == name);
            found.map(|(_, value)| (*value).to_owned())
        };
        Looks::new(said, kept, auto, var).theme()
    }

    #[test]
    fn options_beat_saved_looks_and_saved_looks_beat_the_terminal() {
        let vars = [("TERM", "linux"), ("COLORFGBG", "0;15"), ("LANG", "C")];
        let none = Wish::default();
        let told = Theme {
            depth: Depth::Sixteen,
            ground: Ground::Light,
            signs: Signs::Ascii,
        };
        let of = |wish: Wish| Theme {
            depth: wish.depth.unwrap(),
            ground: wish.ground.unwrap(),
            signs: wish.signs.unwrap(),
        };
        let auto = Auto::default();
        assert_eq!(theme(none, none, auto, &vars), told);
        let kept = wish(Depth::True, Ground::Dark, Signs::Unicode);
        assert_eq!(theme(none, kept, auto, &vars), of(kept));
        let said = wish(Depth::Indexed, Ground::Light, Signs::Ascii);
        assert_eq!(theme(said, kept, auto, &vars), of(said));
        // A setting left to the terminal ignores the saved value.
        let all = Auto {
            depth: true,
            ground: true,
        };
        let left = theme(none, kept, all, &vars);
        assert_eq!((left.depth, left.ground), (told.depth, told.ground));
    }

    #[test]
    fn no_color_beats_saved_looks_but_not_options() {
        let some = |depth| Wish {
            depth: Some(depth),
            ..Wish::default()
        };
        let (kept, vars) = (some(Depth::True), [("NO_COLOR", "1"), ("TERM", "xterm")]);
        let depth = |said| theme(said, kept, Auto::default(), &vars).depth;
        assert_eq!(depth(Wish::default()), Depth::None);
        assert_eq!(depth(some(Depth::Indexed)), Depth::Indexed);
    }

    #[test]
    fn saved_looks_read_back_and_invalid_files_are_refused() {
        let all = wish(Depth::Indexed, Ground::Light, Signs::Ascii);
        for kept in [all, Wish::default()] {
            assert_eq!(Wish::read(&kept.to_json()), Ok(kept));
        }
        let text = r#"{"colour":"256","theme":"light","signs":"ascii"}"#;
        assert_eq!(Wish::read(text), Ok(all));
        for wrong in ["", "[]", "{", r#"{"colour":"blue"}"#, r#"{"color":"16"}"#] {
            assert!(Wish::read(wrong).is_err(), "{wrong}");
        }
    }
}
