//! What the second ear says of itself, for `status` and `check`.

use crate::journal::Journal;
use crate::socket::report::EarReport;
use crate::socket::{self, AskError};
use crate::words::Words;
use serde_json::Value;
use std::path::Path;

/// How the second ear is, for `status` and `check`.
pub(super) struct EarState {
    /// What it answers; `None` where it does not run, an error where it does not answer.
    answer: Result<Option<EarReport>, AskError>,
    /// Readings that only it heard, ever.
    alone: Option<i64>,
}

impl EarState {
    pub(super) fn ask(state: &Path) -> Self {
        let alone = Journal::read(state).and_then(|journal| journal.only_overheard());
        Self {
            answer: socket::ear(state),
            alone: alone.ok(),
        }
    }

    pub(super) fn runs(&self) -> bool {
        matches!(self.answer, Ok(Some(_)))
    }

    pub(super) fn problem(&self) -> Option<String> {
        match &self.answer {
            Err(error) => Some(format!("does not answer: {error}")),
            Ok(None) => None,
            Ok(Some(report)) => report.problem().map(str::to_owned),
        }
    }

    pub(super) fn json(&self) -> Value {
        let answer = match &self.answer {
            Ok(Some(report)) => serde_json::to_value(report).unwrap_or_default(),
            _ => serde_json::json!({ "running": false }),
        };
        let mut told = answer.as_object().cloned().unwrap_or_default();
        told.insert("only_overheard".to_owned(), self.alone.into());
        told.into()
    }

    /// One line for `status` and `check`, without a full stop. What is wrong with it stays as it says it.
    pub(super) fn said(&self, words: &Words) -> String {
        let alone = match self.alone {
            Some(readings) => words.with("ear-alone", &[("n", readings.into())]),
            None => words.say("ear-alone-unknown"),
        };
        if let Some(problem) = self.problem() {
            return format!("{problem}; {alone}");
        }
        let Ok(Some(report)) = &self.answer else {
            return format!("{}; {alone}", words.say("ear-off"));
        };
        let number = |n: u64| i64::try_from(n).unwrap_or(i64::MAX);
        let counts = report.ear.counts;
        let taken = [("n", number(counts.taken).into())];
        let mut said = vec![words.with("ear-listening", &taken), alone];
        let left = counts.unknown_handle + counts.implausible;
        if left > 0 {
            said.push(words.with("ear-left", &[("n", number(left).into())]));
        }
        said.join("; ")
    }
}
