//! The household's page, as HTML from this server: what to do next, live, and everything behind it.
//!
//! ```text
//! socket ─► TLS ─► HTTP ─► door ─► routes ─► one file a page ─► answer
//!                          who      what      words in HTML      headers
//! ```
//!
//! No script but one small file, no request to anywhere else, nothing inline. Without the script the page
//! still tells the state and renews itself. Text of people is escaped by `maud`; only the catalogue's own
//! words may hold markup.

mod answer;
mod ask;
mod card;
mod consent;
mod door;
mod earlier;
mod error;
mod frame;
mod household;
mod listeners;
mod listening;
mod monitors;
mod notes;
pub(crate) mod now;
mod numbers;
mod opening;
mod pairing;
mod parts;
mod people;
mod person;
mod phones;
mod picture;
mod places;
mod questions;
mod reading;
mod rehearsal;
mod release;
mod routes;
mod server;
mod settings;
mod shared;
mod sheet;
mod style;
mod tls;
mod unwell;
mod versions;
mod week;

pub use error::ServeError;
pub use rehearsal::Rehearsal;
pub use server::serve;
pub use settings::{PageSettings, Settings};
pub use tls::validity;
