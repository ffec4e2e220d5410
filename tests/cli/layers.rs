//! The layers that DEVELOPERS.md draws, against what the modules really use: the core knows nothing of the shell, and
//! reads no clock, file or environment; nothing knows the command line but the programs.

use crate::cli::hazards::sources;
use std::fs;
use std::path::{Path, PathBuf};

/// Modules of the core.
const CORE: [&str; 8] = [
    "gatt",
    "household",
    "frame",
    "reading",
    "sitting",
    "technique",
    "monitoring",
    "words",
];
/// What reads a clock, a file, the environment or the network.
const WORLD: [&str; 8] = [
    "Timestamp::now",
    "Zoned::now",
    "SystemTime",
    "Instant::now",
    "std::env",
    "std::fs",
    "std::net",
    "TimeZone::system",
];

/// Each file of the library with its module and its lines, without the tests at its end and without comments.
fn modules() -> Vec<(String, PathBuf, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    sources(&root, &mut files);
    let code = |path: &Path| -> String {
        let text = fs::read_to_string(path).unwrap();
        let code = text.split("#[cfg(test)]\nmod tests").next().unwrap_or_default();
        code.lines()
            .filter(|line| !line.trim_start().starts_with("//"))
            .collect::<Vec<_>>()
            .join("\n")
    };
    files
        .into_iter()
        .map(|path| {
            let inside = path.strip_prefix(&root).unwrap();
            let first = inside.iter().next().unwrap().to_string_lossy();
            let module = first.trim_end_matches(".rs").to_owned();
            let code = code(&path);
            (module, path, code)
        })
        .collect()
}

/// What follows each `crate::` in a file.
fn uses(code: &str) -> impl Iterator<Item = &str> {
    code.split("crate::").skip(1)
}

#[test]
fn nothing_knows_the_command_line_but_the_programs() {
    let mut wrong = Vec::new();
    for (module, path, code) in modules() {
        if !matches!(module.as_str(), "cli" | "bin" | "main" | "lib")
            && uses(&code).any(|used| used.starts_with("cli"))
        {
            wrong.push(path);
        }
    }
    assert_eq!(wrong, Vec::<PathBuf>::new());
}

#[test]
fn the_core_knows_only_the_core() {
    let mut wrong = Vec::new();
    let mut seen = 0;
    for (module, path, code) in modules() {
        if !CORE.contains(&module.as_str()) {
            continue;
        }
        for used in uses(&code) {
            seen += 1;
            let fine = CORE.iter().any(|core| {
                used.strip_prefix(core)
                    .is_some_and(|rest| !rest.starts_with(|c: char| c.is_alphanumeric() || c == '_'))
            });
            if !fine {
                wrong.push((path.clone(), used.lines().next().unwrap_or_default().to_owned()));
            }
        }
    }
    assert!(
        seen > 30,
        "only {seen} uses were found: is the tree somewhere else?"
    );
    assert_eq!(wrong, Vec::new());
}

#[test]
fn the_core_reads_no_clock_file_or_environment() {
    let mut wrong = Vec::new();
    for (module, path, code) in modules() {
        // What is exported is made of values too; only what goes to a server, or is gathered for it, is not.
        let export = module == "export" && !path.components().any(|part| part.as_os_str() == "delivery");
        if !CORE.contains(&module.as_str()) && !export {
            continue;
        }
        for world in WORLD.iter().filter(|world| code.contains(*world)) {
            wrong.push((path.clone(), *world));
        }
    }
    assert_eq!(wrong, Vec::new());
}
