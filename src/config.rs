//! The configuration file: what the machine's owner decides. People and monitors are not in it; they are
//! statements in the journal.

use crate::delivery::Clinic;
use crate::export::fhir::Fhir;
use crate::export::hl7::Hl7;
use crate::home::alerts::routes::Alerts;
use crate::home::page::PageSettings;
use crate::household::phones::Phones;
use crate::journal::{Backup, Recipients};
use crate::radio::Radio;
use crate::whole::reason;
use crate::words::Language;
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// A configuration file longer than this is something else.
const FILE_OCTETS_MAX: u64 = 256 * 1024;

/// Everything that can be configured. Each key has a default.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, default)]
pub struct Config {
    /// The household's time zone, an IANA name or a fixed offset; without it, the system's.
    pub time_zone: Option<String>,
    /// The protocol that the clinic wrote, chosen by the name `clinic`. A relative path is meant from beside
    /// this file.
    pub clinic_protocol: Option<PathBuf>,
    /// The Bluetooth side.
    pub radio: Radio,
    /// What is written for a clinic's server.
    pub fhir: Fhir,
    /// What is written for a clinic without such a server.
    pub hl7: Hl7,
    /// Where it is delivered to.
    pub clinic: Clinic,
    /// The household's page.
    pub page: PageSettings,
    /// Whom the household calls.
    pub emergency: Phones,
    /// Who is told what, and how.
    pub alerts: Alerts,
    /// Where backups go, and who opens them.
    pub backup: Backup,
}

/// A configuration that cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum ConfigError {
    /// The file cannot be read.
    #[error("cannot read the configuration {}: {what}; check its name and who may read it", path.display())]
    Unreadable {
        /// The path of the configuration that cannot be read.
        path: PathBuf,
        /// The system's reason.
        what: String,
    },
    /// A key that does not exist.
    #[error("{}: there is no key `{key}`{}", path.display(), nearest.as_ref().map(|n| format!("; did you mean `{n}`?")).unwrap_or_else(|| "; take it out".to_owned()))]
    UnknownKey {
        /// The path of the configuration in which the key stands.
        path: PathBuf,
        /// The key with its table.
        key: String,
        /// The nearest right one.
        nearest: Option<String>,
    },
    /// A value that does not fit, or text that is not TOML.
    #[error("{}: {what}", path.display())]
    Wrong {
        /// The path of the configuration in which the fault is.
        path: PathBuf,
        /// Where and why.
        what: String,
    },
}

impl Config {
    /// In which language the clinic reads: its own, where that is known, else the household's.
    pub fn clinic_language(&self) -> Language {
        self.clinic.language.unwrap_or(self.alerts.language)
    }

    /// In which language sheets go to the clinic, where they do.
    pub fn sheets_to_clinic(&self) -> Option<Language> {
        self.clinic.sheets.then(|| self.clinic_language())
    }

    /// Reads and checks a file.
    pub fn read(path: &Path) -> Result<Self, ConfigError> {
        let unreadable = |what: String| ConfigError::Unreadable {
            path: path.to_owned(),
            what,
        };
        let size = std::fs::metadata(path).map_err(|e| unreadable(reason(&e)))?.len();
        if size > FILE_OCTETS_MAX {
            return Err(unreadable(format!(
                "it has {size} octets, a configuration has at most {FILE_OCTETS_MAX}"
            )));
        }
        let octets = std::fs::read(path).map_err(|e| unreadable(reason(&e)))?;
        let text = String::from_utf8(octets).map_err(|_| ConfigError::Wrong {
            path: path.to_owned(),
            what: "it is no UTF-8 text; save it as UTF-8".to_owned(),
        })?;
        let mut config = Self::parse(&text, path)?;
        let files = [
            &mut config.clinic_protocol,
            &mut config.page.tls_certificate,
            &mut config.page.tls_key,
            &mut config.backup.to,
        ];
        if let Some(beside) = path.parent() {
            for file in files.into_iter().flatten() {
                *file = beside.join(&file);
            }
            config.clinic.beside(beside);
            config.alerts.lie_beside(beside);
        }
        Ok(config)
    }

    /// Checks the text of a file; `path` is for the error.
    pub fn parse(text: &str, path: &Path) -> Result<Self, ConfigError> {
        let wrong = |what: String| ConfigError::Wrong {
            path: path.to_owned(),
            what: what.trim_end().to_owned(),
        };
        let table: toml::Table = text.parse().map_err(|e| wrong(sentence(text, &e)))?;
        if let Some((key, nearest)) = unknown_key(&table, &Self::every_key(), "") {
            return Err(ConfigError::UnknownKey {
                path: path.to_owned(),
                key,
                nearest,
            });
        }
        let config: Self = toml::from_str(text).map_err(|e| wrong(sentence(text, &e)))?;
        if let Some(zone) = &config.time_zone {
            crate::household::time_zone(zone).map_err(|e| wrong(format!("time-zone: {e}")))?;
        }
        if config.page.tls_certificate.is_some() != config.page.tls_key.is_some() {
            return Err(wrong(
                "page: `tls-certificate` and `tls-key` belong together: give both or neither".to_owned(),
            ));
        }
        if let Err(why) = Recipients::read(&config.backup.recipients) {
            return Err(wrong(format!("backup.recipients: {why}")));
        }
        if [config.backup.days, config.backup.weeks, config.backup.months] == [0; 3] {
            return Err(wrong(
                "backup: days, weeks and months are all 0; keep some".to_owned(),
            ));
        }
        let wrong_people = config.fhir.wrong_patient().or_else(|| config.hl7.wrong());
        match wrong_people.or_else(|| config.alerts.wrong()) {
            Some(what) => Err(wrong(what)),
            None => Ok(config),
        }
    }

    /// Every key there is, as `table.key`.
    fn every_key() -> Vec<&'static str> {
        vec![
            "time-zone",
            "clinic-protocol",
            "radio",
            "radio.adapter",
            "radio.bearer",
            "radio.named-service-only",
            "radio.set-clocks",
            "radio.serve-time",
            "fhir",
            "fhir.profiles",
            "fhir.device-codes",
            "fhir.narrative",
            "fhir.snomed",
            "fhir.patients",
            "hl7",
            "hl7.sending-facility",
            "hl7.receiving-application",
            "hl7.receiving-facility",
            "hl7.patients",
            "clinic",
            "clinic.server",
            "clinic.people",
            "clinic.consent",
            "clinic.sheets",
            "clinic.release-records",
            "clinic.language",
            "clinic.auth",
            "clinic.token-file",
            "clinic.user",
            "clinic.password-file",
            "clinic.client-id",
            "clinic.key-file",
            "clinic.key-id",
            "clinic.algorithm",
            "clinic.token-url",
            "clinic.scope",
            "clinic.ca-file",
            "clinic.certificate-file",
            "clinic.certificate-key-file",
            "clinic.redirect-url",
            "clinic.plain-http",
            "page",
            "page.listen",
            "page.tls-certificate",
            "page.tls-key",
            "page.plain-http-to-others",
            "page.behind-proxy",
            "page.open-on-this-machine",
            "page.names",
            "emergency",
            "emergency.number",
            "emergency.contact",
            "emergency.contact-name",
            "backup",
            "backup.to",
            "backup.recipients",
            "backup.days",
            "backup.weeks",
            "backup.months",
        ]
        .into_iter()
        .chain(Self::keys_of_alerts())
        .collect()
    }

    fn keys_of_alerts() -> Vec<&'static str> {
        vec![
            "alerts",
            "alerts.quiet-hours",
            "alerts.monitor-silent-days",
            "alerts.listener-silent-minutes",
            "alerts.language",
            "alerts.mail",
            "alerts.mail.server",
            "alerts.mail.port",
            "alerts.mail.security",
            "alerts.mail.from",
            "alerts.mail.user",
            "alerts.mail.password-file",
            "alerts.mail.ca-file",
            "alerts.mqtt",
            "alerts.mqtt.server",
            "alerts.mqtt.port",
            "alerts.mqtt.tls",
            "alerts.mqtt.plain-text-is-fine",
            "alerts.mqtt.ca-file",
            "alerts.mqtt.user",
            "alerts.mqtt.password-file",
            "alerts.mqtt.topic",
            "alerts.mqtt.readings",
            "alerts.mqtt.discovery-prefix",
            ROUTES,
        ]
    }
}

/// A table of which there may be several; an unknown key in one is named when it is read.
const ROUTES: &str = "alerts.route";

/// The tables whose keys are the household's people.
const PEOPLE: [&str; 2] = ["fhir.patients", "hl7.patients"];

fn unknown_key(table: &toml::Table, known: &[&str], above: &str) -> Option<(String, Option<String>)> {
    table.iter().find_map(|(name, value)| {
        let key = if above.is_empty() {
            name.clone()
        } else {
            format!("{above}.{name}")
        };
        if !known.contains(&key.as_str()) {
            let nearest = known
                .iter()
                .map(|right| (strsim::damerau_levenshtein(&key, right), *right))
                .min()
                .filter(|(distance, right)| *distance <= right.len() / 2)
                .map(|(_, right)| right.to_owned());
            return Some((key, nearest));
        }
        let table = value.as_table().filter(|_| !PEOPLE.contains(&key.as_str()));
        table.and_then(|inner| unknown_key(inner, known, &key))
    })
}

/// What a parser says in several lines and in its own words, as one sentence that says where.
fn sentence(text: &str, error: &toml::de::Error) -> String {
    let line = error.span().and_then(|span| text.get(..span.start)).map_or_else(
        || "one of its lines".to_owned(),
        |before| format!("line {}", before.matches('\n').count() + 1),
    );
    let said = error.message().lines().collect::<Vec<_>>().join(", ");
    let chosen = said.strip_prefix("unknown variant ");
    if let Some((there, wanted)) = chosen.and_then(|said| said.split_once(", expected ")) {
        let wanted = wanted.trim_start_matches("one of ");
        return format!("{line} has {there}, and what belongs there is one of {wanted}; mend that line");
    }
    let misfit = said
        .strip_prefix("invalid type: ")
        .or_else(|| said.strip_prefix("invalid value: "));
    match misfit.and_then(|said| said.split_once(", expected ")) {
        Some((there, wanted)) => format!(
            "{line} has {there} where {} belongs; mend that line",
            named(wanted)
        ),
        None => format!("{line}: {said}; mend that line"),
    }
}

/// A kind of value in words of everyday.
fn named(wanted: &str) -> String {
    let most = match wanted {
        "u8" => u64::from(u8::MAX),
        "u16" => u64::from(u16::MAX),
        "u32" => u64::from(u32::MAX),
        "u64" => u64::MAX,
        // Tables are read into structures, whose names a person never sees.
        _ if wanted.starts_with("struct ") => return "a table".to_owned(),
        _ => return wanted.to_owned(),
    };
    format!("a whole number from 0 to {most}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::delivery::key::Algorithm;
    use crate::delivery::releases::ReleaseRule;
    use crate::delivery::{Auth, PlainHttp};
    use crate::export::fhir::Profiles;

    fn parse(text: &str) -> Result<Config, ConfigError> {
        Config::parse(text, Path::new("quietcuff.toml"))
    }

    #[test]
    fn nothing_written_means_the_defaults() {
        assert_eq!(parse("").unwrap(), Config::default());
    }

    fn keys(table: &toml::Table, above: &str, written: &mut Vec<String>) {
        for (name, value) in table {
            let key = format!("{above}{name}");
            written.push(key.clone());
            if let Some(inner) = value.as_table().filter(|_| !PEOPLE.contains(&key.as_str())) {
                keys(inner, &format!("{key}."), written);
            }
        }
    }

    fn every_alert() -> Alerts {
        toml::from_str(
            "[mail]\nserver = \"mail.example\"\nport = 465\nfrom = \"q@home.example\"\nuser = \"q\"\n\
             password-file = \"/p\"\nca-file = \"/c\"\n\
             [mqtt]\nserver = \"broker\"\nport = 8883\ndiscovery-prefix = \"hub\"\nca-file = \"/c\"\nuser = \"q\"\npassword-file = \"/p\"\n\
             [[route]]\nname = \"r\"\nmqtt = true\n",
        )
        .unwrap()
    }

    #[test]
    fn every_key_is_known_and_no_other() {
        let every = Config {
            emergency: Phones {
                number: "112".to_owned().try_into().ok(),
                contact: "112".to_owned().try_into().ok(),
                contact_name: "Meera".to_owned().try_into().ok(),
            },
            time_zone: Some("Asia/Kolkata".into()),
            clinic_protocol: Some("clinic.toml".into()),
            radio: Radio {
                adapter: Some("C0:FF:EE:00:00:01".parse().unwrap()),
                ..Radio::default()
            },
            fhir: Fhir {
                profiles: Some(Profiles::Core),
                patients: [("asha".parse().unwrap(), "Patient/123".to_owned())].into(),
                ..Fhir::default()
            },
            hl7: Hl7 {
                sending_facility: Some("HOME7".into()),
                receiving_application: Some("RESULTS".into()),
                receiving_facility: Some("CLINIC^1.2.3^ISO".into()),
                patients: [("asha".parse().unwrap(), "1234^^^CLINIC^MR".to_owned())].into(),
            },
            clinic: Clinic {
                server: Some("https://clinic.example/r4".into()),
                people: vec!["asha".parse().unwrap()],
                consent: ReleaseRule::Required,
                sheets: true,
                release_records: true,
                language: Some(Language::German),
                auth: Auth::Smart,
                token_file: Some("token".into()),
                user: Some("us".into()),
                password_file: Some("password".into()),
                client_id: Some("us".into()),
                key_file: Some("key.pem".into()),
                key_id: Some("1".into()),
                algorithm: Some(Algorithm::Es384),
                redirect_url: "https://home.example/launched".into(),
                token_url: Some("https://clinic.example/token".into()),
                scope: Clinic::default().scope,
                ca_file: Some("ca.pem".into()),
                certificate_file: Some("gateway.pem".into()),
                certificate_key_file: Some("gateway.key".into()),
                plain_http: Some(PlainHttp::EverybodyMayReadIt),
                state: None,
            },
            page: PageSettings {
                tls_certificate: Some("page.pem".into()),
                tls_key: Some("page.key".into()),
                ..PageSettings::default()
            },
            alerts: every_alert(),
            backup: Backup {
                to: Some("backups".into()),
                recipients: vec![crate::journal::new_key().1],
                ..Backup::default()
            },
        };
        let text = toml::to_string(&every).unwrap();
        assert_eq!(parse(&text).unwrap(), every);
        let table: toml::Table = text.parse().unwrap();
        let mut written = vec![];
        keys(&table, "", &mut written);
        let mut known = Config::every_key();
        known.sort_unstable();
        written.sort_unstable();
        assert_eq!(written, known);
    }

    const SAMPLE: &str = include_str!("../systemd/quietcuff.toml");

    /// The sample's lines that are keys, uncommented, with whether what is said above them gives a default.
    fn sample_lines() -> Vec<(&'static str, bool)> {
        let mut has_default = true;
        let mut said = false;
        let mut lines = vec![];
        for line in SAMPLE.lines() {
            if let Some(words) = line.strip_prefix("# ") {
                has_default = (has_default || !said) && !words.contains("o default");
                said = true;
            } else if let Some(key) = line.strip_prefix('#') {
                said = false;
                lines.push((key, has_default));
            } else {
                (has_default, said) = (true, false);
            }
        }
        lines
    }

    #[test]
    fn the_sample_has_every_key_and_the_real_defaults() {
        let lines = sample_lines();
        let text = |wanted: &dyn Fn(bool) -> bool| -> String {
            let lines = lines.iter().filter(|(_, has_default)| wanted(*has_default));
            lines.map(|(line, _)| format!("{line}\n")).collect()
        };
        let whole = text(&|_| true);
        let table: toml::Table = whole.parse().unwrap();
        for key in Config::every_key() {
            let mut at = Some(&table);
            for part in key.split('.') {
                let found = at.and_then(|table| table.get(part));
                assert!(found.is_some(), "the sample lacks `{key}`");
                at = found.and_then(toml::Value::as_table);
            }
        }
        assert_ne!(parse(&whole).unwrap(), Config::default(), "it has examples too");
        let defaults = text(&|has_default| has_default);
        assert!(defaults.lines().count() > 5, "{defaults}");
        assert_eq!(parse(&defaults).unwrap(), Config::default());
        assert_eq!(
            parse(SAMPLE).unwrap(),
            Config::default(),
            "as it is installed it changes nothing"
        );
    }

    #[test]
    fn a_misspelt_key_is_named_with_the_nearest_right_one() {
        let said = parse("[radio]\nadaptor = \"C0:FF:EE:00:00:01\"\n")
            .unwrap_err()
            .to_string();
        assert!(
            said.contains("`radio.adaptor`") && said.contains("`radio.adapter`"),
            "{said}"
        );
        let said = parse("timezone = \"UTC\"").unwrap_err().to_string();
        assert!(
            said.contains("`timezone`") && said.contains("`time-zone`"),
            "{said}"
        );
    }

    #[test]
    fn a_wrong_value_says_where() {
        let said = parse("[radio]\nset-clocks = \"perhaps\"\n")
            .unwrap_err()
            .to_string();
        assert!(said.contains("line 2") && said.contains("boolean"), "{said}");
        let said = parse("time-zone = \"Mars/Olympus\"").unwrap_err().to_string();
        assert!(said.contains("Mars/Olympus"), "{said}");
        assert!(parse("[radio").is_err());
    }

    #[test]
    fn a_route_says_one_way_out_and_what_it_needs() {
        let said = |text: &str| parse(text).map(|_| ()).map_err(|e| e.to_string()).unwrap_err();
        let route = |rest: &str| format!("[[alerts.route]]\nname = \"r\"\n{rest}");
        for (text, why) in [
            (route(""), "say one of"),
            (route("mqtt = true\nmail = \"a@b.example\""), "say one of"),
            (route("mqtt = true"), "[alerts.mqtt]"),
            (route("mail = \"a@b.example\""), "[alerts.mail]"),
            (route("command = [\"notify\"]"), "whole path"),
            (route("colour = \"red\""), "colour"),
            (route("command = [\"/bin/x\"]\nkinds = [\"dizzy\"]"), "dizzy"),
            (route("command = [\"/bin/x\"]\nkinds = []"), "names nothing"),
            (route("command = [\"/bin/x\"]\npeople = []"), "names nobody"),
            ("[alerts]\nmonitor-silent-days = 0".to_owned(), "1 or more"),
            ("[alerts]\nlistener-silent-minutes = 9".to_owned(), "10 or more"),
            (route("command = [\"/bin/x\"]\n").repeat(2), "two routes"),
            (
                route("command = [\"/bin/x\"]").replace("\"r\"", "\"a/#\""),
                "cannot name a route",
            ),
            ("[alerts]\nquiet-hours = \"late\"".to_owned(), "21:00-07:00"),
            (
                "[alerts.mqtt]\nserver = \"b\"\ntls = false".to_owned(),
                "plain-text-is-fine",
            ),
            (
                "[alerts.mqtt]\nserver = \"b\"\ntopic = \"a/#\"".to_owned(),
                "no topic",
            ),
            (
                "[alerts.mail]\nserver = \"m\"\nsecurity = \"none\"\nfrom = \"a@b.example\"".to_owned(),
                "this machine only",
            ),
            (
                "[alerts.mail]\nserver = \"m\"\nfrom = \"a@b.example\\r\\nBcc: x@y.example\"".to_owned(),
                "no mail address",
            ),
        ] {
            let said = said(&text);
            assert!(said.contains(why), "{text}: {said}");
        }
        assert!(parse("[alerts.mqtt]\nserver = \"127.0.0.1\"\ntls = false\n").is_ok());
    }

    #[test]
    fn a_patient_is_one_persons() {
        let patients = |table: &str| parse(&format!("[fhir.patients]\n{table}")).map_err(|e| e.to_string());
        assert!(patients("asha = \"https://clinic.example/r4/Patient/a-1\"").is_ok());
        for wrong in [
            "123",
            "Patient/",
            "Patient/a b",
            "Practitioner/1",
            "ftp://x/Patient/1",
            "Patient/1/_history/2",
        ] {
            let said = patients(&format!("asha = \"{wrong}\"")).unwrap_err();
            assert!(said.contains("asha") && said.contains("Patient/ID"), "{said}");
        }
        let said = patients("asha = \"Patient/1\"\nravi = \"Patient/1\"").unwrap_err();
        assert!(said.contains("asha and ravi are both Patient/1"), "{said}");
        let patients = |table: &str| parse(&format!("[hl7.patients]\n{table}")).map_err(|e| e.to_string());
        assert!(patients("asha = \"1234^^^CLINIC&1.2.3&ISO^MR\"").is_ok());
        for wrong in ["", "^^^CLINIC", "1|2", "1~2", "1\\\\2"] {
            let said = patients(&format!("asha = \"{wrong}\"")).unwrap_err();
            assert!(said.contains("asha") && said.contains("^^^CLINIC^MR"), "{said}");
        }
        let said = patients("asha = \"1\"\nravi = \"1\"").unwrap_err();
        assert!(said.contains("asha and ravi are both 1"), "{said}");
    }
}
