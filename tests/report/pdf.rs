//! The PDF as poppler and qpdf read it.

use crate::harness::left_out::in_a_hurry;
use crate::harness::replayed::{Home, cuff, live};
use crate::report::readers::{demonstration, listed, read_by, report, text, text_by, without};
use quietcuff::words::Language;
use std::path::Path;

/// The left edge of the text and its width, in points.
const EDGES: (f64, f64) = (57.0, 57.0 + 496.0);

#[test]
fn the_first_sheet_says_what_a_physician_needs() {
    if without() {
        return;
    }
    let home = demonstration();
    let period = home.object(&["period", "--json", "--person", "p1"]);
    let number = |path: &str| period.pointer(path).unwrap().as_f64().unwrap();
    let over = |of: &str| {
        format!(
            "{:.1}/{:.1}",
            number(&format!("/{of}/systolic")),
            number(&format!("/{of}/diastolic"))
        )
    };
    for paper in ["a4", "letter"] {
        let path = report(
            &home,
            &format!("{paper}.pdf"),
            &["--person", "p1", "--paper", paper],
        );
        let first = text_by("pdftotext", &["-f", "1", "-l", "1", "-layout", text(&path), "-"]);
        for words in [
            "Home blood pressure of Invented person A".to_owned(),
            "23 March to 29 March 2026".to_owned(),
            "Seven days, morning and evening (seven-day)".to_owned(),
            format!("{} mmHg", over("average")),
            format!("Average of {} readings on 7 days", number("/average/n")),
            over("average_without_first_day"),
            over("morning"),
            over("evening"),
            "threshold of 135/85 mmHg".to_owned(),
            "ESC 2024 table 5".to_owned(),
            "135 threshold".to_owned(),
            format!(
                "{} counted, {} of them marked",
                number("/readings/counted"),
                number("/readings/marked")
            ),
            format!("{} set aside", number("/readings/set_aside")),
            "not a diagnosis".to_owned(),
            "Sheet 1 of".to_owned(),
        ] {
            assert!(first.contains(&words), "{paper}: no {words:?} in {first}");
        }
        detail_begins_on_the_second_sheet(&path, paper);
    }
}

fn sheet(path: &Path, number: &str) -> String {
    text_by(
        "pdftotext",
        &["-f", number, "-l", number, "-layout", text(path), "-"],
    )
}

/// The first one did not run over.
fn detail_begins_on_the_second_sheet(path: &Path, paper: &str) {
    let second = sheet(path, "2");
    let lines = second.lines().map(str::trim);
    let begins = lines.filter(|line| !line.is_empty()).nth(1);
    assert_eq!(begins, Some("Mornings and evenings"), "{paper}");
}

/// Symptoms, a change of medicine and the clinic's readings stand on the first sheet, and it does not run over either.
#[test]
fn the_first_sheet_holds_what_was_noted() {
    if without() {
        return;
    }
    let home = demonstration();
    for (what, day) in [
        (&["symptoms", "dizziness"][..], "2026-03-25"),
        (&["medicine-changed"], "2026-03-28"),
        (&["clinic-reading", "142/91"], "2026-03-10"),
    ] {
        let at = format!("{day}T10:00");
        home.text(&[&["note", "add"], what, &["--person", "p1", "--at", &at]].concat());
    }
    for paper in ["a4", "letter"] {
        let path = report(&home, "week.pdf", &["--person", "p1", "--paper", paper]);
        let first = sheet(&path, "1").split_whitespace().collect::<Vec<_>>().join(" ");
        for words in [
            "Medicine was changed within these days, on 28 March 2026",
            "Medicine: changed on 28 March 2026",
            "Symptoms: dizziness on 25 March 2026",
            "At the clinic: 142/91 mmHg on 10 March 2026",
            "Measured with",
            concat!("quietcuff ", env!("CARGO_PKG_VERSION")),
        ] {
            assert!(first.contains(words), "{paper}: no {words:?} in {first}");
        }
        detail_begins_on_the_second_sheet(&path, paper);
    }
}

/// A first sheet with more on it than usual is set closer, in each language that needs no font of the machine; the detail
/// stays as it was.
#[test]
fn a_crowded_first_sheet_is_set_closer() {
    if without() {
        return;
    }
    let home = demonstration();
    let before = report(&home, "before.pdf", &["--person", "p1"]);
    for day in 24..=26 {
        let at = format!("2026-03-{day}T10:00");
        for what in [&["symptoms", "dizziness"][..], &["clinic-reading", "142/91"]] {
            home.text(&[&["note", "add"], what, &["--person", "p1", "--at", &at]].concat());
        }
    }
    home.text(&[
        "note",
        "add",
        "medicine-changed",
        "Zeta 5 mg",
        "--person",
        "p1",
        "--at",
        "2026-03-28T10:00",
    ]);
    home.text(&[
        "people",
        "edit",
        "p1",
        "--target",
        "130/80",
        "--target-by",
        "an invented clinic",
    ]);
    for language in ["en", "de", "es"] {
        for paper in ["a4", "letter"] {
            let arguments = ["--person", "p1", "--paper", paper, "--language", language];
            let path = report(&home, "crowded.pdf", &arguments);
            let second = sheet(&path, "2");
            let begins = second
                .lines()
                .map(str::trim)
                .filter(|line| !line.is_empty())
                .nth(1);
            let words = Language::of_tag(language).unwrap().words();
            let heading = words.say("sheet-mornings-and-evenings");
            assert_eq!(begins, Some(heading.as_str()), "{language} on {paper}");
        }
    }
    let crowded = report(&home, "crowded.pdf", &["--person", "p1"]);
    let sizes = |path: &Path| {
        let all = text_by(
            "pdftotext",
            &["-bbox-layout", "-f", "1", "-l", "1", text(path), "-"],
        );
        let high = all.split("<line ").skip(1).filter_map(|line| {
            let place = |name: &str| line.split(name).nth(1)?.split('"').next()?.parse::<f64>().ok();
            Some(place("yMax=\"")? - place("yMin=\"")?)
        });
        high.fold(f64::MAX, f64::min)
    };
    // Never below the letters that stand in the margin already.
    assert!(
        sizes(&crowded) >= sizes(&before) - 0.01,
        "{} {}",
        sizes(&crowded),
        sizes(&before)
    );
}

/// Each line of the table against the list of the command line, in the same order.
#[test]
fn every_reading_is_in_it_with_what_became_of_it() {
    if without() {
        return;
    }
    let home = demonstration();
    let path = report(&home, "a.pdf", &["--person", "p1"]);
    let all = text_by("pdftotext", &["-layout", text(&path), "-"]);
    let mut lines = all.lines();
    let listed = listed(&home);
    assert_eq!(listed.len(), 31);
    for reading in &listed {
        assert!(
            lines.any(|line| reading.iter().all(|part| line.contains(part.as_str()))),
            "no line with {reading:?} at its place in {all}"
        );
    }
}

/// Tagged, titled, of the paper that was asked for; every table with heads that say what they head.
#[test]
fn its_structure_is_told() {
    if without() {
        return;
    }
    let home = demonstration();
    let path = report(&home, "a.pdf", &["--person", "p1", "--paper", "letter"]);
    let about = text_by("pdfinfo", &[text(&path)]);
    for fact in [
        ("Title:", "Home blood pressure of Invented person A"),
        ("Tagged:", "yes"),
        ("Page size:", "612 x 792 pts (letter)"),
        ("JavaScript:", "no"),
    ] {
        let line = about.lines().find(|line| line.starts_with(fact.0)).unwrap();
        assert!(line.contains(fact.1), "{line}");
    }
    let structure = text_by("pdfinfo", &["-struct-text", text(&path)]);
    let of = |role: &str| {
        structure
            .lines()
            .filter(|line| line.trim_start().split([' ', ':']).next() == Some(role))
            .count()
    };
    assert_eq!(of("H1"), 1);
    assert_eq!(of("Figure"), 3, "{structure}");
    assert!(of("Table") >= 7 && of("Table") == of("Caption") && of("Table") == of("THead"));
    assert_eq!(structure.matches("/Scope /Row").count() + of("Table"), of("TR"));
    // In reading order: what is read first comes first.
    let mut from = 0;
    for words in [
        "Home blood pressure of",
        "mmHg",
        "Average of 28",
        "Mornings and evenings",
        "All readings",
        "The monitor",
        "To bear in mind",
    ] {
        from += structure[from..]
            .find(words)
            .unwrap_or_else(|| panic!("no {words} behind the last"));
    }
}

/// qpdf reads every object, stream and cross-reference.
#[test]
fn its_objects_are_sound() {
    if without() {
        return;
    }
    let home = demonstration();
    let said = text_by(
        "qpdf",
        &["--check", text(&report(&home, "a.pdf", &["--person", "p2"]))],
    );
    assert!(said.contains("No syntax or stream encoding errors"), "{said}");
}

/// poppler takes the widths from the faces in the file. What was set flush right by ours ends there by theirs too.
#[test]
fn letters_are_as_wide_as_poppler_has_them() {
    if without() {
        return;
    }
    let home = demonstration();
    let path = report(&home, "a.pdf", &["--person", "p1"]);
    let boxes = text_by("pdftotext", &["-bbox", text(&path), "-"]);
    let (mut sheets, mut values, mut pages, mut before) = (Vec::new(), Vec::new(), 0, "");
    for line in boxes.lines().map(str::trim) {
        pages += usize::from(line.starts_with("<page "));
        let Some((_, behind)) = line.split_once("xMax=\"") else {
            continue;
        };
        let right: f64 = behind.split('"').next().unwrap().parse().unwrap();
        let word = behind.split(['>', '<']).nth(1).unwrap();
        if before == "of" && word == pages_of(&boxes) {
            sheets.push(right);
        }
        let is_reading =
            pages >= 3 && word.len() >= 5 && word.chars().all(|c| c.is_ascii_digit() || c == '/');
        if is_reading && word.contains('/') && word != "135/85" {
            values.push(right);
        }
        before = word;
    }
    assert_eq!(sheets.len(), pages);
    for right in sheets {
        assert!((right - EDGES.1).abs() < 0.2, "{right}");
    }
    assert!(values.len() >= 31, "{values:?}");
    for right in &values {
        assert!((right - values[0]).abs() < 0.2, "{values:?}");
    }
}

fn pages_of(boxes: &str) -> String {
    boxes.matches("<page ").count().to_string()
}

/// Rendered in grey, the plot has ink where its readings are, and none where nothing is.
#[test]
fn the_plot_is_drawn() {
    if without() {
        return;
    }
    let home = demonstration();
    let path = report(&home, "a.pdf", &["--person", "p1"]);
    let picture = read_by(
        "pdftoppm",
        &["-r", "72", "-f", "1", "-l", "1", "-gray", text(&path)],
    );
    let (wide, grey) = pgm(&picture);
    let dark = |from_y: usize, to_y: usize| {
        let rows = grey.chunks(wide).take(to_y).skip(from_y);
        let dots: Vec<u8> = rows.flat_map(|row| row[60..480].to_vec()).collect();
        dots.iter().filter(|grey| **grey < 100).count() as f64 / dots.len() as f64
    };
    let (plot, foot) = (dark(345, 505), dark(720, 800));
    assert!((0.005..0.2).contains(&plot), "{plot}");
    assert!(foot < 0.001, "{foot}");
}

/// The width of a picture as `pdftoppm` writes it, and its dots.
pub(crate) fn pgm(octets: &[u8]) -> (usize, &[u8]) {
    let mut words = octets.splitn(5, u8::is_ascii_whitespace);
    assert_eq!(words.next(), Some(b"P5".as_slice()));
    let wide = std::str::from_utf8(words.next().unwrap())
        .unwrap()
        .parse()
        .unwrap();
    (wide, words.nth(2).unwrap())
}

/// Seventy days, four readings on each.
fn seventy_days() -> Home {
    let home = Home::new();
    let first = jiff::civil::date(2026, 1, 1);
    let lines: Vec<String> = (0..70)
        .flat_map(|day| {
            let date = first.checked_add(jiff::Span::new().days(day)).unwrap();
            let connection = u32::try_from(day).unwrap() * 2 + 1;
            // Each month of its own, so that the means differ.
            let systolic = 130 + u16::try_from(date.month()).unwrap();
            [("07:02:11", 0), ("07:04:11", 0), ("20:02:11", 1), ("20:04:11", 1)]
                .map(|(time, slot)| live(&format!("{date}T{time}"), connection + slot, cuff(systolic, 81)))
        })
        .collect();
    home.replay(&lines, &["--person", "p1"]);
    home
}

const SEVENTY: [&str; 4] = ["--from", "2026-01-01", "--days", "70"];

/// More than one sheet holds: the heads of the table come again, the tags do not.
#[test]
fn a_long_list_goes_over_many_sheets() {
    if in_a_hurry("a long list on many sheets") {
        return;
    }
    if without() {
        return;
    }
    let home = seventy_days();
    let path = report(&home, "a.pdf", &[&SEVENTY[..], &["--readings"]].concat());
    let all = text_by("pdftotext", &["-layout", text(&path), "-"]);
    assert_eq!(all.matches("131/81").count(), 31 * 4);
    assert_eq!(all.matches("132/81").count(), 28 * 4);
    assert!(all.matches("Disposition").count() >= 5, "{all}");
    let structure = text_by("pdfinfo", &["-struct-text", text(&path)]);
    assert_eq!(structure.matches("Disposition").count(), 1);
    let about = text_by("pdfinfo", &[text(&path)]);
    let pages = about
        .lines()
        .find_map(|line| line.strip_prefix("Pages:"))
        .unwrap()
        .trim();
    assert!(all.contains(&format!("Sheet {pages} of {pages}")));
}

/// Weeks in place of single readings, as a picture and as a table; the readings are counted, and how to have them is
/// said.
#[test]
fn a_long_period_is_drawn_in_weeks() {
    if without() {
        return;
    }
    let home = seventy_days();
    let path = report(&home, "a.pdf", &SEVENTY);
    let first = sheet(&path, "1");
    for words in [
        "mean of a week, lowest to highest",
        "Each point is the mean of a week",
    ] {
        assert!(first.contains(words), "no {words:?} in {first}");
    }
    let all = text_by("pdftotext", &["-layout", text(&path), "-"]);
    for words in [
        "280 readings of so many days are not listed one by one",
        "quietcuff report --readings",
        // Thursday to Saturday of January, and Sunday of February in their week: 24 of 131 and 4 of 132.
        "Week of 26 Jan 2026",
    ] {
        assert!(all.contains(words), "no {words:?} in {all}");
    }
    let row = all.lines().find(|line| line.contains("Week of 26 Jan")).unwrap();
    let cells: Vec<&str> = row.split_whitespace().skip(5).collect();
    assert_eq!(
        cells,
        ["131.1/81.0", "131", "to", "132", "81", "to", "81", "28", "7"]
    );
    assert!(!all.contains("131/81 "), "{all}");
}
