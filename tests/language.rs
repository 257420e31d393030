//! Every text is in the list of texts, and can be said in another language.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

mod common;
#[path = "common/other_language.rs"]
mod other_language;
#[path = "common/source.rs"]
mod source_files;

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use common::{Stash, finish, program};
use homehook::tui::keymap::BINDINGS;
use proc_macro2::{TokenStream, TokenTree};
use source_files::files;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The texts in `say!`, `word!`, `text!` and `one_or_many!`, wherever they stand.
fn marked(code: TokenStream, texts: &mut Vec<String>) {
    let trees: Vec<TokenTree> = code.into_iter().collect();
    for at in 0..trees.len() {
        let TokenTree::Group(group) = &trees[at] else {
            continue;
        };
        let is = |back: usize, what: &str| {
            at.checked_sub(back)
                .is_some_and(|at| trees[at].to_string() == what)
        };
        // A text is the first thing in it, save that two follow on a number.
        let literals = group.stream().into_iter().filter_map(|tree| match tree {
            TokenTree::Literal(literal) => {
                syn::parse2::<syn::LitStr>(TokenTree::Literal(literal).into()).ok()
            }
            _ => None,
        });
        let most = ["say", "word", "text"].iter().any(|name| is(2, name));
        let most = usize::from(most) + 2 * usize::from(is(2, "one_or_many"));
        if is(1, "!") {
            texts.extend(literals.take(most).map(|text| text.value()));
        }
        marked(group.stream(), texts);
    }
}

/// Every text there is, by itself, as a language is given.
fn catalogue() -> BTreeMap<String, String> {
    let mut texts = homehook::cli::help_texts();
    for path in files(&root().join("src")) {
        if path.ends_with("language.rs") && !path.ends_with("cli/language.rs") {
            continue;
        }
        let code: TokenStream = fs::read_to_string(&path).unwrap().parse().unwrap();
        marked(code, &mut texts);
    }
    for binding in BINDINGS {
        texts.extend([binding.hint.to_owned(), binding.help.to_owned()]);
    }
    texts.retain(|text| !text.is_empty());
    texts.into_iter().map(|text| (text.clone(), text)).collect()
}

/// `HOMEHOOK_RENEW=1 cargo test --test language` writes the list anew.
#[test]
fn the_list_of_texts_has_every_text() {
    let path = root().join("assets/language/en.json");
    let mut list = serde_json::to_string_pretty(&catalogue()).unwrap();
    list.push('\n');
    if std::env::var_os("HOMEHOOK_RENEW").is_some() {
        fs::write(&path, &list).unwrap();
    }
    let there = fs::read_to_string(&path).unwrap();
    let there: BTreeMap<String, String> = serde_json::from_str(&there).unwrap();
    let now = catalogue();
    let missing: Vec<_> = now
        .keys()
        .filter(|text| !there.contains_key(*text))
        .collect();
    let gone: Vec<_> = there
        .keys()
        .filter(|text| !now.contains_key(*text))
        .collect();
    assert!(
        missing.is_empty() && gone.is_empty(),
        "not in the list: {missing:#?}\nno longer a text: {gone:#?}\nrun HOMEHOOK_RENEW=1 cargo test --test language"
    );
    assert!(there.iter().all(|(text, said)| text == said));
}

/// Everything that a life with the board says, in a language that is none: no English is left. What
/// clap says of a command line that makes no sense stays as it is.
#[test]
fn every_answer_can_be_said_in_another_language() {
    let stash = Stash::new();
    let language = stash.folder.path().join("language.json");
    other_language::write(&language);
    let list = stash.file("stock.csv", other_language::STOCK);
    let key = stash.file(
        "key.csv",
        "symbol,number,stitches,backstitch\nx,1,400,20\no,310,90000,\ny,5,100,\n",
    );
    let mut said = 0;
    for line in [
        "board new \u{3a8} --rows 3 --columns 4",
        "import stock LIST",
        "import key KEY --project \u{3a0}",
        "import key KEY --project \u{3a0}",
        "find 310",
        "find 999",
        "where",
        "need",
        "need \u{3a0} --nothing",
        "buy",
        "ring take \u{3a0} 1 310",
        "ring list",
        "ring key \u{3a0}",
        "ring pull \u{3a0}",
        "rehang",
        "rehang --plan 1",
        "family list",
        "family rename \u{3a7} \u{3a6}",
        "pin 1",
        "pin",
        "weigh 2 --as 5",
        "weigh 2 --as 5",
        "board show",
        "undo",
        "redo",
        "redo",
        "bought",
        "rollcall",
        "use 1 --strands 3",
        "ring decant \u{3a0} 2 --strands 3",
        "ring park \u{3a0} A04",
        "missing 1",
        "found 1",
        "ring close \u{3a0}",
        "ring return \u{3a0} 310",
        "missing 310",
        "where",
        "ring fabric \u{3a0} --count 16",
        "ring progress \u{3a0} --done 50",
        "ring merge \u{3a0} 2",
        "board block B01 --why \u{3b6}",
        "board block B01 --why \u{3b6}",
        "board resize \u{3a8} --rows 1 --columns 1",
        "board unblock B01",
        "rehang --apply 1",
        "ring return \u{3a0} --all",
        "ring close \u{3a0}",
        "ring list",
        "where",
        "log",
        "check",
        "check --restore",
        "merge nowhere",
    ] {
        let args: Vec<&str> = line
            .split(' ')
            .map(|arg| match arg {
                "LIST" => list.as_str(),
                "KEY" => key.as_str(),
                arg => arg,
            })
            .collect();
        let mut command = program();
        command.env("HOMEHOOK_LANGUAGE", &language);
        let run = finish(command.arg("--stash").arg(stash.dir()).args(&args));
        if run.code == 2 {
            continue;
        }
        said += 1;
        let folder = stash.folder.path().to_str().unwrap();
        let shown = format!("{}{}", run.out, run.err).replace(folder, "");
        let left = other_language::english(
            &shown,
            &[
                "homehook", "stash", "record", "jsonl", "backups", "nowhere", "stock", "csv", "key",
            ],
        );
        assert!(left.is_empty(), "{line}: {left:?} in\n{shown}");
    }
    assert!(said > 45, "{said}");
}

/// What is printed, too.
#[test]
fn paper_can_be_in_another_language() {
    let stash = Stash::new();
    let language = stash.folder.path().join("language.json");
    other_language::write(&language);
    let list = stash.file(
        "stock.csv",
        "range,number,name,hook,skeins,colour,family\n\u{3a9},1,\u{39b},A01,2,#aa0000,\u{3a6}\n",
    );
    let key = stash.file("key.csv", "symbol,number,stitches\nx,1,400\ny,5,100\n");
    stash.ok(&["board", "new", "\u{3a8}", "--rows", "3", "--columns", "4"]);
    stash.ok(&["import", "stock", &list]);
    stash.ok(&["import", "key", &key, "--project", "\u{3a0}"]);
    for what in [
        &["labels"][..],
        &["marks"],
        &["board"],
        &["buy"],
        &["ring", "\u{3a0}"],
    ] {
        let to = stash.folder.path().join(format!("{}.html", what[0]));
        let mut command = program();
        command
            .env("HOMEHOOK_LANGUAGE", &language)
            .arg("--stash")
            .arg(stash.dir());
        let run = finish(command.arg("print").args(what).arg("--to").arg(&to));
        assert_eq!(run.code, 0, "{run:?}");
        let page = fs::read_to_string(&to).unwrap();
        let body = page.split_once("<body>").unwrap().1;
        let texts: String = body
            .split('<')
            .filter_map(|part| part.split_once('>'))
            .map(|(_, text)| format!("{text}\n"))
            .collect();
        let left = other_language::english(&texts, &[]);
        assert!(
            left.is_empty() && texts.len() > 50,
            "{what:?}: {left:?} in\n{texts}"
        );
    }
}

#[test]
fn a_language_that_cannot_be_read_is_told_and_english_is_spoken() {
    let stash = Stash::new();
    let wrong = stash.file("wrong.json", r#"{"There are no families yet.": "{n}"}"#);
    for (file, said) in [
        (wrong.as_str(), "which the English one has not"),
        ("no such file", "cannot be read"),
    ] {
        let mut command = program();
        command.env("HOMEHOOK_LANGUAGE", file);
        let run = finish(command.arg("--stash").arg(stash.dir()).args(["where"]));
        assert_eq!(run.code, 0, "{run:?}");
        assert!(run.err.contains(said), "{run:?}");
        assert!(run.out.contains("home"), "{run:?}");
    }
}
