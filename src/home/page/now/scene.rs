//! One person at one moment, and the words for what was measured.

use crate::gatt::Sfloat;
use crate::home::live::Cuff;
use crate::monitoring::escalation::Level;
use crate::monitoring::next::{Next, Step};
use crate::technique::{JudgedReading, Reason};
use crate::words::Words;
use jiff::Timestamp;

/// One person at one moment.
pub(super) struct Scene {
    pub(super) next: Next,
    /// The readings of the last sitting, in order of time.
    pub(super) sitting: Vec<JudgedReading>,
    pub(super) cuff: Option<Cuff>,
    /// Until when they rest.
    pub(super) rest: Option<Timestamp>,
    pub(super) now: Timestamp,
}

impl Scene {
    pub(super) fn rank(&self) -> u8 {
        let urgent = self.next.alerts.first().map_or(Level::Note, |alert| alert.level);
        match self.next.state {
            Step::SeekHelp if urgent == Level::Emergency => 9,
            _ if self.cuff.is_some() => 8,
            Step::SeekHelp if urgent >= Level::ContactNow => 7,
            Step::Wait | Step::Second | Step::Third | Step::Repeat => 6,
            Step::SeekHelp if self.next.grounds.sitting => 6,
            _ if self.rest.is_some() => 5,
            Step::SeekHelp => 4,
            Step::Done if self.next.grounds.sitting => 3,
            Step::Rest => 2,
            Step::Done => 1,
            Step::NotDue => 0,
        }
    }
}

/// Systolic over diastolic, with the digits that the monitor gave.
pub(in crate::home::page) fn values(systolic: Sfloat, diastolic: Sfloat) -> String {
    format!("{systolic}/{diastolic}")
}

/// A reason, as the person is told.
pub(in crate::home::page) fn said(reason: Reason, words: &Words) -> String {
    words.say(&format!("reason-{}", reason.name()))
}
