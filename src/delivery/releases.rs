//! What of the chosen people's readings may go to the clinic, as the household released it.
//!
//! - Days are days of measurement, by the household's clock. An average or a sheet goes where all days of its period
//!   were released.
//! - What is not released is not sent, whether it is new or says something else now. What went and is wrong is withdrawn
//!   all the same: that tells the clinic nothing new of anybody.
//! - Nobody has to have stated a release, unless the configuration says so: the choice of the clinic and of the people is
//!   the machine's owner's word, and a household that delivers goes on doing so.

use crate::household::{Household, PersonId, Release, ReleasedDays, TakenBack, Zones};
use crate::words::Words;
use jiff::Timestamp;
use jiff::civil::{Date, Time};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::ops::Range;

/// What has to be there before a person's readings go.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ReleaseRule {
    /// That the configuration names them; a release that was stated holds all the same.
    #[default]
    Chosen,
    /// A release that somebody stated.
    Required,
}

/// How it stands with one person's readings.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Leave {
    /// Nobody has stated a release, and none has to be: all of them may go.
    Unstated,
    /// Nobody has stated a release, and one has to be: none may go.
    Missing,
    /// Those of these days may go, both included.
    Days {
        /// The first of them; `None` means from the beginning.
        from: Option<Date>,
        /// The last of them; `None` means that none is the last.
        until: Option<Date>,
    },
    /// None may go any more.
    Withdrawn(TakenBack),
}

/// How it stands with the readings of each chosen person.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Releases(BTreeMap<PersonId, Leave>);

/// How much of whom is held back.
pub type HeldCounts = BTreeMap<PersonId, usize>;

impl Releases {
    /// Of what was stated about this clinic, as the ledger calls it.
    pub fn of<'p>(
        household: &Household,
        clinic: &str,
        consent: ReleaseRule,
        people: impl IntoIterator<Item = &'p PersonId>,
    ) -> Self {
        let leave = |person: &PersonId| match (household.release(person, clinic), consent) {
            (None, ReleaseRule::Chosen) => Leave::Unstated,
            (None, ReleaseRule::Required) => Leave::Missing,
            (Some(release), _) => match (&release.withdrawn, &release.given) {
                (Some(taken), _) => Leave::Withdrawn(taken.clone()),
                (None, given) => Leave::Days {
                    from: given.as_ref().and_then(|given| given.from),
                    until: given.as_ref().and_then(|given| given.until),
                },
            },
        };
        Self(
            people
                .into_iter()
                .map(|person| (person.clone(), leave(person)))
                .collect(),
        )
    }

    /// How it stands with a person's; nobody who is not chosen has any.
    pub fn leave(&self, person: &PersonId) -> Option<&Leave> {
        self.0.get(person)
    }

    /// Everybody who is chosen, and how it stands with theirs.
    pub fn iter(&self) -> impl Iterator<Item = (&PersonId, &Leave)> {
        self.0.iter()
    }

    /// Whether what was measured on these days is not to be sent as this person's.
    pub fn hold_back(&self, person: &PersonId, first: Date, last: Date) -> bool {
        !self.leave(person).is_some_and(|leave| leave.covers(first, last))
    }

    /// Whether anybody's may go.
    pub fn any(&self) -> bool {
        self.0.values().any(Leave::is_open)
    }
}

impl Leave {
    /// Whether any may go at all.
    pub const fn is_open(&self) -> bool {
        matches!(self, Self::Unstated | Self::Days { .. })
    }

    /// From when until when what was measured may go; `None` where nothing may.
    pub fn moments(&self, zones: &Zones) -> Option<Range<Timestamp>> {
        let begin = |day: Date| zones.instant(day.to_datetime(Time::midnight()));
        match self {
            Self::Missing | Self::Withdrawn(_) => None,
            Self::Unstated => Some(Timestamp::MIN..Timestamp::MAX),
            Self::Days { from, until } => {
                let from = from.and_then(begin).unwrap_or(Timestamp::MIN);
                let until = until.and_then(|day| begin(day.tomorrow().ok()?));
                Some(from..until.unwrap_or(Timestamp::MAX))
            }
        }
    }

    fn covers(&self, first: Date, last: Date) -> bool {
        match self {
            Self::Unstated => true,
            Self::Missing | Self::Withdrawn(_) => false,
            Self::Days { from, until } => {
                from.is_none_or(|from| from <= first) && until.is_none_or(|until| last <= until)
            }
        }
    }
}

/// The days of a release, in words.
pub fn days_said(from: Option<Date>, until: Option<Date>, words: &Words) -> String {
    let day = |day: Date| words.date_with_year(day).into();
    match (from, until) {
        (None, None) => words.say("release-all"),
        (Some(from), None) => words.with("release-from", &[("from", day(from))]),
        (None, Some(until)) => words.with("release-until", &[("until", day(until))]),
        (Some(from), Some(until)) => {
            words.with("release-days", &[("from", day(from)), ("until", day(until))])
        }
    }
}

/// What a release says and what became of it, who said so, and when.
pub fn said(release: &Release, zones: &Zones, words: &Words) -> Vec<String> {
    let given = release.given.as_ref().map(|given| given.said(zones, words));
    let taken = release.withdrawn.as_ref().map(|taken| taken.said(zones, words));
    given.into_iter().chain(taken).collect()
}

impl ReleasedDays {
    fn said(&self, zones: &Zones, words: &Words) -> String {
        let what = ("what", days_said(self.from, self.until, words).into());
        let moment = ("moment", words.exact_moment(zones.civil(self.at)).into());
        match &self.by {
            Some(who) => words.with("release-said", &[what, ("who", who.as_str().into()), moment]),
            None => words.with("release-said-unnamed", &[what, moment]),
        }
    }
}

impl TakenBack {
    fn said(&self, zones: &Zones, words: &Words) -> String {
        let moment = ("moment", words.exact_moment(zones.civil(self.at)).into());
        match &self.by {
            Some(who) => words.with("release-withdrawn", &[("who", who.as_str().into()), moment]),
            None => words.with("release-withdrawn-unnamed", &[moment]),
        }
    }
}

impl Leave {
    /// Why what does not go is held back, in words.
    pub fn why_held(&self, zones: &Zones, words: &Words) -> String {
        match self {
            Self::Unstated => words.say("release-unstated"),
            Self::Missing => words.say("release-missing"),
            Self::Days { from, until } => {
                let what = days_said(*from, *until, words);
                words.with("release-outside", &[("what", what.into())])
            }
            Self::Withdrawn(taken) => taken.said(zones, words),
        }
    }

    /// The name that programs read.
    pub const fn name(&self) -> &'static str {
        match self {
            Self::Unstated => "unstated",
            Self::Missing => "missing",
            Self::Days { .. } => "released",
            Self::Withdrawn(_) => "withdrawn",
        }
    }
}
