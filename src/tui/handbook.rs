//! The handbook, one page per subject, as the shell and the screen show it.

use unicode_width::UnicodeWidthStr;

use crate::tui::wrap;

/// A page: its subject and its text in Markdown.
pub(crate) type Page = (&'static str, &'static str);

macro_rules! pages {
    ($($subject:literal)*) => {
        &[$(($subject, include_str!(concat!("../../assets/handbook/", $subject, ".md"))),)*]
    };
}

/// Every page, in listing order.
pub(crate) const PAGES: &[Page] = pages!(
    "first-steps" "projects" "rehang" "lists" "paper" "two-computers" "data" "colours" "scripts" "keyboard"
);

/// The heading of a page.
pub(crate) fn title(text: &'static str) -> &'static str {
    let first = text.lines().next().unwrap_or_default();
    first.trim_start_matches(['#', ' '])
}

/// A page as plain text, without pictures: links become words, tables are laid out, and paragraphs
/// are wrapped to a width in columns.
pub(crate) fn plain(markdown: &str, width: usize) -> String {
    let mut text = String::new();
    let mut blocks = markdown.split("\n\n").peekable();
    while let Some(block) = blocks.next() {
        let mut block = block.trim_matches('\n').to_owned();
        // A blank line inside a code block doesn't end it.
        while block.starts_with("```") && !block.ends_with("```") {
            let Some(more) = blocks.next() else { break };
            block.push_str("\n\n");
            block.push_str(more.trim_end_matches('\n'));
        }
        let lines = block.lines().filter(|line| !line.starts_with("<!--"));
        let lines: Vec<&str> = lines.collect();
        let shown = match lines.first() {
            None => continue,
            Some(first) if first.starts_with("![") => continue,
            Some(first) if first.starts_with("```") => code(&lines, width),
            Some(first) if first.starts_with('#') => heading(first),
            Some(first) if first.starts_with('|') => table(&lines, width),
            Some(_) => paragraphs(&lines, width),
        };
        if !text.is_empty() {
            text.push('\n');
        }
        text.push_str(&shown);
    }
    text
}

/// A code block. If a comment makes its line too long, it moves to the line above.
fn code(lines: &[&str], width: usize) -> String {
    let inside = lines.iter().filter(|line| !line.starts_with("```"));
    let inside = inside.map(|line| match line.split_once(" # ") {
        _ if line.is_empty() => "\n".to_owned(),
        Some((command, remark)) if line.width() + 4 > width => {
            format!("    # {remark}\n    {}\n", command.trim_end())
        }
        _ => format!("    {line}\n"),
    });
    inside.collect()
}

fn heading(line: &str) -> String {
    let title = line.trim_start_matches(['#', ' ']);
    let under = if line.starts_with("##") { "-" } else { "=" };
    format!("{title}\n{}\n", under.repeat(title.width()))
}

/// Lines of prose. Each list item stays separate.
fn paragraphs(lines: &[&str], width: usize) -> String {
    let mut items: Vec<String> = Vec::new();
    for line in lines {
        let begins = line.starts_with("- ") || line.starts_with(|c: char| c.is_ascii_digit());
        match items.last_mut() {
            Some(item) if !begins => {
                item.push(' ');
                item.push_str(line.trim());
            }
            _ => items.push((*line).to_owned()),
        }
    }
    let filled = items.iter().map(|item| {
        let indent = match item.split_once(' ') {
            Some((sign @ ("-" | "1." | "2." | "3." | "4." | "5."), _)) => sign.len() + 1,
            _ => 0,
        };
        fill(&words_of(item), (0, indent), width)
    });
    filled.collect()
}

/// A table in columns if it fits; otherwise a paragraph for each row, with its cells under the
/// titles.
fn table(lines: &[&str], width: usize) -> String {
    let mut rows = lines.iter().map(|line| cells(line));
    let titles = rows.next().unwrap_or_default();
    let rows: Vec<Vec<String>> = rows.skip(1).collect();
    let of_column = |at: usize| {
        let cells = rows
            .iter()
            .chain([&titles])
            .filter_map(move |row| row.get(at));
        cells.map(|cell| cell.width()).max().unwrap_or(0)
    };
    let widths: Vec<usize> = (0..titles.len()).map(of_column).collect();
    if widths.iter().sum::<usize>() + 2 * widths.len().saturating_sub(1) <= width {
        let row = |row: &Vec<String>| {
            let cells = row.iter().zip(&widths).map(|(cell, of_column)| {
                let gap = of_column.saturating_sub(cell.width());
                format!("{cell}{}", " ".repeat(gap))
            });
            let cells: Vec<String> = cells.collect();
            format!("{}\n", cells.join("  ").trim_end())
        };
        return rows.iter().map(row).collect();
    }
    let row = |row: &Vec<String>| {
        let cells = row.iter().zip(&titles).enumerate();
        let cells = cells.filter(|(_, (cell, _))| !cell.is_empty());
        let cells = cells.map(|(at, (cell, title))| match (at, title.as_str()) {
            (0, _) => fill(cell, (0, 2), width),
            (_, _) if titles.len() == 2 => fill(cell, (4, 4), width),
            (_, title) => fill(&format!("{title}: {cell}"), (4, 6), width),
        });
        cells.collect::<String>()
    };
    rows.iter().map(row).collect()
}

/// The cells of a table row.
fn cells(line: &str) -> Vec<String> {
    let inside = line.trim().trim_start_matches('|');
    let inside = inside.strip_suffix('|').unwrap_or(inside);
    let inside = inside.replace("\\|", "\u{0}");
    let cells = inside.split('|').map(str::trim);
    cells
        .map(|cell| words_of(&cell.replace('\u{0}', "|")))
        .collect()
}

/// Prose without bold markers, and with links replaced by their words.
fn words_of(text: &str) -> String {
    let mut words = String::new();
    let mut rest = text;
    while let Some((before, link)) = rest.split_once('[') {
        let target = link.split_once("](").and_then(|(said, after)| {
            let (target, after) = after.split_once(')')?;
            (!said.contains(']')).then_some((said, target, after))
        });
        words.push_str(before);
        let Some((said, target, after)) = target else {
            words.push('[');
            rest = link;
            continue;
        };
        words.push_str(said);
        if let Some(subject) = target
            .strip_suffix(".md")
            .filter(|name| !name.contains('/'))
        {
            words.push_str(&format!(" (homehook guide {subject})"));
        }
        rest = after;
    }
    words.push_str(rest);
    words.replace("**", "")
}

/// A non-breaking space for inline code. It comes from the private use area, so no page contains
/// it.
const KEPT_SPACE: &str = "\u{e000}";

/// A paragraph wrapped to the width, with indents for the first line and the others.
fn fill(text: &str, (first, others): (usize, usize), width: usize) -> String {
    let parts = text.split('`').enumerate();
    let parts = parts.map(|(at, part)| match at % 2 {
        1 => part.replace(' ', KEPT_SPACE),
        _ => part.to_owned(),
    });
    let text = parts.collect::<Vec<_>>().join("`");
    let lines = wrap(&text, width.saturating_sub(others.max(first)).max(1)).into_iter();
    let lines = lines.enumerate().map(|(at, line)| {
        let indent = if at == 0 { first } else { others };
        format!("{}{line}\n", " ".repeat(indent))
    });
    lines.collect::<String>().replace(KEPT_SPACE, " ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::keymap::Scope;

    const WIDTH: usize = 80;

    #[test]
    fn page_renders_as_plain_text() {
        let page = "# Hanging\n\nSee [the lists](lists.md), **all** of\nthem: `g`.\n\n![A wall](wall.png)\nOther sizes: [small](small.png).\n\n\
            - one\n  more\n- two\n\n```sh\nhomehook find 447\n\nhomehook where\n```\n\n\
            | key | what it does |\n|---|---|\n| `g` | plans |\n| `Enter` | starts |\n";
        let text = "Hanging\n=======\n\nSee the lists (homehook guide lists), all of them: `g`.\n\n\
            - one more\n- two\n\n    homehook find 447\n\n    homehook where\n\n\
            `g`      plans\n`Enter`  starts\n";
        assert_eq!(plain(page, WIDTH), text);
    }

    #[test]
    fn wide_table_becomes_a_paragraph_per_row() {
        let long = "word ".repeat(20);
        let page = format!(
            "| a | on the screen | from the shell |\n|---|---|---|\n| Find | `/` | {long}|\n"
        );
        let text = plain(&page, WIDTH);
        assert!(
            text.starts_with("Find\n    on the screen: `/`\n    from the shell: word "),
            "{text}"
        );
        assert!(text.lines().all(|line| line.width() <= WIDTH));
    }

    #[test]
    fn every_page_has_a_title_and_its_prose_fits_a_terminal() {
        for (subject, page) in PAGES {
            assert!(!title(page).is_empty(), "{subject}");
            let text = plain(page, WIDTH);
            let prose = text.lines().filter(|line| !line.starts_with("    "));
            for line in prose {
                assert!(line.width() <= WIDTH, "{subject}: {line}");
            }
        }
    }

    #[test]
    fn every_scope_names_an_existing_page() {
        for scope in Scope::ALL {
            assert!(
                PAGES.iter().any(|(subject, _)| *subject == scope.guide()),
                "{scope:?}"
            );
        }
    }
}
