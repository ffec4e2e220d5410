//! `quietcuff status`: what the running daemon says of itself.

use super::deliver::release::{Standing, StandingLine};
use super::failure;
use super::failure::{Failure, Outcome};
use super::listeners::ListenerLine;
use super::output::json_line;
use super::place::{Everywhere, Reader};
use super::rows::{self, padded, widest};
use super::second_ear::EarState;
use super::summary::paragraph_behind;
use crate::export::report::words::n;
use crate::home::listening::door_is_shut;
use crate::home::metrics::{Gauged, open_metrics};
use crate::household::Zones;
use crate::journal::{Comes, Journal, Listener};
use crate::monitoring::stated::Stated;
use crate::radio::report::{CentralReport, MonitorReport};
use crate::radio::way::Way;
use crate::socket;
use crate::socket::report::{CollectorReport, WriterReport};
use crate::words::Words;
use clap::Args;
use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeMap;
use std::io::Write;
use std::process::ExitCode;

/// How the daemon is.
#[derive(Args)]
pub(crate) struct StatusArgs {
    #[command(flatten)]
    reader: Reader,
    /// Print one JSON object
    #[arg(long)]
    json: bool,
    /// Print OpenMetrics text about the daemon and the journal, for a machine that watches machines
    #[arg(long, conflicts_with_all = ["json", "language"])]
    metrics: bool,
}

pub(crate) fn run(here: &Everywhere, args: &StatusArgs) -> Outcome {
    let state = here.state()?;
    let report = socket::collector(&state).map_err(|e| {
        let denied = e.kind() == Some(std::io::ErrorKind::PermissionDenied);
        Failure::new(
            if denied { failure::NO_PERMISSION } else { failure::IO },
            format!(
                "the daemon at {} does not answer: {e}; name its directory with `--state`, or ask as the daemon's user",
                socket::path(&state).display()
            ),
        )
    })?;
    let mut out = std::io::stdout().lock();
    if args.metrics {
        let measured = Gauged::of(&Journal::read(&state)?, report, &here.config()?.clinic)?;
        out.write_all(open_metrics(&measured).as_bytes())?;
        return Ok(ExitCode::SUCCESS);
    }
    let Some(report) = report else {
        if args.json {
            writeln!(out, "{}", serde_json::json!({ "running": false }))?;
        }
        return Err(Failure::new(
            failure::UNAVAILABLE,
            format!(
                "no daemon runs on {}; start it with `quietcuff run`",
                state.display()
            ),
        ));
    };
    let ear = EarState::ask(&state);
    let journal = here.read_journal().ok();
    let stated = journal.as_ref().map(|journal| here.stated(journal)).transpose()?;
    let Beside {
        zones,
        listeners,
        coming,
        released,
    } = Beside::of(here, journal.as_ref().zip(stated.as_deref()))?;
    if args.json {
        json_line(
            &mut out,
            &Printed {
                report: &report,
                second_ear: ear.json(),
                listeners: listeners
                    .iter()
                    .map(|listener| ListenerLine::of(listener, &zones))
                    .collect(),
                releases: released.iter().flat_map(Standing::lines).collect(),
            },
        )?;
    } else {
        let words = here.words(&args.reader)?;
        let mut facts = facts(&report, &ear, &zones, words);
        let shut = !listeners.is_empty() && door_is_shut(&state);
        facts.extend(of_rooms((&listeners, &coming), shut, &zones, words));
        if let Some(released) = &released {
            facts.push((words.say("deliver-clinic"), released.clinic.clone()));
            facts.extend(released.said(true, words).into_iter().map(more));
        }
        let wide = widest(facts.iter().map(|(name, _)| name));
        for (name, said) in &facts {
            let first = format!("{}  ", padded(name, wide));
            paragraph_behind(&mut out, &first, &" ".repeat(wide + 2), said)?;
        }
    }
    Ok(ExitCode::SUCCESS)
}

/// What the journal says beside the daemon.
struct Beside<'a> {
    zones: Zones,
    listeners: Vec<Listener>,
    coming: BTreeMap<String, Vec<Comes>>,
    released: Option<Standing<'a>>,
}

impl<'a> Beside<'a> {
    /// A journal that cannot be read says nothing of the household's clock, of other rooms or of the clinic, and hides
    /// nothing of the daemon.
    fn of(here: &Everywhere, read: Option<(&Journal, &'a Stated)>) -> Result<Self, Failure> {
        let Some((journal, stated)) = read else {
            return Ok(Self {
                zones: Zones::only(jiff::tz::TimeZone::system()),
                listeners: Vec::new(),
                coming: BTreeMap::new(),
                released: None,
            });
        };
        Ok(Self {
            listeners: journal.listeners()?,
            coming: journal.coming_by(&stated.household)?,
            released: Standing::of(journal, &here.config()?.clinic, stated)?,
            zones: stated.zones.clone(),
        })
    }
}

/// As `--json` prints it.
#[derive(Serialize)]
struct Printed<'a> {
    #[serde(flatten)]
    report: &'a CollectorReport,
    second_ear: Value,
    listeners: Vec<ListenerLine<'a>>,
    /// What of whose may go to the clinic that the configuration names, and how much waits.
    releases: Vec<StandingLine<'a>>,
}

/// What is said, each with the name that stands before it; what says more of the same stands behind none. What a machine
/// says of its faults stays as it says it.
fn facts(report: &CollectorReport, ear: &EarState, zones: &Zones, words: &Words) -> Vec<(String, String)> {
    let mut facts = of_radio(&report.radio, words);
    facts.extend(of_journal(&report.journal, zones, words));
    facts.push((words.say("status-ear"), ear.said(words)));
    for (id, monitor) in &report.radio.monitors {
        facts.extend(of_monitor(id.as_str(), monitor, zones, words));
    }
    facts
}

/// What the machines in other rooms said when they were last heard, and the monitors that come by them.
fn of_rooms(
    (listeners, coming): (&[Listener], &BTreeMap<String, Vec<Comes>>),
    shut: bool,
    zones: &Zones,
    words: &Words,
) -> Vec<(String, String)> {
    let mut facts = Vec::new();
    for listener in listeners.iter().filter(|listener| listener.is_open()) {
        facts.extend(of_listener(listener, shut, zones, words));
        let comes = coming.get(&listener.id).map_or(&[][..], Vec::as_slice);
        facts.extend(of_batteries(comes, words));
    }
    facts
}

/// What a machine in another room said of itself when it was last heard.
fn of_listener(listener: &Listener, shut: bool, zones: &Zones, words: &Words) -> Vec<(String, String)> {
    let label = listener.label.as_str();
    let heard = match listener.last {
        Some(at) => {
            let moment = rows::moment(at, zones, words);
            words.with(
                "status-listener",
                &[("label", label.into()), ("moment", moment.into())],
            )
        }
        None => words.with("status-listener-never", &[("label", label.into())]),
    };
    let mut facts = vec![(listener.id.clone(), heard)];
    if let Some(frames) = listener.waiting.filter(|frames| *frames > 0) {
        let frames = i64::try_from(frames).unwrap_or(i64::MAX);
        facts.push(more(words.with("status-listener-waits", &[("n", frames.into())])));
    }
    facts.extend(
        listener
            .clock_unsure()
            .then(|| more(words.say("status-listener-clock"))),
    );
    facts.extend(listener.clock_told().map(|within| {
        let within = [("seconds", words.seconds(within).into())];
        more(words.with("status-listener-clock-told", &within))
    }));
    if let Some(ahead) = listener.clock_apart() {
        let way = if ahead < 0 { "behind" } else { "ahead" };
        let values = [("seconds", ahead.abs().into()), ("where", way.into())];
        facts.push(more(words.with("status-listener-clock-apart", &values)));
    }
    if let Some((at, theirs)) = &listener.refused {
        let values = [
            ("moment", rows::moment(*at, zones, words).into()),
            ("theirs", theirs.as_str().into()),
            ("ours", env!("CARGO_PKG_VERSION").into()),
        ];
        facts.push(more(words.with("status-listener-apart", &values)));
    }
    let version = listener.version.as_deref();
    let version =
        version.map(|version| words.with("status-listener-version", &[("version", version.into())]));
    let disk = listener.disk_free.map(|free| {
        let megabytes = i64::try_from(free / 1_000_000).unwrap_or(i64::MAX);
        words.with("status-listener-disk", &[("mb", megabytes.into())])
    });
    let machine: Vec<String> = version.into_iter().chain(disk).collect();
    facts.extend((!machine.is_empty()).then(|| more(machine.join(", "))));
    facts.extend(shut.then(|| more(words.say("status-door-shut"))));
    facts
}

/// What the monitors that come by a listener told last of their batteries.
fn of_batteries(comes: &[Comes], words: &Words) -> Vec<(String, String)> {
    let told = comes.iter().filter_map(|monitor| {
        let (level, _) = monitor.battery?;
        let values = [
            ("monitor", monitor.name.as_str().into()),
            ("level", i64::from(level).into()),
        ];
        Some(more(words.with("status-listener-battery", &values)))
    });
    told.collect()
}

fn more(said: String) -> (String, String) {
    (String::new(), said)
}

fn of_radio(radio: &CentralReport, words: &Words) -> Vec<(String, String)> {
    let adapter = radio.adapter.clone();
    let radio_is = radio.problem.clone();
    let mut facts = vec![
        (
            words.say("status-adapter"),
            adapter.unwrap_or_else(|| words.say("cell-none")),
        ),
        (
            words.say("status-radio"),
            radio_is.unwrap_or_else(|| words.say("status-listening")),
        ),
    ];
    let way = radio.bearer.as_deref().and_then(Way::named);
    if let (Some(way), Some(why)) = (way, &radio.bearer_because) {
        let values = [("way", way.name().into()), ("why", why.as_str().into())];
        facts.push(more(words.with("status-way", &values)));
    }
    facts
}

fn of_journal(journal: &WriterReport, zones: &Zones, words: &Words) -> Vec<(String, String)> {
    let frames = i64::try_from(journal.frames_kept).unwrap_or(i64::MAX);
    let frames = ("n", frames.into());
    let kept = match journal.last_frame {
        Some(at) => {
            let last = ("moment", rows::moment(at, zones, words).into());
            words.with("status-frames-last", &[frames, last])
        }
        None => words.with("status-frames", &[frames]),
    };
    let problem = journal.problem.clone().map(more);
    [(words.say("status-journal"), kept)]
        .into_iter()
        .chain(problem)
        .collect()
}

fn of_monitor(id: &str, monitor: &MonitorReport, zones: &Zones, words: &Words) -> Vec<(String, String)> {
    let address = ("address", monitor.address.to_string().into());
    let mut heard = match monitor.last_seen {
        Some(at) => {
            let moment = ("moment", rows::moment(at, zones, words).into());
            words.with("status-heard", &[address, moment])
        }
        None => words.with("status-not-heard", &[address]),
    };
    if let Some(way) = monitor.bearer.as_deref().and_then(Way::named) {
        heard += &words.with("status-linked", &[("way", way.name().into())]);
    }
    let mut facts = vec![(id.to_owned(), heard)];
    if let Some(why) = &monitor.not_direct {
        facts.push(more(
            words.with("status-not-direct", &[("why", why.as_str().into())]),
        ));
    }
    if let Some(users) = &monitor.users {
        if !users.given.is_empty() {
            let given: Vec<String> = users.given.iter().map(u8::to_string).collect();
            let values = [("users", given.join(", ").into()), ("n", n(given.len()))];
            facts.push(more(words.with("status-users", &values)));
        }
        facts.extend(
            users
                .problem(id)
                .map(|(found, todo)| more(format!("{found}; {todo}"))),
        );
    }
    facts.extend(monitor.problem.clone().map(more));
    facts
}
