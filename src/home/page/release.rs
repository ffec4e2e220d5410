//! What of a person's measurements may go to the clinic: stated, withdrawn, and what was said before, by whom and when.

use super::answer::Answer;
use super::ask::{Ask, Wrong};
use super::frame::{encoded, token};
use crate::delivery::released_to;
use crate::delivery::releases::{Leave, Releases, said};
use crate::home::live::Book;
use crate::household::{BY_CHARS_MAX, PersonId, Statement};
use crate::monitoring::stated::Stated;
use jiff::civil::Date;
use maud::{Markup, html};

/// The clinic that the configuration names, and how it stands with a person's measurements there.
pub(super) struct ReleasedTo {
    clinic: String,
    releases: Releases,
}

impl ReleasedTo {
    /// `None` where the configuration names no clinic.
    pub(super) fn of(book: &Book, known: &Stated) -> Option<Self> {
        let (clinic, releases) = released_to(book.place.clinic(), &known.household)?;
        Some(Self { clinic, releases })
    }
}

/// One person's, for whoever sees them; whoever may state something about them gives it and takes it back.
pub(super) fn stated(ask: &Ask, known: &Stated, at: &ReleasedTo, person: &PersonId) -> Markup {
    let words = ask.words;
    let leave = at.releases.leave(person);
    let all = known
        .household
        .releases
        .get(person)
        .map_or(&[][..], Vec::as_slice);
    if leave.is_none() && all.is_empty() {
        return html! {};
    }
    let now = known.household.release(person, &at.clinic);
    let mut lines = match (now, leave) {
        (Some(release), _) => said(release, &known.zones, words),
        (None, Some(leave)) => vec![leave.why_held(&known.zones, words)],
        (None, None) => Vec::new(),
    };
    if leave.is_none() {
        lines.push(words.say("release-not-chosen"));
    }
    let heading = format!("r-{person}");
    html! {
        h3 #(heading) { (words.say("release-title")) }
        @for line in &lines { p { bdi { (line) } } }
        @if ask.viewer.writes(person) && leave.is_some() {
            details.handover {
                summary aria-describedby=(heading) { (words.say("person-change")) }
                p.small { (words.with("release-say", &[("clinic", at.clinic.as_str().into())])) }
                (form(ask, known, person, at))
            }
        }
        @let before: Vec<_> = all.iter().rev().filter(|one| now.is_none_or(|now| !std::ptr::eq(*one, now))).collect();
        @if !before.is_empty() {
            details.handover {
                summary aria-describedby=(heading) { (words.say("calls-before")) }
                ul.notes {
                    @for release in before {
                        li { bdi { (release.clinic) ": " (said(release, &known.zones, words).join("; ")) } }
                    }
                }
            }
        }
    }
}

fn form(ask: &Ask, known: &Stated, person: &PersonId, at: &ReleasedTo) -> Markup {
    let leave = at.releases.leave(person);
    let (from, until) = match leave {
        Some(Leave::Days { from, until }) => (*from, *until),
        _ => (None, None),
    };
    // Whoever released once and took it back begins anew today, unless they say otherwise: what was measured meanwhile
    // was not meant to go.
    let from = match leave {
        Some(Leave::Withdrawn(_)) => Some(known.zones.civil(ask.now).date()),
        _ => from,
    };
    let shown = |day: Option<Date>| day.map(|day| day.to_string()).unwrap_or_default();
    html! {
        form.facts method="post" action="/release" {
            (token(ask))
            input type="hidden" name="person" value=(person);
            @for (field, value) in [("first", from), ("last", until)] {
                @let id = format!("{field}-{person}");
                label for=(id) { (ask.say(&format!("release-{field}"))) }
                input id=(id) name=(field) type="date" value=(shown(value));
            }
            button.accent name="do" value="give" { (ask.say("release-give")) }
            @if leave.is_some_and(Leave::is_open) {
                " " button.quiet name="do" value="back" { (ask.say("release-take-back")) }
            }
        }
    }
}

/// Takes the form. What is already so is not stated again.
pub(super) fn save(ask: &Ask, book: &mut Book) -> Result<Answer, Wrong> {
    let person = ask.person(book)?.ok_or(Wrong::NotFound)?;
    if !ask.viewer.writes(&person) {
        return Err(Wrong::NotYours);
    }
    let known = book.known()?;
    let at = ReleasedTo::of(book, &known).ok_or(Wrong::NotFound)?;
    let leave = at.releases.leave(&person).ok_or(Wrong::NotFound)?;
    let day = |name: &str| match ask.field(name) {
        Some(text) => text
            .parse::<Date>()
            .map(Some)
            .map_err(|_| Wrong::Value(text.chars().take(40).collect())),
        None => Ok(None),
    };
    let by = ask
        .viewer
        .name()
        .map(|name| name.chars().take(BY_CHARS_MAX).collect());
    let statement = if ask.field("do") == Some("back") {
        leave.is_open().then(|| Statement::ReleaseWithdrawn {
            person: person.clone(),
            clinic: at.clinic.clone(),
            by,
            at: ask.now,
        })
    } else {
        let (from, until) = (day("first")?, day("last")?);
        if let (Some(from), Some(until)) = (from, until)
            && until < from
        {
            return Err(Wrong::Value(format!("{from} – {until}")));
        }
        (*leave != Leave::Days { from, until }).then(|| Statement::Released {
            person: person.clone(),
            clinic: at.clinic.clone(),
            from,
            until,
            by,
            at: ask.now,
        })
    };
    if let Some(statement) = statement {
        book.state(&[statement])?;
    }
    Ok(Answer::see(&format!("/people#r-{}", encoded(&person))))
}
