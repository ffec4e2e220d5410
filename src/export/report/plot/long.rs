//! The plots of a long period: days, weeks or months as points with their spread, with the clinic's readings and the
//! days on which a medicine was changed.

use super::field::{Field, LETTERS, Scale, between, to_f32};
use super::parted;
use super::said::{dashed, room_of, titled};
use crate::export::report::Report;
use crate::export::report::drawing::{Anchor, Drawing, Pen, Shape};
use crate::export::report::words::n;
use crate::household::Note;
use crate::monitoring::patterns::ClinicReading;
use crate::monitoring::spread::{Every, SpreadPart, parts};
use crate::reading::Pressure;
use crate::sitting::Slot;
use crate::words::{Value, Words};
use jiff::civil::Date;

/// The largest point.
const POINT: f32 = 2.4;
/// Where the words below a plot begin.
const KEY: f32 = 34.0;

/// What the key explains.
enum Sign {
    Full,
    Open,
    Cross,
    Dashes,
}

/// The whole period.
pub(super) fn over_time(
    report: &Report<'_>,
    every: Every,
    (width, right): (f32, f32),
    threshold: &str,
) -> Drawing {
    let period = report.period;
    let parts = parts(report.readings.iter().map(|(_, taken)| *taken), every);
    let (clinic, changes) = (clinic(report), changes(report));
    let field = Field {
        left: 30.0,
        right,
        top: 20.0,
        bottom: 154.0,
        scale: scale(report, &parts, &clinic),
        first: period.from,
        days: between(period.from, period.to) + 1.0,
        lanes: vec![Slot::Other],
    };
    let mut shapes = Vec::new();
    field.grid(&mut shapes);
    let names = (field.bottom + 11.0, report.words);
    parted::names(&field, &mut shapes, every, period.to, names);
    field.threshold(&mut shapes, report.limits(), 4.0, threshold);
    parted::changes(&field, &mut shapes, &changes);
    parted::points(&field, &mut shapes, every, &parts, POINT);
    parted::clinics(&field, &mut shapes, &clinic);
    shapes.push(Shape::Text(
        Anchor::End,
        (26.0, field.top - 8.0),
        LETTERS,
        "mmHg".to_owned(),
    ));
    let drawn = (!clinic.is_empty(), !changes.is_empty());
    let height = key(
        &mut shapes,
        (report.words, every),
        (width, field.bottom + 28.0),
        drawn,
    );
    Drawing {
        width,
        height: height + 8.0,
        title: titled(report),
        description: described(report, every, &parts),
        shapes,
    }
}

/// The points of one part of the day into a field; what they show in words.
pub(super) fn panel(
    report: &Report<'_>,
    every: Every,
    slot: Slot,
    field: &Field,
    shapes: &mut Vec<Shape>,
) -> String {
    let of_slot = report.readings.iter().map(|(_, taken)| *taken);
    let parts = parts(of_slot.filter(|taken| taken.slot == slot), every);
    let names = (field.bottom + 11.0, report.words);
    parted::names(field, shapes, every, report.period.to, names);
    field.threshold(shapes, report.limits(), 11.0, "");
    parted::points(field, shapes, every, &parts, POINT * 0.75);
    described(report, every, &parts)
}

/// The readings that the clinic took in these days.
fn clinic(report: &Report<'_>) -> Vec<ClinicReading> {
    let noted = report.notes.iter().filter_map(|note| {
        let Note::ClinicReading { systolic, diastolic } = note.what else {
            return None;
        };
        Some(ClinicReading {
            day: report.zones.civil(note.at).date(),
            systolic: Pressure::from_mmhg_written(systolic)?,
            diastolic: Pressure::from_mmhg_written(diastolic)?,
        })
    });
    noted.collect()
}

fn changes(report: &Report<'_>) -> Vec<Date> {
    let changed = report
        .notes
        .iter()
        .filter(|note| matches!(note.what, Note::MedicineChanged { .. }));
    changed.map(|note| report.zones.civil(note.at).date()).collect()
}

fn scale(report: &Report<'_>, parts: &[SpreadPart], clinic: &[ClinicReading]) -> Scale {
    let ends = parts
        .iter()
        .flat_map(|part| part.systolic.into_iter().chain(part.diastolic));
    let clinic = clinic.iter().flat_map(|at| [at.systolic, at.diastolic]);
    let limits = report
        .limits()
        .into_iter()
        .flat_map(|limits| [limits.systolic, limits.diastolic]);
    Scale::around(ends.chain(clinic).chain(limits).map(Pressure::mmhg), 4.0)
}

/// What is drawn, with its words, in as many lines as it takes; where the last of them stands.
fn key(
    shapes: &mut Vec<Shape>,
    (words, every): (&Words, Every),
    (width, mut y): (f32, f32),
    (clinic, changes): (bool, bool),
) -> f32 {
    let full = words.with("key-mean", &[("every", every.name().into())]);
    let all = [
        (true, Sign::Full, full),
        (every != Every::Day, Sign::Open, words.say("key-few-days")),
        (clinic, Sign::Cross, words.say("key-clinic")),
        (changes, Sign::Dashes, words.say("key-medicine")),
    ];
    let mut x = KEY;
    for (_, sign, says) in all.into_iter().filter(|(drawn, ..)| *drawn) {
        let wide = room_of(&says);
        if x > KEY && x + wide > width {
            (x, y) = (KEY, y + 14.0);
        }
        let middle = y - 3.0;
        let upright = vec![[x, y - 9.0, x, y + 3.0]];
        match sign {
            Sign::Full => shapes.extend([
                Shape::Strokes(Pen::Ink, upright),
                Shape::Dot(true, (x, middle), POINT),
            ]),
            Sign::Open => shapes.push(Shape::Dot(false, (x, middle), POINT)),
            Sign::Cross => shapes.push(Shape::Strokes(
                Pen::Heavy,
                vec![
                    [x - 3.0, middle - 3.0, x + 3.0, middle + 3.0],
                    [x - 3.0, middle + 3.0, x + 3.0, middle - 3.0],
                ],
            )),
            Sign::Dashes => shapes.push(Shape::Strokes(Pen::Dashed, upright)),
        }
        shapes.push(Shape::Text(Anchor::Start, (x + 8.0, y), LETTERS, says));
        x += wide;
    }
    y
}

/// What the points show, for those who do not see them.
fn described(report: &Report<'_>, every: Every, parts: &[SpreadPart]) -> String {
    let words = report.words;
    let days = words.days(report.period.from, report.period.to);
    let mut said = vec![words.with(
        "plot-says-parts",
        &[
            ("n", n(parts.len())),
            ("every", every.name().into()),
            ("days", days.into()),
        ],
    )];
    let shown = |part: &SpreadPart| Value::from(words.decimal(&part.mean.shown()));
    if let Some((first, last)) = parts.first().zip(parts.last()) {
        let values = [("first", shown(first)), ("last", shown(last))];
        said.push(words.with("plot-says-first-last", &values));
    }
    let mean = |part: &SpreadPart| part.mean.systolic().map(to_f32).unwrap_or_default();
    let by = |a: &&SpreadPart, b: &&SpreadPart| mean(a).total_cmp(&mean(b));
    if let Some((least, most)) = parts.iter().min_by(by).zip(parts.iter().max_by(by)) {
        let values = [("lowest", shown(least)), ("highest", shown(most))];
        said.push(words.with("plot-says-lowest-highest", &values));
    }
    said.extend(dashed(report));
    said.push(words.say("plot-says-table-of-parts"));
    said.join(" ")
}
