//! Now: what the person with the cuff should do next, large enough to be read from two metres.
//!
//! A function of what the journal holds, of a rest that somebody started, and of the cuff while it works.
//! Nobody has to touch it: readings that arrive drive it. Everybody who looks at one person sees the same
//! view.

mod everybody;
mod markup;
mod passing;
mod posture;
mod scene;
mod told;

pub(super) use everybody::Everybodys;
pub(super) use scene::{said, values};
pub(super) use told::heading_of;

use super::answer::Answer;
use super::ask::{Ask, Wrong};
use super::frame::{self, encoded, token};
use super::listening;
use crate::home::live::{Book, CUFF_SILENT, View};
use crate::household::{AlertAnswer, PersonId, Statement};
use crate::journal::{JournalError, Wanted};
use crate::monitoring::escalation::{self, Alert, Level};
use crate::monitoring::next::{self, READINGS_BACK, Step};
use crate::monitoring::stated::Stated;
use crate::monitoring::urgent;
use crate::reading::Reading;
use crate::sitting::{SITTING_GAP, SessionRule};
use crate::technique::Context;
use crate::words::Words;
use jiff::Timestamp;
use maud::{Markup, html};
use scene::Scene;

pub(super) fn page(ask: &Ask, book: &mut Book) -> Result<Answer, Wrong> {
    let person = ask.person(book)?;
    let title = ask.say("title-now");
    let seen = seen(book, person.as_ref(), ask.words, ask.now)?;
    let query = person.as_ref().map(|p| format!("?person={}", encoded(p)));
    let source = format!("/live{}", query.unwrap_or_default());
    let body = html! {
        (posture::drawings())
        p #lost .notice hidden data-say=(ask.words.with("connection-lost", &[("time", "{}".into())])) {}
        p #heard .unseen role="status" {}
        p #urgent .unseen role="alert" {}
        div #now data-source=(source) data-at=(ask.now.as_millisecond()) { (seen.markup) }
        @if let Some(person) = seen.first.as_ref().filter(|person| ask.viewer.writes(person)) {
            form #answer method="post" action="/answer" {
                (token(ask))
                input type="hidden" name="person" value=(person);
                input type="hidden" name="alerts" value=(seen.alerts);
                @if ask.field("person").is_some() { input type="hidden" name="back" value="person"; }
                fieldset.taps {
                    legend { (ask.say("answer-title")) }
                    @for answer in AlertAnswer::ALL {
                        button name="answer" value=(answer.name()) { (ask.say(&format!("answer-{}", answer.name()))) }
                    }
                }
                p.small { (ask.say("answer-say")) }
            }

            div.actions {
                @if ask.viewer.cares() {
                    form #begin method="post" action="/period" {
                        (token(ask))
                        input type="hidden" name="back" value=(if ask.field("person").is_some() { "person" } else { "now" });
                        button.accent name="person" value=(person) { (seen.begins.unwrap_or_default()) }
                    }
                }
                form #rest method="post" action="/rest" {
                    (token(ask))
                    input type="hidden" name="person" value=(person);
                    @if ask.field("person").is_some() { input type="hidden" name="back" value="person"; }
                    button.accent.start name="rest" value="start" { (ask.say("start-rest")) }
                    button.stop name="rest" value="stop" { (ask.say("stop-rest")) }
                }
                a #unwell .button href={ "/notes?person=" (encoded(person)) "#symptoms" } { (ask.say("feel-unwell")) }
            }
        }
        (aids(ask.words))
        noscript { p.small { (ask.say("no-script")) } }
    };
    let page = frame::Page {
        title: &title,
        person: person.as_ref(),
        of_people: true,
        live: Some(seen.step),
    };
    Ok(Answer::html(frame::page(ask, book, &page, &body)?))
}

/// What a browser does only when it was asked to, and remembers: sound, and a screen that stays on. The script shows
/// what this browser can.
fn aids(words: &Words) -> Markup {
    let voice = words.with(
        "aloud-no-voice",
        &[("language", words.say("language-name").into())],
    );
    html! {
        div #aids hidden {
            button #aloud .quiet type="button" aria-pressed="false" hidden { (words.say("aloud")) }
            button #awake .quiet type="button" aria-pressed="false" hidden { (words.say("awake")) }
            p.small role="status" data-asleep=(words.say("aloud-asleep")) data-no-voice=(voice) {}
        }
    }
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

/// Takes what was done about the alerts that the page showed: those that came since still stand.
pub(super) fn answered(ask: &Ask, book: &mut Book) -> Result<Answer, Wrong> {
    let person = ask.person(book)?.ok_or(Wrong::NotFound)?;
    if !ask.viewer.writes(&person) {
        return Err(Wrong::NotYours);
    }
    let said = ask.field("answer").unwrap_or_default();
    let answer = AlertAnswer::of_name(said).ok_or_else(|| Wrong::Value(said.chars().take(40).collect()))?;
    let known = book.known()?;
    let everybodys = Everybodys::of(book, &[&person], ask.now)?;
    let standing = scene(book, &everybodys, &known, &person, ask.now)?.next.alerts;
    let shown: Vec<&str> = ask.field("alerts").unwrap_or_default().split(' ').collect();
    let statements: Vec<Statement> = standing
        .iter()
        .map(Alert::key)
        .filter(|key| shown.contains(&key.as_str()))
        .map(|alert| Statement::AlertAnswered {
            alert,
            answer: Some(answer),
            by: ask.viewer.name().map(str::to_owned),
            at: ask.now,
        })
        .collect();
    book.state(&statements)?;
    Ok(Answer::see(&match ask.field("back") {
        Some(_) => format!("/?person={}", encoded(&person)),
        None => "/".to_owned(),
    }))
}

/// What a person is told that must not wait, with how urgent it is.
pub(super) fn told_now(
    book: &mut Book,
    everybodys: &Everybodys<'_>,
    person: &PersonId,
    (words, now): (&Words, Timestamp),
) -> Result<Option<(Level, String, Vec<String>)>, JournalError> {
    let known = book.known()?;
    let scene = scene(book, everybodys, &known, person, now)?;
    let level = scene.next.alerts.first().map(|alert| alert.level);
    Ok(level.map(|level| {
        let told = scene.told(&known, words);
        (level, told.heading, told.say)
    }))
}

/// What everybody who watches is shown, and when it changes by itself.
pub(crate) fn view(book: &mut Book, (who, language): &View, now: Timestamp) -> (String, Option<Timestamp>) {
    let words = language.words();
    match seen(book, who.as_ref(), words, now) {
        Ok(seen) => (seen.markup.into_string(), seen.until),
        Err(error) => {
            tracing::warn!("{error}");
            (
                html! { p.notice { (words.say("error-journal")) } }.into_string(),
                None,
            )
        }
    }
}

/// A view at one moment.
struct Seen {
    markup: Markup,
    /// When it changes by itself.
    until: Option<Timestamp>,
    /// Who stands first.
    first: Option<PersonId>,
    /// At which step, by its name in the style sheet.
    step: &'static str,
    /// What of them waits for an answer, by its keys.
    alerts: String,
    /// What the button says that begins days for them.
    begins: Option<String>,
}

fn seen(
    book: &mut Book,
    who: Option<&PersonId>,
    words: &Words,
    now: Timestamp,
) -> Result<Seen, JournalError> {
    let known = book.known()?;
    let scenes = scenes(book, &known, who, now)?;
    let heard = listening::notices(book, &known, words, now)?;
    let Some((shown, others)) = scenes.split_first() else {
        let nobodys = nobodys(book, &known, words, now)?;
        return Ok(Seen {
            markup: html! { (heard) (nobodys) section.step data-step="not-due" { (frame::nobody(words)) } },
            until: None,
            first: None,
            step: "not-due",
            alerts: String::new(),
            begins: None,
        });
    };
    let until = scenes
        .iter()
        .flat_map(|scene| scene.changes(&known))
        .filter(|until| *until > now)
        .min();
    let told = shown.told(&known, words);
    Ok(Seen {
        markup: html! { (heard) div.view { (shown.markup(&told, &known, words, others)) } },
        until,
        first: Some(shown.next.person.clone()),
        step: told.step,
        alerts: shown.waiting(),
        begins: shown.begins(&known, words),
    })
}

/// What must not wait of readings that are nobody's, in a household to which nobody has been added.
fn nobodys(book: &mut Book, known: &Stated, words: &Words, now: Timestamp) -> Result<Markup, JournalError> {
    let since = now.checked_sub(READINGS_BACK).ok();
    let mut readings: Vec<Reading> = book
        .journal
        .readings(&Wanted {
            from: since,
            ..Wanted::default()
        })?
        .into_iter()
        .map(|judged| judged.reading)
        .collect();
    let undated = book.journal.undated_since(None, since)?;
    readings.extend(undated.into_iter().map(|judged| judged.reading));
    let context = Context {
        household: &known.household,
        notes: &known.notes,
        zone: known.zones.at(now),
        rule: SessionRule::default(),
    };
    let alerts = escalation::alerts(now, None, &readings, &context);
    Ok(html! {
        @for alert in alerts.iter().filter(|alert| alert.outranks()) {
            @let reading = readings.iter().find(|reading| alert.reading.as_ref() == Some(&reading.id));
            section.step data-step="help" data-urgent data-alerts=(alert.key()) {
                h1 { (words.say(heading_of(alert.level))) }
                p.say { (urgent::said(alert, reading, words, None)) " " (words.say("told-reading-is-nobodys")) }
                p.also { (words.say("emergency-if")) }
                p.small { (frame::with_english(words, "source-of", &[], ("source", alert.source))) }
            }
        }
    })
}

/// Everybody of a view. First stands the one who has the cuff on, else the one with something to do.
fn scenes(
    book: &mut Book,
    known: &Stated,
    who: Option<&PersonId>,
    now: Timestamp,
) -> Result<Vec<Scene>, JournalError> {
    let people = known.people().filter(|one| who.is_none_or(|who| who == *one));
    let people: Vec<&PersonId> = people.collect();
    let everybodys = Everybodys::of(book, &people, now)?;
    let mut scenes = Vec::new();
    for person in people {
        scenes.push(scene(book, &everybodys, known, person, now)?);
    }
    // Equals stay in the order of their names.
    scenes.sort_by_key(|scene| std::cmp::Reverse(scene.rank()));
    if let [first, _, ..] = scenes.as_mut_slice() {
        // Who is shown in full may be shown a last reading of days ago.
        let full = everybodys.in_full();
        *first = scene(book, &full, known, &first.next.person.clone(), now)?;
    }
    Ok(scenes)
}

fn scene(
    book: &mut Book,
    everybodys: &Everybodys<'_>,
    known: &Stated,
    person: &PersonId,
    now: Timestamp,
) -> Result<Scene, JournalError> {
    let mut recent = everybodys.recent(book, person, now)?;
    let mut readings: Vec<_> = recent.iter().map(|judged| judged.reading.clone()).collect();
    readings.extend_from_slice(&everybodys.nobodys);
    let mut taken = recent.iter().filter_map(|judged| judged.reading.time.at);
    let measured = taken.any(|at| at < now) || book.journal.last_before(person, now)?.is_some();
    let next = next::next_of(
        now,
        person,
        (known.plans(person), measured),
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
    let about = |reading: &Reading| {
        next.alerts
            .iter()
            .any(|alert| alert.reading.as_ref() == Some(&reading.id))
    };
    let alarming: Vec<Reading> = readings.into_iter().filter(about).collect();
    // One that is dated ahead of the clock is told by its alert; no session is made of it yet.
    recent.retain(|judged| judged.reading.time.at.is_some_and(|at| at <= now));
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
        undelivered: everybodys.undelivered(person),
        alarming,
        sitting,
        cuff,
        rest,
        now,
        phones: book.phones(known),
    })
}
