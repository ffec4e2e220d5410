//! What a resource says as text, for a reader whose program shows no codes (R4, "Narrative"): what, whose and when, made of
//! the values that stand beside it, in a few elements of XHTML.

use super::exporter::{Exporter, Subject};
use super::resource::{
    Component, ComponentValue, Concept, DocumentReference, Effective, ExtensionValue, Narrative, Observation,
    Quantity,
};
use crate::export::report::drawing::Escaped;
use crate::household::PersonId;

/// Where a text begins, and what stands first in that of what is not to be used.
const HEAD: &str = "<div xmlns=\"http://www.w3.org/1999/xhtml\">";
const IN_ERROR: &str = "<p>Entered in error: not to be used.</p>";

/// A resource as it was written earlier, whose text, where it has one, says that it is not to be used; once, however often
/// it is looked at.
pub fn said_in_error(json: &str) -> String {
    // No words of anybody look so: their quotation marks are escaped.
    let head = HEAD.replace('"', "\\\"");
    let marked = format!("{head}{IN_ERROR}");
    if json.contains(&marked) {
        return json.to_owned();
    }
    json.replacen(&head, &marked, 1)
}

impl Exporter<'_> {
    /// What the household calls somebody, where it names them there too. Of whom the clinic has a record, it knows whose it
    /// is, and the household's word for them stays at home.
    fn called(&self, person: Option<&PersonId>) -> Option<&str> {
        match self.subjects.get(person?)? {
            Subject::Known(_) => None,
            Subject::Unknown(_) => {
                let label = self.stated.person(person?)?.label.trim();
                (!label.is_empty()).then_some(label)
            }
        }
    }

    /// Where it is wanted.
    pub(super) fn said_of(
        &self,
        observation: &Observation<'_>,
        person: Option<&PersonId>,
    ) -> Option<Narrative> {
        self.switches.narrative.then(|| {
            let mut lines = Vec::new();
            let when = match &observation.effective {
                Effective::At(at) => readable(at),
                Effective::During { start, end } => format!("{} to {}", readable(start), readable(end)),
            };
            let site = observation.body_site.and_then(|site| site.text);
            let site = site.map_or_else(String::new, |site| format!(", {site}"));
            lines.push(headed(
                name(&observation.code),
                self.called(person),
                &format!("{when}, at home{site}"),
            ));
            let own = observation.value_quantity.iter().map(quantity);
            let values: Vec<String> = own.chain(observation.component.iter().map(component)).collect();
            if !values.is_empty() {
                lines.push(values.join("; "));
            }
            lines.extend(observation.note.iter().map(|note| note.text.clone()));
            narrative(observation.status == "entered-in-error", &lines)
        })
    }

    /// The same of a document.
    pub(super) fn said_of_document(
        &self,
        document: &DocumentReference<'_>,
        person: &PersonId,
    ) -> Option<Narrative> {
        self.switches.narrative.then(|| {
            let [content] = &document.content;
            let made = format!("made {}", readable(&document.date));
            narrative(
                false,
                &[headed(
                    &content.attachment.title,
                    self.called(Some(person)),
                    &made,
                )],
            )
        })
    }
}

fn headed(what: &str, whose: Option<&str>, when: &str) -> String {
    whose.map_or_else(
        || format!("{what}, {when}"),
        |whose| format!("{what}, {whose}, {when}"),
    )
}

fn narrative(in_error: bool, lines: &[String]) -> Narrative {
    let error = if in_error { IN_ERROR } else { "" };
    let lines: String = lines
        .iter()
        .map(|line| format!("<p>{}</p>", Escaped(line)))
        .collect();
    Narrative {
        status: "generated",
        div: format!("{HEAD}{error}{lines}</div>"),
    }
}

/// `2026-03-01 07:02:11 +01:00`.
fn readable(moment: &str) -> String {
    let (day, time) = moment.split_once('T').unwrap_or((moment, ""));
    let clock = time.find(['+', '-']).and_then(|at| time.split_at_checked(at));
    clock.map_or_else(
        || moment.to_owned(),
        |(clock, offset)| format!("{day} {clock} {offset}"),
    )
}

fn name(concept: &Concept) -> &'static str {
    let display = || concept.coding.first().map_or("", |coding| coding.display);
    concept.text.unwrap_or_else(display)
}

fn quantity(quantity: &Quantity) -> String {
    let sent = quantity
        .extension
        .iter()
        .flatten()
        .find_map(|extension| match &extension.value {
            ExtensionValue::Quantity(sent) => Some(format!(" (sent as {} {})", sent.value, sent.unit)),
            _ => None,
        });
    format!("{} {}{}", quantity.value, quantity.unit, sent.unwrap_or_default())
}

fn component(component: &Component) -> String {
    let name = name(&component.code);
    match &component.value {
        ComponentValue::Quantity(value) => format!("{name} {}", quantity(value)),
        ComponentValue::Integer(value) => format!("{name} {value}"),
        ComponentValue::Boolean(true) => name.to_owned(),
        ComponentValue::Boolean(false) => format!("not: {name}"),
    }
}
