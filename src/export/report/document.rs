//! A report as blocks in reading order: what both files are set from.

use super::drawing::Drawing;

/// The whole report.
pub(super) struct Document {
    /// Its title.
    pub(super) title: String,
    /// Whose and which days: stands on every sheet.
    pub(super) running: String,
    /// What the shapes mean: stands on every sheet.
    pub(super) key: &'static str,
    /// In reading order.
    pub(super) blocks: Vec<Block>,
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
    /// A plot with the sentence below it.
    Figure(Drawing, String),
    /// Two plots beside each other where there is room.
    Pair(Drawing, Drawing),
    /// The first sheet ends here.
    Sheet,
}

/// Rows and columns.
pub(super) struct Table {
    /// What it shows, and in which unit.
    pub(super) caption: String,
    /// The columns; the first holds the name of each row.
    pub(super) columns: Vec<Column>,
    /// As many cells as columns each.
    pub(super) rows: Vec<Vec<Cell>>,
}

/// A column.
pub(super) struct Column {
    /// Its name.
    pub(super) name: &'static str,
    /// Numbers stand flush right, so that their digits stand below one another.
    pub(super) number: bool,
}

/// A cell: text, behind a mark where there is one.
#[derive(Default)]
pub(super) struct Cell {
    /// The shape.
    pub(super) mark: Option<Mark>,
    /// The text.
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
pub(super) enum Mark {
    /// Filled.
    Counted,
    /// Open.
    Marked,
    /// Open and struck through.
    SetAside,
}

/// Columns by name; a name that ends with `#` is one of numbers.
pub(super) fn columns(names: &[&'static str]) -> Vec<Column> {
    let column = |name: &&'static str| Column {
        name: name.strip_suffix('#').unwrap_or(name),
        number: name.ends_with('#'),
    };
    names.iter().map(column).collect()
}
