//! What the program costs while it is used over a slow line, and while it is not used at all.

use std::fmt::Write as _;

use crate::harness::{DOWN, ENTER, ESC, Folder, RIGHT, Screen};

const PAGE_DOWN: &str = "\x1b[6~";

/// Bytes a second over a line of 9600 baud: a byte takes ten bits there.
const SLOW_LINE: f64 = 960.0;

/// A stash with 500 cards on 600 hooks, every sixth hook free.
fn usual_stash() -> Folder {
    let folder = Folder::new();
    let mut list = "range,number,name,hex,hook\n".to_owned();
    let hows = ["pale", "deep", "dusky", "warm", "faded"];
    let whats = ["moss", "river", "slate", "heather", "bramble", "straw"];
    let hung = (0..600_usize).filter(|at| at % 6 != 5);
    for (at, hook) in hung.enumerate() {
        let row = char::from(b'A' + u8::try_from(hook / 30).unwrap());
        let (how, what) = (hows[at % hows.len()], whats[at / 7 % whats.len()]);
        let (r, g, b) = (at * 7 % 256, at * 13 % 256, at * 29 % 256);
        let (number, column) = (at + 100, hook % 30 + 1);
        writeln!(
            list,
            "Sandbank,{number},{how} {what},#{r:02X}{g:02X}{b:02X},{row}{column:02}"
        )
        .unwrap();
    }
    let file = folder.file("cards.csv", &list);
    folder.json(&["board", "new", "wall", "--rows", "20", "--columns", "30"]);
    folder.json(&["import", "stock", &file]);
    folder
}

/// A key, what is on the screen once it was answered, and the most bytes that the answer may take in
/// true colour and in sixteen colours.
struct Pressed {
    what: &'static str,
    keys: &'static str,
    shows: &'static str,
    most: [usize; 2],
}

const fn pressed(
    what: &'static str,
    keys: &'static str,
    shows: &'static str,
    most: [usize; 2],
) -> Pressed {
    Pressed {
        what,
        keys,
        shows,
        most,
    }
}

/// A walk over the screens, key by key.
const WALK: [Pressed; 16] = [
    pressed("cursor one hook right", RIGHT, "Hook A02", [330, 150]),
    pressed("once more", RIGHT, "Hook A03", [330, 150]),
    pressed("cursor one hook down", DOWN, "Hook B03", [330, 160]),
    pressed("page down", PAGE_DOWN, "Hook G03", [370, 150]),
    pressed("choose a card", " ", "1 chosen", [180, 180]),
    pressed("open find", "/", "Type a number", [880, 820]),
    pressed("type a digit", "1", "103 warm moss", [3700, 2200]),
    pressed("type another digit", "4", "141 ", [3000, 2000]),
    pressed("go to what was found", ENTER, "Hook B19", [1900, 1550]),
    pressed("change the card", "c", "dye lot", [1900, 2000]),
    pressed("leave the form", ESC, "u undo", [7700, 2100]),
    pressed("the card is missing", "m", "1 missing", [860, 720]),
    pressed("it is found again", "m", "0 missing", [860, 640]),
    pressed("help", "?", "Signs on the board", [6600, 7200]),
    pressed("leave the help", ESC, "u undo", [18000, 7000]),
    pressed("look closer", "+", "112", [33000, 10000]),
];

#[test]
fn a_key_sends_few_bytes() {
    let folder = usual_stash();
    let stash = folder.stash().display().to_string();
    let mut told = String::new();
    for (depth, colour) in ["true", "16"].into_iter().enumerate() {
        for size in [(80, 24), (120, 40), (220, 60)] {
            let mut screen = Screen::start(&["--stash", &stash, "--colour", colour], &[], size);
            screen.wait_for("Hook A01");
            screen.wait_quiet();
            let mut sent = screen.raw().len();
            let mut tell = |what: &str, bytes: usize| {
                let seconds = bytes as f64 / SLOW_LINE;
                let (columns, rows) = size;
                let line =
                    format!("{columns}x{rows} {colour} {what}: {bytes} bytes, {seconds:.2} s");
                writeln!(told, "{line}").unwrap();
            };
            tell("first frame", sent);
            for step in WALK {
                screen.press(step.keys, step.shows);
                screen.wait_quiet();
                let bytes = screen.raw().len() - sent;
                tell(step.what, bytes);
                assert!(
                    bytes > 0 && bytes <= step.most[depth],
                    "{}\n{told}",
                    step.what
                );
                sent += bytes;
            }
        }
    }
    println!("{told}");
}

/// Ticks of the clock that a process had, and how often it was woken.
#[cfg(target_os = "linux")]
fn used(pid: u32) -> (u64, u64) {
    let stat = std::fs::read_to_string(format!("/proc/{pid}/stat")).unwrap();
    let (_, after_name) = stat.rsplit_once(") ").unwrap();
    // The name is the second field, `utime` and `stime` the 14th and the 15th.
    let fields: Vec<&str> = after_name.split(' ').collect();
    let ticks = fields[11..13].iter().map(|n| n.parse::<u64>().unwrap());
    let threads = std::fs::read_dir(format!("/proc/{pid}/task")).unwrap();
    let woken = threads.map(|thread| {
        let status = std::fs::read_to_string(thread.unwrap().path().join("status")).unwrap();
        let line = status
            .lines()
            .find_map(|line| line.strip_prefix("voluntary_ctxt_switches:"));
        line.unwrap().trim().parse::<u64>().unwrap()
    });
    (ticks.sum(), woken.sum())
}

#[cfg(target_os = "linux")]
#[test]
fn nobody_there_costs_nothing() {
    const SECONDS: u64 = 5;
    let folder = usual_stash();
    let mut screen = Screen::open(&folder.stash(), (120, 40));
    screen.wait_for("Hook A01");
    screen.press(RIGHT, "Hook A02");
    screen.wait_quiet();
    let (sent, (ticks, woken)) = (screen.raw().len(), used(screen.pid()));
    std::thread::sleep(std::time::Duration::from_secs(SECONDS));
    let (ticks_after, woken_after) = used(screen.pid());
    let (ticks, woken) = (ticks_after - ticks, woken_after - woken);
    println!("{ticks} ticks, woken {woken} times in {SECONDS} s");
    assert_eq!(screen.raw().len(), sent, "bytes were sent");
    assert!(ticks <= 1, "{ticks} ticks of the clock in {SECONDS} s");
    assert!(woken <= 2 * SECONDS, "woken {woken} times in {SECONDS} s");
}

/// Where calls are told in words of the system: not everywhere.
#[cfg(target_os = "linux")]
fn can_trace() -> bool {
    let mut tried = std::process::Command::new("strace");
    tried.args(["-f", "-o", "/dev/null", "-e", "trace=write", "true"]);
    let status = tried.stderr(std::process::Stdio::null()).status();
    status.is_ok_and(|status| status.success())
}

#[cfg(target_os = "linux")]
#[test]
fn a_key_waits_for_the_disk_once_at_most() {
    if !can_trace() {
        eprintln!("not run: strace is not here or may not trace");
        return;
    }
    let folder = usual_stash();
    let traced = "exec strace -f -qq -o \"$1.calls\" \
                  -e trace=fsync,fdatasync,sync,syncfs,sync_file_range,msync \"$0\" --stash \"$1\"";
    let calls = folder.stash().with_extension("calls");
    let syncs = || {
        let told = std::fs::read_to_string(&calls).unwrap();
        told.lines().filter(|line| line.contains("sync")).count()
    };
    let mut screen = Screen::shell(traced, &folder.stash(), (120, 40));
    screen.wait_for("Hook A01");
    for (keys, shows, most) in [
        (RIGHT, "Hook A02", 0),
        ("/", "Type a number", 0),
        ("1", "river", 0),
        (ENTER, "Hook", 0),
        ("m", "1 missing", 1),
        ("m", "0 missing", 1),
        ("p", "pinned", 1),
        ("u", "taken back", 1),
        ("U", "done again", 1),
        ("t", "Take to a project ring", 0),
        ("Heron", "Heron", 0),
        (ENTER, "1 out", 1),
        ("r", "new project", 0),
        ("p", "Put away", 0),
        (ENTER, "0 out", 1),
    ] {
        let before = syncs();
        screen.press(keys, shows);
        screen.wait_quiet();
        let waited = syncs() - before;
        assert_eq!(waited, most, "{keys:?}");
    }
}
