//! What passes while somebody sits: time as a bar that fills, and the pressure in the cuff as a column in a tube.

use super::scene::Scene;
use crate::gatt::Unit;
use crate::home::live::{Cuff, REST};
use crate::words::Words;
use jiff::{SignedDuration, Timestamp};
use maud::{Markup, html};

/// How high the tube's scale reaches, and from one of its lines to the next, by the monitor's unit. Own choice, as
/// mercury columns were marked; a higher pressure fills the tube.
const fn scale(unit: Unit) -> (u16, u16) {
    match unit {
        Unit::MmHg => (300, 50),
        Unit::KPa => (40, 10),
    }
}

/// Where the tube ends in its drawing, from above.
const TOP: f64 = 14.0;
const BOTTOM: f64 = 306.0;

impl Scene {
    /// The minutes and seconds that are left, and above them the whole, where it is known when it began.
    pub(super) fn countdown(&self, until: Timestamp, words: &Words) -> Markup {
        let left = until.duration_since(self.now).as_secs().max(0);
        let ends = until.as_millisecond();
        // Whoever has no script sees where it stood when the page was made.
        html! {
            p.countdown role="timer" data-until=(ends) { (left / 60) ":" (format!("{:02}", left % 60)) }
            @if let Some(whole) = self.whole(until).map(|whole| whole.as_secs()).filter(|whole| *whole >= left) {
                progress.elapsed max=(whole) value=(whole - left) data-ends=(ends) aria-label=(words.say("elapsed")) {}
            }
        }
    }

    /// How long that lasts in all: a rest, or what follows the last reading.
    fn whole(&self, until: Timestamp) -> Option<SignedDuration> {
        if self.rest == Some(until) {
            return Some(REST);
        }
        let last = self.sitting.last()?.reading.time.at?;
        self.next.grounds.sitting.then(|| until.duration_since(last))
    }
}

/// The pressure as a number, with its direction in words.
pub(super) fn pressure(cuff: &Cuff, words: &Words) -> Markup {
    let direction = match cuff.rising {
        Some(true) => "cuff-rising",
        Some(false) => "cuff-falling",
        None => "cuff-pressure",
    };
    html! {
        p.cuff data-rising=[cuff.rising] {
            span.number { (shown(cuff)) }
            " " span.unit { (cuff.unit.name()) }
            span.direction { (words.say(direction)) }
        }
    }
}

fn shown(cuff: &Cuff) -> String {
    format!(
        "{:.*}",
        usize::from(cuff.unit == Unit::KPa),
        cuff.pressure.in_unit(cuff.unit)
    )
}

/// The same as a column in a tube with a scale beside it.
pub(super) fn tube(cuff: &Cuff, words: &Words) -> Markup {
    let (most, step) = scale(cuff.unit);
    let height = |value: f64| BOTTOM - (BOTTOM - TOP) * (value / f64::from(most)).clamp(0.0, 1.0);
    let stands = height(cuff.pressure.in_unit(cuff.unit));
    let said = words.with(
        "cuff-column",
        &[
            ("pressure", shown(cuff).into()),
            ("unit", cuff.unit.name().into()),
            ("most", most.to_string().into()),
        ],
    );
    html! {
        svg.tube viewBox="0 0 110 320" role="img" aria-label=(said) {
            @for line in (0..=most).step_by(usize::from(step)) {
                @let y = height(f64::from(line));
                path.ink d=(format!("M56 {y:.1}H68")) {}
                text x="50" y=(format!("{:.1}", y + 8.0)) text-anchor="end" { (line) }
            }
            rect.column x="73" width="18" y=(format!("{stands:.1}")) height=(format!("{:.1}", BOTTOM - stands)) {}
            path.heavy d="M70 8V300A12 12 0 0 0 94 300V8" {}
        }
    }
}
