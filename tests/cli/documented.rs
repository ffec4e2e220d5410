//! Every command that the README, the man pages, `--help`, the page and the program's own messages show is run as it is
//! written, in an empty folder, against an invented household: the first time and again.
//!
//! A word in capitals, or in braces, is filled from one table. What needs BlueZ, a server or root is in another, which
//! names what runs it. A command that is shown and in neither fails the test, and so does one that nothing runs.

use crate::cli::hazards::sources;
use crate::cli::help::every_command;
use crate::harness::command::{Home, Ran, of_project};
use crate::harness::left_out::in_a_hurry;
use jiff::{Timestamp, ToSpan};
use quietcuff::household::{Monitor, Statement};
use quietcuff::journal::Journal;
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// What stands in a command for something of the household: behind which beginning, the word, what it is here.
const FILLED: [(&str, &str, &str); 30] = [
    ("quietcuff note add symptoms", "NAME", "chest-pain"),
    ("quietcuff remind test", "{route}", "asha"),
    ("quietcuff readings", "ID", "@reading"),
    ("quietcuff readings", "TIME", "@time"),
    ("quietcuff readings assign", "PERSON", "asha"),
    ("quietcuff trace", "ID", "@reading"),
    ("quietcuff note withdraw", "NOTE", "@note"),
    ("quietcuff people add", "ID", "ravi"),
    ("quietcuff people remove", "ID", "asha"),
    ("quietcuff people edit", "{id}", "asha"),
    ("quietcuff people edit", "ID", "asha"),
    ("quietcuff people edit", "{group}", "upstairs"),
    ("quietcuff period start", "{person}", "asha"),
    ("quietcuff keys withdraw", "ID", "k1"),
    ("quietcuff keys withdraw", "{}", "k1"),
    ("quietcuff replay", "FILE", "@frames"),
    ("quietcuff restore", "FILE", "@backup"),
    ("quietcuff backup", "FILE", "journal.backup"),
    ("quietcuff backup", "DIR", "."),
    ("quietcuff backup", "/mnt/stick/", "."),
    ("quietcuff backup", "/mnt/stick/journal.backup", "journal.backup"),
    ("quietcuff decode", "UUID HEX", "2a19 64"),
    ("quietcuff deliver key", "FILE", "new-key.pem"),
    ("quietcuff deliver key", "{0}", "@key"),
    ("quietcuff deliver release", "PERSON", "asha"),
    ("quietcuff deliver release", "{person}", "asha"),
    ("quietcuff deliver release", "{}", "asha"),
    ("quietcuff readings discard", "TEXT", "slipped"),
    ("quietcuff note add other", "TEXT", "rain"),
    ("quietcuff --state", "/var/lib/quietcuff", "@state"),
];

/// What cannot be run here: what it begins with, the file, test or scenario that runs it, and words of that.
const ELSEWHERE: [(&str, &str, &str); 35] = [
    ("quietcuff run", "first_pairing_just_works", "scene.daemon()"),
    (
        "quietcuff monitors find",
        "first_pairing_just_works",
        "scene.finds(",
    ),
    (
        "quietcuff monitors add",
        "first_pairing_just_works",
        "scene.enrol(",
    ),
    ("quietcuff monitors clock", "clock", "monitors clock "),
    ("quietcuff monitors consent", "_given", "monitors consent m1"),
    (
        "quietcuff monitors forget",
        "bond_deleted_on_the_monitor",
        "monitors forget ",
    ),
    ("quietcuff check", "first_pairing_just_works", "'check "),
    ("quietcuff status", "the_other_roles_run", " status'"),
    ("quietcuff overhear", "the_other_roles_run", "'overhear'"),
    (
        "quietcuff deliver check",
        "what_the_server_can_is_asked_and_said",
        "\"deliver\", \"check\"",
    ),
    (
        "quietcuff deliver launch",
        "a_browser_is_sent_back_to_the_command",
        "launch.begin(&[])",
    ),
    (
        "quietcuff deliver withdraw",
        "one_persons_record_is_opened_delivered_to_and_closed",
        "\"deliver\", \"withdraw\"",
    ),
    (
        "quietcuff deliver retry",
        "what_is_refused_waits_for_a_person_and_holds_nothing_up",
        "\"deliver\", \"retry\", id",
    ),
    ("quietcuff listeners invite", "tests/afar/houses.rs", "\"invite\""),
    (
        "quietcuff listeners receive",
        "tests/afar/houses.rs",
        "\"receive\"",
    ),
    (
        "quietcuff listeners list",
        "a_week_is_at_the_record_as_if_it_had_heard_it",
        "\"listeners\", \"list\"",
    ),
    (
        "quietcuff listeners confirm",
        "whoever_is_put_back_gets_what_is_missing",
        "\"listeners\", \"confirm\"",
    ),
    (
        "quietcuff listeners withdraw",
        "nobody_is_let_in_without_being_known",
        "\"listeners\", \"withdraw\"",
    ),
    (
        "quietcuff record join",
        "tests/afar/houses.rs",
        "\"record\", \"join\"",
    ),
    (
        "quietcuff record show",
        "a_week_is_at_the_record_as_if_it_had_heard_it",
        "\"record\", \"show\"",
    ),
    (
        "quietcuff record hand-on",
        "a_week_is_at_the_record_as_if_it_had_heard_it",
        "\"record\", \"hand-on\"",
    ),
    (
        "quietcuff record keep",
        "a_listener_lets_go_what_its_record_has_held",
        "\"record\", \"keep\"",
    ),
    (
        "quietcuff record leave",
        "a_week_is_at_the_record_as_if_it_had_heard_it",
        "\"record\", \"leave\"",
    ),
    (
        "cargo install --path .",
        "what_is_installed_is_both_programs",
        "\"--path\"",
    ),
    ("tests/run", ".ci/run", "exec tests/run"),
    (
        "quietcuff keys confirm",
        "what_comes_back_is_said_and_keys_are_closed_until_they_are_confirmed",
        "\"keys\", \"confirm\"",
    ),
    (
        "quietcuff restore FILE --identity",
        "only_the_key_in_the_drawer_opens_an_encrypted_backup",
        "\"--identity\"",
    ),
    (
        "systemctl enable --now quietcuff-backup.timer",
        "the_timer_is_off_and_starts_its_service_each_day",
        "quietcuff-backup.timer",
    ),
    (
        "systemctl enable --now quietcuff-receive",
        "the_other_roles_run",
        "'receive'",
    ),
    (
        "systemctl enable --now quietcuff-hand-on",
        "the_other_roles_run",
        "'hand-on'",
    ),
    (
        "systemd/debian/build",
        "tests/package/built",
        "'--architecture', architecture",
    ),
    ("systemd/tarball", "tests/package/built", "'systemd/tarball'"),
    (
        "cargo install --locked cargo-auditable",
        "tests/package/built",
        "CARGO_TOOLS",
    ),
    (
        "apt install ./target/debian/",
        "installed_over_an_older_journal",
        "self.apt(f'install ",
    ),
    (
        "man quietcuff",
        "the_pages_are_rendered_without_a_warning",
        "\"man\"",
    ),
];

/// What no text shows with all its words, though the README's table names it.
const BESIDES: [&str; 24] = [
    "quietcuff status --metrics",
    "quietcuff keys list",
    "quietcuff monitors list",
    "quietcuff people add ID",
    "quietcuff people list",
    "quietcuff people edit {id}",
    "quietcuff people remove ID",
    "quietcuff readings explain ID",
    "quietcuff readings discard ID --reason TEXT",
    "quietcuff readings kind ID standing",
    "quietcuff note add coffee",
    "quietcuff note list",
    "quietcuff note withdraw NOTE",
    "quietcuff sessions",
    "quietcuff period start",
    "quietcuff period list",
    "quietcuff period earlier",
    "quietcuff note add medicine-changed",
    "quietcuff period changes",
    "quietcuff period --carry-over 0.3",
    "quietcuff calendar",
    "quietcuff trace ID",
    "quietcuff decode 2a19:64",
    "quietcuff frames --json",
];

/// The roles: they stay until they are told to end.
const STAY: [&str; 5] = [
    "quietcuff demo --serve",
    "quietcuff serve",
    "quietcuff serve --open",
    "quietcuff deliver",
    "quietcuff remind",
];

/// What is not done twice, and what is said then.
const ONCE: [(&str, i32, &str); 6] = [
    ("quietcuff people add", 64, "was added before"),
    ("quietcuff keys withdraw", 64, "quietcuff keys list"),
    ("quietcuff note withdraw", 64, "quietcuff note list"),
    ("quietcuff restore", 73, "is there already"),
    ("quietcuff deliver key new-key.pem", 73, "never overwritten"),
    (
        "quietcuff deliver release asha --withdraw",
        64,
        "withdrawn already",
    ),
];

/// A household that is invented, as its home directory is after a week: one person, one monitor, a key.
struct Household {
    home: Home,
    reading: String,
    note: String,
}

const STATE: &str = ".local/state/quietcuff";

impl Household {
    fn new() -> Self {
        let home = Home::new();
        home.file(
            ".config/quietcuff/quietcuff.toml",
            "[page]\nlisten = \"127.0.0.1:0\"\n[clinic]\nserver = \"https://clinic.invalid/r4\"\npeople = [\"asha\"]\n\
             auth = \"none\"\n[fhir.patients]\nasha = \"Patient/123\"\n[[alerts.route]]\nname = \"asha\"\n\
             command = [\"/bin/true\"]\npeople = [\"asha\"]\n",
        );
        let frames = home.file("frames.jsonl", frames());
        home.run(&["replay", &frames, "--person", "asha", "--time-zone", "UTC"])
            .good();
        home.run(&["people", "edit", "asha", "--group", "upstairs"])
            .good();
        let details = Monitor {
            address: Some("C0:FF:EE:00:00:01".parse().unwrap()),
            model: Some("Invented cuff 1".into()),
            ..Monitor::default()
        };
        let monitor = "m1".parse().unwrap();
        // Enrolling needs a radio, stating does not.
        Journal::open(&home.path(STATE))
            .unwrap()
            .state(Timestamp::now(), &[Statement::Monitor { monitor, details }])
            .unwrap();
        home.run(&["keys", "add", "--role", "caregiver"]).good();
        home.run(&["period", "start"]).good();
        home.run(&["backup", "--output", "backup"]).good();
        home.run(&["deliver", "key", "clinic-key.pem"]).good();
        let note = home.run(&["note", "add", "coffee"]).good();
        let readings = home.run(&["readings", "--json"]).objects();
        assert_eq!(readings.len(), 28);
        Self {
            reading: readings[0]["id"].as_str().unwrap().to_owned(),
            note: note.split_whitespace().next().unwrap().to_owned(),
            home,
        }
    }

    /// What a person would type.
    fn filled(&self, shown: &str) -> String {
        let mut typed = shown.strip_prefix("sudo ").unwrap_or(shown).to_owned();
        // What cargo builds and runs is this program.
        if typed.starts_with("cargo run ")
            && let Some((_, arguments)) = typed.split_once(" -- ")
        {
            typed = format!("quietcuff {arguments}");
        }
        for (begins, word, with) in &FILLED {
            if !typed.starts_with(begins) {
                continue;
            }
            let path = |name: &str| self.home.path(name).to_str().unwrap().to_owned();
            let with = match *with {
                "@reading" => self.reading.clone(),
                "@note" => self.note.clone(),
                // Of a day that has passed: an hour alone is today's, which may be still to come.
                "@time" => format!("{}T07:05", day(1)),
                "@frames" => path("frames.jsonl"),
                "@backup" => path("backup"),
                "@key" => path("clinic-key.pem"),
                "@state" => path(STATE),
                plain => plain.to_owned(),
            };
            typed = format!("{typed} ").replace(&format!(" {word} "), &format!(" {with} "));
        }
        typed.trim().to_owned()
    }

    /// A copy of it with an empty folder to work in, so that each command finds it as it was.
    fn copy(&self) -> Home {
        let copy = Home::new();
        let done = Command::new("cp")
            .args(["-a", "."])
            .arg(copy.path(""))
            .current_dir(self.home.path(""))
            .status();
        assert!(done.unwrap().success());
        fs::create_dir(copy.path("empty")).unwrap();
        copy
    }
}

/// The date so many days ago.
fn day(back: i64) -> String {
    (Timestamp::now() - (24 * back).hours()).to_string()[..10].to_owned()
}

/// A week that ends yesterday: two readings in the morning, two in the evening.
fn frames() -> String {
    let mut lines = String::new();
    for back in (1..=7_i64).rev() {
        let day = day(back);
        for hour in ["07", "19"] {
            for (n, systolic) in ["79", "7b"].iter().enumerate() {
                lines.push_str(&format!(
                    "{{\"received_at\":\"{day}T{hour}:0{}:00Z\",\"monitor\":\"C0:FF:EE:00:00:01\",\"connection\":{},\
                     \"characteristic\":\"2a35\",\"value\":\"04{systolic}00500060004800\"}}\n",
                    2 * n,
                    100 * (8 - back) + hour.parse::<i64>().unwrap(),
                ));
            }
        }
    }
    lines
}

/// A shell in the empty folder, where `quietcuff` is this program.
fn shell(home: &Home, typed: &str) -> Command {
    let program = Path::new(env!("CARGO_BIN_EXE_quietcuff")).parent().unwrap();
    let mut shell = Command::new("sh");
    for (key, value) in home.command(&[]).get_envs() {
        if let Some(value) = value {
            shell.env(key, value);
        }
    }
    shell
        .args(["-c", typed])
        .env("PATH", format!("{}:/usr/bin:/bin", program.display()))
        .env_remove("STATE_DIRECTORY")
        .current_dir(home.path("empty"))
        .stdin(Stdio::null());
    shell
}

/// Runs it the first time and again, and then what it proposes to type next.
fn twice(household: &Household, shown: &str) {
    let typed = household.filled(shown);
    let unfilled = typed.split(' ').find(|word| {
        let bare = word.trim_matches('"');
        (bare.len() > 1 && bare.chars().all(|c| c.is_ascii_uppercase())) || bare.contains(['{', '…'])
    });
    assert_eq!(unfilled, None, "nothing is said to stand for it in `{shown}`");
    let home = household.copy();
    if typed.starts_with("quietcuff restore") {
        fs::remove_dir_all(home.path(STATE)).unwrap();
    }
    // The backup and the frames lie where they did; everything that is written is the copy's.
    let typed = typed.replace(
        &format!("--state {}", household.home.path(STATE).display()),
        &format!("--state {}", home.path(STATE).display()),
    );
    if STAY.contains(&typed.as_str()) {
        stays(&home, &typed);
        stays(&home, &typed);
        return;
    }
    let said = twice_in(&home, shown, &typed);
    for next in said.lines().filter_map(|line| line.strip_prefix("  quietcuff ")) {
        let next = format!("quietcuff {next}");
        if STAY.contains(&next.as_str()) {
            stays(&home, &next);
            continue;
        }
        twice_in(&home, &next, &next);
    }
}

/// Gives what it printed first.
fn twice_in(home: &Home, shown: &str, typed: &str) -> String {
    let run = || Ran::of(&shell(home, typed).output().unwrap(), &[typed]);
    let first = run();
    assert_eq!(first.code, 0, "`{shown}`: {first:?}");
    let again = run();
    match ONCE.iter().find(|(begins, ..)| typed.starts_with(begins)) {
        Some((_, code, words)) => {
            assert_eq!(again.code, *code, "`{shown}` again: {again:?}");
            assert!(again.err.contains(words), "`{shown}` again: {again:?}");
        }
        None => assert_eq!(again.code, 0, "`{shown}` again: {again:?}"),
    }
    let left = fs::read_dir(home.path("empty")).unwrap();
    for name in left.map(|entry| entry.unwrap().file_name().into_string().unwrap()) {
        assert!(!name.ends_with(".part"), "`{shown}` leaves {name}");
    }
    first.out
}

/// It stays, and ends well when it is told to.
fn stays(home: &Home, typed: &str) {
    let mut child: Child = shell(home, &format!("exec {typed}"))
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // Until it listens for SIGTERM, which is 15 (proc_pid_status(5), SigCgt).
    let status = format!("/proc/{}/status", child.id());
    let listens = || {
        let status = fs::read_to_string(&status).unwrap_or_default();
        let mask = status
            .lines()
            .find_map(|line| line.strip_prefix("SigCgt:"))
            .unwrap_or("0");
        u64::from_str_radix(mask.trim(), 16).unwrap_or(0) & (1 << 14) != 0
    };
    for _ in 0..600 {
        if listens() || child.try_wait().unwrap().is_some() {
            break;
        }
        std::thread::sleep(Duration::from_millis(100));
    }
    assert!(child.try_wait().unwrap().is_none(), "`{typed}` does not stay");
    let told = Command::new("kill").arg(child.id().to_string()).status().unwrap();
    assert!(told.success());
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0), "`{typed}`: {output:?}");
}

/// What stands between backticks, over the ends of lines.
fn spans(text: &str) -> Vec<String> {
    let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
    flat.split('`').skip(1).step_by(2).map(str::to_owned).collect()
}

fn is_a_call(shown: &str) -> bool {
    ["quietcuff ", "cargo ", "sudo ", "apt ", "man ", "systemctl "]
        .iter()
        .any(|program| shown.starts_with(program))
        || ["tests/run", "systemd/debian/build", "systemd/tarball"]
            .iter()
            .any(|script| shown.starts_with(script))
}

/// The README's: every line of a block that is no configuration, and every span that is a command; in the text also
/// those without the program's name.
fn of_the_readme(commands: &[Vec<String>], shown: &mut BTreeSet<String>) {
    let text = of_project("README.md").unwrap();
    let (mut fence, mut prose) = (None, String::new());
    for line in text.lines() {
        if let Some(kind) = line.strip_prefix("```") {
            fence = if fence.is_none() { Some(kind) } else { None };
        } else if let Some(kind) = fence {
            if kind != "toml" {
                shown.insert(line.to_owned());
            }
        } else if let Some(block) = line.strip_prefix("    ") {
            shown.insert(block.split("  #").next().unwrap().trim().to_owned());
        } else if !line.starts_with('|') {
            prose.push_str(line);
            prose.push('\n');
        }
    }
    for span in spans(&prose) {
        let mut words = span.split(' ');
        let first = words.next().unwrap_or_default();
        let second = words.next().unwrap_or_default();
        let below = |command: &&Vec<String>| command.first().is_some_and(|name| name == first);
        let known = commands
            .iter()
            .filter(below)
            .any(|command| command.get(1).is_some_and(|name| name == second) || second.starts_with("--"));
        if known {
            shown.insert(format!("quietcuff {span}"));
        } else if is_a_call(&span) {
            shown.insert(span);
        }
    }
}

/// What the program says of itself: its help, its man pages, its messages and its page.
fn of_the_program(home: &Home, commands: &[Vec<String>], shown: &mut BTreeSet<String>) {
    let mut texts: Vec<String> = Vec::new();
    for command in commands {
        let mut arguments: Vec<&str> = command.iter().map(String::as_str).collect();
        arguments.push("--help");
        texts.push(home.run(&arguments).good());
    }
    home.run(&["manual", "manual"]).good();
    for page in fs::read_dir(home.path("manual/man")).unwrap() {
        let page = fs::read_to_string(page.unwrap().path()).unwrap();
        texts.push(page.replace("\\-", "-").replace("\\fB", "").replace("\\fR", ""));
    }
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files: Vec<PathBuf> = Vec::new();
    sources(&root.join("src"), &mut files);
    for file in files {
        let text = fs::read_to_string(file).unwrap();
        let code = text.split("#[cfg(test)]\nmod tests").next().unwrap_or_default();
        let lines = code.lines().filter(|line| !line.trim_start().starts_with("//"));
        // A sentence that goes on in the next line.
        texts.push(lines.collect::<Vec<_>>().join("\n").replace("\\\n", "\n"));
    }
    for language in fs::read_dir(root.join("src/words")).unwrap() {
        let text = fs::read_to_string(language.unwrap().path()).unwrap();
        texts.push(text.replace("<code>", "`").replace("</code>", "`"));
    }
    texts.push(of_project("systemd/quietcuff.toml").unwrap());
    let calls = texts
        .iter()
        .flat_map(|text| spans(text))
        .filter(|span| span.starts_with("quietcuff "));
    shown.extend(calls);
}

/// What runs it elsewhere, if that is where it is run: and whether it does.
fn elsewhere(shown: &str, tests: &[String]) -> bool {
    let Some((_, proof, words)) = ELSEWHERE.iter().find(|(begins, ..)| {
        shown == *begins
            || shown.starts_with(&format!("{begins} "))
            || (begins.ends_with('/') && shown.starts_with(begins))
    }) else {
        return false;
    };
    let proven = match of_project(proof) {
        Some(file) => file.contains(words),
        None => tests.iter().any(|text| {
            ["fn ", "def "].iter().any(|word| {
                let found = text.split(&format!("{word}{proof}(")).nth(1);
                found.is_some_and(|body| {
                    body.split("\n}\n")
                        .next()
                        .unwrap()
                        .split("\n@")
                        .next()
                        .unwrap()
                        .contains(words)
                })
            })
        }),
    };
    assert!(proven, "`{shown}` is not run by {proof}: it has no {words}");
    true
}

/// The test files of this project.
fn tests() -> Vec<String> {
    let mut files = Vec::new();
    sources(&Path::new(env!("CARGO_MANIFEST_DIR")).join("tests"), &mut files);
    files
        .iter()
        .map(|file| fs::read_to_string(file).unwrap())
        .collect()
}

#[test]
fn every_command_that_is_shown_runs_as_it_is_written() {
    let household = Household::new();
    let commands = every_command(&household.home);
    let mut shown: BTreeSet<String> = BESIDES.iter().map(|shown| (*shown).to_owned()).collect();
    of_the_readme(&commands, &mut shown);
    assert!(shown.contains("quietcuff report --output week.pdf"), "{shown:?}");
    let by_readme = shown.len();
    of_the_program(&household.home, &commands, &mut shown);
    assert!(by_readme > 40 && shown.len() > by_readme + 10, "{shown:?}");
    let tests = tests();
    let (mut ran, mut failed) = (BTreeSet::new(), Vec::new());
    for command in &shown {
        let tried = std::panic::catch_unwind(|| {
            if BESIDES.contains(&command.as_str()) || !elsewhere(command, &tests) {
                twice(&household, command);
            }
        });
        // All of them are tried, so that one run says everything.
        if tried.is_err() {
            failed.push(command);
        }
        ran.insert(household.filled(command));
    }
    assert_eq!(failed, Vec::<&String>::new());
    // Whatever there is has been run, here or elsewhere.
    for command in commands.iter().filter(|command| !command.is_empty()) {
        let name = format!("quietcuff {}", command.join(" "));
        let groups = commands
            .iter()
            .any(|other| other.len() > command.len() && other.starts_with(command));
        let has_run = ran
            .iter()
            .any(|typed| *typed == name || typed.starts_with(&format!("{name} ")));
        assert!(
            groups || has_run || elsewhere(&name, &tests),
            "nothing runs `{name}`"
        );
    }
}

/// `cargo install --path .`, in the way that is built already and into a folder of its own.
#[test]
fn what_is_installed_is_both_programs() {
    if in_a_hurry("what `cargo install` installs") {
        return;
    }
    let home = Home::new();
    let root = home.path("installed");
    let output = Command::new(env!("CARGO"))
        .args([
            "install",
            "--path",
            ".",
            "--debug",
            "--locked",
            "--offline",
            "--root",
        ])
        .arg(&root)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .unwrap();
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    for program in ["quietcuff", "quietcuff-listen"] {
        assert!(
            root.join("bin").join(program).is_file(),
            "{program} is not installed"
        );
    }
}
