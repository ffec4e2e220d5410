//! `quietcuff demo --serve`: the page on a household whose session is due, and that session as it happens. The readings
//! come as a collector's would; who asks at its socket hears that it listens.

use super::super::serve::{self, ServeArgs};
use super::life::{LATEST, Life, begun};
use crate::cli::failure::{CANNOT_CREATE, Failure, Outcome, internal};
use crate::cli::keys;
use crate::cli::place::Everywhere;
use crate::frame::Frame;
use crate::household::PersonId;
use crate::journal::{Journal, JournalError};
use crate::radio::report::CentralReport;
use crate::radio::simulated::{Habits, Reception};
use crate::socket;
use crate::socket::report::{CollectorReport, ProcessReport, WriterReport};
use crate::socket::speech::{Answer, Request};
use crate::whole::reason;
use jiff::civil::Time;
use jiff::{SignedDuration, Timestamp};
use std::net::{IpAddr, SocketAddr, UdpSocket};
use std::path::Path;
use std::thread;

/// The rest before the first reading, which is most of the wait.
const REST_S: i64 = 5 * 60;
/// Whose session is played.
const WHO: &str = "p1";
/// The connections of the session are others than those before it.
const CONNECTIONS_FROM: u32 = 1_000_000;
/// A session takes less.
const SESSION_MAX: SignedDuration = SignedDuration::from_mins(30);
/// The page of an invented household may be sent to a telephone in the clear.
const CONFIGURATION: &str = "[page]\nplain-http-to-others = true\n";

/// Which household, where its page listens, and how many times shorter the rest is.
pub(super) struct Played {
    pub(super) seed: u64,
    pub(super) days: u16,
    pub(super) listen: SocketAddr,
    pub(super) faster: u16,
}

pub(super) fn run(here: &Everywhere, args: &Played, state: &Path, now: Timestamp) -> Outcome {
    let begins = now + SignedDuration::from_secs(REST_S / i64::from(args.faster));
    let mut journal = Journal::open(state)?;
    let past = past(now, begins, args)?;
    let lived = past.live(args.seed, args.days);
    journal.state(begun(&lived), &past.statements)?;
    journal.append(&lived.frames)?;
    journal.settle()?;
    drop(journal);
    let session = session(now, begins, args)?;

    // Not what this machine's own household has configured.
    let config = state.join("quietcuff.toml");
    std::fs::write(&config, CONFIGURATION).map_err(|error| {
        Failure::new(
            CANNOT_CREATE,
            format!("cannot write {}: {}", config.display(), reason(&error)),
        )
    })?;
    let here = Everywhere {
        state: Some(state.to_owned()),
        config: Some(config),
        ..here.clone()
    };
    let with_page = ServeArgs {
        listen: Some(args.listen),
        open: true,
    };
    answer_as_a_collector(state)?;
    let served = serve::stay(&here, &with_page, |address| {
        say(state, address, args.faster);
        let state = state.to_owned();
        thread::spawn(move || {
            if let Err(error) = play(&state, &session) {
                eprintln!("quietcuff: the demonstration stops: {error}");
            }
        });
    });
    let _ = std::fs::remove_file(socket::path(state));
    served
}

/// The household until the hours in which the session is due, in which nobody has measured yet.
fn past(now: Timestamp, begins: Timestamp, args: &Played) -> Result<Life, Failure> {
    Ok(Life::around((now, begins), LATEST, args.days)?.come_to_the_hours_of(now))
}

/// The frames of one faultless session that begins then, in order.
fn session(due: Timestamp, begins: Timestamp, args: &Played) -> Result<Vec<Frame>, Failure> {
    let mut life = Life::around((due, begins), Time::MAX, 1)?;
    let who: PersonId = WHO.parse().map_err(internal)?;
    for shared in &mut life.simulated.shared {
        shared.reception = Reception::default();
        shared.people.retain(|person| person.id == who);
        for person in &mut shared.people {
            person.habits = Habits {
                give_or_take: 0.0,
                morning: person.habits.morning,
                evening: person.habits.evening,
                ..Habits::faultless()
            };
        }
    }
    let from = begins - SignedDuration::from_mins(1);
    let frames = life.live(args.seed, 1).frames.into_iter();
    Ok(frames
        .filter(|frame| (from..from + SESSION_MAX).contains(&frame.received_at))
        .map(|mut frame| {
            frame.connection += CONNECTIONS_FROM;
            frame
        })
        .collect())
}

/// Puts each connection into the journal when its time has come.
fn play(state: &Path, frames: &[Frame]) -> Result<(), JournalError> {
    let mut journal = Journal::open_existing(state)?;
    for connection in frames.chunk_by(|a, b| a.connection == b.connection) {
        let Some(last) = connection.last() else { continue };
        let wait = last.received_at.duration_since(Timestamp::now());
        thread::sleep(wait.try_into().unwrap_or_default());
        journal.append(connection)?;
        journal.settle()?;
        eprintln!("The invented monitor has sent a reading.");
    }
    eprintln!(
        "The session is over. Stop with Ctrl-C; everything invented stays in {}.",
        state.display()
    );
    Ok(())
}

/// Whoever asks whether anybody listens is answered as by a collector whose radio is there.
fn answer_as_a_collector(state: &Path) -> Result<(), Failure> {
    let report = CollectorReport {
        running: true,
        version: env!("CARGO_PKG_VERSION").to_owned(),
        radio: CentralReport {
            bluez: true,
            adapter: Some("invented".to_owned()),
            powered: true,
            ..CentralReport::default()
        },
        journal: WriterReport::default(),
        clock_synchronized: Some(true),
        process: ProcessReport::default(),
    };
    let path = socket::path(state);
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(internal)?;
    let listener = {
        let _inside = runtime.enter();
        socket::bind(&path).map_err(internal)?
    };
    thread::spawn(move || {
        runtime.block_on(socket::serve(listener, move |request| {
            let report = Box::new(report.clone());
            async move {
                match request {
                    Request::Status => Answer::Collector { report },
                    _ => Answer::Refused {
                        error: "this is a demonstration without a radio".to_owned(),
                    },
                }
            }
        }));
    });
    Ok(())
}

fn say(state: &Path, address: SocketAddr, faster: u16) {
    let rest = match REST_S / i64::from(faster) {
        seconds if seconds >= 120 => format!("{} minutes", seconds / 60),
        seconds => format!("{seconds} seconds"),
    };
    eprintln!(
        "Everything there is invented. A session of Invented person A is due: the first reading comes in {rest}, the second \
         a minute later."
    );
    if address.ip().is_loopback() {
        return;
    }
    if let Ok(path) = keys::new_link(state) {
        let shown = match address.ip() {
            ip if ip.is_unspecified() => own_address().unwrap_or(ip),
            ip => ip,
        };
        let at = SocketAddr::new(shown, address.port());
        eprintln!(
            "On a telephone in the same network, once, within {} minutes: http://{at}{path}",
            keys::LINK_MINUTES
        );
    }
}

/// The address of this machine in its network. Nothing is sent to ask for it (192.0.2.1 is of RFC 5737, for
/// documentation).
fn own_address() -> Option<IpAddr> {
    let socket = UdpSocket::bind("0.0.0.0:0").ok()?;
    socket.connect("192.0.2.1:9").ok()?;
    Some(socket.local_addr().ok()?.ip())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::household::Statement;
    use jiff::ToSpan;
    use jiff::civil::date;

    /// Whoever tries it at whatever time of the day: the session is due, has not been measured yet, and is played.
    #[test]
    fn at_every_time_of_the_day_a_session_is_due() {
        for (faster, minutes) in [(1, (0..24 * 60).step_by(7)), (60, (3..24 * 60).step_by(11))] {
            let args = Played {
                seed: 72,
                days: 3,
                listen: "127.0.0.1:0".parse().unwrap(),
                faster,
            };
            for minute in minutes {
                let zone = crate::household::time_zone(&crate::edge::system_zone()).unwrap();
                let now = date(2026, 1, 20).at(0, 0, 0, 0) + i64::from(minute).minutes();
                let now = zone.to_timestamp(now).unwrap();
                let begins = now + SignedDuration::from_secs(REST_S / i64::from(faster));
                let past = past(now, begins, &args).unwrap();
                let (at, starts) = (zone.to_datetime(now), zone.to_datetime(begins));
                let hours = past.statements.iter().find_map(|stated| match stated {
                    Statement::Person { details, .. } => details.morning.or(details.evening),
                    _ => None,
                });
                let hours = hours.unwrap();
                let within =
                    |time: Time| hours.from <= time && time <= hours.to.with().second(59).build().unwrap();
                // In the last minutes before midnight it is due from midnight on.
                let over_midnight = at.date() != starts.date();
                assert!(over_midnight || within(at.time()), "{at}: {hours:?}");
                assert!(within(starts.time()), "{starts}: {hours:?}");

                let lived = past.live(args.seed, args.days);
                assert!(begun(&lived) < now, "{at}: there is a past");
                for truth in &lived.truth {
                    let end = zone.to_datetime(truth.end);
                    assert!(truth.end <= now, "{at}: {end}");
                    let today = end.date() == at.date() && within(end.time());
                    assert!(over_midnight || !today, "{at}: measured at {end}");
                }
                let frames = session(now, begins, &args).unwrap();
                let measured = frames
                    .iter()
                    .filter(|frame| {
                        frame.characteristic == crate::gatt::Characteristic::BLOOD_PRESSURE_MEASUREMENT
                    })
                    .count();
                assert!(measured >= 2, "{at}: {measured} readings are played");
            }
        }
    }
}
