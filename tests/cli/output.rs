//! `--output`, of every command that has one, to whatever a person may name: a file that is whole, or one sentence and
//! nothing; and never a part that is left beside it.

use crate::cli::help::every_command;
use crate::harness::command::{Home, Ran, program_at};
use crate::harness::left_out::in_a_hurry;
use std::fs;
use std::os::unix::ffi::OsStringExt;
use std::os::unix::fs::{FileTypeExt, MetadataExt, PermissionsExt, symlink};
use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::{Command, Stdio};

/// A command that writes a file, the ending that it wants, and how a whole one begins and ends.
struct Writes {
    words: &'static [&'static str],
    ending: &'static str,
    begins: &'static [u8],
    ends: &'static [u8],
    /// Whether it can also pour it out: a backup and a sheet are files.
    pours: bool,
}

const ALL: [Writes; 7] = [
    Writes {
        words: &["export", "fhir"],
        ending: ".json",
        begins: b"{\"resourceType\":\"Bundle\"",
        ends: b"]}\n",
        pours: true,
    },
    Writes {
        words: &["export", "csv"],
        ending: ".csv",
        begins: b"id,person,",
        ends: b"\r\n",
        pours: true,
    },
    Writes {
        words: &["export", "hl7"],
        ending: ".hl7",
        begins: b"FHS|^~\\&|",
        ends: b"\rFTS|1\r",
        pours: true,
    },
    Writes {
        words: &["calendar", "--person", "p1"],
        ending: ".ics",
        begins: b"BEGIN:VCALENDAR\r\n",
        ends: b"END:VCALENDAR\r\n",
        pours: true,
    },
    Writes {
        words: &["report", "--person", "p1"],
        ending: ".html",
        begins: b"<!DOCTYPE html>",
        ends: b"</html>",
        pours: false,
    },
    Writes {
        words: &["report", "--person", "p1"],
        ending: ".pdf",
        begins: b"%PDF-",
        ends: b"%%EOF",
        pours: false,
    },
    Writes {
        words: &["backup"],
        ending: ".sqlite",
        begins: b"SQLite format 3\0",
        ends: b"",
        pours: false,
    },
];

/// An invented household, and an empty folder to work in.
struct Desk {
    home: Home,
    state: String,
}

impl Desk {
    fn new() -> Self {
        let home = Home::new();
        let state = home.path("state").to_str().unwrap().to_owned();
        home.run(&["demo", "--until", "2026-03-29", "--state", &state])
            .good();
        fs::create_dir(home.path("desk")).unwrap();
        Self { home, state }
    }

    fn at(&self, name: impl AsRef<Path>) -> std::path::PathBuf {
        self.home.path("desk").join(name)
    }

    /// Not yet run, in the folder.
    fn command(&self, writes: &Writes, output: impl AsRef<std::ffi::OsStr>) -> Command {
        let mut command = self.home.command(writes.words);
        command
            .arg("--state")
            .arg(&self.state)
            .arg("--output")
            .arg(output)
            .current_dir(self.home.path("desk"));
        command
    }

    fn run(&self, writes: &Writes, output: impl AsRef<std::ffi::OsStr>) -> Ran {
        Ran::of(&self.command(writes, output).output().unwrap(), writes.words)
    }

    fn names(&self) -> Vec<std::ffi::OsString> {
        let mut names: Vec<_> = fs::read_dir(self.at(""))
            .unwrap()
            .map(|entry| entry.unwrap().file_name())
            .collect();
        names.sort();
        names
    }

    fn cleared(&self) {
        fs::remove_dir_all(self.at("")).unwrap();
        fs::create_dir(self.at("")).unwrap();
    }

    /// It is refused with one sentence, and the folder is as it was.
    fn refused(&self, writes: &Writes, output: &str, code: i32, words: &[&str]) {
        let before = self.names();
        self.run(writes, output).failed(code, words);
        assert_eq!(self.names(), before, "{:?} to {output}", writes.words);
    }
}

impl Writes {
    fn named(&self, name: &str) -> String {
        format!("{name}{}", self.ending)
    }

    fn is_whole(&self, octets: &[u8]) {
        let what = || {
            format!(
                "{:?}: {}",
                self.words,
                String::from_utf8_lossy(&octets[..octets.len().min(80)])
            )
        };
        assert!(octets.starts_with(self.begins), "{}", what());
        assert!(
            octets.trim_ascii_end().ends_with(self.ends.trim_ascii_end()),
            "{}",
            what()
        );
        if self.ending == ".json" {
            serde_json::from_slice::<serde_json::Value>(octets).unwrap();
        }
        // SQLite, section 1.3 of its file format: the header says how many pages there are.
        if self.ending == ".sqlite" {
            let page = usize::from(u16::from_be_bytes([octets[16], octets[17]]));
            let pages = u32::from_be_bytes([octets[28], octets[29], octets[30], octets[31]]);
            assert_eq!(octets.len(), page * usize::try_from(pages).unwrap());
        }
    }
}

#[test]
fn the_table_has_every_command_that_writes_a_file() {
    let home = Home::new();
    let mut with_output: Vec<String> = every_command(&home)
        .into_iter()
        .filter(|command| {
            let mut arguments: Vec<&str> = command.iter().map(String::as_str).collect();
            arguments.push("--help");
            home.run(&arguments).good().contains("--output <")
        })
        .map(|command| command.join(" "))
        .collect();
    let mut tried: Vec<String> = ALL
        .iter()
        .map(|writes| {
            let words = writes.words.iter().take_while(|word| !word.starts_with('-'));
            words.copied().collect::<Vec<_>>().join(" ")
        })
        .collect();
    with_output.sort();
    tried.sort();
    tried.dedup();
    assert_eq!(with_output, tried);
}

#[test]
fn any_name_of_a_file_makes_one_and_again() {
    if in_a_hurry("each command with each name of a file") {
        return;
    }
    let desk = Desk::new();
    let long = "n".repeat(255);
    for writes in &ALL {
        let longest = writes.named(&long[..255 - writes.ending.len()]);
        for name in [
            writes.named("bare"),
            writes.named("./dotted"),
            writes.named("a name"),
            writes.named("नाम"),
            writes.named("two\nlines"),
            writes.named("-dash"),
            longest,
        ] {
            for _ in 0..2 {
                let mut command = desk.command(writes, &name);
                if name.starts_with('-') {
                    command = desk.command(writes, format!("./{name}"));
                }
                let ran = Ran::of(&command.output().unwrap(), writes.words);
                assert!(ran.out.lines().count() <= 1, "{ran:?}");
                ran.good();
                writes.is_whole(&fs::read(desk.at(&name)).unwrap());
                assert_eq!(desk.names().len(), 1, "{:?}", desk.names());
                assert_eq!(
                    desk.at(&name).metadata().unwrap().permissions().mode() & 0o777,
                    0o600
                );
            }
            desk.cleared();
        }
        // A name that is no text in any encoding.
        let odd = std::ffi::OsString::from_vec([b"\xff\xfe", writes.ending.as_bytes()].concat());
        desk.run(writes, &odd).good();
        writes.is_whole(&fs::read(desk.at(&odd)).unwrap());
        desk.cleared();
    }
}

#[test]
fn links_are_followed_and_stay() {
    let desk = Desk::new();
    for writes in &ALL {
        let (link, real) = (writes.named("link"), writes.named("below/real"));
        fs::create_dir(desk.at("below")).unwrap();
        symlink(&real, desk.at(&link)).unwrap();
        // It leads nowhere yet, then to a file.
        for _ in 0..2 {
            desk.run(writes, &link).good();
            assert!(desk.at(&link).is_symlink());
            writes.is_whole(&fs::read(desk.at(&real)).unwrap());
            assert_eq!(fs::read_dir(desk.at("below")).unwrap().count(), 1);
        }
        let to_folder = writes.named("to folder");
        symlink("below", desk.at(&to_folder)).unwrap();
        desk.refused(writes, &to_folder, 73, &["it is a directory", "name a file"]);
        let in_a_circle = writes.named("circle");
        symlink(&in_a_circle, desk.at(&in_a_circle)).unwrap();
        desk.refused(writes, &in_a_circle, 73, &["cannot write", "symbolic links"]);
        let to_nowhere = writes.named("nowhere");
        symlink("missing/file", desk.at(&to_nowhere)).unwrap();
        desk.refused(
            writes,
            &to_nowhere,
            73,
            &["there is no directory", "missing", "make it first"],
        );
        desk.cleared();
    }
}

#[test]
fn what_is_no_file_is_refused() {
    let desk = Desk::new();
    for writes in &ALL {
        let folder = writes.named("folder");
        fs::create_dir(desk.at(&folder)).unwrap();
        desk.refused(
            writes,
            &folder,
            73,
            &[&folder, "it is a directory", "name a file"],
        );
        let slash = format!("{}/", writes.named("new"));
        desk.refused(writes, &slash, 73, &["it names a directory", "name a file"]);
        let missing = writes.named("missing/file");
        desk.refused(
            writes,
            &missing,
            73,
            &["there is no directory missing", "make it first"],
        );
        let too_long = writes.named(&"n".repeat(256));
        desk.refused(writes, &too_long, 73, &["File name too long", "name a file"]);
        let below_a_file = writes.named("file/below");
        fs::write(desk.at("file"), "").unwrap();
        desk.refused(writes, &below_a_file, 73, &["Not a directory", "name a file"]);
        let ran = desk.run(writes, "");
        assert_eq!((ran.code, ran.out.as_str()), (64, ""), "{ran:?}");
        assert!(ran.err.contains("a value is required for '--output"), "{ran:?}");
        assert_eq!(desk.names().len(), 2);
        desk.cleared();
    }
}

/// `-` is standard output wherever something can be poured there, and no file anywhere.
#[test]
fn standard_output_has_three_names() {
    let desk = Desk::new();
    for writes in &ALL {
        for name in ["-", "/dev/stdout", "/proc/self/fd/1"] {
            if writes.pours {
                let ran = desk.run(writes, name).good();
                writes.is_whole(ran.as_bytes());
                // Where the shell sends it to a file, what is in that stays.
                let log = desk.at("log");
                fs::write(&log, "before\n").unwrap();
                let file = fs::OpenOptions::new().append(true).open(&log).unwrap();
                let ran = desk.command(writes, name).stdout(file).output().unwrap();
                Ran::of(&ran, writes.words).good();
                let there = fs::read(&log).unwrap();
                writes.is_whole(there.strip_prefix(b"before\n").unwrap());
            } else if writes.ending == ".sqlite" {
                desk.refused(writes, name, 73, &["is not a file", "name a file"]);
            } else {
                desk.refused(writes, name, 64, &[".html", ".pdf", "name a file"]);
            }
        }
        desk.cleared();
    }
}

#[test]
fn a_pipe_gets_all_of_it_and_is_still_a_pipe() {
    let desk = Desk::new();
    for writes in &ALL {
        let pipe = writes.named("pipe");
        assert!(
            Command::new("mkfifo")
                .arg(desk.at(&pipe))
                .status()
                .unwrap()
                .success()
        );
        if writes.ending == ".sqlite" {
            desk.refused(writes, &pipe, 73, &["is not a file", "name a file"]);
        } else {
            let got = desk.home.path("got");
            let mut reader = Command::new("cat")
                .arg(desk.at(&pipe))
                .stdout(fs::File::create(&got).unwrap())
                .spawn()
                .unwrap();
            desk.run(writes, &pipe).good();
            assert!(reader.wait().unwrap().success());
            writes.is_whole(&fs::read(got).unwrap());
        }
        assert!(fs::metadata(desk.at(&pipe)).unwrap().file_type().is_fifo());
        assert_eq!(desk.names().len(), 1);
        desk.cleared();
    }
}

/// A disk that is full, which /dev/full is to whoever writes there, and a limit on the size of files is to everybody.
#[test]
fn no_room_leaves_what_was_there() {
    let desk = Desk::new();
    for writes in &ALL {
        let name = writes.named("there");
        fs::write(desk.at(&name), "what was there before").unwrap();
        for limit in ["0", "1"] {
            let command = desk.command(writes, &name);
            let words: Vec<_> = std::iter::once(command.get_program())
                .chain(command.get_args())
                .collect();
            let script = format!("ulimit -f {limit}; exec \"$@\"");
            let mut limited = desk.home.command(&[]);
            let mut shell = Command::new("sh");
            shell
                .args(["-c", &script, "sh"])
                .args(words)
                .current_dir(desk.at(""));
            for (key, value) in limited.stdin(Stdio::null()).get_envs() {
                if let Some(value) = value {
                    shell.env(key, value);
                }
            }
            let ran = Ran::of(&shell.output().unwrap(), writes.words);
            ran.failed(74, &["ulimit -f"]);
            assert_eq!(fs::read(desk.at(&name)).unwrap(), b"what was there before");
            assert_eq!(desk.names().len(), 1, "{:?}", desk.names());
        }
        let full = writes.named("full");
        symlink("/dev/full", desk.at(&full)).unwrap();
        if writes.ending == ".sqlite" {
            desk.refused(writes, &full, 73, &["is not a file"]);
        } else {
            desk.refused(writes, &full, 74, &["no space left to write", "Free some space"]);
        }
        desk.cleared();
    }
}

/// As somebody without rights. Root has all of them, so the binary runs as nobody then.
#[test]
fn what_may_not_be_written_stays() {
    let desk = Desk::new();
    let root = fs::metadata("/proc/self").unwrap().uid() == 0;
    for open in ["", "state", "desk"] {
        fs::set_permissions(desk.home.path(open), fs::Permissions::from_mode(0o777)).unwrap();
    }
    for entry in fs::read_dir(&desk.state).unwrap() {
        fs::set_permissions(entry.unwrap().path(), fs::Permissions::from_mode(0o666)).unwrap();
    }
    let binary = desk.home.path("quietcuff");
    program_at(&binary);
    for writes in &ALL {
        let run = |output: &str| {
            let command = desk.command(writes, output);
            let mut other = Command::new(&binary);
            other
                .args(command.get_args())
                .current_dir(desk.at(""))
                .env_clear()
                .stdin(Stdio::null());
            if root {
                other.uid(65534).gid(65534);
            }
            Ran::of(&other.output().unwrap(), writes.words)
        };
        fs::create_dir(desk.at("closed")).unwrap();
        fs::set_permissions(desk.at("closed"), fs::Permissions::from_mode(0o555)).unwrap();
        run(&writes.named("closed/file")).failed(73, &["Permission denied", "that you may write to"]);
        assert_eq!(fs::read_dir(desk.at("closed")).unwrap().count(), 0);
        // A new file could take its name, but somebody said that it should stay.
        let kept = writes.named("kept");
        fs::write(desk.at(&kept), "what was there before").unwrap();
        fs::set_permissions(desk.at(&kept), fs::Permissions::from_mode(0o444)).unwrap();
        run(&kept).failed(73, &[&kept, "read-only", "name a file"]);
        assert_eq!(fs::read(desk.at(&kept)).unwrap(), b"what was there before");
        assert_eq!(desk.names().len(), 2, "{:?}", desk.names());
        let fine = writes.named("fine");
        run(&fine).good();
        writes.is_whole(&fs::read(desk.at(&fine)).unwrap());
        desk.cleared();
        fs::set_permissions(desk.at(""), fs::Permissions::from_mode(0o777)).unwrap();
    }
}

/// Nothing may take the place of the journal or of what SQLite keeps beside it, whatever leads there.
#[test]
fn the_journal_is_never_replaced() {
    let desk = Desk::new();
    let before = desk
        .home
        .run(&["frames", "--json", "--state", &desk.state])
        .good();
    let journal = format!("{}/journal.sqlite", desk.state);
    for writes in &ALL {
        for (n, to) in ["", "-wal", "-shm", "-journal"].iter().enumerate() {
            let link = writes.named(&format!("link{n}"));
            symlink(format!("{journal}{to}"), desk.at(&link)).unwrap();
            desk.refused(
                writes,
                &link,
                73,
                &["belongs to the journal", "name another file"],
            );
        }
        if writes.pours {
            desk.refused(writes, &journal, 73, &["belongs to the journal"]);
            desk.refused(writes, "../state/journal.sqlite", 73, &["belongs to the journal"]);
        }
        desk.cleared();
    }
    assert_eq!(
        desk.home
            .run(&["frames", "--json", "--state", &desk.state])
            .good(),
        before
    );
}

/// Somebody who is at it keeps the other away; one who was killed does not.
#[test]
fn two_at_once_and_one_that_was_killed() {
    let desk = Desk::new();
    for writes in &ALL {
        let name = writes.named("file");
        let part = desk.at(format!(".{name}.part"));
        let working = fs::File::create(&part).unwrap();
        working.lock().unwrap();
        desk.refused(writes, &name, 73, &["another process is writing it", "wait"]);
        // A program that another test starts just now may still have the file open.
        working.unlock().unwrap();
        desk.run(writes, &name).good();
        writes.is_whole(&fs::read(desk.at(&name)).unwrap());
        assert_eq!(desk.names(), [std::ffi::OsString::from(&name)]);
        let both: Vec<_> = (0..2)
            .map(|_| desk.command(writes, &name).spawn().unwrap())
            .collect();
        for child in both {
            let ran = Ran::of(&child.wait_with_output().unwrap(), writes.words);
            assert!(
                ran.code == 0 || ran.err.contains("another process is writing it"),
                "{ran:?}"
            );
        }
        writes.is_whole(&fs::read(desk.at(&name)).unwrap());
        assert_eq!(desk.names().len(), 1, "{:?}", desk.names());
        desk.cleared();
    }
}

/// What was exported is said when it is there, and not before.
#[test]
fn a_file_that_is_not_there_is_not_said_to_be() {
    let desk = Desk::new();
    for writes in &ALL {
        let ran = desk.run(writes, writes.named(&"n".repeat(256)));
        assert_eq!((ran.out.as_str(), ran.err.lines().count()), ("", 1), "{ran:?}");
    }
}
