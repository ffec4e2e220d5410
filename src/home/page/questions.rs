//! Waiting for an answer: whose was this, and when was this. Nobody is guessed.

use super::answer::Answer;
use super::ask::{Ask, Wrong};
use super::frame::{self, token};
use super::now::values;
use super::{parts, reading};
use crate::export::report::words::doubted;
use crate::home::live::Book;
use crate::household::{PersonId, Statement};
use crate::journal::Wanted;
use crate::monitoring::stated::Stated;
use crate::reading::Reading;
use crate::reading::owner::doubt;
use crate::technique::JudgedReading;
use jiff::Timestamp;
use jiff::civil::DateTime;
use maud::{Markup, html};

/// The profile's number for a user that the monitor does not know.
const USER_UNKNOWN: u8 = 255;
/// As many as a person answers at once; the rest come up behind them.
const SHOWN_MAX: usize = 25;

pub(super) fn page(ask: &Ask, book: &mut Book) -> Result<Answer, Wrong> {
    if ask.viewer.is_for_some() {
        return Err(Wrong::NotYours);
    }
    let title = ask.say("title-questions");
    let known = book.known()?;
    let people: Vec<&PersonId> = known.people().collect();
    // Beside each stands the list of all of them.
    let most = if people.len() > parts::SHOWN_MAX {
        parts::SHOWN_MAX
    } else {
        SHOWN_MAX
    };
    let waiting = book.journal.unanswered(most)?;
    let answers = reading::last_answers(ask, book)?;
    let body = html! {
        h1 { (title) }
        @if waiting.is_empty() { p { (ask.say("questions-none")) } }
        @for judged in &waiting { (question(judged, ask, &known, &people)) }
        @if ask.viewer.cares() { (answers) }
    };
    frame::of_household(ask, book, &title, &body)
}

fn question(judged: &JudgedReading, ask: &Ask, known: &Stated, people: &[&PersonId]) -> Markup {
    let reading = &judged.reading;
    let words = ask.words;
    let whose = reading.person.is_none();
    let id = &reading.id.0;
    let heading = format!("q{id}");
    let received = words.moment(known.zones.civil(reading.received_at));
    html! {
        section.question aria-labelledby=(heading) {
            h2 #(heading) { (words.say(if whose { "question-whose" } else { "question-when" })) }
            p.large { (values(reading.systolic, reading.diastolic)) " " span.unit { (reading.unit.name()) }
                @if let Some(pulse) = reading.pulse_rate {
                    " " span.pulse { (words.with("pulse", &[("pulse", pulse.to_string().into())])) }
                } }
            p {
                @match reading.time.at {
                    Some(at) => { (words.moment(known.zones.civil(at))) }
                    None => { (words.with("question-when-say", &[("moment", received.into())])) }
                }
                " · " (reading.monitor)
            }
            @if whose {
                @if let Some(doubt) = doubt(&known.household, reading) { p { (doubted(words, doubt, reading)) } }
                p.small { (words.say("question-whose-say")) }
            }
            @if ask.viewer.cares() {
                form method="post" action="/questions" {
                    (token(ask))
                    input type="hidden" name="reading" value=(id);
                    @if whose {
                        @if let Some(always) = always(reading, ask, known) {
                            p.choice { label { input type="checkbox" name="always" value="yes"; " " (always) } }
                        }
                        div.taps {
                            (parts::whom(ask, known, people, &format!("w{id}")))
                            button.quiet name="discard" value="guest" { (words.say("not-ours")) }
                        }
                    } @else {
                        label for={ "t" (id) } { (words.say("answer-time")) }
                        input #{ "t" (id) } type="datetime-local" name="time" required;
                        button { (words.say("answer-save")) }
                    }
                }
                @if !whose {
                    form method="post" action="/questions" {
                        (token(ask))
                        input type="hidden" name="reading" value=(id);
                        button.quiet name="discard" value="time" { (words.say("answer-discard")) }
                    }
                }
            }
        }
    }
}

/// What else an answer can settle: all that comes under the same number of the monitor, or without one.
fn always(reading: &Reading, ask: &Ask, known: &Stated) -> Option<String> {
    free(reading, known, ask.now)?;
    let monitor = || ("monitor", reading.monitor.to_string().into());
    match reading.user_id {
        Some(USER_UNKNOWN) => None,
        Some(number) => Some(ask.words.with(
            "question-always-user",
            &[monitor(), ("number", number.to_string().into())],
        )),
        None => Some(ask.words.with("question-always", &[monitor()])),
    }
}

/// From when on the number of a reading is nobody's: from the beginning, or since somebody gave it up. `None` where
/// somebody has it; then it is handed over beside its monitor, which asks.
fn free(reading: &Reading, known: &Stated, now: Timestamp) -> Option<Option<Timestamp>> {
    let monitor = reading.monitor.clone();
    let mapping = match reading.user_id {
        Some(number) => known.household.user_indexes.get(&(monitor, number)),
        None => known.household.usual.get(&monitor),
    };
    match mapping {
        None => Some(None),
        Some(mapping) => mapping.at(now).is_none().then(|| mapping.since(now)),
    }
}

/// Whose everything is that comes as this reading did, as long as the number is nobody's.
fn mapped(reading: &Reading, person: &PersonId, known: &Stated, now: Timestamp) -> Option<Statement> {
    let from = free(reading, known, now)?;
    let (monitor, person) = (reading.monitor.clone(), Some(person.clone()));
    match reading.user_id {
        Some(USER_UNKNOWN) => None,
        Some(user_id) => Some(Statement::UserIndex {
            monitor,
            user_id,
            person,
            from,
        }),
        None => Some(Statement::UsualPerson {
            monitor,
            person,
            from,
        }),
    }
}

/// Takes an answer. It concerns a reading that waits for one; every other is changed on its own page.
pub(super) fn answer(ask: &Ask, book: &mut Book) -> Result<Answer, Wrong> {
    if !ask.viewer.cares() {
        return Err(Wrong::NotYours);
    }
    let id = ask.field("reading").unwrap_or_default().to_owned();
    let wanted = Wanted {
        id: Some(id.clone()),
        ..Wanted::default()
    };
    let judged = book.journal.readings(&wanted)?.pop().ok_or(Wrong::NotFound)?;
    let known = book.known()?;
    let mut also = None;
    let answer = if let Some(person) = ask.field("person") {
        let person: PersonId = person.parse().map_err(|_| Wrong::NotFound)?;
        if judged.reading.person.is_some() || !known.people().any(|one| *one == person) {
            return Err(Wrong::NotFound);
        }
        if ask.field("always").is_some() {
            also = mapped(&judged.reading, &person, &known, ask.now);
        }
        Statement::Assigned {
            reading: id,
            person: Some(person),
        }
    } else if let Some(time) = ask.field("time") {
        let wrong = || Wrong::Value(time.chars().take(40).collect());
        let civil: DateTime = time.parse().map_err(|_| wrong())?;
        let at = known.zones.instant(civil).ok_or_else(wrong)?;
        if at > ask.now {
            return Err(Wrong::Future);
        }
        if judged.reading.time.at.is_some() {
            return Err(Wrong::NotFound);
        }
        Statement::Timed {
            reading: id,
            measured_at: Some(at),
        }
    } else {
        // Somebody else may have answered meanwhile.
        let waits = match ask.field("discard") {
            Some("guest") => judged.reading.person.is_none(),
            Some("time") => judged.reading.time.at.is_none(),
            _ => false,
        };
        if !waits {
            return Err(Wrong::NotFound);
        }
        Statement::Discarded {
            reading: id,
            reason: Some(ask.say("discarded-by-page")),
        }
    };
    book.state(&[Some(answer), also].into_iter().flatten().collect::<Vec<_>>())?;
    Ok(Answer::see("/questions"))
}
