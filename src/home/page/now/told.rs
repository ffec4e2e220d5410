//! A scene in words: what to do next, and what else to say.

use super::scene::{Scene, said};
use crate::monitoring::escalation::{About, Alert, Level};
use crate::monitoring::next::{PlanCourse, Step};
use crate::monitoring::stated::Stated;
use crate::monitoring::urgent;
use crate::words::{Value, Words};
use jiff::Timestamp;

/// What is told of it: the step by its name in the style sheet, the heading, what else to say, and until
/// when.
pub(super) struct Told {
    pub(super) step: &'static str,
    pub(super) heading: String,
    pub(super) say: Vec<String>,
    pub(super) until: Option<Timestamp>,
}

impl Told {
    fn new(step: &'static str, heading: String, say: Vec<String>) -> Self {
        Self {
            step,
            heading,
            say,
            until: None,
        }
    }

    const fn until(mut self, until: Option<Timestamp>) -> Self {
        self.until = until;
        self
    }
}

impl Scene {
    pub(super) fn alert(&self, alert: &Alert, words: &Words) -> String {
        let mut readings = self.alarming.iter();
        let reading = readings.find(|reading| Some(&reading.id) == alert.reading.as_ref());
        let said = urgent::said(alert, reading, words, None);
        if alert.person.is_none() {
            format!("{said} {}", words.say("told-reading-is-nobodys"))
        } else {
            said
        }
    }

    pub(super) fn told(&self, known: &Stated, words: &Words) -> Told {
        let emergency = self
            .next
            .alerts
            .first()
            .is_some_and(|alert| alert.level == Level::Emergency);
        if self.cuff.is_some() && !emergency {
            return Told::new(
                "measuring",
                words.say("step-measuring"),
                vec![words.say("step-measuring-say")],
            );
        }
        self.of(self.next.state, known, words)
    }

    pub(super) fn of(&self, step: Step, known: &Stated, words: &Words) -> Told {
        let grounds = &self.next.grounds;
        let until = self.next.until;
        let time = |at: Timestamp| words.time(known.zones.civil(at).time());
        let slot = |name: &str| {
            grounds.slot.map(|slot| {
                words.with(
                    name,
                    &[("slot", words.say(&format!("slot-{}", slot.name())).into())],
                )
            })
        };
        let limit = i64::from(grounds.apart_mmhg.unwrap_or_default());
        let numbers = [
            ("number", (grounds.counted + 1).to_string().into()),
            ("wanted", grounds.wanted.to_string().into()),
            ("counted", grounds.counted.to_string().into()),
        ];
        match step {
            Step::Rest => self
                .resting(words)
                .unwrap_or_else(|| self.rest_due(until, slot("step-rest-slot"), words, &numbers, &time)),
            Step::Wait => Told::new(
                "wait",
                words.say("step-wait"),
                vec![match (grounds.apart_mmhg, grounds.counted) {
                    (Some(_), 2) => words.with("step-wait-third", &[("limit", limit.into())]),
                    (_, 0 | 1) if grounds.wanted <= 2 => words.say("step-wait-second"),
                    _ => words.with("step-wait-more", &numbers),
                }],
            )
            .until(until),
            Step::Second if grounds.wanted <= 2 && grounds.counted == 1 => Told::new(
                "second",
                words.say("step-second"),
                vec![words.say("step-second-say")],
            ),
            Step::Third if grounds.apart_mmhg.is_some() => Told::new(
                "third",
                words.say("step-third"),
                vec![words.with("step-third-say", &[("limit", limit.into())])],
            ),
            Step::Second | Step::Third => Told::new(
                "second",
                words.say("step-second"),
                vec![words.with("step-more-say", &numbers)],
            ),
            Step::Repeat => self.repeat(words),
            Step::Done => {
                let first = if grounds.sitting {
                    Some(words.say("step-done-say"))
                } else {
                    slot("step-done-between")
                };
                let say = first.into_iter().chain([self.coming(known, words)]).collect();
                Told::new("done", words.say("step-done"), say)
            }
            Step::NotDue => self.not_due(known, words),
            Step::SeekHelp => self.help(words),
        }
    }

    /// The rest before the first reading, while it lasts and once it is over; `None` before it has begun.
    fn resting(&self, words: &Words) -> Option<Told> {
        let rest = self.rest?;
        let (step, until) = if self.now < rest {
            ("resting", Some(rest))
        } else {
            ("rested", None)
        };
        let say = vec![words.say(&format!("step-{step}-say"))];
        Some(Told::new(step, words.say(&format!("step-{step}")), say).until(until))
    }

    /// The last reading was set aside, and is taken again.
    fn repeat(&self, words: &Words) -> Told {
        let until = self.next.until;
        let mut say = vec![words.say("step-repeat-say")];
        say.extend(self.next.grounds.set_aside.map(|reason| said(reason, words)));
        let heading = if until.is_some() {
            "step-repeat-wait"
        } else {
            "step-repeat"
        };
        Told::new("repeat", words.say(heading), say).until(until)
    }

    fn rest_due(
        &self,
        until: Option<Timestamp>,
        due: Option<String>,
        words: &Words,
        numbers: &[(&str, Value<'_>)],
        time: &dyn Fn(Timestamp) -> String,
    ) -> Told {
        if let Some(until) = until.filter(|until| *until > self.now) {
            let heading = words.with("step-rest-wait", &[("time", time(until).into())]);
            return Told::new("rest", heading, vec![words.say("step-rest-wait-say")]);
        }
        let mut say = vec![words.say("step-rest-say")];
        say.extend(due);
        if self.next.grounds.wanted > 0 {
            say.push(words.with("step-rest-again", numbers));
        }
        Told::new("rest", words.say("step-rest"), say)
    }

    /// Nothing is due: not begun, before the first day, between two sessions, or after the last one.
    fn not_due(&self, known: &Stated, words: &Words) -> Told {
        let today = known.zones.civil(self.now).date();
        let mut say = vec![self.coming(known, words), words.say("step-not-due-say")];
        match self.next.grounds.course {
            PlanCourse::NotBegun => {
                let say = vec![words.say("not-begun-say")];
                return Told::new("not-begun", words.say("not-begun"), say);
            }
            PlanCourse::Over(_) => {
                let say = vec![words.say("period-over-next")];
                return Told::new("over", words.say("step-over"), say);
            }
            PlanCourse::Before(from) => {
                say.insert(
                    0,
                    words.with("days-begin", &[("day", words.day(from, today).into())]),
                );
            }
            PlanCourse::Runs => {}
        }
        Told::new("not-due", words.say("step-not-due"), say)
    }

    fn help(&self, words: &Words) -> Told {
        let Some(alert) = self.next.alerts.first() else {
            return Told::new("help", words.say("help-today"), Vec::new());
        };
        let mut say = vec![self.alert(alert, words)];
        if alert.level < Level::Emergency {
            say.push(words.say("emergency-if"));
        }
        let step = if alert.level == Level::Emergency {
            "emergency"
        } else {
            "help"
        };
        let waiting = self.next.until.is_some_and(|until| until > self.now);
        Told::new(step, words.say(heading(alert, waiting)), say).until(self.next.until)
    }

    fn coming(&self, known: &Stated, words: &Words) -> String {
        let Some((slot, opens)) = self.next.grounds.coming else {
            return words.say("coming-none");
        };
        let (today, opens) = (known.zones.civil(self.now).date(), known.zones.civil(opens));
        words.with(
            "coming",
            &[
                ("slot", words.say(&format!("slot-{}", slot.name())).into()),
                ("day", words.day(opens.date(), today).into()),
                ("time", words.time(opens.time()).into()),
            ],
        )
    }
}

/// What to do about an alert, in a few words.
fn heading(alert: &Alert, waiting: bool) -> &'static str {
    let lie_down = matches!(alert.about, About::Low | About::VeryLow);
    match alert.level {
        Level::MeasureAgain if waiting && lie_down => "help-low",
        Level::MeasureAgain if waiting => "help-wait",
        level => heading_of(level),
    }
}

/// The same by its level alone.
pub(in crate::home::page) const fn heading_of(level: Level) -> &'static str {
    match level {
        Level::Emergency => "help-emergency",
        Level::ContactNow => "help-now",
        Level::ContactToday => "help-today",
        Level::MeasureAgain => "help-again",
        Level::Ask => "help-ask",
        Level::TellClinic | Level::Note => "help-tell",
    }
}
