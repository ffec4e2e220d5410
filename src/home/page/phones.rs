//! Whom the household calls: to be tapped where something must not wait, and stated by those who look after it.

use super::answer::Answer;
use super::ask::{Ask, Wrong};
use super::frame::token;
use crate::home::live::Book;
use crate::household::Statement;
use crate::household::phones::{Name, Phone, Phones};
use crate::monitoring::stated::Stated;
use crate::words::Words;
use maud::{Markup, html};

/// The emergency number where it is meant, and the household's contact.
pub(super) fn calls(phones: &Phones, emergency: bool, words: &Words) -> Markup {
    let number = phones.number.as_ref().filter(|_| emergency);
    if number.is_none() && phones.contact.is_none() {
        return html! {};
    }
    html! {
        div.calls {
            @if let Some(number) = number {
                a.button.accent href={ "tel:" (number.dialled()) } {
                    (words.with("call", &[("who", number.shown().into())]))
                }
            }
            @if let Some(contact) = &phones.contact {
                a.button href={ "tel:" (contact.dialled()) } {
                    @let name = phones.contact_name.as_deref();
                    @let who = name.map_or_else(|| contact.shown().to_owned(), |name| format!("{name}, {}", contact.shown()));
                    (words.with("call", &[("who", who.into())]))
                }
            }
        }
    }
}

/// Who is called, for those who look after the household: what holds, the form that changes it, and what was said
/// before.
pub(super) fn stated(ask: &Ask, known: &Stated, now: &Phones) -> Markup {
    let words = ask.words;
    let before: Vec<(String, Option<&Phones>)> = known
        .rows()
        .iter()
        .rev()
        .filter_map(|row| match &row.statement {
            Statement::Calls { phones } => Some((words.moment(known.zones.civil(row.at)), phones.as_ref())),
            _ => None,
        })
        .collect();
    html! {
        section.person aria-labelledby="calls" {
            h2 #calls { (words.say("calls-title")) }
            p { (words.say("calls-say")) }
            p.lead { (in_words(ask, now)) }
            details.handover {
                summary { (words.say("calls-change")) }
                (form(ask, known, now))
            }
            @if !before.is_empty() {
                details.handover {
                    summary { (words.say("calls-before")) }
                    ul.notes {
                        @for (moment, phones) in before {
                            li {
                                (moment) ": "
                                @match phones {
                                    Some(phones) => { bdi { (in_words(ask, phones)) } }
                                    None => { (words.say("calls-taken-back")) }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn form(ask: &Ask, known: &Stated, now: &Phones) -> Markup {
    let shown = |phone: &Option<Phone>| phone.as_ref().map(|phone| phone.shown().to_owned());
    let name = now.contact_name.as_ref().map(|name| name.to_string());
    html! {
        form.facts method="post" action="/calls" {
            (token(ask))
            @for (field, kind, value) in [
                ("number", "tel", shown(&now.number)),
                ("contact", "tel", shown(&now.contact)),
                ("contact-name", "text", name),
            ] {
                label for=(field) { (ask.say(&format!("calls-{field}"))) }
                input id=(field) name=(field) type=(kind) maxlength="60" autocomplete="off" value=(value.unwrap_or_default());
            }
            button.accent name="do" value="save" { (ask.say("person-save")) }
            @if known.household.phones.is_some() {
                " " button.quiet name="do" value="back" { (ask.say("calls-back")) }
            }
        }
    }
}

fn in_words(ask: &Ask, phones: &Phones) -> String {
    let number = phones.number.as_ref().map(|phone| phone.shown().to_owned());
    let contact = phones.contact.as_ref().map(|contact| {
        let name = phones
            .contact_name
            .as_deref()
            .map(|name| format!("{name}, "))
            .unwrap_or_default();
        format!("{name}{}", contact.shown())
    });
    let all: Vec<String> = number.into_iter().chain(contact).collect();
    if all.is_empty() {
        ask.say("calls-nobody")
    } else {
        all.join("; ")
    }
}

/// Takes the form. What is already so is not stated again.
pub(super) fn save(ask: &Ask, book: &mut Book) -> Result<Answer, Wrong> {
    if !ask.viewer.cares() {
        return Err(Wrong::NotYours);
    }
    let known = book.known()?;
    let text = |name: &str| ask.field(name).map(str::to_owned);
    let wrong = |name: &str| Wrong::Value(text(name).unwrap_or_default().chars().take(40).collect());
    let phone = |name: &str| {
        text(name)
            .map(Phone::try_from)
            .transpose()
            .map_err(|_| wrong(name))
    };
    let phones = match ask.field("do") {
        Some("back") => None,
        _ => Some(Phones {
            number: phone("number")?,
            contact: phone("contact")?,
            contact_name: text("contact-name")
                .map(Name::try_from)
                .transpose()
                .map_err(|_| wrong("contact-name"))?,
        }),
    };
    let so = match &phones {
        Some(phones) => *phones == book.phones(&known),
        None => known.household.phones.is_none(),
    };
    if !so {
        book.state(&[Statement::Calls { phones }])?;
    }
    Ok(Answer::see("/people#calls"))
}
