//! Dates, numbers and lists as the report writes them.

use jiff::civil::{Date, DateTime};

/// `23 March 2026`.
pub(super) fn day(date: Date) -> String {
    date.strftime("%-d %B %Y").to_string()
}

/// `23 March to 29 March 2026`.
pub(super) fn days(from: Date, to: Date) -> String {
    if from == to {
        day(from)
    } else if from.year() == to.year() {
        format!("{} to {}", from.strftime("%-d %B"), day(to))
    } else {
        format!("{} to {}", day(from), day(to))
    }
}

/// `Mon 23 Mar 2026`.
pub(super) fn short_day(date: Date) -> String {
    date.strftime("%a %-d %b %Y").to_string()
}

/// `23 March 2026, 07:02`.
pub(super) fn moment(at: DateTime) -> String {
    format!("{}, {}", day(at.date()), at.strftime("%H:%M"))
}

/// An interval as a range in words, rounded outwards, so that what is printed holds the interval.
pub(super) fn range([low, high]: [f64; 2]) -> String {
    format!("{:.0} to {:.0}", low.floor(), high.ceil())
}

/// `1 reading`, `2 readings`.
pub(super) fn count(n: usize, one: &str) -> String {
    if n == 1 {
        format!("1 {one}")
    } else {
        format!("{n} {one}s")
    }
}

/// `a`, `a and b`, `a, b and c`.
pub(super) fn and<T: AsRef<str>>(words: &[T]) -> String {
    match words {
        [] => String::new(),
        [only] => only.as_ref().to_owned(),
        [most @ .., last] => {
            let most: Vec<&str> = most.iter().map(AsRef::as_ref).collect();
            format!("{} and {}", most.join(", "), last.as_ref())
        }
    }
}

/// A contract's word as people write it.
pub(super) fn plain(name: &str) -> String {
    name.replace('-', " ")
}

/// With a capital letter.
pub(super) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first: String = letters.next().into_iter().flat_map(char::to_uppercase).collect();
    first + letters.as_str()
}

/// As it stands, with one full stop.
pub(super) fn sentence(text: &str) -> String {
    let text = text.trim();
    if text.ends_with(['.', '!', '?']) {
        text.to_owned()
    } else {
        format!("{text}.")
    }
}

/// A while in the two largest units that say something.
pub(super) fn while_of(seconds: i64) -> String {
    let seconds = seconds.unsigned_abs();
    let units = [(86_400, "d"), (3_600, "h"), (60, "min"), (1, "s")];
    let mut rest = seconds;
    let mut said: Vec<String> = Vec::new();
    for (size, name) in units {
        let n = rest / size;
        rest %= size;
        if n > 0 && said.len() < 2 {
            said.push(format!("{n} {name}"));
        } else if !said.is_empty() {
            break;
        }
    }
    if said.is_empty() {
        "0 s".to_owned()
    } else {
        said.join(" ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn days_name_what_they_have_to() {
        assert_eq!(
            days(date(2026, 3, 23), date(2026, 3, 29)),
            "23 March to 29 March 2026"
        );
        assert_eq!(
            days(date(2025, 12, 29), date(2026, 1, 4)),
            "29 December 2025 to 4 January 2026"
        );
        assert_eq!(days(date(2026, 3, 23), date(2026, 3, 23)), "23 March 2026");
    }

    #[test]
    fn a_while_has_its_two_largest_units() {
        for (seconds, words) in [
            (0, "0 s"),
            (59, "59 s"),
            (-3_600, "1 h"),
            (3_605, "1 h"),
            (3_725, "1 h 2 min"),
            (172_799, "1 d 23 h"),
        ] {
            assert_eq!(while_of(seconds), words);
        }
    }

    #[test]
    fn sentences_and_lists() {
        assert_eq!(sentence("it was dropped"), "it was dropped.");
        assert_eq!(sentence("Done."), "Done.");
        assert_eq!(and(&["a", "b", "c"]), "a, b and c");
        assert_eq!(and::<&str>(&[]), "");
    }
}
