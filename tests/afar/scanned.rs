//! The code that lets a listener in, as a terminal shows it: a reader that none of us wrote reads it from a picture of that.

use crate::harness::command::Home;
use crate::harness::left_out::program;
use std::fmt::Write as _;
use std::fs;
use std::process::{Command, Stdio};

const ARGUMENTS: [&str; 5] = ["listeners", "invite", "--at", "cellar.example", "--label=bedroom"];

/// What the command prints at a terminal of so many columns.
fn at_a_terminal(home: &Home, columns: u32) -> String {
    let ours = home.command(&ARGUMENTS);
    let mut line = format!("stty cols {columns}; exec");
    for part in std::iter::once(ours.get_program()).chain(ours.get_args()) {
        write!(line, " '{}'", part.to_str().unwrap()).unwrap();
    }
    let mut script = Command::new("script");
    script.args(["-qec", &line, "/dev/null"]).stdin(Stdio::null());
    if let Some(folder) = ours.get_current_dir() {
        script.current_dir(folder);
    }
    for (name, value) in ours.get_envs() {
        match value {
            Some(value) => script.env(name, value),
            None => script.env_remove(name),
        };
    }
    let output = script.output().unwrap();
    assert!(output.status.success(), "{output:?}");
    String::from_utf8(output.stdout).unwrap().replace('\r', "")
}

/// What a camera reads of the lines that are dark on light, each of two rows.
fn scanned(home: &Home, said: &str) -> String {
    const SCALE: usize = 6;
    let blocks = said.lines().filter_map(|line| {
        let line = line.strip_prefix("\u{1b}[30;47m")?;
        line.strip_suffix("\u{1b}[0m")
    });
    let mut rows = Vec::new();
    for line in blocks {
        for half in [['█', '▀'], ['█', '▄']] {
            let dark: Vec<bool> = line.chars().map(|one| half.contains(&one)).collect();
            rows.push(dark);
        }
    }
    let mut picture = format!("P1\n{} {}\n", rows[0].len() * SCALE, rows.len() * SCALE);
    for row in &rows {
        for _ in 0..SCALE {
            for dark in row {
                picture.push_str(&if *dark { "1" } else { "0" }.repeat(SCALE));
            }
            picture.push('\n');
        }
    }
    let path = home.path("code.pbm");
    fs::write(&path, picture).unwrap();
    let output = Command::new("zbarimg")
        .args(["--raw", "-q"])
        .arg(&path)
        .output()
        .unwrap();
    String::from_utf8(output.stdout).unwrap().trim().to_owned()
}

#[test]
fn a_camera_reads_the_code_from_a_terminal_that_is_wide_enough() {
    if !program("script", "a terminal to print at") || !program("zbarimg", "a reader of codes") {
        return;
    }
    let home = Home::new();
    let wide = at_a_terminal(&home, 80);
    let code = wide
        .lines()
        .find(|line| line.starts_with("quietcuff://"))
        .unwrap();
    assert_eq!(scanned(&home, &wide), code);
    // Cut at the edge nobody could read it, and what a program reads is the code alone.
    let narrow = at_a_terminal(&home, 40);
    assert!(
        narrow.contains("quietcuff://") && !narrow.contains('█'),
        "{narrow}"
    );
    let piped = home.run(&ARGUMENTS).good();
    assert!(
        piped.starts_with("quietcuff://") && piped.lines().count() == 1,
        "{piped}"
    );
}
