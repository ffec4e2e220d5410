//! What people say afterwards: answers, notes, readings left out, and all of it taken back.

use super::{Home, later, person_id};
use jiff::Timestamp;
use quietcuff::household::{Note, Posed, Statement};

impl Home {
    pub(super) fn people_say(&mut self, at: Timestamp) {
        if self.gateway.full {
            return;
        }
        match self.random.between(0, 199) {
            0..6 => self.answer(at),
            6..8 => self.discard(at),
            8..12 => self.note(at),
            12..16 => self.say_kind(at),
            16..18 => self.map_from(at),
            _ => {}
        }
    }

    pub(super) fn answer(&mut self, at: Timestamp) {
        let asked = self
            .rows
            .iter()
            .rev()
            .find(|row| row.person.is_none() || row.at.is_none())
            .cloned();
        let Some(row) = asked else { return };
        let truth = &mut self.truths[row.truth];
        let reading = row.id.clone();
        let withdrawn = self.random.chance(0.2);
        let mut statements = Vec::new();
        if row.person.is_none() {
            self.coverage.saw("answers: person, late");
            let person = |person| Statement::Assigned {
                reading: reading.clone(),
                person,
            };
            statements.push(person(Some(person_id(truth.person))));
            truth.assigned = Some(truth.person);
            if self.words.chance(0.3) {
                // The later word holds.
                self.coverage.saw("people: say two things that conflict");
                let another = (truth.person + 1) % self.people.len();
                statements.insert(0, person(Some(person_id(another))));
            }
            if withdrawn {
                statements.push(person(None));
                truth.assigned = None;
            }
        } else {
            self.coverage.saw("answers: time, late");
            let said = later(truth.end, self.random.between(-300, 300) * 1000);
            let time = |measured_at| Statement::Timed {
                reading: reading.clone(),
                measured_at,
            };
            statements.push(time(Some(said)));
            truth.timed = Some(said);
            if self.words.chance(0.3) {
                self.coverage.saw("people: say two things that conflict");
                statements.insert(0, time(Some(later(said, -7_200_000))));
            }
            if withdrawn {
                statements.push(time(None));
                truth.timed = None;
            }
        }
        if withdrawn {
            self.coverage.saw("answers: withdrawn");
        }
        self.say(at, &statements);
    }

    pub(super) fn discard(&mut self, at: Timestamp) {
        let Some(row) = self.rows.last().cloned() else {
            return;
        };
        let truth = &mut self.truths[row.truth];
        let reason = (!truth.discarded).then(|| "a dog barked".to_owned());
        self.coverage.saw("people: discard a reading");
        let mut statements = vec![Statement::Discarded {
            reading: row.id.clone(),
            reason,
        }];
        truth.discarded = !truth.discarded;
        if truth.discarded && self.random.chance(0.4) {
            self.coverage.saw("people: discard withdrawn");
            statements.push(Statement::Discarded {
                reading: row.id,
                reason: None,
            });
            truth.discarded = false;
        }
        self.say(at, &statements);
    }

    /// Standing, lying, at night, or seated after all: of a reading that came lately.
    fn say_kind(&mut self, at: Timestamp) {
        let Some(row) = self.rows.last().cloned() else {
            return;
        };
        self.coverage.saw("people: say the kind of a reading");
        let kind = |posed: Option<Posed>| Statement::ReadingKind {
            reading: row.id.clone(),
            posed,
        };
        let posed = Posed::ALL[self.words.between(0, 3) as usize];
        let mut statements = vec![kind(Some(posed))];
        if self.words.chance(0.3) {
            self.coverage.saw("people: say two things that conflict");
            let before = Posed::ALL[self.words.between(0, 3) as usize];
            statements.insert(0, kind(Some(before)));
        }
        let withdrawn = self.words.chance(0.2);
        if withdrawn {
            statements.push(kind(None));
        }
        self.truths[row.truth].posed = Some(posed).filter(|posed| !withdrawn && *posed != Posed::Seated);
        self.say(at, &statements);
    }

    /// A button of a monitor is somebody's, or nobody's, from some hours ago on.
    fn map_from(&mut self, at: Timestamp) {
        let device = self.own[self.words.between(0, self.people.len() as i64 - 1) as usize];
        if !self.devices[device].indexed || self.devices[device].enrolled.is_none() {
            return;
        }
        self.coverage
            .saw("people: say whose a button is from a moment on");
        // Mostly the button that nobody has.
        let index = if self.words.chance(0.7) {
            3
        } else {
            self.words.between(1, 2) as u8
        };
        let to = self.words.between(-1, self.people.len() as i64 - 1);
        let from = later(at, -self.words.between(0, 72) * 3_600_000);
        let statement = self.devices[device].maps(index, from, usize::try_from(to).ok());
        self.say(at, &[statement]);
    }

    pub(super) fn note(&mut self, at: Timestamp) {
        self.coverage.saw("people: notes");
        self.notes += 1;
        let note = format!("n{}", self.notes);
        let what = match self.random.between(0, 2) {
            0 => Note::Coffee,
            1 => Note::NoRest,
            _ => Note::Talked,
        };
        let statement = Statement::Note {
            note: note.clone(),
            person: Some(person_id(0)),
            monitor: None,
            at: later(at, -1_500_000),
            what,
        };
        self.say(at, &[statement]);
        if self.random.chance(0.4) {
            self.coverage.saw("people: note withdrawn");
            self.say(later(at, 60_000), &[Statement::NoteWithdrawn { note }]);
        }
    }

    pub(super) fn say(&mut self, at: Timestamp, statements: &[Statement]) {
        self.state(at, statements);
        self.gateway.settle();
        self.check();
    }
}
