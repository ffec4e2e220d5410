//! One person's period in plain words: averages with their n, what was set aside and why, and what the average is held
//! against. An average never stands without the number of readings that are not in it.

use super::rows::{padded, padded_left, widest};
use crate::export::report::words::{limits, n, range, reason, sentence, source};
use crate::monitoring::average::{Average, ExactMean};
use crate::monitoring::period::Period;
use crate::monitoring::titles::{of_protocol, of_source};
use crate::words::Words;
use std::collections::BTreeMap;
use std::io::{self, Write};
use unicode_width::UnicodeWidthStr;

/// Characters a line: what the narrowest usual terminal shows.
const WIDTH: usize = 80;
/// Columns of the averages.
const VALUES: usize = 12;
const COUNT: usize = 5;

/// A period as it is written: in which language, and by a protocol of which title.
pub(crate) struct Summary<'a> {
    pub(crate) period: &'a Period,
    pub(crate) words: &'static Words,
    pub(crate) title: &'a str,
    /// Also why readings were marked or set aside, and what is as it should be.
    pub(crate) full: bool,
}

/// Stands wherever an average is shown to a person.
pub(crate) fn caution(out: &mut impl Write, words: &Words) -> io::Result<()> {
    paragraph(out, "", &words.say("summary-caution"))
}

impl Summary<'_> {
    /// Whose, which days, by which protocol; `who` is what the household calls the person.
    pub(crate) fn heading(&self, who: &str) -> String {
        let (period, words) = (self.period, self.words);
        let values = [
            ("who", who.into()),
            ("days", words.days(period.from, period.to).into()),
            ("title", of_protocol(words, self.title).into()),
        ];
        words.with("summary-heading", &values)
    }

    /// Writes what belongs under the heading.
    pub(crate) fn write(&self, out: &mut impl Write) -> io::Result<()> {
        let (period, words) = (self.period, self.words);
        match &period.average {
            Some(average) => self.averages(out, average)?,
            None => {
                let there = period.insufficient.as_ref();
                let there = there.map_or_else(|| words.say("sheet-none-counts"), |there| words.of(there));
                let says = words.with("summary-no-average", &[("there", there.into())]);
                paragraph(out, "  ", &says)?;
            }
        }
        if period.average.is_some() && (self.full || !period.balance.even) {
            paragraph(out, "  ", &words.of(&period.balance.say))?;
        }
        let counts = &period.readings;
        let values = [
            ("sessions", n(period.sessions)),
            ("expected", n(period.sessions_expected)),
            ("n", n(counts.counted + counts.set_aside)),
            ("counted", n(counts.counted)),
            ("marked", n(counts.marked)),
            ("marked-why", "".into()),
            ("aside", n(counts.set_aside)),
            ("aside-why", "".into()),
        ];
        paragraph(out, "  ", &words.with("sheet-completeness", &values))?;
        if self.full {
            self.reasons(out, '○', &counts.marked_reasons)?;
            self.reasons(out, '⊘', &counts.set_aside_reasons)?;
        }
        if let Some(outside) = &period.outside_sessions {
            paragraph(out, "  ", &words.of(&outside.say()))?;
        }
        if let Some(held) = self.held_against() {
            paragraph(out, "  ", &held)?;
        }
        if let Some(target) = &period.target {
            paragraph(out, "  ", &words.of(&target.say()))?;
        }
        if let Some(why) = &period.labels_off {
            let why = sentence(&words.of(why));
            paragraph(
                out,
                "  ",
                &words.with("sheet-no-threshold", &[("why", why.into())]),
            )?;
        }
        Ok(())
    }

    fn held_against(&self) -> Option<String> {
        let (period, words) = (self.period, self.words);
        let threshold = period.threshold.as_ref()?;
        let shown = ("limits", limits(words, &threshold.limits).into());
        let side = match period.at_or_above {
            Some(true) => {
                let which = |which: &&str| words.say(&format!("reached-{}", which.replace(' ', "-")));
                let which: Vec<String> = period.reached_by.iter().map(which).collect();
                let which = ("which", words.list(&which).into());
                words.with("sheet-threshold-reached", &[shown, which])
            }
            Some(false) => words.with("sheet-threshold-below", &[shown]),
            None => words.with("sheet-threshold-would", &[shown]),
        };
        let from = of_source(words, &threshold.source);
        Some(format!("{side} {}", source(words, &from)))
    }

    /// The average and the means beside it as a table, and how far it may be off.
    fn averages(&self, out: &mut impl Write, average: &Average) -> io::Result<()> {
        let (period, words) = (self.period, self.words);
        let without = period.average_without_first_day.as_ref();
        let all = period.average_of_all_days.as_ref();
        // By a protocol that leaves the first day out, the average of all days stands beside it.
        let all = all.filter(|all| self.full && without.is_none() && all.n != average.n);
        let whole = [
            ("average", Some(average)),
            ("row-without-first", without),
            ("row-all-days", all),
        ];
        let mut rows: Vec<(String, &ExactMean)> = whole
            .iter()
            .filter_map(|(name, average)| Some((words.say(name), &(*average)?.exact)))
            .collect();
        for kind in &period.other_kinds {
            rows.push((words.say(&format!("row-{}", kind.kind)), &kind.exact));
        }
        let means = [
            ("row-mornings", &period.morning, true),
            ("row-evenings", &period.evening, true),
            ("row-first-mornings", &period.first_morning, self.full),
        ];
        for (name, mean, shown) in means {
            if shown && mean.systolic.is_some() {
                rows.push((words.say(name), &mean.exact));
            }
        }
        let pulse = words.say("summary-pulse");
        let name_width = widest(rows.iter().map(|(name, _)| name).chain([&pulse]));
        let count = words.say("column-n");
        let count_width = (count.width() + 2).max(COUNT);
        let mut row = |name: &str, value: &str, count: &str| {
            let row = format!(
                "  {}{}{}",
                padded(name, name_width),
                padded_left(value, VALUES),
                padded_left(count, count_width)
            );
            writeln!(out, "{}", row.trim_end())
        };
        row("", "mmHg", &count)?;
        for (name, mean) in &rows {
            row(name, &words.decimal(&mean.shown()), &mean.n().to_string())?;
        }
        if let Some(rate) = average.pulse_rate {
            row(&pulse, &format!("{rate:.0}"), "")?;
        }
        for (place, (name, average)) in whole.iter().enumerate() {
            let Some(average) = average.filter(|_| self.full || place == 0) else {
                continue;
            };
            let said = self.interval(average);
            match place {
                0 => paragraph(out, "  ", &said)?,
                _ => paragraph(out, "  ", &format!("{}: {said}", words.say(name)))?,
            }
        }
        Ok(())
    }

    fn interval(&self, average: &Average) -> String {
        let words = self.words;
        let Some(interval) = average.interval_95 else {
            return words.of(&average.no_interval());
        };
        let values = [
            ("systolic", range(words, interval.systolic).into()),
            ("diastolic", range(words, interval.diastolic).into()),
        ];
        words.with("sheet-interval", &values)
    }

    fn reasons(
        &self,
        out: &mut impl Write,
        shape: char,
        reasons: &BTreeMap<&'static str, usize>,
    ) -> io::Result<()> {
        let words = self.words;
        for (name, n) in reasons {
            let says = words.say(&format!("reason-{name}"));
            let first = format!("    {shape} {n:>2}  ");
            let said = format!("{}: {says}", reason(words, name));
            paragraph_behind(out, &first, "          ", &said)?;
        }
        Ok(())
    }
}

/// Writes a text over as many lines as it needs, each behind the indentation.
pub(crate) fn paragraph(out: &mut impl Write, indent: &str, text: &str) -> io::Result<()> {
    paragraph_behind(out, indent, indent, text)
}

/// The same with something else before the first line.
pub(crate) fn paragraph_behind(
    out: &mut impl Write,
    first: &str,
    indent: &str,
    text: &str,
) -> io::Result<()> {
    let mut line = first.to_owned();
    let mut begun = false;
    for word in text.split(' ') {
        if begun && line.width() + 1 + word.width() > WIDTH {
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
