//! The two documents: one transaction Bundle, or one resource a line. Both are written as the resources come.

use super::{Form, Item, Resource};
use serde::Serialize;
use std::io::{self, Write};

/// A document that is being written.
pub struct Document<W: Write> {
    out: W,
    form: Form,
    resources: u64,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Entry<'a> {
    full_url: String,
    resource: &'a Resource<'a>,
    request: Request,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Request {
    method: &'static str,
    url: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    if_none_exist: Option<String>,
}

impl Request {
    fn of(item: &Item<'_>) -> Self {
        let kind = item.resource.kind();
        if item.replace {
            Self {
                method: "PUT",
                url: format!("{kind}?{}", item.identity.query()),
                if_none_exist: None,
            }
        } else {
            Self {
                method: "POST",
                url: kind.to_owned(),
                if_none_exist: Some(item.identity.query()),
            }
        }
    }
}

impl<W: Write> Document<W> {
    /// Begins a document in the given form. For a Bundle, its opening is written to `out` at once. An error
    /// is the writer's own.
    pub fn begin(mut out: W, form: Form) -> io::Result<Self> {
        if form == Form::Bundle {
            out.write_all(br#"{"resourceType":"Bundle","type":"transaction""#)?;
        }
        Ok(Self {
            out,
            form,
            resources: 0,
        })
    }

    /// Writes one resource.
    pub fn write(&mut self, item: &Item<'_>) -> io::Result<()> {
        match self.form {
            Form::Lines => {
                serde_json::to_writer(&mut self.out, &item.resource)?;
                self.out.write_all(b"\n")?;
            }
            Form::Bundle => {
                // An empty list is not allowed, so the list begins with its first entry.
                let before: &[u8] = if self.resources == 0 {
                    b",\"entry\":[\n"
                } else {
                    b",\n"
                };
                self.out.write_all(before)?;
                let entry = Entry {
                    full_url: format!("urn:uuid:{}", item.identity.uuid),
                    resource: &item.resource,
                    request: Request::of(item),
                };
                serde_json::to_writer(&mut self.out, &entry)?;
            }
        }
        self.resources += 1;
        Ok(())
    }

    /// Ends it; how many resources it holds.
    pub fn end(mut self) -> io::Result<u64> {
        if self.form == Form::Bundle {
            let after: &[u8] = if self.resources == 0 { b"}\n" } else { b"\n]}\n" };
            self.out.write_all(after)?;
        }
        self.out.flush()?;
        Ok(self.resources)
    }
}
