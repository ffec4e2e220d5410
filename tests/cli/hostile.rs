//! Bytes that nobody should send: truncated, oversized, random, lying. Each is refused by itself, and what stands
//! beside it is kept.

use crate::harness::command::{Home, Noise, fixture, hex};
use std::fs;

/// Every field that 0x2A35 has.
const FULL: &str = "1e78005000a5f3ea0703010702004800010100";

#[test]
fn every_truncation_of_a_frame_is_decoded_or_explained() {
    let home = Home::new();
    let digits = FULL;
    let input: String = (0..=digits.len() / 2)
        .map(|octets| format!("2a35 {}\n", &digits[..2 * octets]))
        .collect();
    let ran = home.fed(&["decode", "--json"], input.as_bytes());
    assert_eq!(ran.code, 65);
    let objects = ran.objects();
    assert_eq!(objects.len(), 20);
    for (octets, object) in objects.iter().enumerate() {
        let whole = octets == digits.len() / 2;
        assert_eq!(object.get("error").is_none(), whole, "{octets}: {object}");
        assert_eq!(object["systolic"] == 120, whole, "{octets}: {object}");
    }
}

#[test]
fn random_frames_give_one_object_each() {
    let mut noise = Noise(0x2a35);
    let names = [
        "2a35", "2b34", "2a36", "2b35", "2a49", "2b36", "2a52", "2a08", "2a2b", "2a0f", "2a14", "2b90",
        "2a9f", "2a9a", "2a99",
    ];
    let lines: Vec<String> = (0..5_000)
        .map(|_| format!("{} {}", names[noise.below(names.len())], hex(&noise.octets(40))))
        .collect();
    let ran = Home::new().fed(&["decode", "--json"], lines.join("\n").as_bytes());
    assert_eq!((ran.code, ran.err.as_str()), (65, ""));
    let objects = ran.objects();
    assert_eq!(objects.len(), lines.len());
    for (object, line) in objects.iter().zip(&lines) {
        assert!(
            line.starts_with(object["characteristic"].as_str().unwrap()),
            "{object}"
        );
    }
    let decoded = objects
        .iter()
        .filter(|object| object.get("error").is_none())
        .count();
    assert!(decoded > 500, "{decoded}");
}

#[test]
fn an_oversized_frame_is_refused_and_the_next_one_decoded() {
    // 512 octets are the most that an attribute can have: Core Specification, Vol 3 Part F 3.2.9.
    let input = format!("2a24 {}\n2a24 {}\n2a19 64\n", "41".repeat(512), "41".repeat(513));
    let ran = Home::new().fed(&["decode", "--json"], input.as_bytes());
    assert_eq!(ran.code, 65);
    let objects = ran.objects();
    assert!(objects[0].get("error").is_none(), "{}", objects[0]);
    assert!(
        objects[1]["error"].as_str().unwrap().contains("512"),
        "{}",
        objects[1]
    );
    assert_eq!(objects[2]["level"], 100);
}

const LINE: &str = r#"{"received_at":"2026-03-01T07:02:14.250+01:00","monitor":"C0:FF:EE:00:00:01","connection":1,"characteristic":"2a35","value":"04780050005d004800"}"#;

/// One bad line is one bad line.
#[test]
fn bad_lines_are_named_and_the_good_ones_kept() {
    let home = Home::new();
    let long = format!("{{\"value\":\"{}\"}}", "0".repeat(100_000));
    let bad = [
        "{".to_owned(),
        "[]".to_owned(),
        "null".to_owned(),
        "\u{0}".replace('\0', "\\u0000"),
        LINE.replace("2026-03-01", "2026-02-30"),
        LINE.replace("+01:00", ""),
        LINE.replace("C0:FF", "C0FF"),
        LINE.replace("\"connection\":1", "\"connection\":-1"),
        LINE.replace("2a35", "2a3"),
        LINE.replace("0478", "478"),
        LINE.replace("04780050005d004800", &"00".repeat(513)),
        long,
        LINE[..80].to_owned(),
    ];
    for (n, bad) in bad.iter().enumerate() {
        let file = home.file("bad.jsonl", format!("{bad}\n{LINE}\n"));
        let state = format!("s{n}");
        let ran = home
            .run(&["replay", &file, "--state", &state, "--json"])
            .failed(65, &["bad.jsonl: line 1: "]);
        let counts = ran.objects().remove(0);
        assert_eq!(
            (&counts["frames"], &counts["unreadable_lines"]),
            (&1.into(), &1.into()),
            "{bad}"
        );
    }
    let file = home.file("many.jsonl", "x\n".repeat(1_000) + LINE);
    let ran = home.run(&["replay", &file, "--state", "many"]);
    assert_eq!(ran.code, 65);
    assert!(
        ran.err.lines().count() < 20,
        "a thousand bad lines are not a thousand sentences"
    );
    assert!(ran.err.contains("990 more"), "{}", ran.err);
    assert_eq!(home.run(&["frames", "--state", "many"]).good().lines().count(), 1);
}

/// A frame that cannot be decoded is kept as it came, and counted.
#[test]
fn what_cannot_be_read_is_kept_all_the_same() {
    let home = Home::new();
    let cut = LINE.replace("04780050005d004800", "0478");
    let file = home.file("cut.jsonl", format!("{LINE}\n{}\n", cut.replace(".250", ".350")));
    let counts = home.run(&["replay", &file, "--json"]).objects().remove(0);
    for (what, n) in [("frames", 2), ("readings", 1), ("refused", 1)] {
        assert_eq!(counts[what], n, "{counts}");
    }
    assert_eq!(home.run(&["frames"]).good().lines().count(), 2);
}

#[test]
fn files_that_hold_no_frames_say_what_they_are() {
    let home = Home::new();
    home.run(&["replay", "nowhere.jsonl"])
        .failed(66, &["nowhere.jsonl", "check its name"]);
    fs::create_dir(home.path("folder")).unwrap();
    home.run(&["replay", "folder"]).failed(74, &["name a file in it"]);
    let noise = home.file("noise", [0, 1, 2, 3, 0, 0, 200, 7]);
    home.run(&["replay", &noise])
        .failed(65, &["neither a btsnoop capture nor"]);
    let pcap = home.file("pcap", [0xd4, 0xc3, 0xb2, 0xa1, 2, 0, 4, 0, 0, 0, 0, 0]);
    home.run(&["replay", &pcap]).failed(65, &["editcap -F btsnoop"]);
    let short = home.file("short", b"btsnoop\0\0\0");
    home.run(&["replay", &short])
        .failed(65, &["capture cannot be read"]);
    // None of them left a journal behind.
    home.run(&["frames"]).failed(66, &["no journal"]);
    let empty = home.file("empty", "");
    home.run(&["replay", &empty]).good();
}

/// A capture cut anywhere, with lengths that lie, or with octets changed: it ends with 0 or 65 and gives no more frames
/// than there were. The header has 16 octets, each record 24 and its data (see `btsnoop.rs`).
#[test]
fn damaged_captures() {
    let home = Home::new();
    let whole = fs::read(fixture("captures/session.btsnoop")).unwrap();
    let mut records = Vec::new();
    let mut at = 16;
    while at + 24 <= whole.len() {
        records.push(at);
        let length = u32::from_be_bytes(whole[at + 4..at + 8].try_into().unwrap());
        at += 24 + usize::try_from(length).unwrap();
    }
    assert_eq!((at, records.len()), (whole.len(), 166));

    let mut damaged: Vec<Vec<u8>> = (0..12)
        .map(|n| whole[..16 + n * (whole.len() - 16) / 12].to_vec())
        .collect();
    let mut noise = Noise(99);
    for lie in [0u32, 1, 0x7fff_ffff, 0x8000_0000, u32::MAX] {
        for field in [0, 4] {
            let mut lying = whole.clone();
            let at = records[noise.below(records.len())] + field;
            lying[at..at + 4].copy_from_slice(&lie.to_be_bytes());
            damaged.push(lying);
        }
    }
    for _ in 0..20 {
        let mut changed = whole.clone();
        for _ in 0..30 {
            let at = 16 + noise.below(whole.len() - 16);
            changed[at] = u8::try_from(noise.below(256)).unwrap();
        }
        damaged.push(changed);
    }
    let all = {
        home.run(&["replay", &fixture("captures/session.btsnoop"), "--state", "whole"])
            .good();
        home.run(&["frames", "--state", "whole"]).good().lines().count()
    };
    for (n, damaged) in damaged.iter().enumerate() {
        let file = home.file("damaged.btsnoop", damaged);
        let state = format!("s{n}");
        let ran = home.run(&["replay", &file, "--state", &state]);
        assert!(matches!(ran.code, 0 | 65), "{n}: {ran:?}");
        if ran.code == 0 {
            let kept = home.run(&["frames", "--state", &state]).good().lines().count();
            assert!(kept <= all + 30, "{n}: {kept} frames out of {all}");
        } else {
            ran.failed(65, &["damaged.btsnoop"]);
        }
    }
}
