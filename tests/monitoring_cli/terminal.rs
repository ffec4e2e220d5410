//! What a person reads at a terminal, against what the same commands print for programs: names and days in place of ids
//! and time stamps, the three shapes, a plot, and what is said where there is nothing.

use crate::harness::left_out::{in_a_hurry, program};
use crate::harness::replayed::{Home, USAGE, cuff, live, week};
use serde_json::Value;

/// A week with something of everything: a reading marked, one set aside, one without a value.
fn home() -> Home {
    let home = Home::new();
    let mut lines = week();
    let with = |at: &str, connection: u32, systolic: u16, status: u16| {
        let mut cuff = cuff(systolic, 82);
        cuff.status = status;
        live(at, connection, cuff)
    };
    lines.push(with("2026-03-08T07:02:11", 90, 131, 4));
    lines.push(with("2026-03-08T07:04:11", 91, 133, 1));
    lines.push(with("2026-03-08T07:06:11", 92, 0x07ff, 0));
    home.replay(&lines, &["--person", "p1"]);
    home.text(&["people", "edit", "p1", "--label", "Asha Example"]);
    home
}

fn shape(of: &Value) -> char {
    match of["disposition"].as_str().unwrap() {
        "counted" => '●',
        "marked" => '○',
        _ => '⊘',
    }
}

#[test]
fn readings_stand_under_their_days_with_names_and_shapes() {
    let home = home();
    let all = home.json(&["readings", "--json"]);
    let text = home.text(&["readings"]);
    let rows: Vec<&str> = text
        .lines()
        .filter(|line| line.contains("Asha Example"))
        .collect();
    assert_eq!(rows.len(), all.len(), "{text}");
    for (row, reading) in rows.iter().zip(&all) {
        let at = reading["measured_at"].as_str().unwrap();
        assert!(row.trim_start().starts_with(&at[11..16]), "{row}: {reading}");
        assert!(row.contains(shape(reading)), "{row}: {reading}");
        match reading["systolic"].as_f64() {
            Some(systolic) => assert!(row.contains(&format!(" {systolic}/")), "{row}"),
            None => assert!(row.contains("no value") && !row.contains("mmHg"), "{row}"),
        }
        for reason in reading["reasons"].as_array().unwrap() {
            assert!(row.contains(&reason.as_str().unwrap().replace('-', " ")), "{row}");
        }
    }
    assert_eq!(text.matches("Sunday 1 March 2026\n").count(), 1, "{text}");
    assert!(
        !text.contains("NaN") && !text.contains('T') | text.contains("Tuesday"),
        "{text}"
    );
    let id = |reading: &Value| reading["id"].as_str().unwrap().to_owned();
    assert!(all.iter().all(|reading| !text.contains(&id(reading))), "{text}");
    let with_ids = home.text(&["readings", "--ids"]);
    assert!(
        all.iter().all(|reading| with_ids.contains(&id(reading))),
        "{with_ids}"
    );
}

#[test]
fn sessions_stand_under_their_days() {
    let home = home();
    let all = home.json(&["sessions", "--json"]);
    let text = home.text(&["sessions"]);
    let rows: Vec<&str> = text
        .lines()
        .filter(|line| line.contains("Asha Example"))
        .collect();
    assert_eq!(rows.len(), all.len(), "{text}");
    for (row, session) in rows.iter().zip(&all) {
        let says = format!("{} of {} readings count", session["counted"], session["wanted"]);
        assert!(
            row.contains(&says) && row.contains(session["slot"].as_str().unwrap()),
            "{row}"
        );
        assert!(!row.contains(session["id"].as_str().unwrap()), "{row}");
    }
    let with_ids = home.text(&["sessions", "--ids"]);
    assert!(
        all.iter()
            .all(|session| with_ids.contains(session["id"].as_str().unwrap()))
    );
}

/// As many marks of each kind as readings of it, each at the height of its pressure, to the step of the scale.
#[test]
fn the_plot_holds_every_reading_of_a_week() {
    let home = home();
    let short = home.text(&["period", "--from", "2026-03-02"]);
    assert!(short.lines().count() < 18 && short.contains("--full"), "{short}");
    let full = home.text(&["period", "--from", "2026-03-02", "--full"]);
    let plot: Vec<&str> = full
        .lines()
        .skip_while(|line| line.trim() != "mmHg")
        .skip(1)
        .take_while(|line| line.trim_start().starts_with(|c: char| c.is_ascii_digit()))
        .collect();
    assert!(plot.len() > 5, "{full}");
    let all = home.json(&["readings", "--json", "--from", "2026-03-02"]);
    let with_values = || all.iter().filter(|reading| reading["systolic"].is_number());
    for (mark, disposition, name) in [
        ('▼', "counted", "systolic"),
        ('▽', "marked", "systolic"),
        ('▲', "counted", "diastolic"),
        ('△', "marked", "diastolic"),
    ] {
        let mut drawn: Vec<f64> = Vec::new();
        for line in &plot {
            let level: f64 = line[..4].trim().parse().unwrap();
            drawn.extend(line.chars().filter(|c| *c == mark).map(|_| level));
        }
        let mut is: Vec<f64> = with_values()
            .filter(|reading| reading["disposition"] == disposition)
            .map(|reading| reading[name].as_f64().unwrap())
            .collect();
        drawn.sort_by(f64::total_cmp);
        is.sort_by(f64::total_cmp);
        assert_eq!(drawn.len(), is.len(), "{mark}\n{full}");
        for (drawn, is) in drawn.iter().zip(&is) {
            assert!((drawn - is).abs() <= 2.5, "{mark} at {drawn}, not {is}\n{full}");
        }
    }
    let struck = plot.concat().matches('⊘').count();
    let set_aside = with_values()
        .filter(|reading| reading["disposition"] == "set-aside")
        .count();
    assert_eq!((struck, set_aside), (2, 1), "{full}");
}

/// More than two weeks are columns of several days; the highest stands as high as the highest that counts.
#[test]
fn long_periods_are_drawn_as_spread() {
    let home = home();
    let full = home.text(&["period", "--from", "2025-03-09", "--days", "365", "--full"]);
    assert!(full.contains("Each column is a week: ▼ mean systolic"), "{full}");
    assert!(full.contains("Not drawn: 1 set aside."), "{full}");
    assert!(full.lines().all(|line| line.chars().count() <= 80), "{full}");
}

/// An empty answer is an answer: it says so, and what would bring something.
#[test]
fn where_there_is_nothing_it_is_said() {
    let home = Home::new();
    home.text(&["people", "add", "asha"]);
    for (args, names) in [
        (&["readings"][..], "quietcuff monitors add"),
        (&["sessions"], "quietcuff monitors add"),
        (&["frames"], "quietcuff replay"),
        (&["note", "list"], "quietcuff note add"),
        (&["period", "list"], "quietcuff period start"),
        (&["period", "changes"], "quietcuff note add medicine-changed"),
        (&["monitors", "list"], "quietcuff monitors find"),
        (&["keys", "list"], "quietcuff keys add"),
        (&["remind", "list"], "nothing is due"),
    ] {
        let said = home.run(args);
        assert_eq!((said.code, said.out.as_str()), (0, ""), "{args:?}: {said:?}");
        assert!(
            said.err.starts_with("quietcuff: ") && said.err.contains(names),
            "{args:?}: {said:?}"
        );
    }
    let with_days = self::home().run(&["readings", "--from", "2030-01-01"]);
    assert!(
        with_days.err.contains("without --person, --from, --to"),
        "{with_days:?}"
    );
    let json = home.run(&["readings", "--json"]);
    assert_eq!((json.out.as_str(), json.err.as_str()), ("", ""));
}

#[test]
fn trace_takes_whatever_a_listing_shows() {
    let home = home();
    let reading = home.json(&["readings", "--json"]).remove(0);
    let session = home.json(&["sessions", "--json"]).remove(0);
    let (id, frame) = (reading["id"].as_str().unwrap(), reading["frame"].to_string());
    let by_id = home.json(&["trace", "--json", id]);
    assert_eq!(by_id, home.json(&["trace", "--json", "--frame", &frame]));
    let named = session["id"].as_str().unwrap();
    assert_eq!(
        home.json(&["trace", "--json", named]),
        home.json(&["trace", "--json", "--session", named])
    );
    assert_eq!(
        home.json(&["trace", "--json", "p1"]),
        home.json(&["trace", "--json", "--period", "--person", "p1"])
    );
    let note = home.text(&["note", "add", "coffee", "--person", "p1"]);
    let note = note.split_whitespace().next().unwrap();
    home.fails(&["trace", note], USAGE, &["is a note", "quietcuff note list"]);
    home.fails(&["trace", "--frame", "9999"], USAGE, &["there is no frame 9999"]);
}

#[test]
fn every_complaint_has_one_prefix_and_the_programs_own_words() {
    let home = home();
    for (args, words) in [
        (&["settl"][..], "'status'"),
        (&["manua"], "unrecognized"),
        (
            &["people", "add", "ravi", "--born", "2026-02-30"],
            "a year such as 1951, or a day",
        ),
        (&["serve", "--listen", "here"], "127.0.0.1:8417"),
        (&["readings", "--from", "2026-13-01"], "no day of the calendar"),
        (&["trace", "zz"], "quietcuff readings --ids"),
    ] {
        let said = home.run(args);
        assert_eq!((said.code, said.out.as_str()), (USAGE, ""), "{args:?}");
        assert!(
            said.err.starts_with("quietcuff: ") && said.err.contains(words),
            "{args:?}: {}",
            said.err
        );
        for hidden in [
            "settle'",
            "'manual",
            "error:",
            "invalid digit",
            "socket address syntax",
        ] {
            assert!(!said.err.contains(hidden), "{args:?}: {}", said.err);
        }
    }
    // A port that is taken: the command's own option comes first.
    let taken = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let address = taken.local_addr().unwrap().to_string();
    let said = home.run(&["serve", "--listen", &address]);
    assert!(
        said.code == 69 && said.err.contains("`--listen ADDRESS:PORT`"),
        "{said:?}"
    );
}

/// Long work says how far it is to whoever waits at a terminal (util-linux script(1) makes one), and nothing in a pipe.
/// Here the frames take a while to come.
#[test]
fn long_work_shows_progress_on_a_terminal_only() {
    if !program("script", "progress on a terminal") {
        return;
    }
    let home = Home::new();
    let frames = home.dir.path().join("frames.jsonl");
    std::fs::write(&frames, week().join("\n") + "\n").unwrap();
    let slowly = |there: &str| {
        let line = format!(
            "(head -9 {0}; sleep 3; tail -n +10 {0}) | {1} replay /dev/stdin --time-zone UTC --state {2}/{there}",
            frames.display(),
            env!("CARGO_BIN_EXE_quietcuff"),
            home.dir.path().display()
        );
        let mut command = std::process::Command::new(if there == "pipe" { "sh" } else { "script" });
        match there {
            "pipe" => command.args(["-c", &line]),
            _ => command.args(["-qec", &line, "/dev/null"]),
        };
        let output = command.env("HOME", home.dir.path()).output().unwrap();
        let said = String::from_utf8([output.stdout, output.stderr].concat()).unwrap();
        assert!(output.status.success() && said.contains("28 new"), "{said}");
        said
    };
    let on_a_terminal = slowly("terminal");
    assert!(
        on_a_terminal.contains("quietcuff: reading frames, 1 s"),
        "{on_a_terminal}"
    );
    let in_a_pipe = slowly("pipe");
    assert!(
        !in_a_pipe.contains("reading frames") && !in_a_pipe.contains(['\r', '\x1b']),
        "{in_a_pipe}"
    );
}

/// So does a delivery, to a server that takes its time; here it never says anything.
#[test]
fn a_delivery_shows_progress_on_a_terminal_only() {
    if in_a_hurry("the progress of a first delivery") {
        return;
    }
    if !program("script", "progress on a terminal") {
        return;
    }
    let home = home();
    let clinic = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let config = home.dir.path().join("quietcuff.toml");
    let server = format!(
        "[clinic]\nserver = \"http://{}/fhir\"\npeople = [\"p1\"]\n[fhir.patients]\np1 = \"Patient/1\"\n",
        clinic.local_addr().unwrap()
    );
    std::fs::write(&config, server).unwrap();
    // Each question is hung up on after three seconds.
    std::thread::spawn(move || {
        for stream in clinic.incoming() {
            std::thread::sleep(std::time::Duration::from_secs(3));
            drop(stream);
        }
    });
    let deliver = |on_a_terminal: bool| {
        let line = format!(
            "{} deliver --once --config {} --state {}",
            env!("CARGO_BIN_EXE_quietcuff"),
            config.display(),
            home.state().display()
        );
        let mut command = std::process::Command::new(if on_a_terminal { "script" } else { "sh" });
        match on_a_terminal {
            true => command.args(["-qec", &line, "/dev/null"]),
            false => command.args(["-c", &line]),
        };
        let output = command.env("HOME", home.dir.path()).output().unwrap();
        let said = String::from_utf8([output.stdout, output.stderr].concat()).unwrap();
        assert!(!output.status.success() && said.contains("127.0.0.1"), "{said}");
        said
    };
    let in_a_pipe = deliver(false);
    assert!(
        !in_a_pipe.contains("delivering") && !in_a_pipe.contains(['\r', '\x1b']),
        "{in_a_pipe}"
    );
    let on_a_terminal = deliver(true);
    assert!(
        on_a_terminal.contains("\r\x1b[Kquietcuff: delivering, 1 s"),
        "{on_a_terminal}"
    );
}
