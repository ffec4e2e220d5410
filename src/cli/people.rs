//! `quietcuff people`: who is measured, and what the clinic decided for them.

mod details;
mod list;
mod numbers;

pub(crate) use details::arm_of;

use super::days::{known, one};
use super::failure;
use super::failure::{Failure, Outcome};
use super::place::{Everywhere, Reader, protocols};
use crate::household::{Household, Person, PersonId, Statement};
use crate::journal::Journal;
use crate::monitoring::person;
use crate::monitoring::stated::Stated;
use clap::{Args, Subcommand};
use details::Details;
use jiff::Timestamp;
use std::process::ExitCode;

/// Adds, lists, edits and removes people.
#[derive(Args)]
pub(crate) struct PeopleArgs {
    #[command(subcommand)]
    command: PeopleCommand,
}

#[derive(Subcommand)]
enum PeopleCommand {
    /// Add a person
    Add {
        /// A short word for them, such as asha
        id: PersonId,
        /// The same person comes back who was removed under this id
        #[arg(long)]
        again: bool,
        #[command(flatten)]
        details: Box<Details>,
    },
    /// List the people
    List {
        /// Also those who were removed
        #[arg(long)]
        all: bool,
        #[command(flatten)]
        reader: Reader,
        /// Print one JSON object a line
        #[arg(long)]
        json: bool,
    },
    /// Change what is known of a person; what is not named stays
    Edit {
        /// Whose details change: the id that `quietcuff people list` prints
        id: PersonId,
        #[command(flatten)]
        details: Box<Details>,
        /// Forget this about them; may be given several times
        #[arg(long, value_name = "WHAT")]
        clear: Vec<Field>,
    },
    /// Remove a person from the lists; their readings stay theirs
    Remove {
        /// Who is removed: the id that `quietcuff people list` prints
        id: PersonId,
    },
}

/// What can be forgotten again.
#[derive(Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum Field {
    Born,
    RecordNumber,
    Group,
    ArmCm,
    Arm,
    Morning,
    Evening,
    Protocol,
    Threshold,
    Target,
    Conditions,
    GaveBirth,
    Strict,
}

fn clear(person: &mut Person, fields: &[Field]) {
    let without = Person::default();
    for field in fields {
        match field {
            Field::Born => {
                person.born = without.born;
                person.born_on = None;
            }
            Field::RecordNumber => person.record_number = None,
            Field::Group => person.group = None,
            Field::ArmCm => person.arm_cm = without.arm_cm,
            Field::Arm => person.arm = without.arm,
            Field::Morning => person.morning = without.morning,
            Field::Evening => person.evening = without.evening,
            Field::Protocol => person.protocol = None,
            Field::Threshold => person.threshold = without.threshold,
            Field::Target => person.target = None,
            Field::Conditions => person.conditions.clear(),
            Field::GaveBirth => person.gave_birth = None,
            Field::Strict => person.strict = without.strict,
        }
    }
}

pub(crate) fn run(here: &Everywhere, args: &PeopleArgs) -> Outcome {
    let now = Timestamp::now();
    match &args.command {
        PeopleCommand::Add { id, again, details } => add(here, id, details, *again, now)?,
        PeopleCommand::Edit {
            id,
            details,
            clear: fields,
        } => edit(here, id, details, fields, now)?,
        PeopleCommand::Remove { id } => {
            let mut journal = here.existing_journal()?;
            one(&journal.household()?, Some(id))?;
            let withdrawn = journal.remove_person(id, now)?;
            let keys = match withdrawn {
                0 => String::new(),
                1 => "; their key to the page opens nothing any more".to_owned(),
                keys => format!("; their {keys} keys to the page open nothing any more"),
            };
            eprintln!(
                "{id} is removed from the lists; their readings stay theirs, and no number of a monitor is theirs from \
                 now on{keys}."
            );
        }
        PeopleCommand::List { all, reader, json } => {
            let journal = here.read_journal()?;
            list::list(&*here.stated(&journal)?, here.words(reader)?, *all, *json)?;
        }
    }
    Ok(ExitCode::SUCCESS)
}

fn add(
    here: &Everywhere,
    id: &PersonId,
    details: &Details,
    again: bool,
    now: Timestamp,
) -> Result<(), Failure> {
    let mut journal = here.journal()?;
    details.choose_protocol(here, &mut journal)?;
    let (household, newest) = seen(&journal)?;
    let before = household.people.get(id);
    let wrong = |why: String| Err(Failure::new(failure::USAGE, why));
    match before {
        Some((_, false)) => {
            return wrong(format!(
                "{id} was added before; `quietcuff people edit {id}` changes what is known of them"
            ));
        }
        Some((_, true)) if !again => {
            return wrong(format!(
                "{id} was removed, and the readings of {id} are still theirs: choose another id for somebody else, or \
                 add `--again` where the same person comes back"
            ));
        }
        None if again => return wrong(format!("nobody called {id} was removed")),
        _ => {}
    }
    if again {
        // One that was made before keys ended with their person.
        journal.withdraw_keys_of(id, now)?;
    }
    let before = before.map(|(person, _)| person.clone()).unwrap_or_default();
    let person = details.over(id, before, jiff::tz::Offset::UTC.to_datetime(now).date());
    let statement = Statement::Person {
        person: id.clone(),
        details: person.clone(),
    };
    let wish = Wish {
        id,
        details,
        person: &person,
        statements: vec![statement],
    };
    let said = state(here, &mut journal, (&household, newest), wish, now)?;
    eprintln!(
        "{id} is added.{}",
        said.map(|said| format!(" {said}")).unwrap_or_default()
    );
    Ok(())
}

fn edit(
    here: &Everywhere,
    id: &PersonId,
    details: &Details,
    fields: &[Field],
    now: Timestamp,
) -> Result<(), Failure> {
    let mut journal = here.existing_journal()?;
    known(&journal.household()?, id)?;
    details.choose_protocol(here, &mut journal)?;
    let (household, newest) = seen(&journal)?;
    let before = household
        .people
        .get(id)
        .map(|(person, _)| person.clone())
        .unwrap_or_default();
    let mut cleared = before.clone();
    clear(&mut cleared, fields);
    let person = details.over(id, cleared, jiff::tz::Offset::UTC.to_datetime(now).date());
    let changes = before.changes_to(&person);
    let mut statements = Vec::new();
    if !changes.is_empty() {
        statements.push(Statement::PersonChanged {
            person: id.clone(),
            changes,
        });
    }
    let wish = Wish {
        id,
        details,
        person: &person,
        statements,
    };
    let said = state(here, &mut journal, (&household, newest), wish, now)?;
    let now_is = format!("{id} is now: {}.", list::in_words(&person));
    let stays = stays_by_another(&*here.stated(&journal)?, id, now);
    let said: Vec<String> = [Some(now_is), said, stays].into_iter().flatten().collect();
    eprintln!("{}", said.join(" "));
    Ok(())
}

/// What is said where a period that runs keeps the protocol that it was begun with.
fn stays_by_another(stated: &Stated, id: &PersonId, now: Timestamp) -> Option<String> {
    let today = stated.zones.civil(now).date();
    let plan = stated.plans(id).iter().find(|plan| plan.covers(today))?;
    let wanted = &stated.protocol_of(id)?.name;
    (plan.protocol != *wanted).then(|| {
        format!(
            "The period that began on {} stays by {}; the next one is by {wanted}.",
            plan.from, plan.protocol
        )
    })
}

/// What holds, with the row of the newest statement in it.
fn seen(journal: &Journal) -> Result<(Household, i64), Failure> {
    // Before they are read: one that comes meanwhile counts as unseen.
    let newest = journal.newest_statement()?;
    Ok((journal.household()?, newest))
}

/// What somebody wants to be so of a person.
struct Wish<'a> {
    id: &'a PersonId,
    details: &'a Details,
    /// The person after it.
    person: &'a Person,
    statements: Vec<Statement>,
}

/// States it, unless somebody stated something else about the person meanwhile: then both versions are shown.
fn state(
    here: &Everywhere,
    journal: &mut Journal,
    (household, mut newest): (&Household, i64),
    wish: Wish<'_>,
    now: Timestamp,
) -> Result<Option<String>, Failure> {
    let Wish {
        id,
        details,
        person,
        mut statements,
    } = wish;
    person::check(Some(id), person, household, &protocols(household)?, now)
        .map_err(|e| Failure::new(failure::USAGE, e.to_string()))?;
    numbers::monitors_known(journal, household, details.monitors())?;
    let mut said = None;
    if details.has_numbers() {
        let mappings = details.mappings(id, household, &here.zones(journal)?, now)?;
        said = numbers::confirmed(journal, &mappings, details.moves)?;
        statements.extend(mappings);
    }
    if statements.is_empty() {
        return Ok(said);
    }
    let numbers = |household: &Household| (household.user_indexes.clone(), household.usual.clone());
    while !journal.state_if_newest(newest, now, &statements)? {
        let (meanwhile, last) = seen(journal)?;
        if meanwhile.people.get(id) != household.people.get(id) || numbers(&meanwhile) != numbers(household) {
            let theirs = meanwhile.people.get(id).map(|(person, _)| person.clone());
            return Err(Failure::new(
                failure::USAGE,
                format!(
                    "somebody else changed what is known of {id} meanwhile, so nothing was changed. It is now: {}. You \
                     wanted: {}. Run the command again if that should hold",
                    list::in_words(&theirs.unwrap_or_default()),
                    list::in_words(person),
                ),
            ));
        }
        newest = last;
    }
    Ok(said)
}
