//! Gathers from the journal what reminders are made of.

use crate::gatt::BatteryLevel;
use crate::household::{Household, MonitorId, PersonId, Statement, Zones};
use crate::journal::{Journal, JournalError, Wanted};
use crate::monitoring::care::BATTERY_LOW_PERCENT;
use crate::monitoring::escalation::LOOK_BACK;
use crate::monitoring::period::{Period, period};
use crate::monitoring::plan::{self, Plan};
use crate::monitoring::protocols::Protocols;
use crate::monitoring::reminders::{
    BACK, Deaf, FINISHED_STANDS, Heard, Known, Measured, Reminder, reminders,
};
use crate::reading::Reading;
use crate::technique::Disposition;
use jiff::Timestamp;

/// What is known at one moment.
#[derive(Debug)]
pub struct Look {
    /// People, monitors and notes.
    pub household: Household,
    /// The household's clock.
    pub zones: Zones,
    /// The protocols that its periods are run by.
    pub protocols: Protocols,
    /// What each person did.
    pub people: Vec<Measured>,
    /// Readings as far back as an alert that nobody answered stands.
    pub readings: Vec<Reading>,
    /// What became of each of them.
    pub dispositions: Vec<Disposition>,
    /// Each monitor that is listened to.
    pub monitors: Vec<Heard>,
    /// Whether the daemon hears nothing.
    pub deaf: Option<Deaf>,
}

impl Look {
    /// Reads from the journal what is known at the moment `now`.
    pub fn at(
        journal: &mut Journal,
        zones: Zones,
        protocols: Protocols,
        deaf: Option<Deaf>,
        now: Timestamp,
    ) -> Result<Self, JournalError> {
        let statements = journal.statements()?;
        let household = Household::after(statements.iter().map(|(_, statement)| statement));
        let since = now.checked_sub(LOOK_BACK).unwrap_or(Timestamp::MIN);
        let (readings, dispositions) = journal
            .readings(&Wanted {
                from: Some(since),
                ..Wanted::default()
            })?
            .into_iter()
            .map(|judged| (judged.reading, judged.judgement.disposition))
            .unzip();
        let mut people = Vec::new();
        for (person, _) in household.people.iter().filter(|(_, (_, removed))| !removed) {
            people.push(measured(
                journal,
                person,
                &household,
                &zones,
                &protocols,
                &statements,
                now,
            )?);
        }
        let monitors = heard(journal, &household, &zones, &statements, now)?;
        Ok(Self {
            household,
            zones,
            protocols,
            people,
            readings,
            dispositions,
            monitors,
            deaf,
        })
    }

    /// As the pure part takes it.
    pub fn known(&self, silent_days: u16) -> Known<'_> {
        Known {
            household: &self.household,
            zones: &self.zones,
            protocols: &self.protocols,
            people: &self.people,
            readings: &self.readings,
            monitors: &self.monitors,
            deaf: self.deaf.as_ref(),
            silent_days,
        }
    }

    /// Everything that is, was lately, or will soon be worth saying.
    pub fn reminders(&self, silent_days: u16, now: Timestamp) -> Vec<Reminder> {
        reminders(&self.known(silent_days), now)
    }
}

/// Periods of a person that hold, each with the moment at which its days were first stated.
pub fn plans_of(
    person: &PersonId,
    protocols: &Protocols,
    statements: &[(Timestamp, Statement)],
) -> Vec<(Plan, Timestamp)> {
    let (plans, _) = plan::plans(
        person,
        protocols,
        statements.iter().map(|(_, statement)| statement),
    );
    let stated = |plan: &Plan| {
        statements.iter().find_map(|(at, statement)| match statement {
            Statement::Period {
                person: whose, from, ..
            } if whose == person && *from == plan.from => Some(*at),
            _ => None,
        })
    };
    plans
        .into_iter()
        .map(|plan| {
            let at = stated(&plan).unwrap_or(Timestamp::MIN);
            (plan, at)
        })
        .collect()
}

fn measured(
    journal: &mut Journal,
    person: &PersonId,
    household: &Household,
    zones: &Zones,
    protocols: &Protocols,
    statements: &[(Timestamp, Statement)],
    now: Timestamp,
) -> Result<Measured, JournalError> {
    let since = now.checked_sub(BACK).unwrap_or(Timestamp::MIN);
    let sessions = journal.sessions(&Wanted {
        person: Some(person.clone()),
        from: Some(since),
        ..Wanted::default()
    })?;
    let today = zones.civil(now).date();
    let news = zones
        .civil(now.checked_sub(FINISHED_STANDS).unwrap_or(Timestamp::MIN))
        .date();
    let plans = plans_of(person, protocols, statements);
    let mut periods = Vec::new();
    for (plan, _) in &plans {
        if (news..=today).contains(&plan.to()) {
            periods.extend(worked_out(journal, person, household, zones, protocols, plan)?);
        }
    }
    Ok(Measured {
        person: person.clone(),
        plans,
        sessions,
        periods,
    })
}

fn worked_out(
    journal: &mut Journal,
    person: &PersonId,
    household: &Household,
    zones: &Zones,
    protocols: &Protocols,
    plan: &Plan,
) -> Result<Option<Period>, JournalError> {
    let Ok(protocol) = protocols.get(&plan.protocol) else {
        return Ok(None);
    };
    let history = journal.history_of(&Wanted::of_days(person, plan.from, plan.to(), zones), zones)?;
    let details = household
        .people
        .get(person)
        .map(|(person, _)| person.clone())
        .unwrap_or_default();
    Ok(period(
        person,
        &details,
        protocol,
        plan.from,
        Some(plan.days),
        &history.taken,
    )
    .ok())
}

fn heard(
    journal: &mut Journal,
    household: &Household,
    zones: &Zones,
    statements: &[(Timestamp, Statement)],
    now: Timestamp,
) -> Result<Vec<Heard>, JournalError> {
    let last_heard = journal.last_heard()?;
    let mut all = Vec::new();
    for (monitor, care) in journal.cares(household, zones, now)? {
        let heard = enrolled(&monitor, statements).max(last_heard.get(monitor.as_str()).copied());
        let mut battery_low_since = None;
        for (address, _) in household.addresses.iter().filter(|(_, id)| **id == monitor) {
            journal.each_battery_level(address, |at, value| {
                let low = BatteryLevel::decode(value).is_ok_and(|level| level.0 <= BATTERY_LOW_PERCENT);
                if low {
                    battery_low_since = Some(at);
                }
                low
            })?;
        }
        if let Some(heard) = heard {
            all.push(Heard {
                monitor,
                heard,
                battery_low_since,
                care,
            });
        }
    }
    Ok(all)
}

/// When a monitor was last enrolled.
fn enrolled(monitor: &MonitorId, statements: &[(Timestamp, Statement)]) -> Option<Timestamp> {
    statements
        .iter()
        .rev()
        .find_map(|(at, statement)| match statement {
            Statement::Monitor { monitor: which, .. } if which == monitor => Some(*at),
            _ => None,
        })
}
