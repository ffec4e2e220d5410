//! One field of a plot: days from left to right in lanes, values from bottom to top, and the marks in it.

use super::spots::Spot;
use crate::export::report::document::PlotMark;
use crate::export::report::drawing::{Anchor, Pen, Shape};
use crate::monitoring::protocol::Limits;
use crate::sitting::Slot;
use crate::words::Words;
use jiff::civil::Date;

/// The width of the text on the narrower of the two papers, US Letter's being wider.
pub(in crate::export::report) const WIDTH: f32 = 496.0;
/// Half the width of a wedge, in points, and the narrowest that can be told open from filled.
const WEDGE: (f32, f32) = (3.4, 1.2);
/// More stems than these would be a black field; in grey their shape shows.
const INK_STEMS_MAX: usize = 600;
/// A reading that was set aside, where there is no room for wedges.
const TICK: f32 = 4.0;
/// Between readings of one session.
const STEP: f32 = 9.0;
/// The size of the letters, in points.
pub(super) const LETTERS: f32 = 8.0;

/// A scale of values: from the lower to the upper end, and a line every so many.
#[derive(Clone, Copy)]
pub(super) struct Scale {
    pub(super) low: f32,
    pub(super) high: f32,
    every: u16,
}

impl Scale {
    /// Tens around the values, with room for the wedges.
    pub(super) fn around(values: impl Iterator<Item = f64>, room: f64) -> Self {
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
pub(super) struct Field {
    pub(super) left: f32,
    pub(super) right: f32,
    pub(super) top: f32,
    pub(super) bottom: f32,
    pub(super) scale: Scale,
    pub(super) first: Date,
    pub(super) days: f32,
    pub(super) lanes: Vec<Slot>,
}

impl Field {
    pub(super) fn y(&self, value: f32) -> f32 {
        let share = (value - self.scale.low) / (self.scale.high - self.scale.low);
        self.bottom - share * (self.bottom - self.top)
    }

    pub(super) fn day_width(&self) -> f32 {
        (self.right - self.left) / self.days
    }

    pub(super) fn lane_width(&self) -> f32 {
        self.day_width() / narrow(self.lanes.len())
    }

    pub(super) fn day(&self, day: Date) -> f32 {
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

    pub(super) fn grid(&self, shapes: &mut Vec<Shape>) {
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
    pub(super) fn stems_only(&self) -> bool {
        half_a_wedge(self.lane_width() / 2.0) < WEDGE.1
    }

    fn readings(&self, shapes: &mut Vec<Shape>, spots: &[Spot]) {
        let stems_only = self.stems_only();
        let (mut stems, mut strikes, mut marks) = (Vec::new(), Vec::new(), Vec::new());
        for (spot, x, step) in self.places(spots) {
            if stems_only && spot.mark == PlotMark::SetAside {
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
    pub(super) fn pressures(
        &self,
        shapes: &mut Vec<Shape>,
        limits: Option<&Limits>,
        spots: &[Spot],
        aside: f32,
        words: &str,
    ) {
        if self.stems_only() {
            self.readings(shapes, spots);
            self.threshold(shapes, limits, aside, words);
        } else {
            self.threshold(shapes, limits, aside, words);
            self.readings(shapes, spots);
        }
    }

    pub(super) fn threshold(
        &self,
        shapes: &mut Vec<Shape>,
        limits: Option<&Limits>,
        aside: f32,
        words: &str,
    ) {
        let Some(limits) = limits else {
            return;
        };
        for limit in [limits.systolic, limits.diastolic] {
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
    pub(super) fn days(&self, shapes: &mut Vec<Shape>, last: Date, names: Option<(f32, &Words)>) {
        let (from, to) = (self.top, self.bottom);
        let width = self.day_width();
        let mut edges = Vec::new();
        let mut day = self.first;
        while day <= last {
            let x = self.day(day);
            let month = width * 28.0 >= 40.0;
            let named = width >= 11.0
                || day.day() == 1 && (month || day.month() == 1) && (month || width * 360.0 >= 24.0);
            if named {
                edges.push([x, from, x, to]);
            }
            if let Some((y, words)) = names.filter(|_| named) {
                let (name, aside) = if width >= 48.0 {
                    (named_day(words, day), width / 2.0)
                } else if width >= 11.0 {
                    (day.day().to_string(), width / 2.0)
                } else if month {
                    (format!("{} {}", words.short_month(day), day.year()), 0.0)
                } else {
                    (day.year().to_string(), 0.0)
                };
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

    /// The parts of the day above their lanes.
    pub(super) fn names_of_lanes(&self, shapes: &mut Vec<Shape>, last: Date, words: &Words) {
        let mut day = self.first;
        while day <= last {
            for slot in &self.lanes {
                let at = (self.lane(day, *slot) + self.lane_width() / 2.0, 14.0);
                shapes.push(Shape::Text(
                    Anchor::Middle,
                    at,
                    7.0,
                    words.say(&format!("lane-{}", slot.name())),
                ));
            }
            let Ok(next) = day.tomorrow() else { break };
            day = next;
        }
    }

    /// A dot for each pulse rate, between the two ends of the scale.
    pub(super) fn pulses(&self, shapes: &mut Vec<Shape>, spots: &[Spot], name: &str) {
        let ends = [self.scale.low, self.scale.high];
        shapes.push(Shape::Strokes(
            Pen::Faint,
            ends.iter()
                .map(|end| [self.left, self.y(*end), self.right, self.y(*end)])
                .collect(),
        ));
        for end in ends {
            let at = (self.left - 4.0, self.y(end) + 2.8);
            shapes.push(Shape::Text(Anchor::End, at, LETTERS, format!("{end}")));
        }
        let at = (self.right + 4.0, self.y((ends[0] + ends[1]) / 2.0) + 2.8);
        shapes.push(Shape::Text(Anchor::Start, at, LETTERS, name.to_owned()));
        for (spot, x, step) in self.places(spots) {
            if let Some(rate) = spot.pulse {
                let r = (step * 0.3).clamp(0.3, 1.7);
                shapes.push(Shape::Dot(
                    spot.mark == PlotMark::Counted,
                    (x, self.y(to_f32(rate))),
                    r,
                ));
            }
        }
    }
}

/// A day below its place, such as `Mon 2 Mar`.
fn named_day(words: &Words, day: Date) -> String {
    words.with(
        "plot-day",
        &[
            ("weekday", words.short_weekday(day).into()),
            ("day", day.day().to_string().into()),
            ("month", words.short_month(day).into()),
        ],
    )
}

/// Half the width of a wedge where readings stand so far apart.
fn half_a_wedge(step: f32) -> f32 {
    (step * 0.42).min(WEDGE.0)
}

/// The mark of a reading.
pub(super) fn wedges(
    shapes: &mut Vec<Shape>,
    strikes: &mut Vec<[f32; 4]>,
    mark: PlotMark,
    x: f32,
    half: f32,
    top: f32,
    bottom: f32,
) {
    for (tip, away) in [(top, -1.7 * half), (bottom, 1.7 * half)] {
        let base = tip + away;
        let points = [(x - half, base), (x + half, base), (x, tip)];
        shapes.push(Shape::Triangle(mark == PlotMark::Counted, points));
        if mark == PlotMark::SetAside {
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

/// Days from one date to another, a few thousand at most.
pub(super) fn between(from: Date, to: Date) -> f32 {
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
pub(super) const fn to_f32(value: f64) -> f32 {
    value as f32
}
