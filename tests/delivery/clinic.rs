//! The clinic's side: the server by others (`server.mjs`), and a home that delivers to it.

use crate::harness::command::{Home, Ran};
use crate::harness::driver::Driver;
use crate::harness::left_out::{installed, program};
use crate::harness::made::{Made, Sent, entries};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;
use std::time::Duration;

/// Where `prepare` put the server; none where oracles are to be left out.
fn prepared() -> Option<PathBuf> {
    let what = "delivery to a FHIR server by others";
    if !(program("node", what) && program("openssl", what)) {
        return None;
    }
    installed("delivery/pins", what)?;
    installed("delivery", what)
}

/// What opens the servers of all tests.
static SERVERS: OnceLock<Driver> = OnceLock::new();

/// A FHIR server of its own, which ends with this value.
pub(crate) struct Clinic {
    pub(crate) port: u16,
}

impl Clinic {
    pub(crate) fn open() -> Option<Self> {
        Self::with(&json!({"auth": "none"}))
    }

    pub(crate) fn with(options: &Value) -> Option<Self> {
        let cache = prepared()?;
        let port = SERVERS
            .get_or_init(|| {
                let mut node = Command::new("node");
                node.arg(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/delivery/server.mjs"))
                    .arg(cache);
                Driver::start(node)
            })
            .told(json!({ "do": "open", "options": options }));
        let port = port.as_u64().and_then(|port| port.try_into().ok());
        Some(Self {
            port: port.expect("the server's port"),
        })
    }

    pub(crate) fn url(&self) -> String {
        format!("http://127.0.0.1:{}/fhir", self.port)
    }

    fn ask(&self, request: &str) -> Value {
        self.tell(request, "")
    }

    /// Puts resources there, by whatever way.
    pub(crate) fn put(&self, bundle: &Value) {
        self.tell("POST /put", &bundle.to_string());
    }

    /// The person at the clinic's page: opens this address, signs in, and agrees or declines; where the browser ends.
    pub(crate) fn person(&self, url: &str, declines: bool) -> String {
        let body = json!({ "url": url, "declines": declines }).to_string();
        let said = self.tell("POST /person", &body);
        said["url"]
            .as_str()
            .unwrap_or_else(|| panic!("{said}"))
            .to_owned()
    }

    fn tell(&self, request: &str, body: &str) -> Value {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(60))).unwrap();
        let length = body.len();
        write!(
            stream,
            "{request} HTTP/1.0\r\nHost: clinic\r\nContent-Length: {length}\r\n\r\n{body}"
        )
        .unwrap();
        let mut text = String::new();
        stream.read_to_string(&mut text).unwrap();
        serde_json::from_str(text.split_once("\r\n\r\n").unwrap().1).unwrap()
    }

    pub(crate) fn reset(&self) {
        self.ask("POST /reset");
    }

    /// From now on whatever has this text in it is refused.
    pub(crate) fn hate(&self, text: &str) {
        self.tell("POST /hate", text);
    }

    /// It hates nothing any more.
    pub(crate) fn calm(&self) {
        self.ask("POST /calm");
    }

    /// How often it was asked for anything of FHIR's.
    pub(crate) fn requests(&self) -> u64 {
        self.asked()["requests"].as_u64().unwrap()
    }

    pub(crate) fn asked(&self) -> Value {
        self.ask("GET /asked")
    }

    /// Everything that it holds, by name; each name once.
    pub(crate) fn holds(&self) -> BTreeMap<String, Value> {
        let mut held = BTreeMap::new();
        for resource in self.ask("GET /all").as_array().unwrap() {
            let name = name_of(resource);
            assert!(
                held.insert(name.clone(), resource.clone()).is_none(),
                "{name} is there twice"
            );
        }
        held
    }
}

impl Drop for Clinic {
    fn drop(&mut self) {
        let servers = SERVERS.get().expect("whoever opened one");
        // A test that fails takes its own way out.
        if !std::thread::panicking() {
            servers.told(json!({ "do": "close", "port": self.port }));
        }
    }
}

/// By its identifier; what has none in R4, by its id.
pub(crate) fn name_of(resource: &Value) -> String {
    match resource["identifier"][0]["value"].as_str() {
        Some(name) => name.to_owned(),
        None => format!("Provenance/{}", resource["id"].as_str().unwrap()),
    }
}

/// A configuration that has chosen the clinic at this address, with more keys of `[clinic]`.
pub(crate) fn choose(home: &Home, url: &str, more: &str) -> String {
    home.file(
        ".config/quietcuff/quietcuff.toml",
        format!(
            "[clinic]\nserver = \"{url}\"\npeople = [\"asha\"]\n{more}\n[fhir.patients]\nasha = \"Patient/a-1\"\n"
        ),
    )
}

/// Two days of readings.
pub(crate) fn few() -> Vec<Sent> {
    let mut sent = crate::harness::made::sent();
    sent.truncate(8);
    sent
}

pub(crate) fn once(home: &Home) -> Ran {
    home.run(&["deliver", "--once"])
}

pub(crate) fn listing(home: &Home) -> Value {
    let mut lines = home.run(&["deliver", "list", "--json"]).objects();
    assert_eq!(lines.len(), 1);
    lines.remove(0)
}

/// Without what a server adds, and with references by name: `urn:uuid:` in an export, the server's own ids in what it
/// holds.
pub(crate) fn comparable(
    resources: &BTreeMap<String, Value>,
    reference: &dyn Fn(&Value) -> String,
) -> BTreeMap<String, Value> {
    let names: BTreeMap<String, &String> = resources
        .iter()
        .map(|(name, resource)| (reference(resource), name))
        .collect();
    resources
        .iter()
        .map(|(name, resource)| {
            let mut resource = resource.clone();
            let fields = resource.as_object_mut().unwrap();
            fields.remove("id");
            // A version that replaces another was made known when it went.
            fields.remove("issued");
            if let Some(meta) = fields.get_mut("meta").and_then(Value::as_object_mut) {
                meta.retain(|key, _| key == "profile");
                if meta.is_empty() {
                    fields.remove("meta");
                }
            }
            rename(&mut resource, &names);
            (name.clone(), resource)
        })
        .collect()
}

fn rename(value: &mut Value, names: &BTreeMap<String, &String>) {
    match value {
        Value::Object(fields) => {
            if let Some(Value::String(reference)) = fields.get_mut("reference")
                && let Some(name) = names.get(reference)
            {
                reference.clone_from(name);
            }
            fields.values_mut().for_each(|value| rename(value, names));
        }
        Value::Array(values) => values.iter_mut().for_each(|value| rename(value, names)),
        // The server's language knows no 128.0.
        Value::Number(number) => *value = json!(number.as_f64()),
        _ => {}
    }
}

/// What the server holds, comparable with what [`exported`] gives.
pub(crate) fn held(clinic: &Clinic) -> BTreeMap<String, Value> {
    comparable(&clinic.holds(), &|resource| {
        format!(
            "{}/{}",
            resource["resourceType"].as_str().unwrap(),
            resource["id"].as_str().unwrap()
        )
    })
}

/// What `export fhir` says that the clinic should have, without what was withdrawn. It knows nothing of delivery.
pub(crate) fn exported(made: &Made) -> BTreeMap<String, Value> {
    let bundle = made.bundle(&[]);
    let mut urns = BTreeMap::new();
    let resources = entries(&bundle)
        .iter()
        .map(|entry| {
            let name = name_of(&entry["resource"]);
            urns.insert(name.clone(), entry["fullUrl"].as_str().unwrap().to_owned());
            (name, entry["resource"].clone())
        })
        .collect();
    comparable(&resources, &|resource| urns[&name_of(resource)].clone())
}

/// The same without the average: that goes when its period is over.
pub(crate) fn exported_readings(made: &Made) -> BTreeMap<String, Value> {
    let mut all = exported(made);
    all.retain(|name, _| !name.starts_with("average-"));
    all
}
