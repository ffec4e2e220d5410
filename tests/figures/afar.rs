//! From a frame at a listener to the same at the record, on one machine: the programs that ship, beside a bare question
//! of as many octets over the same TLS, answered once its row is on the disk.

use super::journal::{bare_journal, frame, insert_bare, median, ms};
use super::program;
use super::table::{Aim, Table};
use crate::harness::command::first_line;
use quietcuff::afar::code::Code;
use quietcuff::afar::key::OwnKey;
use quietcuff::afar::line::{Line, of_record};
use quietcuff::afar::speech::{OCTETS_MAX, Take};
use quietcuff::journal::{Heard, Journal, State};
use rusqlite::Connection;
use std::net::TcpListener;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// At most this many times as long as the bare question.
const HANDED_MAX: f64 = 1.3;
const TIMES: usize = 101;
const LIMIT: Duration = Duration::from_secs(30);

/// A role that ends with this.
struct Role(Child);

impl Drop for Role {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn quietcuff(state: &Path, arguments: &[&str]) -> Command {
    let mut command = Command::new(program("quietcuff"));
    command.arg("--state").arg(state).args(arguments);
    command.stderr(Stdio::null());
    command
}

pub(crate) fn measure(table: &mut Table) {
    let (record, away, bare) = (
        tempfile::tempdir().unwrap(),
        tempfile::tempdir().unwrap(),
        tempfile::tempdir().unwrap(),
    );
    let handed = handed_on(record.path(), away.path());
    let asked = bare_questions(bare.path());
    table.row(
        "one frame at a listener to the record's disk",
        ms(handed),
        "ms",
        (ms(asked), "a bare question over TLS, and commit"),
        Aim::AtMost(HANDED_MAX),
    );
}

/// What was committed at the listener until another process can read it at the record.
fn handed_on(record: &Path, away: &Path) -> Duration {
    let mut door = quietcuff(record, &["listeners", "receive", "--listen", "127.0.0.1:0"])
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let at = first_line(&mut door);
    let _door = Role(door);
    let invited = quietcuff(
        record,
        &["listeners", "invite", "--at", &at, "--label", "bedroom"],
    )
    .output();
    let code = String::from_utf8(invited.unwrap().stdout).unwrap();
    let code: Code = code.trim().parse().unwrap();
    let joined = quietcuff(away, &["record", "join", &code.to_string()])
        .stdout(Stdio::null())
        .status();
    assert!(joined.unwrap().success());
    let handing = quietcuff(away, &["record", "hand-on"])
        .stdout(Stdio::null())
        .spawn();
    let _handing = Role(handing.unwrap());
    let mut journal = Journal::open(away).unwrap();
    let there = Connection::open(record.join(quietcuff::journal::FILE_NAME)).unwrap();
    let mut count = there.prepare("SELECT count(*) FROM hearing").unwrap();
    let mut took = Vec::new();
    for place in 0..TIMES {
        journal.append(&[frame(0, place)]).unwrap();
        let kept = Instant::now();
        while count.query_row([], |row| row.get::<_, i64>(0)).unwrap() <= i64::try_from(place).unwrap() {
            assert!(kept.elapsed() < LIMIT, "frame {place} does not arrive");
            std::thread::sleep(Duration::from_micros(20));
        }
        took.push(kept.elapsed());
        // The next one comes once both ends wait again.
        std::thread::sleep(Duration::from_millis(20));
    }
    median(took)
}

/// The same octets over the same TLS, a row in the same table, and "kept" back.
fn bare_questions(state: &Path) -> Duration {
    let (record, own) = (state.join("record"), state.join("own"));
    std::fs::create_dir_all(&record).unwrap();
    std::fs::create_dir_all(&own).unwrap();
    let (record, own) = (OwnKey::of(&record).unwrap(), OwnKey::of(&own).unwrap());
    let config = of_record(&record).unwrap();
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let at = listener.local_addr().unwrap().to_string();
    let file = state.join("bare");
    let answering = std::thread::spawn(move || {
        let db = bare_journal(&file);
        let tcp = listener.accept().unwrap().0;
        tcp.set_nodelay(true).unwrap();
        let mut line = Line::answer(tcp, config).unwrap();
        for place in 0..TIMES {
            let _: serde_json::Value = line.hear(LIMIT, OCTETS_MAX).unwrap().unwrap();
            insert_bare(&db, &frame(0, place));
            line.say(&"kept").unwrap();
        }
    });
    let mut line = Line::call(&at, record.digest, &own).unwrap();
    let mut took = Vec::new();
    for place in 0..TIMES {
        let heard = Heard {
            sequence: 1,
            frame: frame(0, place),
        };
        let take = Take::of(&[heard], &[], &State::default()).unwrap();
        let asked = Instant::now();
        line.say(&take).unwrap();
        let _: serde_json::Value = line.hear(LIMIT, OCTETS_MAX).unwrap().unwrap();
        took.push(asked.elapsed());
        std::thread::sleep(Duration::from_millis(20));
    }
    answering.join().unwrap();
    median(took)
}
