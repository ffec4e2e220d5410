//! Readings to test with, all invented, and a random source that gives the same numbers everywhere.

use jiff::ToSpan;
use jiff::civil::{Date, date};
use quietcuff::gatt::Unit;
use quietcuff::household::{Person, PersonId, Posed};
use quietcuff::monitoring::period::{Period, period};
use quietcuff::monitoring::protocol::Protocol;
use quietcuff::monitoring::protocols::Protocols;
use quietcuff::monitoring::taken::{Taken, Values};
use quietcuff::reading::Pressure;
use quietcuff::sitting::Slot;
use quietcuff::technique::Disposition;
use std::sync::LazyLock;

pub(crate) const FIRST: Date = date(2026, 3, 1);

/// A counted reading on day `day` (0 is the first), `nth` of its session, in tenths of a millimetre.
pub(crate) fn taken(day: i64, slot: Slot, nth: i64, systolic: i64, diastolic: i64) -> Taken {
    let hour = match slot {
        Slot::Morning => 7,
        Slot::Other => 13,
        Slot::Evening => 20,
    };
    let at = FIRST.at(hour, 0, 0, 0).in_tz("UTC").unwrap().timestamp() + (day * 24).hours() + nth.minutes();
    Taken {
        day: FIRST.checked_add(day.days()).unwrap(),
        slot,
        session: Some((day * 4) as u64 + slot as u64),
        at,
        values: Some(Values {
            systolic: Pressure::from_decimal(systolic, -1, Unit::MmHg).unwrap(),
            diastolic: Pressure::from_decimal(diastolic, -1, Unit::MmHg).unwrap(),
            pulse_rate: Some(70.0),
        }),
        disposition: Disposition::Counted,
        reasons: Vec::new(),
        irregular_pulse: false,
        arm: None,
        posed: Posed::Seated,
    }
}

/// Two readings each morning and evening of so many days, all alike.
pub(crate) fn full(days: i64, systolic: i64, diastolic: i64) -> Vec<Taken> {
    let slots = [Slot::Morning, Slot::Evening];
    (0..days)
        .flat_map(|day| slots.iter().map(move |slot| (day, *slot)))
        .flat_map(|(day, slot)| (0..2).map(move |nth| taken(day, slot, nth, systolic * 10, diastolic * 10)))
        .collect()
}

pub(crate) fn set_aside(mut taken: Taken, reason: &'static str) -> Taken {
    taken.disposition = Disposition::SetAside;
    taken.reasons = vec![reason];
    taken
}

pub(crate) fn protocol(name: &str) -> Protocol {
    static BUILT_IN: LazyLock<Protocols> = LazyLock::new(|| Protocols::built_in().unwrap());
    BUILT_IN.get(name).unwrap().clone()
}

pub(crate) fn of(protocol: &Protocol, days: Option<u16>, readings: &[Taken]) -> Period {
    of_person(&Person::default(), protocol, days, readings)
}

pub(crate) fn of_person(
    person: &Person,
    protocol: &Protocol,
    days: Option<u16>,
    readings: &[Taken],
) -> Period {
    let id: PersonId = "p1".parse().unwrap();
    period(&id, person, protocol, FIRST, days, readings).unwrap()
}

/// SplitMix64 (Steele, Lea and Flood 2014), with Box and Muller's normal deviates: seeded, so that every run and
/// every build sees the same people.
pub(crate) struct Chances(pub(crate) u64);

impl Chances {
    pub(crate) fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// From 0 up to 1.
    pub(crate) fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1u64 << 53) as f64
    }

    pub(crate) fn below(&mut self, most: u64) -> u64 {
        self.bits() % most
    }

    pub(crate) fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.unit()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.unit()).cos()
    }

    pub(crate) fn shuffle<T>(&mut self, items: &mut [T]) {
        for place in (1..items.len()).rev() {
            items.swap(place, self.below(place as u64 + 1) as usize);
        }
    }
}
