//! The sessions of a period as an iCalendar file (RFC 5545), each with an alarm.
//!
//! Times are written in UTC: a moment is a moment, whatever the reader knows of time zones, and a change of
//! summer time within the period has been worked out here. The same session has the same UID in every file,
//! and no session of another home has it (RFC 5545, section 3.8.4.7), so that a file read again moves events and does
//! not add them, and two homes in one calendar do not move each other's. Written by hand: it is eight properties, and
//! the crates for it bring a second library for time.

use crate::household::PersonId;
use crate::monitoring::names;
use crate::monitoring::plan::Plan;
use crate::monitoring::reminders::{Known, QuietHours, sessions_asked};
use crate::words::{Words, one_line};
use jiff::{SignedDuration, Timestamp};
use sha2::{Digest, Sha256};
use std::fmt::Write;

/// Rest, two readings a minute apart, a third, and putting the cuff away (own choice).
const SESSION: SignedDuration = SignedDuration::from_mins(15);
/// Octets of a line, without its end (RFC 5545, section 3.1).
const LINE_OCTETS_MAX: usize = 75;

/// The file. `household` tells this home from others. An alarm never rings in quiet hours, where the session's window
/// leaves room after them. `terse` leaves out the person's name for their id.
pub fn calendar(
    known: &Known<'_>,
    household: i64,
    person: &PersonId,
    plan: &Plan,
    quiet: QuietHours,
    (words, terse): (&Words, bool),
    now: Timestamp,
) -> String {
    let label = names::shown(known.household)
        .get(person)
        .map(|label| one_line(label))
        .filter(|label| !label.is_empty() && !terse)
        .unwrap_or_else(|| person.to_string());
    let mut file = Lines(String::new());
    file.line("BEGIN:VCALENDAR");
    file.line("VERSION:2.0");
    file.line("PRODID:-//quietcuff//sessions//EN");
    file.line("CALSCALE:GREGORIAN");
    for (slot, date, opens, closes) in sessions_asked(known, person, plan) {
        let begin = begins(known, opens, closes, quiet);
        let end = begin.checked_add(SESSION).unwrap_or(Timestamp::MAX).min(closes);
        let title = words.with(
            "calendar-session",
            &[("slot", slot.name().into()), ("who", label.as_str().into())],
        );
        let what = words.with(
            "told-session-due",
            &[("time", words.time(known.zones.civil(closes).time()).into())],
        );
        file.line("BEGIN:VEVENT");
        let session = format!("{household}\n{person}\n{date}\n{}", slot.name());
        file.line(&format!("UID:{}@quietcuff.invalid", unique(&session)));
        file.line(&format!("DTSTAMP:{}", utc(now)));
        file.line(&format!("DTSTART:{}", utc(begin)));
        file.line(&format!("DTEND:{}", utc(end)));
        file.line(&format!("SUMMARY:{}", text(&title)));
        file.line(&format!("DESCRIPTION:{}", text(&what)));
        file.line("TRANSP:TRANSPARENT");
        file.line("BEGIN:VALARM");
        file.line("ACTION:DISPLAY");
        file.line("TRIGGER:PT0S");
        file.line(&format!("DESCRIPTION:{}", text(&title)));
        file.line("END:VALARM");
        file.line("END:VEVENT");
    }
    file.line("END:VCALENDAR");
    file.0
}

/// When a session's window opens, or when quiet hours end, if it is still open then.
fn begins(known: &Known<'_>, opens: Timestamp, closes: Timestamp, quiet: QuietHours) -> Timestamp {
    quiet
        .end(known.zones.civil(opens))
        .and_then(|end| known.zones.instant(end))
        .filter(|end| *end < closes)
        .unwrap_or(opens)
}

/// A digest: who measures and when is nobody's business who is shown an event's name.
fn unique(session: &str) -> String {
    let digest = Sha256::digest(session);
    digest.iter().take(16).fold(String::new(), |mut text, octet| {
        let _ = write!(text, "{octet:02x}");
        text
    })
}

fn utc(at: Timestamp) -> String {
    at.strftime("%Y%m%dT%H%M%SZ").to_string()
}

/// A value of the type TEXT (section 3.3.11).
fn text(plain: &str) -> String {
    let mut escaped = String::with_capacity(plain.len());
    for c in plain.chars() {
        match c {
            '\\' | ';' | ',' => {
                escaped.push('\\');
                escaped.push(c);
            }
            '\n' => escaped.push_str("\\n"),
            c if c.is_control() => {}
            c => escaped.push(c),
        }
    }
    escaped
}

/// Content lines, folded where they are long, never inside a character.
struct Lines(String);

impl Lines {
    fn line(&mut self, content: &str) {
        let mut octets = 0;
        for c in content.chars() {
            if octets + c.len_utf8() > LINE_OCTETS_MAX {
                self.0.push_str("\r\n ");
                octets = 1;
            }
            let _ = self.0.write_char(c);
            octets += c.len_utf8();
        }
        self.0.push_str("\r\n");
    }
}
