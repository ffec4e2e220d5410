//! One period, five ways to see it: the terminal, the sheet, the page, what goes to the clinic, and what is told at its
//! end. The numbers stand in each of them in other words; they have to be the same.

use crate::harness::page::get;
use crate::harness::replayed::{Home, cuff, frame, live, week};
use quietcuff::home::alerts::look::Look;
use quietcuff::journal::Journal;
use serde_json::Value;

/// The week, and what a part of a journal is easily cut out without: sittings over midnight at both ends, and three
/// readings of one connection without a stamp, whose time nobody knows.
fn lines() -> Vec<String> {
    let mut lines = week();
    for (civil, connection, systolic) in [
        ("2026-02-28T23:57:11", 801, 151),
        ("2026-03-01T00:02:11", 801, 149),
        ("2026-03-07T23:58:11", 802, 147),
        ("2026-03-08T00:03:11", 802, 153),
    ] {
        lines.push(live(civil, connection, cuff(systolic, 93)));
    }
    for (tenth, value) in [
        "147c005000ff0748000000",
        "147d005000ff0748000000",
        "147e005000ff0748000000",
    ]
    .iter()
    .enumerate()
    {
        let received = format!("2026-03-03T10:00:00.{tenth}");
        lines.push(frame(&received, 803, "2a35", value));
    }
    lines
}

fn home() -> Home {
    let home = Home::new();
    let config = "[clinic]\nserver = \"https://clinic.example/fhir\"\npeople = [\"p1\"]\n[fhir.patients]\np1 = \"Patient/1\"\n";
    std::fs::write(home.dir.path().join("quietcuff.toml"), config).unwrap();
    home.replay(&lines(), &["--person", "p1"]);
    home.text(&["period", "start", "--person", "p1", "--from", "2026-03-01"]);
    home
}

/// The words of the average's Observation.
fn note(resources: &str) -> &str {
    let text = resources.split("Average of ").nth(1).unwrap();
    text.split("This is an average").next().unwrap()
}

#[test]
fn a_period_is_the_same_whichever_way_it_comes() {
    let home = home();
    let period = home.object(&["period", "--json"]);
    assert_eq!(
        period["readings"]["set_aside"], 3,
        "those of unknown time are among them"
    );
    assert_eq!(period["from"], "2026-03-01");
    let shown = home.text(&["period"]);
    let n = &period["average"]["n"];
    let exact = shown
        .split("  ")
        .find(|word| word.contains('/'))
        .unwrap()
        .trim()
        .to_owned();
    assert!(exact.contains('.'), "{exact}");

    // The sheet.
    let sheet = home.dir.path().join("sheet.html");
    home.text(&["report", "--output", sheet.to_str().unwrap()]);
    let sheet = std::fs::read_to_string(sheet).unwrap();
    assert!(sheet.contains(&exact), "{exact}");
    assert!(sheet.contains(&format!("{n} readings")), "{n}");

    // The page.
    let served = crate::harness::page::served(home.command(&["serve", "--open", "--listen", "127.0.0.1:0"]));
    let page = get(served.address(), "/week?person=p1", "").body;
    for said in [
        exact.clone(),
        format!("of {n} readings on {} days", period["average"]["days"]),
        "3 readings were set aside".to_owned(),
        format!(
            "{} of {} sessions",
            period["sessions"], period["sessions_expected"]
        ),
    ] {
        assert!(page.contains(&said), "the page does not say {said:?}");
    }

    // The clinic: as it is exported, and as it would be sent.
    let exported = home.text(&["export", "fhir", "--ndjson"]);
    let sent = home.text(&["deliver", "--dry-run"]);
    assert_eq!(note(&exported), note(&sent));
    let start = format!("{n} self-measured readings on {} days", period["average"]["days"]);
    assert!(note(&sent).starts_with(&start), "{}", note(&sent));
    assert!(
        note(&sent).contains("not in the average: 3 (time unknown 3)"),
        "{}",
        note(&sent)
    );

    // What is told at its end.
    let mut journal = Journal::read(&home.state()).unwrap();
    let stated = journal.stated().unwrap();
    let now = "2026-03-08T12:00:00Z".parse().unwrap();
    let look = Look::at(&mut journal, stated, None, now).unwrap();
    let told = serde_json::to_value(&look.people[0].periods).unwrap();
    let Value::Array(told) = told else {
        panic!("{told}")
    };
    let [told] = &told[..] else { panic!("{told:?}") };
    for (name, value) in told.as_object().unwrap() {
        assert_eq!(*value, period[name], "{name}");
    }
}
