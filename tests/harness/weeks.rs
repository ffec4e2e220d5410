//! The situations of `fixtures/situations/what-may-count.md`, read from the file that a clinician reads.

use std::ops::RangeInclusive;

const TABLE: &str = include_str!("../../fixtures/situations/what-may-count.md");

/// One row.
#[derive(Debug)]
pub(crate) struct Week {
    pub(crate) name: &'static str,
    pub(crate) who: Vec<&'static str>,
    pub(crate) protocol: &'static str,
    pub(crate) events: Vec<Event>,
    pub(crate) expected: Vec<&'static str>,
    pub(crate) says: Vec<&'static str>,
}

/// What happened on some days of the period, at so many minutes after the midnight that begins each.
#[derive(Debug)]
pub(crate) struct Event {
    pub(crate) days: RangeInclusive<i64>,
    pub(crate) minute: i64,
    pub(crate) what: What,
}

#[derive(Debug)]
pub(crate) enum What {
    /// Systolic and diastolic, two minutes apart, and how the person was.
    Readings(Vec<(u16, u16)>, Option<&'static str>),
    /// A kind of note, and the words behind it.
    Noted(&'static str, &'static str),
}

/// Every row; that every row names a source or says that it has none is looked at here.
pub(crate) fn weeks() -> Vec<Week> {
    let mut rows = Vec::new();
    for line in TABLE.lines().filter(|line| line.starts_with("| ")) {
        let cells: Vec<&str> = line.trim_matches('|').split('|').map(str::trim).collect();
        let [name, who, protocol, happened, expected, says, because] = cells[..] else {
            panic!("{} cells: {line}", cells.len());
        };
        if name == "situation" {
            continue;
        }
        assert!(!because.is_empty(), "{name} has no source");
        rows.push(Week {
            name,
            who: who.split(',').map(str::trim).collect(),
            protocol,
            events: parts(happened).map(event).collect(),
            expected: parts(expected).collect(),
            says: parts(says).collect(),
        });
    }
    rows
}

fn parts(cell: &'static str) -> impl Iterator<Item = &'static str> {
    cell.split(';').map(str::trim).filter(|part| !part.is_empty())
}

/// "days 1-7 07:00 130/80 128/80", "day 3 13:00 170/100 standing" or "day 2 06:30 waking".
fn event(text: &'static str) -> Event {
    let mut words = text.split(' ');
    let _ = words.next();
    let days = words.next().unwrap_or_else(|| panic!("{text}"));
    // A day before the period has a minus of its own.
    let (first, last) = match days.get(1..).and_then(|rest| rest.find('-')) {
        Some(place) => (&days[..=place], &days[place + 2..]),
        None => (days, days),
    };
    let clock = words.next().unwrap_or_else(|| panic!("{text}"));
    let (hour, minute) = clock.split_once(':').unwrap_or_else(|| panic!("{text}"));
    let number = |text: &str| text.parse::<i64>().unwrap_or_else(|e| panic!("{text}: {e}"));
    let rest: Vec<&'static str> = words.collect();
    let pressures: Vec<(u16, u16)> = rest
        .iter()
        .map_while(|word| {
            let (systolic, diastolic) = word.split_once('/')?;
            Some((systolic.parse().ok()?, diastolic.parse().ok()?))
        })
        .collect();
    let what = if pressures.is_empty() {
        let behind = text.split_once(rest[0]).map_or("", |(_, behind)| behind.trim());
        What::Noted(rest[0], behind)
    } else {
        What::Readings(pressures.clone(), rest.get(pressures.len()).copied())
    };
    Event {
        days: number(first)..=number(last),
        minute: number(hour) * 60 + number(minute),
        what,
    }
}
