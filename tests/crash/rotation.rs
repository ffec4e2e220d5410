//! Backups by the rule: which are kept, who opens them, what comes back, and that there is always a good one, whenever
//! somebody is killed. Encrypted ones are opened and made by the `age` program of Debian.

use super::copies::names;
use super::{good, line, run};
use crate::harness::command::{Noise, alone};
use crate::harness::left_out::{in_a_hurry, program};
use crate::harness::page::{Home, get};
use crate::page::access::{enter, guarded, key};
use jiff::civil::Date;
use jiff::tz::Offset;
use jiff::{Timestamp, ToSpan};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;

struct Place {
    dir: tempfile::TempDir,
    state: PathBuf,
    to: PathBuf,
}

fn place(frames: u32) -> Place {
    let dir = tempfile::tempdir().unwrap();
    let (state, to) = (dir.path().join("state"), dir.path().join("stick"));
    fs::create_dir(&to).unwrap();
    let file = dir.path().join("frames.jsonl");
    fs::write(&file, (0..frames).map(line).collect::<String>()).unwrap();
    good(&state, &["replay", file.to_str().unwrap()]);
    Place { dir, state, to }
}

impl Place {
    fn to(&self) -> &str {
        self.to.to_str().unwrap()
    }

    fn json(&self, args: &[&str]) -> Value {
        serde_json::from_str(&good(&self.state, args)).unwrap()
    }
}

fn today() -> Date {
    Offset::UTC.to_datetime(Timestamp::now()).date()
}

/// Three years of backups, one a day; the newest of 7 days, 8 weeks and 24 months stay, counted here by another way.
#[test]
fn the_newest_of_days_weeks_and_months_are_kept_and_nothing_else_is_touched() {
    let place = place(20);
    let name = |day: Date, rows: u32| format!("quietcuff-{}T030000Z-{rows}.backup", day.strftime("%Y%m%d"));
    let days: Vec<Date> = (1..1100).map(|ago| today() - ago.days()).collect();
    for day in &days {
        fs::write(place.to.join(name(*day, 3)), "an older one").unwrap();
    }
    // More than the journal holds now: it is the journal that has lost something.
    let more = name(days[700], 9_999);
    fs::write(place.to.join(&more), "more").unwrap();
    let others = [
        "quietcuff-20200101T030000Z-3.backup.old",
        "quietcuff-20201301T030000Z-3.backup",
        "quietcuff-20200101T030000Z-003.backup",
        "holiday.jpg",
    ];
    for other in others {
        fs::write(place.to.join(other), "somebody's").unwrap();
    }
    let link = "quietcuff-20200102T030000Z-3.backup";
    std::os::unix::fs::symlink(place.dir.path().join("frames.jsonl"), place.to.join(link)).unwrap();
    fs::create_dir(place.to.join("quietcuff-20200103T030000Z-3.backup")).unwrap();

    let told = place.json(&["backup", "--to", place.to(), "--json"]);
    assert_eq!(
        (&told["frames"], &told["encrypted"]),
        (&20.into(), &false.into()),
        "{told}"
    );
    let made = PathBuf::from(told["file"].as_str().unwrap());
    let made = made.file_name().unwrap().to_str().unwrap().to_owned();

    // The newest of each span, oldest first so that a newer one takes its place.
    let all: Vec<Date> = days.iter().rev().copied().chain([today()]).collect();
    let newest = |span: &dyn Fn(Date) -> String, most: usize| -> BTreeSet<Date> {
        let mut of: Vec<(String, Date)> = Vec::new();
        for day in &all {
            match of.last_mut() {
                Some((same, last)) if *same == span(*day) => *last = *day,
                _ => of.push((span(*day), *day)),
            }
        }
        of.into_iter().rev().take(most).map(|(_, day)| day).collect()
    };
    let mut kept = newest(&|day| day.to_string(), 7);
    kept.extend(newest(&|day| day.strftime("%G-%V").to_string(), 8));
    kept.extend(newest(&|day| day.strftime("%Y-%m").to_string(), 24));
    kept.remove(&today());
    let mut expected: Vec<String> = kept.into_iter().map(|day| name(day, 3)).collect();
    expected.extend([
        made,
        more,
        link.to_owned(),
        "quietcuff-20200103T030000Z-3.backup".to_owned(),
    ]);
    expected.extend(others.map(str::to_owned));
    expected.sort();
    assert_eq!(names(&place.to), expected);
    // Again on the same day: the newer one takes the day's place.
    std::thread::sleep(Duration::from_millis(1_100));
    let again = place.json(&["backup", "--to", place.to(), "--json"]);
    assert_eq!(again["removed"].as_array().unwrap().len(), 1, "{again}");
    assert_eq!(names(&place.to).len(), expected.len());
}

#[test]
fn a_disk_that_is_not_there_is_said_and_nothing_is_removed() {
    let place = place(5);
    let gone = place.dir.path().join("gone/");
    let refused = run(&place.state, &["backup", "--to", gone.to_str().unwrap()]);
    assert_eq!(refused.status.code(), Some(73), "{refused:?}");
    assert!(
        String::from_utf8_lossy(&refused.stderr).contains("connect its disk"),
        "{refused:?}"
    );
    assert!(!gone.exists());
    let none = run(&place.state, &["backup"]);
    assert_eq!(none.status.code(), Some(64), "{none:?}");
    assert!(run(&place.state, &["backup", "--scheduled"]).status.success());
    assert!(names(&place.to).is_empty());
}

/// A key for the drawer: the private one as age reads it, and its file; the public one.
fn drawer(place: &Place, name: &str) -> (PathBuf, String, String) {
    let private = good(&place.state, &["backup", "key"]);
    let file = place.dir.path().join(name);
    fs::write(&file, &private).unwrap();
    fs::set_permissions(&file, fs::Permissions::from_mode(0o600)).unwrap();
    let public = private
        .split("public key: ")
        .nth(1)
        .unwrap()
        .lines()
        .next()
        .unwrap();
    (
        file,
        public.to_owned(),
        private.lines().last().unwrap().to_owned(),
    )
}

fn holds(octets: &[u8], words: &[u8]) -> bool {
    octets.windows(words.len()).any(|part| part == words)
}

#[test]
fn only_the_key_in_the_drawer_opens_an_encrypted_backup() {
    if !program(
        "age",
        "encrypted backups against the program that defines the format",
    ) {
        return;
    }
    let place = place(300);
    let (file, public, private) = drawer(&place, "drawer");
    let (second, other, _) = drawer(&place, "bank");
    let told = place.json(&[
        "backup",
        "--to",
        place.to(),
        "--recipient",
        &public,
        "--recipient",
        &other,
        "--json",
    ]);
    assert_eq!(told["encrypted"], true);
    let made = told["file"].as_str().unwrap();
    let sealed = fs::read(made).unwrap();
    assert!(sealed.starts_with(b"age-encryption.org/v1\n"));
    assert!(!holds(&sealed, b"SQLite format 3") && !holds(&sealed, b"C0:FF:EE"));
    for name in names(&place.state) {
        assert!(!holds(
            &fs::read(place.state.join(name)).unwrap(),
            private.as_bytes()
        ));
    }
    let by = |key: &Path| {
        Command::new("age")
            .args(["-d", "-i"])
            .arg(key)
            .arg(made)
            .output()
            .unwrap()
    };
    let opened = by(&file);
    assert!(opened.status.success(), "{opened:?}");
    assert!(by(&second).stdout == opened.stdout);
    let plain = place.dir.path().join("plain");
    fs::write(&plain, &opened.stdout).unwrap();
    let frames = good(&place.state, &["frames", "--json"]);
    let by_age = place.dir.path().join("by-age");
    good(&by_age, &["restore", plain.to_str().unwrap()]);
    assert_eq!(good(&by_age, &["frames", "--json"]), frames);

    let elsewhere = place.dir.path().join("elsewhere");
    let locked = run(&elsewhere, &["restore", made]);
    assert_eq!(locked.status.code(), Some(77), "{locked:?}");
    assert!(
        String::from_utf8_lossy(&locked.stderr).contains("--identity"),
        "{locked:?}"
    );
    let stranger = place.dir.path().join("stranger");
    fs::write(&stranger, good(&place.state, &["backup", "key"])).unwrap();
    fs::set_permissions(&stranger, fs::Permissions::from_mode(0o600)).unwrap();
    let locked = run(
        &elsewhere,
        &["restore", made, "--identity", stranger.to_str().unwrap()],
    );
    assert_eq!(locked.status.code(), Some(77), "{locked:?}");
    assert!(!elsewhere.join("journal.sqlite").exists());
    good(
        &elsewhere,
        &["restore", made, "--identity", file.to_str().unwrap()],
    );
    assert_eq!(good(&elsewhere, &["frames", "--json"]), frames);
    assert!(!names(&elsewhere).iter().any(|name| name.contains("opened")));

    // And what age itself encrypted.
    let theirs = place.dir.path().join("theirs.age");
    let sealed = Command::new("age")
        .args(["-r", &other, "-o"])
        .arg(&theirs)
        .arg(&plain)
        .output()
        .unwrap();
    assert!(sealed.status.success(), "{sealed:?}");
    let third = place.dir.path().join("third");
    good(
        &third,
        &[
            "restore",
            theirs.to_str().unwrap(),
            "--identity",
            second.to_str().unwrap(),
        ],
    );
    assert_eq!(good(&third, &["frames", "--json"]), frames);
}

/// Each octet of an encrypted backup counts.
#[test]
fn a_damaged_encrypted_backup_is_not_restored() {
    let place = place(50);
    let (file, public, _) = drawer(&place, "drawer");
    let told = place.json(&["backup", "--to", place.to(), "--recipient", &public, "--json"]);
    let made = told["file"].as_str().unwrap();
    let whole = fs::read(made).unwrap();
    let mut noise = Noise(7);
    for round in 0..12 {
        let mut octets = whole.clone();
        let at = noise.below(octets.len());
        if round % 3 == 0 {
            octets.truncate(at);
        } else {
            octets[at] ^= 1 << noise.below(7);
        }
        fs::write(made, &octets).unwrap();
        let elsewhere = place.dir.path().join("elsewhere");
        let refused = run(
            &elsewhere,
            &["restore", made, "--identity", file.to_str().unwrap()],
        );
        assert!(
            matches!(refused.status.code(), Some(65 | 77)),
            "{round} {at}: {refused:?}"
        );
        assert!(!elsewhere.join("journal.sqlite").exists());
    }
    for wrong in ["age1nobody", "AGE-SECRET-KEY-1QQQ", ""] {
        let refused = run(
            &place.state,
            &["backup", "--to", place.to(), "--recipient", wrong],
        );
        let said = String::from_utf8_lossy(&refused.stderr).into_owned();
        assert_eq!(refused.status.code(), Some(64), "{said}");
        assert!(!said.contains("SECRET-KEY"), "{said}");
    }
}

#[test]
fn what_comes_back_is_said_and_keys_are_closed_until_they_are_confirmed() {
    let home = Home::new();
    let served = guarded(&home);
    let secret = key(&home, &["--role", "caregiver", "--label", "kitchen"]);
    let cookie = enter(served.address(), &secret).unwrap();
    let gone = key(&home, &["--role", "caregiver", "--label", "lost"]);
    home.text(&["keys", "withdraw", "k2"]);
    let copy = home.dir.path().join("copy");
    let copy = copy.to_str().unwrap();
    home.text(&["backup", "--output", copy]);
    drop(served);

    let new = Home::new();
    fs::remove_dir_all(new.state()).unwrap();
    let told = new.text(&["restore", copy]);
    assert!(told.contains("k1") && told.contains("keys confirm"), "{told}");
    assert!(
        !told.contains("k2") && told.contains("sessions of the page: 1"),
        "{told}"
    );
    let served = guarded(&new);
    assert_eq!(get(served.address(), "/", &cookie).status, 401);
    assert_eq!(enter(served.address(), &secret), Err(403));
    let state = |home: &Home| -> BTreeMap<String, String> {
        home.json(&["keys", "list", "--json"])
            .iter()
            .map(|key| {
                (
                    key["id"].as_str().unwrap().into(),
                    key["state"].as_str().unwrap().into(),
                )
            })
            .collect()
    };
    assert_eq!(state(&new)["k1"], "closed");
    new.text(&["keys", "confirm", "k1"]);
    assert_eq!(state(&new)["k1"], "opens");
    assert!(enter(served.address(), &secret).is_ok());
    assert_eq!(enter(served.address(), &gone), Err(403));
    for again in ["k1", "k2", "k9"] {
        let refused = new.command(&["keys", "confirm", again]).output().unwrap();
        assert_eq!(refused.status.code(), Some(64), "{again}");
    }
}

/// Says on the page, in `check` and as a reminder how old the last good one is.
#[test]
fn how_old_the_last_good_backup_is_is_said() {
    let home = Home::new();
    let to = home.dir.path().join("stick");
    fs::create_dir(&to).unwrap();
    let config = home.dir.path().join("quietcuff.toml");
    let before = fs::read_to_string(&config).unwrap();
    fs::write(&config, format!("{before}\n[backup]\nto = \"stick\"\n")).unwrap();
    let finding = || {
        let output = home.command(&["check", "--json"]).output().unwrap();
        let text = String::from_utf8(output.stdout).unwrap();
        text.lines()
            .map(|line| serde_json::from_str::<Value>(line).unwrap())
            .find(|finding| finding["check"] == "backup")
            .unwrap()
    };
    let due = || {
        let lines = home.json(&["remind", "list", "--json"]);
        lines.iter().filter(|line| line["kind"] == "backup-due").count()
    };
    let served = home.serve();
    assert_eq!(finding()["state"], "advised");
    assert!(
        get(served.address(), "/monitors", "")
            .body
            .contains("No backup was made yet")
    );
    home.text(&["backup", "--scheduled"]);
    assert_eq!(finding()["state"], "ok");
    assert_eq!(due(), 0);
    let page = get(served.address(), "/monitors", "").body;
    assert!(
        page.contains("The last good backup is of") && page.contains("whoever has the file"),
        "{page}"
    );
    // Four days ago.
    let shell = rusqlite::Connection::open(home.state().join("journal.sqlite")).unwrap();
    shell
        .execute("UPDATE good_backup SET made_us = made_us - 4 * 86400000000", [])
        .unwrap();
    drop(shell);
    assert_eq!(finding()["state"], "advised");
    assert_eq!(due(), 1);
    assert!(get(served.address(), "/monitors", "").body.contains("It is old"));
    fs::remove_dir_all(&to).unwrap();
    assert_eq!(finding()["state"], "needed");
    fs::write(&config, before).unwrap();
    assert_eq!(due(), 0, "nobody is nagged who wants none");
}

/// How often; each takes a fifth of a second.
const KILLS: u32 = 40;

fn kills() -> u32 {
    std::env::var("QUIETCUFF_KILLS")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(KILLS)
}

/// Whoever is killed while they back up, encrypt, remove or restore leaves a good one, and nothing that is taken for
/// one.
#[test]
fn killed_at_any_moment_there_is_a_good_backup() {
    if in_a_hurry("a backup that is killed at any moment") {
        return;
    }
    let place = place(400);
    let (file, public, _) = drawer(&place, "drawer");
    let first = place.json(&["backup", "--to", place.to(), "--json"]);
    assert_eq!(first["frames"], 400);
    let mut noise = Noise(11);
    let mut cut = 0;
    for round in 0..kills() {
        // Something to remove each time.
        for day in 1..30 {
            let day = today() - i64::from(day).days();
            let old = format!("quietcuff-{}T030000Z-3.backup", day.strftime("%Y%m%d"));
            fs::write(place.to.join(old), "an older one").unwrap();
        }
        let mut command = alone(place.dir.path(), &["backup", "--to", place.to()]);
        command.arg("--state").arg(&place.state);
        if round % 2 == 0 {
            command.args(["--recipient", &public]);
        }
        cut += u32::from(killed(command, &mut noise));
        let restored = place.dir.path().join(format!("restored-{round}"));
        let newest = names(&place.to)
            .into_iter()
            .filter(|name| name.starts_with("quietcuff-") && !name.contains("T030000Z-3."))
            .max_by_key(|name| name.split('-').nth(1).unwrap().to_owned())
            .expect("a good one");
        let newest = place.to.join(newest);
        let restore = |command: &mut Command| {
            command.arg(&newest).arg("--state").arg(&restored);
            if newest.extension().is_some_and(|end| end == "age") {
                command.arg("--identity").arg(&file);
            }
        };
        let mut command = alone(place.dir.path(), &["restore"]);
        restore(&mut command);
        cut += u32::from(killed(command, &mut noise));
        if !restored.join("journal.sqlite").exists() {
            let mut command = alone(place.dir.path(), &["restore"]);
            restore(&mut command);
            let done = command.output().unwrap();
            assert!(done.status.success(), "{round}: {done:?}");
        }
        assert_eq!(
            good(&restored, &["frames", "--json"]).lines().count(),
            400,
            "{round}"
        );
        assert!(
            !names(&restored)
                .iter()
                .any(|name| name.contains("opened") && !name.ends_with(".part"))
        );
        fs::remove_dir_all(&restored).unwrap();
    }
    assert!(
        cut > kills() / 2,
        "only {cut} were cut off: the moments are not random enough"
    );
}

/// Whether it was killed before it was done.
fn killed(mut command: Command, noise: &mut Noise) -> bool {
    let mut child = command
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    std::thread::sleep(Duration::from_millis(u64::try_from(noise.below(120)).unwrap()));
    let _ = child.kill();
    !child.wait().unwrap().success()
}
