//! A period as somebody asks for it, gathered from the journal with everything that the period rests on.
//!
//! The terminal, the sheet for the clinic and the page all show this one value, so that they cannot differ.

use crate::export::report::Report;
use crate::household::{MonitorId, Note, PersonId, StatedNote, Zones};
use crate::journal::{History, Journal, JournalError, Wanted};
use crate::monitoring::average::Interval;
use crate::monitoring::care::Care;
use crate::monitoring::carried_over::{ASSUMED, widened};
use crate::monitoring::drift;
use crate::monitoring::enters::Entering;
use crate::monitoring::escalation::{Alert, End, LOOK_BACK, Level, TOGETHER, irregular_pulse, story};
use crate::monitoring::patterns::medicine::{changes_of, in_headline};
use crate::monitoring::patterns::{ClinicReading, Pattern, patterns};
use crate::monitoring::period::{self, Period, PeriodError};
use crate::monitoring::plan::{self, Plan, PlanError, nearest_days};
use crate::monitoring::protocol::Protocol;
use crate::monitoring::protocols::DEFAULT;
use crate::monitoring::stated::Stated;
use crate::monitoring::taken::Taken;
use crate::monitoring::years::{Beside, Whose, beside};
use crate::reading::{Pressure, Reading};
use crate::technique::Context;
use crate::words::said::Said;
use crate::words::{Language, Words};
use jiff::civil::{Date, Time};
use jiff::{Span, Timestamp};
use std::collections::BTreeSet;
use std::sync::Arc;

/// The most readings of one report: ten years of ten a day, which a viewer can still open.
const READINGS_MAX: usize = 40_000;

/// How long before its days a reading at the clinic stands on the sheet (own choice).
const CLINIC_BEFORE_DAYS: i64 = 56;

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
    Empty(Said),
}

/// The error for more readings than a report can hold, with their number.
#[derive(Clone, Copy, PartialEq, Eq, Debug, thiserror::Error)]
#[error("{0} readings are more than a report can hold ({READINGS_MAX}): give fewer days")]
pub struct TooMany(usize);

impl TooMany {
    /// The same in the language of whoever reads it.
    pub fn said(self, words: &Words) -> String {
        let number = |n: usize| n.to_string().into();
        words.with(
            "sheet-too-many",
            &[("n", number(self.0)), ("most", number(READINGS_MAX))],
        )
    }
}

/// A period that was worked out, with the rules and the readings that it was worked out from.
#[derive(Clone, Debug)]
pub struct WorkedOut<'a> {
    /// The rules of the protocol.
    pub protocol: &'a Protocol,
    /// The period, worked out by these rules.
    pub period: Period,
    /// The person's readings, those of other days too.
    pub history: History,
}

/// The period of a plan as the journal has it. Whoever shows an average or hands it on has it from here.
pub fn of_plan<'a>(
    journal: &mut Journal,
    stated: &'a Stated,
    id: &PersonId,
    plan: &Plan,
) -> Result<WorkedOut<'a>, FindError> {
    let wanted = Wanted::of_days(id, plan.from, plan.to(), &stated.zones);
    let history = journal.history_of(&wanted, stated)?;
    work_out(stated, id, plan, history)
}

fn work_out<'a>(
    stated: &'a Stated,
    id: &PersonId,
    plan: &Plan,
    history: History,
) -> Result<WorkedOut<'a>, FindError> {
    let protocol = stated
        .protocols
        .get(&plan.protocol)
        .map_err(PlanError::Protocol)?;
    let person = stated.person(id).cloned().unwrap_or_default();
    let period = period::period(id, &person, protocol, plan.from, Some(plan.days), &history.taken)?;
    Ok(WorkedOut {
        protocol,
        period,
        history,
    })
}

/// A period with everything that it was worked out from.
#[derive(Clone, Debug)]
pub struct Found {
    /// What the household stated.
    pub stated: Arc<Stated>,
    /// The rules of the protocol.
    pub protocol: Protocol,
    /// The period, worked out by these rules.
    pub period: Period,
    /// Everything that the person ever measured.
    pub history: History,
    /// The number of readings of these days that are nobody's yet.
    pub nobodys: i64,
    /// A sentence that says so where the days hold no reading, though a period was begun for them.
    pub empty: Option<Said>,
    /// A sentence for the headline where a medicine was changed within these days.
    pub changed: Option<Said>,
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
    stated: &Arc<Stated>,
    id: &PersonId,
    asked: &Asked,
    now: Timestamp,
) -> Result<Found, FindError> {
    let Stated { notes, zones, .. } = &**stated;
    let everything = journal.history(id, stated)?;
    let (plan, was_stated) = choose(asked, stated, id, &everything.taken, zones.civil(now).date())?;
    let empty = none_between(stated.label(id), &everything.taken, plan.from, plan.to());
    if let Some(empty) = empty.as_ref().filter(|_| !was_stated) {
        return Err(FindError::Empty(empty.clone()));
    }
    let WorkedOut {
        protocol,
        period,
        history,
    } = work_out(stated, id, &plan, everything)?;
    let (clinic, changes) = clinics_and_changes(stated, id);
    let context = Context {
        household: &stated.household,
        notes,
        zone: zones.at(now),
        rule: protocol.session_rule(),
    };
    let midnight = |day: Date| zones.instant(day.to_datetime(Time::midnight()));
    Ok(Found {
        changed: in_headline(period.from, period.to, &changes),
        patterns: patterns(&period, protocol, &history.taken, &clinic, &changes),
        signs: monitor_signs(&history, notes, &clinic, zones),
        alerts: of_these_days(&period, &history, now, &context, zones),
        nobodys: journal.nobodys(
            midnight(period.from).unwrap_or(Timestamp::MIN),
            period
                .to
                .tomorrow()
                .ok()
                .and_then(midnight)
                .unwrap_or(Timestamp::MAX),
        )?,
        protocol: protocol.clone(),
        period,
        empty,
        cares: journal.cares(stated, now)?,
        history,
        stated: stated.clone(),
    })
}

/// The readings that a clinic took of this person, and the days on which a medicine was changed.
pub(crate) fn clinics_and_changes(stated: &Stated, id: &PersonId) -> (Vec<ClinicReading>, Vec<Date>) {
    let mine = stated
        .notes
        .iter()
        .filter(|note| note.person.as_ref() == Some(id));
    let day = |note: &StatedNote| stated.zones.civil(note.at).date();
    (
        mine.filter_map(|note| clinic_reading(note, day(note))).collect(),
        changes_of(id, &stated.notes, &stated.zones),
    )
}

impl Found {
    /// The interval of the average, widened for days that carry over with this correlation.
    pub fn widened(&self, correlation: f64) -> Option<Interval> {
        let average = self.period.average.as_ref()?;
        let period = &self.period;
        let entering = Entering::of(&self.protocol, period.from, period.to, &self.history.taken);
        let days: Vec<Date> = entering.averaged().iter().map(|taken| taken.day).collect();
        widened(average, &days, correlation)
    }

    /// The last period that was over before this one began.
    fn earlier(&self) -> Option<Beside> {
        let period = &self.period;
        let whole = self.stated.plans(&period.person);
        let last = whole
            .iter()
            .filter(|plan| plan.to() < period.from)
            .max_by_key(|plan| plan.from)?;
        let whose = Whose {
            id: &period.person,
            person: &self.stated.person(&period.person).cloned().unwrap_or_default(),
            taken: &self.history.taken,
            changes: &[],
        };
        let rows = beside(
            &whose,
            std::slice::from_ref(last),
            &self.stated.protocols,
            period.from,
        );
        rows.ok()?.pop()
    }

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
        let Stated {
            household,
            zones,
            notes,
            ..
        } = &*self.stated;
        Ok(Report {
            averaged: readings
                .iter()
                .map(|(_, taken)| in_average.binary_search(&std::ptr::from_ref(*taken)).is_ok())
                .collect(),
            cares: &self.cares,
            notes: notes
                .iter()
                .filter(|note| days.contains(&zones.civil(note.at).date()) && mine(note))
                .cloned()
                .collect(),
            before: notes
                .iter()
                .filter(|note| note.person.as_ref() == Some(&period.person))
                .filter(|note| matches!(note.what, Note::ClinicReading { .. }))
                .filter(|note| {
                    let day = zones.civil(note.at).date();
                    day < period.from
                        && day >= period.from.saturating_sub(Span::new().days(CLINIC_BEFORE_DAYS))
                })
                .cloned()
                .collect(),
            earlier: self.earlier(),
            household,
            zones,
            protocol: &self.protocol,
            period,
            readings,
            nobodys: self.nobodys,
            widened: self.widened(ASSUMED),
            changed: self.changed.as_ref(),
            words: Language::English.words(),
            patterns: &self.patterns,
            signs: &self.signs,
            alerts: &self.alerts,
            troubles: Vec::new(),
            list_all: false,
            made_at,
        })
    }
}

/// The plan, which is the days and the protocol, and whether it was stated: what was asked for, and where
/// nothing was, what was planned.
fn choose(
    which: &Asked,
    stated: &Stated,
    id: &PersonId,
    taken: &[Taken],
    today: Date,
) -> Result<(Plan, bool), FindError> {
    let (plans, protocols) = (stated.plans(id), &stated.protocols);
    let own = stated.person(id).and_then(|person| person.protocol.as_deref());
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
    let was_stated = planned.as_ref().is_some_and(|planned| plans.contains(planned));
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
    Ok((plan, was_stated))
}

fn none_between(who: &str, taken: &[Taken], from: Date, to: Date) -> Option<Said> {
    if taken.iter().any(|taken| (from..=to).contains(&taken.day)) {
        return None;
    }
    let (before, after) = nearest_days(taken, from, to);
    let name = match (before, after) {
        (None, None) => "empty-at-all",
        (Some(_), None) => "empty-before",
        (None, Some(_)) => "empty-after",
        (Some(_), Some(_)) => "empty-between",
    };
    let days = [("before", before), ("after", after)];
    let near = days
        .into_iter()
        .filter_map(|(name, day)| Some((name, day?.into())));
    let values = [
        ("who", who.into()),
        ("from", from.into()),
        ("to", to.into()),
        ("near", Said::of(name, near).into()),
    ];
    Some(Said::of("empty-days", values))
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
    period: &Period,
    history: &History,
    now: Timestamp,
    context: &Context<'_>,
    zones: &Zones,
) -> Vec<Alert> {
    let (id, from, to) = (&period.person, period.from, period.to);
    let midnight = zones.instant(from.to_datetime(Time::midnight())).unwrap_or(now);
    let since = midnight.min(now).checked_sub(LOOK_BACK).unwrap_or(Timestamp::MIN);
    let since_then: Vec<Reading> = history
        .readings
        .iter()
        .map(|judged| &judged.reading)
        .filter(|reading| reading.time.at.unwrap_or(reading.received_at) >= since)
        .cloned()
        .collect();
    let mut raised = story(now, Some(id), &since_then, context);
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
