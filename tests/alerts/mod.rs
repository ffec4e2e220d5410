//! What people are told: the pure part against hand-made situations and random homes; the channels against a real
//! broker (mosquitto), a real SMTP server (aiosmtpd), a stub of a webhook and real programs; the calendar through a
//! reader that knows nothing of us (Python's icalendar). People, monitors and readings are invented.
//!
//! `tests/alerts/prepare` and `tests/run` install the servers. Without them the tests fail and say so;
//! `QUIETCUFF_SKIP_ORACLES=1` leaves them out.
mod calendar;
mod command;
mod endless;
mod made;
mod mail;
mod mqtt;
mod post;
mod reminders;
mod webhook;
mod whole;
