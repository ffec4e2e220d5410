//! Every word that the household and its clinic read on the page, the sheet and in messages, in one catalogue, in each
//! language.
//!
//! A message that is missing shows its name. Tests hold every language to the same messages with the same
//! variables, and the source to messages that exist. Nothing here escapes text for HTML; the code that writes
//! HTML does.

pub mod said;

pub use fluent_bundle::FluentValue as Value;
use fluent_bundle::concurrent::FluentBundle;
use fluent_bundle::{FluentArgs, FluentResource};
use jiff::ToSpan;
use jiff::civil::{Date, DateTime, Time};
use serde::{Deserialize, Serialize};
use std::sync::LazyLock;
use unic_langid::LanguageIdentifier;

/// Makes all of a language of one line: its variant, its tag, its catalogue, and whether a native speaker has read
/// that.
macro_rules! languages {
    ($($(#[$about:meta])* $language:ident, $tag:literal, $reviewed:literal;)*) => {
        /// A language that the household can read.
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Default, Serialize, Deserialize)]
        pub enum Language {
            $($(#[$about])* #[serde(rename = $tag)] $language,)*
        }

        impl Language {
            /// All languages that the household can read.
            pub const ALL: [Self; [$($tag),*].len()] = [$(Self::$language),*];

            /// The tag by which HTML and HTTP name the language (BCP 47).
            pub const fn tag(self) -> &'static str {
                match self { $(Self::$language => $tag,)* }
            }

            /// Whether somebody who grew up with the language has read its words; the page says where nobody has.
            pub const fn is_reviewed(self) -> bool {
                match self { $(Self::$language => $reviewed,)* }
            }

            /// The catalogue of this language.
            pub fn words(self) -> &'static Words {
                match self {
                    $(Self::$language => {
                        static WORDS: LazyLock<Words> = LazyLock::new(|| {
                            Words::read(Language::$language, Language::$language.text())
                        });
                        &WORDS
                    })*
                }
            }

            const fn text(self) -> &'static str {
                match self { $(Self::$language => include_str!(concat!("words/", $tag, ".ftl")),)* }
            }
        }
    };
}

languages! {
    /// English, the original.
    #[default] English, "en", true;
    /// Hindi, with Latin digits.
    Hindi, "hi", false;
    /// German, with formal address.
    German, "de", false;
    /// Spanish, with formal address.
    Spanish, "es", false;
    /// Tamil, with formal address and Latin digits.
    Tamil, "ta", false;
}

impl Language {
    /// The language of a tag such as `en` or `en-GB`; `None` where the program has no such language.
    pub fn of_tag(tag: &str) -> Option<Self> {
        let primary = tag.split(['-', '_']).next().unwrap_or_default();
        Self::ALL
            .into_iter()
            .find(|language| language.tag().eq_ignore_ascii_case(primary))
    }
}

/// The catalogue of messages in one language.
pub struct Words {
    language: Language,
    messages: FluentBundle<FluentResource>,
}

impl std::fmt::Debug for Words {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_tuple("Words").field(&self.language).finish()
    }
}

impl Words {
    /// Another catalogue of this language, such as one that somebody writes.
    pub fn read(language: Language, catalogue: &str) -> Self {
        // The tag says by which rules numbers are counted. A tag that could not be parsed would give the
        // rules of the root.
        let tag: LanguageIdentifier = language.tag().parse().unwrap_or_default();
        // The messages that can be parsed are taken from a damaged file; a test sees that nothing is damaged.
        let resource =
            FluentResource::try_new(catalogue.to_owned()).unwrap_or_else(|(readable, _errors)| readable);
        let mut messages = FluentBundle::new_concurrent(vec![tag]);
        // Marks of direction around each variable are for right-to-left languages, and would stand in mails
        // as well.
        messages.set_use_isolating(false);
        let _ = messages.add_resource(resource);
        Self { language, messages }
    }

    /// The language of this catalogue.
    pub const fn language(&self) -> Language {
        self.language
    }

    /// Whether there is a message of that name.
    pub fn has(&self, name: &str) -> bool {
        self.messages.has_message(name)
    }

    /// The message of a name; the name itself where there is no such message.
    pub fn say(&self, name: &str) -> String {
        self.with(name, &[])
    }

    /// The message of a name, with variables put into it; the name itself where there is no such message.
    pub fn with(&self, name: &str, variables: &[(&str, Value<'_>)]) -> String {
        let Some(pattern) = self
            .messages
            .get_message(name)
            .and_then(|message| message.value())
        else {
            return name.to_owned();
        };
        let mut args = FluentArgs::with_capacity(variables.len());
        for (variable, value) in variables {
            args.set(*variable, value.clone());
        }
        let mut errors = Vec::new();
        self.messages
            .format_pattern(pattern, Some(&args), &mut errors)
            .into_owned()
    }

    /// A date with the day of the week, such as `Monday 2 March`.
    pub fn date(&self, date: Date) -> String {
        self.with(
            "date",
            &[
                (
                    "weekday",
                    self.numbered("weekday", date.weekday().to_monday_one_offset())
                        .into(),
                ),
                ("day", date.day().to_string().into()),
                ("month", self.numbered("month", date.month()).into()),
            ],
        )
    }

    /// A date with the year, such as `2 March 2026`.
    pub fn date_with_year(&self, date: Date) -> String {
        self.with(
            "date-with-year",
            &[
                ("day", date.day().to_string().into()),
                ("month", self.numbered("month", date.month()).into()),
                ("year", date.year().to_string().into()),
            ],
        )
    }

    /// Days with the year, such as `23 March to 29 March 2026`.
    pub fn days(&self, from: Date, to: Date) -> String {
        if from == to {
            return self.date_with_year(to);
        }
        let first = if from.year() == to.year() {
            self.day_of_month(from)
        } else {
            self.date_with_year(from)
        };
        let days = [("from", first.into()), ("to", self.date_with_year(to).into())];
        self.with("range-of-days", &days)
    }

    /// A date without its year, such as `23 March`.
    pub fn day_of_month(&self, date: Date) -> String {
        let month = self.numbered("month", date.month());
        let values = [("day", date.day().to_string().into()), ("month", month.into())];
        self.with("day-of-month", &values)
    }

    /// A date in few letters, such as `23 Mar 2026`.
    pub fn short_date(&self, date: Date) -> String {
        self.with(
            "short-date",
            &[
                ("day", date.day().to_string().into()),
                ("month", self.short_month(date).into()),
                ("year", date.year().to_string().into()),
            ],
        )
    }

    /// A date with the day of the week and the year, such as `Monday 23 March 2026`.
    pub fn full_date(&self, date: Date) -> String {
        let weekday = self.numbered("weekday", date.weekday().to_monday_one_offset());
        let values = [
            ("weekday", weekday.into()),
            ("date", self.date_with_year(date).into()),
        ];
        self.with("full-date", &values)
    }

    /// The same with the day of the week, such as `Mon 23 Mar 2026`.
    pub fn short_day(&self, date: Date) -> String {
        let weekday = self.short_weekday(date);
        let values = [
            ("weekday", weekday.into()),
            ("date", self.short_date(date).into()),
        ];
        self.with("short-day", &values)
    }

    /// A month with the year, such as `March 2026`.
    pub fn month(&self, date: Date) -> String {
        self.with(
            "month-of-year",
            &[
                ("month", self.numbered("month", date.month()).into()),
                ("year", date.year().to_string().into()),
            ],
        )
    }

    /// The day of the week in a few letters, for under a picture.
    pub fn short_weekday(&self, date: Date) -> String {
        self.numbered("weekday-short", date.weekday().to_monday_one_offset())
    }

    /// The month in a few letters, for under a picture.
    pub fn short_month(&self, date: Date) -> String {
        self.numbered("month-short", date.month())
    }

    /// A day as seen from `today`: `today`, `tomorrow` or `yesterday`, else such as `on Monday 2 March`.
    pub fn day(&self, date: Date, today: Date) -> String {
        let beside = |days: i64| today.checked_add(days.days()).is_ok_and(|other| other == date);
        if date == today {
            self.say("today")
        } else if beside(1) {
            self.say("tomorrow")
        } else if beside(-1) {
            self.say("yesterday")
        } else {
            self.with("on-day", &[("date", self.date(date).into())])
        }
    }

    /// A time of day, such as `07:05`: every language writes it so.
    pub fn time(&self, time: Time) -> String {
        time.strftime("%H:%M").to_string()
    }

    /// A date with a time of day, such as `Monday 2 March, 07:05`.
    pub fn moment(&self, at: DateTime) -> String {
        self.with(
            "moment",
            &[
                ("date", self.date(at.date()).into()),
                ("time", self.time(at.time()).into()),
            ],
        )
    }

    /// A date with the year and a time of day, such as `2 March 2026, 07:05`.
    pub fn exact_moment(&self, at: DateTime) -> String {
        let date = self.date_with_year(at.date());
        self.with(
            "moment",
            &[("date", date.into()), ("time", self.time(at.time()).into())],
        )
    }

    /// A number as it was written with a point, such as `128.4/81.2`, with the language's own mark.
    pub fn decimal(&self, number: &str) -> String {
        number.replace('.', &self.say("decimal-mark"))
    }

    /// Milliseconds, as seconds.
    pub fn seconds(&self, ms: i64) -> String {
        self.decimal(&format!("{}.{:03}", ms / 1_000, ms % 1_000))
    }

    fn numbered(&self, name: &str, number: i8) -> String {
        self.say(&format!("{name}-{number}"))
    }
}

/// The longest text of others that a message carries, in characters: a person's name, or the reason of a
/// fault.
const LINE_CHARS_MAX: usize = 160;

/// The text of others as one line of at most 160 characters: without control characters, line ends and marks
/// that turn the direction of writing.
pub fn one_line(text: &str) -> String {
    let turns =
        |c: char| matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    let cleaned: String = text
        .chars()
        .map(|c| {
            if c.is_control() || matches!(c, '\u{2028}' | '\u{2029}') {
                ' '
            } else {
                c
            }
        })
        .filter(|c| !turns(*c))
        .take(LINE_CHARS_MAX)
        .collect();
    cleaned.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::monitoring::care::Task;
    use crate::technique::Reason;
    use jiff::civil::date;
    use std::collections::{BTreeMap, BTreeSet};

    /// The messages of a file by name, each with the variables in it.
    fn messages(text: &str) -> BTreeMap<String, BTreeSet<String>> {
        let mut messages: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
        let mut name = String::new();
        for line in text.lines().filter(|line| !line.starts_with('#')) {
            if let Some((before, _)) = line.split_once(" = ").filter(|_| !line.starts_with([' ', '}'])) {
                name = before.to_owned();
                assert!(
                    messages.insert(name.clone(), BTreeSet::new()).is_none(),
                    "{name} is there twice"
                );
            }
            for variable in line.split('$').skip(1) {
                let variable = variable
                    .chars()
                    .take_while(|c| c.is_alphanumeric() || *c == '-')
                    .collect();
                messages.get_mut(&name).unwrap().insert(variable);
            }
        }
        messages
    }

    /// Adding a language is a file and a line; this says what the file lacks.
    #[test]
    fn all_languages_have_the_same_messages_with_the_same_variables() {
        let english = messages(Language::English.text());
        assert!(english.len() > 200, "{}", english.len());
        for language in Language::ALL {
            let own = messages(language.text());
            for (name, variables) in &english {
                assert_eq!(own.get(name), Some(variables), "{name} in {language:?}");
                assert!(
                    language.words().messages.has_message(name),
                    "{name} in {language:?}"
                );
            }
            for name in own.keys() {
                assert!(english.contains_key(name), "{name} is in {language:?} only");
            }
            let parsed = FluentResource::try_new(language.text().to_owned()).map_err(|(_, errors)| errors);
            assert!(parsed.is_ok(), "{language:?}: {parsed:?}");
        }
    }

    /// A catalogue that no native speaker has read says so at its head.
    #[test]
    fn what_nobody_has_read_is_marked() {
        for language in Language::ALL {
            let head = language.text().lines().take_while(|line| line.starts_with('#'));
            let marked = head.into_iter().any(|line| line.starts_with("# Unreviewed: "));
            assert_eq!(marked, !language.is_reviewed(), "{language:?}");
        }
    }

    /// Each is in its own words, its own script, and Latin digits; what is the same everywhere is named.
    #[test]
    fn every_language_is_translated() {
        let same = [
            "app",
            "column-values",
            "sheet-pdf",
            "sheet-pdf-letter",
            "decimal-mark",
        ];
        // Of variables and marks only.
        let wordless = |text: &str| {
            let outside = text
                .split('}')
                .map(|part| part.split('{').next().unwrap_or_default());
            !outside.collect::<String>().chars().any(char::is_alphabetic)
        };
        // What happens to be written alike in German or in Spanish and in English.
        let alike = [
            "month-4",
            "month-8",
            "month-9",
            "month-11",
            "person-arm",
            "unit-d",
            "unit-h",
            "unit-min",
            "unit-s",
            "status-adapter",
            "status-journal",
            "status-radio",
            "moment",
        ];
        let english: BTreeMap<_, _> = Language::English
            .text()
            .lines()
            .filter_map(|l| l.split_once(" = "))
            .collect();
        for language in Language::ALL
            .into_iter()
            .filter(|language| *language != Language::English)
        {
            let script = match language {
                Language::Hindi => Some('\u{900}'..='\u{97f}'),
                Language::Tamil => Some('\u{b80}'..='\u{bff}'),
                Language::English | Language::German | Language::Spanish => None,
            };
            for line in language.text().lines().filter(|line| !line.starts_with('#')) {
                assert!(
                    !line.chars().any(|c| c.is_numeric() && !c.is_ascii_digit()),
                    "{line}"
                );
                let Some((name, text)) = line.split_once(" = ") else {
                    continue;
                };
                let translated = match &script {
                    Some(script) => text.chars().any(|c| script.contains(&c)),
                    None => {
                        text != english[name] || name.starts_with("month-short-") || alike.contains(&name)
                    }
                };
                assert!(
                    same.contains(&name) || translated || text.contains("->") || wordless(text),
                    "{name} is not translated: {line}"
                );
            }
        }
    }

    #[test]
    fn numbers_and_dates_are_right_for_each() {
        let (english, hindi) = (Language::English.words(), Language::Hindi.words());
        let monday = date(2026, 3, 2);
        assert_eq!(english.date(monday), "Monday 2 March");
        assert_eq!(hindi.date(monday), "सोमवार, 2 मार्च");
        assert_eq!(english.date_with_year(monday), "2 March 2026");
        assert_eq!(hindi.month(monday), "मार्च 2026");
        assert_eq!(english.moment(monday.at(7, 5, 9, 0)), "Monday 2 March, 07:05");
        assert_eq!(hindi.moment(monday.at(7, 5, 9, 0)), "सोमवार, 2 मार्च, 07:05 बजे");
        assert_eq!(english.day(monday, monday), "today");
        assert_eq!(english.day(monday, date(2026, 3, 1)), "tomorrow");
        assert_eq!(english.day(monday, date(2026, 3, 3)), "yesterday");
        assert_eq!(english.day(monday, date(2026, 2, 1)), "on Monday 2 March");
        let many = |words: &Words, n: i64| words.with("readings-set-aside", &[("n", n.into())]);
        assert!(many(english, 1).starts_with("1 reading was"));
        assert!(many(english, 2).starts_with("2 readings were"));
        assert!(many(english, 0).starts_with("No reading"));
        assert!(many(hindi, 1).starts_with("1 नाप "));
        assert!(many(hindi, 12).starts_with("12 नापें "));
        let [german, spanish, tamil] =
            [Language::German, Language::Spanish, Language::Tamil].map(Language::words);
        assert_eq!(german.moment(monday.at(7, 5, 9, 0)), "Montag, 2. März, 07:05 Uhr");
        assert_eq!(german.date_with_year(monday), "2. März 2026");
        assert_eq!(spanish.day(monday, date(2026, 2, 1)), "el lunes, 2 de marzo");
        assert_eq!(spanish.month(monday), "marzo de 2026");
        assert_eq!(tamil.date_with_year(monday), "2 மார்ச், 2026");
        assert!(many(german, 1).starts_with("1 Messung wurde"));
        assert!(many(german, 0).starts_with("Keine Messung"));
        assert!(many(spanish, 2).starts_with("Se apartaron 2 mediciones"));
        assert!(many(tamil, 2).starts_with("2 அளவீடுகள் "));
        assert_eq!(german.decimal("128.4/81.2"), "128,4/81,2");
        assert_eq!(tamil.decimal("128.4/81.2"), "128.4/81.2");
    }

    /// The page says what the command line says.
    #[test]
    fn every_reason_and_task_has_its_words() {
        for reason in Reason::ALL {
            assert_eq!(
                Language::English
                    .words()
                    .say(&format!("reason-{}", reason.name())),
                reason.rule().says
            );
        }
        for task in [
            Task::Check,
            Task::ChangeBatteries,
            Task::PlanReplacement,
            Task::Replace,
        ] {
            let name = format!("task-{}", task.name());
            assert!(Language::English.words().messages.has_message(&name), "{name}");
        }
    }

    /// What of a limit is our own choice is said in every language, and in English as the table of limits has it.
    #[test]
    fn every_choice_of_a_limit_is_said() {
        for row in crate::monitoring::escalation::LEVELS {
            let name = format!("choice-{}", row.about.name());
            assert_eq!(Language::English.words().say(&name), row.choice, "{name}");
            for other in Language::ALL
                .into_iter()
                .filter(|language| *language != Language::English)
            {
                assert_ne!(other.words().say(&name), row.choice, "{name}");
            }
        }
    }

    /// All source below `folder`, without its tests.
    fn source(folder: &std::path::Path) -> String {
        let mut text = String::new();
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                text += &source(&path);
            } else if path.extension().is_some_and(|e| e == "rs") {
                let all = std::fs::read_to_string(&path).unwrap();
                text += all.split("#[cfg(test)]").next().unwrap();
            }
        }
        text
    }

    /// No message is named in the source that is not in the catalogue, and none is in it that nobody says.
    #[test]
    fn what_is_said_exists_and_what_exists_is_said() {
        let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
        let own = std::fs::read_to_string(root.join("words.rs")).unwrap();
        let said_by = [
            source(&root.join("home")),
            source(&root.join("export")),
            source(&root.join("monitoring")),
            source(&root.join("words")),
            source(&root.join("cli")),
            source(&root.join("snapshot")),
            own.split("#[cfg(test)]").next().unwrap().to_owned(),
        ]
        .concat();
        let words = Language::English.words();
        let mut said = 0;
        for opening in [".say(", ".with(", "Said::of("] {
            for rest in said_by.split(opening).skip(1) {
                let named = rest.trim_start().strip_prefix('"');
                let name = named.and_then(|rest| rest.split('"').next());
                // A sentence is no name: the demonstration says its own.
                if let Some(name) = name.filter(|name| !name.contains(' ')) {
                    assert!(words.messages.has_message(name), "{name} is said and not there");
                    said += 1;
                }
            }
        }
        assert!(said > 100, "{said}");
        for name in messages(Language::English.text()).keys() {
            let stem = name.rsplit_once('-').map_or("", |(stem, _)| stem);
            // As it stands; with its end from a name, such as that of a reason; or numbered.
            let ways = [
                format!("\"{name}\""),
                format!("\"{stem}-{{"),
                format!("numbered(\"{stem}\""),
            ];
            let first = name.split('-').next().unwrap_or_default();
            assert!(
                ways.iter().any(|way| said_by.contains(way)) || said_by.contains(&format!("\"{first}-{{")),
                "{name} is there and nobody says it"
            );
        }
    }
}
