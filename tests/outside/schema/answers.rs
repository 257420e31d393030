//! The `--json` answer of every command, in a story that uses all of them.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;

use serde_json::{Value, json};

use super::{Strict, file, mishaps};
use crate::common::{Run, Stash, is_long};

const RANGE: &str = "number,name,hex,family\n701,slate,#303840,greys\n9,moss,#506030,greens\n\
    11,fern,#48703A,greens\n12,leaf,#3F7A35,greens\n40,brick,#A03828,reds\n41,rust,#98402A,reds\n\
    50,ink,#20242C,greys\n";
const CARD_LIST: &str = "range,number,lengths,skeins,dye lot,hook,weather\nHeath,701,8,,K7,A01,dry\n\
    Heath,9,4,,,A02,\nHeath,11,1,,,A03,\nHeath,40,8,,,B01,\nHeath,41,8,,,B02,\nHeath,12,,,,,\n\
    Heath,,8,,,,\n";
const GUESSED: &str = "Thread no,Called\n701,gr\u{fc}n\n9,moss\n";
const KEY: &str = "symbol,number,name,strands,stitches,backstitch\nX,701,slate,2,400,60\n\
    O,9,moss,2,900,\n+,50,ink,2,100,\nV,11,fern,2,90000,\nT,41,rust,2,,\n,999,nobody's,2,10,\n,,,,,\n";
const SECOND: &str = "symbol,number,stitches\nA,701,9000\nB,9,100\n";

/// A stash, the schemas, and the answers checked against each.
pub struct Story {
    pub stash: Stash,
    schemas: BTreeMap<String, Strict>,
    told: BTreeMap<String, Vec<Value>>,
}

impl Story {
    fn new() -> Self {
        let folder = fs::read_dir(file("assets/schema/output")).unwrap();
        let names = folder.map(|entry| entry.unwrap().file_name().into_string().unwrap());
        let schemas = names.map(|name| {
            let name = name.strip_suffix(".schema.json").unwrap().to_owned();
            (name.clone(), Strict::of(&format!("output/{name}")))
        });
        Self {
            stash: Stash::new(),
            schemas: schemas.collect(),
            told: BTreeMap::new(),
        }
    }

    /// Checks an answer against a schema.
    pub fn holds(&mut self, schema: &str, answer: Value) -> Value {
        self.schemas[schema].accepts(&answer);
        self.told
            .entry(schema.to_owned())
            .or_default()
            .push(answer.clone());
        answer
    }

    /// Runs a command with `--json` as laptop.
    pub fn asked(&self, command: &str) -> Run {
        let args: Vec<String> = command
            .split(' ')
            .map(|word| word.replace('_', " "))
            .collect();
        let mut args: Vec<&str> = args.iter().map(String::as_str).collect();
        args.extend(["--json", "--by", "laptop"]);
        self.stash.run(&args)
    }

    /// Runs a command that must succeed.
    pub fn says(&mut self, schema: &str, command: &str) -> Value {
        let run = self.asked(command);
        assert_eq!(run.code, 0, "{command}: {run:?}");
        for line in run.err.lines() {
            self.holds("error", serde_json::from_str(line).unwrap());
        }
        self.holds(schema, serde_json::from_str(&run.out).unwrap())
    }

    /// Runs a command that must fail.
    pub fn fails(&mut self, command: &str) -> Value {
        let run = self.asked(command);
        assert_eq!((run.code, run.out.as_str()), (1, ""), "{command}: {run:?}");
        self.holds("error", serde_json::from_str(run.err.trim()).unwrap())
    }

    pub fn file(&self, name: &str, text: &str) -> String {
        self.stash.file(name, text)
    }
}

/// A story through all commands. An underscore in a word of a command stands for a space.
fn live() -> Story {
    let mut story = Story::new();
    let s = &mut story;
    s.says("board-show", "board show");
    s.says("where", "where");
    s.says("history", "history");
    put_up(s);
    projects(s);
    purchase(s);
    rehangs(s);
    roll_calls(s);
    mishaps::what_is_wrong(s);
    mishaps::copies(s);
    mishaps::damage(s);
    story
}

fn put_up(s: &mut Story) {
    s.says(
        "board",
        "board new Wall --rows 3 --columns 4 --cards-per-hook 2",
    );
    s.says(
        "board",
        "board resize Wall --columns 6 --cards-per-hook 1 --reading there-and-back",
    );
    s.says("board", "board resize Wall --reading rows");
    s.says("board", "board block C6 --why lamp_bracket");
    s.says("board", "board block C5 --why cable");
    s.says("board", "board unblock C5");
    s.says("board", "board cards-per-hook A4 3");
    s.says("board", "board reserve C4");
    s.says("board", "board reserve C3");
    s.says("board", "board unreserve C3");
    let range = s.file("range.csv", RANGE);
    s.says(
        "import-range",
        &format!("import range {range} --range Heath"),
    );
    let card_list = s.file("stock.csv", CARD_LIST);
    // UTF-16, to produce warnings, and less obvious titles.
    let utf_16: Vec<u8> = format!("\u{feff}{GUESSED}")
        .encode_utf16()
        .flat_map(u16::to_le_bytes)
        .collect();
    let guessed = s.stash.file("guessed.csv", utf_16);
    let dry = s.says("import-cards", &format!("import cards {guessed} --dry-run"));
    assert_eq!(
        (&dry["dry_run"], &dry["columns"]),
        (&json!(true), &json!("--columns number,name"))
    );
    assert_eq!(dry["file"]["check_words"], json!(["gr\u{fc}n"]));
    let taken = s.says("import-cards", &format!("import cards {card_list}"));
    assert_eq!(taken["rejected"].as_array().unwrap().len(), 1);
    assert_eq!(taken["ignored_columns"], json!(["weather"]));
    let conversion = s.file(
        "conversion.csv",
        "range,number,range,number,note\nHeath,701,Heath,777,near\nHeath,1,Cove,2,\n",
    );
    s.fails(&format!("import matches {conversion} --replace"));
    let dry = s.says(
        "import-matches",
        &format!("import matches {conversion} --dry-run"),
    );
    assert_eq!(dry["dry_run"], json!(true));
    let taken = s.says("import-matches", &format!("import matches {conversion}"));
    assert_eq!(
        (&taken["added"], &taken["ignored_columns"]),
        (&json!(1), &json!(["note"]))
    );
    s.says("find", "find 777");
    s.says("board", "board order number");
    s.says("board", "board order family");
    s.says("family-list", "family list");
    families(s);
    s.says("board-show", "board show");
    for text in ["701", "fern", "50", "nothing_like_it"] {
        s.says("find", &format!("find {text}"));
    }
}

fn families(s: &mut Story) {
    s.says("family", "family order reds greens");
    s.says("family", "family add earth");
    s.says("family", "family rename earth clay");
    s.says("family", "family assign clay 12 Heath:41");
    let list = s.says("family-list", "family list");
    let counts = list["counts"].as_array().unwrap();
    let clay = counts.iter().find(|of| of["name"] == "clay").unwrap();
    assert_eq!((&clay["cards"], &clay["chosen"]), (&json!(2), &json!(2)));
    s.says("family", "family unassign 41");
    s.says("family", "family remove clay");
    s.says("family", "family order greens reds");
    s.says("family", "family order --by-colour");
    s.says("board", "board order lightness");
    s.says("board", "board order family");
}

fn projects(s: &mut Story) {
    let key = s.file("key.csv", KEY);
    let taken = s.says(
        "import-key",
        &format!("import key {key} --project Winter_Fox --range Heath"),
    );
    assert_eq!(taken["not_owned"].as_array().unwrap().len(), 2);
    let second = s.file("second.csv", SECOND);
    s.says(
        "import-key",
        &format!("import key {second} --project Robin --range Heath"),
    );
    s.says("ring-fabric", "ring fabric Winter_Fox");
    s.says("ring-fabric", "ring fabric Winter_Fox --count 28 --over 2");
    s.says("ring-key", "ring key Winter_Fox");
    s.says("ring-pull", "ring pull Winter_Fox");
    s.says("ring-pull", "ring pull Winter_Fox --take");
    // Some of Robin's colours are out now, so they must be split off.
    let pull = s.says("ring-pull", "ring pull Robin");
    assert!(!pull["split"].as_array().unwrap().is_empty(), "{pull}");
    s.says("need", "need");
    s.says("need", "need Robin Winter_Fox");
    s.says(
        "thread",
        "ring split Robin 701 --lengths 1 --strands 2 --label for_Robin",
    );
    s.says("thread", "use 701 --project Robin --strands 3");
    s.says("thread", "use 11 --project Winter_Fox --lengths 1");
    s.says("thread", "use 40 --strands 1");
    trade(s);
    s.says("ring-progress", "ring progress Winter_Fox 9 --lengths 1");
    s.says("ring-progress", "ring progress Winter_Fox --done 40");
    s.says("ring-list", "ring list");
    s.says("ring-key", "ring key Winter_Fox");
    s.says("find", "find 701");
    s.says("where", "where");
    s.says("thread", "ring rejoin Robin 701");
    s.says("thread", "ring split Robin 701 --strands 4");
    s.says("ring", "ring return Winter_Fox 701");
    s.says("ring", "ring return Robin --all");
    s.says("ring", "ring hang Winter_Fox B6");
    s.says("where", "where");
    s.says("ring", "missing 41");
    s.says("ring", "missing 40");
    s.says("find", "find 40");
    s.says("ring-pull", "ring pull Winter_Fox");
    s.says("need", "need Winter_Fox");
    s.says("where", "where");
    s.says("ring", "found 40");
    s.says("ring", "found 41");
    s.says("ring", "elsewhere 40 41 --note with_a_friend");
    let away = s.says("where", "where");
    assert_eq!(away["elsewhere"].as_array().unwrap().len(), 2, "{away}");
    s.says("ring", "found 40");
    s.says("ring", "found 41");
    let gone = s.says("remove", "remove 41 --why moths");
    assert_eq!(gone["cards"][0]["number"], "41", "{gone}");
    s.says("undo", "undo");
    s.says("ring", "ring take-down Winter_Fox");
    s.says("ring", "ring open Kestrel");
    s.says("ring", "ring take Kestrel 12");
    s.says("ring", "ring return Kestrel 12");
    s.says("ring", "ring close Kestrel");
    s.says("ring-list", "ring list");
    hangs(s);
}

/// Lots, kinds of thread, marks, the want list, and project status.
fn trade(s: &mut Story) {
    s.says(
        "thread",
        "count 40 --lengths 3 --part 3.5m --skeins 2 --lot V1",
    );
    s.says("thread", "cut 40 --lengths 5 --lot V1");
    s.says("thread", "use 40 --strands 2 --lot V1");
    assert_eq!(s.fails("cut 40 --skeins 9")["error"]["code"], "too_little");
    s.says("thread", "count 40 --lengths 3 --lot V2");
    let several = s.fails("count 40 --skeins 1");
    assert_eq!(several["error"]["code"], "which_lot");
    s.says("history", "history --last 3");
    s.says("range-put-up", "range put-up Heath --skein 4.5m");
    s.says("range-put-up", "range put-up Heath --skein 8m");
    s.says("change", "range mark 41 --variegated");
    s.says("change", "range mark 11 40 --discontinued");
    s.says("range-list", "range list");
    s.says("need", "need Winter_Fox");
    s.says("want", "want 12 40 --skeins 2");
    s.says("buy", "buy");
    s.says("want", "want");
    s.says("want", "want 12 --no-longer");
    s.says("ring-progress", "ring swap Winter_Fox 50 --with 12");
    s.says("ring-key", "ring key Winter_Fox");
    s.says("ring-progress", "ring swap Winter_Fox 50 --back");
    s.says("ring", "ring order Robin");
    s.says("ring", "ring status Robin waiting_for_linen");
    s.says("ring-list", "ring list");
    s.says("ring", "elsewhere 12 --with Nora --until 2001-09-10");
    let late = s.asked("where");
    assert!(late.err.contains("overdue"), "{late:?}");
    s.says("where", "where");
    s.says("ring", "found 12");
}

fn hangs(s: &mut Story) {
    let told = s.says("hang", "hang 12 B4 --dry-run");
    assert_eq!(
        (&told["event"], &told["from"]),
        (&Value::Null, &Value::Null)
    );
    s.says("hang", "hang 12 A4");
    let told = s.says("hang", "hang 701 A5");
    assert_eq!(told["keeps_order"], false, "{told}");
    let told = s.says("hang", "hang 701 C4");
    assert!(!told["warnings"].as_array().unwrap().is_empty());
    for (wrong, code) in [
        ("hang 701 C6", "blocked"),
        ("hang 701 C4", "home_there"),
        ("hang 701 A2", "hook_full"),
    ] {
        assert_eq!(s.fails(wrong)["error"]["code"], code);
    }
    s.says("undo", "undo 3");
}

fn purchase(s: &mut Story) {
    s.says("buy", "buy");
    let list = s.file("buy.csv", "");
    let buy = s.says("buy", &format!("buy Winter_Fox --csv {list}"));
    assert!(!buy["buy"].as_array().unwrap().is_empty());
    prints(s);
    s.says("bought", "bought 701=2 9=1");
    s.says("bought", "bought Winter_Fox");
    s.says("buy", "buy Winter_Fox");
    s.says("need", "need Winter_Fox");
}

fn prints(s: &mut Story) {
    for what in [
        "labels",
        "hook-labels",
        "ring Winter_Fox",
        "board",
        "buy",
        "pocket",
    ] {
        let one = s.file("one.html", "");
        let one = format!("print {what} --to {one} --force");
        let told = s.says("print", &one);
        assert_eq!(told["files"].as_array().unwrap().len(), 1);
        let there = s.fails(&one.replace(" --force", ""));
        assert_eq!(there["error"]["code"], "file_there");
    }
    let pages = s.file("pages.svg", "");
    let told = s.says(
        "print",
        &format!("print labels --form svg --to {pages} --sheet columns=1,rows=2"),
    );
    assert!(told["files"].as_array().unwrap().len() > 1, "{told}");
}

fn rehangs(s: &mut Story) {
    s.says("change", "hold 701");
    s.says("change", "hold --family reds");
    s.says("change", "effort 9 --as 5");
    s.says("hold-list", "hold");
    s.says("hold-list", "hold --list");
    s.says("change", "release 701");
    s.says("change", "release --all");
    let plans = s.says("rehang", "rehang");
    assert!(plans["plans"][1]["steps"].as_array().unwrap().len() > 1);
    s.says("rehang-steps", "rehang --apply 1 --steps 1");
    let underway = s.says("rehang", "rehang");
    assert!(underway["underway"].is_object());
    s.says("change", "rehang --give-up");
    s.says("rehang-steps", "rehang --apply 1 --steps 1");
    s.says("rehang-steps", "rehang --go-on");
    s.says("rehang", "rehang --order number --rows A-B --hold 701");
    s.says("board-show", "board show");
    s.says("undo", "undo");
    s.says("undo", "undo 2");
    s.says("redo", "redo 3");
}

fn roll_calls(s: &mut Story) {
    let walk = s.says("rollcall-walk", "rollcall");
    let hooks = walk["hooks"].as_array().unwrap();
    let mut with = hooks
        .iter()
        .filter(|hook| !hook["cards"].as_array().unwrap().is_empty());
    let (one, other) = (with.next().unwrap(), with.next().unwrap());
    let number = |hook: &Value| hook["cards"][0]["number"].as_str().unwrap().to_owned();
    let hook_name = |hook: &Value| hook["hook"].as_str().unwrap().to_owned();
    // The first card hangs on the second card's hook, the second is gone, and one is unknown.
    let seen = format!(
        "hook,number\n{},\n{},{}\n{},777\n",
        hook_name(one),
        hook_name(other),
        number(one),
        hook_name(other)
    );
    let seen = s.file("seen.csv", &seen);
    let told = s.says("rollcall", &format!("rollcall {seen}"));
    for what in ["misplaced", "missing", "unknown"] {
        assert!(!told[what].as_array().unwrap().is_empty(), "{what}: {told}");
    }
    s.says("rollcall", &format!("rollcall {seen} --apply"));
    s.says("rollcall-walk", "rollcall --rows A");
    s.says("where", "where");
    s.says("board-show", "board show");
    s.says("history", "history --last 1");
    s.says("history", "history --last 500");
    s.says("history", "history 701");
    s.says("check", "check");
    s.says("export", "export json");
    let copy = s.file("copy.json", "");
    s.says("export-file", &format!("export json {copy}"));
    let text = fs::read_to_string(&copy).unwrap();
    s.holds("export", serde_json::from_str(&text).unwrap());
    s.says("export-file", &format!("export csv {copy} --force"));
    s.says("board-show", "demo --plain");
    s.says("schema-list", "schema");
    s.says("keyboard", "keyboard");
    s.says("guide-list", "guide");
    s.says("guide", "guide two-computers");
    assert_eq!(
        s.fails("guide knitting")["error"]["code"],
        "unknown_subject"
    );
}

#[test]
fn schemas_accept_every_answer_and_nothing_else() {
    let story = live();
    let told: BTreeSet<&String> = story.told.keys().collect();
    let all: BTreeSet<&String> = story.schemas.keys().collect();
    assert_eq!(told, all, "a schema that nothing was held against");

    for (name, answers) in &story.told {
        let schema = &story.schemas[name];
        // The longest answer has the most fields.
        let longest = answers
            .iter()
            .max_by_key(|answer| answer.to_string().len())
            .unwrap();
        schema.refuses(&json!([longest]), "a list of answers");
        schema.refuses(&Value::Null, "nothing");
        if name.as_str() == "rehang-steps" {
            schema.refuses(&json!({"applied": 1}), "no steps");
        } else {
            let keys = longest.as_object().unwrap().keys();
            // Exports of stashes without a conversion list lack it.
            let optional = |key: &&String| (name.as_str(), key.as_str()) == ("export", "matches");
            for key in keys.filter(|key| !optional(key)) {
                let mut less = longest.clone();
                less.as_object_mut().unwrap().remove(key);
                schema.refuses(&less, key);
            }
        }
        if longest.to_string().len() < if is_long() { 4_000 } else { 1_500 } {
            schema.refuses_mutants(longest);
        }
    }

    // The schema also describes every line of the resulting record.
    let record = Strict::of("record");
    let text = String::from_utf8(story.stash.record()).unwrap();
    assert!(text.lines().count() > 50);
    for line in text.lines() {
        record.accepts(&serde_json::from_str(line).unwrap());
    }
}

#[test]
fn program_prints_schemas_identical_to_their_files() {
    let stash = Stash::new();
    for name in ["record", "find"] {
        let path = if name == "record" {
            name.to_owned()
        } else {
            format!("output/{name}")
        };
        let text = fs::read_to_string(file(&format!("assets/schema/{path}.schema.json"))).unwrap();
        assert_eq!(stash.ok(&["schema", name]), text);
    }
    let list = stash.ok(&["schema"]);
    assert!(
        list.lines().any(|line| line.starts_with("ring-pull ")),
        "{list}"
    );
    assert!(!stash.dir().exists(), "asking for a schema makes no stash");
}
