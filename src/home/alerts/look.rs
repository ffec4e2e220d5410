//! Gathers from the journal what reminders are made of.

use crate::gatt::BatteryLevel;
use crate::household::PersonId;
use crate::journal::{Journal, JournalError, Wanted};
use crate::monitoring::care::BATTERY_LOW_PERCENT;
use crate::monitoring::escalation::LOOK_BACK;
use crate::monitoring::listening::ListeningTrouble;
use crate::monitoring::plan::Plan;
use crate::monitoring::reminders::{
    BACK, Deaf, FINISHED_STANDS, Known, ListenerHeard, Measured, MonitorHeard, Reminder, Rooms, Silent,
    reminders,
};
use crate::monitoring::stated::Stated;
use crate::reading::Reading;
use crate::snapshot::period::{FindError, of_plan};
use crate::technique::Disposition;
use jiff::Timestamp;
use std::sync::Arc;

/// What is known at one moment.
#[derive(Debug)]
pub struct Look {
    /// What the household stated.
    pub stated: Arc<Stated>,
    /// What each person did.
    pub people: Vec<Measured>,
    /// Readings as far back as an alert that nobody answered stands.
    pub readings: Vec<Reading>,
    /// What became of each of them.
    pub dispositions: Vec<Disposition>,
    /// Each monitor that is listened to.
    pub monitors: Vec<MonitorHeard>,
    /// Whether the daemon hears nothing.
    pub deaf: Option<Deaf>,
    /// What keeps readings from the clinic's server, since whoever watches has seen it.
    pub stuck: Option<(Timestamp, ListeningTrouble)>,
    /// Until when everything is in a good backup; none where the household wants no backups.
    pub backed_up: Option<Timestamp>,
    /// The machines in other rooms of which frames are taken.
    pub listeners: Vec<ListenerHeard>,
    /// Whether nothing is taken in of what other rooms hear.
    pub shut: bool,
}

impl Look {
    /// Reads from the journal what is known at the moment `now`.
    pub fn at(
        journal: &mut Journal,
        stated: Arc<Stated>,
        deaf: Option<Deaf>,
        now: Timestamp,
    ) -> Result<Self, JournalError> {
        let since = now.checked_sub(LOOK_BACK).unwrap_or(Timestamp::MIN);
        let mut undated = journal.undated_since(None, Some(since))?;
        for person in stated.household.people.keys() {
            undated.extend(journal.undated_since(Some(person), Some(since))?);
        }
        let dated = journal.readings(&Wanted {
            from: Some(since),
            ..Wanted::default()
        })?;
        let (readings, dispositions) = dated
            .into_iter()
            .chain(undated)
            .map(|judged| (judged.reading, judged.judgement.disposition))
            .unzip();
        let mut people = Vec::new();
        for person in stated.people() {
            people.push(measured(journal, person, &stated, now)?);
        }
        let monitors = heard(journal, &stated, now)?;
        let listeners = journal.listeners_heard(&stated.household)?;
        Ok(Self {
            stated,
            people,
            readings,
            dispositions,
            monitors,
            deaf,
            stuck: None,
            backed_up: None,
            listeners,
            shut: false,
        })
    }

    /// As the pure part takes it.
    pub fn known(&self, silent: Silent) -> Known<'_> {
        Known {
            household: &self.stated.household,
            zones: &self.stated.zones,
            protocols: &self.stated.protocols,
            people: &self.people,
            readings: &self.readings,
            monitors: &self.monitors,
            deaf: self.deaf.as_ref(),
            stuck: self.stuck.as_ref(),
            backed_up: self.backed_up,
            rooms: Rooms {
                listeners: &self.listeners,
                shut: self.shut,
            },
            silent,
        }
    }

    /// Everything that is, was lately, or will soon be worth saying.
    pub fn reminders(&self, silent: Silent, now: Timestamp) -> Vec<Reminder> {
        reminders(&self.known(silent), now)
    }
}

fn measured(
    journal: &mut Journal,
    person: &PersonId,
    stated: &Stated,
    now: Timestamp,
) -> Result<Measured, JournalError> {
    let since = now.checked_sub(BACK).unwrap_or(Timestamp::MIN);
    let sessions = journal.sessions(&Wanted {
        person: Some(person.clone()),
        from: Some(since),
        ..Wanted::default()
    })?;
    let today = stated.zones.civil(now).date();
    let news = stated
        .zones
        .civil(now.checked_sub(FINISHED_STANDS).unwrap_or(Timestamp::MIN))
        .date();
    let mut periods = Vec::new();
    let finished = |plan: &&Plan| (news..=today).contains(&plan.to());
    for plan in stated.plans(person).iter().filter(finished) {
        match of_plan(journal, stated, person, plan) {
            Ok(worked_out) => periods.push(worked_out.period),
            Err(FindError::Journal(error)) => return Err(error),
            // One that cannot be worked out is not told of; `quietcuff period` says why.
            Err(_) => {}
        }
    }
    Ok(Measured {
        person: person.clone(),
        plans: stated.plans_stated(person),
        sessions,
        periods,
    })
}

fn heard(journal: &mut Journal, stated: &Stated, now: Timestamp) -> Result<Vec<MonitorHeard>, JournalError> {
    let last_heard = journal.last_heard()?;
    let mut all = Vec::new();
    for (monitor, care) in journal.cares(stated, now)? {
        let heard = stated
            .enrolled(&monitor)
            .max(last_heard.get(monitor.as_str()).copied());
        let mut battery_low_since = None;
        for (address, _) in stated
            .household
            .addresses
            .iter()
            .filter(|(_, id)| **id == monitor)
        {
            journal.each_battery_level(address, |at, value| {
                let low = BatteryLevel::decode(value).is_ok_and(|level| level.0 <= BATTERY_LOW_PERCENT);
                if low {
                    battery_low_since = Some(at);
                }
                low
            })?;
        }
        if let Some(heard) = heard {
            all.push(MonitorHeard {
                monitor,
                heard,
                battery_low_since,
                care,
            });
        }
    }
    Ok(all)
}
