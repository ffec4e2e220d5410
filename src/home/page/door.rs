//! The door: who asks, from where, and what they may do. Everything here is decided on the server, for each
//! request anew; what a page leaves out of sight is refused as well.

use super::settings::Settings;
use crate::household::{Household, PersonId};
use crate::keys::{Digest, Key, KeySecret, Role};
use hyper::header::{self, HeaderMap};
use sha2::{Digest as _, Sha256};
use std::collections::{BTreeSet, HashMap};
use std::net::IpAddr;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

/// The cookie of a session. Its prefix makes browsers refuse one that another page or an unencrypted answer
/// set.
const COOKIE: &str = "quietcuff-session";
const COOKIE_SECURE: &str = "__Host-quietcuff-session";
/// The cookie with the language.
pub(super) const COOKIE_LANGUAGE: &str = "quietcuff-language";

/// Wrong keys of one address that are answered at once in a while: guessing is hopeless anyhow, this keeps it cheap.
const TRIES_MAX: u32 = 5;
/// After more, each wrong one is answered so late. Own choice.
pub(super) const TRY_LATER: Duration = Duration::from_secs(3);
/// Addresses with wrong keys that are counted at once; what comes from yet another is answered late.
const GUESSERS_MAX: usize = 1024;
const TRIES_IN: Duration = Duration::from_mins(1);

/// Octets of an IPv6 address that one household or one guesser is given (RFC 6177 2: a /64 at least).
const NETWORK_OCTETS: usize = 8;

/// Whoever can be told apart before a key is shown: an address, or the network of an IPv6 one.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub(super) struct From(IpAddr);

impl From {
    pub(super) fn of(address: IpAddr) -> Self {
        Self(match address.to_canonical() {
            IpAddr::V6(six) if !six.is_loopback() => {
                let mut octets = six.octets();
                octets
                    .iter_mut()
                    .skip(NETWORK_OCTETS)
                    .for_each(|octet| *octet = 0);
                IpAddr::from(octets)
            }
            other => other,
        })
    }
}

impl std::fmt::Display for From {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.fmt(f)
    }
}

/// Somebody who looks at the page.
#[derive(Clone, Debug)]
pub(super) struct Viewer {
    /// The key; where the page is open none is needed.
    key: Option<Key>,
    /// Whose data it is for; everybody's without.
    people: Option<BTreeSet<PersonId>>,
}

impl Viewer {
    /// Somebody on the machine itself, where the page is open.
    pub(super) const HERE: Self = Self {
        key: None,
        people: None,
    };

    /// The holder of a key in this household.
    pub(super) fn with(key: Key, household: &Household) -> Self {
        Self {
            people: key.sees(household),
            key: Some(key),
        }
    }

    /// Whether it is for some people's data alone.
    pub(super) const fn is_for_some(&self) -> bool {
        self.people.is_some()
    }

    pub(super) fn sees(&self, person: &PersonId) -> bool {
        self.people.as_ref().is_none_or(|people| people.contains(person))
    }

    /// Whether they may state something about this person.
    pub(super) fn writes(&self, person: &PersonId) -> bool {
        self.changes() && self.sees(person)
    }

    /// Whether they may change anything at all.
    pub(super) fn changes(&self) -> bool {
        self.key.as_ref().is_none_or(|key| key.role != Role::Clinician)
    }

    /// Whether they look after the whole household: a caregiver of some people does not.
    pub(super) fn cares(&self) -> bool {
        let role = self.key.as_ref().map(|key| key.role);
        role.is_none_or(|role| role == Role::Caregiver) && !self.is_for_some()
    }

    /// Who says something, in the household's words; nobody on the machine itself.
    pub(super) fn name(&self) -> Option<&str> {
        let key = self.key.as_ref()?;
        Some(key.label.trim())
            .filter(|label| !label.is_empty())
            .or(Some(&key.id))
    }

    /// The key's own name; none on the machine itself.
    pub(super) fn key_id(&self) -> Option<&str> {
        self.key.as_ref().map(|key| key.id.as_str())
    }

    pub(super) const fn has_key(&self) -> bool {
        self.key.is_some()
    }
}

/// Why a request does not even reach the page.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Refused {
    /// Another name than ours: somebody's DNS points at us.
    Name,
    /// It came through a proxy of which the configuration knows nothing.
    Proxy,
    /// Another page's form.
    Elsewhere,
}

impl Refused {
    pub(super) const fn words(self) -> &'static str {
        match self {
            Self::Name => {
                "This name is not one of this page's. Use its address, or add the name to `names` under [page] in the \
                 configuration."
            }
            Self::Proxy => {
                "This came through a proxy. Set `behind-proxy = true` under [page] in the configuration, and take \
                 `open-on-this-machine` out of it, so that keys are asked for."
            }
            Self::Elsewhere => "This form did not come from this page.",
        }
    }
}

/// Looks at a request before anything else does.
pub(super) fn look(settings: &Settings, headers: &HeaderMap, writes: bool) -> Result<(), Refused> {
    let host = text(headers, &header::HOST).unwrap_or_default();
    if !is_ours(settings, host) {
        return Err(Refused::Name);
    }
    let through = [header::FORWARDED, header::VIA]
        .iter()
        .any(|name| headers.contains_key(name))
        || headers.contains_key("x-forwarded-for")
        || headers.contains_key("x-real-ip");
    if through && !settings.behind_proxy && settings.is_open() {
        return Err(Refused::Proxy);
    }
    if writes {
        // Browsers say both; a program that says neither has no cookies of ours to abuse, and needs the
        // form's token.
        let site = headers.get("sec-fetch-site").and_then(|v| v.to_str().ok());
        if site.is_some_and(|site| site != "same-origin") {
            return Err(Refused::Elsewhere);
        }
        if let Some(origin) = text(headers, &header::ORIGIN) {
            let same = origin
                .strip_prefix("http://")
                .or_else(|| origin.strip_prefix("https://"));
            if same != Some(host) {
                return Err(Refused::Elsewhere);
            }
        }
    }
    Ok(())
}

/// An address cannot be pointed at us by anybody's DNS; a name can, so only those that were configured are
/// ours.
fn is_ours(settings: &Settings, host: &str) -> bool {
    let name = match host.strip_prefix('[') {
        Some(rest) => rest.split(']').next().unwrap_or_default(),
        None => host.rsplit_once(':').map_or(host, |(name, _port)| name),
    };
    name == "localhost"
        || name.parse::<IpAddr>().is_ok()
        || settings.names.iter().any(|ours| ours.eq_ignore_ascii_case(name))
}

pub(super) fn text<'a>(headers: &'a HeaderMap, name: &header::HeaderName) -> Option<&'a str> {
    headers.get(name).and_then(|value| value.to_str().ok())
}

/// Whether a browser itself says that a form came from this page. A page that was open before the service
/// started anew has an old token, and this.
pub(super) fn is_from_our_page(headers: &HeaderMap) -> bool {
    let says = |name: &str| headers.get(name).and_then(|value| value.to_str().ok());
    let origin = says("origin").and_then(|origin| origin.split_once("://"));
    says("sec-fetch-site") == Some("same-origin")
        && origin.is_some_and(|(_, name)| text(headers, &header::HOST) == Some(name))
}

/// A cookie's value.
pub(super) fn cookie<'a>(headers: &'a HeaderMap, name: &str) -> Option<&'a str> {
    headers
        .get_all(header::COOKIE)
        .iter()
        .filter_map(|value| value.to_str().ok())
        .flat_map(|line| line.split(';'))
        .find_map(|pair| pair.trim().strip_prefix(name)?.strip_prefix('='))
}

/// The name of the cookie that holds the session.
pub(super) fn session_cookie(settings: &Settings) -> &'static str {
    if settings.secure() { COOKIE_SECURE } else { COOKIE }
}

/// The session's secret, if the browser has one.
pub(super) fn session(settings: &Settings, headers: &HeaderMap) -> Option<KeySecret> {
    cookie(headers, session_cookie(settings)).and_then(KeySecret::typed)
}

/// What each form carries: bound to the session, or to this run of the program where no key is needed.
pub(super) fn form_token(settings: &Settings, session: Option<&KeySecret>) -> String {
    bound(settings, session, "form")
}

/// Names the browser that opens a record, to delivery.
pub(super) fn holder(settings: &Settings, session: Option<&KeySecret>) -> String {
    bound(settings, session, "opening")
}

fn bound(settings: &Settings, session: Option<&KeySecret>, what: &str) -> String {
    let of = session.unwrap_or(&settings.own);
    let Digest(octets) = of.digest(what);
    octets
        .iter()
        .take(16)
        .map(|octet| format!("{octet:02x}"))
        .collect()
}

/// Whether the form's token is ours. Digests are compared, so that the time it takes tells nothing.
pub(super) fn is_our_form(expected: &str, sent: &str) -> bool {
    Sha256::digest(expected) == Sha256::digest(sent)
}

/// How often a wrong key was tried, by whom.
#[derive(Debug, Default)]
pub(super) struct Tries(Mutex<HashMap<From, (Instant, u32)>>);

impl Tries {
    /// Counts a wrong one. Whether it is answered at once.
    pub(super) fn wrong(&self, from: From) -> bool {
        let mut tries = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        tries.retain(|_, (since, _)| since.elapsed() < TRIES_IN);
        if tries.len() >= GUESSERS_MAX && !tries.contains_key(&from) {
            return false;
        }
        let so_far = &mut tries.entry(from).or_insert_with(|| (Instant::now(), 0)).1;
        *so_far = so_far.saturating_add(1);
        *so_far <= TRIES_MAX
    }
}
