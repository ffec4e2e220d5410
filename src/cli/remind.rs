//! `quietcuff remind`: the role that tells people what they would miss.

use super::days::shown;
use super::failure;
use super::failure::{Failure, Outcome};
use super::output::json_line;
use super::place::{Everywhere, Reader};
use super::rows::{Told, moment, padded, widest};
use super::summary::paragraph_behind;
use crate::home::alerts::channel::{self};
use crate::home::alerts::error::ChannelError;
use crate::home::alerts::look::Look;
use crate::home::alerts::message::Voice;
use crate::home::alerts::mqtt::Mqtt;
use crate::home::alerts::post::kind_of;
use crate::home::alerts::routes::Alerts;
use crate::home::listening::{door_is_shut, not_delivered};
use crate::household::{Household, Zones};
use crate::journal::{AlertEntry, Listener, Standing};
use crate::monitoring::reminders::{Deaf, Kind, Reminder};
use crate::monitoring::stated::Stated;
use crate::roles;
use crate::roles::manager::ServiceManager;
use crate::roles::reminders::{
    Reminders, RemindersError, STUCK, deaf_from, household_of, nothing_to_hear, why_deaf,
};
use crate::words::Words;
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
        #[command(flatten)]
        reader: Reader,
        /// Print one JSON object a line
        #[arg(long)]
        json: bool,
    },
}

pub(crate) fn run(here: &Everywhere, args: &RemindArgs) -> Outcome {
    let alerts = here.config()?.alerts;
    if let Some(RemindCommand::List { reader, json }) = &args.command {
        return list(here, &alerts, (here.words(reader)?, *json));
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
        let message = alerts.voice(route, &household, &zones).test(Timestamp::now());
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
        (words, json): Told,
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
        let from = moment(reminder.from, voice.zones, words);
        Ok(paragraph_behind(
            out,
            &format!("{}  ", state(line.state, words)),
            "    ",
            &format!("{from}  {}", message.subject),
        )?)
    }

    /// Prints a row of the ledger.
    fn told(
        out: &mut impl Write,
        entry: &AlertEntry,
        (stated, rooms): (&Stated, &[Listener]),
        (words, json): Told,
    ) -> Result<(), Failure> {
        let zones = &stated.zones;
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
        let kind = words.with("remind-kind", &[("kind", line.kind.into())]);
        let what = match whose(&entry.key, stated, rooms) {
            Some(whose) => format!("{kind} ({whose})"),
            None => kind,
        };
        let values = [("what", what.into()), ("route", entry.route.as_str().into())];
        Ok(paragraph_behind(
            out,
            &format!("{}  ", state(line.state, words)),
            "    ",
            &format!(
                "{}  {}{problem}",
                moment(entry.changed, zones, words),
                words.with("remind-told", &values)
            ),
        )?)
    }
}

/// A state in a column as wide as the widest of those that are seen daily.
fn state(name: &str, words: &Words) -> String {
    let said = |name: &str| words.with("remind-state", &[("state", name.into())]);
    padded(&said(name), widest(["due", "sent", "pending"].map(said)))
}

/// Which person, monitor or listener a matter is about, which its key says behind its kind.
fn whose<'a>(key: &'a str, stated: &'a Stated, rooms: &'a [Listener]) -> Option<&'a str> {
    let name = key.split('/').nth(1)?;
    if kind_of(key) == Some(Kind::ListenerSilent) {
        let listener = rooms.iter().find(|listener| listener.id == name);
        return listener.map(Listener::name);
    }
    let household = &stated.household;
    if let Some((person, _)) = household.people.iter().find(|(id, _)| id.as_str() == name) {
        return Some(stated.label(person));
    }
    household
        .monitors
        .keys()
        .any(|id| id.as_str() == name)
        .then_some(name)
}

fn list(here: &Everywhere, alerts: &Alerts, told: Told) -> Outcome {
    let (words, json) = told;
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
    look.shut = door_is_shut(&here.state()?);
    let rooms = journal.listeners()?;
    if here.config()?.backup.to.is_some() {
        look.backed_up = journal.backed_up_until()?;
    }
    let stuck = not_delivered(&journal, &here.config()?.clinic, now)?;
    look.stuck = journal.watched(STUCK)?.zip(stuck.into_iter().next());
    let zones = &look.stated.zones;
    let reminders = look.reminders(alerts.silent(), now);
    let voice = Voice {
        words,
        household: &look.stated.household,
        zones,
        terse: true,
    };
    let entries = journal.alerts_since(now.checked_sub(LISTED).unwrap_or(Timestamp::MIN))?;
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    for reminder in reminders.iter().filter(|reminder| reminder.is_due(now)) {
        Line::due(&mut out, reminder, &voice, now, told)?;
    }
    for entry in &entries {
        Line::told(&mut out, entry, (&look.stated, &rooms), told)?;
    }
    out.flush()?;
    if entries.is_empty() && !json && !reminders.iter().any(|reminder| reminder.is_due(now)) {
        eprintln!("quietcuff: {}", words.say("nothing-due"));
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
