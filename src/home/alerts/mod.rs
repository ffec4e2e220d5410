//! Reminders on their way to people: routes, the ledger's rules, and the channels.

pub mod look;
pub mod message;
pub mod post;
pub mod routes;
