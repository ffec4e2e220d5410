//! The record held against the truth.

use super::{Home, LINES_TOLD, PROTOCOL, person_id};
use crate::years::device::Device;
use crate::years::truth::{self, Stands};
use jiff::civil::Date;
use jiff::{Timestamp, ToSpan};
use quietcuff::monitoring::plan::Plan;
use quietcuff::snapshot::period::of_plan;
use std::collections::HashSet;

impl Home {
    pub(super) fn check(&mut self) {
        self.coverage.saw("step: checked");
        self.behind = false;
        let micros = |us: i64| Timestamp::from_microsecond(us).unwrap();
        self.see_frames();
        let mut query = self
            .gateway
            .eye()
            .prepare_cached(
                "SELECT reading.id, reading.frame, person, measured_us, reading.received_us, time_source, precision,
                        disposition
                 FROM reading JOIN judgement ON judgement.reading = reading.row",
            )
            .unwrap();
        let stands: Vec<Stands> = query
            .query_map([], |row| {
                let person = row.get_ref(2)?.as_str_or_null()?;
                let (device, value) = self.frames[&row.get(1)?].clone();
                Ok(Stands {
                    id: row.get(0)?,
                    device,
                    value,
                    person: person.map(|id| id[1..].parse().unwrap()),
                    at: row.get::<_, Option<i64>>(3)?.map(micros),
                    received: micros(row.get(4)?),
                    source: row.get(5)?,
                    seconds: row.get_ref(6)?.as_str()? == "second",
                    averaged: row.get_ref(7)?.as_str()? != "set-aside",
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

    /// The frames that came since the last look: what was kept of one stays as it is.
    fn see_frames(&mut self) {
        let last = self.frames.last_key_value().map_or(0, |(id, _)| *id);
        let mut query = self
            .gateway
            .eye()
            .prepare_cached("SELECT id, monitor, value FROM frame WHERE id > ?1")
            .unwrap();
        let mut rows = query.query([last]).unwrap();
        while let Some(row) = rows.next().unwrap() {
            let monitor = row.get_ref(1).unwrap();
            let is = |device: &Device| device.make().address.as_str() == monitor.as_str().unwrap();
            let device = self.devices.iter().position(is).unwrap();
            let value = row.get_ref(2).unwrap().as_blob().unwrap();
            self.frames.insert(row.get(0).unwrap(), (device, value.into()));
        }
    }

    pub(super) fn check_period(&mut self, person: usize, from: Date) {
        let to = from + 6.days();
        let civil = |at: Timestamp| self.zone_at(at).to_datetime(at);
        let expected = truth::expected(person, (from, to), civil, &self.rows, &self.truths, &self.devices);
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
        let stated = self.gateway.journal().stated().unwrap();
        let plan = Plan::new(&stated.protocols, PROTOCOL, from, None).unwrap();
        let made = of_plan(self.gateway.journal(), &stated, &id, &plan)
            .unwrap()
            .period;
        assert_eq!(made.readings.counted, expected.counted, "{made:?}");
        let kinds: Vec<_> = made.other_kinds.iter().map(|kind| (kind.kind, kind.n)).collect();
        let wanted: Vec<_> = expected.kinds.iter().map(|(kind, n, _)| (*kind, *n)).collect();
        assert_eq!(kinds, wanted, "{made:?}");
        for (kind, (_, n, [systolic, diastolic])) in made.other_kinds.iter().zip(&expected.kinds) {
            self.coverage
                .saw_many("reading: standing, lying or at night", *n as u64);
            assert!(
                (kind.systolic.unwrap() - systolic).abs() < 1e-9,
                "{made:?} {expected:?}"
            );
            assert!(
                (kind.diastolic.unwrap() - diastolic).abs() < 1e-9,
                "{made:?} {expected:?}"
            );
        }
        let apart: usize = expected.kinds.iter().map(|(_, n, _)| n).sum();
        let outside = expected.counted - expected.n - apart;
        assert_eq!(
            made.outside_sessions.as_ref().map_or(0, |outside| outside.n),
            outside,
            "{made:?}"
        );
        self.coverage
            .saw_many("reading: outside every session", outside as u64);
        self.coverage
            .saw_many("reading: counted", expected.counted as u64);
        self.coverage
            .saw_many("reading: set aside", made.readings.set_aside as u64);
        let enough = expected.towards >= 12 && expected.days >= 3;
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
