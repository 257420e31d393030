//! `homehook schema`: the JSON Schemas of the record and of every answer with `--json`.

use serde_json::{Value, json};

use super::failure::Failure;
use super::output::Output;

macro_rules! schemas {
    ($($name:literal in $file:literal,)*) => {
        &[$(($name, include_str!(concat!("../../assets/schema/", $file, ".schema.json"))),)*]
    };
}

/// Each schema by its name.
const SCHEMAS: &[(&str, &str)] = schemas! {
    "record" in "record",
    "board" in "output/board",
    "board-show" in "output/board-show",
    "bought" in "output/bought",
    "buy" in "output/buy",
    "change" in "output/change",
    "check" in "output/check",
    "check-accept-loss" in "output/check-accept-loss",
    "check-backups" in "output/check-backups",
    "check-restore" in "output/check-restore",
    "check-salvage" in "output/check-salvage",
    "remove" in "output/remove",
    "error" in "output/error",
    "export" in "output/export",
    "export-file" in "output/export-file",
    "family" in "output/family",
    "find" in "output/find",
    "hang" in "output/hang",
    "import-key" in "output/import-key",
    "import-range" in "output/import-range",
    "import-cards" in "output/import-cards",
    "keyboard" in "output/keyboard",
    "history" in "output/history",
    "merge" in "output/merge",
    "need" in "output/need",
    "hold-list" in "output/hold-list",
    "print" in "output/print",
    "redo" in "output/redo",
    "rehang" in "output/rehang",
    "rehang-steps" in "output/rehang-steps",
    "ring" in "output/ring",
    "ring-fabric" in "output/ring-fabric",
    "ring-key" in "output/ring-key",
    "ring-list" in "output/ring-list",
    "ring-progress" in "output/ring-progress",
    "ring-pull" in "output/ring-pull",
    "rollcall" in "output/rollcall",
    "rollcall-walk" in "output/rollcall-walk",
    "schema-list" in "output/schema-list",
    "thread" in "output/thread",
    "undo" in "output/undo",
    "where" in "output/where",
};

/// Prints one schema, or says which there are.
pub fn run(name: Option<&str>, output: &mut Output) -> Result<(), Failure> {
    if let Some(name) = name {
        let found = SCHEMAS.iter().find(|(known, _)| *known == name);
        let (_, text) = found.ok_or_else(|| Failure::UnknownSchema(name.to_owned()))?;
        output.raw(text)?;
        return Ok(());
    }
    let titles = SCHEMAS.iter().map(|(name, text)| (*name, title(text)));
    if output.is_json() {
        let schemas: Vec<Value> = titles
            .map(|(name, title)| json!({"name": name, "title": title}))
            .collect();
        output.object(&json!({ "schemas": schemas }))?;
        return Ok(());
    }
    for (name, title) in titles {
        output.line(format_args!("{name:<14}  {title}"))?;
    }
    Ok(())
}

/// What a schema says it describes; the tests see to it that each says so.
fn title(text: &str) -> String {
    let schema = serde_json::from_str::<Value>(text).unwrap_or_default();
    schema["title"].as_str().unwrap_or_default().to_owned()
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use clap::CommandFactory as _;

    use super::*;
    use crate::cli::args::Cli;

    /// Every command, with the schemas of what it answers; none where it answers in no JSON.
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
        ("family list", &["family"]),
        ("family order", &["family"]),
        ("family remove", &["family"]),
        ("family rename", &["family"]),
        ("family unassign", &["family"]),
        ("find", &["find"]),
        ("found", &["ring"]),
        ("hang", &["hang"]),
        ("import key", &["import-key"]),
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
        ("rollcall", &["rollcall", "rollcall-walk"]),
        ("schema", &["schema-list"]),
        ("undo", &["undo"]),
        ("release", &["change"]),
        ("use", &["thread"]),
        ("effort", &["change"]),
        ("where", &["where"]),
    ];

    /// The names of the commands that have none below them.
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
        let kept: BTreeSet<&str> = SCHEMAS.iter().map(|(name, _)| *name).collect();
        assert_eq!(all, kept);
    }

    #[test]
    fn every_schema_file_is_in_the_program_and_says_what_it_describes() {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("assets/schema/output");
        assert_eq!(
            std::fs::read_dir(folder).unwrap().count() + 1,
            SCHEMAS.len()
        );
        for (name, text) in SCHEMAS {
            let schema: Value = serde_json::from_str(text).unwrap();
            assert!(!title(text).is_empty(), "{name}");
            assert!(jsonschema::meta::is_valid(&schema), "{name}");
        }
    }
}
