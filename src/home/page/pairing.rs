//! Adding a monitor from the page. This role has no Bluetooth: it asks the collector over the local socket.

use super::answer::Answer;
use super::ask::{Ask, Wrong};
use super::frame::{self, token};
use super::listeners;
use super::shared::{Begun, Shared};
use crate::home::live::Book;
use crate::household::{ID_CHARS_MAX, Monitor, MonitorAddress};
use crate::journal::{JournalError, Listener};
use crate::monitoring::stated::Stated;
use crate::socket;
use crate::socket::speech::{Answer as Said, Enrolment, Pairing, Request};
use crate::words::Words;
use hyper::header::REFRESH;
use jiff::Timestamp;
use maud::{Markup, html};
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::{Arc, MutexGuard, PoisonError};

/// The page on which a monitor is added.
const HERE: &str = "/monitors/pair";
/// How long a monitor that was found is waited for, in seconds.
const WAIT_S: u64 = 60;

/// Shows how far a pairing is, or does what was pressed first.
pub(super) async fn answer(ask: Ask, writes: bool, shared: &Shared) -> Answer {
    if !ask.viewer.cares() {
        return Wrong::NotYours.answer(&ask);
    }
    let question = match question(&ask, writes) {
        Ok(question) => question,
        Err(wrong) => return wrong.answer(&ask),
    };
    let ask = Arc::new(ask);
    let asking = ask.clone();
    let placed = move |book: &mut Book| {
        let room = listeners::named(&asking, book)?;
        Ok((book.place.state.clone(), room))
    };
    let (state, room) = match shared.desk.ask(placed).await {
        Ok(Ok(placed)) => placed,
        Ok(Err(wrong)) => return Wrong::answer(wrong, &ask),
        Err(_) => return Wrong::Busy.answer(&ask),
    };
    let (at, asked) = (room.clone(), question.clone());
    let pairing = tokio::task::spawn_blocking(move || told(&state, at.as_ref(), asked)).await;
    let (number, pairing) = pairing.ok().flatten().unzip();
    if writes {
        let path = room
            .as_ref()
            .map_or_else(|| HERE.to_owned(), |room| format!("{HERE}?at={}", room.id));
        let begun = !matches!(pairing, None | Some(Pairing::Failed { .. }));
        if let (Some(room), Request::Pair { enrolment }, true) = (room, question, begun) {
            let asked_for = (number.unwrap_or_default(), enrolment.address.clone());
            lock(&shared.begun).insert(room.id, asked_for);
            // A listener knows nothing of people: whose readings they are is stated here.
            let stated = shared.desk.ask(move |book| whose(&enrolment, book)).await;
            match stated {
                Ok(Ok(())) => {}
                Ok(Err(wrong)) => return wrong.answer(&ask),
                Err(_) => return Wrong::Busy.answer(&ask),
            }
        }
        return Answer::see(&path);
    }
    if let Some(wrong) = paired_there(room.as_ref(), (number, pairing.as_ref()), shared).await {
        return wrong.answer(&ask);
    }
    let (asking, moving) = (
        ask.clone(),
        matches!(
            pairing,
            Some(
                Pairing::Looking
                    | Pairing::Waiting
                    | Pairing::Removing
                    | Pairing::Working
                    | Pairing::Shows { .. }
                    | Pairing::Reading
            )
        ),
    );
    let shown = shared
        .desk
        .ask(move |book| page(&asking, book, (pairing.as_ref(), room.as_ref())))
        .await;
    match shown {
        // By a header: a page that is being typed into is not renewed.
        Ok(Ok(answer)) if moving => answer.with(REFRESH, "2".to_owned()),
        Ok(Ok(answer)) => answer,
        Ok(Err(wrong)) => wrong.answer(&ask),
        Err(_) => Wrong::Busy.answer(&ask),
    }
}

pub(super) fn question(ask: &Ask, writes: bool) -> Result<Request, Wrong> {
    if !writes {
        return Ok(Request::Pairing);
    }
    let wrong = |text: &str| Wrong::Value(text.chars().take(40).collect());
    Ok(match ask.field("do") {
        Some("look") => Request::Find,
        Some("stop") => Request::StopPairing,
        Some("passkey") => {
            let typed = ask.field("digits").unwrap_or_default();
            let digits: String = typed.chars().filter(|c| !c.is_whitespace()).collect();
            if digits.len() != 6 || !digits.bytes().all(|b| b.is_ascii_digit()) {
                return Err(wrong(typed));
            }
            Request::Passkey { digits }
        }
        _ => {
            let address = ask.field("address").unwrap_or_default();
            let person = ask.field("whose").map(str::parse).transpose();
            let called = ask.field("called").unwrap_or_default().trim();
            let id = (!called.is_empty()).then(|| called.parse()).transpose();
            Request::Pair {
                enrolment: Enrolment {
                    address: address.parse().map_err(|_| wrong(address))?,
                    person: person.map_err(|_| Wrong::NotFound)?,
                    id: id.map_err(|_| wrong(called))?,
                    users: Vec::new(),
                    no_pairing: ask.field("do") == Some("without"),
                    seconds: WAIT_S,
                },
            }
        }
    })
}

fn lock(begun: &Begun) -> MutexGuard<'_, BTreeMap<String, (u32, MonitorAddress)>> {
    begun.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The monitor with which a listener has paired under this number, as it was asked from here; once.
fn paired(begun: &Begun, listener: &str, number: Option<u32>) -> Option<MonitorAddress> {
    let mut all = lock(begun);
    let (asked, _) = all.get(listener)?;
    if Some(*asked) != number {
        return None;
    }
    all.remove(listener).map(|(_, address)| address)
}

/// Where a listener has paired with a monitor as it was asked from here: states it, with what the monitor told of itself.
/// Says what went wrong.
async fn paired_there(
    room: Option<&Listener>,
    (number, pairing): (Option<u32>, Option<&Pairing>),
    shared: &Shared,
) -> Option<Wrong> {
    let (Some(room), Some(Pairing::Done { told, .. })) = (room, pairing) else {
        return None;
    };
    let told = Monitor {
        address: Some(paired(&shared.begun, &room.id, number)?),
        ..told.as_deref().cloned().unwrap_or_default()
    };
    let listener = room.id.clone();
    let stated = shared.desk.ask(move |book| -> Result<(), JournalError> {
        let household = &book.known()?.household;
        let monitor = told.address.as_ref().map(|address| household.monitor_at(address));
        let stated = monitor.map(|monitor| household.paired_at(monitor, &listener, told));
        book.state(stated.as_slice())
    });
    match stated.await {
        Ok(stated) => stated.err().map(Wrong::Journal),
        Err(_) => Some(Wrong::Busy),
    }
}

/// Whose readings a monitor takes that is paired elsewhere.
fn whose(enrolment: &Enrolment, book: &mut Book) -> Result<(), Wrong> {
    let known = book.known()?;
    let monitor = known.household.monitor_at(&enrolment.address);
    let person = enrolment.person.as_ref();
    let stated = known
        .household
        .taken_by(&monitor, person, &enrolment.users, Timestamp::now());
    Ok(book.state(&stated)?)
}

/// What the collector says, or that of a listener, with the number of the pairing; nothing where it does not run.
fn told(state: &Path, room: Option<&Listener>, request: Request) -> Option<(u32, Pairing)> {
    let (path, request) = match room {
        Some(room) => (
            socket::door_path(state),
            Request::At {
                listener: room.id.clone(),
                request: Box::new(request.without_people()),
            },
        ),
        None => (socket::path(state), request),
    };
    match socket::ask(&path, &request) {
        Ok(Some(Said::Pairing { number, step })) => Some((number, step)),
        Ok(None) => None,
        Ok(Some(other)) => Some(failed(format!("{other:?}"))),
        Err(error) => Some(failed(error.to_string())),
    }
}

fn failed(why: String) -> (u32, Pairing) {
    tracing::warn!("the collector: {why}");
    (0, Pairing::Failed { why, code: 69 })
}

fn page(
    ask: &Ask,
    book: &mut Book,
    (pairing, room): (Option<&Pairing>, Option<&Listener>),
) -> Result<Answer, Wrong> {
    let known = book.known()?;
    let title = ask.say("pair-title");
    let body = html! {
        h1 { (title) }
        @if let Some(room) = room {
            p { (ask.words.with("pair-at", &[("listener", room.name().to_owned().into())])) }
        }
        div role="status" { (step(ask, pairing, room, &known)) }
        @if let Some(pairing) = pairing {
            form.taps method="post" action=(HERE) {
                (token(ask))
                (at(room))
                @match pairing {
                    Pairing::None | Pairing::Done { .. } | Pairing::Failed { .. } | Pairing::Heard { .. } => {
                        button name="do" value="look" { (ask.say("pair-look")) }
                    }
                    // That step has both its buttons in one form.
                    Pairing::WithoutPairing { .. } => {}
                    _ => { button.quiet name="do" value="stop" { (ask.say("pair-stop")) } }
                }
            }
        }
    };
    frame::of_household(ask, book, &title, &body)
}

/// Keeps a form at the same listener.
fn at(room: Option<&Listener>) -> Markup {
    html! {
        @if let Some(room) = room { input type="hidden" name="at" value=(room.id); }
    }
}

fn step(ask: &Ask, pairing: Option<&Pairing>, room: Option<&Listener>, known: &Stated) -> Markup {
    let words = ask.words;
    html! {
        @match pairing {
            None if room.is_some() => p.notice { (words.say("listener-door-shut")) },
            None => p.notice { (words.say("pair-no-daemon")) },
            Some(Pairing::None) => p.lead { (words.say("pair-say")) },
            Some(Pairing::Looking) => p.large { (words.say("pair-looking")) },
            Some(Pairing::Waiting | Pairing::Removing | Pairing::Working | Pairing::Reading) => p.large { (words.say("pair-working")) },
            Some(Pairing::Heard { monitors }) if monitors.is_empty() => p { (words.say("pair-none")) },
            Some(Pairing::Heard { monitors }) => form method="post" action=(HERE) {
                (token(ask))
                (at(room))
                fieldset.choice {
                    legend { (words.say("pair-for")) }
                    @for person in known.people() {
                        label { input type="radio" name="whose" value=(person); " " bdi { (known.label(person)) } }
                    }
                }
                @if room.is_none() { (called(words, known)) }
                fieldset.taps {
                    legend { (words.say("pair-found")) }
                    @for monitor in monitors {
                        button.accent name="address" value=(monitor.address) {
                            (words.with("pair-with", &[(
                                "name",
                                monitor.name.clone().unwrap_or_else(|| monitor.address.to_string()).into(),
                            )]))
                        }
                    }
                }
            },
            Some(Pairing::Asks) => form method="post" action=(HERE) {
                (token(ask))
                (at(room))
                label for="digits" { (words.say("pair-passkey")) }
                input #digits name="digits" type="text" inputmode="numeric" pattern="[0-9 ]{6,11}" autocomplete="off"
                    maxlength="11" required autofocus;
                button.accent name="do" value="passkey" { (words.say("pair-send")) }
            },
            Some(Pairing::Shows { passkey }) => p.large {
                (words.with("pair-passkey-show", &[("passkey", passkey.clone().into())]))
            },
            Some(Pairing::Done { .. }) if room.is_some() => p.large { (words.say("pair-done-there")) },
            Some(Pairing::Done { monitor, .. }) => p.large {
                (words.with("pair-done", &[("monitor", monitor.to_string().into())]))
            },
            Some(Pairing::WithoutPairing { enrolment, .. }) => {
                p.notice { (words.say("pair-refused")) }
                p { (words.say("pair-without-say")) }
                form.taps method="post" action=(HERE) {
                    (token(ask))
                    (at(room))
                    input type="hidden" name="address" value=(enrolment.address);
                    @if let Some(id) = &enrolment.id {
                        input type="hidden" name="called" value=(id);
                    }
                    @if let Some(person) = &enrolment.person {
                        input type="hidden" name="whose" value=(person);
                    }
                    button name="do" value="look" { (words.say("pair-look")) }
                    button.quiet name="do" value="without" { (words.say("pair-without")) }
                }
            },
            Some(Pairing::Failed { why, .. }) => p.notice {
                (words.with("pair-failed", &[("why", why.clone().into())]))
            },
        }
    }
}

/// What the monitor is to be called; a free name stands there.
fn called(words: &Words, known: &Stated) -> Markup {
    html! {
        label for="called" { (words.say("pair-called")) }
        p.small #called-say { (words.say("pair-called-say")) }
        input #called name="called" type="text" maxlength=(ID_CHARS_MAX) autocomplete="off" autocapitalize="none"
            placeholder=(known.household.free_monitor_id())
            spellcheck="false" aria-describedby="called-say";
    }
}
