//! What changes of a person: single facts, so that whoever changes one leaves the others as they are.

use super::{Fact, Person};

impl Person {
    /// What differs from this person in another version of them.
    pub fn changes_to(&self, other: &Self) -> Vec<Fact> {
        // Taken apart, so that a fact that is added is not forgotten here.
        let Self {
            label,
            born,
            born_on,
            record_number,
            group,
            arm_cm,
            arm,
            morning,
            evening,
            protocol,
            threshold,
            target,
            conditions,
            gave_birth,
            strict,
        } = other.clone();
        [
            (self.label != label).then_some(Fact::Label(label)),
            (self.born != born).then_some(Fact::Born(born)),
            (self.born_on != born_on).then_some(Fact::BornOn(born_on)),
            (self.record_number != record_number).then_some(Fact::RecordNumber(record_number)),
            (self.group != group).then_some(Fact::Group(group)),
            (self.arm_cm != arm_cm).then_some(Fact::ArmCm(arm_cm)),
            (self.arm != arm).then_some(Fact::Arm(arm)),
            (self.morning != morning).then_some(Fact::Morning(morning)),
            (self.evening != evening).then_some(Fact::Evening(evening)),
            (self.protocol != protocol).then_some(Fact::Protocol(protocol)),
            (self.threshold != threshold).then_some(Fact::Threshold(threshold)),
            (self.target != target).then_some(Fact::Target(target)),
            (self.conditions != conditions).then_some(Fact::Conditions(conditions)),
            (self.gave_birth != gave_birth).then_some(Fact::GaveBirth(gave_birth)),
            (self.strict != strict).then_some(Fact::Strict(strict)),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    /// The person after one change.
    pub fn change(&mut self, fact: &Fact) {
        match fact.clone() {
            Fact::Label(label) => self.label = label,
            Fact::Born(born) => self.born = born,
            Fact::BornOn(born_on) => self.born_on = born_on,
            Fact::RecordNumber(number) => self.record_number = number,
            Fact::Group(group) => self.group = group,
            Fact::ArmCm(arm_cm) => self.arm_cm = arm_cm,
            Fact::Arm(arm) => self.arm = arm,
            Fact::Morning(morning) => self.morning = morning,
            Fact::Evening(evening) => self.evening = evening,
            Fact::Protocol(protocol) => self.protocol = protocol,
            Fact::Threshold(threshold) => self.threshold = threshold,
            Fact::Target(target) => self.target = target,
            Fact::Conditions(conditions) => self.conditions = conditions,
            Fact::GaveBirth(gave_birth) => self.gave_birth = gave_birth,
            Fact::Strict(strict) => self.strict = strict,
        }
    }

    /// This person with what has changed from `base` to `other`.
    #[must_use]
    pub fn with_changes(&self, base: &Self, other: &Self) -> Self {
        let mut person = self.clone();
        for fact in base.changes_to(other) {
            person.change(&fact);
        }
        person
    }
}
