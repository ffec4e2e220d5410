//! What stands between the gateway and the clinic, and fails in every way that a line or a server can.

use std::io::{Read, Write};
use std::net::{Shutdown, TcpListener, TcpStream};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex};
use std::time::Duration;

/// What happens to one request.
#[derive(Clone, Debug)]
pub(crate) enum Fate {
    /// It goes through.
    Pass,
    /// It is answered here, with these octets, and goes nowhere.
    Answer(Vec<u8>),
    /// The server does it, and the answer is lost.
    LoseAnswer,
    /// The server does it, and says so of its entries in the opposite order.
    TurnAnswer,
    /// Only so many octets of it arrive, then the line is dead for both.
    CutRequest(usize),
    /// Only so many octets of the answer come back.
    CutAnswer(usize),
    /// As [`Fate::CutRequest`], but towards the gateway the line just hangs.
    HangInRequest(usize),
    /// As [`Fate::CutAnswer`], but the line just hangs.
    HangInAnswer(usize),
    /// It goes through once [`Proxy::calm`] was called.
    Held,
}

/// An answer as it is on the line.
pub(crate) fn answer(status: &str, fields: &str, body: &str) -> Fate {
    let length = body.len();
    Fate::Answer(
        format!("HTTP/1.1 {status}\r\n{fields}Content-Length: {length}\r\nConnection: close\r\n\r\n{body}")
            .into_bytes(),
    )
}

pub(crate) const FHIR: &str = "Content-Type: application/fhir+json\r\n";

/// Listens on a port of its own.
pub(crate) struct Proxy {
    pub(crate) port: u16,
    fates: Arc<Mutex<Vec<Fate>>>,
    seen: Arc<Mutex<Vec<String>>>,
    calmed: Arc<AtomicBool>,
    hung: Receiver<TcpStream>,
}

impl Proxy {
    /// Before a server on this port. Requests meet these fates in order; those behind them pass.
    pub(crate) fn before(server: u16, fates: Vec<Fate>) -> Self {
        let listener = TcpListener::bind(("127.0.0.1", 0)).unwrap();
        let port = listener.local_addr().unwrap().port();
        let mut fates = fates;
        fates.reverse();
        let fates = Arc::new(Mutex::new(fates));
        let seen = Arc::new(Mutex::new(Vec::new()));
        let (hang, hung) = channel();
        let calmed = Arc::new(AtomicBool::new(false));
        let (shared, log, told) = (Arc::clone(&fates), Arc::clone(&seen), Arc::clone(&calmed));
        std::thread::spawn(move || {
            for client in listener.incoming().flatten() {
                let (fates, hang, log) = (Arc::clone(&shared), hang.clone(), Arc::clone(&log));
                let calmed = Arc::clone(&told);
                std::thread::spawn(move || serve(client, server, &fates, &calmed, &hang, &log));
            }
        });
        Self {
            port,
            fates,
            seen,
            calmed,
            hung,
        }
    }

    pub(crate) fn url(&self) -> String {
        self.url_of("/fhir")
    }

    /// The address of what is called so at the server.
    pub(crate) fn url_of(&self, path: &str) -> String {
        format!("http://127.0.0.1:{}{path}", self.port)
    }

    /// What happens to the next request.
    pub(crate) fn next(&self, fate: Fate) {
        self.fates.lock().unwrap().push(fate);
    }

    /// Whatever comes next passes.
    pub(crate) fn calm(&self) {
        self.fates.lock().unwrap().clear();
        self.calmed.store(true, Ordering::SeqCst);
    }

    /// The heads of the requests.
    pub(crate) fn seen(&self) -> Vec<String> {
        self.seen.lock().unwrap().clone()
    }

    /// Waits for a line that hangs. It is dead once the value is dropped.
    pub(crate) fn hanging(&self) -> TcpStream {
        self.hung
            .recv_timeout(Duration::from_secs(30))
            .expect("a line that hangs")
    }
}

/// The head of a message and all of its body.
fn read_message(stream: &mut TcpStream) -> Option<Vec<u8>> {
    let (mut octets, mut part) = (Vec::new(), [0; 16 * 1024]);
    loop {
        if let Some(head) = octets.windows(4).position(|window| window == b"\r\n\r\n") {
            let text = String::from_utf8_lossy(&octets[..head]).to_lowercase();
            let length = text
                .lines()
                .find_map(|line| line.strip_prefix("content-length:"))
                .map_or(0, |length| length.trim().parse::<usize>().unwrap());
            if octets.len() >= head + 4 + length {
                return Some(octets);
            }
        }
        match stream.read(&mut part) {
            Ok(0) | Err(_) => return None,
            Ok(n) => octets.extend(&part[..n]),
        }
    }
}

/// An answer with its entries in the opposite order.
fn turned(answer: &[u8]) -> Vec<u8> {
    let text = String::from_utf8_lossy(answer);
    let (head, mut rest) = text.split_once("\r\n\r\n").unwrap();
    let mut body = String::new();
    if head.to_lowercase().contains("transfer-encoding: chunked") {
        // Each chunk has its length before it, in hexadecimal (RFC 9112 section 7.1).
        while let Some((length, more)) = rest.split_once("\r\n") {
            let length = usize::from_str_radix(length, 16).unwrap();
            body.push_str(&more[..length]);
            rest = more[length..].trim_start();
        }
    } else {
        body.push_str(rest);
    }
    let mut bundle: serde_json::Value = serde_json::from_str(&body).unwrap();
    bundle["entry"].as_array_mut().unwrap().reverse();
    let body = bundle.to_string();
    let status = head.lines().next().unwrap();
    let length = body.len();
    format!("{status}\r\n{FHIR}Content-Length: {length}\r\nConnection: close\r\n\r\n{body}").into_bytes()
}

fn serve(
    mut client: TcpStream,
    server: u16,
    fates: &Mutex<Vec<Fate>>,
    calmed: &AtomicBool,
    hang: &Sender<TcpStream>,
    log: &Mutex<Vec<String>>,
) {
    let Some(request) = read_message(&mut client) else {
        return;
    };
    let text = String::from_utf8_lossy(&request).into_owned();
    // What only asks passes, and is not told of.
    let fate = &if text.starts_with("GET ") {
        Fate::Pass
    } else {
        fates.lock().unwrap().pop().unwrap_or(Fate::Pass)
    };
    if !text.starts_with("GET ") {
        log.lock()
            .unwrap()
            .push(text.split("\r\n\r\n").next().unwrap().to_owned());
    }
    if let Fate::Answer(answer) = fate {
        let _ = client.write_all(answer);
        let _ = client.shutdown(Shutdown::Write);
        return;
    }
    if matches!(fate, Fate::Held) {
        let _ = hang.send(client.try_clone().unwrap());
        while !calmed.load(Ordering::SeqCst) {
            std::thread::sleep(Duration::from_millis(20));
        }
    }
    let mut upstream = TcpStream::connect(("127.0.0.1", server)).unwrap();
    if let Fate::CutRequest(at) | Fate::HangInRequest(at) = fate {
        let _ = upstream.write_all(&request[..request.len().min(*at)]);
        if matches!(fate, Fate::HangInRequest(_)) {
            let _ = hang.send(client);
        }
        return;
    }
    // Not every server hangs up by itself.
    let (line, rest) = text.split_once("\r\n").unwrap();
    upstream
        .write_all(format!("{line}\r\nConnection: close\r\n{rest}").as_bytes())
        .unwrap();
    let mut answer = Vec::new();
    upstream.read_to_end(&mut answer).unwrap();
    let upto = match fate {
        Fate::LoseAnswer => 0,
        Fate::CutAnswer(at) | Fate::HangInAnswer(at) => answer.len().min(*at),
        _ => answer.len(),
    };
    if matches!(fate, Fate::TurnAnswer) {
        answer = turned(&answer);
    }
    let upto = upto.min(answer.len());
    let _ = client.write_all(&answer[..upto]);
    if matches!(fate, Fate::HangInAnswer(_)) {
        let _ = hang.send(client);
    }
}
