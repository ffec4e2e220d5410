//! `quietcuff deliver launch` and `withdraw`: one person opens their record at the clinic to this gateway, and closes
//! it.
//!
//! The person's browser is sent back to an address of this machine (RFC 8252, section 7.3), where this command listens
//! for that one visit; or to any other address that was registered, which the person then pastes here.

use crate::cli::failure::{self, Failure};
use crate::cli::place::Everywhere;
use crate::delivery::launch::{Begun, LaunchError};
use crate::delivery::opening::{self, Opener, OpeningError, WAIT};
use crate::delivery::{Clinic, DeliveryError};
use crate::roles::delivery::DeliverError;
use crate::secret::Secret;
use clap::Args;
use jiff::Timestamp;
use std::io::{BufRead, BufReader, ErrorKind, Read, Write};
use std::net::{IpAddr, SocketAddr, TcpListener, TcpStream};
use std::time::{Duration, Instant};

/// How often it is looked whether the browser has come.
const LOOK: Duration = Duration::from_millis(100);
/// A browser sends its question in milliseconds.
const VISIT: Duration = Duration::from_secs(5);
/// Octets of a question; a code has some hundred.
const QUESTION_OCTETS_MAX: u64 = 16 * 1024;
/// Octets of an address that is pasted.
const PASTED_OCTETS_MAX: u64 = 16 * 1024;

#[derive(Args)]
pub(super) struct LaunchArgs {
    /// Do not wait for the browser: read the address at which it ends from standard input
    #[arg(long)]
    paste: bool,
}

fn failed(error: DeliveryError) -> Failure {
    DeliverError::from(error).into()
}

fn not_opened(error: LaunchError) -> Failure {
    not_kept(OpeningError::Launch(error))
}

fn not_kept(error: OpeningError) -> Failure {
    let error = match error {
        OpeningError::Delivery(error) => return failed(error),
        OpeningError::Launch(error) => error,
    };
    let code = match error {
        LaunchError::Server(_) | LaunchError::Lacking(_) => failure::UNAVAILABLE,
        LaunchError::Declined | LaunchError::Refused(_) => failure::NO_PERMISSION,
        LaunchError::NotOurs(_) => failure::DATA,
    };
    Failure::new(code, error.to_string())
}

fn clinic(here: &Everywhere) -> Result<Clinic, Failure> {
    let mut clinic = here.config()?.clinic;
    clinic.state = Some(here.state()?);
    Ok(clinic)
}

pub(super) fn run(here: &Everywhere, args: &LaunchArgs) -> Result<(), Failure> {
    let clinic = clinic(here)?;
    opening::server_of(&clinic).map_err(failed)?;
    let opener = Opener::of(&clinic, &here.read_journal()?.household()?).map_err(failed)?;
    let (person, redirect) = (&opener.person, &clinic.redirect_url);
    // Before anybody is asked for a password, it is known whether the way back is free.
    let door = match own_address(redirect) {
        Some(address) if !args.paste => Some(open(address, redirect)?),
        _ => None,
    };
    let begun = opener.begin(redirect, Timestamp::now()).map_err(not_opened)?;
    eprintln!(
        "quietcuff: {person} opens this address in a browser, and says at the clinic's page that this gateway \
         may write into their \
         record:"
    );
    println!("{}", begun.url);
    std::io::stdout().flush()?;
    let code = match &door {
        Some(door) => {
            eprintln!(
                "quietcuff: waiting until the browser comes back to {redirect} on this machine; --paste waits for nobody"
            );
            wait(door, &begun, redirect)?
        }
        None => pasted(&begun)?,
    };
    let enrolled = opener.finish(begun, &code, Timestamp::now()).map_err(not_kept)?;
    eprintln!(
        "quietcuff: {person} is {} at {}, and that one record is open to this gateway until {person} \
         takes it back there, or \
         here by `quietcuff deliver withdraw`. The key is in {}, for its owner only",
        enrolled.reference(),
        opener.server,
        opener.path.display()
    );
    Ok(())
}

/// The address to listen at, where the browser is sent back to this machine.
fn own_address(redirect: &str) -> Option<SocketAddr> {
    let authority = redirect.strip_prefix("http://")?.split(['/', '?']).next()?;
    let (host, port) = authority.rsplit_once(':')?;
    let host = host.trim_start_matches('[').trim_end_matches(']');
    let host: IpAddr = if host == "localhost" {
        IpAddr::from([127, 0, 0, 1])
    } else {
        host.parse().ok()?
    };
    let port = port.parse().ok()?;
    host.is_loopback().then(|| SocketAddr::new(host, port))
}

fn open(address: SocketAddr, redirect: &str) -> Result<TcpListener, Failure> {
    let cannot = |error: std::io::Error| {
        Failure::new(
            failure::UNAVAILABLE,
            format!(
                "cannot wait for the browser at {redirect}: {}; end what listens there, or use --paste",
                crate::whole::reason(&error)
            ),
        )
    };
    let door = TcpListener::bind(address).map_err(cannot)?;
    door.set_nonblocking(true).map_err(cannot)?;
    Ok(door)
}

/// Waits for the browser. Other visits, such as for a picture of the page, are told that there is nothing.
fn wait(door: &TcpListener, begun: &Begun, redirect: &str) -> Result<Secret, Failure> {
    let until = Instant::now() + WAIT;
    let path = redirect
        .split_once("://")
        .and_then(|(_, rest)| rest.split_once('/'))
        .map_or_else(|| "/".to_owned(), |(_, path)| format!("/{path}"));
    while Instant::now() < until {
        let visit = match door.accept() {
            Ok((visit, _)) => visit,
            Err(error) if error.kind() == ErrorKind::WouldBlock => {
                std::thread::sleep(LOOK);
                continue;
            }
            Err(_) => continue,
        };
        let Some(target) = question(&visit) else { continue };
        let is_ours = target
            .strip_prefix(path.as_str())
            .is_some_and(|rest| rest.starts_with(['?', '&']));
        if !is_ours {
            answer(&visit, "404 Not Found", "There is nothing here.");
            continue;
        }
        match begun.code(&target) {
            Ok(code) => {
                answer(
                    &visit,
                    "200 OK",
                    "The clinic's answer has come. You may close this page; the rest is said where the command runs.",
                );
                return Ok(code);
            }
            // Whoever else sends somebody here does not end the waiting.
            Err(error @ LaunchError::NotOurs(_)) => answer(&visit, "400 Bad Request", &error.to_string()),
            Err(error) => {
                answer(
                    &visit,
                    "200 OK",
                    "The clinic did not open the record. You may close this page.",
                );
                return Err(not_opened(error));
            }
        }
    }
    Err(Failure::new(
        failure::UNAVAILABLE,
        "nobody came back within a quarter of an hour; nothing has changed. Begin anew when the person is there",
    ))
}

/// What a browser asks for; nothing, where that is no question for a page.
fn question(visit: &TcpStream) -> Option<String> {
    visit.set_nonblocking(false).ok()?;
    visit.set_read_timeout(Some(VISIT)).ok()?;
    visit.set_write_timeout(Some(VISIT)).ok()?;
    let mut lines = BufReader::new(visit.take(QUESTION_OCTETS_MAX));
    let mut first = String::new();
    lines.read_line(&mut first).ok()?;
    loop {
        let mut field = String::new();
        if lines.read_line(&mut field).ok()? == 0 || field.trim().is_empty() {
            break;
        }
    }
    let mut words = first.split(' ');
    (words.next() == Some("GET")).then(|| words.next().map(ToOwned::to_owned))?
}

/// A page of one sentence of ours; nothing of the question is in it. The address has the code in it, so nobody is told
/// it.
fn answer(mut visit: &TcpStream, status: &str, sentence: &str) {
    let page = format!(
        "<!doctype html><html lang=\"en\"><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width\">\
         <meta name=\"color-scheme\" content=\"light dark\"><title>quietcuff</title>\
         <body style=\"font:1.125rem/1.5 system-ui;max-width:34rem;margin:3rem auto;padding:0 1rem\"><p>{sentence}</p>"
    );
    let _ = write!(
        visit,
        "HTTP/1.1 {status}\r\nContent-Type: text/html; charset=utf-8\r\nContent-Length: {}\r\nConnection: close\r\n\
         Cache-Control: no-store\r\nReferrer-Policy: no-referrer\r\n\
         Content-Security-Policy: default-src 'none'; style-src 'unsafe-inline'\r\n\r\n{page}",
        page.len()
    );
}

fn pasted(begun: &Begun) -> Result<Secret, Failure> {
    eprintln!(
        "quietcuff: paste the whole address at which the browser ends, also where it shows no page, and press Enter:"
    );
    let mut line = String::new();
    std::io::stdin()
        .lock()
        .take(PASTED_OCTETS_MAX)
        .read_line(&mut line)?;
    begun.code(line.trim()).map_err(not_opened)
}

/// Closes the record, and says whether the clinic did as well.
pub(super) fn withdraw(here: &Everywhere) -> Result<(), Failure> {
    let Some(closed) = opening::close(&clinic(here)?, Timestamp::now()).map_err(failed)? else {
        eprintln!("quietcuff: nobody's record is open to this gateway");
        return Ok(());
    };
    let person = closed.person;
    if let Some(why) = closed.open_there {
        return Err(Failure::new(
            failure::UNAVAILABLE,
            format!(
                "nothing more of {person} is delivered, and the key is forgotten here; but {why}, so tell the clinic to \
                 close what it opened to this gateway. What is there stays there"
            ),
        ));
    }
    eprintln!(
        "quietcuff: nothing more of {person} is delivered, and the clinic has taken the key back. What is there stays there"
    );
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_this_machine_is_listened_at() {
        for (redirect, own) in [
            ("http://127.0.0.1:8418/", Some("127.0.0.1:8418")),
            ("http://localhost:9/launched", Some("127.0.0.1:9")),
            ("http://[::1]:9/x", Some("[::1]:9")),
            ("https://127.0.0.1:8418/", None),
            ("http://home.example:8418/", None),
            ("http://192.168.1.4:8418/", None),
            ("http://127.0.0.1/", None),
        ] {
            assert_eq!(
                own_address(redirect),
                own.map(|own| own.parse().unwrap()),
                "{redirect}"
            );
        }
    }
}
