//! A real broker (mosquitto), seen by a client that is not ours (mosquitto_sub).

use crate::alerts::made::{Running, asha, at, free_port, hostile, look, oracles, reading, until};
use jiff::SignedDuration;
use quietcuff::home::alerts::channel::{self, Channel};
use quietcuff::home::alerts::look::Look;
use quietcuff::home::alerts::mqtt::Mqtt;
use quietcuff::home::alerts::post::Post;
use quietcuff::home::alerts::routes::{Alerts, Broker, Route};
use quietcuff::home::alerts::states::states;
use quietcuff::household::{Monitor, Statement};
use quietcuff::journal::Journal;
use quietcuff::monitoring::care::Care;
use quietcuff::monitoring::reminders::MonitorHeard;
use quietcuff::technique::Disposition;
use serde_json::{Value, json};
use std::collections::BTreeMap;
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
        for (topic, state) in states(&home, &home.reminders(8, now), true, now) {
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
            for (topic, state) in states(home, &home.reminders(8, now), true, now) {
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
