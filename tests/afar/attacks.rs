//! Who is not let in, and what is not taken. An attacker's list; each is refused with its sentence, and what an honest
//! listener hands on meanwhile arrives.

use super::houses::{code, frames, heard, held, join, receiving, state};
use crate::harness::command::Home;
use crate::harness::left_out::program;
use quietcuff::afar::code::Code;
use quietcuff::afar::key::OwnKey;
use quietcuff::afar::line::Line;
use quietcuff::afar::speech::{FromRecord, OCTETS_MAX, STRANGER_OCTETS_MAX, Take, ToRecord, Why};
use quietcuff::journal::{Heard, State};
use std::io::{Read, Write};
use std::net::TcpStream;
use std::process::{Command, Stdio};
use std::time::Duration;

const SOON: Duration = Duration::from_secs(20);
const VERSION: &str = env!("CARGO_PKG_VERSION");

struct Household {
    record: Home,
    away: Home,
    _door: super::houses::Role,
    at: String,
    key: [u8; 32],
}

impl Household {
    fn new() -> Self {
        let (record, away) = (Home::new(), Home::new());
        let (door, at) = receiving(&record, "127.0.0.1:0");
        heard(&away, &frames(0, 4));
        let code_ = code(&record, &at, "bedroom");
        join(&away, &code_).good();
        let code_: Code = code_.parse().unwrap();
        Self {
            record,
            away,
            _door: door,
            at,
            key: code_.record,
        }
    }

    /// A line of whoever has this home's key.
    fn line(&self, home: &Home) -> Line {
        Line::call(&self.at, self.key, &OwnKey::of(&state(home)).unwrap()).unwrap()
    }

    /// An honest listener still gets through.
    fn goes_on(&self) {
        let waiting = held(&self.away);
        heard(&self.away, &frames(u32::try_from(waiting).unwrap(), 1));
        self.away.run(&["record", "hand-on", "--once"]).good();
        assert_eq!(held(&self.record), held(&self.away));
    }
}

fn ask(line: &mut Line, asked: &ToRecord) -> FromRecord {
    line.say(asked).unwrap();
    line.hear(SOON, OCTETS_MAX).unwrap().unwrap()
}

fn begin() -> ToRecord {
    ToRecord::Begin {
        version: VERSION.to_owned(),
        does: false,
    }
}

fn refused(answer: FromRecord, because: Why, words: &str) {
    let FromRecord::Refused { why, words: said } = answer else {
        panic!("{answer:?}");
    };
    assert_eq!(why, because);
    assert!(said.contains(words), "{said}");
}

fn offered() -> Take {
    let heard: Vec<Heard> = frames(500, 3)
        .into_iter()
        .zip(900..)
        .map(|(frame, sequence)| Heard { sequence, frame })
        .collect();
    let state = State {
        version: VERSION.to_owned(),
        waiting: 0,
        clock_known: true,
        ..State::default()
    };
    Take::of(&heard, &[], &state).unwrap()
}

#[test]
fn a_code_is_for_one_and_for_a_while() {
    let house = Household::new();
    let stranger = Home::new();
    stranger.run(&["people", "add", "asha"]).good();
    let used = code(&house.record, &house.at, "kitchen");
    // Guessed: the right place, the right record, another secret.
    let (place, _) = used.rsplit_once('/').unwrap();
    join(&stranger, &format!("{place}/{}", "0".repeat(26)))
        .failed(77, &["lets nobody in", "listeners invite"]);
    join(&stranger, &used).good();
    let second = Home::new();
    second.run(&["people", "add", "asha"]).good();
    join(&second, &used).failed(77, &["lets nobody in"]);
    // The record itself, and what is no code at all.
    join(&house.record, &code(&house.record, &house.at, "")).failed(64, &["own listener"]);
    let wrong = second.run(&["record", "join", "milk"]);
    assert_eq!(wrong.code, 64, "{wrong:?}");
    assert!(wrong.err.contains("quietcuff://"), "{wrong:?}");
    house.goes_on();
}

#[test]
fn a_record_that_is_not_the_pinned_one_gets_nothing() {
    let house = Household::new();
    let impostor = Home::new();
    impostor.run(&["people", "add", "asha"]).good();
    let (_door, at) = receiving(&impostor, "127.0.0.1:0");
    let db = rusqlite::Connection::open(state(&house.away).join("journal.sqlite")).unwrap();
    db.execute("UPDATE record SET at = ?1", [&at]).unwrap();
    house
        .away
        .run(&["record", "hand-on", "--once"])
        .failed(69, &["another key", "listeners invite"]);
    assert_eq!(held(&impostor), 0);
    let shown = house.away.run(&["record", "show"]).good();
    assert!(
        shown.contains("problem") && shown.contains("another key"),
        "{shown}"
    );
    db.execute("UPDATE record SET at = ?1", [&house.at]).unwrap();
    house.goes_on();
}

#[test]
fn nobody_is_let_in_without_being_known() {
    let house = Household::new();
    let stranger = Home::new();
    std::fs::create_dir_all(state(&stranger)).unwrap();
    let mut line = house.line(&stranger);
    refused(ask(&mut line, &begin()), Why::NotLetIn, "listeners invite");
    refused(
        ask(&mut line, &ToRecord::Take(Take::default())),
        Why::NotLetIn,
        "no listener",
    );
    // Of a stranger little is read: a long question ends the line.
    let mut line = house.line(&stranger);
    let long = ToRecord::Join {
        code: "x".repeat(STRANGER_OCTETS_MAX as usize),
        version: VERSION.to_owned(),
    };
    line.say(&long).unwrap();
    assert!(!matches!(line.hear::<FromRecord>(SOON, OCTETS_MAX), Ok(Some(_))));
    house.record.run(&["listeners", "withdraw", "l1"]).good();
    house
        .away
        .run(&["record", "hand-on", "--once"])
        .failed(77, &["withdrawn"]);
    assert_eq!(held(&house.record), 0);
    house
        .record
        .run(&["listeners", "withdraw", "l1"])
        .failed(64, &["listeners list"]);
}

/// Withdrawn while it is connected, nothing more is taken from that moment on.
#[test]
fn withdrawn_means_at_once() {
    let house = Household::new();
    let mut line = house.line(&house.away);
    assert!(matches!(ask(&mut line, &begin()), FromRecord::Holds { .. }));
    house.record.run(&["listeners", "withdraw", "l1"]).good();
    refused(
        ask(&mut line, &ToRecord::Take(offered())),
        Why::NotLetIn,
        "withdrawn",
    );
    assert_eq!(held(&house.record), 0);
}

/// Makes an honest offer a bad one.
type Change = fn(&mut Take);

#[test]
fn what_contradicts_itself_is_not_kept() {
    let house = Household::new();
    let wrong: [(&str, Change); 8] = [
        ("digest", |take| take.frames[1].digest = "0".repeat(64)),
        ("digest", |take| take.frames[1].digest.clear()),
        ("digest", |take| take.frames[2].sequence += 1),
        ("comes behind", |take| take.frames.swap(0, 2)),
        ("comes behind", |take| take.frames[0].sequence = -4),
        ("is none", |take| {
            take.frames[0].frame = serde_json::value::RawValue::from_string("{}".to_owned()).unwrap();
        }),
        ("clock sample 1 is none", |take| {
            let sample = serde_json::json!([{
                "sequence": 1, "boot": "b".repeat(65), "uptime_us": 1, "wall_us": 1, "synchronized": true,
            }]);
            take.clocks = serde_json::from_value(sample).unwrap();
        }),
        ("at most", |take| {
            let one = offered().frames.remove(0);
            let words = serde_json::to_string(&one).unwrap();
            take.frames = (0..300).map(|_| serde_json::from_str(&words).unwrap()).collect();
        }),
    ];
    for (words, change) in wrong {
        let mut line = house.line(&house.away);
        assert!(matches!(ask(&mut line, &begin()), FromRecord::Holds { .. }));
        let mut take = offered();
        change(&mut take);
        refused(ask(&mut line, &ToRecord::Take(take)), Why::Nonsense, words);
        assert_eq!(held(&house.record), 0, "{words}");
    }
    // The same again and again is one, and a version that is far away is told so.
    let mut line = house.line(&house.away);
    assert!(matches!(ask(&mut line, &begin()), FromRecord::Holds { .. }));
    for _ in 0..20 {
        assert_eq!(ask(&mut line, &ToRecord::Take(offered())), FromRecord::Kept);
    }
    assert_eq!(held(&house.record), 3);
    let far = ToRecord::Begin {
        version: "99.0.0".to_owned(),
        does: false,
    };
    refused(ask(&mut line, &far), Why::Version, "99.0.0");
    let signs = ToRecord::Begin {
        version: "0.1.\u{1b}[2J".to_owned(),
        does: false,
    };
    refused(ask(&mut line, &signs), Why::Nonsense, "no version");
}

/// What is no TLS, no key, or no end: each line ends, and the honest one is served meanwhile.
#[test]
fn what_is_not_said_here_ends_the_line() {
    let house = Household::new();
    let mut open = Vec::new();
    for octets in [
        &b"GET / HTTP/1.1\r\nHost: record\r\n\r\n"[..],
        &[0x16, 3, 1, 0xff, 0xff],
        &[0; 4096],
        b"",
    ] {
        let mut tcp = TcpStream::connect(&house.at).unwrap();
        tcp.write_all(octets).unwrap();
        open.push(tcp);
    }
    // Fewer than there may be of one address.
    for _ in 0..8 {
        open.push(TcpStream::connect(&house.at).unwrap());
    }
    house.goes_on();
    for tcp in &mut open[..3] {
        tcp.set_read_timeout(Some(SOON)).unwrap();
        let mut rest = Vec::new();
        // A word of TLS about what was wrong, or nothing, and the end.
        let _ = tcp.read_to_end(&mut rest);
        assert!(rest.len() < 64, "{rest:?}");
    }
    house.goes_on();
}

/// GnuTLS speaks the same TLS: raw public keys on both sides, and nobody without one.
#[test]
fn another_implementation_of_tls_understands_it() {
    if !(program("gnutls-cli", "a listener's TLS by another implementation") && program("openssl", "its key"))
    {
        return;
    }
    let house = Household::new();
    let stranger = Home::new();
    let (private, public) = (stranger.path("key.pem"), stranger.path("public.pem"));
    let openssl = |arguments: &[&str]| {
        let made = Command::new("openssl").args(arguments).output().unwrap();
        assert!(made.status.success(), "{made:?}");
    };
    let (private, public) = (private.to_str().unwrap(), public.to_str().unwrap());
    openssl(&[
        "genpkey",
        "-algorithm",
        "EC",
        "-pkeyopt",
        "ec_paramgen_curve:P-256",
        "-out",
        private,
    ]);
    openssl(&["pkey", "-in", private, "-pubout", "-out", public]);
    let (host, port) = house.at.rsplit_once(':').unwrap();
    let call = |keys: &[&str], priority: &str, said: &[u8]| {
        let mut child = Command::new("gnutls-cli")
            .args(["--port", port, "--no-ca-verification", "--priority", priority])
            .args(keys)
            .arg(host)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut stdin = child.stdin.take().unwrap();
        std::thread::sleep(Duration::from_millis(700));
        let _ = stdin.write_all(said);
        let _ = stdin.flush();
        std::thread::sleep(Duration::from_millis(700));
        drop(stdin);
        let ended = child.wait_with_output().unwrap();
        format!(
            "{}{}",
            String::from_utf8_lossy(&ended.stdout),
            String::from_utf8_lossy(&ended.stderr)
        )
    };
    let asked = serde_json::to_vec(&begin()).unwrap();
    let mut said = u32::try_from(asked.len()).unwrap().to_be_bytes().to_vec();
    said.extend(asked);
    let raw = "NORMAL:-VERS-ALL:+VERS-TLS1.3:-CTYPE-ALL:+CTYPE-CLI-RAWPK:+CTYPE-SRV-RAWPK";
    let keys = ["--rawpkkeyfile", private, "--rawpkfile", public];
    let answer = call(&keys, raw, &said);
    assert!(
        answer.contains("TLS1.3") && answer.contains("not-let-in"),
        "{answer}"
    );
    // With certificates, without a key, or by an older TLS nobody gets as far.
    for (keys, priority) in [
        (&[][..], "NORMAL:-VERS-ALL:+VERS-TLS1.3"),
        (&[][..], raw),
        (
            &keys[..],
            "NORMAL:-VERS-ALL:+VERS-TLS1.2:-CTYPE-ALL:+CTYPE-CLI-RAWPK:+CTYPE-SRV-RAWPK",
        ),
    ] {
        let answer = call(keys, priority, &said);
        assert!(!answer.contains("not-let-in"), "{priority}: {answer}");
    }
    house.goes_on();
}
