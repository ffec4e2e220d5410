//! People: who is measured, and the period that they are in.

use super::answer::Answer;
use super::ask::{Ask, Wrong};
use super::frame::{self, encoded, token};
use super::opening;
use super::parts::Part;
use super::phones;
use super::release;
use super::versions::{CONDITIONS, born_said, target_said};
use super::week;
use crate::home::live::Book;
use crate::household::{Arm, Person, PersonId, Statement};
use crate::monitoring::person;
use crate::monitoring::plan::Plan;
use crate::monitoring::protocols::DEFAULT;
use crate::monitoring::stated::Stated;
use crate::monitoring::titles::of_protocol;
use crate::sitting::{Slot, Windows};
use maud::{Markup, html};

pub(super) fn page(ask: &Ask, book: &mut Book) -> Result<Answer, Wrong> {
    let title = ask.say("title-people");
    let known = book.known()?;
    let people = known.people().filter(|one| ask.viewer.sees(one));
    let people = Part::of(ask, people, |id| {
        let number = known
            .person(id)
            .and_then(|person| person.record_number.as_deref());
        format!("{}\n{}", called(&known, id), number.unwrap_or_default())
    });
    let clinic = release::ReleasedTo::of(book, &known);
    let record = opening::Record::of(book);
    let body = html! {
        h1 { (title) }
        @if people.is_empty() { p { (ask.say("nobody-yet")) } }
        @if ask.viewer.cares() { p { a.button href="/person" { (ask.say("person-add")) } } }
        (people.links(ask))
        @for person in &people.shown { (one(person, ask, &known, (clinic.as_ref(), record.as_ref()))) }
        @if ask.viewer.cares() {
            (removed(ask, &known))
            (phones::stated(ask, &known, &book.phones(&known)))
        }
        div.next { a.button href="/card" { (ask.say("card-print")) } }
    };
    frame::of_household(ask, book, &title, &body)
}

/// What a person is searched by: what they are called, and their group.
pub(super) fn called(known: &Stated, id: &PersonId) -> String {
    let group = known.person(id).and_then(|person| person.group.as_deref());
    format!("{}\n{}", known.label(id), group.unwrap_or_default())
}

/// What is known of a person, each with the name of its word.
fn facts_of(person: &Person, ask: &Ask) -> Vec<(&'static str, String)> {
    let windows = Windows::of(Some(person));
    let mut facts = Vec::new();
    facts.extend(born_said(person).map(|born| ("person-born", born)));
    let number = person.record_number.iter();
    facts.extend(number.map(|number| ("person-record-number", number.clone())));
    facts.extend(person.group.iter().map(|group| ("person-group", group.clone())));
    facts.extend(person.arm.map(|arm| {
        let name = match arm {
            Arm::Left => "arm-left",
            Arm::Right => "arm-right",
        };
        ("person-arm", ask.say(name))
    }));
    facts.extend(person.arm_cm.map(|cm| ("person-arm-cm", format!("{cm} cm"))));
    for (slot, from, to) in windows.hours() {
        let name = match slot {
            Slot::Morning => "person-morning",
            _ => "person-evening",
        };
        facts.push((name, format!("{}–{}", ask.words.time(from), ask.words.time(to))));
    }
    facts.extend(
        person
            .threshold
            .map(|t| ("person-threshold", format!("{}/{} mmHg", t.systolic, t.diastolic))),
    );
    facts.extend(
        person
            .target
            .as_ref()
            .map(|target| ("person-target", target_said(target))),
    );
    let conditions: Vec<String> = CONDITIONS
        .iter()
        .filter(|(_, condition)| person.conditions.contains(condition))
        .map(|(name, _)| ask.say(name))
        .collect();
    if !conditions.is_empty() {
        facts.push(("person-conditions", conditions.join("; ")));
    }
    if let (Some(born), Some(ends)) = (person.gave_birth, person.pregnancy_ends()) {
        let days = [
            ("born", ask.words.date_with_year(born).into()),
            ("ends", ask.words.date_with_year(ends).into()),
        ];
        facts.push((
            "person-gave-birth",
            ask.words.with("person-gave-birth-until", &days),
        ));
    }
    facts
}

fn one(
    id: &PersonId,
    ask: &Ask,
    known: &Stated,
    (clinic, record): (Option<&release::ReleasedTo>, Option<&opening::Record>),
) -> Markup {
    let none = Person::default();
    let person = known.household.people.get(id).map_or(&none, |(person, _)| person);
    let today = known.zones.civil(ask.now).date();
    let running = known.plans(id).iter().find(|plan| plan.covers(today));
    let heading = format!("p-{id}");
    let mut facts = facts_of(person, ask);
    let protocol = running
        .map(|plan| plan.protocol.as_str())
        .or(person.protocol.as_deref())
        .unwrap_or(DEFAULT);
    let chosen = known.protocols.get(protocol).ok();
    let title = chosen.map_or_else(|| protocol.to_owned(), |p| of_protocol(ask.words, &p.title));
    facts.push(("person-protocol", title));
    facts.push((
        "person-period",
        running.map_or_else(
            || ask.say("period-none"),
            |plan| {
                ask.words.with(
                    "period-running",
                    &[
                        ("from", ask.words.date(plan.from).into()),
                        ("to", ask.words.date_with_year(plan.to()).into()),
                    ],
                )
            },
        ),
    ));
    html! {
        section.person aria-labelledby=(heading) {
            h2 #(heading) { bdi { (known.label(id)) } }
            dl { @for (name, value) in &facts { dt { (ask.say(name)) } dd { (value) } } }
            p {
                a.button href={ "/week?person=" (encoded(id)) } { (ask.say("nav-week")) }
                @if ask.viewer.cares() {
                    " " a.button href={ "/person?person=" (encoded(id)) } aria-describedby=(heading) { (ask.say("person-change")) }
                }
            }
            @if running.is_none() { (week::begin(ask, known, id)) }
            @if let Some(clinic) = clinic { (release::stated(ask, known, clinic, id)) }
            @if let Some(record) = record { (opening::stated(ask, known, record, id)) }
            @if ask.viewer.cares() {
                details.handover {
                    summary { (ask.say("person-remove")) }
                    p { (ask.say("person-remove-say")) }
                    form method="post" action="/person/remove" {
                        (token(ask))
                        button name="person" value=(id) {
                            (ask.words.with("person-remove-do", &[("who", known.label(id).into())]))
                        }
                    }
                }
            }
        }
    }
}

/// Those who were taken off the lists, who may come back.
fn removed(ask: &Ask, known: &Stated) -> Markup {
    let people = known.household.people.iter();
    let removed: Vec<&PersonId> = people
        .filter(|(_, (_, removed))| *removed)
        .map(|(id, _)| id)
        .collect();
    html! {
        @if !removed.is_empty() {
            section.person aria-labelledby="removed" {
                h2 #removed { (ask.say("person-removed")) }
                p.small { (ask.say("person-again-say")) }
                form.taps method="post" action="/person/again" {
                    (token(ask))
                    @for id in removed {
                        button name="person" value=(id) { (ask.words.with("person-again", &[("who", known.label(id).into())])) }
                    }
                }
            }
        }
    }
}

/// Takes somebody off the lists, and their keys with them.
pub(super) fn remove(ask: &Ask, book: &mut Book) -> Result<Answer, Wrong> {
    if !ask.viewer.cares() {
        return Err(Wrong::NotYours);
    }
    let person = ask.person(book)?.ok_or(Wrong::NotFound)?;
    book.remove(&person)?;
    Ok(Answer::see("/people"))
}

/// Brings back the same person who was taken off the lists, as they were known.
pub(super) fn again(ask: &Ask, book: &mut Book) -> Result<Answer, Wrong> {
    if !ask.viewer.cares() {
        return Err(Wrong::NotYours);
    }
    let named = ask.field("person").unwrap_or_default();
    let person: PersonId = named.parse().map_err(|_| Wrong::NotFound)?;
    let known = book.known()?;
    let Some((details, true)) = known.household.people.get(&person) else {
        return Err(Wrong::NotFound);
    };
    // Somebody else may be called so by now.
    let details = details.clone();
    person::check(
        Some(&person),
        &details,
        &known.household,
        &known.protocols,
        ask.now,
    )
    .map_err(|wrong| Wrong::Value(wrong.to_string()))?;
    book.again(&person, details)?;
    Ok(Answer::see(&format!("/people#p-{}", encoded(&person))))
}

/// Begins a period today, by the person's own protocol.
pub(super) fn begin(ask: &Ask, book: &mut Book) -> Result<Answer, Wrong> {
    let person = ask.person(book)?.ok_or(Wrong::NotFound)?;
    if !ask.viewer.cares() {
        return Err(Wrong::NotYours);
    }
    let known = book.known()?;
    let today = known.zones.civil(ask.now).date();
    let protocol = known
        .household
        .people
        .get(&person)
        .and_then(|(person, _)| person.protocol.as_deref())
        .unwrap_or(DEFAULT);
    let plan = Plan::new(&known.protocols, protocol, today, None)
        .and_then(|plan| plan.fits(known.plans(&person)).map(|()| plan))
        .map_err(|e| Wrong::Value(e.to_string()))?;
    book.state(&[Statement::Period {
        person: person.clone(),
        protocol: plan.protocol,
        from: plan.from,
        days: Some(plan.days),
    }])?;
    Ok(Answer::see(&match ask.field("back") {
        Some("now") => "/".to_owned(),
        Some(_) => format!("/?person={}", encoded(&person)),
        None => format!("/week?person={}", encoded(&person)),
    }))
}
