//! The codes by which a monitor that keeps its users apart hands out their readings: which are kept, and a form for one
//! more. No page shows a code.

use super::answer::Answer;
use super::ask::{Ask, Wrong};
use super::frame::token;
use super::shared::Shared;
use crate::gatt::{Characteristic, Feature, UserControl};
use crate::home::live::Book;
use crate::household::{Monitor, MonitorId};
use crate::journal::{JournalError, UserConsent};
use crate::monitoring::stated::Stated;
use crate::socket;
use jiff::Timestamp;
use maud::{Markup, html};
use std::path::PathBuf;
use std::sync::Arc;

/// What stands for a user whom the monitor is to register.
const NEW: &str = "new";

/// What is known of a monitor's users.
pub(super) struct Users {
    /// For whom a code is kept, and since when.
    consents: Vec<(Option<u8>, Timestamp)>,
    /// The monitor said that it keeps its users apart.
    apart: bool,
    /// The last answer to a code: whether it was accepted, and when.
    last: Option<(bool, Timestamp)>,
}

impl Users {
    /// The users for whom a code is kept.
    pub(super) fn numbers(&self) -> impl Iterator<Item = u8> {
        self.consents.iter().filter_map(|(user, _)| *user)
    }
}

pub(super) fn users(book: &Book, id: &MonitorId, monitor: &Monitor) -> Result<Users, JournalError> {
    let consents = book.journal.consented(id)?;
    let Some(address) = &monitor.address else {
        return Ok(Users {
            consents,
            apart: false,
            last: None,
        });
    };
    let newest = book.journal.newest_lately(address)?;
    let feature = newest
        .get(&Characteristic::BLOOD_PRESSURE_FEATURE)
        .and_then(|frame| Feature::decode(&frame.value).ok());
    let answer = newest.get(&Characteristic::USER_CONTROL_POINT);
    // What it said before the newest code was typed, says nothing of that one.
    let typed = consents.iter().map(|(_, given)| *given).max();
    let last = answer
        .filter(|frame| Some(frame.received_at) >= typed)
        .and_then(|frame| {
            let (_, value) = UserControl::decode(&frame.value).ok()?.response()?;
            Some((value == UserControl::SUCCESS, frame.received_at))
        });
    Ok(Users {
        apart: answer.is_some()
            || newest.contains_key(&Characteristic::USER_INDEX)
            || feature.is_some_and(|feature| feature.has(Feature::USER_DATA_SERVICE)),
        consents,
        last,
    })
}

/// Stands beside a monitor that keeps its users apart, for those who look after the whole household.
pub(super) fn form(ask: &Ask, known: &Stated, monitor: &MonitorId, users: &Users, numbers: &[u8]) -> Markup {
    let id = |what: &str| format!("{what}-{monitor}");
    html! {
        @if users.apart || !users.consents.is_empty() {
            p { (ask.say("consent-say")) }
            @if users.consents.is_empty() { p.notice { (ask.say("consent-none")) } }
            @for user in users.numbers() {
                p { (ask.words.with("consent-kept", &[("number", user.to_string().into())])) }
            }
            @if users.consents.iter().any(|(user, _)| user.is_none()) { p { (ask.say("consent-waits")) } }
            @if let Some((accepted, at)) = users.last && !users.consents.is_empty() {
                @let moment = ask.words.moment(known.zones.civil(at));
                @if accepted { p { (ask.words.with("consent-accepted", &[("moment", moment.into())])) } }
                @else { p.notice { (ask.words.with("consent-wrong", &[("moment", moment.into())])) } }
            }
            details.handover {
                summary { (ask.say("consent-title")) }
                form.facts method="post" action="/monitors/consent" {
                    (token(ask))
                    input type="hidden" name="monitor" value=(monitor);
                    label for=(id("user")) { (ask.say("consent-number")) }
                    select id=(id("user")) name="number" {
                        @for number in super::numbers::known_numbers(numbers) { option value=(number) { (number) } }
                        option value=(NEW) { (ask.say("consent-new")) }
                    }
                    label for=(id("code")) { (ask.say("consent-code")) }
                    input id=(id("code")) name="code" type="password" inputmode="numeric" pattern="[0-9]{1,4}" maxlength="4"
                        autocomplete="off" required;
                    button type="submit" name="do" value="keep" { (ask.say("consent-save")) }
                }
                @for (user, _) in &users.consents {
                    form method="post" action="/monitors/consent" {
                        (token(ask))
                        input type="hidden" name="monitor" value=(monitor);
                        input type="hidden" name="number" value=(user.map_or_else(|| NEW.to_owned(), |n| n.to_string()));
                        button.quiet name="do" value="forget" {
                            @match user {
                                Some(user) => (ask.words.with("consent-forget", &[("number", user.to_string().into())])),
                                None => (ask.say("consent-forget-new")),
                            }
                        }
                    }
                }
            }
        }
    }
}

/// Takes the form, and lets the program that listens know.
pub(super) async fn answer(ask: Ask, shared: &Shared) -> Answer {
    let ask = Arc::new(ask);
    let asking = ask.clone();
    let state = match shared.desk.ask(move |book| save(&asking, book)).await {
        Ok(Ok(state)) => state,
        Ok(Err(wrong)) => return wrong.answer(&ask),
        Err(_) => return Wrong::Busy.answer(&ask),
    };
    // One that does not run reads the codes when it starts.
    let _ = tokio::task::spawn_blocking(move || socket::reload(&state)).await;
    Answer::see("/monitors")
}

/// Keeps or forgets a code; where the program that listens is to be asked.
pub(super) fn save(ask: &Ask, book: &mut Book) -> Result<PathBuf, Wrong> {
    if !ask.viewer.cares() {
        return Err(Wrong::NotYours);
    }
    let field = |name: &str| ask.field(name).unwrap_or_default();
    let monitor: MonitorId = field("monitor").parse().map_err(|_| Wrong::NotFound)?;
    if !matches!(book.known()?.household.monitors.get(&monitor), Some((_, false))) {
        return Err(Wrong::NotFound);
    }
    let user = match field("number") {
        NEW => None,
        number => Some(
            number
                .parse()
                .ok()
                .filter(|number| *number != u8::MAX)
                .ok_or_else(|| Wrong::Value(number.chars().take(40).collect()))?,
        ),
    };
    match field("do") {
        "keep" => {
            // What was typed is not said again: it may be a code with a letter too many.
            let code = field("code")
                .trim()
                .parse()
                .map_err(|_| Wrong::Value("****".to_owned()))?;
            let given = ask.now;
            book.give_consent(&monitor, &UserConsent { user, code, given })?;
        }
        "forget" => book.withdraw_consent(&monitor, user)?,
        other => return Err(Wrong::Value(other.chars().take(40).collect())),
    }
    Ok(book.place.state.clone())
}
