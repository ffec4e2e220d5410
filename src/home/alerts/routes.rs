//! Whom to tell, by which way, of what: the `[alerts]` table of the configuration.

use super::message::Voice;
use crate::household::{Household, PersonId, Zones};
use crate::monitoring::reminders::{Kind, QuietHours, Silent};
use crate::words::Language;
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// More routes than a household has people and devices to tell.
const ROUTES_MAX: usize = 32;
/// A listener that was refused calls again within this, in minutes.
const LISTENER_SILENT_MIN: u16 = 10;

/// Everything about reminders and alerts that can be configured.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, default)]
pub struct Alerts {
    /// When only what is urgent is said.
    pub quiet_hours: QuietHours,
    /// A monitor unheard for so many days is called silent.
    pub monitor_silent_days: u16,
    /// A machine in another room unheard for so many minutes is called silent.
    pub listener_silent_minutes: u16,
    /// In which language.
    pub language: Language,
    /// The server that takes mail.
    pub mail: Option<MailServer>,
    /// The broker that takes messages and the state of the home.
    pub mqtt: Option<Broker>,
    /// Whom to tell, and how.
    pub route: Vec<Route>,
}

impl Default for Alerts {
    fn default() -> Self {
        Self {
            quiet_hours: QuietHours::default(),
            monitor_silent_days: Silent::default().monitor_days,
            listener_silent_minutes: Silent::default().listener_minutes,
            language: Language::default(),
            mail: None,
            mqtt: None,
            route: Vec::new(),
        }
    }
}

/// One way to one receiver. Exactly one of `command`, `webhook`, `mail` and `mqtt` says which.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, default)]
pub struct Route {
    /// Names it, for `remind list` and the ledger.
    pub name: String,
    /// A program with its arguments, run without a shell.
    pub command: Option<Vec<String>>,
    /// An address that takes a JSON object by POST.
    pub webhook: Option<String>,
    /// A file with the token that the webhook wants (`Authorization: Bearer`).
    pub token_file: Option<PathBuf>,
    /// A mail address.
    pub mail: Option<String>,
    /// To the broker.
    pub mqtt: bool,
    /// For somebody who cares from afar: without the reminders that only the person at the monitor can
    /// follow.
    pub caregiver: bool,
    /// Only of these people; without it, of everybody.
    pub people: Option<BTreeSet<PersonId>>,
    /// Only of these matters.
    pub kinds: Option<BTreeSet<Kind>>,
    /// Other quiet hours than the rest.
    pub quiet_hours: Option<QuietHours>,
    /// Write what was measured. Without it, only a command on this machine is told numbers.
    pub values: Option<bool>,
    /// In another language than the rest.
    pub language: Option<Language>,
}

/// A mail server (submission, RFC 6409).
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub struct MailServer {
    /// The host name or the IP address of the mail server.
    pub server: String,
    /// Its port; 465 with `tls`, 587 with `starttls`.
    pub port: Option<u16>,
    /// How the connection is secured.
    #[serde(default)]
    pub security: Security,
    /// The mail address of the sender, alone or behind a name: `Home <home@example.org>`.
    pub from: String,
    /// Who logs in.
    pub user: Option<String>,
    /// A file with the password.
    pub password_file: Option<PathBuf>,
    /// A file with the certificate of the authority that signed the server's, where the system does not know
    /// it.
    pub ca_file: Option<PathBuf>,
}

/// How a connection is secured.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Security {
    /// From the first octet.
    #[default]
    Tls,
    /// Begun in the open, with nothing sent before it is secured.
    Starttls,
    /// Not at all: only to this machine.
    None,
}

/// An MQTT broker.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub struct Broker {
    /// Its name or address.
    pub server: String,
    /// Its port; 8883 with TLS, 1883 without.
    pub port: Option<u16>,
    /// Whether the connection is secured. Only a broker on this machine, or one that is named so in words,
    /// goes without.
    #[serde(default = "yes")]
    pub tls: bool,
    /// Speak to a broker on another machine without TLS all the same.
    #[serde(default)]
    pub plain_text_is_fine: bool,
    /// A file with the certificate of the authority that signed the broker's, where the system does not know
    /// it.
    pub ca_file: Option<PathBuf>,
    /// Who logs in.
    pub user: Option<String>,
    /// A file with the password.
    pub password_file: Option<PathBuf>,
    /// The topic that everything stands below.
    #[serde(default = "topic")]
    pub topic: String,
    /// Publish what was measured too, for home automation; without it, only states.
    #[serde(default)]
    pub readings: bool,
    /// The topic below which home automation looks for what there is to show; without it, nothing is announced.
    #[serde(default)]
    pub discovery_prefix: Option<String>,
}

fn yes() -> bool {
    true
}

fn topic() -> String {
    "quietcuff".to_owned()
}

/// Which way a route goes.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Medium {
    /// A program on this machine.
    Command,
    /// An HTTP server.
    Webhook,
    /// The mail server of the configuration.
    Mail,
    /// The MQTT broker of the configuration.
    Mqtt,
}

impl Medium {
    /// As listings print it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Command => "command",
            Self::Webhook => "webhook",
            Self::Mail => "mail",
            Self::Mqtt => "mqtt",
        }
    }

    /// Whether the receiver, or what carries the message to them, can tell that it has it already: then it is
    /// better sent again than lost.
    pub const fn folds_repeats(self) -> bool {
        !matches!(self, Self::Command)
    }
}

impl Route {
    /// Which way it goes; none where it does not say, or says two.
    pub fn medium(&self) -> Option<Medium> {
        let said = [
            self.command.as_ref().map(|_| Medium::Command),
            self.webhook.as_ref().map(|_| Medium::Webhook),
            self.mail.as_ref().map(|_| Medium::Mail),
            self.mqtt.then_some(Medium::Mqtt),
        ];
        let mut said = said.into_iter().flatten();
        said.next().filter(|_| said.next().is_none())
    }

    /// Whether it is told of this.
    pub fn takes(&self, kind: Kind, person: Option<&PersonId>) -> bool {
        let of_kind = match &self.kinds {
            Some(kinds) => kinds.contains(&kind),
            None => !self.caregiver || !matches!(kind, Kind::SessionDue | Kind::HalfDone),
        };
        // What is nobody's, a monitor's or the daemon's concerns everybody.
        let of_person = match (&self.people, person) {
            (Some(people), Some(person)) => people.contains(person),
            _ => true,
        };
        of_kind && of_person
    }

    /// Whether it is told numbers.
    pub fn is_terse(&self) -> bool {
        !self.values.unwrap_or(self.medium() == Some(Medium::Command))
    }
}

impl Alerts {
    /// In whose words a route is told, and how much.
    pub fn voice<'a>(&self, route: &Route, household: &'a Household, zones: &'a Zones) -> Voice<'a> {
        Voice {
            words: route.language.unwrap_or(self.language).words(),
            household,
            zones,
            terse: route.is_terse(),
        }
    }

    /// Whether a route is told nothing that can wait.
    pub fn is_quiet(&self, route: &Route, zones: &Zones, now: Timestamp) -> bool {
        let hours = route.quiet_hours.unwrap_or(self.quiet_hours);
        hours.holds(zones.civil(now).time())
    }

    /// Takes relative paths as meant from beside the configuration.
    pub fn lie_beside(&mut self, directory: &Path) {
        let mail = self
            .mail
            .iter_mut()
            .flat_map(|mail| [&mut mail.password_file, &mut mail.ca_file]);
        let mqtt = self
            .mqtt
            .iter_mut()
            .flat_map(|mqtt| [&mut mqtt.password_file, &mut mqtt.ca_file]);
        let routes = self.route.iter_mut().map(|route| &mut route.token_file);
        for path in mail.chain(mqtt).chain(routes).flatten() {
            *path = directory.join(&path);
        }
    }

    /// Whom a route is for and whom nobody has added: a name that is misspelt is never told anything.
    pub fn strangers<'a>(
        &'a self,
        household: &'a Household,
    ) -> impl Iterator<Item = (&'a str, &'a PersonId)> {
        self.route.iter().flat_map(move |route| {
            let people = route.people.iter().flatten();
            people
                .filter(|person| !household.people.contains_key(*person))
                .map(|person| (route.name.as_str(), person))
        })
    }

    /// How long a silence is worth a word.
    pub const fn silent(&self) -> Silent {
        Silent {
            monitor_days: self.monitor_silent_days,
            listener_minutes: self.listener_silent_minutes,
        }
    }

    /// What is wrong, in words.
    pub fn wrong(&self) -> Option<String> {
        if self.monitor_silent_days == 0 {
            return Some(
                "alerts.monitor-silent-days: no monitor is heard all the time; give 1 or more".to_owned(),
            );
        }
        if self.listener_silent_minutes < LISTENER_SILENT_MIN {
            return Some(format!(
                "alerts.listener-silent-minutes: a listener says each minute that it is there, and one that starts anew takes a \
                 few; give {LISTENER_SILENT_MIN} or more"
            ));
        }
        if self.route.len() > ROUTES_MAX {
            return Some(format!(
                "alerts.route: {} routes are more than {ROUTES_MAX}",
                self.route.len()
            ));
        }
        let mut names = BTreeSet::new();
        for route in &self.route {
            let name = &route.name;
            let id = name.parse::<PersonId>().is_ok();
            if !id {
                return Some(format!(
                    "alerts.route: {name:?} cannot name a route: use 1 to 32 letters, digits, `-` or `_`"
                ));
            }
            if !names.insert(name) {
                return Some(format!("alerts.route: two routes are named {name}"));
            }
            if let Some(wrong) = self.wrong_route(route) {
                return Some(format!("alerts.route {name}: {wrong}"));
            }
        }
        self.wrong_server()
    }

    fn wrong_route(&self, route: &Route) -> Option<&'static str> {
        if route.people.as_ref().is_some_and(BTreeSet::is_empty) {
            return Some("`people` names nobody; leave it out to tell of everybody");
        }
        if route.kinds.as_ref().is_some_and(BTreeSet::is_empty) {
            return Some("`kinds` names nothing; leave it out to tell of everything");
        }
        match route.medium() {
            None => Some("say one of `command`, `webhook`, `mail` and `mqtt = true`"),
            Some(Medium::Command) => {
                let program = route.command.as_ref().and_then(|command| command.first());
                let absolute = program.is_some_and(|program| program.starts_with('/'));
                (!absolute)
                    .then_some("`command` begins with the whole path of a program, such as /usr/bin/notify")
            }
            Some(Medium::Mail) if self.mail.is_none() => Some("`[alerts.mail]` has to say by which server"),
            Some(Medium::Mail) => route
                .mail
                .as_ref()
                .is_some_and(|address| address.parse::<lettre::message::Mailbox>().is_err())
                .then_some("`mail` is no mail address"),
            Some(Medium::Mqtt) if self.mqtt.is_none() => Some("`[alerts.mqtt]` has to say by which broker"),
            Some(Medium::Mqtt | Medium::Webhook) => None,
        }
    }

    fn wrong_server(&self) -> Option<String> {
        if let Some(mail) = &self.mail {
            if mail.from.parse::<lettre::message::Mailbox>().is_err() {
                return Some("alerts.mail: `from` is no mail address".to_owned());
            }
            if mail.security == Security::None && !is_this_machine(&mail.server) {
                return Some(
                    "alerts.mail: `security = \"none\"` is for a server on this machine only".to_owned(),
                );
            }
        }
        let mqtt = self.mqtt.as_ref()?;
        let topics = std::iter::once(&mqtt.topic).chain(&mqtt.discovery_prefix);
        for topic in topics {
            let good = !topic.is_empty()
                && topic.len() <= 128
                && !topic.starts_with(['/', '$'])
                && !topic.ends_with('/')
                && !topic.chars().any(|c| matches!(c, '+' | '#') || c.is_control());
            if !good {
                return Some(format!(
                    "alerts.mqtt: {topic:?} is no topic to stand above others: no `+`, `#`, nor `/` at its ends"
                ));
            }
        }
        (!mqtt.tls && !mqtt.plain_text_is_fine && !is_this_machine(&mqtt.server)).then(|| {
            "alerts.mqtt: without TLS everybody in the network can read along; set `plain-text-is-fine = true` to \
             have it so"
                .to_owned()
        })
    }
}

/// Whether a server is this machine, so that what is said to it crosses no network.
pub fn is_this_machine(server: &str) -> bool {
    server == "localhost"
        || server
            .trim_matches(['[', ']'])
            .parse::<std::net::IpAddr>()
            .is_ok_and(|address| address.is_loopback())
}
