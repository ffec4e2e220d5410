//! What people are told: the pure part against hand-made situations and random homes; the channels against a real
//! broker (mosquitto), a real SMTP server (aiosmtpd), a stub of a webhook and real programs; the calendar through a
//! reader that knows nothing of us (Python's icalendar). People, monitors and readings are invented.
//!
//! `tests/alerts/prepare` and `tests/run` install the servers. Without them the tests fail and say so;
//! `QUIETCUFF_SKIP_ORACLES=1` leaves them out.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test may stop"
)]

mod calendar;
mod command;
#[path = "../left_out/mod.rs"]
#[allow(dead_code, reason = "what other tests ask for besides")]
mod left_out;
mod made;
mod mail;
mod mqtt;
mod post;
mod reminders;
mod webhook;
mod whole;
