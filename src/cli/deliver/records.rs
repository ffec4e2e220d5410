//! What `deliver check` says of the releases that the clinic's server is told.

use crate::cli::summary::paragraph_behind;
use crate::delivery::Destination;
use crate::delivery::server::Abilities;
use serde::Serialize;
use std::io::Write;

/// How it stands with them.
#[derive(Serialize)]
pub(super) struct Records {
    /// `clinic.release-records`.
    wanted: bool,
    /// Whether a Consent goes; none where it is tried, since the server names no resources.
    consent: Option<bool>,
    /// Whether a Provenance goes.
    provenance: bool,
    /// Why something does not go, in words.
    lacking: Vec<String>,
}

impl Records {
    pub(super) fn of(target: &Destination, abilities: &Abilities) -> Self {
        let Some(allowed) = target.records_allowed() else {
            return Self {
                wanted: false,
                consent: Some(false),
                provenance: false,
                lacking: Vec::new(),
            };
        };
        let goes = allowed.and(abilities.records());
        let is_tried = goes.consent && abilities.consents.is_none();
        Self {
            wanted: true,
            consent: (!is_tried).then_some(goes.consent),
            provenance: goes.provenance,
            lacking: goes.lacking(allowed),
        }
    }

    pub(super) fn print(&self, out: &mut impl Write) -> std::io::Result<()> {
        if !self.wanted {
            return writeln!(out, "records   none are sent (`clinic.release-records`)");
        }
        let consent = match self.consent {
            Some(true) => Some("each release as a Consent, which is replaced when it ends"),
            Some(false) => None,
            None => Some("each release as a Consent; whether the server takes it, it does not say"),
        };
        let provenance = self
            .provenance
            .then_some("where each average and sheet comes from, as a Provenance");
        let said = consent.into_iter().chain(provenance);
        for said in said.chain(self.lacking.iter().map(String::as_str)) {
            paragraph_behind(out, "records   ", "          ", said)?;
        }
        Ok(())
    }
}
