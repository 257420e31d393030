//! Paper for the wall: labels, hook labels, ring cards, maps of boards and buy lists; also the
//! pocket page, a file for a phone rather than paper.
//!
//! A sheet is a function from the state to a [`page::Document`]: pages of items in exact hundredths
//! of a millimetre, each item with its area on the page and the shapes drawn in it. [`svg_files`]
//! and [`html`] only convert that to SVG or HTML. Nothing is drawn beyond an item, items don't
//! overlap, and everything is inside the printable area ([`paper::Sheet::printable`]).
//!
//! SVG uses real millimetres (W3C, Scalable Vector Graphics 1.1; XML 1.0 for escaping), one file
//! per page. HTML is a single self-contained file with all pages and the paper size (W3C, CSS Paged
//! Media Module Level 3, `@page`). It is also well-formed XML.

pub mod board_map;
pub mod buy_list;
pub mod labels;
pub mod page;
pub mod paper;
pub mod pocket;
pub mod ring_card;
#[cfg(test)]
mod tests;

use std::fmt::Write;
use std::path::{Path, PathBuf};

use page::{Align, Area, Document, Fitted, Item, Mm, Page, Pen, Shape, Style};

use crate::model::colour::Srgb;
use crate::text::print::{COLOURS_ARE_HINTS, how_to_print};

/// The fonts, in order of preference.
const FONTS: &str = "Helvetica, Arial, 'Liberation Sans', 'DejaVu Sans', sans-serif";

/// A text as character data or an attribute in double quotes. Characters not allowed in XML 1.0
/// become U+FFFD.
#[must_use]
pub(crate) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\t' | '\n' | '\r' => out.push(' '),
            '\u{0}'..='\u{1F}' | '\u{7F}'..='\u{9F}' | '\u{FFFE}' | '\u{FFFF}' => {
                out.push(char::REPLACEMENT_CHARACTER);
            }
            c => out.push(c),
        }
    }
    out
}

/// One page as an SVG element, with its size in millimetres. O(shapes).
#[must_use]
pub(crate) fn svg_page(document: &Document, page: &Page) -> String {
    let (w, h) = (document.width, document.height);
    let mut out = String::new();
    // Writing to a string can't fail.
    let _ = writeln!(
        out,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 \
         {w} {h}\" font-family=\"{FONTS}\">"
    );
    let _ = writeln!(out, "<title>{}</title>", escape(&document.title));
    let _ = writeln!(out, "<rect width=\"{w}\" height=\"{h}\" fill=\"#FFFFFF\"/>");
    for item in &page.items {
        write_item(&mut out, item);
    }
    out.push_str("</svg>\n");
    out
}

/// An item is an SVG of its own inside the page's, which clips everything beyond it.
fn write_item(out: &mut String, item: &Item) {
    let Area { x, y, w, h } = item.at;
    let _ = writeln!(
        out,
        "<svg x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\" viewBox=\"0 0 {w} {h}\">"
    );
    for shape in &item.shapes {
        write_shape(out, shape);
    }
    out.push_str("</svg>\n");
}

fn write_shape(out: &mut String, shape: &Shape) {
    match shape {
        Shape::Rect { at, fill, pen } => {
            let Area { x, y, w, h } = at;
            let _ = write!(
                out,
                "<rect x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\" "
            );
            paint(out, *fill, *pen);
        }
        Shape::Disc { at, fill, pen } => {
            let r = at.w.min(at.h) / 2;
            let (cx, cy) = (at.x + at.w / 2, at.y + at.h / 2);
            let _ = write!(out, "<circle cx=\"{cx}\" cy=\"{cy}\" r=\"{r}\" ");
            paint(out, *fill, *pen);
        }
        Shape::Line { from, to, pen } => {
            let _ = write!(
                out,
                "<line x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\" ",
                from.0, from.1, to.0, to.1
            );
            paint(out, None, Some(*pen));
        }
        Shape::Text { at, text, style } => write_text(out, *at, text, *style),
    }
}

fn paint(out: &mut String, fill: Option<Srgb>, pen: Option<Pen>) {
    let fill = fill.map_or_else(|| "none".to_owned(), |colour| colour.to_string());
    let _ = write!(out, "fill=\"{fill}\"");
    if let Some(pen) = pen {
        let _ = write!(
            out,
            " stroke=\"{}\" stroke-width=\"{}\"",
            pen.colour, pen.width
        );
        if pen.dashed {
            out.push_str(" stroke-dasharray=\"1.2 0.9\"");
        }
    }
    out.push_str("/>\n");
}

fn write_text(out: &mut String, at: Area, text: &Fitted, style: Style) {
    let (x, anchor) = match style.align {
        Align::Left => (at.x, "start"),
        Align::Middle => (at.x + at.w / 2, "middle"),
        Align::Right => (at.right(), "end"),
    };
    // Capitals are about 0.7 of the font size high.
    let y: Mm = at.y + at.h / 2 + text.size.percent(35);
    let _ = write!(
        out,
        "<text x=\"{x}\" y=\"{y}\" font-size=\"{}\" text-anchor=\"{anchor}\" fill=\"{}\"",
        text.size, style.ink
    );
    if style.bold {
        out.push_str(" font-weight=\"bold\"");
    }
    if style.slanted {
        out.push_str(" font-style=\"italic\"");
    }
    let _ = writeln!(out, ">{}</text>", escape(&text.text));
}

/// One file per page: `labels-1.svg` and so on for `labels` or `labels.svg`, each with its content.
#[must_use]
pub(crate) fn svg_files(document: &Document, file: &Path) -> Vec<(PathBuf, String)> {
    let pages = (1..).zip(&document.pages);
    pages
        .map(|(number, one)| (page_file(file, number), svg_page(document, one)))
        .collect()
}

fn page_file(file: &Path, page: usize) -> PathBuf {
    let is_svg = file.extension().is_some_and(|end| end == "svg");
    let stem = if is_svg {
        file.with_extension("")
    } else {
        file.to_owned()
    };
    let mut name = stem.into_os_string();
    name.push(format!("-{page}.svg"));
    name.into()
}

/// The forms that a printout is written in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum PrintForm {
    /// One file for a browser.
    Html,
    /// A file for each page.
    Svg,
}

impl PrintForm {
    /// The form that a file's name says; `None` for the name of something else.
    pub(crate) fn named(path: &Path) -> Option<Self> {
        let ending = path.extension()?.to_ascii_lowercase();
        match ending.to_str()? {
            "html" | "htm" => Some(Self::Html),
            "svg" => Some(Self::Svg),
            _ => None,
        }
    }
}

/// The document as HTML. O(shapes).
#[must_use]
pub(crate) fn html(document: &Document) -> String {
    let (w, h, title) = (document.width, document.height, escape(&document.title));
    let pages: String = document
        .pages
        .iter()
        .map(|one| format!("<section>\n{}</section>\n", svg_page(document, one)))
        .collect();
    let (how, hint) = (escape(&how_to_print(w, h)), escape(COLOURS_ARE_HINTS));
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n\
         <title>{title}</title>\n<style>\n\
         @page {{ size: {w}mm {h}mm; margin: 0; }}\n\
         html, body {{ margin: 0; padding: 0; }}\n\
         section {{ width: {w}mm; height: {h}mm; overflow: hidden; break-after: page; \
         print-color-adjust: exact; -webkit-print-color-adjust: exact; }}\n\
         section:last-of-type {{ break-after: auto; }}\n\
         section svg {{ display: block; }}\n\
         @media screen {{ body {{ background: #DDDDDD; }} section {{ margin: 6mm auto; background: \
         #FFFFFF; }} p {{ font-family: sans-serif; margin: 6mm; }} }}\n\
         @media print {{ p {{ display: none; }} }}\n\
         </style>\n</head>\n<body>\n\
         <p>{how} {hint}</p>\n\
         {pages}</body>\n</html>\n"
    )
}
