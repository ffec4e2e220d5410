//! The sheet in each language: nothing English is left over in it, and no sentence of it stands outside the catalogues.
//!
//! The second is asked of a language that nobody speaks: the English catalogue with each message in brackets. What
//! stands outside brackets is a name, a number, a source, or a sentence that somebody wrote into the code.

use crate::harness::left_out::{in_a_hurry, there};
use crate::harness::replayed::{DATA, Home, USAGE};
use crate::report::accessible::checked;
use crate::report::readers::{demonstration, report, text, text_by, without};
use jiff::Timestamp;
use quietcuff::journal::Journal;
use quietcuff::snapshot::period::{Asked, find};
use quietcuff::words::{Language, Words};
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

const ENGLISH: &str = include_str!("../../src/words/en.ftl");

/// Faces of Debian's fonts-lohit-deva and fonts-lohit-taml.
const FACES: [&str; 2] = [
    "/usr/share/fonts/truetype/lohit-devanagari/Lohit-Devanagari.ttf",
    "/usr/share/fonts/truetype/lohit-tamil/Lohit-Tamil.ttf",
];

/// A household of which there is much to say.
fn eventful() -> Home {
    let home = demonstration();
    let on = |what: &[&str], at: &str| {
        home.text(&[&["note", "add"], what, &["--person", "p1", "--at", at]].concat());
    };
    on(&["symptoms", "chest-pain"], "2026-03-24T10:00");
    on(&["medicine-changed", "zeta"], "2026-03-25T10:00");
    on(&["clinic-reading", "150/95"], "2026-03-26T10:00");
    on(&["coffee"], "2026-03-27T06:50");
    on(&["posture", "legs-crossed"], "2026-03-27T06:55");
    home.text(&[
        "note",
        "add",
        "monitor-dropped",
        "--monitor",
        "m1",
        "--at",
        "2026-03-23T12:00",
    ]);
    home.text(&["people", "edit", "p1", "--label", "Zeta", "--target", "130/80"]);
    home
}

/// The periods that are printed: a week, and more days than are drawn one by one.
const PERIODS: [&[&str]; 2] = [&[], &["--from", "2026-02-01", "--days", "57"]];

fn printed(home: &Home, name: &str, period: &[&str], language: &str) -> String {
    let arguments = [period, &["--person", "p1", "--language", language]].concat();
    fs::read_to_string(report(home, name, &arguments)).unwrap()
}

/// Sentences of the English catalogue without variables, of three words or more.
fn sentences() -> Vec<&'static str> {
    let said = ENGLISH
        .lines()
        .filter(|line| !line.starts_with('#'))
        .filter_map(|line| line.split_once(" = "))
        .map(|(_, said)| said)
        .filter(|said| !said.contains('{') && said.split(' ').count() >= 3);
    said.collect()
}

#[test]
fn nothing_english_is_left_over() {
    let home = eventful();
    let sentences = sentences();
    for period in PERIODS {
        let english = printed(&home, "en.html", period, "en");
        let found = |page: &str| -> Vec<&str> {
            let page = page.replace("&#39;", "'");
            sentences
                .iter()
                .copied()
                .filter(|said| page.contains(said))
                .collect()
        };
        assert!(found(&english).len() > 60, "{:?}", found(&english));
        for language in Language::ALL
            .into_iter()
            .filter(|language| *language != Language::English)
        {
            let page = printed(&home, "other.html", period, language.tag());
            assert_eq!(found(&page), Vec::<&str>::new(), "{language:?}");
            assert!(page.contains(&format!("<html lang=\"{}\">", language.tag())));
            let words = language.words();
            assert_eq!(page.contains(&words.say("unreviewed")), !language.is_reviewed());
            // As many numbers as in English, whatever stands between them.
            let cells = |page: &str| page.matches("<td").count();
            assert_eq!(cells(&page), cells(&english), "{language:?}");
        }
    }
}

/// The English catalogue with each message in brackets.
fn bracketed() -> String {
    let mut out = String::new();
    let mut last: Option<String> = None;
    for line in ENGLISH.lines() {
        let begins = line
            .split_once(" = ")
            .filter(|_| !line.starts_with([' ', '}', '#']));
        match begins {
            Some((name, said)) => {
                close(&mut out, last.replace(String::new()));
                let bracket = if name == "decimal-mark" { "" } else { "\u{27e6}" };
                last = Some(format!("{name} = {bracket}{said}"));
            }
            None if line.starts_with('#') || line.is_empty() => {
                close(&mut out, last.take());
                out += line;
                out.push('\n');
            }
            None => {
                let before = last.get_or_insert_default();
                before.push('\n');
                before.push_str(line);
            }
        }
    }
    close(&mut out, last);
    out
}

fn close(out: &mut String, message: Option<String>) {
    if let Some(message) = message.filter(|message| !message.is_empty()) {
        out.push_str(&message);
        if !message.starts_with("decimal-mark") {
            out.push('\u{27e7}');
        }
        out.push('\n');
    }
}

/// What stands outside all brackets.
fn outside(text: &str) -> String {
    let (mut depth, mut out) = (0_usize, String::new());
    for c in text.chars() {
        match c {
            '\u{27e6}' => depth += 1,
            '\u{27e7}' => depth = depth.checked_sub(1).expect("a bracket that nobody opened"),
            c if depth == 0 => out.push(c),
            _ => {}
        }
    }
    assert_eq!(depth, 0);
    out
}

/// What is printed of a page: without tags, style and what a tag says of itself.
fn seen(page: &str) -> String {
    let body = page.split("<main>").nth(1).unwrap();
    let mut inside = false;
    let plain: String = body
        .chars()
        .map(|c| {
            inside = c == '<' || inside && c != '>';
            if inside || c == '>' { ' ' } else { c }
        })
        .collect();
    plain
        .replace("&#39;", "'")
        .replace("&quot;", "\"")
        .replace("&amp;", "&")
}

/// The page without the last cell of each row where that is a source.
fn without_sources(page: &str) -> String {
    let tables = page.split("</table>").map(|part| {
        if !part.contains("\u{27e6}Source\u{27e7}</th></tr></thead>") {
            return part.to_owned();
        }
        let rows = part.split("</tr>").map(|row| match row.rfind("<td") {
            Some(at) => row[..at].to_owned(),
            None => row.to_owned(),
        });
        rows.collect::<Vec<_>>().join("</tr>")
    });
    tables.collect::<Vec<_>>().join("</table>")
}

#[test]
fn every_sentence_comes_from_the_catalogue() {
    let home = eventful();
    let words: &'static Words = Box::leak(Box::new(Words::read(Language::English, &bracketed())));
    assert_eq!(words.say("counted"), "\u{27e6}counted\u{27e7}");
    let mut journal = Journal::read(&home.state()).unwrap();
    let stated = journal.stated().unwrap();
    let person = stated.household.people.keys().next().unwrap().clone();
    // Names of people, monitors, units, programs and protocols, and what somebody wrote.
    let names = ["mmhg", "quietcuff", "p1", "m1", "zeta", "invented", "cuff"];
    for (from, days) in [(None, None), (Some("2026-02-01".parse().unwrap()), Some(57))] {
        let asked = Asked {
            protocol: None,
            from,
            days,
        };
        let now = Timestamp::now();
        let found = find(&mut journal, &stated, &person, &asked, now).unwrap();
        let mut report = found.report(now).unwrap();
        report.words = words;
        let page = report.html();
        let left = outside(&seen(&without_sources(&page))).replace(&found.protocol.citation, " ");
        let left: BTreeSet<String> = left
            .split(|c: char| !c.is_alphanumeric())
            .filter(|word| word.chars().any(char::is_alphabetic))
            .map(str::to_lowercase)
            .filter(|word| !names.contains(&word.as_str()))
            .collect();
        assert!(left.is_empty(), "{left:?}");
        // What a drawing says to those who do not see it, and a table to a screen reader.
        for label in page.split("aria-label=\"").skip(1) {
            let label = label.split('"').next().unwrap();
            assert!(outside(label).trim().is_empty(), "{label}");
        }
    }
}

/// What is outside brackets is found.
#[test]
fn a_sentence_in_the_code_would_be_found() {
    assert_eq!(
        outside("\u{27e6}a \u{27e6}b\u{27e7}\u{27e7} left \u{27e6}c\u{27e7}"),
        " left "
    );
    assert_eq!(
        seen("<main><p class=\"small\">Left &amp; over</p>").trim(),
        "Left & over"
    );
}

#[test]
fn the_household_chooses_and_whoever_asks() {
    let home = demonstration();
    let page = |arguments: &[&str]| {
        let arguments = [&["--person", "p1"], arguments].concat();
        fs::read_to_string(report(&home, "chosen.html", &arguments)).unwrap()
    };
    assert!(page(&[]).contains("<html lang=\"en\">"));
    let config = home.dir.path().join("quietcuff.toml");
    fs::write(&config, "[alerts]\nlanguage = \"de\"\n").unwrap();
    assert!(page(&[]).contains("<html lang=\"de\">"));
    assert!(page(&["--language", "ta-IN"]).contains("<html lang=\"ta\">"));
    let output = home.dir.path().join("never.html");
    home.fails(
        &["report", "--output", text(&output), "--language", "tlh"],
        USAGE,
        &["the languages are en, hi, de, es, ta"],
    );
    assert!(!output.exists());
}

/// Hindi, Tamil and German on paper: read back by poppler, its language told, and nothing found against PDF/UA-1.
#[test]
fn on_paper_in_three_scripts() {
    if in_a_hurry("sheets on paper in three scripts") {
        return;
    }
    if without()
        || !FACES
            .iter()
            .all(|face| there(Path::new(face).exists(), "sheets as they are written", face))
    {
        return;
    }
    let home = eventful();
    for language in [Language::Hindi, Language::Tamil, Language::German] {
        let tag = language.tag();
        let path = report(&home, "sheet.pdf", &["--person", "p1", "--language", tag]);
        let all = text_by("pdftotext", &["-layout", text(&path), "-"]);
        let words = language.words();
        // poppler parts some letters from the signs over them.
        let plain = |text: &str| text.split_whitespace().collect::<String>();
        let all = plain(&all);
        for name in [
            "sheet-to-look-at",
            "sheet-heavy-ticks",
            "sheet-readings",
            "mind-validation",
        ] {
            let said = plain(&words.say(name));
            assert!(all.contains(&said), "{tag}: no {said:?} in {all}");
        }
        assert!(
            !all.contains('\u{fffd}') && !all.contains(&words.say("sheet-letters-missing")),
            "{tag}"
        );
        let octets = fs::read(&path).unwrap();
        let lang = format!("/Lang ({tag})");
        assert!(
            octets.windows(lang.len()).any(|at| at == lang.as_bytes()),
            "{tag}"
        );
        let Some((assertions, broken)) = checked(&path) else {
            continue;
        };
        assert!(assertions > 10_000, "{assertions}");
        assert!(broken.is_empty(), "{tag}: {broken:#?}");
    }
}

/// Where the machine has no face for a language, the package is named before anything is written.
#[test]
fn a_missing_face_is_named() {
    let home = demonstration();
    let path = home.dir.path().join("none.pdf");
    let ran = home
        .command(&[
            "report",
            "--person",
            "p1",
            "--language",
            "ta",
            "--output",
            text(&path),
        ])
        .env("XDG_DATA_DIRS", home.dir.path())
        .env("XDG_DATA_HOME", home.dir.path())
        .env("HOME", home.dir.path())
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&ran.stderr);
    assert!(!ran.status.success() && !path.exists());
    assert!(
        said.contains("Tamil") && said.contains("fonts-noto-core"),
        "{said}"
    );
    assert_ne!(ran.status.code(), Some(DATA), "{said}");
}
