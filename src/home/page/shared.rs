//! What every connection shares.

use super::ask::Wrong;
use super::door::{self, Viewer};
use super::places::Places;
use super::settings::Settings;
use crate::home::live::Desk;
use crate::household::MonitorAddress;
use crate::journal::JournalError;
use crate::keys::KeySecret;
use jiff::Timestamp;
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};
use tokio::sync::Semaphore;

/// What every connection shares.
pub(super) struct Shared {
    pub(super) settings: Settings,
    pub(super) desk: Desk,
    pub(super) tries: door::Tries,
    /// For making sheets.
    pub(super) sheets: Semaphore,
    pub(super) places: Arc<Places>,
    pub(super) begun: Begun,
}

/// With which monitor each listener was last asked from here to pair, and under which number, until it has.
pub(super) type Begun = Mutex<BTreeMap<String, (u32, MonitorAddress)>>;

impl Shared {
    /// Who asks; nobody where a key is needed and none was given that opens the page.
    pub(super) async fn who(
        &self,
        secret: Option<&KeySecret>,
        now: Timestamp,
    ) -> Result<Option<Viewer>, Wrong> {
        if self.settings.is_open() {
            return Ok(Some(Viewer::HERE));
        }
        let Some(secret) = secret else { return Ok(None) };
        let digest = secret.digest("session");
        let viewer = self.desk.ask(move |book| -> Result<_, JournalError> {
            let Some(key) = book.aside.session_key(&book.journal, &digest, now)? else {
                return Ok(None);
            };
            // Who belongs to a group is looked up each time.
            Ok(Some(Viewer::with(key, &book.known()?.household)))
        });
        Ok(viewer.await.map_err(|_| Wrong::Busy)??)
    }
}
