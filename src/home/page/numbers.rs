//! Whose a monitor's number is: handed to somebody from a moment on, and confirmed where that takes it from somebody.

use super::answer::Answer;
use super::ask::{Ask, Wrong};
use super::frame::{self, token};
use crate::home::live::Book;
use crate::household::{MonitorId, PersonId, Statement};
use crate::journal::Moves;
use crate::monitoring::stated::Stated;
use hyper::StatusCode;
use jiff::Timestamp;
use jiff::civil::DateTime;
use maud::{Markup, html};
use std::collections::BTreeSet;

/// What stands for readings without a number.
const WITHOUT: &str = "none";

/// What stands for nobody: no person's id has a blank.
const NOBODY: &str = "- -";

/// The numbers that a monitor sent, and the first two, which most have: one may be handed out before it was ever sent.
pub(super) fn known_numbers(sent: &[u8]) -> BTreeSet<u8> {
    sent.iter().copied().chain([1, 2]).collect()
}

/// The form beside a monitor, for those who look after the whole household.
pub(super) fn form(ask: &Ask, known: &Stated, monitor: &MonitorId, numbers: &[u8]) -> Markup {
    let id = |what: &str| format!("{what}-{monitor}");
    html! {
        details.handover {
            summary { (ask.say("number-title")) }
            form.facts method="post" action="/monitors/number" {
                (token(ask))
                input type="hidden" name="monitor" value=(monitor);
                label for=(id("number")) { (ask.say("number-which")) }
                select id=(id("number")) name="number" {
                    option value=(WITHOUT) { (ask.say("number-none")) }
                    @for number in known_numbers(numbers) { option value=(number) { (number) } }
                }
                label for=(id("whose")) { (ask.say("number-whose")) }
                select id=(id("whose")) name="person" {
                    @for person in known.people() { option value=(person) { (known.label(person)) } }
                    option value=(NOBODY) { (ask.say("number-nobody")) }
                }
                fieldset.choice {
                    legend { (ask.say("number-from")) }
                    label { input type="radio" name="since" value="now" checked; " " (ask.say("number-from-now")) }
                    label {
                        input type="radio" name="since" value="moment"; " " (ask.say("number-from-moment")) " "
                        input type="datetime-local" name="moment" aria-label=(ask.say("number-from-moment"));
                    }
                    label { input type="radio" name="since" value="beginning"; " " (ask.say("number-from-beginning")) }
                }
                label for=(id("until")) { (ask.say("number-until")) }
                input #(id("until")) type="datetime-local" name="until";
                button type="submit" { (ask.say("number-save")) }
            }
        }
    }
}

/// The button by which whoever has a number hands it back: from now on it is nobody's.
pub(super) fn hand_back(ask: &Ask, monitor: &MonitorId, number: Option<u8>) -> Markup {
    html! {
        form method="post" action="/monitors/number" {
            (token(ask))
            input type="hidden" name="monitor" value=(monitor);
            input type="hidden" name="number" value=(number.map_or_else(|| WITHOUT.to_owned(), |number| number.to_string()));
            input type="hidden" name="person" value=(NOBODY);
            button.quiet name="since" value="now" { (ask.say("number-back")) }
        }
    }
}

/// Takes the form. Where that takes the number from somebody, the count of what would move has to be confirmed first.
pub(super) fn save(ask: &Ask, book: &mut Book) -> Result<Answer, Wrong> {
    if !ask.viewer.cares() {
        return Err(Wrong::NotYours);
    }
    let known = book.known()?;
    let wished = wished(ask, &known)?;
    let moves = book.journal.moves(&wished)?;
    let confirmed = ask.field("moves").and_then(|count| count.parse().ok());
    if !moves.from.is_empty() && confirmed != Some(moves.taken()) {
        let title = ask.say("number-confirm-title");
        let body = confirm(ask, &known, &moves, &title);
        let page = frame::of_household(ask, book, &title, &body)?;
        return Ok(page.status(StatusCode::CONFLICT));
    }
    book.state(&wished)?;
    Ok(Answer::see("/monitors"))
}

/// What the form wants to be stated.
fn wished(ask: &Ask, known: &Stated) -> Result<Vec<Statement>, Wrong> {
    let field = |name: &str| ask.field(name).unwrap_or_default();
    let wrong = |text: &str| Wrong::Value(text.chars().take(40).collect());
    let monitor: MonitorId = field("monitor").parse().map_err(|_| Wrong::NotFound)?;
    let person: Option<PersonId> = match field("person") {
        NOBODY => None,
        named => Some(named.parse().map_err(|_| Wrong::NotFound)?),
    };
    let there = |person: &PersonId| known.people().any(|one| one == person);
    if !known.household.monitors.contains_key(&monitor) || !person.as_ref().is_none_or(there) {
        return Err(Wrong::NotFound);
    }
    let from = match field("since") {
        "beginning" => None,
        "now" => Some(ask.now),
        // The confirmation says the same moment once more, to the microsecond.
        "exact" => Some(field("moment").parse().map_err(|_| wrong(field("moment")))?),
        "moment" => {
            let civil: DateTime = field("moment").parse().map_err(|_| wrong(field("moment")))?;
            Some(known.zones.instant(civil).ok_or_else(|| wrong(field("moment")))?)
        }
        other => return Err(wrong(other)),
    };
    if from.is_some_and(|from: Timestamp| from > ask.now) {
        return Err(Wrong::Future);
    }
    let until = match field("until") {
        "" => None,
        text => {
            let civil: DateTime = text.parse().map_err(|_| wrong(text))?;
            let until = known.zones.instant(civil).ok_or_else(|| wrong(text))?;
            if person.is_none() || from.is_some_and(|from| from >= until) {
                return Err(wrong(text));
            }
            Some(until)
        }
    };
    let number = match field("number") {
        WITHOUT => None,
        number => Some(number.parse().map_err(|_| wrong(number))?),
    };
    let spans = [Some((from, person)), until.map(|until| (Some(until), None))];
    let stated = spans.into_iter().flatten().map(|(from, person)| match number {
        None => Statement::UsualPerson {
            monitor: monitor.clone(),
            person,
            from,
        },
        Some(user_id) => Statement::UserIndex {
            monitor: monitor.clone(),
            user_id,
            person,
            from,
        },
    });
    Ok(stated.collect())
}

fn confirm(ask: &Ask, known: &Stated, moves: &Moves, title: &str) -> Markup {
    let whom = ask
        .field("person")
        .and_then(|person| person.parse::<PersonId>().ok())
        .map(|person| known.label(&person).to_owned())
        .unwrap_or_default();
    let (since, moment) = match ask.field("since") {
        Some("now") => ("exact", ask.now.to_string()),
        since => (
            since.unwrap_or_default(),
            ask.field("moment").unwrap_or_default().to_owned(),
        ),
    };
    html! {
        h1 { (title) }
        ul {
            @for (person, count) in &moves.from {
                li {
                    (ask.words.with(if whom.is_empty() { "number-moves-nobody" } else { "number-moves" }, &[
                        ("count", i64::try_from(*count).unwrap_or(i64::MAX).into()),
                        ("from", known.label(person).to_owned().into()),
                        ("to", whom.as_str().into()),
                    ]))
                }
            }
        }
        @if moves.doubted > 0 {
            p {
                (ask.words.with("number-moves-doubted", &[
                    ("count", i64::try_from(moves.doubted).unwrap_or(i64::MAX).into()),
                ]))
            }
        }
        p { (ask.say("number-confirm-say")) }
        form method="post" action="/monitors/number" {
            (token(ask))
            @for name in ["monitor", "number", "person", "until"] {
                input type="hidden" name=(name) value=(ask.field(name).unwrap_or_default());
            }
            input type="hidden" name="since" value=(since);
            input type="hidden" name="moment" value=(moment);
            button.accent name="moves" value=(moves.taken()) { (ask.say("number-confirm")) }
        }
        p { a.button href="/monitors" { (ask.say("number-keep")) } }
    }
}
