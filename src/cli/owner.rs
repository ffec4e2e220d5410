//! Root's helping hand: what root asks for in somebody else's directory is done as that somebody.
//!
//! So the files belong to whoever has to write them afterwards, and a link that the owner of the directory has put
//! there leads only to where the owner may write anyway.

use super::failure::{self, Failure};
use std::ffi::OsString;
use std::fs::{self, File};
use std::io;
use std::os::unix::fs::{MetadataExt, fchown};
use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::{Command, ExitCode};
use tempfile::NamedTempFile;

/// User and group.
type Owner = (u32, u32);

/// Whom a place belongs to that is not root's: the first on the way to it, by its name and then by where links lead.
fn owner_of(place: &Path) -> Option<Owner> {
    let somebody = |path: &Path| {
        let from_the_root: Vec<&Path> = path.ancestors().collect();
        from_the_root.into_iter().rev().find_map(|part| {
            let is = fs::symlink_metadata(part).ok()?;
            (is.uid() != 0).then(|| (is.uid(), is.gid()))
        })
    };
    let absolute = std::path::absolute(place).ok()?;
    let real = absolute.ancestors().find_map(|part| fs::canonicalize(part).ok());
    somebody(&absolute).or_else(|| somebody(&real?))
}

/// Runs `quietcuff ARGUMENTS --state STATE` as the owner of `state`, where this is root and the owner is somebody else.
/// `file` is handed to the owner as a copy, behind the arguments: root may read what the owner may not. `None` where
/// whoever runs this may go on.
pub(super) fn instead(
    state: &Path,
    arguments: &[&str],
    file: Option<&Path>,
) -> Result<Option<ExitCode>, Failure> {
    if !rustix::process::geteuid().is_root() {
        return Ok(None);
    }
    let Some((user, group)) = owner_of(state) else {
        return Ok(None);
    };
    let cannot = |what: &str, error: &io::Error| {
        let said = format!("{} belongs to user {user}, and {what}: {error}", state.display());
        Failure::new(failure::NO_PERMISSION, said)
    };
    let copy = match file {
        // Whoever asked for it is told by the command itself that it is not there.
        Some(file) if file.is_file() => Some(copied(file, (user, group)).map_err(|error| {
            cannot(
                &format!("{} cannot be copied for that user", file.display()),
                &error,
            )
        })?),
        _ => None,
    };
    let absolute = |path: &Path| std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
    let named = match &copy {
        Some(copy) => Some(copy.path().to_owned()),
        None => file.map(absolute),
    };
    let mut all: Vec<OsString> = arguments.iter().map(Into::into).collect();
    all.extend(["--state".into(), absolute(state).into_os_string()]);
    // Behind this it is a name, whatever it begins with.
    all.extend(
        named
            .into_iter()
            .flat_map(|named| ["--".into(), named.into_os_string()]),
    );
    eprintln!(
        "quietcuff: {} belongs to user {user}: this is done as that user, so that the files are theirs",
        state.display()
    );
    // With the user go the groups of root.
    let ended = Command::new("/proc/self/exe")
        .args(all)
        .env_clear()
        .current_dir("/")
        .uid(user)
        .gid(group)
        .status()
        .map_err(|error| cannot("nothing can be run as that user", &error))?;
    let code = ended.code().and_then(|code| u8::try_from(code).ok());
    Ok(Some(ExitCode::from(code.unwrap_or(failure::INTERNAL))))
}

fn copied(file: &Path, (user, group): Owner) -> io::Result<NamedTempFile> {
    let mut copy = NamedTempFile::new()?;
    io::copy(&mut File::open(file)?, copy.as_file_mut())?;
    fchown(copy.as_file(), Some(user), Some(group))?;
    Ok(copy)
}
