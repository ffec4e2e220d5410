//! The frames and numbers of `fixtures/frames`.

use quietcuff::gatt::Characteristic;
use serde::Deserialize;
use serde_json::value::RawValue;

/// One line of `frames.jsonl`.
#[derive(Deserialize)]
pub(crate) struct Example {
    pub(crate) id: String,
    pub(crate) op: String,
    characteristic: String,
    value: String,
    pub(crate) tshark: bool,
    /// Kept as text, so that the digits and the order of the fields are compared too.
    pub(crate) expected: Option<Box<RawValue>>,
    pub(crate) truncated: Option<Truncated>,
}

/// Where a value ends too early.
#[derive(Deserialize)]
pub(crate) struct Truncated {
    pub(crate) field: String,
    pub(crate) at: usize,
    pub(crate) need: usize,
    pub(crate) have: usize,
}

/// One line of `floats.jsonl`.
#[derive(Deserialize)]
pub(crate) struct Number {
    pub(crate) kind: String,
    raw: String,
    pub(crate) text: String,
    pub(crate) special: bool,
    pub(crate) published: Option<String>,
}

impl Example {
    pub(crate) fn characteristic(&self) -> Characteristic {
        self.characteristic.parse().unwrap()
    }

    pub(crate) fn value(&self) -> Vec<u8> {
        octets(&self.value)
    }

    /// As an argument of `quietcuff decode`.
    pub(crate) fn argument(&self) -> String {
        format!("{}:{}", self.characteristic, self.value)
    }
}

impl Number {
    pub(crate) fn bits(&self) -> u32 {
        u32::from_str_radix(self.raw.trim_start_matches("0x"), 16).unwrap()
    }
}

pub(crate) fn examples() -> Vec<Example> {
    lines(include_str!("../../fixtures/frames/frames.jsonl"))
}

pub(crate) fn numbers() -> Vec<Number> {
    lines(include_str!("../../fixtures/frames/floats.jsonl"))
}

fn lines<T: for<'a> Deserialize<'a>>(text: &str) -> Vec<T> {
    let read: Vec<T> = text
        .lines()
        .map(|line| serde_json::from_str(line).expect(line))
        .collect();
    assert!(read.len() > 50, "the corpus was cut");
    read
}

pub(crate) fn octets(hex: &str) -> Vec<u8> {
    assert!(hex.len().is_multiple_of(2), "{hex}");
    (0..hex.len())
        .step_by(2)
        .map(|i| u8::from_str_radix(&hex[i..i + 2], 16).unwrap())
        .collect()
}
