//! Names that every gateway gives to the same thing: made from what the monitor sent, never from a clock, a
//! counter or the machine.
//!
//! A reading is named by its own id, which rests on the monitor's identity address and the octets of the
//! record. So a server that is told twice, by one gateway or by two, or by one restored from a backup, keeps
//! one resource.

use sha2::{Digest, Sha256};
use uuid::Uuid;

/// The system of all our identifiers. It is a random UUID, taken once, as an object identifier
/// (Recommendation ITU-T X.667): nobody has to own a domain for it, and no server takes it for a reference
/// inside a Bundle.
pub const SYSTEM: &str = "urn:oid:2.25.334011806874932539226826051416638676785";

/// What names a resource.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Identity {
    /// The value of its identifier in [`SYSTEM`].
    pub value: String,
    /// The same as a UUID, for references inside one document.
    pub uuid: Uuid,
}

impl Identity {
    /// The name of this value.
    pub fn new(value: String) -> Self {
        // A name-based UUID with SHA-256 (RFC 9562, Appendix B.2), because SHA-1 is needed for nothing else
        // here.
        let digest: [u8; 32] = Sha256::new_with_prefix(SYSTEM)
            .chain_update(value.as_bytes())
            .finalize()
            .into();
        let octets = digest.first_chunk().copied().unwrap_or_default();
        Self {
            value,
            uuid: uuid::Builder::from_custom_bytes(octets).into_uuid(),
        }
    }

    /// A name of several parts that may be long or private: their digest.
    pub fn digest(kind: &str, parts: &[&str]) -> Self {
        let mut digest = Sha256::new_with_prefix(kind);
        for part in parts {
            // The length keeps ("a", "bc") and ("ab", "c") apart.
            digest.update(u64::try_from(part.len()).unwrap_or(u64::MAX).to_be_bytes());
            digest.update(part.as_bytes());
        }
        let whole: [u8; 32] = digest.finalize().into();
        let first = whole.first_chunk().map_or(0, |first| u128::from_be_bytes(*first));
        Self::new(format!("{kind}-{first:032x}"))
    }

    /// As `_id` and conditional requests search it.
    pub fn query(&self) -> String {
        format!("identifier={SYSTEM}|{}", self.value)
    }
}
