//! At home: what the household, and whoever looks after its machine, see, hear and are told.

pub mod alerts;
mod aside;
pub(crate) mod card;
pub(crate) mod listening;
pub mod live;
pub mod metrics;
pub mod page;
pub(crate) mod wake;
