//! Reminders on their way to people: routes, the ledger's rules, and the channels.

mod bounded;
pub mod channel;
pub mod command;
pub mod discovery;
pub mod error;
pub mod look;
pub mod mail;
pub mod message;
pub mod mqtt;
pub mod post;
pub mod routes;
pub mod states;
pub mod webhook;
