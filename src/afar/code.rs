//! The code that lets one listener in: where the record is, its public key, and a secret that holds a few minutes.

use super::PORT;
use crate::keys::KeySecret;
use jiff::SignedDuration;
use std::fmt;
use std::str::FromStr;

/// How long a code lets a listener in (own choice): as long as it takes to walk to the other machine, or to send the code
/// to somebody who sits at it.
pub const CODE_LIFE: SignedDuration = SignedDuration::from_mins(30);

/// What stands before it, so that it is known for what it is.
const SCHEME: &str = "quietcuff://";

/// Where the record is, as which key it is known, and the secret.
#[derive(Clone, Debug)]
pub struct Code {
    /// The record's name or address, and its port.
    pub at: String,
    /// SHA-256 of the record's public key.
    pub record: [u8; 32],
    /// The secret.
    pub secret: KeySecret,
}

/// A text that is no code.
#[derive(Debug, thiserror::Error)]
#[error(
    "that is no code: it begins with {SCHEME} and has three parts between slashes, as `quietcuff listeners invite` printed it"
)]
pub struct NotACode;

/// A name or address with a port; without one, with the usual port.
pub fn place(text: &str) -> Option<String> {
    let text = text.trim();
    let good = |host: &str| {
        !host.is_empty()
            && host.len() <= 253
            && host
                .chars()
                .all(|c| c.is_ascii_alphanumeric() || matches!(c, '.' | '-' | ':' | '[' | ']' | '_'))
    };
    let bare_v6 = text.parse::<std::net::Ipv6Addr>().is_ok();
    if bare_v6 {
        return Some(format!("[{text}]:{PORT}"));
    }
    match text.rsplit_once(':') {
        Some((host, port)) if !port.ends_with(']') => {
            let port: u16 = port.parse().ok().filter(|port| *port != 0)?;
            good(host).then(|| format!("{host}:{port}"))
        }
        _ => good(text).then(|| format!("{text}:{PORT}")),
    }
}

impl fmt::Display for Code {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{SCHEME}{}/", self.at)?;
        for octet in self.record {
            write!(f, "{octet:02x}")?;
        }
        write!(f, "/{}", self.secret.letters())
    }
}

impl FromStr for Code {
    type Err = NotACode;

    fn from_str(text: &str) -> Result<Self, NotACode> {
        let parts: Vec<&str> = text
            .trim()
            .strip_prefix(SCHEME)
            .ok_or(NotACode)?
            .split('/')
            .collect();
        let [at, record, secret] = parts.as_slice() else {
            return Err(NotACode);
        };
        Ok(Self {
            at: place(at).ok_or(NotACode)?,
            record: digest_of(record).ok_or(NotACode)?,
            secret: KeySecret::typed(secret).ok_or(NotACode)?,
        })
    }
}

/// A digest from its hexadecimal digits.
pub fn digest_of(text: &str) -> Option<[u8; 32]> {
    let mut digest = [0; 32];
    if text.len() != 64 || !text.is_ascii() {
        return None;
    }
    for (octet, pair) in digest.iter_mut().zip(text.as_bytes().chunks(2)) {
        *octet = u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok()?;
    }
    Some(digest)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_is_read_as_it_is_printed() {
        let code = Code {
            at: place("cellar.example").unwrap(),
            record: [0xab; 32],
            secret: KeySecret::new().unwrap(),
        };
        let read: Code = format!("  {code}\n").parse().unwrap();
        assert_eq!(
            (read.at.as_str(), read.record),
            ("cellar.example:8419", [0xab; 32])
        );
        assert_eq!(read.secret.letters(), code.secret.letters());
        let printed = code.to_string();
        for wrong in [
            "",
            "milk",
            "quietcuff://",
            "quietcuff://a/b/c",
            printed.trim_start_matches("quietcuff"),
            &printed.replace("ab", "zz"),
            &printed.replace(":8419", ":0"),
            &format!("{printed}/x"),
            &printed[..printed.len() - 1],
        ] {
            assert!(wrong.parse::<Code>().is_err(), "{wrong}");
        }
    }

    #[test]
    fn a_place_has_a_port() {
        for (text, place_) in [
            ("192.0.2.7", "192.0.2.7:8419"),
            ("cellar.example:9000", "cellar.example:9000"),
            ("2001:db8::7", "[2001:db8::7]:8419"),
            ("[2001:db8::7]", "[2001:db8::7]:8419"),
            ("[2001:db8::7]:9", "[2001:db8::7]:9"),
        ] {
            assert_eq!(place(text).as_deref(), Some(place_));
        }
        for wrong in ["", "a b", "a/b", "a:70000", "a:0", "a:x", "http://a"] {
            assert_eq!(place(wrong), None, "{wrong}");
        }
    }
}
