//! A simulated household as a source of frames: monitors with people attached, on a clock that is not the world's.
//!
//! Invariants:
//! - The same household, seed and days give the same frames. No clock is read; time is passed in.
//! - Everything is invented, and every name that a person could see says so.
//! - Beside the frames stands the truth of each measurement, so that what the core makes of the frames can be held
//!   against what really happened.

mod clock;
mod household;
mod monitor;
mod person;
mod random;

pub use clock::Clock;
pub use household::{Happening, Household, Lived, Reception, Shared, Truth};
pub use monitor::{LinkFaults, Make, Memory, Monitor, RecordNumber, Stamps, Taken, Visit};
pub use person::{Fault, Habits, Person, Pressure, Slot};
pub use random::Random;
