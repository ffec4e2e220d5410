//! quietcuff: from a blood pressure monitor's radio to a week of readings that a clinic can trust.
//!
//! The modules stand in the order in which data moves through them:
//!
//! ```text
//! radio ─► journal ─► gatt ─► reading ─► technique ─► monitoring ─► export ─► home
//! hear     keep       decode   when/who   judge        sessions,      for       page,
//!                                                      protocol,      others    reminders
//!                                                      average
//! shell    shell      core     core       core         core           core      shell
//! ```
//!
//! The core reads no clock, no file and no environment: time enters once, at the radio edge, stamped on the
//! [`frame::Frame`]; the household's statements and its time zone are values that are passed in.

pub mod whole;

pub mod edge;

pub mod radio;

pub mod journal;

pub mod gatt;

pub mod household;

pub mod frame;

pub mod reading;

pub mod sitting;

pub mod technique;

pub mod monitoring;

pub mod words;

pub mod export;

pub mod keys;

pub mod secret;

pub mod outbound;

pub mod home;

pub mod config;

pub mod socket;

pub mod roles;

pub mod cli;
