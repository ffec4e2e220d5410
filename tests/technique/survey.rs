//! How often a third reading is asked for, in people who were measured three times in a row: the US National Health
//! and Nutrition Examination Survey 2017-2018 (fixtures/data). The same share is counted by Python in this test run,
//! by the definition of the survey's columns and with nothing of this program.

use crate::technique::made::{World, reading};
use quietcuff::technique::session::SessionState;
use std::process::Command;

const SURVEY: &str = concat!(
    env!("CARGO_MANIFEST_DIR"),
    "/fixtures/data/nhanes_2017_18_auscultatory_triplicate.csv"
);

const PYTHON: &str = r"
import csv, sys
from decimal import Decimal
asked = sat = 0
for row in csv.DictReader(open(sys.argv[1])):
    four = [row[k] for k in ('sbp1', 'dbp1', 'sbp2', 'dbp2')]
    if int(row['age']) < 18 or '' in four:
        continue
    s1, d1, s2, d2 = map(Decimal, four)
    if not all(40 <= s <= 300 and 20 <= d <= 200 and s > d for s, d in ((s1, d1), (s2, d2))):
        continue
    sat += 1
    asked += abs(s1 - s2) > 10 or abs(d1 - d2) > 10
print(sat, asked)
";

#[test]
fn the_share_of_third_readings_is_what_python_counts() {
    let text = std::fs::read_to_string(SURVEY).unwrap();
    let world = World::new();
    let (mut sat, mut asked) = (0, 0);
    for row in text.lines().skip(1) {
        let columns: Vec<&str> = row.split(',').collect();
        let [_, age, s1, d1, s2, d2, ..] = columns[..] else {
            panic!("{row}");
        };
        if age.parse::<u32>().unwrap() < 18 || [s1, d1, s2, d2].contains(&"") {
            continue;
        }
        let judged = world.sitting(vec![
            reading("2026-03-01T07:00:00", s1, d1),
            reading("2026-03-01T07:01:00", s2, d2),
        ]);
        let session = judged.session.unwrap();
        if session.counted < 2 {
            continue;
        }
        sat += 1;
        asked += usize::from(session.state(None) == SessionState::Short);
    }

    let output = Command::new("python3")
        .args(["-c", PYTHON, SURVEY])
        .output()
        .expect("this check counts with python3; install it");
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    let counted = String::from_utf8(output.stdout).unwrap();
    assert_eq!(format!("{sat} {asked}"), counted.trim());
    // 6.6 % of adults, as an analysis of the same data gave it before this program existed.
    let share = 100.0 * asked as f64 / f64::from(sat);
    assert!((share - 6.6).abs() < 0.05, "{share}");
}
