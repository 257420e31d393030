//! Commands drawn at random for a stash.

use std::path::Path;

use homehook::stash::state::State;

/// A pseudorandom sequence, the same for the same seed (splitmix64, Steele, Lea and Flood 2014;
/// constants from memory).
pub struct Draw(u64);

impl Draw {
    pub const fn new(seed: u64) -> Self {
        Self(seed)
    }

    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    pub fn below(&mut self, end: u64) -> u64 {
        self.next() % end
    }

    fn one_of(&mut self, list: &[String]) -> Option<String> {
        let at = usize::try_from(self.next()).unwrap() % list.len().max(1);
        list.get(at).cloned()
    }

    fn number(&mut self) -> String {
        (self.below(super::stash::CARDS) + 1).to_string()
    }

    fn hook(&mut self) -> String {
        let row = char::from(b'A' + u8::try_from(self.below(8)).unwrap());
        format!("{row}{:02}", self.below(10) + 1)
    }
}

/// A command, and the most events it may make.
pub struct Drawn {
    pub args: Vec<String>,
    pub most: u64,
}

fn words(args: &[&str]) -> Vec<String> {
    args.iter().map(|&arg| arg.to_owned()).collect()
}

/// Draws a command for the current stash; the program may refuse it. Writes lists to `lists`.
pub fn draw(draw: &mut Draw, state: &State, lists: &Path) -> Drawn {
    let rings: Vec<String> = state.rings().map(|ring| ring.project.to_string()).collect();
    let project = draw.one_of(&rings);
    let on_ring: Vec<String> = (state.rings())
        .filter(|ring| project.as_deref() == Some(ring.project.as_str()))
        .flat_map(|ring| state.cards_on(ring))
        .map(|kept| kept.card.number.to_string())
        .collect();
    let project = project.unwrap_or_else(|| "Harbour".to_owned());
    let (card, hook) = (draw.number(), draw.hook());
    let (few, strands) = (draw.below(3) + 1, (draw.below(3) + 1).to_string());
    let list = |text: String| {
        let path = lists.join(format!("list-{}.csv", std::process::id()));
        std::fs::write(&path, text).unwrap();
        path.display().to_string()
    };
    let mut most = 1;
    let args = match draw.below(20) {
        0..=2 => {
            let names = ["Harbour", "Long Barn", "Mill Pond", "Orchard"].map(str::to_owned);
            let mut args = vec!["ring".into(), "take".into(), draw.one_of(&names).unwrap()];
            args.extend((0..few).map(|_| draw.number()));
            args
        }
        3 | 4 => {
            let some = draw.one_of(&on_ring).unwrap_or(card);
            words(&["ring", "return", &project, &some])
        }
        5 => words(&["ring", "return", &project, "--all"]),
        6 if few == 1 => words(&["ring", "take-down", &project]),
        6 => words(&["ring", "hang", &project, &hook]),
        7 => words(&["use", &card, "--strands", &strands]),
        8 => words(&["ring", "split", &project, &card, "--strands", "2"]),
        9 => {
            let some = draw.one_of(&on_ring).unwrap_or(card);
            words(&["ring", "rejoin", &project, &some])
        }
        10 if few == 1 => words(&["elsewhere", &card, "--note", "with a friend"]),
        10 => words(&["missing", &card]),
        11 => words(&["found", &card]),
        12 => {
            most = few;
            words(&["undo", &few.to_string()])
        }
        13 => {
            most = few;
            words(&["redo", &few.to_string()])
        }
        14 => {
            most = 500;
            match state.underway() {
                Some(_) if few == 1 => words(&["rehang", "--give-up"]),
                Some(_) => words(&["rehang", "--go-on"]),
                None if few == 1 => words(&["rehang", "--apply", "1", "--steps", "2"]),
                None => words(&["rehang", "--apply", "1"]),
            }
        }
        15 => {
            let text = format!("hook,number\n{hook},{card}\n");
            words(&["rollcall", &list(text), "--apply"])
        }
        16 => {
            let rows = (0..5).map(|_| format!("{},{}\n", draw.number(), draw.below(20)));
            let text = format!("number,lengths\n{}", rows.collect::<String>());
            words(&["import", "cards", &list(text)])
        }
        17 => {
            // Many pages of a file in one event.
            let new = draw.next();
            let rows = (1..=400).map(|n| format!("{n},shade {n} of {new}\n"));
            let text = format!("number,name\n{}", rows.collect::<String>());
            words(&["import", "range", &list(text), "--range", "Heath"])
        }
        18 => words(&["board", "block", &hook, "--why", "lamp", "--unhang"]),
        _ => words(&["board", "unblock", &hook]),
    };
    Drawn { args, most }
}
