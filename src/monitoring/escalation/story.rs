//! Judging: the readings, symptoms and answers of one person in order of time, by the table.

use super::words;
use crate::household::{Condition, Note, Person, PersonId, StatedNote};
use crate::monitoring::levels::{
    About, Alert, End, LEVELS, LOOK_BACK, Level, LevelRow, Numbers, Reach, SYMPTOMS_STAND, TOGETHER, Undated,
    WITH_SYMPTOMS,
};
use crate::monitoring::symptoms::{Named, named};
use crate::reading::{Precision, Reading, pressures};
use crate::sitting::{SITTING_GAP, order};
use crate::technique::{Context, Detected, Reason, between, detected, possible};
use jiff::civil::Time;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};

/// Readings in a row that settle what was measured again, or noted with symptoms; a single reading is settled
/// by one (own choice).
const SETTLE_CONFIRMED: u8 = 2;
/// A repeat that comes sooner settles nothing: the newer AHA page for patients waits 1 to 2 minutes.
const SOONER: SignedDuration = SignedDuration::from_secs(60);

/// Everything about one person that must not wait at this moment, most urgent first; about nobody's readings
/// without a person. Readings and notes of others are passed over.
///
/// A reading that technique set aside still counts here, because the answer to a doubtful high reading is to
/// measure again, not to wait; one that is impossible or that the person discarded does not.
pub fn alerts(
    now: Timestamp,
    who: Option<&PersonId>,
    readings: &[Reading],
    context: &Context<'_>,
) -> Vec<Alert> {
    let mut standing = story(now, who, readings, context);
    standing.retain(|alert| alert.stands(now));
    standing.sort_by_key(|alert| std::cmp::Reverse((alert.level, alert.reading.is_some(), alert.at)));
    standing
}

/// Every alert that was raised until this moment, in order of time, with what became of it.
///
/// Every reading that is given has come: one that is dated ahead of this moment, or of which nobody knows when it was
/// taken, is taken as it was received (own choice). One of unknown time can raise an alert and settles none.
pub fn story(
    now: Timestamp,
    who: Option<&PersonId>,
    readings: &[Reading],
    context: &Context<'_>,
) -> Vec<Alert> {
    let person = who
        .and_then(|id| context.household.people.get(id))
        .map(|(person, _removed)| person);
    let mut events: Vec<(Timestamp, u8, Event<'_>)> = Vec::new();
    let mut mine: Vec<&Reading> = readings
        .iter()
        .filter(|reading| reading.person.as_ref() == who && reading.discarded.is_none())
        .filter(|reading| pressures(reading).is_some_and(|(high, low)| possible(high, low)))
        .collect();
    mine.sort_by(|a, b| order(a, b));
    for reading in mine {
        // Of unknown time, or dated ahead: it was there when it was received.
        let received = reading.received_at.min(now);
        let came = reading.time.at.filter(|at| *at <= now).unwrap_or(received);
        events.push((came, 0, Event::Reading(reading)));
    }
    let since = now.checked_sub(LOOK_BACK).unwrap_or(Timestamp::MIN);
    let first = events.first().map_or(since, |(at, ..)| *at).min(since);
    for note in between(context.notes, first, now) {
        if who.is_some() && note.person.as_ref() == who {
            events.push((note.at, 1, Event::Note(note)));
        }
    }
    for (alert, answer) in &context.household.answers {
        if answer.at <= now {
            events.push((answer.at, 2, Event::Answer(alert)));
        }
    }
    events.sort_by_key(|(at, kind, _)| (*at, *kind));
    let mut story = Story::of(who, person, context.zone, now);
    for (at, _, event) in events {
        story.takes(at, &event);
    }
    story.alerts
}

enum Event<'a> {
    Reading(&'a Reading),
    Note(&'a StatedNote),
    Answer(&'a str),
}

struct Story<'a> {
    who: Option<&'a PersonId>,
    pregnant: bool,
    /// From when on the levels of pregnancy do not hold any more.
    pregnant_until: Option<Timestamp>,
    child: bool,
    courses: Vec<Course<'a>>,
    /// When a symptom of the list was last noted.
    symptoms: Option<Timestamp>,
    /// When the last reading was taken.
    last: Option<Timestamp>,
    /// What is only to be noted of its pulse.
    pulse: Option<usize>,
    alerts: Vec<Alert>,
}

/// One direction: high, low, slow, fast.
struct Course<'a> {
    rows: Vec<&'static LevelRow>,
    /// Alerts that stand.
    open: Vec<Open>,
    /// What the readings together show.
    run: Option<Run<'a>>,
}

#[derive(Clone, Copy)]
struct Open {
    alert: usize,
    row: &'static LevelRow,
    confirmed: bool,
    /// So many readings in a row were clearly on the other side.
    back: u8,
}

#[derive(Clone, Copy)]
struct Run<'a> {
    /// The most urgent row that was reached, by its place.
    row: usize,
    level: Level,
    confirmed: bool,
    /// When that row was first reached.
    since: Timestamp,
    /// When any was last reached, and by which reading.
    last: Timestamp,
    reading: &'a Reading,
    alert: usize,
}

/// Which rows of the table make a course.
const COURSES: [fn(Reach) -> bool; 4] = [
    |reach| matches!(reach, Reach::High(..)),
    |reach| matches!(reach, Reach::Low(..)),
    |reach| matches!(reach, Reach::Slow(_)),
    |reach| matches!(reach, Reach::Fast(_)),
];

fn rows(same: fn(Reach) -> bool, pregnant: bool, child: bool) -> Vec<&'static LevelRow> {
    let holds = |row: &&LevelRow| match row.about {
        About::VeryHighInPregnancy | About::HighInPregnancy => pregnant,
        About::VeryHigh => !pregnant,
        About::VeryLow | About::Low => !child,
        _ => true,
    };
    LEVELS
        .iter()
        .filter(|row| same(row.reach))
        .filter(holds)
        .collect()
}

impl<'a> Story<'a> {
    fn of(who: Option<&'a PersonId>, person: Option<&Person>, zone: &TimeZone, now: Timestamp) -> Self {
        let pregnant = person.is_some_and(|person| person.conditions.contains(&Condition::Pregnancy));
        let ends = person.and_then(Person::pregnancy_ends);
        let pregnant_until = ends.and_then(|day| zone.to_timestamp(day.to_datetime(Time::midnight())).ok());
        let year = zone.to_datetime(now).year();
        // Only the year of birth is known, so somebody counts as under 18 until they cannot be any more.
        let child = person
            .and_then(|person| person.born)
            .is_some_and(|born| i32::from(year) - i32::from(born) <= 18);
        let course = |same: &fn(Reach) -> bool| Course {
            rows: rows(*same, pregnant, child),
            open: Vec::new(),
            run: None,
        };
        Self {
            who,
            pregnant,
            pregnant_until,
            child,
            courses: COURSES.iter().map(course).collect(),
            symptoms: None,
            last: None,
            pulse: None,
            alerts: Vec::new(),
        }
    }

    fn takes(&mut self, at: Timestamp, event: &Event<'a>) {
        if self.pregnant && self.pregnant_until.is_some_and(|until| at >= until) {
            // What stands goes on to stand, until it is answered or settled by the level that raised it.
            self.pregnant = false;
            for (course, same) in self.courses.iter_mut().zip(COURSES) {
                course.rows = rows(same, false, self.child);
                course.run = None;
            }
        }
        match event {
            Event::Reading(reading) => self.reads(at, reading),
            Event::Note(note) => self.hears(at, &note.what),
            Event::Answer(key) => {
                let answered =
                    |alert: &&mut Alert| alert.key() == **key && alert.end.is_none_or(|(end, _)| at < end);
                if let Some(alert) = self.alerts.iter_mut().find(answered) {
                    alert.end = Some((at, End::Answered));
                }
            }
        }
        let alerts = &self.alerts;
        let ended = |open: &Open| alerts.get(open.alert).is_none_or(|alert| alert.end.is_some());
        for course in &mut self.courses {
            course.open.retain(|open| !ended(open));
        }
    }

    fn reads(&mut self, at: Timestamp, reading: &'a Reading) {
        let soon = reading.time.precision == Precision::Second
            && self.last.is_some_and(|last| at.duration_since(last) < SOONER);
        let sure = !soon && reading.time.at.is_some() && !is_doubtful(reading);
        let symptomatic = self
            .symptoms
            .is_some_and(|noted| at.duration_since(noted) <= WITH_SYMPTOMS);
        self.last = Some(at);
        for place in 0..self.courses.len() {
            let Some(course) = self.courses.get_mut(place) else {
                continue;
            };
            match course.rows.iter().position(|row| row.reached_by(reading)) {
                Some(row) => {
                    let (run, replaces) = course.rises(row, at, reading, symptomatic);
                    if replaces {
                        self.raise(place, run, at);
                    } else if let Some(alert) = self.alerts.get_mut(run.alert) {
                        repeat_later(alert, course.rows.get(run.row).copied(), at);
                    }
                }
                None => self.falls(place, at, reading, sure),
            }
        }
        self.pulse_noted(at, reading);
    }

    /// Raises what a run of readings calls for now, in the place of what it called for before.
    fn raise(&mut self, place: usize, run: Run<'a>, at: Timestamp) {
        let Some(course) = self.courses.get_mut(place) else {
            return;
        };
        let Some(row) = course.rows.get(run.row).copied() else {
            return;
        };
        // What was measured again stands until it is answered or settled, whatever another day brings.
        for open in course
            .open
            .iter()
            .filter(|open| !open.confirmed || open.alert == run.alert)
        {
            if let Some(alert) = self.alerts.get_mut(open.alert) {
                alert.end = Some((at, End::Overtaken));
            }
        }
        let asks = matches!(run.level, Level::MeasureAgain)
            || run.level == Level::ContactNow && row.about == About::VeryHighInPregnancy;
        let end = (run.level <= Level::TellClinic).then(|| (later(at, SITTING_GAP), End::Passed));
        let alert = self.alerts.len();
        let undated = Undated::of(run.reading, at);
        course.open.push(Open {
            alert,
            row,
            confirmed: run.confirmed,
            back: 0,
        });
        course.run = Some(Run { alert, ..run });
        self.alerts.push(Alert {
            about: row.about,
            level: run.level,
            at,
            person: self.who.cloned(),
            reading: Some(run.reading.id.clone()),
            repeat_at: row.repeat_after.filter(|_| asks).map(|after| later(at, after)),
            undated,
            say: words::dated(words::of_reading(row, run.level, run.reading), undated),
            source: row.source,
            end,
        });
    }

    /// A reading that reaches no row of a course.
    fn falls(&mut self, place: usize, at: Timestamp, reading: &Reading, sure: bool) {
        let Some(course) = self.courses.get_mut(place) else {
            return;
        };
        let mut settled = None;
        for open in &mut course.open {
            let Some(alert) = self.alerts.get_mut(open.alert) else {
                continue;
            };
            if !sure || !open.row.settled_by(reading) {
                open.back = if sure { 0 } else { open.back };
                repeat_later(alert, Some(open.row), at);
                continue;
            }
            open.back += 1;
            let enough = open.back >= if open.confirmed { SETTLE_CONFIRMED } else { 1 };
            // What was called an emergency is not taken back by a number.
            if enough && alert.level < Level::Emergency {
                alert.end = Some((at, End::Settled));
                settled = Some(open.row);
            }
        }
        let said = settled.filter(|row| matches!(row.about, About::VeryHigh | About::VeryHighInPregnancy));
        if let Some(row) = said {
            self.alerts.push(Alert {
                about: row.about,
                level: Level::TellClinic,
                at,
                person: self.who.cloned(),
                reading: Some(reading.id.clone()),
                undated: None,
                repeat_at: None,
                say: words::of_reading(row, Level::TellClinic, reading),
                source: row.source,
                end: Some((later(at, SITTING_GAP), End::Passed)),
            });
        }
    }

    /// What is only to be noted is said while the cuff is on, and of the last reading.
    fn pulse_noted(&mut self, at: Timestamp, reading: &Reading) {
        if let Some(alert) = self.pulse.take().and_then(|noted| self.alerts.get_mut(noted))
            && alert.stands(at)
        {
            alert.end = Some((at, End::Overtaken));
        }
        let urgent = |row: &LevelRow| row.about == About::Pulse && row.reached_by(reading);
        if Numbers::of(reading).pulse_is_noted() && !LEVELS.iter().any(urgent) {
            self.pulse = Some(self.alerts.len());
            self.alerts.push(Alert {
                about: About::Pulse,
                level: Level::Note,
                at,
                person: self.who.cloned(),
                reading: Some(reading.id.clone()),
                undated: Undated::of(reading, at),
                repeat_at: None,
                say: words::dated(words::pulse(reading, Level::Note), Undated::of(reading, at)),
                source: "own choice, looser than NEWS2",
                end: Some((later(at, SITTING_GAP), End::Passed)),
            });
        }
    }

    /// What somebody notes of how they feel.
    fn hears(&mut self, at: Timestamp, note: &Note) {
        let Note::Symptoms { symptoms } = note else {
            return;
        };
        let named: Vec<Named> = symptoms.iter().map(|words| named(words)).collect();
        let level = |named: &Named| match named {
            Named::Chosen(symptom) => Some((symptom.level_for(self.pregnant), symptom.source)),
            _ => None,
        };
        let chosen = named.iter().filter_map(level).max_by_key(|(level, _)| *level);
        let asked = chosen.is_none() && named.contains(&Named::Unknown);
        if !asked {
            // Whoever chose from the list, or said that it is none of it, has been asked.
            for alert in &mut self.alerts {
                if alert.level == Level::Ask && alert.stands(at) {
                    alert.end = Some((at, End::Overtaken));
                }
            }
        }
        let raised = chosen
            .or_else(|| asked.then_some((Level::Ask, "own choice: words of one's own change no level")));
        let Some((level, source)) = raised else {
            return;
        };
        for alert in &mut self.alerts {
            let same = alert.about == About::Symptoms && alert.level <= level && alert.stands(at);
            if same {
                alert.end = Some((at, End::Overtaken));
            }
        }
        self.alerts.push(Alert {
            about: About::Symptoms,
            level,
            at,
            person: self.who.cloned(),
            reading: None,
            undated: None,
            repeat_at: None,
            say: words::symptoms(level),
            source,
            end: (level < Level::ContactNow).then(|| (later(at, SYMPTOMS_STAND), End::Passed)),
        });
        if chosen.is_some() {
            self.symptoms = Some(at);
            self.with_symptoms(at);
        }
    }

    /// Readings of the hours before mean more with a symptom.
    fn with_symptoms(&mut self, at: Timestamp) {
        for place in 0..self.courses.len() {
            let Some(course) = self.courses.get(place) else {
                continue;
            };
            let Some(run) = course
                .run
                .filter(|run| at.duration_since(run.last) <= WITH_SYMPTOMS)
            else {
                continue;
            };
            let stands = course.open.iter().any(|open| open.alert == run.alert)
                || self
                    .alerts
                    .get(run.alert)
                    .is_some_and(|alert| alert.level == Level::TellClinic);
            let with = course
                .rows
                .get(run.row)
                .map_or(run.level, |row| row.with_symptoms);
            if stands && with > run.level {
                let run = Run {
                    level: with,
                    confirmed: true,
                    ..run
                };
                self.raise(place, run, at);
            }
        }
    }
}

impl<'a> Course<'a> {
    /// What a reading that reaches a row makes of its run, and whether something else is to be said now.
    fn rises(
        &mut self,
        row: usize,
        at: Timestamp,
        reading: &'a Reading,
        symptomatic: bool,
    ) -> (Run<'a>, bool) {
        for open in &mut self.open {
            open.back = 0;
        }
        let of = |place: usize| self.rows.get(place).copied();
        let first = of(row).map_or(Level::Note, |row| row.first);
        let before = self.run.filter(|run| at.duration_since(run.last) <= TOGETHER);
        let mut run = match before {
            None => Run {
                row,
                level: first,
                confirmed: false,
                since: at,
                last: at,
                reading,
                alert: usize::MAX,
            },
            // The second of two, and worse.
            Some(before) if row < before.row => Run {
                row,
                level: first.max(of(before.row).map_or(first, |row| row.again)),
                since: at,
                last: at,
                reading,
                ..before
            },
            Some(before) => {
                let again = of(before.row)
                    .filter(|known| row == before.row && at.duration_since(before.since) >= known.again_after)
                    .map(|known| known.again);
                let level = match again {
                    Some(again) if before.level == Level::MeasureAgain => again,
                    Some(again) => before.level.max(again),
                    None => before.level,
                };
                Run {
                    level,
                    confirmed: before.confirmed || again.is_some(),
                    last: at,
                    reading,
                    ..before
                }
            }
        };
        if symptomatic && let Some(known) = of(run.row) {
            run.confirmed = true;
            run.level = run.level.max(known.with_symptoms);
        }
        let stands = before.is_some_and(|before| self.open.iter().any(|open| open.alert == before.alert));
        let says_more = before.is_none_or(|before| before.level != run.level || before.row != run.row);
        // What is for the clinic passes by itself, and is said once.
        let replaces = says_more || !stands && run.level > Level::TellClinic;
        if !replaces {
            self.run = Some(run);
        }
        (run, replaces)
    }
}

/// A reading after the time that was said, and still not clearly on the other side: measure again, later.
fn repeat_later(alert: &mut Alert, row: Option<&LevelRow>, at: Timestamp) {
    let after = row.and_then(|row| row.repeat_after);
    if let (Some(due), Some(after)) = (alert.repeat_at, after)
        && at >= due
    {
        alert.repeat_at = Some(later(at, after));
    }
}

/// The monitor itself doubts it.
fn is_doubtful(reading: &Reading) -> bool {
    detected(reading).any(|(reason, detected)| {
        detected == Detected::Yes
            && matches!(
                reason,
                Reason::BodyMovement | Reason::CuffTooLoose | Reason::ImproperPosition
            )
    })
}

fn later(at: Timestamp, by: SignedDuration) -> Timestamp {
    at.checked_add(by).unwrap_or(Timestamp::MAX)
}
