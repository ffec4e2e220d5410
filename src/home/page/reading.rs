//! One reading: whose it is, and what was said of it; each answer can be changed and taken back.

use super::answer::Answer;
use super::ask::{Ask, Wrong};
use super::frame::{self, token};
use super::now::values;
use super::parts;
use crate::export::report::words::doubted;
use crate::home::live::Book;
use crate::household::{PersonId, Statement};
use crate::journal::Wanted;
use crate::monitoring::stated::Stated;
use crate::reading::Reading;
use crate::reading::owner::doubt;
use crate::technique::JudgedReading;
use jiff::Timestamp;
use maud::{Markup, html};
use std::collections::BTreeSet;

/// As many of the last answers are shown as somebody may have given in one go.
const ANSWERS_SHOWN: usize = 10;

pub(super) fn page(ask: &Ask, book: &mut Book) -> Result<Answer, Wrong> {
    let judged = asked(ask, book)?;
    let known = book.known()?;
    let reading = &judged.reading;
    let title = ask.say("title-reading");
    let body = html! {
        h1 { (title) }
        p.large { (values(reading.systolic, reading.diastolic)) " " span.unit { (reading.unit.name()) } }
        (said(ask, &known, reading))
        @if may(ask, reading) { (forms(ask, &known, reading)) }
    };
    let page = frame::Page {
        title: &title,
        person: reading.person.as_ref(),
        of_people: false,
        live: None,
    };
    Ok(Answer::html(frame::page(ask, book, &page, &body)?))
}

/// The reading, where the viewer may see it: one that is nobody's belongs to those who look after everybody.
fn asked(ask: &Ask, book: &mut Book) -> Result<JudgedReading, Wrong> {
    let wanted = Wanted {
        id: Some(ask.field("reading").unwrap_or_default().to_owned()),
        ..Wanted::default()
    };
    let judged = book.journal.readings(&wanted)?.pop().ok_or(Wrong::NotFound)?;
    let sees = match &judged.reading.person {
        Some(person) => ask.viewer.sees(person),
        None => !ask.viewer.is_for_some(),
    };
    // Whether there is such a reading is nobody else's to know.
    if sees { Ok(judged) } else { Err(Wrong::NotFound) }
}

/// Whose it is can be said by those who look after everybody; that it is not to be averaged, by whoever may note
/// something about its person.
fn may(ask: &Ask, reading: &Reading) -> bool {
    ask.viewer.cares()
        || reading
            .person
            .as_ref()
            .is_some_and(|person| ask.viewer.writes(person))
}

fn said(ask: &Ask, known: &Stated, reading: &Reading) -> Markup {
    let words = ask.words;
    let moment = |at: Timestamp| words.moment(known.zones.civil(at));
    let whose = reading
        .person
        .as_ref()
        .map(|person| known.label(person).to_owned());
    let assigned = known.household.assigned.contains_key(&reading.id.0);
    html! {
        dl {
            dt { (words.say("column-time")) }
            dd { (reading.time.at.map_or_else(|| words.say("reading-time-unknown"), moment)) }
            dt { (words.say("reading-received")) }
            dd { (moment(reading.received_at)) " · " (reading.monitor) }
            dt { (words.say("monitor-usual")) }
            dd {
                bdi { (whose.unwrap_or_else(|| words.say("reading-nobodys"))) }
                @if assigned { " · " (words.say("reading-assigned")) }
            }
            @if let Some(doubt) = doubt(&known.household, reading) { dd { (doubted(words, doubt, reading)) } }
            @if let Some(reason) = &reading.discarded {
                dt { (words.say("reading-discarded")) }
                dd { bdi { (reason) } }
            }
        }
    }
}

fn forms(ask: &Ask, known: &Stated, reading: &Reading) -> Markup {
    let words = ask.words;
    let assigned = known.household.assigned.contains_key(&reading.id.0);
    let others = known.people().filter(|one| reading.person.as_ref() != Some(*one));
    let others: Vec<&PersonId> = others.collect();
    let saw = seen(known, reading);
    let hidden = html! {
        (token(ask))
        input type="hidden" name="reading" value=(reading.id.0);
        input type="hidden" name="saw" value=(saw);
    };
    html! {
        @if ask.viewer.cares() {
            form method="post" action="/reading" {
                (hidden)
                fieldset.taps {
                    legend { (words.say("reading-give")) }
                    (parts::whom(ask, known, &others, "whom"))
                    @if assigned { button.quiet name="take-back" value="whose" { (words.say("reading-take-back-whose")) } }
                }
            }
        }
        form method="post" action="/reading" {
            (hidden)
            @if reading.discarded.is_some() {
                button name="take-back" value="discard" { (words.say("reading-take-back-discard")) }
            } @else {
                button.quiet name="discard" value="yes" { (words.say("answer-discard")) }
            }
        }
    }
}

/// What a form saw of the statements about a reading: it answers that and nothing that came since.
fn seen(known: &Stated, reading: &Reading) -> String {
    let whose = reading.person.as_ref().map_or("-", PersonId::as_str);
    let said = if known.household.assigned.contains_key(&reading.id.0) {
        "said"
    } else {
        "-"
    };
    let discarded = if reading.discarded.is_some() {
        "discarded"
    } else {
        "-"
    };
    format!("{whose} {said} {discarded}")
}

/// Takes what somebody says of the reading.
pub(super) fn save(ask: &Ask, book: &mut Book) -> Result<Answer, Wrong> {
    let reading = asked(ask, book)?.reading;
    if !may(ask, &reading) {
        return Err(Wrong::NotYours);
    }
    let known = book.known()?;
    if ask.field("saw") != Some(seen(&known, &reading).as_str()) {
        return Err(Wrong::Changed);
    }
    let id = reading.id.0.clone();
    let whose = |person: Option<PersonId>| Statement::Assigned {
        reading: id.clone(),
        person,
    };
    let statement = match (ask.field("person"), ask.field("take-back"), ask.field("discard")) {
        (Some(person), ..) if ask.viewer.cares() => {
            let person: PersonId = person.parse().map_err(|_| Wrong::NotFound)?;
            if !known.people().any(|one| *one == person) {
                return Err(Wrong::NotFound);
            }
            whose(Some(person))
        }
        (_, Some("whose"), _) if ask.viewer.cares() => whose(None),
        (Some(_), ..) | (_, Some("whose"), _) => return Err(Wrong::NotYours),
        (_, Some("discard"), _) => Statement::Discarded {
            reading: id.clone(),
            reason: None,
        },
        (.., Some(_)) => Statement::Discarded {
            reading: id.clone(),
            reason: Some(ask.say("discarded-by-page")),
        },
        _ => return Err(Wrong::NotFound),
    };
    book.state(&[statement])?;
    Ok(Answer::see(&address(&id)))
}

/// The page of a reading.
pub(super) fn address(reading: &str) -> String {
    let id: String = form_urlencoded::byte_serialize(reading.as_bytes()).collect();
    format!("/reading?reading={id}")
}

/// The readings that somebody last said something about, each with a link to where that can be taken back.
pub(super) fn last_answers(ask: &Ask, book: &mut Book) -> Result<Markup, Wrong> {
    let mut told = BTreeSet::new();
    let mut last = Vec::new();
    let known = book.known()?;
    for row in known.rows().iter().rev() {
        let (Statement::Assigned { reading, .. }
        | Statement::Timed { reading, .. }
        | Statement::Discarded { reading, .. }) = &row.statement
        else {
            continue;
        };
        if last.len() < ANSWERS_SHOWN && told.insert(reading.clone()) {
            last.push(reading.clone());
        }
    }
    let mut shown = Vec::new();
    for id in last {
        let wanted = Wanted {
            id: Some(id),
            ..Wanted::default()
        };
        shown.extend(book.journal.readings(&wanted)?);
    }
    Ok(html! {
        @if !shown.is_empty() {
            section.answers aria-labelledby="answers" {
                h2 #answers { (ask.say("answers-title")) }
                ul {
                    @for judged in &shown {
                        @let reading = &judged.reading;
                        li {
                            a href=(address(&reading.id.0)) {
                                (values(reading.systolic, reading.diastolic)) " "
                                (ask.words.moment(known.zones.civil(reading.time.at.unwrap_or(reading.received_at))))
                            }
                            @if let Some(person) = &reading.person { " · " bdi { (known.label(person)) } }
                            @if let Some(reason) = &reading.discarded { " · " bdi { (reason) } }
                        }
                    }
                }
            }
        }
    })
}
