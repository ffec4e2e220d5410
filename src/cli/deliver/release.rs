//! `quietcuff deliver release`: what of whose measurements may go to the clinic, stated, withdrawn and listed.

use crate::cli::days::day;
use crate::cli::failure::{self, Failure};
use crate::cli::output::json_line;
use crate::cli::place::{Everywhere, Reader};
use crate::cli::rows::{padded, widest};
use crate::cli::summary::paragraph_behind;
use crate::delivery::releases::{HeldCounts, Leave, Releases, said};
use crate::delivery::stuck::held_readings;
use crate::delivery::{Clinic, name_in_ledger, released_to};
use crate::export::report::words::n;
use crate::household::{BY_CHARS_MAX, Household, PersonId, Release, Statement};
use crate::journal::{Journal, JournalError};
use crate::monitoring::stated::Stated;
use crate::words::Words;
use clap::Args;
use jiff::Timestamp;
use jiff::civil::Date;
use serde::Serialize;
use std::collections::BTreeSet;
use std::io::Write;

/// Whose, of which days, and who says so.
#[derive(Args)]
#[command(
    after_help = "Days are days of measurement, by the household's clock. A release takes the place of the one before. Once \
                  it is withdrawn, nothing new or corrected of that person goes; what is at the clinic stays there, and \
                  what was wrong is still withdrawn there. A clinic that is told of releases (`clinic.release-records`) \
                  is told that it has ended."
)]
pub(super) struct ReleaseArgs {
    /// Whose measurements may go
    #[arg(required_unless_present = "list", conflicts_with = "list")]
    person: Option<PersonId>,
    /// The first day [default: from the beginning]
    #[arg(long, value_name = "DATE", value_parser = day, requires = "person")]
    from: Option<Date>,
    /// The last day, which is included [default: without an end]
    #[arg(long, value_name = "DATE", value_parser = day, requires = "person")]
    until: Option<Date>,
    /// Who says so [default: the user of this machine]
    #[arg(long, value_name = "NAME", requires = "person")]
    by: Option<String>,
    /// Take back what was released of this person
    #[arg(long, requires = "person", conflicts_with_all = ["from", "until"])]
    withdraw: bool,
    /// Show what was released, by whom, and what was withdrawn
    #[arg(long)]
    list: bool,
    #[command(flatten)]
    reader: Reader,
    /// Print one JSON object a line
    #[arg(long, requires = "list")]
    json: bool,
}

pub(super) fn run(here: &Everywhere, args: &ReleaseArgs) -> Result<(), Failure> {
    let clinic = here.config()?.clinic;
    let Some(name) = name_in_ledger(&clinic) else {
        return Err(Failure::new(
            failure::CONFIG,
            "no clinic is chosen, so there is nobody to release anything to: write its server's address into \
             `clinic.server`",
        ));
    };
    let Some(person) = &args.person else {
        let journal = here.read_journal()?;
        let stated = here.stated(&journal)?;
        let releases = Releases::of(&stated.household, &name, clinic.consent, &clinic.people);
        return list(&stated, (&name, &releases), here.words(&args.reader)?, args.json);
    };
    let mut journal = here.existing_journal()?;
    let stated = here.stated(&journal)?;
    let statement = statement(&stated.household, name.clone(), person, args)?;
    journal.state(Timestamp::now(), &[statement])?;
    let stated = here.stated(&journal)?;
    let releases = Releases::of(&stated.household, &name, clinic.consent, &clinic.people);
    list(&stated, (&name, &releases), here.words(&args.reader)?, false)?;
    if !clinic.people.contains(person) {
        eprintln!("quietcuff: clinic.people does not name {person}, so nothing of theirs goes");
    }
    Ok(())
}

/// What the person at the terminal says.
fn statement(
    household: &Household,
    clinic: String,
    person: &PersonId,
    args: &ReleaseArgs,
) -> Result<Statement, Failure> {
    let wrong = |what: String| Err(Failure::new(failure::USAGE, what));
    if !household.people.contains_key(person) {
        return wrong(format!(
            "nobody is called {person}; `quietcuff people list` lists who is"
        ));
    }
    let (by, at, person) = (named(args.by.as_deref()), Timestamp::now(), person.clone());
    if args.withdraw {
        // Who goes there without that anybody has stated a release can be stopped by the same word.
        let release = household.release(&person, &clinic);
        if release.is_some_and(|release| release.withdrawn.is_some()) {
            return wrong(format!(
                "what was released of {person} to {clinic} is withdrawn already"
            ));
        }
        return Ok(Statement::ReleaseWithdrawn {
            person,
            clinic,
            by,
            at,
        });
    }
    if let (Some(from), Some(until)) = (args.from, args.until)
        && until < from
    {
        return wrong(format!(
            "the last day, {until}, comes before the first, {from}; `--until` is a day that is included"
        ));
    }
    Ok(Statement::Released {
        person,
        clinic,
        from: args.from,
        until: args.until,
        by,
        at,
    })
}

/// The name that was given, else that of the machine's user.
fn named(given: Option<&str>) -> Option<String> {
    let by = given.map(str::to_owned).or_else(|| std::env::var("USER").ok())?;
    let by: String = by
        .chars()
        .filter(|c| !c.is_control())
        .take(BY_CHARS_MAX)
        .collect();
    Some(by.trim().to_owned()).filter(|by| !by.is_empty())
}

/// How it stands now with what of the chosen people's may go to the clinic that the configuration names.
pub(in crate::cli) struct Standing<'a> {
    /// The clinic, as the ledger calls it.
    pub(in crate::cli) clinic: String,
    stated: &'a Stated,
    releases: Releases,
    held: HeldCounts,
}

/// The same of one person, for programs.
#[derive(Serialize)]
pub(in crate::cli) struct StandingLine<'a> {
    #[serde(flatten)]
    now: ReleaseLine<'a>,
    /// Readings that would go and wait, because no release covers them.
    waiting_readings: usize,
}

impl<'a> Standing<'a> {
    /// `None` where the configuration names no clinic.
    pub(in crate::cli) fn of(
        journal: &Journal,
        clinic: &Clinic,
        stated: &'a Stated,
    ) -> Result<Option<Self>, JournalError> {
        let Some((clinic, releases)) = released_to(clinic, &stated.household) else {
            return Ok(None);
        };
        let held = held_readings(journal, &clinic, &releases, &stated.zones)?;
        Ok(Some(Self {
            clinic,
            stated,
            releases,
            held,
        }))
    }

    fn waiting(&self, person: &PersonId) -> usize {
        self.held.get(person).copied().unwrap_or_default()
    }

    /// Of each chosen person.
    pub(in crate::cli) fn lines(&self) -> Vec<StandingLine<'_>> {
        let line = |(person, leave)| StandingLine {
            now: self.stated.household.release(person, &self.clinic).map_or_else(
                || ReleaseLine {
                    standing: Leave::name(leave),
                    ..ReleaseLine::nothing(person, &self.clinic)
                },
                |release| ReleaseLine::of(person, release, true),
            ),
            waiting_readings: self.waiting(person),
        };
        self.releases.iter().map(line).collect()
    }

    /// In words: of each chosen person what was released and by whom, and with `waiting` how much waits.
    pub(in crate::cli) fn said(&self, waiting: bool, words: &Words) -> Vec<String> {
        let zones = &self.stated.zones;
        let mut lines = Vec::new();
        for (person, leave) in self.releases.iter() {
            let said = match self.stated.household.release(person, &self.clinic) {
                Some(release) => said(release, zones, words),
                None => vec![leave.why_held(zones, words)],
            };
            lines.push(format!("{}: {}", self.stated.label(person), said.join("; ")));
            let count = self.waiting(person);
            if waiting && count > 0 {
                lines.push(words.with("release-waits", &[("n", n(count))]));
            }
        }
        lines
    }
}

/// One thing that was said of a person and a clinic.
#[derive(Serialize)]
struct ReleaseLine<'a> {
    person: &'a PersonId,
    clinic: &'a str,
    /// Whether this is what holds for the clinic that the configuration names; else it is what was said before.
    holds: bool,
    /// `unstated`, `missing`, `released` or `withdrawn`.
    standing: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    from: Option<Date>,
    #[serde(skip_serializing_if = "Option::is_none")]
    until: Option<Date>,
    #[serde(skip_serializing_if = "Option::is_none")]
    by: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    at: Option<Timestamp>,
    #[serde(skip_serializing_if = "Option::is_none")]
    withdrawn_by: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    withdrawn_at: Option<Timestamp>,
}

impl<'a> ReleaseLine<'a> {
    fn of(person: &'a PersonId, release: &'a Release, holds: bool) -> Self {
        let (given, taken) = (release.given.as_ref(), release.withdrawn.as_ref());
        Self {
            person,
            clinic: &release.clinic,
            holds,
            standing: if taken.is_some() { "withdrawn" } else { "released" },
            from: given.and_then(|given| given.from),
            until: given.and_then(|given| given.until),
            by: given.and_then(|given| given.by.as_deref()),
            at: given.map(|given| given.at),
            withdrawn_by: taken.and_then(|taken| taken.by.as_deref()),
            withdrawn_at: taken.map(|taken| taken.at),
        }
    }

    /// Where nobody has said anything.
    fn nothing(person: &'a PersonId, clinic: &'a str) -> Self {
        Self {
            person,
            clinic,
            holds: true,
            standing: "",
            from: None,
            until: None,
            by: None,
            at: None,
            withdrawn_by: None,
            withdrawn_at: None,
        }
    }
}

/// Everybody who is chosen, and everybody of whom something was said, newest first.
fn list(
    stated: &Stated,
    (clinic, releases): (&str, &Releases),
    words: &Words,
    json: bool,
) -> Result<(), Failure> {
    let chosen = releases.iter().map(|(person, _)| person);
    let people: BTreeSet<&PersonId> = chosen.chain(stated.household.releases.keys()).collect();
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    let mut facts = Vec::new();
    for person in people {
        let all = stated
            .household
            .releases
            .get(person)
            .map_or(&[][..], Vec::as_slice);
        let now = stated.household.release(person, clinic);
        let mut name = stated.label(person).to_owned();
        if let (None, Some(leave)) = (now, releases.leave(person)) {
            if json {
                json_line(
                    &mut out,
                    &ReleaseLine {
                        standing: leave.name(),
                        ..ReleaseLine::nothing(person, clinic)
                    },
                )?;
            }
            facts.push((std::mem::take(&mut name), leave.why_held(&stated.zones, words)));
        }
        for release in all.iter().rev() {
            if json {
                let holds = now.is_some_and(|now| std::ptr::eq(now, release));
                json_line(&mut out, &ReleaseLine::of(person, release, holds))?;
            }
            let there = (release.clinic != clinic).then(|| format!("{}: ", release.clinic));
            for (nth, said) in said(release, &stated.zones, words).into_iter().enumerate() {
                let there = there.as_deref().filter(|_| nth == 0).unwrap_or_default();
                facts.push((std::mem::take(&mut name), format!("{there}{said}")));
            }
        }
    }
    if !json {
        facts.insert(0, (words.say("deliver-clinic"), clinic.to_owned()));
        let wide = widest(facts.iter().map(|(name, _)| name));
        for (name, said) in &facts {
            let first = format!("{}  ", padded(name, wide));
            paragraph_behind(&mut out, &first, &" ".repeat(wide + 2), said)?;
        }
    }
    Ok(out.flush()?)
}
