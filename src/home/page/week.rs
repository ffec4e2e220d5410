//! These days: a person's period day by day, morning and evening; the average when it is earned, and not
//! before.

use super::answer::Answer;
use super::ask::{Ask, Wrong};
use super::frame::{encoded, token};
use super::now::{said, values};
use super::picture::{SessionMark, figure, progress};
use super::reading::address;
use super::{frame, listening};
use crate::export::report::at_home::{self, DaySpan};
use crate::home::live::Book;
use crate::household::PersonId;
use crate::monitoring::average::Average;
use crate::monitoring::balance::Balance;
use crate::monitoring::enters::Outside;
use crate::monitoring::patterns::medicine::{changes_of, changes_within};
use crate::monitoring::period::{Mean, Period};
use crate::monitoring::plan::Plan;
use crate::monitoring::protocol::Protocol;
use crate::monitoring::protocols::DEFAULT;
use crate::monitoring::spread::{Every, parts};
use crate::monitoring::stated::Stated;
use crate::monitoring::taken::Taken;
use crate::monitoring::titles::of_protocol;
use crate::sitting::{SITTING_GAP, Slot, Windows};
use crate::snapshot::period::{FindError, WorkedOut, of_plan};
use crate::technique::{Disposition, JudgedReading, Judges, Reason};
use crate::words::Value;
use jiff::civil::Date;
use jiff::{Timestamp, ToSpan};
use maud::{Markup, html};
use std::collections::BTreeSet;

/// A longer period shows its last days; every reading stands under "earlier".
const DAYS_SHOWN_MAX: usize = 62;
/// More days than these are not drawn reading by reading, and have no row of places: neither could be told apart on a
/// telephone. Own choice.
const DAYS_DRAWN_MAX: usize = 14;
/// A week of the past, which a picture of weeks leads to.
const WEEK_DAYS: u16 = 7;

pub(super) fn page(ask: &Ask, book: &mut Book) -> Result<Answer, Wrong> {
    let title = ask.say("title-week");
    let known = book.known()?;
    let person = ask.one(book)?;
    let body = match &person {
        None => html! { h1 { (title) } (frame::nobody(ask.words)) },
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
pub(super) struct Days<'a> {
    pub(super) protocol: &'a Protocol,
    period: Period,
    /// The days of the period on which a medicine was changed.
    changes: BTreeSet<Date>,
    readings: Vec<(Taken, JudgedReading)>,
    /// Somebody began it; else it is the last days, whatever they hold.
    stated: bool,
    windows: Windows,
    today: Date,
    /// The window that is open.
    open: Option<Slot>,
}

/// The period that was asked for by its first day, else the one that runs or ran last.
fn plan_of(
    known: &Stated,
    person: &PersonId,
    asked: Option<Date>,
    today: Date,
) -> (String, Option<Date>, Option<u16>) {
    let plan: Option<&Plan> = match asked {
        Some(from) => known.plans(person).iter().find(|plan| plan.from == from),
        None => known.plans(person).iter().rev().find(|plan| plan.from <= today),
    };
    let own = known.person(person).and_then(|person| person.protocol.clone());
    match plan {
        Some(plan) => (plan.protocol.clone(), Some(plan.from), Some(plan.days)),
        None => (
            own.unwrap_or_else(|| DEFAULT.to_owned()),
            asked,
            asked.map(|_| WEEK_DAYS),
        ),
    }
}

fn days(ask: &Ask, book: &mut Book, known: &Stated, person: &PersonId) -> Result<Markup, Wrong> {
    let asked = match ask.field("from") {
        Some(text) => {
            let wrong = || Wrong::Value(text.chars().take(20).collect());
            Some(text.parse().map_err(|_| wrong())?)
        }
        None => None,
    };
    Ok(match Days::of(book, known, person, (asked, ask.now))? {
        Some(days) => days.markup(ask, known),
        None => not_begun(ask, known, person),
    })
}

impl<'a> Days<'a> {
    /// The days from the one that was asked for; else those of the period that runs or ran last. `None` of somebody who
    /// began none and never measured.
    pub(super) fn of(
        book: &mut Book,
        known: &'a Stated,
        person: &PersonId,
        (asked, now): (Option<Date>, Timestamp),
    ) -> Result<Option<Self>, Wrong> {
        let today = known.zones.civil(now).date();
        let (name, from, days) = plan_of(known, person, asked, today);
        let stated = from.is_some() && asked.is_none();
        let last = book.journal.last_before(person, now)?;
        if from.is_none() && last.is_none() {
            return Ok(None);
        }
        let protocol = known
            .protocols
            .get(&name)
            .or_else(|_| known.protocols.get(DEFAULT))
            .map_err(|_| Wrong::NotFound)?;
        let days = days.unwrap_or(protocol.days.value);
        // Without a stated period: the days that end today, or with the last reading where that was long ago.
        let from = from.unwrap_or_else(|| {
            let before = |day: Date| day.checked_sub((i64::from(days) - 1).days()).unwrap_or(day);
            let last = known.zones.civil(last.unwrap_or(now)).date();
            if last < before(today) {
                before(last)
            } else {
                before(today)
            }
        });
        let plan = Plan {
            protocol: protocol.name.clone(),
            from,
            days,
        };
        let worked_out = of_plan(&mut book.journal, known, person, &plan).map_err(|error| match error {
            FindError::Journal(error) => error.into(),
            error => Wrong::Value(error.to_string()),
        })?;
        Ok(Some(Self::worked_out(worked_out, known, (stated, now))))
    }

    fn worked_out(worked_out: WorkedOut<'a>, known: &Stated, (stated, now): (bool, Timestamp)) -> Self {
        let WorkedOut {
            protocol,
            period,
            history,
        } = worked_out;
        let windows = Windows::of(known.person(&period.person));
        let readings = history
            .taken
            .iter()
            .cloned()
            .zip(history.readings)
            .filter(|(taken, _)| (period.from..=period.to).contains(&taken.day))
            .collect();
        let changes = changes_of(&period.person, &known.notes, &known.zones);
        Self {
            changes: changes_within(period.from, period.to, &changes),
            protocol,
            period,
            readings,
            stated,
            today: known.zones.civil(now).date(),
            open: windows.opened(known.zones.civil(now)).map(|(slot, _)| slot),
            windows,
        }
    }
}

impl Days<'_> {
    fn markup(&self, ask: &Ask, known: &Stated) -> Markup {
        let words = ask.words;
        let period = &self.period;
        let days = self.days(ask);
        html! {
            h1 { (ask.say("title-week")) " · " bdi { (known.label(&period.person)) } }
            p.lead {
                (words.with("period-line", &[("days", days.into()), ("protocol", of_protocol(words, &self.protocol.title).into())]))
            }
            @if let Some(by) = &self.protocol.superseded_by {
                p.small { (words.with("superseded-by", &[("by", by.replace('`', "").into())])) }
            }
            @if self.over() { p.lead { (ask.say("period-over")) } }
            div.beside {
                (self.average(ask, known))
                div.pictures {
                    (self.progress(ask, known))
                    (self.picture(ask, known))
                }
                @if self.period.average.is_some() { (self.detail(ask)) }
            }
            (self.table(ask, known))
            p.small { (ask.say("shapes")) }
        }
    }

    /// The first and the last day, in words.
    fn days(&self, ask: &Ask) -> String {
        let words = ask.words;
        words.with(
            "range-of-days",
            &[
                ("from", words.date(self.period.from).into()),
                ("to", words.date_with_year(self.period.to).into()),
            ],
        )
    }

    fn average(&self, ask: &Ask, known: &Stated) -> Markup {
        let words = ask.words;
        let period = &self.period;
        html! {
            section.average aria-labelledby="average" {
                h2 #average { (words.say("average")) }
                @match &period.average {
                    Some(average) => {
                        p.large { (average.exact.whole()) " " span.unit { "mmHg" } }
                        (self.halves(ask))
                        p { (words.with("average-exact", &[("average", words.decimal(&average.exact.shown()).into())])) " " (of(average, ask)) }
                        @if !self.changes.is_empty() {
                            p.also { (self.medicine_changed(ask)) }
                        }
                    }
                    None => {
                        p.large { (words.say("average-not-yet")) }
                        p { (words.with("average-not-yet-say", &self.there())) }
                        p { (self.set_aside(ask)) }
                    }
                }
                @if self.over() { (self.what_next(ask, known)) }
            }
        }
    }

    /// What stands behind an average.
    fn detail(&self, ask: &Ask) -> Markup {
        let words = ask.words;
        let period = &self.period;
        html! {
            div.detail {
                        p { (balance(&period.balance, ask)) }
                        (self.held_against(ask))
                        p { (words.with("sessions-there", &self.there())) ". " (self.set_aside(ask)) }
                        @if let Some(outside) = &period.outside_sessions {
                            p { (outside_sessions(outside, ask)) }
                        }
                        @for kind in &period.other_kinds {
                            p { (words.with(&format!("kind-mean-{}", kind.kind), &[
                                ("mean", words.decimal(&kind.exact.shown()).into()),
                                ("n", i64::try_from(kind.n).unwrap_or(0).into()),
                            ])) }
                        }
                        p.caution { (words.say("caution-average")) }
            }
        }
    }

    fn there(&self) -> [(&'static str, Value<'static>); 2] {
        [
            ("sessions", self.period.sessions.to_string().into()),
            ("expected", self.period.sessions_expected.to_string().into()),
        ]
    }

    fn set_aside(&self, ask: &Ask) -> String {
        let n = i64::try_from(self.period.readings.set_aside).unwrap_or(0);
        ask.words.with("readings-set-aside", &[("n", n.into())])
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
                    .any(|(taken, _)| taken.slot == Slot::Other)
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
            .filter(|(taken, _)| taken.day == day && taken.slot == slot)
            .map(|(_, judged)| judged)
            .collect();
        if here.is_empty() {
            let name = match self.empty(ask, known, day, slot) {
                _ if slot == Slot::Other => return html! {},
                SessionMark::ToCome => "session-to-come",
                SessionMark::Due => "session-due",
                _ => "session-missed",
            };
            return html! { span.none { (ask.say(name)) } };
        }
        html! {
            ul.readings { @for judged in here { li { (line(judged, ask, known, false)) } } }
        }
    }

    /// A session without a reading.
    fn empty(&self, ask: &Ask, known: &Stated, day: Date, slot: Slot) -> SessionMark {
        match day.cmp(&self.today) {
            std::cmp::Ordering::Greater => SessionMark::ToCome,
            std::cmp::Ordering::Less => SessionMark::Missed,
            std::cmp::Ordering::Equal if self.open == Some(slot) => SessionMark::Due,
            std::cmp::Ordering::Equal if self.opens_later(slot, known, ask.now) => SessionMark::ToCome,
            std::cmp::Ordering::Equal => SessionMark::Missed,
        }
    }

    /// Whether its last day has passed.
    fn over(&self) -> bool {
        self.stated && self.period.to < self.today
    }

    /// Mornings and evenings for themselves.
    fn halves(&self, ask: &Ask) -> Markup {
        let half = |name: &str, mean: &Mean| {
            let n = i64::try_from(mean.n).unwrap_or(0);
            let values = [("mean", mean.exact.whole().into()), ("n", n.into())];
            (mean.systolic.is_some()).then(|| ask.words.with(name, &values))
        };
        html! {
            ul.halves {
                @for (name, mean) in [("mean-mornings", &self.period.morning), ("mean-evenings", &self.period.evening)] {
                    @if let Some(said) = half(name, mean) { li { (said) } }
                }
            }
        }
    }

    fn what_next(&self, ask: &Ask, known: &Stated) -> Markup {
        let person = encoded(&self.period.person);
        let (from, days) = (self.period.from, period_days(self.period.from, self.period.to));
        html! {
            p { (ask.say("period-over-next")) }
            div.next {
                a.button href=(format!("/sheet/open?person={person}&from={from}&days={days}&as=html")) { (ask.say("sheet-open-week")) }
                (begin(ask, known, &self.period.person))
            }
        }
    }

    fn dates(&self) -> Vec<Date> {
        let days = self.period.from.series(1.day());
        days.take_while(|day| *day <= self.period.to)
            .take(DAYS_DRAWN_MAX + 1)
            .collect()
    }

    fn progress(&self, ask: &Ask, known: &Stated) -> Markup {
        let days = self.dates();
        if days.len() > DAYS_DRAWN_MAX {
            return html! {};
        }
        progress(ask, &days, &self.protocol.sessions.value, |day, slot| {
            self.place(ask, known, day, slot)
        })
    }

    /// What became of a session.
    pub(super) fn place(&self, ask: &Ask, known: &Stated, day: Date, slot: Slot) -> SessionMark {
        let wanted = usize::from(self.protocol.readings_per_session.value);
        let here = self.readings.iter().map(|(taken, _)| taken);
        let here: Vec<&Taken> = here
            .filter(|taken| taken.day == day && taken.slot == slot)
            .collect();
        let third = |taken: &&Taken| taken.reasons.contains(&Reason::ThirdReadingMissing.name());
        match here.iter().filter(|taken| taken.counted().is_some()).count() {
            _ if here.is_empty() => self.empty(ask, known, day, slot),
            n if n >= wanted && !here.iter().any(third) => SessionMark::Complete,
            _ => SessionMark::Begun,
        }
    }

    /// Today and the days before it, as many as a telephone shows beside each other.
    pub(super) fn lately(&self) -> Vec<Date> {
        let shown = i64::from(WEEK_DAYS) - 1;
        let last = self.today.min(self.period.to);
        let first = last
            .checked_sub(shown.days())
            .unwrap_or(last)
            .max(self.period.from);
        first.series(1.day()).take_while(|day| *day <= last).collect()
    }

    /// Sessions of the period that nobody came to.
    pub(super) fn missed(&self, ask: &Ask, known: &Stated) -> usize {
        let days = self.period.from.series(1.day());
        let days = days.take_while(|day| *day <= self.period.to.min(self.today));
        days.flat_map(|day| self.protocol.sessions.value.iter().map(move |slot| (day, *slot)))
            .filter(|(day, slot)| self.place(ask, known, *day, *slot) == SessionMark::Missed)
            .count()
    }

    fn picture(&self, ask: &Ask, known: &Stated) -> Markup {
        let words = ask.words;
        let taken: Vec<&Taken> = self
            .readings
            .iter()
            .filter(|(_, judged)| judged.reading.time.at.is_some())
            .map(|(taken, _)| taken)
            .collect();
        if taken.is_empty() {
            return html! {};
        }
        let who = known.label(&self.period.person);
        let title = words.with(
            "picture-title",
            &[("who", who.into()), ("days", self.days(ask).into())],
        );
        let span = DaySpan {
            from: self.period.from,
            to: self.period.to,
        };
        let limits = self.period.threshold.as_ref().map(|threshold| &threshold.limits);
        let days = period_days(span.from, span.to);
        if days <= DAYS_DRAWN_MAX {
            let drawn = at_home::readings((title.as_str(), "picture"), span, &taken, limits, words);
            return figure(
                drawn,
                None,
                &html! { (words.say("picture-readings-say")) " " (ask.say("shapes")) },
            );
        }
        let every = Every::for_days(days);
        let changes: Vec<Date> = self.changes.iter().copied().collect();
        let points = at_home::Points {
            span,
            every,
            parts: &parts(taken.iter().copied(), every),
            clinic: &[],
            changes: &changes,
            limits,
        };
        let drawn = points.svg((title.as_str(), "picture"), words);
        figure(
            drawn,
            None,
            &html! { (words.with("picture-points-say", &[("every", every.name().into())])) },
        )
    }

    fn opens_later(&self, slot: Slot, known: &Stated, now: Timestamp) -> bool {
        let civil = known.zones.civil(now);
        self.windows
            .openings(civil.date())
            .into_iter()
            .any(|(opens, at)| opens == slot && at > civil)
    }
}

/// Somebody new: no session can have been missed before anything was begun.
fn not_begun(ask: &Ask, known: &Stated, person: &PersonId) -> Markup {
    html! {
        h1 { (ask.say("title-week")) " · " bdi { (known.label(person)) } }
        p.large { (ask.say("not-begun")) }
        p.lead { (ask.say("not-begun-say")) }
        div.next { (begin(ask, known, person)) }
    }
}

/// The button that begins a period today; where one is to come, when that is: the two would overlap.
pub(super) fn begin(ask: &Ask, known: &Stated, person: &PersonId) -> Markup {
    let today = known.zones.civil(ask.now).date();
    let to_come = known.plans(person).iter().find(|plan| plan.from > today);
    let protocol = known.protocol_of(person);
    html! {
        @if let Some(plan) = to_come {
            p { (ask.words.with("days-begin", &[("day", ask.words.day(plan.from, today).into())])) }
        } @else if let Some(protocol) = protocol && ask.viewer.cares() {
            form method="post" action="/period" {
                (token(ask))
                button.accent name="person" value=(person) {
                    (ask.words.with("period-start", &[("days", protocol.days.value.to_string().into())]))
                }
            }
        }
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
        let mean = ask
            .words
            .decimal(&format!("{:.1}/{:.1}", means.systolic, means.diastolic));
        said = format!(
            "{said} {}",
            ask.words.with("balance-sittings", &[("mean", mean.into())])
        );
    }
    said
}

/// Readings that are not in the average because they stand outside every session, and what they would change.
fn outside_sessions(outside: &Outside, ask: &Ask) -> String {
    let with = ask
        .words
        .decimal(outside.average_with.as_deref().unwrap_or_default());
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
    let number = |n: usize| i64::try_from(n).unwrap_or(0).into();
    let mut said = words.with(
        "average-of",
        &[("n", number(average.n)), ("days", number(average.days))],
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
            // A month has a hundred of these: what is usual is not said.
            span.values data-became=[(judged.judgement.disposition == Disposition::SetAside).then_some(became)] {
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
