//! The rules of technique: how well a reading was measured. Every rule is in one place, with its source and a
//! sentence for the person.
//!
//! What the radio can see is *observed*, what a person says is *reported*; the two are never mixed. A value
//! is never corrected for a fault: a published effect size explains a mark, it is not subtracted.
//!
//! The unit of judgement is a sitting (see [`crate::sitting`]): a new reading changes the judgement of its
//! own sitting and of nothing else, so that judging costs the same with a thousand readings behind it as with
//! a million. [`judge`] is a function of the sitting's readings and of what the household stated; the order
//! in which they arrived does not enter.

mod disposition;
mod explain;
mod judge;
mod judgement;
mod observed;
mod reasons;
mod reported;
mod rules;
pub mod session;

pub use disposition::Disposition;
pub use explain::explain;
pub use judge::{Judged, judge};
pub use judgement::{Context, JudgedReading, Judgement};
pub(crate) use observed::contradicted;
pub(crate) use observed::possible;
pub use observed::{Detected, detected};
pub use reasons::{Reason, Reasons};
pub use reported::{NOTES_AHEAD, NOTES_BACK, of_monitor};
pub(crate) use reported::{between, settled_at};
pub use rules::{Effect, Judges, KnownBy, RULES, Rule};
