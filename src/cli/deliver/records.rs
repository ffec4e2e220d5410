//! What `deliver check` says of the releases that the clinic's server is told.

use crate::cli::summary::paragraph_behind;
use crate::delivery::Destination;
use crate::delivery::server::{Abilities, ReleaseRecords as Told};
use crate::journal::outbox::Contact;
use serde::Serialize;
use std::io::Write;

/// How it stands with them.
#[derive(Serialize)]
pub(super) struct Records {
    /// `clinic.release-records`.
    wanted: bool,
    /// Whether a Consent goes; none where it is tried, since the server does not say whether it takes one.
    consent: Option<bool>,
    /// The same of a Provenance.
    provenance: Option<bool>,
    /// Why something does not go, in words.
    lacking: Vec<String>,
}

impl Records {
    pub(super) fn of(target: &Destination, abilities: &Abilities, contact: &Contact) -> Self {
        let Some(allowed) = target.records_allowed() else {
            return Self {
                wanted: false,
                consent: Some(false),
                provenance: Some(false),
                lacking: Vec::new(),
            };
        };
        let can = abilities.records(contact.records.as_deref().map(Told::of_word));
        let goes = allowed.and(can);
        let unless_tried = |goes: bool, said: Option<bool>| (!goes || said.is_some()).then_some(goes);
        Self {
            wanted: true,
            consent: unless_tried(goes.consent, abilities.consents),
            provenance: unless_tried(goes.provenance, abilities.provenances),
            lacking: can.lacking(allowed),
        }
    }

    pub(super) fn print(&self, out: &mut impl Write) -> std::io::Result<()> {
        if !self.wanted {
            return writeln!(out, "records   none are sent (`clinic.release-records`)");
        }
        for (goes, what) in [
            (
                self.consent,
                "each release as a Consent, which is replaced when it ends",
            ),
            (
                self.provenance,
                "where each average and sheet comes from, as a Provenance",
            ),
        ] {
            match goes {
                Some(true) => writeln!(out, "records   {what}")?,
                Some(false) => {}
                None => {
                    let said = format!("{what}; whether the server takes it, it does not say");
                    paragraph_behind(out, "records   ", "          ", &said)?;
                }
            }
        }
        for lacking in &self.lacking {
            paragraph_behind(out, "records   ", "          ", lacking)?;
        }
        Ok(())
    }
}
