//! The whole core against the simulated household: what it concludes from the frames, held against what happened.

use jiff::civil::{Date, date};
use jiff::tz::TimeZone;
use proptest::prelude::*;
use quietcuff::gatt::Unit;
use quietcuff::household::{self, Zones};
use quietcuff::monitoring::protocols::Protocols;
use quietcuff::radio::simulated::{
    Fault, Habits, Household, Make, Memory, Pressure, Reception, RecordNumber, Truth,
};
use quietcuff::reading::clock::CLOCK_NOISE_S;
use quietcuff::reading::{GatewayClock, Reading, readings};
use quietcuff::sitting::{order, sittings};
use quietcuff::technique::{Context, judge};

/// How far the settled time of a reading may be from the truth, in seconds: the stamp and the clock that was read are
/// cut off to the second, and a clock may be off by its noise without being corrected.
#[expect(clippy::cast_precision_loss, reason = "a small number")]
const CLOCK_S: f64 = 2.0 + CLOCK_NOISE_S as f64;

/// Every measurement that was heard, with the reading that the core made of it and whether it is averaged.
fn conclude(simulated: Household, seed: u64, days: u16) -> (Vec<Truth>, Vec<(Reading, bool)>) {
    let zone = simulated.zone.clone();
    let household = household::Household::after(&simulated.statements("seven-day"));
    let lived = simulated.live(seed, days);
    let protocols = Protocols::built_in().unwrap();
    let rule = protocols.get("seven-day").unwrap().session_rule();
    let gateway = GatewayClock::new([]);
    let mut readings = readings(&lived.frames, &household, &Zones::only(zone.clone()), &gateway);
    readings.sort_by(order);
    let mut concluded = Vec::new();
    for sitting in sittings(&readings) {
        let context = Context {
            household: &household,
            notes: &[],
            zone: &zone,
            rule,
        };
        let judged = judge(sitting, &context);
        let averaged = judged.judgements.iter().map(|j| j.disposition.is_averaged());
        concluded.extend(sitting.iter().cloned().zip(averaged));
    }
    concluded.sort_by_key(|(reading, _)| reading.time.at);
    (lived.truth, concluded)
}

/// Both are the same, one by one. A record that was told late may be off by what the clock drifted meanwhile.
fn agree(truth: &[Truth], concluded: &[(Reading, bool)], drift_s_a_day: f64) -> Result<(), TestCaseError> {
    let heard: Vec<_> = truth.iter().filter(|truth| truth.heard > 0).collect();
    prop_assert_eq!(heard.len(), concluded.len());
    // The record before it, if it was heard, and whether its stamp has seconds to be seen.
    let mut before: Option<(RecordNumber, bool)> = None;
    for (truth, (reading, averaged)) in heard.into_iter().zip(concluded) {
        let at = reading.time.at.expect("a time");
        let off = at.duration_since(truth.end).as_secs_f64();
        let late = reading.received_at.duration_since(truth.end).as_secs_f64() / 86_400.0;
        let drifted = late * drift_s_a_day.abs();
        let allowed = CLOCK_S + drifted;
        prop_assert!(off.abs() <= allowed, "{off} s off: {truth:?} {reading:?}");
        prop_assert_eq!(reading.person.as_ref(), Some(&truth.person));
        let seconds = reading.time.stamp.is_some_and(|stamp| stamp.second() != 0);
        // Haste shows only between two records on one clock. A stamp that ends in :00 may be one in whole minutes, and
        // a clock that has drifted until the second record was told may have been set.
        let shown = seconds && before == Some((truth.record.wrapping_sub(1), true)) && drifted < 1.0;
        let hidden = truth.faults.contains(&Fault::TooSoon) && !shown;
        prop_assert!(*averaged == truth.counts || hidden, "{truth:?} {reading:?}");
        before = Some((truth.record, seconds));
    }
    Ok(())
}

/// Summer time begins there on 29 March 2026 and ends on 25 October.
fn zone() -> TimeZone {
    TimeZone::get("Europe/Oslo").unwrap()
}

fn firsts() -> impl Strategy<Value = Date> {
    prop::sample::select(vec![date(2026, 3, 1), date(2026, 3, 25), date(2026, 10, 21)])
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn the_demonstration_is_understood(seed in any::<u64>(), first in firsts()) {
        let (truth, concluded) = conclude(Household::demonstration(first, zone()), seed, 7);
        agree(&truth, &concluded, 1.5)?;
    }

    /// A clock that drifts by up to ten seconds a day, any unit, any memory, any reception.
    #[test]
    fn one_person_is_understood(
        seed in any::<u64>(),
        first in firsts(),
        drift in -10_000..10_000i32,
        unit in prop::sample::select(vec![Unit::MmHg, Unit::KPa]),
        memory in prop::sample::select(vec![Memory::UntilConfirmed(60), Memory::Always(20), Memory::LastOnly]),
        tells_while_measuring in any::<bool>(),
        out_of_reach in 0.0..0.5f64, hangs_up in 0.0..0.5f64, loses_confirmation in 0.0..0.5f64,
    ) {
        let make = Make { unit, memory, tells_while_measuring, ..Make::plain([0xc0, 0xff, 0xee, 0, 0, 7]) };
        let pressure = Pressure::usual(134.0, 84.0, 70.0);
        let mut household = Household::alone(first, zone(), make, pressure, Habits::human());
        household.shared[0].monitor.clock.drift_ms_a_day = drift;
        household.shared[0].reception = Reception { out_of_reach, hangs_up, loses_confirmation };
        let (truth, concluded) = conclude(household, seed, 7);
        agree(&truth, &concluded, f64::from(drift) / 1000.0)?;
    }
}
