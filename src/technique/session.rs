//! Sessions: the readings of one sitting, judged.

use super::judgement::Judgement;
use super::reasons::Reason;
use crate::household::PersonId;
use crate::reading::{Reading, ReadingId};
use crate::sitting::{SITTING_GAP, Slot, Span, Windows};
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

/// The id of a session: the person's id, a hyphen and the id of the first reading.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct SessionId(pub String);

/// The readings of one sitting, judged.
///
/// ```
/// use jiff::tz::{Offset, TimeZone};
/// use quietcuff::frame::Frame;
/// use quietcuff::gatt::Characteristic;
/// use quietcuff::household::{Household, Zones};
/// use quietcuff::reading::{GatewayClock, readings};
/// use quietcuff::sitting::SessionRule;
/// use quietcuff::technique::{Context, judge, session::SessionState};
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
/// # let mut household = Household::default();
/// # household.people.insert("asha".parse()?, Default::default());
/// # let zone = TimeZone::UTC;
/// # let zones = Zones::only(zone.clone());
/// # let readings = readings(&[frame], &household, &zones, &GatewayClock::default());
/// // One reading of Asha, at two minutes past seven; the usual rule wants two.
/// let context = Context { household: &household, notes: &[], zone: &zone, rule: SessionRule::default() };
/// let session = judge(&readings, &context).session.expect("its person and its time are known");
/// assert_eq!((session.counted, session.wanted), (1, 2));
/// assert_eq!(session.state(Some(session.end)), SessionState::Open);
/// assert_eq!(session.state(None), SessionState::Short);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Session {
    /// The id of the session.
    pub id: SessionId,
    /// The person whose session this is.
    pub person: PersonId,
    /// The moment at which the first reading was taken.
    pub start: Timestamp,
    /// The moment at which the last reading was taken.
    pub end: Timestamp,
    /// The measuring day, by the household's clock: the day on which the window of the session opened; of a
    /// session outside the windows, the date of its first reading.
    pub date: Date,
    /// The part of the day: that of the first averaged reading that falls in any, so that a reading a minute
    /// before the window does not take the session out of it.
    pub slot: Slot,
    /// The ids of all readings of the session, in order.
    pub readings: Vec<ReadingId>,
    /// The number of readings that are averaged.
    pub counted: usize,
    /// The number of averaged readings that the session needs.
    pub wanted: usize,
    /// Whether the first two averaged readings differ so much that a third one is asked for.
    pub apart: bool,
    /// Whether the monitor reported an irregular pulse in an averaged reading.
    pub irregular_pulse: bool,
}

/// How far a session has come towards the readings that it needs.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum SessionState {
    /// Readings are missing, and may still come.
    Open,
    /// As many readings are averaged as the session needs.
    Done,
    /// The session ended with fewer averaged readings than it needs.
    Short,
    /// The session ended without an averaged reading.
    Empty,
}

impl SessionState {
    /// The name that the JSON output prints.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Open => "open",
            Self::Done => "done",
            Self::Short => "short",
            Self::Empty => "empty",
        }
    }
}

impl Session {
    /// The session of a judged sitting; `None` where the person or the time is unknown.
    pub(crate) fn of(
        sitting: &[Reading],
        judgements: &[Judgement],
        (wanted, apart): (usize, bool),
        windows: &Windows,
        zone: &TimeZone,
    ) -> Option<Self> {
        let first = sitting.first()?;
        let person = first.person.clone()?;
        let Span { start, end } = Span::of(sitting)?;
        let averaged = || {
            sitting
                .iter()
                .zip(judgements)
                .filter(|(_, judgement)| judgement.is_of_session())
        };
        let window_of =
            |reading: &Reading| windows.opened(zone.to_datetime(reading.time.at.unwrap_or(start)));
        let counted = averaged().count();
        let window = if counted == 0 {
            sitting.iter().find_map(window_of)
        } else {
            averaged().find_map(|(reading, _)| window_of(reading))
        };
        Some(Self {
            id: SessionId([person.as_str(), "-", &first.id.0].concat()),
            person,
            start,
            end,
            date: window.map_or_else(|| zone.to_datetime(start).date(), |(_, opened)| opened.date()),
            slot: window.map_or(Slot::Other, |(slot, _)| slot),
            readings: sitting.iter().map(|reading| reading.id.clone()).collect(),
            counted,
            wanted,
            apart,
            irregular_pulse: averaged()
                .any(|(_, judgement)| judgement.reasons.contains(Reason::IrregularPulse)),
        })
    }

    /// How far the session has come at the moment `now`; without a moment, how far it has come once no more
    /// readings can join it.
    pub fn state(&self, now: Option<Timestamp>) -> SessionState {
        if self.counted >= self.wanted {
            SessionState::Done
        } else if now.is_some_and(|now| now.duration_since(self.end) <= SITTING_GAP) {
            SessionState::Open
        } else if self.counted == 0 {
            SessionState::Empty
        } else {
            SessionState::Short
        }
    }
}
