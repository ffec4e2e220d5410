//! What the page and delivery say to each other of one person's record at the clinic: the page cannot reach the clinic,
//! and delivery has no browser.

use serde::{Deserialize, Serialize};

/// What is to be done with the record.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(tag = "does", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Opens {
    /// Nothing: say how far it is.
    Look,
    /// Ask the clinic where the person goes. What was begun before gives way.
    Begin,
    /// Take what the browser came back with.
    Take {
        /// The address at which it ended, or only its query.
        answer: String,
    },
    /// Forget the key, and have the clinic take it back.
    Close,
}

/// How far it is.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(tag = "opening", rename_all = "kebab-case")]
pub enum Opening {
    /// Nobody began, or what was begun has run out.
    #[default]
    None,
    /// Somebody else is at it, in another browser.
    Elsewhere,
    /// The clinic's server is asked where the person goes.
    Asking,
    /// The person is at the clinic's page.
    Waits {
        /// The address of that page.
        url: String,
        /// The last answer that came was none to this.
        missed: bool,
    },
    /// The clinic's answer is taken back to it for a key.
    Taking,
    /// The record is open.
    Open,
    /// The key is forgotten, and the clinic is asked to take it back.
    Closing,
    /// The record is closed.
    Closed {
        /// Why the clinic may hold it open still.
        why: Option<String>,
    },
    /// It went wrong.
    Failed {
        /// Where.
        fault: OpeningFault,
        /// What, and what to do.
        why: String,
    },
}

/// Where it went wrong.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum OpeningFault {
    /// The person, or the clinic, declined at its page.
    Declined,
    /// The clinic does not let us in.
    Refused,
    /// Its server does not answer as it should.
    Server,
    /// Its server cannot do what is needed.
    Lacking,
    /// It is to be mended here.
    Here,
}

impl OpeningFault {
    /// As the catalogues name it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Declined => "declined",
            Self::Refused => "refused",
            Self::Server => "server",
            Self::Lacking => "lacking",
            Self::Here => "here",
        }
    }
}
