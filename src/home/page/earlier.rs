//! Earlier: every reading of a person, a month at a time, so that ten years cost what a month costs.

use super::answer::Answer;
use super::ask::{Ask, Wrong};
use super::frame::{self, encoded};
use super::week::line;
use crate::home::live::Book;
use crate::household::PersonId;
use crate::journal::Wanted;
use crate::monitoring::stated::Stated;
use crate::technique::JudgedReading;
use jiff::civil::{Date, DateTime, Time};
use jiff::{Timestamp, ToSpan};
use maud::{Markup, html};

pub(super) fn page(ask: &Ask, book: &mut Book) -> Result<Answer, Wrong> {
    let title = ask.say("title-earlier");
    let known = book.known()?;
    let person = ask.one(book)?;
    let body = match &person {
        None => html! { h1 { (title) } p { (frame::marked_up(ask.say("nobody-yet"))) } },
        Some(person) => month(ask, book, &known, person)?,
    };
    let page = frame::Page {
        title: &title,
        person: person.as_ref(),
        of_people: true,
        live: None,
    };
    Ok(Answer::html(frame::page(ask, book, &page, &body)?))
}

/// The first day of a month that is written like `2026-03`; `None` where the text is no month.
fn first_of(text: &str) -> Option<Date> {
    if text.len() > 10 {
        return None;
    }
    format!("{text}-01").parse().ok()
}

fn month(ask: &Ask, book: &mut Book, known: &Stated, person: &PersonId) -> Result<Markup, Wrong> {
    let day = |at: Timestamp| known.zones.civil(at).date();
    let begin = |date: Date| known.zones.instant(date.to_datetime(Time::midnight()));
    let first = match ask.field("month") {
        Some(text) => first_of(text).ok_or_else(|| Wrong::Value(text.chars().take(20).collect()))?,
        None => day(book.journal.last_before(person, ask.now)?.unwrap_or(ask.now)).first_of_month(),
    };
    let next = first.checked_add(1.month()).unwrap_or(Date::MAX);
    let (from, to) = (begin(first), begin(next));
    let wanted = Wanted {
        person: Some(person.clone()),
        from,
        to,
        id: None,
    };
    let mut readings = book.journal.readings(&wanted)?;
    readings.reverse();
    let older = match from {
        Some(from) => book.journal.last_before(person, from)?.map(day),
        None => None,
    };
    let newer = match to {
        Some(to) => book.journal.first_from(person, to)?.map(day),
        None => None,
    };
    Ok(html! {
        h1 { (ask.say("title-earlier")) " · " bdi { (known.label(person)) } }
        @if readings.is_empty() && older.is_none() && newer.is_none() {
            p { (ask.say("no-readings-yet")) }
        } @else if readings.is_empty() {
            p { (ask.say("no-readings")) }
        } @else {
            (table(&readings, first, ask, known))
            p.small { (ask.say("shapes")) }
        }
        nav.months aria-label=(ask.say("months")) {
            @for (name, date) in [("newer-month", newer), ("older-month", older)] {
                @if let Some(date) = date {
                    a.button href=(format!("/earlier?person={}&month={}", encoded(person), date.strftime("%Y-%m"))) {
                        (ask.words.with(name, &[("month", ask.words.month(date).into())]))
                    }
                }
            }
        }
    })
}

fn table(readings: &[JudgedReading], month: Date, ask: &Ask, known: &Stated) -> Markup {
    let caption = ask
        .words
        .with("table-earlier", &[("month", ask.words.month(month).into())]);
    let civil = |judged: &JudgedReading| judged.reading.time.at.map(|at| known.zones.civil(at));
    let days = readings.chunk_by(|a, b| civil(a).map(DateTime::date) == civil(b).map(DateTime::date));
    html! {
        div.scroll tabindex="0" role="group" aria-label=(caption) {
            table.readings {
                caption { (caption) }
                thead {
                    tr {
                        @for name in ["column-day", "column-time", "column-values", "column-pulse"] {
                            th scope="col" { (ask.say(name)) }
                        }
                    }
                }
                @for day in days {
                    tbody {
                        @for (place, judged) in day.iter().enumerate() {
                            tr {
                                @if place == 0 {
                                    th scope="rowgroup" rowspan=(day.len()) {
                                        @if let Some(at) = civil(judged) { (ask.words.date(at.date())) }
                                    }
                                }
                                td.at { @if let Some(at) = civil(judged) { (ask.words.time(at.time())) } }
                                td { (line(judged, ask, known, true)) }
                                td.pulse { @if let Some(pulse) = judged.reading.pulse_rate { (pulse) } }
                            }
                        }
                    }
                }
            }
        }
    }
}
