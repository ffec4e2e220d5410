//! A home to run the binary in: its own state directory, and frames to replay.

use super::command::in_household;
use serde_json::Value;
use std::path::PathBuf;
use std::process::Command;
use tempfile::TempDir;

pub(crate) const USAGE: i32 = 64;
pub(crate) const DATA: i32 = 65;
pub(crate) const NO_INPUT: i32 = 66;
pub(crate) const CONFIG: i32 = 78;

pub(crate) const MONITOR: &str = "C0:FF:EE:00:00:01";

pub(crate) struct Home {
    pub(crate) dir: TempDir,
}

/// What a run of the binary gave.
#[derive(Debug)]
pub(crate) struct Said {
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

    pub(crate) fn state(&self) -> PathBuf {
        self.dir.path().join("state")
    }

    pub(crate) fn command(&self, args: &[&str]) -> Command {
        let config = self.dir.path().join("quietcuff.toml");
        if !config.exists() {
            std::fs::write(&config, "").unwrap();
        }
        in_household(self.dir.path(), args)
    }

    pub(crate) fn run(&self, args: &[&str]) -> Said {
        let output = self.command(args).output().unwrap();
        Said {
            code: output.status.code().unwrap(),
            out: String::from_utf8(output.stdout).unwrap(),
            err: String::from_utf8(output.stderr).unwrap(),
        }
    }

    /// A run that has to succeed.
    pub(crate) fn text(&self, args: &[&str]) -> String {
        let said = self.run(args);
        assert_eq!(said.code, 0, "{args:?}: {said:?}");
        said.out
    }

    /// The JSON objects of a run that has to succeed, one a line.
    pub(crate) fn json(&self, args: &[&str]) -> Vec<Value> {
        self.text(args)
            .lines()
            .map(|line| serde_json::from_str(line).unwrap_or_else(|e| panic!("{e}: {line}")))
            .collect()
    }

    /// The only one.
    pub(crate) fn object(&self, args: &[&str]) -> Value {
        let mut objects = self.json(args);
        assert_eq!(objects.len(), 1, "{args:?}: {objects:?}");
        objects.remove(0)
    }

    /// A run that has to fail in this way, and to say all of these.
    pub(crate) fn fails(&self, args: &[&str], code: i32, says: &[&str]) {
        let said = self.run(args);
        assert_eq!(said.code, code, "{args:?}: {said:?}");
        assert_eq!(said.out, "", "{args:?}");
        for words in says {
            assert!(
                said.err.contains(words),
                "{args:?} does not say {words:?}: {}",
                said.err
            );
        }
    }

    pub(crate) fn replay(&self, lines: &[String], more: &[&str]) -> Value {
        let path = self.dir.path().join("frames.jsonl");
        std::fs::write(&path, lines.join("\n") + "\n").unwrap();
        let mut args = vec!["replay", "--json", path.to_str().unwrap(), "--time-zone=+01:00"];
        args.extend(more);
        self.object(&args)
    }
}

/// What a monitor sends of a measurement.
#[derive(Clone, Copy)]
pub(crate) struct Cuff {
    pub(crate) systolic: u16,
    pub(crate) diastolic: u16,
    pub(crate) pulse: u16,
    pub(crate) user: Option<u8>,
    pub(crate) status: u16,
}

pub(crate) fn cuff(systolic: u16, diastolic: u16) -> Cuff {
    Cuff {
        systolic,
        diastolic,
        pulse: 72,
        user: None,
        status: 0,
    }
}

/// The octets of 0x2A35 with stamp, pulse, status and, where it is given, user index (GATT Specification Supplement,
/// Blood Pressure Measurement), as hexadecimal digits. The mean arterial pressure is NaN.
pub(crate) fn measurement(civil: &str, cuff: Cuff) -> String {
    let number = |text: &str| text.parse::<u16>().unwrap();
    let mut octets = vec![if cuff.user.is_some() { 0x1e } else { 0x16 }];
    octets.extend(cuff.systolic.to_le_bytes());
    octets.extend(cuff.diastolic.to_le_bytes());
    octets.extend(0x07ff_u16.to_le_bytes());
    octets.extend(number(&civil[0..4]).to_le_bytes());
    for part in [
        &civil[5..7],
        &civil[8..10],
        &civil[11..13],
        &civil[14..16],
        &civil[17..19],
    ] {
        octets.push(number(part) as u8);
    }
    octets.extend(cuff.pulse.to_le_bytes());
    octets.extend(cuff.user);
    octets.extend(cuff.status.to_le_bytes());
    octets.iter().map(|octet| format!("{octet:02x}")).collect()
}

/// A frame as a line, received at this time of a clock an hour ahead of UTC.
pub(crate) fn frame(received: &str, connection: u32, characteristic: &str, value: &str) -> String {
    format!(
        "{{\"received_at\":\"{received}+01:00\",\"monitor\":\"{MONITOR}\",\"connection\":{connection},\
         \"characteristic\":\"{characteristic}\",\"value\":\"{value}\"}}"
    )
}

/// A live reading, heard as it is stamped.
pub(crate) fn live(civil: &str, connection: u32, cuff: Cuff) -> String {
    frame(civil, connection, "2a35", &measurement(civil, cuff))
}

/// The week of the contract's example: 28 readings whose systolic values add up to 3761 and whose diastolic values to
/// 2429, of which 511 and 328 on the first day. 3761 ÷ 28 = 134.32142857142858, 3250 ÷ 24 = 135.41666666666666.
pub(crate) fn week() -> Vec<String> {
    let mut lines = Vec::new();
    for day in 1..=7_u16 {
        for (slot, hour) in [(0_u16, 7), (1, 20)] {
            for nth in 0..2_u16 {
                let (systolic, diastolic) = if day == 1 {
                    (127 + u16::from(nth == 1) + u16::from(slot == 1 && nth == 0), 82)
                } else {
                    let place = (day - 2) * 4 + slot * 2 + nth;
                    // 24 readings: 10 of 136 and 14 of 135; 13 of 88 and 11 of 87.
                    (135 + u16::from(place % 12 < 5), 87 + u16::from(place < 13))
                };
                let civil = format!("2026-03-{day:02}T{hour:02}:{:02}:11", 2 + nth * 2);
                lines.push(live(&civil, u32::from(day * 2 + slot), cuff(systolic, diastolic)));
            }
        }
    }
    lines
}
