//! The fold: what holds after a series of statements, each outranking the earlier ones on the same matter.

use super::{
    Household, Mapping, MonitorAddress, MonitorId, Person, PersonId, Release, ReleasedDays, StatedAnswer,
    StatedNote, StatedPeriod, Statement, TakenBack,
};
use jiff::Timestamp;
use std::collections::BTreeMap;

impl Household {
    /// The household that holds after these statements, in the order in which they were made.
    pub fn after<'a>(statements: impl IntoIterator<Item = &'a Statement>) -> Self {
        let mut household = Self::default();
        for statement in statements {
            household.apply(statement);
        }
        household
    }

    /// Takes one more statement into account.
    ///
    /// Every statement is taken as it stands, also one about a person or a monitor that was never stated:
    /// whether it makes sense is asked before it is journaled, and what is journaled has to hold.
    #[expect(
        clippy::too_many_lines,
        reason = "one arm for each kind of statement, and nothing between them"
    )]
    pub fn apply(&mut self, statement: &Statement) {
        match statement {
            Statement::Zone { zone, from } => {
                let from = from.unwrap_or(Timestamp::MIN);
                match self.zones.binary_search_by_key(&from, |(from, _)| *from) {
                    Ok(same) => {
                        if let Some((_, name)) = self.zones.get_mut(same) {
                            name.clone_from(zone);
                        }
                    }
                    Err(place) => self.zones.insert(place, (from, zone.clone())),
                }
            }
            Statement::Person { person, details } => {
                self.people.insert(person.clone(), (details.clone(), false));
            }
            Statement::PersonChanged { person, changes } => {
                let (details, _) = self.people.entry(person.clone()).or_default();
                changes.iter().for_each(|fact| details.change(fact));
            }
            Statement::PersonRemoved { person } => {
                // The statements that map to the removed person stay: the readings of the past are still
                // theirs.
                if let Some((_, removed)) = self.people.get_mut(person) {
                    *removed = true;
                }
            }
            Statement::Monitor { monitor, details } => {
                if let Some(address) = &details.address {
                    self.addresses.insert(address.clone(), monitor.clone());
                }
                self.monitors.insert(monitor.clone(), (details.clone(), false));
                self.here.insert(monitor.clone());
            }
            Statement::MonitorForgotten { monitor } => {
                self.here.remove(monitor);
                self.left(monitor);
            }
            Statement::MonitorAt {
                monitor,
                listener,
                details,
            } => {
                if let Some(address) = &details.address {
                    self.addresses.insert(address.clone(), monitor.clone());
                }
                self.monitors.insert(monitor.clone(), (details.clone(), false));
                self.paired(monitor, listener, true);
            }
            Statement::MonitorForgottenAt { monitor, listener } => {
                self.paired(monitor, listener, false);
                self.left(monitor);
            }
            Statement::UserIndex {
                monitor,
                user_id,
                person,
                from,
            } => hand_over(
                &mut self.user_indexes,
                &(monitor.clone(), *user_id),
                *from,
                person.as_ref(),
            ),
            Statement::UsualPerson {
                monitor,
                person,
                from,
            } => hand_over(&mut self.usual, monitor, *from, person.as_ref()),
            Statement::Assigned { reading, person } => {
                set(&mut self.assigned, reading.clone(), person.clone());
            }
            Statement::Timed { reading, measured_at } => set(&mut self.timed, reading.clone(), *measured_at),
            Statement::Discarded { reading, reason } => {
                set(&mut self.discarded, reading.clone(), reason.clone());
            }
            Statement::ReadingKind { reading, posed } => set(&mut self.posed, reading.clone(), *posed),
            Statement::Note {
                note,
                person,
                monitor,
                at,
                what,
            } => {
                let stated = StatedNote {
                    person: person.clone(),
                    monitor: monitor.clone(),
                    at: *at,
                    what: what.clone(),
                };
                self.notes.insert(note.clone(), stated);
            }
            Statement::NoteWithdrawn { note } => {
                self.notes.remove(note);
            }
            Statement::AlertAnswered {
                alert,
                answer,
                by,
                at,
            } => {
                let stated = answer.map(|answer| StatedAnswer {
                    answer,
                    by: by.clone(),
                    at: *at,
                });
                set(&mut self.answers, alert.clone(), stated);
            }
            Statement::Calls { phones } => self.phones.clone_from(phones),
            Statement::Released {
                person,
                clinic,
                from,
                until,
                by,
                at,
            } => {
                let given = ReleasedDays {
                    from: *from,
                    until: *until,
                    by: by.clone(),
                    at: *at,
                };
                self.releases.entry(person.clone()).or_default().push(Release {
                    clinic: clinic.clone(),
                    given: Some(given),
                    withdrawn: None,
                });
            }
            Statement::ReleaseWithdrawn {
                person,
                clinic,
                by,
                at,
            } => {
                let taken = TakenBack {
                    by: by.clone(),
                    at: *at,
                };
                let releases = self.releases.entry(person.clone()).or_default();
                match releases
                    .iter_mut()
                    .rev()
                    .find(|release| release.clinic == *clinic)
                {
                    Some(release) => {
                        release.withdrawn.get_or_insert(taken);
                    }
                    None => releases.push(Release {
                        clinic: clinic.clone(),
                        given: None,
                        withdrawn: Some(taken),
                    }),
                }
            }
            Statement::ClinicProtocol { text } => self.clinic_protocol = Some(text.clone()),
            Statement::Period {
                person,
                protocol,
                from,
                days,
            } => {
                let stated = StatedPeriod {
                    protocol: protocol.clone(),
                    days: *days,
                };
                self.periods
                    .entry(person.clone())
                    .or_default()
                    .insert(*from, stated);
            }
        }
    }

    /// What makes somebody known who is named and not known yet: called by their id.
    pub fn introduces(&self, person: &PersonId) -> Option<Statement> {
        (!self.people.contains_key(person)).then(|| Statement::Person {
            person: person.clone(),
            details: Person {
                label: person.to_string(),
                ..Person::default()
            },
        })
    }

    /// What is stated of whose readings a monitor takes once it is paired: those of a person, or of one for each of its
    /// user numbers. Pairing moves no reading: whoever has had a number keeps what came under it, and what was nobody's
    /// stays so.
    pub fn taken_by(
        &self,
        monitor: &MonitorId,
        usual: Option<&PersonId>,
        users: &[(u8, PersonId)],
        now: Timestamp,
    ) -> Vec<Statement> {
        let mut statements = Vec::new();
        for person in usual.into_iter().chain(users.iter().map(|(_, person)| person)) {
            statements.extend(self.introduces(person));
        }
        let from = |mapping: Option<&Mapping>| mapping.map(|_| now);
        if let Some(person) = usual {
            statements.push(Statement::UsualPerson {
                monitor: monitor.clone(),
                person: Some(person.clone()),
                from: from(self.usual.get(monitor)),
            });
        }
        for (user_id, person) in users {
            statements.push(Statement::UserIndex {
                monitor: monitor.clone(),
                user_id: *user_id,
                person: Some(person.clone()),
                from: from(self.user_indexes.get(&(monitor.clone(), *user_id))),
            });
        }
        statements
    }

    /// The monitor that an address belongs to: the one that was stated, else one named after the address.
    pub fn monitor_at(&self, address: &MonitorAddress) -> MonitorId {
        match self.addresses.get(address) {
            Some(monitor) => monitor.clone(),
            None => MonitorId(address.as_str().replace(':', "").to_lowercase().into()),
        }
    }
}

fn hand_over<K: Ord + Clone>(
    numbers: &mut BTreeMap<K, Mapping>,
    number: &K,
    from: Option<Timestamp>,
    person: Option<&PersonId>,
) {
    let mapping = numbers.entry(number.clone()).or_default();
    mapping.hand_over(from.unwrap_or(Timestamp::MIN), person.cloned());
    if mapping.is_empty() {
        numbers.remove(number);
    }
}

fn set<K: Ord, V>(map: &mut BTreeMap<K, V>, key: K, value: Option<V>) {
    match value {
        Some(value) => {
            map.insert(key, value);
        }
        None => {
            map.remove(&key);
        }
    }
}
