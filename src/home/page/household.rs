//! One look at everybody, for whoever is not there: what was done today, what is missing, the last average beside the
//! one before it, what waits and who was told what; and the monitors.

use super::answer::Answer;
use super::ask::{Ask, Wrong};
use super::frame::{self, encoded};
use super::listening;
use super::now::{self, Everybodys};
use super::parts::{Part, SHOWN_MAX};
use super::people::called;
use super::picture::progress;
use super::week::Days;
use crate::home::live::Book;
use crate::household::PersonId;
use crate::journal::{AlertEntry, Standing};
use crate::monitoring::escalation::Level;
use crate::monitoring::stated::Stated;
use crate::snapshot::period::of_plan;
use jiff::SignedDuration;
use maud::{Markup, html};

/// What was told is shown for so long, and so much of it. Own choice.
const TOLD_BACK: SignedDuration = SignedDuration::from_hours(7 * 24);
const TOLD_MAX: usize = 5;

pub(super) fn page(ask: &Ask, book: &mut Book) -> Result<Answer, Wrong> {
    let title = ask.say("title-household");
    let known = book.known()?;
    let mut people: Vec<&PersonId> = known.people().filter(|one| ask.viewer.sees(one)).collect();
    let everybodys = Everybodys::of(book, &people, ask.now)?;
    if people.len() > SHOWN_MAX {
        people = urgent_first(ask, book, &everybodys, &people)?;
    }
    let people = Part::of(ask, people.into_iter(), |id| called(&known, id));
    let told = match ask.now.checked_sub(TOLD_BACK) {
        Ok(since) => book.journal.alerts_since(since)?,
        Err(_) => Vec::new(),
    };
    let whole = !ask.viewer.is_for_some();
    let waiting = if whole {
        book.journal.unanswered_count()?
    } else {
        0
    };
    let heard = listening::notices(book, &known, ask.words, ask.now)?;
    let mut parts = Vec::new();
    for person in &people.shown {
        parts.push(one(ask, (book, &everybodys), &known, person, &told)?);
    }
    let body = html! {
        h1 { (title) }
        (heard)
        @if people.is_empty() { (frame::nobody(ask.words)) }
        @if waiting > 0 {
            p.notice { a href="/questions" { (ask.words.with("household-waiting", &[("n", waiting.into())])) } }
        }
        (people.links(ask))
        div.everybody { @for part in &parts { (part) } }
        @if !people.is_empty() { (monitors(ask, book, &known)?) }
    };
    frame::of_household(ask, book, &title, &body)
}

/// Whoever is told something that must not wait stands before all others, so that no part hides it.
fn urgent_first<'a>(
    ask: &Ask,
    book: &mut Book,
    everybodys: &Everybodys<'_>,
    people: &[&'a PersonId],
) -> Result<Vec<&'a PersonId>, Wrong> {
    let mut ranked = Vec::with_capacity(people.len());
    for person in people {
        let told = now::told_now(book, everybodys, person, (ask.words, ask.now))?;
        ranked.push((told.map(|(level, ..)| level), *person));
    }
    // Equals stay in their order.
    ranked.sort_by_key(|(level, _)| std::cmp::Reverse(*level));
    Ok(ranked.into_iter().map(|(_, person)| person).collect())
}

fn one(
    ask: &Ask,
    (book, everybodys): (&mut Book, &Everybodys<'_>),
    known: &Stated,
    person: &PersonId,
    told: &[AlertEntry],
) -> Result<Markup, Wrong> {
    let words = ask.words;
    let heading = format!("h-{person}");
    let days = Days::of(book, known, person, (None, ask.now))?;
    let urgent = now::told_now(book, everybodys, person, (words, ask.now))?;
    let urgent = urgent.filter(|(level, ..)| *level >= Level::Ask);
    let averages = averages(book, known, person, ask)?;
    let last = book.journal.last_before(person, ask.now)?;
    let told: Vec<&AlertEntry> = told
        .iter()
        .filter(|entry| entry.key.split('/').nth(1) == Some(person.as_str()))
        .take(TOLD_MAX)
        .collect();
    Ok(html! {
        section.person aria-labelledby=(heading) {
            h2 #(heading) { a href={ "/week?person=" (encoded(person)) } { bdi { (known.label(person)) } } }
            @if let Some((_, heading, _)) = &urgent { p.notice { a href={ "/?person=" (encoded(person)) } { (heading) } } }
            @match &days {
                None => { p { (ask.say("not-begun")) } }
                Some(days) => {
                    (progress(ask, &days.lately(), &days.protocol.sessions.value, |day, slot| days.place(ask, known, day, slot)))
                    @let missed = days.missed(ask, known);
                    p { (words.with("household-missed", &[("n", i64::try_from(missed).unwrap_or(0).into())])) }
                }
            }
            @for (at, (name, from, to)) in averages.iter().enumerate() {
                p class=(if at == 0 { "average" } else { "before" }) {
                    @let days = [("from", words.date(*from).into()), ("to", words.date_with_year(*to).into())];
                    (words.with(if at == 0 { "household-average" } else { "household-before" }, &[("average", name.as_str().into())]))
                    br;
                    span.nth { (words.with("range-of-days", &days)) }
                }
            }
            @if let Some(at) = last {
                p.small { (words.with("household-last", &[("moment", words.moment(known.zones.civil(at)).into())])) }
            }
            @if !told.is_empty() {
                h3 { (ask.say("household-told")) }
                ul.told {
                    @for entry in told {
                        li {
                            @let kind = entry.key.split('/').next().unwrap_or_default();
                            (words.with("household-told-what", &[
                                ("kind", kind.into()),
                                ("route", entry.route.as_str().into()),
                                ("standing", (if entry.standing == Standing::Sent { "sent" } else { "not-sent" }).into()),
                                ("moment", words.moment(known.zones.civil(entry.changed)).into()),
                            ]))
                        }
                    }
                }
            }
        }
    })
}

/// The last average and the one before it, of the periods that somebody began: whole, with their days.
fn averages(
    book: &mut Book,
    known: &Stated,
    person: &PersonId,
    ask: &Ask,
) -> Result<Vec<(String, jiff::civil::Date, jiff::civil::Date)>, Wrong> {
    /// How far back it is looked for two of them. Own choice.
    const PLANS_MAX: usize = 6;
    let today = known.zones.civil(ask.now).date();
    let mut found = Vec::new();
    let plans = known.plans(person).iter().rev().filter(|plan| plan.from <= today);
    for plan in plans.take(PLANS_MAX) {
        let Ok(worked_out) = of_plan(&mut book.journal, known, person, plan) else {
            continue;
        };
        if let Some(average) = worked_out.period.average {
            found.push((average.exact.whole(), plan.from, plan.to()));
        }
        if found.len() == 2 {
            break;
        }
    }
    Ok(found)
}

fn monitors(ask: &Ask, book: &mut Book, known: &Stated) -> Result<Markup, Wrong> {
    let words = ask.words;
    let last_heard = book.journal.last_heard()?;
    let mut rows = Vec::new();
    let enrolled = known.household.monitors.iter();
    let enrolled: Vec<_> = enrolled.filter(|(_, (_, removed))| !removed).collect();
    let more = enrolled.len().saturating_sub(SHOWN_MAX);
    for (id, _) in enrolled.into_iter().take(SHOWN_MAX) {
        let monitor = book.journal.described(&known.household, id)?;
        let battery = match &monitor.address {
            Some(address) => book.journal.last_battery(address)?,
            None => None,
        };
        let name = monitor.name.or(monitor.model);
        let name = name.unwrap_or_else(|| id.to_string());
        let heard = last_heard.get(id.as_str()).copied();
        rows.push((name, battery, heard));
    }
    Ok(html! {
        section aria-labelledby="household-monitors" {
            h2 #household-monitors { (ask.say("nav-monitors")) }
            @if rows.is_empty() { p { (ask.say("monitors-none")) } }
            @for (name, battery, heard) in rows {
                dl {
                    dt { bdi { (name) } }
                    dd {
                        @match battery {
                            Some((level, at)) => {
                                (words.say("monitor-battery")) ": "
                                (words.with("monitor-battery-level", &[
                                    ("level", level.to_string().into()),
                                    ("date", words.date(known.zones.civil(at).date()).into()),
                                ]))
                            }
                            None => { (words.say("monitor-battery")) ": " (words.say("monitor-battery-unknown")) }
                        }
                    }
                    dd {
                        (words.say("monitor-heard")) ": "
                        @match heard {
                            Some(at) => { (words.moment(known.zones.civil(at))) }
                            None => { (words.say("monitor-never")) }
                        }
                    }
                }
            }
            @if more > 0 {
                p { a href="/monitors" { (words.with("find-more", &[("n", i64::try_from(more).unwrap_or(0).into())])) } }
            }
        }
    })
}
