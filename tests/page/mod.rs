//! The household's page, as the real binary serves it: read by Chromium, by axe-core, and by a program that does not
//! behave. Frames come from an invented monitor, around this moment; nothing waits longer than a few seconds.
//!
//! `tests/page/prepare` installs the browser. Where it is missing the tests fail and say so; `QUIETCUFF_SKIP_ORACLES=1`
//! leaves those that need it out.
pub(crate) mod access;
mod aloud;
mod begun;
mod card;
mod chair;
mod consent;
mod elsewhere;
pub(crate) mod every;
mod faults;
mod first;
mod groups;
mod here;
mod languages;
mod limits;
pub(crate) mod listening;
mod many;
mod once;
mod pairing;
mod passing;
mod people;
mod pictures;
mod pressure;
mod rooms;
mod session;
mod setup;
mod situations;
mod speed;
mod told;
mod unwell;
mod what_may_count;
mod whose;
