//! Text and segments as the standard has them (chapter 2, sections 2.5 and 2.7).

use crate::export::fhir::moment::Moment;
use crate::household::Zones;
use jiff::Timestamp;
use std::fmt;

/// What ends a segment; a line feed is none (section 2.5.2).
pub(super) const END: char = '\r';

/// The five characters that separate, each with its escape (section 2.7.1).
const ESCAPES: [(char, &str); 5] = [
    ('\\', "\\E\\"),
    ('|', "\\F\\"),
    ('^', "\\S\\"),
    ('&', "\\T\\"),
    ('~', "\\R\\"),
];

/// Text of a person or a monitor, so that none of it separates. A line's end is written as formatted text has it (section
/// 2.7.6); what else controls a terminal, or ends a frame, has no place in a message.
pub(super) fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.trim().replace("\r\n", "\n").chars() {
        match ESCAPES.iter().find(|(separator, _)| *separator == c) {
            Some((_, escape)) => safe.push_str(escape),
            None if c == '\n' || c == '\r' => safe.push_str("\\.br\\"),
            None if c == '\t' => safe.push(' '),
            None if c.is_control() => safe.push(char::REPLACEMENT_CHARACTER),
            None => safe.push(c),
        }
    }
    safe
}

/// What a receiver wrote, read back. An escape that is not one of the five stays as it is.
pub fn unescaped(text: &str) -> String {
    let (mut plain, mut rest) = (String::with_capacity(text.len()), text);
    while let Some((before, behind)) = rest.split_once('\\') {
        plain.push_str(before);
        let code = behind.split_once('\\').and_then(|(code, after)| {
            let of_code = |escape: &str| escape.trim_matches('\\') == code;
            let (separator, _) = ESCAPES.iter().find(|(_, escape)| of_code(escape))?;
            Some((*separator, after))
        });
        let (c, after) = code.unwrap_or(('\\', behind));
        plain.push(c);
        rest = after;
    }
    plain.push_str(rest);
    plain
}

/// A value of several components that somebody wrote in the standard's own form, such as `1234^^^CLINIC^MR`: each part
/// escaped, the separators kept.
pub(super) fn components(text: &str) -> String {
    let within = |part: &str| part.split('&').map(escaped).collect::<Vec<_>>().join("&");
    text.trim().split('^').map(within).collect::<Vec<_>>().join("^")
}

/// A moment with the zone's offset, to the second: `20260301070211+0100` (section 2.A.77).
pub(super) fn stamp(at: Timestamp, zones: &Zones) -> String {
    let text = Moment::new(at, zones).to_string();
    let (date, rest) = text.split_once('T').unwrap_or((&text, ""));
    let digits = |text: &str, but: char| text.chars().filter(|c| *c != but).collect::<String>();
    digits(date, '-') + &digits(rest, ':')
}

/// A segment that is being written. Empty fields at its end are left out (section 2.6.2).
pub(super) struct Segment {
    fields: Vec<String>,
}

impl Segment {
    pub(super) fn new(name: &str) -> Self {
        Self {
            fields: vec![name.to_owned()],
        }
    }

    /// Puts a value, which is in the standard's form, into the field of this number.
    pub(super) fn with(mut self, field: usize, value: impl Into<String>) -> Self {
        if self.fields.len() <= field {
            self.fields.resize(field + 1, String::new());
        }
        if let Some(place) = self.fields.get_mut(field) {
            *place = value.into();
        }
        self
    }
}

impl fmt::Display for Segment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let last = self.fields.iter().rposition(|field| !field.is_empty());
        let used = self.fields.get(..=last.unwrap_or_default()).unwrap_or_default();
        write!(f, "{}{END}", used.join("|"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_text_separates_and_all_of_it_comes_back() {
        for (given, written) in [
            ("Asha", "Asha"),
            ("आशा", "आशा"),
            ("a|b^c&d~e\\f", "a\\F\\b\\S\\c\\T\\d\\R\\e\\E\\f"),
            ("\\F\\", "\\E\\F\\E\\"),
            ("two\r\nlines", "two\\.br\\lines"),
            ("a\u{1c}\u{b}z", "a\u{fffd}\u{fffd}z"),
            (" ", ""),
        ] {
            assert_eq!(escaped(given), written);
        }
        for text in ["a|b^c&d~e\\f", "\\F\\", "\\\\E\\", "\\T\\|"] {
            assert_eq!(unescaped(&escaped(text)), text);
        }
    }

    #[test]
    fn what_is_written_in_the_standards_form_keeps_its_separators() {
        assert_eq!(components("12 ^^^A&1.2&ISO^MR"), "12^^^A&1.2&ISO^MR");
        assert_eq!(components("1|2^a~b"), "1\\F\\2^a\\R\\b");
    }

    #[test]
    fn a_moment_has_its_zone() {
        let at: Timestamp = "2026-03-01T06:02:11.75Z".parse().unwrap();
        let zone = |hours: i8, minutes: i8| {
            let seconds = (i32::from(hours) * 60 + i32::from(minutes)) * 60;
            Zones::only(jiff::tz::TimeZone::fixed(
                jiff::tz::Offset::from_seconds(seconds).unwrap(),
            ))
        };
        assert_eq!(stamp(at, &zone(5, 30)), "20260301113211+0530");
        assert_eq!(stamp(at, &zone(-9, 0)), "20260228210211-0900");
    }

    #[test]
    fn empty_fields_at_the_end_are_left_out() {
        let segment = Segment::new("OBX").with(1, "1").with(3, "x").with(9, "");
        assert_eq!(segment.to_string(), "OBX|1||x\r");
    }
}
