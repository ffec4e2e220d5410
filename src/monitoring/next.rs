//! What the person with the cuff should do at this moment, from the readings so far.
//!
//! A pure function of the moment, the readings and the notes, so that the command, the page and the reminders
//! say the same. What must not wait (see [`super::escalation`]) outranks the steps of a session, and the step
//! that it outranks is told as well.

use super::escalation::{About, Alert, LOOK_BACK, Level, alerts};
use super::plan::Plan;
use super::protocol::Protocol;
use super::protocols::{DEFAULT, Protocols, UnknownProtocol};
use crate::household::{Household, PersonId, StatedNote, Zones};
use crate::reading::{Precision, Reading};
use crate::sitting::{SITTING_GAP, Slot, Windows, order, sittings};
use crate::technique::session::Session;
use crate::technique::{Context, Disposition, Judged, Judgement, Reason, judge, settled_at};
use crate::words::said::{Part, Said};
use jiff::civil::{Date, DateTime};
use jiff::{SignedDuration, Timestamp, ToSpan};

/// What to do.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Step {
    /// A session is due: rest, then take the first reading.
    Rest,
    /// Keep the cuff on until the time given.
    Wait,
    /// Take the second reading.
    Second,
    /// Take a third reading.
    Third,
    /// The session is complete.
    Done,
    /// The last reading was set aside: take it again.
    Repeat,
    /// No session is due.
    NotDue,
    /// Something must not wait.
    SeekHelp,
}

impl Step {
    /// As contracts print it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Rest => "rest",
            Self::Wait => "wait",
            Self::Second => "second",
            Self::Third => "third",
            Self::Done => "done",
            Self::Repeat => "repeat",
            Self::NotDue => "not-due",
            Self::SeekHelp => "seek-help",
        }
    }
}

/// What to do next, and why.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Next {
    /// The person who is to take the step.
    pub person: PersonId,
    /// The step that comes next.
    pub state: Step,
    /// Until when this holds, where it ends by itself.
    pub until: Option<Timestamp>,
    /// Why, in a few words.
    pub because: Said,
    /// What to tell the person.
    pub say: Said,
    /// The step that seeking help outranks.
    pub otherwise: Option<Step>,
    /// What must not wait, most urgent first.
    pub alerts: Vec<Alert>,
    /// What the step rests on, for those who say it in other words.
    pub grounds: Grounds,
}

/// What a step rests on.
#[derive(Clone, Copy, PartialEq, Eq, Default, Debug)]
pub struct Grounds {
    /// Readings of the session at hand that count.
    pub counted: usize,
    /// How many it needs.
    pub wanted: usize,
    /// Its first two lie further apart than this many mmHg, so that a third is asked for.
    pub apart_mmhg: Option<u16>,
    /// Why its last reading was set aside.
    pub set_aside: Option<Reason>,
    /// The part of the day whose session this is about.
    pub slot: Option<Slot>,
    /// The cuff may still be on: the last reading is of this sitting.
    pub sitting: bool,
    /// The next session that is asked for, and when its hours begin.
    pub coming: Option<(Slot, Timestamp)>,
    /// Where the moment stands beside the days that were planned.
    pub course: PlanCourse,
}

/// Where a moment stands beside the days that were planned for a person.
#[derive(Clone, Copy, PartialEq, Eq, Default, Debug)]
pub enum PlanCourse {
    /// Within them; or none were planned, and readings came all the same.
    #[default]
    Runs,
    /// None were planned, and nothing of theirs was ever measured.
    NotBegun,
    /// They begin on this day.
    Before(Date),
    /// They ended with this day, and none are planned after it.
    Over(Date),
}

/// On which days a person measures.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Schedule {
    /// The first day.
    pub from: Date,
    /// The last day.
    pub to: Date,
    /// Days from one measuring day to the next.
    pub every_days: u16,
}

impl Schedule {
    /// Every day: for somebody without a monitoring period.
    pub const EVERY_DAY: Self = Self {
        from: Date::MIN,
        to: Date::MAX,
        every_days: 1,
    };
    /// No day: for somebody of whom nothing was begun.
    pub const NO_DAY: Self = Self {
        from: Date::MAX,
        to: Date::MIN,
        every_days: 1,
    };

    /// The days of a planned period.
    pub fn of(plan: &Plan, protocol: &Protocol) -> Self {
        Self {
            from: plan.from,
            to: plan.to(),
            every_days: protocol.every_days.value,
        }
    }

    /// Whether somebody measures on this day.
    pub fn measures_on(&self, day: Date) -> bool {
        self.measuring_day(day) == Some(day)
    }

    /// The first measuring day that is not before this one.
    fn measuring_day(&self, day: Date) -> Option<Date> {
        let day = day.max(self.from);
        let every = i64::from(self.every_days.max(1));
        let since = day.duration_since(self.from).as_hours() / 24;
        let due = day.checked_add(((every - since % every) % every).days()).ok()?;
        (due <= self.to).then_some(due)
    }
}

/// How far back readings matter here: an alert stands until it is answered or settled.
pub const READINGS_BACK: SignedDuration = LOOK_BACK;
/// No session of an open window is older: where there is no alert, older readings change nothing here.
pub const SESSIONS_BACK: SignedDuration = SignedDuration::from_hours(24);

/// What this person should do at `now`. Readings of other people are passed over; a very high one that is
/// nobody's yet is told all the same, since it may be theirs. Every reading that is given has come, also one
/// that is dated ahead of `now`. Their order does not matter.
pub fn next(
    now: Timestamp,
    person: &PersonId,
    schedule: &Schedule,
    readings: &[Reading],
    context: &Context<'_>,
) -> Next {
    let since = now.checked_sub(SESSIONS_BACK).unwrap_or(Timestamp::MIN);
    let mut recent: Vec<Reading> = readings
        .iter()
        .filter(|reading| {
            reading.person.as_ref() == Some(person)
                && reading.time.at.is_some_and(|at| since <= at && at <= now)
        })
        .cloned()
        .collect();
    recent.sort_by(order);

    let days = Days {
        now,
        person,
        schedule,
        context,
    };
    let step = of_session(&days, &recent);
    let mut alerts = [Some(person), None]
        .into_iter()
        .flat_map(|who| alerts(now, who, readings, context))
        .collect::<Vec<_>>();
    // Of two that are as urgent, the person's own stands first.
    alerts.sort_by_key(|alert| std::cmp::Reverse(alert.level));
    match alerts.first().filter(|_| alerts.iter().any(Alert::outranks)) {
        Some(first) => {
            let first = first.clone();
            help(&days, &first, &step, alerts)
        }
        None => Next {
            person: person.clone(),
            state: step.step,
            until: step.until,
            because: step.because,
            say: step.say,
            otherwise: None,
            alerts,
            grounds: step.grounds,
        },
    }
}

/// The same of a household: by the person's running period, else by what was planned for them, else every
/// day, once something of theirs was `measured`.
pub fn next_of(
    now: Timestamp,
    person: &PersonId,
    (plans, measured): (&[Plan], bool),
    protocols: &Protocols,
    readings: &[Reading],
    (household, notes, zones): (&Household, &[StatedNote], &Zones),
) -> Result<Next, UnknownProtocol> {
    let details = household.people.get(person).map(|(person, _removed)| person);
    let today = Windows::of(details).measuring_day(zones.civil(now));
    // The one that runs; else the one to come; else the last, which is over.
    let plan = plans
        .iter()
        .find(|plan| plan.covers(today))
        .or_else(|| plans.iter().find(|plan| plan.from > today))
        .or(plans.last());
    let own = details.and_then(|person| person.protocol.as_deref());
    let running = plan
        .filter(|plan| plan.covers(today))
        .map(|plan| plan.protocol.as_str());
    let schedule = match plan {
        None if !measured => Schedule::NO_DAY,
        None => Schedule::EVERY_DAY,
        Some(plan) => Schedule::of(plan, protocols.get(&plan.protocol)?),
    };
    let context = Context {
        household,
        notes,
        zone: zones.at(now),
        rule: protocols.get(running.or(own).unwrap_or(DEFAULT))?.session_rule(),
    };
    let course = match plan {
        None if !measured => PlanCourse::NotBegun,
        Some(plan) if plan.from > today => PlanCourse::Before(plan.from),
        Some(plan) if plan.to() < today => PlanCourse::Over(plan.to()),
        _ => PlanCourse::Runs,
    };
    Ok(along(course, next(now, person, &schedule, readings, &context)))
}

/// The same, with where it stands beside the days that were planned; which is why, where nothing is due.
fn along(course: PlanCourse, next: Next) -> Next {
    let day = |day: Date| [("day", Part::Days(vec![day]))];
    let because = match course {
        PlanCourse::Runs => None,
        PlanCourse::NotBegun => Some(Said::of("next-not-begun", [])),
        PlanCourse::Before(from) => Some(Said::of("next-begins", day(from))),
        PlanCourse::Over(to) => Some(Said::of("next-ended", day(to))),
    };
    let person = &next.person;
    let say = (course == PlanCourse::NotBegun).then(|| {
        let command = format!("`quietcuff period start --person {person}`");
        let values = [("who", person.as_str().into()), ("command", Part::Text(command))];
        Said::of("next-begin-first", values)
    });
    let due = next.state != Step::NotDue;
    Next {
        because: because.filter(|_| !due).unwrap_or(next.because),
        say: say.filter(|_| !due).unwrap_or(next.say),
        grounds: Grounds {
            course,
            ..next.grounds
        },
        ..next
    }
}

/// A step of a session, before anything outranks it.
struct Planned {
    step: Step,
    until: Option<Timestamp>,
    because: Said,
    say: Said,
    grounds: Grounds,
}

fn help(days: &Days<'_>, alert: &Alert, otherwise: &Planned, alerts: Vec<Alert>) -> Next {
    let until = alert.repeat_at.filter(|at| days.now < *at);
    let name = if alert.level == Level::MeasureAgain && until.is_none() {
        "next-again-now"
    } else {
        "next-alert"
    };
    let say = Said::of(name, [("say", alert.say.as_str().into())]);
    let what = if alert.about == About::Symptoms && alert.level == Level::Ask {
        "ask"
    } else {
        alert.about.name()
    };
    let nobodys = alert.reading.is_some() && alert.person.is_none();
    Next {
        person: days.person.clone(),
        state: Step::SeekHelp,
        until,
        because: Said::of(
            "next-because-alert",
            [
                ("what", what.into()),
                ("nobodys", if nobodys { "yes" } else { "no" }.into()),
                ("since", days.moment(alert.at)),
                ("source", alert.source.into()),
            ],
        ),
        say,
        otherwise: Some(otherwise.step),
        alerts,
        grounds: otherwise.grounds,
    }
}

fn of_session(days: &Days<'_>, recent: &[Reading]) -> Planned {
    let judged: Vec<(&[Reading], Judged)> = sittings(recent)
        .map(|sitting| (sitting, judge(sitting, days.context)))
        .collect();
    if let Some((sitting, judged)) = judged.last()
        && let Some(session) = &judged.session
        && days.now.duration_since(session.end) <= SITTING_GAP
    {
        return within(days, sitting, judged, session);
    }
    between_sessions(
        days,
        judged.iter().filter_map(|(_, judged)| judged.session.as_ref()),
    )
}

/// In the middle of a sitting.
fn within(days: &Days<'_>, sitting: &[Reading], judged: &Judged, session: &Session) -> Planned {
    let Days { now, context, .. } = *days;
    let grounds = Grounds {
        apart_mmhg: context.rule.third_above_mmhg.filter(|_| session.apart),
        sitting: true,
        ..days.grounds(Some(session), session.slot)
    };
    if session.counted >= session.wanted {
        return Planned {
            step: Step::Done,
            until: days.next_opening().map(|(_, opening)| opening),
            because: Said::of("next-all-in", [("n", session.counted.into())]),
            say: Said::of("next-done", []).and(Some(days.coming())),
            grounds,
        };
    }
    let may_go_on = sitting
        .iter()
        .map(|reading| {
            later(
                ended_by(reading, session.end),
                SignedDuration::from_secs(context.rule.gap_s),
            )
        })
        .max()
        .unwrap_or(session.end);
    let until = (now < may_go_on).then_some(may_go_on);
    let when = match until {
        Some(until) => days.at(until),
        None => Said::of("next-now", []),
    };

    if let Some(last) = judged.judgements.last()
        && last.disposition == Disposition::SetAside
    {
        return repeat(days, last, session, (until, when), grounds);
    }
    go_on(session, context.rule.third_above_mmhg, (until, when), grounds)
}

/// The last reading was set aside: it is taken again, at `until` or, with `None`, now; `when` says that in words.
fn repeat(
    days: &Days<'_>,
    last: &Judgement,
    session: &Session,
    (until, when): (Option<Timestamp>, Said),
    grounds: Grounds,
) -> Planned {
    let Days { now, context, .. } = *days;
    let reason = last.because().iter().next();
    // For somebody who is strict, what was drunk or done half an hour ago is not put right by a minute of
    // waiting.
    let only_reported = reason.is_some_and(|reason| reason.rule().disposition != Disposition::SetAside);
    let settled = settled_at(now, &session.person, context).filter(|_| only_reported);
    let (until, when) = match settled {
        Some(at) => (Some(at), days.at(at)),
        None => (until, when),
    };
    Planned {
        step: Step::Repeat,
        until,
        because: match reason {
            Some(reason) => Said::of("next-set-aside", [("reason", Part::Reason(reason.name()))]),
            None => Said::of("next-set-aside-so", []),
        },
        say: match reason {
            Some(reason) => Said::of(format!("reason-{}", reason.name()), []),
            None => Said::default(),
        }
        .and(Some(Said::of("next-measure-again", [("when", when.into())]))),
        grounds: Grounds {
            set_aside: reason,
            ..grounds
        },
    }
}

/// The next reading of the session: at `until` or, with `None`, now; `when` says that in words.
fn go_on(
    session: &Session,
    third_above_mmhg: Option<u16>,
    (until, when): (Option<Timestamp>, Said),
    grounds: Grounds,
) -> Planned {
    let (step, which) = if session.counted < 2 {
        (Step::Second, "second")
    } else {
        (Step::Third, "third")
    };
    let because = match third_above_mmhg {
        Some(limit) if session.apart => Said::of("next-apart", [("limit", limit.into())]),
        _ => Said::of(
            "next-in",
            [("n", session.counted.into()), ("wanted", session.wanted.into())],
        ),
    };
    let which = ("which", which.into());
    match until {
        Some(_) => Planned {
            step: Step::Wait,
            until,
            because,
            say: Said::of("next-keep-on", [which, ("when", when.into())]),
            grounds,
        },
        None => Planned {
            step,
            until: None,
            because,
            say: Said::of("next-take", [which]),
            grounds,
        },
    }
}

/// The latest moment at which a measurement can have ended. A stamp in whole minutes leaves a minute open,
/// unless the reading was heard before that was over.
fn ended_by(reading: &Reading, otherwise: Timestamp) -> Timestamp {
    let at = reading.time.at.unwrap_or(otherwise);
    match reading.time.precision {
        Precision::Second => at,
        Precision::Minute => later(at, SignedDuration::from_secs(59)).min(reading.received_at.max(at)),
    }
}

/// Between two sittings.
fn between_sessions<'a>(days: &Days<'_>, sessions: impl Iterator<Item = &'a Session>) -> Planned {
    let Some((slot, opened)) = days.open_window() else {
        return Planned {
            step: Step::NotDue,
            until: days.next_opening().map(|(_, opening)| opening),
            because: Said::of("next-nothing-due", []),
            say: days.coming(),
            grounds: Grounds {
                coming: days.next_opening(),
                ..Grounds::default()
            },
        };
    };
    let in_window = |session: &&Session| session.slot == slot && session.end >= opened;
    // A complete one outranks one that was begun again.
    let session = sessions
        .filter(in_window)
        .max_by_key(|session| session.counted >= session.wanted);
    match session {
        Some(session) if session.counted >= session.wanted => Planned {
            step: Step::Done,
            until: days.next_opening().map(|(_, opening)| opening),
            because: Said::of("next-complete", [("slot", slot.name().into())]),
            say: days.coming(),
            grounds: days.grounds(Some(session), slot),
        },
        found => {
            let due = ("slot", slot.name().into());
            let because = match found {
                Some(session) => Said::of(
                    "next-due-again",
                    [
                        due,
                        ("counted", session.counted.into()),
                        ("wanted", session.wanted.into()),
                    ],
                ),
                None => Said::of("next-due", [due]),
            };
            let until = settled_at(days.now, days.person, days.context);
            let rest = Said::of("next-rest", []);
            let say = match until {
                Some(at) => {
                    let time = days.clock(at);
                    Said::of("next-wait-noted", [("time", time.as_str().into())]).and(Some(rest))
                }
                None => rest,
            };
            Planned {
                step: Step::Rest,
                until,
                because,
                say,
                grounds: days.grounds(found, slot),
            }
        }
    }
}

/// The person's day at this moment.
#[derive(Clone, Copy)]
struct Days<'a> {
    now: Timestamp,
    person: &'a PersonId,
    schedule: &'a Schedule,
    context: &'a Context<'a>,
}

impl Days<'_> {
    fn windows(&self) -> Windows {
        Windows::of(
            self.context
                .household
                .people
                .get(self.person)
                .map(|(person, _removed)| person),
        )
    }

    fn civil(&self, at: Timestamp) -> DateTime {
        self.context.zone.to_datetime(at)
    }

    fn instant(&self, civil: DateTime) -> Timestamp {
        self.context.zone.to_timestamp(civil).unwrap_or(Timestamp::MAX)
    }

    /// As the household's clock shows it.
    fn clock(&self, at: Timestamp) -> String {
        self.civil(at).time().strftime("%H:%M:%S").to_string()
    }

    /// At which time something is to be done.
    fn at(&self, at: Timestamp) -> Said {
        Said::of("next-at", [("time", self.clock(at).as_str().into())])
    }

    /// The clock with its day, where that is not today.
    fn moment(&self, at: Timestamp) -> Part {
        let (civil, time) = (self.civil(at), self.clock(at));
        if civil.date() == self.civil(self.now).date() {
            return Part::Text(time);
        }
        let values = [
            ("day", Part::DayOfMonth(civil.date())),
            ("time", Part::Text(time)),
        ];
        Said::of("next-moment", values).into()
    }

    /// The window that is open, if a session is asked for in it, and when it opened.
    fn open_window(&self) -> Option<(Slot, Timestamp)> {
        let (slot, opened) = self.windows().opened(self.civil(self.now))?;
        let due = self.schedule.measuring_day(opened.date()) == Some(opened.date());
        (due && self.context.rule.asks_for(slot)).then(|| (slot, self.instant(opened)))
    }

    /// The next window to open in which a session is asked for.
    fn next_opening(&self) -> Option<(Slot, Timestamp)> {
        let today = self.schedule.measuring_day(self.civil(self.now).date())?;
        let later = today
            .tomorrow()
            .ok()
            .and_then(|tomorrow| self.schedule.measuring_day(tomorrow));
        [Some(today), later]
            .into_iter()
            .flatten()
            .flat_map(|date| self.windows().openings(date))
            .filter(|&(slot, _)| self.context.rule.asks_for(slot))
            .map(|(slot, opening)| (slot, self.instant(opening)))
            .filter(|&(_, opening)| opening > self.now)
            .min_by_key(|&(_, opening)| opening)
    }

    fn grounds(&self, session: Option<&Session>, slot: Slot) -> Grounds {
        Grounds {
            counted: session.map_or(0, |session| session.counted),
            wanted: session.map_or(0, |session| session.wanted),
            slot: Some(slot),
            coming: self.next_opening(),
            ..Grounds::default()
        }
    }

    fn coming(&self) -> Said {
        let Some((slot, opening)) = self.next_opening() else {
            return Said::of("coming-none", []);
        };
        let (today, opens) = (self.civil(self.now).date(), self.civil(opening));
        let time = opens.time().strftime("%H:%M").to_string();
        Said::of(
            "next-coming",
            [
                ("slot", slot.name().into()),
                ("day", Part::SeenFrom(opens.date(), today)),
                ("time", Part::Text(time)),
            ],
        )
    }
}

fn later(at: Timestamp, by: SignedDuration) -> Timestamp {
    at.checked_add(by).unwrap_or(Timestamp::MAX)
}
