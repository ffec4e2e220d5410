//! Runs the binary as a person with an empty home directory would, and looks at what every call has to keep.

use serde_json::Value;
use std::fs;
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use tempfile::TempDir;

/// A home directory that was never used.
pub(crate) struct Home {
    dir: TempDir,
}

/// The program with a folder for its home and nothing else of this machine: no environment, and a bus that nobody
/// listens on.
pub(crate) fn alone(home: &Path, arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_quietcuff"));
    command
        .args(arguments)
        .env_clear()
        .env("HOME", home)
        .env("TMPDIR", home)
        .env("TZ", "UTC")
        .env("DBUS_SYSTEM_BUS_ADDRESS", "unix:path=/nonexistent/bus")
        .stdin(Stdio::null());
    command
}

/// The same, with the state directory and the configuration of a household that has its folder.
pub(crate) fn in_household(folder: &Path, arguments: &[&str]) -> Command {
    let mut command = alone(folder, arguments);
    command
        .arg("--state")
        .arg(folder.join("state"))
        .arg("--config")
        .arg(folder.join("quietcuff.toml"));
    command
}

/// What a call did.
#[derive(Debug)]
pub(crate) struct Ran {
    pub(crate) code: i32,
    pub(crate) out: String,
    pub(crate) err: String,
}

impl Home {
    pub(crate) fn new() -> Self {
        Self {
            dir: tempfile::tempdir().unwrap(),
        }
    }

    pub(crate) fn path(&self, below: &str) -> PathBuf {
        self.dir.path().join(below)
    }

    /// Writes a file and returns where it is.
    pub(crate) fn file(&self, name: &str, content: impl AsRef<[u8]>) -> String {
        let path = self.path(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(&path, content).unwrap();
        path.to_str().unwrap().to_owned()
    }

    /// The command, not yet run: no environment but a home, and a bus that nobody listens on.
    pub(crate) fn command(&self, arguments: &[&str]) -> Command {
        let mut command = alone(self.dir.path(), arguments);
        command
            .current_dir(self.dir.path())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        command
    }

    pub(crate) fn run(&self, arguments: &[&str]) -> Ran {
        Ran::of(&self.command(arguments).output().unwrap(), arguments)
    }

    /// Runs with this on standard input.
    pub(crate) fn fed(&self, arguments: &[&str], input: &[u8]) -> Ran {
        let mut child = self.command(arguments).stdin(Stdio::piped()).spawn().unwrap();
        let mut stdin = child.stdin.take().unwrap();
        let input = input.to_vec();
        let writing = std::thread::spawn(move || stdin.write_all(&input));
        let output = child.wait_with_output().unwrap();
        let _ = writing.join().unwrap();
        Ran::of(&output, arguments)
    }
}

impl Ran {
    pub(crate) fn of(output: &Output, arguments: &[&str]) -> Self {
        let ran = Self {
            code: output.status.code().expect("it ended by itself"),
            out: String::from_utf8(output.stdout.clone()).unwrap(),
            err: String::from_utf8(output.stderr.clone()).unwrap(),
        };
        assert!(!ran.err.contains("panicked"), "{arguments:?}: {ran:?}");
        ran
    }

    /// It succeeded; gives its output.
    pub(crate) fn good(self) -> String {
        assert_eq!(self.code, 0, "{self:?}");
        self.out
    }

    /// It failed with this code and one sentence that holds all of these words.
    pub(crate) fn failed(self, code: i32, words: &[&str]) -> Self {
        assert_eq!(self.code, code, "{self:?}");
        let sentences: Vec<&str> = self
            .err
            .lines()
            .filter(|line| line.starts_with("quietcuff: "))
            .collect();
        assert_eq!(sentences.len(), 1, "{self:?}");
        for word in words {
            assert!(sentences[0].contains(word), "{word:?} is not in {}", sentences[0]);
        }
        self
    }

    /// The objects that it printed.
    pub(crate) fn objects(self) -> Vec<Value> {
        objects(&self.out)
    }
}

pub(crate) fn objects(lines: &str) -> Vec<Value> {
    lines
        .lines()
        .map(|line| serde_json::from_str(line).unwrap_or_else(|error| panic!("{error}: {line}")))
        .collect()
}

/// Puts a copy of the program there. `cp` writes it: a test that starts another program at this moment would pass on a
/// file that this process has open for writing, and nobody could start it (ETXTBSY).
pub(crate) fn program_at(path: &Path) {
    let copied = Command::new("cp")
        .arg(env!("CARGO_BIN_EXE_quietcuff"))
        .arg(path)
        .status()
        .unwrap();
    assert!(copied.success(), "{}", path.display());
}

pub(crate) fn fixture(name: &str) -> String {
    format!("{}/fixtures/{name}", env!("CARGO_MANIFEST_DIR"))
}

/// A file of this project; none where it is not there yet.
pub(crate) fn of_project(name: &str) -> Option<String> {
    fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(name)).ok()
}

/// Xorshift, after Marsaglia 2003: numbers without order, the same in every run.
pub(crate) struct Noise(pub(crate) u64);

impl Noise {
    pub(crate) fn below(&mut self, limit: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from(self.0 % u64::try_from(limit).unwrap()).unwrap()
    }

    pub(crate) fn octets(&mut self, most: usize) -> Vec<u8> {
        let n = self.below(most + 1);
        (0..n).map(|_| u8::try_from(self.below(256)).unwrap()).collect()
    }
}

/// What a program that stays says first, such as where it is; nothing where it ended before.
pub(crate) fn first_line(child: &mut Child) -> String {
    let mut line = String::new();
    BufReader::new(child.stdout.take().unwrap())
        .read_line(&mut line)
        .unwrap();
    line.trim().to_owned()
}

pub(crate) fn hex(octets: &[u8]) -> String {
    octets.iter().map(|octet| format!("{octet:02x}")).collect()
}
