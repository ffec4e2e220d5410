//! The report as PDF: real text in any script, vectors, and tags that say what is a heading, a table, a figure
//! (PDF/UA-1).
//!
//! Written with `pdf-writer`, which puts objects into a file and does nothing else, `harfrust` for scripts whose
//! letters change with what is beside them, and `subsetter` for the faces that are put in. `krilla` and `printpdf`
//! would have brought images and colours that one sheet of words and lines has no use for, and typst a whole compiler.
//! `book` keeps the pages and the tags, `setting` puts blocks onto pages, `letters` makes glyphs of letters, `pen`
//! draws, `embed` puts the faces in.

mod book;
mod embed;
mod faces;
mod letters;
mod pen;
mod setting;

use super::document::{Block, ReportDocument};
use super::paper::Paper;
use book::PdfFile;
pub use faces::Fonts;
use setting::{MEASURES, Measure, Typesetting};

/// The whole file.
pub(super) fn write(document: &ReportDocument, paper: Paper, fonts: &Fonts) -> Vec<u8> {
    let mut book = set(document, paper, fonts, false);
    if !book.exact() {
        book = set(document, paper, fonts, true);
    }
    book.finish(document)
}

/// The whole, its first sheet so close that it does not run over; as usual where nothing keeps it from that.
fn set<'a>(document: &ReportDocument, paper: Paper, fonts: &'a Fonts, missing: bool) -> PdfFile<'a> {
    let blocks = document.blocks.as_slice();
    let first = blocks.iter().position(|block| matches!(block, Block::Sheet));
    let first = first.and_then(|end| blocks.get(..end)).unwrap_or_default();
    let [usual, ..] = MEASURES;
    let fits = |measure: &Measure| set_in(document, first, (paper, fonts), *measure, missing).is_one_page();
    let measure = MEASURES.into_iter().find(fits).unwrap_or(usual);
    set_in(document, blocks, (paper, fonts), measure, missing)
}

fn set_in<'a>(
    document: &ReportDocument,
    blocks: &[Block],
    (paper, fonts): (Paper, &'a Fonts),
    measure: Measure,
    missing: bool,
) -> PdfFile<'a> {
    let mut setting = Typesetting::new(paper, fonts, measure);
    let mut blocks = blocks.iter().peekable();
    while let Some(block) = blocks.next() {
        setting.block(block, blocks.peek().copied());
        if missing && matches!(block, Block::Title(_)) {
            let missing = document.words.say("sheet-letters-missing");
            setting.block(&Block::Small(missing), None);
        }
    }
    setting.book()
}
