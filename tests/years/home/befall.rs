//! What befalls a home: clocks that are set, power that goes, disks that fill, monitors that are replaced.

use super::{Home, ZONES, later};
use crate::years::device::Device;
use crate::years::truth::Receipt;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use quietcuff::household::Statement;

impl Home {
    /// Something, or nothing, before a sitting. Says from when on the gateway may look at what became of it.
    pub(super) fn befall(&mut self, at: Timestamp, person: usize) -> Timestamp {
        // Behind everything that has happened.
        let before = later(at, -self.random.between(600_000, 14_400_000)).max(later(self.now, 1_000));
        let behind = later(before, 120_000);
        self.befall_at(before, at.max(behind), person);
        behind
    }

    fn befall_at(&mut self, before: Timestamp, at: Timestamp, person: usize) {
        let device = self.own[person];
        if self.zone().to_offset(later(at, -43_200_000)) != self.zone().to_offset(at) {
            self.coverage.saw("home: summer time begins or ends");
            // With the kitchen clock also the monitor's; or not.
            if self.random.chance(0.5) {
                self.set_clock(device, before, 0);
            }
        }
        if !self.gateway.knows_the_time() && self.random.chance(0.5) {
            self.learn_the_time(before);
        }
        if self.gateway.full && self.random.chance(0.5) {
            self.make_room();
        }
        if let Some((device, when)) = self.enrol_later
            && when <= at
        {
            self.enrol_later = None;
            let whose: Vec<usize> = (0..self.people.len())
                .filter(|p| self.own[*p] == device)
                .collect();
            let statements = self.devices[device].enrolment(&whose, before);
            self.say(before, &statements);
        }
        match self.random.between(0, 999) {
            0..10 => {
                self.coverage.saw("monitor: battery lost");
                self.devices[device].monitor.change_batteries(before);
                self.devices[device].clock_set(before);
                if self.random.chance(0.6) {
                    self.set_clock(device, later(before, 60_000), 0);
                }
            }
            10..22 => self.set_clock(device, before, 0),
            22..30 => {
                self.coverage.saw("monitor: clock set wrong");
                let off = self.random.between(-5_400, 5_400);
                self.set_clock(device, before, off);
            }
            30..34 => {
                let zone = TimeZone::get(ZONES[self.random.between(0, 5) as usize]).unwrap();
                if zone == self.zone() {
                    return;
                }
                self.coverage.saw("home: moves to another zone");
                let name = zone.iana_name().unwrap().to_owned();
                self.state(
                    before,
                    &[Statement::Zone {
                        zone: name,
                        from: Some(self.gateway.wall(before)),
                    }],
                );
                self.zones.push((self.gateway.wall(before), zone));
                if self.random.chance(0.7) {
                    self.set_clock(device, before, 0);
                }
            }
            34..46 => self.crash(before),
            46..52 if !self.gateway.full => {
                self.coverage.saw("gateway: disk full");
                self.gateway.fill_disk();
            }
            52..58 => {
                let off = self.random.between(1, 60) * 3_600_000;
                self.down_until = self.down_until.max(later(before, off));
            }
            58..61 if self.enrol_later.is_none() && self.devices.len() < 200 => self.replace(before, person),
            _ => {}
        }
    }

    pub(super) fn set_clock(&mut self, device: usize, at: Timestamp, off_s: i64) {
        let zone = self.zone();
        let device = &mut self.devices[device];
        let to = zone.to_datetime(later(at, off_s * 1000));
        device.monitor.clock.set(at, to);
        device.clock_set(at);
        if off_s == 0 {
            self.coverage.saw("monitor: clock set to the wall");
        }
    }

    pub(super) fn replace(&mut self, at: Timestamp, person: usize) {
        self.coverage.saw("monitor: replaced");
        let old = self.own[person];
        let number = self.devices.len() as u8 + 1;
        let zone = self.zone();
        let mut device = Device::new(number, at, &zone, self.devices[old].indexed, &mut self.random);
        // Until it is enrolled it is known by its address only.
        let new = self.devices.len();
        let whose: Vec<usize> = (0..self.people.len()).filter(|p| self.own[*p] == old).collect();
        for own in &mut self.own {
            if *own == old {
                *own = new;
            }
        }
        if self.random.chance(0.5) {
            let statements = device.enrolment(&whose, at);
            self.devices.push(device);
            self.state(at, &statements);
        } else {
            self.coverage.saw("monitor: heard before it is enrolled");
            self.devices.push(device);
            self.enrol_later = Some((new, later(at, self.random.between(1, 40) * 3_600_000)));
        }
    }

    pub(super) fn crash(&mut self, at: Timestamp) {
        self.coverage.saw("gateway: crash while settled");
        self.power_lost(at);
    }

    pub(super) fn power_lost(&mut self, at: Timestamp) {
        if self.gateway.full {
            self.coverage.saw("gateway: disk full through a crash");
            self.waiting.clear();
        }
        for truth in &mut self.truths {
            if truth.receipt == Receipt::NotYet {
                truth.receipt = Receipt::Never;
                // What that boot made of this monitor's clock stays in the record.
                self.devices[truth.device].misled = true;
            }
        }
        let up = later(at, self.random.between(30_000, 600_000));
        let error = match self.random.between(0, 9) {
            // Without a clock of its own: 1970, or where it was when it last wrote the time down.
            0 => -up.duration_since(Timestamp::UNIX_EPOCH),
            1..3 => -SignedDuration::from_millis(self.random.between(60_000, 30 * 3_600_000)),
            _ => SignedDuration::ZERO,
        };
        self.gateway.crash(up, error);
        if !error.is_zero() {
            self.coverage.saw("gateway: boots without its own time");
        }
        self.down_until = self.down_until.max(up);
        self.gateway.settle();
        self.check();
    }

    pub(super) fn learn_the_time(&mut self, at: Timestamp) {
        self.coverage.saw("gateway: learns the time");
        // Its sample waits for room as its frames do.
        if self.gateway.full {
            self.make_room();
        }
        self.gateway.learn_the_time(at);
        for truth in &mut self.truths {
            if truth.receipt == Receipt::NotYet {
                truth.receipt = Receipt::Right;
                self.devices[truth.device].unsure = false;
            }
        }
        self.gateway.settle();
        self.check();
    }
}
