//! `quietcuff readings`: what was measured, when, whose, and what became of it.

use super::days::Days;
use super::{Everywhere, Failure, Outcome};
use crate::gatt::{Sfloat, Unit};
use crate::household::{PersonId, Zones};
use crate::journal::JudgedReading;
use crate::monitoring::pressure::Pressure;
use crate::technique::Reason;
use clap::Args;
use serde::Serialize;
use std::collections::BTreeMap;
use std::io::Write;
use std::process::ExitCode;

/// Which readings, and how.
#[derive(Args)]
pub(crate) struct ReadingsArgs {
    #[command(flatten)]
    days: Days,
    /// Print one JSON object a line
    #[arg(long)]
    json: bool,
}

/// One reading as the contract prints it.
#[derive(Serialize)]
struct Line<'a> {
    id: &'a str,
    person: Option<&'a PersonId>,
    measured_at: Option<String>,
    time_source: &'static str,
    time_precision: &'static str,
    time_correction_s: i64,
    received_at: String,
    #[serde(serialize_with = "number")]
    systolic: Sfloat,
    #[serde(serialize_with = "number")]
    diastolic: Sfloat,
    #[serde(serialize_with = "maybe_number")]
    mean_arterial_pressure: Option<Sfloat>,
    #[serde(serialize_with = "maybe_number", skip_serializing_if = "Option::is_none")]
    pulse_rate: Option<Sfloat>,
    unit: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    systolic_mmhg: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    diastolic_mmhg: Option<f64>,
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    special: BTreeMap<&'static str, &'static str>,
    disposition: &'static str,
    reasons: Vec<&'static str>,
    session: Option<&'a str>,
    monitor: &'a str,
    frame: i64,
}

/// The digits that were sent; null where it is no number.
fn number<S: serde::Serializer>(value: &Sfloat, serializer: S) -> Result<S::Ok, S::Error> {
    maybe_number(&Some(*value), serializer)
}

fn maybe_number<S: serde::Serializer>(value: &Option<Sfloat>, serializer: S) -> Result<S::Ok, S::Error> {
    let digits = value
        .filter(|value| value.special().is_none())
        .map(|value| value.to_string());
    match digits.and_then(|digits| digits.parse::<serde_json::Number>().ok()) {
        Some(number) => number.serialize(serializer),
        None => serializer.serialize_none(),
    }
}

impl<'a> Line<'a> {
    fn of(judged: &'a JudgedReading, zones: &Zones) -> Self {
        let reading = &judged.reading;
        let mmhg = |value: Sfloat| Pressure::from_sfloat(value, reading.unit).map(Pressure::mmhg);
        let kpa = reading.unit == Unit::KPa;
        let values = [
            ("systolic", Some(reading.systolic)),
            ("diastolic", Some(reading.diastolic)),
            ("mean_arterial_pressure", Some(reading.mean_arterial_pressure)),
            ("pulse_rate", reading.pulse_rate),
        ];
        Self {
            id: &reading.id.0,
            person: reading.person.as_ref(),
            measured_at: reading
                .time
                .at
                .map(|at| at.display_with_offset(zones.offset(at)).to_string()),
            time_source: reading.time.source.name(),
            time_precision: reading.time.precision.name(),
            time_correction_s: reading.time.correction_s,
            received_at: reading
                .received_at
                .display_with_offset(zones.offset(reading.received_at))
                .to_string(),
            systolic: reading.systolic,
            diastolic: reading.diastolic,
            mean_arterial_pressure: judged.judgement.mean_arterial_pressure,
            pulse_rate: reading.pulse_rate,
            unit: reading.unit.name(),
            systolic_mmhg: mmhg(reading.systolic).filter(|_| kpa),
            diastolic_mmhg: mmhg(reading.diastolic).filter(|_| kpa),
            special: values
                .into_iter()
                .filter_map(|(name, value)| Some((name, value?.special()?.name())))
                .collect(),
            disposition: judged.judgement.disposition.name(),
            reasons: judged.judgement.reasons.iter().map(Reason::name).collect(),
            session: judged.session.as_deref(),
            monitor: reading.monitor.as_str(),
            frame: judged.frame,
        }
    }
}

pub(crate) fn run(here: &Everywhere, args: &ReadingsArgs) -> Outcome {
    let mut journal = here.existing_journal()?;
    let zones = here.zones(&journal)?;
    let wanted = args.days.wanted(&journal, &zones)?;
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    let mut written: Result<(), Failure> = Ok(());
    journal.each_reading(&wanted, |judged| {
        let line = Line::of(&judged, &zones);
        written = if args.json {
            serde_json::to_writer(&mut out, &line)
                .map_err(std::io::Error::from)
                .and_then(|()| writeln!(out))
                .map_err(Failure::from)
        } else {
            print(&mut out, &line).map_err(Failure::from)
        };
        written.is_ok()
    })?;
    written?;
    out.flush()?;
    Ok(ExitCode::SUCCESS)
}

fn print(out: &mut impl Write, line: &Line<'_>) -> std::io::Result<()> {
    let pulse = line
        .pulse_rate
        .map(|pulse| format!("pulse {pulse}"))
        .unwrap_or_default();
    let reasons = if line.reasons.is_empty() {
        String::new()
    } else {
        format!("  {}", line.reasons.join(", "))
    };
    writeln!(
        out,
        "{}  {:<25}  {:<8}  {:>5}/{:<5} {:<4}  {pulse:<10}  {}{reasons}",
        line.id,
        line.measured_at.as_deref().unwrap_or("time unknown"),
        line.person.map_or("nobody", PersonId::as_str),
        line.systolic.to_string(),
        line.diastolic.to_string(),
        line.unit,
        line.disposition,
    )
}
