//! The air: what a monitor tells, what of it reaches the disk, and what is known of its clock then.

use super::{Burst, Home, OnItsWay, later};
use crate::years::truth::{FOLLOWED_S, Lie, Receipt};
use quietcuff::frame::Frame;
use quietcuff::gatt::Characteristic;
use quietcuff::radio::simulated::{LinkFaults, Memory, Taken};

impl Home {
    pub(super) fn connect(&mut self, device: usize, taken: &Taken, person: usize) {
        let zone = self.zone();
        let stamped = self.devices[device].stamped();
        let stored = self.devices[device].monitor.kept().count() as i64 + 1;
        let crashes = stamped && !self.gateway.full && self.random.chance(0.012);
        let cut = crashes || stamped && self.random.chance(0.05);
        let link = LinkFaults {
            hangs_up_after: cut.then(|| self.random.between(0, stored) as usize),
            loses_last_confirmation: self.random.chance(if crashes { 0.5 } else { 0.04 }),
        };
        let heard = if self.devices[device].make().tells_while_measuring {
            let (number, heard) = self.devices[device]
                .monitor
                .connect_and_measure(taken, &zone, link);
            self.measured(device, person, number, taken);
            heard
        } else {
            let number = self.devices[device].monitor.keep(taken);
            self.measured(device, person, number, taken);
            let at = later(taken.end, self.random.between(800, 2_500));
            self.devices[device].monitor.connect(at, &zone, link)
        };
        self.tell(device, heard, link, taken, crashes);
        if !stamped && link.loses_last_confirmation {
            // Without a stamp nobody could tell a record that comes again later from another one.
            let at = later(taken.end, 8_000);
            let heard = self.devices[device]
                .monitor
                .connect(at, &zone, LinkFaults::default());
            // Nobody hears it when the power went in between.
            if at > self.down_until {
                self.tell(device, heard, LinkFaults::default(), taken, false);
            }
        }
    }

    pub(super) fn tell(
        &mut self,
        device: usize,
        heard: quietcuff::radio::simulated::Visit,
        link: LinkFaults,
        taken: &Taken,
        crashes: bool,
    ) {
        let zone = self.zone();
        let mut records = heard.records.iter();
        let mut frames: Vec<OnItsWay> = Vec::with_capacity(heard.frames.len());
        for mut frame in heard.frames {
            let mut truth = None;
            if frame.characteristic == Characteristic::BLOOD_PRESSURE_MEASUREMENT {
                let nth = self.devices[device].records[records.next().unwrap()];
                self.lie(nth, &mut frame.value);
                truth = Some(nth);
            }
            frames.push(OnItsWay { frame, truth });
        }
        let Some(last) = frames.last() else { return };
        let at = last.frame.received_at;
        if link.hangs_up_after.is_some() {
            self.coverage.saw("monitor: hangs up in a burst");
        }
        if link.loses_last_confirmation {
            self.coverage.saw("monitor: confirmation lost");
        }
        let told: Vec<usize> = frames.iter().filter_map(|on| on.truth).collect();
        let unconfirmed = usize::from(link.loses_last_confirmation);
        for nth in told.iter().rev().skip(unconfirmed) {
            self.truths[*nth].confirmed += 1;
        }
        let late = told
            .iter()
            .any(|nth| later(self.truths[*nth].end, 600_000) < taken.end);
        if late {
            self.coverage.saw("monitor: stored records told late");
        }
        if told.iter().any(|nth| self.truths[*nth].kept > 0) {
            self.coverage.saw("monitor: sends what it sent before");
        }
        if !self.devices[device].stamped() {
            self.coverage.saw("monitor: without stamps");
        }
        self.garbage(&mut frames);
        let mut stamped: Vec<Frame> = frames.iter().map(|on| on.frame.clone()).collect();
        self.gateway.stamps(&mut stamped, &zone);
        for (on, frame) in frames.iter_mut().zip(stamped) {
            on.frame = frame;
        }
        let its = &self.devices[device];
        let seen = its.seen;
        let set_meanwhile = its
            .settings
            .iter()
            .any(|set| seen.is_none_or(|seen| *set > seen) && *set <= at);
        let unsure = its.unsure || its.misled;
        let burst = |frames| Burst {
            device,
            at,

            set_meanwhile,
            unsure,
            frames,
        };
        if crashes {
            return self.crash_within(burst(frames), link);
        }
        // As it comes: two bursts.
        let second = frames.split_off(frames.len() / 2);
        for part in [frames, second] {
            self.keep(burst(part));
        }
        if self.random.chance(0.01) && !self.gateway.full {
            self.coverage
                .saw("gateway: crash after the commit, before settling");
            return self.power_lost(later(at, 200));
        }
        self.gateway.settle();
        self.check();
        if self.random.chance(0.003) && !self.gateway.full {
            self.coverage.saw("gateway: crash while rebuilding");
            self.gateway.begin_to_rebuild();
            self.power_lost(later(at, 5_000));
        }
    }

    /// What the monitor really sends of this measurement: another stamp, for ever.
    pub(super) fn lie(&self, nth: usize, value: &mut [u8]) {
        // Flags, three values of two octets, then the year, month, day, hour, minute and second (BPS 3.1).
        match self.truths[nth].lie {
            Some(Lie::Impossible) => value[9] = 13,
            Some(Lie::Future) => value[7..9].copy_from_slice(&2101_u16.to_le_bytes()),
            None => {}
        }
    }

    pub(super) fn garbage(&mut self, frames: &mut Vec<OnItsWay>) {
        if !self.random.chance(0.03) {
            return;
        }
        self.coverage.saw("monitor: garbage octets");
        let place = self.random.between(0, frames.len() as i64 - 1) as usize;
        let mut frame = frames[place].frame.clone();
        let short = self.random.between(0, 6);
        frame.characteristic = Characteristic::BLOOD_PRESSURE_MEASUREMENT;
        frame.value = (0..short).map(|_| self.random.between(0, 255) as u8).collect();
        frames.insert(place, OnItsWay { frame, truth: None });
    }

    /// The power goes while a burst comes in: the last frame was confirmed or not, and is not on the disk.
    pub(super) fn crash_within(&mut self, mut burst: Burst, link: LinkFaults) {
        self.coverage.saw("gateway: crash between two frames of a burst");
        let at = burst.at;
        while let Some(last) = burst.frames.pop() {
            if let Some(nth) = last.truth {
                let kept_by_monitor = matches!(self.devices[burst.device].make().memory, Memory::Always(_));
                if !link.loses_last_confirmation {
                    self.truths[nth].gone = true;
                    if !kept_by_monitor && self.truths[nth].kept == 0 {
                        self.coverage
                            .saw("lost: confirmed by the radio and the power gone before the commit");
                    }
                }
                break;
            }
        }
        self.keep(burst);
        self.power_lost(later(at, 100));
    }

    pub(super) fn keep(&mut self, burst: Burst) {
        let frames: Vec<Frame> = burst.frames.iter().map(|on| on.frame.clone()).collect();
        if self.gateway.keep(&frames) {
            self.committed(&burst);
        } else {
            // In memory until there is room, or until the power goes.
            for truth in burst.frames.iter().filter_map(|on| on.truth) {
                self.truths[truth].gone = true;
            }
            self.waiting.push(burst);
        }
    }

    pub(super) fn committed(&mut self, burst: &Burst) {
        let zone = self.zone();
        let known = self.gateway.knows_the_time();
        let at = burst.at;
        self.now = self.now.max(at);
        let its = &mut self.devices[burst.device];
        if !burst.frames.is_empty() {
            its.heard = Some(at).max(its.heard);
            its.heard_unsure = !known;
        }
        let told: Vec<usize> = burst.frames.iter().filter_map(|on| on.truth).collect();
        let live = told.iter().any(|nth| later(self.truths[*nth].end, 120_000) > at);
        if live && known && its.off_wall(at, &zone) <= 60 {
            its.trusted = true;
        }
        let told_before = its.told;
        // A clock that has lost more looks like readings that waited, and is followed only after several.
        if live && known && its.told.is_none_or(|told| its.drift_s(told, at) < FOLLOWED_S) {
            its.told = Some(at);
        }
        let readable = its.make().clock_can_be_read || !its.stamped();
        let sure = !burst.set_meanwhile && !burst.unsure && (readable || its.trusted);
        for on in &burst.frames {
            let Some(nth) = on.truth else { continue };
            let truth = &mut self.truths[nth];
            truth.kept += 1;
            // One that comes again by a wrong clock may seem to come for the first time.
            if !known {
                truth.receipt = Receipt::NotYet;
            }
            if truth.received.is_some() {
                continue;
            }
            truth.received = Some(at);
            truth.unseen_since = told_before;
            truth.sure = sure;
            self.groups
                .entry((burst.device, on.frame.value.as_slice().into()))
                .or_default()
                .push(nth);
        }
        let clock = Characteristic::CURRENT_TIME;
        if !told.is_empty() || burst.frames.iter().any(|on| on.frame.characteristic == clock) {
            its.seen = Some(at);
            its.unsure = !known;
            if burst.set_meanwhile {
                self.coverage
                    .saw("monitor: clock set in the hours between connections");
            }
        }
    }
}
