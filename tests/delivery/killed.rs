//! The delivery is killed with its line stuck at many octets of the request and of the answer. After a fresh start the
//! server holds each resource once.

use crate::delivery::clinic::{Clinic, choose, exported_readings, few, held, once};
use crate::delivery::proxy::{Fate, Proxy};
use crate::harness::left_out::in_a_hurry;
use crate::harness::made::Made;

#[test]
fn killed_at_any_octet_it_arrives_once() {
    if in_a_hurry("a delivery killed at any octet") {
        return;
    }
    let Some(clinic) = Clinic::open() else { return };
    let proxy = Proxy::before(clinic.port, vec![]);
    let made = Made::of(&few());
    choose(&made.home, &proxy.url(), "");
    let expected = exported_readings(&made);
    let journal =
        rusqlite::Connection::open(made.home.path(".local/state/quietcuff/journal.sqlite")).unwrap();
    let octets = made.home.run(&["deliver", "--dry-run"]).good().len();
    let in_request = (0..=24).map(|n| Fate::HangInRequest(n * octets / 22 + n));
    let in_answer = [0, 1, 9, 100, 400, 1_000, 3_000, 5_000, 9_000, 1 << 20].map(Fate::HangInAnswer);
    let mut stored = 0;
    for fate in in_request.chain(in_answer) {
        clinic.reset();
        journal
            .execute_batch("DELETE FROM delivery; DELETE FROM clinic;")
            .unwrap();
        proxy.next(fate.clone());
        let mut child = made.home.command(&["deliver", "--once"]).spawn().unwrap();
        let line = proxy.hanging();
        child.kill().unwrap();
        child.wait().unwrap();
        drop(line);
        stored += usize::from(!clinic.holds().is_empty());
        once(&made.home).good();
        assert_eq!(held(&clinic), expected, "{fate:?}");
    }
    assert!(
        stored >= 10,
        "{stored}: some were killed after the server had stored"
    );
}

/// The daemon delivers what comes in while it stays, and ends when it is told to.
#[test]
fn the_daemon_follows_the_journal() {
    let Some(clinic) = Clinic::open() else { return };
    let made = Made::of(&few()[..2]);
    choose(&made.home, &clinic.url(), "");
    let mut child = made.home.command(&["deliver"]).spawn().unwrap();
    let wait_for = |count: usize| {
        for _ in 0..300 {
            if clinic.holds().len() == count {
                return;
            }
            std::thread::sleep(std::time::Duration::from_millis(100));
        }
        panic!("{} are there instead of {count}", clinic.holds().len());
    };
    wait_for(exported_readings(&made).len());
    // Two at once would be one too many.
    once(&made.home).failed(69, &["running already"]);
    let lines: Vec<String> = few().iter().map(crate::harness::made::Sent::line).collect();
    let file = made.home.file("more.jsonl", lines.join("\n") + "\n");
    made.home.run(&["replay", &file]).good();
    wait_for(exported_readings(&made).len());
    rustix::process::kill_process(
        rustix::process::Pid::from_raw(i32::try_from(child.id()).unwrap()).unwrap(),
        rustix::process::Signal::TERM,
    )
    .unwrap();
    assert!(child.wait().unwrap().success());
    assert_eq!(held(&clinic), exported_readings(&made));
}
