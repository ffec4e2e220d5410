//! Power lost between any two writes: the daemon's writer runs under `strace`, and from the order of its writes and
//! synchronisations every file is put together as a disk may hold it that kept what was synchronised, and of the rest
//! any part, in any order, each write whole or torn at a sector. That a new file's name is on the disk is taken for
//! granted, as file systems with a journal do it.

use crate::crash::kill::{child, holds_from_the_first, kept};
use crate::crash::{Noise, good};
use crate::harness::left_out::{in_a_hurry, program};
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::Stdio;

/// Enough commits for the write-ahead log to be brought into the file more than once.
const FRAMES: u32 = 500;
const STATES: u32 = 300;
const SECTOR: usize = 512;

enum Done {
    Write {
        file: String,
        at: usize,
        octets: Vec<u8>,
    },
    Cut {
        file: String,
        to: usize,
    },
    Sync {
        file: String,
    },
    Remove {
        file: String,
    },
    Said(u32),
}

#[derive(Clone, Default)]
struct File {
    octets: Vec<u8>,
}

impl File {
    fn write(&mut self, at: usize, octets: &[u8]) {
        let end = at + octets.len();
        if self.octets.len() < end {
            self.octets.resize(end, 0);
        }
        self.octets[at..end].copy_from_slice(octets);
    }
}

/// `\x41` as strace prints every octet with `-xx`.
fn octets(text: &str) -> Vec<u8> {
    let mut octets = Vec::with_capacity(text.len() / 4);
    let mut rest = text;
    while !rest.is_empty() {
        if let Some(hex) = rest.strip_prefix("\\x") {
            octets.push(u8::from_str_radix(&hex[..2], 16).unwrap());
            rest = &hex[2..];
        } else {
            octets.push(rest.as_bytes()[0]);
            rest = &rest[1..];
        }
    }
    octets
}

fn words(text: &str) -> String {
    String::from_utf8_lossy(&octets(text)).into_owned()
}

fn file_name(path: &str) -> Option<String> {
    let name = Path::new(path).file_name()?.to_str()?.to_owned();
    matches!(name.as_str(), "journal.sqlite" | "journal.sqlite-wal").then_some(name)
}

fn parse(log: &str) -> Vec<Done> {
    let mut done = Vec::new();
    let mut positions: BTreeMap<String, usize> = BTreeMap::new();
    let mut begun: BTreeMap<&str, String> = BTreeMap::new();
    for line in log.lines() {
        let (process, call) = line.split_once(' ').unwrap_or(("", line));
        let call = call.trim_start();
        // A call that another thread's came in between of stands on two lines.
        let whole = if let Some(first) = call.strip_suffix("<unfinished ...>") {
            begun.insert(process, first.trim_end().to_owned());
            continue;
        } else if let Some((_, rest)) = call.split_once(" resumed>").filter(|_| call.starts_with("<... ")) {
            begun.remove(process).unwrap_or_default() + rest
        } else {
            call.to_owned()
        };
        let Some((name, arguments)) = whole.split_once('(') else {
            continue;
        };
        let Some((arguments, result)) = arguments.rsplit_once(" = ") else {
            continue;
        };
        if result.starts_with('-') {
            continue;
        }
        let quoted: Vec<&str> = arguments.split('"').collect();
        let fd = arguments.split('<').next().unwrap_or_default().to_owned();
        let path = arguments
            .split_once('<')
            .and_then(|(_, rest)| rest.split_once('>'))
            .map(|(path, _)| words(path));
        let last = || -> usize {
            let number = arguments
                .trim_end()
                .trim_end_matches(')')
                .rsplit(", ")
                .next()
                .unwrap();
            number.parse().unwrap()
        };
        let file = path.as_deref().and_then(file_name);
        match (name, file) {
            ("lseek", Some(_)) => {
                positions.insert(fd, result.trim().parse().unwrap());
            }
            ("pwrite64", Some(file)) => done.push(Done::Write {
                file,
                at: last(),
                octets: octets(quoted[1]),
            }),
            ("write", Some(file)) => {
                let octets = octets(quoted[1]);
                let at = positions.entry(fd).or_default();
                done.push(Done::Write {
                    file,
                    at: *at,
                    octets: octets.clone(),
                });
                *at += octets.len();
            }
            ("write", None) if fd == "1" => {
                let said = kept(&words(quoted[1]));
                if said > 0 {
                    done.push(Done::Said(said));
                }
            }
            ("ftruncate", Some(file)) => done.push(Done::Cut { file, to: last() }),
            ("fsync" | "fdatasync", Some(file)) => done.push(Done::Sync { file }),
            ("unlink" | "unlinkat", _) => {
                if let Some(file) = quoted.get(1).and_then(|path| file_name(&words(path))) {
                    done.push(Done::Remove { file });
                }
            }
            _ => {}
        }
    }
    done
}

/// The files as a disk may hold them after so many of the calls, and the last number said to be kept by then.
fn after(done: &[Done], noise: &mut Noise) -> (BTreeMap<String, File>, u32) {
    let mut synced: BTreeMap<String, File> = BTreeMap::new();
    let mut loose: BTreeMap<&str, Vec<&Done>> = BTreeMap::new();
    let mut said = 0;
    let apply = |file: &mut File, one: &Done| match one {
        Done::Write { at, octets, .. } => file.write(*at, octets),
        Done::Cut { to, .. } => file.octets.resize(*to, 0),
        _ => {}
    };
    for one in done {
        match one {
            Done::Write { file, .. } | Done::Cut { file, .. } => loose.entry(file).or_default().push(one),
            Done::Sync { file } => {
                let kept = synced.entry(file.clone()).or_default();
                for one in loose.remove(file.as_str()).unwrap_or_default() {
                    apply(kept, one);
                }
            }
            Done::Remove { file } => {
                synced.remove(file);
                loose.remove(file.as_str());
            }
            Done::Said(n) => said = *n,
        }
    }
    for (file, ones) in loose {
        let kept = synced.entry(file.to_owned()).or_default();
        // All of them, none, or some.
        let share = noise.below(5);
        for one in ones {
            match (noise.below(4) < share, one) {
                (true, Done::Write { at, octets, .. }) if noise.below(4) == 0 => {
                    let sectors = noise.below((octets.len() / SECTOR) as u64 + 1) as usize;
                    kept.write(*at, &octets[..(sectors * SECTOR).min(octets.len())]);
                }
                (true, one) => apply(kept, one),
                (false, _) => {}
            }
        }
    }
    (synced, said)
}

#[test]
fn power_lost_between_any_two_writes_loses_nothing_that_was_kept() {
    if in_a_hurry("power lost between any two writes") {
        return;
    }
    if !program("strace", "power lost between any two writes") {
        return;
    }
    let dir = tempfile::tempdir().unwrap();
    let (state, log) = (dir.path().join("state"), dir.path().join("log"));
    let traced = child(&state);
    let ran = std::process::Command::new("strace")
        .args(["-f", "-qq", "-y", "-xx", "-s", "1000000", "-e"])
        .arg("trace=lseek,write,pwrite64,fsync,fdatasync,ftruncate,unlink,unlinkat")
        .arg("-o")
        .arg(&log)
        .arg(traced.get_program())
        .args(traced.get_args())
        .envs(traced.get_envs().filter_map(|(name, value)| Some((name, value?))))
        .env("QUIETCUFF_TEST_FRAMES", FRAMES.to_string())
        .stdout(Stdio::piped())
        .output();
    let ran = ran.unwrap();
    assert!(ran.status.success(), "{ran:?}");
    let done = parse(&fs::read_to_string(&log).unwrap());
    let syncs = done.iter().filter(|one| matches!(one, Done::Sync { .. })).count();
    assert!(
        syncs > FRAMES as usize,
        "{syncs} synchronisations only: the trace was not understood"
    );
    let checkpointed = done
        .iter()
        .filter(|one| matches!(one, Done::Sync { file } if file == "journal.sqlite"));
    assert!(
        checkpointed.count() > 2,
        "the log was never brought into the file"
    );
    // As long as there is no first frame there may be no journal either.
    let first = done.iter().position(|one| matches!(one, Done::Said(_))).unwrap();
    let mut noise = Noise(41);
    let mut lost_writes = 0;
    for turn in 0..STATES {
        let until = first + noise.below((done.len() - first) as u64) as usize + 1;
        let (files, said) = after(&done[..until], &mut noise);
        let state = dir.path().join(format!("after-{turn}"));
        fs::create_dir(&state).unwrap();
        for (name, file) in &files {
            fs::write(state.join(name), &file.octets).unwrap();
        }
        let there = holds_from_the_first(&state, said);
        lost_writes += u32::from(there == said);
        if turn % 20 == 0 {
            good(&state, &["readings", "--json"]);
        }
        fs::remove_dir_all(state).unwrap();
    }
    println!(
        "{STATES} states of {} calls with {syncs} synchronisations; {lost_writes} at the last frame said",
        done.len()
    );
}
