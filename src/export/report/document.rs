//! A report as blocks in reading order: what both files are set from.

use super::drawing::{Drawing, Shape};
use crate::words::Words;

/// The whole report.
pub(super) struct ReportDocument {
    /// The language of all of it but sources, names and what somebody wrote.
    pub(super) words: &'static Words,
    pub(super) title: String,
    /// Whose and which days: stands on every sheet.
    pub(super) running: String,
    /// What the shapes mean, and which program made it: stands on every sheet.
    pub(super) key: String,
    /// That nobody who grew up with the language has read its words; stands on every sheet. Empty where somebody has.
    pub(super) unreviewed: String,
    /// In reading order.
    pub(super) blocks: Vec<Block>,
}

impl ReportDocument {
    /// Hands over every text that is printed.
    pub(super) fn texts(&self, take: &mut impl FnMut(&str)) {
        let of = |drawing: &Drawing, take: &mut dyn FnMut(&str)| {
            for shape in &drawing.shapes {
                if let Shape::Text(_, _, _, text) = shape {
                    take(text);
                }
            }
        };
        let sheet = sheet_of(self.words, 0, 0);
        for text in [&self.title, &self.running, &self.key, &self.unreviewed, &sheet] {
            take(text);
        }
        for block in &self.blocks {
            match block {
                Block::Title(text)
                | Block::Heading(text)
                | Block::Large(text)
                | Block::Paragraph(text)
                | Block::Small(text)
                | Block::Notice(text) => take(text),
                Block::List(items) => items.iter().for_each(|item| take(item)),
                Block::Table(table) => {
                    take(&table.caption);
                    table.columns.iter().for_each(|column| take(&column.name));
                    let cells = table.rows.iter().flatten();
                    cells.for_each(|cell| take(&cell.text));
                }
                Block::Figure(drawing, _, text) => {
                    of(drawing, take);
                    take(text);
                }
                Block::Pair(one, other) => {
                    of(one, take);
                    of(other, take);
                }
                Block::Sheet => {}
            }
        }
    }
}

/// Which sheet of how many.
pub(super) fn sheet_of(words: &Words, number: usize, all: usize) -> String {
    words.with(
        "sheet-number",
        &[
            ("number", number.to_string().into()),
            ("all", all.to_string().into()),
        ],
    )
}

/// A part of it.
pub(super) enum Block {
    /// The title, once.
    Title(String),
    /// The heading of a part.
    Heading(String),
    /// What the reader has to know first.
    Large(String),
    /// A sentence or several.
    Paragraph(String),
    /// The same, smaller: where something comes from.
    Small(String),
    /// What asks the reader to do something.
    Notice(String),
    /// Several of one kind.
    List(Vec<String>),
    /// Rows and columns.
    Table(Table),
    /// A plot, the same for a screen that is narrow, and the sentence below it.
    Figure(Drawing, Drawing, String),
    /// Two plots beside each other where there is room.
    Pair(Drawing, Drawing),
    /// The first sheet ends here.
    Sheet,
}

/// A table of so few rows is not parted over two sheets (own choice: a third of a sheet).
pub(super) const SHORT_ROWS: usize = 14;

/// Rows and columns.
pub(super) struct Table {
    /// What it shows, and in which unit.
    pub(super) caption: String,
    /// The columns; the first holds the name of each row.
    pub(super) columns: Vec<Column>,
    /// As many cells as columns each.
    pub(super) rows: Vec<Vec<Cell>>,
}

pub(super) struct Column {
    /// The heading of the column.
    pub(super) name: String,
    /// How its cells are set.
    pub(super) set: Set,
}

/// How a column is set.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Set {
    /// Words, which may run over several lines.
    Words,
    /// A few words that are not parted.
    Whole,
    /// Numbers, flush right, so that their digits stand below one another.
    Numbers,
}

/// A cell: text, behind a mark where there is one.
#[derive(Default)]
pub(super) struct Cell {
    /// The shape that is drawn before the text; `None` where the cell holds only text.
    pub(super) mark: Option<PlotMark>,
    pub(super) text: String,
}

impl<T: Into<String>> From<T> for Cell {
    fn from(text: T) -> Self {
        Self {
            mark: None,
            text: text.into(),
        }
    }
}

/// The three shapes, which survive a photocopy.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum PlotMark {
    /// A filled shape, for a reading that is averaged.
    Counted,
    /// An open shape, for a reading that is averaged, with something to know about it.
    Marked,
    /// An open shape that is struck through, for a reading that is not averaged.
    SetAside,
}

/// Columns by the names of their messages.
pub(super) fn columns(words: &Words, names: &[(&str, Set)]) -> Vec<Column> {
    let column = |(name, set): &(&str, Set)| Column {
        name: words.say(name),
        set: *set,
    };
    names.iter().map(column).collect()
}
