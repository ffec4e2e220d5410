//! The one table: what was measured, what stands beside it, and whether it is as it has to be.

/// What the ratio of the measured to what stands beside it has to be.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) enum Aim {
    AtMost(f64),
    AtLeast(f64),
    /// It is only told.
    None,
}

pub(crate) struct Row {
    aim: Aim,
    ratio: f64,
    binds: bool,
}

impl Row {
    /// It fails the run where it is missed: a ratio within one run, or a limit that this machine keeps with room.
    pub(crate) const fn binds(&mut self) {
        self.binds = true;
    }

    fn holds(&self) -> bool {
        match self.aim {
            Aim::AtMost(most) => self.ratio <= most,
            Aim::AtLeast(least) => self.ratio >= least,
            Aim::None => true,
        }
    }
}

pub(crate) struct Table {
    rows: Vec<(Row, String)>,
}

/// Three digits that count.
fn digits(number: f64) -> String {
    let after = match number.abs() {
        n if n >= 100.0 => 0,
        n if n >= 10.0 => 1,
        _ => 2,
    };
    format!("{number:.after$}")
}

impl Table {
    pub(crate) const fn new() -> Self {
        Self { rows: Vec::new() }
    }

    /// Beside a reference in the same unit, from the same run.
    pub(crate) fn row(
        &mut self,
        what: &str,
        measured: f64,
        unit: &str,
        (beside, name): (f64, &str),
        aim: Aim,
    ) -> &mut Row {
        let ratio = measured / beside;
        let text = format!(
            "{what:<58} {:>8} {unit:<4} {:>8} {name:<27} {:>7}",
            digits(measured),
            digits(beside),
            digits(ratio)
        );
        // A run takes minutes: what is known is told at once, on the other stream.
        eprintln!("... {text}");
        self.rows.push((
            Row {
                aim,
                ratio,
                binds: false,
            },
            text,
        ));
        &mut self.rows.last_mut().unwrap().0
    }

    /// Beside a limit that was set.
    pub(crate) fn limit(&mut self, what: &str, measured: f64, unit: &str, limit: f64, aim: Aim) -> &mut Row {
        self.row(what, measured, unit, (limit, "the limit"), aim)
    }

    /// Everything, as text.
    fn text(&self) -> String {
        let mut text = format!(
            "{:<58} {:>8} {:<4} {:>8} {:<27} {:>7} {:>7}\n",
            "what", "measured", "", "beside", "", "ratio", "aim"
        );
        for (row, line) in &self.rows {
            let aim = match row.aim {
                Aim::AtMost(most) => format!("<= {most}"),
                Aim::AtLeast(least) => format!(">= {least}"),
                Aim::None => String::new(),
            };
            let word = match (row.aim, row.holds()) {
                (Aim::None, _) => "",
                (_, true) => "ok",
                (_, false) => "MISSED",
            };
            let note = if row.aim != Aim::None && !row.binds {
                " *"
            } else {
                ""
            };
            text.push_str(format!("{line} {aim:>7} {word}{note}").trim_end());
            text.push('\n');
        }
        text.push_str(
            "* does not fail the run: it depends on this machine, or is known to be missed (tests/figures/measured.md)\n",
        );
        text
    }

    /// Prints everything; whether what binds holds.
    pub(crate) fn print(&self) -> bool {
        print!("{}", self.text());
        self.rows.iter().all(|(row, _)| row.holds() || !row.binds)
    }

    /// Puts the table in the place of the one that `measured.md` shows.
    pub(crate) fn write(&self) {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/figures/measured.md");
        let words = std::fs::read_to_string(path).unwrap();
        let parts: Vec<_> = words.split("```\n").collect();
        assert_eq!(parts.len(), 3, "{path} has to have one table, between two fences");
        let (before, after) = (parts[0], parts[2]);
        std::fs::write(path, format!("{before}```\n{}```\n{after}", self.text())).unwrap();
    }
}
