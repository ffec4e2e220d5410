//! `quietcuff deliver key`: a key pair for SMART Backend Services, and the public set that the clinic registers.

use crate::cli::failure::{self, Failure};
use crate::cli::output::json_line;
use crate::delivery::key::{PublicKey, generate, public_part};
use crate::secret::Secret;
use crate::whole::{NotWritten, shown, write_new};
use clap::Args;
use serde::Serialize;
use std::path::{Path, PathBuf};

#[derive(Args)]
pub(super) struct KeyArgs {
    /// The file for the private key; a file that is there is never overwritten
    file: PathBuf,
    /// Make no key: print the public set of the one that the file holds
    #[arg(long)]
    public: bool,
}

/// A JSON Web Key Set (RFC 7517, section 5).
#[derive(Serialize)]
struct Set<'a> {
    keys: [&'a PublicKey; 1],
}

pub(super) fn run(args: &KeyArgs) -> Result<(), Failure> {
    let file = &args.file;
    let key = if args.public {
        Secret::read("the key", file).map_err(|error| Failure::new(error.exit_code(), error.to_string()))?
    } else {
        make(file)?
    };
    let public =
        public_part(&key).map_err(|why| Failure::new(failure::DATA, format!("{}: {why}", shown(file))))?;
    let mut out = std::io::stdout().lock();
    json_line(&mut out, &Set { keys: [&public] })?;
    if !args.public {
        eprintln!(
            "quietcuff: the private key is in {}, for its owner only. Give the line above to the clinic: it is public. \
             In the configuration, [clinic] then has auth = \"smart\", the client-id that the clinic gives, \
             key-file = {} and key-id = {}",
            shown(file),
            toml::Value::from(file.display().to_string()),
            toml::Value::from(public.kid.as_str())
        );
    }
    Ok(())
}

fn make(file: &Path) -> Result<Secret, Failure> {
    let there = || {
        Failure::new(
            failure::CANNOT_CREATE,
            format!(
                "{0} is there already, and a key is never overwritten; name another file, or see its public set with \
                 `quietcuff deliver key --public {0}`",
                shown(file)
            ),
        )
    };
    let is_there = || file.symlink_metadata().is_ok();
    if is_there() {
        return Err(there());
    }
    let key = generate().map_err(|why| Failure::new(failure::UNAVAILABLE, why))?;
    write_new(file, key.expose().as_bytes()).map_err(|error: NotWritten| {
        // Somebody may have been quicker.
        if is_there() {
            there()
        } else {
            Failure::new(error.exit_code(), error.to_string())
        }
    })?;
    Ok(key)
}
