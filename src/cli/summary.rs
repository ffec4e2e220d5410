//! One person's period in plain words: averages with their n, what was set aside and why, and what the average is held
//! against. An average never stands without the number of readings that are not in it.

use super::rows::plain;
use crate::monitoring::average::{Average, ExactMean};
use crate::monitoring::period::Period;
use crate::technique::Reason;
use std::collections::BTreeMap;
use std::io::{self, Write};

/// Characters a line: what the narrowest usual terminal shows.
const WIDTH: usize = 80;

/// Stands wherever an average is shown to a person.
pub(crate) const CAUTION: &str = "An average is not a diagnosis. What it means is for your clinic to say.";

/// Whose, which days, by which protocol; `who` is what the household calls the person.
pub(crate) fn heading(who: &str, period: &Period) -> String {
    let to = period.to.strftime("%-d %B %Y");
    if period.from == period.to {
        return format!("{who}, {to}, by the protocol {}", period.protocol);
    }
    format!(
        "{who}, {} to {to}, by the protocol {}",
        period.from.strftime(if period.from.year() == period.to.year() {
            "%-d %B"
        } else {
            "%-d %B %Y"
        }),
        period.protocol
    )
}

/// Writes what belongs under the heading.
pub(crate) fn write(out: &mut impl Write, period: &Period) -> io::Result<()> {
    under_heading(out, period, true)
}

/// The same without why readings were marked or set aside, and without what is as it should be.
pub(crate) fn write_short(out: &mut impl Write, period: &Period) -> io::Result<()> {
    under_heading(out, period, false)
}

fn under_heading(out: &mut impl Write, period: &Period, full: bool) -> io::Result<()> {
    match &period.average {
        Some(average) => averages(out, period, average)?,
        None => {
            let missing = period.insufficient.as_deref().unwrap_or("no readings");
            paragraph(
                out,
                "  ",
                &format!("No average yet: {missing}. Fewer would say too little."),
            )?;
        }
    }
    if let Some(average) = &period.average {
        if average.interval_too_wide {
            paragraph(out, "  ", &average.no_interval())?;
        }
        if full || !period.balance.even {
            paragraph(out, "  ", &period.balance.say)?;
        }
    }
    let counts = &period.readings;
    let marked = match counts.marked {
        0 => String::new(),
        marked => format!(" ({marked} of them marked)"),
    };
    writeln!(
        out,
        "  {} readings in {} of {} sessions: {} counted{marked}, {} set aside",
        counts.counted + counts.set_aside,
        period.sessions,
        period.sessions_expected,
        counts.counted,
        counts.set_aside,
    )?;
    if full {
        reasons(out, '○', &counts.marked_reasons)?;
        reasons(out, '⊘', &counts.set_aside_reasons)?;
    }
    if let Some(outside) = &period.outside_sessions {
        paragraph(out, "  ", &outside.say())?;
    }
    if let Some(threshold) = &period.threshold {
        let side = match period.at_or_above {
            Some(true) => format!("at or above it in {}", period.reached_by.join(" and ")),
            Some(false) => "below it".to_owned(),
            None => "not compared without an average".to_owned(),
        };
        let held = format!(
            "Threshold {:.0}/{:.0} mmHg: {side}. Source: {}.",
            threshold.limits.systolic.mmhg(),
            threshold.limits.diastolic.mmhg(),
            threshold.source
        );
        paragraph(out, "  ", &held)?;
    }
    if let Some(target) = &period.target {
        paragraph(out, "  ", &target.say())?;
    }
    if let Some(why) = &period.labels_off {
        paragraph(out, "  ", &format!("No threshold is applied: {why}."))?;
    }
    Ok(())
}

/// The average and the means beside it, as a table.
fn averages(out: &mut impl Write, period: &Period, average: &Average) -> io::Result<()> {
    writeln!(out, "  {:18}{:>12}{:>5}   95 % interval", "", "mmHg", "n")?;
    let mut whole = |name: &str, average: &Average| {
        let none = if average.interval_too_wide {
            "   too wide to mean anything"
        } else {
            ""
        };
        let interval = average.interval_95.map_or_else(
            || none.to_owned(),
            |interval| {
                // Outwards, so that what is printed holds the interval, and the average with it.
                let whole = |[low, high]: [f64; 2]| format!("{:.0} to {:.0}", low.floor(), high.ceil());
                format!(
                    "   {} over {}",
                    whole(interval.systolic),
                    whole(interval.diastolic)
                )
            },
        );
        row(out, name, &average.exact, &interval)
    };
    whole("average", average)?;
    if let Some(without) = &period.average_without_first_day {
        whole("without first day", without)?;
    }
    for kind in &period.other_kinds {
        row(out, kind.kind, &kind.exact, "   not in the average")?;
    }
    for (name, mean) in [("mornings", &period.morning), ("evenings", &period.evening)] {
        if mean.systolic.is_some() {
            row(out, name, &mean.exact, "")?;
        }
    }
    if let Some(pulse) = average.pulse_rate {
        writeln!(out, "  {:18}{pulse:>7.0} beats a minute", "pulse")?;
    }
    Ok(())
}

fn row(out: &mut impl Write, name: &str, mean: &ExactMean, rest: &str) -> io::Result<()> {
    writeln!(out, "  {name:18}{:>12}{:>5}{rest}", mean.shown(), mean.n())
}

fn reasons(out: &mut impl Write, shape: char, reasons: &BTreeMap<&'static str, usize>) -> io::Result<()> {
    for (name, n) in reasons {
        let says = Reason::from_name(name).map_or("", |reason| reason.rule().says);
        let first = format!("    {shape} {n:>2}  ");
        paragraph_behind(out, &first, "          ", &format!("{}: {says}", plain(name)))?;
    }
    Ok(())
}

/// Writes a text over as many lines as it needs, each behind the indentation.
pub(crate) fn paragraph(out: &mut impl Write, indent: &str, text: &str) -> io::Result<()> {
    paragraph_behind(out, indent, indent, text)
}

/// The same with something else before the first line.
fn paragraph_behind(out: &mut impl Write, first: &str, indent: &str, text: &str) -> io::Result<()> {
    let mut line = first.to_owned();
    let mut begun = false;
    for word in text.split(' ') {
        if begun && line.chars().count() + 1 + word.chars().count() > WIDTH {
            writeln!(out, "{line}")?;
            indent.clone_into(&mut line);
            begun = false;
        }
        if begun {
            line.push(' ');
        }
        line.push_str(word);
        begun = true;
    }
    writeln!(out, "{line}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(text: &str) -> Vec<String> {
        let mut out = Vec::new();
        paragraph_behind(&mut out, "* ", "  ", text).unwrap();
        String::from_utf8(out)
            .unwrap()
            .lines()
            .map(str::to_owned)
            .collect()
    }

    #[test]
    fn a_paragraph_keeps_within_the_width_and_loses_no_word() {
        let text =
            "The monitor found the cuff too loose. Fit it so that two fingers just go under it, ● please.";
        let lines = lines(&text.repeat(3));
        assert!(
            lines.iter().all(|line| line.chars().count() <= WIDTH),
            "{lines:?}"
        );
        assert!(lines[0].starts_with("* The") && lines[1..].iter().all(|line| line.starts_with("  ")));
        let words = lines
            .join(" ")
            .split_whitespace()
            .skip(1)
            .collect::<Vec<_>>()
            .join(" ");
        assert_eq!(words, text.repeat(3));
    }

    #[test]
    fn a_word_longer_than_a_line_has_a_line_of_its_own() {
        let long = "x".repeat(2 * WIDTH);
        assert_eq!(
            lines(&format!("a {long} b")),
            ["* a".to_owned(), format!("  {long}"), "  b".to_owned()]
        );
    }
}
