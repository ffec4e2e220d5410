//! The ids that the household chose for its people and monitors.

use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// The id of a person of the household: a short word of the household's own choosing, such as `p1` or `asha`.
/// The text is shared, because every reading carries it.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct PersonId(Arc<str>);

/// The id of a monitor of the household: a short word, such as `m1`.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct MonitorId(pub(super) Arc<str>);

/// The longest id of a person or a monitor, in octets of UTF-8: an id has to fit a table column and a topic
/// name.
pub const ID_CHARS_MAX: usize = 32;

/// The error for text that cannot be an id; the text is cut at 64 characters.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0:?} cannot be an id: use 1 to 32 letters, digits, `-` or `_`, beginning with a letter or a digit")]
pub struct NotAnId(String);

fn checked_id(text: String) -> Result<String, NotAnId> {
    let good = text.len() <= ID_CHARS_MAX
        && text.chars().next().is_some_and(char::is_alphanumeric)
        && text.chars().all(|c| c.is_alphanumeric() || c == '-' || c == '_');
    if good {
        Ok(text)
    } else {
        Err(NotAnId(text.chars().take(64).collect()))
    }
}

macro_rules! id {
    ($name:ident) => {
        impl $name {
            /// The id as text.
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }
        impl TryFrom<String> for $name {
            type Error = NotAnId;
            fn try_from(text: String) -> Result<Self, NotAnId> {
                checked_id(text).map(|id| Self(id.into()))
            }
        }
        impl std::str::FromStr for $name {
            type Err = NotAnId;
            fn from_str(text: &str) -> Result<Self, NotAnId> {
                checked_id(text.to_owned()).map(|id| Self(id.into()))
            }
        }
        impl From<$name> for String {
            fn from(id: $name) -> Self {
                id.0.as_ref().to_owned()
            }
        }
        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(&self.0)
            }
        }
    };
}
id!(PersonId);
id!(MonitorId);
