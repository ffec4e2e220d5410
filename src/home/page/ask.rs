//! A request that may be answered, and why it is not.

use super::door::Viewer;
use crate::home::live::Book;
use crate::household::PersonId;
use crate::journal::JournalError;
use crate::words::{Language, Words};
use jiff::Timestamp;

/// A request that may be answered.
pub(super) struct Ask {
    pub(super) viewer: Viewer,
    pub(super) words: &'static Words,
    pub(super) language: Language,
    pub(super) path: String,
    pub(super) fields: Vec<(String, String)>,
    /// For the forms of the page.
    pub(super) token: String,
    pub(super) now: Timestamp,
    /// The address under which the page was reached, as it is typed.
    pub(super) home: String,
}

impl Ask {
    /// A field of the query or the form.
    pub(super) fn field(&self, name: &str) -> Option<&str> {
        self.fields
            .iter()
            .find(|(field, _)| field == name)
            .map(|(_, value)| value.trim())
            .filter(|value| !value.is_empty())
    }

    /// Whether that address leads to the machine itself only.
    pub(super) fn is_only_here(&self) -> bool {
        let host = self.home.split("://").nth(1).unwrap_or_default();
        ["localhost", "127.", "[::1]"]
            .iter()
            .any(|here| host.starts_with(here))
    }

    pub(super) fn say(&self, name: &str) -> String {
        self.words.say(name)
    }

    /// Whose page it is: who was named, else the only one whom the viewer may see; where there are several,
    /// nobody, or the first where the viewer may not see everybody.
    pub(super) fn person(&self, book: &mut Book) -> Result<Option<PersonId>, Wrong> {
        let known = book.known()?;
        match self.field("person") {
            Some(name) => {
                let person: PersonId = name.parse().map_err(|_| Wrong::NotFound)?;
                if !self.viewer.sees(&person) {
                    return Err(Wrong::NotYours);
                }
                let there = known.people().any(|one| *one == person);
                if there {
                    Ok(Some(person))
                } else {
                    Err(Wrong::NotFound)
                }
            }
            None => {
                let mut seen = known.people().filter(|one| self.viewer.sees(one));
                let (first, second) = (seen.next(), seen.next());
                // Nobody stands for everybody, and a key for some never opens that: they may have been removed.
                let some = self.viewer.is_for_some();
                if first.is_none() && some {
                    return Err(Wrong::NotFound);
                }
                Ok(first.filter(|_| second.is_none() || some).cloned())
            }
        }
    }

    /// The same where a page is one person's: the first, where nobody was named.
    pub(super) fn one(&self, book: &mut Book) -> Result<Option<PersonId>, Wrong> {
        if let Some(person) = self.person(book)? {
            return Ok(Some(person));
        }
        let known = book.known()?;
        Ok(known.people().find(|one| self.viewer.sees(one)).cloned())
    }
}

/// Why a page is not shown.
#[derive(Debug)]
pub(super) enum Wrong {
    NotFound,
    NotYours,
    Forged,
    Value(String),
    Future,
    /// Somebody else changed what the form was about.
    Changed,
    Journal(JournalError),
    Busy,
}

impl From<JournalError> for Wrong {
    fn from(error: JournalError) -> Self {
        Self::Journal(error)
    }
}
