//! How often a page that is open puts together what the household stated.

use crate::harness::page::{Home, get, post, served_and_logged};
use std::fs::File;
use std::io::{Read, Write};
use std::net::TcpStream;

const FRAMES: u16 = 25;

/// While a cuff works, and whatever is looked at: once. After a statement: once more.
#[test]
fn what_was_stated_is_put_together_once_for_any_number_of_frames_and_pages() {
    let home = Home::begun_today();
    let log = home.dir.path().join("log");
    let command = home.command(&["serve", "--open", "--listen", "127.0.0.1:0", "-v"]);
    let served = served_and_logged(command, File::create(&log).unwrap().into());
    let at = served.address();
    let mut stream = TcpStream::connect(at).unwrap();
    write!(stream, "GET /live?person=asha HTTP/1.1\r\nHost: {at}\r\n\r\n").unwrap();
    let mut hears = |text: &str| {
        let mut heard = Vec::new();
        let mut buffer = [0; 4096];
        while !String::from_utf8_lossy(&heard).contains(text) {
            let n = stream.read(&mut buffer).unwrap();
            assert!(n > 0, "the stream ended before {text}");
            heard.extend(&buffer[..n]);
        }
    };
    let times = || {
        let log = std::fs::read_to_string(&log).unwrap();
        log.matches("statements were put together").count()
    };
    hears("Sit down and rest");
    let opened = times();
    assert!(opened > 0, "it is counted");
    for n in 0..FRAMES {
        home.cuff(100 + n);
        hears(&format!("{}", 100 + n));
        for path in [
            "/?person=asha",
            "/week?person=asha",
            "/earlier?person=asha",
            "/monitors",
            "/people",
        ] {
            assert_eq!(get(at, path, "").status, 200, "{path}");
        }
    }
    home.reading(0, 128, 82, 0);
    hears("128/82");
    assert_eq!(
        times(),
        opened,
        "{FRAMES} frames, a reading and five times as many pages"
    );
    let token = get(at, "/", "").token();
    let form = format!("token={token}&person=asha&what=coffee");
    assert_eq!(post(at, "/notes", &form, "").status, 303);
    get(at, "/week?person=asha", "");
    assert_eq!(times(), opened + 1, "one statement came");
}
