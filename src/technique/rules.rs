//! Every rule of technique, as data: what becomes of the reading, how it is known, what to tell the person,
//! and who says so.
//!
//! An effect is text, not a number, so that nobody can subtract it: published effects are averages over
//! groups of people, and one reading of one person is not corrected by them. Sources that were read only in
//! part, or are given from memory, say so.

use super::disposition::Disposition;
use super::reasons::{Reason, Reasons};

/// A rule of technique.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Rule {
    /// The reason that the rule gives.
    pub reason: Reason,
    /// What becomes of a reading that the rule catches.
    pub disposition: Disposition,
    /// How the program knows of the fault.
    pub basis: KnownBy,
    /// Whether the rule judges a reading, a session or a monitor.
    pub judges: Judges,
    /// The sentence that tells the person what is wrong and what to do.
    pub says: &'static str,
    /// The source of the rule: a guideline, a standard, or the words "common practice" or "own choice".
    pub source: &'static str,
    /// What the fault does to a reading; `None` where that is not published. The effect is shown and never
    /// subtracted.
    pub effect: Option<Effect>,
}

/// How the program knows of a fault. The three ways are never mixed.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum KnownBy {
    /// The program knows it from what the monitor sent: status bits, values, times.
    Observed,
    /// The program knows it from what a person said about this measurement.
    Reported,
    /// The program knows it from what the household has stated about its people and monitors.
    OnRecord,
}

impl KnownBy {
    /// The name that listings print.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Observed => "observed",
            Self::Reported => "reported",
            Self::OnRecord => "on record",
        }
    }
}

/// The thing that a rule judges.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Judges {
    /// The rule judges each reading alone.
    Reading,
    /// The rule judges the readings of one session together.
    Session,
    /// The rule judges a monitor. Such a rule is shown once for the monitor and once in a report, not on each
    /// of the monitor's readings, where it would drown the marks that tell one reading from another.
    Monitor,
}

/// A published effect of a fault on a reading, as text, in mmHg.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Effect {
    /// The effect on the systolic pressure.
    pub systolic: &'static str,
    /// The effect on the diastolic pressure.
    pub diastolic: &'static str,
    /// The publication that the effect is from.
    pub source: &'static str,
}

const STATUS_BITS: &str = "Bluetooth Blood Pressure Service, Measurement Status; common practice";
const RANGE: &str = "own choice, around the range of ISO 80601-2-30:2018 (from memory)";
const HALF_AN_HOUR: &str = "ESC 2024; ACC/AHA 2017: not within 30 minutes before";
const SUPPORTED: &str = "ESC 2024; ACC/AHA 2017; AHA/AMA 2020: back, arm and feet supported, legs uncrossed";
const APART: &str = "NICE NG136 1.2.7, ESC 2024: seated; that the other kinds stay apart is an own choice";
const KALLIOINEN: &str = "Kallioinen et al., J Hypertens 2017;35:421, range of significant mean effects";

const fn observed(
    reason: Reason,
    disposition: Disposition,
    source: &'static str,
    says: &'static str,
) -> Rule {
    Rule {
        reason,
        disposition,
        basis: KnownBy::Observed,
        judges: Judges::Reading,
        says,
        source,
        effect: None,
    }
}

const fn reported(reason: Reason, source: &'static str, says: &'static str) -> Rule {
    let mut rule = observed(reason, Marked, source, says);
    rule.basis = KnownBy::Reported;
    rule
}

const fn on_record(reason: Reason, source: &'static str, says: &'static str) -> Rule {
    let mut rule = observed(reason, Marked, source, says);
    rule.basis = KnownBy::OnRecord;
    rule
}

impl Rule {
    const fn judging(mut self, judges: Judges) -> Self {
        self.judges = judges;
        self
    }

    const fn effect(mut self, systolic: &'static str, diastolic: &'static str, source: &'static str) -> Self {
        self.effect = Some(Effect {
            systolic,
            diastolic,
            source,
        });
        self
    }
}

use Disposition::{Marked, SetAside};

/// All rules, in the order of [`Reason`].
pub static RULES: [Rule; Reason::ALL.len()] = [
    observed(
        Reason::BodyMovement,
        SetAside,
        STATUS_BITS,
        "The monitor felt movement. Keep still while the cuff works.",
    ),
    observed(
        Reason::CuffTooLoose,
        SetAside,
        STATUS_BITS,
        "The monitor found the cuff too loose. Fit it so that two fingers just go under it.",
    ),
    observed(
        Reason::ImproperPosition,
        SetAside,
        STATUS_BITS,
        "The monitor found the position wrong. Rest the cuff at the height of the heart.",
    ),
    observed(
        Reason::IrregularPulse,
        Marked,
        STATUS_BITS,
        "The monitor reported an irregular pulse. Show your clinic if it does so again.",
    ),
    observed(
        Reason::PulseRateAboveRange,
        Marked,
        STATUS_BITS,
        "The pulse was faster than the range that the monitor is made for.",
    ),
    observed(
        Reason::PulseRateBelowRange,
        Marked,
        STATUS_BITS,
        "The pulse was slower than the range that the monitor is made for.",
    ),
    observed(
        Reason::NoValue,
        SetAside,
        "IEEE 11073-20601: NaN, NRes, infinities and the reserved code are not numbers",
        "The monitor could not get a value.",
    ),
    observed(
        Reason::ImpossibleValue,
        SetAside,
        RANGE,
        "These values cannot be: systolic not above diastolic, systolic outside 40 to 300, or diastolic outside 20 \
         to 200 mmHg.",
    ),
    observed(
        Reason::UnlikelyValue,
        Marked,
        RANGE,
        "These values are unusual: systolic outside 60 to 230, diastolic outside 40 to 130, a difference of the two \
         outside 15 to 120 mmHg, or a pulse outside 35 to 180.",
    ),
    observed(
        Reason::TooSoon,
        SetAside,
        "NICE NG136 rec 1.2.7; AHA/AMA 2020: at least 1 minute apart",
        "Less than a minute after the reading before it. Wait a minute between readings.",
    ),
    observed(
        Reason::TimeUnknown,
        SetAside,
        "common practice",
        "Nobody knows when it was taken. Say when, and it can be averaged.",
    ),
    observed(
        Reason::ClockFault,
        SetAside,
        "common practice",
        "The monitor's clock cannot be trusted for this reading. Set its clock.",
    ),
    observed(
        Reason::PersonUnknown,
        SetAside,
        "common practice",
        "Nobody knows whose it is. Say whose, and it can be averaged.",
    ),
    Rule {
        disposition: SetAside,
        ..reported(
            Reason::Discarded,
            "common practice",
            "Somebody of the household asked not to average it.",
        )
    },
    observed(
        Reason::OutsideWindow,
        Marked,
        "own choice; Juhanoja et al., Hypertension 2017;69:599 took 05:00 to 12:00 as morning",
        "Taken outside the morning and evening hours. Where its whole sitting was, it is not in the average.",
    ),
    observed(
        Reason::LoneReading,
        Marked,
        "ESC 2024; NICE NG136; AHA/AMA 2020: two readings a session",
        "The only reading of its session that counts. Two belong to a session.",
    )
    .judging(Judges::Session),
    observed(
        Reason::ThirdReadingMissing,
        Marked,
        "common practice for more than 10 mmHg; Taiwan 2020 for three in atrial fibrillation",
        "A third reading was due and none came: the first two differ by more than 10 mmHg, or three belong to this \
         person's sessions.",
    )
    .judging(Judges::Session),
    on_record(
        Reason::WristMonitor,
        "common practice",
        "A wrist monitor. Hold the wrist at the height of the heart; an upper-arm monitor is preferred.",
    ),
    on_record(
        Reason::CuffSize,
        "ACC/AHA 2017 Table 9: the cuff by mid-arm circumference; the range printed on the cuff wins",
        "The arm's circumference is outside the range printed on the cuff. Use a cuff that fits.",
    )
    .effect(
        "too small: 2.1 to 11.2 higher; too large: 1.5 to 3.7 lower",
        "too small: 1.6 to 6.6 higher; too large: 1.0 to 4.7 lower",
        KALLIOINEN,
    ),
    on_record(
        Reason::NotValidated,
        "common practice",
        "Nobody has stated that this model of monitor is validated. Look it up in your country's list.",
    )
    .judging(Judges::Monitor),
    reported(Reason::ReportedCoffee, HALF_AN_HOUR, "Coffee less than 30 minutes before.").effect(
        "3 to 14 higher",
        "2.1 to 13 higher",
        KALLIOINEN,
    ),
    reported(Reason::ReportedSmoking, HALF_AN_HOUR, "Smoking less than 30 minutes before.").effect(
        "2.8 to 25 higher",
        "2 to 18 higher",
        KALLIOINEN,
    ),
    reported(Reason::ReportedExercise, HALF_AN_HOUR, "Exercise less than 30 minutes before."),
    reported(
        Reason::ReportedAlcohol,
        "common practice; the 30 minutes are our own choice",
        "Alcohol less than 30 minutes before.",
    )
    .effect("23.6 lower to 24 higher", "14 lower to 16 higher", KALLIOINEN),
    reported(
        Reason::ReportedMeal,
        "ESC 2024: before breakfast; the 30 minutes at other times are common practice",
        "A meal less than 30 minutes before, or breakfast before the morning reading.",
    )
    .effect("6 lower", "1.9 to 5 lower", KALLIOINEN),
    reported(
        Reason::ReportedDinner,
        "ACC/AHA 2017: in the evening before supper",
        "Dinner before the evening reading.",
    )
    .effect("6 lower", "1.9 to 5 lower", KALLIOINEN),
    reported(
        Reason::ReportedMedicine,
        "ESC 2024; ACC/AHA 2017: in the morning before medicines",
        "Medicine before the morning reading.",
    ),
    reported(
        Reason::ReportedJustWoken,
        "common practice; ESC 2024: not immediately after awakening",
        "Less than 30 minutes after waking.",
    ),
    reported(
        Reason::ReportedLongAwake,
        "Taiwan 2020 (summary); JSH 2019 (from memory): within 1 hour of waking",
        "More than an hour after waking; this protocol wants the morning reading within it.",
    ),
    reported(
        Reason::ReportedLongBeforeBed,
        "Taiwan 2020 (summary): within 1 hour before bed; JSH 2019 (from memory): before bed",
        "More than an hour before going to bed; this protocol wants the evening reading within it.",
    ),
    reported(
        Reason::ReportedNoRest,
        "ESC 2024; AHA/AMA 2020: 5 minutes of rest",
        "No rest before the reading. Sit quietly for 5 minutes first.",
    )
    .effect("4.2 to 11.6 higher", "1.8 to 4.3 higher", KALLIOINEN),
    reported(
        Reason::ReportedFullBladder,
        "ESC 2024; ACC/AHA 2017: empty bladder",
        "A full bladder.",
    )
    .effect("4.2 to 33 higher", "2.8 to 18.5 higher", KALLIOINEN),
    reported(
        Reason::ReportedTalked,
        "ESC 2024; ACC/AHA 2017: no talking",
        "Talking during the measurement.",
    )
    .effect("10 to 15 higher", "not stated", "common practice"),
    reported(
        Reason::ReportedOverClothing,
        "ESC 2024; ACC/AHA 2017: bare arm",
        // The sources disagree on how much, so no number is given.
        "The cuff was over clothing, which may change the reading.",
    ),
    reported(
        Reason::ReportedOtherArm,
        "ESC 2024: the same arm, the one with the higher pressure",
        "Not the arm that was chosen. Stay with one arm.",
    ),
    reported(Reason::ReportedLegsCrossed, SUPPORTED, "Legs crossed.").effect(
        "2.5 to 14.9 higher",
        "1.4 to 10.8 higher",
        KALLIOINEN,
    ),
    reported(Reason::ReportedBackUnsupported, SUPPORTED, "Back not supported.").effect(
        "no significant effect",
        "6.5 higher",
        KALLIOINEN,
    ),
    reported(Reason::ReportedArmUnsupported, SUPPORTED, "Arm not supported.").effect(
        "4.9 higher",
        "2.7 to 4.8 higher",
        KALLIOINEN,
    ),
    reported(
        Reason::ReportedArmLow,
        SUPPORTED,
        "Cuff below the height of the heart.",
    )
    .effect("3.7 to 23 higher", "2.8 to 12 higher", KALLIOINEN),
    reported(Reason::ReportedFistClenched, "common practice", "A clenched fist.").effect(
        "about 5 different",
        "not stated",
        "common practice",
    ),
    reported(
        Reason::ReportedPosture,
        SUPPORTED,
        "Another posture than sitting with back, arm and feet supported.",
    )
    .effect("up to 10 different", "not stated", "common practice"),
    reported(
        Reason::ReportedStanding,
        APART,
        "Taken standing. It is not in the average; standing readings have a mean of their own.",
    ),
    reported(
        Reason::ReportedLying,
        APART,
        "Taken lying. It is not in the average; lying readings have a mean of their own.",
    ),
    reported(
        Reason::ReportedNight,
        APART,
        "Taken at night in bed. It is not in the average; night readings have a mean of their own.",
    ),
];

/// The reasons that set a reading aside.
pub(super) const SETTING_ASIDE: Reasons = with(Some(SetAside), None);

/// The reasons that a person reported, which set a reading aside for somebody for whom `strict` is stated.
pub(super) const REPORTED: Reasons = with(None, Some(KnownBy::Reported)).without(KINDS);

/// The reasons that say which kind a reading is of, where it is not seated. They are no faults.
const KINDS: Reasons = {
    let mut kinds = Reasons::NONE;
    kinds.add(Reason::ReportedStanding);
    kinds.add(Reason::ReportedLying);
    kinds.add(Reason::ReportedNight);
    kinds
};

#[expect(
    clippy::indexing_slicing,
    reason = "runs at compile time, where a panic is an error"
)]
const fn with(disposition: Option<Disposition>, basis: Option<KnownBy>) -> Reasons {
    let mut made = Reasons::NONE;
    let mut i = 0;
    while i < RULES.len() {
        let rule = &RULES[i];
        let disposition_fits = match disposition {
            Some(wanted) => rule.disposition as u8 == wanted as u8,
            None => true,
        };
        let basis_fits = match basis {
            Some(wanted) => rule.basis as u8 == wanted as u8,
            None => true,
        };
        made.add_if(disposition_fits && basis_fits, rule.reason);
        i += 1;
    }
    made
}

impl Reason {
    /// The rule that gives this reason.
    pub fn rule(self) -> &'static Rule {
        // The table has one rule for each reason, in this order; a test holds it to that.
        RULES.get(self as usize).unwrap_or(&RULES[0])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_has_one_rule_for_each_reason_in_its_order() {
        for (rule, reason) in RULES.iter().zip(Reason::ALL) {
            assert_eq!(rule.reason, reason);
            assert_eq!(reason.rule(), rule);
            assert_eq!(Reason::from_name(reason.name()), Some(reason));
        }
    }

    #[test]
    fn every_rule_says_something_and_says_who_says_so() {
        for rule in &RULES {
            assert!(rule.says.ends_with('.'), "{:?}", rule.reason);
            assert!(!rule.source.is_empty(), "{:?}", rule.reason);
            assert!(
                rule.says.split_whitespace().count() <= 45,
                "{:?} is too long to read with a cuff on",
                rule.reason
            );
        }
    }

    #[test]
    fn reported_reasons_are_named_so() {
        for rule in RULES.iter().filter(|rule| rule.reason != Reason::Discarded) {
            assert_eq!(
                rule.basis == KnownBy::Reported,
                rule.reason.name().starts_with("reported-"),
                "{:?}",
                rule.reason
            );
        }
    }
}
