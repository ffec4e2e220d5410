//! The plots of a long period: days, weeks or months as points with their spread, with the clinic's readings and the days
//! on which a medicine was changed.

use super::field::{Field, LETTERS, Scale, WIDTH, between, to_f32};
use super::parted;
use crate::export::report::drawing::{Anchor, Drawing, Pen, Shape};
use crate::export::report::{Report, words};
use crate::household::Note;
use crate::monitoring::patterns::ClinicReading;
use crate::monitoring::spread::{Every, Part, parts};
use crate::reading::Pressure;
use crate::sitting::Slot;
use jiff::civil::Date;

/// The largest point.
const POINT: f32 = 2.4;

/// The whole period.
pub(super) fn over_time(report: &Report<'_>, every: Every) -> Drawing {
    let period = report.period;
    let parts = parts(report.readings.iter().map(|(_, taken)| *taken), every);
    let (clinic, changes) = (clinic(report), changes(report));
    let field = Field {
        left: 30.0,
        right: WIDTH - 62.0,
        top: 20.0,
        bottom: 154.0,
        scale: scale(report, &parts, &clinic),
        first: period.from,
        days: between(period.from, period.to) + 1.0,
        lanes: vec![Slot::Other],
    };
    let mut shapes = Vec::new();
    field.grid(&mut shapes);
    parted::names(&field, &mut shapes, every, period.to, field.bottom + 11.0);
    field.threshold(&mut shapes, report.limits(), 4.0, " threshold");
    parted::changes(&field, &mut shapes, &changes);
    parted::points(&field, &mut shapes, every, &parts, POINT);
    parted::clinics(&field, &mut shapes, &clinic);
    shapes.push(Shape::Text(
        Anchor::End,
        (26.0, field.top - 8.0),
        LETTERS,
        "mmHg".to_owned(),
    ));
    key(
        &mut shapes,
        every,
        field.bottom + 28.0,
        !clinic.is_empty(),
        !changes.is_empty(),
    );
    Drawing {
        width: WIDTH,
        height: field.bottom + 36.0,
        title: format!(
            "Blood pressure of {}, {}",
            report.label(),
            words::days(period.from, period.to)
        ),
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
    parted::names(field, shapes, every, report.period.to, field.bottom + 11.0);
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

fn scale(report: &Report<'_>, parts: &[Part], clinic: &[ClinicReading]) -> Scale {
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

/// What is drawn, with its words.
fn key(shapes: &mut Vec<Shape>, every: Every, y: f32, clinic: bool, changes: bool) {
    let (mut x, middle) = (34.0, y - 3.0);
    let mut say = |shapes: &mut Vec<Shape>, shape: Vec<Shape>, says: String, wide: f32| {
        shapes.extend(shape);
        shapes.push(Shape::Text(Anchor::Start, (x + 8.0, y), LETTERS, says));
        x += wide;
        x
    };
    let spread = |x: f32| Shape::Strokes(Pen::Ink, vec![[x, y - 9.0, x, y + 3.0]]);
    let name = every.name();
    let full = vec![spread(34.0), Shape::Dot(true, (34.0, middle), POINT)];
    let next = say(
        shapes,
        full,
        format!("mean of a {name}, lowest to highest"),
        160.0,
    );
    let next = if every == Every::Day {
        next
    } else {
        let open = vec![Shape::Dot(false, (next, middle), POINT)];
        say(shapes, open, "on fewer than 3 days".to_owned(), 102.0)
    };
    let next = if clinic {
        let cross = vec![
            [next - 3.0, middle - 3.0, next + 3.0, middle + 3.0],
            [next - 3.0, middle + 3.0, next + 3.0, middle - 3.0],
        ];
        say(
            shapes,
            vec![Shape::Strokes(Pen::Heavy, cross)],
            "at the clinic".to_owned(),
            70.0,
        )
    } else {
        next
    };
    if changes {
        let dashes = Shape::Strokes(Pen::Dashed, vec![[next, y - 9.0, next, y + 3.0]]);
        say(shapes, vec![dashes], "medicine changed".to_owned(), 0.0);
    }
}

/// What the points show, for those who do not see them.
fn described(report: &Report<'_>, every: Every, parts: &[Part]) -> String {
    let mut said = format!(
        "{} with readings that count in {}.",
        words::count(parts.len(), every.name()),
        words::days(report.period.from, report.period.to)
    );
    if let Some((first, last)) = parts.first().zip(parts.last()) {
        said += &format!(
            " The mean of the first is {}, of the last {} mmHg.",
            first.mean.shown(),
            last.mean.shown()
        );
    }
    let mean = |part: &Part| part.mean.systolic().map(to_f32).unwrap_or_default();
    let by = |a: &&Part, b: &&Part| mean(a).total_cmp(&mean(b));
    if let Some((least, most)) = parts.iter().min_by(by).zip(parts.iter().max_by(by)) {
        said += &format!(
            " The lowest mean is {}, the highest {} mmHg.",
            least.mean.shown(),
            most.mean.shown()
        );
    }
    if let Some(limits) = report.limits() {
        said += &format!(
            " Dashed lines at the threshold of {}/{}.",
            limits.systolic.mmhg(),
            limits.diastolic.mmhg()
        );
    }
    said + " The table of them has every value."
}
