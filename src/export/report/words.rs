//! Numbers, names and lists as the report writes them, in its language.

use crate::household::{Arm, Mapping, Note, Posed, Zones};
use crate::monitoring::protocol::Limits;
use crate::reading::owner::Doubt;
use crate::reading::{Reading, TimeSource};
use crate::technique::Effect;
use crate::words::{Value, Words};
use jiff::Timestamp;

/// Why a reading is nobody's although its number is somebody's.
pub(crate) fn doubted(words: &Words, doubt: Doubt, reading: &Reading) -> String {
    let name = match doubt {
        Doubt::TimeUnknown => "doubt-time-unknown",
        Doubt::ClockUnproven => "doubt-clock-unproven",
    };
    words.with(name, &[("monitor", reading.monitor.to_string().into())])
}

/// Since when somebody has the number, and until when, as far as anybody said; empty where it is theirs from the
/// beginning and for good.
pub(crate) fn held(words: &Words, zones: &Zones, mapping: &Mapping, now: Timestamp) -> String {
    let moment = |name: &str, at: Timestamp| {
        let civil = zones.civil(at);
        let day = [
            ("date", words.full_date(civil.date()).into()),
            ("time", civil.strftime("%H:%M").to_string().into()),
        ];
        words.with(name, &[("moment", words.with("moment", &day).into())])
    };
    let since = mapping.since(now).map(|at| moment("held-since", at));
    let until = mapping.until(now).map(|at| moment("held-until", at));
    since.into_iter().chain(until).collect::<Vec<_>>().join(", ")
}

/// An interval as a range in words, rounded outwards, so that what is printed holds the interval.
pub(crate) fn range(words: &Words, [low, high]: [f64; 2]) -> String {
    ends(
        words,
        &format!("{:.0}", low.floor()),
        &format!("{:.0}", high.ceil()),
    )
}

/// From the one to the other.
pub(crate) fn ends(words: &Words, low: &str, high: &str) -> String {
    words.with("interval-range", &[("low", low.into()), ("high", high.into())])
}

/// A number that a message tells one from many by.
pub(crate) fn n(n: usize) -> Value<'static> {
    i64::try_from(n).unwrap_or(i64::MAX).into()
}

/// `135/85`.
pub(crate) fn limits(words: &Words, limits: &Limits) -> String {
    words.decimal(&format!("{}/{}", limits.systolic.mmhg(), limits.diastolic.mmhg()))
}

/// With a capital letter.
pub(crate) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first: String = letters.next().into_iter().flat_map(char::to_uppercase).collect();
    first + letters.as_str()
}

/// As it stands, with one full stop.
pub(crate) fn sentence(text: &str) -> String {
    let text = text.trim();
    if text.ends_with(['.', '!', '?', '\u{964}']) {
        text.to_owned()
    } else {
        format!("{text}.")
    }
}

/// Where something comes from: the label in the report's language, the source as it stands.
pub(crate) fn source(words: &Words, source: &str) -> String {
    words.with("source-of", &[("source", sentence(source).into())])
}

/// Sentences that follow one another, without those that say nothing.
pub(super) fn after_one_another(sentences: &[String]) -> String {
    let said: Vec<&str> = sentences.iter().map(|said| said.trim()).collect();
    said.into_iter()
        .filter(|said| !said.is_empty())
        .collect::<Vec<_>>()
        .join(" ")
}

/// What a fault is known to do to a reading, with its source.
pub(crate) fn effect(words: &Words, effect: &Effect) -> String {
    words.with(
        "sheet-effect",
        &[
            ("systolic", side_of(words, effect.systolic).into()),
            ("diastolic", side_of(words, effect.diastolic).into()),
            ("source", effect.source.into()),
        ],
    )
}

/// One side of it, of the few words in which the rules have it.
fn side_of(words: &Words, text: &str) -> String {
    let part = |part: &str| {
        let numbers: Vec<&str> = part
            .split(' ')
            .filter(|word| word.starts_with(|c: char| c.is_ascii_digit()))
            .collect();
        let ends = match numbers.as_slice() {
            [low, high] if !part.contains(" lower to ") => {
                let values = [
                    ("low", words.decimal(low).into()),
                    ("high", words.decimal(high).into()),
                ];
                words.with("interval-range", &values)
            }
            [one] => words.decimal(one),
            _ => String::new(),
        };
        let by = ("by", ends.into());
        match part {
            "not stated" => words.say("not-stated"),
            "no significant effect" => words.say("effect-none"),
            _ if part.contains(" lower to ") => words.with(
                "effect-between",
                &[
                    ("lower", words.decimal(numbers.first().unwrap_or(&"")).into()),
                    ("higher", words.decimal(numbers.last().unwrap_or(&"")).into()),
                ],
            ),
            _ if part.starts_with("about ") => words.with("effect-about", &[by]),
            _ if part.starts_with("up to ") => words.with("effect-up-to", &[by]),
            _ if part.starts_with("too small") => words.with("effect-too-small", &[by]),
            _ if part.starts_with("too large") => words.with("effect-too-large", &[by]),
            _ if part.ends_with("lower") => words.with("effect-lower", &[by]),
            _ => words.with("effect-higher", &[by]),
        }
    };
    text.split("; ").map(part).collect::<Vec<_>>().join("; ")
}

/// The short name of a reason.
pub(crate) fn reason(words: &Words, name: &str) -> String {
    words.say(&format!("why-{name}"))
}

/// A symptom of the list; other words stand as they were written.
pub(crate) fn symptom(words: &Words, symptom: &str) -> String {
    let name = format!("symptom-{}", symptom.trim().replace(' ', "-"));
    if words.has(&name) {
        words.say(&name)
    } else {
        symptom.to_owned()
    }
}

/// What was noted.
pub(crate) fn note(words: &Words, note: &Note) -> String {
    let said = |name: &str| words.say(name);
    let with = |name: &str, text: &str| format!("{}: {text}", words.say(name));
    let maybe = |name: &str, text: &Option<String>| match text {
        Some(text) => with(name, text),
        None => words.say(name),
    };
    match note {
        Note::Medicine { text } => maybe("note-medicine", text),
        Note::MedicineChanged { text } => maybe("note-medicine-changed", text),
        Note::Coffee => said("note-coffee"),
        Note::Smoking => said("note-smoking"),
        Note::Exercise => said("note-exercise"),
        Note::Alcohol => said("note-alcohol"),
        Note::Meal => said("note-meal"),
        Note::Waking => said("note-waking"),
        Note::Dinner => said("note-dinner"),
        Note::Bed => said("note-bed"),
        Note::Symptoms { symptoms } => {
            let each: Vec<String> = symptoms.iter().map(|one| symptom(words, one)).collect();
            with("note-symptoms", &each.join(", "))
        }
        Note::Posture { fault } => {
            let name = format!("why-reported-{fault}");
            let fault = if words.has(&name) {
                words.say(&name)
            } else {
                fault.clone()
            };
            with("note-posture", &fault)
        }
        Note::FullBladder => said("note-full-bladder"),
        Note::NoRest => said("note-no-rest"),
        Note::Talked => said("note-talked"),
        Note::OverClothing => said("note-over-clothing"),
        Note::Arm { arm: Arm::Left } => said("note-arm-left"),
        Note::Arm { arm: Arm::Right } => said("note-arm-right"),
        Note::Measured { posed } => posture(words, *posed),
        Note::Cuff { min_mm, max_mm } => with("note-cuff", &arms(words, Some(*min_mm), Some(*max_mm))),
        Note::ClinicReading { systolic, diastolic } => with(
            "note-clinic-reading",
            &format!("{} mmHg", words.decimal(&format!("{systolic}/{diastolic}"))),
        ),
        Note::MonitorDropped => said("note-monitor-dropped"),
        Note::BatteriesChanged => said("note-batteries-changed"),
        Note::MonitorChecked { text } => maybe("note-monitor-checked", text),
        Note::Other { text } => text.clone(),
    }
}

fn posture(words: &Words, posed: Posed) -> String {
    words.say(&format!("note-{}", posed.name()))
}

/// The arms that a cuff fits, by the circumferences printed on it in millimetres, in centimetres.
pub(crate) fn arms(words: &Words, min_mm: Option<u16>, max_mm: Option<u16>) -> String {
    let cm = |mm: u16| Value::from(words.decimal(&format!("{}", f32::from(mm) / 10.0)));
    match (min_mm, max_mm) {
        (Some(min), Some(max)) => words.with("arms-between", &[("min", cm(min)), ("max", cm(max))]),
        (Some(min), None) => words.with("arms-from", &[("min", cm(min))]),
        (None, Some(max)) => words.with("arms-to", &[("max", cm(max))]),
        (None, None) => words.say("not-stated"),
    }
}

/// A while in the two largest units that say something.
pub(crate) fn while_of(words: &Words, seconds: i64) -> String {
    let seconds = seconds.unsigned_abs();
    let units = [(86_400, "d"), (3_600, "h"), (60, "min"), (1, "s")];
    let mut rest = seconds;
    let mut said: Vec<String> = Vec::new();
    let unit = |n: u64, name: &str| format!("{n} {}", words.say(&format!("unit-{name}")));
    for (size, name) in units {
        let n = rest / size;
        rest %= size;
        if n > 0 && said.len() < 2 {
            said.push(unit(n, name));
        } else if !said.is_empty() {
            break;
        }
    }
    if said.is_empty() {
        unit(0, "s")
    } else {
        said.join(" ")
    }
}

/// How the time of a reading is known.
pub(crate) const fn how_known(source: TimeSource) -> &'static str {
    match source {
        TimeSource::MonitorClock => "time-by-clock",
        TimeSource::KnownOffset => "time-by-offset",
        TimeSource::WallClock => "time-by-stamp",
        TimeSource::Receipt => "time-by-receipt",
        TimeSource::Stated => "time-by-word",
        TimeSource::Unknown => "time-by-nothing",
    }
}

/// How far the monitor's clock was from the household's.
pub(crate) fn off(words: &Words, correction_s: i64) -> String {
    if correction_s == 0 {
        return String::new();
    }
    let by = ("by", while_of(words, correction_s).into());
    let name = if correction_s > 0 {
        "clock-slow"
    } else {
        "clock-fast"
    };
    words.with(name, &[by])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::monitoring::protocols::Protocols;
    use crate::monitoring::titles::of_protocol;
    use crate::technique::Reason;
    use crate::words::Language;

    #[test]
    fn a_while_has_its_two_largest_units() {
        let english = Language::English.words();
        for (seconds, words) in [
            (0, "0 s"),
            (59, "59 s"),
            (-3_600, "1 h"),
            (3_605, "1 h"),
            (3_725, "1 h 2 min"),
            (172_799, "1 d 23 h"),
        ] {
            assert_eq!(while_of(english, seconds), words);
        }
    }

    #[test]
    fn sentences_and_lists() {
        assert_eq!(sentence("it was dropped"), "it was dropped.");
        assert_eq!(sentence("Done."), "Done.");
        assert_eq!(sentence("हो गया।"), "हो गया।");
        let english = Language::English.words();
        assert_eq!(english.list(&["a", "b", "c"]), "a, b and c");
        assert_eq!(english.list::<&str>(&[]), "");
    }

    /// A protocol that is added has to be named in every language.
    #[test]
    fn every_bundled_protocol_is_named_in_every_language() {
        let protocols = Protocols::built_in().unwrap();
        let mut named = 0;
        for protocol in protocols.iter() {
            let targets = protocol.targets.iter().map(|target| &target.name);
            let bands = protocol.bands.iter().map(|band| &band.name);
            for text in [&protocol.title].into_iter().chain(targets).chain(bands) {
                named += 1;
                assert_eq!(of_protocol(Language::English.words(), text), *text);
                // Only names of bodies and years are the same everywhere.
                let is_words = text
                    .split(|c: char| !c.is_alphabetic())
                    .any(|part| part.len() > 3 && part.chars().all(char::is_lowercase));
                let german = of_protocol(Language::German.words(), text);
                assert_eq!(is_words, german != *text, "{text}");
            }
        }
        assert!(named > 20, "{named}");
    }

    #[test]
    fn every_reason_has_its_short_name() {
        for language in Language::ALL {
            for reason in Reason::ALL {
                let name = format!("why-{}", reason.name());
                assert!(language.words().has(&name), "{name} in {language:?}");
            }
        }
    }
}
