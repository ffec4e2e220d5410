//! `quietcuff remind`: the role that tells people what they would miss.

use super::days::shown;
use super::failure;
use super::failure::{Failure, Outcome};
use super::output::json_line;
use super::place::Everywhere;
use crate::home::alerts::channel::{self};
use crate::home::alerts::error::ChannelError;
use crate::home::alerts::look::Look;
use crate::home::alerts::message::Voice;
use crate::home::alerts::mqtt::Mqtt;
use crate::home::alerts::post::kind_of;
use crate::home::alerts::routes::Alerts;
use crate::home::listening::not_delivered;
use crate::household::{Household, Zones};
use crate::journal::{AlertEntry, Standing};
use crate::monitoring::reminders::{Deaf, Reminder};
use crate::roles;
use crate::roles::manager::ServiceManager;
use crate::roles::reminders::{
    Reminders, RemindersError, STUCK, deaf_from, household_of, nothing_to_hear, why_deaf,
};
use clap::{Args, Subcommand};
use jiff::{SignedDuration, Timestamp};
use serde::Serialize;
use std::io::Write;
use std::process::ExitCode;
use std::time::Duration;

/// What was told is listed for so long.
const LISTED: SignedDuration = SignedDuration::from_hours(7 * 24);
/// A thread that still talks to a server when everything else has ended.
const THREADS_END: Duration = Duration::from_secs(1);

/// Tells the household's people what they would miss, until it is told to stop.
#[derive(Args)]
pub(crate) struct RemindArgs {
    #[command(subcommand)]
    command: Option<RemindCommand>,
}

#[derive(Subcommand)]
enum RemindCommand {
    /// Send a marked test, and say what became of it
    Test {
        /// By this route only
        route: Option<String>,
    },
    /// List what is due, what waits, and what was told lately
    List {
        /// Print one JSON object a line
        #[arg(long)]
        json: bool,
    },
}

pub(crate) fn run(here: &Everywhere, args: &RemindArgs) -> Outcome {
    let alerts = here.config()?.alerts;
    if let Some(RemindCommand::List { json }) = &args.command {
        return list(here, &alerts, *json);
    }
    if alerts.route.is_empty() && alerts.mqtt.is_none() {
        return Err(Failure::new(
            failure::CONFIG,
            "nobody is to be told: the configuration has no [[alerts.route]]; the README shows some",
        ));
    }
    let runtime = roles::runtime()?;
    let outcome = runtime.block_on(async {
        match &args.command {
            Some(RemindCommand::Test { route }) => test(here, alerts, route.as_deref()).await,
            _ => stay(here, alerts).await,
        }
    });
    runtime.shutdown_timeout(THREADS_END);
    outcome
}

async fn stay(here: &Everywhere, alerts: Alerts) -> Outcome {
    let service = ServiceManager::of_environment();
    let config = here.config()?;
    let (time_zone, backups) = (config.time_zone, config.backup.to.is_some());
    let routes: Vec<String> = alerts.route.iter().map(|route| route.name.clone()).collect();
    let reminders = Reminders::start(&here.state()?, alerts, here.journal()?, time_zone)?
        .with_backups(backups)
        .with_clinic(config.clinic);
    let begins = if routes.is_empty() {
        "watching what is due, for the MQTT broker alone".to_owned()
    } else {
        format!("watching what is due, to tell it by {}", routes.join(", "))
    };
    tracing::info!("{begins}");
    service.ready(&begins);
    let stop = async {
        roles::told_to_stop().await;
        service.stopping();
    };
    reminders.run(stop, || service.alive()).await?;
    Ok(ExitCode::SUCCESS)
}

async fn test(here: &Everywhere, mut alerts: Alerts, only: Option<&str>) -> Outcome {
    if let Some(only) = only {
        let there: Vec<String> = alerts.route.iter().map(|route| route.name.clone()).collect();
        alerts.route.retain(|route| route.name == only);
        if alerts.route.is_empty() {
            return Err(Failure::new(
                failure::USAGE,
                format!("no route is called {only:?}; there are: {}", there.join(", ")),
            ));
        }
    }
    let (household, zones, seed) = match here.read_journal() {
        Ok(journal) => (
            journal.household()?,
            here.zones(&journal)?,
            household_of(&journal)?,
        ),
        // A test needs no readings.
        Err(_) => (Household::default(), Zones::only(jiff::tz::TimeZone::system()), 0),
    };
    let mut all_good = true;
    for route in &alerts.route {
        let alone = Alerts {
            route: vec![route.clone()],
            ..alerts.clone()
        };
        let voice = Voice {
            words: route.language.unwrap_or(alerts.language).words(),
            household: &household,
            zones: &zones,
            terse: route.is_terse(),
        };
        let message = voice.test(Timestamp::now());
        let sent = send_alone(&alone, &route.name, &message, seed).await;
        let medium = route.medium().map_or("nothing", |medium| medium.name());
        let mut out = std::io::stdout().lock();
        match sent {
            Ok(()) => writeln!(out, "{:<12} {medium:<8} sent", route.name)?,
            Err(error) => {
                all_good = false;
                writeln!(out, "{:<12} {medium:<8} FAILED: {error}", route.name)?;
            }
        }
    }
    Ok(if all_good {
        ExitCode::SUCCESS
    } else {
        ExitCode::from(failure::UNAVAILABLE)
    })
}

/// Opens a route's channel, sends, and closes it.
async fn send_alone(
    alerts: &Alerts,
    route: &str,
    message: &crate::home::alerts::message::Message,
    seed: i64,
) -> Result<(), ChannelError> {
    let needs_broker = alerts.route.iter().any(|route| route.mqtt);
    // As another client, so that a running `remind` keeps its connection.
    let mqtt = match alerts.mqtt.as_ref().filter(|_| needs_broker) {
        Some(broker) => Some(Mqtt::start_apart(broker, seed)?),
        None => None,
    };
    let channels = channel::open(alerts, mqtt.as_ref().map(|(mqtt, _)| mqtt), seed)?;
    let sent = match channels.get(route) {
        Some(channel) => channel.send(route, message).await,
        None => Ok(()),
    };
    drop(channels);
    if let Some((mqtt, line)) = mqtt {
        drop(mqtt);
        let _ = tokio::time::timeout(Duration::from_secs(5), line).await;
    }
    sent
}

#[derive(Serialize)]
struct Line<'a> {
    key: &'a str,
    kind: &'static str,
    route: Option<&'a str>,
    state: &'static str,
    since: String,
    until: Option<String>,
    changed: Option<String>,
    tries: u32,
    problem: Option<&'a str>,
    subject: Option<&'a str>,
}

impl Line<'_> {
    /// Prints what is due and nobody has been told yet.
    fn due(
        out: &mut impl Write,
        reminder: &Reminder,
        voice: &Voice<'_>,
        now: Timestamp,
        json: bool,
    ) -> Result<(), Failure> {
        let message = voice.say(reminder, now);
        let line = Line {
            key: &reminder.key,
            kind: reminder.kind().name(),
            route: None,
            state: "due",
            since: shown(reminder.from, voice.zones),
            until: reminder.until.map(|until| shown(until, voice.zones)),
            changed: None,
            tries: 0,
            problem: None,
            subject: Some(&message.subject),
        };
        if json {
            return json_line(out, &line);
        }
        Ok(writeln!(out, "due       {:<16} {}", line.kind, message.subject)?)
    }

    /// Prints a row of the ledger.
    fn told(out: &mut impl Write, entry: &AlertEntry, zones: &Zones, json: bool) -> Result<(), Failure> {
        let line = Line {
            key: &entry.key,
            kind: kind_of(&entry.key).map_or("other", |kind| kind.name()),
            route: Some(&entry.route),
            state: match entry.standing {
                Standing::Claimed => "being-sent",
                other => other.name(),
            },
            since: shown(entry.since, zones),
            until: None,
            changed: Some(shown(entry.changed, zones)),
            tries: entry.tries,
            problem: entry.problem.as_deref(),
            subject: None,
        };
        if json {
            return json_line(out, &line);
        }
        let problem = line
            .problem
            .map(|problem| format!(": {problem}"))
            .unwrap_or_default();
        Ok(writeln!(
            out,
            "{:<9} {:<16} {} by {}, {}{problem}",
            line.state,
            line.kind,
            line.key,
            entry.route,
            line.changed.as_deref().unwrap_or_default()
        )?)
    }
}

fn list(here: &Everywhere, alerts: &Alerts, json: bool) -> Outcome {
    let mut journal = here.read_journal()?;
    let stated = here.stated(&journal)?;
    let now = Timestamp::now();
    // As `remind` has seen it; this look alone would not know since when.
    let why = if nothing_to_hear(&stated.household) {
        None
    } else {
        why_deaf(&here.state()?)
    };
    let deaf = journal.watched("deaf")?.zip(why).map(|(since, why)| Deaf {
        since,
        from: deaf_from(since),
        why,
    });
    let mut look = Look::at(&mut journal, stated, deaf, now)?;
    if here.config()?.backup.to.is_some() {
        look.backed_up = journal.backed_up_until()?;
    }
    let stuck = not_delivered(&journal, &here.config()?.clinic, now)?;
    look.stuck = journal.watched(STUCK)?.zip(stuck.into_iter().next());
    let zones = &look.stated.zones;
    let reminders = look.reminders(alerts.monitor_silent_days, now);
    let voice = Voice {
        words: alerts.language.words(),
        household: &look.stated.household,
        zones,
        terse: true,
    };
    let entries = journal.alerts_since(now.checked_sub(LISTED).unwrap_or(Timestamp::MIN))?;
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    for reminder in reminders.iter().filter(|reminder| reminder.is_due(now)) {
        Line::due(&mut out, reminder, &voice, now, json)?;
    }
    for entry in &entries {
        Line::told(&mut out, entry, zones, json)?;
    }
    out.flush()?;
    if entries.is_empty() && !json && !reminders.iter().any(|reminder| reminder.is_due(now)) {
        eprintln!("quietcuff: nothing is due, and nobody was told anything in the last days");
    }
    Ok(ExitCode::SUCCESS)
}

impl From<RemindersError> for Failure {
    fn from(error: RemindersError) -> Self {
        match error {
            RemindersError::Journal(error) => error.into(),
            RemindersError::Channel(ChannelError::Secret(error)) => {
                Self::new(error.exit_code(), error.to_string())
            }
            other => Self::new(failure::CONFIG, other.to_string()),
        }
    }
}
