//! Earlier: the weeks of a year, or the months of all years, as points; below them every reading of a month, so that
//! the page costs what a year costs. All years are drawn for those who ask for them.

use super::answer::Answer;
use super::ask::{Ask, Wrong};
use super::frame::{self, encoded};
use super::picture::figure;
use super::week::line;
use crate::export::report::at_home::{DaySpan, Points};
use crate::home::live::Book;
use crate::household::PersonId;
use crate::journal::Wanted;
use crate::monitoring::patterns::ClinicReading;
use crate::monitoring::spread::{Every, SpreadPart, parts};
use crate::monitoring::stated::Stated;
use crate::snapshot::period::clinics_and_changes;
use crate::technique::JudgedReading;
use jiff::civil::{Date, DateTime, Time};
use jiff::{Timestamp, ToSpan};
use maud::{Markup, html};

pub(super) fn page(ask: &Ask, book: &mut Book) -> Result<Answer, Wrong> {
    let title = ask.say("title-earlier");
    let known = book.known()?;
    let person = ask.one(book)?;
    let body = match &person {
        None => html! { h1 { (title) } (frame::nobody(ask.words)) },
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
        (picture(ask, book, known, person, first)?)
        @if ask.field("span") == Some("all") {
        } @else if readings.is_empty() && older.is_none() && newer.is_none() {
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

/// The year that ends with a month, week by week; all years month by month.
fn picture(
    ask: &Ask,
    book: &mut Book,
    known: &Stated,
    person: &PersonId,
    month: Date,
) -> Result<Markup, Wrong> {
    let words = ask.words;
    let midnight = |day: Date| known.zones.instant(day.to_datetime(Time::midnight()));
    let all = ask.field("span") == Some("all");
    let oldest = book.journal.first_from(person, Timestamp::MIN)?;
    let Some(oldest) = oldest.map(|at| known.zones.civil(at).date()) else {
        return Ok(html! {});
    };
    let to = month.last_of_month();
    let year = month.checked_sub(11.months()).unwrap_or(month);
    let from = if all {
        oldest.first_of_month().min(month)
    } else {
        year
    };
    let wanted = Wanted {
        person: Some(person.clone()),
        from: midnight(from),
        to: to.tomorrow().ok().and_then(midnight),
        id: None,
    };
    let history = book.journal.history_of(&wanted, known)?;
    let timed = history.taken.iter().zip(&history.readings);
    let timed = timed.filter(|(_, judged)| judged.reading.time.at.is_some());
    let every = if all { Every::Month } else { Every::Week };
    let parts = parts(timed.map(|(taken, _)| taken), every);
    if parts.is_empty() {
        return Ok(html! {});
    }
    let within = |day: &Date| (from..=to).contains(day);
    let (clinic, changes) = clinics_and_changes(known, person);
    let clinic: Vec<ClinicReading> = clinic.into_iter().filter(|at| within(&at.day)).collect();
    let changes: Vec<Date> = changes.into_iter().filter(within).collect();
    let days = [
        ("from", words.date_with_year(from).into()),
        ("to", words.date_with_year(to).into()),
    ];
    let days = words.with("range-of-days", &days);
    let who = known.label(person);
    let title = words.with("picture-title", &[("who", who.into()), ("days", days.into())]);
    let points = Points {
        span: DaySpan { from, to },
        every,
        parts: &parts,
        clinic: &clinic,
        changes: &changes,
        limits: None,
    };
    let address = |part: &SpreadPart| {
        let who = encoded(person);
        match every {
            Every::Month => format!("/earlier?person={who}&month={}", part.from.strftime("%Y-%m")),
            _ => format!("/week?person={who}&from={}", part.from),
        }
    };
    let says = says(ask, every, &clinic, &changes);
    Ok(html! {
        (figure(points.svg((title.as_str(), "picture"), words), Some(points.taps(address)), &says))
        (behind(ask, &parts, every, address))
        (how_much(ask, person, all, oldest < year))
    })
}

/// What the marks of the picture mean.
fn says(ask: &Ask, every: Every, clinic: &[ClinicReading], changes: &[Date]) -> Markup {
    let words = ask.words;
    html! {
        (words.with("picture-points-say", &[("every", every.name().into())]))
        " " (words.with("picture-tap", &[("every", every.name().into())]))
        @if !clinic.is_empty() {
            br; (words.with("picture-clinic", &[("readings", clinics(ask, clinic).into())]))
        }
        @if !changes.is_empty() {
            br; (words.with("picture-changes", &[("days", dates(ask, changes).into())]))
        }
    }
}

/// Leads from the year to all years, where there are more, and back.
fn how_much(ask: &Ask, person: &PersonId, all: bool, more: bool) -> Markup {
    let who = encoded(person);
    html! {
        nav.months aria-label=(ask.say("span")) {
            @if all {
                a.button href=(format!("/earlier?person={who}")) { (ask.say("span-year")) }
            } @else if more {
                a.button href=(format!("/earlier?person={who}&span=all")) { (ask.say("span-all")) }
            }
        }
    }
}

fn dates(ask: &Ask, days: &[Date]) -> String {
    let days: Vec<String> = days.iter().map(|day| ask.words.date_with_year(*day)).collect();
    days.join("; ")
}

fn clinics(ask: &Ask, clinic: &[ClinicReading]) -> String {
    let one = |at: &ClinicReading| {
        let (systolic, diastolic) = (at.systolic.mmhg(), at.diastolic.mmhg());
        format!("{} {systolic}/{diastolic}", ask.words.date_with_year(at.day))
    };
    clinic.iter().map(one).collect::<Vec<_>>().join("; ")
}

/// The table behind the picture, newest first; each row leads to its week or month.
fn behind(ask: &Ask, parts: &[SpreadPart], every: Every, address: impl Fn(&SpreadPart) -> String) -> Markup {
    let words = ask.words;
    let caption = words.with("table-parts", &[("every", every.name().into())]);
    html! {
        details.behind {
            summary { (caption) }
            table {
                caption.unseen { (caption) }
                thead {
                    tr { @for name in ["column-from", "column-values", "column-readings"] { th scope="col" { (ask.say(name)) } } }
                }
                tbody {
                    @for part in parts.iter().rev() {
                        tr {
                            th scope="row" {
                                a href=(address(part)) {
                                    @if every == Every::Month { (words.month(part.from)) } @else { (words.date_with_year(part.from)) }
                                }
                            }
                            td { (part.mean.whole()) }
                            td { (part.mean.n()) }
                        }
                    }
                }
            }
        }
    }
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
                                td { @if let Some(at) = civil(judged) { (ask.words.time(at.time())) } }
                                td { (line(judged, ask, known, true)) }
                                td { @if let Some(pulse) = judged.reading.pulse_rate { (pulse) } }
                            }
                        }
                    }
                }
            }
        }
    }
}
