//! The unit of the pressures in a measurement.

use super::sfloat::Sfloat;
use std::fmt;

/// The unit of the pressures in one measurement. One monitor may use both units, in different measurements.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Unit {
    /// Millimetres of mercury, written mmHg.
    MmHg,
    /// Kilopascals, written kPa.
    KPa,
}

impl Unit {
    /// The name that the JSON output prints: `mmHg` or `kPa`.
    pub const fn name(self) -> &'static str {
        match self {
            Self::MmHg => "mmHg",
            Self::KPa => "kPa",
        }
    }

    /// A pressure for a person: `16.0 kPa`, or what the special code means.
    pub(super) fn spell(self, number: Sfloat) -> String {
        match number.special() {
            None => format!("{number} {self}"),
            Some(special) => special.meaning().to_owned(),
        }
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}
