//! What must not wait, where it was easy to miss: words of another language, and readings of nobody in a household
//! without people.

use crate::harness::page::{Home, get, post};

#[test]
fn a_symptom_is_known_by_its_words_in_every_language() {
    let home = Home::new();
    home.text(&["note", "add", "symptoms", "सीने में दर्द", "--person", "asha"]);
    let next = home.json(&["next", "--json", "--person", "asha"]);
    assert_eq!(next[0]["alerts"][0]["level"], "emergency", "{next:?}");
    home.text(&["note", "add", "symptoms", "सीने में दर्द नहीं", "--person", "ravi"]);
    let next = home.json(&["next", "--json", "--person", "ravi"]);
    assert_eq!(next[0]["alerts"][0]["level"], "ask", "{next:?}");
    let served = home.serve();
    let at = served.address();
    let token = get(at, "/notes?person=ravi", "").token();
    let own = form_urlencoded::byte_serialize("बेहोशी या गिर पड़ना".as_bytes()).collect::<String>();
    let form = format!("token={token}&person=ravi&what=something-else&else={own}");
    assert!([200, 303].contains(&post(at, "/notes", &form, "").status));
    let notes = home.text(&["note", "list", "--person", "ravi"]);
    assert!(notes.contains("fainted"), "{notes}");
}

#[test]
fn a_very_high_reading_is_said_before_anybody_was_added() {
    let home = Home::of(&[], None);
    home.reading(60, 196, 112, 0);
    let served = home.serve();
    let page = get(served.address(), "/", "").body;
    assert!(
        page.contains("data-urgent") && page.contains("Nobody has said yet whose reading it is."),
        "{page}"
    );
    assert!(
        page.contains("Take no extra medicine because of a reading."),
        "{page}"
    );
}

/// On the command, the page, the sheet and in the period: it was received then, and nobody knows when it was taken.
#[test]
fn a_very_high_reading_that_nobody_can_date_is_said_to_be_so_everywhere() {
    let home = Home::new();
    home.reading(26 * 3600, 128, 82, 0);
    // 0x2A35 with a stamp of 1 January 2001, as of a clock that nobody set, and a pulse.
    let mut value = vec![0x06];
    for number in [196_u16, 112, 0x07ff] {
        value.extend(number.to_le_bytes());
    }
    value.extend([0xd1, 0x07, 1, 1, 0, 2, 0, 71, 0]);
    home.measurement(
        jiff::Timestamp::now() - jiff::SignedDuration::from_secs(90),
        value,
    );
    let undated = "Nobody knows when it was taken.";
    let next = home.json(&["next", "--json", "--person", "asha"]);
    assert_eq!(next[0]["alerts"][0]["undated"], "unknown", "{next:?}");
    assert!(next[0]["say"].as_str().unwrap().contains(undated), "{next:?}");
    let period = home.text(&["period", "--person", "asha", "--days", "7"]);
    let flat = period.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains(undated), "{period}");
    let served = home.serve();
    for path in ["/?person=asha", "/sheet/open?person=asha&days=7"] {
        let page = get(served.address(), path, "").body;
        assert!(page.contains(undated), "{path}: {page}");
    }
    // Before anybody was added, it is nobody's, and just as little known.
    let home = Home::of(&[], None);
    let mut value = vec![0x02];
    for number in [196_u16, 112, 0x07ff] {
        value.extend(number.to_le_bytes());
    }
    value.extend([0xd1, 0x07, 1, 1, 0, 2, 0]);
    home.measurement(
        jiff::Timestamp::now() - jiff::SignedDuration::from_secs(90),
        value,
    );
    let page = get(home.serve().address(), "/", "").body;
    assert!(page.contains(undated), "{page}");
}

/// On a Hindi page what is our own choice is said in Hindi; a source stays as it is, and is marked as English.
#[test]
fn a_choice_is_translated_and_a_source_is_marked() {
    let home = Home::new();
    home.reading(60, 196, 112, 0);
    let served = home.serve();
    let hindi = get(
        served.address(),
        "/?person=asha",
        "Cookie: quietcuff-language=hi\r\n",
    )
    .body;
    assert!(hindi.contains("साफ़ तौर पर कम का मतलब 10 mmHg कम है"), "{hindi}");
    assert!(!hindi.contains("clearly below is 10 mmHg below"), "{hindi}");
    assert!(
        hindi.contains("<span lang=\"en\">ESC 2024: 180/110, confirm promptly"),
        "{hindi}"
    );
    for nth in 0..8 {
        home.reading(nth * 12 * 3600 + 240, 128, 82, 0);
        home.reading(nth * 12 * 3600 + 120, 128, 82, 0);
    }
    let week = get(
        served.address(),
        "/week?person=asha",
        "Cookie: quietcuff-language=hi\r\n",
    )
    .body;
    assert!(week.contains("<span lang=\"en\">"), "{week}");
    let english = get(served.address(), "/?person=asha", "").body;
    assert!(english.contains("clearly below is 10 mmHg below"), "{english}");
}

/// Two names that were accepted before they were looked at are shown apart on every page and in every list.
#[test]
fn names_that_look_alike_are_shown_apart() {
    let home = Home::of(&[("asha", "Asha"), ("mother", "\u{410}sha")], Some("asha"));
    home.reading(60, 128, 82, 0);
    let served = home.serve();
    for path in ["/", "/people", "/week?person=asha", "/monitors"] {
        let page = get(served.address(), path, "").body;
        assert!(page.contains("Asha (asha)"), "{path}: {page}");
    }
    let people = get(served.address(), "/people", "").body;
    assert!(people.contains("\u{410}sha (mother)"), "{people}");
    let period = home.text(&["period", "--person", "asha", "--days", "7"]);
    assert!(period.contains("Asha (asha)"), "{period}");
    let sheet = get(served.address(), "/sheet/open?person=asha&days=7", "").body;
    assert!(sheet.contains("Home blood pressure of Asha (asha)"), "{sheet}");
}

/// Before bed is asked for by one protocol and judged by none; the sheet says so.
#[test]
fn what_a_protocol_asks_for_and_only_a_note_can_tell_is_said_on_the_sheet() {
    let home = Home::new();
    home.reading(60, 128, 82, 0);
    let path = home.dir.path().join("sheet.html");
    let output = path.to_str().unwrap();
    let sheet = |protocol: &str| {
        home.text(&[
            "report",
            "--person",
            "asha",
            "--days",
            "7",
            "--protocol",
            protocol,
            "--output",
            output,
        ]);
        std::fs::read_to_string(&path).unwrap()
    };
    let why = "judged where going to bed was noted";
    assert!(sheet("jsh-2019").contains(why));
    assert!(!sheet("nice-ng136").contains(why));
}
