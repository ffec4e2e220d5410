//! Backups in one directory: what they are called, and which of them are kept.

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::Offset;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use std::path::PathBuf;

const BEGIN: &str = "quietcuff-";
const END: &str = ".backup";
const END_SEALED: &str = ".backup.age";
const TIME: &str = "%Y%m%dT%H%M%SZ";

/// What the machine's owner decides about backups.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, default)]
pub struct Backup {
    /// The directory for them, on another disk. Nothing is backed up by itself without it.
    pub to: Option<PathBuf>,
    /// Public keys of age; whoever has one of the private keys opens the backups. Without any they are plain.
    pub recipients: Vec<String>,
    /// The last so many days that have a backup keep their newest.
    pub days: u16,
    /// And weeks.
    pub weeks: u16,
    /// And months.
    pub months: u16,
}

impl Default for Backup {
    fn default() -> Self {
        Self {
            to: None,
            recipients: Vec::new(),
            // Own choice: a week to notice, two months to look back, two years of what was.
            days: 7,
            weeks: 8,
            months: 24,
        }
    }
}

/// A backup that is in the directory.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(super) struct Made {
    pub(super) name: String,
    made: Timestamp,
    /// How many frames and statements it holds.
    rows: u64,
}

impl Made {
    /// A new one.
    pub(super) fn new(made: Timestamp, rows: u64, sealed: bool) -> Self {
        let end = if sealed { END_SEALED } else { END };
        let name = format!("{BEGIN}{}-{rows}{end}", made.strftime(TIME));
        Self { name, made, rows }
    }

    /// One of that name; `None` for any other file, which is nobody's to delete.
    pub(super) fn named(name: &str) -> Option<Self> {
        let sealed = name.ends_with(END_SEALED);
        let middle = name
            .strip_prefix(BEGIN)?
            .strip_suffix(if sealed { END_SEALED } else { END })?;
        let (made, rows) = middle.split_once('-')?;
        let made = jiff::civil::DateTime::strptime(TIME, made).ok()?;
        let read = Self::new(Offset::UTC.to_timestamp(made).ok()?, rows.parse().ok()?, sealed);
        (read.name == name).then_some(read)
    }

    fn day(&self) -> Date {
        Offset::UTC.to_datetime(self.made).date()
    }
}

/// Which day, week or month a backup is of: its year, and its number in that.
type Span<'a> = &'a dyn Fn(&Made) -> (i32, i32);

/// Those that the rule does not keep. Kept are the newest of the last days, weeks and months that have any; the one
/// that was just made; and each that holds more than that one, since nothing is ever taken out of a journal: then it is
/// the journal that has lost something.
pub(super) fn superfluous<'a>(all: &'a [Made], just_made: &Made, rule: &Backup) -> Vec<&'a Made> {
    let mut newest_first: Vec<&Made> = all.iter().collect();
    newest_first.sort_by(|a, b| (b.made, &b.name).cmp(&(a.made, &a.name)));
    let week = |copy: &Made| {
        let week = copy.day().iso_week_date();
        (i32::from(week.year()), i32::from(week.week()))
    };
    let month = |copy: &Made| (i32::from(copy.day().year()), i32::from(copy.day().month()));
    let day = |copy: &Made| (i32::from(copy.day().year()), i32::from(copy.day().day_of_year()));
    let mut kept = BTreeSet::from([just_made.name.as_str()]);
    let rules: [(u16, Span<'_>); 3] = [(rule.days, &day), (rule.weeks, &week), (rule.months, &month)];
    for (most, span) in rules {
        let mut seen = BTreeSet::new();
        for copy in &newest_first {
            if seen.len() < usize::from(most) && seen.insert(span(copy)) {
                kept.insert(&copy.name);
            }
        }
    }
    newest_first.retain(|copy| !kept.contains(copy.name.as_str()) && copy.rows <= just_made.rows);
    newest_first
}
