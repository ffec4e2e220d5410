//! HL7 version 2 over MLLP: HAPI's listener receives, strictly; what loses answers and fails is made here.

use crate::delivery::clinic::{few, listing, once};
use crate::harness::hapi::hapi;
use crate::harness::left_out::{in_a_hurry, program};
use crate::harness::made::{Made, sent};
use serde_json::Value;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::process::{Child, ChildStdin, Command};
use std::sync::mpsc::{Receiver as Channel, channel};
use std::time::Duration;

const WHAT: &str = "delivery to a receiver of HL7 by others";

/// HAPI's listener, which ends with this value.
struct Receiver {
    child: Child,
    stdin: ChildStdin,
    lines: Channel<Value>,
    port: u16,
}

impl Receiver {
    fn open() -> Option<Self> {
        Self::with(&[], "plain")
    }

    fn with(before: &[&str], security: &str) -> Option<Self> {
        let port = TcpListener::bind("127.0.0.1:0")
            .unwrap()
            .local_addr()
            .unwrap()
            .port();
        let mut child = hapi(before, &["listen", &port.to_string(), security], WHAT)?
            .stdin(std::process::Stdio::piped())
            .stdout(std::process::Stdio::piped())
            .spawn()
            .unwrap();
        let (tell, lines) = channel();
        let out = BufReader::new(child.stdout.take().unwrap());
        std::thread::spawn(move || {
            for line in out.lines().map_while(Result::ok) {
                let _ = tell.send(serde_json::from_str(&line).unwrap());
            }
        });
        let receiver = Self {
            stdin: child.stdin.take().unwrap(),
            child,
            lines,
            port,
        };
        assert_eq!(receiver.line()["listening"], true);
        // Its thread says so, and opens the port then.
        while TcpStream::connect(("127.0.0.1", port)).is_err() {
            std::thread::sleep(Duration::from_millis(50));
        }
        Some(receiver)
    }

    fn line(&self) -> Value {
        self.lines.recv_timeout(Duration::from_secs(120)).unwrap()
    }

    /// Everything that it received since it was asked last, in order; from now on it acknowledges so.
    fn received(&mut self, says: &str) -> Vec<Value> {
        writeln!(self.stdin, "{says}").unwrap();
        let mut received = Vec::new();
        loop {
            let line = self.line();
            if line.get("says").is_some() {
                return received;
            }
            received.push(line);
        }
    }
}

impl Drop for Receiver {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn choose(made: &Made, address: &str, more: &str) {
    made.home.file(
        ".config/quietcuff/quietcuff.toml",
        format!(
            "[clinic]\nserver = \"{address}\"\npeople = [\"asha\"]\n{more}\n[hl7]\nreceiving-facility = \"CLINIC\"\n\
             [hl7.patients]\nasha = \"1234^^^CLINIC^MR\"\n"
        ),
    );
}

fn address(port: u16) -> String {
    format!("mllp://127.0.0.1:{port}")
}

fn text<'v>(message: &'v Value, place: &str) -> &'v str {
    message[place].as_str().unwrap_or_default()
}

/// What the receiver holds in the end: of each order the last message, with the letter of its values.
fn stands(message: &Value) -> (&str, &str, &str) {
    let values = message["OBX"].as_array().unwrap();
    (
        text(message, "OBR-3-1"),
        text(message, "PID-3-1"),
        text(values.last().unwrap(), "11"),
    )
}

fn names(messages: &[Value]) -> Vec<&str> {
    messages.iter().map(|message| text(message, "MSH-10")).collect()
}

#[test]
fn readings_arrive_at_a_receiver_by_others_once_and_what_changes_is_corrected() {
    let Some(mut receiver) = Receiver::open() else {
        return;
    };
    let made = Made::of(&sent());
    choose(&made, &address(receiver.port), "");
    let waiting = listing(&made.home)["waiting"].as_u64().unwrap();
    assert!(waiting > 20);
    once(&made.home).good();
    let first = receiver.received("AA");
    assert_eq!(first.len() as u64, waiting);
    assert!(
        first
            .iter()
            .all(|message| stands(message).2 == "F" && message["PID-3-1"] == "1234")
    );
    assert_eq!(first[0]["MSH-6-1"], "CLINIC");
    let list = listing(&made.home);
    assert_eq!(
        (list["sent"].as_u64(), list["waiting"].as_u64()),
        (Some(waiting), Some(0))
    );
    once(&made.home).good();
    assert_eq!(
        receiver.received("AA"),
        Vec::<Value>::new(),
        "nothing is sent twice"
    );
    // A file names each message as it went.
    made.home.run(&["export", "hl7", "--output", "same.hl7"]).good();
    let file = std::fs::read_to_string(made.home.path("same.hl7")).unwrap();
    assert!(
        names(&first)
            .iter()
            .all(|name| file.contains(&format!("|{name}|P|2.5.1|")))
    );

    // Withdrawn, and its companion says that it is alone now.
    let id = |n: usize| made.readings[n]["id"].as_str().unwrap().to_owned();
    made.home
        .run(&["readings", "discard", &id(25), "--reason", "a guest"])
        .good();
    once(&made.home).good();
    let changed = receiver.received("AA");
    let letters: Vec<&str> = changed.iter().map(|message| stands(message).2).collect();
    assert_eq!(letters, ["C", "W"]);
    assert!(stands(&changed[1]).0.starts_with(&id(25)));
    assert_eq!(changed[1]["OBR-25"], "C");
    let before = first
        .iter()
        .find(|message| message["OBR-3-1"] == changed[1]["OBR-3-1"])
        .unwrap();
    assert_ne!(before["MSH-10"], changed[1]["MSH-10"]);

    // It was somebody else's: withdrawn as hers, and a new order of his.
    made.home.run(&["people", "add", "ravi"]).good();
    let path = ".config/quietcuff/quietcuff.toml";
    let both = std::fs::read_to_string(made.home.path(path)).unwrap();
    made.home.file(
        path,
        both.replace("[\"asha\"]", "[\"asha\", \"ravi\"]") + "ravi = \"5678^^^CLINIC^MR\"\n",
    );
    made.home.run(&["readings", "assign", &id(0), "ravi"]).good();
    once(&made.home).good();
    let moved = receiver.received("AA");
    let of_it: Vec<(&str, &str)> = moved
        .iter()
        .map(stands)
        .filter(|(order, ..)| order.starts_with(&id(0)))
        .map(|(_, patient, letter)| (patient, letter))
        .collect();
    assert_eq!(of_it, [("1234", "W"), ("5678", "F")]);
    once(&made.home).good();
    assert_eq!(receiver.received("AA"), Vec::<Value>::new());
}

#[test]
fn an_average_is_corrected_and_withdrawn_over_mllp() {
    let Some(mut receiver) = Receiver::open() else {
        return;
    };
    let made = Made::of(&sent());
    choose(&made, &address(receiver.port), "");
    made.home
        .run(&["period", "start", "--person", "asha", "--from", "2026-03-01"])
        .good();
    let mut averages = || -> Vec<(String, String, String)> {
        once(&made.home).good();
        let received = receiver.received("AA");
        let own = received.iter().filter(|message| message["OBR-4-1"] == "96607-7");
        own.map(|message| {
            let (order, _, letter) = stands(message);
            (
                order.to_owned(),
                letter.to_owned(),
                text(&message["OBX"][0], "5").to_owned(),
            )
        })
        .collect()
    };
    let discard = |n: usize| {
        let id = made.readings[n]["id"].as_str().unwrap();
        made.home
            .run(&["readings", "discard", id, "--reason", "x"])
            .good();
    };
    let [first] = averages().try_into().unwrap();
    assert_eq!(first.1, "F");
    discard(25);
    let [second] = averages().try_into().unwrap();
    assert_eq!((&second.0, second.1.as_str()), (&first.0, "C"));
    (6..made.readings.len()).filter(|n| *n != 25).for_each(discard);
    let [third] = averages().try_into().unwrap();
    assert_eq!(
        third,
        (second.0, "W".to_owned(), second.2),
        "what is withdrawn is what was said last"
    );
    assert_eq!(averages(), []);
}

/// A certificate for this machine by an authority of its own, and the store that a Java program reads.
fn certified(folder: &Path) -> Option<()> {
    if !program("openssl", "TLS to a receiver of HL7") {
        return None;
    }
    let openssl = |arguments: &[&str]| {
        let ran = Command::new("openssl")
            .args(arguments)
            .current_dir(folder)
            .output()
            .unwrap();
        assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    };
    openssl(&[
        "req",
        "-x509",
        "-newkey",
        "rsa:2048",
        "-nodes",
        "-keyout",
        "k.pem",
        "-out",
        "c.pem",
        "-days",
        "2",
        "-subj",
        "/CN=localhost",
        "-addext",
        "subjectAltName=DNS:localhost",
        "-addext",
        "basicConstraints=critical,CA:FALSE",
    ]);
    openssl(&[
        "pkcs12",
        "-export",
        "-in",
        "c.pem",
        "-inkey",
        "k.pem",
        "-out",
        "store.p12",
        "-passout",
        "pass:secret",
    ]);
    Some(())
}

#[test]
fn tls_to_a_receiver_by_others_is_checked_and_used() {
    let made = Made::of(&few());
    if certified(&made.home.path("")).is_none() {
        return;
    }
    let store = format!(
        "-Djavax.net.ssl.keyStore={}",
        made.home.path("store.p12").display()
    );
    let keys = [
        store.as_str(),
        "-Djavax.net.ssl.keyStorePassword=secret",
        "-Djavax.net.ssl.keyStoreType=PKCS12",
    ];
    let Some(mut receiver) = Receiver::with(&keys, "tls") else {
        return;
    };
    let address = format!("mllps://localhost:{}", receiver.port);
    choose(&made, &address, "");
    once(&made.home).failed(69, &["certificate", "what is due waits"]);
    made.home
        .run(&["deliver", "check"])
        .failed(69, &["certificate does not hold"]);
    let authority = format!("ca-file = \"{}\"", made.home.path("c.pem").display());
    choose(&made, &address, &authority);
    let checked = made.home.run(&["deliver", "check"]).good();
    assert!(
        checked.contains("TLS, and its certificate holds") && checked.contains("asha is 1234"),
        "{checked}"
    );
    once(&made.home).good();
    assert_eq!(
        receiver.received("AA").len() as u64,
        listing(&made.home)["sent"].as_u64().unwrap()
    );
    // By another name it is somebody else.
    choose(&made, &address.replace("localhost", "127.0.0.1"), &authority);
    once(&made.home).failed(69, &["certificate"]);
    assert_eq!(receiver.received("AA"), Vec::<Value>::new());
}

/// An authority of its own, which signs a certificate for this gateway with its key (`gateway.pem`, `gateway.key`), and
/// one that it did not sign (`stranger.pem`, `stranger.key`); for Java, the authority as a store.
fn gateways(folder: &Path) {
    let run = |program: &str, arguments: &[&str]| {
        let ran = Command::new(program)
            .args(arguments)
            .current_dir(folder)
            .output()
            .unwrap();
        assert!(ran.status.success(), "{program} {arguments:?}: {ran:?}");
    };
    let new = ["req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2"];
    let openssl = |more: &[&str]| run("openssl", &[&new[..], more].concat());
    std::fs::write(folder.join("ours"), "basicConstraints=CA:FALSE\n").unwrap();
    openssl(&["-subj", "/CN=authority", "-keyout", "ca.key", "-out", "ca.pem"]);
    openssl(&[
        "-subj",
        "/CN=home",
        "-keyout",
        "stranger.key",
        "-out",
        "stranger.pem",
    ]);
    run(
        "openssl",
        &[
            "req",
            "-newkey",
            "rsa:2048",
            "-nodes",
            "-subj",
            "/CN=home",
            "-keyout",
            "gateway.key",
            "-out",
            "gateway.csr",
        ],
    );
    run(
        "openssl",
        &[
            "x509",
            "-req",
            "-in",
            "gateway.csr",
            "-CA",
            "ca.pem",
            "-CAkey",
            "ca.key",
            "-CAcreateserial",
            "-days",
            "2",
            "-extfile",
            "ours",
            "-out",
            "gateway.pem",
        ],
    );
    run(
        "openssl",
        &[
            "rsa",
            "-aes128",
            "-passout",
            "pass:secret",
            "-in",
            "gateway.key",
            "-out",
            "locked.key",
        ],
    );
    run(
        "keytool",
        &[
            "-importcert",
            "-noprompt",
            "-file",
            "ca.pem",
            "-keystore",
            "trust.p12",
            "-storetype",
            "PKCS12",
            "-storepass",
            "secret",
        ],
    );
    for key in ["gateway.key", "stranger.key", "locked.key"] {
        std::fs::set_permissions(folder.join(key), std::fs::Permissions::from_mode(0o600)).unwrap();
    }
}

fn own(folder: &Path, name: &str) -> String {
    format!(
        "ca-file = \"{0}/c.pem\"\ncertificate-file = \"{0}/{name}.pem\"\ncertificate-key-file = \"{0}/{name}.key\"\n",
        folder.display()
    )
}

/// A receiver by others that asks who we are: refused without a certificate and with another's, in words that say
/// which, and used with the one that its authority signed; by both versions of TLS, which refuse at different moments.
#[test]
fn a_receiver_that_asks_who_we_are_is_shown_our_certificate() {
    if in_a_hurry("a receiver that asks who we are") {
        return;
    }
    let made = Made::of(&few());
    let folder = made.home.path("").canonicalize().unwrap();
    if certified(&folder).is_none() || !program("keytool", WHAT) {
        return;
    }
    gateways(&folder);
    let at = |name: &str| folder.join(name).display().to_string();
    for version in ["TLSv1.2", "TLSv1.3"] {
        let keys = [
            format!("-Djavax.net.ssl.keyStore={}", at("store.p12")),
            "-Djavax.net.ssl.keyStorePassword=secret".into(),
            format!("-Djavax.net.ssl.trustStore={}", at("trust.p12")),
            "-Djavax.net.ssl.trustStorePassword=secret".into(),
            format!("-Djdk.tls.server.protocols={version}"),
        ];
        let keys: Vec<&str> = keys.iter().map(String::as_str).collect();
        let Some(mut receiver) = Receiver::with(&keys, "mutual") else {
            return;
        };
        let address = format!("mllps://localhost:{}", receiver.port);
        choose(&made, &address, &format!("ca-file = \"{}\"", at("c.pem")));
        for arguments in [&["deliver", "check"][..], &["deliver", "--once"]] {
            made.home
                .run(arguments)
                .failed(69, &["asks for a certificate of ours", "clinic.certificate-file"]);
        }
        choose(&made, &address, &own(&folder, "stranger"));
        for arguments in [&["deliver", "check"][..], &["deliver", "--once"]] {
            made.home.run(arguments).failed(
                69,
                &[
                    "does not accept our certificate",
                    "ask the clinic who has to sign it",
                ],
            );
        }
        assert_eq!(receiver.received("AA"), Vec::<Value>::new());
        let before = listing(&made.home)["sent"].as_u64().unwrap();
        choose(&made, &address, &own(&folder, "gateway"));
        let checked = made.home.run(&["deliver", "check"]).good();
        assert!(checked.contains("TLS, and its certificate holds"), "{checked}");
        once(&made.home).good();
        let arrived = receiver.received("AA").len() as u64;
        assert_eq!(arrived, listing(&made.home)["sent"].as_u64().unwrap() - before);
        // The next receiver has another port, and so another ledger.
        assert!(arrived > 0, "{version}");
    }
}

/// What is wrong with the files is said of the file that it is wrong with, before anything is sent.
#[test]
fn a_certificate_or_key_that_cannot_be_used_is_named() {
    let made = Made::of(&few());
    let folder = made.home.path("").canonicalize().unwrap();
    if certified(&folder).is_none() || !program("keytool", WHAT) {
        return;
    }
    gateways(&folder);
    std::fs::write(folder.join("empty.pem"), "nothing").unwrap();
    let address = "mllps://localhost:1";
    let wrong = |certificate: &str, key: &str, code: i32, words: &[&str]| {
        let line = |name: &str, file: &str| match file {
            "" => String::new(),
            file => format!("{name} = \"{}\"\n", folder.join(file).display()),
        };
        let more = line("certificate-file", certificate) + &line("certificate-key-file", key);
        choose(&made, address, &more);
        for arguments in [&["deliver", "check"][..], &["deliver", "--once"]] {
            made.home.run(arguments).failed(code, words);
        }
    };
    wrong("gateway.pem", "", 78, &["clinic.certificate-key-file is missing"]);
    wrong("", "gateway.key", 78, &["clinic.certificate-file is missing"]);
    wrong("none.pem", "gateway.key", 78, &["none.pem", "No such file"]);
    wrong(
        "empty.pem",
        "gateway.key",
        78,
        &["empty.pem", "no certificate in it"],
    );
    wrong(
        "gateway.pem",
        "none.key",
        78,
        &["none.key", "key of our certificate"],
    );
    wrong(
        "gateway.pem",
        "stranger.key",
        78,
        &["stranger.key", "not the key of the certificate in"],
    );
    wrong(
        "gateway.pem",
        "locked.key",
        78,
        &["locked.key", "behind a password", "openssl pkey"],
    );
    std::fs::set_permissions(folder.join("gateway.key"), std::fs::Permissions::from_mode(0o644)).unwrap();
    wrong("gateway.pem", "gateway.key", 77, &["gateway.key", "chmod 600"]);
}

/// The same for a server of FHIR: openssl's asks, and answers with a page of its own, which is no FHIR.
#[test]
fn a_server_of_https_that_asks_who_we_are_is_shown_it_too() {
    let made = Made::of(&few());
    let folder = made.home.path("").canonicalize().unwrap();
    if certified(&folder).is_none() || !program("keytool", WHAT) {
        return;
    }
    gateways(&folder);
    let port = TcpListener::bind("127.0.0.1:0")
        .unwrap()
        .local_addr()
        .unwrap()
        .port();
    let mut server = Command::new("openssl")
        .args([
            "s_server", "-quiet", "-www", "-cert", "c.pem", "-key", "k.pem", "-CAfile", "ca.pem", "-Verify",
            "1",
        ])
        .args(["-verify_return_error", "-accept", &port.to_string()])
        .current_dir(&folder)
        .stdin(std::process::Stdio::null())
        .stdout(std::process::Stdio::null())
        .stderr(std::process::Stdio::null())
        .spawn()
        .unwrap();
    while TcpStream::connect(("127.0.0.1", port)).is_err() {
        std::thread::sleep(Duration::from_millis(50));
    }
    let choose = |more: &str| {
        made.home.file(
            ".config/quietcuff/quietcuff.toml",
            format!(
                "[clinic]\nserver = \"https://localhost:{port}/r4\"\npeople = [\"asha\"]\n{more}\n[fhir.patients]\n\
                 asha = \"Patient/1\"\n"
            ),
        );
        made.home.run(&["deliver", "check"])
    };
    choose(&format!("ca-file = \"{}/c.pem\"", folder.display()))
        .failed(69, &["asks for a certificate of ours"]);
    choose(&own(&folder, "stranger")).failed(69, &["does not accept our certificate", "authority"]);
    let said = choose(&own(&folder, "gateway"));
    let text = format!("{said:?}");
    assert!(!text.contains("certificate"), "{text}");
    said.failed(69, &["FHIR"]);
    let _ = server.kill();
    let _ = server.wait();
}

/// What happens to one message on a line that fails.
#[derive(Clone, Copy)]
enum Fate {
    /// The receiver has it, and the acknowledgement is lost.
    LoseAnswer,
    /// The receiver has it, and says nothing more.
    Hang,
    Pass,
}

fn frame(from: &mut TcpStream) -> Option<Vec<u8>> {
    let (mut frame, mut octet) = (Vec::new(), [0]);
    while !frame.ends_with(b"\x1c\r") {
        if from.read(&mut octet).ok()? == 0 {
            return None;
        }
        frame.push(octet[0]);
    }
    Some(frame)
}

/// A line to the receiver on this port on which the first messages meet these fates; the others pass.
fn line_before(port: u16, fates: Vec<Fate>) -> u16 {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let own = listener.local_addr().unwrap().port();
    std::thread::spawn(move || {
        let mut fates = fates.into_iter();
        let mut hung = Vec::new();
        for near in listener.incoming() {
            let mut near = near.unwrap();
            let mut far = TcpStream::connect(("127.0.0.1", port)).unwrap();
            while let Some(message) = frame(&mut near) {
                far.write_all(&message).unwrap();
                let answer = frame(&mut far).unwrap();
                match fates.next().unwrap_or(Fate::Pass) {
                    Fate::Pass => drop(near.write_all(&answer)),
                    Fate::LoseAnswer => break,
                    Fate::Hang => {
                        hung.push(near);
                        break;
                    }
                }
            }
        }
    });
    own
}

#[test]
fn a_lost_acknowledgement_repeats_the_same_message_under_the_same_name() {
    let Some(mut receiver) = Receiver::open() else {
        return;
    };
    let made = Made::of(&few());
    let port = line_before(receiver.port, vec![Fate::LoseAnswer, Fate::LoseAnswer]);
    choose(&made, &address(port), "");
    once(&made.home).failed(69, &["before it had acknowledged", "what is due waits"]);
    let list = listing(&made.home);
    assert_eq!(
        (list["sent"].as_u64(), list["parked"].as_u64()),
        (Some(0), Some(0))
    );
    // What somebody is called now is no reason to write it anew: the octets are those that went.
    made.home
        .run(&["people", "edit", "asha", "--label", "Asha"])
        .good();
    once(&made.home).failed(69, &["before it had acknowledged"]);
    once(&made.home).good();
    let received = receiver.received("AA");
    let all = listing(&made.home)["sent"].as_u64().unwrap();
    assert_eq!(
        received.len() as u64,
        all + 2,
        "the first came three times, all others once"
    );
    assert_eq!(received[0], received[1], "octet for octet");
    assert_eq!(received[0], received[2]);
    let names: std::collections::BTreeSet<&str> = names(&received).into_iter().collect();
    assert_eq!(names.len() as u64, all);
}

#[test]
fn a_machine_that_stops_while_it_waits_repeats_the_same_message() {
    let Some(mut receiver) = Receiver::open() else {
        return;
    };
    let made = Made::of(&few());
    choose(
        &made,
        &address(line_before(receiver.port, vec![Fate::Pass, Fate::Hang])),
        "",
    );
    let mut child = made.home.command(&["deliver", "--once"]).spawn().unwrap();
    let [one, two] = [receiver.line(), receiver.line()];
    child.kill().unwrap();
    child.wait().unwrap();
    assert_eq!(listing(&made.home)["sent"], 1);
    once(&made.home).good();
    let rest = receiver.received("AA");
    assert_eq!(rest[0], two, "octet for octet");
    assert!(!rest.contains(&one));
    assert_eq!(
        rest.len() as u64,
        listing(&made.home)["sent"].as_u64().unwrap() - 1
    );
}

#[test]
fn what_a_receiver_refuses_waits_and_what_it_rejects_goes_again() {
    let Some(mut receiver) = Receiver::open() else {
        return;
    };
    let made = Made::of(&few());
    choose(&made, &address(receiver.port), "");
    let all = listing(&made.home)["waiting"].as_u64().unwrap();
    let id = made.readings[2]["id"].as_str().unwrap();
    receiver.received(&format!("AE nobody is called 1234@{id}"));
    once(&made.home).failed(
        69,
        &[
            &format!("1 of {all} messages were refused"),
            "quietcuff deliver list",
        ],
    );
    let refused = receiver.received("AR busy with itself");
    assert_eq!(refused.len() as u64, all, "it holds nothing else up");
    let list = listing(&made.home);
    assert_eq!(
        (list["parked"].as_u64(), list["sent"].as_u64()),
        (Some(1), Some(all - 1))
    );
    let reason = list["kinds"][0]["reason"].as_str().unwrap();
    assert!(
        reason.starts_with("AE: ") && reason.contains("nobody is called 1234"),
        "{reason}"
    );
    assert_eq!(list["kinds"][0]["status"], Value::Null);
    let shown = made.home.run(&["deliver", "list"]).good();
    // How far the headings are set off is as wide as the widest.
    let shown = shown.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        shown.contains("Refused 1 ORU^R01: AE: ") && shown.contains(" Messages "),
        "{shown}"
    );
    once(&made.home).good();
    assert_eq!(
        receiver.received("AR busy with itself"),
        Vec::<Value>::new(),
        "it waits for a person"
    );
    made.home.run(&["deliver", "retry", "--all"]).good();
    once(&made.home).failed(69, &["rejects what is sent", "busy with itself"]);
    once(&made.home).failed(69, &["rejects what is sent"]);
    assert_eq!(listing(&made.home)["sent"].as_u64(), Some(all - 1));
    let rejected = receiver.received("AA");
    assert_eq!(rejected.len(), 2);
    once(&made.home).good();
    let taken = receiver.received("AA");
    assert_eq!(names(&taken), names(&rejected[..1]));
    assert_eq!(listing(&made.home)["sent"].as_u64(), Some(all));
}

#[test]
fn a_receiver_that_refuses_everything_alike_is_asked_a_few_times() {
    let Some(mut receiver) = Receiver::open() else {
        return;
    };
    let made = Made::of(&sent());
    choose(&made, &address(receiver.port), "");
    receiver.received("AE who are you");
    once(&made.home).failed(69, &["refuses everything alike", "who are you"]);
    assert!(receiver.received("AA").len() <= 6);
    let list = listing(&made.home);
    assert_eq!(
        (list["parked"].as_u64(), list["sent"].as_u64()),
        (Some(0), Some(0))
    );
    once(&made.home).good();
    let (list, taken) = (listing(&made.home), receiver.received("AA"));
    assert_eq!(
        (list["waiting"].as_u64(), list["sent"].as_u64()),
        (Some(0), Some(taken.len() as u64))
    );
}

/// Listens once for each of these answers, and closes behind it.
fn answering(answers: Vec<Vec<u8>>) -> u16 {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = listener.local_addr().unwrap().port();
    std::thread::spawn(move || {
        for answer in answers {
            let (mut stream, _) = listener.accept().unwrap();
            let _ = frame(&mut stream);
            let _ = stream.write_all(&answer);
        }
    });
    port
}

/// Nothing of these is an acknowledgement, so nothing counts as sent, and the ledger says why.
#[test]
fn what_is_no_acknowledgement_counts_for_nothing() {
    let made = Made::of(&few());
    let nobody = TcpListener::bind("127.0.0.1:0")
        .unwrap()
        .local_addr()
        .unwrap()
        .port();
    choose(&made, &address(nobody), "");
    once(&made.home).failed(69, &["no answer", "refused", "what is due waits"]);
    let head = "\u{b}MSH|^~\\&|x|y|||2026||ACK|1|P|2.5.1\r";
    for (answer, words) in [
        (b"HTTP/1.1 400 Bad Request\r\n\r\n".to_vec(), "no frame of MLLP"),
        (b"\x0b\xff\xfe\x00\x1c\r".to_vec(), "no message"),
        (format!("{head}\u{1c}\r").into_bytes(), "acknowledges nothing"),
        (
            format!("{head}MSA|AA|ANOTHER\r\u{1c}\r").into_bytes(),
            "before it had acknowledged",
        ),
        (format!("{head}MSA|AA").into_bytes(), "before it had acknowledged"),
        (vec![], "before it had acknowledged"),
        (
            [b"\x0b".to_vec(), vec![b'x'; 1 << 20]].concat(),
            "more than 65536 octets",
        ),
    ] {
        choose(&made, &address(answering(vec![answer])), "");
        once(&made.home).failed(69, &[words]);
        let list = listing(&made.home);
        assert_eq!(
            (list["sent"].as_u64(), list["parked"].as_u64()),
            (Some(0), Some(0)),
            "{words}"
        );
        assert!(list["problem"].as_str().unwrap().contains(words), "{list}");
    }
}

#[test]
fn a_dry_run_shows_each_message_and_where_to() {
    let made = Made::of(&few());
    choose(&made, "mllps://clinic.example", "");
    let ran = made.home.run(&["deliver", "--dry-run"]);
    assert!(
        ran.err
            .contains("messages would go to mllps://clinic.example:2575"),
        "{ran:?}"
    );
    let out = ran.good();
    assert_eq!(
        out.matches("MSH|^~\\&|quietcuff^").count() as u64,
        listing(&made.home)["waiting"].as_u64().unwrap()
    );
    assert!(out.contains("\nPID|1||1234^^^CLINIC^MR||asha^^^^^^D\n"));
    for (address, code, words) in [
        ("mllp://clinic.example", 78, ["not encrypted", "mllps"]),
        (
            "mllps://clinic.example/r4",
            78,
            ["only a name and a port", "mllps://"],
        ),
    ] {
        choose(&made, address, "");
        once(&made.home).failed(code, &words);
    }
    choose(&made, "mllps://clinic.example", "");
    let path = ".config/quietcuff/quietcuff.toml";
    let whole = std::fs::read_to_string(made.home.path(path)).unwrap();
    made.home
        .file(path, whole.replace("asha = \"1234", "#asha = \"1234"));
    once(&made.home).failed(78, &["identifier for asha is not known", "[hl7.patients]"]);
}

/// Acknowledges every message, and hands them over.
fn acknowledging() -> (u16, Channel<String>) {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = listener.local_addr().unwrap().port();
    let (tell, messages) = channel();
    std::thread::spawn(move || {
        for near in listener.incoming() {
            let mut near = near.unwrap();
            while let Some(message) = frame(&mut near) {
                let text = String::from_utf8(message).unwrap();
                let name = text.split('|').nth(9).unwrap();
                let head = "\u{b}MSH|^~\\&|x|y|||2026||ACK|1|P|2.5.1\r";
                near.write_all(format!("{head}MSA|AA|{name}\r\u{1c}\r").as_bytes())
                    .unwrap();
                tell.send(text).unwrap();
            }
        }
    });
    (port, messages)
}

/// The letter of the last value of a message (OBX-11).
fn letter(message: &str) -> &str {
    let last = message.rsplit('\r').find(|line| line.starts_with("OBX")).unwrap();
    last.split('|').nth(11).unwrap()
}

#[test]
fn what_was_not_released_goes_to_no_receiver_either() {
    let made = Made::of(&few());
    let (port, messages) = acknowledging();
    choose(&made, &address(port), "");
    let received = || messages.try_iter().collect::<Vec<String>>();
    let release = |more: &[&str]| {
        made.home
            .run(&[&["deliver", "release", "asha"], more].concat())
            .good();
    };
    release(&["--until", "2026-03-01"]);
    once(&made.home).good();
    let first = received();
    let days: std::collections::BTreeSet<&str> = first
        .iter()
        .map(|message| {
            let line = message.split('\r').find(|line| line.starts_with("OBR")).unwrap();
            &line.split('|').nth(7).unwrap()[..8]
        })
        .collect();
    assert_eq!(days, ["20260301"].into(), "{first:?}");
    let list = listing(&made.home);
    assert_eq!(list["sent"].as_u64(), Some(first.len() as u64));
    assert_eq!(list["held"][0]["standing"], "released");

    release(&["--withdraw"]);
    let id = |n: usize| made.readings[n]["id"].as_str().unwrap().to_owned();
    made.home
        .run(&["readings", "time", &id(0), "2026-03-01T06:30"])
        .good();
    once(&made.home).good();
    assert_eq!(received(), Vec::<String>::new(), "no correction");
    made.home
        .run(&["readings", "discard", &id(1), "--reason", "a guest"])
        .good();
    once(&made.home).good();
    let [last] = received().try_into().unwrap();
    assert_eq!(letter(&last), "W");
    assert!(last.contains(&id(1)), "{last}");
    // ServerSaid again, what was corrected meanwhile goes as a correction, and the other days as new.
    release(&[]);
    once(&made.home).good();
    let rest = received();
    let letters = |wanted: &str| rest.iter().filter(|message| letter(message) == wanted).count();
    assert!(
        letters("C") >= 1 && letters("F") >= 2 && letters("W") == 0,
        "{rest:?}"
    );
    assert_eq!(listing(&made.home)["held"].as_array().unwrap().len(), 0);
}

/// The average that counted a reading which is withdrawn goes with it, though no new one may go.
#[test]
fn an_average_that_counted_what_is_withdrawn_is_withdrawn_though_nothing_may_go() {
    let made = Made::of(&sent());
    let (port, messages) = acknowledging();
    choose(&made, &address(port), "");
    made.home
        .run(&["period", "start", "--person", "asha", "--from", "2026-03-01"])
        .good();
    let received = || messages.try_iter().collect::<Vec<String>>();
    let averages = |all: &[String]| {
        let of_average = all.iter().filter(|message| message.contains("96607-7"));
        of_average
            .map(|message| letter(message).to_owned())
            .collect::<Vec<_>>()
    };
    let discard = |n: usize| {
        let id = made.readings[n]["id"].as_str().unwrap();
        made.home
            .run(&["readings", "discard", id, "--reason", "a guest"])
            .good();
    };
    once(&made.home).good();
    assert_eq!(averages(&received()), ["F"]);
    discard(24);
    once(&made.home).good();
    assert_eq!(averages(&received()), ["C"]);
    let release = |more: &[&str]| {
        made.home
            .run(&[&["deliver", "release", "asha"], more].concat())
            .good();
    };
    release(&["--withdraw"]);
    once(&made.home).good();
    assert_eq!(received(), Vec::<String>::new(), "the average there is right");
    discard(25);
    once(&made.home).good();
    let all = received();
    assert_eq!(averages(&all), ["W"], "{all:?}");
    assert!(all.iter().all(|message| letter(message) == "W"));
    once(&made.home).good();
    assert_eq!(received(), Vec::<String>::new(), "once");
    release(&[]);
    once(&made.home).good();
    assert_eq!(averages(&received()), ["C"]);
}
