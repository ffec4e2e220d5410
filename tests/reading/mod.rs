//! What `reading` makes of frames: when, whose, and which are the same record.
//!
//! Situations are written as tables: what was heard, and after the arrow what the reading's time must be. The civil
//! time cases are held against Python's `zoneinfo`, an implementation of the time zone rules that shares no code with
//! the one used here.

mod civil_time;
mod gateway;
mod owner;
mod properties;
mod repeats;
mod situations;
mod situations_whose;
mod stored;
mod table;
