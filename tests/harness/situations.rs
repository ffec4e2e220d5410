//! The situations of `fixtures/situations/what-must-not-wait.md`, read from the file that a clinician reads.

use jiff::civil::DateTime;

const TABLE: &str = include_str!("../../fixtures/situations/what-must-not-wait.md");

/// One row of the table: what happened, and what has to stand and be told then.
#[derive(Debug)]
pub(crate) struct Situation {
    pub(crate) name: &'static str,
    pub(crate) who: &'static str,
    pub(crate) events: Vec<Event>,
    pub(crate) at: DateTime,
    pub(crate) expected: Vec<Standing>,
    pub(crate) says: &'static str,
    pub(crate) told: Vec<Told>,
}

/// What happened, and when.
#[derive(Debug)]
pub(crate) struct Event {
    pub(crate) at: DateTime,
    pub(crate) what: What,
}

#[derive(Debug)]
pub(crate) enum What {
    Reading(Numbers),
    Noted(&'static str),
    Answered(&'static str),
}

#[derive(Debug)]
pub(crate) struct Numbers {
    pub(crate) systolic: &'static str,
    pub(crate) diastolic: &'static str,
    pub(crate) kpa: bool,
    pub(crate) pulse: &'static str,
    pub(crate) moved: bool,
    pub(crate) discarded: bool,
    pub(crate) nobodys: bool,
    pub(crate) received: Option<DateTime>,
    pub(crate) undated: bool,
}

/// What stands: about what, how urgent, when to measure again, and whether nobody has said whose it is.
#[derive(PartialEq, Eq, Debug)]
pub(crate) struct Standing {
    pub(crate) about: String,
    pub(crate) level: String,
    pub(crate) repeat: Option<DateTime>,
    pub(crate) nobodys: bool,
}

/// What is worth a message: about what, how urgent.
pub(crate) type Told = (String, String);

/// Every row; how many cells a row has, and that every row names a source or says that it has none, is looked at here.
pub(crate) fn situations() -> Vec<Situation> {
    let mut rows = Vec::new();
    for line in TABLE.lines().filter(|line| line.starts_with("| ")) {
        let cells: Vec<&str> = line.trim_matches('|').split('|').map(str::trim).collect();
        let [name, who, happened, at, expected, says, told, because] = cells[..] else {
            panic!("{} cells: {line}", cells.len());
        };
        if name == "situation" {
            continue;
        }
        assert!(!because.is_empty(), "{name} has no source");
        assert!(
            ["adult", "child", "pregnant", "after birth"].contains(&who) || born_before(who).is_some(),
            "{name}: who is {who}"
        );
        rows.push(Situation {
            name,
            who,
            events: parts(happened).map(event).collect(),
            at: moment(at).0,
            expected: parts(expected).map(standing).collect(),
            says,
            told: parts(told)
                .map(|told| {
                    let (about, level) = told.split_once(' ').unwrap();
                    (about.to_owned(), level.to_owned())
                })
                .collect(),
        });
    }
    rows
}

/// "gave birth 56 days before": so many days before the question.
pub(crate) fn born_before(who: &str) -> Option<i64> {
    let days = who.strip_prefix("gave birth ")?.strip_suffix(" days before")?;
    Some(days.parse().unwrap())
}

fn parts(cell: &'static str) -> impl Iterator<Item = &'static str> {
    cell.split(';')
        .map(str::trim)
        .filter(|part| *part != "nothing" && !part.is_empty())
}

/// "07:05", "07:05:30" or "day 2 07:05", and what stands behind it.
fn moment(text: &'static str) -> (DateTime, &'static str) {
    let (day, rest) = match text.strip_prefix("day ") {
        Some(rest) => rest.split_once(' ').unwrap(),
        None => ("1", text),
    };
    let (clock, rest) = rest.split_once(' ').unwrap_or((rest, ""));
    let seconds = if clock.len() == 5 { ":00" } else { "" };
    let date = format!("2026-03-{day:0>2}T{clock}{seconds}");
    (date.parse().unwrap_or_else(|e| panic!("{text}: {e}")), rest)
}

fn event(text: &'static str) -> Event {
    let (at, rest) = moment(text);
    let (first, more) = rest.split_once(' ').unwrap_or((rest, ""));
    let what = match first {
        "noted" | "wrote" => What::Noted(more),
        "answered" => What::Answered(more),
        numbers => {
            let (systolic, diastolic) = numbers.split_once('/').unwrap_or_else(|| panic!("{text}"));
            let mut words = more.split(' ');
            let mut reading = Numbers {
                systolic,
                diastolic,
                kpa: false,
                pulse: "72",
                moved: false,
                discarded: false,
                nobodys: false,
                received: None,
                undated: false,
            };
            while let Some(word) = words.next() {
                match word {
                    "" => {}
                    "kPa" => reading.kpa = true,
                    "pulse" => reading.pulse = words.next().unwrap(),
                    "moved" => reading.moved = true,
                    "discarded" => reading.discarded = true,
                    "undated" => reading.undated = true,
                    "by" => reading.nobodys = words.next() == Some("nobody"),
                    "received" => reading.received = words.next().map(|at| moment(at).0),
                    other => panic!("{text}: {other}"),
                }
            }
            What::Reading(reading)
        }
    };
    Event { at, what }
}

fn standing(text: &'static str) -> Standing {
    let (text, nobodys) = match text.strip_suffix(" nobodys") {
        Some(text) => (text, true),
        None => (text, false),
    };
    let (said, repeat) = match text.split_once(" repeat ") {
        Some((said, repeat)) => (said, Some(moment(repeat).0)),
        None => (text, None),
    };
    let (about, level) = said.split_once(' ').unwrap_or_else(|| panic!("{text}"));
    Standing {
        about: about.to_owned(),
        level: level.to_owned(),
        repeat,
        nobodys,
    }
}
