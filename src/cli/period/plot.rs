//! The readings of a period as a plot of letters, with the marks of the sheet: a wedge that points down at the systolic
//! pressure, one that points up at the diastolic, a stem between them; filled, open or struck through. More than two
//! weeks are drawn as columns of several days, each with its mean and its spread.

use super::super::rows::padded;
use super::super::summary::paragraph;
use super::Found;
use crate::export::report::words::n;
use crate::monitoring::taken::Taken;
use crate::sitting::Slot;
use crate::technique::Disposition;
use crate::words::Words;
use jiff::civil::Date;
use std::io::{self, Write};
use unicode_width::UnicodeWidthStr;

/// What stands right of the numbers of the scale.
const COLUMNS: usize = 72;
const LEFT: usize = 5;
/// So many days are drawn reading by reading.
const STEMS_DAYS_MAX: usize = 14;
const ROWS_MAX: f64 = 20.0;
/// The steps of the scale, in mmHg.
const STEPS: [f64; 4] = [5.0, 10.0, 20.0, 50.0];
/// The days of one column: a day, a week, four weeks, a quarter of a year.
const DAYS: [usize; 4] = [1, 7, 28, 91];
/// What can be plotted: beyond it a value that cannot be would press all others flat.
const PLOTTED: std::ops::RangeInclusive<f64> = 20.0..=300.0;

struct Spot {
    day: usize,
    slot: Slot,
    disposition: Disposition,
    systolic: f64,
    diastolic: f64,
}

/// A sheet of letters with a scale.
struct Field {
    rows: Vec<Vec<char>>,
    high: f64,
    step: f64,
}

/// Writes the plot; nothing where there is nothing to draw.
pub(super) fn write(out: &mut impl Write, found: &Found, words: &Words) -> io::Result<()> {
    let period = &found.period;
    let within = |taken: &Taken| (period.from..=period.to).contains(&taken.day);
    let spots: Vec<Spot> = found
        .history
        .readings
        .iter()
        .zip(&found.history.taken)
        .filter(|(judged, taken)| within(taken) && judged.reading.time.at.is_some())
        .filter_map(|(_, taken)| spot(taken, period.from))
        .collect();
    if spots.is_empty() {
        return Ok(());
    }
    let days = days_between(period.from, period.to) + 1;
    let limits: Vec<f64> = period
        .threshold
        .iter()
        .flat_map(|threshold| {
            [
                threshold.limits.systolic.mmhg(),
                threshold.limits.diastolic.mmhg(),
            ]
        })
        .collect();
    let mut field = Field::around(&spots, &limits);
    let (names, says) = match stems(&mut field, &spots, days) {
        true => (
            names_of_days(period.from, days, words),
            vec![
                format!(
                    "▼ ▲  {}    ▽ △  {}    ⊘  {}",
                    words.say("counted"),
                    words.say("cell-marked"),
                    words.say("set-aside")
                ),
                words.say("plot-wedges"),
            ],
        ),
        false => columns(&mut field, &spots, (period.from, days), words),
    };
    for limit in &limits {
        field.line(*limit);
    }
    writeln!(out, "\n  mmHg")?;
    field.write(out)?;
    writeln!(out, "{}{names}", " ".repeat(LEFT))?;
    for said in says {
        paragraph(out, "  ", &said)?;
    }
    if !limits.is_empty() {
        writeln!(out, "  ····  {}", words.say("plot-threshold"))?;
    }
    writeln!(out)
}

fn spot(taken: &Taken, from: Date) -> Option<Spot> {
    let values = taken.values?;
    let (systolic, diastolic) = (values.systolic.mmhg(), values.diastolic.mmhg());
    (PLOTTED.contains(&systolic) && PLOTTED.contains(&diastolic)).then_some(Spot {
        day: days_between(from, taken.day),
        slot: taken.slot,
        disposition: taken.disposition,
        systolic,
        diastolic,
    })
}

fn days_between(from: Date, to: Date) -> usize {
    from.until(to)
        .map_or(0, |span| usize::try_from(span.get_days()).unwrap_or(0))
}

impl Field {
    fn around(spots: &[Spot], limits: &[f64]) -> Self {
        let values = || {
            spots
                .iter()
                .flat_map(|spot| [spot.systolic, spot.diastolic])
                .chain(limits.iter().copied())
        };
        let (low, high) = values().fold((f64::MAX, f64::MIN), |(low, high), value| {
            (low.min(value), high.max(value))
        });
        let of = |step: f64| ((low / step).floor() * step, (high / step).ceil() * step);
        let fits = |step: &&f64| {
            let (low, high) = of(**step);
            (high - low) / **step < ROWS_MAX
        };
        let step = STEPS.iter().find(fits).copied().unwrap_or(50.0);
        let (low, high) = of(step);
        let mut rows = Vec::new();
        let mut at = high;
        while at >= low {
            rows.push(vec![' '; COLUMNS]);
            at -= step;
        }
        Self { rows, high, step }
    }

    /// The row of a pressure, counted from the top.
    fn row(&self, pressure: f64) -> usize {
        let mut nearest = (f64::MAX, 0);
        let mut at = self.high;
        for row in 0..self.rows.len() {
            let off = (pressure - at).abs();
            if off < nearest.0 {
                nearest = (off, row);
            }
            at -= self.step;
        }
        nearest.1
    }

    fn put(&mut self, row: usize, column: usize, mark: char) {
        if let Some(place) = self.rows.get_mut(row).and_then(|row| row.get_mut(column)) {
            *place = mark;
        }
    }

    /// A stem from one pressure to another, its ends marked.
    fn stem(&mut self, column: usize, (high, upper): (f64, char), (low, lower): (f64, char), stem: char) {
        let (top, bottom) = (self.row(high), self.row(low));
        for row in top..=bottom {
            self.put(row, column, stem);
        }
        self.put(top, column, upper);
        self.put(bottom, column, lower);
    }

    /// Dots where nothing else stands.
    fn line(&mut self, pressure: f64) {
        let row = self.row(pressure);
        for place in self.rows.get_mut(row).into_iter().flatten() {
            if *place == ' ' {
                *place = '·';
            }
        }
    }

    fn write(&self, out: &mut impl Write) -> io::Result<()> {
        let mut at = self.high;
        for row in &self.rows {
            let row: String = row.iter().collect();
            writeln!(out, "{}", format!("{at:>4.0} {row}").trim_end())?;
            at -= self.step;
        }
        Ok(())
    }
}

/// Draws every reading for itself, if there is room.
fn stems(field: &mut Field, spots: &[Spot], days: usize) -> bool {
    let mut lanes = vec![Slot::Morning, Slot::Evening];
    if spots.iter().any(|spot| spot.slot == Slot::Other) {
        lanes.insert(1, Slot::Other);
    }
    let of_day = COLUMNS / days.max(1);
    let wide = of_day.saturating_sub(1) / lanes.len();
    if days > STEMS_DAYS_MAX {
        return false;
    }
    let places: Vec<Option<usize>> = spots
        .iter()
        .enumerate()
        .map(|(place, spot)| {
            let before = spots.iter().take(place);
            let nth = before
                .filter(|other| (other.day, other.slot) == (spot.day, spot.slot))
                .count();
            let lane = lanes.iter().position(|lane| *lane == spot.slot).unwrap_or(0);
            (nth < wide).then_some(spot.day * of_day + lane * wide + nth)
        })
        .collect();
    if places.iter().any(Option::is_none) {
        return false;
    }
    for (spot, column) in spots.iter().zip(places.into_iter().flatten()) {
        let (upper, lower, stem) = match spot.disposition {
            Disposition::Counted => ('▼', '▲', '│'),
            Disposition::Marked => ('▽', '△', '│'),
            Disposition::SetAside => ('⊘', '⊘', '┆'),
        };
        field.stem(column, (spot.systolic, upper), (spot.diastolic, lower), stem);
    }
    true
}

/// The names of the days below it.
fn names_of_days(from: Date, days: usize, words: &Words) -> String {
    let wide = COLUMNS / days.max(1);
    let mut day = from;
    let mut names = String::new();
    for _ in 0..days {
        let number = day.day().to_string();
        let named = format!("{} {number}", words.short_weekday(day));
        names += &padded(if named.width() < wide { &named } else { &number }, wide);
        day = day.tomorrow().unwrap_or(day);
    }
    names.trim_end().to_owned()
}

/// The lowest, the mean and the highest.
fn spread_over(values: &[f64]) -> Option<(f64, f64, f64)> {
    let n = f64::from(u32::try_from(values.len()).ok().filter(|n| *n > 0)?);
    let low = values.iter().copied().fold(f64::MAX, f64::min);
    let high = values.iter().copied().fold(f64::MIN, f64::max);
    Some((low, values.iter().sum::<f64>() / n, high))
}

/// Draws columns of several days, each with the mean and the spread of what is averaged.
fn columns(
    field: &mut Field,
    spots: &[Spot],
    (from, days): (Date, usize),
    words: &Words,
) -> (String, Vec<String>) {
    let each = DAYS.into_iter().find(|each| days.div_ceil(*each) <= COLUMNS);
    let each = each.unwrap_or(days.div_ceil(COLUMNS));
    let all = days.div_ceil(each);
    // Equally wide, so that time runs true.
    let wide = (COLUMNS / all).max(1);
    for column in 0..all {
        let of = |value: fn(&Spot) -> f64| -> Vec<f64> {
            spots
                .iter()
                .filter(|spot| spot.day / each == column && spot.disposition.is_averaged())
                .map(value)
                .collect()
        };
        for (values, mark) in [(of(|spot| spot.systolic), '▼'), (of(|spot| spot.diastolic), '▲')] {
            let Some((low, mean, high)) = spread_over(&values) else {
                continue;
            };
            let place = column * wide;
            field.stem(place, (high, '│'), (low, '│'), '│');
            let row = field.row(mean);
            field.put(row, place, mark);
        }
    }
    let first = words.short_date(from);
    let last = from
        .checked_add(jiff::Span::new().days(i64::try_from((all - 1) * each).unwrap_or(0)))
        .map(|day| words.short_date(day))
        .unwrap_or_default();
    let room = ((all - 1) * wide).saturating_sub(first.width());
    let set_aside = spots
        .iter()
        .filter(|spot| !spot.disposition.is_averaged())
        .count();
    (
        format!("{first}{}{last}", " ".repeat(room.max(2))),
        vec![
            words.with("plot-column", &[("days", n(each))]),
            words.with("plot-column-spread", &[("n", n(set_aside))]),
        ],
    )
}
