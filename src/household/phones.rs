//! Telephone numbers that the household wrote down: on the page, else in the configuration.

use serde::{Deserialize, Serialize};

/// The longest number with spaces and brackets; an international one has at most 15 digits (ITU-T E.164).
const CHARS_MAX: usize = 32;
const DIGITS: std::ops::RangeInclusive<usize> = 2..=15;
/// The longest name of a contact.
const NAME_CHARS_MAX: usize = 60;

/// Whom the household calls.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, default)]
pub struct Phones {
    /// The emergency number of the place, such as 112.
    pub number: Option<Phone>,
    /// The number of somebody to be told.
    pub contact: Option<Phone>,
    /// Who that is.
    pub contact_name: Option<Name>,
}

impl Phones {
    /// What anybody may see.
    #[must_use]
    pub fn without_contact(&self) -> Self {
        Self {
            number: self.number.clone(),
            ..Self::default()
        }
    }

    /// What is left of it.
    #[must_use]
    pub fn contact_alone(&self) -> Self {
        Self {
            number: None,
            ..self.clone()
        }
    }
}

/// A telephone number as it is written, and dialled without its spaces.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Phone(String);

/// A name in one line.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Name(String);

/// A number that cannot be dialled, or no name.
#[derive(Debug, thiserror::Error)]
pub enum NotAPhone {
    /// Not a number.
    #[error("`{0}` is no telephone number: write 2 to 15 digits, with + in front where it is international")]
    Number(String),
    /// Not a name.
    #[error("a contact's name is one line of 1 to {NAME_CHARS_MAX} characters")]
    Name,
}

impl TryFrom<String> for Phone {
    type Error = NotAPhone;

    fn try_from(text: String) -> Result<Self, NotAPhone> {
        let digits = text.chars().filter(char::is_ascii_digit).count();
        let rest = text.strip_prefix('+').unwrap_or(&text);
        let known = |c: char| c.is_ascii_digit() || matches!(c, ' ' | '-' | '(' | ')' | '.' | '/');
        if text.chars().count() <= CHARS_MAX && DIGITS.contains(&digits) && rest.chars().all(known) {
            Ok(Self(text))
        } else {
            Err(NotAPhone::Number(text.chars().take(CHARS_MAX).collect()))
        }
    }
}

impl TryFrom<String> for Name {
    type Error = NotAPhone;

    fn try_from(text: String) -> Result<Self, NotAPhone> {
        let text = text.trim();
        let fits = (1..=NAME_CHARS_MAX).contains(&text.chars().count());
        if fits && !text.chars().any(char::is_control) {
            Ok(Self(text.to_owned()))
        } else {
            Err(NotAPhone::Name)
        }
    }
}

impl From<Phone> for String {
    fn from(phone: Phone) -> Self {
        phone.0
    }
}

impl From<Name> for String {
    fn from(name: Name) -> Self {
        name.0
    }
}

impl Phone {
    /// As it was written.
    pub fn shown(&self) -> &str {
        &self.0
    }

    /// Digits and the plus alone, as an address that is dialled has them (RFC 3966).
    pub fn dialled(&self) -> String {
        self.0
            .chars()
            .filter(|c| c.is_ascii_digit() || *c == '+')
            .collect()
    }
}

impl std::ops::Deref for Name {
    type Target = str;

    fn deref(&self) -> &str {
        &self.0
    }
}

#[cfg(test)]
mod tests {
    use super::Phone;

    #[test]
    fn a_number_is_dialled_without_what_is_for_the_eye() {
        let dialled = |text: &str| Phone::try_from(text.to_owned()).map(|phone| phone.dialled()).ok();
        assert_eq!(dialled("112").as_deref(), Some("112"));
        assert_eq!(dialled("+49 (30) 1234-56").as_deref(), Some("+4930123456"));
        for wrong in [
            "",
            "1",
            "112;ext=1",
            "javascript:1",
            "1+12",
            "12345678901234567",
            "१०८",
        ] {
            assert_eq!(dialled(wrong), None, "{wrong}");
        }
    }
}
