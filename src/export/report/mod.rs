//! The report that a household takes to the clinic: one sheet that a physician reads in a minute, then the
//! detail.
//!
//! ```text
//! Report ─► content ─► Document ─► html   one file, no script, no request
//! facts     words      blocks   └► pdf    tagged, real text, vectors
//!           plot ────► Drawing ─┘
//! ```
//!
//! Both files are set from the same `Document`, so that they cannot say different things. It reads no clock,
//! file or environment. Nothing is hidden: every reading of the days stands in the table with what became of
//! it and why, a long period says how many are not listed and how to have them, and no average stands where the
//! readings are too few. No colour, mark or word judges a value; what the average is held against is named with
//! its source.

mod content;
mod document;
pub(in crate::export) mod drawing;
mod facts;
mod html;
mod paper;
mod pdf;
mod plot;
pub(crate) mod words;

pub use facts::Report;
pub use paper::Paper;
pub use pdf::Fonts;
pub use plot::at_home;

use std::collections::BTreeSet;

/// What a report is written as.
#[derive(Clone, Copy)]
pub enum ReportForm<'a> {
    /// One self-contained page, for the printer's paper.
    Html,
    /// Sheets of that paper, set in these faces.
    Pdf(Paper, &'a Fonts),
}

impl Report<'_> {
    /// As a file of this form.
    pub fn write(&self, form: ReportForm<'_>) -> Vec<u8> {
        match form {
            ReportForm::Html => self.html().into_bytes(),
            ReportForm::Pdf(paper, fonts) => self.pdf(paper, fonts),
        }
    }

    /// As one self-contained page of HTML.
    pub fn html(&self) -> String {
        html::write(&content::document(self))
    }

    /// As a PDF for that paper, set in these faces. A letter that none of them has stands as a question mark, which the
    /// file says.
    pub fn pdf(&self, paper: Paper, fonts: &Fonts) -> Vec<u8> {
        pdf::write(&content::document(self), paper, fonts)
    }

    /// The letters that it is written in.
    pub fn letters(&self) -> BTreeSet<char> {
        let mut letters = BTreeSet::new();
        content::document(self).texts(&mut |text| letters.extend(text.chars().filter_map(drawing::seen)));
        letters
    }
}
