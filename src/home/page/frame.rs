//! What stands around every page: its head, where one can go, and what has to be said everywhere.

use super::answer::Answer;
use super::ask::{Ask, Wrong};
use super::parts::Part;
use crate::home::live::Book;
use crate::household::PersonId;
use crate::monitoring::stated::Stated;
use crate::words::{Language, Value, Words};
use hyper::StatusCode;
use maud::{DOCTYPE, Markup, html};

/// The pages of each day, with the catalogue's name of each.
const DAILY: [(&str, &str); 7] = [
    ("/", "nav-now"),
    ("/household", "nav-household"),
    ("/week", "nav-week"),
    ("/earlier", "nav-earlier"),
    ("/notes", "nav-notes"),
    ("/questions", "nav-questions"),
    ("/sheet", "nav-sheet"),
];
/// What is set up once.
const SET_UP: [(&str, &str); 2] = [("/monitors", "nav-monitors"), ("/people", "nav-people")];

/// What a page is about.
pub(super) struct Page<'a> {
    pub(super) title: &'a str,
    /// Whose it is.
    pub(super) person: Option<&'a PersonId>,
    /// It is told apart by person.
    pub(super) of_people: bool,
    /// It follows what happens; this is the step at which it stands.
    pub(super) live: Option<&'static str>,
}

impl Wrong {
    pub(super) fn answer(self, ask: &Ask) -> Answer {
        let (status, text) = match self {
            Self::NotFound => (StatusCode::NOT_FOUND, ask.say("error-not-found")),
            Self::NotYours => (StatusCode::FORBIDDEN, ask.say("error-not-yours")),
            Self::Forged => (StatusCode::FORBIDDEN, ask.say("error-forged")),
            Self::Changed => (StatusCode::CONFLICT, ask.say("error-changed")),
            Self::Future => (StatusCode::UNPROCESSABLE_ENTITY, ask.say("error-future")),
            Self::Value(value) => (
                StatusCode::UNPROCESSABLE_ENTITY,
                ask.words.with("error-value", &[("value", value.into())]),
            ),
            Self::Journal(error) => {
                tracing::warn!("{error}");
                (StatusCode::SERVICE_UNAVAILABLE, ask.say("error-journal"))
            }
            Self::Busy => (StatusCode::SERVICE_UNAVAILABLE, ask.say("error-journal")),
        };
        Answer::html(plain(ask, &ask.say("error-title"), &text)).status(status)
    }
}

/// A page that is nobody's own and stands still.
pub(super) fn of_household(ask: &Ask, book: &mut Book, title: &str, body: &Markup) -> Result<Answer, Wrong> {
    let still = Page {
        title,
        person: None,
        of_people: false,
        live: None,
    };
    page(ask, book, &still, body).map(Answer::html)
}

/// A whole page.
pub(super) fn page(ask: &Ask, book: &mut Book, page: &Page<'_>, body: &Markup) -> Result<String, Wrong> {
    let known = book.known()?;
    let waiting = if !ask.viewer.is_for_some() {
        book.journal.unanswered_count()?
    } else {
        0
    };
    let people: Vec<&PersonId> = known.people().filter(|one| ask.viewer.sees(one)).collect();
    let as_of = AsOf::of(ask, &known);
    Ok(document(
        ask,
        page.title,
        (page.live, Some(&as_of)),
        &html! {
            (pages(ask, page, waiting))
            main #content tabindex="-1" {
                @if page.of_people && people.len() > 1 { (whose(ask, page, &known, &people)) }
                (body)
            }
        },
    ))
}

fn pages(ask: &Ask, page: &Page<'_>, waiting: i64) -> Markup {
    let query = page
        .person
        .map(|person| format!("?person={}", encoded(person)))
        .unwrap_or_default();
    let link = |path: &str, name: &str| {
        html! {
            a href={ (path) (query) } aria-current=[(path == ask.path).then_some("page")] {
                (ask.say(name))
                @if path == "/questions" && waiting > 0 { " " span.count { (waiting) } }
            }
        }
    };
    html! {
        nav.pages aria-label=(ask.say("pages")) {
            ul {
                @for (path, name) in DAILY {
                    @if path != "/questions" || !ask.viewer.is_for_some() {
                        li { (link(path, name)) }
                    }
                }
            }
            ul.set-up aria-label=(ask.say("nav-set-up")) { @for (path, name) in SET_UP { li { (link(path, name)) } } }
        }
    }
}

fn whose(ask: &Ask, page: &Page<'_>, known: &Stated, people: &[&PersonId]) -> Markup {
    let part = Part::of(ask, people.iter().copied(), |person| {
        known.label(person).to_owned()
    });
    let link = |person: &PersonId| {
        html! {
            li {
                a href={ (ask.path) "?person=" (encoded(person)) }
                    aria-current=[(page.person == Some(person)).then_some("true")] {
                    bdi { (known.label(person)) }
                }
            }
        }
    };
    html! {
        nav.whose aria-label=(ask.say("whose-page")) {
            ul {
                @if page.live.is_some() {
                    li { a href=(ask.path) aria-current=[page.person.is_none().then_some("true")] { (ask.say("everybody")) } }
                }
                @if !part.is_part() { @for person in &part.shown { (link(person)) } }
                // What has to be seen stands below, on the first screen.
                @else if let Some(person) = page.person { (link(person)) }
            }
        }
        @if part.is_part() {
            details.find open[part.is_looked_for(ask)] {
                summary { (ask.say("find-whose")) }
                (part.links(ask))
                nav.whose aria-label=(ask.say("find-whose")) { ul { @for person in &part.shown { (link(person)) } } }
            }
        }
    }
}

/// For an address: an id has letters of any script.
pub(super) fn encoded(person: &PersonId) -> String {
    form_urlencoded::byte_serialize(person.as_str().as_bytes()).collect()
}

/// A household to which nobody has been added: the two things that come first.
pub(super) fn nobody(words: &Words) -> Markup {
    html! {
        p.lead { (words.say("nobody-yet")) }
        div.next {
            a.button.first href="/person" { (words.say("person-add")) }
            a.button.first href="/monitors/pair" { (words.say("pair-title")) }
        }
    }
}

/// The hidden field of every form.
pub(super) fn token(ask: &Ask) -> Markup {
    html! { input type="hidden" name="token" value=(ask.token); }
}

/// A page of its own, made without the journal.
pub(super) fn plain_with(ask: &Ask, title: &str, body: &Markup) -> String {
    document(
        ask,
        title,
        (None, None),
        &html! { main #content tabindex="-1" { (body) } },
    )
}

/// A page that only says something.
pub(super) fn plain(ask: &Ask, title: &str, text: &str) -> String {
    document(
        ask,
        title,
        (None, None),
        &html! {
            main #content tabindex="-1" {
                h1 { (title) }
                p { (text) }
                p { a.button href="/" { (ask.say("back")) } }
            }
        },
    )
}

/// The page at the door.
pub(super) fn enter(ask: &Ask, wrong: Option<&str>) -> String {
    let title = ask.say("title-key");
    document(
        ask,
        &title,
        (None, None),
        &html! {
            main #content tabindex="-1" {
                h1 { (title) }
                p { (ask.say("key-say")) }
                p.small { (ask.say("key-here")) }
                @if let Some(wrong) = wrong { p.notice role="alert" { (ask.say(wrong)) } }
                form method="post" action="/key" {
                    (token(ask))
                    label for="key" { (ask.say("key-label")) }
                    input #key name="key" type="text" autocomplete="off" autocapitalize="none" spellcheck="false"
                        maxlength="100" required;
                    button type="submit" { (ask.say("key-enter")) }
                }
            }
        },
    )
}

/// The three shapes of a reading, drawn once, as on the sheet: filled counted, open marked, struck through
/// set aside.
fn shapes() -> Markup {
    html! {
        svg.shapes aria-hidden="true" focusable="false" {
            symbol #counted viewBox="0 0 10 10" { path.filled d="M1 1L9 1L5 9Z" {} }
            symbol #marked viewBox="0 0 10 10" { path.open d="M1 1L9 1L5 9Z" {} }
            symbol #set-aside viewBox="0 0 10 10" { path.open d="M1 1L9 1L5 9Z" {} path.open d="M0 9L10 1" {} }
        }
    }
}

/// A sentence of the catalogue with words in it that stay English in every language, such as a source: marked, so that
/// they are read aloud as English.
pub(super) fn with_english(
    words: &Words,
    name: &str,
    values: &[(&str, Value<'_>)],
    (variable, english): (&str, &str),
) -> Markup {
    /// A private character, which no catalogue and no source holds.
    const PLACE: &str = "\u{f8ff}";
    let all: Vec<_> = values
        .iter()
        .cloned()
        .chain([(variable, Value::from(PLACE))])
        .collect();
    let said = words.with(name, &all);
    let (before, after) = said.split_once(PLACE).unwrap_or((said.as_str(), ""));
    html! { (before) span lang="en" { (english) } (after) }
}

/// The moment that a page shows.
struct AsOf {
    moment: String,
    /// Of the household's clock, for a page that goes on.
    offset_s: i32,
}

impl AsOf {
    fn of(ask: &Ask, known: &Stated) -> Self {
        Self {
            moment: ask.words.moment(known.zones.civil(ask.now)),
            offset_s: known.zones.offset(ask.now).seconds(),
        }
    }
}

fn document(
    ask: &Ask,
    title: &str,
    (live, as_of): (Option<&'static str>, Option<&AsOf>),
    body: &Markup,
) -> String {
    // Whose page it is stays, in another language as well.
    let whose = ask
        .field("person")
        .and_then(|person| Some(format!("?person={}", encoded(&person.parse().ok()?))));
    let back = format!("{}{}", ask.path, whose.unwrap_or_default());
    html! {
        (DOCTYPE)
        html lang=(ask.language.tag()) {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title) " · " (ask.say("app")) }
                link rel="stylesheet" href="/page.css";
                @if live.is_some() { noscript { meta http-equiv="refresh" content="5"; } }
                script src=(if live.is_some() { "/now.js" } else { "/page.js" }) defer {}
            }
            body data-step=[live] {
                a.skip href="#content" { (ask.say("skip")) }
                @if let Some(as_of) = as_of.filter(|_| live.is_none()) {
                    p #stale .notice hidden role="status" {
                        (ask.words.with("page-stale", &[("moment", as_of.moment.as_str().into())]))
                    }
                }
                (shapes())
                (body)
                footer {
                    @if let Some(as_of) = as_of {
                        p #as-of data-offset=(as_of.offset_s) data-say=(ask.words.with("page-as-of", &[("moment", "{}".into())])) {
                            (ask.words.with("page-as-of", &[("moment", as_of.moment.as_str().into())]))
                        }
                    }
                    @if !ask.viewer.changes() { p { (ask.say("read-only")) } }
                    p.caution { (ask.say("not-an-alarm")) }
                    @if !ask.language.is_reviewed() { p { (ask.say("unreviewed")) } }
                    div.last {
                        form method="post" action="/language" {
                            (token(ask))
                            input type="hidden" name="back" value=(back);
                            @for language in Language::ALL {
                                @if language != ask.language {
                                    button.quiet name="language" value=(language.tag()) lang=(language.tag()) {
                                        (language.words().say("language-name"))
                                    }
                                }
                            }
                        }
                        @if ask.viewer.has_key() {
                            form method="post" action="/leave" {
                                (token(ask))
                                button.quiet type="submit" { (ask.say("leave")) }
                            }
                        }
                    }
                }
            }
        }
    }
    .into_string()
}
