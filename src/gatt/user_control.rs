//! User Control Point (0x2A9F): how a gateway is let at one user's data on a monitor that keeps its users apart (User
//! Data Service), and the monitor's answers.
//!
//! Op codes, response values and layouts as in the User Data Service 1.0 and 1.1, from memory, held against tshark's
//! dissector of version 1.0 in the tests.

use super::octets::{DecodeError, Octets, Watch, hex};
use std::fmt;
use std::str::FromStr;

/// The code by which a user of a monitor lets a gateway at their data: 0 to 9999, four digits as people write it. It is
/// never printed.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
pub struct ConsentCode(u16);

impl ConsentCode {
    /// The largest code.
    pub const MAX: u16 = 9999;

    /// The code with this number; `None` above [`Self::MAX`].
    pub const fn new(number: u16) -> Option<Self> {
        if number <= Self::MAX {
            Some(Self(number))
        } else {
            None
        }
    }

    /// The number itself, for the monitor and for the file that keeps it.
    pub const fn expose(self) -> u16 {
        self.0
    }
}

impl fmt::Debug for ConsentCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("[secret]")
    }
}

/// Text that is no consent code. The text is not repeated.
#[derive(Clone, Copy, PartialEq, Eq, Debug, thiserror::Error)]
#[error("a consent code has one to four digits, such as 0042")]
pub struct NotAConsentCode;

impl FromStr for ConsentCode {
    type Err = NotAConsentCode;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let digits = (1..=4).contains(&text.len()) && text.bytes().all(|octet| octet.is_ascii_digit());
        let number = digits.then(|| text.parse().ok()).flatten();
        number.and_then(Self::new).ok_or(NotAConsentCode)
    }
}

/// A request or an answer. What stands behind the op code depends on it, so that it stays as it came.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
pub struct UserControl<'a> {
    /// The op code: what is asked or answered.
    pub op_code: u8,
    /// The octets behind the op code. Those of a request may hold a consent code.
    parameter: &'a [u8],
}

impl fmt::Debug for UserControl<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "UserControl {{ op_code: {}, .. }}", self.op_code)
    }
}

impl<'a> UserControl<'a> {
    /// Op code of the request to register a new user.
    pub const REGISTER: u8 = 0x01;
    /// Op code of the request to be let at a user's data.
    pub const CONSENT: u8 = 0x02;
    /// Op code of the answer to each request.
    pub const RESPONSE: u8 = 0x20;
    /// Response value: it was done.
    pub const SUCCESS: u8 = 0x01;
    /// Response value: something else went wrong, such as no room for another user.
    pub const FAILED: u8 = 0x04;
    /// Response value: the code is not that user's.
    pub const NOT_AUTHORIZED: u8 = 0x05;

    /// Decodes a User Control Point value (0x2A9F). The error is `Truncated` for an empty value, and for a request or
    /// an answer that ends before what it has to hold.
    pub fn decode(value: &'a [u8]) -> Result<Self, DecodeError> {
        Self::take(&mut Octets::new(value))
    }

    pub(super) fn take<W: Watch>(octets: &mut Octets<'a, W>) -> Result<Self, DecodeError> {
        let op_code = octets.u8("op code", |n| op_code_name(n).to_owned())?;
        let parameter = octets.rest();
        match op_code {
            Self::REGISTER => {
                octets.u16("consent code", |_| "not shown".to_owned())?;
            }
            Self::CONSENT => {
                octets.u8("user index", index_name)?;
                octets.u16("consent code", |_| "not shown".to_owned())?;
            }
            0x05 => {
                octets.u8("user index", index_name)?;
            }
            Self::RESPONSE => {
                let to = octets.u8("request op code", |n| op_code_name(n).to_owned())?;
                let value = octets.u8("response value", |n| response_name(n).to_owned())?;
                if to == Self::REGISTER && value == Self::SUCCESS {
                    octets.u8("user index", index_name)?;
                }
                octets.remainder("response parameter", hex);
            }
            _ => {
                octets.remainder("parameter", hex);
            }
        }
        Ok(Self { op_code, parameter })
    }

    /// The name of the op code; `reserved` where it is not defined.
    pub const fn op_code_name(self) -> &'static str {
        op_code_name(self.op_code)
    }

    /// The user that a request names.
    pub const fn index(self) -> Option<u8> {
        match (self.op_code, self.parameter) {
            (Self::CONSENT | 0x05, [index, ..]) => Some(*index),
            _ => None,
        }
    }

    /// The code in a request. One above 9999 is none.
    pub const fn code(self) -> Option<ConsentCode> {
        match (self.op_code, self.parameter) {
            (Self::REGISTER, [low, high, ..]) | (Self::CONSENT, [_, low, high, ..]) => {
                ConsentCode::new(u16::from_le_bytes([*low, *high]))
            }
            _ => None,
        }
    }

    /// The op code that a response answers, and the response value; `None` for everything but a response.
    pub const fn response(self) -> Option<(u8, u8)> {
        match (self.op_code, self.parameter) {
            (Self::RESPONSE, [to, value, ..]) => Some((*to, *value)),
            _ => None,
        }
    }

    /// The index that a user who was registered has got.
    pub const fn registered(self) -> Option<u8> {
        match (self.op_code, self.parameter) {
            (Self::RESPONSE, [Self::REGISTER, Self::SUCCESS, index, ..]) => Some(*index),
            _ => None,
        }
    }

    /// The name of a response value; `reserved` where it is not defined.
    pub const fn response_name(value: u8) -> &'static str {
        response_name(value)
    }

    /// The request to be let at the data of the user with this index.
    pub const fn consent(index: u8, code: ConsentCode) -> [u8; 4] {
        let [low, high] = code.0.to_le_bytes();
        [Self::CONSENT, index, low, high]
    }

    /// The request to register a new user with this code.
    pub const fn register(code: ConsentCode) -> [u8; 3] {
        let [low, high] = code.0.to_le_bytes();
        [Self::REGISTER, low, high]
    }
}

const fn op_code_name(op_code: u8) -> &'static str {
    match op_code {
        0x01 => "register new user",
        0x02 => "consent",
        0x03 => "delete user data",
        0x04 => "list all users",
        0x05 => "delete users",
        0x20 => "response",
        _ => "reserved",
    }
}

const fn response_name(value: u8) -> &'static str {
    match value {
        0x01 => "success",
        0x02 => "op code not supported",
        0x03 => "invalid parameter",
        0x04 => "operation failed",
        0x05 => "user not authorized",
        _ => "reserved",
    }
}

pub(super) fn index_name(index: u8) -> String {
    match index {
        super::UNKNOWN_USER => "unknown user".to_owned(),
        index => format!("user {index}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_is_four_digits_at_the_most_and_never_printed() {
        let code: ConsentCode = "0042".parse().unwrap();
        assert_eq!((code.expose(), format!("{code:?}")), (42, "[secret]".to_owned()));
        assert_eq!("9999".parse::<ConsentCode>().unwrap().expose(), ConsentCode::MAX);
        for wrong in ["", "10000", "00042", "-1", "+1", "12a", "١٢", " 1"] {
            assert_eq!(wrong.parse::<ConsentCode>(), Err(NotAConsentCode), "{wrong:?}");
        }
        assert_eq!(ConsentCode::new(10_000), None);
        let asked = UserControl::consent(3, code);
        let said = format!(
            "{:?} {:?}",
            UserControl::decode(&asked),
            crate::gatt::label(crate::gatt::Characteristic::USER_CONTROL_POINT, &asked)
        );
        assert!(!said.contains("42") && !said.contains("2a"), "{said}");
    }

    #[test]
    fn what_is_asked_reads_as_what_was_meant() {
        let code = ConsentCode::new(0x1234).unwrap();
        let asked = UserControl::consent(7, code);
        assert_eq!(asked, [2, 7, 0x34, 0x12]);
        let read = UserControl::decode(&asked).unwrap();
        assert_eq!(
            (read.index(), read.code(), read.response()),
            (Some(7), Some(code), None)
        );
        let asked = UserControl::register(code);
        assert_eq!(asked, [1, 0x34, 0x12]);
        let read = UserControl::decode(&asked).unwrap();
        assert_eq!(
            (read.index(), read.code(), read.registered()),
            (None, Some(code), None)
        );
    }
}
