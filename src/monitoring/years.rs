//! One person over years: the last period beside the earlier ones.
//!
//! Each earlier average is set against the last one by [`difference`], which knows the days of both. With many
//! periods one of twenty intervals leaves out nothing by chance alone; that stands beside them in words.

use super::average::{Average, ExactMean};
use super::patterns::difference;
use super::patterns::medicine::AverageDifference;
use super::period::{PeriodError, period};
use super::plan::Plan;
use super::protocol::Protocol;
use super::protocols::Protocols;
use super::taken::Taken;
use crate::household::{Person, PersonId};
use crate::words::said::Said;
use jiff::civil::Date;
use serde::Serialize;
use std::collections::BTreeMap;

/// One period of a person, and how the last one differs from it.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct Beside {
    /// The name of the protocol.
    pub protocol: String,
    /// The first day.
    pub from: Date,
    /// The last day.
    pub to: Date,
    /// The average; `None` where the readings are too few.
    pub average: Option<Average>,
    /// What there is of what is needed, where they are.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub insufficient: Option<Said>,
    /// The last period minus this one; `None` of the last itself, and where one of both has no interval.
    pub last_minus_this: Option<AverageDifference>,
    /// The days since the period before on which a medicine was changed.
    pub medicine_changed: Vec<Date>,
    /// Each measuring day of a follow-up with days between, such as once a week.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub series: Vec<DayMean>,
}

/// The mean of one measuring day.
#[derive(Clone, Copy, PartialEq, Debug, Serialize)]
#[expect(missing_docs, reason = "the names say it")]
pub struct DayMean {
    pub day: Date,
    pub systolic: Option<f64>,
    pub diastolic: Option<f64>,
    pub n: usize,
}

/// What is known of a person, for their periods.
#[derive(Clone, Copy, Debug)]
pub struct Whose<'a> {
    /// Id of the person whose periods these are.
    pub id: &'a PersonId,
    /// What was stated of them.
    pub person: &'a Person,
    /// Everything that they measured.
    pub taken: &'a [Taken],
    /// The days on which a medicine of theirs was changed.
    pub changes: &'a [Date],
}

/// The periods that have begun by this day, the first one first. One whose protocol is gone is left out.
pub fn beside(
    whose: &Whose<'_>,
    plans: &[Plan],
    protocols: &Protocols,
    today: Date,
) -> Result<Vec<Beside>, PeriodError> {
    let mut rows: Vec<Beside> = Vec::new();
    for plan in plans.iter().filter(|plan| plan.from <= today) {
        let Ok(protocol) = protocols.get(&plan.protocol) else {
            continue;
        };
        let worked_out = period(
            whose.id,
            whose.person,
            protocol,
            plan.from,
            Some(plan.days),
            whose.taken,
        )?;
        let before = rows.last().map_or(Date::MIN, |row| row.to);
        let since = |day: &&Date| before < **day && **day <= plan.to();
        rows.push(Beside {
            protocol: plan.protocol.clone(),
            from: plan.from,
            to: plan.to(),
            average: worked_out.average,
            insufficient: worked_out.insufficient,
            last_minus_this: None,
            medicine_changed: whose.changes.iter().filter(since).copied().collect(),
            series: series(protocol, plan, whose.taken),
        });
    }
    if let Some((last, earlier)) = rows.split_last_mut() {
        for row in earlier {
            let both = row.average.as_ref().zip(last.average.as_ref());
            row.last_minus_this = both
                .and_then(|(this, last)| difference(this, last))
                .map(|(systolic, diastolic)| AverageDifference { systolic, diastolic });
        }
    }
    Ok(rows)
}

fn series(protocol: &Protocol, plan: &Plan, taken: &[Taken]) -> Vec<DayMean> {
    if protocol.every_days.value < 2 {
        return Vec::new();
    }
    let mut days: BTreeMap<Date, ExactMean> = BTreeMap::new();
    for taken in super::enters::averaged(protocol, plan.from, plan.to(), taken) {
        if let Some(values) = taken.counted() {
            days.entry(taken.day).or_default().add(values);
        }
    }
    days.into_iter()
        .map(|(day, mean)| DayMean {
            day,
            systolic: mean.systolic(),
            diastolic: mean.diastolic(),
            n: mean.n(),
        })
        .collect()
}
