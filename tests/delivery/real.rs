//! A household at servers that none of us wrote, by the real program: HAPI FHIR JPA on H2 and on PostgreSQL, each of them
//! as it is and validating what it is sent, and one in Python over SQLite.
//!
//! A home delivers its weeks through a line that loses and cuts, is killed at many octets, corrects, withdraws and gives a
//! reading to somebody else, while a second gateway that heard the same delivers too. At the end everything that stands
//! there is read: each resource once, under the right person, as the export says it. What stands at one of them is held to
//! HAPI's validator; at those that validate, nothing stands that it refused.
//!
//! `QUIETCUFF_SERVED_WEEKS` says for how many weeks; `tests/run servers` says which.

use crate::delivery::clinic::{comparable, exported, listing, name_of, once};
use crate::delivery::homes::{homes_lived, live, patient};
use crate::delivery::proxy::{Fate, Proxy, answer};
use crate::delivery::site::{Hapi, Sekmet, Site};
use crate::harness::command::Noise;
use crate::harness::made::{Made, Sent, sent};
use jiff::civil::Date;
use jiff::{Span, Timestamp};
use serde_json::Value;
use std::collections::BTreeMap;

const UNAVAILABLE: i32 = 69;
/// Of so many tries of one delivery the last ones meet no fault any more.
const TRIES_MAX: usize = 60;

fn weeks_lived() -> i64 {
    let text = std::env::var("QUIETCUFF_SERVED_WEEKS");
    text.map_or(1, |text| {
        text.parse().expect("QUIETCUFF_SERVED_WEEKS is a number")
    })
}

/// Weeks that begin on this day.
fn weeks(first: Date, count: i64) -> Vec<Sent> {
    let origin: Date = "2026-03-01".parse().unwrap();
    let mut all = Vec::new();
    for week in 0..count {
        for mut one in sent() {
            let day: Date = one.at[..10].parse().unwrap();
            let days = day.since(origin).unwrap().get_days();
            let day = first.checked_add(Span::new().weeks(week).days(days)).unwrap();
            one.at = format!("{day}{}", &one.at[10..]);
            one.connection += u32::try_from(week).unwrap() * 1_000;
            all.push(one);
        }
    }
    all
}

/// One household with its two gateways, at one server.
struct Life<'s> {
    site: &'s Site,
    first_day: Date,
    first: Made,
    second: Made,
    proxy: Proxy,
}

impl<'s> Life<'s> {
    /// The first gateway delivers through the proxy, the second directly. Whatever its days, no other household has them.
    fn begin(site: &'s Site, first_day: &str) -> Self {
        let first_day: Date = first_day.parse().unwrap();
        let heard = weeks(first_day, weeks_lived());
        let first = Made::of(&heard);
        let second = Made::of(&heard[1..]);
        let life = Self {
            proxy: Proxy::before(site.port, vec![]),
            site,
            first_day,
            first,
            second,
        };
        for person in ["asha", "ravi"] {
            site.admit(&life.patient(person));
        }
        life.choose(&["asha"], "");
        let home = &life.first.home;
        home.run(&["deliver", "release", "asha", "--by", "Asha \"herself\""])
            .good();
        let direct = site.url();
        life.configure(&life.second, &direct, &["asha"], "");
        for made in [&life.first, &life.second] {
            made.home
                .run(&[
                    "period",
                    "start",
                    "--person",
                    "asha",
                    "--from",
                    first_day.to_string().as_str(),
                ])
                .good();
        }
        life
    }

    /// The clinic's id of a person, which no other household has.
    fn patient(&self, person: &str) -> String {
        format!("{person}-{}", self.first_day)
    }

    fn choose(&self, people: &[&str], more: &str) {
        let url = self.proxy.url_of(&self.site.base);
        self.configure(
            &self.first,
            &url,
            people,
            &format!("sheets = true\nrelease-records = true\n{more}"),
        );
    }

    fn configure(&self, made: &Made, url: &str, people: &[&str], more: &str) {
        let patients: Vec<String> = people
            .iter()
            .map(|person| format!("{person} = \"Patient/{}\"", self.patient(person)))
            .collect();
        let text = format!(
            "[clinic]\nserver = \"{url}\"\npeople = {people:?}\n{more}\n[fhir.patients]\n{}\n",
            patients.join("\n")
        );
        made.home.file(".config/quietcuff/quietcuff.toml", text);
    }

    /// The delivery of the first gateway is killed with its line stuck.
    fn is_killed(&self) {
        for fate in [
            Fate::HangInRequest(300),
            Fate::HangInAnswer(0),
            Fate::HangInRequest(9_000),
            Fate::HangInAnswer(500),
        ] {
            self.proxy.next(fate);
            let mut child = self.first.home.command(&["deliver", "--once"]).spawn().unwrap();
            let line = self.proxy.hanging();
            child.kill().unwrap();
            child.wait().unwrap();
            drop(line);
        }
    }

    fn faults(&self, noise: &mut Noise, count: usize) {
        for _ in 0..count {
            self.proxy.next(match noise.below(6) {
                0 => Fate::LoseAnswer,
                1 => Fate::CutAnswer(noise.below(2_000)),
                2 => Fate::CutRequest(noise.below(20_000)),
                3 => answer("503 x", "", ""),
                _ => Fate::Pass,
            });
        }
    }

    fn id(&self, n: usize) -> String {
        self.first.readings[n]["id"].as_str().unwrap().to_owned()
    }

    /// Times, what does not count, what counts again, and a reading that was somebody else's.
    fn corrects(&self) -> usize {
        let home = &self.first.home;
        let day = self.first_day;
        home.run(&["readings", "time", &self.id(0), &format!("{day}T06:30")])
            .good();
        for n in [1, 9, 25] {
            home.run(&[
                "readings",
                "discard",
                &self.id(n),
                "--reason",
                "a guest \"measured\"",
            ])
            .good();
        }
        home.run(&["people", "add", "ravi"]).good();
        home.run(&["readings", "assign", &self.id(3), "ravi"]).good();
        self.choose(&["asha", "ravi"], "");
        3
    }

    /// Everything of this household that stands there, by name.
    fn stands(&self) -> BTreeMap<String, Value> {
        let mut all = BTreeMap::new();
        let mut put = |resource: Value| {
            let name = name_of(&resource);
            assert!(
                all.insert(name.clone(), resource).is_none(),
                "{name} is there twice"
            );
        };
        self.site.all("Device", "").into_iter().for_each(&mut put);
        for person in ["asha", "ravi"] {
            let of = format!("subject=Patient/{}", self.patient(person));
            self.site.all("Observation", &of).into_iter().for_each(&mut put);
            for (kind, whose) in [
                ("DocumentReference", "subject"),
                ("Consent", "patient"),
                ("Provenance", "agent"),
            ] {
                let of = of.replace("subject", whose);
                self.site.all(kind, &of).into_iter().for_each(&mut put);
            }
        }
        all
    }
}

/// Once after once, until nothing is due any more.
fn until_done(made: &Made) {
    for _ in 0..TRIES_MAX {
        let ran = once(&made.home);
        if ran.code == 0 {
            return;
        }
        assert_eq!(ran.code, UNAVAILABLE, "{ran:?}");
        assert!(
            !ran.err.contains("were refused"),
            "{ran:?} {}",
            listing(&made.home)
        );
    }
    panic!("there is no end of it: {}", listing(&made.home));
}

/// By what both gateways say: which of the two took a reading along is chance.
fn whoever_took_it(resources: &mut BTreeMap<String, Value>) {
    fn rename(value: &mut Value) {
        match value {
            Value::String(text) if text.starts_with("gateway-") => "gateway".clone_into(text),
            Value::Object(fields) => fields.values_mut().for_each(rename),
            Value::Array(values) => values.iter_mut().for_each(rename),
            _ => {}
        }
    }
    resources.retain(|name, _| !name.starts_with("gateway-"));
    resources.values_mut().for_each(rename);
}

/// A household's weeks at a server, from the first reading to the last look.
fn lives(site: &Site, first_day: &str, seed: u64) -> BTreeMap<String, Value> {
    let life = Life::begin(site, first_day);
    let mut noise = Noise(seed);
    std::thread::scope(|scope| {
        scope.spawn(|| until_done(&life.second));
        life.is_killed();
        life.faults(&mut noise, 12);
        until_done(&life.first);
    });
    life.proxy.calm();
    let before = life.stands();
    life.corrects();
    life.faults(&mut noise, 8);
    life.is_killed();
    until_done(&life.first);
    life.proxy.calm();
    until_done(&life.first);
    until_done(&life.second);
    for made in [&life.first, &life.second] {
        let standing = listing(&made.home);
        let rest = (&standing["waiting"], &standing["parked"]);
        assert_eq!(rest, (&0.into(), &0.into()), "{}: {standing}", site.base);
    }

    let mut stands = life.stands();
    let given = life.id(3);
    let moved = before.keys().filter(|name| name.starts_with(&given)).count();
    let withdrawn: Vec<String> = stands
        .keys()
        .filter(|name| name.contains("-withdrawn-"))
        .cloned()
        .collect();
    assert_eq!(withdrawn.len(), moved, "{withdrawn:?}");
    for name in withdrawn {
        let one = stands.remove(&name).unwrap();
        assert_eq!(one["status"], "entered-in-error", "{name}");
        assert_eq!(
            one["subject"]["reference"],
            format!("Patient/{}", life.patient("asha"))
        );
    }
    let mut expected = exported(&life.first);
    // Another household's monitors and gateways stand there too.
    stands.retain(|name, one| {
        one["resourceType"] != "Device" || expected.contains_key(name) || name.starts_with("gateway-")
    });
    let whole = stands.clone();
    stands.retain(|_, one| !matches!(one["resourceType"].as_str(), Some("Consent" | "Provenance")));
    records(&life, &whole);
    let sheets: Vec<Value> = stands
        .extract_if(.., |_, one| one["resourceType"] == "DocumentReference")
        .map(|(_, sheet)| sheet)
        .collect();
    let [sheet] = sheets.as_slice() else {
        panic!("{} sheets", sheets.len())
    };
    assert_eq!(sheet["status"], "current");
    let place = |one: &Value| {
        format!(
            "{}/{}",
            one["resourceType"].as_str().unwrap(),
            one["id"].as_str().unwrap()
        )
    };
    let mut held = comparable(&stands, &place);
    whoever_took_it(&mut held);
    whoever_took_it(&mut expected);
    assert!(expected.len() > 50 && expected.keys().any(|name| name.starts_with("average-")));
    for (name, one) in &expected {
        assert_eq!(held.get(name), Some(one), "{}: {name}", site.base);
    }
    assert_eq!(
        held.keys().collect::<Vec<_>>(),
        expected.keys().collect::<Vec<_>>()
    );
    println!(
        "{}: {} resources of a household, each once",
        site.base,
        whole.len()
    );
    whole
}

/// What was released stands there, and under it where the average and the sheet come from; once it is withdrawn, that
/// stands there too.
fn records(life: &Life<'_>, stands: &BTreeMap<String, Value>) {
    let of = |stands: &BTreeMap<String, Value>, kind: &str| {
        let all = stands.values().filter(|one| one["resourceType"] == kind);
        all.cloned().collect::<Vec<_>>()
    };
    let [consent] = of(stands, "Consent").try_into().unwrap();
    assert_eq!(consent["status"], "active");
    let [origin] = of(stands, "Provenance").try_into().unwrap();
    assert_eq!(origin["target"].as_array().unwrap().len(), 2, "{origin}");
    let policy = origin["policy"][0].as_str().unwrap();
    assert!(policy.ends_with(&format!("/Consent/{}", consent["id"].as_str().unwrap())));
    let home = &life.first.home;
    home.run(&["deliver", "release", "asha", "--withdraw"]).good();
    until_done(&life.first);
    let after = life.stands();
    let [ended] = of(&after, "Consent").try_into().unwrap();
    assert_eq!(
        (&ended["id"], &ended["status"]),
        (&consent["id"], &"inactive".into())
    );
    assert_eq!(of(&after, "Provenance"), [origin]);
    if life.site.base.ends_with("fhir") {
        assert_eq!(life.site.errors_in(&ended), Vec::<String>::new());
    }
}

#[test]
fn hapi_on_h2() {
    let Some(hapi) = Hapi::running() else { return };
    let site = hapi.site("h2", "fhir").expect("H2 is always there");
    let stands = lives(&site, "2024-03-03", 0x2f1e);
    let begun = Timestamp::now();
    let mut wrong = Vec::new();
    for one in stands.values() {
        wrong.extend(site.errors_in(one));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    println!(
        "{} resources without an error, by HAPI's validator, in {} s",
        stands.len(),
        begun.until(Timestamp::now()).unwrap().get_seconds()
    );
}

#[test]
fn hapi_on_h2_validating() {
    let Some(hapi) = Hapi::running() else { return };
    lives(
        &hapi.site("h2", "checked").expect("H2 is always there"),
        "2023-03-05",
        0x77aa,
    );
}

#[test]
fn hapi_on_postgresql() {
    let Some(site) = Hapi::running().and_then(|hapi| hapi.on_postgresql("fhir")) else {
        return;
    };
    lives(&site, "2022-03-06", 0x3141);
}

#[test]
fn hapi_on_postgresql_validating() {
    let Some(site) = Hapi::running().and_then(|hapi| hapi.on_postgresql("checked")) else {
        return;
    };
    lives(&site, "2021-03-07", 0x5926);
}

#[test]
fn sekmet_on_sqlite() {
    let Some(sekmet) = Sekmet::open() else { return };
    lives(&sekmet.site, "2024-03-03", 0x1618);
}

/// See `homes.rs`.
#[test]
fn a_thousand_homes_at_hapi() {
    let Some(hapi) = Hapi::running() else { return };
    let postgres = hapi.site("postgres", "fhir");
    let site = postgres
        .or_else(|| hapi.site("h2", "fhir"))
        .expect("H2 is always there");
    let homes = homes_lived(30);
    for home in 0..homes {
        site.admit(&patient(home));
    }
    live(&site.url(), homes, &|kind| {
        let mut all = site.all(kind, "");
        // The other tests' households stand there too.
        all.retain(|one| {
            kind != "Observation"
                || one["subject"]["reference"]
                    .as_str()
                    .unwrap()
                    .starts_with("Patient/home-")
        });
        all
    });
}

/// HL7's rules for XHTML in a resource, which nobody but that validator knows here.
#[test]
fn what_is_said_as_text_is_valid_to_hapi() {
    let Some(hapi) = Hapi::running() else { return };
    let site = hapi.site("h2", "fhir").expect("H2 is always there");
    let made = Made::with_one_discarded();
    made.home
        .run(&["people", "edit", "asha", "--label", "A & B <i> \"x\""])
        .good();
    let config = made.home.file("said.toml", "[fhir]\nnarrative = true\n");
    let mut looked_at = 0;
    for one in made.lines(&["--sheet", "--config", &config]) {
        if one["text"]["status"] == "generated" {
            assert_eq!(site.errors_in(&one), Vec::<String>::new());
            looked_at += 1;
        }
    }
    assert!(looked_at > 50, "{looked_at}");
}

/// It keeps to what refers to what; once it knows the person, nobody has to say anything.
#[test]
fn a_patient_whom_hapi_does_not_know() {
    let Some(hapi) = Hapi::running() else { return };
    let site = hapi.site("h2", "fhir").expect("H2 is always there");
    let made = Made::of(&weeks("2020-03-01".parse().unwrap(), 1));
    let text = format!(
        "[clinic]\nserver = \"{}\"\npeople = [\"asha\"]\n[fhir.patients]\nasha = \"Patient/not-yet\"\n",
        site.url()
    );
    made.home.file(".config/quietcuff/quietcuff.toml", text);
    once(&made.home).failed(UNAVAILABLE, &["Patient/not-yet", "refuses everything alike"]);
    let standing = listing(&made.home);
    assert_eq!(
        (&standing["sent"], &standing["parked"]),
        (&0.into(), &0.into()),
        "{standing}"
    );
    site.admit("not-yet");
    until_done(&made);
    let panels = site.all("Observation", "subject=Patient/not-yet&code=85354-9");
    assert!(panels.len() > 20, "{}", panels.len());
    assert_eq!(listing(&made.home)["waiting"], 0);
}
