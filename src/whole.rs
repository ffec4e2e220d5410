//! A file that is there whole or not at all: it is written beside its place, and takes its name at the end.
//!
//! Whoever looks sees the old file or the new one, never half of one. What it holds is nobody else's business, so it is
//! for its owner only.

use rustix::fs::{Access, Mode, OFlags};
use sha2::{Digest, Sha256};
use std::ffi::OsString;
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{self, BufWriter, ErrorKind, Write};
use std::os::fd::AsFd;
use std::os::unix::ffi::OsStrExt;
use std::os::unix::fs::{MetadataExt, OpenOptionsExt};
use std::path::{Path, PathBuf};

/// As many links as Linux follows (path_resolution(7)).
const LINKS_MAX: usize = 40;
/// Octets in a name (NAME_MAX), without the room for the longest end that SQLite gives a file beside it, `-journal`.
const PART_NAME_MAX: usize = 255 - 8;

/// A file that could not be written, in a sentence for the person who named it.
#[derive(Debug, thiserror::Error)]
#[error("{}", self.sentence())]
pub struct NotWritten {
    path: PathBuf,
    why: io::Error,
}

impl NotWritten {
    /// `path` as it was named, and the system's reason.
    pub fn new(path: &Path, why: io::Error) -> Self {
        Self {
            path: path.to_owned(),
            why,
        }
    }

    fn sentence(&self) -> String {
        let (path, why) = (shown(&self.path), reason(&self.why));
        match self.why.kind() {
            ErrorKind::StorageFull | ErrorKind::QuotaExceeded => {
                format!("no space left to write {path}: {why}. Free some space, then do it again")
            }
            ErrorKind::FileTooLarge => format!(
                "{path} would be larger than a file may be: {why}. Raise the limit (`ulimit -f`), or name a file elsewhere"
            ),
            ErrorKind::WouldBlock => {
                format!("cannot write {path}: another process is writing it; wait until that is done")
            }
            ErrorKind::NotFound if !directory_of(&self.path).is_dir() => format!(
                "cannot write {path}: there is no directory {}; make it first, or name a file in one that is there",
                shown(directory_of(&self.path))
            ),
            _ => format!("cannot write {path}: {why}; name a file in a directory that you may write to"),
        }
    }

    /// Whether it is a pipe that nobody reads any more.
    pub fn is_broken_pipe(&self) -> bool {
        self.why.kind() == ErrorKind::BrokenPipe
    }

    /// The exit code of sysexits that says the same. There, a file that may not be written is one that cannot be
    /// created (sysexits(3), EX_NOPERM).
    pub fn exit_code(&self) -> u8 {
        match self.why.kind() {
            ErrorKind::StorageFull
            | ErrorKind::QuotaExceeded
            | ErrorKind::FileTooLarge
            | ErrorKind::BrokenPipe => 74,
            _ => 73,
        }
    }
}

/// The system's reason in a sentence: without its number, which tells a person nothing, and in words of ours where its
/// own leave out what is in the way.
pub fn reason(error: &io::Error) -> String {
    if error.kind() == ErrorKind::AlreadyExists {
        return "something else is there under this name".to_owned();
    }
    let said = error.to_string();
    match said.split_once(" (os error ") {
        Some((words, _)) => words.to_owned(),
        None => said,
    }
}

/// A path in a sentence: in quotes where a line break or a control code in it would tear the sentence apart.
pub fn shown(path: &Path) -> String {
    let plain = path.display().to_string();
    if plain.contains(char::is_control) {
        format!("{path:?}")
    } else {
        plain
    }
}

/// The directory that a file is in; that of a bare name is the one that the process works in.
pub fn directory_of(path: &Path) -> &Path {
    path.parent()
        .filter(|parent| !parent.as_os_str().is_empty())
        .unwrap_or(Path::new("."))
}

/// What a name that somebody gave for output leads to.
pub enum OutputPlace {
    /// A file, or where one can be: its own name, where links led to it.
    File(PathBuf),
    /// What this process has open already.
    Own(File),
    /// A pipe, a device, or what another descriptor leads to: written to as it is, there is nothing to replace. Opening
    /// a pipe waits for somebody who reads it.
    Stream(PathBuf),
}

impl OutputPlace {
    /// Looks where a name leads.
    pub fn of(path: &Path) -> io::Result<Self> {
        let there = path.metadata();
        if let Ok(there) = &there {
            // What the shell opened for us is written where the shell left off: `--output /dev/stdout >>all.csv` adds.
            for own in [io::stdout().as_fd(), io::stderr().as_fd()] {
                if rustix::fs::fstat(own)
                    .is_ok_and(|own| (own.st_dev, own.st_ino) == (there.dev(), there.ino()))
                {
                    return Ok(Self::Own(File::from(own.try_clone_to_owned()?)));
                }
            }
            if there.is_dir() {
                return Err(refused("it is a directory"));
            }
            if !there.is_file() {
                return Ok(Self::Stream(path.to_owned()));
            }
        }
        // `week/` means a directory, whether there is one or not.
        if [&b"/"[..], b"/.", b"/.."]
            .iter()
            .any(|end| path.as_os_str().as_bytes().ends_with(end))
        {
            return Err(refused("it names a directory"));
        }
        let mut path = path.to_owned();
        for _ in 0..LINKS_MAX {
            let Ok(to) = fs::read_link(&path) else {
                return Self::file(path, there.is_ok());
            };
            if directory_of(&path).canonicalize()?.starts_with("/proc") {
                return Ok(Self::Stream(path));
            }
            path = directory_of(&path).join(to);
        }
        Err(rustix::io::Errno::LOOP.into())
    }

    fn file(path: PathBuf, there: bool) -> io::Result<Self> {
        if path.file_name().is_none() {
            return Err(refused("it names no file"));
        }
        // A new file could take its name all the same, but somebody said that it should stay.
        if there && rustix::fs::access(&path, Access::WRITE_OK) == Err(rustix::io::Errno::ACCESS) {
            return Err(refused("it is there and read-only"));
        }
        Ok(Self::File(path))
    }
}

fn refused(why: &'static str) -> io::Error {
    io::Error::other(why)
}

/// Lets `work` write to where a name leads. A file is there whole or not at all; one that is there is replaced, and
/// where the name is a link, the file that it leads to.
pub fn write<T, E: From<NotWritten>>(
    path: &Path,
    work: impl FnOnce(&mut dyn Write) -> Result<T, E>,
) -> Result<T, E> {
    let cannot = |why| NotWritten::new(path, why);
    match OutputPlace::of(path).map_err(cannot)? {
        OutputPlace::Own(file) => into(path, file, work),
        OutputPlace::Stream(stream) => {
            let file = OpenOptions::new().append(true).open(stream).map_err(cannot)?;
            into(path, file, work)
        }
        OutputPlace::File(real) => {
            let cannot = |why| NotWritten::new(&real, why);
            let part = PartFile::beside(&real).map_err(cannot)?;
            let done = into(&real, &part.file, work)?;
            part.take_name(&real).map_err(cannot)?;
            Ok(done)
        }
    }
}

/// Writes a file that must not be there yet, for its owner only: an error where something has its name.
pub fn write_new(path: &Path, octets: &[u8]) -> Result<(), NotWritten> {
    let cannot = |why| NotWritten::new(path, why);
    let part = PartFile::beside(path).map_err(cannot)?;
    (&part.file).write_all(octets).map_err(cannot)?;
    part.take_free_name(path).map_err(cannot)
}

fn into<T, E: From<NotWritten>>(
    path: &Path,
    out: impl Write,
    work: impl FnOnce(&mut dyn Write) -> Result<T, E>,
) -> Result<T, E> {
    let mut out = BufWriter::new(Remembering { out, why: None });
    let done = work(&mut out).and_then(|done| match out.flush() {
        Ok(()) => Ok(done),
        Err(why) => Err(NotWritten::new(path, why).into()),
    });
    // Whatever `work` made of it, it was this file that could not be written.
    match out.get_mut().why.take() {
        Some(why) => Err(NotWritten::new(path, why).into()),
        None => done,
    }
}

/// Keeps what went wrong, for a sentence with the file's name.
struct Remembering<W> {
    out: W,
    why: Option<io::Error>,
}

impl<W> Remembering<W> {
    fn noted<T>(&mut self, done: io::Result<T>) -> io::Result<T> {
        done.map_err(|why| {
            let kind = why.kind();
            if kind != ErrorKind::Interrupted {
                self.why = Some(why);
            }
            kind.into()
        })
    }
}

impl<W: Write> Write for Remembering<W> {
    fn write(&mut self, octets: &[u8]) -> io::Result<usize> {
        let done = self.out.write(octets);
        self.noted(done)
    }

    fn flush(&mut self) -> io::Result<()> {
        let done = self.out.flush();
        self.noted(done)
    }
}

/// A file beside its place, which takes its name when it is whole and is gone otherwise. One that was left behind by
/// somebody who was killed is in nobody's way.
pub struct PartFile {
    path: PathBuf,
    /// Locked, so that two at once do not write the same.
    file: File,
}

impl PartFile {
    /// A new file in the same directory.
    pub fn beside(path: &Path) -> io::Result<Self> {
        let part = path.with_file_name(part_name(path)?);
        loop {
            // Never a file or a link that somebody else put there.
            let new = OpenOptions::new()
                .write(true)
                .create_new(true)
                .mode(0o600)
                .open(&part);
            match new {
                Err(error) if error.kind() == ErrorKind::AlreadyExists => remove_left_behind(&part)?,
                new => {
                    let part = Self {
                        path: part.clone(),
                        file: new?,
                    };
                    // Unless somebody who came in between took it for one that was left behind.
                    if !matches!(part.file.try_lock(), Err(TryLockError::WouldBlock)) && part.is_there() {
                        part.remove_beside()?;
                        return Ok(part);
                    }
                }
            }
        }
    }

    /// Where it is until it takes its name.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Whether its name is still its own.
    fn is_there(&self) -> bool {
        match (fs::symlink_metadata(&self.path), self.file.metadata()) {
            (Ok(there), Ok(ours)) => (there.dev(), there.ino()) == (ours.dev(), ours.ino()),
            _ => false,
        }
    }

    /// What SQLite may keep beside it.
    fn remove_beside(&self) -> io::Result<()> {
        ["-journal", "-wal", "-shm"]
            .iter()
            .try_for_each(|end| remove_if_there(&with_end(&self.path, end)))
    }

    /// In place of what had it.
    pub fn take_name(self, path: &Path) -> io::Result<()> {
        self.settled_on_disk(path, |part| fs::rename(part, path))
    }

    /// Unless something has it.
    pub fn take_free_name(self, path: &Path) -> io::Result<()> {
        self.settled_on_disk(path, |part| fs::hard_link(part, path))
    }

    /// The new name is on the disk too before it is called done.
    fn settled_on_disk(&self, path: &Path, named: impl FnOnce(&Path) -> io::Result<()>) -> io::Result<()> {
        self.file.sync_all()?;
        named(&self.path)?;
        File::open(directory_of(path))?.sync_all()
    }
}

impl Drop for PartFile {
    fn drop(&mut self) {
        // Renamed, it is not there any more; and what is there then may be somebody else's.
        if self.is_there() {
            let _ = self.remove_beside();
            let _ = fs::remove_file(&self.path);
        }
    }
}

/// The same name for the same file, so that what was left behind is found; of a name that leaves no room, its digest.
fn part_name(path: &Path) -> io::Result<OsString> {
    let name = path.file_name().ok_or(ErrorKind::IsADirectory)?;
    let mut part = OsString::from(".");
    part.push(name);
    part.push(".part");
    if part.len() > PART_NAME_MAX {
        let digest = Sha256::digest(name.as_bytes());
        let hex: String = digest
            .iter()
            .take(16)
            .map(|octet| format!("{octet:02x}"))
            .collect();
        part = format!(".{hex}.part").into();
    }
    Ok(part)
}

/// Removes what somebody left who was killed; an error where they are still at work.
fn remove_left_behind(part: &Path) -> io::Result<()> {
    let flags = OFlags::RDONLY | OFlags::NOFOLLOW | OFlags::NONBLOCK | OFlags::CLOEXEC;
    if let Ok(there) = rustix::fs::open(part, flags, Mode::empty())
        && let Err(TryLockError::WouldBlock) = File::from(there).try_lock()
    {
        return Err(ErrorKind::WouldBlock.into());
    }
    remove_if_there(part)
}

/// The name of a file that is kept beside another.
pub fn with_end(path: &Path, end: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(end);
    PathBuf::from(name)
}

/// Removes a file, if there is one.
pub fn remove_if_there(path: &Path) -> io::Result<()> {
    match fs::remove_file(path) {
        Err(error) if error.kind() != ErrorKind::NotFound => Err(error),
        _ => Ok(()),
    }
}
