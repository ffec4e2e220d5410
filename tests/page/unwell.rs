//! What to do in an emergency needs nothing: not the journal, not the key, not the form's token. And the page says
//! truly whether the note was kept.

use crate::harness::page::{Home, Served, get, post, served};
use crate::page::access::{enter, guarded, key};
use quietcuff::monitoring::escalation::Level;
use quietcuff::monitoring::symptoms::SYMPTOMS;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::process::Command;

const CALL: &str = "Call your emergency number now";
const KEPT: &str = "Noted at ";
const NOT_KEPT: &str = "It was NOT noted";

fn notes(home: &Home) -> usize {
    home.json(&["note", "list", "--json"]).len()
}

fn chest_pain(token: &str) -> String {
    format!("token={token}&person=asha&what=chest-pain")
}

/// What a browser says of a form of this page.
fn same_origin(served: &Served) -> String {
    format!(
        "Origin: http://{}\r\nSec-Fetch-Site: same-origin\r\n",
        served.address()
    )
}

#[test]
fn a_symptom_is_answered_at_once_and_noted() {
    let home = Home::new();
    let served = home.serve();
    let at = served.address();
    let page = get(at, "/notes?person=asha", "");
    for symptom in [
        "chest-pain",
        "speech",
        "face-drooping",
        "seizure",
        "dizzy",
        "none",
    ] {
        assert!(page.body.contains(&format!("value=\"{symptom}\"")), "{symptom}");
    }
    assert!(!page.body.contains("value=\"rib-pain\""), "it is of pregnancy");
    let said = post(at, "/notes", &chest_pain(&page.token()), "");
    assert_eq!(said.status, 200);
    let (words, outcome) = (said.body.find(CALL).unwrap(), said.body.find(KEPT).unwrap());
    assert!(words < outcome, "the words come first");
    assert_eq!(notes(&home), 1);
    assert!(get(at, "/?person=asha", "").body.contains(CALL));
    // With a very high reading a symptom means more than by itself, and that is said once it is looked at.
    home.reading(2, 192, 114, 0);
    let dizzy = format!("token={}&person=asha&what=dizzy", page.token());
    let said = post(at, "/notes", &dizzy, "");
    let own = said.body.find("Contact your clinic today").unwrap();
    assert!(own < said.body.find(CALL).unwrap(), "{}", said.body);
}

#[test]
fn words_of_ones_own_are_asked_about() {
    let home = Home::new();
    let served = home.serve();
    let at = served.address();
    let token = get(at, "/", "").token();
    for words in ["no+chest+pain", "my+jaw+is+odd"] {
        let form = format!("token={token}&person=asha&what=something-else&else={words}");
        let said = post(at, "/notes", &form, "").body;
        assert!(
            said.contains("Is it one of these?") && !said.contains(CALL),
            "{said}"
        );
        assert!(said.contains("call your emergency number now"), "{said}");
        assert!(
            said.contains("value=\"chest-pain\"") && said.contains(KEPT),
            "{said}"
        );
    }
    let now = get(at, "/?person=asha", "").body;
    assert!(
        now.contains("Is it one of these?") && !now.contains(CALL),
        "{now}"
    );
}

/// The command asks as well; the ten symptoms that it names as emergencies are those of the list.
#[test]
fn the_command_asks_about_words_of_ones_own() {
    let home = Home::new();
    let said = |words: &str| {
        let noted = home
            .command(&["note", "add", "symptoms", words, "--person", "asha"])
            .output()
            .unwrap();
        assert!(noted.status.success(), "{noted:?}");
        String::from_utf8(noted.stderr).unwrap()
    };
    let asked = said("no chest pain");
    assert!(
        asked.contains("Is it one of these? chest-pain,") && asked.contains("the first ten call"),
        "{asked}"
    );
    assert!(said("chest pain").is_empty());
    let emergencies = SYMPTOMS
        .iter()
        .take_while(|symptom| symptom.level == Level::Emergency)
        .count();
    let all = SYMPTOMS
        .iter()
        .filter(|symptom| symptom.level == Level::Emergency)
        .count();
    assert_eq!((emergencies, all), (10, 10));
}

#[test]
fn an_old_form_and_a_service_that_started_anew() {
    let home = Home::new();
    let old = {
        let before = home.serve();
        get(before.address(), "/", "").token()
    };
    let served = home.serve();
    let at = served.address();
    // A browser that says where the form came from is believed.
    let said = post(at, "/notes", &chest_pain(&old), &same_origin(&served));
    assert!(said.status == 200 && said.body.contains(CALL) && said.body.contains(KEPT));
    assert_eq!(notes(&home), 1);
    // One that does not say it has its words all the same, and is told that nothing was kept, with a form that works.
    let said = post(at, "/notes", &chest_pain(&old), "");
    assert!(said.status == 200 && said.body.contains(CALL) && said.body.contains(NOT_KEPT));
    assert!(said.body.contains("value=\"chest-pain\""));
    assert_eq!(notes(&home), 1);
    let said = post(at, "/notes", &chest_pain(&said.token()), "");
    assert!(said.body.contains(KEPT));
    assert_eq!(notes(&home), 2);
}

#[test]
fn without_a_key_the_words_come_and_nothing_is_kept() {
    let home = Home::new();
    let served = guarded(&home);
    let at = served.address();
    let said = post(at, "/notes", &chest_pain("0"), "");
    assert!(said.status == 200 && said.body.contains(CALL) && said.body.contains(NOT_KEPT));
    assert!(!said.body.contains("Asha"), "and nobody is named");
    // With a key, one person's symptom is not another's.
    let secret = key(&home, &["--role", "person", "--person", "ravi"]);
    let cookie = enter(at, &secret).unwrap();
    let token = get(at, "/", &cookie).token();
    let said = post(at, "/notes", &chest_pain(&token), &cookie);
    assert!(said.body.contains(CALL) && said.body.contains(NOT_KEPT));
    assert_eq!(notes(&home), 0);
    // Nor is another's alert theirs to answer, and without a token it is nobody's.
    home.reading(30, 200, 115, 0);
    let answer = format!("token={token}&person=asha&answer=looked-after&alerts=very-high");
    assert_eq!(post(at, "/answer", &answer, &cookie).status, 403);
    let forged = answer.replace(&token, "0").replace("asha", "ravi");
    assert_eq!(
        post(
            at,
            "/answer",
            &forged,
            &format!("{cookie}{}", same_origin(&served))
        )
        .status,
        403
    );
}

#[test]
fn while_the_journal_is_locked_the_words_are_there_already() {
    let home = Home::new();
    let served = home.serve();
    let at = served.address();
    let token = get(at, "/", "").token();
    let file = std::fs::read_dir(home.state())
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .find(|path| path.extension().is_some_and(|e| e == "sqlite"))
        .unwrap();
    let lock = rusqlite::Connection::open(file).unwrap();
    lock.execute_batch("BEGIN IMMEDIATE").unwrap();
    let form = chest_pain(&token);
    let mut stream = TcpStream::connect(at).unwrap();
    let length = form.len();
    write!(
        stream,
        "POST /notes HTTP/1.1\r\nHost: {at}\r\nConnection: close\r\nContent-Length: {length}\r\n\r\n{form}"
    )
    .unwrap();
    let mut seen = Vec::new();
    let mut some = [0; 4096];
    while !String::from_utf8_lossy(&seen).contains(CALL) {
        let read = stream.read(&mut some).unwrap();
        assert!(read > 0, "it ended without the words");
        seen.extend(&some[..read]);
    }
    // The lock is still held: nothing can have been kept, and nothing of it is said.
    assert!(!String::from_utf8_lossy(&seen).contains(KEPT));
    lock.execute_batch("COMMIT").unwrap();
    stream.read_to_end(&mut seen).unwrap();
    assert!(String::from_utf8_lossy(&seen).contains(KEPT));
    assert_eq!(notes(&home), 1);
}

#[test]
fn with_a_full_disk_the_words_come_and_nothing_is_said_to_be_kept() {
    let home = Home::new();
    // What keeps the files of the journal there.
    let held = home.journal();
    let plain = home.command(&["serve", "--open", "--listen", "127.0.0.1:0"]);
    let mut command = Command::new("/bin/sh");
    // Not one more kilobyte can be written (POSIX `ulimit -f`), as on a disk without room.
    command
        .args(["-c", "trap '' XFSZ; ulimit -f 1; exec \"$0\" \"$@\""])
        .arg(plain.get_program())
        .args(plain.get_args())
        .env_remove("STATE_DIRECTORY");
    let served = served(command);
    let at = served.address();
    let said = post(at, "/notes", &chest_pain("0"), &same_origin(&served));
    assert!(
        said.status == 200 && said.body.contains(CALL) && said.body.contains(NOT_KEPT),
        "{}",
        said.body
    );
    drop(held);
    assert_eq!(notes(&home), 0);
}

#[test]
fn one_tap_answers_what_the_page_shows() {
    let home = Home::new();
    home.reading(400, 200, 115, 0);
    home.reading(60, 199, 114, 0);
    let served = home.serve();
    let at = served.address();
    let page = get(at, "/?person=asha", "");
    assert!(page.body.contains("Contact your clinic today"), "{}", page.body);
    let shown = page
        .body
        .split("data-alerts=\"")
        .nth(1)
        .unwrap()
        .split('"')
        .next()
        .unwrap()
        .to_owned();
    let form = |alerts: &str| {
        format!(
            "token={}&person=asha&answer=contacted-clinic&alerts={alerts}",
            page.token()
        )
    };
    // What came after the page was made still stands.
    assert_eq!(
        post(at, "/answer", &form("very-high/contact-today/other"), "").status,
        303
    );
    assert!(get(at, "/?person=asha", "").body.contains("data-urgent"));
    assert_eq!(post(at, "/answer", &form(&shown), "").status, 303);
    assert!(!get(at, "/?person=asha", "").body.contains("data-urgent"));
    let sheet = get(at, "/sheet/open?person=asha", "").body;
    assert!(
        sheet.contains("The clinic or the out-of-hours service was contacted"),
        "{sheet}"
    );
    assert!(home.json(&["answer", "--json", "--person", "asha"]).is_empty());
    home.text(&["answer", "--person", "asha", "--take-back", &shown]);
    assert_eq!(home.json(&["answer", "--json", "--person", "asha"]).len(), 1);
    home.text(&["answer", "looked-after", "--person", "asha"]);
    assert!(home.json(&["answer", "--json", "--person", "asha"]).is_empty());
}

#[test]
fn what_could_not_be_delivered_is_said_on_the_page_and_by_check() {
    let home = Home::new();
    home.reading(30, 200, 115, 0);
    let mut journal = home.journal();
    let now = jiff::Timestamp::now();
    let key = "urgent/asha/very-high/measure-again/0";
    journal.offer_alerts(now, &[(key, "daughter")]).unwrap();
    assert!(journal.claim_alert(now, key, "daughter").unwrap());
    journal
        .alert_failed(now, key, "daughter", "the server is away")
        .unwrap();
    let served = home.serve();
    let said = get(served.address(), "/?person=asha", "").body;
    assert!(said.contains("could not be delivered by “daughter”"), "{said}");
    let others = get(served.address(), "/?person=ravi", "").body;
    assert!(!others.contains("daughter"));
    let checked = home.command(&["check", "--json"]).output().unwrap();
    let checked = String::from_utf8(checked.stdout).unwrap();
    assert!(
        checked.contains("daughter") && checked.contains("the server is away"),
        "{checked}"
    );
}
