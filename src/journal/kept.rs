//! What an open journal keeps in memory of the statements, beside the file.

use crate::monitoring::stated::Stated;
use std::cell::RefCell;
use std::sync::Arc;

/// What was put together last; `None` before anybody asked.
#[derive(Debug, Default)]
pub(super) struct Kept(pub(super) RefCell<Option<Box<KeptView>>>);

/// The statements of one moment of the file.
#[derive(Debug)]
pub(super) struct KeptView {
    pub(super) stated: Arc<Stated>,
    /// The same with what came by listeners, and by what it is seen that nothing else came; `None` before anybody asked.
    pub(super) roomed: Option<(String, Arc<Stated>)>,
    /// That where no zone was stated, with the zone that was named for that case.
    pub(super) placed: Option<(Option<String>, Arc<Stated>)>,
}
