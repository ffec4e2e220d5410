//! The household's keys: who may see what on the page.
//!
//! A key is 130 random bits, shown once when it is made. What is kept is its SHA-256 without salt or stretching: those
//! protect words that people choose, of which an attacker can try the likely ones; among 2¹³⁰ equally likely keys
//! there is nothing to try, and no two are the same.

use crate::household::{Household, PersonId};
use jiff::Timestamp;
use sha2::{Digest as _, Sha256};
use std::collections::BTreeSet;

/// What a key lets its holder do.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Role {
    /// See and note what is one person's own.
    Person,
    /// See, note and answer everything; of some people, see and note what is theirs.
    Caregiver,
    /// See everything, or some people's, for a time; change nothing.
    Clinician,
}

impl Role {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Person, Self::Caregiver, Self::Clinician];

    /// As commands and the journal name it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Person => "person",
            Self::Caregiver => "caregiver",
            Self::Clinician => "clinician",
        }
    }

    /// The role of that name.
    pub fn of_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|role| role.name() == name)
    }
}

/// The id of the key that a link opens the page with: that of whoever is at the machine.
pub const HERE: &str = "here";

/// A key, without its secret.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Key {
    /// Names it in lists.
    pub id: String,
    /// What it lets its holder do.
    pub role: Role,
    /// Whose data it is for; everybody's where neither these nor a group is named.
    pub people: Vec<PersonId>,
    /// The group whose data it is for, whoever belongs to it.
    pub group: Option<String>,
    /// Who has it, in the household's words.
    pub label: String,
    /// When it was made.
    pub made: Timestamp,
    /// Until when it opens the page.
    pub until: Option<Timestamp>,
    /// When it was withdrawn.
    pub withdrawn: Option<Timestamp>,
    /// When it came back with a backup; it opens nothing until somebody confirms it.
    pub closed: Option<Timestamp>,
}

impl Key {
    /// Whose data it is for; nothing where it is for everybody's.
    pub fn sees(&self, household: &Household) -> Option<BTreeSet<PersonId>> {
        match &self.group {
            Some(group) => Some(household.of_group(group).cloned().collect()),
            None if self.people.is_empty() => None,
            None => Some(self.people.iter().cloned().collect()),
        }
    }

    /// Whether it opens the page at that moment.
    pub fn opens(&self, now: Timestamp) -> bool {
        self.withdrawn.is_none() && self.closed.is_none() && self.until.is_none_or(|until| now < until)
    }
}

/// What is kept of a secret.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Digest(pub [u8; 32]);

/// A random secret, of a key or of a session. It is printed once, or sent as a cookie, and never logged.
#[derive(Clone)]
pub struct KeySecret(String);

/// The longest label of whoever is let in: one line of a list.
pub const LABEL_CHARS_MAX: usize = 80;

/// Crockford's base 32: no letter that can be read as a digit.
const LETTERS: &[u8; 32] = b"0123456789abcdefghjkmnpqrstvwxyz";
/// 26 letters of five bits each.
const SECRET_LETTERS: usize = 26;

impl KeySecret {
    /// A new one, from the system's generator.
    pub fn new() -> Result<Self, getrandom::Error> {
        let mut octets = [0_u8; SECRET_LETTERS];
        getrandom::fill(&mut octets)?;
        // Five bits of each octet: no letter is likelier than another.
        let letter = |octet: u8| {
            LETTERS
                .get(usize::from(octet & 31))
                .map_or('0', |l| char::from(*l))
        };
        Ok(Self(octets.into_iter().map(letter).collect()))
    }

    /// As a person typed it: dashes, spaces and capitals do not matter, nor does o for 0 or l for 1. `None` where it
    /// cannot be one.
    pub fn typed(text: &str) -> Option<Self> {
        if text.len() > 4 * SECRET_LETTERS {
            return None;
        }
        let letters: String = text
            .chars()
            .filter(|c| !c.is_whitespace() && *c != '-')
            .map(|c| match c.to_ascii_lowercase() {
                'o' => '0',
                'i' | 'l' => '1',
                c => c,
            })
            .collect();
        let good = letters.len() == SECRET_LETTERS && letters.bytes().all(|b| LETTERS.contains(&b));
        good.then_some(Self(letters))
    }

    /// The letters, for a cookie.
    pub fn letters(&self) -> &str {
        &self.0
    }

    /// For a person: in groups.
    pub fn shown(&self) -> String {
        let groups: Vec<String> = self
            .0
            .as_bytes()
            .chunks(5)
            .map(|group| group.iter().copied().map(char::from).collect())
            .collect();
        groups.join("-")
    }

    /// What is kept of it, for that purpose: a session's secret can never pass for a key's.
    pub fn digest(&self, purpose: &str) -> Digest {
        Digest(Sha256::digest(format!("quietcuff {purpose} {}", self.0)).into())
    }
}

impl std::fmt::Debug for KeySecret {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Secret(…)")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_secret_is_long_and_can_be_typed_as_it_is_read() {
        let secret = KeySecret::new().unwrap();
        assert_ne!(secret.letters(), KeySecret::new().unwrap().letters());
        let shown = secret.shown();
        assert_eq!(shown.len(), 26 + 5);
        let sloppy = shown.to_uppercase().replace('0', "O").replace('-', " ");
        let typed = KeySecret::typed(&sloppy).unwrap();
        assert_eq!(typed.digest("key"), secret.digest("key"));
        assert_ne!(typed.digest("key"), typed.digest("session"));
        assert!(KeySecret::typed("").is_none());
        assert!(KeySecret::typed(&shown[1..]).is_none());
        assert!(KeySecret::typed(&"u".repeat(26)).is_none());
        assert!(!format!("{secret:?}").contains(secret.letters()));
    }
}
