//! What to do in an emergency, at once.
//!
//! The words are decided from what was tapped, before anybody looks at the journal, the key, the form's token
//! or the clock, and they leave before any of these is asked. What became of the note follows in the same
//! page, and is said as it is: kept, or not kept and why.

use super::answer::{Body, PLAIN};
use super::ask::{Ask, Wrong};
use super::door;
use super::frame::{self, encoded, token};
use super::notes::{self, SOMETHING_ELSE};
use super::now;
use super::phones::calls;
use super::shared::Shared;
use crate::home::live::Book;
use crate::household::PersonId;
use crate::household::phones::Phones;
use crate::keys::KeySecret;
use crate::monitoring::escalation::Level;
use crate::monitoring::symptoms;
use http_body_util::{BodyExt, StreamBody};
use hyper::body::{Bytes, Frame};
use hyper::{HeaderMap, Response};
use maud::{Markup, PreEscaped, html};
use std::convert::Infallible;
use std::sync::Arc;

/// Where in the page stands what became of the note. No text of a person can hold it unescaped.
const OUTCOME: &str = "<!--outcome-->";
/// Fields of the form that are sent again when a note was not kept.
const AGAIN: [&str; 5] = ["person", "ago", "what", "else", "pregnant"];

/// How urgent what was tapped is by itself; nothing where it is no symptom.
pub(super) fn tapped(ask: &Ask) -> Option<Level> {
    let what = ask.field("what")?;
    if what == SOMETHING_ELSE {
        return Some(Level::Ask);
    }
    let pregnant = ask.field("pregnant").is_some();
    symptoms::of_name(what).map(|symptom| symptom.level_for(pregnant))
}

/// The words, and then what became of the note.
pub(super) fn answer(
    level: Level,
    ask: Ask,
    secret: Option<KeySecret>,
    headers: &HeaderMap,
    shared: Arc<Shared>,
) -> Response<Body> {
    let words = words(level, &ask, &shared.desk.phones());
    let page = frame::plain_with(&ask, &ask.say("unwell-title"), &words);
    let (before, after) = page.split_once(OUTCOME).unwrap_or((page.as_str(), ""));
    let chunk = |text: String| Ok::<_, Infallible>(Frame::data(Bytes::from(text)));
    let first = chunk(before.to_owned());
    let after = after.to_owned();
    let ours = door::is_from_our_page(headers)
        || door::is_our_form(&ask.token, ask.field("token").unwrap_or_default());
    let second = async move {
        let outcome = keep(level, ask, secret, ours, &shared).await;
        chunk(format!("{}{after}", outcome.into_string()))
    };
    let chunks = futures_util::stream::once(async move { first });
    let chunks = futures_util::StreamExt::chain(chunks, futures_util::stream::once(second));
    let mut response = Response::new(StreamBody::new(chunks).boxed_unsync());
    response.headers_mut().insert(hyper::header::CONTENT_TYPE, PLAIN);
    response
}

fn words(level: Level, ask: &Ask, phones: &Phones) -> Markup {
    let pregnant = ask.field("pregnant").is_some();
    let emergency = level == Level::Emergency;
    html! {
        section.step data-step=(if emergency { "emergency" } else { "help" }) data-urgent {
            h1 { (ask.say(now::heading_of(level))) }
            p.say { (ask.say(&format!("alert-symptoms-{}", level.name()))) }
            // Nobody knows yet who asks: a person's own number is shown to those only who may look.
            (calls(&phones.without_contact(), emergency, ask.words))
            @if !emergency { p.also { (ask.say("emergency-if")) } }
            @if pregnant && !emergency { p.also { (ask.say("pregnancy-if")) } }
        }
        @if level == Level::Ask {
            form method="post" action="/notes" {
                (token(ask))
                (hidden(ask, &["person", "pregnant"]))
                (notes::list_of_symptoms(ask, pregnant))
            }
        }
        div.outcome role="status" { (PreEscaped(OUTCOME)) }
    }
}

fn hidden(ask: &Ask, fields: &[&str]) -> Markup {
    html! {
        @for field in fields {
            @if let Some(value) = ask.field(field) { input type="hidden" name=(field) value=(value); }
        }
    }
}

/// Keeps the note, and says what became of it.
async fn keep(level: Level, ask: Ask, secret: Option<KeySecret>, ours: bool, shared: &Arc<Shared>) -> Markup {
    if !ours {
        return not_kept(&ask, "unwell-why-form");
    }
    let viewer = match shared.who(secret.as_ref(), ask.now).await {
        Ok(Some(viewer)) => viewer,
        Ok(None) => return not_kept(&ask, "unwell-why-key"),
        Err(wrong) => return not_kept(&ask, why(&wrong)),
    };
    let ask = Arc::new(Ask { viewer, ..ask });
    let asked = ask.clone();
    let kept = shared
        .desk
        .ask(move |book| {
            notes::keep(&asked, book).map(|person| {
                let more = judged(level, &asked, book, &person);
                kept(&asked, book, &person, more.as_ref())
            })
        })
        .await;
    match kept {
        Ok(Ok(kept)) => kept,
        Ok(Err(wrong)) => not_kept(&ask, why(&wrong)),
        Err(_) => not_kept(&ask, "unwell-why-journal"),
    }
}

const fn why(wrong: &Wrong) -> &'static str {
    match wrong {
        Wrong::NotYours => "unwell-why-key",
        Wrong::NotFound => "unwell-why-person",
        Wrong::Forged | Wrong::Value(_) | Wrong::Future | Wrong::Changed => "unwell-why-form",
        Wrong::Journal(_) | Wrong::Busy => "unwell-why-journal",
    }
}

/// With the readings of the last hours the same symptom may mean more.
fn judged(level: Level, ask: &Ask, book: &mut Book, person: &PersonId) -> Option<Markup> {
    let everybodys = now::Everybodys::of(book, &[person], ask.now).ok()?;
    let told = now::told_now(book, &everybodys, person, (ask.words, ask.now));
    let told = told.ok().flatten()?;
    let (more, heading, say) = told;
    (more > level).then(|| {
        html! {
            section.step data-step=(if more == Level::Emergency { "emergency" } else { "help" }) data-urgent {
                h1 { (heading) }
                @for say in say { p.say { (say) } }
            }
        }
    })
}

fn kept(ask: &Ask, book: &mut Book, person: &PersonId, more: Option<&Markup>) -> Markup {
    let known = book.known().ok();
    let at = known.as_ref().map(|known| known.zones.civil(ask.now).time());
    let phones = known.map(|known| book.phones(&known)).unwrap_or_default();
    html! {
        @if let Some(more) = more { (more) }
        (calls(&phones.contact_alone(), true, ask.words))
        p.kept { (ask.words.with("unwell-kept", &[("time", at.map(|at| ask.words.time(at)).unwrap_or_default().into())])) }
        p { a.button href={ "/?person=" (encoded(person)) } { (ask.say("unwell-next")) } }
    }
}

fn not_kept(ask: &Ask, why: &str) -> Markup {
    let why = match why {
        "unwell-why-key" => ask.say("unwell-why-key"),
        "unwell-why-person" => ask.say("unwell-why-person"),
        "unwell-why-journal" => ask.say("unwell-why-journal"),
        _ => ask.say("unwell-why-form"),
    };
    html! {
        p.notice.kept { (ask.words.with("unwell-not-kept", &[("why", why.into())])) }
        form method="post" action="/notes" {
            (token(ask))
            (hidden(ask, &AGAIN))
            button type="submit" { (ask.say("unwell-again")) }
        }
        p { a.button href="/" { (ask.say("unwell-next")) } }
    }
}
