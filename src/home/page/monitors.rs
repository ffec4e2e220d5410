//! Monitors: battery, when each was last heard, and what is due for it.

use super::answer::Answer;
use super::ask::{Ask, Wrong};
use super::{frame, numbers};
use crate::home::live::Book;
use crate::household::{Mapping, Monitor, MonitorId};
use crate::journal::LastBackup;
use crate::monitoring::care::Care;
use crate::monitoring::reminders::BACKUP_OLD;
use crate::monitoring::stated::Stated;
use jiff::Timestamp;
use maud::{Markup, html};

pub(super) fn page(ask: &Ask, book: &mut Book) -> Result<Answer, Wrong> {
    let title = ask.say("title-monitors");
    let known = book.known()?;
    let cares = book.journal.cares(&known, Timestamp::now())?;
    let last_heard = book.journal.last_heard()?;
    let mut shown = Vec::new();
    for (id, care) in &cares {
        let Some((monitor, _)) = known.household.monitors.get(id) else {
            continue;
        };
        let heard = last_heard.get(id.as_str()).copied();
        let mut battery = None;
        if let Some(address) = &monitor.address {
            battery = book.journal.last_battery(address)?;
        }
        let numbers = book.journal.numbers_of(id)?;
        shown.push((id, monitor, care, (heard, battery), numbers));
    }
    let last = book.journal.last_backup()?;
    let body = html! {
        h1 { (title) }
        @if shown.is_empty() { p { (ask.say("monitors-none")) } }
        @if ask.viewer.cares() { p { a.button href="/monitors/pair" { (ask.say("pair-title")) } } }
        @for (id, monitor, care, heard, numbers) in &shown {
            (one((id, monitor), care, *heard, numbers, ask, &known))
        }
        @if ask.viewer.cares() { (backup(ask, &known, last.as_ref())) }
    };
    Ok(Answer::html(frame::page(
        ask,
        book,
        &frame::Page::of_household(&title),
        &body,
    )?))
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
    (heard, battery): (Option<Timestamp>, Option<(u8, Timestamp)>),
    numbers: &[u8],
    ask: &Ask,
    known: &Stated,
) -> Markup {
    let words = ask.words;
    let heading = format!("m-{id}");
    let name = monitor
        .name
        .as_deref()
        .or(monitor.model.as_deref())
        .unwrap_or(id.as_str());
    let usual = known.household.usual.get(id).and_then(Mapping::holder);
    let usual = usual.filter(|one| ask.viewer.sees(one));
    let users: Vec<_> = known
        .household
        .user_indexes
        .iter()
        .filter(|((monitor, _), _)| monitor == id)
        .filter_map(|((_, number), mapping)| Some((number, mapping.holder()?)))
        .filter(|(_, person)| ask.viewer.sees(person))
        .collect();
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
                                ("date", words.date(known.zones.civil(at).date()).into()),
                            ]))
                        }
                        None => { (words.say("monitor-battery-unknown")) }
                    }
                }
                dt { (words.say("monitor-heard")) }
                dd {
                    @match heard {
                        Some(at) => { (words.moment(known.zones.civil(at))) }
                        None => { (words.say("monitor-never")) }
                    }
                }
                dt { (words.say("monitor-measurements")) }
                dd { (care.measurements) }
                @if usual.is_some() || !users.is_empty() {
                    dt { (words.say("monitor-usual")) }
                    @if let Some(person) = usual { dd { bdi { (known.label(person)) } } }
                    @for (number, person) in users {
                        dd {
                            (words.with("monitor-user", &[
                                ("number", number.to_string().into()),
                                ("person", known.label(person).to_owned().into()),
                            ]))
                        }
                    }
                }
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
            @if ask.viewer.cares() { (numbers::form(ask, known, id, numbers)) }
        }
    }
}
