//! `quietcuff period`: a run of a protocol for one person, its averages and what they rest on.

mod changes;
mod earlier;
mod plot;

use super::days::{day, one};
use super::failure;
use super::failure::{Failure, Outcome};
use super::next::AlertLine;
use super::output::json_line;
use super::place::Everywhere;
use super::rows;
use super::summary::{self, CAUTION, paragraph};
use crate::household::{Household, MonitorId, Person, PersonId, Statement};
use crate::monitoring::average::Interval;
use crate::monitoring::carried_over::MOST;
use crate::monitoring::patterns::Pattern;
use crate::monitoring::period::Period;
use crate::monitoring::plan::{self, Plan};
use crate::monitoring::protocols::DEFAULT;
use crate::monitoring::variability::Both;
use crate::snapshot::period::{self, Asked, FindError, Found};
use clap::{Args, Subcommand};
use jiff::Timestamp;
use jiff::civil::Date;
use serde::Serialize;
use std::io::Write;
use std::process::ExitCode;

/// Works out a period, or states one.
#[derive(Args)]
pub(crate) struct PeriodArgs {
    #[command(flatten)]
    which: Which,
    /// Also give the interval as it would be if each day resembled the one before it, with this correlation: 0 to 0.8
    #[arg(long, value_name = "R", value_parser = correlation_of)]
    carry_over: Option<f64>,
    /// Show everything that a clinician may want beside the average, with a plot
    #[arg(long, conflicts_with = "json")]
    full: bool,
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
    /// Set the last period beside the earlier ones, over years
    Earlier {
        /// Whose [default: the only person there is]
        #[arg(long, value_name = "ID")]
        person: Option<PersonId>,
    },
    /// Set the days after each change of medicine beside those before it, over years
    Changes {
        /// Whose [default: the only person there is]
        #[arg(long, value_name = "ID")]
        person: Option<PersonId>,
    },
    /// List the periods that were begun
    List {
        /// Whose [default: everybody's]
        #[arg(long, value_name = "ID")]
        person: Option<PersonId>,
    },
}

/// Whose days, and by which rules.
#[derive(Args, Default)]
pub(crate) struct Which {
    /// Whose [default: the only person there is]
    #[arg(long, value_name = "ID")]
    pub(crate) person: Option<PersonId>,
    /// By which protocol [default: the period's, else the person's, else seven-day]
    #[arg(long, value_name = "NAME")]
    pub(crate) protocol: Option<String>,
    /// First day [default: of the running or the last period, else so that the days end with the last reading]
    #[arg(long, value_name = "DATE", value_parser = day)]
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

/// The contract's object, and what else a clinician wants to see beside it.
#[derive(Serialize)]
struct Line<'a> {
    #[serde(flatten)]
    period: &'a Period,
    person_unknown: i64,
    #[serde(skip_serializing_if = "Option::is_none")]
    superseded_by: Option<&'a str>,
    /// Present where a medicine was changed within these days.
    #[serde(skip_serializing_if = "Option::is_none")]
    medicine_changed: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    interval_widened: Option<Widened>,
    patterns: &'a [Pattern],
    monitor_signs: Vec<Sign<'a>>,
    alerts: Vec<AlertLine<'a>>,
}

/// The interval as it would be if days carried over.
#[derive(Serialize)]
struct Widened {
    correlation: f64,
    #[serde(flatten)]
    interval: Interval,
}

impl Widened {
    fn say(&self) -> String {
        let range = |[low, high]: [f64; 2]| format!("{:.0} to {:.0}", low.floor(), high.ceil());
        format!(
            "If each day resembled the one before it with a correlation of {}, which nobody has measured here, the 95 % \
             interval would be {} over {}.",
            self.correlation,
            range(self.interval.systolic),
            range(self.interval.diastolic)
        )
    }
}

fn correlation_of(text: &str) -> Result<f64, String> {
    text.parse()
        .ok()
        .filter(|correlation| (0.0..=MOST).contains(correlation))
        .ok_or_else(|| {
            format!("a correlation of neighbouring days is a number from 0 to {MOST}, such as 0.3")
        })
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
            let widened = args.carry_over.and_then(|correlation| {
                let interval = found.widened(correlation)?;
                Some(Widened {
                    correlation,
                    interval,
                })
            });
            if args.json {
                let line = Line {
                    interval_widened: widened,
                    ..Line::of(&found)
                };
                json_line(&mut out, &line)?;
            } else {
                print(&found, args.full, &mut out)?;
                if let Some(widened) = widened {
                    paragraph(&mut out, "", &widened.say())?;
                }
            }
            out.flush()?;
        }
        Some(_) if args.which.any() || args.carry_over.is_some() || args.full => {
            return Err(Failure::new(
                failure::USAGE,
                "--person, --protocol, --from and --days go behind the word `start`; --carry-over and --full stand alone",
            ));
        }
        Some(PeriodCommand::Start { which }) => start(here, which, args.json)?,
        Some(PeriodCommand::Earlier { person }) => earlier::print(here, person.as_ref(), args.json)?,
        Some(PeriodCommand::Changes { person }) => changes::print(here, person.as_ref(), args.json)?,
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
    let person = one(&household, which.person.as_ref())?;
    let own = details(&household, &person).and_then(|person| person.protocol.as_deref());
    let protocol = which.protocol.as_deref().or(own).unwrap_or(DEFAULT);
    here.choose_protocol(&mut journal, protocol)?;
    let stated = journal.stated()?;
    let now = Timestamp::now();
    let from = which.from.unwrap_or_else(|| zones.civil(now).date());
    let plan = Plan::new(&stated.protocols, protocol, from, which.days).map_err(|e| usage(&e))?;
    plan.fits(stated.plans(&person)).map_err(|e| usage(&e))?;
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
    let journal = here.read_journal()?;
    let stated = here.stated(&journal)?;
    let people = match person {
        Some(person) => vec![one(&stated.household, Some(person))?],
        None => stated.household.periods.keys().cloned().collect(),
    };
    let today = stated.zones.civil(Timestamp::now()).date();
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    let mut any = false;
    for person in people {
        let (plans, errors) = plan::plans(
            &person,
            &stated.protocols,
            stated.rows().iter().map(|row| &row.statement),
        );
        any |= !plans.is_empty();
        for plan in &plans {
            print_plan(&mut out, &person, plan, today, json)?;
        }
        for error in errors {
            eprintln!("quietcuff: a period of {person} that was stated does not hold: {error}");
        }
    }
    out.flush()?;
    if !any && !json {
        eprintln!("quietcuff: no period was begun; `quietcuff period start` begins one today");
    }
    Ok(())
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

/// Works out the period that was asked for.
pub(crate) fn find(here: &Everywhere, which: &Which) -> Result<Found, Failure> {
    let mut journal = here.read_journal()?;
    let stated = here.stated(&journal)?;
    let person = one(&stated.household, which.person.as_ref())?;
    let asked = Asked {
        protocol: which.protocol.clone(),
        from: which.from,
        days: which.days,
    };
    period::find(&mut journal, &stated, &person, &asked, Timestamp::now()).map_err(|error| match error {
        FindError::Journal(error) => error.into(),
        FindError::Plan(error) => usage(&error),
        FindError::Period(error) => usage(&error),
        error @ (FindError::NothingYet | FindError::Empty(_)) => {
            Failure::new(failure::DATA, error.to_string())
        }
    })
}

/// What an average is not.
const CAUTIONS: &str = "Symptoms come first, whatever the numbers say. Do not start, stop or change a medicine because of \
                        an average. A program that is off, or a radio that fails, raises no alarm.";

/// Stands below the short form.
const MORE: &str = "`quietcuff period --full` shows the reasons, the spread and a plot.";

impl<'a> Line<'a> {
    fn of(found: &'a Found) -> Self {
        Line {
            period: &found.period,
            person_unknown: found.nobodys,
            superseded_by: found.protocol.superseded_by.as_deref(),
            medicine_changed: found.changed.as_deref(),
            interval_widened: None,
            patterns: &found.patterns,
            monitor_signs: found
                .signs
                .iter()
                .map(|(monitor, sign)| Sign { monitor, sign })
                .collect(),
            alerts: found
                .alerts
                .iter()
                .map(|alert| AlertLine::of(alert, &found.stated.zones))
                .collect(),
        }
    }
}

fn print(found: &Found, full: bool, out: &mut impl Write) -> Result<(), Failure> {
    let period = &found.period;
    let who = found.stated.label(&period.person);
    writeln!(out, "{}", summary::heading(who, period))?;
    if let Some(by) = &found.protocol.superseded_by {
        paragraph(out, "  ", &format!("This protocol is superseded by {by}."))?;
    }
    if let Some(changed) = &found.changed {
        paragraph(out, "  ", changed)?;
    }
    for alert in &found.alerts {
        let at = rows::moment(alert.at, &found.stated.zones);
        let about = rows::plain(alert.about.name());
        let says = format!("{about}, {at}: {} Source: {}.", alert.say, alert.source);
        paragraph(out, "  ", &says)?;
    }
    if full {
        plot::write(out, found)?;
        summary::write(out, period)?;
    } else {
        summary::write_short(out, period)?;
    }
    if found.nobodys > 0 {
        let waiting = format!(
            "{} more readings of these days are nobody's yet; `quietcuff readings assign ID PERSON` says whose.",
            found.nobodys
        );
        paragraph(out, "  ", &waiting)?;
    }
    if !full {
        paragraph(out, "", CAUTION)?;
        paragraph(out, "", CAUTIONS)?;
        return Ok(paragraph(out, "", MORE)?);
    }
    if period.average.is_some() {
        print_details(found, out)?;
    }
    for standing in &period.standing {
        let says = format!("For the clinician, standing up on {}", standing.say());
        paragraph(out, "  ", &says)?;
    }
    for pattern in &found.patterns {
        let id = rows::plain(pattern.id);
        let says = format!("{id}: {} Source: {}.", pattern.say, pattern.source);
        paragraph(out, "  ", &format!("For the clinician, {says}"))?;
    }
    for (monitor, sign) in &found.signs {
        let says = format!("{}: {} Source: {}.", rows::plain(sign.id), sign.say, sign.source);
        paragraph(out, "  ", &format!("Monitor {monitor}, {says}"))?;
    }
    paragraph(out, "", CAUTION)?;
    Ok(paragraph(out, "", CAUTIONS)?)
}

/// What a clinician may want beside the average.
fn print_details(found: &Found, out: &mut impl Write) -> std::io::Result<()> {
    let period = &found.period;
    let all_days = period.average_of_all_days.as_ref();
    if let Some(average) = all_days.filter(|_| found.protocol.drop_first_day.value) {
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
