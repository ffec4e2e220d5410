//! What the household stated, put together once: who lives here, by which clock, and by which protocols,
//! periods and notes readings are judged and averaged.
//!
//! A pure function of the statements. Who keeps it makes it again only when a statement came.

use super::names;
use super::plan::{self, Plan};
use super::protocol::Protocol;
use super::protocol::ProtocolError;
use super::protocols::{DEFAULT, Protocols};
use super::worn::{OnRecord, Worn};
use crate::household::{
    Household, MonitorAddress, MonitorId, Person, PersonId, StatedNote, Statement, UnknownZone, Zones,
    time_zone,
};
use crate::reading::Reading;
use jiff::Timestamp;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// A statement with its row in the journal and the moment at which it was made.
#[derive(Clone, PartialEq, Debug)]
pub struct Row {
    /// The row; a later statement has a higher one.
    pub row: i64,
    /// The moment at which the statement was made.
    pub at: Timestamp,
    /// What was stated.
    pub statement: Statement,
}

/// Everything that follows from the statements.
#[derive(Clone, Debug)]
pub struct Stated {
    /// The people, the monitors and all that was stated about them.
    pub household: Household,
    /// The household's clock; UTC where no zone was stated, unless [`Stated::in_zone`] put another in its place.
    pub zones: Zones,
    /// The protocols that periods follow.
    pub protocols: Protocols,
    /// The notes that were not taken back, ordered by the moment at which it happened.
    pub notes: Vec<StatedNote>,
    plans: BTreeMap<PersonId, Vec<Plan>>,
    labels: BTreeMap<PersonId, String>,
    on_record: OnRecord,
    rows: Arc<Vec<Row>>,
}

/// The reason why statements cannot be put together.
#[derive(Debug, thiserror::Error)]
pub enum StatedError {
    /// A zone that was stated is unknown to this version.
    #[error(transparent)]
    Zone(#[from] UnknownZone),
    /// A protocol of this program cannot be read.
    #[error(transparent)]
    Protocol(#[from] ProtocolError),
}

impl Stated {
    /// Puts these statements together; they stand in the order of their rows.
    pub fn of(rows: Vec<Row>) -> Result<Self, StatedError> {
        let statements = || rows.iter().map(|row| &row.statement);
        let household = Household::after(statements());
        let protocols = Protocols::of(&household)?;
        let planned = |person: &PersonId| plan::plans(person, &protocols, statements()).0;
        Ok(Self {
            zones: Zones::of(&household)?,
            notes: household.notes_in_time(),
            plans: household
                .periods
                .keys()
                .map(|person| (person.clone(), planned(person)))
                .collect(),
            labels: names::shown(&household),
            on_record: OnRecord::after(rows.iter().map(|row| (row.at, &row.statement))),
            household,
            protocols,
            rows: Arc::new(rows),
        })
    }

    /// The same with this zone for all time, where no zone was stated. The error says that the name is unknown.
    pub fn in_zone(&self, name: &str) -> Result<Self, UnknownZone> {
        let mut placed = self.clone();
        if placed.household.zones.is_empty() {
            placed.zones = Zones::only(time_zone(name)?);
            placed.household.zones.push((Timestamp::MIN, name.to_owned()));
        }
        Ok(placed)
    }

    /// The same with the monitors that came by listeners, each by its address, of which these stand.
    #[must_use]
    pub fn come_by(&self, standing: &BTreeSet<String>, came: Vec<(String, MonitorAddress)>) -> Self {
        let mut stated = self.clone();
        stated.household.come_by(standing, came);
        stated
    }

    /// The row of the newest statement; 0 where there is none.
    pub fn newest(&self) -> i64 {
        self.rows.last().map_or(0, |row| row.row)
    }

    /// All statements, in the order in which they were made.
    pub fn rows(&self) -> &[Row] {
        &self.rows
    }

    /// The statements behind a row.
    pub fn since(&self, row: i64) -> &[Row] {
        let old = self.rows.partition_point(|one| one.row <= row);
        self.rows.get(old..).unwrap_or_default()
    }

    /// The people who were not removed.
    pub fn people(&self) -> impl Iterator<Item = &PersonId> {
        self.household
            .people
            .iter()
            .filter(|(_, (_, removed))| !removed)
            .map(|(id, _)| id)
    }

    /// What was stated about a person, removed or not.
    pub fn person(&self, id: &PersonId) -> Option<&Person> {
        self.household.people.get(id).map(|(person, _removed)| person)
    }

    /// What the household calls a person: the label, else the id, with a word behind it where it looks like another's.
    pub fn label<'a>(&'a self, id: &'a PersonId) -> &'a str {
        self.labels.get(id).map_or(id.as_str(), String::as_str)
    }

    /// The protocol by which days would begin for a person: their own, else the default.
    pub fn protocol_of(&self, id: &PersonId) -> Option<&Protocol> {
        let own = self.person(id).and_then(|person| person.protocol.as_deref());
        let own = own.and_then(|name| self.protocols.get(name).ok());
        own.or_else(|| self.protocols.get(DEFAULT).ok())
    }

    /// Whether a person is pregnant at a moment, or in the weeks after giving birth.
    pub fn is_pregnant(&self, id: &PersonId, at: Timestamp) -> bool {
        let day = self.zones.civil(at).date();
        self.person(id).is_some_and(|person| person.is_pregnant_on(day))
    }

    /// The periods of a person that hold, first day first.
    pub fn plans(&self, id: &PersonId) -> &[Plan] {
        self.plans.get(id).map_or(&[], Vec::as_slice)
    }

    /// The same periods, each with the moment at which its first day was first stated.
    pub fn plans_stated(&self, id: &PersonId) -> Vec<(Plan, Timestamp)> {
        let at = |plan: &Plan| {
            self.rows.iter().find_map(|row| match &row.statement {
                Statement::Period { person, from, .. } if person == id && *from == plan.from => Some(row.at),
                _ => None,
            })
        };
        let plans = self.plans(id).iter();
        plans
            .map(|plan| (plan.clone(), at(plan).unwrap_or(Timestamp::MIN)))
            .collect()
    }

    /// How the cuff was worn, as it was on record when the reading was taken. No later statement changes that.
    pub fn worn_on_record(&self, reading: &Reading) -> Worn {
        self.on_record.at(reading)
    }

    /// The moment at which a monitor was last enrolled.
    pub fn enrolled(&self, id: &MonitorId) -> Option<Timestamp> {
        self.rows.iter().rev().find_map(|row| match &row.statement {
            Statement::Monitor { monitor, .. } | Statement::MonitorAt { monitor, .. } if monitor == id => {
                Some(row.at)
            }
            _ => None,
        })
    }
}
