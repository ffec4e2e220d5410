//! For the clinic: the sheet, made at this moment, in a thread of its own so that no screen waits for it.

use super::answer::Answer;
use super::ask::{Ask, Wrong};
use super::shared::Shared;
use super::{frame, listening};
use crate::export::report::{Paper, ReportForm};
use crate::home::live::{Book, PagePlace};
use crate::household::PersonId;
use crate::journal::Journal;
use crate::monitoring::listening::ListeningTrouble;
use crate::snapshot::faces::{NoFont, faces_for};
use crate::snapshot::period::{Asked, FindError, TooMany, find};
use crate::words::Words;
use hyper::{StatusCode, header};
use jiff::Timestamp;
use jiff::civil::Date;
use maud::html;

pub(super) fn page(ask: &Ask, book: &mut Book) -> Result<Answer, Wrong> {
    let title = ask.say("title-sheet");
    let known = book.known()?;
    let person = ask.one(book)?;
    let heard = listening::notices(book, &known, ask.words, ask.now)?;
    let today = known.zones.civil(ask.now).date();
    // What is meant where nothing else is said: the days that run, else the last.
    let begun = person.iter().flat_map(|person| known.plans(person));
    let meant = begun
        .filter(|plan| plan.from <= today)
        .max_by_key(|plan| plan.from);
    let body = match &person {
        None => html! { h1 { (title) } (frame::nobody(ask.words)) },
        Some(person) => html! {
            h1 { (title) " · " bdi { (known.label(person)) } }
            (heard)
            p.lead { (ask.say("sheet-say")) }
            form.sheet method="get" action="/sheet/open" {
                input type="hidden" name="person" value=(person);
                label for="from" { (ask.say("sheet-from")) }
                input #from type="date" name="from" value=[meant.map(|plan| plan.from)] aria-describedby="default";
                label for="days" { (ask.say("sheet-days")) }
                input #days type="number" name="days" min="1" max="3700" inputmode="numeric" aria-describedby="default"
                    value=[meant.map(|plan| plan.days)];
                p.small #default { (ask.say("sheet-default")) }
                label { input type="checkbox" name="readings" value="all"; " " (ask.say("sheet-list-all")) }
                div.taps {
                    button.accent name="as" value="html" { (ask.say("sheet-open")) }
                    button name="as" value="pdf" { (ask.say("sheet-pdf")) }
                    button name="as" value="pdf-letter" { (ask.say("sheet-pdf-letter")) }
                }
            }
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

/// Makes the sheet and hands it over.
pub(super) async fn open(ask: Ask, shared: &Shared) -> Answer {
    let asked_for = match asked_for(&ask) {
        Ok(asked_for) => asked_for,
        Err(wrong) => return wrong.answer(&ask),
    };
    let ask = std::sync::Arc::new(ask);
    let asked = ask.clone();
    let found = shared
        .desk
        .ask(move |book| {
            let person = asked.one(book)?.ok_or(Wrong::NotFound)?;
            let nothing_yet = book.journal.last_before(&person, asked.now)?.is_none();
            let troubles = book.troubles(asked.now)?;
            Ok::<_, Wrong>((person, (book.place.clone(), troubles), nothing_yet))
        })
        .await;
    let (person, here, nothing_yet) = match found {
        Ok(Ok(found)) => found,
        Ok(Err(wrong)) => return wrong.answer(&ask),
        Err(_) => return Wrong::Busy.answer(&ask),
    };
    if nothing_yet {
        return Answer::html(frame::plain(
            &ask,
            &ask.say("title-sheet"),
            &ask.say("sheet-none"),
        ));
    }
    let paper = match ask.field("as") {
        Some("pdf") => Some(Paper::A4),
        Some("pdf-letter") => Some(Paper::Letter),
        _ => None,
    };
    let name = name_of(&person);
    let Ok(_place) = shared.sheets.try_acquire() else {
        return Wrong::Busy.answer(&ask);
    };
    let (now, words) = (ask.now, ask.words);
    let how = How {
        paper,
        words,
        list_all: ask.field("readings").is_some(),
    };
    let made = tokio::task::spawn_blocking(move || make(here, &person, &asked_for, &how, now)).await;
    match made {
        Ok(Ok(sheet)) => match paper {
            None => Answer::sheet(sheet),
            Some(_) => Answer::of("application/pdf", sheet).with(header::CONTENT_DISPOSITION, name),
        },
        // Its words say what, and what to do; that there is nothing yet was found before.
        Ok(Err(error)) => Answer::html(frame::plain(&ask, &ask.say("title-sheet"), &error.said(words)))
            .status(StatusCode::UNPROCESSABLE_ENTITY),
        Err(_) => Wrong::Busy.answer(&ask),
    }
}

fn name_of(person: &PersonId) -> String {
    let safe: String = person
        .as_str()
        .chars()
        .filter(char::is_ascii_alphanumeric)
        .collect();
    format!("inline; filename=\"blood-pressure-{safe}.pdf\"")
}

pub(super) fn asked_for(ask: &Ask) -> Result<Asked, Wrong> {
    let wrong = |text: &str| Wrong::Value(text.chars().take(40).collect());
    let from = ask
        .field("from")
        .map(|text| text.parse::<Date>().map_err(|_| wrong(text)))
        .transpose()?;
    let days = ask
        .field("days")
        .map(|text| text.parse::<u16>().map_err(|_| wrong(text)))
        .transpose()?;
    Ok(Asked {
        protocol: None,
        from,
        days,
    })
}

/// Why there is no sheet.
#[derive(Debug, thiserror::Error)]
enum SheetError {
    #[error(transparent)]
    Find(#[from] FindError),
    #[error(transparent)]
    TooMany(#[from] TooMany),
    #[error(transparent)]
    NoFont(#[from] NoFont),
}

impl SheetError {
    fn said(&self, words: &Words) -> String {
        match self {
            Self::NoFont(NoFont { scripts, packages }) => {
                let values = [
                    ("scripts", scripts.as_str().into()),
                    ("packages", packages.as_str().into()),
                ];
                words.with("sheet-no-font", &values)
            }
            Self::Find(FindError::NothingYet) => words.say("sheet-none"),
            Self::Find(FindError::Empty(said)) => words.of(said),
            Self::TooMany(error) => error.said(words),
            Self::Find(error) => error.to_string(),
        }
    }
}

/// What the sheet is to be.
struct How {
    paper: Option<Paper>,
    words: &'static Words,
    /// Every reading is listed, of many days too.
    list_all: bool,
}

fn make(
    (place, troubles): (PagePlace, Vec<ListeningTrouble>),
    person: &PersonId,
    asked: &Asked,
    how: &How,
    now: Timestamp,
) -> Result<Vec<u8>, SheetError> {
    let mut journal = Journal::read(&place.state).map_err(FindError::Journal)?;
    let stated = place.stated(&journal).map_err(FindError::Journal)?;
    let found = find(&mut journal, &stated, person, asked, now)?;
    let mut report = found.report(now)?;
    report.troubles = troubles;
    report.words = how.words;
    report.list_all = how.list_all;
    Ok(match how.paper {
        None => report.write(ReportForm::Html),
        Some(paper) => report.write(ReportForm::Pdf(paper, &faces_for(&report.letters())?)),
    })
}
