//! Where a command's output goes: standard output, or a file that is there whole or not at all.

use super::Failure;
use super::failure;
use clap::Args;
use std::fs::{File, OpenOptions};
use std::io::{self, BufWriter, Write};
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};

#[derive(Args)]
pub(crate) struct To {
    /// Write to this file, which only its owner can read, instead of standard output
    #[arg(long, value_name = "FILE")]
    pub(crate) output: Option<PathBuf>,
}

impl To {
    /// Lets `work` write to where the output goes. A file is there whole or not at all: it is written beside its place
    /// and takes it at the end.
    pub(crate) fn write(
        &self,
        work: impl FnOnce(&mut dyn Write) -> Result<(), Failure>,
    ) -> Result<(), Failure> {
        let Some(path) = &self.output else {
            let mut out = BufWriter::new(io::stdout().lock());
            work(&mut out)?;
            return Ok(out.flush()?);
        };
        write_file(path, work)
    }
}

/// Lets `work` write a file. It is written beside its place and takes it at the end: whoever looks sees the old one, or
/// the new one, never half of it.
pub(crate) fn write_file(
    path: &Path,
    work: impl FnOnce(&mut dyn Write) -> Result<(), Failure>,
) -> Result<(), Failure> {
    // A pipe or a device is written to as it is; there is nothing to replace.
    if path
        .metadata()
        .is_ok_and(|there| !there.is_file() && !there.is_dir())
    {
        let file = OpenOptions::new()
            .write(true)
            .open(path)
            .map_err(|e| cannot(path, &e))?;
        let mut out = BufWriter::new(file);
        work(&mut out)?;
        return Ok(out.flush()?);
    }
    // Where the name is a link, the file that it leads to is replaced.
    let path = path.canonicalize().unwrap_or_else(|_| path.to_owned());
    if path.is_dir() {
        return Err(cannot(&path, &"it is a directory"));
    }
    let (part, file) = beside(&path)?;
    let written = (|| {
        let mut out = BufWriter::new(file);
        work(&mut out)?;
        let file = out.into_inner().map_err(io::IntoInnerError::into_error)?;
        file.sync_all()?;
        std::fs::rename(&part, &path).map_err(|e| cannot(&path, &e))?;
        // The new name is on the disk too before it is called done.
        Ok(File::open(path.parent().unwrap_or(&path))?.sync_all()?)
    })();
    if written.is_err() {
        // What is left of it says less than the error.
        let _ = std::fs::remove_file(&part);
    }
    written
}

/// A new file in the same directory, for its owner only: it holds what is nobody else's business.
fn beside(path: &Path) -> Result<(PathBuf, File), Failure> {
    let name = path
        .file_name()
        .ok_or_else(|| cannot(path, &"it names no file"))?
        .to_string_lossy();
    let part = path.with_file_name(format!(".{name}.{}.part", std::process::id()));
    let file = OpenOptions::new()
        .write(true)
        .create_new(true)
        .mode(0o600)
        .open(&part)
        .map_err(|e| cannot(path, &e))?;
    Ok((part, file))
}

fn cannot(path: &Path, why: &dyn std::fmt::Display) -> Failure {
    Failure::new(
        failure::CANNOT_CREATE,
        format!(
            "cannot write {}: {why}; name a file in a directory that you may write to",
            path.display()
        ),
    )
}
