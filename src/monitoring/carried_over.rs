//! What the interval would be if days carried over: if each day resembled the one before it.
//!
//! The interval of [`super::average`] takes days for unrelated. No published number says how far they carry over
//! (26 printed mornings of one person show nothing), and a week cannot tell it. So the correlation is not
//! estimated: somebody states one, and the interval is widened by what follows from it.
//!
//! With correlation r of neighbouring days, days i and j days apart resemble one another by r to the power of
//! their distance (an autoregression of first order). For m day means with the matrix R of those and S the sum
//! of its elements, the variance of their mean is S ÷ m², and the usual estimate of it tends to
//! (m − S ÷ m) ÷ (m − 1) ÷ m. The interval is widened by the square root of what the first is of the second, and
//! its degrees of freedom are Satterthwaite's of that estimate, scaled as the days are.

use super::average::{Average, Interval, t_quantile};
use jiff::civil::Date;

/// The correlation that the sheet assumes where nobody states one (own choice).
pub const ASSUMED: f64 = 0.3;
/// The largest that can be stated: beyond it a week knows next to nothing.
pub const MOST: f64 = 0.8;

/// The days in order, and how their means are related.
struct Related {
    days: f64,
    /// The sum of all elements of R.
    sum: f64,
    /// The sum of the squares of all elements of R.
    squares: f64,
    /// The sum of the squares of the column sums of R.
    columns: f64,
}

fn related(days: &[Date], correlation: f64) -> Related {
    let mut related = Related {
        days: days.len() as f64,
        sum: 0.0,
        squares: 0.0,
        columns: 0.0,
    };
    for a in days {
        let mut column = 0.0;
        for b in days {
            let apart = b.duration_since(*a).as_hours().abs() / 24;
            let r = correlation.powf(apart as f64);
            column += r;
            related.squares += r * r;
        }
        related.sum += column;
        related.columns += column * column;
    }
    related
}

/// The 95 % interval of an average of readings on these days, widened for days that carry over. `None` where the
/// average has no interval, or where the correlation is not from 0 to [`MOST`].
pub fn widened(average: &Average, days: &[Date], correlation: f64) -> Option<Interval> {
    let uncertainty = average.uncertainty?;
    let mut days = days.to_vec();
    days.sort();
    days.dedup();
    if days.len() < 2 || !(0.0..=MOST).contains(&correlation) {
        return None;
    }
    let of = related(&days, correlation);
    let m = of.days;
    let inflation = of.sum * (m - 1.0) / (m * m - of.sum);
    // Of the centred days: trace, and trace of the square.
    let trace = m - of.sum / m;
    let square = of.squares - 2.0 * of.columns / m + (of.sum / m).powi(2);
    let degrees = uncertainty.degrees_of_freedom * (trace * trace / square) / (m - 1.0);
    let t = t_quantile(0.975, degrees)?;
    let around = |mean: f64, variance: f64| {
        let reach = t * (variance * inflation).sqrt();
        [mean - reach, mean + reach]
    };
    Some(Interval {
        systolic: around(average.systolic, uncertainty.systolic),
        diastolic: around(average.diastolic, uncertainty.diastolic),
    })
}
