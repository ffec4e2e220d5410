//! The record held against the truth.

use super::{Home, LINES_TOLD, PROTOCOL, PROTOCOLS, person_id};
use crate::truth::{self, Stands};
use jiff::civil::Date;
use jiff::{Timestamp, ToSpan};
use quietcuff::household::{Household, Zones};
use quietcuff::journal::Wanted;
use quietcuff::monitoring::period::period;
use std::collections::{HashMap, HashSet};

impl Home {
    pub(super) fn check(&mut self) {
        self.coverage.saw("step: checked");
        self.behind = false;
        let addresses: HashMap<&str, usize> = self
            .devices
            .iter()
            .enumerate()
            .map(|(nth, device)| (device.make().address.as_str(), nth))
            .collect();
        let mut query = self
            .gateway
            .eye()
            .prepare_cached(
                "SELECT reading.id, frame.monitor, frame.value, person, measured_us, reading.received_us, time_source,
                        precision, disposition
                 FROM reading JOIN frame ON frame.id = reading.frame JOIN judgement ON judgement.reading = reading.row",
            )
            .unwrap();
        let micros = |us: i64| Timestamp::from_microsecond(us).unwrap();
        let stands: Vec<Stands> = query
            .query_map([], |row| {
                let person: Option<String> = row.get(3)?;
                Ok(Stands {
                    id: row.get(0)?,
                    device: addresses[row.get_ref(1)?.as_str()?],
                    value: row.get(2)?,
                    person: person.map(|id| id[1..].parse().unwrap()),
                    at: row.get::<_, Option<i64>>(4)?.map(micros),
                    received: micros(row.get(5)?),
                    source: row.get(6)?,
                    seconds: row.get_ref(7)?.as_str()? == "second",
                    averaged: row.get_ref(8)?.as_str()? != "set-aside",
                })
            })
            .unwrap()
            .collect::<Result<_, _>>()
            .unwrap();
        drop(query);
        let behind = self.gateway.full;
        self.rows = truth::check(
            stands,
            behind,
            &self.truths,
            &self.groups,
            &self.devices,
            &self.zones,
            &mut self.coverage,
        );
    }

    pub(super) fn check_period(&mut self, person: usize, from: Date) {
        let to = from + 6.days();
        let date = |at: Timestamp| self.date(at);
        let expected = truth::expected(person, (from, to), date, &self.rows, &self.truths, &self.devices);
        for row in &self.rows {
            if row.person.is_none() {
                self.coverage.saw("reading: nobody's");
            }
            if row.at.is_none() {
                self.coverage.saw("reading: time unknown");
            }
        }
        let Some(expected) = expected else {
            self.coverage
                .saw("period: not compared, a time in it cannot be told");
            return;
        };
        let id = person_id(person);
        let statements = self.gateway.journal().statements().unwrap();
        let household = Household::after(statements.iter().map(|(_, statement)| statement));
        let zones = Zones::of(&household, jiff::tz::db()).unwrap();
        let wanted = Wanted {
            person: Some(id.clone()),
            ..Wanted::default()
        };
        let history = self.gateway.journal().history_of(&wanted, &zones).unwrap();
        let protocol = PROTOCOLS.get(PROTOCOL).unwrap();
        let (details, _) = &household.people[&id];
        let made = period(&id, details, protocol, from, None, &history.taken).unwrap();
        assert_eq!(made.readings.counted, expected.n, "{made:?}");
        self.coverage.saw_many("reading: counted", expected.n as u64);
        self.coverage
            .saw_many("reading: set aside", made.readings.set_aside as u64);
        let enough = expected.n >= 12 && expected.days >= 3;
        assert_eq!(made.sufficient, enough, "{made:?}");
        let Some(average) = made.average else {
            assert!(!enough);
            self.coverage.saw("period: too few readings");
            return;
        };
        self.coverage.saw("period: average compared");
        assert_eq!(average.n, expected.n);
        assert!(
            (average.systolic - expected.systolic).abs() < 1e-9,
            "{average:?} {expected:?}"
        );
        assert!(
            (average.diastolic - expected.diastolic).abs() < 1e-9,
            "{average:?} {expected:?}"
        );
    }

    pub(super) fn check_rebuild(&mut self) {
        let live = self.gateway.derived();
        self.gateway.journal().rebuild().unwrap();
        let rebuilt = self.gateway.derived();
        let only = |these: &str, those: &str| -> Vec<String> {
            let those: HashSet<&str> = those.lines().collect();
            let only = these.lines().filter(|line| !those.contains(line));
            only.take(LINES_TOLD).map(str::to_owned).collect()
        };
        assert!(
            live == rebuilt,
            "live and rebuilt differ: {:#?} {:#?}",
            only(&live, &rebuilt),
            only(&rebuilt, &live)
        );
        self.coverage.saw("step: rebuilt and the same");
    }
}
