//! `quietcuff trace`: from an average, a session or a reading down to the bytes that it was made of.

use super::failure::{Failure, Outcome};
use super::output::json_line;
use super::period::{Which, find as find_period};
use super::place::{Everywhere, Reader};
use super::readings::{self, find};
use super::rows::{self, Told};
use super::summary::{Summary, paragraph};
use super::{failure, sessions};
use crate::export::report::words::{how_known, n, off};
use crate::gatt::label;
use crate::household::PersonId;
use crate::journal::{FrameFilter, Journal, StoredFrame, Wanted};
use crate::monitoring::enters::averaged;
use crate::monitoring::stated::Stated;
use crate::monitoring::taken::Taken;
use crate::reading::whole_ms;
use crate::technique::JudgedReading;
use crate::words::Words;
use crate::words::said::Said;
use clap::Args;
use jiff::Timestamp;
use serde::Serialize;
use std::collections::HashSet;
use std::io::Write;
use std::process::ExitCode;

/// What to follow: whatever a listing shows an id of.
#[derive(Args)]
pub(crate) struct TraceArgs {
    /// A reading or a session by its id or the beginning of it, a frame by its number, or a person for their last
    /// period
    #[arg(required_unless_present_any = ["session", "frame", "period"], conflicts_with_all = ["session", "frame", "period"])]
    id: Option<String>,
    /// A session: its id, or the beginning of it
    #[arg(long, value_name = "ID", conflicts_with_all = ["frame", "period"])]
    session: Option<String>,
    /// A frame: the number that `quietcuff frames` prints
    #[arg(long, value_name = "NUMBER", conflicts_with = "period")]
    frame: Option<i64>,
    /// The average of a period, named as for `quietcuff period`
    #[arg(long)]
    period: bool,
    #[command(flatten)]
    which: Which,
    #[command(flatten)]
    reader: Reader,
    /// Print one JSON object a reading; a session or an average comes before its readings
    #[arg(long)]
    json: bool,
}

/// A reading with the frame that it was made of.
#[derive(Serialize)]
struct Traced<'a> {
    reading: readings::ReadingLine<'a>,
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
    /// The listeners that heard it; none where this machine's own radio did alone.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    heard_by: Vec<HeardBy>,
    /// When it was received, where the machine that heard it was told the time.
    #[serde(skip_serializing_if = "Option::is_none")]
    time_told: Option<TimeTold>,
}

/// When a frame was received by the record's clock, which its listener was told.
#[derive(Serialize)]
struct TimeTold {
    received_at: Timestamp,
    within_ms: i64,
}

impl TimeTold {
    fn of(journal: &Journal, stored: &StoredFrame) -> Result<Option<Self>, Failure> {
        let told = journal.received_by_time_told(&stored.frame)?;
        Ok(told.map(|(received_at, within)| Self {
            received_at,
            within_ms: whole_ms(within),
        }))
    }
}

#[derive(Serialize)]
struct HeardBy {
    listener: String,
    label: String,
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
    insufficient: Option<Said>,
}

pub(crate) fn run(here: &Everywhere, args: &TraceArgs) -> Outcome {
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    let told = (here.words(&args.reader)?, args.json);
    if args.period {
        of_period(here, &args.which, told, &mut out)?;
    } else if args.which.any() {
        return Err(usage(
            "--person, --protocol, --from and --days belong to --period".to_owned(),
        ));
    } else {
        let mut journal = here.read_journal()?;
        let stated = here.stated(&journal)?;
        match what(&mut journal, &stated, args)? {
            What::Reading(id) => {
                let judged = find(&mut journal, &id)?;
                print(&mut out, (&journal, &stated), &judged, None, told)?;
            }
            What::Session(id) => of_session(&mut journal, &stated, &id, told, &mut out)?,
            What::Frame(row) => of_frame(&mut journal, &stated, row, told, &mut out)?,
            What::Person(person) => {
                let which = Which {
                    person: Some(person),
                    ..Which::default()
                };
                of_period(here, &which, told, &mut out)?;
            }
        }
    }
    out.flush()?;
    Ok(ExitCode::SUCCESS)
}

/// What an id names.
enum What {
    Reading(String),
    Session(String),
    Frame(i64),
    Person(PersonId),
}

/// What was meant. Where an id could be of two kinds, it says how to name each.
fn what(journal: &mut Journal, stated: &Stated, args: &TraceArgs) -> Result<What, Failure> {
    if let Some(session) = &args.session {
        return Ok(What::Session(session.clone()));
    }
    if let Some(row) = args.frame {
        return Ok(What::Frame(row));
    }
    let id = args.id.as_deref().unwrap_or_default();
    let mut meant = Vec::new();
    if !id.is_empty() && !journal.reading_ids(&id.to_ascii_lowercase(), 1)?.is_empty() {
        meant.push((What::Reading(id.to_owned()), "a reading, with more of its id"));
    }
    if let Ok(person) = id.parse()
        && stated.household.people.contains_key(&person)
    {
        meant.push((What::Person(person), "a person, with `--period --person`"));
    } else if !id.is_empty() && !journal.sessions_beginning(id)?.is_empty() {
        meant.push((What::Session(id.to_owned()), "a session, with `--session`"));
    }
    if let Ok(row) = id.parse::<i64>()
        && frame(journal, row)?.is_some()
    {
        meant.push((What::Frame(row), "a frame, with `--frame`"));
    }
    if meant.len() > 1 {
        let ways: Vec<&str> = meant.iter().map(|(_, way)| *way).collect();
        return Err(usage(format!(
            "{id:?} names several things; say which: {}",
            ways.join("; or ")
        )));
    }
    let elsewhere = || {
        let household = &stated.household;
        if household.monitors.keys().any(|monitor| monitor.as_str() == id) {
            format!(
                "{id} is a monitor, which `quietcuff monitors list` shows; what came of it is in `quietcuff frames`"
            )
        } else if !id.is_empty() && household.notes.keys().any(|note| note.starts_with(id)) {
            format!("{id} is a note, which is as it was written: `quietcuff note list` shows it")
        } else {
            format!(
                "there is no reading, session, frame or person {id:?}; `quietcuff readings --ids`, `quietcuff sessions --ids`, \
                 `quietcuff frames` and `quietcuff people list` list them"
            )
        }
    };
    meant
        .pop()
        .map(|(what, _)| what)
        .ok_or_else(|| usage(elsewhere()))
}

fn usage(why: String) -> Failure {
    Failure::new(failure::USAGE, why)
}

/// A frame, and the reading that was made of it.
fn of_frame(
    journal: &mut Journal,
    stated: &Stated,
    row: i64,
    told: Told,
    out: &mut impl Write,
) -> Result<(), Failure> {
    let Some(stored) = frame(journal, row)? else {
        return Err(usage(format!(
            "there is no frame {row}; `quietcuff frames` lists them"
        )));
    };
    let mut made = None;
    journal.each_reading(&Wanted::default(), |judged| {
        if judged.frame == row {
            made = Some(judged);
        }
        made.is_none()
    })?;
    if let Some(judged) = made {
        return print(out, (journal, stated), &judged, None, told);
    }
    let line = FrameLine::of(
        &stored,
        journal.heard_by(stored.id, false)?,
        TimeTold::of(journal, &stored)?,
    );
    if told.1 {
        return json_line(out, &serde_json::json!({ "frame": line }));
    }
    paragraph(out, "", &told.0.say("trace-no-reading"))?;
    Ok(line.print(out, &stored, stated, told.0)?)
}

fn of_session(
    journal: &mut Journal,
    stated: &Stated,
    beginning: &str,
    told: Told,
    out: &mut impl Write,
) -> Result<(), Failure> {
    let sessions = journal.sessions_beginning(beginning)?;
    let session = match sessions.as_slice() {
        [only] => only,
        [] => {
            return Err(Failure::new(
                failure::USAGE,
                format!("there is no session {beginning:?}; `quietcuff sessions --ids` lists them"),
            ));
        }
        _ => {
            return Err(Failure::new(
                failure::USAGE,
                format!("several sessions begin with {beginning:?}: give more of the id"),
            ));
        }
    };
    if told.1 {
        let line = sessions::SessionLine::of(session, &stated.zones);
        json_line(out, &serde_json::json!({ "session": line }))?;
    } else {
        rows::one_session(out, session, stated, told.0)?;
    }
    for id in &session.readings {
        let judged = find(journal, &id.0)?;
        print(out, (journal, stated), &judged, None, told)?;
    }
    Ok(())
}

fn of_period(here: &Everywhere, which: &Which, told: Told, out: &mut impl Write) -> Result<(), Failure> {
    let (words, json) = told;
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
        let summary = Summary {
            period,
            words,
            title: &found.protocol.title,
            full: true,
        };
        paragraph(out, "", &summary.heading(found.stated.label(&period.person)))?;
        let says = match line.systolic.zip(line.diastolic) {
            Some((systolic, diastolic)) => {
                let sum = words.decimal(&format!("{sum_systolic} / {sum_diastolic}"));
                let mean = words.decimal(&format!("{systolic:.1} / {diastolic:.1}"));
                let values = [("sum", sum.into()), ("n", n(line.n)), ("mean", mean.into())];
                words.with("trace-sum", &values)
            }
            None => {
                let there = line.insufficient.as_ref();
                let there = there.map_or_else(|| words.say("sheet-none-counts"), |there| words.of(there));
                format!("{} ({there})", words.say("sheet-no-average"))
            }
        };
        paragraph(out, "", &says)?;
    }
    let chosen: HashSet<*const Taken> = chosen.into_iter().map(std::ptr::from_ref).collect();
    let journal = here.read_journal()?;
    for (judged, taken) in found.history.readings.iter().zip(taken) {
        if (period.from..=period.to).contains(&taken.day) {
            let averaged = chosen.contains(&std::ptr::from_ref(taken));
            print(out, (&journal, &found.stated), judged, Some(averaged), told)?;
        }
    }
    Ok(())
}

fn print(
    out: &mut impl Write,
    (journal, stated): (&Journal, &Stated),
    judged: &JudgedReading,
    averaged: Option<bool>,
    (words, json): Told,
) -> Result<(), Failure> {
    let stored = frame_of(journal, judged.frame)?;
    let traced = Traced {
        reading: readings::ReadingLine::of(judged, &stated.zones),
        averaged,
        frame: FrameLine::of(
            &stored,
            journal.heard_by(judged.frame, judged.reading.time.stamp.is_some())?,
            TimeTold::of(journal, &stored)?,
        ),
    };
    if json {
        return json_line(out, &traced);
    }
    writeln!(out)?;
    rows::one_reading(out, judged, stated, words)?;
    let time = &judged.reading.time;
    let mut said = vec![match time.stamp {
        Some(stamp) => words.with("trace-stamp", &[("stamp", stamp.to_string().into())]),
        None => words.say("trace-no-stamp"),
    }];
    let how = words.say(how_known(time.source));
    said.push(format!("{}: {how}", words.say("column-time-known")));
    if time.correction_s != 0 {
        let by = off(words, time.correction_s);
        said.push(format!("{}: {by}", words.say("column-clock-off")));
    }
    said.extend(averaged.map(|averaged| {
        words.say(if averaged {
            "trace-averaged"
        } else {
            "trace-not-averaged"
        })
    }));
    paragraph(out, "  ", &said.join("; "))?;
    Ok(traced.frame.print(out, &stored, stated, words)?)
}

impl FrameLine {
    /// The octets with what they say: as the specification names their fields, in every language.
    fn print(
        &self,
        out: &mut impl Write,
        stored: &StoredFrame,
        stated: &Stated,
        words: &Words,
    ) -> std::io::Result<()> {
        let values = [
            ("number", self.row.to_string().into()),
            (
                "moment",
                rows::moment(stored.frame.received_at, &stated.zones, words).into(),
            ),
            ("monitor", self.monitor.as_str().into()),
            ("connection", self.connection.to_string().into()),
            ("characteristic", self.characteristic.as_str().into()),
        ];
        let name = if self.overheard {
            "trace-frame-overheard"
        } else {
            "trace-frame"
        };
        paragraph(out, "  ", &words.with(name, &values))?;
        if let Some(told) = &self.time_told {
            let values = [
                (
                    "moment",
                    rows::moment(told.received_at, &stated.zones, words).into(),
                ),
                ("seconds", words.seconds(told.within_ms).into()),
            ];
            paragraph(out, "  ", &words.with("trace-time-told", &values))?;
        }
        for HeardBy { listener, label } in &self.heard_by {
            let values = [
                ("listener", listener.as_str().into()),
                ("label", label.as_str().into()),
            ];
            paragraph(out, "  ", words.with("trace-heard-by", &values).trim_end())?;
        }
        for octets in &self.octets {
            writeln!(
                out,
                "    {:>3}..{:<3} {:<16} {:<28} {}",
                octets.from, octets.to, octets.hex, octets.field, octets.says
            )?;
        }
        Ok(())
    }

    fn of(stored: &StoredFrame, heard_by: Vec<(String, String)>, time_told: Option<TimeTold>) -> Self {
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
            time_told,
            heard_by: heard_by
                .into_iter()
                .map(|(listener, label)| HeardBy { listener, label })
                .collect(),
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

/// The frame of that number, if there is one.
fn frame(journal: &Journal, row: i64) -> Result<Option<StoredFrame>, Failure> {
    let mut found = None;
    let filter = FrameFilter {
        after: Some(row.saturating_sub(1)),
        ..FrameFilter::default()
    };
    journal.each_frame(&filter, |stored| {
        found = Some(stored);
        false
    })?;
    Ok(found.filter(|stored| stored.id == row))
}

/// The frame of a reading, which has to be there.
fn frame_of(journal: &Journal, row: i64) -> Result<StoredFrame, Failure> {
    frame(journal, row)?.ok_or_else(|| {
        Failure::new(
            failure::DATA,
            format!("frame {row} is gone; `quietcuff rebuild` settles anew"),
        )
    })
}
