//! Servers that speak without end: whoever listens to them takes no memory for it, and says what was wrong.

use crate::harness::page::Home;
use std::io::{Read, Write};
use std::net::{TcpListener, TcpStream};
use std::process::Stdio;
use std::time::{Duration, Instant};

/// A server that sends this, and then the same octets for ever, to everybody.
fn endless(begin: &'static [u8], wait_to_be_asked: bool) -> u16 {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = listener.local_addr().unwrap().port();
    std::thread::spawn(move || {
        for stream in listener.incoming().flatten() {
            std::thread::spawn(move || pour(stream, begin, wait_to_be_asked));
        }
    });
    port
}

fn pour(mut stream: TcpStream, begin: &[u8], wait_to_be_asked: bool) {
    if wait_to_be_asked {
        let _ = stream.read(&mut [0_u8; 4096]);
    }
    let more = [b'x'; 65_536];
    let _ = stream.write_all(begin);
    while stream.write_all(&more).is_ok() {}
}

/// The most memory that the command took, in KiB, and what it said.
fn tried(home: &Home, route: &str) -> (u64, String) {
    let begun = Instant::now();
    let mut child = home
        .command(&["remind", "test", route])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut most = 0;
    while child.try_wait().unwrap().is_none() {
        assert!(begun.elapsed() < Duration::from_secs(60), "{route} goes on");
        let status = std::fs::read_to_string(format!("/proc/{}/status", child.id())).unwrap_or_default();
        let peak = status.lines().find_map(|line| {
            line.strip_prefix("VmHWM:")?
                .trim()
                .strip_suffix(" kB")?
                .parse()
                .ok()
        });
        most = most.max(peak.unwrap_or(0));
        std::thread::sleep(Duration::from_millis(20));
    }
    let output = child.wait_with_output().unwrap();
    assert!(!output.status.success(), "{route}: {output:?}");
    (most, String::from_utf8_lossy(&output.stderr).into_owned())
}

#[test]
fn a_server_that_speaks_without_end_takes_no_memory() {
    let home = Home::new();
    let secret = home.dir.path().join("secret");
    std::fs::write(&secret, "invented\n").unwrap();
    std::fs::set_permissions(&secret, std::os::unix::fs::PermissionsExt::from_mode(0o600)).unwrap();
    let banner = endless(b"220 ", false);
    let field = endless(b"HTTP/1.1 200 OK\r\nX-Long: ", true);
    let body = endless(b"HTTP/1.1 200 OK\r\n\r\n", true);
    // A packet of the greatest length that there is (MQTT 5.0, 1.5.5).
    let packet = endless(b"\x20\xff\xff\xff\x7f", true);
    let text = format!(
        "[alerts.mail]\nserver = \"127.0.0.1\"\nport = {banner}\nsecurity = \"none\"\nfrom = \"q@home.example\"\n\
         [alerts.mqtt]\nserver = \"127.0.0.1\"\nport = {packet}\ntls = false\n\
         [[alerts.route]]\nname = \"mail\"\nmail = \"a@home.example\"\n\
         [[alerts.route]]\nname = \"mqtt\"\nmqtt = true\n\
         [[alerts.route]]\nname = \"field\"\nwebhook = \"http://127.0.0.1:{field}/\"\ntoken-file = \"secret\"\n\
         [[alerts.route]]\nname = \"body\"\nwebhook = \"http://127.0.0.1:{body}/\"\ntoken-file = \"secret\"\n"
    );
    std::fs::write(home.dir.path().join("quietcuff.toml"), text).unwrap();
    for route in ["mail", "mqtt", "field", "body"] {
        let (kib, said) = tried(&home, route);
        eprintln!("{route}: {kib} KiB: {said}");
        assert!(kib < 64 * 1024, "{route}: {kib} KiB: {said}");
    }
}
