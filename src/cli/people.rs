//! `quietcuff people`: who is measured, and what the clinic decided for them.

use super::days::{known, one};
use super::failure;
use super::failure::{Failure, Outcome};
use super::output::json_line;
use super::place::{Everywhere, protocols};
use crate::household::{
    Arm, Condition, Household, MonitorId, Person, PersonId, Statement, Threshold, Window,
};
use crate::journal::Journal;
use crate::monitoring::person::{self, threshold_of, window_of};
use crate::monitoring::protocol::did_you_mean;
use clap::{Args, Subcommand};
use jiff::Timestamp;
use jiff::civil::Time;
use serde::Serialize;
use std::io::Write;
use std::process::ExitCode;

const CONDITIONS: [(&str, Condition); 3] = [
    ("pregnancy", Condition::Pregnancy),
    ("atrial-fibrillation", Condition::AtrialFibrillation),
    ("dialysis", Condition::Dialysis),
];

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
        #[command(flatten)]
        details: Details,
    },
    /// List the people
    List {
        /// Also those who were removed
        #[arg(long)]
        all: bool,
        /// Print one JSON object a line
        #[arg(long)]
        json: bool,
    },
    /// Change what is known of a person; what is not named stays
    Edit {
        /// Whose details change: the id that `quietcuff people list` prints
        id: PersonId,
        #[command(flatten)]
        details: Details,
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
    ArmCm,
    Arm,
    Morning,
    Evening,
    Protocol,
    Threshold,
    Target,
    Conditions,
    Strict,
}

#[derive(Args)]
struct Details {
    /// What the household calls them [default: the id]
    #[arg(long, value_name = "TEXT")]
    label: Option<String>,
    /// Year of birth
    #[arg(long, value_name = "YEAR")]
    born: Option<i16>,
    /// Circumference of the upper arm, in centimetres
    #[arg(long, value_name = "CM")]
    arm_cm: Option<f32>,
    /// The arm that the clinic chose: left or right
    #[arg(long, value_name = "ARM", value_parser = arm_of)]
    arm: Option<Arm>,
    /// When they measure in the morning, first to last minute [default: 05:00-11:59]
    #[arg(long, value_name = "FROM-TO", value_parser = window_of)]
    morning: Option<Window>,
    /// When they measure in the evening [default: 17:00-23:59]
    #[arg(long, value_name = "FROM-TO", value_parser = window_of)]
    evening: Option<Window>,
    /// The protocol that their clinic wants [default: seven-day]
    #[arg(long, value_name = "NAME")]
    protocol: Option<String>,
    /// The clinic's own threshold for a home average in mmHg, such as 130/80
    #[arg(long, value_name = "SYS/DIA", value_parser = threshold_of)]
    threshold: Option<Threshold>,
    /// The target that the clinic chose, below which the home average is to be, such as 125/75
    #[arg(long, value_name = "SYS/DIA", value_parser = threshold_of)]
    target: Option<Threshold>,
    /// A condition that switches threshold labels off: pregnancy, atrial-fibrillation or dialysis; may be given several
    /// times
    #[arg(long, value_name = "NAME", value_parser = condition_of)]
    condition: Vec<Condition>,
    /// Set readings with a reported fault aside instead of marking them
    #[arg(long)]
    strict: bool,
    /// One of a monitor's user numbers is this person, such as m1=1; may be given several times
    #[arg(long, value_name = "MONITOR=NUMBER", value_parser = user_of)]
    user: Vec<(MonitorId, u8)>,
    /// What a monitor sends without a user number is this person's; may be given several times
    #[arg(long, value_name = "MONITOR")]
    usual: Vec<MonitorId>,
}

pub(crate) fn arm_of(text: &str) -> Result<Arm, String> {
    match text {
        "left" => Ok(Arm::Left),
        "right" => Ok(Arm::Right),
        _ => Err("an arm is left or right".to_owned()),
    }
}

fn condition_of(text: &str) -> Result<Condition, String> {
    let names = CONDITIONS.map(|(name, _)| name);
    CONDITIONS
        .into_iter()
        .find(|(name, _)| *name == text)
        .map(|(_, condition)| condition)
        .ok_or_else(|| {
            format!(
                "no such condition{}; the conditions are {}",
                did_you_mean(text, &names),
                names.join(", ")
            )
        })
}

fn user_of(text: &str) -> Result<(MonitorId, u8), String> {
    let (monitor, number) = text.split_once('=').ok_or("write MONITOR=NUMBER, such as m1=1")?;
    // 255 is "unknown" to the profile; a monitor that always sends it has it mapped like any other.
    let number = number.parse().map_err(|_| "a user number is 0 to 255")?;
    let monitor = monitor
        .parse()
        .map_err(|e: crate::household::NotAnId| e.to_string())?;
    Ok((monitor, number))
}

impl Details {
    fn choose_protocol(&self, here: &Everywhere, journal: &mut Journal) -> Result<(), Failure> {
        match &self.protocol {
            Some(name) => here.choose_protocol(journal, name),
            None => Ok(()),
        }
    }

    /// What is known of the person after this.
    fn over(&self, id: &PersonId, before: Person) -> Person {
        Person {
            label: match &self.label {
                Some(label) => label.trim().to_owned(),
                None if before.label.is_empty() => id.to_string(),
                None => before.label,
            },
            born: self.born.or(before.born),
            arm_cm: self.arm_cm.or(before.arm_cm),
            arm: self.arm.or(before.arm),
            morning: self.morning.or(before.morning),
            evening: self.evening.or(before.evening),
            protocol: self.protocol.clone().or(before.protocol),
            threshold: self.threshold.or(before.threshold),
            target: self.target.or(before.target),
            conditions: CONDITIONS
                .into_iter()
                .map(|(_, condition)| condition)
                .filter(|c| self.condition.contains(c) || before.conditions.contains(c))
                .collect(),
            strict: self.strict || before.strict,
        }
    }

    /// Whose the monitors' readings are.
    fn mappings(&self, id: &PersonId) -> Vec<Statement> {
        let users = self.user.iter().map(|(monitor, user_id)| Statement::UserIndex {
            monitor: monitor.clone(),
            user_id: *user_id,
            person: Some(id.clone()),
        });
        let usual = self.usual.iter().map(|monitor| Statement::UsualPerson {
            monitor: monitor.clone(),
            person: Some(id.clone()),
        });
        users.chain(usual).collect()
    }

    fn monitors(&self) -> impl Iterator<Item = &MonitorId> {
        self.user.iter().map(|(monitor, _)| monitor).chain(&self.usual)
    }
}

fn clear(person: &mut Person, fields: &[Field]) {
    let without = Person::default();
    for field in fields {
        match field {
            Field::Born => person.born = without.born,
            Field::ArmCm => person.arm_cm = without.arm_cm,
            Field::Arm => person.arm = without.arm,
            Field::Morning => person.morning = without.morning,
            Field::Evening => person.evening = without.evening,
            Field::Protocol => person.protocol = None,
            Field::Threshold => person.threshold = without.threshold,
            Field::Target => person.target = without.target,
            Field::Conditions => person.conditions.clear(),
            Field::Strict => person.strict = without.strict,
        }
    }
}

/// An error that names the monitors there are.
fn monitors_known<'a>(
    journal: &mut Journal,
    household: &Household,
    wanted: impl Iterator<Item = &'a MonitorId>,
) -> Result<(), Failure> {
    let heard = journal.monitors_heard()?;
    for monitor in wanted {
        if household.monitors.contains_key(monitor) || heard.contains(monitor) {
            continue;
        }
        let mut there: Vec<&str> = household
            .monitors
            .keys()
            .chain(&heard)
            .map(MonitorId::as_str)
            .collect();
        there.sort_unstable();
        there.dedup();
        let there = if there.is_empty() {
            "none was heard yet".to_owned()
        } else {
            format!("there are: {}", there.join(", "))
        };
        return Err(Failure::new(
            failure::USAGE,
            format!("there is no monitor {monitor}; {there}"),
        ));
    }
    Ok(())
}

pub(crate) fn run(here: &Everywhere, args: &PeopleArgs) -> Outcome {
    let now = Timestamp::now();
    match &args.command {
        PeopleCommand::Add { id, details } => {
            let mut journal = here.journal()?;
            details.choose_protocol(here, &mut journal)?;
            let household = journal.household()?;
            if household.people.get(id).is_some_and(|(_, removed)| !removed) {
                return Err(Failure::new(
                    failure::USAGE,
                    format!(
                        "{id} was added before; `quietcuff people edit {id}` changes what is known of them"
                    ),
                ));
            }
            let person = details.over(id, Person::default());
            state(&mut journal, &household, id, details, person, now)?;
            eprintln!("{id} is added.");
        }
        PeopleCommand::Edit {
            id,
            details,
            clear: fields,
        } => {
            let mut journal = here.existing_journal()?;
            known(&journal.household()?, id)?;
            details.choose_protocol(here, &mut journal)?;
            let household = journal.household()?;
            let mut before = household
                .people
                .get(id)
                .map(|(person, _)| person.clone())
                .unwrap_or_default();
            clear(&mut before, fields);
            let person = details.over(id, before);
            state(&mut journal, &household, id, details, person, now)?;
        }
        PeopleCommand::Remove { id } => {
            let mut journal = here.existing_journal()?;
            let household = journal.household()?;
            one(&household, Some(id))?;
            journal.state(now, &[Statement::PersonRemoved { person: id.clone() }])?;
            eprintln!("{id} is removed from the lists; their readings stay theirs.");
        }
        PeopleCommand::List { all, json } => {
            let journal = here.read_journal()?;
            list(&journal.household()?, *all, *json)?;
        }
    }
    Ok(ExitCode::SUCCESS)
}

fn state(
    journal: &mut Journal,
    household: &Household,
    id: &PersonId,
    details: &Details,
    person: Person,
    now: Timestamp,
) -> Result<(), Failure> {
    person::check(Some(id), &person, household, &protocols(household)?, now)
        .map_err(|e| Failure::new(failure::USAGE, e.to_string()))?;
    monitors_known(journal, household, details.monitors())?;
    let mut statements = vec![Statement::Person {
        person: id.clone(),
        details: person,
    }];
    statements.extend(details.mappings(id));
    Ok(journal.state(now, &statements)?)
}

#[derive(Serialize)]
struct Line<'a> {
    id: &'a PersonId,
    label: &'a str,
    born: Option<i16>,
    arm_cm: Option<f32>,
    arm: Option<Arm>,
    morning: Option<String>,
    evening: Option<String>,
    protocol: Option<&'a str>,
    threshold: Option<Threshold>,
    target: Option<Threshold>,
    conditions: &'a [Condition],
    strict: bool,
    removed: bool,
    users: Vec<User<'a>>,
    usual: Vec<&'a MonitorId>,
}

#[derive(Serialize)]
struct User<'a> {
    monitor: &'a MonitorId,
    user_id: u8,
}

fn list(household: &Household, all: bool, json: bool) -> Result<(), Failure> {
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    let window = |window: Window| {
        let minute = |time: Time| time.strftime("%H:%M").to_string();
        format!("{}-{}", minute(window.from), minute(window.to))
    };
    for (id, (person, removed)) in &household.people {
        if *removed && !all {
            continue;
        }
        let line = Line {
            id,
            label: &person.label,
            born: person.born,
            arm_cm: person.arm_cm,
            arm: person.arm,
            morning: person.morning.map(window),
            evening: person.evening.map(window),
            protocol: person.protocol.as_deref(),
            threshold: person.threshold,
            target: person.target,
            conditions: &person.conditions,
            strict: person.strict,
            removed: *removed,
            users: household
                .user_indexes
                .iter()
                .filter(|(_, whose)| *whose == id)
                .map(|((monitor, user_id), _)| User {
                    monitor,
                    user_id: *user_id,
                })
                .collect(),
            usual: household
                .usual
                .iter()
                .filter(|(_, whose)| *whose == id)
                .map(|(monitor, _)| monitor)
                .collect(),
        };
        if json {
            json_line(&mut out, &line)?;
        } else {
            print(&mut out, &line)?;
        }
    }
    Ok(out.flush()?)
}

fn print(out: &mut impl Write, line: &Line<'_>) -> std::io::Result<()> {
    let mut facts: Vec<String> = Vec::new();
    facts.extend(line.removed.then(|| "removed".to_owned()));
    facts.extend(line.born.map(|born| format!("born {born}")));
    facts.extend(line.arm_cm.map(|cm| format!("arm {cm} cm")));
    facts.extend(line.arm.map(|arm| {
        match arm {
            Arm::Left => "left arm",
            Arm::Right => "right arm",
        }
        .to_owned()
    }));
    facts.extend(line.morning.as_ref().map(|window| format!("morning {window}")));
    facts.extend(line.evening.as_ref().map(|window| format!("evening {window}")));
    facts.extend(line.protocol.map(|protocol| format!("protocol {protocol}")));
    facts.extend(
        line.threshold
            .map(|t| format!("threshold {}/{} set by the clinic", t.systolic, t.diastolic)),
    );
    facts.extend(
        line.target
            .map(|t| format!("target below {}/{} set by the clinic", t.systolic, t.diastolic)),
    );
    let named = CONDITIONS
        .iter()
        .filter(|(_, condition)| line.conditions.contains(condition));
    facts.extend(named.map(|(name, _)| (*name).to_owned()));
    facts.extend(line.strict.then(|| "strict".to_owned()));
    let users = line
        .users
        .iter()
        .map(|user| format!("user {} of {}", user.user_id, user.monitor));
    facts.extend(users);
    facts.extend(
        line.usual
            .iter()
            .map(|monitor| format!("usual person of {monitor}")),
    );
    writeln!(
        out,
        "{:<12}  {}  {}",
        line.id.as_str(),
        line.label,
        facts.join(", ")
    )
}
