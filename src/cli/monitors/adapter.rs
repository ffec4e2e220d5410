//! The adapter that a command uses.

use super::super::failure::{self, Failure};
use super::super::place::Everywhere;
use crate::radio::bus::{Adapter, Bus, Objects};
use std::time::Duration;

/// How often BlueZ is looked at while a person waits.
pub(super) const LOOK: Duration = Duration::from_millis(500);

/// The adapter to use, with everything that BlueZ shows.
pub(super) async fn adapter(here: &Everywhere, bus: &Bus) -> Result<(Adapter, Objects), Failure> {
    let objects = bus.objects().await?;
    let wanted = here.config()?.radio.adapter;
    let adapter = objects.choose(wanted.as_ref()).cloned().ok_or_else(|| {
        let which = wanted.map_or_else(
            || "any Bluetooth adapter".to_owned(),
            |address| format!("the adapter {address}"),
        );
        Failure::new(
            failure::UNAVAILABLE,
            format!("BlueZ does not show {which}; plug it in, then see `quietcuff check`"),
        )
    })?;
    if !adapter.powered {
        bus.set_powered(&adapter.path, true).await?;
    }
    Ok((adapter, objects))
}
