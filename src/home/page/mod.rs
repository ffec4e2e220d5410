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
mod sheet;
mod week;

use super::keys::Secret;
use std::net::SocketAddr;
use std::path::PathBuf;

pub use server::{ServeError, serve};

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
