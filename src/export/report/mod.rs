//! The report that a household takes to the clinic: one sheet that a physician reads in a minute, then the detail.
//!
//! ```text
//! Report ─► content ─► Document ─► html   one file, no script, no request
//! facts     words      blocks   └► pdf    tagged, real text, vectors
//!           plot ────► Drawing ─┘
//! ```
//!
//! Both files are set from the same `Document`, so that they cannot say different things. It
//! reads no clock, file or environment. Nothing is hidden: every reading of the days stands in the table with what
//! became of it and why, and no average stands where the readings are too few. No colour, mark or word judges a value;
//! what the average is held against is named with its source.

mod content;
mod document;
mod drawing;
mod html;
mod pdf;
mod plot;
mod words;

pub use pdf::Paper;

use crate::household::{Household, MonitorId, Person, StatedNote, Zones};
use crate::monitoring::care::Care;
use crate::monitoring::escalation::Alert;
use crate::monitoring::patterns::Pattern;
use crate::monitoring::period::Period;
use crate::monitoring::protocol::Protocol;
use crate::monitoring::taken::Taken;
use crate::technique::JudgedReading;
use jiff::Timestamp;

/// What a report is written as.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Form {
    /// One self-contained page, for the printer's paper.
    Html,
    /// Sheets of that paper.
    Pdf(Paper),
}

/// Everything that a report shows.
#[derive(Clone, Debug)]
pub struct Report<'a> {
    /// People and monitors.
    pub household: &'a Household,
    /// The household's clock.
    pub zones: &'a Zones,
    /// The protocol's rules.
    pub protocol: &'a Protocol,
    /// The period, worked out by them.
    pub period: &'a Period,
    /// The readings of its days, in order of time, each with what averaging took of it.
    pub readings: Vec<(&'a JudgedReading, &'a Taken)>,
    /// Which of them the average is made of: those that count and that the protocol leaves in.
    pub averaged: Vec<bool>,
    /// Notes of its days, in order of time.
    pub notes: Vec<StatedNote>,
    /// How the care of each monitor stands.
    pub cares: &'a [(MonitorId, Care)],
    /// How many more readings of these days are nobody's yet.
    pub nobodys: i64,
    /// What a clinician may want to see.
    pub patterns: &'a [Pattern],
    /// What asks for a check of a monitor.
    pub signs: &'a [(MonitorId, Pattern)],
    /// What did not have to wait for the average.
    pub alerts: &'a [Alert],
    /// When the report is made.
    pub made_at: Timestamp,
}

impl Report<'_> {
    /// As a file of this form.
    pub fn write(&self, form: Form) -> Vec<u8> {
        match form {
            Form::Html => self.html().into_bytes(),
            Form::Pdf(paper) => self.pdf(paper),
        }
    }

    /// As one self-contained page of HTML.
    pub fn html(&self) -> String {
        html::write(&content::document(self))
    }

    /// As a PDF for that paper.
    pub fn pdf(&self, paper: Paper) -> Vec<u8> {
        pdf::write(&content::document(self), paper)
    }

    fn person(&self) -> Option<&Person> {
        self.household
            .people
            .get(&self.period.person)
            .map(|(person, _removed)| person)
    }

    /// What the household calls the person.
    fn label(&self) -> &str {
        self.person()
            .map(|person| person.label.trim())
            .filter(|label| !label.is_empty())
            .unwrap_or(self.period.person.as_str())
    }
}
