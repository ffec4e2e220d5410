//! From decoded measurements to readings: when each was taken, and whose it is.
//!
//! `clock` settles the time, `owner` the person. `repeats` tells a record that was sent again from a second
//! measurement, `echoes` finds an indication that was heard twice, and `gateway` mends receipts of a gateway
//! that booted without its own time. `connection` puts them together. All are pure: frames, statements and
//! the gateway's clock samples go in, readings come out.
//!
//! The unit of work is one connection of one monitor. What it needs of the past is a small value, [`Past`],
//! so that a new connection costs the same after ten years as on the first day; and because nothing looks
//! ahead, the result is the same in whichever order frames arrived: an older connection that turns up late is
//! settled at its place, and those after it again.

pub mod clock;
mod connection;
mod echoes;
mod gateway;
pub mod owner;
mod pressure;
mod received;
pub mod repeats;

pub use connection::{Connection, Past, Settled, UnreadableMeasurement, connections, readings};
pub use echoes::ECHO_WINDOW;
pub use gateway::{ClockSample, GatewayClock, RECEIPT_ERROR_MAX, whole_ms};
pub use pressure::{PRESSURE_MMHG_MAX, Pressure, pressures};
pub use received::{CONNECTION_SILENCE_MAX, Received};

use crate::gatt::{MeasurementStatus, Sfloat, Unit};
use crate::household::{MonitorId, PersonId};
use jiff::Timestamp;

/// A measurement with its time and its person settled, as far as they can be.
///
/// ```
/// use jiff::tz::{Offset, TimeZone};
/// use quietcuff::frame::Frame;
/// use quietcuff::gatt::Characteristic;
/// use quietcuff::household::{Household, Zones};
/// use quietcuff::reading::{GatewayClock, readings};
///
/// # let frame = Frame {
/// #     received_at: "2026-03-01T07:02:11Z".parse()?,
/// #     offset: Offset::UTC,
/// #     uptime: None,
/// #     given_to: Some("asha".parse()?),
/// #     overheard: false,
/// #     monitor: "C0:FF:EE:00:00:01".parse()?,
/// #     connection: 1,
/// #     characteristic: Characteristic::BLOOD_PRESSURE_MEASUREMENT,
/// #     value: vec![0x04, 128, 0, 82, 0, 0xff, 0x07, 71, 0],
/// # };
/// // The frame holds 128/82 without a time stamp, so the time is that of its receipt.
/// let zones = Zones::only(TimeZone::UTC);
/// let readings = readings(&[frame.clone()], &Household::default(), &zones, &GatewayClock::default());
/// assert_eq!(readings.len(), 1);
/// assert_eq!(readings[0].systolic.to_string(), "128");
/// assert_eq!(readings[0].time.at, Some(frame.received_at));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, PartialEq, Debug)]
pub struct Reading {
    /// The name of the reading for ever: made from what the monitor sent, so that it is the same on every
    /// gateway.
    pub id: ReadingId,
    /// The monitor that sent the measurement.
    pub monitor: MonitorId,
    /// The moment at which the gateway first heard the measurement, by the gateway's mended clock.
    pub received_at: Timestamp,
    /// The time at which the measurement was taken.
    pub time: MeasuredTime,
    /// The person whose reading this is; `None` where nobody knows.
    pub person: Option<PersonId>,
    /// The unit of the three pressures.
    pub unit: Unit,
    /// The systolic pressure as measured, in `unit`.
    pub systolic: Sfloat,
    /// The diastolic pressure as measured, in `unit`.
    pub diastolic: Sfloat,
    /// The mean arterial pressure as measured, in `unit`; a special code where the monitor gives none.
    pub mean_arterial_pressure: Sfloat,
    /// The pulse rate in beats per minute; `None` where the monitor sent none.
    pub pulse_rate: Option<Sfloat>,
    /// The monitor's index of the person, 255 for "unknown user"; `None` where the monitor sent none.
    pub user_id: Option<u8>,
    /// What the monitor saw of the technique; `None` where the monitor sent no status.
    pub status: Option<MeasurementStatus>,
    /// The monitor's Blood Pressure Feature bits, which say which status bits mean something; `None` where
    /// they were not read.
    pub feature: Option<u16>,
    /// A person's own reason for not averaging the reading; `None` where nobody gave one.
    pub discarded: Option<String>,
}

/// The name of a reading: sixteen hexadecimal digits.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct ReadingId(pub String);

/// The time at which a reading was taken, and how that time is known.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct MeasuredTime {
    /// The moment; `None` where it is unknown.
    pub at: Option<Timestamp>,
    /// How the moment is known.
    pub source: TimeSource,
    /// How fine the stamp is.
    pub precision: Precision,
    /// The monitor's own stamp; `None` where the monitor sent none, or an impossible one.
    pub stamp: Option<jiff::civil::DateTime>,
    /// The seconds that were added to the stamp, read as the household's wall clock, to get the moment; 0
    /// where nothing was.
    pub correction_s: i64,
}

/// How a reading's time is known.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum TimeSource {
    /// The stamp, held against the monitor's own clock: read on the connection, or seen to agree with the
    /// receipt of a live reading.
    MonitorClock,
    /// The stamp, shifted by the last offset known of this monitor's clock, which may have been set since or
    /// before; or a stamp received by a gateway that was not known to have the right time.
    KnownOffset,
    /// The stamp, taken for the household's wall clock because nothing better is known of this monitor.
    WallClock,
    /// The receipt of a single live reading.
    Receipt,
    /// A moment that a person stated.
    Stated,
    /// No moment: the time is unknown, and a person is asked.
    Unknown,
}

impl TimeSource {
    /// All sources, in the order in which they are listed above.
    pub const ALL: [Self; 6] = [
        Self::MonitorClock,
        Self::KnownOffset,
        Self::WallClock,
        Self::Receipt,
        Self::Stated,
        Self::Unknown,
    ];

    /// The name that the JSON output prints.
    pub const fn name(self) -> &'static str {
        match self {
            Self::MonitorClock => "monitor-clock",
            Self::KnownOffset => "known-offset",
            Self::WallClock => "wall-clock",
            Self::Receipt => "receipt",
            Self::Stated => "stated",
            Self::Unknown => "unknown",
        }
    }
}

/// How fine a stamp is. A monitor whose stamps all had seconds 0 so far stamps whole minutes, as far as can
/// be told.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[expect(missing_docs, reason = "the names say it")]
pub enum Precision {
    Second,
    Minute,
}

impl Precision {
    /// The name that the JSON output prints.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Second => "second",
            Self::Minute => "minute",
        }
    }
}
