//! `homehook schema`: the JSON Schemas of the record and of every answer with `--json`.

use serde::Serialize;

use super::failure::Failure;
use super::output::Output;

/// A schema: its name, a description, and its text.
type Kept = (&'static str, &'static str, &'static str);

/// Defines the schema of each answer: its name, a description, and the type from which the tests
/// generate it.
macro_rules! schemas {
    ($($name:literal, $title:literal, $of:ty;)*) => {
        /// Every schema.
        const SCHEMAS: &[Kept] = &[
            (
                "record",
                "a line of the record",
                include_str!("../../assets/schema/record.schema.json"),
            ),
            $((
                $name,
                $title,
                include_str!(concat!("../../assets/schema/output/", $name, ".schema.json")),
            ),)*
        ];

        /// The schema of each answer, generated from its type.
        #[cfg(test)]
        fn generated() -> Vec<(&'static str, String)> {
            vec![$(($name, tests::schema_of::<$of>($title)),)*]
        }
    };
}

schemas! {
    "board", "board new, block, unblock, reserve, unreserve, cards-per-hook, order, resize",
        super::change::Made<super::board::ToHang>;
    "board-show", "board show and demo --plain", super::board::BoardsShown;
    "bought", "bought", super::buy::Bought;
    "buy", "buy", super::buy::BuyList<'_>;
    "change", "hold, release, effort, range mark and rehang --give-up",
        super::change::Made<super::change::Nothing>;
    "check", "check", super::check::Checked;
    "check-accept-loss", "check --accept-loss", super::check::LossAccepted;
    "check-backups", "check --restore", super::check::Backups;
    "check-restore", "check --restore DATE or FILE", super::check::Restored;
    "check-salvage", "check --salvage DIR", super::check::Salvaged;
    "error", "a line on standard error: what went wrong, or a notice beside the answer",
        super::output::Aside<'_>;
    "export", "export json: what it writes", crate::exchange::export::Stash;
    "export-file", "export csv FILE and export json FILE", super::export::ExportFile;
    "family", "family order, add, rename, remove, assign, unassign",
        super::change::Made<super::family::Families>;
    "family-list", "family list", super::family::FamilyList;
    "find", "find", super::find::Found;
    "guide", "guide SUBJECT", super::guide::GuidePage;
    "guide-list", "guide without a subject", super::guide::GuideList;
    "hang", "hang", super::cards::Hung;
    "history", "history", super::history::History;
    "hold-list", "hold without a card", super::cards::HoldList<'_>;
    "import-cards", "import cards", super::import::cards::CardsImported<'_>;
    "import-key", "import key", super::import::key::KeyImported<'_>;
    "import-matches", "import matches", super::import::matches::MatchesImported<'_>;
    "import-range", "import range", super::import::RangeImported<'_>;
    "keyboard", "keyboard", super::screen::Keyboard;
    "merge", "merge", super::merge::MergeAnswer;
    "need", "need", super::need::NeedAnswer;
    "print", "print labels, hook-labels, ring, board, buy", super::print::Printed;
    "range-list", "range list", super::range::RangeList;
    "range-put-up", "range put-up", super::range::PutUpShown;
    "redo", "redo", super::history::Redone;
    "rehang", "rehang", super::rehang::Plans;
    "rehang-steps", "rehang --apply N and rehang --go-on", super::rehang::StepsDone;
    "remove", "remove", super::cards::Removed;
    "ring", "ring take, return, hang, take-down, close, open, order, status; missing, elsewhere, found",
        super::ring::RingChanged;
    "ring-fabric", "ring fabric", super::pattern::FabricShown<'_>;
    "ring-key", "ring key", super::pattern::KeyShown<'_>;
    "ring-list", "ring list", super::ring::RingList<'_>;
    "ring-progress", "ring progress and ring swap", super::pattern::ProgressSet<'_>;
    "ring-pull", "ring pull", super::pull::PullAnswer<'_>;
    "rollcall", "rollcall FILE", super::rollcall::Compared<'_>;
    "rollcall-walk", "rollcall without a file", super::rollcall::Walk;
    "schema-list", "schema without a name", Schemas;
    "thread", "use, cut, count, ring split, ring rejoin", super::thread::ThreadChanged;
    "undo", "undo", super::history::Undone;
    "want", "want", super::range::WantList;
    "where", "where", super::find::Away;
}

/// The schemas there are.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct Schemas {
    /// Each schema.
    schemas: Vec<SchemaOut>,
}

/// A schema.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct SchemaOut {
    /// Its name.
    name: &'static str,
    /// What it describes.
    title: &'static str,
}

/// Prints one schema, or lists all of them.
pub(crate) fn run(name: Option<&str>, output: &mut Output) -> Result<(), Failure> {
    if let Some(name) = name {
        let found = SCHEMAS.iter().find(|(known, ..)| *known == name);
        let (.., text) = found.ok_or_else(|| Failure::UnknownSchema(name.to_owned()))?;
        output.raw(text)?;
        return Ok(());
    }
    let schemas = SCHEMAS.iter();
    let schemas = schemas.map(|&(name, title, _)| SchemaOut { name, title });
    if output.is_json() {
        output.object(&Schemas {
            schemas: schemas.collect(),
        })?;
        return Ok(());
    }
    for SchemaOut { name, title } in schemas {
        output.line(format_args!("{name:<17}  {title}"))?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;
    use std::fs;
    use std::path::Path;

    use clap::CommandFactory as _;
    use expect_test::expect_file;
    use schemars::generate::SchemaSettings;
    use schemars::transform::RecursiveTransform;
    use schemars::{JsonSchema, Schema};
    use serde_json::Value;

    use super::*;
    use crate::cli::args::Cli;

    /// Every command with the schemas of its answers; none if it has no JSON answer.
    const ANSWERS: &[(&str, &[&str])] = &[
        ("board block", &["board"]),
        ("board reserve", &["board"]),
        ("board cards-per-hook", &["board"]),
        ("board new", &["board"]),
        ("board order", &["board"]),
        ("board resize", &["board"]),
        ("board show", &["board-show"]),
        ("board unblock", &["board"]),
        ("board unreserve", &["board"]),
        ("bought", &["bought"]),
        ("buy", &["buy"]),
        (
            "check",
            &[
                "check",
                "check-accept-loss",
                "check-backups",
                "check-restore",
                "check-salvage",
            ],
        ),
        ("demo", &["board-show"]),
        ("remove", &["remove"]),
        ("elsewhere", &["ring"]),
        ("export", &["export", "export-file"]),
        ("family add", &["family"]),
        ("family assign", &["family"]),
        ("family list", &["family-list"]),
        ("family order", &["family"]),
        ("family remove", &["family"]),
        ("family rename", &["family"]),
        ("family unassign", &["family"]),
        ("find", &["find"]),
        ("found", &["ring"]),
        ("guide", &["guide", "guide-list"]),
        ("hang", &["hang"]),
        ("import key", &["import-key"]),
        ("import matches", &["import-matches"]),
        ("import range", &["import-range"]),
        ("import cards", &["import-cards"]),
        ("keyboard", &["keyboard"]),
        ("history", &["history"]),
        ("merge", &["merge"]),
        ("missing", &["ring"]),
        ("need", &["need"]),
        ("hold", &["change", "hold-list"]),
        ("print board", &["print"]),
        ("print buy", &["print"]),
        ("print pocket", &["print"]),
        ("print labels", &["print"]),
        ("print hook-labels", &["print"]),
        ("print ring", &["print"]),
        ("redo", &["redo"]),
        ("rehang", &["rehang", "rehang-steps", "change"]),
        ("ring close", &["ring"]),
        ("ring split", &["thread"]),
        ("ring fabric", &["ring-fabric"]),
        ("ring key", &["ring-key"]),
        ("ring list", &["ring-list"]),
        ("ring rejoin", &["thread"]),
        ("ring open", &["ring"]),
        ("ring hang", &["ring"]),
        ("ring progress", &["ring-progress"]),
        ("ring pull", &["ring-pull"]),
        ("ring return", &["ring"]),
        ("ring take", &["ring"]),
        ("ring take-down", &["ring"]),
        ("ring order", &["ring"]),
        ("ring status", &["ring"]),
        ("ring swap", &["ring-progress"]),
        ("range list", &["range-list"]),
        ("range mark", &["change"]),
        ("range put-up", &["range-put-up"]),
        ("cut", &["thread"]),
        ("count", &["thread"]),
        ("want", &["want"]),
        ("rollcall", &["rollcall", "rollcall-walk"]),
        ("schema", &["schema-list"]),
        ("undo", &["undo"]),
        ("release", &["change"]),
        ("use", &["thread"]),
        ("effort", &["change"]),
        ("where", &["where"]),
    ];

    /// Collects the names of the commands without subcommands.
    fn leaves(command: &clap::Command, above: &str, found: &mut BTreeSet<String>) {
        for below in command.get_subcommands() {
            let name = format!("{above} {}", below.get_name()).trim().to_owned();
            if below.has_subcommands() {
                leaves(below, &name, found);
            } else {
                found.insert(name);
            }
        }
    }

    #[test]
    fn every_command_has_its_schemas_and_every_schema_its_command() {
        let mut commands = BTreeSet::new();
        leaves(&Cli::command(), "", &mut commands);
        let told: BTreeSet<String> = ANSWERS.iter().map(|(name, _)| (*name).into()).collect();
        assert_eq!(commands, told);
        let of_commands: BTreeSet<&str> = ANSWERS
            .iter()
            .flat_map(|(_, schemas)| *schemas)
            .copied()
            .collect();
        let apart = ["record", "error"];
        let all: BTreeSet<&str> = of_commands.into_iter().chain(apart).collect();
        let kept: BTreeSet<&str> = SCHEMAS.iter().map(|(name, ..)| *name).collect();
        assert_eq!(all, kept);
    }

    /// The schema of an answer, closed to fields it doesn't name.
    pub(super) fn schema_of<T: JsonSchema>(title: &str) -> String {
        let close = |schema: &mut Schema| {
            if schema.get("properties").is_some() {
                schema.insert("additionalProperties".to_owned(), Value::from(false));
            }
            // `minimum` and `maximum` say enough about numbers, and answers have no defaults.
            schema.remove("format");
            schema.remove("default");
            if let Some(text) = schema.get("description").and_then(Value::as_str) {
                let words: Vec<&str> = text.split_whitespace().collect();
                schema.insert("description".to_owned(), Value::from(words.join(" ")));
            }
        };
        let settings = SchemaSettings::draft2020_12().for_serialize();
        let settings = settings.with_transform(RecursiveTransform(close));
        let mut schema = settings.into_generator().into_root_schema_for::<T>();
        schema.insert("title".to_owned(), Value::from(title));
        short(&serde_json::to_string_pretty(&schema).unwrap())
    }

    /// Joins each part that fits on one line, so that changes of a schema are easy to read.
    fn short(pretty: &str) -> String {
        let mut lines: Vec<String> = Vec::new();
        let mut open = Vec::new();
        for line in pretty.lines() {
            lines.push(line.to_owned());
            if line.ends_with(['{', '[']) {
                open.push(lines.len() - 1);
            } else if line.trim_start().starts_with(['}', ']']) {
                let at = open.pop().unwrap();
                let parts = lines[at + 1..].iter().map(|line| line.trim());
                let one = lines[at].clone() + &parts.collect::<Vec<_>>().join(" ");
                // The last of them is the closing bracket.
                let one = one.replace(" }", "}").replace(" ]", "]");
                if one.len() <= 110 {
                    lines.truncate(at);
                    lines.push(one);
                }
            }
        }
        lines.join("\n") + "\n"
    }

    /// After an intended change: `UPDATE_EXPECT=1 cargo test --lib cli::schema`.
    #[test]
    fn every_schema_matches_the_type_of_its_answer() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("assets/schema/output");
        for (name, text) in generated() {
            expect_file![folder.join(format!("{name}.schema.json"))].assert_eq(&text);
        }
        let files = fs::read_dir(folder).unwrap().count();
        assert_eq!(files, generated().len());
    }
}
