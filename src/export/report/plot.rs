//! The plots: every reading over time, and mornings and evenings for themselves.
//!
//! The mark is that of hospital observation charts: a wedge that points down at the systolic pressure and one
//! that points up at the diastolic, joined by a stem. Time runs true: days are equally wide and each part of
//! the day has its own lane, so that a session that was missed leaves a gap. Where a lane becomes too narrow
//! for wedges, the stems alone remain.

use super::document::Mark;
use super::drawing::{Anchor, Drawing, Pen, Shape};
use super::{Report, words};
use crate::monitoring::period::Mean;
use crate::monitoring::taken::Taken;
use crate::sitting::Slot;
use crate::technique::Disposition;
use jiff::civil::Date;

/// The width of the text on the narrower of the two papers, US Letter's being wider.
pub(super) const WIDTH: f32 = 496.0;
/// Each of two plots beside each other.
const HALF: f32 = 240.0;
/// Half the width of a wedge, in points, and the narrowest that can be told open from filled.
const WEDGE: (f32, f32) = (3.4, 1.2);
/// More stems than these would be a black field; in grey their shape shows.
const INK_STEMS_MAX: usize = 600;
/// A reading that was set aside, where there is no room for wedges.
const TICK: f32 = 4.0;
/// Between readings of one session.
const STEP: f32 = 9.0;
/// The pulse's own scale, below the pressures and apart from them.
const PULSE_HIGH: f32 = 54.0;
/// What is plotted, in mmHg; beyond it a value that cannot be would press all others flat.
const PLOTTED: std::ops::RangeInclusive<f64> = 20.0..=300.0;
/// The size of the letters, in points.
const LETTERS: f32 = 8.0;

impl Mark {
    pub(super) const fn of(disposition: Disposition) -> Self {
        match disposition {
            Disposition::Counted => Self::Counted,
            Disposition::Marked => Self::Marked,
            Disposition::SetAside => Self::SetAside,
        }
    }
}

/// A reading that can be plotted.
#[derive(Clone, Copy)]
struct Spot {
    day: Date,
    slot: Slot,
    mark: Mark,
    systolic: f64,
    diastolic: f64,
    pulse: Option<f64>,
}

/// What can be plotted: its time is known, and its values are not beyond all measure.
fn spots(report: &Report<'_>) -> Vec<Spot> {
    let timed = report
        .readings
        .iter()
        .filter(|(judged, _)| judged.reading.time.at.is_some());
    timed.filter_map(|(_, taken)| spot(taken)).collect()
}

fn spot(taken: &Taken) -> Option<Spot> {
    let values = taken.values?;
    let (systolic, diastolic) = (values.systolic.mmhg(), values.diastolic.mmhg());
    (PLOTTED.contains(&systolic) && PLOTTED.contains(&diastolic)).then_some(Spot {
        day: taken.day,
        slot: taken.slot,
        mark: Mark::of(taken.disposition),
        systolic,
        diastolic,
        pulse: values.pulse_rate.filter(|pulse| PLOTTED.contains(pulse)),
    })
}

/// How many readings are in the table only.
pub(super) fn left_out(report: &Report<'_>) -> usize {
    report.readings.len() - spots(report).len()
}

/// A scale of values: from the lower to the upper end, and a line every so many.
#[derive(Clone, Copy)]
struct Scale {
    low: f32,
    high: f32,
    every: u16,
}

impl Scale {
    /// Tens around the values, with room for the wedges.
    fn around(values: impl Iterator<Item = f64>, room: f64) -> Self {
        let (low, high) = values.fold((f64::MAX, f64::MIN), |(low, high), value| {
            (low.min(value), high.max(value))
        });
        let (low, high) = if low > high { (60.0, 160.0) } else { (low, high) };
        let tens = |value: f64| to_f32(value * 10.0);
        let low = tens(((low - room) / 10.0).floor());
        let high = tens(((high + room) / 10.0).ceil()).max(low + 20.0);
        let every = if high - low > 70.0 { 20 } else { 10 };
        Self { low, high, every }
    }

    fn lines(self) -> impl Iterator<Item = f32> {
        (0..40_u16)
            .map(move |n| f32::from(n) * f32::from(self.every))
            .filter(move |line| (self.low..=self.high).contains(line))
    }
}

/// A field with days from left to right and values from bottom to top.
struct Field {
    left: f32,
    right: f32,
    top: f32,
    bottom: f32,
    scale: Scale,
    first: Date,
    days: f32,
    lanes: Vec<Slot>,
}

impl Field {
    fn y(&self, value: f32) -> f32 {
        let share = (value - self.scale.low) / (self.scale.high - self.scale.low);
        self.bottom - share * (self.bottom - self.top)
    }

    fn day_width(&self) -> f32 {
        (self.right - self.left) / self.days
    }

    fn lane_width(&self) -> f32 {
        self.day_width() / narrow(self.lanes.len())
    }

    fn day(&self, day: Date) -> f32 {
        self.left + self.day_width() * between(self.first, day)
    }

    fn lane(&self, day: Date, slot: Slot) -> f32 {
        let place = self.lanes.iter().position(|lane| *lane == slot).unwrap_or(0);
        self.day(day) + self.lane_width() * narrow(place)
    }

    /// Where each reading stands: those of one lane beside each other, in order of time.
    fn places<'a>(&'a self, spots: &'a [Spot]) -> impl Iterator<Item = (&'a Spot, f32, f32)> {
        let lanes = spots.chunk_by(|a, b| a.day == b.day && a.slot == b.slot);
        lanes.flat_map(move |lane| {
            let step = (self.lane_width() / narrow(lane.len())).min(STEP);
            lane.iter().enumerate().map(move |(place, spot)| {
                let from_middle = narrow(place) - (narrow(lane.len()) - 1.0) / 2.0;
                let x = self.lane(spot.day, spot.slot) + self.lane_width() / 2.0 + step * from_middle;
                (spot, x, step)
            })
        })
    }

    fn grid(&self, shapes: &mut Vec<Shape>) {
        let lines = self.scale.lines();
        shapes.push(Shape::Strokes(
            Pen::Faint,
            lines
                .chain([self.scale.low, self.scale.high])
                .map(|line| [self.left, self.y(line), self.right, self.y(line)])
                .collect(),
        ));
        for line in self.scale.lines() {
            let at = (self.left - 4.0, self.y(line) + 2.8);
            shapes.push(Shape::Text(Anchor::End, at, LETTERS, format!("{line}")));
        }
    }

    /// Whether there is no room for wedges: then a reading is a thin stem, and one that was set aside a tick
    /// below.
    fn stems_only(&self) -> bool {
        half_a_wedge(self.lane_width() / 2.0) < WEDGE.1
    }

    fn readings(&self, shapes: &mut Vec<Shape>, spots: &[Spot]) {
        let stems_only = self.stems_only();
        let (mut stems, mut strikes, mut marks) = (Vec::new(), Vec::new(), Vec::new());
        for (spot, x, step) in self.places(spots) {
            if stems_only && spot.mark == Mark::SetAside {
                strikes.push([x, self.bottom, x, self.bottom - TICK]);
                continue;
            }
            let (top, bottom) = (self.y(to_f32(spot.systolic)), self.y(to_f32(spot.diastolic)));
            stems.push([x, top, x, bottom]);
            if !stems_only {
                let half = half_a_wedge(step).max(WEDGE.1);
                wedges(&mut marks, &mut strikes, spot.mark, x, half, top, bottom);
            }
        }
        let pen = if stems.len() > INK_STEMS_MAX {
            Pen::Faint
        } else {
            Pen::Ink
        };
        shapes.push(Shape::Strokes(pen, stems));
        shapes.extend(marks);
        shapes.push(Shape::Strokes(Pen::Ink, strikes));
    }

    /// The threshold behind the marks, or over the stems that would hide it.
    fn pressures(
        &self,
        shapes: &mut Vec<Shape>,
        report: &Report<'_>,
        spots: &[Spot],
        aside: f32,
        words: &str,
    ) {
        if self.stems_only() {
            self.readings(shapes, spots);
            self.threshold(shapes, report, aside, words);
        } else {
            self.threshold(shapes, report, aside, words);
            self.readings(shapes, spots);
        }
    }

    fn threshold(&self, shapes: &mut Vec<Shape>, report: &Report<'_>, aside: f32, words: &str) {
        let Some(threshold) = &report.period.threshold else {
            return;
        };
        for limit in [threshold.limits.systolic, threshold.limits.diastolic] {
            let y = self.y(to_f32(limit.mmhg()));
            shapes.push(Shape::Strokes(Pen::Dashed, vec![[self.left, y, self.right, y]]));
            let at = (self.right + aside, y + 2.8);
            shapes.push(Shape::Text(
                Anchor::Start,
                at,
                LETTERS,
                format!("{}{words}", limit.mmhg()),
            ));
        }
    }

    /// Where days begin, and their names where they are wanted: at the height of their base line.
    fn days(&self, shapes: &mut Vec<Shape>, last: Date, names: Option<f32>) {
        let (from, to) = (self.top, self.bottom);
        let width = self.day_width();
        let mut edges = Vec::new();
        let mut day = self.first;
        while day <= last {
            let x = self.day(day);
            let name = if width >= 48.0 {
                Some((day.strftime("%a %-d %b").to_string(), width / 2.0))
            } else if width >= 11.0 {
                Some((day.strftime("%-d").to_string(), width / 2.0))
            } else if day.day() == 1 && (width * 28.0 >= 40.0 || day.month() == 1) {
                let form = if width * 28.0 >= 40.0 { "%b %Y" } else { "%Y" };
                (width * 360.0 >= 24.0).then(|| (day.strftime(form).to_string(), 0.0))
            } else {
                None
            };
            if width >= 11.0 || name.is_some() {
                edges.push([x, from, x, to]);
            }
            if let Some(((name, aside), y)) = name.zip(names) {
                let anchor = if aside > 0.0 {
                    Anchor::Middle
                } else {
                    Anchor::Start
                };
                shapes.push(Shape::Text(anchor, (x + aside, y), LETTERS, name));
            }
            let Ok(next) = day.tomorrow() else { break };
            day = next;
        }
        edges.push([self.right, from, self.right, to]);
        edges.push([self.left, from, self.left, to]);
        shapes.push(Shape::Strokes(Pen::Faint, edges));
    }
}

/// Half the width of a wedge where readings stand so far apart.
fn half_a_wedge(step: f32) -> f32 {
    (step * 0.42).min(WEDGE.0)
}

/// The mark of a reading.
fn wedges(
    shapes: &mut Vec<Shape>,
    strikes: &mut Vec<[f32; 4]>,
    mark: Mark,
    x: f32,
    half: f32,
    top: f32,
    bottom: f32,
) {
    for (tip, away) in [(top, -1.7 * half), (bottom, 1.7 * half)] {
        let base = tip + away;
        let points = [(x - half, base), (x + half, base), (x, tip)];
        shapes.push(Shape::Triangle(mark == Mark::Counted, points));
        if mark == Mark::SetAside {
            let middle = tip + away * 0.6;
            strikes.push([
                x - 1.5 * half,
                middle + 1.3 * half,
                x + 1.5 * half,
                middle - 1.3 * half,
            ]);
        }
    }
}

/// Every reading of the period; whether there was no room for wedges.
pub(super) fn over_time(report: &Report<'_>) -> (Drawing, bool) {
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
        right: WIDTH - 62.0,
        top: 22.0,
        bottom: 182.0,
        scale,
        first: period.from,
        days: between(period.from, period.to) + 1.0,
        lanes,
    };
    let mut shapes = Vec::new();
    let below = field.bottom + if pulses.is_empty() { 0.0 } else { PULSE_HIGH };
    field.grid(&mut shapes);
    let names = Some(below + 12.0);
    field.days(&mut shapes, period.to, names.filter(|_| pulses.is_empty()));
    let stems_only = field.stems_only();
    field.pressures(&mut shapes, report, &spots, 4.0, " threshold");
    shapes.push(Shape::Text(Anchor::End, (26.0, 14.0), LETTERS, "mmHg".to_owned()));
    if field.lane_width() >= 29.0 {
        let mut day = period.from;
        while day <= period.to {
            for slot in &field.lanes {
                let at = (field.lane(day, *slot) + field.lane_width() / 2.0, 14.0);
                shapes.push(Shape::Text(Anchor::Middle, at, 7.0, slot.name().to_owned()));
            }
            let Ok(next) = day.tomorrow() else { break };
            day = next;
        }
    }
    if !pulses.is_empty() {
        let pulse = Field {
            top: field.bottom + 20.0,
            bottom: below,
            scale: Scale::around(pulses.iter().copied(), 1.0),
            lanes: field.lanes.clone(),
            ..field
        };
        pulse.days(&mut shapes, period.to, names);
        let ends = [pulse.scale.low, pulse.scale.high];
        shapes.push(Shape::Strokes(
            Pen::Faint,
            ends.iter()
                .map(|end| [pulse.left, pulse.y(*end), pulse.right, pulse.y(*end)])
                .collect(),
        ));
        for end in ends {
            let at = (pulse.left - 4.0, pulse.y(end) + 2.8);
            shapes.push(Shape::Text(Anchor::End, at, LETTERS, format!("{end}")));
        }
        let at = (pulse.right + 4.0, pulse.y((ends[0] + ends[1]) / 2.0) + 2.8);
        shapes.push(Shape::Text(
            Anchor::Start,
            at,
            LETTERS,
            "pulse a minute".to_owned(),
        ));
        for (spot, x, step) in pulse.places(&spots) {
            if let Some(rate) = spot.pulse {
                let r = (step * 0.3).clamp(0.3, 1.7);
                shapes.push(Shape::Dot(
                    spot.mark == Mark::Counted,
                    (x, pulse.y(to_f32(rate))),
                    r,
                ));
            }
        }
    }
    if !stems_only {
        key(&mut shapes, below + 31.0);
    }
    let drawing = Drawing {
        width: WIDTH,
        height: below + if stems_only { 18.0 } else { 42.0 },
        title: format!(
            "Blood pressure of {}, {}",
            report.label(),
            words::days(period.from, period.to)
        ),
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
    field.days(&mut shapes, period.to, Some(field.bottom + 11.0));
    field.pressures(&mut shapes, report, &spots, 11.0, "");
    let name = format!("{}s", words::capital(slot.name()));
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
        Some(_) => format!(
            "{name}: mean {}, {}",
            mean.exact.shown(),
            words::count(mean.n, "reading")
        ),
        None => format!("{name}: no mean, too few readings"),
    };
    shapes.push(Shape::Text(Anchor::Start, (0.0, 10.0), 9.0, heading.clone()));
    Drawing {
        width: HALF,
        height: field.bottom + 15.0,
        title: heading,
        description: described(report, &spots),
        shapes,
    }
}

fn scale(report: &Report<'_>, spots: &[Spot]) -> Scale {
    let limits = report.period.threshold.iter().flat_map(|threshold| {
        [
            threshold.limits.systolic.mmhg(),
            threshold.limits.diastolic.mmhg(),
        ]
    });
    Scale::around(
        spots
            .iter()
            .flat_map(|spot| [spot.systolic, spot.diastolic])
            .chain(limits),
        4.0,
    )
}

/// The three shapes and the dot, with their words.
fn key(shapes: &mut Vec<Shape>, y: f32) {
    let mut x = 34.0;
    let mut strikes = Vec::new();
    let mut marks = Vec::new();
    for (mark, says, width) in [
        (Mark::Counted, "counted", 62.0),
        (Mark::Marked, "marked", 60.0),
        (Mark::SetAside, "set aside", 68.0),
    ] {
        let stem = [x, y - 8.0, x, y + 2.0];
        strikes.push(stem);
        wedges(&mut marks, &mut strikes, mark, x, 2.4, y - 8.0, y + 2.0);
        shapes.push(Shape::Text(Anchor::Start, (x + 8.0, y), LETTERS, says.to_owned()));
        x += width;
    }
    shapes.push(Shape::Strokes(Pen::Ink, strikes));
    shapes.extend(marks);
    shapes.push(Shape::Dot(true, (x, y - 3.0), 1.7));
    shapes.push(Shape::Text(
        Anchor::Start,
        (x + 6.0, y),
        LETTERS,
        "pulse".to_owned(),
    ));
}

/// What the plot shows, for those who do not see it.
fn described(report: &Report<'_>, spots: &[Spot]) -> String {
    let among = |value: fn(&Spot) -> f64| {
        let values = spots.iter().filter(|spot| spot.mark != Mark::SetAside).map(value);
        values.fold(None, |ends: Option<(f64, f64)>, value| {
            let (low, high) = ends.unwrap_or((value, value));
            Some((low.min(value), high.max(value)))
        })
    };
    let of = |mark: Mark| spots.iter().filter(|spot| spot.mark == mark).count();
    let mut said = format!(
        "{} counted, {} marked and {} set aside over {}.",
        of(Mark::Counted),
        of(Mark::Marked),
        of(Mark::SetAside),
        words::days(report.period.from, report.period.to)
    );
    if let Some(((low_s, high_s), (low_d, high_d))) =
        among(|spot| spot.systolic).zip(among(|spot| spot.diastolic))
    {
        said += &format!(
            " Averaged systolic pressures from {low_s:.0} to {high_s:.0}, diastolic from {low_d:.0} to {high_d:.0} mmHg."
        );
    }
    if let Some(threshold) = &report.period.threshold {
        said += &format!(
            " Dashed lines at the threshold of {}/{}.",
            threshold.limits.systolic.mmhg(),
            threshold.limits.diastolic.mmhg()
        );
    }
    said + " The table of all readings has every value."
}

/// Days from one date to another, a few thousand at most.
fn between(from: Date, to: Date) -> f32 {
    i16::try_from(from.until(to).map_or(0, |span| span.get_days())).map_or(f32::MAX, f32::from)
}

/// A small number of things; more than 65,535 side by side cannot be told apart anyway.
fn narrow(n: usize) -> f32 {
    u16::try_from(n).map_or(f32::from(u16::MAX), f32::from)
}

/// A value for drawing, where the seventh digit does not matter.
#[expect(
    clippy::cast_possible_truncation,
    reason = "pressures are far inside an f32, and paper is coarse"
)]
const fn to_f32(value: f64) -> f32 {
    value as f32
}
