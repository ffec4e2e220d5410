//! What stands between a listener and the record, and fails as lines do: it is cut after so many octets, of either
//! direction, whatever is said on it.

use std::io::{Read, Write};
use std::net::{Shutdown, TcpListener, TcpStream};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};

pub(super) struct Relay {
    pub(super) at: String,
    /// How many connections came.
    pub(super) calls: Arc<AtomicU64>,
}

impl Relay {
    /// Before a record. Each connection lives for the next of these: octets from the listener, and octets to it. Behind
    /// the last, connections live on.
    pub(super) fn before(record: String, lives: Vec<(usize, usize)>) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let at = listener.local_addr().unwrap().to_string();
        let calls = Arc::new(AtomicU64::new(0));
        let (count, lives) = (calls.clone(), Mutex::new(lives.into_iter()));
        std::thread::spawn(move || {
            for from in listener.incoming() {
                count.fetch_add(1, Ordering::Relaxed);
                let life = lives.lock().unwrap().next().unwrap_or((usize::MAX, usize::MAX));
                let (Ok(from), Ok(to)) = (from, TcpStream::connect(&record)) else {
                    continue;
                };
                let (back, forth) = (to.try_clone().unwrap(), from.try_clone().unwrap());
                std::thread::spawn(move || carry(from, to, life.0));
                std::thread::spawn(move || carry(back, forth, life.1));
            }
        });
        Self { at, calls }
    }
}

fn carry(mut from: TcpStream, mut to: TcpStream, mut left: usize) {
    let mut octets = [0; 4096];
    while left > 0
        && let Ok(n) = from.read(&mut octets)
    {
        let n = n.min(left);
        if n == 0 || to.write_all(&octets[..n]).is_err() {
            break;
        }
        left -= n;
    }
    let _ = from.shutdown(Shutdown::Both);
    let _ = to.shutdown(Shutdown::Both);
}
