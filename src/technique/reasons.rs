//! The reasons for which a reading is marked or set aside, by name, and a set of them.

use crate::household::Posed;

macro_rules! reasons {
    ($($reason:ident $name:literal)*) => {
        /// Why a reading is not simply counted. The order of the reasons is that of the listings.
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
        #[expect(missing_docs, reason = "the rule of each says what it means")]
        pub enum Reason { $($reason),* }

        impl Reason {
            /// All reasons, in order.
            pub const ALL: [Self; [$($name),*].len()] = [$(Self::$reason),*];

            /// The name that the JSON output prints.
            pub const fn name(self) -> &'static str {
                match self { $(Self::$reason => $name),* }
            }
        }
    };
}

reasons! {
    BodyMovement "body-movement"
    CuffTooLoose "cuff-too-loose"
    ImproperPosition "improper-position"
    IrregularPulse "irregular-pulse"
    PulseRateAboveRange "pulse-rate-above-range"
    PulseRateBelowRange "pulse-rate-below-range"
    NoValue "no-value"
    ImpossibleValue "impossible-value"
    UnlikelyValue "unlikely-value"
    TooSoon "too-soon"
    TimeUnknown "time-unknown"
    ClockFault "clock-fault"
    PersonUnknown "person-unknown"
    Discarded "discarded"
    OutsideWindow "outside-window"
    LoneReading "lone-reading"
    ThirdReadingMissing "third-reading-missing"
    WristMonitor "wrist-monitor"
    CuffSize "cuff-size"
    NotValidated "not-validated"
    ReportedCoffee "reported-coffee"
    ReportedSmoking "reported-smoking"
    ReportedExercise "reported-exercise"
    ReportedAlcohol "reported-alcohol"
    ReportedMeal "reported-meal"
    ReportedDinner "reported-dinner"
    ReportedMedicine "reported-medicine"
    ReportedJustWoken "reported-just-woken"
    ReportedLongAwake "reported-long-awake"
    ReportedLongBeforeBed "reported-long-before-bed"
    ReportedNoRest "reported-no-rest"
    ReportedFullBladder "reported-full-bladder"
    ReportedTalked "reported-talked"
    ReportedOverClothing "reported-over-clothing"
    ReportedOtherArm "reported-other-arm"
    ReportedLegsCrossed "reported-legs-crossed"
    ReportedBackUnsupported "reported-back-unsupported"
    ReportedArmUnsupported "reported-arm-unsupported"
    ReportedArmLow "reported-arm-low"
    ReportedFistClenched "reported-fist-clenched"
    ReportedPosture "reported-posture"
    ReportedStanding "reported-standing"
    ReportedLying "reported-lying"
    ReportedNight "reported-night"
}

impl Reason {
    /// The reason of a name; `None` where no reason has that name.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|reason| reason.name() == name)
    }
}

/// A set of reasons, small enough to copy.
#[derive(Clone, Copy, PartialEq, Eq, Default, Hash)]
pub struct Reasons(u64);

// Each reason has one bit.
const _: () = assert!(Reason::ALL.len() <= u64::BITS as usize);

impl Reasons {
    /// The empty set of reasons.
    pub const NONE: Self = Self(0);

    /// Adds a reason to the set.
    pub const fn add(&mut self, reason: Reason) {
        self.0 |= 1 << reason as u32;
    }

    /// Adds a reason to the set where `holds` is true.
    pub const fn add_if(&mut self, holds: bool, reason: Reason) {
        self.0 |= (holds as u64) << reason as u32;
    }

    /// The reasons that are in this set, in `others`, or in both.
    #[must_use]
    pub const fn and(self, others: Self) -> Self {
        Self(self.0 | others.0)
    }

    /// Whether the reason is in the set.
    pub const fn contains(self, reason: Reason) -> bool {
        self.0 & 1 << reason as u32 != 0
    }

    /// Whether the set has no reason.
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// The reasons of the set, in the order of [`Reason`].
    pub fn iter(self) -> impl Iterator<Item = Reason> {
        Reason::ALL
            .into_iter()
            .filter(move |&reason| self.contains(reason))
    }

    /// The reasons that are in this set and in `others`.
    #[must_use]
    pub const fn only(self, others: Self) -> Self {
        Self(self.0 & others.0)
    }

    /// The reasons of the set that are not in `others`.
    #[must_use]
    pub(super) const fn without(self, others: Self) -> Self {
        Self(self.0 & !others.0)
    }

    /// How the person was, as the reasons say it.
    pub fn posed(self) -> Posed {
        if self.contains(Reason::ReportedStanding) {
            Posed::Standing
        } else if self.contains(Reason::ReportedLying) {
            Posed::Lying
        } else if self.contains(Reason::ReportedNight) {
            Posed::Night
        } else {
            Posed::Seated
        }
    }

    /// Whether a reason of `others` is in this set.
    pub const fn any_of(self, others: Self) -> bool {
        !self.only(others).is_empty()
    }
}

impl FromIterator<Reason> for Reasons {
    fn from_iter<I: IntoIterator<Item = Reason>>(reasons: I) -> Self {
        let mut made = Self::NONE;
        for reason in reasons {
            made.add(reason);
        }
        made
    }
}

impl std::fmt::Debug for Reasons {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_set().entries(self.iter().map(Reason::name)).finish()
    }
}
