//! Blends, notions, tagged cards and loans in the commands' answers.

use jiff::Timestamp;
use serde_json::{Value, json};

use homehook::journal::store::Store;
use homehook::model::label::{Label, Name};
use homehook::model::number::Number;
use homehook::model::ring::{
    ColourRef, KeyLine, KeyThread, KeyWork, Needle, Notion, NotionKind, StitchCounts,
};
use homehook::model::whereabouts::Loan;
use homehook::stash::command::import::{CardRow, Terms, card_list};
use homehook::stash::command::{card, key, ring};
use homehook::stash::event::Event;
use homehook::stash::refusal::Refusal;
use homehook::stash::state::State;

use super::Strict;
use crate::common::Stash;

const NOW: Timestamp = Timestamp::UNIX_EPOCH;

fn row(number: &str, tag: Option<&str>) -> CardRow {
    CardRow {
        line: 1,
        range: Some("Heath".to_owned()),
        number: number.to_owned(),
        tag: tag.map(str::to_owned),
        ..CardRow::default()
    }
}

fn lines(state: &State) -> Vec<KeyLine> {
    let range = state.find_range("Heath").unwrap().id;
    let colour = |number| ColourRef::new(range, Number::new(number).unwrap());
    let second = KeyThread {
        strands: 1,
        stitched_with: Some(colour("12")),
        ..KeyThread::new(colour("96"))
    };
    let blend = KeyWork::Threads {
        needle: Needle::new(vec![KeyThread::new(colour("701")), second]).unwrap(),
        stitches: StitchCounts {
            full: 400,
            ..StitchCounts::default()
        },
    };
    let notion = KeyWork::Notion(Notion {
        name: Name::new("seed bead").unwrap(),
        kind: NotionKind::Bead,
        pieces: 24,
    });
    let symbol = |text| Label::new(text).unwrap();
    vec![
        KeyLine {
            symbol: symbol("X"),
            work: blend,
        },
        KeyLine {
            symbol: symbol("o"),
            work: notion,
        },
    ]
}

fn stash() -> Stash {
    let stash = Stash::new();
    let (mut store, _) = Store::open(&stash.dir()).unwrap();
    let mut commit = |ask: &dyn Fn(&State) -> Result<Event, Refusal>| {
        let event = ask(store.state()).unwrap();
        store.commit(NOW, &event).unwrap();
    };
    let terms = Terms::default();
    let list = [row("701", None), row("9", None)];
    commit(&|state| {
        Ok(card_list(state, &list, Vec::new(), &terms, NOW)?
            .event
            .unwrap())
    });
    commit(&|state| card::new_card(state, row("701", Some("K7")), NOW));
    commit(&|state| ring::take(state, "Fox", &state.find_cards(&["701/K7".into()])?, NOW));
    for at in 0..2 {
        commit(&|state| {
            let line = lines(state).swap_remove(at);
            Ok(key::put(state.need_ring("Fox")?, None, line)?.unwrap())
        });
    }
    let loan = Loan {
        whom: Name::new("a friend").unwrap(),
        until: Some(jiff::civil::date(2026, 11, 1)),
    };
    commit(&|state| {
        let cards = state.find_cards(&["9".into()])?;
        card::elsewhere(state, &cards, "", Some(loan.clone()), NOW)
    });
    stash
}

#[test]
fn blends_notions_tags_and_loans_match_the_schemas() {
    let stash = stash();
    let told = |schema: &str, args: &[&str]| -> Value {
        let run = stash.run(args);
        assert_eq!(run.code, 0, "{args:?}: {}", run.err);
        let answer = serde_json::from_str(&run.out).unwrap();
        Strict::of(&format!("output/{schema}")).accepts(&answer);
        answer
    };
    let key = told("ring-key", &["ring", "key", "Fox", "--json"]);
    let blend = &key["key"][0];
    // Data of one thread among several doesn't appear on the line.
    assert_eq!(
        (&blend["number"], &blend["threads"][0]["number"]),
        (&Value::Null, &json!("701"))
    );
    assert_eq!(blend["threads"][1]["stitched_with"]["number"], "12");
    assert_eq!(key["key"][1]["notion"]["pieces"], 24);
    let need = told("need", &["need", "Fox", "--json"]);
    let entries = &need["projects"][0]["entries"];
    assert_eq!(entries[0]["status"], Value::Null);
    assert_eq!(entries[0]["threads"][0]["status"], "on_ring");
    assert_eq!(entries[0]["threads"][1]["status"], "not_owned");
    assert_eq!(entries[1]["notion"]["name"], "seed bead");
    let pull = told("ring-pull", &["ring", "pull", "Fox", "--json"]);
    assert_eq!(pull["notions"][0]["kind"], "bead");
    assert_eq!(pull["order"][1]["number"], "12");
    let found = told("find", &["find", "701/K7", "--json"]);
    assert_eq!(found["matches"][0]["tag"], "K7");
    assert_eq!(found["matches"][0]["called"], "701/K7");
    let lent = told("find", &["find", "9", "--json"]);
    assert_eq!(
        lent["matches"][0]["whereabouts"]["loan"]["whom"],
        "a friend"
    );
    for (schema, args) in [
        ("ring-list", &["ring", "list", "--json"][..]),
        (
            "ring-progress",
            &["ring", "progress", "Fox", "--done", "50", "--json"],
        ),
        ("buy", &["buy", "Fox", "--json"]),
        ("where", &["where", "--json"]),
        ("history", &["history", "--json"]),
        ("export", &["export", "json"]),
    ] {
        told(schema, args);
    }
    for args in [
        &["ring", "key", "Fox"][..],
        &["need", "Fox"],
        &["ring", "pull", "Fox"],
    ] {
        let text = stash.run(args).out;
        assert!(text.contains("seed bead: bead, 24 pieces"), "{text}");
    }
    let records = stash.run(&["check", "--json"]);
    assert_eq!(records.code, 0, "{}", records.out);
}
