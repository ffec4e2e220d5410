//! Everything that a report shows.

use crate::household::{Household, MonitorId, Person, StatedNote, Zones};
use crate::monitoring::average::{Average, Interval, average};
use crate::monitoring::care::Care;
use crate::monitoring::escalation::Alert;
use crate::monitoring::listening::ListeningTrouble;
use crate::monitoring::names;
use crate::monitoring::patterns::Pattern;
use crate::monitoring::period::Period;
use crate::monitoring::protocol::{Limits, Protocol};
use crate::monitoring::spread::Every;
use crate::monitoring::taken::Taken;
use crate::monitoring::years::Beside;
use crate::sitting::Slot;
use crate::technique::JudgedReading;
use crate::words::Words;
use crate::words::said::Said;
use jiff::Timestamp;

/// Everything that a report shows.
#[derive(Clone, Debug)]
pub struct Report<'a> {
    /// People and monitors.
    pub household: &'a Household,
    /// The household's clock.
    pub zones: &'a Zones,
    /// The protocol's rules.
    pub protocol: &'a Protocol,
    /// The period, worked out by them.
    pub period: &'a Period,
    /// The readings of its days, in order of time, each with what averaging took of it.
    pub readings: Vec<(&'a JudgedReading, &'a Taken)>,
    /// Which of them the average is made of: those that count and that the protocol leaves in.
    pub averaged: Vec<bool>,
    /// Notes of its days, in order of time.
    pub notes: Vec<StatedNote>,
    /// Readings at the clinic in the eight weeks before its days, in order of time.
    pub before: Vec<StatedNote>,
    /// The last period that was over before it.
    pub earlier: Option<Beside>,
    /// How the care of each monitor stands.
    pub cares: &'a [(MonitorId, Care)],
    /// How many more readings of these days are nobody's yet.
    pub nobodys: i64,
    /// The interval of the average if days carried over; see [`crate::monitoring::carried_over::ASSUMED`].
    pub widened: Option<Interval>,
    /// A sentence for the headline where a medicine was changed within its days.
    pub changed: Option<&'a Said>,
    /// What a clinician may want to see.
    pub patterns: &'a [Pattern],
    /// What asks for a check of a monitor.
    pub signs: &'a [(MonitorId, Pattern)],
    /// What did not have to wait for the average.
    pub alerts: &'a [Alert],
    /// What keeps readings from arriving, or from going on, at the moment.
    pub troubles: Vec<ListeningTrouble>,
    /// Whether every reading is listed, however many days these are.
    pub list_all: bool,
    /// The language that it is written in.
    pub words: &'static Words,
    /// When the report is made.
    pub made_at: Timestamp,
}

/// More days than these are drawn as points with their spread: a stem for each reading would be thinner than a pen (own
/// choice).
const STEMS_DAYS_MAX: usize = 14;
/// The readings of so many days are listed one by one without being asked for: four weeks and some days, or three
/// sheets (own choice).
const LISTED_DAYS_MAX: usize = 31;

impl Report<'_> {
    /// How many days it has.
    fn days(&self) -> usize {
        let days = self.period.from.until(self.period.to);
        days.map_or(0, |span| usize::try_from(span.get_days()).unwrap_or(0)) + 1
    }

    /// The limits of the threshold that its average is held against.
    pub(super) fn limits(&self) -> Option<&Limits> {
        self.period.threshold.as_ref().map(|threshold| &threshold.limits)
    }

    /// The parts in which its days are drawn; `None` where each reading is.
    pub(super) fn every(&self) -> Option<Every> {
        let days = self.days();
        (days > STEMS_DAYS_MAX).then(|| Every::for_days(days))
    }

    /// Whether every reading is listed.
    pub(super) fn is_listed(&self) -> bool {
        self.list_all || self.days() <= LISTED_DAYS_MAX
    }

    /// What the average would be of one part of the day alone, by the same rules; none where there is no average.
    pub(super) fn average_of(&self, slot: Slot) -> Option<Average> {
        self.period.average.as_ref()?;
        let averaged = self.readings.iter().zip(&self.averaged);
        let of_slot = averaged
            .filter(|((_, taken), averaged)| **averaged && taken.slot == slot)
            .map(|((_, taken), _)| *taken);
        average(of_slot).map(Average::without_an_interval_that_says_nothing)
    }

    pub(super) fn person(&self) -> Option<&Person> {
        self.household
            .people
            .get(&self.period.person)
            .map(|(person, _removed)| person)
    }

    /// What the household calls the person, told apart from whoever is called alike.
    pub(super) fn label(&self) -> String {
        let mut shown = names::shown(self.household);
        let id = &self.period.person;
        shown.remove(id).unwrap_or_else(|| id.to_string())
    }
}
