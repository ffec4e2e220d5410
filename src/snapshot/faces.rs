//! What a sheet is printed in: the program's own faces, and for letters that these do not have, from where this machine
//! keeps its fonts.

use crate::export::report::Fonts;
use std::collections::{BTreeMap, BTreeSet};
use std::env;
use std::fs;
use std::path::{Path, PathBuf};
use unicode_script::{Script, UnicodeScript};

/// A larger file is no font for one script; the largest that Debian has are below 40 MB.
const FILE_MAX: u64 = 64 << 20;
/// So many files are looked at, and so deep are folders: more than any distribution has.
const FILES_MAX: usize = 20_000;
const DEPTH_MAX: usize = 8;
/// So many faces of one file are tried.
const FACES_MAX: u32 = 16;

/// The error for letters that no font of the machine has.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
#[error(
    "no font of this machine has letters that this sheet needs ({scripts}), so no PDF was written; install one (Debian: apt \
     install {packages}), or take the sheet as HTML, which every browser shows"
)]
pub struct NoFont {
    /// The scripts that they belong to.
    pub scripts: String,
    /// The Debian packages that have them.
    pub packages: String,
}

/// The faces that have these letters.
pub fn faces_for(letters: &BTreeSet<char>) -> Result<Fonts, NoFont> {
    let mut fonts = Fonts::default();
    if fonts.missing(letters).is_empty() {
        return Ok(fonts);
    }
    let files = files();
    let mut scripts: BTreeMap<&'static str, BTreeSet<char>> = BTreeMap::new();
    for letter in fonts.missing(letters) {
        scripts
            .entry(letter.script().full_name())
            .or_default()
            .insert(letter);
    }
    for (name, letters) in &scripts {
        add(&mut fonts, &files, name, letters);
    }
    let (mut lack, mut packages) = (BTreeSet::new(), BTreeSet::new());
    for letter in fonts.missing(letters) {
        // Signs that belong to no script are no reason to refuse: the sheet says that they are missing.
        if let Some(package) = package(letter.script()) {
            lack.insert(letter.script().full_name());
            packages.insert(package);
        }
    }
    if lack.is_empty() {
        return Ok(fonts);
    }
    let list = |words: BTreeSet<&str>, between: &str| words.into_iter().collect::<Vec<_>>().join(between);
    Err(NoFont {
        scripts: list(lack, ", "),
        packages: list(packages, " "),
    })
}

/// The Debian package that has a script; `None` for signs that belong to none.
const fn package(script: Script) -> Option<&'static str> {
    match script {
        Script::Common | Script::Inherited | Script::Unknown => None,
        Script::Han | Script::Hiragana | Script::Katakana | Script::Hangul | Script::Bopomofo => {
            Some("fonts-noto-cjk")
        }
        _ => Some("fonts-noto-core"),
    }
}

/// Adds the first face that has all these letters, else whatever has some of them.
fn add(fonts: &mut Fonts, files: &[PathBuf], script: &str, letters: &BTreeSet<char>) {
    let mut order: Vec<&PathBuf> = files.iter().collect();
    order.sort_by_key(|path| (unlike(path, script), *path));
    for all in [true, false] {
        for path in &order {
            let missing = fonts.missing(letters);
            if missing.is_empty() {
                return;
            }
            let Ok(octets) = fs::read(path) else { continue };
            for index in 0..FACES_MAX {
                let mut other = Fonts::none();
                if !other.add(octets.clone(), index) {
                    break;
                }
                let lacks = other.missing(&missing);
                if lacks.is_empty() || !all && lacks.len() < missing.len() {
                    fonts.add(octets, index);
                    break;
                }
            }
        }
    }
}

/// How unlike a face for running text in this script a file is, by its name: what is first looked at is usually taken.
fn unlike(path: &Path, script: &str) -> usize {
    let name = path.to_string_lossy().to_lowercase();
    let has = |word: &str| name.contains(word);
    let of_script = match script {
        "Han" | "Hiragana" | "Katakana" | "Hangul" | "Bopomofo" => has("cjk") || has("wqy") || has("gothic"),
        _ => has(&script.to_lowercase()),
    };
    let other = [
        "bold",
        "italic",
        "oblique",
        "light",
        "thin",
        "black",
        "medium",
        "mono",
        "serif",
        "condensed",
        "ui-",
    ];
    usize::from(!of_script) * 100
        + usize::from(!has("sans")) * 2
        + usize::from(!has("regular"))
        + other.iter().filter(|word| has(word)).count() * 10
}

/// The font files of this machine, in the folders of the freedesktop Base Directory Specification.
fn files() -> Vec<PathBuf> {
    let home = env::var_os("HOME").map(PathBuf::from);
    let data = env::var_os("XDG_DATA_HOME")
        .map(PathBuf::from)
        .or_else(|| Some(home.as_ref()?.join(".local/share")));
    let shared = env::var_os("XDG_DATA_DIRS")
        .filter(|list| !list.is_empty())
        .unwrap_or_else(|| "/usr/local/share:/usr/share".into());
    let mut folders: Vec<PathBuf> = env::split_paths(&shared).collect();
    folders.extend(data);
    let mut found = Vec::new();
    for folder in folders {
        walk(&folder.join("fonts"), 0, &mut found);
    }
    if let Some(home) = home {
        walk(&home.join(".fonts"), 0, &mut found);
    }
    found.sort();
    found
}

fn walk(folder: &Path, depth: usize, found: &mut Vec<PathBuf>) {
    let Ok(entries) = fs::read_dir(folder) else { return };
    for entry in entries.flatten() {
        let path = entry.path();
        let Ok(about) = fs::metadata(&path) else { continue };
        if found.len() >= FILES_MAX {
            return;
        }
        if about.is_dir() && depth < DEPTH_MAX {
            walk(&path, depth + 1, found);
        } else if about.is_file() && about.len() <= FILE_MAX {
            let ending = path
                .extension()
                .map(|ending| ending.to_string_lossy().to_lowercase());
            if matches!(ending.as_deref(), Some("ttf" | "otf" | "ttc" | "otc")) {
                found.push(path);
            }
        }
    }
}
