//! The direct bearer: the Attribute Protocol over a socket of our own, so that a monitor is told "received"
//! only when its reading is on the disk. BlueZ's client confirms every indication by itself, whether anybody
//! listens or not.
//!
//! Pairing, keys, the adapter and the scan stay with bluetoothd; the kernel uses its keys for our link too.
//! `pdu` are the packets, `attributes` what a monitor's server holds, `server` what ours holds, `client` what
//! each packet means: pure. `channel` is the socket and `talk` what is said over it.

pub mod attributes;
pub mod channel;
pub mod client;
pub mod pdu;
pub mod server;
pub mod talk;
