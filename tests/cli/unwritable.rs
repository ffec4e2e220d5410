//! Where nothing can be written: a read-only volume, a read-only directory, a full disk; with what is not in the file
//! yet in a log beside it, and without. Everything that only reads works, and says what cannot be kept; nothing is
//! changed.

use crate::harness::command::{Home, Ran, fixture, program_at};
use crate::harness::left_out::{in_a_hurry, left_out};
use crate::harness::page::{get, served};
use crate::harness::volume::Volume;
use std::fs;
use std::os::unix::fs::{MetadataExt, PermissionsExt};
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Everything that only reads; `backup` goes elsewhere.
const READS: &[&[&str]] = &[
    &["frames", "--json"],
    &["readings", "--json"],
    &["sessions", "--json"],
    &["period", "--person", "p1", "--json"],
    &["next", "--person", "p1"],
    &["export", "fhir"],
    &["export", "csv"],
    &["people", "list"],
    &["monitors", "list"],
    &["note", "list"],
    &["keys", "list"],
];

/// Somebody who owns nothing.
const NOBODY: u32 = 65_534;

/// A week of an invented household. With a log, its last statement stands there alone.
fn lived(home: &Home, logged: bool) -> Vec<PathBuf> {
    home.run(&["demo", "--until", "2026-03-29", "--state", "lived", "--fast"])
        .good();
    let journal = home.path("lived/journal.sqlite");
    let folder = home.path("copied");
    fs::create_dir(&folder).unwrap();
    let db = rusqlite::Connection::open(&journal).unwrap();
    db.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()))
        .unwrap();
    db.pragma_update(None, "wal_autocheckpoint", 0).unwrap();
    if logged {
        home.run(&["people", "add", "asha", "--state", "lived"]).good();
    }
    let ends: &[&str] = if logged { &["", "-wal"] } else { &[""] };
    ends.iter()
        .map(|end| {
            let file = folder.join(format!("journal.sqlite{end}"));
            fs::copy(home.path(&format!("lived/journal.sqlite{end}")), &file).unwrap();
            file
        })
        .collect()
}

/// A way in which nothing can be written, and who tries.
struct Case<'a> {
    home: &'a Home,
    state: &'a Path,
    /// A directory for temporary files that takes none either.
    temporary: &'a Path,
    uid: Option<u32>,
    /// What a command that writes says, and its code.
    refusal: (i32, &'a str),
}

impl Case<'_> {
    fn command(&self, arguments: &[&str]) -> Command {
        let program = self.home.path("quietcuff");
        if !program.exists() {
            program_at(&program);
        }
        let mut command = Command::new(program);
        command
            .args(arguments)
            .arg("--state")
            .arg(self.state)
            .env_clear()
            .env("TZ", "UTC")
            .env("HOME", self.home.path(""))
            .env("TMPDIR", self.temporary)
            .current_dir("/");
        if let Some(uid) = self.uid {
            command.uid(uid).gid(uid);
        }
        command
    }

    fn run(&self, arguments: &[&str]) -> Ran {
        Ran::of(&self.command(arguments).output().unwrap(), arguments)
    }

    /// `sound` is the same journal where it can be written.
    fn holds(&self, sound: &str, logged: bool) {
        let before = octets(self.state);
        for reads in READS {
            let told = self.run(reads).good();
            assert_eq!(
                told,
                self.home.run(&[reads, &["--state", sound][..]].concat()).good(),
                "{reads:?}"
            );
        }
        assert_eq!(self.run(&["people", "list"]).good().contains("asha"), logged);
        let page = get(
            served(self.command(&["serve", "--open", "--listen", "127.0.0.1:0"])).address(),
            "/",
            "",
        );
        assert_eq!(page.status, 200, "{page:?}");
        assert!(
            page.body.contains("data-trouble=\"disk\"") && page.body.contains("Readings cannot be kept"),
            "{page:?}"
        );
        let elsewhere = self.home.path("elsewhere");
        fs::create_dir_all(&elsewhere).unwrap();
        fs::set_permissions(&elsewhere, fs::Permissions::from_mode(0o777)).unwrap();
        let kept = self.run(&["backup", "--to", elsewhere.to_str().unwrap()]);
        assert!(
            kept.err.contains("cannot be written into the journal"),
            "{kept:?}"
        );
        assert!(kept.good().contains("backups there now: 1"));
        fs::remove_dir_all(&elsewhere).unwrap();
        let (code, words) = self.refusal;
        for writes in [
            &["replay", &fixture("captures/session.btsnoop")][..],
            &["people", "add", "ravi"],
            &["rebuild"],
        ] {
            self.run(writes).failed(code, &[words, "journal.sqlite"]);
        }
        assert!(octets(self.state) == before, "nothing was changed");
    }
}

/// What is in the files of a journal; an empty log is none.
fn octets(state: &Path) -> Vec<Vec<u8>> {
    let read = |end: &str| fs::read(state.join(format!("journal.sqlite{end}"))).unwrap_or_default();
    vec![read(""), read("-wal")]
}

fn is_root() -> bool {
    fs::metadata("/proc/self").is_ok_and(|me| me.uid() == 0)
}

#[test]
fn a_volume_that_is_read_only_or_full_is_read_and_said() {
    if in_a_hurry("each command on a volume without room") {
        return;
    }
    for logged in [false, true] {
        for full in [false, true] {
            let home = Home::new();
            let files = lived(&home, logged);
            let at = home.path("volume");
            let Some(volume) = Volume::mount(&at, "size=2m") else {
                left_out(
                    "a journal on a read-only volume",
                    "only root can mount a volume, and not in every container",
                );
                return;
            };
            let sound = home.path("sound");
            fs::create_dir(&sound).unwrap();
            for file in &files {
                fs::copy(file, at.join(file.file_name().unwrap())).unwrap();
                fs::copy(file, sound.join(file.file_name().unwrap())).unwrap();
            }
            if full {
                // As much as there is room for.
                let _ = fs::write(at.join("fill"), vec![0; 4 << 20]);
            } else {
                volume.grow("ro");
            }
            let refusal = if full {
                "no space left"
            } else {
                "file system that is read-only"
            };
            let case = Case {
                home: &home,
                state: &at,
                temporary: &at,
                uid: None,
                refusal: (74, refusal),
            };
            case.holds(sound.to_str().unwrap(), logged);
        }
    }
}

/// Root writes wherever it likes, so somebody else looks then.
#[test]
fn a_directory_that_is_read_only_is_read_and_said() {
    for logged in [false, true] {
        let home = Home::new();
        let files = lived(&home, logged);
        let state = home.path("shut");
        fs::create_dir(&state).unwrap();
        let sound = home.path("sound");
        fs::create_dir(&sound).unwrap();
        for file in &files {
            let shut = state.join(file.file_name().unwrap());
            fs::copy(file, &shut).unwrap();
            fs::set_permissions(&shut, fs::Permissions::from_mode(0o444)).unwrap();
            fs::copy(file, sound.join(file.file_name().unwrap())).unwrap();
        }
        fs::set_permissions(&state, fs::Permissions::from_mode(0o555)).unwrap();
        fs::set_permissions(home.path(""), fs::Permissions::from_mode(0o755)).unwrap();
        let case = Case {
            home: &home,
            state: &state,
            temporary: &state,
            uid: is_root().then_some(NOBODY),
            refusal: (77, "no permission"),
        };
        case.holds(sound.to_str().unwrap(), logged);
        fs::set_permissions(&state, fs::Permissions::from_mode(0o755)).unwrap();
    }
}

/// A page that was served before the disk was full goes on, says so, and keeps again once there is room.
#[test]
fn a_page_goes_on_while_the_disk_is_full_and_after() {
    let home = crate::harness::page::Home::new();
    let moved = home.dir.path().join("moved");
    fs::rename(home.state(), &moved).unwrap();
    let state = home.state();
    let Some(volume) = Volume::mount(&state, "size=1m") else {
        left_out(
            "a page on a full disk",
            "only root can mount a volume, and not in every container",
        );
        return;
    };
    for entry in fs::read_dir(&moved).unwrap() {
        let entry = entry.unwrap();
        fs::copy(entry.path(), home.state().join(entry.file_name())).unwrap();
    }
    let fill = home.state().join("fill");
    let _ = fs::write(&fill, vec![0; 4 << 20]);
    let served = home.serve();
    let note = |token: &str| {
        let form = format!("token={token}&person=asha&what=coffee");
        crate::harness::page::post(served.address(), "/notes", &form, "").status
    };
    let page = get(served.address(), "/?person=asha", "");
    assert!(
        page.status == 200 && page.body.contains("data-trouble=\"disk\""),
        "{page:?}"
    );
    let token = page.token();
    assert_eq!(note(&token), 503);
    fs::remove_file(&fill).unwrap();
    assert_eq!(note(&token), 303);
    let page = get(served.address(), "/?person=asha", "");
    assert!(!page.body.contains("data-trouble=\"disk\""), "{page:?}");
    drop(served);
    drop(volume);
}
