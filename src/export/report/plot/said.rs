//! What several plots say, and how much room words need.

use crate::export::report::Report;
use crate::export::report::words::limits;

/// Whose plot it is, and of which days.
pub(super) fn titled(report: &Report<'_>) -> String {
    let (period, words) = (report.period, report.words);
    words.with(
        "plot-title",
        &[
            ("who", report.label().into()),
            ("days", words.days(period.from, period.to).into()),
        ],
    )
}

/// Where the threshold is drawn.
pub(super) fn dashed(report: &Report<'_>) -> Option<String> {
    let words = report.words;
    let of = |of| words.with("plot-says-dashed", &[("limits", limits(words, of).into())]);
    report.limits().map(of)
}

/// Room for a sign of a key with its words, estimated: a letter is half as wide as high, and Indic ones as wide as two
/// thirds, of which those that stand over or below others take none.
pub(super) fn room_of(says: &str) -> f32 {
    let wide = |letter: char| match u32::from(letter) {
        0x93a..=0x94d | 0x951..=0x957 | 0x962..=0x963 | 0xbcd => 0.0,
        0x900..=0x97f => 5.4,
        0xb80..=0xbff => 6.2,
        _ => 4.1,
    };
    26.0 + says.chars().map(wide).sum::<f32>()
}
