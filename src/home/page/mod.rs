//! The household's page, as HTML from this server: what to do next, live, and everything behind it.
//!
//! ```text
//! socket ─► TLS ─► HTTP ─► door ─► routes ─► one file a page ─► answer
//!                          who      what      words in HTML      headers
//! ```
//!
//! No script but one small file, no request to anywhere else, nothing inline. Without the script the page still tells
//! the state and renews itself. Text of people is escaped by `maud`; only the catalogue's own words may hold markup.

mod answer;
mod door;
mod earlier;
mod frame;
mod monitors;
mod notes;
pub(crate) mod now;
mod pairing;
mod people;
mod person;
mod questions;
mod routes;
mod server;
mod settings;
mod sheet;
mod week;

use super::live::Book;
use crate::journal::{Journal, JournalError};
use crate::keys::Secret;
use hyper::{Method, Request, header};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};

pub use server::{ServeError, serve};
pub use settings::Page;

/// How the page is served.
#[derive(Clone, Debug)]
pub struct Settings {
    /// Where it listens.
    pub listen: SocketAddr,
    /// The user's own certificate and its key.
    pub tls: Option<(PathBuf, PathBuf)>,
    /// It may be served without TLS to other machines.
    pub plain_http_to_others: bool,
    /// It stands behind a proxy, which may let anybody in.
    pub behind_proxy: bool,
    /// Names under which it is reached, beside addresses.
    pub names: Vec<String>,
    /// Of this run alone: what forms are bound to where there are no sessions.
    pub own: Secret,
}

impl Settings {
    /// Whether anybody who reaches it may look: only on the machine itself.
    pub(crate) fn open(&self) -> bool {
        self.listen.ip().is_loopback() && !self.behind_proxy
    }

    /// Whether browsers reach it encrypted.
    pub(crate) fn secure(&self) -> bool {
        self.tls.is_some() || (self.behind_proxy && !self.plain_http_to_others)
    }

    fn cookie(&self) -> &'static str {
        if self.secure() {
            door::COOKIE_SECURE
        } else {
            door::COOKIE
        }
    }
}

/// The page without a socket, for whoever tries what a browser may send.
pub struct Rehearsal {
    settings: Settings,
    book: Book,
}

impl Rehearsal {
    /// Opens the journal.
    pub fn open(state: &Path, zone: Option<String>, settings: Settings) -> Result<Self, JournalError> {
        let book = Book::new(Journal::open(state)?, state.to_owned(), zone);
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
