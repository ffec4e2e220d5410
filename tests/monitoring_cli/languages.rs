//! What a person reads at a terminal is in the household's language: no English word stands in what Hindi and Tamil
//! write in letters of their own, no English sentence in any other language, and what programs read stays as it is.
//!
//! A sentence that somebody wrote into the code would be of Latin letters: what stands in them is a name, a unit, a
//! command, a source as it was published, or the specification's name of a field, and each of these is listed here.

use crate::harness::replayed::{Home, MONITOR, USAGE, cuff, live, week};
use jiff::Timestamp;
use quietcuff::household::{Monitor, Site, Statement};
use quietcuff::journal::Journal;
use quietcuff::words::Language;
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::io::{BufRead, BufReader, Write};
use std::os::unix::net::UnixListener;
use unicode_width::UnicodeWidthStr;

const ENGLISH: &str = include_str!("../../src/words/en.ftl");

/// Units, names of this household and of what is asked for, ids, and the names of protocols as commands take them.
const NAMES: [&str; 24] = [
    "mmhg", "cm", "m1", "p1", "p2", "dr", "example", "zeta", "seven", "day", "hci0", "bluez", "kernel",
    "test", "clinic", "invalid", "https", "r4", "utc", "c0", "ff", "ee", "a", "t",
];

/// A household of which there is much to say, in letters that are not Latin.
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
    lines.push(with("2026-03-08T19:06:11", 93, 191, 0));
    home.replay(&lines, &["--person", "p1"]);
    // Enrolling needs a radio, stating does not.
    let details = Monitor {
        address: Some(MONITOR.parse().unwrap()),
        site: Some(Site::UpperArm),
        serial: Some("7".into()),
        bought: Some("2015-01-01".parse().unwrap()),
        ..Monitor::default()
    };
    let monitor = "m1".parse().unwrap();
    let mut journal = Journal::open(&home.state()).unwrap();
    let enrolled = Statement::Monitor { monitor, details };
    journal.state(Timestamp::now(), &[enrolled]).unwrap();
    drop(journal);
    for args in [
        &[
            "people",
            "edit",
            "p1",
            "--label",
            "लक्ष्मी",
            "--target",
            "130/80",
            "--target-by",
            "Dr Example",
        ][..],
        &[
            "people",
            "edit",
            "p1",
            "--arm-cm",
            "31.5",
            "--arm",
            "left",
            "--born",
            "1951-03-24",
        ],
        &[
            "people",
            "add",
            "p2",
            "--label",
            "முத்துலட்சுமி",
            "--condition",
            "dialysis",
        ],
        &[
            "period",
            "start",
            "--person",
            "p1",
            "--from",
            "2026-03-01",
            "--days",
            "3",
        ],
        &[
            "period",
            "start",
            "--person",
            "p1",
            "--from",
            "2026-03-04",
            "--days",
            "4",
        ],
        &[
            "note",
            "add",
            "coffee",
            "--person",
            "p1",
            "--at",
            "2026-03-06T06:50",
        ],
        &[
            "note",
            "add",
            "symptoms",
            "chest-pain",
            "--person",
            "p1",
            "--at",
            "2026-03-06T10:00",
        ],
        &[
            "note",
            "add",
            "medicine-changed",
            "zeta",
            "--person",
            "p1",
            "--at",
            "2026-03-04T06:00",
        ],
        &[
            "note",
            "add",
            "clinic-reading",
            "150/95",
            "--person",
            "p1",
            "--at",
            "2026-03-05T10:00",
        ],
        &["note", "add", "monitor-dropped", "--at", "2026-03-05T12:00"],
    ] {
        home.text(args);
    }
    home
}

/// The commands, each for a person who reads.
fn commands(home: &Home) -> Vec<Vec<String>> {
    let readings = home.json(&["readings", "--json"]);
    let id = |of: &Value| of["id"].as_str().unwrap().to_owned();
    let marked = readings
        .iter()
        .filter(|reading| reading["disposition"] != "counted");
    let mut commands: Vec<Vec<String>> = [
        &["readings", "--ids"][..],
        &["sessions", "--ids"],
        &["period", "--person", "p1"],
        &[
            "period",
            "--person",
            "p1",
            "--from",
            "2026-03-02",
            "--days",
            "7",
            "--full",
            "--carry-over",
            "0.3",
        ],
        &[
            "period",
            "--person",
            "p1",
            "--from",
            "2026-03-08",
            "--days",
            "1",
            "--full",
        ],
        &[
            "period",
            "--person",
            "p1",
            "--from",
            "2025-03-09",
            "--days",
            "365",
            "--full",
        ],
        &["period", "list"],
        &["period", "earlier", "--person", "p1"],
        &["period", "changes", "--person", "p1"],
        &["people", "list"],
        &["monitors", "list"],
        &["note", "list"],
        &["answer", "--person", "p1"],
        &["next", "--person", "p1", "--at", "2026-03-08T19:10"],
        &["trace", "p1"],
        &["status"],
        &["deliver", "list"],
        &["remind", "list"],
    ]
    .iter()
    .map(|args| args.iter().map(|arg| (*arg).to_owned()).collect())
    .collect();
    for reading in marked.chain(&readings[..1]) {
        for args in [&["readings", "explain"][..], &["trace"]] {
            let args = args.iter().map(|arg| (*arg).to_owned());
            commands.push(args.chain([id(reading)]).collect());
        }
    }
    commands
}

/// Answers for a daemon that runs, with a monitor that keeps its users apart.
fn listens(home: &Home) {
    let listener = UnixListener::bind(home.state().join("daemon.sock")).unwrap();
    let monitor = json!({
        "address": "C0:FF:EE:00:00:01", "last_seen": "2026-03-08T06:06:11.123456Z", "bearer": "direct",
        "users": { "given": [1], "wrong": [], "not_registered": false, "needs": null },
    });
    let radio = json!({ "adapter": "hci0", "bearer": "bluez", "bearer_because": "kernel test", "monitors": { "m1": monitor } });
    let journal = json!({ "frames_kept": 33, "last_frame": "2026-03-08T06:06:11.654321Z" });
    let report = json!({ "running": true, "radio": radio, "journal": journal });
    std::thread::spawn(move || {
        for stream in listener.incoming() {
            let mut stream = stream.unwrap();
            BufReader::new(&stream).read_line(&mut String::new()).unwrap();
            let answer = json!({ "version": 1, "answer": "collector", "report": report });
            writeln!(stream, "{answer}").unwrap();
        }
    });
}

/// Every source that the program names, the longest first; behind a protocol's title each for itself.
fn sources(home: &Home) -> Vec<String> {
    fn gather(value: &Value, into: &mut BTreeSet<String>) {
        match value {
            Value::Array(list) => list.iter().for_each(|one| gather(one, into)),
            Value::Object(fields) => {
                for (name, value) in fields {
                    if let Some(source) = value.as_str().filter(|_| name == "source") {
                        let rest = source.split_once("; ").map_or(source, |(_, rest)| rest);
                        into.extend([source, rest].map(|source| source.trim_end_matches('.').to_owned()));
                    }
                    gather(value, into);
                }
            }
            _ => {}
        }
    }
    let mut all = BTreeSet::new();
    for args in [
        &["technique", "list", "--json"][..],
        &[
            "period",
            "--json",
            "--person",
            "p1",
            "--from",
            "2026-03-02",
            "--days",
            "7",
        ],
        &[
            "period",
            "--json",
            "--person",
            "p1",
            "--from",
            "2026-03-08",
            "--days",
            "1",
        ],
        &["period", "--json", "--person", "p1"],
        &["monitors", "list", "--json"],
        &["next", "--json", "--person", "p1", "--at", "2026-03-08T19:10"],
    ] {
        home.json(args).iter().for_each(|line| gather(line, &mut all));
    }
    let mut all: Vec<String> = all.into_iter().filter(|source| source.len() > 8).collect();
    all.sort_by_key(|source| std::cmp::Reverse(source.len()));
    all
}

/// What is written, on one line, without commands, sources, ids and the fields of the specification.
fn plain(text: &str, sources: &[String]) -> String {
    // `  7..14  ea07031a070e1b   time stamp`
    let field =
        |line: &&str| line.trim_start().starts_with(|c: char| c.is_ascii_digit()) && line.contains("..");
    let lines = text
        .lines()
        .filter(|line| !field(line))
        .map(|line| line.replacen("    - ", " ", 1));
    let words: Vec<String> = lines
        .flat_map(|line| line.split_whitespace().map(str::to_owned).collect::<Vec<_>>())
        .collect();
    let mut text = words.join(" ");
    for source in sources {
        text = text.replace(source, " ");
    }
    text.split('`').step_by(2).collect::<Vec<_>>().join(" ")
}

/// The words in Latin letters, without ids.
fn latin(text: &str) -> BTreeSet<String> {
    text.split(|c: char| !c.is_ascii_alphanumeric())
        .filter(|word| word.chars().any(|c| c.is_ascii_alphabetic()))
        .filter(|word| !(word.len() >= 8 && word.chars().all(|c| c.is_ascii_hexdigit())))
        // A session's id, and a moment of the wall clock such as 2026-03-08T07:02.
        .filter(|word| !word.chars().next().is_some_and(|c| c.is_ascii_digit()))
        .map(str::to_lowercase)
        .filter(|word| !NAMES.contains(&word.as_str()))
        .collect()
}

/// Sentences of the English catalogue without variables, of three words or more.
fn sentences() -> Vec<&'static str> {
    let messages = ENGLISH.lines().filter(|line| !line.starts_with('#'));
    let said = messages
        .filter_map(|line| line.split_once(" = "))
        .map(|(_, said)| said);
    said.filter(|said| !said.contains('{') && said.split(' ').count() >= 3)
        .collect()
}

#[test]
fn no_english_is_left_in_what_a_person_reads() {
    let home = home();
    listens(&home);
    std::fs::write(
        home.dir.path().join("quietcuff.toml"),
        "[clinic]\nserver = \"https://clinic.invalid/r4\"\npeople = [\"p1\"]\n[fhir.patients]\np1 = \"Patient/1\"\n",
    )
    .unwrap();
    let (sources, sentences) = (sources(&home), sentences());
    let mut sentences_of_english = 0;
    for command in commands(&home) {
        let args: Vec<&str> = command.iter().map(String::as_str).collect();
        let said = |tag: &str| {
            let text = home.text(&[&args[..], &["--language", tag]].concat());
            assert!(text.lines().count() > 0, "{args:?}");
            assert!(
                text.lines().all(|line| !line.ends_with(' ')),
                "blanks at an end of {args:?} in {tag}\n{text}"
            );
            plain(&text, &sources)
        };
        let english = said("en");
        let found = |text: &str| -> Vec<&str> {
            let there = sentences.iter().copied();
            there.filter(|sentence| text.contains(sentence)).collect()
        };
        sentences_of_english += found(&english).len();
        for language in Language::ALL {
            if language == Language::English {
                continue;
            }
            let text = said(language.tag());
            assert_ne!(text, english, "{args:?}");
            assert_eq!(found(&text), Vec::<&str>::new(), "{args:?} in {language:?}");
            if matches!(language, Language::Hindi | Language::Tamil) {
                assert_eq!(latin(&text), BTreeSet::new(), "{args:?} in {language:?}: {text}");
            }
        }
    }
    assert!(sentences_of_english > 60, "{sentences_of_english}");
}

/// What is to be found would be found.
#[test]
fn a_word_in_the_code_would_be_found() {
    let text = "  लक्ष्मी  127/82 mmHg counted  ea07031a070e1b\n   0..1   1e   flags\nस्रोत: A\n  source, `quietcuff next`";
    let left = latin(&plain(text, &["A source".to_owned()]));
    assert_eq!(left, BTreeSet::from(["counted".to_owned()]));
}

/// The configuration says it once, `--language` for this time; JSON is the same in each.
#[test]
fn the_household_chooses_and_whoever_asks() {
    let home = home();
    let lists: [&[&str]; 4] = [
        &["readings"],
        &["sessions"],
        &["period", "--person", "p1"],
        &["people", "list"],
    ];
    let ask = |more: &[&str]| lists.map(|args| home.text(&[args, more].concat()));
    let (english, german) = (ask(&[]), ask(&["--language", "de"]));
    let json = ask(&["--json"]);
    for args in lists {
        let both = [args, &["--json", "--language", "de"]].concat();
        home.fails(&both, USAGE, &["--language", "--json"]);
        let unknown = [args, &["--language", "tlh"]].concat();
        home.fails(&unknown, USAGE, &["the languages are en, hi, de, es, ta"]);
    }
    std::fs::write(
        home.dir.path().join("quietcuff.toml"),
        "[alerts]\nlanguage = \"de\"\n",
    )
    .unwrap();
    assert_eq!(ask(&[]), german);
    assert_eq!(ask(&["--language", "en"]), english);
    assert_eq!(ask(&["--json"]), json);
    home.text(&["period", "start", "--person", "p2", "--from", "2026-03-20"]);
    let told = home.run(&["period", "--person", "p2", "--from", "2026-03-20"]);
    assert!(
        told.code == 0
            && told
                .err
                .contains("hat vom 20. März 2026 bis 26. März 2026 keine Messung"),
        "{told:?}"
    );
    let empty = home.run(&["readings", "--from", "2030-01-01"]);
    assert!(empty.err.contains("es gibt keine solche Messung"), "{empty:?}");
}

/// Names of any script stand in columns: the mark of what became of a reading is as far to the right in each row.
#[test]
fn columns_stand_below_each_other() {
    let home = home();
    for label in ["Zeta", "लक्ष्मी अम्मा", "முத்துலட்சுமி அம்மா", "李小龙", "ليلى"]
    {
        home.text(&["people", "edit", "p1", "--label", label]);
        for tag in ["en", "hi", "de", "es", "ta"] {
            let text = home.text(&["readings", "--language", tag]);
            let rows = text.lines().filter(|line| line.contains(label));
            let places: BTreeSet<usize> = rows
                .map(|row| {
                    let at = row.find(['●', '○', '⊘']).unwrap();
                    row[..at].width()
                })
                .collect();
            assert_eq!(places.len(), 1, "{label} in {tag}\n{text}");
            let text = home.text(&["period", "--person", "p1", "--language", tag]);
            let averages = text.lines().skip_while(|line| !line.contains("mmHg")).skip(1);
            let ends: BTreeSet<usize> = averages
                .take_while(|line| line.contains('/') && !line.contains('%'))
                .map(UnicodeWidthStr::width)
                .collect();
            assert_eq!(ends.len(), 1, "{label} in {tag}\n{text}");
            assert!(text.lines().all(|line| line.width() <= 80), "{text}");
        }
    }
}
