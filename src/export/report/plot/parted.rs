//! Points with their spread in place of single readings, where there are more days than these can be seen in.

use super::field::{Field, LETTERS, to_f32};
use crate::export::report::drawing::{Anchor, Pen, Shape};
use crate::monitoring::patterns::ClinicReading;
use crate::monitoring::spread::{Every, SpreadPart};
use crate::words::Words;
use jiff::ToSpan;
use jiff::civil::Date;

/// Half a clinic's cross.
const CROSS: f32 = 3.0;
/// The name of a day, a month or a year needs so much room; where a month has a third of it, each quarter is named.
const NAME: f32 = 26.0;
const QUARTER_OF_NAME: f32 = 9.0;

/// Where a part begins, and how wide it is.
pub(super) fn place(field: &Field, every: Every, part: &SpreadPart) -> (f32, f32) {
    let from = field.day(part.from);
    let end = every.last(part.from).tomorrow().unwrap_or(Date::MAX);
    (from, field.day(end) - from)
}

/// A point at each mean, no larger than that, on a line from the lowest to the highest value; open where it rests on
/// few days.
pub(super) fn points(
    field: &Field,
    shapes: &mut Vec<Shape>,
    every: Every,
    parts: &[SpreadPart],
    largest: f32,
) {
    let (mut spreads, mut points) = (Vec::new(), Vec::new());
    for part in parts {
        let (from, width) = place(field, every, part);
        // A part that began before the days is drawn inside them.
        let x = (from + width / 2.0).clamp(field.left, field.right);
        let means = [part.mean.systolic(), part.mean.diastolic()];
        for (mean, [low, high]) in means.into_iter().zip([part.systolic, part.diastolic]) {
            let y = |value: f64| field.y(to_f32(value));
            spreads.push([x, y(low.mmhg()), x, y(high.mmhg())]);
            let radius = ((largest.min(width * 0.45)).max(0.8) * 10.0).round() / 10.0;
            points.push(Shape::Dot(
                part.full(every),
                (x, y(mean.unwrap_or_default())),
                radius,
            ));
        }
    }
    shapes.push(Shape::Strokes(Pen::Ink, spreads));
    shapes.extend(points);
}

/// Upright dashes where a medicine was changed.
pub(super) fn changes(field: &Field, shapes: &mut Vec<Shape>, days: &[Date]) {
    let line = |day: &Date| [field.day(*day), field.top, field.day(*day), field.bottom];
    shapes.push(Shape::Strokes(Pen::Dashed, days.iter().map(line).collect()));
}

/// A cross at each pressure that the clinic measured.
pub(super) fn clinics(field: &Field, shapes: &mut Vec<Shape>, clinic: &[ClinicReading]) {
    let mut crosses = Vec::new();
    for at in clinic {
        let x = field.day(at.day);
        for value in [at.systolic, at.diastolic] {
            let y = field.y(to_f32(value.mmhg()));
            crosses.push([x - CROSS, y - CROSS, x + CROSS, y + CROSS]);
            crosses.push([x - CROSS, y + CROSS, x + CROSS, y - CROSS]);
        }
    }
    shapes.push(Shape::Strokes(Pen::Heavy, crosses));
}

/// Mondays, months or years by name, whichever there is room for.
pub(super) fn names(
    field: &Field,
    shapes: &mut Vec<Shape>,
    every: Every,
    last: Date,
    (y, words): (f32, &Words),
) {
    let month_wide = field.day_width() * 30.0;
    let wanted = |day: Date| {
        every == Every::Day
            || month_wide >= NAME
            || day.month() == 1
            || (month_wide >= QUARTER_OF_NAME && day.month() % 3 == 1)
    };
    let (mut edges, mut free) = (Vec::new(), field.left);
    let mut day = match every {
        Every::Day => Every::Week.first(field.first),
        Every::Week | Every::Month => field.first.first_of_month(),
    };
    while day <= last {
        if day >= field.first && wanted(day) {
            let x = field.day(day);
            edges.push([x, field.top, x, field.bottom]);
            if x >= free && x + NAME <= field.right + 8.0 {
                let name = match every {
                    Every::Day => format!("{} {}", day.day(), words.short_month(day)),
                    _ if day.month() == 1 => day.year().to_string(),
                    _ => words.short_month(day),
                };
                shapes.push(Shape::Text(Anchor::Start, (x, y), LETTERS, name));
                free = x + NAME;
            }
        }
        let next = match every {
            Every::Day => day.checked_add(7.days()),
            Every::Week | Every::Month => day.checked_add(1.month()),
        };
        let Ok(next) = next else { break };
        day = next;
    }
    edges.push([field.right, field.top, field.right, field.bottom]);
    edges.push([field.left, field.top, field.left, field.bottom]);
    shapes.push(Shape::Strokes(Pen::Faint, edges));
}
