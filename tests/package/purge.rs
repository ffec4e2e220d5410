//! What `purge` removes and what it leaves, in a view of the file system of its own, where nothing of this machine is
//! touched. Run as root, as dpkg runs it.

use crate::harness::left_out::left_out;
use crate::package::of_project;
use std::process::Command;

/// The service's user there.
const USER: &str = "65533";

/// Runs the script after this, and tells what it said and what is there then.
fn purged(before: &str) -> Option<(String, Vec<String>)> {
    if !rustix::process::geteuid().is_root() {
        left_out("what purge removes", "only root may have a view of its own");
        return None;
    }
    let dir = tempfile::tempdir().unwrap();
    let script = std::fs::read_to_string(of_project("systemd/debian/postrm")).unwrap();
    let script = script
        .replace("@roles@", "quietcuff-page.service")
        .replace("user=quietcuff", &format!("user={USER}"))
        .replace("/etc/quietcuff", "/mnt/etc");
    let postrm = dir.path().join("postrm");
    std::fs::write(&postrm, script).unwrap();
    let shell = format!(
        "set -e; mount -t tmpfs none /var/lib; mount -t tmpfs none /mnt; {before}; sh {} purge; echo ---; \
         find /var/lib /mnt ! -path '/var/lib/systemd*' ! -type d",
        postrm.display()
    );
    let output = Command::new("unshare")
        .args(["--mount", "sh", "-c", &shell])
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(output.status.success(), "{output:?}");
    let (told, left) = said.split_once("---\n").unwrap();
    let mut left: Vec<String> = left.lines().map(str::to_owned).collect();
    left.sort();
    Some((told.to_owned(), left))
}

#[test]
fn the_record_is_gone_and_what_a_person_wrote_is_named() {
    let Some((told, left)) = purged(
        "mkdir /var/lib/quietcuff /mnt/etc; touch /var/lib/quietcuff/journal.sqlite; \
         printf '[backup]\\nto = \"/mnt/stick\"\\n' >/mnt/etc/quietcuff.toml",
    ) else {
        return;
    };
    assert_eq!(left, ["/mnt/etc/quietcuff.toml"]);
    assert!(
        told.contains("/mnt/etc stays") && told.contains("/mnt/stick stay"),
        "{told}"
    );
}

#[test]
fn the_record_is_gone_behind_a_link_too_and_nothing_of_others_is() {
    let Some((told, left)) = purged(&format!(
        "mkdir -p /mnt/disk/quietcuff; touch /mnt/disk/quietcuff/journal.sqlite /mnt/disk/quietcuff/journal.sqlite-wal; \
         chown -R {USER} /mnt/disk/quietcuff; ln -s /mnt/disk/quietcuff /var/lib/quietcuff"
    )) else {
        return;
    };
    assert!(left.is_empty(), "{left:?}");
    assert!(told.contains("/mnt/disk/quietcuff is removed"), "{told}");
    // Into a directory that others use as well.
    let (told, left) = purged(&format!(
        "mkdir /mnt/disk; touch /mnt/disk/journal.sqlite /mnt/disk/holiday.jpg; chown {USER} /mnt/disk/journal.sqlite; \
         ln -s /mnt/disk /var/lib/quietcuff"
    ))
    .unwrap();
    assert_eq!(left, ["/mnt/disk/holiday.jpg"]);
    assert!(told.contains("1 files of others"), "{told}");
    // Only the file was put elsewhere.
    let (told, left) = purged(
        "mkdir /mnt/disk /var/lib/quietcuff; touch /mnt/disk/journal.sqlite /mnt/disk/holiday.jpg; \
         ln -s /mnt/disk/journal.sqlite /var/lib/quietcuff/journal.sqlite",
    )
    .unwrap();
    assert_eq!(left, ["/mnt/disk/holiday.jpg"]);
    assert!(told.contains("/mnt/disk/journal.sqlite is removed"), "{told}");
}
