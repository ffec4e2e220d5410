//! Many people, or many monitors: so many at a time, a field to search by, and links to the other parts. Where they are few,
//! all of them stand there, and nothing else.

use super::ask::Ask;
use crate::household::PersonId;
use crate::monitoring::stated::Stated;
use maud::{Markup, html};

/// So many people, or monitors, stand on a page (own choice): each takes about a screen of a phone, and a page of more is
/// slow to make and to read.
pub(super) const SHOWN_MAX: usize = 10;

/// The longest name that is searched for: longer than one that can be given.
const FIND_CHARS_MAX: usize = 100;

/// One part of them.
pub(super) struct Part<T> {
    /// Those of this part.
    pub(super) shown: Vec<T>,
    /// How many there are.
    all: usize,
    /// How many are called so.
    found: usize,
    /// Which part this is, from 0 on.
    nth: usize,
    /// What was searched for.
    wanted: String,
}

impl<T> Part<T> {
    /// The part that was asked for, of those whose names hold what was searched for.
    pub(super) fn of(ask: &Ask, all: impl Iterator<Item = T>, called: impl Fn(&T) -> String) -> Self {
        let all: Vec<T> = all.collect();
        let wanted = ask.field("find").unwrap_or_default();
        let wanted: String = wanted.chars().take(FIND_CHARS_MAX).collect();
        let lower = wanted.to_lowercase();
        let count = all.len();
        let found: Vec<T> = all
            .into_iter()
            .filter(|one| lower.is_empty() || called(one).to_lowercase().contains(&lower))
            .collect();
        let last = found.len().saturating_sub(1) / SHOWN_MAX;
        let part: usize = ask.field("part").and_then(|part| part.parse().ok()).unwrap_or(1);
        let nth = part.saturating_sub(1).min(last);
        Self {
            all: count,
            found: found.len(),
            shown: found.into_iter().skip(nth * SHOWN_MAX).take(SHOWN_MAX).collect(),
            nth,
            wanted,
        }
    }

    /// Whether there is nobody, whatever was searched for.
    pub(super) const fn is_empty(&self) -> bool {
        self.all == 0
    }

    /// Whether there are more than stand on one page.
    pub(super) const fn is_part(&self) -> bool {
        self.all > SHOWN_MAX
    }

    /// Whether somebody looks for another than those who stand there at first.
    pub(super) fn is_looked_for(&self, ask: &Ask) -> bool {
        self.is_searched() || ask.field("part").is_some()
    }

    /// Whether somebody searches.
    const fn is_searched(&self) -> bool {
        !self.wanted.is_empty()
    }

    /// The field to search by, what is shown, and the other parts.
    pub(super) fn links(&self, ask: &Ask) -> Markup {
        let parts = self.found.div_ceil(SHOWN_MAX);
        let range = |nth: usize| (nth * SHOWN_MAX + 1, (nth * SHOWN_MAX + SHOWN_MAX).min(self.found));
        let number = |n: usize| i64::try_from(n).unwrap_or(i64::MAX).into();
        let (from, to) = range(self.nth);
        html! {
            @if self.is_part() {
                form.find role="search" method="get" action=(ask.path) {
                    @if let Some(person) = ask.field("person") { input type="hidden" name="person" value=(person); }
                    label for="find" { (ask.say("find-label")) }
                    input #find type="search" name="find" value=(self.wanted) maxlength=(FIND_CHARS_MAX) autocomplete="off";
                    button type="submit" { (ask.say("find-do")) }
                }
                @if self.found == 0 {
                    p role="status" { (ask.say("find-none")) }
                } @else {
                    p.small role="status" {
                        (ask.words.with("find-shown", &[("from", number(from)), ("to", number(to)), ("n", number(self.found))]))
                    }
                }
                @if parts > 1 {
                    nav.parts aria-label=(ask.say("find-parts")) {
                        ul {
                            @for nth in 0..parts {
                                @let (from, to) = range(nth);
                                li {
                                    a href=(self.address(ask, nth)) aria-current=[(nth == self.nth).then_some("true")] {
                                        (from) "–" (to)
                                    }
                                }
                            }
                        }
                    }
                }
            }
        }
    }

    fn address(&self, ask: &Ask, nth: usize) -> String {
        let mut query = form_urlencoded::Serializer::new(String::new());
        if let Some(person) = ask.field("person") {
            query.append_pair("person", person);
        }
        if self.is_searched() {
            query.append_pair("find", &self.wanted);
        }
        query.append_pair("part", &(nth + 1).to_string());
        format!("{}?{}", ask.path, query.finish())
    }
}

/// Whom a form names: a button for each, or where they are many a list with a button behind it.
pub(super) fn whom(ask: &Ask, known: &Stated, people: &[&PersonId], id: &str) -> Markup {
    html! {
        @if people.len() <= SHOWN_MAX {
            @for person in people { button name="person" value=(person) { bdi { (known.label(person)) } } }
        } @else {
            label for=(id) { (ask.say("number-whose")) }
            select id=(id) name="person" {
                option value="" { "–" }
                @for person in people { option value=(person) { (known.label(person)) } }
            }
            button type="submit" { (ask.say("answer-save")) }
        }
    }
}
