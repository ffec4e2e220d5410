//! Two machines of one household: a listener near the cuff, and the record.
//!
//! A listener is a collector that hands on what it hears. It calls the record and never the reverse, so that no port is
//! opened where it stands; on the line that is open it may be asked to find, pair and forget monitors (`orders`).
//! Each knows the other by its public key alone: no authority vouches for either (`key`,
//! `line`). A code that the record prints lets a listener in (`code`). What they say is one JSON value in a frame of
//! its own length (`speech`). `door` is one connection as the record sees it, `errand` as the listener does.
//!
//! Whatever breaks in between, a frame is at the record once: the record commits before it says that it holds
//! something, and a listener begins behind what the record says it holds.

pub mod code;
pub mod door;
pub mod errand;
pub mod key;
pub mod line;
pub mod orders;
pub mod speech;

use std::time::Duration;

/// The port of the record, where no other is named.
pub const PORT: u16 = 8419;

/// A listener that has nothing to hand on says so this often, so that the record knows that it is there.
pub const HEARTBEAT: Duration = Duration::from_mins(1);
