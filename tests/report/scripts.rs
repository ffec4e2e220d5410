//! Names in eight scripts: what can be copied from the PDF, which faces are in it, how the letters look beside what
//! another shaper makes of them, and what is said where a face is missing.

use crate::harness::left_out::{in_a_hurry, there};
use crate::harness::replayed::{Home, week};
use crate::report::pdf::pgm;
use crate::report::readers::{modules, read_by, text, text_by, without};
use std::fs;
use std::os::unix::fs::symlink;
use std::path::{Path, PathBuf};
use std::process::Output;

const UNAVAILABLE: i32 = 69;

/// Names that nobody bears, and the face that each is compared by.
const NAMES: [(&str, Option<&str>); 8] = [
    ("\u{141}ukasz \u{17b}\u{f3}\u{142}\u{107}", None),
    ("\u{395}\u{3bb}\u{3ad}\u{3bd}\u{3b7}", None),
    ("\u{418}\u{432}\u{430}\u{43d}", None),
    ("\u{5d3}\u{5e0}\u{5d4}", None),
    // With a vowel that stands before its consonant, and letters that join.
    (
        "\u{915}\u{94d}\u{937}\u{93f}\u{924}\u{93f} \u{936}\u{930}\u{94d}\u{92e}\u{93e}",
        Some("Lohit Devanagari"),
    ),
    (
        "\u{bae}\u{bc0}\u{ba9}\u{bbe}\u{b9f}\u{bcd}\u{b9a}\u{bbf} \u{b95}\u{bca}",
        Some("Lohit Tamil"),
    ),
    // From right to left.
    (
        "\u{639}\u{644}\u{64a} \u{641}\u{627}\u{637}\u{645}\u{629}",
        Some("DejaVu Sans"),
    ),
    ("\u{738b}\u{5c0f}\u{660e}", Some("WenQuanYi Micro Hei")),
];

/// A ligature of two letters. It looks as it has to; poppler alone, which turns what is read from the right around
/// letter by letter, gives these two back in the other order, from Chromium's file as from ours.
const LIGATURE: (&str, Option<&str>) = ("\u{639}\u{644}\u{627}\u{621}", Some("DejaVu Sans"));

/// Where Debian puts the faces that the names need.
const FACES: [&str; 4] = [
    "/usr/share/fonts/truetype/lohit-devanagari/Lohit-Devanagari.ttf",
    "/usr/share/fonts/truetype/lohit-tamil/Lohit-Tamil.ttf",
    "/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf",
    "/usr/share/fonts/truetype/wqy/wqy-microhei.ttc",
];

/// A machine with these fonts and no others.
fn fonts(home: &Home, faces: &[&str]) -> PathBuf {
    let data = home.dir.path().join("data");
    fs::create_dir_all(data.join("fonts")).unwrap();
    for face in faces {
        let name = Path::new(face).file_name().unwrap();
        symlink(face, data.join("fonts").join(name)).unwrap();
    }
    data
}

fn printed(home: &Home, data: &Path, name: &str) -> (PathBuf, Output) {
    let path = home.dir.path().join("name.pdf");
    home.text(&["people", "edit", "p1", "--label", name]);
    let ran = home
        .command(&["report", "--output", text(&path)])
        .env("XDG_DATA_DIRS", data)
        .env("XDG_DATA_HOME", data)
        .env("HOME", home.dir.path())
        .output()
        .unwrap();
    (path, ran)
}

fn a_week() -> Home {
    let home = Home::new();
    home.replay(&week(), &["--person", "p1"]);
    home
}

fn without_faces() -> bool {
    without()
        || !FACES
            .iter()
            .all(|face| there(Path::new(face).exists(), "names as they are written", face))
}

#[test]
fn names_in_eight_scripts_come_back_and_every_face_is_inside() {
    if without_faces() {
        return;
    }
    let home = a_week();
    let data = fonts(&home, &FACES);
    for (name, _) in NAMES {
        let (path, ran) = printed(&home, &data, name);
        assert!(
            ran.status.success(),
            "{name}: {}",
            String::from_utf8_lossy(&ran.stderr)
        );
        let all = text_by("pdftotext", &[text(&path), "-"]);
        // poppler frames what is read from the right with marks of direction.
        let plain: String = all
            .chars()
            .filter(|c| !matches!(c, '\u{202a}'..='\u{202e}' | '\u{200e}' | '\u{200f}'))
            .collect();
        assert!(
            plain.contains(&format!("Home blood pressure of {name}")),
            "{name}: {plain}"
        );
        assert!(plain.matches(name).count() >= 3, "{name}: {plain}");
        assert!(!plain.contains("in no font"), "{plain}");
        let faces = text_by("pdffonts", &[text(&path)]);
        let rows: Vec<&str> = faces.lines().skip(2).collect();
        assert!(rows.len() >= 2, "{faces}");
        for row in rows {
            let cells: Vec<&str> = row.split_whitespace().collect();
            let [emb, sub, uni] = cells[cells.len() - 5..cells.len() - 2] else {
                panic!("{row}");
            };
            assert_eq!([emb, sub, uni], ["yes"; 3], "{row}");
        }
    }
}

/// Chromium sets the same name in the same face; the ink has to fall on the same places.
#[test]
fn names_look_as_another_shaper_sets_them() {
    if in_a_hurry("names as another shaper sets them") {
        return;
    }
    if without_faces() {
        return;
    }
    let home = a_week();
    let data = fonts(&home, &FACES);
    for (name, family) in NAMES.into_iter().chain([LIGATURE]) {
        let Some(family) = family else { continue };
        let (path, ran) = printed(&home, &data, name);
        assert!(ran.status.success());
        let ours = ink(&path, name_on_the_sheet(&path));
        let page = home.dir.path().join("name.html");
        fs::write(
            &page,
            format!(
                "<!DOCTYPE html><meta charset=\"utf-8\"><body style=\"margin:0\"><p style=\"margin:0;font:10pt '{family}'\">{name}</p>"
            ),
        )
        .unwrap();
        let theirs = home.dir.path().join("theirs.pdf");
        let script = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/report/printed.mjs");
        let modules = modules().unwrap();
        read_by(
            "node",
            &[
                script,
                text(&modules),
                "/usr/bin/chromium",
                text(&page),
                text(&theirs),
            ],
        );
        let theirs = ink(&theirs, [40, 40, 400, 60]);
        let (one, other) = (covered(&ours, &theirs), covered(&theirs, &ours));
        assert!(one > 0.95 && other > 0.95, "{name}: {one} {other}");
        // The check can fail: turned around, the same ink falls elsewhere.
        let mirrored: Vec<Vec<bool>> = ours
            .iter()
            .map(|row| row.iter().rev().copied().collect())
            .collect();
        assert!(covered(&mirrored, &theirs) < 0.9, "{name}");
    }
}

/// Where on the first page the name stands beside its id: left, top, width and height in points.
fn name_on_the_sheet(path: &Path) -> [usize; 4] {
    let boxes = text_by("pdftotext", &["-l", "1", "-bbox", text(path), "-"]);
    let line = boxes.lines().find(|line| line.contains(">(p1).<")).unwrap();
    let edge = |name: &str| -> f64 {
        let (_, behind) = line.split_once(&format!("{name}=\"")).unwrap();
        behind.split('"').next().unwrap().parse().unwrap()
    };
    let (left, top, bottom) = (edge("xMin"), edge("yMin"), edge("yMax"));
    [
        54,
        top as usize - 3,
        left as usize - 54 - 1,
        (bottom - top) as usize + 6,
    ]
}

/// The ink of a part of a page, without the empty edges.
fn ink(path: &Path, points: [usize; 4]) -> Vec<Vec<bool>> {
    const DPI: usize = 600;
    let [x, y, w, h] = points.map(|points| (points * DPI / 72).to_string());
    let (dpi, path) = (DPI.to_string(), text(path));
    let picture = read_by(
        "pdftoppm",
        &[
            "-r", &dpi, "-f", "1", "-l", "1", "-x", &x, "-y", &y, "-W", &w, "-H", &h, "-gray", path,
        ],
    );
    let (wide, grey) = pgm(&picture);
    let rows: Vec<Vec<bool>> = grey
        .chunks(wide)
        .map(|row| row.iter().map(|grey| *grey < 128).collect())
        .collect();
    let inked: Vec<usize> = (0..rows.len()).filter(|y| rows[*y].contains(&true)).collect();
    let columns: Vec<usize> = (0..wide).filter(|x| rows.iter().any(|row| row[*x])).collect();
    let (top, bottom) = (inked[0], inked[inked.len() - 1]);
    let (left, right) = (columns[0], columns[columns.len() - 1]);
    rows[top..=bottom]
        .iter()
        .map(|row| row[left..=right].to_vec())
        .collect()
}

/// How much of the ink of one picture lies on the ink of another, or within a twenty-fifth of the letters' size of it.
fn covered(one: &[Vec<bool>], other: &[Vec<bool>]) -> f64 {
    const NEAR: usize = 3;
    let (mut all, mut there) = (0_u32, 0_u32);
    for (y, row) in one.iter().enumerate() {
        for x in (0..row.len()).filter(|x| row[*x]) {
            all += 1;
            let rows = other.iter().take(y + NEAR + 1).skip(y.saturating_sub(NEAR));
            let near = rows.flat_map(|row| row.iter().take(x + NEAR + 1).skip(x.saturating_sub(NEAR)));
            there += u32::from(near.copied().any(|dot| dot));
        }
    }
    f64::from(there) / f64::from(all)
}

/// Before anything is printed, and nothing is left behind; what is missing has the name of its package.
#[test]
fn a_missing_face_is_named_with_its_package() {
    let home = a_week();
    let data = fonts(&home, &[]);
    for (name, script, package) in [
        (NAMES[4].0, "Devanagari", "fonts-noto-core"),
        (NAMES[6].0, "Arabic", "fonts-noto-core"),
        (NAMES[7].0, "Han", "fonts-noto-cjk"),
    ] {
        let (path, ran) = printed(&home, &data, name);
        let said = String::from_utf8_lossy(&ran.stderr).into_owned();
        assert_eq!(ran.status.code(), Some(UNAVAILABLE), "{said}");
        for words in [script, package, "as HTML"] {
            assert!(said.contains(words), "no {words:?} in {said}");
        }
        assert!(!path.exists());
    }
    // What comes with the program needs nothing of the machine.
    for (name, _) in &NAMES[..4] {
        let (path, ran) = printed(&home, &data, name);
        assert!(ran.status.success() && path.exists(), "{name}");
        fs::remove_file(path).unwrap();
    }
}

/// A file that is no font, or that is cut off, is passed over.
#[test]
fn broken_fonts_are_passed_over() {
    let home = a_week();
    let data = fonts(&home, &[]);
    let whole = fs::read(FACES[2]).unwrap_or_default();
    for (name, octets) in [
        ("a.ttf", &b"not a font"[..]),
        ("b.ttc", b"ttcf"),
        ("c.ttf", &whole[..whole.len() / 3]),
    ] {
        fs::write(data.join("fonts").join(name), octets).unwrap();
    }
    let (path, ran) = printed(&home, &data, NAMES[7].0);
    assert_eq!(
        ran.status.code(),
        Some(UNAVAILABLE),
        "{}",
        String::from_utf8_lossy(&ran.stderr)
    );
    assert!(!path.exists());
}
