//! Where each monitor is paired: at this machine, and at listeners in other rooms.

use super::{Household, Monitor, MonitorAddress, MonitorId, Statement};
use std::collections::BTreeSet;

impl Household {
    /// The listeners at which a monitor is paired, by id.
    pub fn rooms_of(&self, monitor: &MonitorId) -> impl Iterator<Item = &str> {
        let rooms = self.rooms.get(monitor).into_iter().flatten();
        rooms
            .filter(|(_, paired)| **paired)
            .map(|(listener, _)| listener.as_str())
    }

    /// What is stated once a listener has paired with a monitor: what it told there, beside what people stated of it.
    pub fn paired_at(&self, monitor: MonitorId, listener: &str, told: Monitor) -> Statement {
        let kept = self.monitors.get(&monitor).map(|(kept, _)| kept.clone());
        Statement::MonitorAt {
            monitor,
            listener: listener.to_owned(),
            details: told.filled_by(kept.unwrap_or_default()),
        }
    }

    /// Takes in by which listeners monitors came, each by its address, beside what was stated; what was stated of a
    /// monitor at a listener outranks that. Only these listeners stand: what is paired at others comes no more.
    pub fn come_by(
        &mut self,
        standing: &BTreeSet<String>,
        came: impl IntoIterator<Item = (String, MonitorAddress)>,
    ) {
        for (listener, address) in came {
            let monitor = self.monitor_at(&address);
            let met = Monitor {
                address: Some(address.clone()),
                ..Monitor::default()
            };
            self.addresses.insert(address, monitor.clone());
            if !self.monitors.contains_key(&monitor) {
                self.met.insert(monitor.clone());
                self.monitors.insert(monitor.clone(), (met, false));
            }
            let rooms = self.rooms.entry(monitor).or_default();
            rooms.entry(listener).or_insert(true);
        }
        for rooms in self.rooms.values_mut() {
            rooms.retain(|listener, _| standing.contains(listener));
        }
        let roomed: Vec<MonitorId> = self.rooms.keys().cloned().collect();
        for monitor in &roomed {
            self.left(monitor);
        }
    }

    pub(super) fn paired(&mut self, monitor: &MonitorId, listener: &str, is: bool) {
        let rooms = self.rooms.entry(monitor.clone()).or_default();
        rooms.insert(listener.to_owned(), is);
    }

    /// A monitor may have left the last place where it was paired.
    pub(super) fn left(&mut self, monitor: &MonitorId) {
        let paired = self.here.contains(monitor) || self.rooms_of(monitor).next().is_some();
        if let Some((_, forgotten)) = self.monitors.get_mut(monitor) {
            *forgotten = !paired;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ADDRESS: &str = "C0:FF:EE:00:00:01";

    fn at(listener: &str) -> Statement {
        let told = Monitor {
            address: Some(ADDRESS.parse().unwrap()),
            ..Monitor::default()
        };
        Household::default().paired_at("m1".parse().unwrap(), listener, told)
    }

    fn forgotten_at(listener: &str) -> Statement {
        Statement::MonitorForgottenAt {
            monitor: "m1".parse().unwrap(),
            listener: listener.to_owned(),
        }
    }

    /// Where the monitor is paired after all that, and whether it is forgotten.
    fn stands(statements: &[Statement], standing: &[&str], came: &[&str]) -> (Vec<String>, bool) {
        let mut household = Household::after(statements);
        let came = came
            .iter()
            .map(|one| ((*one).to_owned(), ADDRESS.parse().unwrap()));
        household.come_by(&standing.iter().map(|one| (*one).to_owned()).collect(), came);
        let id = household.monitor_at(&ADDRESS.parse().unwrap());
        let mut places: Vec<String> = household.rooms_of(&id).map(str::to_owned).collect();
        places.extend(household.here.contains(&id).then(|| "here".to_owned()));
        (places, household.monitors.get(&id).is_some_and(|(_, gone)| *gone))
    }

    #[test]
    fn only_the_last_place_ends_it() {
        let forgotten = Statement::MonitorForgotten {
            monitor: "m1".parse().unwrap(),
        };
        let Statement::MonitorAt { monitor, details, .. } = at("l1") else {
            unreachable!();
        };
        let here = Statement::Monitor { monitor, details };
        let (one, both) = (["l1"].as_slice(), ["l1", "l2"].as_slice());
        let places = |all: &[&str]| all.iter().map(|one| (*one).to_owned()).collect::<Vec<_>>();
        for (statements, standing, came, paired, gone) in [
            (vec![at("l1")], one, [].as_slice(), places(&["l1"]), false),
            (vec![at("l1"), forgotten_at("l1")], one, &[], places(&[]), true),
            // What was on its way when it was forgotten pairs nothing.
            (vec![at("l1"), forgotten_at("l1")], one, one, places(&[]), true),
            (
                vec![at("l1"), forgotten_at("l1"), at("l1")],
                one,
                one,
                places(&["l1"]),
                false,
            ),
            (
                vec![at("l1"), forgotten_at("l1")],
                both,
                both,
                places(&["l2"]),
                false,
            ),
            (
                vec![at("l1"), at("l2"), forgotten_at("l2")],
                both,
                &[],
                places(&["l1"]),
                false,
            ),
            // Somebody paired it there, by hand.
            (vec![], both, both, places(&["l1", "l2"]), false),
            // The listener was withdrawn.
            (vec![at("l1")], &[], one, places(&[]), true),
            (
                vec![here.clone(), at("l1"), forgotten.clone()],
                one,
                &[],
                places(&["l1"]),
                false,
            ),
            (
                vec![here.clone(), at("l1"), forgotten_at("l1")],
                one,
                one,
                places(&["here"]),
                false,
            ),
            (
                vec![here, at("l1"), forgotten_at("l1"), forgotten],
                one,
                one,
                places(&[]),
                true,
            ),
        ] {
            assert_eq!(
                stands(&statements, standing, came),
                (paired, gone),
                "{statements:?} {came:?}"
            );
        }
    }
}
