//! `quietcuff period`: a run of a protocol for one person, its averages and what they rest on.

mod changes;
mod earlier;
mod plot;

use super::days::{day, one};
use super::failure;
use super::failure::{Failure, Outcome};
use super::next::AlertLine;
use super::output::json_line;
use super::place::{Everywhere, Reader};
use super::rows::{self, Told};
use super::summary::{Summary, caution, paragraph, paragraph_behind};
use crate::export::report::words::{n, range, source};
use crate::household::{Household, MonitorId, Person, PersonId, Statement};
use crate::monitoring::average::Interval;
use crate::monitoring::carried_over::MOST;
use crate::monitoring::escalation::Alert;
use crate::monitoring::patterns::Pattern;
use crate::monitoring::period::Period;
use crate::monitoring::plan::{self, Plan};
use crate::monitoring::protocols::DEFAULT;
use crate::monitoring::stated::Stated;
use crate::monitoring::titles::{of_protocol, of_source};
use crate::monitoring::urgent;
use crate::monitoring::variability::Variability;
use crate::snapshot::period::{self, Asked, FindError, Found};
use crate::words::Words;
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
    #[command(flatten)]
    reader: Reader,
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
    fn say(&self, words: &Words) -> String {
        let values = [
            ("correlation", words.decimal(&self.correlation.to_string()).into()),
            ("systolic", range(words, self.interval.systolic).into()),
            ("diastolic", range(words, self.interval.diastolic).into()),
        ];
        words.with("summary-widened", &values)
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
    let words = here.words(&args.reader)?;
    // What the subcommands print, and for whom.
    let told = (words, args.json);
    match &args.command {
        None => {
            let found = find(here, &args.which)?;
            if let Some(empty) = &found.empty {
                eprintln!("quietcuff: {}", words.of(empty));
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
                print(&found, args.full, words, &mut out)?;
                if let Some(widened) = widened {
                    paragraph(&mut out, "", &widened.say(words))?;
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
        Some(PeriodCommand::Start { which }) => start(here, which, told)?,
        Some(PeriodCommand::Earlier { person }) => earlier::print(here, person.as_ref(), told)?,
        Some(PeriodCommand::Changes { person }) => changes::print(here, person.as_ref(), told)?,
        Some(PeriodCommand::List { person }) => list(here, person.as_ref(), told)?,
    }
    Ok(ExitCode::SUCCESS)
}

fn usage(error: &dyn std::fmt::Display) -> Failure {
    Failure::new(failure::USAGE, error.to_string())
}

fn details<'a>(household: &'a Household, person: &PersonId) -> Option<&'a Person> {
    household.people.get(person).map(|(person, _removed)| person)
}

fn start(here: &Everywhere, which: &Which, told: Told) -> Result<(), Failure> {
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
    let stated = journal.stated()?;
    print_plan(
        &mut std::io::stdout().lock(),
        (&stated, &person),
        &plan,
        today,
        told,
    )
}

fn list(here: &Everywhere, person: Option<&PersonId>, told: Told) -> Result<(), Failure> {
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
            print_plan(&mut out, (&stated, &person), plan, today, told)?;
        }
        for error in errors {
            eprintln!("quietcuff: a period of {person} that was stated does not hold: {error}");
        }
    }
    out.flush()?;
    if !any && !told.1 {
        let command = [("command", "`quietcuff period start`".into())];
        eprintln!("quietcuff: {}", told.0.with("nothing-begun", &command));
    }
    Ok(())
}

fn print_plan(
    out: &mut impl Write,
    (stated, person): (&Stated, &PersonId),
    plan: &Plan,
    today: Date,
    (words, json): Told,
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
    let who = rows::widest(stated.household.people.keys().map(|id| stated.label(id)));
    let states = ["session-to-come", "period-is-running", "period-is-over"];
    let state = words.say(match line.state {
        "to-come" => states[0],
        "running" => states[1],
        _ => states[2],
    });
    Ok(writeln!(
        out,
        "{}  {}  {:<12}  {}, {}",
        rows::padded(stated.label(person), who),
        rows::padded(&state, rows::widest(states.map(|state| words.say(state)))),
        line.protocol,
        words.days(line.from, line.to),
        words.with("rule-of-days", &[("n", line.days.into())])
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

fn print(found: &Found, full: bool, words: &'static Words, out: &mut impl Write) -> Result<(), Failure> {
    let period = &found.period;
    let summary = Summary {
        period,
        words,
        title: &found.protocol.title,
        full,
    };
    paragraph(out, "", &summary.heading(found.stated.label(&period.person)))?;
    if let Some(by) = &found.protocol.superseded_by {
        let by = [("by", by.as_str().into())];
        paragraph(out, "  ", &words.with("superseded-by", &by))?;
    }
    if let Some(changed) = &found.changed {
        paragraph(out, "  ", &words.of(changed))?;
    }
    for alert in &found.alerts {
        paragraph(out, "  ", &told_of(alert, found, words))?;
    }
    if full {
        plot::write(out, found, words)?;
    }
    summary.write(out)?;
    if found.nobodys > 0 {
        let command = [("command", "`quietcuff readings assign ID PERSON`".into())];
        let waiting = [
            words.with("sheet-nobodys", &[("n", found.nobodys.into())]),
            words.with("summary-assign", &command),
        ];
        paragraph(out, "  ", &waiting.join(" "))?;
    }
    if full {
        if period.average.is_some() {
            print_details(found, words, out)?;
        }
        print_to_look_at(found, words, out)?;
    }
    caution(out, words)?;
    paragraph(out, "", &words.say("summary-cautions"))?;
    if !full {
        let command = [("command", "`quietcuff period --full`".into())];
        paragraph(out, "", &words.with("summary-more", &command))?;
    }
    Ok(())
}

/// What did not have to wait for the average, with its day and its source.
fn told_of(alert: &Alert, found: &Found, words: &Words) -> String {
    let judged = alert.reading.as_ref().and_then(|id| {
        let mut readings = found.history.readings.iter();
        readings.find(|judged| judged.reading.id == *id)
    });
    let values = [
        (
            "about",
            words.say(&format!("about-{}", alert.about.name())).into(),
        ),
        (
            "moment",
            rows::moment(alert.at, &found.stated.zones, words).into(),
        ),
    ];
    format!(
        "{}: {} {}",
        words.with("sheet-raised", &values),
        urgent::whole(alert, judged.map(|judged| &judged.reading), words),
        source(words, alert.source)
    )
}

/// What a clinician may want to look at.
fn print_to_look_at(found: &Found, words: &Words, out: &mut impl Write) -> std::io::Result<()> {
    let standing = found.period.standing.iter().map(|standing| {
        let say = words.of(&standing.say());
        words.with("sheet-standing", &[("say", say.into())])
    });
    let patterns = found.patterns.iter().map(|pattern| {
        let name = words.say(&format!("pattern-{}", pattern.id));
        format!(
            "{name}: {} {}",
            words.of(&pattern.say),
            source(words, pattern.source)
        )
    });
    let signs = found.signs.iter().map(|(monitor, sign)| {
        let monitor = format!("{} {monitor}", words.say("column-monitor"));
        format!(
            "{monitor}: {} {}",
            words.of(&sign.say),
            source(words, sign.source)
        )
    });
    for (place, said) in standing.chain(patterns).chain(signs).enumerate() {
        if place == 0 {
            paragraph(out, "  ", &format!("{}:", words.say("sheet-to-look-at")))?;
        }
        paragraph_behind(out, "    - ", "      ", &said)?;
    }
    Ok(())
}

/// What a clinician may want beside the average.
fn print_details(found: &Found, words: &Words, out: &mut impl Write) -> std::io::Result<()> {
    let period = &found.period;
    let spread = &period.variability;
    let sides = [
        ("row-all-systolic", &spread.all.systolic),
        ("row-all-diastolic", &spread.all.diastolic),
        ("row-first-systolic", &spread.first_morning.systolic),
        ("row-first-diastolic", &spread.first_morning.diastolic),
    ];
    paragraph(out, "  ", &format!("{}:", words.say("table-spread")))?;
    for (name, side) in sides {
        print_spread(out, name, side, words)?;
    }
    if let Some(band) = &period.band {
        let values = [
            ("name", of_protocol(words, &band.name).into()),
            ("source", of_source(words, &band.source).into()),
        ];
        paragraph(out, "  ", &words.with("sheet-band", &values))?;
    }
    if let Some(chance) = &period.chance_at_or_above {
        paragraph(out, "  ", &words.of(&chance.say))?;
    }
    if let Some(days) = period.go_on_to_days {
        let days = [("days", n(days.into()))];
        paragraph(out, "  ", &words.with("sheet-go-on", &days))?;
    }
    Ok(())
}

/// Information, never a verdict.
fn print_spread(
    out: &mut impl Write,
    name: &str,
    spread: &Variability,
    words: &Words,
) -> std::io::Result<()> {
    let measures = [
        ("column-sd", spread.sd),
        ("column-cv", spread.cv),
        ("column-arv", spread.arv),
        ("column-range", spread.range),
    ];
    let facts: Vec<String> = measures
        .into_iter()
        .filter_map(|(name, value)| {
            let value = words.decimal(&format!("{:.1}", value?));
            Some(format!("{} {value}", words.say(name)))
        })
        .collect();
    if facts.is_empty() {
        return Ok(());
    }
    paragraph_behind(
        out,
        "    - ",
        "      ",
        &format!("{}: {}", words.say(name), facts.join("; ")),
    )
}
