//! Measuring: who sits down when, what the cuff shows, and what people do wrong.

use super::{Home, later};
use crate::years::truth::{Lie, Receipt, Truth};
use jiff::Timestamp;
use quietcuff::radio::simulated::{LinkFaults, Taken};

impl Home {
    pub(super) fn sit(&mut self, start: Timestamp, person: usize) {
        if self.random.chance(0.04) {
            self.coverage.saw("people: forget a sitting");
            return;
        }
        let mut device = self.own[person];
        let other = self.own[(person + 1) % self.people.len()];
        if other != device && self.random.chance(0.04) {
            self.coverage.saw("people: swap monitors");
            device = other;
        }
        let stamped = self.devices[device].stamped();
        let far = stamped && self.random.chance(0.1);
        let off = start < self.down_until;
        if off {
            self.coverage.saw("gateway: off while people measure");
        }
        let readings = if self.random.chance(0.04) {
            self.coverage.saw("people: forget the second reading");
            1
        } else {
            2
        };
        let hasty = self.random.chance(0.06);
        let mut begin = start;
        for n in 0..readings {
            let taken = self.measure(person, device, begin);
            let last = n + 1 == readings;
            let tells = self.devices[device].eager || last || !stamped;
            let listening = !far && later(taken.start, -1_000) > self.down_until;
            if listening && tells {
                self.connect(device, &taken, person);
            } else {
                let number = self.devices[device].monitor.keep(&taken);
                self.measured(device, person, number, &taken);
                if !stamped {
                    // It keeps nothing that nobody hears.
                    let zone = self.zone();
                    self.devices[device]
                        .monitor
                        .connect(taken.end, &zone, LinkFaults::default());
                }
            }
            let pause = if hasty && n == 0 {
                self.coverage.saw("people: measure too soon");
                self.random.between(3_000, 9_000)
            } else {
                self.random.between(62_000, 95_000)
            };
            begin = later(taken.end, pause);
            self.now = self.now.max(later(taken.end, 10_000));
        }
    }

    pub(super) fn measure(&mut self, person: usize, device: usize, start: Timestamp) -> Taken {
        let [systolic, diastolic, pulse] = self.people[person];
        let random = &mut self.random;
        let whole = |value: f64| value.round() as i16;
        let systolic = whole(random.normal(systolic, 7.0));
        let diastolic = whole(random.normal(diastolic, 5.0)).min(systolic - 20);
        let mut values = Some([systolic, diastolic, whole(random.normal(pulse, 4.0))]);
        let mut status = 0;
        if random.chance(0.04) {
            self.coverage.saw("people: move, loose cuff, wrong position");
            status |= [1, 1 << 1, 1 << 5][random.between(0, 2) as usize];
        }
        status |= u16::from(random.chance(0.02)) << 2;
        if random.chance(0.01) {
            self.coverage.saw("people: the cuff gives up");
            values = None;
        }
        if let (Some(teller), Some([systolic, ..])) = (&mut self.teller, &mut values)
            && teller.raises()
        {
            *systolic += 60;
        }
        let user_id = self.devices[device].indexed.then(|| match random.between(0, 99) {
            0..2 => {
                self.coverage.saw("people: press the other one's button");
                (person as u8 + 1) % 2 + 1
            }
            2 => {
                self.coverage.saw("monitor: user that nobody named");
                3
            }
            3 => {
                self.coverage.saw("monitor: unknown user");
                255
            }
            _ => person as u8 + 1,
        });
        let end = later(start, random.between(30_000, 44_000));
        Taken {
            start,
            end,
            values,
            user_id,
            status,
        }
    }

    pub(super) fn measured(&mut self, device: usize, person: usize, number: u64, taken: &Taken) {
        let lie = match self.random.between(0, 199) {
            0 => Some(Lie::Impossible),
            1 => Some(Lie::Future),
            _ => None,
        };
        let lie = lie.filter(|_| self.devices[device].stamped());
        match lie {
            Some(Lie::Impossible) => self.coverage.saw("monitor: impossible stamp"),
            Some(Lie::Future) => self.coverage.saw("monitor: stamp from the future"),
            None => {}
        }
        self.devices[device].records.insert(number, self.truths.len());
        self.truths.push(Truth {
            device,
            person,
            index: taken.user_id,
            end: taken.end,
            shown: taken.values,
            status: taken.status,
            lie,
            confirmed: 0,
            kept: 0,
            gone: false,
            received: None,
            unseen_since: None,
            sure: false,
            receipt: Receipt::Right,
            assigned: None,
            timed: None,
            discarded: false,
            posed: None,
        });
    }
}
