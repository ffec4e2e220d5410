//! What keeps readings from arriving, from being dated, or from going on to the clinic, as the household is told.
//!
//! A silent program proves nothing, so whoever shows readings shows this beside them. It is no alert: a page that
//! nobody looks at tells nobody.

use crate::household::{MonitorId, Zones};
use crate::words::{Words, one_line};
use jiff::{SignedDuration, Timestamp};

/// Visits that a habit is made of (own choice): two weeks of mornings and evenings.
pub const VISITS: usize = 28;
/// A habit takes so long to show (own choice).
const HABIT_TAKES: SignedDuration = SignedDuration::from_hours(5 * 24);
/// So much longer than its longest pause a monitor may be silent (own choice): half a day, a session that was left out.
const LONGER: SignedDuration = SignedDuration::from_hours(12);
/// A monitor that is silent for longer is out of use, and said to be silent no more (own choice).
const OUT_OF_USE: SignedDuration = SignedDuration::from_hours(30 * 24);

/// What is in the way.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Obstacle {
    /// The collector does not run.
    NotRunning,
    /// The collector does not answer.
    NoAnswer,
    /// The machine's Bluetooth service is not there.
    NoBluetooth,
    /// The machine has no Bluetooth adapter.
    NoAdapter,
    /// The Bluetooth adapter is switched off.
    Off,
    /// The radio does not listen, for this reason.
    Radio(String),
    /// What is heard cannot be kept, for this reason.
    Disk(String),
    /// The machine's clock is not known to be right.
    Clock,
    /// A monitor has not been heard for longer than is its habit.
    Silent(MonitorId),
    /// A machine in another room, which is called this, is not heard.
    Room(String),
    /// A machine in another room, which is called this, calls and runs a version that is not understood here.
    RoomApart(String),
    /// The program that takes in what other rooms hear does not run.
    DoorShut,
    /// The clinic's server gets nothing, for this reason.
    Delivery(String),
    /// Something is due to the clinic's server, and the program that delivers does not run.
    NotDelivering,
}

/// Something that is in the way, and since when.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct ListeningTrouble {
    /// What is in the way.
    pub what: Obstacle,
    /// Since when, as far as anybody looked; `None` where nobody knows.
    pub since: Option<Timestamp>,
}

impl Obstacle {
    /// The name that the catalogues and listings have for it.
    pub const fn name(&self) -> &'static str {
        match self {
            Self::NotRunning => "not-running",
            Self::NoAnswer => "no-answer",
            Self::NoBluetooth => "no-bluetooth",
            Self::NoAdapter => "no-adapter",
            Self::Off => "off",
            Self::Radio(_) => "radio",
            Self::Disk(_) => "disk",
            Self::Clock => "clock",
            Self::Silent(_) => "silent",
            Self::Room(_) => "listener-silent",
            Self::RoomApart(_) => "listener-apart",
            Self::DoorShut => "door-shut",
            Self::Delivery(_) => "delivery",
            Self::NotDelivering => "not-delivering",
        }
    }

    /// What else is known: the reason, or the monitor.
    pub fn detail(&self) -> &str {
        match self {
            Self::Radio(why)
            | Self::Disk(why)
            | Self::Delivery(why)
            | Self::Room(why)
            | Self::RoomApart(why) => why,
            Self::Silent(monitor) => monitor.as_str(),
            Self::NotRunning
            | Self::NoAnswer
            | Self::NoBluetooth
            | Self::NoAdapter
            | Self::Off
            | Self::Clock
            | Self::DoorShut
            | Self::NotDelivering => "",
        }
    }

    /// A sentence for the sheet and for listings, without its time.
    pub fn in_words(&self) -> String {
        let arrives = "readings do not arrive";
        match self {
            Self::NotRunning => format!("{arrives}: the program that listens does not run"),
            Self::NoAnswer => format!("{arrives}: the program that listens does not answer"),
            Self::NoBluetooth => format!("{arrives}: the Bluetooth service does not run"),
            Self::NoAdapter => format!("{arrives}: there is no Bluetooth adapter"),
            Self::Off => format!("{arrives}: the Bluetooth adapter is off"),
            Self::Radio(why) => format!("{arrives}: {why}"),
            Self::Disk(why) => format!("readings are not kept: {why}"),
            Self::Clock => "the clock of the gateway is not known to be right".to_owned(),
            Self::Silent(monitor) => {
                format!("the monitor {monitor} has not been heard for longer than is its habit")
            }
            Self::Room(name) => {
                format!("the listener {name} is not heard: readings from its room do not arrive")
            }
            Self::RoomApart(name) => format!(
                "the listener {name} runs a version that this machine does not understand: readings from its room do not \
                 arrive"
            ),
            Self::DoorShut => {
                "readings from other rooms do not arrive: the program that takes them in does not run"
                    .to_owned()
            }
            Self::Delivery(why) => format!("readings do not reach the clinic's server: {why}"),
            Self::NotDelivering => {
                "readings wait to go to the clinic's server: the program that delivers does not run"
                    .to_owned()
            }
        }
    }
}

/// What is in the way, as the household is told, with since when.
pub fn said(trouble: &ListeningTrouble, zones: &Zones, words: &Words) -> String {
    let what = words.with(
        &format!("listening-{}", trouble.what.name()),
        &[("detail", one_line(trouble.what.detail()).into())],
    );
    let since = match trouble.since {
        Some(since) => {
            let moment = words.moment(zones.civil(since));
            words.with("listening-since", &[("moment", moment.into())])
        }
        None => words.say("listening-since-unknown"),
    };
    format!("{what} {since}")
}

/// Whether a monitor is silent for longer than is its habit: longer than any of its last pauses, by half a day.
/// `visits` are the ends of its last connections, the newest first.
pub fn is_silent(visits: &[Timestamp], now: Timestamp) -> bool {
    let (Some(newest), Some(oldest)) = (visits.first(), visits.last()) else {
        return false;
    };
    let pauses = visits.windows(2).filter_map(|pair| match pair {
        [later, earlier] => Some(later.duration_since(*earlier)),
        _ => None,
    });
    let silence = now.duration_since(*newest);
    newest.duration_since(*oldest) >= HABIT_TAKES
        && silence <= OUT_OF_USE
        && pauses.max().is_some_and(|longest| silence > longest + LONGER)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Twice a day for a week, then nothing; the longest pause is the 14 hours from the morning to the evening before.
    #[test]
    fn a_silence_is_held_against_the_longest_pause() {
        let at = |hours: i64| Timestamp::UNIX_EPOCH + SignedDuration::from_hours(hours);
        let visits: Vec<Timestamp> = (0..7)
            .flat_map(|day| [at(day * 24 + 7), at(day * 24 + 17)])
            .rev()
            .collect();
        let last = 6 * 24 + 17;
        assert!(!is_silent(&visits, at(last + 26)));
        assert!(is_silent(&visits, at(last + 27)));
        assert!(is_silent(&visits, at(last + 30 * 24)));
        assert!(!is_silent(&visits, at(last + 30 * 24 + 1)));
        // Five days are a habit, and four are none.
        assert!(is_silent(&visits[..11], at(last + 27)));
        assert!(!is_silent(&visits[..9], at(last + 27)));
        assert!(!is_silent(&[], at(0)));
    }
}
