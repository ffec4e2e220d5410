//! When and whose: from decoded measurements to readings.
//!
//! `clock` settles the time, `owner` the person, `repeats` tells a record that was sent again from a second
//! measurement, `echoes` an indication that was heard twice, `gateway` mends receipts of a gateway that booted without
//! its own time; `connection` puts them together. All are pure: frames, statements and the gateway's clock samples in, readings out.
//!
//! The unit of work is one connection of one monitor. What it needs of the past is a small value, [`Past`], so that a
//! new connection costs the same after ten years as on the first day; and because nothing looks ahead, the result is
//! the same in whichever order frames arrived: an older connection that turns up late is settled at its place, and
//! those after it again.

pub mod clock;
mod connection;
mod echoes;
mod gateway;
pub mod owner;
mod pressure;
mod received;
pub mod repeats;

pub use connection::{Connection, Past, Refused, Settled, connections, readings};
pub use echoes::ECHO_WINDOW;
pub use gateway::{ClockSample, GatewayClock, RECEIPT_ERROR_MAX};
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
    /// Names the reading for ever: made from what the monitor sent, so that it is the same on every gateway.
    pub id: ReadingId,
    /// Which monitor.
    pub monitor: MonitorId,
    /// When the gateway first heard it, by its mended clock.
    pub received_at: Timestamp,
    /// When it was taken.
    pub time: MeasuredTime,
    /// Whose it is, if anybody knows.
    pub person: Option<PersonId>,
    /// Unit of the pressures.
    pub unit: Unit,
    /// Systolic pressure as measured.
    pub systolic: Sfloat,
    /// Diastolic pressure as measured.
    pub diastolic: Sfloat,
    /// Mean arterial pressure as measured; special where the monitor gives none.
    pub mean_arterial_pressure: Sfloat,
    /// Beats per minute.
    pub pulse_rate: Option<Sfloat>,
    /// The monitor's index of the person.
    pub user_id: Option<u8>,
    /// What the monitor saw of the technique.
    pub status: Option<MeasurementStatus>,
    /// The monitor's Blood Pressure Feature bits, where they were read: they say which status bits mean something.
    pub feature: Option<u16>,
    /// A person's own reason for not averaging it.
    pub discarded: Option<String>,
}

/// Sixteen hexadecimal digits.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct ReadingId(pub String);

/// When a reading was taken and how that is known.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct MeasuredTime {
    /// The moment, unless it is unknown.
    pub at: Option<Timestamp>,
    /// How it is known.
    pub source: TimeSource,
    /// How fine the stamp is.
    pub precision: Precision,
    /// The monitor's own stamp, where it sent a possible one.
    pub stamp: Option<jiff::civil::DateTime>,
    /// What was added to the stamp, read as the household's wall clock, to get the moment; 0 where nothing was.
    pub correction_s: i64,
}

/// How a reading's time is known.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum TimeSource {
    /// The stamp, held against the monitor's own clock: read on the connection, or seen to agree with the receipt of
    /// a live reading.
    MonitorClock,
    /// The stamp, shifted by the last offset known of this monitor's clock, which may have been set since or before; or
    /// received by a gateway that was not known to have the right time.
    KnownOffset,
    /// The stamp, taken for the household's wall clock because nothing better is known of this monitor.
    WallClock,
    /// The receipt of a single live reading.
    Receipt,
    /// A person said so.
    Stated,
    /// Unknown; a person is asked.
    Unknown,
}

impl TimeSource {
    /// Every one.
    pub const ALL: [Self; 6] = [
        Self::MonitorClock,
        Self::KnownOffset,
        Self::WallClock,
        Self::Receipt,
        Self::Stated,
        Self::Unknown,
    ];

    /// As contracts print it.
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

/// How fine a stamp is. A monitor whose stamps all had seconds 0 so far stamps whole minutes, as far as can be told.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[expect(missing_docs, reason = "the names say it")]
pub enum Precision {
    Second,
    Minute,
}

impl Precision {
    /// As contracts print it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Second => "second",
            Self::Minute => "minute",
        }
    }
}
