//! How a role is. `status` and the metrics are both made of these.
//!
//! The names are part of what `status --json` prints. What a later version adds has a default, so that reports are read
//! across versions.

use crate::radio::ear::EarCounts;
use crate::radio::report::CentralReport;
use serde::{Deserialize, Serialize};

/// How the collector is.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
#[serde(default)]
pub struct CollectorReport {
    /// Always true in an answer.
    pub running: bool,
    /// The version of the program.
    pub version: String,
    /// What the radio says.
    pub radio: CentralReport,
    /// What the journal's writer says.
    pub journal: WriterReport,
    /// Whether the machine's clock is known to be right; `None` where nobody can be asked.
    pub clock_synchronized: Option<bool>,
    /// What the process takes of the machine.
    pub process: ProcessReport,
}

impl CollectorReport {
    /// What a person has to mend, if anything.
    pub fn problem(&self) -> Option<&str> {
        self.radio.problem.as_deref().or(self.journal.problem.as_deref())
    }
}

/// How a journal's writer is.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
#[serde(default)]
pub struct WriterReport {
    /// Frames committed since the start.
    pub frames_kept: u64,
    /// When the last of them was received.
    pub last_frame: Option<jiff::Timestamp>,
    /// Why nothing can be written at the moment.
    pub problem: Option<String>,
    /// Frames that wait for the disk.
    pub queue: usize,
}

/// What a process takes of the machine, from proc(5).
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
#[serde(default)]
pub struct ProcessReport {
    /// File descriptors that are open.
    pub open_files: Option<u64>,
    /// Memory that is resident, in octets.
    pub resident_octets: Option<u64>,
}

/// How the second ear is.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
#[serde(default)]
pub struct EarReport {
    /// Always true in an answer.
    pub running: bool,
    /// The version of the program.
    pub version: String,
    /// What was overheard.
    pub ear: OverheardReport,
    /// What the journal's writer says.
    pub journal: WriterReport,
}

impl EarReport {
    /// What a person has to mend, if anything.
    pub fn problem(&self) -> Option<&str> {
        let silent = (!self.ear.listening).then_some("does not listen yet: btmon has brought nothing");
        self.ear
            .problem
            .as_deref()
            .or(self.journal.problem.as_deref())
            .or(silent)
    }
}

/// How the record's door is.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(default)]
pub struct DoorReport {
    /// Always true in an answer.
    pub running: bool,
    /// The version of the program.
    pub version: String,
    /// SHA-256 of the record's public key, in hexadecimal digits.
    pub key: String,
    /// The port at which it listens.
    pub port: u16,
    /// The listeners that are connected, by id.
    pub connected: Vec<String>,
}

/// What was overheard since the start.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
#[serde(default)]
pub struct OverheardReport {
    /// `btmon` brings packets.
    pub listening: bool,
    /// Why it does not.
    pub problem: Option<String>,
    /// Indications, by what became of them.
    pub counts: EarCounts,
}
