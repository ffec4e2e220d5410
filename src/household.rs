//! The household: the people, monitors and time zone that one installation serves, as a fold of what was stated.
//!
//! A statement is never changed or deleted. A later one on the same matter outranks an earlier one, and taking
//! something back is a statement too, so that what was known at any time can be told afterwards.

mod address;
mod fold;
mod ids;
mod words;
mod zone;

pub use address::{MonitorAddress, NotAnAddress};
pub use ids::{ID_CHARS_MAX, MonitorId, NotAnId, PersonId};
pub use words::arms_of;
pub use zone::{Moments, OFFSET_MINUTES_MAX, UnknownZone, ZONE_RULES, Zones, time_zone};

use jiff::Timestamp;
use jiff::civil::{Date, Time};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Something that a person of the household, or the program on their behalf, states.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Statement {
    /// The household's clock shows this zone from that moment on; without a moment, from the beginning.
    Zone {
        /// An IANA name or a fixed offset.
        zone: String,
        /// From when.
        from: Option<Timestamp>,
    },
    /// A person is added, or everything known of them is replaced.
    Person {
        /// Who.
        person: PersonId,
        /// What is known of them.
        #[serde(flatten)]
        details: Person,
    },
    /// A person is removed from the lists; their readings stay theirs.
    PersonRemoved {
        /// Who.
        person: PersonId,
    },
    /// A monitor is enrolled, or what is known of it is replaced. Two addresses with one id are one monitor.
    Monitor {
        /// Which.
        monitor: MonitorId,
        /// What is known of it.
        #[serde(flatten)]
        details: Monitor,
    },
    /// A monitor is no longer listened to; its readings stay.
    MonitorForgotten {
        /// Which.
        monitor: MonitorId,
    },
    /// The monitor's user index means this person; `None` takes it back.
    UserIndex {
        /// Which monitor.
        monitor: MonitorId,
        /// The index on the monitor.
        user_id: u8,
        /// Who.
        person: Option<PersonId>,
    },
    /// Readings that carry no user index belong to this person; `None` takes it back. An index that is carried is never
    /// overruled by it: a monitor that always sends the same one has that index mapped.
    UsualPerson {
        /// Which monitor.
        monitor: MonitorId,
        /// Who.
        person: Option<PersonId>,
    },
    /// A reading belongs to this person, whatever else says; `None` takes it back.
    Assigned {
        /// Which reading.
        reading: String,
        /// Whose.
        person: Option<PersonId>,
    },
    /// A reading was taken at this moment; `None` takes it back.
    Timed {
        /// Which reading.
        reading: String,
        /// When.
        measured_at: Option<Timestamp>,
    },
    /// A reading is not to be averaged, for a person's own reason; without a reason it is taken back.
    Discarded {
        /// Which reading.
        reading: String,
        /// Why.
        reason: Option<String>,
    },
    /// A note.
    Note {
        /// Names the note, so that it can be taken back.
        note: String,
        /// About whom; a note on a monitor names none.
        person: Option<PersonId>,
        /// About which monitor.
        monitor: Option<MonitorId>,
        /// When it happened.
        at: Timestamp,
        /// What happened.
        #[serde(flatten)]
        what: Note,
    },
    /// A note is taken back.
    NoteWithdrawn {
        /// Which.
        note: String,
    },
    /// A person said what was done about an alert; `None` takes it back.
    AlertAnswered {
        /// Which: its key.
        alert: String,
        /// What was done.
        answer: Option<Answer>,
        /// Who says so: the label of a key to the page, or a user of the machine.
        by: Option<String>,
        /// When.
        at: Timestamp,
    },
    /// The protocol that the clinic wrote. It is stated with its text, because judgements follow from it and have to be
    /// the same when the file has gone.
    ClinicProtocol {
        /// As the clinic wrote it.
        text: String,
    },
    /// A monitoring period begins.
    Period {
        /// For whom.
        person: PersonId,
        /// Under which protocol.
        protocol: String,
        /// Its first day.
        from: Date,
        /// How many days; the protocol's own number without it.
        days: Option<u16>,
    },
}

/// What is known of a person.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", default)]
pub struct Person {
    /// What the household calls them.
    pub label: String,
    /// Year of birth.
    pub born: Option<i16>,
    /// Circumference of the upper arm, in centimetres.
    pub arm_cm: Option<f32>,
    /// The arm that the clinic chose.
    pub arm: Option<Arm>,
    /// Morning window, by the household's clock.
    pub morning: Option<Window>,
    /// Evening window.
    pub evening: Option<Window>,
    /// The protocol that their clinic wants.
    pub protocol: Option<String>,
    /// The clinic's own threshold.
    pub threshold: Option<Threshold>,
    /// Conditions under which thresholds are not applied to them.
    pub conditions: Vec<Condition>,
    /// Set reported technique faults aside too.
    pub strict: bool,
}

/// An arm.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[expect(missing_docs, reason = "the names say it")]
pub enum Arm {
    Left,
    Right,
}

/// A part of the day, first to last minute, both included.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Window {
    /// Its first minute.
    pub from: Time,
    /// Its last minute. Where it comes before the first, the window runs over midnight.
    pub to: Time,
}

/// A clinic's threshold for a home average, in mmHg.
#[derive(Clone, Copy, PartialEq, Debug, Serialize, Deserialize)]
#[expect(missing_docs, reason = "the names say it")]
pub struct Threshold {
    pub systolic: f64,
    pub diastolic: f64,
}

/// A condition that switches threshold labels off, because the adult thresholds were not made for it.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Condition {
    /// Pregnant, or within six weeks of giving birth.
    Pregnancy,
    /// Known atrial fibrillation.
    AtrialFibrillation,
    /// A dialysis arm.
    Dialysis,
}

/// What is known of a monitor.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", default)]
pub struct Monitor {
    /// Its identity address.
    pub address: Option<MonitorAddress>,
    /// What it calls itself.
    pub name: Option<String>,
    /// Manufacturer as it says.
    pub manufacturer: Option<String>,
    /// Model number as it says.
    pub model: Option<String>,
    /// Serial number as it says.
    pub serial: Option<String>,
    /// System ID, most significant octet first.
    pub system_id: Option<String>,
    /// Where it is worn.
    pub site: Option<Site>,
    /// Whether a person stated that the model is validated, and where that is listed.
    pub validated: Option<String>,
    /// Smallest arm that its cuff fits, in millimetres.
    pub cuff_min_mm: Option<u16>,
    /// Largest arm that its cuff fits, in millimetres.
    pub cuff_max_mm: Option<u16>,
    /// When it was bought, for its age.
    pub bought: Option<Date>,
}

/// Where a monitor is worn.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[expect(missing_docs, reason = "the names say it")]
pub enum Site {
    UpperArm,
    Wrist,
}

/// What a note says happened.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
#[serde(tag = "what", rename_all = "kebab-case")]
#[expect(missing_docs, reason = "the names say it")]
pub enum Note {
    Medicine { text: Option<String> },
    MedicineChanged { text: Option<String> },
    Coffee,
    Smoking,
    Exercise,
    Alcohol,
    Meal,
    Waking,
    Dinner,
    Symptoms { symptoms: Vec<String> },
    Posture { fault: String },
    FullBladder,
    NoRest,
    Talked,
    OverClothing,
    Arm { arm: Arm },
    Cuff { min_mm: u16, max_mm: u16 },
    ClinicReading { systolic: f64, diastolic: f64 },
    MonitorDropped,
    BatteriesChanged,
    MonitorChecked { text: Option<String> },
    Other { text: String },
}

/// What was done about something that must not wait.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Answer {
    /// The emergency number was called.
    CalledEmergency,
    /// The clinic, the maternity unit or the out-of-hours service was contacted.
    ContactedClinic,
    /// Somebody looked after it, and nobody had to be called.
    LookedAfter,
}

impl Answer {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::CalledEmergency, Self::ContactedClinic, Self::LookedAfter];

    /// As forms and commands write it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::CalledEmergency => "called-emergency",
            Self::ContactedClinic => "contacted-clinic",
            Self::LookedAfter => "looked-after",
        }
    }

    /// The answer of that name.
    pub fn of_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|answer| answer.name() == name)
    }

    /// As a listing or a sheet says it.
    pub const fn in_words(self) -> &'static str {
        match self {
            Self::CalledEmergency => "the emergency number was called",
            Self::ContactedClinic => "the clinic or the out-of-hours service was contacted",
            Self::LookedAfter => "it was looked after, and nobody was called",
        }
    }
}

/// An answer as it holds.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct StatedAnswer {
    /// What was done.
    pub answer: Answer,
    /// Who says so.
    pub by: Option<String>,
    /// When.
    pub at: Timestamp,
}

/// Everything that holds after a series of statements.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Household {
    /// Zones in order of the moment from which they hold; the first holds before its moment too.
    pub zones: Vec<(Timestamp, String)>,
    /// Everybody who was ever stated; the flag says whether they were removed.
    pub people: BTreeMap<PersonId, (Person, bool)>,
    /// Every monitor; the flag says whether it was forgotten.
    pub monitors: BTreeMap<MonitorId, (Monitor, bool)>,
    /// Which monitor an address is. A monitor that was paired anew under another address keeps its id.
    pub addresses: BTreeMap<MonitorAddress, MonitorId>,
    /// Whose a monitor's user index is.
    pub user_indexes: BTreeMap<(MonitorId, u8), PersonId>,
    /// Whose a monitor's readings without user index are.
    pub usual: BTreeMap<MonitorId, PersonId>,
    /// Whose a reading is, by a person's own word; by reading.
    pub assigned: BTreeMap<String, PersonId>,
    /// When a reading was taken, by a person's own word; by reading.
    pub timed: BTreeMap<String, Timestamp>,
    /// Why a reading is not to be averaged, by a person's own word; by reading.
    pub discarded: BTreeMap<String, String>,
    /// Notes that were not taken back, by their name.
    pub notes: BTreeMap<String, StatedNote>,
    /// What was done about alerts, by the alert's key.
    pub answers: BTreeMap<String, StatedAnswer>,
    /// Each person's monitoring periods by first day; one stated again for the same day replaces the one before.
    pub periods: BTreeMap<PersonId, BTreeMap<Date, StatedPeriod>>,
    /// The protocol that the clinic wrote, as text.
    pub clinic_protocol: Option<String>,
}

/// A note as it holds.
#[derive(Clone, PartialEq, Debug)]
pub struct StatedNote {
    /// About whom.
    pub person: Option<PersonId>,
    /// About which monitor.
    pub monitor: Option<MonitorId>,
    /// When it happened.
    pub at: Timestamp,
    /// What happened.
    pub what: Note,
}

/// A monitoring period as it holds.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct StatedPeriod {
    /// Under which protocol.
    pub protocol: String,
    /// How many days; the protocol's own number without it.
    pub days: Option<u16>,
}

impl Household {
    /// The monitor that was enrolled before and is this one: by its serial number, its System ID, or its address.
    pub fn same_monitor(&self, new: &Monitor) -> Option<MonitorId> {
        let same = |old: &Monitor| {
            let equal = |a: &Option<String>, b: &Option<String>| a.is_some() && a == b;
            equal(&old.system_id, &new.system_id)
                || (equal(&old.serial, &new.serial)
                    && old.manufacturer == new.manufacturer
                    && old.model == new.model)
        };
        let by_address = new
            .address
            .as_ref()
            .and_then(|address| self.addresses.get(address).cloned());
        by_address.or_else(|| {
            self.monitors
                .iter()
                .find(|(_, (old, _))| same(old))
                .map(|(id, _)| id.clone())
        })
    }

    /// The notes, ordered by time.
    pub fn notes_in_time(&self) -> Vec<StatedNote> {
        let mut notes: Vec<StatedNote> = self.notes.values().cloned().collect();
        notes.sort_by_key(|note| note.at);
        notes
    }

    /// `m1`, `m2`, …: the first that nobody has had.
    pub fn free_monitor_id(&self) -> MonitorId {
        let mut n = 1_u32;
        loop {
            let id = MonitorId(format!("m{n}").into());
            if !self.monitors.contains_key(&id) {
                return id;
            }
            n += 1;
        }
    }
}
