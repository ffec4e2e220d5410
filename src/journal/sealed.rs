//! Backups that only their owner's key opens, in the age format (<https://age-encryption.org/v1>, C2SP age.md).
//!
//! This machine knows public keys only. So that a file can be read back all the same before it counts, it is also
//! encrypted to a key that is made for it and is gone with this process.

use super::JournalError;
use crate::whole::NotWritten;
use age::secrecy::ExposeSecret;
use age::x25519::{Identity, Recipient};
use age::{Decryptor, Encryptor};
use sha2::{Digest, Sha256};
use std::fs::{File, OpenOptions};
use std::io::{self, BufReader, BufWriter, Read, Seek, Write};
use std::path::Path;
use std::str::FromStr;

/// The first octets of each file in the age format.
const MAGIC: &[u8] = b"age-encryption.org/v1\n";
/// Keys to one backup: a drawer, a bank, a relative. Own choice.
const RECIPIENTS_MAX: usize = 16;
/// A file with private keys has a few lines.
const IDENTITIES_OCTETS_MAX: u64 = 64 * 1024;

/// Those whose keys open a backup.
#[derive(Clone, PartialEq, Eq, Default)]
pub struct Recipients(Vec<Recipient>);

impl std::fmt::Debug for Recipients {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} recipients", self.0.len())
    }
}

impl Recipients {
    /// Reads public keys, `age1…` each; the error says which is none.
    pub fn read(keys: &[String]) -> Result<Self, String> {
        if keys.len() > RECIPIENTS_MAX {
            return Err(format!("at most {RECIPIENTS_MAX} keys open one backup"));
        }
        let read = keys.iter().map(|key| {
            Recipient::from_str(key.trim()).map_err(|why| {
                // A private key that somebody took for a public one is not repeated anywhere.
                let shown = if key.to_ascii_uppercase().contains("SECRET") {
                    "a private key belongs in a drawer and".to_owned()
                } else {
                    format!("{key:?}")
                };
                format!("{shown} is no public key of age ({why}); `quietcuff backup key` makes one")
            })
        });
        Ok(Self(read.collect::<Result<_, _>>()?))
    }

    /// Whether a backup is to be plain.
    pub fn is_nobody(&self) -> bool {
        self.0.is_empty()
    }
}

/// A private key, and the public one that belongs to it, as age writes them. The private one is shown once.
pub fn new_key() -> (String, String) {
    let identity = Identity::generate();
    (
        identity.to_string().expose_secret().to_owned(),
        identity.to_public().to_string(),
    )
}

/// Whether a file begins as one in the age format does.
pub fn is_sealed(file: &Path) -> bool {
    let mut begin = [0_u8; MAGIC.len()];
    File::open(file).is_ok_and(|mut file| file.read_exact(&mut begin).is_ok()) && begin == MAGIC
}

/// Encrypts `plain` into the file that is there already, reads it back, and holds the two against each other.
pub(super) fn seal(plain: &mut File, to: &Path, recipients: &Recipients) -> Result<(), JournalError> {
    let own = Identity::generate();
    let own_public = own.to_public();
    let cannot = |why: io::Error| NotWritten::new(to, why);
    let everybody = recipients
        .0
        .iter()
        .chain([&own_public])
        .map(|one| one as &dyn age::Recipient);
    let encryptor = Encryptor::with_recipients(everybody).map_err(|e| cannot(io::Error::other(e)))?;
    let out = OpenOptions::new()
        .write(true)
        .truncate(true)
        .open(to)
        .map_err(cannot)?;
    plain.rewind().map_err(cannot)?;
    let mut counted = Sum::of(&mut *plain);
    let mut sealing = encryptor.wrap_output(BufWriter::new(out)).map_err(cannot)?;
    io::copy(&mut counted, &mut sealing).map_err(cannot)?;
    let wrote = counted.sum();
    let written = sealing
        .finish()
        .and_then(|out| Ok(out.into_inner()?))
        .map_err(cannot)?;
    written.sync_all().map_err(cannot)?;
    let read = decrypted(to, &own)
        .and_then(|opened| {
            let mut counted = Sum::of(opened);
            io::copy(&mut counted, &mut io::sink())?;
            Ok(counted.sum())
        })
        .map_err(|why| not_whole(to, &why))?;
    if read != wrote {
        return Err(not_whole(to, &"it was read back otherwise than it was written"));
    }
    Ok(())
}

fn not_whole(path: &Path, why: &dyn std::fmt::Display) -> JournalError {
    JournalError::Damaged {
        path: path.to_owned(),
        what: why.to_string(),
    }
}

fn decrypted(file: &Path, key: &Identity) -> io::Result<impl Read> {
    let opened = Decryptor::new_buffered(BufReader::new(File::open(file)?)).map_err(io::Error::other)?;
    opened
        .decrypt(std::iter::once(key as &dyn age::Identity))
        .map_err(io::Error::other)
}

/// Decrypts `file` into the file that is there already, with private keys as age writes them, one a line.
pub(super) fn unseal(file: &Path, to: &Path, keys: impl Read) -> Result<(), JournalError> {
    let locked = |why: &dyn std::fmt::Display| JournalError::Locked {
        path: file.to_owned(),
        why: why.to_string(),
    };
    let keys = age::IdentityFile::from_buffer(BufReader::new(keys.take(IDENTITIES_OCTETS_MAX)))
        .map_err(|e| locked(&e))?
        .into_identities()
        .map_err(|e| locked(&e))?;
    let sealed = File::open(file).map_err(|e| JournalError::cannot_read(file, &e))?;
    let opened = Decryptor::new_buffered(BufReader::new(sealed)).map_err(|e| locked(&e))?;
    let mut opened = opened
        .decrypt(keys.iter().map(|key| key.as_ref() as &dyn age::Identity))
        .map_err(|e| locked(&e))?;
    let cannot = |why: io::Error| NotWritten::new(to, why);
    let mut out = OpenOptions::new()
        .write(true)
        .truncate(true)
        .open(to)
        .map_err(cannot)?;
    let mut octets = vec![0_u8; 64 * 1024];
    loop {
        // What cannot be read is the backup's fault, what cannot be written the disk's.
        let n = opened.read(&mut octets).map_err(|why| not_whole(file, &why))?;
        let Some(some) = octets.get(..n).filter(|some| !some.is_empty()) else {
            break;
        };
        out.write_all(some).map_err(cannot)?;
    }
    out.sync_all().map_err(cannot)?;
    Ok(())
}

/// What is read, and the SHA-256 of it.
struct Sum<R> {
    from: R,
    sum: Sha256,
}

impl<R: Read> Sum<R> {
    fn of(from: R) -> Self {
        Self {
            from,
            sum: Sha256::new(),
        }
    }

    fn sum(self) -> [u8; 32] {
        self.sum.finalize().into()
    }
}

impl<R: Read> Read for Sum<R> {
    fn read(&mut self, octets: &mut [u8]) -> io::Result<usize> {
        let n = self.from.read(octets)?;
        if let Some(some) = octets.get(..n) {
            self.sum.update(some);
        }
        Ok(n)
    }
}
