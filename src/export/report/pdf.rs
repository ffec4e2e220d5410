//! The report as PDF: real text, vectors, and tags that say what is a heading, a table, a figure.
//!
//! Written with `pdf-writer`, which puts objects into a file and does nothing else: five small crates, two
//! seconds of building, 0.2 MB more in the binary with everything that is here. `krilla` (81 crates) and
//! `printpdf` (132) would have brought fonts, images and compression that one sheet of words and lines has no
//! use for, and typst a whole compiler. What they would have done for us stands here: `book` keeps the pages
//! and the tags, `setting` puts blocks onto pages, `letters` knows the widths.
//!
//! The fonts are not embedded: see `letters` for what that means for names in other scripts.

mod book;
mod letters;
mod setting;

use super::document::{Block, Document};
use super::paper::Paper;
use book::Book;
use setting::Setting;

/// Said where a letter is missing.
const MISSING: &str = "Some letters are not in the alphabet of this file: they stand without their accent, or as \u{201c}?\u{201d}. \
                       The report as HTML shows them, and so does text that is copied from here.";

/// The whole file.
pub(super) fn write(document: &Document, paper: Paper) -> Vec<u8> {
    let mut book = set(document, paper, false);
    if !book.exact() {
        book = set(document, paper, true);
    }
    book.finish(document)
}

fn set(document: &Document, paper: Paper, missing: bool) -> Book {
    let mut setting = Setting::new(paper);
    let mut blocks = document.blocks.iter().peekable();
    while let Some(block) = blocks.next() {
        setting.block(block, blocks.peek().copied());
        if missing && matches!(block, Block::Title(_)) {
            setting.block(&Block::Small(MISSING.to_owned()), None);
        }
    }
    setting.book()
}
