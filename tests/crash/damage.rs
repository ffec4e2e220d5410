//! A file with damaged pages: found, named, and what can be read of it saved in a new one.

use crate::{Noise, good, line, run};
use rusqlite::Connection;
use serde_json::Value;
use std::collections::HashSet;
use std::fs;
use std::path::Path;

const FRAMES: u32 = 1_500;
const DAMAGED: u64 = 20;
/// As SQLite makes them.
const PAGE: usize = 4096;

fn frames(path: &Path) -> HashSet<(i64, Vec<u8>)> {
    let db = Connection::open(path).unwrap();
    let mut query = db.prepare("SELECT id, value FROM frame").unwrap();
    let rows = query.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap();
    rows.map(Result::unwrap).collect()
}

#[test]
fn a_damaged_journal_is_found_and_what_can_be_read_is_saved() {
    let dir = tempfile::tempdir().unwrap();
    let sound = dir.path().join("sound");
    let file = dir.path().join("frames.jsonl");
    fs::write(&file, (0..FRAMES).map(line).collect::<String>()).unwrap();
    good(&sound, &["replay", file.to_str().unwrap()]);
    good(&sound, &["recover"]);
    let whole = fs::read(sound.join("journal.sqlite")).unwrap();
    let all = frames(&sound.join("journal.sqlite"));
    let mut noise = Noise(23);
    let (mut recovered, mut least) = (0, f64::INFINITY);
    for turn in 0..DAMAGED {
        let state = dir.path().join(format!("damaged-{turn}"));
        fs::create_dir(&state).unwrap();
        let journal = state.join("journal.sqlite");
        let mut octets = whole.clone();
        // The first page is the file's own description; without it there is only a backup.
        let pages = (octets.len() / PAGE) as u64;
        let hit = noise.below(3) + 1;
        for _ in 0..hit {
            let page = (1 + noise.below(pages - 1)) as usize * PAGE;
            for octet in &mut octets[page..page + PAGE] {
                *octet = noise.below(256) as u8;
            }
        }
        if turn % 5 == 4 {
            octets.truncate(octets.len() - PAGE * noise.below(pages / 3) as usize - 1);
        }
        fs::write(&journal, &octets).unwrap();
        let check = run(&state, &["check"]);
        let said = String::from_utf8_lossy(&check.stdout).into_owned();
        assert_eq!(check.status.code(), Some(65), "{turn}: {said}");
        assert!(said.contains("quietcuff recover"), "{turn}: {said}");
        let before = fs::read(&journal).unwrap();
        let told: Value = serde_json::from_str(&good(&state, &["recover", "--json"])).unwrap();
        let told = &told["recovered"];
        // The damaged file is kept as it was.
        assert!(
            fs::read(told["original"].as_str().unwrap()).unwrap() == before,
            "{turn}"
        );
        let now = frames(&journal);
        assert!(now.is_subset(&all), "{turn}: a frame that never was");
        assert_eq!(told["frames"]["recovered"], now.len(), "{turn}");
        good(&state, &["readings"]);
        assert!(
            run(&state, &["recover"]).stdout.starts_with(b"nothing is wrong"),
            "{turn}"
        );
        recovered += usize::from(!now.is_empty());
        least = least.min(now.len() as f64 / all.len() as f64);
    }
    println!(
        "{recovered} of {DAMAGED} gave frames; the least {:.0} %",
        100.0 * least
    );
    assert!(recovered as u64 > DAMAGED * 3 / 4);
}
