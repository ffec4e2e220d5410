//! What a message says of its observations.

use super::text::END;

/// What a message says of its observations. The letters are those of OBX-11 (table 0085) and OBR-25 (table 0123), which
/// has none for what was withdrawn.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Status {
    /// It stands.
    Final,
    /// It takes the place of what was sent before.
    Corrected,
    /// What was sent before was wrong: the readings of a guest, say.
    Withdrawn,
}

impl Status {
    pub(super) const fn of_observation(self) -> &'static str {
        match self {
            Self::Final => "F",
            Self::Corrected => "C",
            Self::Withdrawn => "W",
        }
    }

    /// What a message of ours says: the letter of its last observation.
    pub fn of(text: &str) -> Option<Self> {
        let last = text
            .split_terminator(END)
            .rfind(|segment| segment.starts_with("OBX|"))?;
        let letter = last.split('|').nth(11)?;
        [Self::Final, Self::Corrected, Self::Withdrawn]
            .into_iter()
            .find(|status| status.of_observation() == letter)
    }

    pub(super) const fn of_order(self) -> &'static str {
        match self {
            Self::Final => "F",
            Self::Corrected | Self::Withdrawn => "C",
        }
    }
}
