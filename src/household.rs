//! The household: the people, monitors and time zone that one installation serves, as a fold of what was
//! stated.
//!
//! A statement is never changed or deleted. A later one on the same matter outranks an earlier one, and
//! taking something back is a statement too, so that what was known at any time can be told afterwards.

mod address;
mod birth;
mod change;
mod fold;
mod ids;
mod mapping;
pub mod phones;
mod release;
mod rooms;
mod told;
mod words;
mod zone;

pub use address::{MonitorAddress, NotAnAddress};
pub use birth::{AFTER_BIRTH_SOURCE, WEEKS_AFTER_BIRTH};
pub use ids::{ID_CHARS_MAX, MonitorId, NotAnId, PersonId};
pub use mapping::Mapping;
pub use release::{BY_CHARS_MAX, Granted, Release, ReleasedDays, TakenBack};
pub use words::arms_of;
pub use zone::{Moments, OFFSET_MINUTES_MAX, UnknownZone, ZONE_RULES, Zones, time_zone};

use jiff::Timestamp;
use jiff::civil::{Date, Time};
use phones::Phones;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// Something that a person of the household, or the program on their behalf, states.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Statement {
    /// The household's clock shows this zone from a moment on.
    Zone {
        /// The zone's name: an IANA name or a fixed offset.
        zone: String,
        /// The moment from which the zone holds; `None` means from the beginning.
        from: Option<Timestamp>,
    },
    /// A person is added, or everything known of them is replaced.
    Person {
        /// The person's id.
        person: PersonId,
        /// What is known of the person.
        #[serde(flatten)]
        details: Person,
    },
    /// Single facts about a person change; what is not named stays as it is.
    PersonChanged {
        /// The person whose facts change.
        person: PersonId,
        /// What is so from now on.
        changes: Vec<Fact>,
    },
    /// A person is removed from the lists; their readings stay theirs.
    PersonRemoved {
        /// The person who is removed.
        person: PersonId,
    },
    /// A monitor is enrolled, or what is known of it is replaced. Two addresses with one id are one monitor.
    Monitor {
        /// The monitor's id.
        monitor: MonitorId,
        /// What is known of the monitor.
        #[serde(flatten)]
        details: Monitor,
    },
    /// This machine no longer listens to a monitor; its readings stay. Where it is paired at listeners, it comes by those.
    MonitorForgotten {
        /// The monitor that is no longer listened to.
        monitor: MonitorId,
    },
    /// A monitor is paired at a listener, and what is known of it is replaced. This machine does not listen to it by that.
    MonitorAt {
        /// The monitor's id.
        monitor: MonitorId,
        /// The id of the listener.
        listener: String,
        /// What is known of the monitor.
        #[serde(flatten)]
        details: Monitor,
    },
    /// A listener no longer listens to a monitor; its readings stay.
    MonitorForgottenAt {
        /// The monitor that is no longer listened to there.
        monitor: MonitorId,
        /// The id of the listener.
        listener: String,
    },
    /// A monitor's user index means a person.
    UserIndex {
        /// The monitor that keeps the user index.
        monitor: MonitorId,
        /// The user index on the monitor, 0 to 255.
        user_id: u8,
        /// The person whom the index means; `None` means that it is nobody's.
        person: Option<PersonId>,
        /// The moment from which the statement holds; `None` means from the beginning. What was measured
        /// before keeps its person.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        from: Option<Timestamp>,
    },
    /// Readings of a monitor that carry no user index belong to a person. An index that is carried is never
    /// overruled by this statement: a monitor that always sends the same index has that index mapped.
    UsualPerson {
        /// The monitor whose readings are meant.
        monitor: MonitorId,
        /// The person to whom the readings belong; `None` means that they are nobody's.
        person: Option<PersonId>,
        /// The moment from which the statement holds; `None` means from the beginning. What was measured
        /// before keeps its person.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        from: Option<Timestamp>,
    },
    /// A reading belongs to a person, whatever any other statement says.
    Assigned {
        /// The id of the reading.
        reading: String,
        /// The person to whom the reading belongs; `None` takes the statement back.
        person: Option<PersonId>,
    },
    /// A reading was taken at a moment that a person states.
    Timed {
        /// The id of the reading.
        reading: String,
        /// The moment at which the reading was taken; `None` takes the statement back.
        measured_at: Option<Timestamp>,
    },
    /// A reading is not to be averaged, for a person's own reason.
    Discarded {
        /// The id of the reading.
        reading: String,
        /// The reason in the person's own words; `None` takes the statement back.
        reason: Option<String>,
    },
    /// A reading was taken otherwise than seated, or seated after all.
    ReadingKind {
        /// The id of the reading.
        reading: String,
        /// How the person was; `None` takes the statement back.
        posed: Option<Posed>,
    },
    /// Something happened that bears on a person's readings or on a monitor.
    Note {
        /// The name of the note, by which it can be taken back.
        note: String,
        /// The person whom the note is about; a note about a monitor alone has `None`.
        person: Option<PersonId>,
        /// The monitor that the note is about, if it is about one.
        monitor: Option<MonitorId>,
        /// The moment at which it happened.
        at: Timestamp,
        /// What happened, with the details that belong to it.
        #[serde(flatten)]
        what: Note,
    },
    /// A note is taken back.
    NoteWithdrawn {
        /// The name of the note that is taken back.
        note: String,
    },
    /// A person said what was done about an alert; `None` takes it back.
    AlertAnswered {
        /// The key of the alert.
        alert: String,
        /// What was done about the alert; `None` takes the answer back.
        answer: Option<AlertAnswer>,
        /// The one who answers: the label of a key to the page, or a user of the machine.
        by: Option<String>,
        /// The moment of the answer.
        at: Timestamp,
    },
    /// The clinic wrote a protocol. It is stated with its text, because judgements follow from it and have to
    /// be the same when the file has gone.
    ClinicProtocol {
        /// The text of the protocol file, as the clinic wrote it.
        text: String,
    },
    /// A monitoring period begins for a person.
    Period {
        /// The person whose period begins.
        person: PersonId,
        /// The name of the protocol that the period follows.
        protocol: String,
        /// The first day of the period.
        from: Date,
        /// The number of days; `None` means the protocol's own number.
        days: Option<u16>,
    },
    /// Whom the household calls, whatever the configuration says.
    Calls {
        /// Whom; `None` takes it back, and the configuration holds again.
        phones: Option<Phones>,
    },
    /// A person's readings may go to a clinic. For the same person and clinic a later one takes the place of an
    /// earlier one.
    Released {
        /// The person whose readings may go.
        person: PersonId,
        /// The address of the clinic's server, as deliveries call it.
        clinic: String,
        /// The first day of which a measurement may go; `None` means from the beginning.
        from: Option<Date>,
        /// The last day of which a measurement may go; `None` means that none is the last.
        until: Option<Date>,
        /// The one who says so: the label of a key to the page, or a user of the machine.
        by: Option<String>,
        /// The moment at which it was said.
        at: Timestamp,
    },
    /// What was released to a clinic is taken back: nothing more of that person goes there.
    ReleaseWithdrawn {
        /// The person whose readings may not go any more.
        person: PersonId,
        /// The address of the clinic's server, as deliveries call it.
        clinic: String,
        /// The one who says so.
        by: Option<String>,
        /// The moment at which it was said.
        at: Timestamp,
    },
}

/// What the household has stated about a person.
#[derive(Clone, PartialEq, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", default)]
pub struct Person {
    /// The name by which the household calls the person.
    pub label: String,
    /// The year of birth.
    pub born: Option<i16>,
    /// The day of birth, where the household gave it: the clinic tells people apart by it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub born_on: Option<Date>,
    /// The number of the person's record at the clinic.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub record_number: Option<String>,
    /// The group that they belong to, such as a ward or a floor; keys to the page may be for one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub group: Option<String>,
    /// The circumference of the upper arm, in centimetres.
    pub arm_cm: Option<f32>,
    /// The arm that the clinic chose.
    pub arm: Option<Arm>,
    /// The morning window, by the household's clock; `None` means the usual one.
    pub morning: Option<Window>,
    /// The evening window, by the household's clock; `None` means the usual one.
    pub evening: Option<Window>,
    /// The name of the protocol that the person's clinic wants.
    pub protocol: Option<String>,
    /// The clinic's own threshold for this person.
    pub threshold: Option<Threshold>,
    /// The target that the clinic chose for this person: their average is to be below it.
    pub target: Option<PersonTarget>,
    /// The conditions for which thresholds are not applied to this person.
    pub conditions: Vec<Condition>,
    /// The day on which they gave birth, which ends the condition of pregnancy after some weeks.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub gave_birth: Option<Date>,
    /// Whether reported faults of technique set a reading aside too, where they otherwise only mark it.
    pub strict: bool,
}

/// One fact about a person as it is from now on; `None` means that it is not known any more.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[expect(missing_docs, reason = "the fields of `Person`, by their names")]
pub enum Fact {
    Label(String),
    Born(Option<i16>),
    BornOn(Option<Date>),
    RecordNumber(Option<String>),
    Group(Option<String>),
    ArmCm(Option<f32>),
    Arm(Option<Arm>),
    Morning(Option<Window>),
    Evening(Option<Window>),
    Protocol(Option<String>),
    Threshold(Option<Threshold>),
    Target(Option<PersonTarget>),
    Conditions(Vec<Condition>),
    GaveBirth(Option<Date>),
    Strict(bool),
}

/// The arm that the cuff is on.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[expect(missing_docs, reason = "the names say it")]
pub enum Arm {
    Left,
    Right,
}

/// How the person was when a reading was taken, which makes its kind. Nobody's monitor can tell: a person
/// says so, and what nobody said is seated.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Posed {
    /// Sitting, as the protocols want it.
    Seated,
    /// Standing, to see how far the pressure falls.
    Standing,
    /// Lying by day.
    Lying,
    /// At night, in bed.
    Night,
}

impl Posed {
    /// All of them, the usual one first.
    pub const ALL: [Self; 4] = [Self::Seated, Self::Standing, Self::Lying, Self::Night];

    /// The name that commands and the JSON output write.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Seated => "seated",
            Self::Standing => "standing",
            Self::Lying => "lying",
            Self::Night => "night",
        }
    }

    /// The one of that name; `None` where none has it.
    pub fn of_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|posed| posed.name() == name)
    }
}

/// A part of the day, first to last minute, both included.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Window {
    /// The first minute of the window.
    pub from: Time,
    /// The last minute of the window. Where it comes before the first, the window runs over midnight.
    pub to: Time,
}

/// A clinic's threshold for a home average, in mmHg.
#[derive(Clone, Copy, PartialEq, Debug, Serialize, Deserialize)]
#[expect(missing_docs, reason = "the names say it")]
pub struct Threshold {
    pub systolic: f64,
    pub diastolic: f64,
}

/// A target that a clinic chose for a person, in mmHg: the home average is to be below both.
#[derive(Clone, PartialEq, Debug, Serialize, Deserialize)]
pub struct PersonTarget {
    /// Of the systolic pressure.
    pub systolic: f64,
    /// Of the diastolic pressure.
    pub diastolic: f64,
    /// Who chose it, as the household names them; `None` where nobody said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// Where that is written, such as a letter or a guideline; `None` where nobody said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<String>,
}

/// A condition that switches threshold labels off, because the adult thresholds were not made for it.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Condition {
    /// Pregnant, or in the weeks after giving birth: see [`Person::pregnancy_ends`].
    Pregnancy,
    /// Atrial fibrillation that the clinic knows of.
    AtrialFibrillation,
    /// Dialysis: the person has a dialysis arm.
    Dialysis,
}

/// What the household has stated about a monitor, and what the monitor says of itself.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", default)]
pub struct Monitor {
    /// The monitor's identity address.
    pub address: Option<MonitorAddress>,
    /// The name that the monitor gives itself.
    pub name: Option<String>,
    /// The manufacturer, as the monitor says it.
    pub manufacturer: Option<String>,
    /// The model number, as the monitor says it.
    pub model: Option<String>,
    /// The serial number, as the monitor says it.
    pub serial: Option<String>,
    /// The System ID in hexadecimal, most significant octet first.
    pub system_id: Option<String>,
    /// The place where the monitor is worn.
    pub site: Option<Site>,
    /// Where the model is listed as validated, in the words of the person who states it; `None` where nobody
    /// has stated that.
    pub validated: Option<String>,
    /// The smallest arm that the cuff fits, as a circumference in millimetres.
    pub cuff_min_mm: Option<u16>,
    /// The largest arm that the cuff fits, as a circumference in millimetres.
    pub cuff_max_mm: Option<u16>,
    /// The day on which the monitor was bought, from which its age is counted.
    pub bought: Option<Date>,
}

/// The place where a monitor is worn.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[expect(missing_docs, reason = "the names say it")]
pub enum Site {
    UpperArm,
    Wrist,
}

/// What happened, as a note says it.
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
    Bed,
    Symptoms { symptoms: Vec<String> },
    Posture { fault: String },
    FullBladder,
    NoRest,
    Talked,
    OverClothing,
    Arm { arm: Arm },
    Measured { posed: Posed },
    Cuff { min_mm: u16, max_mm: u16 },
    ClinicReading { systolic: f64, diastolic: f64 },
    MonitorDropped,
    BatteriesChanged,
    MonitorChecked { text: Option<String> },
    Other { text: String },
}

/// What was done about an alert that must not wait.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum AlertAnswer {
    /// The emergency number was called.
    CalledEmergency,
    /// The clinic, the maternity unit or the out-of-hours service was contacted.
    ContactedClinic,
    /// Somebody looked after it, and nobody had to be called.
    LookedAfter,
}

impl AlertAnswer {
    /// All answers that can be given.
    pub const ALL: [Self; 3] = [Self::CalledEmergency, Self::ContactedClinic, Self::LookedAfter];

    /// The name that forms and commands write.
    pub const fn name(self) -> &'static str {
        match self {
            Self::CalledEmergency => "called-emergency",
            Self::ContactedClinic => "contacted-clinic",
            Self::LookedAfter => "looked-after",
        }
    }

    /// The answer of that name; `None` where no answer has it.
    pub fn of_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|answer| answer.name() == name)
    }

    /// The words of a listing or a sheet.
    pub const fn in_words(self) -> &'static str {
        match self {
            Self::CalledEmergency => "the emergency number was called",
            Self::ContactedClinic => "the clinic or the out-of-hours service was contacted",
            Self::LookedAfter => "it was looked after, and nobody was called",
        }
    }
}

/// An answer to an alert that was not taken back.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct StatedAnswer {
    /// What was done about the alert.
    pub answer: AlertAnswer,
    /// The one who answers: the label of a key to the page, or a user of the machine.
    pub by: Option<String>,
    /// The moment of the answer.
    pub at: Timestamp,
}

/// Everything that holds after a series of statements.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Household {
    /// The names of the zones, in order of the moment from which each holds; the first one holds before its
    /// moment too.
    pub zones: Vec<(Timestamp, String)>,
    /// Every person who was ever stated; the flag says whether that person was removed.
    pub people: BTreeMap<PersonId, (Person, bool)>,
    /// Every monitor that was ever stated, or came by a listener; the flag says whether that monitor was forgotten
    /// wherever it was paired.
    pub monitors: BTreeMap<MonitorId, (Monitor, bool)>,
    /// The monitors that this machine's own radio listens to.
    pub here: BTreeSet<MonitorId>,
    /// The listeners at which each monitor was paired, by id; the flag says whether it still is.
    pub rooms: BTreeMap<MonitorId, BTreeMap<String, bool>>,
    /// The monitors that came by a listener, and of which nobody has stated what they are.
    pub met: BTreeSet<MonitorId>,
    /// The monitor that each address belongs to. A monitor that was paired anew under another address keeps
    /// its id.
    pub addresses: BTreeMap<MonitorAddress, MonitorId>,
    /// The person whom a monitor's user index means, through time.
    pub user_indexes: BTreeMap<(MonitorId, u8), Mapping>,
    /// The person to whom a monitor's readings without user index belong, through time.
    pub usual: BTreeMap<MonitorId, Mapping>,
    /// The person to whom somebody assigned a reading, by the reading's id.
    pub assigned: BTreeMap<String, PersonId>,
    /// The moment at which somebody said that a reading was taken, by the reading's id.
    pub timed: BTreeMap<String, Timestamp>,
    /// The reason why somebody does not want a reading averaged, by the reading's id.
    pub discarded: BTreeMap<String, String>,
    /// How somebody said that the person was when a reading was taken, by the reading's id.
    pub posed: BTreeMap<String, Posed>,
    /// The notes that were not taken back, by their names.
    pub notes: BTreeMap<String, StatedNote>,
    /// What was done about the alerts, by the key of each alert.
    pub answers: BTreeMap<String, StatedAnswer>,
    /// Each person's monitoring periods by their first day. A period that is stated again for the same day
    /// replaces the one before.
    pub periods: BTreeMap<PersonId, BTreeMap<Date, StatedPeriod>>,
    /// The protocol that the clinic wrote, as text.
    pub clinic_protocol: Option<String>,
    /// Whom the household calls; `None` means whom the configuration names.
    pub phones: Option<Phones>,
    /// What was released to clinics of each person's readings, in the order in which it was stated. Of those for one
    /// clinic only the last may hold.
    pub releases: BTreeMap<PersonId, Vec<Release>>,
}

/// A note that was not taken back.
#[derive(Clone, PartialEq, Debug)]
pub struct StatedNote {
    /// The person whom the note is about; a note about a monitor alone has `None`.
    pub person: Option<PersonId>,
    /// The monitor that the note is about, if it is about one.
    pub monitor: Option<MonitorId>,
    /// The moment at which it happened.
    pub at: Timestamp,
    /// What happened, with the details that belong to it.
    pub what: Note,
}

/// A monitoring period that was begun, without its person and first day.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct StatedPeriod {
    /// The name of the protocol that the period follows.
    pub protocol: String,
    /// The number of days; `None` means the protocol's own number.
    pub days: Option<u16>,
}

impl Household {
    /// The monitor that was enrolled before and is the same as `new`: by its address, its System ID, or its
    /// serial number with manufacturer and model. `None` where no monitor is.
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

    /// What was last said of a person and a clinic; `None` where nobody said anything.
    pub fn release(&self, person: &PersonId, clinic: &str) -> Option<&Release> {
        let releases = self.releases.get(person)?;
        releases.iter().rev().find(|release| release.clinic == clinic)
    }

    /// Everything that was released of a person to a clinic, in the order in which it was stated.
    pub fn granted(&self, person: &PersonId, clinic: &str) -> Vec<Granted<'_>> {
        let releases = self.releases.get(person).map_or(&[][..], Vec::as_slice);
        let here = || releases.iter().filter(|release| release.clinic == clinic);
        let next = here().skip(1).map(Some).chain([None]);
        let granted = here().zip(next).filter_map(|(release, next)| {
            let replaced = next.and_then(|next| next.given.as_ref()).map(|given| given.at);
            Some(Granted {
                days: release.given.as_ref()?,
                until: release.withdrawn.as_ref().map(|taken| taken.at).or(replaced),
            })
        });
        granted.collect()
    }

    /// The notes that were not taken back, ordered by the moment at which it happened.
    pub fn notes_in_time(&self) -> Vec<StatedNote> {
        let mut notes: Vec<StatedNote> = self.notes.values().cloned().collect();
        notes.sort_by_key(|note| note.at);
        notes
    }

    /// The groups of the people who were not removed.
    pub fn groups(&self) -> BTreeSet<&str> {
        let here = self.people.values().filter(|(_, removed)| !removed);
        here.filter_map(|(person, _)| person.group.as_deref()).collect()
    }

    /// The people of a group who were not removed.
    pub fn of_group<'a>(&'a self, group: &'a str) -> impl Iterator<Item = &'a PersonId> {
        let people = self.people.iter();
        people
            .filter(move |(_, (person, removed))| !removed && person.group.as_deref() == Some(group))
            .map(|(id, _)| id)
    }

    /// The first of `m1`, `m2` and so on that no monitor has had.
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
