//! A card to be printed and hung beside the monitor: the page's address, and a code that a tablet's camera reads, so
//! that nobody types. With a key in it, which stands behind the `#`: a browser sends that part to nobody.

use crate::words::{Language, Words};
use maud::{DOCTYPE, Markup, PreEscaped, html};
use qrcode::{Color, EcLevel, QrCode};
use std::fmt::Write as _;

/// Empty modules around a code (ISO/IEC 18004: at least four).
const QUIET: usize = 4;

/// What a camera reads as this text, dark on light in any light; `None` where the text is too long for a code.
pub(super) fn code(text: &str, says: &str) -> Option<Markup> {
    // A quarter of it may be dirty.
    let code = QrCode::with_error_correction_level(text, EcLevel::Q).ok()?;
    let (width, colors) = (code.width(), code.to_colors());
    let mut dark = String::new();
    for (row, line) in colors.chunks(width).enumerate() {
        for (column, _) in line
            .iter()
            .enumerate()
            .filter(|(_, color)| **color == Color::Dark)
        {
            let _ = write!(dark, "M{} {}h1v1h-1z", column + QUIET, row + QUIET);
        }
    }
    let side = width + 2 * QUIET;
    Some(html! {
        svg.code viewBox=(format!("0 0 {side} {side}")) role="img" aria-label=(says) shape-rendering="crispEdges" {
            rect fill="#ffffff" width=(side) height=(side) {}
            path fill="#000000" d=(PreEscaped(dark)) {}
        }
    })
}

/// The same for a terminal of so many columns: two rows of it in each line, dark on light whatever the terminal's colours
/// are (ECMA-48, SGR). `None` where it is too narrow.
pub(crate) fn code_in_blocks(text: &str, columns: usize) -> Option<String> {
    const DARK_ON_LIGHT: &str = "\x1b[30;47m";
    const AS_BEFORE: &str = "\x1b[0m";
    // A screen is clean, and a small code fits.
    let code = QrCode::with_error_correction_level(text, EcLevel::L).ok()?;
    let (width, colors) = (code.width(), code.to_colors());
    let side = width + 2 * QUIET;
    if side > columns {
        return None;
    }
    let dark = |row: usize, column: usize| {
        let (row, column) = (row.checked_sub(QUIET), column.checked_sub(QUIET));
        let at = row.zip(column.filter(|column| *column < width));
        at.and_then(|(row, column)| colors.get(row * width + column)) == Some(&Color::Dark)
    };
    let mut lines = String::new();
    for row in (0..side).step_by(2) {
        lines.push_str(DARK_ON_LIGHT);
        lines.extend(
            (0..side).map(|column| match (dark(row, column), dark(row + 1, column)) {
                (true, true) => '█',
                (true, false) => '▀',
                (false, true) => '▄',
                (false, false) => ' ',
            }),
        );
        lines.push_str(AS_BEFORE);
        lines.push('\n');
    }
    Some(lines)
}

/// The card itself. The address is what the code holds, with the key where there is one.
pub(crate) fn card(address: &str, key: Option<&str>, words: &Words) -> Markup {
    let whole = key.map_or_else(|| address.to_owned(), |key| format!("{address}#{key}"));
    let says = words.with("card-code", &[("address", address.into())]);
    html! {
        section.card aria-labelledby="card" {
            h1 #card { (words.say("card-title")) }
            @if let Some(code) = code(&whole, &says) { (code) }
            p.address { (address) }
            @if let Some(key) = key {
                p { (words.say("key-label")) ": " span.address { (key) } }
                p.small { (words.say("card-with-key")) }
            }
            ol {
                @for step in 1..=3 { li { (words.say(&format!("card-{step}"))) } }
            }
            p.small { (words.say("not-an-alarm")) }
        }
    }
}

/// The card as a document of its own.
pub(crate) fn document(address: &str, key: Option<&str>, language: Language) -> String {
    const STYLE: &str = "body{margin:2rem;font-family:system-ui,sans-serif;color:#16161a;background:#fff}\
        .card{max-width:32rem}.code{width:16rem;height:16rem;display:block}.address{font-family:ui-monospace,monospace;\
        font-size:1.15rem;overflow-wrap:anywhere}@page{margin:20mm}";
    let words = language.words();
    html! {
        (DOCTYPE)
        html lang=(language.tag()) {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (words.say("card-title")) " · " (words.say("app")) }
                style { (PreEscaped(STYLE)) }
            }
            body { main { (card(address, key, words)) } }
        }
    }
    .into_string()
}
