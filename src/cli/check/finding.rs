//! What was looked at, how it is, and what to do.

use super::super::failure::Failure;
use serde::Serialize;

/// How it stands with one thing.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum FindingState {
    /// As it should be.
    Ok,
    /// The daemon works without, and something is better done about it.
    Advised,
    /// The daemon cannot work without.
    Needed,
}

impl FindingState {
    pub(super) const fn name(self) -> &'static str {
        match self {
            Self::Ok => "ok",
            Self::Advised => "advised",
            Self::Needed => "needed",
        }
    }
}

/// One thing that was looked at.
#[derive(PartialEq, Eq, Debug, Serialize)]
pub(super) struct Finding {
    pub(super) check: &'static str,
    pub(super) state: FindingState,
    pub(super) found: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) todo: Option<String>,
    #[serde(skip)]
    pub(super) code: u8,
}

pub(super) fn ok(check: &'static str, found: impl Into<String>) -> Finding {
    Finding {
        check,
        state: FindingState::Ok,
        found: found.into(),
        todo: None,
        code: 0,
    }
}

pub(super) fn advised(check: &'static str, found: impl Into<String>, todo: impl Into<String>) -> Finding {
    Finding {
        state: FindingState::Advised,
        todo: Some(todo.into()),
        ..ok(check, found)
    }
}

pub(super) fn needed(
    check: &'static str,
    code: u8,
    found: impl Into<String>,
    todo: impl Into<String>,
) -> Finding {
    Finding {
        state: FindingState::Needed,
        code,
        ..advised(check, found, todo)
    }
}

/// A failure whose sentence says what to do.
pub(super) fn failed(check: &'static str, failure: &Failure) -> Finding {
    let (found, todo) = split(&failure.to_string());
    Finding {
        todo,
        ..needed(check, failure.code(), found, "")
    }
}

/// What happened, and what to do: our errors put a semicolon between the two.
pub(super) fn split(sentence: &str) -> (String, Option<String>) {
    match sentence.split_once("; ") {
        Some((found, todo)) => (found.to_owned(), Some(todo.to_owned())),
        None => (sentence.to_owned(), None),
    }
}
