//! The sheet of a period as a DocumentReference: many clinics file nothing else. It carries the PDF itself, once a
//! period, replaced when it says something else.

use super::device::ours;
use super::exporter::{Exporter, written};
use super::form::{Item, Sink, id};
use super::identity::Identity;
use super::moment::Moment;
use super::resource::{
    Attachment, Concept, DocumentContent, DocumentContext, DocumentReference, DocumentType, Resource, Span,
};
use crate::household::PersonId;
use crate::monitoring::period::Period;
use crate::words::Language;
use base64::Engine as _;
use base64::prelude::BASE64_STANDARD;
use jiff::Timestamp;
use std::io;

/// What kind of document it is, in words: no code of others was found that says it.
const KIND: Concept = Concept {
    coding: &[],
    text: Some("Home blood pressure: sheet of a period"),
};

/// A period's sheet.
#[derive(Clone, Copy, Debug)]
pub struct Sheet<'a> {
    /// The period that the sheet is of.
    pub period: &'a Period,
    /// The file, as PDF.
    pub pdf: &'a [u8],
    /// In which language it is written.
    pub language: Language,
    /// As of when it says what it says.
    pub made_at: Timestamp,
    /// Its first day's and its last day's midnight, at which the next day begins.
    pub days: (Timestamp, Timestamp),
}

impl Exporter<'_> {
    /// What the sheet of a period is called; `None` for people who were not chosen.
    pub fn sheet_identity(&self, person: &PersonId, [protocol, from, to]: [&str; 3]) -> Option<Identity> {
        let whose = self.known_as(person)?;
        Some(Identity::digest("sheet", &[whose, protocol, from, to]))
    }

    /// Hands over the sheet of a period; whether there is one.
    pub fn sheet(&mut self, sheet: &Sheet<'_>, sink: &mut Sink<'_>) -> io::Result<bool> {
        let period = sheet.period;
        let (from, to) = (period.from.to_string(), period.to.to_string());
        let Some(identity) = self.sheet_identity(&period.person, [&period.protocol, &from, &to]) else {
            return Ok(false);
        };
        self.introduce(&period.person, None, sink)?;
        let made_at = Moment::new(sheet.made_at, self.zones).to_string();
        let (first, last) = sheet.days;
        let mut document = DocumentReference {
            resource_type: DocumentType,
            id: id(self.form, &identity),
            text: None,
            identifier: [ours(&identity)],
            status: "current",
            kind: KIND,
            subject: self.subject(&period.person),
            date: made_at.clone(),
            author: [written(self.gateway.as_ref())],
            content: [DocumentContent {
                attachment: Attachment {
                    content_type: "application/pdf",
                    language: sheet.language.tag(),
                    data: BASE64_STANDARD.encode(sheet.pdf),
                    title: format!("Home blood pressure, {from} to {to}"),
                    creation: made_at,
                },
            }],
            context: DocumentContext {
                period: Span {
                    start: Some(Moment::new(first, self.zones).to_string()),
                    end: Some(Moment::new(last, self.zones).to_string()),
                },
            },
        };
        document.text = self.said_of_document(&document, &period.person);
        sink(&Item {
            identity,
            replace: true,
            resource: Resource::Document(Box::new(document)),
            compared: None,
        })?;
        Ok(true)
    }
}
