//! Notes: what the radio cannot see, with one tap.

use super::answer::Answer;
use super::ask::{Ask, Wrong};
use super::frame::{self, encoded, token};
use crate::home::live::Book;
use crate::household::{Note, PersonId, Posed, StatedNote, Statement};
use crate::monitoring::called::symptom_called;
use crate::monitoring::stated::Stated;
use crate::monitoring::symptoms::{self, Named, SYMPTOMS, named};
use jiff::{SignedDuration, Timestamp};
use maud::{Markup, html};

/// How far back a tap can be meant, in minutes.
const AGO: [i64; 4] = [0, 15, 30, 60];
/// The longest text: a few sentences.
const TEXT_CHARS_MAX: usize = 500;
/// Notes that are listed, newest first.
const LISTED_MAX: usize = 20;

/// What one tap notes, under the catalogue's name of the group.
const TAPS: [(&str, &[&str]); 3] = [
    (
        "notes-day",
        &[
            "medicine", "coffee", "meal", "exercise", "smoking", "alcohol", "waking", "dinner", "bed",
        ],
    ),
    (
        "notes-measuring",
        &["no-rest", "talked", "full-bladder", "over-clothing"],
    ),
    ("notes-kind", &["standing", "lying", "night", "seated"]),
];

/// Words of one's own about how one feels.
pub(super) const SOMETHING_ELSE: &str = "something-else";

/// The note of a tap.
fn made(kind: &str) -> Option<Note> {
    Some(match kind {
        "medicine" => Note::Medicine { text: None },
        "coffee" => Note::Coffee,
        "meal" => Note::Meal,
        "exercise" => Note::Exercise,
        "smoking" => Note::Smoking,
        "alcohol" => Note::Alcohol,
        "waking" => Note::Waking,
        "dinner" => Note::Dinner,
        "bed" => Note::Bed,
        "no-rest" => Note::NoRest,
        "talked" => Note::Talked,
        "full-bladder" => Note::FullBladder,
        "over-clothing" => Note::OverClothing,
        kind => Note::Measured {
            posed: Posed::of_name(kind)?,
        },
    })
}

pub(super) fn page(ask: &Ask, book: &mut Book) -> Result<Answer, Wrong> {
    let title = ask.say("title-notes");
    let known = book.known()?;
    let person = ask.one(book)?;
    let body = match &person {
        None => html! { h1 { (title) } (frame::nobody(ask.words)) },
        Some(person) => html! {
            h1 { (title) " · " bdi { (known.label(person)) } }
            @if ask.viewer.writes(person) { (taps(ask, &known, person)) }
            (lately(ask, &known, person))
        },
    };
    let page = frame::Page {
        title: &title,
        person: person.as_ref(),
        of_people: true,
        live: None,
    };
    Ok(Answer::html(frame::page(ask, book, &page, &body)?))
}

/// How somebody feels, with what to do in sight.
fn symptoms(ask: &Ask, known: &Stated, person: &PersonId) -> Markup {
    let pregnant = known.is_pregnant(person, ask.now);
    html! {
        @if pregnant { input type="hidden" name="pregnant" value="yes"; }
        (list_of_symptoms(ask, pregnant))
        div.own {
            label for="else" { (ask.say("something-else")) }
            textarea #else name="else" rows="2" maxlength=(TEXT_CHARS_MAX) aria-describedby="else-say" {}
            p.small #else-say { (ask.say("something-else-say")) }
            button type="submit" name="what" value=(SOMETHING_ELSE) { (ask.say("note-it")) }
        }
    }
}

/// One button for each symptom of the list.
pub(super) fn list_of_symptoms(ask: &Ask, pregnant: bool) -> Markup {
    html! {
        fieldset.taps #symptoms {
            legend { (ask.say("notes-symptoms")) }
            p.also { (ask.say("emergency-if")) }
            @if pregnant { p.also { (ask.say("pregnancy-if")) } }
            @for symptom in SYMPTOMS.iter().filter(|symptom| pregnant || !symptom.of_pregnancy) {
                button type="submit" name="what" value=(symptom.name) { (symptom_named(symptom.name, ask)) }
            }
            button.quiet type="submit" name="what" value=(symptoms::NONE) { (symptom_named(symptoms::NONE, ask)) }
        }
    }
}

fn symptom_named(name: &str, ask: &Ask) -> String {
    ask.say(&format!("symptom-{name}"))
}

fn taps(ask: &Ask, known: &Stated, person: &PersonId) -> Markup {
    html! {
        form method="post" action="/notes" {
            (token(ask))
            input type="hidden" name="person" value=(person);
            p.lead { (ask.say("notes-say")) }
            fieldset.choice {
                legend { (ask.say("notes-when")) }
                @for minutes in AGO {
                    label {
                        input type="radio" name="ago" value=(minutes) checked[minutes == 0];
                        " " (match minutes {
                            0 => ask.say("notes-now"),
                            60 => ask.say("notes-hour"),
                            n => ask.words.with("notes-minutes", &[("n", n.to_string().into())]),
                        })
                    }
                }
            }
            (symptoms(ask, known, person))
            @for (group, kinds) in TAPS {
                fieldset.taps #(group.trim_start_matches("notes-")) {
                    legend { (ask.say(group)) }
                    @for kind in kinds {
                        button type="submit" name="what" value=(kind) { (ask.say(&format!("note-{kind}"))) }
                    }
                }
            }
            div.own {
                label for="text" { (ask.say("notes-words")) }
                textarea #text name="text" rows="2" maxlength=(TEXT_CHARS_MAX) {}
                button type="submit" name="what" value="other" { (ask.say("note-it")) }
            }
        }
    }
}

fn lately(ask: &Ask, known: &Stated, person: &PersonId) -> Markup {
    let mut mine: Vec<(&String, &StatedNote)> = known
        .household
        .notes
        .iter()
        .filter(|(_, note)| note.person.as_ref() == Some(person))
        .collect();
    mine.sort_by_key(|(_, note)| std::cmp::Reverse(note.at));
    html! {
        section aria-labelledby="lately" {
            h2 #lately { (ask.say("noted-lately")) }
            @if mine.is_empty() { p { (ask.say("noted-none")) } }
            ul.notes {
                @for (id, note) in mine.into_iter().take(LISTED_MAX) {
                    li {
                        span.at { (ask.words.moment(known.zones.civil(note.at))) } " "
                        bdi { (in_words(&note.what, ask)) }
                        @if ask.viewer.writes(person) {
                            form method="post" action="/notes/take-back" {
                                (token(ask))
                                input type="hidden" name="person" value=(person);
                                button.quiet name="note" value=(id) aria-describedby={ "n" (id) } { (ask.say("take-back")) }
                            }
                            span #{ "n" (id) } .unseen { (in_words(&note.what, ask)) }
                        }
                    }
                }
            }
        }
    }
}

/// A note in the reader's language; what people wrote themselves stays as they wrote it.
fn in_words(note: &Note, ask: &Ask) -> String {
    let with = |name: &str, text: &Option<String>| match text {
        Some(text) => format!("{}: {text}", ask.say(name)),
        None => ask.say(name),
    };
    match note {
        Note::Medicine { text } => with("note-medicine", text),
        Note::MedicineChanged { text } => with("note-medicine-changed", text),
        Note::Coffee => ask.say("note-coffee"),
        Note::Smoking => ask.say("note-smoking"),
        Note::Exercise => ask.say("note-exercise"),
        Note::Alcohol => ask.say("note-alcohol"),
        Note::Meal => ask.say("note-meal"),
        Note::Waking => ask.say("note-waking"),
        Note::Dinner => ask.say("note-dinner"),
        Note::Bed => ask.say("note-bed"),
        Note::Symptoms { symptoms } => {
            let words: Vec<String> = symptoms
                .iter()
                .map(|symptom| symptom_in_words(symptom, ask))
                .collect();
            format!("{}: {}", ask.say("note-symptoms"), words.join(", "))
        }
        Note::Posture { fault } => format!("{}: {fault}", ask.say("note-posture")),
        Note::FullBladder => ask.say("note-full-bladder"),
        Note::NoRest => ask.say("note-no-rest"),
        Note::Talked => ask.say("note-talked"),
        Note::OverClothing => ask.say("note-over-clothing"),
        Note::Arm {
            arm: crate::household::Arm::Left,
        } => ask.say("note-arm-left"),
        Note::Arm {
            arm: crate::household::Arm::Right,
        } => ask.say("note-arm-right"),
        Note::Measured { posed } => ask.say(&format!("note-{}", posed.name())),
        Note::Cuff { min_mm, max_mm } => format!("{}: {min_mm} – {max_mm} mm", ask.say("note-cuff")),
        Note::ClinicReading { systolic, diastolic } => {
            format!("{}: {systolic}/{diastolic} mmHg", ask.say("note-clinic-reading"))
        }
        Note::MonitorDropped => ask.say("note-monitor-dropped"),
        Note::BatteriesChanged => ask.say("note-batteries-changed"),
        Note::MonitorChecked { text } => with("note-monitor-checked", text),
        Note::Other { text } => text.clone(),
    }
}

fn symptom_in_words(symptom: &str, ask: &Ask) -> String {
    match named(symptom) {
        Named::Chosen(symptom) => symptom_named(symptom.name, ask),
        Named::NoneOfThem => symptom_named(symptoms::NONE, ask),
        Named::Unknown => symptom.to_owned(),
    }
}

/// Takes a tap. One that says how somebody feels is answered by [`super::unwell`].
pub(super) fn note(ask: &Ask, book: &mut Book) -> Result<Answer, Wrong> {
    let person = keep(ask, book)?;
    // Whoever was asked how they feel goes back to where it fills the screen.
    let place = if ask.field("what").is_some_and(is_symptom) {
        "/"
    } else {
        "/notes"
    };
    Ok(Answer::see(&format!("{place}?person={}", encoded(&person))))
}

/// Keeps what a tap notes.
pub(super) fn keep(ask: &Ask, book: &mut Book) -> Result<PersonId, Wrong> {
    let person = ask.person(book)?.ok_or(Wrong::NotFound)?;
    if !ask.viewer.writes(&person) {
        return Err(Wrong::NotYours);
    }
    let kind = ask.field("what").unwrap_or_default();
    let what = match kind {
        "other" => Note::Other {
            text: text_of(ask.field("text").unwrap_or_default())?,
        },
        SOMETHING_ELSE => Note::Symptoms {
            symptoms: vec![in_own_words(ask.field("else").unwrap_or_default())?],
        },
        symptom if is_symptom(symptom) => Note::Symptoms {
            symptoms: vec![symptom.to_owned()],
        },
        kind => made(kind).ok_or_else(|| Wrong::Value(kind.chars().take(40).collect()))?,
    };
    let minutes: i64 = ask
        .field("ago")
        .and_then(|minutes| minutes.parse().ok())
        .filter(|minutes| AGO.contains(minutes))
        .unwrap_or(0);
    let at = ask
        .now
        .checked_sub(SignedDuration::from_mins(minutes))
        .unwrap_or(Timestamp::MIN);
    let stated = StatedNote {
        person: Some(person.clone()),
        monitor: None,
        at,
        what,
    };
    let statement = Statement::Note {
        note: stated.name(ask.now),
        person: stated.person,
        monitor: None,
        at,
        what: stated.what,
    };
    book.state(&[statement])?;
    Ok(person)
}

/// Whether a tap is one of the list, or says that it is none of it.
fn is_symptom(kind: &str) -> bool {
    kind == symptoms::NONE || symptoms::of_name(kind).is_some()
}

/// One of the list, where that is what it is called; else as it was written.
fn in_own_words(text: &str) -> Result<String, Wrong> {
    let text = text_of(text)?;
    Ok(match (named(&text), symptom_called(&text)) {
        (Named::Unknown, Some(name)) => name.to_owned(),
        _ => text,
    })
}

fn text_of(text: &str) -> Result<String, Wrong> {
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    let good =
        !text.is_empty() && text.chars().count() <= TEXT_CHARS_MAX && !text.chars().any(char::is_control);
    if good {
        Ok(text)
    } else {
        Err(Wrong::Value(text.chars().take(40).collect()))
    }
}

/// Takes a note back; only one about this person.
pub(super) fn take_back(ask: &Ask, book: &mut Book) -> Result<Answer, Wrong> {
    let person = ask.person(book)?.ok_or(Wrong::NotFound)?;
    if !ask.viewer.writes(&person) {
        return Err(Wrong::NotYours);
    }
    let id = ask.field("note").unwrap_or_default().to_owned();
    let known = book.known()?;
    let theirs = known
        .household
        .notes
        .get(&id)
        .is_some_and(|note| note.person.as_ref() == Some(&person));
    if !theirs {
        return Err(Wrong::NotFound);
    }
    book.state(&[Statement::NoteWithdrawn { note: id }])?;
    Ok(Answer::see(&format!("/notes?person={}", encoded(&person))))
}
