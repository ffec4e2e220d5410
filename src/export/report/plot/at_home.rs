//! The sheet's marks on the household's page: the same wedges and stems for single readings, and points with their
//! spread for more days than these can be seen in. Small enough for a telephone, in the household's words.

use super::field::{Field, LETTERS, Scale, between};
use super::parted;
use super::spots::{Spot, spot};
use crate::export::report::document::PlotMark;
use crate::export::report::drawing::{Anchor, Drawing, Escaped, Pen, Shape};
use crate::monitoring::patterns::ClinicReading;
use crate::monitoring::protocol::Limits;
use crate::monitoring::spread::{Every, SpreadPart};
use crate::monitoring::taken::Taken;
use crate::reading::Pressure;
use crate::sitting::Slot;
use crate::words::Words;
use jiff::ToSpan;
use jiff::civil::Date;
use std::fmt::Write;

/// A telephone shows it so that a letter has eleven of its pixels.
const WIDTH: f32 = 250.0;
const LEFT: f32 = 22.0;
const RIGHT: f32 = WIDTH - 20.0;
const TOP: f32 = 8.0;
const BOTTOM: f32 = 128.0;
/// A point of a mean.
const POINT: f32 = 2.1;
/// A name of a year or a month needs so much room.
const NAME: f32 = 24.0;

/// Days from the first to the last.
#[derive(Clone, Copy, Debug)]
pub struct DaySpan {
    /// The first day.
    pub from: Date,
    /// The last day.
    pub to: Date,
}

/// The picture of single readings, as an SVG element.
pub fn readings(
    (title, id): (&str, &str),
    span: DaySpan,
    taken: &[&Taken],
    limits: Option<&Limits>,
    words: &Words,
) -> String {
    let spots: Vec<Spot> = taken.iter().filter_map(|taken| spot(taken)).collect();
    let pressures = spots.iter().flat_map(|spot| [spot.systolic, spot.diastolic]);
    let mut lanes = vec![Slot::Morning, Slot::Evening];
    if spots.iter().any(|spot| spot.slot == Slot::Other) {
        lanes.insert(1, Slot::Other);
    }
    let field = field(span, Scale::around(pressures.chain(of(limits)), 4.0), lanes);
    let mut shapes = Vec::new();
    field.grid(&mut shapes);
    field.days(&mut shapes, span.to, None);
    field.pressures(&mut shapes, limits, &spots, 3.0, "");
    days(&field, &mut shapes, span, words);
    let count = |mark: PlotMark| words_count(spots.iter().filter(|spot| spot.mark == mark).count());
    let description = words.with(
        "picture-readings",
        &[
            ("counted", count(PlotMark::Counted).into()),
            ("marked", count(PlotMark::Marked).into()),
            ("aside", count(PlotMark::SetAside).into()),
        ],
    );
    svg(shapes, title, description, id)
}

/// Points with their spread over a longer time, with the days on which a medicine was changed and the clinic's
/// readings.
#[derive(Clone, Copy, Debug)]
#[expect(missing_docs, reason = "the names say it")]
pub struct Points<'a> {
    pub span: DaySpan,
    pub every: Every,
    pub parts: &'a [SpreadPart],
    pub clinic: &'a [ClinicReading],
    pub changes: &'a [Date],
    pub limits: Option<&'a Limits>,
}

impl Points<'_> {
    /// The picture, as an SVG element.
    pub fn svg(&self, (title, id): (&str, &str), words: &Words) -> String {
        let ends = self
            .parts
            .iter()
            .flat_map(|part| part.systolic.into_iter().chain(part.diastolic));
        let clinic = self.clinic.iter().flat_map(|at| [at.systolic, at.diastolic]);
        let values = ends.chain(clinic).map(Pressure::mmhg);
        let field = self.field(Scale::around(values.chain(of(self.limits)), 4.0));
        let mut shapes = Vec::new();
        field.grid(&mut shapes);
        self.names(&field, &mut shapes, words);
        field.pressures(&mut shapes, self.limits, &[], 3.0, "");
        parted::changes(&field, &mut shapes, self.changes);
        parted::points(&field, &mut shapes, self.every, self.parts, POINT);
        parted::clinics(&field, &mut shapes, self.clinic);
        let mean = |part: Option<&SpreadPart>| part.map(|part| part.mean.whole()).unwrap_or_default();
        let description = words.with(
            "picture-points",
            &[
                ("n", words_count(self.parts.len()).into()),
                ("every", self.every.name().into()),
                ("first", mean(self.parts.first()).into()),
                ("last", mean(self.parts.last()).into()),
                ("clinic", words_count(self.clinic.len()).into()),
                ("changes", words_count(self.changes.len()).into()),
            ],
        );
        svg(shapes, title, description, id)
    }

    /// Over the picture: where each part can be tapped, with its address. Whoever taps nothing has the same links in
    /// the list.
    pub fn taps(&self, address: impl Fn(&SpreadPart) -> String) -> String {
        let field = self.field(Scale::around(std::iter::empty(), 0.0));
        let mut out = format!(
            "<svg class=\"taps-of-plot\" viewBox=\"0 0 {WIDTH} {}\" aria-hidden=\"true\">",
            BOTTOM + 14.0
        );
        for part in self.parts {
            let (from, width) = parted::place(&field, self.every, part);
            let _ = write!(
                out,
                "<a href=\"{}\" tabindex=\"-1\"><rect x=\"{from:.1}\" width=\"{width:.1}\"/></a>",
                Escaped(&address(part)),
            );
        }
        out + "</svg>"
    }

    fn field(&self, scale: Scale) -> Field {
        field(self.span, scale, vec![Slot::Other])
    }

    /// Days or months by name, or years, whichever there is room for.
    fn names(&self, field: &Field, shapes: &mut Vec<Shape>, words: &Words) {
        if self.every == Every::Day {
            return days(field, shapes, self.span, words);
        }
        let mut edges = Vec::new();
        let mut free = LEFT;
        let mut month = self.span.from.first_of_month();
        while month <= self.span.to {
            let x = field.day(month);
            let year = month.month() == 1;
            if month >= self.span.from && (year || self.every == Every::Week) {
                edges.push([x, TOP, x, BOTTOM]);
                if x >= free && x + NAME <= WIDTH {
                    let name = if year {
                        month.year().to_string()
                    } else {
                        words.short_month(month)
                    };
                    shapes.push(Shape::Text(Anchor::Start, (x, BOTTOM + 11.0), LETTERS, name));
                    free = x + NAME;
                }
            }
            let Ok(next) = month.checked_add(1.month()) else {
                break;
            };
            month = next;
        }
        shapes.push(Shape::Strokes(Pen::Faint, edges));
    }
}

fn field(span: DaySpan, scale: Scale, lanes: Vec<Slot>) -> Field {
    Field {
        left: LEFT,
        right: RIGHT,
        top: TOP,
        bottom: BOTTOM,
        scale,
        first: span.from,
        days: between(span.from, span.to) + 1.0,
        lanes,
    }
}

fn of(limits: Option<&Limits>) -> impl Iterator<Item = f64> {
    let both = limits.map(|limits| [limits.systolic.mmhg(), limits.diastolic.mmhg()]);
    both.into_iter().flatten()
}

/// The day of the month under each day, or under so many as there is room for.
fn days(field: &Field, shapes: &mut Vec<Shape>, span: DaySpan, words: &Words) {
    let width = field.day(span.to) - field.day(span.from);
    let one = width / between(span.from, span.to).max(1.0);
    let with_weekday = one >= 19.0;
    let mut free = 0.0;
    let mut day = span.from;
    while day <= span.to {
        let x = field.day(day) + one.min(RIGHT - LEFT) / 2.0;
        if x >= free {
            let name = if with_weekday {
                words.short_weekday(day)
            } else {
                day.day().to_string()
            };
            shapes.push(Shape::Text(Anchor::Middle, (x, BOTTOM + 11.0), LETTERS, name));
            free = x + if with_weekday { one.min(18.0) } else { 13.0 };
        }
        let Ok(next) = day.tomorrow() else { break };
        day = next;
    }
}

fn svg(shapes: Vec<Shape>, title: &str, description: String, id: &str) -> String {
    let mut out = String::new();
    let drawing = Drawing {
        width: WIDTH,
        height: BOTTOM + 14.0,
        title: title.to_owned(),
        description,
        shapes,
    };
    drawing.svg(&mut out, id);
    out
}

/// A number that a message tells one from many by.
fn words_count(n: usize) -> i64 {
    i64::try_from(n).unwrap_or(i64::MAX)
}
