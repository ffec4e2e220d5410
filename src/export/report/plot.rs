//! The plots: every reading over time, and mornings and evenings for themselves.
//!
//! The mark is that of hospital observation charts: a wedge that points down at the systolic pressure and one
//! that points up at the diastolic, joined by a stem. Time runs true: days are equally wide and each part of
//! the day has its own lane, so that a session that was missed leaves a gap. Where a lane becomes too narrow
//! for wedges, the stems alone remain; more than two weeks are points with their spread.

pub mod at_home;
mod field;
mod long;
mod parted;
mod said;
mod spots;

use super::Report;
use super::document::PlotMark;
use super::drawing::{Anchor, Drawing, Pen, Shape};
use super::words::n;
use crate::monitoring::period::Mean;
use crate::sitting::Slot;
use crate::words::Words;
pub(super) use field::WIDTH;
use field::{Field, LETTERS, Scale, between, to_f32, wedges};
use said::{dashed, room_of, titled};
use spots::{Spot, spots};

/// Each of two plots beside each other.
const HALF: f32 = 240.0;
/// The pulse's own scale, below the pressures and apart from them.
const PULSE_HIGH: f32 = 44.0;
/// How many readings are in the table only.
pub(super) fn left_out(report: &Report<'_>) -> usize {
    report.readings.len() - spots(report).len()
}

/// The width for a telephone, whose screen then makes a letter eleven of its pixels high.
pub(super) const NARROW: f32 = 264.0;

/// Every reading of the period, or parts of a long one, so wide; whether there was no room for wedges.
pub(super) fn over_time(report: &Report<'_>, width: f32) -> (Drawing, bool) {
    let narrow = width < WIDTH;
    let words = report.words;
    let (right, threshold, pulse) = if narrow {
        (28.0, String::new(), words.say("plot-pulse"))
    } else {
        let threshold = format!(" {}", words.say("plot-threshold"));
        (62.0, threshold, words.say("plot-pulse-a-minute"))
    };
    if let Some(every) = report.every() {
        return (
            long::over_time(report, every, (width, width - right), &threshold),
            false,
        );
    }
    let spots = spots(report);
    let period = report.period;
    let mut lanes = vec![Slot::Morning, Slot::Evening];
    if spots.iter().any(|spot| spot.slot == Slot::Other) {
        lanes.insert(1, Slot::Other);
    }
    let scale = scale(report, &spots);
    let pulses: Vec<f64> = spots.iter().filter_map(|spot| spot.pulse).collect();
    let field = Field {
        left: 30.0,
        right: width - right,
        top: 22.0,
        bottom: 138.0,
        scale,
        first: period.from,
        days: between(period.from, period.to) + 1.0,
        lanes,
    };
    let mut shapes = Vec::new();
    let below = field.bottom + if pulses.is_empty() { 0.0 } else { PULSE_HIGH };
    field.grid(&mut shapes);
    let names = Some(below + 12.0);
    let in_words = |y: f32| (y, words);
    field.days(
        &mut shapes,
        period.to,
        names.filter(|_| pulses.is_empty()).map(in_words),
    );
    let stems_only = field.stems_only();
    field.pressures(&mut shapes, report.limits(), &spots, 4.0, &threshold);
    shapes.push(Shape::Text(Anchor::End, (26.0, 14.0), LETTERS, "mmHg".to_owned()));
    if field.lane_width() >= 29.0 {
        field.names_of_lanes(&mut shapes, period.to, words);
    }
    if !pulses.is_empty() {
        let pulses_field = Field {
            top: field.bottom + 20.0,
            bottom: below,
            scale: Scale::around(pulses.iter().copied(), 1.0),
            lanes: field.lanes.clone(),
            ..field
        };
        pulses_field.days(&mut shapes, period.to, names.map(in_words));
        pulses_field.pulses(&mut shapes, &spots, &pulse);
    }
    if !stems_only {
        key(&mut shapes, below + 31.0, words);
    }
    let drawing = Drawing {
        width,
        height: below + if stems_only { 18.0 } else { 42.0 },
        title: titled(report),
        description: described(report, &spots),
        shapes,
    };
    (drawing, stems_only)
}

/// Mornings or evenings for themselves, with their mean.
pub(super) fn panel(report: &Report<'_>, slot: Slot, mean: &Mean) -> Drawing {
    let all = spots(report);
    let scale = scale(report, &all);
    let spots: Vec<Spot> = all.into_iter().filter(|spot| spot.slot == slot).collect();
    let period = report.period;
    let field = Field {
        left: 26.0,
        right: HALF - 36.0,
        top: 22.0,
        bottom: 122.0,
        scale,
        first: period.from,
        days: between(period.from, period.to) + 1.0,
        lanes: vec![slot],
    };
    let mut shapes = Vec::new();
    field.grid(&mut shapes);
    let description = if let Some(every) = report.every() {
        long::panel(report, every, slot, &field, &mut shapes)
    } else {
        field.days(&mut shapes, period.to, Some((field.bottom + 11.0, report.words)));
        field.pressures(&mut shapes, report.limits(), &spots, 11.0, "");
        described(report, &spots)
    };
    let words = report.words;
    let slot = ("slot", slot.name().into());
    let value = mean.systolic.zip(mean.diastolic);
    for mean in value
        .iter()
        .flat_map(|(systolic, diastolic)| [*systolic, *diastolic])
    {
        let y = field.y(to_f32(mean));
        shapes.push(Shape::Strokes(
            Pen::Heavy,
            vec![[field.right - 5.0, y, field.right + 8.0, y]],
        ));
    }
    let heading = match value {
        Some(_) => {
            let shown = words.decimal(&mean.exact.shown());
            words.with("plot-half", &[slot, ("mean", shown.into()), ("n", n(mean.n))])
        }
        None => words.with("plot-half-no-mean", &[slot]),
    };
    shapes.push(Shape::Text(Anchor::Start, (0.0, 10.0), 9.0, heading.clone()));
    Drawing {
        width: HALF,
        height: field.bottom + 15.0,
        title: heading,
        description,
        shapes,
    }
}

fn scale(report: &Report<'_>, spots: &[Spot]) -> Scale {
    let limits = report
        .limits()
        .into_iter()
        .flat_map(|limits| [limits.systolic.mmhg(), limits.diastolic.mmhg()]);
    Scale::around(
        spots
            .iter()
            .flat_map(|spot| [spot.systolic, spot.diastolic])
            .chain(limits),
        4.0,
    )
}

/// The three shapes and the dot, with their words.
fn key(shapes: &mut Vec<Shape>, y: f32, words: &Words) {
    let mut x = 34.0;
    let mut strikes = Vec::new();
    let mut marks = Vec::new();
    for (mark, says) in [
        (PlotMark::Counted, words.say("counted")),
        (PlotMark::Marked, words.say("cell-marked")),
        (PlotMark::SetAside, words.say("set-aside")),
    ] {
        let width = room_of(&says);
        let stem = [x, y - 8.0, x, y + 2.0];
        strikes.push(stem);
        wedges(&mut marks, &mut strikes, mark, x, 2.4, y - 8.0, y + 2.0);
        shapes.push(Shape::Text(Anchor::Start, (x + 8.0, y), LETTERS, says));
        x += width;
    }
    shapes.push(Shape::Strokes(Pen::Ink, strikes));
    shapes.extend(marks);
    shapes.push(Shape::Dot(true, (x, y - 3.0), 1.7));
    shapes.push(Shape::Text(
        Anchor::Start,
        (x + 6.0, y),
        LETTERS,
        words.say("plot-pulse"),
    ));
}

/// What the plot shows, for those who do not see it.
fn described(report: &Report<'_>, spots: &[Spot]) -> String {
    let among = |value: fn(&Spot) -> f64| {
        let values = spots
            .iter()
            .filter(|spot| spot.mark != PlotMark::SetAside)
            .map(value);
        values.fold(None, |ends: Option<(f64, f64)>, value| {
            let (low, high) = ends.unwrap_or((value, value));
            Some((low.min(value), high.max(value)))
        })
    };
    let of = |mark: PlotMark| spots.iter().filter(|spot| spot.mark == mark).count();
    let words = report.words;
    let mut said = vec![words.with(
        "plot-says-counts",
        &[
            ("counted", n(of(PlotMark::Counted))),
            ("marked", n(of(PlotMark::Marked))),
            ("aside", n(of(PlotMark::SetAside))),
            ("days", words.days(report.period.from, report.period.to).into()),
        ],
    )];
    if let Some(((low_s, high_s), (low_d, high_d))) =
        among(|spot| spot.systolic).zip(among(|spot| spot.diastolic))
    {
        let whole = |value: f64| format!("{value:.0}").into();
        let values = [
            ("low-systolic", whole(low_s)),
            ("high-systolic", whole(high_s)),
            ("low-diastolic", whole(low_d)),
            ("high-diastolic", whole(high_d)),
        ];
        said.push(words.with("plot-says-from-to", &values));
    }
    said.extend(dashed(report));
    said.push(words.say("plot-says-table"));
    said.join(" ")
}
