//! Every row of `fixtures/situations/answers-of-a-server.md`: a home, a server by others (`server.mjs`), and between
//! them one that answers as the row says.

use crate::delivery::clinic::{Clinic, choose, exported_readings, few, held, listing, once};
use crate::delivery::proxy::{FHIR, Fate, Proxy, answer};
use crate::harness::left_out::takes_minutes;
use crate::harness::made::Made;
use serde_json::json;

const TABLE: &str = include_str!("../../fixtures/situations/answers-of-a-server.md");

/// More questions than a round of a few readings has.
const EACH: usize = 100;

struct Row<'a> {
    name: &'a str,
    to: &'a str,
    answer: &'a str,
    body: &'a str,
    ends_with: i32,
    parked: u64,
    says: Vec<&'a str>,
}

fn rows() -> Vec<Row<'static>> {
    let lines = TABLE.lines().filter(|line| line.starts_with("| answer-"));
    lines
        .map(|line| {
            let cells: Vec<&str> = line.trim_matches('|').split('|').map(str::trim).collect();
            let [name, to, answer, body, ends_with, parked, says, because] = cells[..] else {
                panic!("{line}");
            };
            assert!(!because.is_empty(), "{line}");
            Row {
                name,
                to,
                answer,
                body,
                ends_with: ends_with.parse().unwrap(),
                parked: parked.parse().unwrap(),
                says: says.split("; ").filter(|says| *says != "-").collect(),
            }
        })
        .collect()
}

/// The answer of a row, as it is on the line.
fn fate(row: &Row<'_>) -> Fate {
    let (head, html) = (row.answer, "Content-Type: text/html\r\n");
    let outcome = |code: &str| {
        let issue = json!([{"severity": "error", "code": code, "diagnostics": "invented"}]);
        json!({"resourceType": "OperationOutcome", "issue": issue}).to_string()
    };
    let (status, more) = head.split_once("; ").unwrap_or((head, ""));
    let more = match more {
        "" => String::new(),
        field => format!("{field}\r\n"),
    };
    let status = format!("{status} x");
    match row.body {
        "-" => answer(&status, &more, ""),
        "page" => answer(&status, &format!("{html}{more}"), "<html>Sorry</html>"),
        "half" => Fate::CutAnswer(400),
        "lost" => Fate::LoseAnswer,
        "Patient" => answer(
            &status,
            FHIR,
            r#"{"resourceType":"Patient","id":"somebody-else"}"#,
        ),
        "turned round" => Fate::TurnAnswer,
        code => answer(&status, &format!("{FHIR}{more}"), &outcome(code)),
    }
}

#[test]
fn every_answer_ends_with_everything_there_once() {
    if takes_minutes("every answer of a server") {
        return;
    }
    let Some(clinic) = Clinic::open() else {
        return;
    };
    let rows = rows();
    let mut wrong = Vec::new();
    for row in &rows {
        clinic.reset();
        let proxy = Proxy::before(clinic.port, vec![]);
        let made = Made::of(&few());
        choose(&made.home, &proxy.url(), "");
        if row.to == "change" {
            once(&made.home).good();
            let id = made.readings[0]["id"].as_str().unwrap();
            made.home
                .run(&["readings", "time", id, "2026-03-01T06:30"])
                .good();
        }
        let times = if row.to == "each" { EACH } else { 1 };
        let fate = fate(row);
        (0..times).for_each(|_| proxy.next(fate.clone()));
        let ran = once(&made.home);
        let parked = listing(&made.home)["parked"].as_u64().unwrap();
        let unsaid: Vec<_> = row
            .says
            .iter()
            .filter(|words| !ran.err.contains(**words))
            .collect();
        if (ran.code, parked) != (row.ends_with, row.parked) || !unsaid.is_empty() {
            wrong.push(format!(
                "{}: {}, {parked} parked, not said {unsaid:?}: {}",
                row.name, ran.code, ran.err
            ));
        }
        // The server is itself again.
        proxy.calm();
        if parked > 0 {
            made.home.run(&["deliver", "retry", "--all"]).good();
        }
        let journal = made.home.path(".local/state/quietcuff/journal.sqlite");
        let patience = "UPDATE clinic SET not_before_us = last_us";
        rusqlite::Connection::open(journal)
            .unwrap()
            .execute(patience, [])
            .unwrap();
        once(&made.home).good();
        let standing = listing(&made.home);
        let rest = (&standing["waiting"], &standing["parked"]);
        if held(&clinic) != exported_readings(&made) || rest != (&0.into(), &0.into()) {
            wrong.push(format!("{}: not everything is there once: {standing}", row.name));
        }
    }
    assert!(rows.len() > 50 && wrong.is_empty(), "{}", wrong.join("\n"));
}
