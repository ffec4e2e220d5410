//! What every connection shares.

use super::door;
use super::settings::Settings;
use crate::home::live::Desk;
use tokio::sync::Semaphore;

/// What every connection shares.
pub(super) struct Shared {
    pub(super) settings: Settings,
    pub(super) desk: Desk,
    pub(super) tries: door::Tries,
    /// For making sheets.
    pub(super) sheets: Semaphore,
}
