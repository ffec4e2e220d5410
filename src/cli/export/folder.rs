//! A folder with one file a type of resource, as HL7 FHIR Bulk Data Access 2.0 names and fills the files of an export:
//! each has resources of one type, one a line.

use crate::cli::failure::Failure;
use crate::cli::output::Checked;
use crate::export::fhir::document::Document;
use crate::export::fhir::{Form, Sink};
use crate::journal::Journal;
use crate::whole::{NotWritten, remove_if_there};
use std::fs::DirBuilder;
use std::io::{self, ErrorKind, Write};
use std::os::unix::fs::DirBuilderExt;
use std::path::{Path, PathBuf};

/// The types that are exported.
const TYPES: [&str; 4] = ["Patient", "Device", "Observation", "DocumentReference"];

/// The files of a folder, of which none is the journal's.
pub(super) struct Folder([PathBuf; 4]);

impl Folder {
    /// Makes the folder where there is none, for its owner only.
    pub(super) fn new(path: &Path, journal: &Journal) -> Result<Self, Failure> {
        match DirBuilder::new().mode(0o700).create(path) {
            Err(why) if why.kind() != ErrorKind::AlreadyExists => {
                return Err(NotWritten::new(path, why).into());
            }
            _ => {}
        }
        let files = TYPES.map(|kind| path.join(format!("{kind}.ndjson")));
        for file in &files {
            Checked::new(file, journal)?;
        }
        Ok(Self(files))
    }

    /// Lets `work` write resources, each into the file of its type. A type of which there is none has no file in the end,
    /// also where an earlier export had one.
    pub(super) fn write<T>(
        &self,
        work: impl FnOnce(&mut Sink<'_>) -> Result<T, Failure>,
    ) -> Result<T, Failure> {
        let [patients, devices, observations, documents] = &self.0;
        let (done, counts) = whole(patients, |patients| {
            whole(devices, |devices| {
                whole(observations, |observations| {
                    whole(documents, |documents| {
                        into([patients, devices, observations, documents], work)
                    })
                })
            })
        })?;
        for (file, _) in self.0.iter().zip(counts).filter(|(_, count)| *count == 0) {
            remove_if_there(file).map_err(|why| NotWritten::new(file, why))?;
        }
        Ok(done)
    }
}

fn whole<T>(path: &Path, work: impl FnOnce(&mut dyn Write) -> Result<T, Failure>) -> Result<T, Failure> {
    crate::whole::write(path, work)
}

/// What `work` gave, and how many resources of each type it wrote.
fn into<T>(
    outs: [&mut dyn Write; 4],
    work: impl FnOnce(&mut Sink<'_>) -> Result<T, Failure>,
) -> Result<(T, Vec<u64>), Failure> {
    let mut parts = Vec::new();
    for (kind, out) in TYPES.into_iter().zip(outs) {
        parts.push((kind, Document::begin(out, Form::Lines)?));
    }
    let done = work(&mut |item| {
        let of_its_type = parts.iter_mut().find(|(kind, _)| *kind == item.resource.kind());
        of_its_type.map_or_else(
            || Err(io::Error::other("a type of resource without a file")),
            |(_, part)| part.write(item),
        )
    })?;
    let counts = parts
        .into_iter()
        .map(|(_, part)| part.end())
        .collect::<io::Result<_>>()?;
    Ok((done, counts))
}
