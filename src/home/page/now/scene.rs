//! One person at one moment, and the words for what was measured.

use crate::gatt::Sfloat;
use crate::home::live::{CUFF_SILENT, Cuff, RESTED};
use crate::household::Moments;
use crate::household::phones::Phones;
use crate::monitoring::escalation::{Alert, Level};
use crate::monitoring::next::{Next, Step};
use crate::monitoring::reminders::ENDED_IS_NEWS;
use crate::monitoring::stated::Stated;
use crate::reading::Reading;
use crate::sitting::SITTING_GAP;
use crate::technique::{JudgedReading, Reason};
use crate::words::Words;
use jiff::civil::{Date, Time};
use jiff::{SignedDuration, Timestamp};

/// One person at one moment.
pub(super) struct Scene {
    pub(super) next: Next,
    /// The readings that alerts are about.
    pub(super) alarming: Vec<Reading>,
    /// Ways by which something urgent could not be told, each with since when.
    pub(super) undelivered: Vec<(String, Timestamp)>,
    /// The readings of the last sitting, in order of time.
    pub(super) sitting: Vec<JudgedReading>,
    pub(super) cuff: Option<Cuff>,
    /// Until when they rest.
    pub(super) rest: Option<Timestamp>,
    pub(super) now: Timestamp,
    /// Whom the household calls.
    pub(super) phones: Phones,
}

impl Scene {
    /// When it may change by itself: a step or a rest is over, a session's hours begin, the cuff falls
    /// silent, the sitting is over, a day begins. What else time changes, such as an alert that stands for a
    /// day, is seen at the next beat.
    pub(super) fn changes(&self, known: &Stated) -> impl Iterator<Item = Timestamp> {
        let last = self.sitting.last().and_then(|judged| judged.reading.time.at);
        // It is over behind its last moment.
        let sitting = last.and_then(|at| at.checked_add(SITTING_GAP + SignedDuration::from_millis(1)).ok());
        let cuff = self.cuff.and_then(|cuff| cuff.at.checked_add(CUFF_SILENT).ok());
        let forgotten = self.rest.and_then(|rest| rest.checked_add(RESTED).ok());
        let day = known.zones.civil(self.now).date().tomorrow().ok();
        let midnight = day.and_then(|day| known.zones.moments(day.to_datetime(Time::midnight())));
        let midnight = midnight.map(Moments::first);
        let hours = self.next.grounds.coming.map(|(_, opens)| opens);
        [
            self.next.until,
            self.rest,
            forgotten,
            hours,
            cuff,
            sitting,
            midnight,
        ]
        .into_iter()
        .flatten()
    }

    /// What waits for an answer, by its keys, as a form carries it.
    pub(super) fn waiting(&self) -> String {
        let outrank = self.next.alerts.iter().filter(|alert| alert.outranks());
        outrank.map(Alert::key).collect::<Vec<_>>().join(" ")
    }

    /// The day on which the levels of pregnancy ended, as long as that is news.
    pub(super) fn pregnancy_ended(&self, known: &Stated) -> Option<Date> {
        let ended = known.person(&self.next.person)?.pregnancy_ends()?;
        let since = known.zones.instant(ended.to_datetime(Time::midnight()))?;
        let news = since <= self.now && self.now.duration_since(since) < ENDED_IS_NEWS;
        news.then_some(ended)
    }

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
