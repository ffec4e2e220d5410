//! What is done with bytes that somebody else made, a function for each parser.
//!
//! Each target does what the program does with such bytes, and asserts what has to hold of the outcome. libFuzzer makes the
//! bytes (`fuzz.rs`); the tests from outside try the seeds alone. A new parser is a function here and a line in `TARGETS`;
//! its seeds are a folder of that name in `fixtures/fuzz`.

use quietcuff::afar::code::Code;
use quietcuff::afar::speech::{FRAMES_MAX, Take, ToRecord};
use quietcuff::config::Config;
use quietcuff::delivery::answer::{Verdict, read};
use quietcuff::delivery::bundle::{Composed, Draft};
use quietcuff::delivery::receipt::{self, Receipt};
use quietcuff::delivery::smart::{granted, token_endpoint};
use quietcuff::export::fhir::Identity;
use quietcuff::frame::{Frame, VALUE_OCTETS_MAX};
use quietcuff::gatt::{Characteristic, Decoded, RECORD_OCTETS_MAX, Segments, decode, label};
use quietcuff::home::page::{Rehearsal, Settings};
use quietcuff::household::{Household, Person, Statement};
use quietcuff::journal::Journal;
use quietcuff::keys::KeySecret;
use quietcuff::monitoring::protocol::PROTOCOL_BYTES_MAX;
use quietcuff::monitoring::protocols::Protocols;
use quietcuff::outbound;
use quietcuff::radio::bearer::attributes::{AttributeDiscovery, ServerAttributes};
use quietcuff::radio::bearer::client::{AttributeClient, PacketMeaning};
use quietcuff::radio::bearer::pdu::Pdu;
use quietcuff::radio::bearer::server::{Server, Time};
use quietcuff::radio::capture::Capture;
use quietcuff::radio::json_lines::{AsLine, FrameLines};
use quietcuff::socket::speech::{self, Answer};
use std::cell::RefCell;
use std::hint::black_box;
use std::io::Cursor;
use std::path::Path;
use std::sync::OnceLock;

/// What is done with the bytes.
pub(super) type Target = fn(&[u8]);

/// Each target by the name of its folder of seeds.
pub(super) const TARGETS: [(&str, Target); 14] = [
    ("answer", answer),
    ("receipt", receipt),
    ("bearer", bearer),
    ("forms", forms),
    ("token", token),
    ("value", value),
    ("capture", capture),
    ("json-lines", json_lines),
    ("configuration", configuration),
    ("protocol", protocol),
    ("statement", statement),
    ("question", question),
    ("segments", segments),
    ("afar", afar),
];

/// What a clinic's server answers to a Bundle of two: a status, then the body.
fn answer(bytes: &[u8]) {
    static SENT: OnceLock<Vec<Draft>> = OnceLock::new();
    let Some(([low, high], body)) = bytes.split_first_chunk() else {
        return;
    };
    let sent = SENT.get_or_init(|| {
        let draft = |name: &str| {
            let text = r#"{"resourceType":"Observation"}"#.to_owned();
            Draft::of_text(Identity::new(name.to_owned()), "Observation", text, None, None)
        };
        vec![draft("a"), draft("b")]
    });
    let sent = Composed {
        text: String::new(),
        entries: sent.iter().collect(),
        supports: 0,
    };
    let given = outbound::HttpAnswer {
        status: u16::from_le_bytes([*low, *high]) % 600,
        media_type: "application/fhir+json".to_owned(),
        body: body.to_vec(),
        ..outbound::HttpAnswer::default()
    };
    if let Verdict::Entries(said) = read(&given, &sent, &|text| text.replace("hunter2", "[secret]")) {
        assert_eq!(
            (given.status, said.len()),
            (200, 2),
            "one word for each that was sent"
        );
    }
}

/// What a receiver of HL7 version 2 acknowledges.
fn receipt(bytes: &[u8]) {
    match receipt::read(bytes, "C1") {
        Ok(Receipt::Accepted) => {
            let text = String::from_utf8_lossy(bytes);
            assert!(text.contains("C1") && (text.contains("AA") || text.contains("CA")));
        }
        Ok(Receipt::Refused(why) | Receipt::Rejected(why)) => {
            assert!(why.chars().count() <= 500 && !why.chars().any(char::is_control));
        }
        Ok(Receipt::Another) => {}
        Err(why) => assert!(!why.is_empty()),
    }
}

/// What a monitor says over a link of our own: packets, each behind an octet with its length.
fn bearer(mut bytes: &[u8]) {
    struct Noon;
    impl Time for Noon {
        fn current_time(&self) -> Option<Vec<u8>> {
            Some(vec![0xea, 0x07, 3, 1, 12, 0, 0, 7, 0, 0])
        }
        fn local_time(&self) -> Option<Vec<u8>> {
            Some(vec![22, 0])
        }
        fn reference_time(&self) -> Vec<u8> {
            vec![1, 255, 0, 0]
        }
        fn adjustments(&self) -> u32 {
            1
        }
    }
    let (mut client, mut server) = (AttributeClient::default(), Server::new(Noon, true));
    let mut discovery = AttributeDiscovery::of_service(None);
    while let Some((length, rest)) = bytes.split_first() {
        let packet;
        (packet, bytes) = rest.split_at(rest.len().min(usize::from(*length)));
        if let Ok(pdu) = Pdu::decode(packet)
            && !matches!(pdu, Pdu::Other(_))
        {
            assert_eq!(Pdu::decode(&pdu.encode()), Ok(pdu), "written, it reads the same");
        }
        if client.is_free() {
            match discovery.next() {
                Some(request) => drop(client.ask(&request, std::time::Instant::now())),
                None => discovery = AttributeDiscovery::of_the_rest(&discovery.attributes()),
            }
        }
        match client.received(packet) {
            PacketMeaning::Answer(answer) => {
                if discovery.answered(answer).is_err() {
                    discovery = AttributeDiscovery::of_the_rest(&ServerAttributes::default());
                }
            }
            PacketMeaning::Request => {
                server.agree(client.mtu());
                let answer = server.answer(packet).expect("each request is answered").encode();
                assert!(
                    answer.len() <= usize::from(client.mtu()),
                    "{answer:02x?} does not fit"
                );
            }
            PacketMeaning::Value(_) | PacketMeaning::Ignored => {}
        }
    }
}

/// Segments of stored records: whether they are checked, then each behind an octet with its length.
fn segments(bytes: &[u8]) {
    let Some((checked, mut bytes)) = bytes.split_first() else {
        return;
    };
    let mut segments = Segments::new(checked & 1 != 0);
    while let Some((length, rest)) = bytes.split_first() {
        let segment;
        (segment, bytes) = rest.split_at(rest.len().min(usize::from(*length)));
        if let Some(Ok(record)) = segments.take(segment).record {
            assert!(record.value.len() <= RECORD_OCTETS_MAX);
            assert!(!segments.is_open(), "a whole record leaves nothing open");
        }
    }
    black_box(segments.unfinished());
}

/// What an authorization server answers: a status, then the body; a configuration or a grant.
fn token(bytes: &[u8]) {
    static FROM: OnceLock<outbound::Endpoint> = OnceLock::new();
    let from =
        FROM.get_or_init(|| outbound::Endpoint::parse("https://clinic.invalid/", false).expect("a good one"));
    let Some(([low, high], body)) = bytes.split_first_chunk() else {
        return;
    };
    if let Ok(endpoint) = token_endpoint(body, from, false) {
        assert!(endpoint.to_string().starts_with("https://"), "{endpoint}");
    }
    let given = outbound::HttpAnswer {
        status: u16::from_le_bytes([*low, *high]) % 600,
        media_type: "application/json".to_owned(),
        body: body.to_vec(),
        ..outbound::HttpAnswer::default()
    };
    if let Ok((token, _)) = granted(&given) {
        assert_eq!(given.status, 200);
        assert!(
            !token.expose().is_empty() && token.expose().bytes().all(|octet| octet.is_ascii_graphic()),
            "it goes into a header"
        );
    }
}

/// Requests of a browser, until a journal has so many: what they state must not make each later one slower.
const REQUESTS_A_JOURNAL: u32 = 500;

/// A line `GET /path?query` or `POST /path?query`, a line with cookies, and the form.
fn forms(bytes: &[u8]) {
    thread_local! {
        static PAGE: RefCell<Option<(std::path::PathBuf, Rehearsal, u32)>> = const { RefCell::new(None) };
    }
    let mut parts = bytes.splitn(3, |octet| *octet == b'\n');
    let (Some(line), Some(cookie), Some(form)) = (parts.next(), parts.next(), parts.next()) else {
        return;
    };
    let Some((method, target)) = std::str::from_utf8(line)
        .ok()
        .and_then(|line| line.split_once(' '))
    else {
        return;
    };
    PAGE.with_borrow_mut(|page| {
        let (_, rehearsal, asked) = match page {
            Some(page) => page,
            None => page.insert(household()),
        };
        let status = rehearsal.answer(method == "POST", target, cookie, form);
        // The journal is sound here: whatever a browser sends is answered, and it is never the journal's fault.
        assert!(status.is_none_or(|status| status < 500), "{status:?} {target}");
        *asked += 1;
        if *asked == REQUESTS_A_JOURNAL
            && let Some((place, ..)) = page.take()
        {
            let _ = std::fs::remove_dir_all(place);
        }
    });
}

/// Two people, one of them with a reading of nobody's; `run` says where, and clears it away.
fn household() -> (std::path::PathBuf, Rehearsal, u32) {
    let place = std::env::temp_dir().join(format!("quietcuff-forms-{}", std::process::id()));
    let _ = std::fs::remove_dir_all(&place);
    let mut journal = Journal::open(&place).expect("a new journal");
    let mut statements: Vec<Statement> = [("asha", "Asha"), ("ravi", "Ravi")]
        .map(|(id, label)| Statement::Person {
            person: id.parse().expect("an id"),
            details: Person {
                label: label.to_owned(),
                ..Person::default()
            },
        })
        .into();
    statements.push(Statement::Zone {
        zone: "+01:00".to_owned(),
        from: None,
    });
    let frame = r#"{"received_at":"2026-03-01T06:02:11Z","monitor":"C0:FF:EE:00:00:01","connection":1,"characteristic":"2a35","value":"14780050005a00480000"}"#;
    let frames: Vec<Frame> = FrameLines::new(frame.as_bytes())
        .collect::<Result<_, _>>()
        .expect("an invented frame");
    let first = frames.first().expect("it is one").received_at;
    journal.state(first, &statements).expect("it can be written");
    journal.append(&frames).expect("it can be written");
    journal.settle().expect("it can be settled");
    drop(journal);
    let settings = Settings {
        listen: ([127, 0, 0, 1], 0).into(),
        tls: None,
        plain_http_to_others: false,
        behind_proxy: false,
        open_on_this_machine: false,
        names: Vec::new(),
        own: KeySecret::new().expect("the system gives random numbers"),
    };
    let rehearsal = Rehearsal::open(&place, None, settings).expect("it was just made");
    (place, rehearsal, 0)
}

/// A characteristic's number and its value, as the radio brings them.
fn value(bytes: &[u8]) {
    let Some(([low, high], value)) = bytes.split_first_chunk() else {
        return;
    };
    let Ok(characteristic) = format!("{high:02x}{low:02x}").parse::<Characteristic>() else {
        return;
    };
    let labelled = label(characteristic, value);
    if let Ok(decoded) = Decoded::new(characteristic, value) {
        assert_eq!(decode(characteristic, value).ok(), Some(decoded.value));
        let json = serde_json::to_string(&decoded).expect("what is decoded can be printed");
        serde_json::from_str::<serde_json::Value>(&json).expect("what is printed is JSON");
        black_box(labelled);
    }
}

/// A btsnoop capture.
fn capture(bytes: &[u8]) {
    if let Ok(mut capture) = Capture::open(Cursor::new(bytes)) {
        let frames = capture.by_ref().filter_map(Result::ok).inspect(|frame| {
            assert!(frame.value.len() <= VALUE_OCTETS_MAX);
        });
        assert!(frames.count() <= bytes.len(), "more frames than octets");
        black_box(capture.summary().remarks());
    }
}

/// Frames as JSON Lines: what is read is printed so that it is read again.
fn json_lines(bytes: &[u8]) {
    for frame in FrameLines::new(bytes).flatten() {
        let line = AsLine(&frame).to_string();
        let again: Vec<Frame> = FrameLines::new(line.as_bytes())
            .collect::<Result<_, _>>()
            .expect("a printed frame can be read");
        assert_eq!(again, [frame], "{line}");
    }
}

fn configuration(bytes: &[u8]) {
    if let Ok(text) = std::str::from_utf8(bytes) {
        match Config::parse(text, Path::new("fuzz.toml")) {
            Ok(config) => _ = black_box(config.fhir.switches()),
            Err(error) => assert!(!error.to_string().is_empty()),
        }
    }
}

/// The file of a clinic.
fn protocol(bytes: &[u8]) {
    static BUILT_IN: OnceLock<Protocols> = OnceLock::new();
    let built_in = BUILT_IN.get_or_init(|| Protocols::built_in().expect("these are part of the program"));
    if let Some(text) = bytes.get(..PROTOCOL_BYTES_MAX.min(bytes.len()))
        && let Ok(text) = std::str::from_utf8(text)
    {
        match built_in.clone().with_clinic(text) {
            Ok(protocols) => {
                let clinic = protocols.iter().last().expect("there are the built-in ones");
                black_box(clinic.sessions_expected(clinic.days.value));
            }
            Err(error) => assert!(!error.to_string().is_empty()),
        }
    }
}

/// What a journal, perhaps a damaged one, says that people stated; a line each.
fn statement(bytes: &[u8]) {
    let mut household = Household::default();
    for line in bytes.split(|octet| *octet == b'\n') {
        if let Ok(statement) = serde_json::from_slice::<Statement>(line) {
            let json = serde_json::to_vec(&statement).expect("a statement can be kept");
            let again: Statement = serde_json::from_slice(&json).expect("a kept statement can be read");
            assert_eq!(again, statement);
            household.apply(&statement);
        }
    }
    if household.clinic_protocol.is_some() {
        black_box(Protocols::of(&household).is_ok());
    }
}

/// What is asked at the local socket.
fn question(bytes: &[u8]) {
    match speech::request(bytes) {
        Ok(request) => {
            let line = speech::line(&request).expect("a request can be asked");
            assert_eq!(speech::request(&line), Ok(request));
        }
        Err(answer) => assert!(matches!(answer, Answer::NotUnderstood { .. })),
    }
    let _ = speech::answer(bytes);
}

/// What a listener says to the record, a code as a person gives it, and what a record answers. What is taken is what its
/// digest says, in order, and comes back the same when it is offered again.
fn afar(bytes: &[u8]) {
    if let Ok(ToRecord::Take(take)) = serde_json::from_slice(bytes)
        && let Ok(heard) = take.heard()
        && let Ok(clocks) = take.clocks()
    {
        assert!(heard.len() <= FRAMES_MAX as usize);
        assert!(heard.windows(2).all(|two| two[0].sequence < two[1].sequence));
        let again = Take::of(&heard, &clocks, &take.state("")).unwrap();
        assert_eq!(again.heard().unwrap(), heard);
    }
    _ = black_box(serde_json::from_slice::<quietcuff::afar::speech::FromRecord>(
        bytes,
    ));
    if let Ok(text) = std::str::from_utf8(bytes)
        && let Ok(code) = text.parse::<Code>()
    {
        let again: Code = code.to_string().parse().unwrap();
        assert_eq!((again.at, again.record), (code.at, code.record));
    }
}
