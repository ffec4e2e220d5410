//! Where frames come from: the Bluetooth central, a capture file, JSON Lines, a simulated monitor. Everything after
//! this step is the same code for every source.

mod frame;

pub use frame::{Frame, MonitorAddress, Uptime};
