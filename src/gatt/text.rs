//! The text characteristics: Device Information's strings (0x2A24 to 0x2A29) and Device Name (0x2A00).

use super::octets::{DecodeError, Octets, Watch};

/// UTF-8 text as it came. Some monitors pad it with NULs or spaces.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct Text<'a> {
    /// All the text that was sent, padding included.
    pub raw: &'a str,
}

impl<'a> Text<'a> {
    /// Decodes the value of any text characteristic. The error is `NotUtf8` where the octets are not UTF-8.
    pub fn decode(value: &'a [u8]) -> Result<Self, DecodeError> {
        Self::take(&mut Octets::new(value))
    }

    pub(super) fn take<W: Watch>(octets: &mut Octets<'a, W>) -> Result<Self, DecodeError> {
        // The octets are looked at before they are taken, so that a wrong one is not labelled as text.
        let raw = std::str::from_utf8(octets.rest()).map_err(|error| DecodeError::NotUtf8 {
            field: "text",
            at: error.valid_up_to(),
        })?;
        let text = Self { raw };
        octets.remainder("text", |_| text.printable());
        Ok(text)
    }

    /// The text without the NULs and spaces at its end.
    pub fn trimmed(self) -> &'a str {
        self.raw.trim_end_matches(['\0', ' '])
    }

    /// The trimmed text for a terminal, see [`printable`].
    pub fn printable(self) -> String {
        printable(self.trimmed())
    }
}

/// Text from a stranger's device, made safe for a terminal: every character that a terminal would obey is
/// replaced. Those are the control characters and the characters that turn the direction of writing round,
/// which can make a line say something else (Unicode Standard Annex 9, table of explicit formatting
/// characters).
pub fn printable(text: &str) -> String {
    let turns = |c| matches!(c, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    let shown = |c: char| if c.is_control() || turns(c) { '\u{fffd}' } else { c };
    text.chars().map(shown).collect()
}
