//! The card beside the monitor, with the address under which whoever asks reached the page.

use super::answer::Answer;
use super::ask::{Ask, Wrong};
use super::frame;
use crate::home::card::card;
use crate::home::live::Book;
use maud::html;

pub(super) fn page(ask: &Ask, book: &mut Book) -> Result<Answer, Wrong> {
    let title = ask.say("card-title");
    let body = html! {
        @if ask.is_only_here() { p.notice.unprinted { (ask.say("card-only-here")) } }
        (card(&ask.home, None, ask.words))
        p.small.unprinted { (ask.say("card-key-say")) " " code { "quietcuff keys add --role caregiver --card card.html" } }
    };
    frame::of_household(ask, book, &title, &body)
}
