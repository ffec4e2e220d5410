//! Whoever is at the machine itself: no address proves it, since a proxy that says nothing of itself comes from there
//! too. A link that a command prints does, once.

use crate::harness::page::{Home, Served, get, served};
use crate::page::access::{enter, key};
use std::io::{Read, Write};
use std::net::{TcpListener, TcpStream};
use std::thread;

/// As it is served without any configuration.
fn shut(home: &Home) -> Served {
    served(home.command(&["serve", "--listen", "127.0.0.1:0"]))
}

/// The path of a new link.
fn link(home: &Home) -> String {
    let link = home.text(&["keys", "link"]);
    assert!(link.starts_with("http://127.0.0.1:8417/enter?link="), "{link}");
    link.trim().trim_start_matches("http://127.0.0.1:8417").to_owned()
}

/// The cookie that a link gets, or the status.
fn come_in(address: &str, path: &str) -> Result<String, u16> {
    let back = get(address, path, "");
    match back.header("set-cookie") {
        Some(cookie) if back.status == 303 && back.header("location") == Some("/") => {
            assert!(
                cookie.contains("HttpOnly") && cookie.contains("SameSite=Strict"),
                "{cookie}"
            );
            Ok(format!("Cookie: {}\r\n", cookie.split(';').next().unwrap()))
        }
        _ => Err(back.status),
    }
}

/// Hands octets on as they come and adds nothing: what a reverse proxy does that sets no header.
fn silent_proxy(to: String) -> String {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let at = listener.local_addr().unwrap().to_string();
    thread::spawn(move || {
        while let Ok((mut client, _)) = listener.accept() {
            let mut server = TcpStream::connect(&to).unwrap();
            let mut request = [0; 4096];
            let n = client.read(&mut request).unwrap();
            server.write_all(&request[..n]).unwrap();
            let mut answer = Vec::new();
            server.read_to_end(&mut answer).unwrap();
            client.write_all(&answer).unwrap();
        }
    });
    at
}

#[test]
fn a_proxy_that_says_nothing_of_itself_is_not_taken_for_the_machine() {
    let home = Home::new();
    let served = shut(&home);
    let proxy = silent_proxy(served.address().to_owned());
    for at in [&proxy, served.address()] {
        for path in [
            "/",
            "/week?person=asha",
            "/sheet/open?person=asha",
            "/live",
            "/metrics",
        ] {
            let back = get(at, path, "");
            assert_eq!(back.status, 401, "{at}{path}");
            assert!(!back.body.contains("Asha"), "{path}");
        }
        assert!(get(at, "/", "").body.contains("quietcuff keys link"));
    }
    // Whoever has a key comes in by it as from everywhere.
    let cookie = enter(&proxy, &key(&home, &["--role", "caregiver"])).unwrap();
    assert_eq!(get(&proxy, "/week?person=asha", &cookie).status, 200);
}

#[test]
fn a_link_lets_whoever_is_at_the_machine_in_once() {
    let home = Home::new();
    let served = shut(&home);
    let at = served.address();
    let (first, second) = (link(&home), link(&home));
    let cookie = come_in(at, &first).unwrap();
    let page = get(at, "/week?person=asha", &cookie);
    assert!(page.status == 200 && page.body.contains("Asha"), "{page:?}");
    assert_eq!(get(at, "/people", &cookie).status, 200);
    assert_eq!(come_in(at, &first), Err(403), "it works once");
    assert_eq!(come_in(at, "/enter?link=nonsense"), Err(403));
    assert_eq!(get(at, "/", &cookie).status, 200);
    // Its secret is no key, and is nowhere.
    let secret = second.split('=').nth(1).unwrap();
    assert_eq!(enter(at, secret), Err(403));
    for file in ["journal.sqlite", "journal.sqlite-wal"] {
        let octets = std::fs::read(home.state().join(file)).unwrap_or_default();
        assert!(!octets.windows(secret.len()).any(|part| part == secret.as_bytes()));
    }
    // Later it opens nothing.
    let db = rusqlite::Connection::open(home.state().join("journal.sqlite")).unwrap();
    assert_eq!(
        db.execute("UPDATE page_link SET until_us = until_us - 600000000", [])
            .unwrap(),
        1
    );
    assert_eq!(come_in(at, &second), Err(403), "it is over");
    // Every screen that was opened so is closed by one command, and the next link opens again.
    assert!(home.text(&["keys", "list"]).contains("this machine"));
    home.text(&["keys", "withdraw", "here"]);
    assert_eq!(get(at, "/", &cookie).status, 401);
    let cookie = come_in(at, &link(&home)).unwrap();
    assert_eq!(get(at, "/", &cookie).status, 200);
    // Numbers of keys go on as if there were none for the machine.
    key(&home, &["--role", "caregiver"]);
    assert!(home.text(&["keys", "list"]).contains("k1 "));
}

#[test]
fn a_link_does_not_come_back_with_a_backup() {
    let home = Home::new();
    let path = link(&home);
    let copy = home.dir.path().join("copy");
    home.text(&["backup", "--output", copy.to_str().unwrap()]);
    std::fs::remove_dir_all(home.state()).unwrap();
    home.text(&["restore", copy.to_str().unwrap()]);
    let served = shut(&home);
    assert_eq!(come_in(served.address(), &path), Err(403));
}

/// Only where the machine's owner says so is it as open as the machine.
#[test]
fn open_is_only_what_the_configuration_or_the_command_opens() {
    let home = Home::new();
    home.configure("open-on-this-machine = true\n");
    let served = shut(&home);
    assert_eq!(get(served.address(), "/", "").status, 200);
    assert_eq!(get(served.address(), "/", "Via: 1.1 made\r\n").status, 403);
    drop(served);
    home.configure("open-on-this-machine = true\nbehind-proxy = true\nplain-http-to-others = true\n");
    assert_eq!(get(shut(&home).address(), "/", "").status, 401);
}
