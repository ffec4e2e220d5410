//! A period as somebody asks for it, gathered from the journal with everything that the period rests on.
//!
//! The terminal, the sheet for the clinic and the page all show this one value, so that they cannot differ.

use crate::export::report::Report;
use crate::household::{Household, MonitorId, Note, PersonId, StatedNote, Zones};
use crate::journal::{History, Journal, JournalError};
use crate::monitoring::care::Care;
use crate::monitoring::drift;
use crate::monitoring::enters::Entering;
use crate::monitoring::escalation::{Alert, End, LOOK_BACK, Level, TOGETHER, irregular_pulse, story};
use crate::monitoring::patterns::{ClinicReading, Pattern, patterns};
use crate::monitoring::period::{self, Period, PeriodError, last_day};
use crate::monitoring::plan::{self, Plan, PlanError, nearest_days};
use crate::monitoring::protocol::{Protocol, ProtocolError};
use crate::monitoring::protocols::{DEFAULT, Protocols};
use crate::monitoring::taken::Taken;
use crate::reading::{Pressure, Reading};
use crate::technique::Context;
use jiff::Timestamp;
use jiff::civil::{Date, Time};
use std::collections::BTreeSet;

/// The most readings of one report: ten years of ten a day. As PDF they have a hundred megabytes, which a
/// viewer can still open.
const READINGS_MAX: usize = 40_000;

/// The days that are asked for, and the protocol by whose rules they are worked out.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Asked {
    /// The name of the protocol; without one, the period's protocol, else the person's, else the default.
    pub protocol: Option<String>,
    /// The first day; without one, that of the running or the last period, else the day from which the days
    /// end with the last reading.
    pub from: Option<Date>,
    /// The number of days; without one, the period's number, else the protocol's.
    pub days: Option<u16>,
}

/// The reason why there is no such period.
#[derive(Debug, thiserror::Error)]
pub enum FindError {
    /// The journal cannot be read.
    #[error(transparent)]
    Journal(#[from] JournalError),
    /// The clinic's protocol that was stated cannot be used.
    #[error(transparent)]
    Protocols(#[from] ProtocolError),
    /// There is no such protocol, or it cannot have these days.
    #[error(transparent)]
    Plan(#[from] PlanError),
    /// The period cannot be worked out.
    #[error(transparent)]
    Period(#[from] PeriodError),
    /// Nothing says which days are meant.
    #[error("there are no readings yet, and no period was begun; `quietcuff period start` begins one")]
    NothingYet,
    /// The days hold no reading, and no period was begun for them.
    #[error("{0}")]
    Empty(String),
}

/// The error for more readings than a report can hold, with their number.
#[derive(Clone, Copy, PartialEq, Eq, Debug, thiserror::Error)]
#[error("{0} readings are more than a report can hold ({READINGS_MAX}): give fewer days")]
pub struct TooMany(usize);

/// A period with everything that it was worked out from.
#[derive(Clone, Debug)]
pub struct Found {
    /// The people and the monitors.
    pub household: Household,
    /// The time zones of the household.
    pub zones: Zones,
    /// The rules of the protocol.
    pub protocol: Protocol,
    /// The period, worked out by these rules.
    pub period: Period,
    /// Everything that the person ever measured.
    pub history: History,
    /// The number of readings of these days that are nobody's yet.
    pub nobodys: i64,
    /// A sentence that says so where the days hold no reading, though a period was begun for them.
    pub empty: Option<String>,
    /// The patterns that a clinician may want to see.
    pub patterns: Vec<Pattern>,
    /// The patterns that ask for a check of a monitor, each with that monitor.
    pub signs: Vec<(MonitorId, Pattern)>,
    /// The alerts that did not have to wait for the average.
    pub alerts: Vec<Alert>,
    /// The state of each monitor's care.
    pub cares: Vec<(MonitorId, Care)>,
}

/// Works out the period of this person that was asked for, as it stands at the moment `now`.
pub fn find(
    journal: &mut Journal,
    zones: Zones,
    id: &PersonId,
    asked: &Asked,
    now: Timestamp,
) -> Result<Found, FindError> {
    let household = journal.household()?;
    let protocols = Protocols::of(&household)?;
    let person = household
        .people
        .get(id)
        .map(|(person, _removed)| person.clone())
        .unwrap_or_default();
    let history = journal.history(id, &zones)?;
    let statements = journal.statements()?;
    let (plans, _) = plan::plans(id, &protocols, statements.iter().map(|(_, statement)| statement));
    let today = zones.civil(now).date();
    let (plan, stated) = choose(
        asked,
        &plans,
        person.protocol.as_deref(),
        &protocols,
        &history.taken,
        today,
    )?;
    let (from, to) = (plan.from, last_day(plan.from, plan.days).unwrap_or(Date::MAX));
    let empty = none_between(id, &history.taken, from, to);
    if let Some(empty) = empty.as_ref().filter(|_| !stated) {
        return Err(FindError::Empty(empty.clone()));
    }
    let protocol = protocols
        .get(&plan.protocol)
        .map_err(PlanError::Protocol)?
        .clone();
    let period = period::period(id, &person, &protocol, from, Some(plan.days), &history.taken)?;

    let notes = household.notes_in_time();
    let mine: Vec<&StatedNote> = notes
        .iter()
        .filter(|note| note.person.as_ref() == Some(id))
        .collect();
    let day = |note: &StatedNote| zones.civil(note.at).date();
    let clinic: Vec<ClinicReading> = mine
        .iter()
        .filter_map(|note| clinic_reading(note, day(note)))
        .collect();
    let changes: Vec<Date> = mine
        .iter()
        .filter(|note| matches!(note.what, Note::MedicineChanged { .. }))
        .map(|note| day(note))
        .collect();
    let patterns = patterns(&period, &history.taken, &clinic, &changes);
    let signs = monitor_signs(&history, &notes, &clinic, &zones);
    let context = Context {
        household: &household,
        notes: &notes,
        zone: zones.at(now),
        rule: protocol.session_rule(),
    };
    let alerts = of_these_days(id, &history, from, to, now, &context, &zones);
    let midnight = |day: Date| zones.instant(day.to_datetime(Time::midnight()));
    Ok(Found {
        nobodys: journal.nobodys(
            midnight(from).unwrap_or(Timestamp::MIN),
            to.tomorrow().ok().and_then(midnight).unwrap_or(Timestamp::MAX),
        )?,
        protocol,
        period,
        empty,
        patterns,
        signs,
        alerts,
        cares: journal.cares(&household, &zones, now)?,
        history,
        household,
        zones,
    })
}

impl Found {
    /// The content of the sheet for the clinic. The error says that there are more readings than a report can
    /// hold.
    pub fn report(&self, made_at: Timestamp) -> Result<Report<'_>, TooMany> {
        let period = &self.period;
        let days = period.from..=period.to;
        let entering = Entering::of(&self.protocol, period.from, period.to, &self.history.taken);
        // Both lists stand in order of time, and both point into the same readings.
        let averaged = entering.averaged().iter().copied();
        let mut in_average: Vec<*const _> = averaged.map(std::ptr::from_ref).collect();
        in_average.sort_unstable();
        let readings: Vec<_> = self
            .history
            .readings
            .iter()
            .zip(&self.history.taken)
            .filter(|(_, taken)| days.contains(&taken.day))
            .collect();
        if readings.len() > READINGS_MAX {
            return Err(TooMany(readings.len()));
        }
        let mine = |note: &StatedNote| match (&note.person, &note.monitor) {
            (Some(person), _) => *person == period.person,
            (None, Some(monitor)) => readings
                .iter()
                .any(|(judged, _)| judged.reading.monitor == *monitor),
            (None, None) => false,
        };
        let notes = self.household.notes_in_time();
        Ok(Report {
            averaged: readings
                .iter()
                .map(|(_, taken)| in_average.binary_search(&std::ptr::from_ref(*taken)).is_ok())
                .collect(),
            cares: &self.cares,
            notes: notes
                .iter()
                .filter(|note| days.contains(&self.zones.civil(note.at).date()) && mine(note))
                .cloned()
                .collect(),
            household: &self.household,
            zones: &self.zones,
            protocol: &self.protocol,
            period,
            readings,
            nobodys: self.nobodys,
            patterns: &self.patterns,
            signs: &self.signs,
            alerts: &self.alerts,
            made_at,
        })
    }
}

/// The plan, which is the days and the protocol, and whether it was stated: what was asked for, and where
/// nothing was, what was planned.
fn choose(
    which: &Asked,
    plans: &[Plan],
    own: Option<&str>,
    protocols: &Protocols,
    taken: &[Taken],
    today: Date,
) -> Result<(Plan, bool), FindError> {
    let asked = which.protocol.as_deref();
    let planned = match which.from {
        Some(from) => plans.iter().find(|plan| plan.from == from).cloned(),
        None => {
            let name = asked.or(own).unwrap_or(DEFAULT);
            let days = which
                .days
                .unwrap_or(protocols.get(name).map_err(PlanError::Protocol)?.days.value);
            plan::latest(plans, name, days, taken, today)
        }
    };
    let stated = planned.as_ref().is_some_and(|planned| plans.contains(planned));
    let protocol = asked
        .or(planned.as_ref().map(|plan| plan.protocol.as_str()))
        .or(own)
        .unwrap_or(DEFAULT);
    let from = which
        .from
        .or(planned.as_ref().map(|plan| plan.from))
        .ok_or(FindError::NothingYet)?;
    let days = which.days.or(planned.as_ref().map(|plan| plan.days));
    let plan = Plan::new(protocols, protocol, from, days)?;
    Ok((plan, stated))
}

fn none_between(id: &PersonId, taken: &[Taken], from: Date, to: Date) -> Option<String> {
    if taken.iter().any(|taken| (from..=to).contains(&taken.day)) {
        return None;
    }
    let near = match nearest_days(taken, from, to) {
        (None, None) => format!("there is no reading of {id} at all yet"),
        (Some(before), None) => format!("the last before was on {before}"),
        (None, Some(after)) => format!("the first after was on {after}"),
        (Some(before), Some(after)) => format!("the nearest are on {before} and {after}"),
    };
    Some(format!("{id} has no reading from {from} to {to}; {near}"))
}

fn clinic_reading(note: &StatedNote, day: Date) -> Option<ClinicReading> {
    let Note::ClinicReading { systolic, diastolic } = note.what else {
        return None;
    };
    Some(ClinicReading {
        day,
        systolic: Pressure::from_mmhg_written(systolic)?,
        diastolic: Pressure::from_mmhg_written(diastolic)?,
    })
}

/// The patterns that ask for a check of a monitor, for each monitor by its own readings since its last check.
fn monitor_signs(
    history: &History,
    notes: &[StatedNote],
    clinic: &[ClinicReading],
    zones: &Zones,
) -> Vec<(MonitorId, Pattern)> {
    let monitors: BTreeSet<&MonitorId> = history
        .readings
        .iter()
        .map(|judged| &judged.reading.monitor)
        .collect();
    let mut signs = Vec::new();
    for monitor in monitors {
        let own: Vec<Taken> = history
            .readings
            .iter()
            .zip(&history.taken)
            .filter(|(judged, _)| judged.reading.monitor == *monitor)
            .map(|(_, taken)| taken.clone())
            .collect();
        let checked = notes
            .iter()
            .filter(|note| {
                note.monitor.as_ref() == Some(monitor) && matches!(note.what, Note::MonitorChecked { .. })
            })
            .map(|note| zones.civil(note.at).date())
            .max();
        let found = drift::signs(&own, clinic, checked);
        signs.extend(found.into_iter().map(|sign| (monitor.clone(), sign)));
    }
    signs
}

/// The alerts that did not have to wait for the average: those that stand now, those that were raised in
/// these days with what became of them, and an irregular pulse in several of their sessions. An alert that
/// was overtaken within the hour is left out, because the alert that overtook it says more.
fn of_these_days(
    id: &PersonId,
    history: &History,
    from: Date,
    to: Date,
    now: Timestamp,
    context: &Context<'_>,
    zones: &Zones,
) -> Vec<Alert> {
    let midnight = zones.instant(from.to_datetime(Time::midnight())).unwrap_or(now);
    let since = midnight.min(now).checked_sub(LOOK_BACK).unwrap_or(Timestamp::MIN);
    let dated: Vec<Reading> = history
        .readings
        .iter()
        .map(|judged| &judged.reading)
        .filter(|reading| reading.time.at.is_some_and(|at| at >= since))
        .cloned()
        .collect();
    let mut raised = story(now, Some(id), &dated, context);
    raised.retain(|alert| {
        let these = (from..=to).contains(&zones.civil(alert.at).date());
        let overtaken = matches!(
            alert.end,
            Some((at, End::Overtaken)) if at.duration_since(alert.at) <= TOGETHER
        );
        // The alert says that another was settled, and that stands beside the other one already.
        let settling = alert.level == Level::TellClinic && alert.about.is_high();
        alert.level > Level::Note
            && !overtaken
            && !settling
            && (these || alert.outranks() && alert.stands(now))
    });
    raised.sort_by_key(|alert| std::cmp::Reverse((alert.stands(now), alert.level)));
    let sessions = history
        .sessions
        .iter()
        .filter(|session| (from..=to).contains(&session.date));
    raised.extend(irregular_pulse(sessions));
    raised
}
