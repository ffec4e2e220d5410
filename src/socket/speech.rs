//! What is said at a local socket: every request, every answer, and the version of both.
//!
//! One JSON object a line. Each has `version`; a request has `ask`, an answer has `answer`, and both name a variant
//! here. A program of another version is answered with the versions that are spoken here, and with what to do.

use super::opening::{Opening, Opens};
use super::report::{CollectorReport, DoorReport, EarReport};
use crate::household::{Monitor, MonitorAddress, MonitorId, PersonId};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// The version that is spoken. It is raised whenever a program of the version before would misunderstand.
pub const VERSION: u32 = 1;

/// What can be asked.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(tag = "ask", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Request {
    /// How the role is. Answered with [`Answer::Collector`], [`Answer::Ear`] or [`Answer::Door`].
    Status,
    /// The household's statements have changed: read them again. Answered with [`Answer::Done`].
    Reload,
    /// Set this monitor's clock the next time it connects. Answered with [`Answer::Done`].
    SetClock {
        /// The monitor's id.
        monitor: MonitorId,
    },
    /// The household forgot this monitor: listen to it no longer, and remove its bond. Answered with [`Answer::Done`].
    Forget {
        /// The monitor's id.
        monitor: MonitorId,
    },
    /// The same for the monitor with this address, which is forgotten here first.
    ForgetAt {
        /// The monitor's address.
        address: MonitorAddress,
    },
    /// At the record's door: have a listener do this, as far as [`Request::may_come_from_afar`] says. Answered with what
    /// the listener answers.
    At {
        /// The listener's id.
        listener: String,
        /// What it is to do.
        request: Box<Request>,
    },
    /// At delivery: open one person's record at the clinic, or close it. Answered with [`Answer::Opening`].
    Opening {
        /// The session of a browser, by a digest: what was begun there is shown and taken there alone.
        holder: String,
        /// What is to be done.
        does: Opens,
    },
    /// Look for monitors in their pairing mode. This and all that follow are answered with [`Answer::Pairing`].
    Find,
    /// Pair with a monitor and enrol it.
    Pair {
        /// Which, and whose readings it takes.
        enrolment: Enrolment,
    },
    /// The six digits that the monitor shows. Anything else gives the pairing up.
    Passkey {
        /// The digits as they were typed.
        digits: String,
    },
    /// How far the pairing is.
    Pairing,
    /// Give the pairing up.
    StopPairing,
}

impl Request {
    /// The same for a listener, which learns nothing of people.
    #[must_use]
    pub fn without_people(self) -> Self {
        match self {
            Self::Pair { enrolment } => Self::Pair {
                enrolment: Enrolment {
                    person: None,
                    users: Vec::new(),
                    ..enrolment
                },
            },
            other => other,
        }
    }

    /// Whether a record may have a listener do this: find a monitor, pair with it and forget it, and nothing else. A
    /// listener learns nothing of people.
    pub const fn may_come_from_afar(&self) -> bool {
        match self {
            Self::Find | Self::Passkey { .. } | Self::Pairing | Self::StopPairing | Self::ForgetAt { .. } => {
                true
            }
            Self::Pair { enrolment } => enrolment.person.is_none() && enrolment.users.is_empty(),
            Self::Status
            | Self::Reload
            | Self::SetClock { .. }
            | Self::Forget { .. }
            | Self::At { .. }
            | Self::Opening { .. } => false,
        }
    }
}

/// What is answered.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
#[serde(tag = "answer", rename_all = "kebab-case")]
pub enum Answer {
    /// The collector says how it is.
    Collector {
        /// How it is.
        report: Box<CollectorReport>,
    },
    /// The second ear says how it is.
    Ear {
        /// How it is.
        report: Box<EarReport>,
    },
    /// The record's door says how it is.
    Door {
        /// How it is.
        report: Box<DoorReport>,
    },
    /// How far the pairing is.
    Pairing {
        /// Counts the pairings since the start, so that whoever began one sees that another took its place.
        number: u32,
        /// How far it is.
        step: Pairing,
    },
    /// How far the opening of a record is.
    Opening {
        /// How far it is.
        step: Opening,
    },
    /// It was done.
    Done,
    /// It was understood and cannot be done.
    Refused {
        /// What is in the way, and what to do.
        error: String,
    },
    /// It was not understood.
    NotUnderstood {
        /// Why, and what to do.
        error: String,
        /// The versions that are spoken here.
        versions: Vec<u32>,
    },
}

/// A monitor that is to be paired and enrolled.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Enrolment {
    /// The monitor's address.
    pub address: MonitorAddress,
    /// What to call it; without one, the name that it had, or the next free one.
    #[serde(default)]
    pub id: Option<MonitorId>,
    /// Whose readings it takes, where it does not tell its users apart.
    #[serde(default)]
    pub person: Option<PersonId>,
    /// Whose readings each of its user numbers takes.
    #[serde(default)]
    pub users: Vec<(u8, PersonId)>,
    /// It cannot pair: only connect and enrol.
    #[serde(default)]
    pub no_pairing: bool,
    /// How long to wait for it to advertise, in seconds.
    pub seconds: u64,
}

/// How far a pairing is.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(tag = "pairing", rename_all = "kebab-case")]
pub enum Pairing {
    /// Nobody asked for one.
    #[default]
    None,
    /// Looking for monitors.
    Looking,
    /// These were heard.
    Heard {
        /// Each with what it calls itself.
        monitors: Vec<HeardMonitor>,
    },
    /// The monitor has not advertised yet.
    Waiting,
    /// It was heard; the keys of an old pairing are removed first.
    Removing,
    /// The monitor and this server pair.
    Working,
    /// The monitor shows six digits, which it wants to have.
    Asks,
    /// These six digits are to be typed on the monitor.
    Shows {
        /// Six decimal digits, with leading zeros.
        passkey: String,
    },
    /// The two are paired; the monitor is asked what it is.
    Reading,
    /// The monitor is enrolled.
    Done {
        /// The monitor's id.
        monitor: MonitorId,
        /// What it told of itself. A program of an earlier version does not say.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        told: Option<Box<Monitor>>,
    },
    /// The monitor refuses to pair, as one that cannot does: it is a person's to say whether it is added without.
    WithoutPairing {
        /// What it did, and what can be done.
        why: String,
        /// What was asked for; asked again without pairing, it is done.
        enrolment: Enrolment,
    },
    /// It went wrong.
    Failed {
        /// What, and what to do.
        why: String,
        /// The exit code of sysexits that says the same.
        code: u8,
    },
}

/// A monitor that was heard.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct HeardMonitor {
    /// The monitor's address.
    pub address: MonitorAddress,
    /// What it calls itself.
    pub name: Option<String>,
}

#[derive(Serialize)]
struct Said<'a, T> {
    version: u32,
    #[serde(flatten)]
    said: &'a T,
}

/// A request or an answer as a line.
pub fn line(said: &impl Serialize) -> serde_json::Result<Vec<u8>> {
    let mut line = serde_json::to_vec(&Said {
        version: VERSION,
        said,
    })?;
    line.push(b'\n');
    Ok(line)
}

/// Why a line is not understood.
enum Not {
    Json(serde_json::Error),
    /// Another version is spoken; 0 where none is named.
    Version(u64),
}

fn said<T: DeserializeOwned>(line: &[u8]) -> Result<T, Not> {
    let mut value: Value = serde_json::from_slice(line).map_err(Not::Json)?;
    let version = value.as_object_mut().and_then(|said| said.remove("version"));
    match version.map_or(Some(0), |version| version.as_u64()) {
        Some(version) if version == u64::from(VERSION) => serde_json::from_value(value).map_err(Not::Json),
        version => Err(Not::Version(version.unwrap_or_default())),
    }
}

/// Reads a request. What is not understood gives the answer that says so.
pub fn request(line: &[u8]) -> Result<Request, Answer> {
    said(line).map_err(|not| {
        let error = match not {
            Not::Json(error) => format!("not a request: {error}"),
            Not::Version(theirs) if theirs > u64::from(VERSION) => format!(
                "the role that runs is older than this program and speaks version {VERSION}, not {theirs}; start the role \
                 anew, such as with `systemctl restart quietcuff`"
            ),
            Not::Version(theirs) => format!(
                "this program is older than the role that runs: it speaks version {theirs}, and the role {VERSION}; use \
                 the quietcuff that the role was started with"
            ),
        };
        Answer::NotUnderstood {
            error,
            versions: vec![VERSION],
        }
    })
}

/// Reads an answer; the error is a sentence that says what to do.
pub fn answer(line: &[u8]) -> Result<Answer, String> {
    said(line).map_err(|not| match not {
        Not::Json(error) => format!("the answer is none: {error}"),
        Not::Version(theirs) if theirs > u64::from(VERSION) => format!(
            "the role that runs is newer than this program: it speaks version {theirs}, and the program {VERSION}; use the \
             quietcuff that the role was started with"
        ),
        Not::Version(_) => format!(
            "the role that runs is older than this program and does not speak version {VERSION}; start the role anew, \
             such as with `systemctl restart quietcuff`"
        ),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn who_speaks_another_version_is_told_which_are_spoken_and_what_to_do() {
        for (line, what) in [
            (r#"{"version":2,"ask":"status"}"#, "start the role anew"),
            (r#"{"ask":"status"}"#, "this program is older"),
            (r#"{"version":1,"ask":"dance"}"#, "not a request"),
            ("status", "not a request"),
        ] {
            let Err(Answer::NotUnderstood { error, versions }) = request(line.as_bytes()) else {
                panic!("{line} is understood")
            };
            assert!(error.contains(what), "{line}: {error}");
            assert_eq!(versions, [VERSION]);
        }
        for (line, what) in [
            (
                r#"{"running":true,"version":"0.1.0"}"#,
                "is older than this program",
            ),
            (r#"{"version":2,"answer":"done"}"#, "is newer than this program"),
        ] {
            assert!(answer(line.as_bytes()).unwrap_err().contains(what), "{line}");
        }
    }

    #[test]
    fn what_is_said_is_understood() {
        let enrolment = Enrolment {
            address: "C0:FF:EE:00:00:01".parse().unwrap(),
            id: None,
            person: None,
            users: vec![(1, "asha".parse().unwrap())],
            no_pairing: false,
            seconds: 60,
        };
        for asked in [Request::Status, Request::Pair { enrolment }] {
            assert_eq!(request(&line(&asked).unwrap()), Ok(asked));
        }
        let report = Box::new(CollectorReport {
            running: true,
            version: "0.1.0".to_owned(),
            ..CollectorReport::default()
        });
        let step = Pairing::Heard { monitors: Vec::new() };
        for said in [Answer::Collector { report }, Answer::Pairing { number: 1, step }] {
            assert_eq!(answer(&line(&said).unwrap()), Ok(said));
        }
    }
}
