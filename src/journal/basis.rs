//! What everything derived rests on beside the frames, the statements and the clock's samples. Its digest is kept in
//! the file: where another program would derive otherwise, everything is made anew, once.

use crate::household::ZONE_RULES;
use crate::monitoring::protocols::Protocols;
use crate::technique;
use rusqlite::{Connection as Db, params};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::sync::LazyLock;

/// Raised whenever the core would settle or judge the same frames differently; an older file is then settled anew. What
/// a fixed journal comes to stands beside each number in `fixtures/derived.txt`, and a test holds it there.
pub const DERIVATION: i64 = 10;

/// Each input by name, with its number, its version or the digest of it.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub(super) struct Basis(BTreeMap<String, String>);

impl Basis {
    /// What this program derives from.
    pub(super) fn here() -> &'static Self {
        static HERE: LazyLock<Basis> = LazyLock::new(|| {
            // Not what a rule says to a person: no judgement rests on its words.
            let rules = technique::RULES.iter().flat_map(|rule| {
                let judges = format!("{:?}", rule.judges);
                [
                    rule.reason.name(),
                    rule.disposition.name(),
                    rule.basis.name(),
                    &judges,
                ]
                .map(str::to_owned)
            });
            let protocols = Protocols::texts().flat_map(|(name, text)| [name, text].map(str::to_owned));
            let inputs = [
                ("code", DERIVATION.to_string()),
                ("rules", digest(rules)),
                ("protocols", digest(protocols)),
                ("zones", ZONE_RULES.to_owned()),
            ];
            Basis(inputs.map(|(name, value)| (name.to_owned(), value)).into())
        });
        &HERE
    }

    /// What the derived tables of a file rest on; nothing where they were thrown away, or an earlier version made them.
    pub(super) fn kept(db: &Db) -> rusqlite::Result<Self> {
        let mut query = db.prepare_cached("SELECT name, value FROM basis")?;
        let rows = query.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?;
        rows.collect::<Result<_, _>>().map(Self)
    }

    /// Keeps it, where another is kept.
    pub(super) fn write(&self, db: &Db) -> rusqlite::Result<()> {
        if Self::kept(db)? == *self {
            return Ok(());
        }
        db.execute("DELETE FROM basis", [])?;
        let mut write = db.prepare_cached("INSERT INTO basis (name, value) VALUES (?1, ?2)")?;
        for (name, value) in &self.0 {
            write.execute(params![name, value])?;
        }
        Ok(())
    }

    /// What is other than it was, in words for the log.
    pub(super) fn since(&self, before: &Self) -> String {
        let names = |name: &str| match name {
            "code" => "what the program makes of frames",
            "rules" => "the rules of technique",
            "protocols" => "the protocols",
            "zones" => "the time zone rules",
            _ => "an input",
        };
        let changed = self
            .0
            .iter()
            .filter(|(name, value)| before.0.get(*name) != Some(value));
        let mut said = Vec::new();
        for (name, value) in changed {
            let shown = |value: &str| value.chars().take(12).collect::<String>();
            let from = before
                .0
                .get(name)
                .map_or_else(|| "not recorded".to_owned(), |value| shown(value));
            said.push(format!("{} ({from}, now {})", names(name), shown(value)));
        }
        said.join(", ")
    }
}

/// Each part with its length before it, so that no two lists look alike.
fn digest(parts: impl Iterator<Item = String>) -> String {
    let mut digest = Sha256::new();
    for part in parts {
        digest.update((part.len() as u64).to_le_bytes());
        digest.update(part);
    }
    digest.finalize().iter().fold(String::new(), |mut text, octet| {
        let _ = write!(text, "{octet:02x}");
        text
    })
}
