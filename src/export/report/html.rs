//! The report as HTML: one file that asks for nothing, runs nothing, and prints.
//!
//! The policy in its head forbids every request and every script, should a label ever get past the escaping.
//! On paper each sheet has the person and its number in the margin boxes of CSS paged media; the paper's size
//! is the printer's.

use super::document::{Block, Cell, Column, PlotMark, ReportDocument, SHORT_ROWS, Set, Table};
use super::drawing::{Drawing, Escaped};
use std::fmt::Write;

const STYLE: &str = include_str!("report.css");

/// The three shapes of the tables, drawn once.
const MARKS: &str = "<svg class=\"marks\" aria-hidden=\"true\" focusable=\"false\">\
    <symbol id=\"counted\" viewBox=\"0 0 10 10\"><path class=\"filled\" d=\"M1 1L9 1L5 9Z\"/></symbol>\
    <symbol id=\"marked\" viewBox=\"0 0 10 10\"><path class=\"open\" d=\"M1 1L9 1L5 9Z\"/></symbol>\
    <symbol id=\"set-aside\" viewBox=\"0 0 10 10\"><path class=\"open\" d=\"M1 1L9 1L5 9Z\"/>\
    <path class=\"ink\" d=\"M0 9L10 1\"/></symbol></svg>";

impl PlotMark {
    const fn id(self) -> &'static str {
        match self {
            Self::Counted => "counted",
            Self::Marked => "marked",
            Self::SetAside => "set-aside",
        }
    }
}

/// The whole page.
pub(super) fn write(document: &ReportDocument) -> String {
    let mut page = Page {
        out: String::new(),
        plots: 0,
    };
    let (title, tag) = (Escaped(&document.title), document.words.language().tag());
    let _ = write!(
        page.out,
        "<!DOCTYPE html>\n<html lang=\"{tag}\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta name=\"color-scheme\" content=\"light dark\">\n<meta name=\"referrer\" content=\"no-referrer\">\n\
         <title>{title}</title>\n<style>\n{STYLE}{}</style>\n</head>\n<body>\n{MARKS}\n<main>\n",
        margins(document)
    );
    for block in &document.blocks {
        page.block(block);
    }
    page.out.push_str("</main>\n");
    if !document.unreviewed.is_empty() {
        let _ = writeln!(
            page.out,
            "<footer><p class=\"small\">{}</p></footer>",
            Escaped(&document.unreviewed)
        );
    }
    page.out.push_str("</body>\n</html>\n");
    page.out
}

/// What stands in the margins of every sheet.
fn margins(document: &ReportDocument) -> String {
    format!(
        "@page {{ @top-left {{ content: \"{}\" }} @bottom-left {{ content: \"{}\" }} }}\n",
        quoted(&document.running),
        quoted(&document.key)
    )
}

/// A string of CSS: everything but letters, digits and spaces by its number, so that nothing can end it.
fn quoted(text: &str) -> String {
    text.chars().fold(String::new(), |mut quoted, c| {
        if c.is_alphanumeric() || c == ' ' {
            quoted.push(c);
        } else {
            // CSS has no character of number 0.
            let _ = write!(quoted, "\\{:x} ", (c as u32).max(1));
        }
        quoted
    })
}

struct Page {
    out: String,
    plots: u32,
}

impl Page {
    fn block(&mut self, block: &Block) {
        match block {
            Block::Title(text) => self.element("h1", "", text),
            Block::Heading(text) => self.element("h2", "", text),
            Block::Large(text) => self.element("p", "large", text),
            Block::Paragraph(text) => self.element("p", "", text),
            Block::Small(text) => self.element("p", "small", text),
            Block::Notice(text) => self.element("p", "notice", text),
            Block::List(items) => {
                self.out.push_str("<ul>\n");
                items.iter().for_each(|item| self.element("li", "", item));
                self.out.push_str("</ul>\n");
            }
            Block::Table(table) => self.table(table),
            Block::Figure(wide, narrow, text) => {
                self.out.push_str("<figure>");
                self.plot(wide, "wide");
                self.plot(narrow, "narrow");
                let _ = writeln!(self.out, "<figcaption>{}</figcaption></figure>", Escaped(text));
            }
            Block::Pair(one, other) => {
                self.out.push_str("<div class=\"pair\">");
                self.plot(one, "half");
                self.plot(other, "half");
                self.out.push_str("</div>\n");
            }
            Block::Sheet => self.out.push_str("<div class=\"sheet\"></div>\n"),
        }
    }

    fn element(&mut self, name: &str, class: &str, text: &str) {
        let class = if class.is_empty() {
            String::new()
        } else {
            format!(" class=\"{class}\"")
        };
        let _ = writeln!(self.out, "<{name}{class}>{}</{name}>", Escaped(text));
    }

    /// One of two where a screen decides which: shrunk to a telephone's width, the letters of the wide one could not be
    /// read.
    fn plot(&mut self, drawing: &Drawing, class: &str) {
        self.plots += 1;
        let id = format!("plot{}", self.plots);
        let _ = write!(self.out, "<div class=\"{class}\">");
        drawing.svg(&mut self.out, &id);
        self.out.push_str("</div>");
    }

    fn table(&mut self, table: &Table) {
        let caption = Escaped(&table.caption);
        let _ = write!(
            self.out,
            "<div class=\"scroll{}{}\" tabindex=\"0\" role=\"group\" aria-label=\"{caption}\"><table>\
             <caption>{caption}</caption>\n<thead><tr>",
            if table.rows.len() <= SHORT_ROWS {
                " short"
            } else {
                ""
            },
            if table.columns.len() > 3 { " many" } else { "" },
        );
        for column in &table.columns {
            let _ = write!(
                self.out,
                "<th scope=\"col\"{}>{}</th>",
                class(column),
                Escaped(&column.name)
            );
        }
        self.out.push_str("</tr></thead>\n<tbody>\n");
        for row in &table.rows {
            self.out.push_str("<tr>");
            for (place, (cell, column)) in row.iter().zip(&table.columns).enumerate() {
                self.cell(cell, column, place == 0);
            }
            self.out.push_str("</tr>\n");
        }
        self.out.push_str("</tbody></table></div>\n");
    }

    fn cell(&mut self, cell: &Cell, column: &Column, first: bool) {
        let (name, scope) = if first {
            ("th", " scope=\"row\"")
        } else {
            ("td", "")
        };
        let mark = cell.mark.map_or_else(String::new, |mark| {
            format!(
                "<svg class=\"mark\" aria-hidden=\"true\"><use href=\"#{}\"/></svg> ",
                mark.id()
            )
        });
        let _ = write!(
            self.out,
            "<{name}{scope}{}>{mark}{}</{name}>",
            class(column),
            Escaped(&cell.text)
        );
    }
}

const fn class(column: &Column) -> &'static str {
    match column.set {
        Set::Words => "",
        Set::Whole => " class=\"whole\"",
        Set::Numbers => " class=\"number\"",
    }
}
