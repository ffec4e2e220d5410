//! Whom the household calls, to be tapped.

use crate::home::phones::Phones;
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
