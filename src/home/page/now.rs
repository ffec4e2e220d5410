//! Now: what the person with the cuff should do next, large enough to be read from two metres.
//!
//! A function of what the journal holds, of a rest that somebody started, and of the cuff while it works. Nobody has to
//! touch it: readings that arrive drive it. Everybody who looks at one person sees the same view.

use super::answer::Answer;
use super::frame::{self, encoded, token};
use super::routes::{Ask, Wrong};
use crate::gatt::Sfloat;
use crate::home::live::{Book, CUFF_SILENT, Cuff, Known, View};
use crate::home::urgent;
use crate::home::words::Words;
use crate::household::PersonId;
use crate::journal::{JournalError, JudgedReading, Wanted};
use crate::monitoring::escalation::{Alert, Level};
use crate::monitoring::next::{self, Next, READINGS_BACK, Step};
use crate::monitoring::session::SITTING_GAP;
use crate::technique::{Disposition, Judges, Reason};
use jiff::Timestamp;
use maud::{Markup, html};

/// One person at one moment.
struct Scene {
    next: Next,
    /// The readings of the last sitting, in order of time.
    sitting: Vec<JudgedReading>,
    cuff: Option<Cuff>,
    /// Until when they rest.
    rest: Option<Timestamp>,
    now: Timestamp,
}

/// What is told of it: the step by its name in the style sheet, the heading, what else to say, and until when.
struct Told {
    step: &'static str,
    heading: String,
    say: Vec<String>,
    until: Option<Timestamp>,
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

pub(super) fn page(ask: &Ask, book: &mut Book) -> Result<Answer, Wrong> {
    let person = ask.person(book)?;
    let title = ask.say("title-now");
    let view: View = (person.clone(), ask.language);
    let (shown, _) = self::view(book, &view, ask.now);
    let query = person.as_ref().map(|p| format!("?person={}", encoded(p)));
    let source = format!("/live{}", query.unwrap_or_default());
    let (rest_for, step) = match first(book, person.as_ref(), ask)? {
        Some((person, step)) => (Some(person), step),
        None => (None, "not-due"),
    };
    let body = html! {
        p #lost .notice hidden data-say=(ask.words.with("connection-lost", &[("time", "{}".into())])) {}
        p #heard .unseen role="status" {}
        p #urgent .unseen role="alert" {}
        div #now data-source=(source) data-at=(ask.now.as_millisecond()) { (maud::PreEscaped(shown)) }
        @if let Some(person) = rest_for.filter(|person| ask.viewer.writes(person)) {
            div.actions {
                form #rest method="post" action="/rest" {
                    (token(ask))
                    input type="hidden" name="person" value=(person);
                    @if ask.field("person").is_some() { input type="hidden" name="back" value="person"; }
                    button.accent.start name="rest" value="start" { (ask.say("start-rest")) }
                    button.stop name="rest" value="stop" { (ask.say("stop-rest")) }
                }
                a #unwell .button href={ "/notes?person=" (encoded(&person)) "#symptoms" } { (ask.say("feel-unwell")) }
            }
        }
        noscript { p.small { (ask.say("no-script")) } }
    };
    let page = frame::Page {
        title: &title,
        person: person.as_ref(),
        of_people: true,
        live: Some(step),
    };
    Ok(Answer::html(frame::page(ask, book, &page, &body)?))
}

/// Starts five minutes of rest, or ends them. Everybody may whose key may change anything about this person.
pub(super) fn rest(ask: &Ask, book: &mut Book) -> Result<Answer, Wrong> {
    let person = ask.person(book)?.ok_or(Wrong::NotFound)?;
    if !ask.viewer.writes(&person) {
        return Err(Wrong::NotYours);
    }
    book.set_rest(person.clone(), ask.field("rest") == Some("start"));
    Ok(Answer::see(&match ask.field("back") {
        Some(_) => format!("/?person={}", encoded(&person)),
        None => "/".to_owned(),
    }))
}

/// What everybody who watches is shown, and when it changes by itself.
pub(crate) fn view(book: &mut Book, (who, language): &View, now: Timestamp) -> (String, Option<Timestamp>) {
    let words = language.words();
    match made(book, who.as_ref(), words, now) {
        Ok((markup, until)) => (markup.into_string(), until),
        Err(error) => {
            tracing::warn!("{error}");
            (
                html! { p.notice { (words.say("error-journal")) } }.into_string(),
                None,
            )
        }
    }
}

fn made(
    book: &mut Book,
    who: Option<&PersonId>,
    words: &Words,
    now: Timestamp,
) -> Result<(Markup, Option<Timestamp>), JournalError> {
    let known = book.known()?;
    let scenes = scenes(book, &known, who, now)?;
    let Some((shown, others)) = scenes.split_first() else {
        return Ok((
            html! { section.step data-step="not-due" { p { (frame::marked_up(words.say("nobody-yet"))) } } },
            None,
        ));
    };
    let until = [
        shown.next.until,
        shown.rest,
        shown.cuff.and_then(|cuff| cuff.at.checked_add(CUFF_SILENT).ok()),
    ]
    .into_iter()
    .chain(others.iter().map(|scene| scene.next.until))
    .flatten()
    .filter(|until| *until > now)
    .min();
    Ok((shown.markup(&known, words, others), until))
}

/// Who stands first in a view, and at which step.
fn first(
    book: &mut Book,
    who: Option<&PersonId>,
    ask: &Ask,
) -> Result<Option<(PersonId, &'static str)>, JournalError> {
    let known = book.known()?;
    let scenes = scenes(book, &known, who, ask.now)?;
    Ok(scenes
        .first()
        .map(|scene| (scene.next.person.clone(), scene.told(&known, ask.words).step)))
}

/// Everybody of a view. First stands the one who has the cuff on, else the one with something to do.
fn scenes(
    book: &mut Book,
    known: &Known,
    who: Option<&PersonId>,
    now: Timestamp,
) -> Result<Vec<Scene>, JournalError> {
    let mut scenes = Vec::new();
    for person in known.people().filter(|one| who.is_none_or(|who| who == *one)) {
        scenes.push(scene(book, known, person, now)?);
    }
    // Equals stay in the order of their names.
    scenes.sort_by_key(|scene| std::cmp::Reverse(scene.rank()));
    Ok(scenes)
}

fn scene(book: &mut Book, known: &Known, person: &PersonId, now: Timestamp) -> Result<Scene, JournalError> {
    let wanted = Wanted {
        person: Some(person.clone()),
        from: now.checked_sub(READINGS_BACK).ok(),
        ..Wanted::default()
    };
    let mut recent = book.journal.readings(&wanted)?;
    recent.retain(|judged| judged.reading.time.at.is_some_and(|at| at <= now));
    let readings: Vec<_> = recent.iter().map(|judged| judged.reading.clone()).collect();
    let next = next::next_of(
        now,
        person,
        known.plans(person),
        &known.protocols,
        &readings,
        (&known.household, &known.notes, &known.zones),
    )
    .map_err(|e| JournalError::Row {
        path: book.journal.path().to_owned(),
        table: "statement",
        row: 0,
        what: e.to_string(),
    })?;
    let begins = recent
        .windows(2)
        .rposition(|pair| match pair {
            [before, after] => {
                let apart = before.reading.time.at.zip(after.reading.time.at);
                apart.is_none_or(|(before, after)| after.duration_since(before) > SITTING_GAP)
            }
            _ => false,
        })
        .map_or(0, |place| place + 1);
    let cuff = [Some(person.clone()), None]
        .iter()
        .filter_map(|whose| book.cuffs.get(whose).copied())
        .find(|cuff| now.duration_since(cuff.at) < CUFF_SILENT);
    let sitting = recent.split_off(begins);
    // A reading ends a rest: the person has begun.
    let rest = book
        .rest(person, now)
        .filter(|_| !next.grounds.sitting && next.state == Step::Rest);
    Ok(Scene {
        next,
        sitting,
        cuff,
        rest,
        now,
    })
}

impl Scene {
    fn rank(&self) -> u8 {
        let urgent = self.next.alerts.first().map_or(Level::Note, |alert| alert.level);
        match self.next.state {
            Step::SeekHelp if urgent == Level::Emergency => 9,
            _ if self.cuff.is_some() => 8,
            Step::SeekHelp if urgent >= Level::ContactNow => 7,
            Step::Wait | Step::Second | Step::Third | Step::Repeat => 6,
            Step::SeekHelp if self.next.grounds.sitting => 6,
            _ if self.rest.is_some() => 5,
            Step::SeekHelp => 4,
            Step::Done if self.next.grounds.sitting => 3,
            Step::Rest => 2,
            Step::Done => 1,
            Step::NotDue => 0,
        }
    }

    fn alert(&self, alert: &Alert, words: &Words) -> String {
        let mut readings = self.sitting.iter().map(|judged| &judged.reading);
        let reading = readings.find(|reading| Some(&reading.id) == alert.reading.as_ref());
        urgent::said(alert, reading, words, None)
    }

    fn told(&self, known: &Known, words: &Words) -> Told {
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

    fn of(&self, step: Step, known: &Known, words: &Words) -> Told {
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
            Step::Rest => match self.rest {
                Some(rest) if self.now < rest => Told::new(
                    "resting",
                    words.say("step-resting"),
                    vec![words.say("step-resting-say")],
                )
                .until(Some(rest)),
                Some(_) => Told::new(
                    "rested",
                    words.say("step-rested"),
                    vec![words.say("step-rested-say")],
                ),
                None => self.rest_due(until, slot("step-rest-slot"), words, &numbers, &time),
            },
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
            Step::Repeat => {
                let mut say = vec![words.say("step-repeat-say")];
                say.extend(grounds.set_aside.map(|reason| said(reason, words)));
                let heading = if until.is_some() {
                    "step-repeat-wait"
                } else {
                    "step-repeat"
                };
                Told::new("repeat", words.say(heading), say).until(until)
            }
            Step::Done => {
                let mut say = Vec::new();
                if grounds.sitting {
                    say.push(words.say("step-done-say"));
                } else {
                    say.extend(slot("step-done-between"));
                }
                say.push(self.coming(known, words));
                Told::new("done", words.say("step-done"), say)
            }
            Step::NotDue => Told::new(
                "not-due",
                words.say("step-not-due"),
                vec![self.coming(known, words), words.say("step-not-due-say")],
            ),
            Step::SeekHelp => self.help(words),
        }
    }

    fn rest_due(
        &self,
        until: Option<Timestamp>,
        due: Option<String>,
        words: &Words,
        numbers: &[(&str, crate::home::words::Value<'_>)],
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

    fn help(&self, words: &Words) -> Told {
        let Some(alert) = self.next.alerts.first() else {
            return Told::new("help", words.say("help-today"), Vec::new());
        };
        let waiting = self.next.until.is_some_and(|until| until > self.now);
        let heading = match alert.level {
            Level::Emergency => "help-emergency",
            Level::ContactNow => "help-now",
            Level::ContactToday | Level::TellClinic => "help-today",
            Level::MeasureAgain if waiting => "help-wait",
            Level::MeasureAgain => "help-again",
            Level::Note => "help-low",
        };
        let until = self.next.until.filter(|_| alert.level == Level::MeasureAgain);
        let mut say = vec![self.alert(alert, words)];
        if alert.level < Level::Emergency && alert.level > Level::Note {
            say.push(words.say("emergency-if"));
        }
        let step = if alert.level == Level::Emergency {
            "emergency"
        } else {
            "help"
        };
        Told::new(step, words.say(heading), say).until(until)
    }

    fn coming(&self, known: &Known, words: &Words) -> String {
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

    fn markup(&self, known: &Known, words: &Words, others: &[Self]) -> Markup {
        let told = self.told(known, words);
        let after = self
            .next
            .otherwise
            .filter(|_| told.step == "help" && !matches!(self.next.otherwise, Some(Step::NotDue)))
            .map(|step| self.of(step, known, words).heading);
        let heard = format!("{}. {}", told.heading, told.say.join(" "));
        let urgent = matches!(told.step, "help" | "emergency");
        let technique = matches!(told.step, "rest" | "resting" | "rested");
        let more = self.next.alerts.iter().skip(usize::from(urgent));
        html! {
            section.step data-step=(told.step) data-heard=(heard) data-urgent[urgent] data-person=(self.next.person)
                aria-labelledby="step" {
                p.who { bdi { (known.label(&self.next.person)) } }
                h1 #step { (told.heading) }
                @if let Some(until) = told.until.filter(|until| *until > self.now) { (self.countdown(until)) }
                @if let Some(cuff) = &self.cuff { (pressure(cuff, words)) }
                @for (place, say) in told.say.iter().enumerate() {
                    p class=(if place == 0 { "say" } else { "also" }) { (say) }
                }
                @if let Some(after) = after { p.also { (words.with("then-otherwise", &[("step", after.into())])) } }
                @for alert in more { p.notice { (self.alert(alert, words)) } }
                @if urgent {
                    @if let Some(alert) = self.next.alerts.first() {
                        p.small { (words.with("source-of", &[("source", alert.source.into())])) }
                    }
                }
            }
            @if technique { (how_to_sit(words)) }
            @if self.next.grounds.sitting || urgent { (self.readings(known, words)) }
            @if told.step == "done" && self.next.grounds.sitting { (self.looked_back(words)) }
            @if !others.is_empty() {
                ul.others {
                    @for other in others {
                        li {
                            a href={ "/?person=" (encoded(&other.next.person)) } {
                                bdi { (known.label(&other.next.person)) }
                            }
                            ": " (other.told(known, words).heading)
                        }
                    }
                }
            }
        }
    }

    fn countdown(&self, until: Timestamp) -> Markup {
        let left = until.duration_since(self.now).as_secs().max(0);
        // Whoever has no script sees where it stood when the page was made.
        html! {
            p.countdown role="timer" data-until=(until.as_millisecond()) { (left / 60) ":" (format!("{:02}", left % 60)) }
        }
    }

    fn readings(&self, known: &Known, words: &Words) -> Markup {
        if self.sitting.is_empty() {
            return html! {};
        }
        let last = self.sitting.len() - 1;
        let unfinished = self.next.grounds.sitting && self.next.grounds.counted < self.next.grounds.wanted;
        html! {
            section.sitting aria-labelledby="sitting" {
                h2 #sitting { (words.say(if self.next.grounds.sitting { "readings-so-far" } else { "last-reading" })) }
                ol {
                    @for (place, judged) in self.sitting.iter().enumerate() {
                        @if self.next.grounds.sitting || place == last {
                            li data-became=(judged.judgement.disposition.name()) { (one_reading(judged, known, words, unfinished)) }
                        }
                    }
                }
            }
        }
    }

    fn looked_back(&self, words: &Words) -> Markup {
        let counted: Vec<_> = self
            .sitting
            .iter()
            .filter(|judged| judged.judgement.disposition.is_averaged())
            .collect();
        let mut change: Vec<Reason> = Vec::new();
        for judged in &self.sitting {
            let reasons = judged.judgement.reasons.iter();
            change.extend(reasons.filter(|reason| *reason != Reason::NotValidated));
        }
        change.sort_unstable();
        change.dedup();
        html! {
            section.back aria-labelledby="good" {
                h2 #good { (words.say("good")) }
                ul {
                    li { (words.with("good-two", &[("n", counted.len().to_string().into())])) }
                    @if counted.len() == self.sitting.len() { li { (words.say("good-alone")) } }
                    @if change.is_empty() { li { (words.say("good-nothing-noted")) } }
                }
                h2 { (words.say("change")) }
                ul {
                    @for reason in &change { li { (said(*reason, words)) } }
                    @if change.is_empty() { li { (words.say("change-nothing")) } }
                }
            }
        }
    }
}

fn how_to_sit(words: &Words) -> Markup {
    html! {
        section.technique aria-labelledby="how" {
            h2 #how { (words.say("technique")) }
            ol { @for point in 1..=7 { li { (words.say(&format!("technique-{point}"))) } } }
        }
    }
}

fn pressure(cuff: &Cuff, words: &Words) -> Markup {
    let direction = match cuff.rising {
        Some(true) => "cuff-rising",
        Some(false) => "cuff-falling",
        None => "cuff-pressure",
    };
    let mmhg = cuff.pressure.mmhg();
    html! {
        p.cuff data-rising=[cuff.rising] {
            span.number {
                @if cuff.kpa { (format!("{:.1}", mmhg * 0.133_322_387_415)) } @else { (format!("{mmhg:.0}")) }
            }
            " " span.unit { @if cuff.kpa { "kPa" } @else { "mmHg" } }
            span.direction { (words.say(direction)) }
        }
    }
}

/// A reading as it landed: what was measured, when, and what became of it.
fn one_reading(judged: &JudgedReading, known: &Known, words: &Words, unfinished: bool) -> Markup {
    let reading = &judged.reading;
    let mut because: Vec<Reason> = judged.judgement.because().iter().collect();
    if unfinished {
        // What is missing of a session that goes on is the next step, and no fault of the readings so far.
        because.retain(|reason| reason.rule().judges != Judges::Session);
    }
    let became = match judged.judgement.disposition {
        Disposition::SetAside => "set-aside",
        Disposition::Marked if !because.is_empty() => "marked",
        Disposition::Marked | Disposition::Counted => "counted",
    };
    html! {
        span.values { (values(reading.systolic, reading.diastolic)) }
        " " span.unit { (reading.unit.name()) }
        @if let Some(pulse) = reading.pulse_rate {
            " " span.pulse { (words.with("pulse", &[("pulse", pulse.to_string().into())])) }
        }
        @if let Some(at) = reading.time.at {
            " " span.at { (words.time(known.zones.civil(at).time())) }
        }
        span.became {
            (words.say(became))
            @for reason in because { " " span.why { (said(reason, words)) } }
        }
    }
}

/// Systolic over diastolic, with the digits that the monitor gave.
pub(super) fn values(systolic: Sfloat, diastolic: Sfloat) -> String {
    format!("{systolic}/{diastolic}")
}

/// A reason, as the person is told.
pub(super) fn said(reason: Reason, words: &Words) -> String {
    words.say(&format!("reason-{}", reason.name()))
}
