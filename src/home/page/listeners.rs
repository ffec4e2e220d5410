//! The machines in other rooms that hand on what they hear: how each is, and letting one in or withdrawing it.
//!
//! This role has no key of the machine: it asks the record's door, which has it, who the record is.

use super::answer::Answer;
use super::ask::{Ask, Wrong};
use super::frame::{self, token};
use super::shared::Shared;
use crate::afar::PORT;
use crate::afar::code::{CODE_LIFE, Code, digest_of, place};
use crate::home::card::code;
use crate::home::live::Book;
use crate::journal::{Comes, JournalError, Listener};
use crate::keys::{KeySecret, LABEL_CHARS_MAX};
use crate::monitoring::stated::Stated;
use crate::socket;
use crate::socket::report::DoorReport;
use crate::words::Words;
use jiff::Timestamp;
use maud::{Markup, html};
use std::sync::Arc;

/// The page on which a listener is let in.
const HERE: &str = "/monitors/listeners";

/// Each listener of which frames are taken or may be again, as the page of monitors shows it.
pub(super) fn section(ask: &Ask, book: &mut Book, known: &Stated) -> Result<Markup, JournalError> {
    let listeners = standing(book)?;
    let by = book.journal.coming_by(&known.household)?;
    Ok(html! {
        @if !listeners.is_empty() || ask.viewer.cares() {
            h2 { (ask.say("listeners-title")) }
            @if listeners.is_empty() { p { (ask.say("listeners-none")) } }
            @for listener in &listeners {
                (one(listener, by.get(&listener.id).map_or(&[][..], Vec::as_slice), ask, known))
            }
            @if ask.viewer.cares() { p { a.button href=(HERE) { (ask.say("listeners-manage")) } } }
        }
    })
}

fn standing(book: &Book) -> Result<Vec<Listener>, JournalError> {
    let mut listeners = book.journal.listeners()?;
    listeners.retain(|listener| listener.withdrawn.is_none());
    Ok(listeners)
}

fn one(listener: &Listener, comes: &[Comes], ask: &Ask, known: &Stated) -> Markup {
    let words = ask.words;
    let heading = format!("listener-{}", listener.id);
    html! {
        section.monitor aria-labelledby=(heading) {
            h3 #(heading) { bdi { (listener.name()) } @if !listener.label.is_empty() { " (" (listener.id) ")" } }
            @if listener.closed.is_some() { p.notice { (words.say("listener-closed")) } }
            (apart(listener, ask, known))
            dl {
                dt { (words.say("monitor-heard")) }
                dd {
                    @match listener.last {
                        Some(at) => { (words.moment(known.zones.civil(at))) }
                        None => { (words.say("monitor-never")) }
                    }
                }
                dt { (words.say("listener-waiting")) }
                dd {
                    @match listener.waiting.map(|frames| i64::try_from(frames).unwrap_or(i64::MAX)) {
                        Some(frames) => { (words.with("listener-waiting-n", &[("n", frames.into())])) }
                        None => { (words.say("listener-not-told")) }
                    }
                }
                (machine(listener, words))
                dt { (words.say("listener-monitors")) }
                @if comes.is_empty() { dd { (words.say("listener-monitors-none")) } }
                @for monitor in comes {
                    dd {
                        bdi { (monitor.name) }
                        @if let Some((level, at)) = monitor.battery {
                            ", " (words.say("monitor-battery")) " "
                            (words.with("monitor-battery-level", &[
                                ("level", level.to_string().into()),
                                ("date", words.date(known.zones.civil(at).date()).into()),
                            ]))
                        }
                    }
                }
            }
            @if ask.viewer.cares() && listener.is_open() { (there(listener, comes, ask)) }
        }
    }
}

/// What can be done there from here: a monitor is added and forgotten.
fn there(listener: &Listener, comes: &[Comes], ask: &Ask) -> Markup {
    html! {
        p { a.button href={ "/monitors/pair?at=" (listener.id) } { (ask.say("listener-pair")) } }
        @for monitor in comes {
            details.handover {
                summary { (ask.words.with("listener-forget", &[("monitor", monitor.name.clone().into())])) }
                p { (ask.say("monitor-forget-say")) }
                form method="post" action="/monitors/forget" {
                    (token(ask))
                    input type="hidden" name="at" value=(listener.id);
                    button name="address" value=(monitor.address) { (ask.say("monitor-forget-do")) }
                }
            }
        }
    }
}

/// The listener that a request names, of which frames are taken.
pub(super) fn named(ask: &Ask, book: &Book) -> Result<Option<Listener>, Wrong> {
    let Some(id) = ask.field("at") else {
        return Ok(None);
    };
    let mut listeners = book.journal.listeners()?.into_iter();
    let found = listeners.find(|listener| listener.id == id && listener.is_open());
    found.map(Some).ok_or(Wrong::NotFound)
}

/// That it called and was refused for its version.
fn apart(listener: &Listener, ask: &Ask, known: &Stated) -> Markup {
    let words = ask.words;
    html! {
        @if let Some((at, theirs)) = &listener.refused {
            p.notice {
                (words.with("listener-apart", &[
                    ("moment", words.moment(known.zones.civil(*at)).into()),
                    ("theirs", theirs.clone().into()),
                    ("ours", env!("CARGO_PKG_VERSION").into()),
                ]))
            }
        }
    }
}

/// What it says of the machine that it runs on.
fn machine(listener: &Listener, words: &Words) -> Markup {
    html! {
        dt { (words.say("monitor-clock")) }
        dd {
            @match (listener.clock_told(), listener.clock_known) {
                (Some(within), _) => { (words.with("listener-clock-told", &[("seconds", words.seconds(within).into())])) }
                (None, Some(true)) => { (words.say("listener-clock-right")) }
                (None, Some(false)) => { (words.say("listener-clock-unsure")) }
                (None, None) => { (words.say("listener-not-told")) }
            }
            @if let Some(ahead) = listener.clock_apart() {
                " "
                (words.with("listener-clock-apart", &[
                    ("seconds", ahead.abs().into()),
                    ("where", if ahead < 0 { "behind" } else { "ahead" }.into()),
                ]))
            }
        }
        dt { (words.say("listener-disk")) }
        dd {
            @match listener.disk_free {
                Some(free) => {
                    (megabytes(free)) " MB" @if listener.disk_low().is_some() { ". " (words.say("listener-disk-low")) }
                }
                None => { (words.say("listener-not-told")) }
            }
        }
        dt { (words.say("listener-version")) }
        dd { (listener.version.clone().unwrap_or_else(|| words.say("listener-not-told"))) }
    }
}

const fn megabytes(octets: u64) -> u64 {
    octets / 1_000_000
}

/// Shows how a listener is let in, or does what was pressed.
pub(super) async fn answer(ask: Ask, writes: bool, shared: &Shared) -> Answer {
    if !ask.viewer.cares() {
        return Wrong::NotYours.answer(&ask);
    }
    let Ok(state) = shared.desk.ask(|book| book.place.state.clone()).await else {
        return Wrong::Busy.answer(&ask);
    };
    let door = tokio::task::spawn_blocking(move || socket::door(&state)).await;
    let door = door.ok().and_then(Result::ok).flatten();
    let ask = Arc::new(ask);
    let asking = ask.clone();
    let answered = shared
        .desk
        .ask(move |book| done(&asking, writes, door.as_ref(), book))
        .await;
    match answered {
        Ok(Ok(answer)) => answer,
        Ok(Err(wrong)) => wrong.answer(&ask),
        Err(_) => Wrong::Busy.answer(&ask),
    }
}

/// Does what was pressed, and says what comes of it.
pub(super) fn done(
    ask: &Ask,
    writes: bool,
    door: Option<&DoorReport>,
    book: &mut Book,
) -> Result<Answer, Wrong> {
    if !ask.viewer.cares() {
        return Err(Wrong::NotYours);
    }
    if !writes {
        return page(ask, door, None, book);
    }
    let id = ask.field("listener").unwrap_or_default();
    let there = match ask.field("do") {
        Some("withdraw") => {
            let now = book.journal.moment_for_keys(ask.now)?;
            book.journal.withdraw_listener(id, now)?
        }
        Some("confirm") => book.journal.confirm_listener(id)?,
        _ => {
            let code = invited(ask, door, book)?;
            return page(ask, door, code.as_ref(), book);
        }
    };
    if there {
        Ok(Answer::see(HERE))
    } else {
        Err(Wrong::NotFound)
    }
}

/// A code with until when it holds; none where nobody says who the record is.
fn invited(
    ask: &Ask,
    door: Option<&DoorReport>,
    book: &mut Book,
) -> Result<Option<(Code, Timestamp)>, Wrong> {
    let wrong = |name: &str| Wrong::Value(ask.field(name).unwrap_or_default().chars().take(40).collect());
    let at = ask.field("at").and_then(place).ok_or_else(|| wrong("at"))?;
    let label = ask.field("label").unwrap_or_default();
    if label.chars().count() > LABEL_CHARS_MAX || label.chars().any(char::is_control) {
        return Err(wrong("label"));
    }
    let Some(record) = door.and_then(|door| digest_of(&door.key)) else {
        return Ok(None);
    };
    let now = book.journal.moment_for_keys(ask.now)?;
    let until = now.checked_add(CODE_LIFE).unwrap_or(Timestamp::MAX);
    let secret = KeySecret::new().map_err(|_| Wrong::Busy)?;
    book.journal
        .invite_listener(&secret.digest("listener"), label, until)?;
    Ok(Some((Code { at, record, secret }, until)))
}

fn page(
    ask: &Ask,
    door: Option<&DoorReport>,
    invited: Option<&(Code, Timestamp)>,
    book: &mut Book,
) -> Result<Answer, Wrong> {
    let known = book.known()?;
    let title = ask.say("listeners-title");
    let all = book.journal.listeners()?;
    let connected = door.map(|door| door.connected.as_slice()).unwrap_or_default();
    let body = html! {
        h1 { (title) }
        p { (ask.say("listeners-say")) }
        @if door.is_none() {
            p.notice { (ask.say("listeners-door-shut")) " " code { "systemctl enable --now quietcuff-receive" } }
        }
        @if let Some((code, until)) = invited { (shown(ask, &known, code, *until)) }
        @for listener in &all { (order(ask, &known, listener, connected)) }
        section aria-labelledby="invite" {
            h2 #invite { (ask.say("invite-title")) }
            form.facts method="post" action=(HERE) {
                (token(ask))
                label for="label" { (ask.say("invite-label")) }
                input #label name="label" type="text" maxlength=(LABEL_CHARS_MAX) autocomplete="off";
                label for="at" { (ask.say("invite-at")) }
                input #at name="at" type="text" maxlength="260" required autocomplete="off" autocapitalize="none"
                    spellcheck="false" value=(reached(ask, door));
                button.accent name="do" value="invite" { (ask.say("invite-do")) }
            }
        }
    };
    frame::of_household(ask, book, &title, &body)
}

/// Where whoever asks reached this machine, with the door's port; nothing where that leads to the machine itself only.
fn reached(ask: &Ask, door: Option<&DoorReport>) -> String {
    if ask.is_only_here() {
        return String::new();
    }
    let host = ask
        .home
        .split("://")
        .nth(1)
        .unwrap_or_default()
        .trim_end_matches('/');
    let host = match host.rsplit_once(':') {
        Some((name, port)) if !port.ends_with(']') => name,
        _ => host,
    };
    match door
        .map(|door| door.port)
        .filter(|port| ![0, PORT].contains(port))
    {
        Some(port) => format!("{host}:{port}"),
        None => host.to_owned(),
    }
}

fn shown(ask: &Ask, known: &Stated, invited: &Code, until: Timestamp) -> Markup {
    let (words, text) = (ask.words, invited.to_string());
    let until = words.time(known.zones.civil(until).time());
    let minutes = CODE_LIFE.as_mins();
    html! {
        section aria-labelledby="code" {
            h2 #code { (words.say("invite-code")) }
            p.lead { (words.with("invite-until", &[("minutes", minutes.into()), ("time", until.into())])) }
            @if let Some(code) = code(&text, &words.say("invite-scan")) { (code) }
            p.address { (text) }
            p { (words.say("invite-there")) " " code { "quietcuff record join" } }
        }
    }
}

fn order(ask: &Ask, known: &Stated, listener: &Listener, connected: &[String]) -> Markup {
    let words = ask.words;
    let heading = format!("listener-{}", listener.id);
    html! {
        section.monitor aria-labelledby=(heading) {
            h2 #(heading) { bdi { (listener.name()) } @if !listener.label.is_empty() { " (" (listener.id) ")" } }
            @if let Some(at) = listener.withdrawn {
                p { (words.with("listener-withdrawn", &[("moment", words.moment(known.zones.civil(at)).into())])) }
            } @else {
                @if connected.contains(&listener.id) { p { (words.say("listener-connected")) } }
                @if listener.closed.is_some() {
                    p.notice { (words.say("listener-closed")) }
                    form method="post" action=(HERE) {
                        (token(ask))
                        input type="hidden" name="do" value="confirm";
                        button name="listener" value=(listener.id) { (words.say("listener-confirm")) }
                    }
                }
                details.handover {
                    summary { (words.say("listener-withdraw")) }
                    p { (words.say("listener-withdraw-say")) }
                    form method="post" action=(HERE) {
                        (token(ask))
                        input type="hidden" name="do" value="withdraw";
                        button name="listener" value=(listener.id) { (words.say("listener-withdraw-do")) }
                    }
                }
            }
        }
    }
}
