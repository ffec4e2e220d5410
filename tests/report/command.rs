//! What `quietcuff report` says of a period, and of what cannot be done. Read as HTML, which needs no reader.

use crate::harness::replayed::{DATA, Home, USAGE, cuff, live, week};
use crate::report::readers::{demonstration, report, text};
use std::fs;
use std::os::unix::fs::PermissionsExt;

const CANNOT_CREATE: i32 = 73;

fn a_week() -> Home {
    let home = Home::new();
    home.replay(&week(), &["--person", "p1"]);
    home
}

fn page(home: &Home, arguments: &[&str]) -> String {
    fs::read_to_string(report(home, "page.html", arguments)).unwrap()
}

fn says(page: &str, words: &[&str]) {
    for words in words {
        assert!(page.contains(words), "no {words:?} in {page}");
    }
}

fn says_not(page: &str, words: &[&str]) {
    for words in words {
        assert!(!page.contains(words), "{words:?} in {page}");
    }
}

/// The contract's own week: 3761 ÷ 28 and 2429 ÷ 28, without the first day 3250 ÷ 24 and 2101 ÷ 24.
#[test]
fn the_contracts_week() {
    let page = page(&a_week(), &[]);
    says(
        &page,
        &[
            "<p class=\"large\">134.3/86.8 mmHg</p>",
            "Average of 28 readings on 7 days",
            "135.4/87.5",
            "At or above the threshold of 135/85 mmHg in diastolic.",
            "14 of 14 sessions. 28 readings: 28 counted, 0 of them marked; 0 set aside.",
            "None was.",
            "Only a clinician can say what it means.",
        ],
    );
}

#[test]
fn too_few_readings_give_no_average() {
    let home = Home::new();
    home.replay(&week()[..4], &["--person", "p1"]);
    let page = page(&home, &[]);
    says(
        &page,
        &[
            "<p class=\"large\">No average</p>",
            "Not enough readings for an average (4 of 12 readings, 1 of 3 days).",
            "Mornings: no mean, too few readings",
            "The threshold would be 135/85 mmHg.",
            "All readings",
            ">127/82</td>",
        ],
    );
    says_not(
        &page,
        &[
            "Averages in mmHg",
            "How the readings vary",
            "class=\"heavy\"",
            "Average of",
            "At or above",
            "Below the",
        ],
    );
}

#[test]
fn where_labels_are_off_there_is_no_threshold() {
    let home = a_week();
    home.text(&["people", "edit", "p1", "--condition", "pregnancy"]);
    let page = page(&home, &[]);
    says(&page, &["No threshold is applied: pregnancy", "134.3/86.8 mmHg"]);
    says_not(
        &page,
        &[
            "class=\"dashed\"",
            "At or above",
            "the chance that",
            "135 threshold",
        ],
    );
}

#[test]
fn the_clinics_own_threshold_is_named_as_its_own() {
    let home = a_week();
    home.text(&["people", "edit", "p1", "--threshold", "140/90"]);
    let page = page(&home, &[]);
    says(
        &page,
        &[
            "Below the threshold of 140/90 mmHg. Threshold: set by the person&#39;s clinic.",
            "140 threshold",
        ],
    );
}

#[test]
fn a_dropped_first_day_is_listed_and_said() {
    let page = page(&a_week(), &["--protocol", "nice-ng136"]);
    assert_eq!(page.matches("counted, left out by the protocol").count(), 4);
    let first = page.find("By the protocol, without the first day").unwrap();
    assert!(first < page.find("Of all days").unwrap());
    says(&page, &["<p class=\"large\">135.4/87.5 mmHg</p>"]);
}

/// 3779 ÷ 28 = 134.9643, which is printed as 135.0.
#[test]
fn what_is_rounded_to_the_threshold_is_said_to_be_below_it() {
    let home = Home::new();
    let lines: Vec<String> = (0..28)
        .map(|n| {
            let (day, slot, nth) = (1 + n / 4, n / 2 % 2, n % 2);
            let civil = format!("2026-03-{day:02}T{:02}:{:02}:11", 7 + 13 * slot, 2 + 2 * nth);
            live(&civil, day * 2 + slot, cuff(if n == 9 { 134 } else { 135 }, 80))
        })
        .collect();
    home.replay(&lines, &["--person", "p1"]);
    says(
        &page(&home, &[]),
        &[
            "135.0/80.0 mmHg",
            "Below the threshold of 135/85 mmHg.",
            "The exact systolic average is 134.9643, below 135.",
        ],
    );
}

#[test]
fn what_cannot_wait_and_what_was_noted_is_in_it() {
    let home = a_week();
    home.replay(
        &[live("2026-03-08T07:02:11", 90, cuff(192, 121))],
        &["--person", "p1"],
    );
    home.text(&[
        "note",
        "add",
        "medicine-changed",
        "invented, 5 mg",
        "--person",
        "p1",
        "--at",
        "2026-03-04T12:00:00+01:00",
    ]);
    let page = page(&home, &["--from", "2026-03-02"]);
    says(
        &page,
        &[
            "<p class=\"notice\">Very high on 8 March 2026",
            "Medicine changed: invented, 5 mg",
            "192/121",
        ],
    );
}

#[test]
fn the_monitor_and_its_clock_are_told() {
    let page = page(&demonstration(), &["--person", "p1"]);
    says(
        &page,
        &[
            "nobody has stated one",
            "on the upper arm",
            "INVENTED-0001",
            "none noted",
            "held against the monitor&#39;s own clock",
            "59 min 14 s slow",
        ],
    );
}

#[test]
fn its_ending_says_what_to_write() {
    let home = a_week();
    for name in ["report.txt", "report", ".pdf", "pdf"] {
        let path = home.dir.path().join(name);
        home.fails(
            &["report", "--output", text(&path)],
            USAGE,
            &["neither in .html nor in .pdf"],
        );
        assert!(!path.exists());
    }
    assert!(
        fs::read(report(&home, "REPORT.PDF", &[]))
            .unwrap()
            .starts_with(b"%PDF-1.")
    );
}

#[test]
fn nothing_is_left_where_it_cannot_be_written() {
    let home = a_week();
    let nowhere = home.dir.path().join("nowhere/a.html");
    home.fails(
        &["report", "--output", text(&nowhere)],
        CANNOT_CREATE,
        &["nowhere/a.html", "name a file"],
    );
    let directory = home.dir.path().join("directory.pdf");
    fs::create_dir(&directory).unwrap();
    home.fails(
        &["report", "--output", text(&directory)],
        CANNOT_CREATE,
        &["directory.pdf"],
    );
    let mut left: Vec<String> = fs::read_dir(home.dir.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    left.sort();
    assert_eq!(left, ["directory.pdf", "frames.jsonl", "quietcuff.toml", "state"]);
}

/// A report replaces an older one whole, and only its owner may read it.
#[test]
fn a_new_one_takes_the_place_of_the_old() {
    let home = a_week();
    let path = home.dir.path().join("a.html");
    fs::write(&path, "the old one").unwrap();
    report(&home, "a.html", &[]);
    assert!(fs::read_to_string(&path).unwrap().ends_with("</html>\n"));
    assert_eq!(fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o600);
}

#[test]
fn nobody_and_no_days_are_errors_without_a_file() {
    let home = a_week();
    let path = home.dir.path().join("a.html");
    let output = text(&path);
    home.fails(
        &["report", "--person", "p9", "--output", output],
        USAGE,
        &["nobody is called p9"],
    );
    home.fails(
        &["report", "--protocol", "sevendays", "--output", output],
        USAGE,
        &["sevendays"],
    );
    home.fails(
        &["report", "--from", "2020-01-01", "--output", output],
        DATA,
        &["p1 has no reading"],
    );
    assert!(!path.exists());
}

/// Before the sheet is turned: who noted what, the clinic's readings, those of the weeks before too, the period before,
/// what was measured with, and by which program it was made. What is none is said to be none.
#[test]
fn the_first_sheet_has_what_decides_beside_the_average() {
    let home = a_week();
    let first = |arguments: &[&str]| {
        let page = page(&home, arguments);
        page.split("<div class=\"sheet\">").next().unwrap().to_owned()
    };
    says(
        &first(&["--from", "2026-03-01"]),
        &[
            "No symptom and no change of medicine was noted in these days.",
            "No reading at the clinic was noted, in the eight weeks before either.",
            "There is no period before this one.",
            "(where it is worn not stated; no validation stated; cuff size not stated)",
            "on an arm that nobody has stated, its girth not stated.",
        ],
    );
    let noted = |what: &[&str], day: &str| {
        let at = format!("{day}T10:00:00+01:00");
        home.text(&[&["note", "add"], what, &["--person", "p1", "--at", &at]].concat());
    };
    noted(&["symptoms", "dizziness"], "2026-03-05");
    noted(&["medicine-changed", "half a tablet"], "2026-03-06");
    noted(&["clinic-reading", "142/91"], "2026-03-04");
    noted(&["clinic-reading", "151/93"], "2026-02-10");
    noted(&["clinic-reading", "163/99"], "2025-12-01");
    home.text(&["people", "edit", "p1", "--arm", "left", "--arm-cm", "31"]);
    home.text(&[
        "period",
        "start",
        "--person",
        "p1",
        "--from",
        "2026-03-01",
        "--days",
        "3",
    ]);
    let later = first(&["--from", "2026-03-04", "--days", "4"]);
    says(
        &later,
        &[
            "Symptoms: dizziness on 5 March 2026. Medicine: half a tablet on 6 March 2026.",
            "At the clinic: 151/93 mmHg on 10 February 2026, 142/91 mmHg on 4 March 2026.",
            "The period before (1 March to 3 March 2026, by seven-day):",
            "on the left arm, 31 cm around.",
        ],
    );
    says_not(&later, &["163/99"]);
    // Its average is the one that the command line gives of those days.
    let before = home.object(&["period", "--json", "--from", "2026-03-01", "--days", "3"]);
    let exact = |what: &str| before["average"][what].as_f64().unwrap();
    let average = format!(
        "{:.1}/{:.1} mmHg, of {} readings",
        exact("systolic"),
        exact("diastolic"),
        before["average"]["n"]
    );
    says(&later, &[&average]);
    // CSS writes what is no letter by its number.
    let version = env!("CARGO_PKG_VERSION").replace('.', "\\2e ");
    assert!(later.contains(&format!("quietcuff {version}")), "{later}");
}

/// The cells of the row that begins so.
fn row<'a>(page: &'a str, name: &str) -> Vec<&'a str> {
    let row = page
        .lines()
        .find(|line| line.contains(&format!(">{name}</th>")))
        .unwrap();
    let cells = row.split("</td>").filter_map(|cell| cell.rsplit('>').next());
    cells.filter(|cell| !cell.is_empty()).collect()
}

/// Two readings each morning of seven days: then the interval is the ordinary one of the seven means of a day, with six
/// degrees of freedom, which is worked out here by itself. The quantile 2.4469 is Student's table's.
#[test]
fn mornings_and_evenings_have_their_intervals() {
    let home = a_week();
    let page = page(&home, &[]);
    let readings = home.json(&["readings", "--json", "--person", "p1"]);
    for (name, hours) in [("Mornings", 0..12), ("Evenings", 12..24)] {
        let mut days = std::collections::BTreeMap::<String, Vec<[f64; 2]>>::new();
        for reading in &readings {
            let at = reading["measured_at"].as_str().unwrap();
            if hours.contains(&at[11..13].parse::<i32>().unwrap()) {
                let values = ["systolic", "diastolic"].map(|what| reading[what].as_f64().unwrap());
                days.entry(at[..10].to_owned()).or_default().push(values);
            }
        }
        assert_eq!(days.len(), 7);
        let cells = row(&page, name);
        for (place, cell) in [(0, cells[1]), (1, cells[2])] {
            let means: Vec<f64> = days
                .values()
                .map(|readings| readings.iter().map(|values| values[place]).sum::<f64>() / 2.0)
                .collect();
            let mean = means.iter().sum::<f64>() / 7.0;
            let variance = means.iter().map(|day| (day - mean).powi(2)).sum::<f64>() / 6.0;
            let reach = 2.4469 * (variance / 7.0).sqrt();
            let range = format!("{:.0} to {:.0}", (mean - reach).floor(), (mean + reach).ceil());
            assert_eq!(cell, range, "{name} {cells:?}");
        }
    }
}

/// As the clinic tells people apart: the whole date of birth and the number of the record, where the household gave
/// them.
#[test]
fn whose_it_is_stands_as_the_clinic_needs_it() {
    let home = a_week();
    home.text(&["people", "edit", "p1", "--born", "1951"]);
    says(&page(&home, &[]), &[", born 1951."]);
    home.text(&[
        "people",
        "edit",
        "p1",
        "--born",
        "1951-03-24",
        "--record-number",
        " A 12/7 ",
    ]);
    says(
        &page(&home, &[]),
        &[", born 24 March 1951, record number A 12/7."],
    );
    let listed = home.object(&["people", "list", "--json"]);
    assert_eq!(
        (&listed["born"], &listed["born_on"], &listed["record_number"]),
        (&1951.into(), &"1951-03-24".into(), &"A 12/7".into())
    );
    let bundle: serde_json::Value = serde_json::from_str(&home.text(&["export", "fhir"])).unwrap();
    let patient = bundle["entry"]
        .as_array()
        .unwrap()
        .iter()
        .map(|entry| &entry["resource"])
        .find(|resource| resource["resourceType"] == "Patient")
        .unwrap();
    assert_eq!(patient["birthDate"], "1951-03-24");
    assert_eq!(patient["identifier"][1]["value"], "A 12/7");
    assert_eq!(patient["identifier"][1]["type"]["coding"][0]["code"], "MR");
    home.fails(
        &["people", "edit", "p1", "--born", "2951-03-24"],
        USAGE,
        &["1900"],
    );
    home.fails(
        &["people", "edit", "p1", "--record-number", ""],
        USAGE,
        &["1 to 80 visible"],
    );
    // Another year is another day; taken back, neither is known.
    home.text(&["people", "edit", "p1", "--born", "1952"]);
    says(&page(&home, &[]), &[", born 1952, record number"]);
    home.text(&[
        "people",
        "edit",
        "p1",
        "--clear",
        "born",
        "--clear",
        "record-number",
    ]);
    says_not(&page(&home, &[]), &["born", "record number"]);
}
