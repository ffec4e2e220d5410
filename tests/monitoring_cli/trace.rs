//! `quietcuff trace`: from every number down to the octets.

use crate::harness::replayed::{Home, USAGE, cuff, measurement, week};

#[test]
fn a_reading_down_to_its_octets() {
    let home = Home::new();
    home.replay(&week()[..2], &["--person", "p1"]);
    let reading = home.json(&["readings", "--json"]).remove(0);
    let id = reading["id"].as_str().unwrap();
    let traced = home.object(&["trace", "--json", &id[..8]]);
    assert_eq!(traced["reading"], reading);
    let value = measurement("2026-03-01T07:02:11", cuff(127, 82));
    assert_eq!(traced["frame"]["value"], value.as_str());
    // Every octet has a label, in order and without gaps.
    let octets = traced["frame"]["octets"].as_array().unwrap();
    let mut joined = String::new();
    let mut next = 0;
    for part in octets {
        assert_eq!(part["from"].as_u64(), Some(next));
        next = part["to"].as_u64().unwrap();
        joined += part["hex"].as_str().unwrap();
        assert!(!part["field"].as_str().unwrap().is_empty());
    }
    assert_eq!(joined, value);
    let says = |field: &str| octets.iter().find(|part| part["field"] == field).unwrap()["says"].clone();
    assert_eq!(says("systolic"), "127 mmHg");
    let text = home.text(&["trace", id]);
    assert!(
        text.contains("127 mmHg") && text.contains("its stamp says 2026-03-01T07:02:11"),
        "{text}"
    );
}

#[test]
fn a_session_down_to_its_readings() {
    let home = Home::new();
    home.replay(&week()[..4], &["--person", "p1"]);
    let session = home.json(&["sessions", "--json"]).remove(0);
    let traced = home.json(&["trace", "--json", "--session", session["id"].as_str().unwrap()]);
    assert_eq!(traced[0]["session"], session);
    let ids: Vec<_> = traced[1..]
        .iter()
        .map(|line| line["reading"]["id"].clone())
        .collect();
    assert_eq!(session["readings"], serde_json::Value::from(ids));
}

/// The sum over what is said to be averaged is the sum that is said, and gives the average.
#[test]
fn an_average_down_to_its_readings() {
    let home = Home::new();
    home.replay(&week(), &["--person", "p1"]);
    for (protocol, count, sum) in [("seven-day", 28, 3761.0), ("nice-ng136", 24, 3250.0)] {
        let traced = home.json(&["trace", "--json", "--period", "--protocol", protocol]);
        let average = &traced[0]["average"];
        let averaged: Vec<f64> = traced[1..]
            .iter()
            .filter(|line| line["averaged"] == true)
            .map(|line| line["reading"]["systolic"].as_f64().unwrap())
            .collect();
        assert_eq!(traced.len(), 29);
        assert_eq!(averaged.len(), count);
        assert_eq!(averaged.iter().sum::<f64>(), sum);
        assert_eq!(average["sum_systolic"].as_f64(), Some(sum));
        assert_eq!(average["systolic"].as_f64(), Some(sum / count as f64));
    }
    assert!(
        home.text(&["trace", "--period"])
            .contains("3761 / 2429 mmHg in all, by 28 readings")
    );
}

#[test]
fn what_is_not_there() {
    let home = Home::new();
    home.replay(&week()[..2], &["--person", "p1"]);
    home.fails(&["trace"], USAGE, &["<ID>"]);
    home.fails(&["trace", "zz"], USAGE, &["there is no reading"]);
    home.fails(&["trace", "--session", "p7-"], USAGE, &["there is no session"]);
    home.fails(&["trace", "ab", "--person", "p1"], USAGE, &["belong to --period"]);
}
