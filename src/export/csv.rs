//! Comma-separated values as RFC 4180 has them: a header, then one row a reading, every reading, with what
//! became of it and why.
//!
//! Numbers have the digits that the monitor sent. Text that a person wrote cannot become a formula in a
//! spreadsheet.

use crate::gatt::{Sfloat, Unit};
use crate::household::Zones;
use crate::reading::{Pressure, Reading};
use crate::technique::{Judgement, Reason};
use jiff::Timestamp;
use std::io::{self, Write};

/// The header, in order.
pub const COLUMNS: [&str; 22] = [
    "id",
    "person",
    "measured_at",
    "time_source",
    "time_precision",
    "time_correction_s",
    "received_at",
    "systolic",
    "diastolic",
    "mean_arterial_pressure",
    "pulse_rate",
    "unit",
    "systolic_mmhg",
    "diastolic_mmhg",
    "disposition",
    "reasons",
    "session",
    "monitor",
    "user_id",
    "monitor_stamp",
    "frame",
    "discarded_because",
];

/// What a spreadsheet may take for the beginning of a formula (OWASP, CSV Injection).
const FORMULA: [char; 6] = ['=', '+', '-', '@', '\t', '\r'];

/// Writes the header.
pub fn header(out: &mut impl Write) -> io::Result<()> {
    write!(out, "{}\r\n", COLUMNS.join(","))
}

/// Writes one reading. `session` and `frame` say where it belongs and what it was made of.
pub fn row(
    out: &mut impl Write,
    reading: &Reading,
    judgement: &Judgement,
    session: Option<&str>,
    frame: i64,
    zones: &Zones,
) -> io::Result<()> {
    let time = &reading.time;
    let moment = |at: Timestamp| at.display_with_offset(zones.offset(at)).to_string();
    let digits = |value: Option<Sfloat>| {
        value
            .and_then(Sfloat::decimal)
            .map(|decimal| decimal.to_string())
            .unwrap_or_default()
    };
    // Always, so that a table of mixed monitors has one column to work with: the digits that were sent, or converted.
    let mmhg = |value: Sfloat| match reading.unit {
        Unit::KPa => Pressure::from_sfloat(value, reading.unit)
            .map(|pressure| format!("{:.2}", pressure.mmhg()))
            .unwrap_or_default(),
        Unit::MmHg => digits(Some(value)),
    };
    let reasons: Vec<&str> = judgement.reasons.iter().map(Reason::name).collect();
    let cells: [String; COLUMNS.len()] = [
        text(&reading.id.0),
        text(reading.person.as_ref().map_or("", |person| person.as_str())),
        time.at.map(moment).unwrap_or_default(),
        time.source.name().to_owned(),
        time.precision.name().to_owned(),
        time.correction_s.to_string(),
        moment(reading.received_at),
        digits(Some(reading.systolic)),
        digits(Some(reading.diastolic)),
        digits(judgement.mean_arterial_pressure),
        digits(reading.pulse_rate),
        reading.unit.name().to_owned(),
        mmhg(reading.systolic),
        mmhg(reading.diastolic),
        judgement.disposition.name().to_owned(),
        reasons.join(" "),
        text(session.unwrap_or_default()),
        text(reading.monitor.as_str()),
        reading.user_id.map(|user| user.to_string()).unwrap_or_default(),
        time.stamp.map(|stamp| stamp.to_string()).unwrap_or_default(),
        frame.to_string(),
        text(reading.discarded.as_deref().unwrap_or_default()),
    ];
    write!(out, "{}\r\n", cells.join(","))
}

/// A cell of text: quoted where it has to be, and no formula. Control characters other than line ends and
/// tabs have no place in a CSV and become the replacement character.
fn text(cell: &str) -> String {
    let odd = |c: char| c.is_control() && !matches!(c, '\n' | '\r' | '\t');
    let mut safe = String::with_capacity(cell.len());
    if cell
        .trim_start_matches([' ', '\u{a0}', '\u{feff}'])
        .starts_with(FORMULA)
    {
        safe.push('\'');
    }
    safe.extend(
        cell.chars()
            .map(|c| if odd(c) { char::REPLACEMENT_CHARACTER } else { c }),
    );
    if safe.contains([',', '"', '\n', '\r', '\t']) {
        format!("\"{}\"", safe.replace('"', "\"\""))
    } else {
        safe
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_is_quoted_and_never_a_formula() {
        for (given, written) in [
            ("a guest measured", "a guest measured"),
            ("one, two", "\"one, two\""),
            ("say \"so\"", "\"say \"\"so\"\"\""),
            ("two\nlines", "\"two\nlines\""),
            ("=HYPERLINK(\"x\")", "\"'=HYPERLINK(\"\"x\"\")\""),
            ("+1", "'+1"),
            ("-1", "'-1"),
            ("@SUM(A1)", "'@SUM(A1)"),
            ("  =1", "'  =1"),
            ("nul\0", "nul\u{fffd}"),
            ("", ""),
        ] {
            assert_eq!(text(given), written);
        }
    }
}
