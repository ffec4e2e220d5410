//! `quietcuff next`: what the person with the cuff should do now.

use super::days::{moment, one, shown};
use super::failure::{Failure, Outcome};
use super::output::json_line;
use super::place::{Everywhere, language_of};
use crate::home::listening::troubles_now;
use crate::household::{PersonId, Zones};
use crate::journal::{Journal, Wanted};
use crate::monitoring::escalation::{Alert, Level, Undated};
use crate::monitoring::listening::said;
use crate::monitoring::next::{self, Next, READINGS_BACK, Step};
use crate::monitoring::stated::Stated;
use crate::monitoring::urgent;
use crate::words::{Language, Words};
use clap::Args;
use jiff::Timestamp;
use serde::Serialize;
use std::io::Write;
use std::process::ExitCode;

/// For whom and when.
#[derive(Args)]
pub(crate) struct NextArgs {
    /// For whom [default: the only person there is]
    #[arg(long, value_name = "ID")]
    person: Option<PersonId>,
    /// At which moment, such as 07:05 or 2026-03-01T07:05 [default: now]
    #[arg(long, value_name = "TIME")]
    at: Option<String>,
    /// In which language, such as hi [default: the household's, which the configuration says]
    #[arg(long, value_name = "TAG", value_parser = language_of, conflicts_with = "json")]
    language: Option<Language>,
    /// Print one JSON object
    #[arg(long)]
    json: bool,
}

#[derive(Serialize)]
struct Line<'a> {
    person: &'a PersonId,
    state: &'static str,
    until: Option<String>,
    because: &'a str,
    say: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    otherwise: Option<&'static str>,
    alerts: Vec<AlertLine<'a>>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    troubles: Vec<TroubleLine<'a>>,
}

/// What keeps readings from arriving, from being dated, or from going on.
#[derive(Serialize)]
struct TroubleLine<'a> {
    trouble: &'static str,
    since: Option<String>,
    detail: &'a str,
}

/// Something that must not wait.
#[derive(Serialize)]
pub(crate) struct AlertLine<'a> {
    pub(crate) about: &'static str,
    pub(crate) level: &'static str,
    /// Names it for `quietcuff answer`.
    pub(crate) alert: String,
    /// Nobody has said yet whose reading it is.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub(crate) nobodys: bool,
    pub(crate) at: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) repeat_at: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) ended: Option<&'static str>,
    pub(crate) reading: Option<&'a str>,
    /// Why nobody knows when that reading was taken.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) undated: Option<&'static str>,
    pub(crate) say: &'a str,
    pub(crate) source: &'static str,
    /// What of it no source gives.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) choice: Option<&'static str>,
}

impl<'a> AlertLine<'a> {
    pub(crate) fn of(alert: &'a Alert, zones: &Zones) -> Self {
        Self {
            about: alert.about.name(),
            level: alert.level.name(),
            alert: alert.key(),
            nobodys: alert.person.is_none(),
            at: shown(alert.at, zones),
            repeat_at: alert.repeat_at.map(|at| shown(at, zones)),
            ended: alert.end.map(|(_, end)| end.name()),
            reading: alert.reading.as_ref().map(|id| id.0.as_str()),
            undated: alert.undated.map(Undated::name),
            say: &alert.say,
            source: alert.source,
            choice: alert.choice(),
        }
    }
}

pub(crate) fn run(here: &Everywhere, args: &NextArgs) -> Outcome {
    let mut journal = here.read_journal()?;
    let stated = here.stated(&journal)?;
    let zones = &stated.zones;
    let person = one(&stated.household, args.person.as_ref())?;
    let now = match &args.at {
        Some(text) => moment(text, zones, Timestamp::now())?,
        None => Timestamp::now(),
    };
    let next = next_of(&mut journal, &stated, &person, (now, args.at.is_some()))?;
    // Nobody knows whether anybody listened at another moment.
    let troubles = match args.at {
        Some(_) => Vec::new(),
        None => troubles_now(
            &here.state()?,
            &journal,
            (
                &stated.household,
                &here.config()?.clinic,
                here.config()?.alerts.silent(),
            ),
            now,
        )?,
    };
    let mut out = std::io::stdout().lock();
    if args.json {
        let line = Line {
            person: &next.person,
            state: next.state.name(),
            until: next.until.map(|until| shown(until, zones)),
            because: &next.because,
            say: &next.say,
            otherwise: next.otherwise.map(Step::name),
            alerts: next
                .alerts
                .iter()
                .map(|alert| AlertLine::of(alert, zones))
                .collect(),
            troubles: troubles
                .iter()
                .map(|trouble| TroubleLine {
                    trouble: trouble.what.name(),
                    since: trouble.since.map(|since| shown(since, zones)),
                    detail: trouble.what.detail(),
                })
                .collect(),
        };
        json_line(&mut out, &line)?;
    } else {
        let words = here.language(args.language)?.words();
        in_words(&mut out, &mut journal, &next, words)?;
        for trouble in &troubles {
            let what = said(trouble, zones, words);
            writeln!(out, "{}", words.with("next-beware", &[("what", what.into())]))?;
        }
    }
    Ok(ExitCode::SUCCESS)
}

/// The step, why, and what else must not wait.
fn in_words(out: &mut impl Write, journal: &mut Journal, next: &Next, words: &Words) -> Result<(), Failure> {
    let mut alerts = Vec::new();
    for alert in &next.alerts {
        let wanted = Wanted {
            id: alert.reading.as_ref().map(|id| id.0.clone()),
            ..Wanted::default()
        };
        let judged = match &alert.reading {
            Some(_) => journal.readings(&wanted)?.pop(),
            None => None,
        };
        let reading = judged.as_ref().map(|judged| &judged.reading);
        alerts.push((urgent::whole(alert, reading, words), alert.source));
    }
    let mut more = alerts.as_slice();
    match alerts.split_first() {
        Some(((first, _), rest)) if next.state == Step::SeekHelp => {
            if next
                .alerts
                .first()
                .is_some_and(|alert| alert.level == Level::MeasureAgain)
                && next.until.is_none()
            {
                writeln!(out, "{}. {first}", words.say("help-again"))?;
            } else {
                writeln!(out, "{first}")?;
            }
            more = rest;
        }
        _ => writeln!(out, "{}", words.of(&next.say))?,
    }
    let state = words.say(&format!("state-{}", next.state.name()));
    writeln!(out, "({state}: {})", words.of(&next.because))?;
    for (said, source) in more {
        let source = words.with("source-of", &[("source", (*source).into())]);
        writeln!(out, "{said} ({source})")?;
    }
    Ok(())
}

/// What a person should do at a moment, from what the journal holds. Whether the moment is `past` says whether readings
/// after it had come.
pub(crate) fn next_of(
    journal: &mut Journal,
    stated: &Stated,
    person: &PersonId,
    (now, past): (Timestamp, bool),
) -> Result<Next, Failure> {
    let since = now.checked_sub(READINGS_BACK).ok();
    let mut readings = journal.readings_to_watch(Some(person), since)?;
    readings.extend(journal.readings_to_watch(None, since)?);
    let readings: Vec<_> = readings
        .into_iter()
        .map(|judged| judged.reading)
        // What came after a moment that is asked about was not there yet.
        .filter(|reading| {
            !past
                || reading
                    .time
                    .at
                    .is_some_and(|at| at.min(reading.received_at) <= now)
        })
        .collect();
    // About another moment it is asked what would be due then.
    let measured = past || journal.last_before(person, now)?.is_some();
    next::next_of(
        now,
        person,
        (stated.plans(person), measured),
        &stated.protocols,
        &readings,
        (&stated.household, &stated.notes, &stated.zones),
    )
    .map_err(|e| Failure::new(super::failure::CONFIG, e.to_string()))
}
