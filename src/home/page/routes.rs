//! Which path is which page, and who may go there.

use super::answer::{Answer, Body};
use super::ask::{Ask, Wrong};
use super::door::{self, From, Viewer};
use super::places::{Places, Seat, StreamSeat};
use super::settings::Settings;
use super::shared::Shared;
use super::style::{NOW, SCRIPT, STYLE};
use super::{
    card, consent, earlier, frame, household, listeners, monitors, notes, now, numbers, opening, pairing,
    people, person, phones, questions, reading, release, sheet, unwell, week,
};
use crate::edge::uptime_ms;
use crate::home::live::{Book, Turns, View};
use crate::home::metrics::{self, Gauged};
use crate::household::PersonId;
use crate::journal::JournalError;
use crate::keys::{Digest, HERE, KeySecret};
use crate::socket;
use crate::words::Language;
use http_body_util::{BodyExt, StreamBody};
use hyper::body::{Bytes, Frame};
use hyper::header;
use hyper::http::request::Parts;
use hyper::{Method, Response, StatusCode};
use jiff::Timestamp;
use std::convert::Infallible;
use std::sync::Arc;
use tokio::sync::watch;

/// A browser remembers a session for half a year.
const SESSION_S: u32 = 15_552_000;

pub(super) async fn answer(head: Parts, form: Vec<u8>, seat: &Seat, shared: &Arc<Shared>) -> Response<Body> {
    match head.uri.path() {
        "/health" => return Answer::text(StatusCode::OK, "ok").into_response(),
        "/page.css" => return lasting("text/css; charset=utf-8", &STYLE),
        "/page.js" => return lasting("text/javascript; charset=utf-8", &SCRIPT),
        "/now.js" => return lasting("text/javascript; charset=utf-8", &NOW),
        "/favicon.ico" => return Answer::text(StatusCode::NO_CONTENT, "").into_response(),
        _ => {}
    }
    let (ask, secret, writes) = asked(&shared.settings, &head, &form);
    if writes
        && ask.path == "/notes"
        && let Some(level) = unwell::tapped(&ask)
    {
        return unwell::answer(level, ask, secret, &head.headers, shared.clone());
    }
    if writes && !door::is_our_form(&ask.token, ask.field("token").unwrap_or_default()) {
        return Wrong::Forged.answer(&ask).into_response();
    }
    if writes && ask.path == "/language" {
        return choose_language(&ask).into_response();
    }
    if !writes && ask.path == "/enter" && ask.field("link").is_some() {
        return by_link(ask, seat.from, shared).await.into_response();
    }
    if !writes && ask.path == opening::BACK {
        return opening::came_back(&ask).into_response();
    }
    let viewer = match shared.who(secret.as_ref(), ask.now).await {
        Ok(viewer) => viewer,
        Err(wrong) => return wrong.answer(&ask).into_response(),
    };
    let Some(viewer) = viewer else {
        return enter(ask, writes, seat.from, shared).await.into_response();
    };
    seat.prove(&viewer);
    let ask = Ask { viewer, ..ask };
    match (writes, ask.path.as_str()) {
        (false, "/live") => live(ask, secret, shared.clone()).await,
        (false, "/sheet/open") => sheet::open(ask, shared).await.into_response(),
        (_, "/monitors/pair") => pairing::answer(ask, writes, shared).await.into_response(),
        (_, "/monitors/listeners") => listeners::answer(ask, writes, shared).await.into_response(),
        (_, opening::HERE) => {
            let holder = door::holder(&shared.settings, secret.as_ref());
            opening::answer(ask, writes, holder, shared).await.into_response()
        }
        (true, "/monitors/clock" | "/monitors/forget") => monitors::order(ask, shared).await.into_response(),
        (true, "/monitors/consent") => consent::answer(ask, shared).await.into_response(),
        (true, "/leave") => leave(&ask, secret, shared).await.into_response(),
        (false, "/metrics") if ask.viewer.cares() => metrics(shared).await.into_response(),
        _ => {
            let answered = shared
                .desk
                .ask(move |book| page(&ask, writes, book).unwrap_or_else(|wrong| wrong.answer(&ask)))
                .await;
            match answered {
                Ok(answer) => answer.into_response(),
                Err(busy) => Answer::text(StatusCode::SERVICE_UNAVAILABLE, &busy.to_string()).into_response(),
            }
        }
    }
}

/// What a browser asks, its session, and whether it may change something; nobody has looked yet who it is.
fn asked(settings: &Settings, head: &Parts, form: &[u8]) -> (Ask, Option<KeySecret>, bool) {
    let secret = door::session(settings, &head.headers);
    let mut fields: Vec<(String, String)> =
        form_urlencoded::parse(head.uri.query().unwrap_or_default().as_bytes())
            .into_owned()
            .collect();
    let writes = head.method == Method::POST;
    if writes {
        // What a form says outranks what stands in its address.
        fields.splice(0..0, form_urlencoded::parse(form).into_owned());
    }
    let language = language(head);
    let ask = Ask {
        viewer: Viewer::HERE,
        words: language.words(),
        language,
        path: head.uri.path().to_owned(),
        fields,
        token: door::form_token(settings, secret.as_ref()),
        now: Timestamp::now(),
        home: format!(
            "{}://{}/",
            if settings.secure() { "https" } else { "http" },
            door::text(&head.headers, &header::HOST).unwrap_or_default()
        ),
    };
    (ask, secret, writes)
}

/// The same request without a socket, a collector or a key: every field is read by what reads it in earnest,
/// and a page is made of the journal. The form's token alone is not asked for; no fuzzer guesses it.
pub(super) fn rehearsed(settings: &Settings, head: &Parts, form: &[u8], book: &mut Book) -> Response<Body> {
    let (ask, _, writes) = asked(settings, head, form);
    let answered = match (writes, ask.path.as_str()) {
        (true, "/language") => Ok(choose_language(&ask)),
        (true, "/key") => {
            let opens = ask.field("key").and_then(KeySecret::typed).is_some();
            Ok(Answer::html(frame::enter(&ask, (!opens).then_some("key-wrong"))))
        }
        (_, "/monitors/pair") => pairing::question(&ask, writes)
            .and_then(|_| ask.person(book))
            .map(|_| Answer::see("/monitors")),
        (_, "/monitors/listeners") => listeners::done(&ask, writes, None, book),
        (false, opening::BACK) => Ok(opening::came_back(&ask)),
        (_, opening::HERE) => opening::wanted(&ask, writes)
            .and_then(|_| opening::Place::of(&ask, book))
            .map(|_| Answer::see("/people")),
        (true, "/monitors/clock" | "/monitors/forget") => {
            monitors::prepared(&ask, book).map(|_| Answer::see("/monitors"))
        }
        (true, "/monitors/consent") => consent::save(&ask, book).map(|_| Answer::see("/monitors")),
        (false, "/sheet/open") => sheet::asked_for(&ask)
            .and_then(|_| ask.one(book))
            .map(|_| Answer::see("/sheet")),
        _ => page(&ask, writes, book),
    };
    answered
        .unwrap_or_else(|wrong| wrong.answer(&ask))
        .into_response()
}

/// The daemon is asked before the journal's thread is: one that hangs must not hold up the page.
async fn metrics(shared: &Shared) -> Answer {
    let unavailable =
        |what: &dyn std::fmt::Display| Answer::text(StatusCode::SERVICE_UNAVAILABLE, &what.to_string());
    let state = match shared.desk.ask(|book| book.place.state.clone()).await {
        Ok(state) => state,
        Err(busy) => return unavailable(&busy),
    };
    let collector = tokio::task::spawn_blocking(move || socket::collector(&state))
        .await
        .ok()
        .and_then(Result::ok)
        .flatten();
    match shared
        .desk
        .ask(|book| {
            book.journal.settle()?;
            Gauged::of(&book.journal, collector, book.place.clinic())
        })
        .await
    {
        Ok(Ok(measured)) => Answer::of(
            metrics::CONTENT_TYPE,
            metrics::open_metrics(&measured).into_bytes(),
        ),
        Ok(Err(error)) => unavailable(&error),
        Err(busy) => unavailable(&busy),
    }
}

fn page(ask: &Ask, writes: bool, book: &mut Book) -> Result<Answer, Wrong> {
    if writes {
        return match ask.path.as_str() {
            "/rest" => now::rest(ask, book),
            "/answer" => now::answered(ask, book),
            "/notes" => notes::note(ask, book),
            "/notes/take-back" => notes::take_back(ask, book),
            "/questions" => questions::answer(ask, book),
            "/period" => people::begin(ask, book),
            "/person" => person::save(ask, book),
            "/person/remove" => people::remove(ask, book),
            "/person/again" => people::again(ask, book),
            "/calls" => phones::save(ask, book),
            "/release" => release::save(ask, book),
            "/reading" => reading::save(ask, book),
            "/monitors/number" => numbers::save(ask, book),
            _ => Err(Wrong::NotFound),
        };
    }
    match ask.path.as_str() {
        "/" => now::page(ask, book),
        "/household" => household::page(ask, book),
        "/week" => week::page(ask, book),
        "/earlier" => earlier::page(ask, book),
        "/sheet" => sheet::page(ask, book),
        "/notes" => notes::page(ask, book),
        "/questions" => questions::page(ask, book),
        "/reading" => reading::page(ask, book),
        "/monitors" => monitors::page(ask, book),
        "/people" => people::page(ask, book),
        "/card" => card::page(ask, book),
        "/person" => person::page(ask, book),
        _ => Err(Wrong::NotFound),
    }
}

/// A page's script and style. Browsers keep them for five minutes, so that a new version is seen soon.
fn lasting(kind: &'static str, text: &str) -> Response<Body> {
    Answer::of(kind, text.as_bytes().to_vec())
        .with(header::CACHE_CONTROL, "max-age=300".to_owned())
        .into_response()
}

/// The one that was chosen, else the first of the browser's that there is.
fn language(head: &Parts) -> Language {
    let chosen = door::cookie(&head.headers, door::COOKIE_LANGUAGE).and_then(Language::of_tag);
    let asked = || {
        door::text(&head.headers, &header::ACCEPT_LANGUAGE)?
            .split(',')
            .find_map(|part| Language::of_tag(part.split(';').next()?.trim()))
    };
    chosen.or_else(asked).unwrap_or_default()
}

fn choose_language(ask: &Ask) -> Answer {
    let tag = ask
        .field("language")
        .and_then(Language::of_tag)
        .unwrap_or_default()
        .tag();
    let back = ask.field("back").filter(|back| is_here(back)).unwrap_or("/");
    Answer::see(back).with(
        header::SET_COOKIE,
        format!(
            "{}={tag}; Path=/; Max-Age=31536000; HttpOnly; SameSite=Strict",
            door::COOKIE_LANGUAGE
        ),
    )
}

/// A path on this page, and not the beginning of another's address.
fn is_here(place: &str) -> bool {
    place.starts_with('/')
        && !place.starts_with("//")
        && place.len() < 200
        && place.bytes().all(|b| b.is_ascii_graphic() && b != b'\\')
}

/// Asks for a key, and takes one.
async fn enter(ask: Ask, writes: bool, from: From, shared: &Shared) -> Answer {
    if !writes {
        return Answer::html(frame::enter(&ask, None)).status(StatusCode::UNAUTHORIZED);
    }
    if ask.path != "/key" {
        return Wrong::NotYours.answer(&ask);
    }
    let opened = match ask.field("key").and_then(KeySecret::typed) {
        Some(typed) => match session_of(Opener::Key(typed.digest("key")), shared, ask.now).await {
            Ok(opened) => opened,
            Err(wrong) => return wrong.answer(&ask),
        },
        None => None,
    };
    match opened {
        Some(session) => let_in(&session, shared),
        None => no_way_in(&ask, from, shared, "key-wrong").await,
    }
}

/// Lets whoever is at the machine in by a link, which opens the page once.
async fn by_link(ask: Ask, from: From, shared: &Shared) -> Answer {
    let Some(link) = ask.field("link").and_then(KeySecret::typed) else {
        return no_way_in(&ask, from, shared, "link-wrong").await;
    };
    let opened = match session_of(Opener::Link(link.digest("link")), shared, ask.now).await {
        Ok(opened) => opened,
        Err(wrong) => return wrong.answer(&ask),
    };
    match opened {
        Some(session) => let_in(&session, shared),
        None => no_way_in(&ask, from, shared, "link-wrong").await,
    }
}

/// Whoever has a good key is not held up by anybody's wrong ones, also where all come from one proxy.
async fn no_way_in(ask: &Ask, from: From, shared: &Shared, why: &str) -> Answer {
    if !shared.tries.wrong(from) {
        tokio::time::sleep(door::TRY_LATER).await;
        return Answer::html(frame::enter(ask, Some("key-slow"))).status(StatusCode::TOO_MANY_REQUESTS);
    }
    tracing::warn!("{from}: a key or a link that opens nothing");
    Answer::html(frame::enter(ask, Some(why))).status(StatusCode::FORBIDDEN)
}

fn let_in(session: &KeySecret, shared: &Shared) -> Answer {
    Answer::see("/").with(
        header::SET_COOKIE,
        session_cookie(shared, session.letters(), SESSION_S),
    )
}

/// What opens the page, by its digest.
enum Opener {
    Key(Digest),
    Link(Digest),
}

/// Begins a session with what opens the page; `None` where it does not.
async fn session_of(opener: Opener, shared: &Shared, now: Timestamp) -> Result<Option<KeySecret>, Wrong> {
    let session = KeySecret::new().map_err(|_| Wrong::Busy)?;
    let of_session = session.digest("session");
    let begun = shared
        .desk
        .ask(move |book| {
            book.try_to_keep();
            let key = match opener {
                Opener::Key(digest) => book.journal.key_with(&digest, now)?.map(|key| key.id),
                Opener::Link(digest) => book.journal.take_link(&digest, now)?.then(|| HERE.to_owned()),
            };
            let Some(key) = key else {
                return Ok(false);
            };
            book.aside
                .begin_session(&mut book.journal, &of_session, &key, now)?;
            Ok::<_, JournalError>(true)
        })
        .await
        .map_err(|_| Wrong::Busy)??;
    Ok(begun.then_some(session))
}

async fn leave(ask: &Ask, secret: Option<KeySecret>, shared: &Shared) -> Answer {
    if let Some(secret) = secret {
        let digest = secret.digest("session");
        match shared
            .desk
            .ask(move |book| book.aside.end_session(&mut book.journal, &digest))
            .await
        {
            Ok(Ok(())) => {}
            Ok(Err(error)) => return Wrong::Journal(error).answer(ask),
            Err(_) => return Wrong::Busy.answer(ask),
        }
    }
    Answer::see("/").with(header::SET_COOKIE, session_cookie(shared, "", 0))
}

/// A cookie is taken back in the same words in which it was given, or a browser keeps it.
fn session_cookie(shared: &Shared, value: &str, seconds: u32) -> String {
    let secure = if shared.settings.secure() { "; Secure" } else { "" };
    format!(
        "{}={value}; Path=/; Max-Age={seconds}; HttpOnly; SameSite=Strict{secure}",
        door::session_cookie(&shared.settings)
    )
}

/// What a stream waits for.
struct Watching {
    view: watch::Receiver<Arc<str>>,
    /// Who is watched; everybody without.
    person: Option<PersonId>,
    turns: Turns,
    secret: Option<KeySecret>,
    shared: Arc<Shared>,
    seat: StreamSeat,
}

/// Server-sent events: the view whenever it changes, and the server's clock at each beat.
async fn live(ask: Ask, secret: Option<KeySecret>, shared: Arc<Shared>) -> Response<Body> {
    let language = ask.language;
    let session = secret.as_ref().map(|secret| secret.digest("session").0);
    let seat = Places::stream(&shared.places, &ask.viewer, session);
    let watching = shared
        .desk
        .ask(move |book| {
            let view: View = (ask.person(book)?, language);
            let person = view.0.clone();
            Ok::<_, Wrong>((book.watch(view), person))
        })
        .await;
    let (view, person) = match watching {
        Ok(Ok(watched)) => watched,
        Ok(Err(_)) => return Answer::text(StatusCode::NOT_FOUND, "nobody").into_response(),
        Err(busy) => return Answer::text(StatusCode::SERVICE_UNAVAILABLE, &busy.to_string()).into_response(),
    };
    let watching = Watching {
        view,
        person,
        turns: shared.desk.turns(),
        secret,
        shared,
        seat,
    };
    let events = futures_util::stream::unfold((watching, true), |(mut watching, first)| async move {
        let event = if first {
            let shown = watching.view.borrow_and_update().clone();
            format!("{}{}", clock(&watching.turns), now_event(&shown))
        } else {
            watching.next().await?
        };
        let frame = Ok::<_, Infallible>(Frame::data(Bytes::from(event)));
        Some((frame, (watching, false)))
    });
    let mut response = Response::new(StreamBody::new(events).boxed_unsync());
    response.headers_mut().insert(
        header::CONTENT_TYPE,
        header::HeaderValue::from_static("text/event-stream"),
    );
    response
}

impl Watching {
    /// The next event. Before each, and whenever somebody wrote, it is looked whether the key still opens the
    /// page: then there is none.
    async fn next(&mut self) -> Option<String> {
        let keys = !self.shared.settings.is_open();
        loop {
            let word = tokio::select! {
                biased;
                () = self.seat.leave.notified() => return None,
                changed = self.view.changed() => changed.map(|()| Word::View),
                changed = self.turns.beats.changed() => changed.map(|()| Word::Beat),
                changed = self.turns.writes.changed(), if keys => changed.map(|()| Word::Written),
            };
            let word = word.ok()?;
            if !holds(&self.shared, self.secret.as_ref(), self.person.as_ref()).await {
                return None;
            }
            match word {
                Word::View => return Some(now_event(&self.view.borrow().clone())),
                Word::Beat => return Some(clock(&self.turns)),
                Word::Written => {}
            }
        }
    }
}

/// Why a stream woke.
enum Word {
    View,
    Beat,
    Written,
}

/// Whether the key still opens the page, and what is shown of this person or of everybody.
async fn holds(shared: &Shared, secret: Option<&KeySecret>, person: Option<&PersonId>) -> bool {
    let Ok(Some(viewer)) = shared.who(secret, Timestamp::now()).await else {
        return false;
    };
    person.map_or(!viewer.is_for_some(), |person| viewer.sees(person))
}

/// The server's wall clock, its uptime, and the uptime at which what is shown was made: nobody can set the last two.
fn clock(turns: &Turns) -> String {
    let (wall, made) = (Timestamp::now().as_millisecond(), *turns.made.borrow());
    format!("event: clock\ndata: {wall} {} {made}\n\n", uptime_ms())
}

fn now_event(shown: &str) -> String {
    // An event ends at a line's end, and there is none in it.
    format!("event: now\ndata: {}\n\n", shown.replace(['\n', '\r'], " "))
}
