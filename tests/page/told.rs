//! What must not wait, where it was easy to miss: words of another language, and readings of nobody in a household without
//! people.

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
