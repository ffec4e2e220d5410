//! `quietcuff trace`: from an average, a session or a reading down to the bytes that it was made of.

use super::failure::{Failure, Outcome};
use super::output::json_line;
use super::period::{Which, find as find_period};
use super::place::Everywhere;
use super::readings::{self, find};
use super::{failure, sessions};
use crate::gatt::label;
use crate::household::Zones;
use crate::journal::{FrameFilter, Journal, StoredFrame};
use crate::monitoring::enters::averaged;
use crate::monitoring::taken::Taken;
use crate::technique::JudgedReading;
use clap::Args;
use serde::Serialize;
use std::collections::HashSet;
use std::io::Write;
use std::process::ExitCode;

/// What to follow: a reading, or `--session`, or `--period`.
#[derive(Args)]
pub(crate) struct TraceArgs {
    /// A reading: its id, or the beginning of it
    #[arg(required_unless_present_any = ["session", "period"], conflicts_with_all = ["session", "period"])]
    id: Option<String>,
    /// A session: its id, or the beginning of it
    #[arg(long, value_name = "ID", conflicts_with = "period")]
    session: Option<String>,
    /// The average of a period, named as for `quietcuff period`
    #[arg(long)]
    period: bool,
    #[command(flatten)]
    which: Which,
    /// Print one JSON object a reading; a session or an average comes before its readings
    #[arg(long)]
    json: bool,
}

/// A reading with the frame that it was made of.
#[derive(Serialize)]
struct Traced<'a> {
    reading: readings::Line<'a>,
    /// Whether it is in the average that is followed.
    #[serde(skip_serializing_if = "Option::is_none")]
    averaged: Option<bool>,
    frame: FrameLine,
}

#[derive(Serialize)]
struct FrameLine {
    row: i64,
    received_at: String,
    monitor: String,
    connection: u32,
    characteristic: String,
    /// Not told by BlueZ, but overheard by `quietcuff overhear`.
    overheard: bool,
    value: String,
    octets: Vec<Octets>,
}

/// Some octets of the frame and what they say.
#[derive(Serialize)]
struct Octets {
    from: usize,
    to: usize,
    hex: String,
    field: &'static str,
    says: String,
}

/// The sum behind an average. Pressures in mmHg.
#[derive(Serialize)]
struct Averaged {
    person: String,
    protocol: String,
    from: jiff::civil::Date,
    to: jiff::civil::Date,
    n: usize,
    sum_systolic: f64,
    sum_diastolic: f64,
    systolic: Option<f64>,
    diastolic: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    insufficient: Option<String>,
}

pub(crate) fn run(here: &Everywhere, args: &TraceArgs) -> Outcome {
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    if args.period {
        of_period(here, &args.which, args.json, &mut out)?;
    } else if args.which.any() {
        return Err(Failure::new(
            failure::USAGE,
            "--person, --protocol, --from and --days belong to --period",
        ));
    } else {
        let mut journal = here.read_journal()?;
        let zones = here.zones(&journal)?;
        if let Some(id) = &args.session {
            of_session(&mut journal, &zones, id, args.json, &mut out)?;
        } else if let Some(id) = &args.id {
            let judged = find(&mut journal, id)?;
            print(&mut out, &journal, &zones, &judged, None, args.json)?;
        }
    }
    out.flush()?;
    Ok(ExitCode::SUCCESS)
}

fn of_session(
    journal: &mut Journal,
    zones: &Zones,
    beginning: &str,
    json: bool,
    out: &mut impl Write,
) -> Result<(), Failure> {
    let sessions = journal.sessions_beginning(beginning)?;
    let session = match sessions.as_slice() {
        [only] => only,
        [] => {
            return Err(Failure::new(
                failure::USAGE,
                format!("there is no session {beginning:?}; `quietcuff sessions` lists them"),
            ));
        }
        _ => {
            return Err(Failure::new(
                failure::USAGE,
                format!("several sessions begin with {beginning:?}: give more of the id"),
            ));
        }
    };
    let line = sessions::Line::of(session, zones);
    if json {
        json_line(out, &serde_json::json!({ "session": line }))?;
    } else {
        line.print(out)?;
    }
    for id in &session.readings {
        let judged = find(journal, &id.0)?;
        print(out, journal, zones, &judged, None, json)?;
    }
    Ok(())
}

fn of_period(here: &Everywhere, which: &Which, json: bool, out: &mut impl Write) -> Result<(), Failure> {
    let found = find_period(here, which)?;
    let period = &found.period;
    let taken = &found.history.taken;
    let chosen = averaged(&found.protocol, period.from, period.to, taken);
    let (mut sum_systolic, mut sum_diastolic) = (0.0, 0.0);
    for values in chosen.iter().filter_map(|taken| taken.counted()) {
        sum_systolic += values.systolic.mmhg();
        sum_diastolic += values.diastolic.mmhg();
    }
    let line = Averaged {
        person: period.person.to_string(),
        protocol: period.protocol.clone(),
        from: period.from,
        to: period.to,
        n: chosen.len(),
        sum_systolic,
        sum_diastolic,
        systolic: period.average.as_ref().map(|average| average.systolic),
        diastolic: period.average.as_ref().map(|average| average.diastolic),
        insufficient: period.insufficient.clone(),
    };
    if json {
        json_line(out, &serde_json::json!({ "average": line }))?;
    } else {
        writeln!(
            out,
            "{}, {} to {}, by {}",
            line.person, line.from, line.to, line.protocol
        )?;
        match line.systolic.zip(line.diastolic) {
            Some((systolic, diastolic)) => writeln!(
                out,
                "{sum_systolic} / {sum_diastolic} mmHg in all, by {} readings: {systolic:.1} / {diastolic:.1}",
                line.n
            )?,
            None => writeln!(
                out,
                "No average: {}",
                line.insufficient.as_deref().unwrap_or("nothing counts")
            )?,
        }
    }
    let chosen: HashSet<*const Taken> = chosen.into_iter().map(std::ptr::from_ref).collect();
    let journal = here.read_journal()?;
    for (judged, taken) in found.history.readings.iter().zip(taken) {
        if (period.from..=period.to).contains(&taken.day) {
            let averaged = chosen.contains(&std::ptr::from_ref(taken));
            print(out, &journal, &found.stated.zones, judged, Some(averaged), json)?;
        }
    }
    Ok(())
}

fn print(
    out: &mut impl Write,
    journal: &Journal,
    zones: &Zones,
    judged: &JudgedReading,
    averaged: Option<bool>,
    json: bool,
) -> Result<(), Failure> {
    let traced = Traced {
        reading: readings::Line::of(judged, zones),
        averaged,
        frame: FrameLine::of(&frame(journal, judged.frame)?),
    };
    if json {
        return json_line(out, &traced);
    }
    writeln!(out)?;
    traced.reading.print(out)?;
    let time = &judged.reading.time;
    let stamp = time.stamp.map_or_else(
        || "no stamp".to_owned(),
        |stamp| format!("its stamp says {stamp}"),
    );
    writeln!(
        out,
        "  {stamp}; the time is from {}, corrected by {} s{}",
        time.source.name(),
        time.correction_s,
        match averaged {
            Some(true) => "; in the average",
            Some(false) => "; not in the average",
            None => "",
        }
    )?;
    let frame = &traced.frame;
    writeln!(
        out,
        "  frame {}, {} {} from {} on connection {}, characteristic {}",
        frame.row,
        if frame.overheard {
            "overheard by the second ear"
        } else {
            "received"
        },
        frame.received_at,
        frame.monitor,
        frame.connection,
        frame.characteristic
    )?;
    for octets in &frame.octets {
        writeln!(
            out,
            "    {:>3}..{:<3} {:<16} {:<28} {}",
            octets.from, octets.to, octets.hex, octets.field, octets.says
        )?;
    }
    Ok(())
}

impl FrameLine {
    fn of(stored: &StoredFrame) -> Self {
        let frame = &stored.frame;
        let hex = |octets: &[u8]| {
            octets
                .iter()
                .map(|octet| format!("{octet:02x}"))
                .collect::<String>()
        };
        Self {
            row: stored.id,
            received_at: frame.received_at.display_with_offset(frame.offset).to_string(),
            monitor: frame.monitor.to_string(),
            connection: frame.connection,
            characteristic: frame.characteristic.to_string(),
            overheard: frame.overheard,
            value: hex(&frame.value),
            octets: label(frame.characteristic, &frame.value)
                .into_iter()
                .map(|labelled| Octets {
                    from: labelled.range.start,
                    to: labelled.range.end,
                    hex: hex(frame.value.get(labelled.range).unwrap_or_default()),
                    field: labelled.field,
                    says: labelled.text,
                })
                .collect(),
        }
    }
}

fn frame(journal: &Journal, row: i64) -> Result<StoredFrame, Failure> {
    let mut found = None;
    let filter = FrameFilter {
        after: Some(row - 1),
        ..FrameFilter::default()
    };
    journal.each_frame(&filter, |stored| {
        found = Some(stored);
        false
    })?;
    found.filter(|stored| stored.id == row).ok_or_else(|| {
        Failure::new(
            failure::DATA,
            format!("frame {row} is gone; `quietcuff rebuild` settles anew"),
        )
    })
}
