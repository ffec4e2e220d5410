//! A real broker (mosquitto), seen by a client that is not ours (mosquitto_sub).

use crate::alerts::made::{Running, asha, at, free_port, hostile, look, oracles, reading, stated, until};
use crate::alerts::whole::Home;
use crate::harness::left_out::{in_a_hurry, installed};
use jiff::{SignedDuration, Timestamp};
use quietcuff::home::alerts::channel::{self, Channel};
use quietcuff::home::alerts::discovery::Discovery;
use quietcuff::home::alerts::look::Look;
use quietcuff::home::alerts::message::Voice;
use quietcuff::home::alerts::mqtt::Mqtt;
use quietcuff::home::alerts::post::Post;
use quietcuff::home::alerts::routes::{Alerts, Broker, Route};
use quietcuff::home::alerts::states::states;
use quietcuff::household::{Monitor, Person, Statement};
use quietcuff::journal::Journal;
use quietcuff::monitoring::care::Care;
use quietcuff::monitoring::reminders::{Measured, MonitorHeard, Silent};
use quietcuff::technique::Disposition;
use quietcuff::words::Language;
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};
use std::io::Write;
use std::net::TcpStream;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::time::Duration;

fn mosquitto(dir: &Path, port: u16, more: &str) -> Running {
    let config = dir.join("mosquitto.conf");
    std::fs::write(&config, format!("listener {port} 127.0.0.1\n{more}")).unwrap();
    let child = Command::new("/usr/sbin/mosquitto")
        .arg("-c")
        .arg(config)
        .stdin(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let running = Running(child);
    until("the broker listens", || {
        TcpStream::connect(("127.0.0.1", port)).is_ok()
    });
    running
}

fn broker(port: u16) -> Broker {
    toml::from_str(&format!(
        "server = \"127.0.0.1\"\nport = {port}\ntls = false\nreadings = true\n"
    ))
    .unwrap()
}

/// What is retained below a topic, as an independent client sees it.
fn retained(port: u16, topic: &str) -> BTreeMap<String, String> {
    let output = Command::new("mosquitto_sub")
        .args([
            "-V",
            "mqttv5",
            "-h",
            "127.0.0.1",
            "-p",
            &port.to_string(),
            "-W",
            "2",
            "-v",
            "-t",
            topic,
        ])
        .output()
        .unwrap();
    let said = String::from_utf8(output.stdout).unwrap();
    said.lines()
        .filter_map(|line| line.split_once(' '))
        .map(|(topic, payload)| (topic.to_owned(), payload.to_owned()))
        .collect()
}

fn availability(port: u16) -> Option<String> {
    retained(port, "quietcuff/availability").remove("quietcuff/availability")
}

/// A runtime on a thread of its own, so that connections are kept while a test waits.
fn runtime() -> tokio::runtime::Handle {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .unwrap();
    let handle = runtime.handle().clone();
    std::thread::spawn(move || runtime.block_on(std::future::pending::<()>()));
    handle
}

#[test]
fn alerts_and_states_are_retained_and_offline_is_said_honestly() {
    let Some(_) = oracles() else { return };
    let dir = tempfile::tempdir().unwrap();
    let port = free_port();
    let _running = mosquitto(dir.path(), port, "allow_anonymous true\n");
    let runtime = runtime();
    let (mqtt, line) = runtime.block_on(async { Mqtt::start(&broker(port), 7).unwrap() });
    let home = look("Asha", vec![]);
    let now = at(27, 8, 0);
    runtime.block_on(async {
        mqtt.tell("kitchen", &hostile()).await.unwrap();
        for (topic, state) in states(&home, &home.reminders(Silent::default(), now), true, now) {
            mqtt.state(&topic, &state).await;
        }
        // What follows is written after the states.
        mqtt.tell("kitchen", &hostile()).await.unwrap();
    });
    let seen = retained(port, "quietcuff/#");
    let payload = |topic: &str| -> Value { serde_json::from_str(&seen[topic]).unwrap() };
    assert_eq!(
        payload("quietcuff/alert/kitchen/missed"),
        serde_json::to_value(hostile()).unwrap()
    );
    assert_eq!(payload("quietcuff/collector"), json!({ "state": "listening" }));
    assert_eq!(
        payload("quietcuff/person/asha"),
        json!({ "person": "asha", "session": "due", "urgent": false })
    );
    assert_eq!(seen["quietcuff/availability"], "online");
    assert_eq!(seen.len(), 4, "{seen:?}");

    // Gone without a word, as a process that is killed: the broker says so from the will.
    line.abort();
    until("the will is published", || {
        availability(port).as_deref() == Some("offline")
    });

    let (mqtt, line) = runtime.block_on(async { Mqtt::start(&broker(port), 7).unwrap() });
    until("it is back", || availability(port).as_deref() == Some("online"));
    drop(mqtt);
    runtime.block_on(line).unwrap();
    assert_eq!(availability(port).as_deref(), Some("offline"), "by itself");
}

/// A broker keeps nothing of a reading that was somebody else's, nor of who was removed or a monitor that was
/// forgotten.
#[test]
fn what_is_not_so_any_more_is_taken_back_from_the_broker() {
    let Some(_) = oracles() else { return };
    let dir = tempfile::tempdir().unwrap();
    let port = free_port();
    let _running = mosquitto(dir.path(), port, "allow_anonymous true\n");
    let runtime = runtime();
    let (mqtt, _line) = runtime.block_on(async { Mqtt::start(&broker(port), 7).unwrap() });
    let now = at(27, 8, 0);
    let tell = |home: &Look| {
        runtime.block_on(async {
            for (topic, state) in states(home, &home.reminders(Silent::default(), now), true, now) {
                mqtt.state(&topic, &state).await;
            }
            mqtt.tell("kitchen", &hostile()).await.unwrap();
        });
        let mut topics: Vec<String> = retained(port, "quietcuff/#").into_keys().collect();
        topics.retain(|topic| topic.contains("person") || topic.contains("monitor"));
        topics
    };
    let mut home = look("Asha", vec![]);
    home.readings = vec![reading(at(27, 7, 0), 131, 84, 70, 1)];
    home.dispositions = vec![Disposition::Counted];
    Arc::make_mut(&mut home.stated)
        .household
        .apply(&Statement::Monitor {
            monitor: "m1".parse().unwrap(),
            details: Monitor::default(),
        });
    home.monitors = vec![MonitorHeard {
        monitor: "m1".parse().unwrap(),
        heard: now,
        battery_low_since: None,
        care: Care {
            measurements: 1,
            since: None,
            checked: None,
            batteries_changed: None,
            drops: 0,
            battery: None,
            due: vec![],
        },
    }];
    assert_eq!(
        tell(&home),
        [
            "quietcuff/monitor/m1",
            "quietcuff/person/asha",
            "quietcuff/person/asha/reading"
        ]
    );
    home.readings[0].person = None;
    assert_eq!(tell(&home), ["quietcuff/monitor/m1", "quietcuff/person/asha"]);
    home.people.clear();
    home.monitors.clear();
    Arc::make_mut(&mut home.stated)
        .household
        .apply(&Statement::PersonRemoved { person: asha() });
    Arc::make_mut(&mut home.stated)
        .household
        .apply(&Statement::MonitorForgotten {
            monitor: "m1".parse().unwrap(),
        });
    assert_eq!(tell(&home), [""; 0]);
}

#[test]
fn tls_and_a_password() {
    let Some(folder) = oracles() else { return };
    let dir = tempfile::tempdir().unwrap();
    let made = Command::new(folder.join("venv/bin/python"))
        .arg("-B")
        .arg(concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/tests/alerts/certificate.py"
        ))
        .arg(dir.path())
        .status()
        .unwrap();
    assert!(made.success());
    let at = |name: &str| dir.path().join(name);
    let passwords = at("passwords");
    let made = Command::new("mosquitto_passwd")
        .args(["-b", "-c"])
        .arg(&passwords)
        .args(["home", "hunter2"])
        .status()
        .unwrap();
    assert!(made.success());
    for name in ["server.key", "server.pem", "passwords"] {
        std::fs::set_permissions(at(name), std::fs::Permissions::from_mode(0o644)).unwrap();
    }
    std::fs::set_permissions(dir.path(), std::fs::Permissions::from_mode(0o755)).unwrap();
    std::fs::write(at("password"), "hunter2").unwrap();
    std::fs::set_permissions(at("password"), std::fs::Permissions::from_mode(0o600)).unwrap();
    let port = free_port();
    let more = format!(
        "certfile {}\nkeyfile {}\nallow_anonymous false\npassword_file {}\n",
        at("server.pem").display(),
        at("server.key").display(),
        passwords.display()
    );
    let _running = mosquitto(dir.path(), port, &more);
    let good = Broker {
        server: "localhost".into(),
        tls: true,
        ca_file: Some(at("ca.pem")),
        user: Some("home".into()),
        password_file: Some(at("password")),
        ..broker(port)
    };
    let runtime = runtime();
    let told = |broker: &Broker| {
        runtime.block_on(async {
            let (mqtt, _line) = Mqtt::start(broker, 7).unwrap();
            mqtt.tell("kitchen", &hostile()).await.map_err(|e| e.to_string())
        })
    };
    assert_eq!(told(&good), Ok(()));
    let wary = Broker {
        ca_file: Some(at("other.pem")),
        ..good.clone()
    };
    let said = told(&wary).unwrap_err();
    assert!(said.to_lowercase().contains("certificate"), "{said}");
    let stranger = Broker { user: None, ..good };
    assert!(told(&stranger).is_err(), "nobody is let in without the password");
}

/// A broker that does not allow a topic says so of each message, and the connection stays.
#[test]
fn what_the_broker_refuses_is_not_taken_for_told() {
    let Some(_) = oracles() else { return };
    let dir = tempfile::tempdir().unwrap();
    let port = free_port();
    let rules = dir.path().join("rules");
    std::fs::write(
        &rules,
        "topic readwrite quietcuff/availability\ntopic readwrite quietcuff/alert/lamp/#\n",
    )
    .unwrap();
    for (path, mode) in [(dir.path(), 0o755), (rules.as_path(), 0o644)] {
        std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).unwrap();
    }
    let more = format!("allow_anonymous true\nacl_file {}\n", rules.display());
    let _running = mosquitto(dir.path(), port, &more);
    let runtime = runtime();
    runtime.block_on(async {
        let (mqtt, _line) = Mqtt::start(&broker(port), 7).unwrap();
        let said = mqtt.tell("kitchen", &hostile()).await.unwrap_err().to_string();
        assert!(said.contains("refuses it: NotAuthorized"), "{said}");
        mqtt.tell("lamp", &hostile()).await.unwrap();
    });
}

/// The broker is down for a day of the household's time: what is still worth saying arrives once, the rest is named.
#[test]
fn a_broker_that_is_down_for_a_day() {
    let Some(_) = oracles() else { return };
    let dir = tempfile::tempdir().unwrap();
    let port = free_port();
    let alerts = Alerts {
        mqtt: Some(broker(port)),
        route: vec![Route {
            name: "kitchen".into(),
            mqtt: true,
            ..Route::default()
        }],
        ..Alerts::default()
    };
    let mut journal = Journal::open(dir.path()).unwrap();
    let mut post = Post::new(alerts.clone(), &mut journal, at(27, 8, 0)).unwrap();
    let known = look("Asha", vec![]);
    let runtime = runtime();
    let (mqtt, _line) = runtime.block_on(async { Mqtt::start(alerts.mqtt.as_ref().unwrap(), 7).unwrap() });
    let channels = channel::open(&alerts, Some(&mqtt), 7).unwrap();
    let channel: &Channel = &channels["kitchen"];
    let mut now = at(27, 8, 0);
    let mut step = |now| {
        let mut kinds = Vec::new();
        for job in post.due(&mut journal, &known, now).unwrap() {
            let outcome = runtime
                .block_on(channel.send(&job.route, &job.message))
                .map_err(|e| e.to_string());
            post.done(
                &mut journal,
                &job,
                match &outcome {
                    Ok(()) => Ok(()),
                    Err(error) => Err(error.as_str()),
                },
                now,
            )
            .unwrap();
            kinds.push((job.message.kind, outcome.is_ok()));
        }
        kinds
    };
    let mut tried = 0;
    while now < at(28, 8, 0) {
        tried += step(now).iter().filter(|(_, sent)| !sent).count();
        now += SignedDuration::from_mins(2);
    }
    assert!(tried > 10, "{tried}");
    let _running = mosquitto(dir.path(), port, "allow_anonymous true\n");
    // Half an hour of the simulated clock, with time in between in which the line is really taken up again.
    let mut sent = Vec::new();
    for _ in 0..90 {
        let done = step(now).into_iter().filter(|(_, sent)| *sent);
        sent.extend(done.map(|(kind, _)| kind));
        now += SignedDuration::from_secs(20);
        std::thread::sleep(Duration::from_millis(50));
    }
    sent.sort_unstable();
    assert_eq!(sent, ["lapsed", "missed", "missed", "session-due"]);
    let seen = retained(port, "quietcuff/alert/kitchen/#");
    // The others have run out at the broker: what they are worth is counted from today, and this day is long past.
    assert!(seen["quietcuff/alert/kitchen/lapsed"].contains("2 × session due"));
}

/// What a hub makes of everything that is retained, by its own code; by id.
fn entities(folder: &Path, port: u16) -> Option<BTreeMap<String, Value>> {
    installed(
        "alerts/hub-pins",
        "discovery, by a home-automation hub's own code",
    )?;
    let mut hub = Command::new(folder.join("hub/bin/python"))
        .arg("-B")
        .arg(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/alerts/hub.py"))
        .arg("homeassistant")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let words = serde_json::to_vec(&retained(port, "#")).unwrap();
    hub.stdin.take().unwrap().write_all(&words).unwrap();
    let output = hub.wait_with_output().unwrap();
    assert!(output.status.success(), "the hub would not take it");
    let said = String::from_utf8(output.stdout).unwrap();
    let entity = |line: &str| -> (String, Value) {
        let entity: Value = serde_json::from_str(line).unwrap();
        (entity["id"].as_str().unwrap()[OWN..].to_owned(), entity)
    };
    Some(said.lines().map(entity).collect())
}

/// `quietcuff-`, twelve digits that are this home's, and `-`.
const OWN: usize = 23;

/// Asha has measured, and her week is over; the monitor `m1` has told its battery.
fn measured_week(now: Timestamp) -> Look {
    let mut home = look("Asha \"A\"", vec![]);
    home.readings = vec![reading(at(27, 7, 0), 131, 84, 70, 1)];
    home.dispositions = vec![Disposition::Counted];
    let household = &mut Arc::make_mut(&mut home.stated).household;
    household.apply(&Statement::Monitor {
        monitor: "m1".parse().unwrap(),
        details: Monitor::default(),
    });
    // An id of another alphabet, which the convention has no room for in its topics.
    household.apply(&Statement::Person {
        person: "மீரா".parse().unwrap(),
        details: Person::default(),
    });
    home.people.push(Measured {
        person: "மீரா".parse().unwrap(),
        plans: vec![],
        sessions: vec![],
        periods: vec![],
    });
    home.monitors = vec![MonitorHeard {
        monitor: "m1".parse().unwrap(),
        heard: now,
        battery_low_since: None,
        care: Care {
            measurements: 1,
            since: None,
            checked: None,
            batteries_changed: None,
            drops: 0,
            battery: Some(80),
            due: vec![],
        },
    }];
    home
}

/// Everything that a household has appears at a hub, by the hub's own code, and goes again with whom it is about.
#[test]
fn a_hub_finds_every_entity_without_being_told_of_any() {
    if in_a_hurry("a hub that finds every entity") {
        return;
    }
    let Some(folder) = oracles() else { return };
    let dir = tempfile::tempdir().unwrap();
    let port = free_port();
    let _running = mosquitto(dir.path(), port, "allow_anonymous true\n");
    let runtime = runtime();
    let (mqtt, _line) = runtime.block_on(async { Mqtt::start(&broker(port), 7).unwrap() });
    let now = at(27, 8, 0);
    let tell = |home: &Look, readings: bool, language: Language| {
        let discovery = Discovery {
            prefix: "homeassistant",
            topic: "quietcuff",
            readings,
            household: 7,
            words: language.words(),
        };
        runtime.block_on(async {
            for (topic, word) in discovery.announced(home) {
                mqtt.announce(topic, &word).await;
            }
            for (topic, state) in states(home, &home.reminders(Silent::default(), now), readings, now) {
                mqtt.state(&topic, &state).await;
            }
            mqtt.tell("kitchen", &hostile()).await.unwrap();
        });
    };
    let mut home = measured_week(now);
    for language in Language::ALL {
        tell(&home, true, language);
        let Some(found) = entities(&folder, port) else {
            return;
        };
        let named: BTreeSet<&str> = found.values().map(|one| one["name"].as_str().unwrap()).collect();
        // The session, what must not wait and the numbers of two people have the same names; no other two.
        assert_eq!((found.len(), named.len()), (19, 11), "{language:?}: {named:?}");
    }
    tell(&home, true, Language::English);
    let found = entities(&folder, port).unwrap();
    let state = |id: &str| (&found[id]["device"], &found[id]["state"]);
    assert_eq!(state("collector"), (&json!("quietcuff"), &json!("on")));
    assert_eq!(
        state("person-asha-systolic"),
        (&json!("Asha \"A\""), &json!(131.0))
    );
    assert_eq!(state("person-asha-diastolic").1, &json!(84.0));
    assert_eq!(state("person-asha-pulse").1, &json!(70.0));
    assert_eq!(
        state("person-asha-measured-at").1,
        &json!("2026-03-27T06:00:00+00:00")
    );
    assert_eq!(state("person-asha-session").1, &json!("due"));
    assert_eq!(state("person-asha-urgent").1, &json!("off"));
    assert_eq!(state("monitor-m1-battery"), (&json!("Monitor m1"), &json!(80.0)));
    assert_eq!(found["person-asha-average-systolic"]["available"], false);
    let other = found.keys().filter(|id| id.starts_with("person-_")).count();
    assert_eq!(other, 8, "{:?}", found.keys());

    // Without values, nothing that was measured is announced, nor a name.
    tell(&home, false, Language::English);
    let found = entities(&folder, port).unwrap();
    let ids: Vec<&str> = found
        .keys()
        .map(String::as_str)
        .filter(|id| id.contains("asha"))
        .collect();
    assert_eq!(ids, ["person-asha-session", "person-asha-urgent"]);
    assert_eq!(found["person-asha-session"]["device"], "asha");

    let household = &mut Arc::make_mut(&mut home.stated).household;
    household.apply(&Statement::PersonRemoved { person: asha() });
    household.apply(&Statement::MonitorForgotten {
        monitor: "m1".parse().unwrap(),
    });
    home.people.retain(|one| one.person != asha());
    home.monitors.clear();
    tell(&home, true, Language::English);
    let left = retained(port, "#");
    assert!(
        !left
            .keys()
            .any(|topic| topic.contains("asha") || topic.contains("m1")),
        "{left:?}"
    );
    assert_eq!(entities(&folder, port).unwrap().len(), 9);
}

/// A test stands at the broker for as long as it says, and then it is gone.
#[test]
fn a_test_goes_away_again() {
    let Some(_) = oracles() else { return };
    let dir = tempfile::tempdir().unwrap();
    let port = free_port();
    let _running = mosquitto(dir.path(), port, "allow_anonymous true\n");
    let stated = stated("Asha");
    let voice = Voice {
        words: Language::English.words(),
        household: &stated.household,
        zones: &stated.zones,
        terse: true,
    };
    let mut test = voice.test(Timestamp::now());
    let stands = test.until.unwrap().duration_since(test.since);
    assert_eq!(stands, SignedDuration::from_mins(10));
    test.until = Some(Timestamp::now() + SignedDuration::from_secs(6));
    let runtime = runtime();
    runtime.block_on(async {
        let (mqtt, _line) = Mqtt::start(&broker(port), 7).unwrap();
        mqtt.tell("kitchen", &test).await.unwrap();
    });
    let there = || retained(port, "quietcuff/alert/#").len();
    assert_eq!(there(), 1);
    until("it is gone", || there() == 0);
}

/// The whole program: what it announced below a prefix goes when the configuration names another one, and when none.
#[test]
fn what_was_announced_below_another_prefix_is_taken_back() {
    if in_a_hurry("entities below another prefix, at a hub") {
        return;
    }
    let Some(folder) = oracles() else { return };
    let dir = tempfile::tempdir().unwrap();
    let port = free_port();
    let _running = mosquitto(dir.path(), port, "allow_anonymous true\n");
    let at_broker = |more: &str| {
        format!("[alerts.mqtt]\nserver = \"127.0.0.1\"\nport = {port}\ntls = false\nreadings = true\n{more}")
    };
    let home = Home::new(&at_broker("discovery-prefix = \"homeassistant\"\n")).with_asha();
    let zone = std::fs::read_to_string(home.path("quietcuff.toml")).unwrap();
    let zone = zone.lines().next().unwrap().to_owned() + "\n";
    let below = |prefix: &str| {
        let all = retained(port, &format!("{prefix}/#"));
        all.keys().filter(|topic| topic.ends_with("/config")).count()
    };
    let running = home.remind_broker();
    until("it is announced", || below("homeassistant") == 9);
    let Some(found) = entities(&folder, port) else {
        return;
    };
    assert!(found.contains_key("person-asha-systolic"), "{found:?}");
    drop(running);
    for (more, old, new) in [
        ("discovery-prefix = \"hub\"\n", "homeassistant", "hub"),
        ("", "hub", "homeassistant"),
    ] {
        std::fs::write(home.path("quietcuff.toml"), zone.clone() + &at_broker(more)).unwrap();
        let running = home.remind_broker();
        until("the old ones are gone", || below(old) == 0);
        if !more.is_empty() {
            until("the new ones are there", || below(new) == 9);
        }
        drop(running);
    }
    assert_eq!((below("hub"), below("homeassistant")), (0, 0));
}

/// A broker whose rules have no room for what is announced takes everything else.
#[test]
fn a_prefix_that_the_broker_refuses_holds_nothing_up() {
    let Some(_) = oracles() else { return };
    let dir = tempfile::tempdir().unwrap();
    let port = free_port();
    let rules = dir.path().join("rules");
    std::fs::write(&rules, "topic readwrite quietcuff/#\n").unwrap();
    for (path, mode) in [(dir.path(), 0o755), (rules.as_path(), 0o644)] {
        std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).unwrap();
    }
    let more = format!("allow_anonymous true\nacl_file {}\n", rules.display());
    let running = mosquitto(dir.path(), port, &more);
    let runtime = runtime();
    let told = |mqtt: &Mqtt| {
        runtime.block_on(async {
            mqtt.announce("homeassistant/sensor/q/a/config".to_owned(), &json!({}))
                .await;
            mqtt.state("collector", &json!({ "state": "listening" })).await;
            mqtt.tell("kitchen", &hostile()).await
        })
    };
    let (mqtt, _line) = runtime.block_on(async { Mqtt::start(&broker(port), 7).unwrap() });
    told(&mqtt).unwrap();
    assert_eq!(retained(port, "quietcuff/#").len(), 3);
    // On a new connection everything is written anew, and refused anew.
    drop(running);
    let _running = mosquitto(dir.path(), port, &more);
    until("it is told after a while", || told(&mqtt).is_ok());
    assert_eq!(retained(port, "quietcuff/#").len(), 3);
}
