//! The weeks after giving birth: until when a person counts as pregnant.

use super::{Condition, Person};
use jiff::ToSpan;
use jiff::civil::Date;

/// For so many weeks after birth the levels of pregnancy hold.
pub const WEEKS_AFTER_BIRTH: i8 = 8;
/// Where that comes from.
pub const AFTER_BIRTH_SOURCE: &str = "NICE NG133: blood pressure is reviewed 6 to 8 weeks after birth; that the levels of pregnancy hold until the later of \
     the two is our own choice";

impl Person {
    /// The first day on which the levels of pregnancy do not hold any more; `None` where they never held, or where
    /// nobody has said when the child was born.
    pub fn pregnancy_ends(&self) -> Option<Date> {
        let born = self
            .gave_birth
            .filter(|_| self.conditions.contains(&Condition::Pregnancy))?;
        Some(
            born.checked_add(i32::from(WEEKS_AFTER_BIRTH).weeks())
                .unwrap_or(Date::MAX),
        )
    }

    /// Takes a birth for what it says: there was a pregnancy, and its levels hold for some weeks more, whether anybody
    /// named the condition or not.
    #[must_use]
    pub fn as_a_birth_says(mut self) -> Self {
        if self.gave_birth.is_some() && !self.conditions.contains(&Condition::Pregnancy) {
            self.conditions.insert(0, Condition::Pregnancy);
        }
        self
    }

    /// Whether the levels of pregnancy hold on this day.
    pub fn is_pregnant_on(&self, day: Date) -> bool {
        self.conditions.contains(&Condition::Pregnancy) && self.pregnancy_ends().is_none_or(|end| day < end)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn eight_weeks_are_fifty_six_days() {
        let mut person = Person {
            conditions: vec![Condition::Pregnancy],
            ..Person::default()
        };
        assert!(person.is_pregnant_on(Date::MAX), "nobody has said when it ends");
        person.gave_birth = Some(date(2026, 3, 1));
        for (day, holds) in [
            (date(2026, 2, 1), true),
            (date(2026, 3, 1), true),
            (date(2026, 4, 25), true),
            (date(2026, 4, 26), false),
        ] {
            assert_eq!(person.is_pregnant_on(day), holds, "{day}");
        }
        person.gave_birth = Some(Date::MAX);
        assert!(person.is_pregnant_on(date(2026, 4, 26)));
        person.conditions.clear();
        assert!(!person.is_pregnant_on(date(2026, 3, 2)) && person.pregnancy_ends().is_none());
        assert!(person.as_a_birth_says().is_pregnant_on(date(2026, 3, 2)));
        assert!(
            !Person::default()
                .as_a_birth_says()
                .is_pregnant_on(date(2026, 3, 2))
        );
    }
}
