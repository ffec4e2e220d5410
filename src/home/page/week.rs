//! These days: a person's period day by day, morning and evening; the average when it is earned, and not
//! before.

use super::answer::Answer;
use super::ask::{Ask, Wrong};
use super::now::{said, values};
use super::reading::address;
use super::{frame, listening};
use crate::home::live::Book;
use crate::household::PersonId;
use crate::monitoring::average::Average;
use crate::monitoring::balance::Balance;
use crate::monitoring::enters::Outside;
use crate::monitoring::patterns::medicine::{changes_of, changes_within};
use crate::monitoring::period::Period;
use crate::monitoring::plan::Plan;
use crate::monitoring::protocol::Protocol;
use crate::monitoring::protocols::DEFAULT;
use crate::monitoring::stated::Stated;
use crate::sitting::{SITTING_GAP, Slot, Windows};
use crate::snapshot::period::{FindError, WorkedOut, of_plan};
use crate::technique::{JudgedReading, Judges};
use jiff::civil::Date;
use jiff::{Timestamp, ToSpan};
use maud::{Markup, html};
use std::collections::BTreeSet;

/// A longer period shows its last days; every reading stands under "earlier".
const DAYS_SHOWN_MAX: usize = 62;

pub(super) fn page(ask: &Ask, book: &mut Book) -> Result<Answer, Wrong> {
    let title = ask.say("title-week");
    let known = book.known()?;
    let person = ask.one(book)?;
    let body = match &person {
        None => html! { h1 { (title) } p { (frame::marked_up(ask.say("nobody-yet"))) } },
        Some(person) => html! {
            (listening::notices(book, &known, ask.words, ask.now)?)
            (days(ask, book, &known, person)?)
        },
    };
    let page = frame::Page {
        title: &title,
        person: person.as_ref(),
        of_people: true,
        live: None,
    };
    Ok(Answer::html(frame::page(ask, book, &page, &body)?))
}

/// A period's days, their readings, and what they come to.
struct Days<'a> {
    protocol: &'a Protocol,
    period: Period,
    /// The days of the period on which a medicine was changed.
    changes: BTreeSet<Date>,
    readings: Vec<(Date, Slot, JudgedReading)>,
    windows: Windows,
    today: Date,
    /// The window that is open.
    open: Option<Slot>,
}

fn plan_of(known: &Stated, person: &PersonId, today: Date) -> (String, Option<Date>, Option<u16>) {
    let plan: Option<&Plan> = known.plans(person).iter().rev().find(|plan| plan.from <= today);
    let own = known.person(person).and_then(|person| person.protocol.clone());
    match plan {
        Some(plan) => (plan.protocol.clone(), Some(plan.from), Some(plan.days)),
        None => (own.unwrap_or_else(|| DEFAULT.to_owned()), None, None),
    }
}

fn days(ask: &Ask, book: &mut Book, known: &Stated, person: &PersonId) -> Result<Markup, Wrong> {
    let today = known.zones.civil(ask.now).date();
    let (name, from, days) = plan_of(known, person, today);
    let protocol = known
        .protocols
        .get(&name)
        .or_else(|_| known.protocols.get(DEFAULT))
        .map_err(|_| Wrong::NotFound)?;
    let days = days.unwrap_or(protocol.days.value);
    // Without a stated period: the days that end today, or with the last reading where that was long ago.
    let from = match from {
        Some(from) => from,
        None => {
            let before = |day: Date| day.checked_sub((i64::from(days) - 1).days()).unwrap_or(day);
            let last = book.journal.last_before(person, ask.now)?.unwrap_or(ask.now);
            let last = known.zones.civil(last).date();
            if last < before(today) {
                before(last)
            } else {
                before(today)
            }
        }
    };
    let plan = Plan {
        protocol: protocol.name.clone(),
        from,
        days,
    };
    let WorkedOut {
        protocol,
        period,
        history,
    } = of_plan(&mut book.journal, known, person, &plan).map_err(|error| match error {
        FindError::Journal(error) => error.into(),
        error => Wrong::Value(error.to_string()),
    })?;
    let windows = Windows::of(known.person(person));
    let readings = history
        .taken
        .iter()
        .map(|taken| (taken.day, taken.slot))
        .zip(history.readings)
        .filter(|((day, _), _)| (period.from..=period.to).contains(day))
        .map(|((day, slot), judged)| (day, slot, judged))
        .collect();
    let changes = changes_of(person, &known.notes, &known.zones);
    let shown = Days {
        changes: changes_within(period.from, period.to, &changes),
        protocol,
        period,
        readings,
        today,
        open: windows.opened(known.zones.civil(ask.now)).map(|(slot, _)| slot),
        windows,
    };
    Ok(shown.markup(ask, known))
}

impl Days<'_> {
    fn markup(&self, ask: &Ask, known: &Stated) -> Markup {
        let words = ask.words;
        let period = &self.period;
        let days = words.with(
            "range-of-days",
            &[
                ("from", words.date(period.from).into()),
                ("to", words.date_with_year(period.to).into()),
            ],
        );
        html! {
            h1 { (ask.say("title-week")) " · " bdi { (known.label(&period.person)) } }
            p.lead {
                (words.with("period-line", &[("days", days.into()), ("protocol", self.protocol.title.as_str().into())]))
            }
            @if let Some(by) = &self.protocol.superseded_by {
                p.small { (words.with("superseded-by", &[("by", by.replace('`', "").into())])) }
            }
            (self.average(ask))
            (self.table(ask, known))
            p.small { (ask.say("shapes")) }
        }
    }

    fn average(&self, ask: &Ask) -> Markup {
        let words = ask.words;
        let period = &self.period;
        let there = [
            ("sessions", period.sessions.to_string().into()),
            ("expected", period.sessions_expected.to_string().into()),
        ];
        html! {
            section.average aria-labelledby="average" {
                h2 #average { (words.say("average")) }
                @match &period.average {
                    Some(average) => {
                        p.large { (average.exact.shown()) " " span.unit { "mmHg" } }
                        p { (of(average, ask)) }
                        @if !self.changes.is_empty() {
                            p.also { (self.medicine_changed(ask)) }
                        }
                        p { (balance(&period.balance, ask)) }
                        (self.held_against(ask))
                        p { (words.with("sessions-there", &there)) ". "
                            (words.with("readings-set-aside", &[("n", i64::try_from(period.readings.set_aside).unwrap_or(0).into())])) }
                        @if let Some(outside) = &period.outside_sessions {
                            p { (outside_sessions(outside, ask)) }
                        }
                        @for kind in &period.other_kinds {
                            p { (words.with(&format!("kind-mean-{}", kind.kind), &[
                                ("mean", kind.exact.shown().into()),
                                ("n", kind.n.to_string().into()),
                            ])) }
                        }
                        p.caution { (words.say("caution-average")) }
                    }
                    None => {
                        p.large { (words.say("average-not-yet")) }
                        p { (words.with("average-not-yet-say", &there)) }
                        p { (words.with("readings-set-aside", &[("n", i64::try_from(period.readings.set_aside).unwrap_or(0).into())])) }
                    }
                }
            }
        }
    }

    fn medicine_changed(&self, ask: &Ask) -> String {
        let days: Vec<String> = self.changes.iter().map(|day| ask.words.date(*day)).collect();
        ask.words
            .with("medicine-changed-within", &[("days", days.join(", ").into())])
    }

    fn held_against(&self, ask: &Ask) -> Markup {
        let words = ask.words;
        html! {
            @if let Some(target) = &self.period.target {
                p {
                    (words.with("target-line", &[
                        ("systolic", target.below.systolic.mmhg().to_string().into()),
                        ("diastolic", target.below.diastolic.mmhg().to_string().into()),
                        ("where", if target.reached == Some(true) { "below" } else { "not-below" }.into()),
                    ]))
                    @for (name, said) in [("target-by", &target.by), ("target-source", &target.source)] {
                        @if let Some(said) = said { " " (words.with(name, &[("said", said.as_str().into())])) }
                    }
                }
            }
            @if self.period.labels_off.is_some() { p { (words.say("labels-off")) } }
            @if let (Some(threshold), Some(above)) = (&self.period.threshold, self.period.at_or_above) {
                p {
                    (frame::with_english(words, "threshold-line", &[
                        ("systolic", threshold.limits.systolic.mmhg().to_string().into()),
                        ("diastolic", threshold.limits.diastolic.mmhg().to_string().into()),
                        ("where", if above { "above" } else { "below" }.into()),
                    ], ("source", threshold.source.as_str())))
                }
            }
        }
    }

    fn table(&self, ask: &Ask, known: &Stated) -> Markup {
        let words = ask.words;
        let slots: Vec<Slot> = self
            .protocol
            .sessions
            .value
            .iter()
            .copied()
            .chain(
                self.readings
                    .iter()
                    .any(|(_, slot, _)| *slot == Slot::Other)
                    .then_some(Slot::Other),
            )
            .collect();
        let count = period_days(self.period.from, self.period.to);
        let first = count.saturating_sub(DAYS_SHOWN_MAX);
        let dates = (first..count).filter_map(|n| {
            let day = self
                .period
                .from
                .checked_add(i64::try_from(n).unwrap_or(0).days())
                .ok()?;
            Some((n + 1, day))
        });
        html! {
            div.scroll tabindex="0" role="group" aria-label=(words.say("table-week")) {
                table.days {
                    caption { (words.say("table-week")) }
                    thead {
                        tr {
                            th scope="col" { (words.say("column-day")) }
                            @for slot in &slots { th.slot scope="col" { (words.say(&format!("slot-{}", slot.name()))) } }
                        }
                    }
                    tbody {
                        @for (number, day) in dates {
                            tr aria-current=[(day == self.today).then_some("date")] {
                                th scope="row" {
                                    span.nth {
                                        (words.with("period-day", &[
                                            ("day", number.to_string().into()),
                                            ("days", count.to_string().into()),
                                        ]))
                                    }
                                    (words.date(day))
                                }
                                @for slot in &slots { td data-slot=(words.say(&format!("slot-{}", slot.name()))) { (self.cell(ask, known, day, *slot)) } }
                            }
                        }
                    }
                }
            }
        }
    }

    fn cell(&self, ask: &Ask, known: &Stated, day: Date, slot: Slot) -> Markup {
        let here: Vec<&JudgedReading> = self
            .readings
            .iter()
            .filter(|(on, at, _)| *on == day && *at == slot)
            .map(|(.., judged)| judged)
            .collect();
        if here.is_empty() {
            let name = match (slot, day.cmp(&self.today)) {
                (Slot::Other, _) => return html! {},
                (_, std::cmp::Ordering::Greater) => "session-to-come",
                (_, std::cmp::Ordering::Less) => "session-missed",
                (slot, std::cmp::Ordering::Equal) if self.open == Some(slot) => "session-due",
                (slot, std::cmp::Ordering::Equal) if self.opens_later(slot, known, ask.now) => {
                    "session-to-come"
                }
                _ => "session-missed",
            };
            return html! { span.none { (ask.say(name)) } };
        }
        html! {
            ul.readings { @for judged in here { li { (line(judged, ask, known, false)) } } }
        }
    }

    fn opens_later(&self, slot: Slot, known: &Stated, now: Timestamp) -> bool {
        let civil = known.zones.civil(now);
        self.windows
            .openings(civil.date())
            .into_iter()
            .any(|(opens, at)| opens == slot && at > civil)
    }
}

/// How complete and how even the average is.
fn balance(of: &Balance, ask: &Ask) -> String {
    let number = |n: usize| i64::try_from(n).unwrap_or(0).into();
    let name = if of.even { "balance-even" } else { "balance-uneven" };
    let mut said = ask.words.with(
        name,
        &[
            ("mornings", number(of.mornings)),
            ("evenings", number(of.evenings)),
            ("mornings-min", number(usize::from(of.mornings_min))),
            ("evenings-min", number(usize::from(of.evenings_min))),
        ],
    );
    if let Some(means) = &of.mean_of_sittings {
        let mean = format!("{:.1}/{:.1}", means.systolic, means.diastolic);
        said = format!(
            "{said} {}",
            ask.words.with("balance-sittings", &[("mean", mean.into())])
        );
    }
    said
}

/// Readings that are not in the average because they stand outside every session, and what they would change.
fn outside_sessions(outside: &Outside, ask: &Ask) -> String {
    let with = outside.average_with.as_deref().unwrap_or_default();
    ask.words.with(
        "outside-sessions",
        &[
            ("n", i64::try_from(outside.n).unwrap_or(0).into()),
            ("with", with.into()),
        ],
    )
}

fn of(average: &Average, ask: &Ask) -> String {
    let words = ask.words;
    let mut said = words.with(
        "average-of",
        &[
            ("n", average.n.to_string().into()),
            ("days", average.days.to_string().into()),
        ],
    );
    if average.interval_too_wide {
        said = format!("{said}. {}", words.say("interval-too-wide"));
    }
    if let Some(interval) = average.interval_95 {
        let range = |[low, high]: [f64; 2]| {
            words.with(
                "interval-range",
                &[
                    ("low", format!("{:.0}", low.floor()).into()),
                    ("high", format!("{:.0}", high.ceil()).into()),
                ],
            )
        };
        said = format!(
            "{said}. {}",
            words.with(
                "average-interval",
                &[
                    ("systolic", range(interval.systolic).into()),
                    ("diastolic", range(interval.diastolic).into()),
                ],
            )
        );
    }
    said
}

fn period_days(from: Date, to: Date) -> usize {
    usize::try_from(to.duration_since(from).as_hours() / 24 + 1).unwrap_or(0)
}

/// A reading in a table: its shape, its values, and why where it is not simply counted.
pub(super) fn line(judged: &JudgedReading, ask: &Ask, known: &Stated, date: bool) -> Markup {
    let reading = &judged.reading;
    let became = judged.judgement.disposition.name();
    // A session that goes on lacks nothing yet.
    let goes_on = reading
        .time
        .at
        .is_some_and(|at| ask.now.duration_since(at) <= SITTING_GAP);
    let because = judged.judgement.because();
    let because = because
        .iter()
        .filter(|reason| !goes_on || reason.rule().judges != Judges::Session);
    html! {
        span.line {
            svg.mark role="img" aria-label=(ask.say(became)) { use href={ "#" (became) } {} }
            span.values data-became=(became) {
                @if date {
                    a href=(address(&reading.id.0)) { (values(reading.systolic, reading.diastolic)) }
                } @else {
                    (values(reading.systolic, reading.diastolic))
                }
            }
        }
        @if reading.unit == crate::gatt::Unit::KPa { " kPa" }
        @if let Some(at) = reading.time.at.filter(|_| !date) {
            " " span.at { (ask.words.time(known.zones.civil(at).time())) }
        }
        @for reason in because { span.why { (said(reason, ask.words)) } }
    }
}
