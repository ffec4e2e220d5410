//! The page without a socket.

use super::settings::Settings;
use super::{now, routes};
use crate::delivery::Clinic;
use crate::home::live::{Book, PagePlace};
use crate::journal::{Journal, JournalError};
use hyper::{Method, Request, header};
use std::path::Path;

/// The page without a socket, for whoever tries what a browser may send.
pub struct Rehearsal {
    settings: Settings,
    book: Book,
}

impl Rehearsal {
    /// Opens the journal.
    pub fn open(state: &Path, zone: Option<String>, settings: Settings) -> Result<Self, JournalError> {
        let book = Book::new(
            Journal::open(state)?,
            PagePlace::new(state.to_owned(), zone, Clinic::default()),
            now::view,
        );
        Ok(Self { settings, book })
    }

    /// The status of the answer; `None` where this is no request.
    pub fn answer(&mut self, writes: bool, target: &str, cookie: &[u8], form: &[u8]) -> Option<u16> {
        let method = if writes { Method::POST } else { Method::GET };
        let request = Request::builder()
            .method(method)
            .uri(target)
            .header(header::COOKIE, cookie);
        let (head, ()) = request.body(()).ok()?.into_parts();
        let response = routes::rehearsed(&self.settings, &head, form, &mut self.book);
        Some(response.status().as_u16())
    }
}
