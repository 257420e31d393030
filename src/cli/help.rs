//! The layout of `--help`: commands in groups, or a command's own options, then examples, and the
//! global options last.

use clap::Command;

use crate::tui::wrap;

/// The commands by topic.
const GROUPS: &[(&str, &[&str])] = &[
    (
        "The wall",
        &[
            "board", "rehang", "hang", "hold", "release", "effort", "family", "rollcall",
        ],
    ),
    (
        "Cards",
        &[
            "find",
            "where",
            "use",
            "cut",
            "count",
            "missing",
            "elsewhere",
            "found",
            "remove",
            "range",
            "want",
        ],
    ),
    ("Projects", &["ring", "need", "buy", "bought"]),
    ("Paper and files", &["import", "export", "print"]),
    ("The record", &["history", "undo", "redo", "check", "merge"]),
    ("More", &["demo", "guide", "keyboard", "schema", "help"]),
];

/// The global options, shown at the end of every help text.
const GLOBAL: &str = "
  --stash <DIR>  The stash folder
  --by <NAME>    The name to record with each change
  --json         Answer with one JSON object, for scripts
  The options of the screen: homehook --help";

/// The width of the help in columns.
const WIDTH: usize = 80;

/// Examples for each command without subcommands.
const EXAMPLES: &[(&str, &[&str])] = &[
    (
        "board new",
        &["homehook board new \"Workroom wall\" --rows 12 --columns 20"],
    ),
    (
        "board block",
        &["homehook board block A20 --why \"lamp bracket\""],
    ),
    ("board unblock", &["homehook board unblock A20"]),
    ("board reserve", &["homehook board reserve C03"]),
    ("board unreserve", &["homehook board unreserve C03"]),
    (
        "board cards-per-hook",
        &["homehook board cards-per-hook C03 2"],
    ),
    ("board order", &["homehook board order family"]),
    (
        "board resize",
        &["homehook board resize \"Workroom wall\" --rows 13"],
    ),
    (
        "board show",
        &["homehook board show", "homehook board show --grid"],
    ),
    (
        "import cards",
        &[
            "homehook import cards my-threads.csv --dry-run",
            "homehook import cards bought.csv --purchase",
            "homehook import cards plain.csv --no-header --columns number,name,-,hex",
        ],
    ),
    (
        "import range",
        &["homehook import range lantern-hill.csv --range \"Lantern Hill\""],
    ),
    ("import matches", &["homehook import matches matches.csv"]),
    (
        "import key",
        &["homehook import key harbour.csv --project \"Harbour at Dusk\""],
    ),
    (
        "find",
        &[
            "homehook find 447",
            "homehook find \"Lantern Hill:447\"",
            "homehook find slate",
        ],
    ),
    ("where", &["homehook where"]),
    (
        "ring take",
        &["homehook ring take \"Harbour at Dusk\" 447 451"],
    ),
    (
        "ring return",
        &[
            "homehook ring return \"Harbour at Dusk\" 447",
            "homehook ring return \"Harbour at Dusk\" --all",
        ],
    ),
    ("ring hang", &["homehook ring hang \"Harbour at Dusk\" L20"]),
    (
        "ring take-down",
        &["homehook ring take-down \"Harbour at Dusk\""],
    ),
    ("ring close", &["homehook ring close \"Harbour at Dusk\""]),
    (
        "ring split",
        &["homehook ring split \"Harbour at Dusk\" 447 --lengths 2 --strands 3"],
    ),
    (
        "ring rejoin",
        &["homehook ring rejoin \"Harbour at Dusk\" 447"],
    ),
    ("ring open", &["homehook ring open \"Kingfisher Pool\""]),
    (
        "ring pull",
        &[
            "homehook ring pull \"Kingfisher Pool\"",
            "homehook ring pull \"Kingfisher Pool\" --take",
        ],
    ),
    ("ring key", &["homehook ring key \"Kingfisher Pool\""]),
    (
        "ring swap",
        &[
            "homehook ring swap \"Kingfisher Pool\" 336 --with 337",
            "homehook ring swap \"Kingfisher Pool\" 336 --back",
        ],
    ),
    (
        "ring order",
        &["homehook ring order \"Kingfisher Pool\" \"Harbour at Dusk\""],
    ),
    (
        "ring status",
        &["homehook ring status \"Kingfisher Pool\" \"waiting for linen\""],
    ),
    (
        "ring progress",
        &[
            "homehook ring progress \"Harbour at Dusk\" --done 40",
            "homehook ring progress \"Harbour at Dusk\" 447 --lengths 2",
        ],
    ),
    (
        "ring fabric",
        &["homehook ring fabric \"Harbour at Dusk\" --count 28 --working 18in"],
    ),
    ("ring list", &["homehook ring list"]),
    (
        "use",
        &["homehook use 447 --project \"Harbour at Dusk\" --lengths 1"],
    ),
    (
        "cut",
        &[
            "homehook cut 447 --skeins 1",
            "homehook cut 447 --lengths 4 --lot K7",
        ],
    ),
    ("count", &["homehook count 447 --lengths 6 --skeins 1"]),
    ("range list", &["homehook range list"]),
    (
        "range put-up",
        &[
            "homehook range put-up \"Lantern Hill\" --skein 8m --strands 6",
            "homehook range put-up \"Fen Perle\" --kind perle --size 5",
        ],
    ),
    ("range mark", &["homehook range mark 447 --discontinued"]),
    (
        "want",
        &[
            "homehook want",
            "homehook want 47 171 --skeins 2",
            "homehook want 47 --no-longer",
        ],
    ),
    ("missing", &["homehook missing 447"]),
    (
        "elsewhere",
        &[
            "homehook elsewhere 447 --note \"drawer in the hall\"",
            "homehook elsewhere 447 --with \"a friend\" --until 2026-11-01",
        ],
    ),
    ("found", &["homehook found 447"]),
    (
        "remove",
        &["homehook remove 447 --why \"given to a friend\""],
    ),
    ("family list", &["homehook family list"]),
    (
        "family order",
        &[
            "homehook family order blues greens",
            "homehook family order --by-colour",
        ],
    ),
    ("family add", &["homehook family add heathers"]),
    ("family rename", &["homehook family rename heathers moors"]),
    ("family remove", &["homehook family remove heathers"]),
    (
        "family assign",
        &["homehook family assign heathers 553 555"],
    ),
    ("family unassign", &["homehook family unassign 553 555"]),
    (
        "hang",
        &["homehook hang 447 C03 --dry-run", "homehook hang 447 C03"],
    ),
    (
        "hold",
        &[
            "homehook hold",
            "homehook hold 447",
            "homehook hold --family whites",
        ],
    ),
    (
        "release",
        &["homehook release 447", "homehook release --all"],
    ),
    ("effort", &["homehook effort 447 --as 5"]),
    (
        "rehang",
        &[
            "homehook rehang",
            "homehook rehang --plan 1",
            "homehook rehang --apply 1 --steps 10",
            "homehook rehang --go-on",
        ],
    ),
    (
        "rollcall",
        &[
            "homehook rollcall --rows A-C",
            "homehook rollcall seen.csv --apply",
        ],
    ),
    (
        "need",
        &[
            "homehook need",
            "homehook need \"Kingfisher Pool\" \"Harbour at Dusk\"",
        ],
    ),
    (
        "buy",
        &[
            "homehook buy",
            "homehook buy \"Kingfisher Pool\" --csv buy.csv",
        ],
    ),
    (
        "bought",
        &[
            "homehook bought \"Kingfisher Pool\"",
            "homehook bought 447=2 431=1:K7",
        ],
    ),
    (
        "export",
        &["homehook export csv stash.csv", "homehook export json"],
    ),
    (
        "print labels",
        &[
            "homehook print labels --new",
            "homehook print labels 447 451 --to labels.html",
        ],
    ),
    (
        "print hook-labels",
        &["homehook print hook-labels --rows A-C --size 18x8"],
    ),
    (
        "print ring",
        &["homehook print ring \"Harbour at Dusk\" --card 60x90"],
    ),
    ("print board", &["homehook print board --landscape"]),
    ("print pocket", &["homehook print pocket --to pocket.html"]),
    ("print buy", &["homehook print buy \"Kingfisher Pool\""]),
    (
        "history",
        &["homehook history --last 5", "homehook history 447"],
    ),
    (
        "merge",
        &[
            "homehook merge ../laptop/homehook --dry-run",
            "homehook merge ../laptop/homehook --answer 1=mine 2=theirs",
        ],
    ),
    (
        "check",
        &[
            "homehook check",
            "homehook check --restore 2026-03-01",
            "homehook check --salvage rescued",
        ],
    ),
    ("undo", &["homehook undo", "homehook undo 3"]),
    ("redo", &["homehook redo"]),
    ("demo", &["homehook demo", "homehook demo --plain"]),
    ("guide", &["homehook guide", "homehook guide rehang"]),
    (
        "keyboard",
        &["homehook keyboard", "homehook keyboard --json"],
    ),
    ("schema", &["homehook schema", "homehook schema find"]),
];

/// The command line with its help laid out. Only computed when help is requested.
pub(crate) fn laid_out(command: Command) -> Command {
    let groups = groups(&command);
    let mut command = with_long_text(command, &format!("{groups}{{all-args}}"));
    // Adds the global options to every command.
    command.build();
    command
        .mut_subcommands(|below| with_examples(below, "").hide(true))
        .override_usage("homehook [OPTIONS] [COMMAND]")
}

/// Puts the long description of a command and its subcommands at the top of its own help, leaving
/// lists of commands with one line each.
fn with_long_text(command: Command, end: &str) -> Command {
    let below = "{all-args}{after-help}";
    let command = command.mut_subcommands(|command| with_long_text(command, below));
    let Some(text) = command.get_long_about().map(ToString::to_string) else {
        return command;
    };
    let paragraphs = text.split("\n\n").map(|text| wrap(text, WIDTH).join("\n"));
    let text = paragraphs.collect::<Vec<_>>().join("\n\n");
    command
        .help_template(format!("{text}\n\n{{usage-heading}} {{usage}}\n\n{end}"))
        .long_about(None::<&str>)
}

/// The commands in their groups, one line each.
fn groups(command: &Command) -> String {
    let styles = command.get_styles();
    let (header, literal) = (styles.get_header(), styles.get_literal());
    // `help` itself is built in.
    let help = "Print this text, or that of a command";
    let mut text = String::new();
    for (title, names) in GROUPS {
        text.push_str(&format!("{header}{title}:{header:#}\n"));
        for name in *names {
            let about = command.find_subcommand(name).and_then(Command::get_about);
            let about = about.map_or(help.to_owned(), ToString::to_string);
            text.push_str(&format!("  {literal}{name:<9}{literal:#}  {about}\n"));
        }
        text.push('\n');
    }
    text
}

/// Adds examples to a command and its subcommands, and moves the global options to the end.
fn with_examples(command: Command, above: &str) -> Command {
    let name = format!("{above} {}", command.get_name());
    let name = name.trim();
    let command = command
        .mut_args(|arg| {
            let is_global = arg.is_global_set();
            arg.hide(is_global)
        })
        .mut_subcommands(|below| with_examples(below, name));
    let header = *command.get_styles().get_header();
    let examples = EXAMPLES.iter().find(|(of, _)| *of == name);
    let mut foot = String::new();
    if let Some((_, lines)) = examples {
        foot.push_str(&format!("{header}Examples:{header:#}\n"));
        for line in *lines {
            foot.push_str(&format!("  {line}\n"));
        }
        foot.push('\n');
    }
    foot.push_str(&format!(
        "{header}Options of every command:{header:#}{GLOBAL}"
    ));
    command.after_help(foot)
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use clap::error::ErrorKind;

    use super::*;
    use crate::cli::command;

    /// The words of an example, split like in a shell.
    fn words(line: &str) -> Vec<String> {
        shell_words::split(line).unwrap()
    }

    fn leaves(command: &Command, above: &str, found: &mut BTreeSet<String>) {
        for below in command.get_subcommands() {
            let name = format!("{above} {}", below.get_name()).trim().to_owned();
            if below.has_subcommands() {
                leaves(below, &name, found);
            } else {
                found.insert(name);
            }
        }
    }

    fn help_of(name: &str) -> String {
        let args = format!("homehook {name} --help");
        let error = laid_out(command()).try_get_matches_from(args.split_whitespace());
        let error = error.unwrap_err();
        assert_eq!(error.kind(), ErrorKind::DisplayHelp, "{name}");
        error.to_string()
    }

    #[test]
    fn every_command_is_in_one_group() {
        let grouped: Vec<&str> = GROUPS
            .iter()
            .flat_map(|(_, names)| *names)
            .copied()
            .collect();
        let once: BTreeSet<&str> = grouped.iter().copied().collect();
        assert_eq!(grouped.len(), once.len());
        let mut all = command();
        all.build();
        let all: BTreeSet<&str> = all.get_subcommands().map(Command::get_name).collect();
        assert_eq!(once, all);
        let help = help_of("");
        for line in help.lines() {
            let command = line.trim().split(' ').next().unwrap_or_default();
            assert!(!once.contains(command) || line.len() <= 80, "{line}");
        }
    }

    #[test]
    fn every_command_has_valid_examples_that_fit_on_a_line() {
        let mut all = BTreeSet::new();
        leaves(&command(), "", &mut all);
        let with: BTreeSet<String> = EXAMPLES.iter().map(|(name, _)| (*name).into()).collect();
        assert_eq!(all, with);
        for (name, lines) in EXAMPLES {
            for line in *lines {
                assert!(line.starts_with(&format!("homehook {name}")), "{line}");
                assert!(line.len() <= 76, "{line}");
                let taken = command().try_get_matches_from(words(line));
                assert!(taken.is_ok(), "{line}: {}", taken.unwrap_err());
            }
        }
    }

    #[test]
    fn own_options_come_first_then_examples_then_global_options() {
        let help = help_of("rehang");
        let at = |text: &str| help.find(text).unwrap_or_else(|| panic!("{text}: {help}"));
        assert!(
            at("--apply") < at("--go-on") && at("--go-on") < at("Examples:"),
            "{help}"
        );
        assert!(at("Examples:") < at("Options of every command:"), "{help}");
        assert!(at("Options of every command:") < at("--stash"), "{help}");
        assert!(!help.contains("HOMEHOOK_"), "{help}");
        assert!(help_of("").contains("HOMEHOOK_STASH"));
    }
}
