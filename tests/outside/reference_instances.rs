//! The re-hang cases of `tests/data/reference_instances` against their known best results, for the
//! solvers and the example.

use std::fs;
use std::path::{Path, PathBuf};

use homehook::engine::fewest_moves::fewest_moves;
use homehook::engine::fewest_moves::fewest_moves_least_distance;
use homehook::engine::instance::{Homes, Instance};
use homehook::engine::schedule::order_of_work;
use serde::Deserialize;

// Includes the example's source, because a test can't count on the program being built.
#[allow(dead_code, reason = "its main is not called here")]
#[path = "../../examples/solve_instance.rs"]
mod solve_instance;

#[derive(Deserialize)]
struct Case {
    name: String,
    cap: Vec<u32>,
    cards: Vec<Card>,
    plan: Option<Vec<usize>>,
    expected: Expected,
}

#[derive(Deserialize)]
struct Card {
    cur: Option<usize>,
}

#[derive(Deserialize)]
struct Expected {
    min_moves: usize,
    min_distance_after_min_moves: u64,
    set_aside_steps: Option<usize>,
}

impl Case {
    fn from(&self) -> Vec<Option<usize>> {
        self.cards.iter().map(|card| card.cur).collect()
    }

    fn instance(&self) -> Instance {
        Instance::new(self.cap.clone(), self.from()).unwrap()
    }

    /// Moves and distance of `hook`, recomputed here, after checking order and capacity.
    fn figures(&self, hook: &[usize]) -> (usize, u64) {
        assert_eq!(hook.len(), self.cards.len(), "{}", self.name);
        assert!(hook.is_sorted(), "{}: out of order", self.name);
        for (index, &places) in self.cap.iter().enumerate() {
            let load = hook.iter().filter(|&&hook| hook == index).count();
            assert!(load <= places as usize, "{}: hook {index}", self.name);
        }
        let moved = |(card, &new): (&Card, &usize)| card.cur.map(|cur| cur.abs_diff(new) as u64);
        let far: Vec<u64> = self.cards.iter().zip(hook).filter_map(moved).collect();
        (far.iter().filter(|&&far| far > 0).count(), far.iter().sum())
    }
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/reference_instances")
}

fn cases() -> Vec<(PathBuf, Case)> {
    let files = fs::read_dir(folder())
        .unwrap()
        .map(|entry| entry.unwrap().path());
    let cases: Vec<_> = files
        .filter(|path| {
            path.extension()
                .is_some_and(|extension| extension == "json")
        })
        .map(|path| {
            let case = serde_json::from_str(&fs::read_to_string(&path).unwrap()).unwrap();
            (path, case)
        })
        .collect();
    assert_eq!(cases.len(), 8);
    cases
}

#[test]
fn moves_and_distance_match_the_known_minimum() {
    for (_, case) in cases() {
        let check = |homes: &Homes| {
            let figures = case.figures(&homes.hook);
            assert_eq!((homes.moved, homes.distance), figures, "{}", case.name);
            assert_eq!(homes.moved, case.expected.min_moves, "{}", case.name);
        };
        check(&fewest_moves(&case.instance()).unwrap());
        let homes = fewest_moves_least_distance(&case.instance()).unwrap();
        check(&homes);
        let least = case.expected.min_distance_after_min_moves;
        assert_eq!(homes.distance, least, "{}", case.name);
        assert!(homes.least_distance);
    }
}

#[test]
fn cards_set_aside_match_the_known_minimum() {
    let mut checked = 0;
    for (_, case) in cases() {
        let (Some(plan), Some(expected)) = (&case.plan, case.expected.set_aside_steps) else {
            continue;
        };
        let to: Vec<_> = plan.iter().map(|&hook| Some(hook)).collect();
        let liftable = vec![true; to.len()];
        let steps = order_of_work(&case.cap, &case.from(), &to, &liftable).unwrap();
        let aside = steps.iter().filter(|step| step.to.is_none()).count();
        assert_eq!(aside, expected, "{}", case.name);
        assert_eq!(
            case.figures(plan).0,
            case.expected.min_moves,
            "{}",
            case.name
        );
        checked += 1;
    }
    assert_eq!(checked, 7);
}

#[derive(Deserialize)]
struct Answer {
    min_moves: usize,
    new: Vec<usize>,
}

#[test]
fn example_prints_the_known_minimum() {
    for (path, case) in cases() {
        let answer: Answer = serde_json::from_str(&solve_instance::solve(&path).unwrap()).unwrap();
        let Expected {
            min_moves,
            min_distance_after_min_moves,
            ..
        } = case.expected;
        assert_eq!(answer.min_moves, min_moves);
        assert_eq!(
            case.figures(&answer.new),
            (min_moves, min_distance_after_min_moves)
        );
    }
}

#[test]
fn example_reports_invalid_input() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("case.json");
    let error = |case: &str| {
        fs::write(&path, case).unwrap();
        solve_instance::solve(&path).unwrap_err().to_string()
    };
    let short = r#"{"cap":[1],"cards":[{"cur":0},{"cur":null},{"cur":0}]}"#;
    assert!(error(short).contains("2 more places"));
    let beyond = r#"{"cap":[1],"cards":[{"code":"310","cur":1}]}"#;
    assert!(error(beyond).contains("names hook 1"));
    assert!(error(r#"{"cap":[-1],"cards":[]}"#).contains("invalid value"));
    assert!(error("{").contains("EOF"));
    assert!(solve_instance::solve(&folder.path().join("none.json")).is_err());

    // Being over capacity at the start is allowed; unknown keys are ignored.
    fs::write(
        &path,
        r#"{"name":"x","cap":[1,1],"cards":[{"cur":0},{"cur":0}]}"#,
    )
    .unwrap();
    assert_eq!(
        solve_instance::solve(&path).unwrap(),
        r#"{"min_moves":1,"new":[0,1]}"#
    );
}
