//! quietcuff: from a blood pressure monitor's radio to a week of readings that a clinic can trust.
//!
//! A frame goes up through the core, which makes more of it at each step, and through the shell, which has the world:
//!
//! ```text
//! core    gatt ─► household ─► frame ─► reading ─► sitting ─► technique ─► words ─► monitoring ─► export
//!         decode  who lives    received when/who   together   judge        to say   protocol,     for
//!                 here                                                              average       others
//!
//! shell   edge ─► whole ─► secret ─► keys ─► outbound ─► journal ─► snapshot ─► radio ─► socket ─► delivery
//!         time    files                      network     keep       a period    hear     between   to the
//!                                                                                        roles     clinic
//!         afar ─► home ─► config ─► roles ─► cli
//!         other   page,   settings  stay     commands
//!         rooms   alerts
//! ```
//!
//! The modules stand in that order, and each uses only those before it. The core reads no clock, no file and no
//! environment: time enters once, in [`edge`], stamped on the [`frame::Frame`]; the household's statements and its time
//! zone are values that are passed in.

// A function that fills more than a screen does more than one thing; .clippy.toml says from when. Not so in the tests,
// which may tell a whole story.
#![cfg_attr(not(test), warn(clippy::too_many_lines))]

pub mod gatt;

pub mod household;

pub mod frame;

pub mod reading;

pub mod sitting;

pub mod technique;

pub mod words;

pub mod monitoring;

pub mod export;

pub mod edge;

pub mod whole;

pub mod secret;

pub mod keys;

pub mod outbound;

pub mod journal;

pub mod snapshot;

pub mod radio;

pub mod socket;

pub mod delivery;

pub mod afar;

pub mod home;

pub mod config;

pub mod roles;

pub mod cli;
