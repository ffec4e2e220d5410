//! A sentence that each language says in its own words: the names of messages with their variables.
//!
//! Whoever works something out makes one, and whoever shows it chooses the language. JSON and FHIR have the English.

use super::{Language, Value, Words};
use jiff::civil::Date;
use serde::{Serialize, Serializer};
use std::borrow::Cow;
use std::fmt;
use std::ops::Deref;

/// A sentence, or several that follow one another. As text it is the English one.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Said {
    english: String,
    sentences: Vec<Sentence>,
}

/// A message with its variables.
#[derive(Clone, PartialEq, Eq, Debug)]
struct Sentence {
    name: Cow<'static, str>,
    values: Vec<(&'static str, Part)>,
}

/// What a variable stands for.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Part {
    /// The same in every language: a name, a source, or what somebody wrote.
    Text(String),
    /// A number that a message tells one from many by.
    Count(i64),
    /// A number that is written with a point, such as `128.4/81.2`.
    Number(String),
    /// A day; as text, such as `2026-03-02`.
    Day(Date),
    /// Days in words, also as text.
    Days(Vec<Date>),
    /// A day without its year.
    DayOfMonth(Date),
    /// A day as seen from another, such as `tomorrow`.
    SeenFrom(Date, Date),
    /// A reason of technique by its short name; as text, by the name that programs read.
    Reason(&'static str),
    /// A message of its own, or nothing.
    Said(Option<Said>),
    /// Several of them, in a list.
    List(Vec<Said>),
}

impl Said {
    /// A message with its variables.
    pub fn of(
        name: impl Into<Cow<'static, str>>,
        values: impl IntoIterator<Item = (&'static str, Part)>,
    ) -> Self {
        let (name, values) = (name.into(), values.into_iter().collect());
        Self::new(vec![Sentence { name, values }])
    }

    /// The same with more behind it.
    #[must_use]
    pub fn and(mut self, more: Option<Self>) -> Self {
        let Some(more) = more else { return self };
        self.sentences.extend(more.sentences);
        Self::new(self.sentences)
    }

    /// The English sentence.
    pub fn as_str(&self) -> &str {
        &self.english
    }

    fn new(sentences: Vec<Sentence>) -> Self {
        let english = Language::English.words().sentences(&sentences, true);
        Self { english, sentences }
    }
}

impl Words {
    /// The sentence in this language.
    pub fn of(&self, said: &Said) -> String {
        self.sentences(&said.sentences, false)
    }

    fn sentences(&self, sentences: &[Sentence], plain: bool) -> String {
        let one = |sentence: &Sentence| {
            let values = sentence.values.iter();
            let values: Vec<(&str, Value<'_>)> = values
                .map(|(name, part)| (*name, self.part(part, plain)))
                .collect();
            self.with(&sentence.name, &values)
        };
        sentences.iter().map(one).collect::<Vec<_>>().join(" ")
    }

    /// In plain text, for programs, a day is written as ISO 8601 has it.
    fn part(&self, part: &Part, plain: bool) -> Value<'static> {
        match part {
            Part::Text(text) => text.clone().into(),
            Part::Count(n) => (*n).into(),
            Part::Number(number) => self.decimal(number).into(),
            Part::Day(day) if plain => day.to_string().into(),
            Part::Day(day) => self.date_with_year(*day).into(),
            Part::DayOfMonth(day) => self.day_of_month(*day).into(),
            Part::SeenFrom(day, today) => self.day(*day, *today).into(),
            Part::Reason(name) if plain => (*name).into(),
            Part::Reason(name) => self.say(&format!("why-{name}")).into(),
            Part::Days(days) => {
                let days: Vec<String> = days.iter().map(|day| self.date_with_year(*day)).collect();
                self.list(&days).into()
            }
            Part::Said(said) => {
                let said = said.as_ref();
                said.map_or_else(String::new, |said| self.sentences(&said.sentences, plain))
                    .into()
            }
            Part::List(list) => {
                let list: Vec<String> = list
                    .iter()
                    .map(|said| self.sentences(&said.sentences, plain))
                    .collect();
                self.list(&list).into()
            }
        }
    }

    /// `a`, `a and b`, `a, b and c`.
    pub fn list<T: AsRef<str>>(&self, items: &[T]) -> String {
        match items {
            [] => String::new(),
            [only] => only.as_ref().to_owned(),
            [most @ .., last] => {
                let most: Vec<&str> = most.iter().map(AsRef::as_ref).collect();
                let values = [("most", most.join(", ").into()), ("last", last.as_ref().into())];
                self.with("list-and", &values)
            }
        }
    }
}

impl Deref for Said {
    type Target = str;

    fn deref(&self) -> &str {
        &self.english
    }
}

impl PartialEq<&str> for Said {
    fn eq(&self, other: &&str) -> bool {
        self.english == *other
    }
}

impl fmt::Display for Said {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.english)
    }
}

impl Serialize for Said {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.english)
    }
}

impl From<Said> for String {
    fn from(said: Said) -> Self {
        said.english
    }
}

impl From<usize> for Part {
    fn from(n: usize) -> Self {
        Self::Count(i64::try_from(n).unwrap_or(i64::MAX))
    }
}

impl From<u16> for Part {
    fn from(n: u16) -> Self {
        Self::Count(n.into())
    }
}

impl From<u32> for Part {
    fn from(n: u32) -> Self {
        Self::Count(n.into())
    }
}

impl From<Date> for Part {
    fn from(day: Date) -> Self {
        Self::Day(day)
    }
}

impl From<Said> for Part {
    fn from(said: Said) -> Self {
        Self::Said(Some(said))
    }
}

impl From<&str> for Part {
    fn from(text: &str) -> Self {
        Self::Text(text.to_owned())
    }
}
