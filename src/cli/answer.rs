//! `quietcuff answer`: what was done about something that must not wait.

use super::days::one;
use super::failure::{self, Failure, Outcome};
use super::next::{AlertLine, next_of};
use super::output::json_line;
use super::place::{Everywhere, Reader};
use super::rows;
use super::summary::paragraph;
use crate::export::report::words::sentence;
use crate::household::{AlertAnswer, PersonId, Statement};
use crate::monitoring::escalation::Level;
use clap::Args;
use clap::builder::PossibleValuesParser;
use jiff::Timestamp;
use std::io::Write;
use std::process::ExitCode;

/// The longest name of whoever answers.
const BY_CHARS_MAX: usize = 80;

/// What was done, and by whom.
#[derive(Args)]
#[command(
    after_help = "An alert stands until somebody says what was done, or until later readings settle it. Without an \
                        answer, what stands is listed."
)]
pub(crate) struct AnswerArgs {
    /// What was done
    #[arg(value_parser = PossibleValuesParser::new(AlertAnswer::ALL.map(AlertAnswer::name)))]
    answer: Option<String>,
    /// About whom [default: the only person there is]
    #[arg(long, value_name = "ID")]
    person: Option<PersonId>,
    /// Who says so [default: the user of this machine]
    #[arg(long, value_name = "NAME")]
    by: Option<String>,
    /// Take back the answer to this alert, as `--json` names it
    #[arg(long, value_name = "ALERT", conflicts_with = "answer")]
    take_back: Option<String>,
    #[command(flatten)]
    reader: Reader,
    /// Print one JSON object a line
    #[arg(long)]
    json: bool,
}

pub(crate) fn run(here: &Everywhere, args: &AnswerArgs) -> Outcome {
    if let Some(alert) = &args.take_back {
        return take_back(here, alert);
    }
    let mut journal = if args.answer.is_some() {
        here.existing_journal()?
    } else {
        here.read_journal()?
    };
    let stated = here.stated(&journal)?;
    let (household, zones) = (&stated.household, &stated.zones);
    let now = Timestamp::now();
    let mut out = std::io::stdout().lock();
    let person = one(household, args.person.as_ref())?;
    let next = next_of(&mut journal, &stated, &person, (now, false))?;
    let standing: Vec<_> = next.alerts.iter().filter(|alert| alert.outranks()).collect();
    let by = answerer(args.by.as_deref());
    let words = here.words(&args.reader)?;
    let answer = args.answer.as_deref().and_then(AlertAnswer::of_name);
    if let Some(answer) = answer {
        if standing.is_empty() {
            return Err(Failure::new(
                failure::USAGE,
                format!("nothing of {person} waits for an answer; `quietcuff next` says how it stands"),
            ));
        }
        let answered: Vec<Statement> = standing
            .iter()
            .map(|alert| Statement::AlertAnswered {
                alert: alert.key(),
                answer: Some(answer),
                by: by.clone(),
                at: now,
            })
            .collect();
        journal.state(now, &answered)?;
    }
    for alert in &standing {
        if args.json {
            json_line(&mut out, &AlertLine::of(alert, zones))?;
        } else {
            let done = words.say(&match answer {
                Some(answer) => format!("answer-{}", answer.name()),
                None => "sheet-unanswered".to_owned(),
            });
            let values = [
                (
                    "about",
                    words.say(&format!("about-{}", alert.about.name())).into(),
                ),
                ("moment", rows::moment(alert.at, zones, words).into()),
            ];
            let says = [
                words.with("sheet-raised", &values),
                words.say(to_do(alert.level)),
                done,
            ];
            paragraph(&mut out, "", &says.map(|said| sentence(&said)).join(" "))?;
        }
    }
    if standing.is_empty() && !args.json {
        writeln!(out, "{}", words.say("questions-none"))?;
    }
    Ok(ExitCode::SUCCESS)
}

/// What a level asks for, in a few words.
const fn to_do(level: Level) -> &'static str {
    match level {
        Level::Emergency => "help-emergency",
        Level::ContactNow => "help-now",
        Level::ContactToday => "help-today",
        Level::MeasureAgain => "help-again",
        Level::Ask => "help-ask",
        Level::TellClinic | Level::Note => "help-tell",
    }
}

/// The name of whoever answers: the one given, else that of the machine's user.
fn answerer(given: Option<&str>) -> Option<String> {
    let by = given.map(str::to_owned).or_else(|| std::env::var("USER").ok());
    by.map(|by| {
        by.chars()
            .filter(|c| !c.is_control())
            .take(BY_CHARS_MAX)
            .collect()
    })
}

fn take_back(here: &Everywhere, alert: &str) -> Outcome {
    let mut journal = here.existing_journal()?;
    let household = journal.household()?;
    if !household.answers.contains_key(alert) {
        return Err(Failure::new(
            failure::USAGE,
            format!(
                "nobody has answered {alert:?}; `quietcuff report --output week.pdf` shows what was answered"
            ),
        ));
    }
    let now = Timestamp::now();
    let back = Statement::AlertAnswered {
        alert: alert.to_owned(),
        answer: None,
        by: None,
        at: now,
    };
    journal.state(now, &[back])?;
    writeln!(std::io::stdout(), "taken back")?;
    Ok(ExitCode::SUCCESS)
}
