//! All pages as one HTML file that needs no other: the pages of [`super::svg`] and the paper's size
//! (W3C, CSS Paged Media Module Level 3, `@page`). Well-formed XML too.

use super::page::Document;
use super::paper::hint;
use super::svg::{escape, page};

/// The document as HTML. O(shapes).
#[must_use]
pub fn html(document: &Document) -> String {
    let (w, h, title) = (document.width, document.height, escape(&document.title));
    let pages: String = document
        .pages
        .iter()
        .map(|one| format!("<section>\n{}</section>\n", page(document, one)))
        .collect();
    let how = format!("Print on paper of {w} x {h} mm at 100 %, without 'fit to page'.");
    let (how, hint) = (escape(&how), escape(hint()));
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
