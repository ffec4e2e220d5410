//! How often each thing happened. What never does is not tested, and fails the run.

use std::collections::BTreeMap;
use std::fmt;

/// Everything that a run has to have had.
const EXPECTED: [&str; 105] = [
    "answers: person, late",
    "answers: time, late",
    "answers: withdrawn",
    "delivery: a conflict",
    "delivery: a corrected person undone",
    "delivery: a corrected time undone",
    "delivery: a person corrected after it was sent",
    "delivery: a person is chosen",
    "delivery: a person is not chosen any more",
    "delivery: a person is removed from the lists",
    "delivery: a time corrected after it was sent",
    "delivery: a transaction refused",
    "delivery: a week withdrawn",
    "delivery: a withdrawal undone",
    "delivery: an average taken back",
    "delivery: an entry refused",
    "delivery: answer cut short",
    "delivery: answer lost",
    "delivery: answered in part",
    "delivery: average compared",
    "delivery: by a clock that is wrong",
    "delivery: created",
    "delivery: everything compared",
    "delivery: killed after a question arrived",
    "delivery: killed before a question arrives",
    "delivery: killed between two steps",
    "delivery: no average of too few",
    "delivery: no connection",
    "delivery: no room to write down what goes",
    "delivery: not let in",
    "delivery: power lost after a question arrived",
    "delivery: power lost before a question arrives",
    "delivery: replaced",
    "delivery: server asks for patience",
    "delivery: server cannot now",
    "delivery: server down for days",
    "delivery: taken back",
    "delivery: what was refused is let go again",
    "delivery: withdrawn after it was sent",
    "gateway: boots without its own time",
    "gateway: crash after the commit, before settling",
    "gateway: crash between two frames of a burst",
    "gateway: crash while rebuilding",
    "gateway: crash while settled",
    "gateway: disk full",
    "gateway: disk full through a crash",
    "gateway: learns the time",
    "gateway: off while people measure",
    "home: moves to another zone",
    "home: summer time begins or ends",
    "monitor: battery lost",
    "monitor: clock set in the hours between connections",
    "monitor: clock set to the wall",
    "monitor: clock set wrong",
    "monitor: confirmation lost",
    "monitor: garbage octets",
    "monitor: hangs up in a burst",
    "monitor: heard before it is enrolled",
    "monitor: impossible stamp",
    "monitor: replaced",
    "monitor: sends what it sent before",
    "monitor: stamp from the future",
    "monitor: stored records told late",
    "monitor: unknown user",
    "monitor: user that nobody named",
    "monitor: without stamps",
    "people: discard a reading",
    "people: discard withdrawn",
    "people: forget a sitting",
    "people: forget the second reading",
    "people: measure too soon",
    "people: move, loose cuff, wrong position",
    "people: note withdrawn",
    "people: notes",
    "people: press the other one's button",
    "people: say the kind of a reading",
    "people: say two things that conflict",
    "people: say whose a button is from a moment on",
    "people: swap monitors",
    "people: the cuff gives up",
    "period: average compared",
    "period: too few readings",
    "reading: counted",
    "reading: nobody's",
    "reading: set aside",
    "reading: standing, lying or at night",
    "reading: time unknown",
    "reminders: a missed session had to be told",
    "reminders: a session due had to be told",
    "reminders: a silent monitor had to be told",
    "reminders: a very high or low reading had to be told",
    "reminders: killed after it was sent",
    "reminders: killed before it was sent",
    "reminders: lapsed, and named when it could be",
    "reminders: receiver down for a day",
    "reminders: sent",
    "reminders: the answer was lost",
    "reminders: the end of a period had to be told",
    "reminders: to who hears of one person",
    "reminders: urgent in quiet hours",
    "step: checked",
    "step: rebuilt and the same",
    "very high: measured again, for the clinic today",
    "very high: settled",
    "very high: to be measured again",
];

#[derive(Clone, Default, PartialEq, Eq, Debug)]
pub(crate) struct Coverage(BTreeMap<&'static str, u64>);

impl Coverage {
    pub(crate) fn saw(&mut self, what: &'static str) {
        self.saw_many(what, 1);
    }

    pub(crate) fn saw_many(&mut self, what: &'static str, times: u64) {
        *self.0.entry(what).or_default() += times;
    }

    pub(crate) fn add(&mut self, other: &Self) {
        for (what, times) in &other.0 {
            self.saw_many(what, *times);
        }
    }

    /// What should have happened and did not.
    pub(crate) fn missing(&self) -> Vec<&'static str> {
        EXPECTED
            .into_iter()
            .filter(|what| !self.0.contains_key(what))
            .collect()
    }
}

impl fmt::Display for Coverage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (what, times) in &self.0 {
            writeln!(f, "{times:>10}  {what}")?;
        }
        Ok(())
    }
}
