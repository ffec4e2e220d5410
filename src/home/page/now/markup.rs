//! A scene as HTML.

use super::super::frame::{encoded, with_english};
use super::super::parts::SHOWN_MAX;
use super::passing::{pressure, tube};
use super::posture::how_to_sit;
use super::scene::{Scene, said, values};
use super::told::Told;
use crate::home::page::phones::calls;
use crate::household::{AFTER_BIRTH_SOURCE, PersonId};
use crate::monitoring::escalation::Level;
use crate::monitoring::next::{PlanCourse, Step};
use crate::monitoring::stated::Stated;
use crate::technique::{Disposition, JudgedReading, Judges, Reason};
use crate::words::Words;
use maud::{Markup, html};

impl Scene {
    pub(super) fn markup(&self, told: &Told, known: &Stated, words: &Words, others: &[Self]) -> Markup {
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
                data-alerts=(self.waiting()) data-begin=[self.begins(known, words)]
                aria-labelledby="step" {
                p.who { bdi { (known.label(&self.next.person)) } }
                h1 #step { (told.heading) }
                @if urgent { (calls(&self.phones, told.step == "emergency", words)) }
                @if let Some(until) = told.until.filter(|until| *until > self.now) { (self.countdown(until, words)) }
                @if let Some(cuff) = &self.cuff { (pressure(cuff, words)) }
                @for (place, say) in told.say.iter().enumerate() {
                    p class=(if place == 0 { "say" } else { "also" }) { (say) }
                }
                (self.turn(known, words, others))
                @if told.step == "over" {
                    p.next { a.button.first href={ "/week?person=" (encoded(&self.next.person)) } { (words.say("nav-week")) } }
                }
                @if let Some(after) = after { p.also { (words.with("then-otherwise", &[("step", after.into())])) } }
                @for alert in more { p.notice { (self.alert(alert, words)) } }
                @if let Some(ended) = self.pregnancy_ended(known).filter(|_| !urgent) {
                    p.notice data-ended="pregnancy" {
                        (words.with("after-birth-ended", &[("date", words.date(ended).into())])) " "
                        (with_english(words, "source-of", &[], ("source", AFTER_BIRTH_SOURCE)))
                    }
                }
                @for (route, since) in &self.undelivered {
                    p.notice { (words.with("undelivered", &[
                        ("route", route.as_str().into()), ("moment", words.moment(known.zones.civil(*since)).into()),
                    ])) }
                }
                @if urgent {
                    @if let Some(alert) = self.next.alerts.first() {
                        p.small {
                            (words.with("since-moment", &[("moment", words.moment(known.zones.civil(alert.at)).into())]))
                            " " (with_english(words, "source-of", &[], ("source", alert.source)))
                            @if alert.choice().is_some() {
                                @let choice = words.say(&format!("choice-{}", alert.about.name()));
                                " " (words.with("choice-of", &[("choice", choice.into())]))
                            }
                        }
                    }
                    @if self.next.alerts.iter().any(|alert| alert.person.is_none()) {
                        p { a.button href="/questions" { (words.say("nobodys-say")) } }
                    }
                    @if self.next.alerts.iter().any(|alert| alert.level == Level::Ask) {
                        p { a.button href={ "/notes?person=" (encoded(&self.next.person)) "#symptoms" } { (words.say("help-ask")) } }
                    }
                }
            }
            @if let Some(cuff) = self.cuff.as_ref().filter(|_| told.step == "measuring") { (tube(cuff, words)) }
            @if technique { (how_to_sit(words)) }
            @if self.next.grounds.sitting || urgent { (self.readings(known, words)) }
            @if told.step == "done" && self.next.grounds.sitting { (self.looked_back(words)) }
            (rest_of(others, known, words))
        }
    }

    /// What the button says that begins days for this person, where none run and none are to come.
    pub(super) fn begins(&self, known: &Stated, words: &Words) -> Option<String> {
        let none = matches!(
            self.next.grounds.course,
            PlanCourse::NotBegun | PlanCourse::Over(_)
        );
        let days = known.protocol_of(&self.next.person).filter(|_| none)?.days.value;
        let who = known.label(&self.next.person);
        Some(words.with(
            "period-start-for",
            &[("days", days.to_string().into()), ("who", who.into())],
        ))
    }

    fn turn(&self, known: &Stated, words: &Words, others: &[Self]) -> Markup {
        html! {
            @if let Some(next) = self.whose_turn_next(others) {
                p.turn { (words.with("turn-next", &[("who", known.label(next).into())])) }
            }
        }
    }

    /// Of those who share this screen: who measures after the one who is shown.
    fn whose_turn_next<'a>(&self, others: &'a [Self]) -> Option<&'a PersonId> {
        let next = others.iter().find(|other| other.next.state == Step::Rest)?;
        let waits = matches!(
            self.next.state,
            Step::Rest | Step::Wait | Step::Second | Step::Third | Step::Repeat | Step::Done
        );
        waits.then_some(&next.next.person)
    }

    fn readings(&self, known: &Stated, words: &Words) -> Markup {
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

/// The others of this screen, with what each should do.
fn rest_of(others: &[Scene], known: &Stated, words: &Words) -> Markup {
    html! {
        @if !others.is_empty() {
            ul.others {
                // The most urgent come first.
                @for other in others.iter().take(SHOWN_MAX) {
                    li {
                        a href={ "/?person=" (encoded(&other.next.person)) } {
                            bdi { (known.label(&other.next.person)) }
                        }
                        ": " (other.told(known, words).heading)
                    }
                }
                @if others.len() > SHOWN_MAX {
                    @let more = i64::try_from(others.len() - SHOWN_MAX).unwrap_or(i64::MAX);
                    li { a href="/household" { (words.with("find-more", &[("n", more.into())])) } }
                }
            }
        }
    }
}

/// A reading as it landed: what was measured, when, and what became of it.
fn one_reading(judged: &JudgedReading, known: &Stated, words: &Words, unfinished: bool) -> Markup {
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
