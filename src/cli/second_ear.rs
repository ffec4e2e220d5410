//! What the second ear says of itself, for `status` and `check`.

use crate::journal::Journal;
use crate::socket::report::EarReport;
use crate::socket::{self, AskError};
use serde_json::Value;
use std::path::Path;

/// How the second ear is, for `status` and `check`.
pub(super) struct Ear {
    /// What it answers; `None` where it does not run, an error where it does not answer.
    answer: Result<Option<EarReport>, AskError>,
    /// Readings that only it heard, ever.
    alone: Option<i64>,
}

impl Ear {
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

    /// One line for `status` and `check`, without a full stop.
    pub(super) fn sentence(&self) -> String {
        let alone = match self.alone {
            Some(1) => "one reading was heard by it alone".to_owned(),
            Some(more) => format!("{more} readings were heard by it alone"),
            None => "the journal does not say what it heard alone".to_owned(),
        };
        if let Some(problem) = self.problem() {
            return format!("{problem}; {alone}");
        }
        let Ok(Some(report)) = &self.answer else {
            return format!("off; {alone}");
        };
        let counts = report.ear.counts;
        let mut said = format!(
            "listening, {} measurements since its start; {alone}",
            counts.taken
        );
        let left = counts.unknown_handle + counts.implausible;
        if left > 0 {
            said +=
                &format!("; {left} indications were no measurement, or at a handle that it does not know");
        }
        said
    }
}
