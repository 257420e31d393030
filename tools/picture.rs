//! Takes a picture of the real screen, for the README and the handbook.
//!
//! `cargo run --release --example picture -- assets/board.svg --size 120x40 --keys "/ river <Enter>"`
//! runs `homehook demo` in a pseudo-terminal, types the keys, waits until the screen is quiet and
//! writes its contents as one self-contained SVG file. Build the program first
//! (`cargo build --release`): it is expected in the same build folder as this example.
//!
//! Keys are words separated by spaces. `<Enter>`, `<Esc>`, `<Tab>`, `<Space>`, `<Up>`, `<Down>`,
//! `<Left>`, `<Right>`, `<Home>`, `<End>`, `<PgUp>`, `<PgDn>` and `<Ctrl-C>` name a key; every
//! other word is typed letter by letter, and the spaces between words aren't typed.

use std::error::Error;
use std::fmt::Write as _;
use std::io::{Read, Write};
use std::num::NonZero;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::{Duration, Instant};
use std::{env, fs, thread};

use clap::Parser;
use portable_pty::{Child, CommandBuilder, PtySize, native_pty_system};
use vt100::{Cell, Color, Screen};

/// Takes a picture of the demo's screen as SVG.
#[derive(Parser)]
struct Arguments {
    /// The SVG file to write.
    out: PathBuf,
    /// Columns and rows of the screen.
    #[arg(long, default_value = "120x40", value_parser = size)]
    size: Size,
    /// What is typed first, such as '/ river <Enter>'.
    #[arg(long, default_value = "")]
    keys: String,
    /// Opens an empty stash in place of the demo.
    #[arg(long)]
    empty: bool,
    /// The program; the one built beside this example if not given.
    #[arg(long)]
    binary: Option<PathBuf>,
}

/// Columns and rows.
type Size = (NonZero<u16>, NonZero<u16>);

fn size(text: &str) -> Result<Size, String> {
    let read = |part: &str| part.parse().ok();
    text.split_once('x')
        .and_then(|(columns, rows)| Some((read(columns)?, read(rows)?)))
        .ok_or_else(|| "write it as columns x rows, such as 120x40".to_owned())
}

/// The screen counts as quiet after this long without output.
const QUIET: Duration = Duration::from_millis(400);
/// How long to wait for the first output, and for the end.
const PATIENCE: Duration = Duration::from_secs(20);

/// The bytes that a terminal sends for each key of the notation.
fn typed(keys: &str) -> Result<Vec<Vec<u8>>, String> {
    let mut sent = Vec::new();
    for word in keys.split_whitespace() {
        let name = word.strip_prefix('<').and_then(|w| w.strip_suffix('>'));
        match name.filter(|name| !name.is_empty()) {
            Some(name) => sent.push(named(name)?.to_vec()),
            None => sent.extend(word.chars().map(|c| c.to_string().into_bytes())),
        }
    }
    Ok(sent)
}

fn named(name: &str) -> Result<&'static [u8], String> {
    Ok(match name {
        "Enter" => b"\r",
        "Esc" => b"\x1b",
        "Tab" => b"\t",
        "Space" => b" ",
        "Up" => b"\x1b[A",
        "Down" => b"\x1b[B",
        "Right" => b"\x1b[C",
        "Left" => b"\x1b[D",
        "Home" => b"\x1b[H",
        "End" => b"\x1b[F",
        "PgUp" => b"\x1b[5~",
        "PgDn" => b"\x1b[6~",
        "Ctrl-C" => b"\x03",
        _ => return Err(format!("<{name}> is no key this example knows")),
    })
}

/// A program running in a pseudo-terminal, and its screen.
struct Running {
    child: Box<dyn Child + Send + Sync>,
    output: Receiver<Vec<u8>>,
    input: Box<dyn Write + Send>,
    /// Its output so far, processed all at once: `vte` 0.15 loses the letter after a character that
    /// is split between two writes.
    written: Vec<u8>,
}

impl Running {
    fn start(binary: &Path, (columns, rows): Size, empty: bool) -> Result<Self, Box<dyn Error>> {
        let pair = native_pty_system().openpty(PtySize {
            rows: rows.get(),
            cols: columns.get(),
            pixel_width: 0,
            pixel_height: 0,
        })?;
        let mut command = CommandBuilder::new(binary);
        if empty {
            command.arg("--stash");
            command.arg(env::temp_dir().join("homehook"));
        } else {
            command.arg("demo");
        }
        command.cwd(env::current_dir()?);
        command.env("TERM", "xterm-256color");
        command.env("COLORTERM", "truecolor");
        command.env_remove("NO_COLOR");
        let child = pair.slave.spawn_command(command)?;
        drop(pair.slave);
        let mut reader = pair.master.try_clone_reader()?;
        let input = pair.master.take_writer()?;
        let (send, output) = channel();
        let master = pair.master;
        thread::spawn(move || {
            let _open = master;
            let mut bytes = [0; 1 << 16];
            while let Ok(length @ 1..) = reader.read(&mut bytes) {
                if send.send(bytes[..length].to_vec()).is_err() {
                    break;
                }
            }
        });
        Ok(Self {
            child,
            output,
            input,
            written: Vec::new(),
        })
    }

    /// Collects output until there is none for a while. The first bytes may take longer.
    fn settle(&mut self, mut wait: Duration) {
        while let Ok(bytes) = self.output.recv_timeout(wait) {
            self.written.extend(bytes);
            wait = QUIET;
        }
    }

    fn press(&mut self, bytes: &[u8]) -> std::io::Result<()> {
        self.input.write_all(bytes)?;
        self.input.flush()?;
        self.settle(QUIET);
        Ok(())
    }

    /// Quits the program by its own key, so that it removes its temporary folder.
    fn leave(mut self) -> Result<(), Box<dyn Error>> {
        let end = Instant::now() + PATIENCE;
        while self.child.try_wait()?.is_none() {
            if Instant::now() > end {
                self.child.kill()?;
                return Err("the program did not end by itself".into());
            }
            // It may exit between the check and the key.
            let _ = self.input.write_all(b"\x03");
            let _ = self.input.flush();
            if self.output.recv_timeout(QUIET) == Err(RecvTimeoutError::Disconnected) {
                thread::sleep(Duration::from_millis(20));
            }
        }
        Ok(())
    }
}

/// The width and height of a cell in pixels, and the distance from its top to the baseline.
const CELL: (f32, f32) = (8.4, 18.0);
const BASE: f32 = 13.5;
const FONT_SIZE: f32 = 14.0;
/// Pixels around the screen.
const MARGIN: f32 = 10.0;
/// A quiet dark terminal: background and foreground.
const BACK: &str = "#16181d";
const FORE: &str = "#d8dae0";
/// The sixteen colours without a fixed look.
const SIXTEEN: [&str; 16] = [
    "#23262e", "#d0605e", "#7fa650", "#d0a24c", "#5c8fd0", "#a87bc0", "#53a5a8", "#c4c7ce",
    "#6a6f7b", "#e58482", "#a0c274", "#e6c177", "#86b1e8", "#c79fdc", "#7cc6c8", "#f2f3f5",
];

fn colour(colour: Color, default: &str) -> String {
    match colour {
        Color::Default => default.to_owned(),
        Color::Rgb(r, g, b) => format!("#{r:02x}{g:02x}{b:02x}"),
        Color::Idx(index @ 0..16) => SIXTEEN[usize::from(index)].to_owned(),
        Color::Idx(index @ 16..232) => {
            let level = |n: u8| if n == 0 { 0 } else { 55 + 40 * n };
            let n = index - 16;
            let (r, g, b) = (level(n / 36), level(n / 6 % 6), level(n % 6));
            format!("#{r:02x}{g:02x}{b:02x}")
        }
        Color::Idx(index) => {
            let grey = 8 + (index - 232) * 10;
            format!("#{grey:02x}{grey:02x}{grey:02x}")
        }
    }
}

/// The foreground and background of a cell.
fn inks(cell: &Cell) -> (String, String) {
    let (fore, back) = (colour(cell.fgcolor(), FORE), colour(cell.bgcolor(), BACK));
    if cell.inverse() {
        (back, fore)
    } else {
        (fore, back)
    }
}

/// The arms of a line-drawing character: left, right, up, down. Drawn as lines, so that they meet
/// in any font.
fn arms(text: &str) -> Option<[bool; 4]> {
    let arms = match text {
        "─" => "lr",
        "│" => "ud",
        "┌" | "╭" => "rd",
        "┐" | "╮" => "ld",
        "└" | "╰" => "ru",
        "┘" | "╯" => "lu",
        "├" => "rud",
        "┤" => "lud",
        "┬" => "lrd",
        "┴" => "lru",
        "┼" => "lrud",
        _ => return None,
    };
    Some(['l', 'r', 'u', 'd'].map(|arm| arms.contains(arm)))
}

/// The parts of a cell that a block character fills, each from left, top, right and bottom in
/// eighths. Drawn as rectangles, so that there are no gaps in any font.
fn blocks(text: &str) -> Option<&'static [[u8; 4]]> {
    Some(match text {
        "█" => &[[0, 0, 8, 8]],
        "▀" => &[[0, 0, 8, 4]],
        "▄" => &[[0, 4, 8, 8]],
        "▐" => &[[4, 0, 8, 8]],
        "▟" => &[[4, 0, 8, 8], [0, 4, 4, 8]],
        "▔" => &[[0, 0, 8, 1]],
        "━" => &[[0, 3, 8, 5]],
        _ => return None,
    })
}

/// Draws the parts of a cell that a block character fills.
fn filled(svg: &mut String, blocks: &[[u8; 4]], (x, y): (f32, f32), ink: &str) -> std::fmt::Result {
    let (w, h) = (CELL.0 / 8.0, CELL.1 / 8.0);
    for &[left, top, right, bottom] in blocks {
        let at = (x + f32::from(left) * w, y + f32::from(top) * h);
        let size = (f32::from(right - left) * w, f32::from(bottom - top) * h);
        writeln!(
            svg,
            "<rect x=\"{:.2}\" y=\"{:.2}\" width=\"{:.2}\" height=\"{:.2}\" fill=\"{ink}\" shape-rendering=\"crispEdges\"/>",
            at.0, at.1, size.0, size.1
        )?;
    }
    Ok(())
}

/// Attributes of the text in a cell.
fn look(cell: &Cell) -> String {
    let mut look = format!("fill=\"{}\"", inks(cell).0);
    for (on, attribute) in [
        (cell.bold(), " font-weight=\"bold\""),
        (cell.dim(), " fill-opacity=\"0.6\""),
        (cell.italic(), " font-style=\"italic\""),
        (cell.underline(), " text-decoration=\"underline\""),
    ] {
        if on {
            look.push_str(attribute);
        }
    }
    look
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
}

/// Renders the screen as SVG.
fn svg(screen: &Screen, title: &str) -> Result<String, std::fmt::Error> {
    let (rows, columns) = screen.size();
    let (rows, columns) = (rows.get(), columns.get());
    let width = f32::from(columns) * CELL.0 + 2.0 * MARGIN;
    let height = f32::from(rows) * CELL.1 + 2.0 * MARGIN;
    let mut svg = String::new();
    writeln!(
        svg,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width:.0}\" height=\"{height:.0}\" \
         viewBox=\"0 0 {width:.1} {height:.1}\" font-size=\"{FONT_SIZE}\" \
         font-family=\"monospace\">\n\
         <title>{}</title>\n<rect width=\"100%\" height=\"100%\" rx=\"6\" fill=\"{BACK}\"/>",
        escaped(title)
    )?;
    for row in 0..rows {
        backgrounds(&mut svg, screen, row)?;
        texts(&mut svg, screen, row)?;
    }
    if !screen.hide_cursor() {
        let (row, column) = screen.cursor_position();
        let (x, y) = corner(row, column);
        let (w, h) = CELL;
        writeln!(
            svg,
            "<rect x=\"{x:.1}\" y=\"{y:.1}\" width=\"{w}\" height=\"{h}\" fill=\"{FORE}\" fill-opacity=\"0.5\"/>"
        )?;
    }
    svg.push_str("</svg>\n");
    Ok(svg)
}

/// The top left corner of a cell.
fn corner(row: u16, column: u16) -> (f32, f32) {
    (
        MARGIN + f32::from(column) * CELL.0,
        MARGIN + f32::from(row) * CELL.1,
    )
}

/// One rectangle for each run of cells with the same background.
fn backgrounds(svg: &mut String, screen: &Screen, row: u16) -> std::fmt::Result {
    let columns = screen.size().1.get();
    let back = |column| screen.cell(row, column).map(|cell| inks(cell).1);
    let mut column = 0;
    while column < columns {
        let start = column;
        let behind = back(start);
        while column < columns && back(column) == behind {
            column += 1;
        }
        if let Some(fill) = behind.filter(|fill| fill != BACK) {
            let (x, y) = corner(row, start);
            let (w, h) = (f32::from(column - start) * CELL.0, CELL.1);
            writeln!(
                svg,
                "<rect x=\"{x:.1}\" y=\"{y:.1}\" width=\"{w:.1}\" height=\"{h}\" fill=\"{fill}\"/>"
            )?;
        }
    }
    Ok(())
}

/// One text element for each run of cells with the same look, every character at its own position.
fn texts(svg: &mut String, screen: &Screen, row: u16) -> std::fmt::Result {
    let mut runs: Vec<(String, String, String)> = Vec::new();
    for column in 0..screen.size().1.get() {
        let Some(cell) = screen.cell(row, column) else {
            continue;
        };
        let text = cell.contents();
        if text.trim().is_empty() {
            continue;
        }
        let (x, y) = corner(row, column);
        if let Some(arms) = arms(text) {
            lines(svg, arms, (x, y), &inks(cell).0)?;
            continue;
        }
        if let Some(blocks) = blocks(text) {
            filled(svg, blocks, (x, y), &inks(cell).0)?;
            continue;
        }
        let look = look(cell);
        if runs.last().is_none_or(|(same, ..)| *same != look) {
            runs.push((look, String::new(), String::new()));
        }
        if let Some((_, places, letters)) = runs.last_mut() {
            // A combining mark is a character too, and takes an entry in the list.
            for letter in text.chars() {
                write!(places, "{x:.1} ")?;
                letters.push(letter);
            }
        }
    }
    let y = corner(row, 0).1 + BASE;
    for (look, places, letters) in runs {
        let (places, letters) = (places.trim_end(), escaped(&letters));
        writeln!(
            svg,
            "<text y=\"{y:.1}\" x=\"{places}\" {look}>{letters}</text>"
        )?;
    }
    Ok(())
}

/// The lines of a line-drawing character, from the middle of its cell.
fn lines(svg: &mut String, arms: [bool; 4], (x, y): (f32, f32), ink: &str) -> std::fmt::Result {
    let (w, h) = CELL;
    let (mx, my) = (x + w / 2.0, y + h / 2.0);
    let ends = [(x, my), (x + w, my), (mx, y), (mx, y + h)];
    let mut path = String::new();
    for ((ex, ey), _) in ends.iter().zip(arms).filter(|(_, there)| *there) {
        write!(path, "M{mx:.1} {my:.1}L{ex:.1} {ey:.1}")?;
    }
    writeln!(
        svg,
        "<path d=\"{path}\" stroke=\"{ink}\" stroke-linecap=\"square\"/>"
    )
}

/// The program built with the same profile as this example.
fn beside_this_example() -> Result<PathBuf, Box<dyn Error>> {
    let here = env::current_exe()?;
    let target = here
        .parent()
        .and_then(Path::parent)
        .ok_or("no folder above this example")?;
    let binary = target.join(format!("homehook{}", env::consts::EXE_SUFFIX));
    if binary.exists() {
        return Ok(binary);
    }
    Err(format!(
        "{} is not built yet: run cargo build first",
        binary.display()
    )
    .into())
}

fn main() -> Result<(), Box<dyn Error>> {
    let arguments = Arguments::parse();
    let keys = typed(&arguments.keys)?;
    let binary = match arguments.binary {
        Some(binary) => binary,
        None => beside_this_example()?,
    };
    let mut running = Running::start(&binary, arguments.size, arguments.empty)?;
    running.settle(PATIENCE);
    for key in &keys {
        running.press(key)?;
    }
    let (columns, rows) = arguments.size;
    let mut terminal = vt100::Parser::new(rows, columns, 0);
    terminal.process(&running.written);
    let screen = terminal.screen();
    let title = screen
        .contents()
        .lines()
        .next()
        .unwrap_or_default()
        .trim()
        .to_owned();
    let picture = svg(screen, &format!("homehook: {title}"))?;
    running.leave()?;
    fs::write(&arguments.out, picture)?;
    println!("{} after '{}'", arguments.out.display(), arguments.keys);
    Ok(())
}
