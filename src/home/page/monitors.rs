//! Monitors: battery, when each was last heard, and what is due for it.

use super::answer::Answer;
use super::ask::{Ask, Wrong};
use super::frame::token;
use super::parts::Part;
use super::shared::Shared;
use super::{consent, frame, listeners, numbers};
use crate::export::report::words::held;
use crate::home::live::Book;
use crate::household::{Mapping, Monitor, MonitorAddress, MonitorId, PersonId, Statement};
use crate::journal::{LastBackup, Listener};
use crate::monitoring::care::Care;
use crate::monitoring::reminders::BACKUP_OLD;
use crate::monitoring::stated::Stated;
use crate::socket;
use crate::socket::speech::Request;
use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::Offset;
use maud::{Markup, html};
use std::path::PathBuf;
use std::sync::Arc;

/// When a monitor was last heard, its battery and its clock, each with when it was told.
type Heard = (
    Option<Timestamp>,
    Option<(u8, Timestamp)>,
    Option<(Timestamp, DateTime, Offset)>,
);

pub(super) fn page(ask: &Ask, book: &mut Book) -> Result<Answer, Wrong> {
    shown(ask, book, None)
}

fn shown(ask: &Ask, book: &mut Book, notice: Option<&str>) -> Result<Answer, Wrong> {
    let title = ask.say("title-monitors");
    let known = book.known()?;
    let cares = book.journal.cares(&known, Timestamp::now())?;
    let last_heard = book.journal.last_heard()?;
    let part = Part::of(ask, cares.iter(), |(id, _)| called(id, ask, &known));
    let mut shown = Vec::new();
    for (id, care) in &part.shown {
        let monitor = book.journal.described(&known.household, id)?;
        let heard = last_heard.get(id.as_str()).copied();
        let (mut battery, mut clock) = (None, None);
        if let Some(address) = &monitor.address {
            battery = book.journal.last_battery(address)?;
            clock = book.journal.last_clock(address)?;
        }
        let users = consent::users(book, id, &monitor)?;
        let mut numbers = book.journal.numbers_of(id)?;
        numbers.extend(users.numbers());
        shown.push((id, monitor, care, (heard, battery, clock), (numbers, users)));
    }
    let last = book.journal.last_backup()?;
    let standing = book.journal.listeners()?;
    let rooms = listeners::section(ask, book, &known)?;
    let body = html! {
        h1 { (title) }
        @if let Some(notice) = notice { p.notice role="status" { (notice) } }
        @if part.is_empty() { p { (ask.say("monitors-none")) } }
        @if ask.viewer.cares() { p { a.button href="/monitors/pair" { (ask.say("pair-title")) } } }
        (part.links(ask))
        @for (id, monitor, care, heard, users) in &shown {
            (one((id, monitor), care, heard, users, (ask, &known, &standing)))
        }
        (rooms)
        @if ask.viewer.cares() { (backup(ask, &known, last.as_ref())) }
    };
    frame::of_household(ask, book, &title, &body)
}

/// What a monitor is searched by: its names, and the people who have it.
fn called(id: &MonitorId, ask: &Ask, known: &Stated) -> String {
    let mut names = vec![id.as_str()];
    if let Some((monitor, _)) = known.household.monitors.get(id) {
        let own = [&monitor.name, &monitor.model, &monitor.serial];
        names.extend(own.into_iter().flatten().map(String::as_str));
    }
    let people = taken(id, ask, known).into_iter();
    names.extend(people.map(|(_, person, _)| known.label(person)));
    names.join("\n")
}

/// How old the last good backup is: for whoever looks after the household.
fn backup(ask: &Ask, known: &Stated, last: Option<&LastBackup>) -> Markup {
    let words = ask.words;
    html! {
        section.backup aria-labelledby="backup" {
            h2 #backup { (words.say("backup-title")) }
            @match last {
                Some(last) => {
                    p { (words.with("backup-last", &[("moment", words.moment(known.zones.civil(last.made)).into())])) }
                    @if ask.now.duration_since(last.made) >= BACKUP_OLD { p.notice { (words.say("backup-old")) } }
                    p { (words.say(if last.encrypted { "backup-encrypted" } else { "backup-plain" })) }
                }
                None => { p { (words.say("backup-never")) } }
            }
        }
    }
}

fn one(
    (id, monitor): (&MonitorId, &Monitor),
    care: &Care,
    (heard, battery, clock): &Heard,
    (numbers, users): &(Vec<u8>, consent::Users),
    (ask, known, listeners): (&Ask, &Stated, &[Listener]),
) -> Markup {
    let words = ask.words;
    let heading = format!("m-{id}");
    let name = monitor
        .name
        .as_deref()
        .or(monitor.model.as_deref())
        .unwrap_or(id.as_str());
    html! {
        section.monitor aria-labelledby=(heading) {
            h2 #(heading) { bdi { (name) } " (" (id) ")" }
            dl {
                dt { (words.say("monitor-battery")) }
                dd {
                    @match battery {
                        Some((level, at)) => {
                            (words.with("monitor-battery-level", &[
                                ("level", level.to_string().into()),
                                ("date", words.date(known.zones.civil(*at).date()).into()),
                            ]))
                        }
                        None => { (words.say("monitor-battery-unknown")) }
                    }
                }
                dt { (words.say("monitor-heard")) }
                dd {
                    @match heard {
                        Some(at) => { (words.moment(known.zones.civil(*at))) }
                        None => { (words.say("monitor-never")) }
                    }
                }
                dt { (words.say("monitor-measurements")) }
                dd { (care.measurements) }
                (places(id, ask, known, listeners))
                (whose(id, ask, known))
                dt { (words.say("monitor-clock")) }
                dd { (clock_said(clock.as_ref(), ask, known)) }
                dt { (words.say("monitor-due")) }
                @if care.due.is_empty() { dd { (words.say("monitor-due-none")) } }
                @for due in &care.due {
                    dd {
                        (words.with("monitor-due-on", &[
                            ("task", words.say(&format!("task-{}", due.task.name())).into()),
                            ("date", words.date_with_year(due.on).into()),
                        ]))
                    }
                }
                @if let Some(address) = &monitor.address { dt { (words.say("monitor-address")) } dd { (address) } }
            }
            @if ask.viewer.cares() {
                @let here = known.household.here.contains(id);
                // A code is for whoever links the monitor.
                @if here { (consent::form(ask, known, id, users, numbers)) }
                (numbers::form(ask, known, id, numbers))
                @if here { (orders(ask, id)) }
            }
        }
    }
}

/// Where it is paired, where that is not this machine alone.
fn places(id: &MonitorId, ask: &Ask, known: &Stated, listeners: &[Listener]) -> Markup {
    let paired = |room: &&Listener| known.household.rooms_of(id).any(|at| at == room.id);
    let rooms: Vec<&Listener> = listeners.iter().filter(paired).collect();
    html! {
        @if !rooms.is_empty() {
            dt { (ask.say("monitor-places")) }
            @if known.household.here.contains(id) { dd { (ask.say("monitor-here")) } }
            @for room in rooms { dd { a href={ "#listener-" (room.id) } { bdi { (room.name()) } } } }
        }
    }
}

/// Each number of a monitor that somebody has whom the viewer may see; first what comes without a number.
fn taken<'a>(id: &MonitorId, ask: &Ask, known: &'a Stated) -> Vec<(Option<u8>, &'a PersonId, &'a Mapping)> {
    let household = &known.household;
    let usual = household.usual.get(id).map(|mapping| (None, mapping));
    let users = household.user_indexes.iter();
    let users = users.filter(|((monitor, _), _)| monitor == id);
    usual
        .into_iter()
        .chain(users.map(|((_, number), mapping)| (Some(*number), mapping)))
        .filter_map(|(number, mapping)| Some((number, mapping.at(ask.now)?, mapping)))
        .filter(|(_, person, _)| ask.viewer.sees(person))
        .collect()
}

/// Whose readings it takes, and whose each of its numbers is, since when and until when.
fn whose(id: &MonitorId, ask: &Ask, known: &Stated) -> Markup {
    let words = ask.words;
    let taken = taken(id, ask, known);
    html! {
        @if !taken.is_empty() {
            dt { (words.say("monitor-usual")) }
            @for (number, person, mapping) in taken {
                @let when = held(words, &known.zones, mapping, ask.now);
                dd {
                    @match number {
                        None => { bdi { (known.label(person)) } }
                        Some(number) => {
                            (words.with("monitor-user", &[
                                ("number", number.to_string().into()),
                                ("person", known.label(person).to_owned().into()),
                            ]))
                        }
                    }
                    @if !when.is_empty() { " (" (when) ")" }
                    @if ask.viewer.cares() { (numbers::hand_back(ask, id, number)) }
                }
            }
        }
    }
}

/// How far a monitor's clock was off when it was last read.
fn clock_said(clock: Option<&(Timestamp, DateTime, Offset)>, ask: &Ask, known: &Stated) -> String {
    let Some((at, shown, offset)) = clock else {
        return ask.say("monitor-clock-unread");
    };
    let ahead = offset.to_datetime(*at).duration_until(*shown).as_secs();
    ask.words.with(
        "monitor-clock-seen",
        &[
            ("seconds", ahead.abs().into()),
            ("where", if ahead < 0 { "behind" } else { "ahead" }.into()),
            ("moment", ask.words.moment(known.zones.civil(*at)).into()),
        ],
    )
}

/// What the program that listens does for one monitor.
fn orders(ask: &Ask, id: &MonitorId) -> Markup {
    html! {
        form method="post" action="/monitors/clock" {
            (token(ask))
            button.quiet name="monitor" value=(id) { (ask.say("monitor-clock-set")) }
        }
        details.handover {
            summary { (ask.say("monitor-forget")) }
            p { (ask.say("monitor-forget-say")) }
            form method="post" action="/monitors/forget" {
                (token(ask))
                button name="monitor" value=(id) { (ask.say("monitor-forget-do")) }
            }
        }
    }
}

/// Takes an order for a monitor. That one was forgotten is kept here; the rest is asked of the program that listens.
pub(super) async fn order(ask: Ask, shared: &Shared) -> Answer {
    let ask = Arc::new(ask);
    let asking = ask.clone();
    let prepared = shared.desk.ask(move |book| prepared(&asking, book)).await;
    let (path, request) = match prepared {
        Ok(Ok(prepared)) => prepared,
        Ok(Err(wrong)) => return wrong.answer(&ask),
        Err(_) => return Wrong::Busy.answer(&ask),
    };
    let forgets = matches!(request, Request::Forget { .. });
    let left = left(&request);
    let elsewhere = left.is_some();
    let told = tokio::task::spawn_blocking(move || socket::ask(&path, &request)).await;
    let why = match told {
        Ok(Ok(Some(_))) => None,
        Ok(Ok(None)) if elsewhere => Some(ask.say("listener-door-shut")),
        Ok(Ok(None)) => Some(ask.say("monitor-nobody-listens")),
        Ok(Err(error)) => Some(error.to_string()),
        Err(error) => Some(error.to_string()),
    };
    if let (None, Some(left)) = (&why, left) {
        let stated = shared.desk.ask(move |book| left_there(left, book)).await;
        match stated {
            Ok(Ok(())) => {}
            Ok(Err(wrong)) => return Wrong::answer(wrong, &ask),
            Err(_) => return Wrong::Busy.answer(&ask),
        }
    }
    let said = match why {
        None if forgets => return Answer::see("/monitors"),
        None if elsewhere => ask.say("listener-forgotten"),
        None => ask.say("monitor-clock-will"),
        Some(why) if forgets => ask.words.with("monitor-bond-kept", &[("why", why.into())]),
        Some(why) => ask.words.with("monitor-not-done", &[("why", why.into())]),
    };
    let asking = ask.clone();
    match shared
        .desk
        .ask(move |book| shown(&asking, book, Some(&said)))
        .await
    {
        Ok(Ok(answer)) => answer,
        Ok(Err(wrong)) => wrong.answer(&ask),
        Err(_) => Wrong::Busy.answer(&ask),
    }
}

/// The listener that is asked to forget a monitor, and which.
fn left(request: &Request) -> Option<(String, MonitorAddress)> {
    match request {
        Request::At { listener, request } => match &**request {
            Request::ForgetAt { address } => Some((listener.clone(), address.clone())),
            _ => None,
        },
        _ => None,
    }
}

/// A listener has forgotten a monitor.
fn left_there((listener, address): (String, MonitorAddress), book: &mut Book) -> Result<(), Wrong> {
    let monitor = book.known()?.household.monitor_at(&address);
    Ok(book.state(&[Statement::MonitorForgottenAt { monitor, listener }])?)
}

/// What is asked, and at which socket; a monitor that is to be forgotten is so from here on.
pub(super) fn prepared(ask: &Ask, book: &mut Book) -> Result<(PathBuf, Request), Wrong> {
    if !ask.viewer.cares() {
        return Err(Wrong::NotYours);
    }
    if let Some(listener) = listeners::named(ask, book)? {
        let address = ask.field("address").unwrap_or_default();
        let address = address.parse().map_err(|_| Wrong::NotFound)?;
        let request = Request::At {
            listener: listener.id,
            request: Box::new(Request::ForgetAt { address }),
        };
        return Ok((socket::door_path(&book.place.state), request));
    }
    let named = ask.field("monitor").unwrap_or_default();
    let monitor: MonitorId = named.parse().map_err(|_| Wrong::NotFound)?;
    let known = book.known()?;
    if !known.household.here.contains(&monitor) {
        return Err(Wrong::NotFound);
    }
    let path = socket::path(&book.place.state);
    if ask.path != "/monitors/forget" {
        return Ok((path, Request::SetClock { monitor }));
    }
    book.state(&[Statement::MonitorForgotten {
        monitor: monitor.clone(),
    }])?;
    book.withdraw_consents(&monitor)?;
    Ok((path, Request::Forget { monitor }))
}
