//! What people say afterwards: answers, notes, readings left out, and all of it taken back.

use super::{Home, later, person_id};
use jiff::Timestamp;
use quietcuff::household::{Note, Statement};

impl Home {
    pub(super) fn people_say(&mut self, at: Timestamp) {
        if self.gateway.full {
            return;
        }
        match self.random.between(0, 199) {
            0..6 => self.answer(at),
            6..8 => self.discard(at),
            8..12 => self.note(at),
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
