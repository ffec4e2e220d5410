//! Root restores and recovers in a directory that is somebody else's.

use crate::harness::command::alone;
use crate::harness::left_out::left_out;
use crate::harness::replayed::{Home, week};
use rusqlite::Connection;
use std::fs;
use std::os::unix::fs::{MetadataExt, PermissionsExt, chown, symlink};
use std::path::Path;
use std::process::Output;

/// A user whom no machine has to know.
const SOMEBODY: u32 = 54_711;
const PRECIOUS: &str = "what only root may write\n";

fn run(arguments: &[&str], state: &Path) -> Output {
    let home = state.parent().unwrap();
    alone(home, arguments).arg("--state").arg(state).output().unwrap()
}

fn theirs(place: &Path) {
    fs::create_dir(place).unwrap();
    chown(place, Some(SOMEBODY), Some(SOMEBODY)).unwrap();
    fs::set_permissions(place, fs::Permissions::from_mode(0o700)).unwrap();
}

fn all_theirs(state: &Path) {
    let mut files = 0;
    for file in fs::read_dir(state).unwrap() {
        let file = file.unwrap();
        let is = fs::symlink_metadata(file.path()).unwrap();
        assert_eq!((is.uid(), is.gid()), (SOMEBODY, SOMEBODY), "{:?}", file.path());
        files += 1;
    }
    assert!(files > 0);
}

#[test]
fn what_root_restores_is_the_owners_and_no_link_leads_further() {
    if !rustix::process::geteuid().is_root() {
        left_out(
            "root in somebody else's directory",
            "the tests do not run as root",
        );
        return;
    }
    let home = Home::new();
    home.replay(&week(), &["--person", "p1"]);
    // For root alone, as `sudo quietcuff backup` leaves it.
    let copy = home.dir.path().join("copy.sqlite");
    let copy = copy.to_str().unwrap();
    home.text(&["backup", "--output", copy]);
    let ground = tempfile::tempdir().unwrap();
    fs::set_permissions(ground.path(), fs::Permissions::from_mode(0o755)).unwrap();
    let precious = ground.path().join("precious");
    fs::write(&precious, PRECIOUS).unwrap();
    let mine = ground.path().join("mine");
    fs::create_dir(&mine).unwrap();
    fs::set_permissions(&mine, fs::Permissions::from_mode(0o700)).unwrap();
    let their = ground.path().join("theirs");
    theirs(&their);
    let untouched = |when: &str| {
        assert_eq!(fs::read_to_string(&precious).unwrap(), PRECIOUS, "{when}");
        assert_eq!(fs::metadata(&precious).unwrap().uid(), 0, "{when}");
        assert_eq!(fs::read_dir(&mine).unwrap().count(), 0, "{when}");
    };

    // Where there is nothing yet, below what is theirs.
    let state = their.join("state");
    let restored = run(&["restore", copy], &state);
    assert!(restored.status.success(), "{restored:?}");
    all_theirs(&state);
    assert_eq!(fs::metadata(&state).unwrap().uid(), SOMEBODY);

    // A directory that is a link to where only root may write.
    let link = their.join("link");
    symlink(&mine, &link).unwrap();
    let led = run(&["restore", copy], &link);
    assert!(!led.status.success(), "{led:?}");
    untouched("a link for the directory");

    // The names of the files that a restoring or a recovery writes.
    let journal = state.join("journal.sqlite");
    let leaf: usize = Connection::open(&journal)
        .unwrap()
        .query_row(
            "SELECT pageno - 1 FROM dbstat WHERE name = 'reading' AND pagetype = 'leaf'",
            [],
            |row| row.get::<_, u32>(0),
        )
        .unwrap() as usize;
    let mut octets = fs::read(&journal).unwrap();
    octets[leaf * 4096..(leaf + 1) * 4096].fill(0xa5);
    fs::write(&journal, &octets).unwrap();
    let names = [
        "journal.sqlite-wal",
        "journal.sqlite-shm",
        "journal.recovered.sqlite",
        "journal.recovered.sqlite-wal",
    ];
    for name in names {
        let planted = state.join(name);
        let _ = fs::remove_file(&planted);
        symlink(&precious, &planted).unwrap();
    }
    let recovered = run(&["recover", "--accept-empty"], &state);
    untouched("a recovery among links");
    for name in names {
        let _ = fs::remove_file(state.join(name));
    }
    let again = run(&["recover"], &state);
    assert!(again.status.success(), "{recovered:?} {again:?}");
    all_theirs(&state);
    untouched("a recovery");
}
