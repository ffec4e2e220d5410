//! What a command says about a person.

use crate::cli::days::{day, midnight, moment, past, shown};
use crate::cli::failure;
use crate::cli::failure::Failure;
use crate::cli::place::Everywhere;
use crate::household::{
    Arm, Condition, Household, Mapping, MonitorId, Person, PersonId, PersonTarget, Statement, Threshold,
    Window, Zones,
};
use crate::journal::Journal;
use crate::monitoring::person::{self, NotAPerson, threshold_of, window_of};
use crate::monitoring::protocol::did_you_mean;
use clap::Args;
use jiff::Timestamp;
use jiff::civil::Date;

pub(super) const CONDITIONS: [(&str, Condition); 3] = [
    ("pregnancy", Condition::Pregnancy),
    ("atrial-fibrillation", Condition::AtrialFibrillation),
    ("dialysis", Condition::Dialysis),
];

#[derive(Args)]
pub(super) struct Details {
    /// What the household calls them [default: the id]
    #[arg(long, value_name = "TEXT")]
    label: Option<String>,
    /// Year or day of birth, such as 1951 or 1951-03-24
    #[arg(long, value_name = "YEAR|DATE", value_parser = born_of)]
    born: Option<Born>,
    /// The number of their record at the clinic; it stands on the sheet and in what is exported
    #[arg(long, value_name = "TEXT")]
    record_number: Option<String>,
    /// The group that they belong to, as one word, such as a ward or a floor; `keys add --group` makes a key for it
    #[arg(long, value_name = "WORD", value_parser = group_of)]
    group: Option<String>,
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
    /// Who chose that target
    #[arg(long, value_name = "WHO", requires = "target")]
    target_by: Option<String>,
    /// Where that target is written, such as a letter of the clinic
    #[arg(long, value_name = "TEXT", requires = "target")]
    target_source: Option<String>,
    /// A condition that switches threshold labels off: pregnancy (with the weeks after birth), atrial-fibrillation or
    /// dialysis; may be given several times
    #[arg(long, value_name = "NAME", value_parser = condition_of)]
    condition: Vec<Condition>,
    /// The day on which they gave birth: the levels of pregnancy hold for eight weeks from then
    #[arg(long, value_name = "DATE", value_parser = day)]
    gave_birth: Option<Date>,
    /// Set readings with a reported fault aside instead of marking them
    #[arg(long)]
    strict: bool,
    /// One of a monitor's user numbers is this person, such as m1=1; may be given several times
    #[arg(long, value_name = "MONITOR=NUMBER", value_parser = user_of)]
    user: Vec<(MonitorId, u8)>,
    /// What a monitor sends without a user number is this person's; may be given several times
    #[arg(long, value_name = "MONITOR")]
    usual: Vec<MonitorId>,
    /// From when on a number is theirs: now, beginning, a day, or a moment [default: the beginning where nobody has
    /// had it, else now]
    #[arg(long, value_name = "WHEN")]
    from: Option<String>,
    /// Until when it is theirs: now, a day, which is included, or a moment, which may lie ahead; then it is nobody's
    #[arg(long, value_name = "WHEN")]
    until: Option<String>,
    /// So many readings may go from somebody else to them; asked for when a number is somebody else's
    #[arg(long, value_name = "COUNT")]
    pub(super) moves: Option<u64>,
}

/// When somebody was born, as exactly as it was said.
#[derive(Clone, Copy)]
struct Born {
    year: i16,
    day: Option<Date>,
}

fn born_of(text: &str) -> Result<Born, &'static str> {
    if let Ok(year) = text.parse() {
        return Ok(Born { year, day: None });
    }
    let day = day(text).map_err(|_| "write a year such as 1951, or a day such as 1951-03-24")?;
    Ok(Born {
        year: day.year(),
        day: Some(day),
    })
}

fn group_of(text: &str) -> Result<String, String> {
    let word = || text.to_owned();
    person::is_group(text)
        .then(word)
        .ok_or_else(|| NotAPerson::Group.to_string())
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
    pub(super) fn choose_protocol(&self, here: &Everywhere, journal: &mut Journal) -> Result<(), Failure> {
        match &self.protocol {
            Some(name) => here.choose_protocol(journal, name),
            None => Ok(()),
        }
    }

    /// What is known of the person after this.
    pub(super) fn over(&self, id: &PersonId, before: Person, today: Date) -> Person {
        let pregnant_again = self.condition.contains(&Condition::Pregnancy)
            && before.pregnancy_ends().is_some_and(|end| end <= today);
        let gave_birth = before.gave_birth.filter(|_| !pregnant_again);
        Person {
            label: match &self.label {
                Some(label) => label.trim().to_owned(),
                None if before.label.is_empty() => id.to_string(),
                None => before.label,
            },
            born: self.born.map(|born| born.year).or(before.born),
            born_on: self.born.map_or(before.born_on, |born| born.day),
            record_number: (self.record_number.as_ref())
                .map(|number| number.trim().to_owned())
                .or(before.record_number),
            group: self.group.clone().or(before.group),
            arm_cm: self.arm_cm.or(before.arm_cm),
            arm: self.arm.or(before.arm),
            morning: self.morning.or(before.morning),
            evening: self.evening.or(before.evening),
            protocol: self.protocol.clone().or(before.protocol),
            threshold: self.threshold.or(before.threshold),
            target: self.target().or(before.target),
            conditions: CONDITIONS
                .into_iter()
                .map(|(_, condition)| condition)
                .filter(|c| self.condition.contains(c) || before.conditions.contains(c))
                .collect(),
            gave_birth: self.gave_birth.or(gave_birth),
            strict: self.strict || before.strict,
        }
        .as_a_birth_says()
    }

    fn target(&self) -> Option<PersonTarget> {
        let text = |text: &Option<String>| text.as_ref().map(|text| text.trim().to_owned());
        self.target.map(|target| PersonTarget {
            systolic: target.systolic,
            diastolic: target.diastolic,
            by: text(&self.target_by),
            source: text(&self.target_source),
        })
    }

    /// Whether the command says anything about the numbers of monitors.
    pub(super) fn has_numbers(&self) -> bool {
        !self.user.is_empty() || !self.usual.is_empty() || self.until.is_some()
    }

    /// Whose the monitors' readings are, from when on, and until when. A number that nobody has had is theirs from the
    /// beginning; one that somebody has had, from now on, unless another moment is named. Whoever has it and names an
    /// end that is over hands it back.
    pub(super) fn mappings(
        &self,
        id: &PersonId,
        household: &Household,
        zones: &Zones,
        now: Timestamp,
    ) -> Result<Vec<Statement>, Failure> {
        if self.monitors().next().is_none() {
            return Err(Failure::new(
                failure::USAGE,
                "--until says until when a monitor is theirs: name it with `--usual MONITOR` or `--user MONITOR=NUMBER`",
            ));
        }
        let until = self.ends(zones, now)?;
        let named = match self.from.as_deref() {
            None => None,
            Some("beginning") => Some(None),
            Some("now") => Some(Some(now)),
            Some(text) => Some(Some(match day(text).ok() {
                Some(day) => midnight(zones, day)
                    .ok_or_else(|| Failure::new(failure::USAGE, format!("{day} is beyond the calendar")))?,
                None => past(text, zones, now)?,
            })),
        };
        // From each moment on whose the number is.
        let spans = |of: String, mapping: Option<&Mapping>| {
            let from = named.unwrap_or_else(|| mapping.map(|_| now));
            let Some(until) = until else {
                return Ok(vec![(from, Some(id.clone()))]);
            };
            let ends = (Some(until), None);
            let has = mapping.filter(|mapping| mapping.at(now) == Some(id));
            let since = match (named, has) {
                (None, Some(mapping)) if until <= now => mapping.since(now),
                _ => from,
            };
            if since.is_some_and(|since| since >= until) {
                return Err(Failure::new(
                    failure::USAGE,
                    format!(
                        "{of} is not {id}'s before {}: give a `--from` before that, or a later `--until`",
                        shown(until, zones)
                    ),
                ));
            }
            let handed_back = named.is_none() && has.is_some() && until <= now;
            let begins = (!handed_back).then(|| (from, Some(id.clone())));
            Ok(begins.into_iter().chain([ends]).collect())
        };
        let mut statements = Vec::new();
        for (monitor, user_id) in &self.user {
            let mapping = household.user_indexes.get(&(monitor.clone(), *user_id));
            let spans = spans(format!("number {user_id} of {monitor}"), mapping)?;
            statements.extend(spans.into_iter().map(|(from, person)| Statement::UserIndex {
                monitor: monitor.clone(),
                user_id: *user_id,
                person,
                from,
            }));
        }
        for monitor in &self.usual {
            let spans = spans(monitor.to_string(), household.usual.get(monitor))?;
            statements.extend(spans.into_iter().map(|(from, person)| Statement::UsualPerson {
                monitor: monitor.clone(),
                person,
                from,
            }));
        }
        Ok(statements)
    }

    /// The moment at which it ends that a number is theirs.
    fn ends(&self, zones: &Zones, now: Timestamp) -> Result<Option<Timestamp>, Failure> {
        let ends = |text: &str| match day(text) {
            _ if text == "now" => Ok(now),
            Ok(day) => (day.tomorrow().ok())
                .and_then(|next| midnight(zones, next))
                .ok_or_else(|| Failure::new(failure::USAGE, format!("{day} is beyond the calendar"))),
            Err(_) => moment(text, zones, now).map_err(|why| {
                Failure::new(
                    failure::USAGE,
                    format!("{why}; --until also takes `now` and a day such as 2026-03-01"),
                )
            }),
        };
        self.until.as_deref().map(ends).transpose()
    }

    pub(super) fn monitors(&self) -> impl Iterator<Item = &MonitorId> {
        self.user.iter().map(|(monitor, _)| monitor).chain(&self.usual)
    }
}
