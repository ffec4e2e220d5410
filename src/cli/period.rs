//! `quietcuff period`: a run of a protocol for one person, its averages and what they rest on.

use super::days::{midnight, one, shown};
use super::next::AlertLine;
use super::place::protocols;
use super::summary::{self, CAUTION, paragraph};
use super::{Everywhere, Failure, Outcome, failure, json_line};
use crate::household::{Household, MonitorId, Note, Person, PersonId, StatedNote, Statement, Zones};
use crate::journal::{History, Journal};
use crate::monitoring::drift;
use crate::monitoring::escalation::{Alert, Level, STANDS, alerts, irregular_pulse};
use crate::monitoring::patterns::{ClinicReading, Pattern, patterns};
use crate::monitoring::period::{self, Period, last_day};
use crate::monitoring::plan::{self, Plan, nearest_days};
use crate::monitoring::pressure::Pressure;
use crate::monitoring::protocol::{DEFAULT, Protocol, Protocols};
use crate::monitoring::session::SessionRule;
use crate::monitoring::taken::Taken;
use crate::monitoring::variability::Both;
use crate::reading::Reading;
use crate::technique::Context;
use clap::{Args, Subcommand};
use jiff::Timestamp;
use jiff::civil::Date;
use serde::Serialize;
use std::collections::BTreeSet;
use std::io::Write;
use std::process::ExitCode;

/// Works out a period, or states one.
#[derive(Args)]
pub(crate) struct PeriodArgs {
    #[command(flatten)]
    which: Which,
    /// Print one JSON object
    #[arg(long, global = true)]
    json: bool,
    #[command(subcommand)]
    command: Option<PeriodCommand>,
}

#[derive(Subcommand)]
enum PeriodCommand {
    /// Begin a period
    Start {
        #[command(flatten)]
        which: Which,
    },
    /// List the periods that were begun
    List {
        /// Whose [default: everybody's]
        #[arg(long, value_name = "ID")]
        person: Option<PersonId>,
    },
}

/// Whose days, and by which rules.
#[derive(Args)]
pub(crate) struct Which {
    /// Whose [default: the only person there is]
    #[arg(long, value_name = "ID")]
    pub(crate) person: Option<PersonId>,
    /// By which protocol [default: the period's, else the person's, else seven-day]
    #[arg(long, value_name = "NAME")]
    pub(crate) protocol: Option<String>,
    /// First day [default: of the running or the last period, else so that the days end with the last reading]
    #[arg(long, value_name = "DATE")]
    pub(crate) from: Option<Date>,
    /// How many days [default: the period's, else the protocol's]
    #[arg(long, value_name = "N")]
    pub(crate) days: Option<u16>,
}

impl Which {
    pub(crate) fn any(&self) -> bool {
        self.person.is_some() || self.protocol.is_some() || self.from.is_some() || self.days.is_some()
    }
}

/// A period with everything that it was worked out from.
pub(crate) struct Found {
    pub(crate) household: Household,
    pub(crate) zones: Zones,
    pub(crate) protocol: Protocol,
    pub(crate) period: Period,
    pub(crate) history: History,
    /// Readings of these days that are nobody's yet.
    pub(crate) nobodys: i64,
    /// The days hold no reading, but are those of a period that was begun.
    pub(crate) empty: Option<String>,
    pub(crate) patterns: Vec<Pattern>,
    pub(crate) signs: Vec<(MonitorId, Pattern)>,
    pub(crate) alerts: Vec<Alert>,
}

/// The contract's object, and what else a clinician wants to see beside it.
#[derive(Serialize)]
struct Line<'a> {
    #[serde(flatten)]
    period: &'a Period,
    person_unknown: i64,
    patterns: &'a [Pattern],
    monitor_signs: Vec<Sign<'a>>,
    alerts: Vec<AlertLine<'a>>,
}

#[derive(Serialize)]
struct Sign<'a> {
    monitor: &'a MonitorId,
    #[serde(flatten)]
    sign: &'a Pattern,
}

pub(crate) fn run(here: &Everywhere, args: &PeriodArgs) -> Outcome {
    match &args.command {
        None => {
            let found = find(here, &args.which)?;
            if let Some(empty) = &found.empty {
                eprintln!("quietcuff: {empty}");
            }
            let mut out = std::io::BufWriter::new(std::io::stdout().lock());
            if args.json {
                json_line(&mut out, &found.line())?;
            } else {
                found.print(&mut out)?;
            }
            out.flush()?;
        }
        Some(_) if args.which.any() => {
            return Err(Failure::new(
                failure::USAGE,
                "--person, --protocol, --from and --days go behind the word `start`",
            ));
        }
        Some(PeriodCommand::Start { which }) => start(here, which, args.json)?,
        Some(PeriodCommand::List { person }) => list(here, person.as_ref(), args.json)?,
    }
    Ok(ExitCode::SUCCESS)
}

fn usage(error: &dyn std::fmt::Display) -> Failure {
    Failure::new(failure::USAGE, error.to_string())
}

fn details<'a>(household: &'a Household, person: &PersonId) -> Option<&'a Person> {
    household.people.get(person).map(|(person, _removed)| person)
}

fn start(here: &Everywhere, which: &Which, json: bool) -> Result<(), Failure> {
    let mut journal = here.existing_journal()?;
    let zones = here.zones(&journal)?;
    let household = journal.household()?;
    let protocols = protocols(&household)?;
    let person = one(&household, which.person.as_ref())?;
    let own = details(&household, &person).and_then(|person| person.protocol.as_deref());
    let protocol = which.protocol.as_deref().or(own).unwrap_or(DEFAULT);
    let now = Timestamp::now();
    let from = which.from.unwrap_or_else(|| zones.civil(now).date());
    let plan = Plan::new(&protocols, protocol, from, which.days).map_err(|e| usage(&e))?;
    let statements = journal.statements()?;
    let (plans, _) = plan::plans(
        &person,
        &protocols,
        statements.iter().map(|(_, statement)| statement),
    );
    plan.fits(&plans).map_err(|e| usage(&e))?;
    let statement = Statement::Period {
        person: person.clone(),
        protocol: plan.protocol.clone(),
        from: plan.from,
        // The number of days is stated with it, so that a later protocol file does not move a period's end.
        days: Some(plan.days),
    };
    journal.state(now, &[statement])?;
    let today = zones.civil(now).date();
    print_plan(&mut std::io::stdout().lock(), &person, &plan, today, json)
}

fn list(here: &Everywhere, person: Option<&PersonId>, json: bool) -> Result<(), Failure> {
    let journal = here.existing_journal()?;
    let zones = here.zones(&journal)?;
    let household = journal.household()?;
    let protocols = protocols(&household)?;
    let people = match person {
        Some(person) => vec![one(&household, Some(person))?],
        None => household.periods.keys().cloned().collect(),
    };
    let today = zones.civil(Timestamp::now()).date();
    let statements = journal.statements()?;
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    for person in people {
        let (plans, errors) = plan::plans(
            &person,
            &protocols,
            statements.iter().map(|(_, statement)| statement),
        );
        for plan in &plans {
            print_plan(&mut out, &person, plan, today, json)?;
        }
        for error in errors {
            eprintln!("quietcuff: a period of {person} that was stated does not hold: {error}");
        }
    }
    Ok(out.flush()?)
}

fn print_plan(
    out: &mut impl Write,
    person: &PersonId,
    plan: &Plan,
    today: Date,
    json: bool,
) -> Result<(), Failure> {
    #[derive(Serialize)]
    struct PlanLine<'a> {
        person: &'a PersonId,
        protocol: &'a str,
        from: Date,
        to: Date,
        days: u16,
        state: &'static str,
    }
    let line = PlanLine {
        person,
        protocol: &plan.protocol,
        from: plan.from,
        to: plan.to(),
        days: plan.days,
        state: if plan.from > today {
            "to-come"
        } else if plan.covers(today) {
            "running"
        } else {
            "over"
        },
    };
    if json {
        return json_line(out, &line);
    }
    Ok(writeln!(
        out,
        "{:<12}  {:<12}  {} to {}, {} days, {}",
        line.person.as_str(),
        line.protocol,
        line.from,
        line.to,
        line.days,
        line.state.replace('-', " ")
    )?)
}

/// Which days by which protocol: what was asked for, and where nothing was, what was planned.
fn choose(
    which: &Which,
    plans: &[Plan],
    own: Option<&str>,
    protocols: &Protocols,
    taken: &[Taken],
    today: Date,
) -> Result<(Plan, bool), Failure> {
    let asked = which.protocol.as_deref();
    let planned = match which.from {
        Some(from) => plans.iter().find(|plan| plan.from == from).cloned(),
        None => {
            let name = asked.or(own).unwrap_or(DEFAULT);
            let days = which
                .days
                .unwrap_or(protocols.get(name).map_err(|e| usage(&e))?.days.value);
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
        .ok_or_else(|| {
            Failure::new(
                failure::DATA,
                "there are no readings yet, and no period was begun; `quietcuff period start` begins one",
            )
        })?;
    let days = which.days.or(planned.as_ref().map(|plan| plan.days));
    let plan = Plan::new(protocols, protocol, from, days).map_err(|e| usage(&e))?;
    Ok((plan, stated))
}

/// Works out the period that was asked for.
pub(crate) fn find(here: &Everywhere, which: &Which) -> Result<Found, Failure> {
    let mut journal = here.existing_journal()?;
    let zones = here.zones(&journal)?;
    find_in(&mut journal, zones, which)
}

/// The same in an open journal.
pub(crate) fn find_in(journal: &mut Journal, zones: Zones, which: &Which) -> Result<Found, Failure> {
    let household = journal.household()?;
    let protocols = protocols(&household)?;
    let id = one(&household, which.person.as_ref())?;
    let person = details(&household, &id).cloned().unwrap_or_default();
    let history = journal.history(&id, &zones)?;
    let statements = journal.statements()?;
    let (plans, _) = plan::plans(&id, &protocols, statements.iter().map(|(_, statement)| statement));
    let now = Timestamp::now();
    let today = zones.civil(now).date();
    let (plan, stated) = choose(
        which,
        &plans,
        person.protocol.as_deref(),
        &protocols,
        &history.taken,
        today,
    )?;
    let (from, to) = (plan.from, last_day(plan.from, plan.days).unwrap_or(Date::MAX));
    let empty = none_between(&id, &history.taken, from, to);
    if let Some(empty) = empty.as_ref().filter(|_| !stated) {
        return Err(Failure::new(failure::DATA, empty.clone()));
    }
    let protocol = protocols.get(&plan.protocol).map_err(|e| usage(&e))?.clone();
    let period = period::period(&id, &person, &protocol, from, Some(plan.days), &history.taken)
        .map_err(|e| usage(&e))?;

    let notes = household.notes_in_time();
    let mine: Vec<&StatedNote> = notes
        .iter()
        .filter(|note| note.person.as_ref() == Some(&id))
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
        rule: SessionRule::of(&protocol),
    };
    let alerts = of_these_days(&id, &history, from, to, now, &context, &zones);
    Ok(Found {
        nobodys: journal.nobodys(
            midnight(&zones, from).unwrap_or(Timestamp::MIN),
            to.tomorrow()
                .ok()
                .and_then(|day| midnight(&zones, day))
                .unwrap_or(Timestamp::MAX),
        )?,
        protocol,
        period,
        empty,
        patterns,
        signs,
        alerts,
        history,
        household,
        zones,
    })
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

/// What asks for a check of a monitor, each monitor by its own readings since its last check.
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

/// What did not have to wait for the average: what stands now, what each reading of these days called for when it was
/// taken, and an irregular pulse in several of their sessions.
fn of_these_days(
    id: &PersonId,
    history: &History,
    from: Date,
    to: Date,
    now: Timestamp,
    context: &Context<'_>,
    zones: &Zones,
) -> Vec<Alert> {
    let dated: Vec<Reading> = history
        .readings
        .iter()
        .map(|judged| judged.reading.clone())
        .filter(|reading| reading.time.at.is_some())
        .collect();
    let mut raised: Vec<Alert> = alerts(now, Some(id), &dated, context);
    let mut start = 0;
    for (index, reading) in dated.iter().enumerate() {
        let Some(at) = reading.time.at else { continue };
        if !(from..=to).contains(&zones.civil(at).date()) {
            continue;
        }
        let stands = |other: &Reading| {
            other
                .time
                .at
                .is_some_and(|other| at.duration_since(other) <= STANDS)
        };
        while dated.get(start).is_some_and(|other| !stands(other)) {
            start += 1;
        }
        let before = dated.get(start..=index).unwrap_or_default();
        raised.extend(
            alerts(at, Some(id), before, context)
                .into_iter()
                .filter(|alert| alert.level > Level::Note && alert.reading.as_ref() == Some(&reading.id)),
        );
    }
    let sessions = history
        .sessions
        .iter()
        .filter(|session| (from..=to).contains(&session.date));
    raised.extend(irregular_pulse(sessions));
    let mut seen: Vec<Alert> = Vec::new();
    for alert in raised {
        let known = seen.iter().any(|other| {
            other.about == alert.about && other.at == alert.at && other.reading == alert.reading
        });
        if !known {
            seen.push(alert);
        }
    }
    seen
}

/// What an average is not.
const CAUTIONS: &str = "Symptoms come first, whatever the numbers say. Do not start, stop or change a medicine because of \
                        an average. A program that is off, or a radio that fails, raises no alarm.";

impl Found {
    fn line(&self) -> Line<'_> {
        Line {
            period: &self.period,
            person_unknown: self.nobodys,
            patterns: &self.patterns,
            monitor_signs: self
                .signs
                .iter()
                .map(|(monitor, sign)| Sign { monitor, sign })
                .collect(),
            alerts: self
                .alerts
                .iter()
                .map(|alert| AlertLine::of(alert, &self.zones))
                .collect(),
        }
    }

    fn print(&self, out: &mut impl Write) -> Result<(), Failure> {
        let period = &self.period;
        let who = details(&self.household, &period.person)
            .map(|person| person.label.as_str())
            .filter(|label| !label.is_empty())
            .unwrap_or(period.person.as_str());
        writeln!(out, "{}", summary::heading(who, period))?;
        for alert in &self.alerts {
            let at = shown(alert.at, &self.zones);
            let says = format!(
                "{} at {at}: {} Source: {}.",
                alert.about.name(),
                alert.say,
                alert.source
            );
            paragraph(out, "  ", &says)?;
        }
        summary::write(out, period)?;
        if self.nobodys > 0 {
            let waiting = format!(
                "{} more readings of these days are nobody's yet; `quietcuff readings assign` says whose.",
                self.nobodys
            );
            paragraph(out, "  ", &waiting)?;
        }
        if period.average.is_some() {
            self.print_details(out)?;
        }
        for pattern in &self.patterns {
            let says = format!("{}: {} Source: {}.", pattern.id, pattern.say, pattern.source);
            paragraph(out, "  ", &format!("For the clinician, {says}"))?;
        }
        for (monitor, sign) in &self.signs {
            let says = format!("{}: {} Source: {}.", sign.id, sign.say, sign.source);
            paragraph(out, "  ", &format!("Monitor {monitor}, {says}"))?;
        }
        paragraph(out, "", CAUTION)?;
        Ok(paragraph(out, "", CAUTIONS)?)
    }

    /// What a clinician may want beside the average.
    fn print_details(&self, out: &mut impl Write) -> std::io::Result<()> {
        let period = &self.period;
        let all_days = period.average_of_all_days.as_ref();
        if let Some(average) = all_days.filter(|_| self.protocol.drop_first_day.value) {
            let says = format!(
                "With the first day: {} mmHg, of {} readings.",
                average.exact.shown(),
                average.n
            );
            paragraph(out, "  ", &says)?;
        }
        if period.first_morning.systolic.is_some() {
            let says = format!(
                "First reading of the mornings: {} mmHg, of {}.",
                period.first_morning.exact.shown(),
                period.first_morning.n
            );
            paragraph(out, "  ", &says)?;
        }
        print_spread(out, "Spread of all, for information", &period.variability.all)?;
        print_spread(
            out,
            "Spread of the first of the mornings",
            &period.variability.first_morning,
        )?;
        if let Some(band) = &period.band {
            paragraph(
                out,
                "  ",
                &format!(
                    "The guideline's own word: {}. Source: {}.",
                    band.name, band.source
                ),
            )?;
        }
        if let Some(chance) = &period.chance_at_or_above {
            paragraph(out, "  ", &chance.say)?;
        }
        if let Some(days) = period.go_on_to_days {
            let says = format!("The average is close to the threshold: the protocol goes on to {days} days.");
            paragraph(out, "  ", &says)?;
        }
        Ok(())
    }
}

/// Information, never a verdict.
fn print_spread(out: &mut impl Write, name: &str, spread: &Both) -> std::io::Result<()> {
    let (systolic, diastolic) = (&spread.systolic, &spread.diastolic);
    let two = |a: Option<f64>, b: Option<f64>| a.zip(b).map(|(a, b)| format!("{a:.1} / {b:.1}"));
    let facts: Vec<String> = [
        ("SD", two(systolic.sd, diastolic.sd)),
        ("CV %", two(systolic.cv, diastolic.cv)),
        ("ARV", two(systolic.arv, diastolic.arv)),
        ("range", two(systolic.range, diastolic.range)),
    ]
    .into_iter()
    .filter_map(|(name, value)| Some(format!("{name} {}", value?)))
    .collect();
    if facts.is_empty() {
        return Ok(());
    }
    paragraph(out, "  ", &format!("{name}: {}.", facts.join(", ")))
}
