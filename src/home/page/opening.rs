//! One person's record at the clinic: how it stands, how the person opens it at the clinic's own page, and how it is
//! closed. This role reaches no clinic and holds no key: it asks delivery over the local socket.
//!
//! A browser that comes back from the clinic brings no cookie of ours along, because those are for our own links alone. So
//! what answers it is a page that knows nothing and leads on, by which the browser is ours again.

use super::answer::Answer;
use super::ask::{Ask, Wrong};
use super::frame::{self, encoded, token, with_english};
use super::shared::Shared;
use crate::delivery::enrolled::{RecordStanding, standing};
use crate::delivery::{Auth, Clinic, only};
use crate::home::live::Book;
use crate::household::PersonId;
use crate::monitoring::stated::Stated;
use crate::socket;
use crate::socket::opening::{Opening, OpeningFault, Opens};
use crate::socket::speech::{Answer as Said, Request};
use hyper::header::REFRESH;
use maud::{Markup, html};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// The page on which a record is opened and closed.
pub(super) const HERE: &str = "/clinic";
/// Where the clinic sends a browser back to, if the page's address with this behind it is registered there.
pub(super) const BACK: &str = "/launched";
/// What is taken of the address at which a browser comes back (RFC 6749, section 4.1.2).
const TAKEN: [&str; 3] = ["code", "state", "error"];

/// The one person's record that the configuration means.
pub(super) struct Record {
    person: PersonId,
    clinic: String,
    /// `None` where the file that says so cannot be read.
    standing: Option<RecordStanding>,
}

/// Whose record at which clinic, where the configuration chose a launch.
fn meant(clinic: &Clinic) -> Option<(&PersonId, &str)> {
    let person = only(clinic).ok().filter(|_| clinic.auth == Auth::Launch)?;
    Some((person, clinic.server.as_deref()?))
}

impl Record {
    /// `None` where nobody's is meant.
    pub(super) fn of(book: &Book) -> Option<Self> {
        let clinic = book.place.clinic();
        let (person, server) = meant(clinic)?;
        let stands = standing(clinic, person);
        if let Err(error) = &stands {
            tracing::warn!("{error}");
        }
        Some(Self {
            person: person.clone(),
            clinic: server.to_owned(),
            standing: stands.ok(),
        })
    }
}

/// Stands among what is known of the person whose record it is; whoever may state something about them opens and closes it.
pub(super) fn stated(ask: &Ask, known: &Stated, record: &Record, person: &PersonId) -> Markup {
    if record.person != *person {
        return html! {};
    }
    let heading = format!("c-{person}");
    let at = |name: &str, moment| {
        let moment = ask.words.moment(known.zones.civil(moment));
        ask.words.with(name, &[("moment", moment.into())])
    };
    let writes = ask.viewer.writes(person);
    html! {
        h3 #(heading) { (ask.say("opening-title")) }
        @match &record.standing {
            None => p.notice { (ask.say("opening-unreadable")) },
            Some(RecordStanding::Never) => p { (ask.say("opening-never")) },
            Some(RecordStanding::Closed(moment)) => p { (at("opening-closed", *moment)) },
            Some(RecordStanding::Refused(moment)) => p.notice { (at("opening-refused", *moment)) },
            Some(RecordStanding::Open { reference, scope, since, taken }) => {
                p { (at("opening-since", *since)) }
                @if let Some(moment) = taken { p.small { (at("opening-taken", *moment)) } }
                dl {
                    dt { (ask.say("deliver-clinic")) } dd { bdi { (record.clinic) } }
                    dt { (ask.say("opening-as")) } dd { bdi { (reference) } }
                    @if !scope.is_empty() { dt { (ask.say("opening-may")) } dd lang="en" { (scope) } }
                }
            },
        }
        @if writes {
            @if matches!(record.standing, Some(RecordStanding::Open { .. } | RecordStanding::Refused(_))) {
                details.handover {
                    summary aria-describedby=(heading) { (ask.say("person-change")) }
                    p.small { (ask.say("opening-close-say")) }
                    (buttons(ask, &[("close", "opening-close"), ("begin", "opening-again")]))
                }
            } @else {
                p.small { (ask.words.with("opening-say", &[("clinic", record.clinic.as_str().into())])) }
                (buttons(ask, &[("begin", "opening-open")]))
            }
        }
    }
}

fn buttons(ask: &Ask, each: &[(&str, &str)]) -> Markup {
    html! {
        form.taps method="post" action=(HERE) {
            (token(ask))
            @for (does, says) in each { button name="do" value=(does) { (ask.say(says)) } }
        }
    }
}

/// What a browser came back with, as a query.
fn brought(ask: &Ask) -> Option<String> {
    let mut query = form_urlencoded::Serializer::new(String::new());
    let fields = TAKEN
        .into_iter()
        .filter_map(|name| Some((name, ask.field(name)?)));
    let query = query.extend_pairs(fields).finish();
    (!query.is_empty()).then_some(query)
}

/// Answers a browser that comes from the clinic, whoever it is. Nothing is taken here.
pub(super) fn came_back(ask: &Ask) -> Answer {
    let on = match brought(ask) {
        Some(query) => format!("{HERE}?{query}"),
        None => HERE.to_owned(),
    };
    let title = ask.say("opening-title");
    let body = html! {
        h1 { (title) }
        p { (ask.say("opening-came")) }
        p { a.button href=(on) { (ask.say("opening-on")) } }
    };
    Answer::html(frame::plain_with(ask, &title, &body)).with(REFRESH, format!("0;url={on}"))
}

/// What is asked of delivery.
pub(super) fn wanted(ask: &Ask, writes: bool) -> Result<Opens, Wrong> {
    if !writes {
        return Ok(brought(ask).map_or(Opens::Look, |answer| Opens::Take { answer }));
    }
    match ask.field("do") {
        Some("begin") => Ok(Opens::Begin),
        Some("close") => Ok(Opens::Close),
        Some("paste") => Ok(Opens::Take {
            answer: ask.field("address").unwrap_or_default().to_owned(),
        }),
        other => Err(Wrong::Value(other.unwrap_or_default().chars().take(40).collect())),
    }
}

/// Whose record is opened here, and where delivery is asked.
pub(super) struct Place {
    state: PathBuf,
    person: PersonId,
    clinic: String,
    redirect: String,
}

impl Place {
    /// For whoever may state something about that person.
    pub(super) fn of(ask: &Ask, book: &mut Book) -> Result<Self, Wrong> {
        let known = book.known()?;
        let clinic = book.place.clinic();
        let (person, server) = meant(clinic).ok_or(Wrong::NotFound)?;
        if !ask.viewer.writes(person) {
            return Err(Wrong::NotYours);
        }
        if !known.people().any(|one| one == person) {
            return Err(Wrong::NotFound);
        }
        Ok(Self {
            state: book.place.state.clone(),
            person: person.clone(),
            clinic: server.to_owned(),
            redirect: clinic.redirect_url.clone(),
        })
    }

    /// Whether the clinic sends a browser back to the page as it was reached now.
    fn comes_back(&self, ask: &Ask) -> bool {
        let own = format!("{}{BACK}", ask.home.trim_end_matches('/'));
        self.redirect.eq_ignore_ascii_case(&own)
    }
}

/// Shows how far it is, or has delivery do what was pressed first.
pub(super) async fn answer(ask: Ask, writes: bool, holder: String, shared: &Shared) -> Answer {
    let does = match wanted(&ask, writes) {
        Ok(does) => does,
        Err(wrong) => return wrong.answer(&ask),
    };
    let ask = Arc::new(ask);
    let asking = ask.clone();
    let place = match shared.desk.ask(move |book| Place::of(&asking, book)).await {
        Ok(Ok(place)) => place,
        Ok(Err(wrong)) => return wrong.answer(&ask),
        Err(_) => return Wrong::Busy.answer(&ask),
    };
    let looks = does == Opens::Look;
    let state = place.state.clone();
    let opening = tokio::task::spawn_blocking(move || told(&state, holder, does)).await;
    // What a browser came back with does not stay in its address.
    if !looks {
        return Answer::see(HERE);
    }
    let opening = opening.ok().flatten();
    if opening == Some(Opening::None) {
        return Answer::see(&format!("/people#c-{}", encoded(&place.person)));
    }
    let moves = matches!(
        opening,
        Some(Opening::Asking | Opening::Taking | Opening::Closing)
    );
    let asking = ask.clone();
    let shown = shared
        .desk
        .ask(move |book| page(&asking, book, &place, opening.as_ref()))
        .await;
    match shown {
        // By a header: a page that is being typed into is not renewed.
        Ok(Ok(answer)) if moves => answer.with(REFRESH, "2".to_owned()),
        Ok(Ok(answer)) => answer,
        Ok(Err(wrong)) => wrong.answer(&ask),
        Err(_) => Wrong::Busy.answer(&ask),
    }
}

/// What delivery says; nothing where it does not run.
fn told(state: &Path, holder: String, does: Opens) -> Option<Opening> {
    let failed = |why: String| {
        tracing::warn!("delivery: {why}");
        Some(Opening::Failed {
            fault: OpeningFault::Here,
            why,
        })
    };
    match socket::ask(&socket::delivery_path(state), &Request::Opening { holder, does }) {
        Ok(Some(Said::Opening { step })) => Some(step),
        Ok(None) => None,
        Ok(Some(other)) => failed(format!("{other:?}")),
        Err(error) => failed(error.to_string()),
    }
}

fn page(ask: &Ask, book: &mut Book, place: &Place, opening: Option<&Opening>) -> Result<Answer, Wrong> {
    let known = book.known()?;
    let title = ask.say("opening-title");
    let body = html! {
        h1 { (title) }
        p.lead { bdi { (known.label(&place.person)) } }
        div role="status" { (step(ask, place, opening)) }
        p { a.button href={ "/people#c-" (encoded(&place.person)) } { (ask.say("nav-people")) } }
    };
    frame::of_household(ask, book, &title, &body)
}

fn step(ask: &Ask, place: &Place, opening: Option<&Opening>) -> Markup {
    let english = |name: &str, kind: &str, why: &str| {
        with_english(ask.words, name, &[("fault", kind.into())], ("why", why))
    };
    html! {
        @match opening {
            None => p.notice { (ask.say("opening-no-role")) },
            Some(Opening::None) => {},
            Some(Opening::Elsewhere) => {
                p { (ask.say("opening-elsewhere")) }
                (buttons(ask, &[("begin", "opening-open")]))
            },
            Some(Opening::Asking) => p.large { (ask.say("opening-asking")) },
            Some(Opening::Waits { url, missed }) => (waits(ask, place, url, *missed)),
            Some(Opening::Taking) => p.large { (ask.say("opening-taking")) },
            Some(Opening::Open) => p.large { (ask.say("opening-done")) },
            Some(Opening::Closing) => p.large { (ask.say("opening-closing")) },
            Some(Opening::Closed { why: None }) => p.large { (ask.say("opening-closed-there")) },
            Some(Opening::Closed { why: Some(why) }) => p.notice { (english("opening-closed-here", "", why)) },
            Some(Opening::Failed { fault: OpeningFault::Declined, .. }) => {
                p.notice { (ask.say("opening-declined")) }
                (buttons(ask, &[("begin", "opening-again")]))
            },
            Some(Opening::Failed { fault, why }) => {
                p.notice { (english("opening-failed", fault.name(), why)) }
                (buttons(ask, &[("begin", "opening-again")]))
            },
        }
    }
}

/// The person goes to the clinic's page, and comes back, or brings the address at which they ended.
fn waits(ask: &Ask, place: &Place, url: &str, missed: bool) -> Markup {
    let comes_back = place.comes_back(ask);
    let paste = html! {
        form method="post" action=(HERE) {
            (token(ask))
            p #paste-say { (ask.words.with("opening-paste-say", &[("address", place.redirect.as_str().into())])) }
            label for="address" { (ask.say("opening-paste")) }
            input #address name="address" type="text" inputmode="url" autocomplete="off" autocapitalize="none"
                spellcheck="false" required aria-describedby="paste-say";
            button.accent name="do" value="paste" { (ask.say("opening-take")) }
        }
    };
    html! {
        @if missed { p.notice { (ask.say("opening-missed")) } }
        p { (ask.words.with("opening-say", &[("clinic", place.clinic.as_str().into())])) }
        @if comes_back {
            p { (ask.say("opening-back-say")) }
            p { a.button.first.accent rel="noreferrer" href=(url) { (ask.say("opening-go")) } }
            details.handover {
                summary { (ask.say("opening-not-back")) }
                (paste)
            }
        } @else {
            p { a.button.first.accent rel="noreferrer noopener" target="_blank" href=(url) { (ask.say("opening-go")) } }
            (paste)
        }
    }
}
