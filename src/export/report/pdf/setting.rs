//! Blocks onto pages.

use super::super::document::{Block, Cell, PlotMark, SHORT_ROWS, Set, Table};
use super::super::drawing::{Drawing, Pen, Shape};
use super::super::paper::Paper;
use super::super::plot::WIDTH;
use super::book::{BOTTOM, LEFT, PdfFile, TOP};
use super::faces::{Fonts, Weight};
use super::pen::Colour;
use pdf_writer::types::StructRole;

/// Sizes of the letters, in points.
const CELL: f32 = 8.5;
/// From base line to base line, in sizes of the letters.
const LEADING: f32 = 1.3;

/// How close the words stand.
#[derive(Clone, Copy)]
pub(super) struct Measure {
    /// Sizes of the letters, in points.
    body: f32,
    small: f32,
    /// From base line to base line, in sizes of the letters.
    leading: f32,
    /// Between blocks, in what it is as usual.
    gap: f32,
}

/// As everything is set, and closer for a first sheet that would run over, down to the letters of the tables.
pub(super) const MEASURES: [Measure; 5] = [
    USUAL,
    measure(9.6, 8.4, 1.28, 0.9),
    measure(9.2, 8.3, 1.25, 0.7),
    measure(8.8, 8.1, 1.22, 0.5),
    measure(8.5, 8.0, 1.18, 0.4),
];
const USUAL: Measure = measure(10.0, 8.5, LEADING, 1.0);

const fn measure(body: f32, small: f32, leading: f32, gap: f32) -> Measure {
    Measure {
        body,
        small,
        leading,
        gap,
    }
}

/// Between two columns, and above and below a row.
const GAP: f32 = 10.0;
const ROW: f32 = 2.0;
/// Room of a mark before its word.
const MARK: f32 = 10.0;
/// A heading with the room around it, and the least that stands below one before the sheet may end.
const HEADING: f32 = 30.0;
const PARAGRAPH: f32 = 45.0;
/// The caption and the names of the columns of a table, and one row.
const TABLE: f32 = 60.0;

/// A place on the last page.
pub(super) struct Typesetting<'a> {
    fonts: &'a Fonts,
    book: PdfFile<'a>,
    /// Of the first sheet; behind it, everything is set as usual.
    measure: Measure,
    y: f32,
}

impl<'a> Typesetting<'a> {
    pub(super) fn new(paper: Paper, fonts: &'a Fonts, first: Measure) -> Self {
        Self {
            fonts,
            book: PdfFile::new(paper, fonts),
            measure: first,
            y: TOP,
        }
    }

    pub(super) fn book(self) -> PdfFile<'a> {
        self.book
    }

    fn page(&mut self) {
        self.book.page();
        self.y = TOP;
    }

    /// Goes to the next page where less room is left than that.
    fn room(&mut self, height: f32) {
        if self.y + height > self.book.height() - BOTTOM && self.y > TOP {
            self.page();
        }
    }

    /// Sets a block; a heading stays with what comes next.
    pub(super) fn block(&mut self, block: &Block, next: Option<&Block>) {
        use Weight::{Bold, Regular};
        let Measure { body, small, .. } = self.measure;
        match block {
            Block::Title(text) => self.lines(StructRole::H1, text, Bold, 15.0, Colour::Ink, 0.0, 2.0),
            Block::Heading(text) => {
                let with = match next {
                    Some(Block::Table(table)) => undivided(self.fonts, table, &widths(self.fonts, table)),
                    Some(Block::Pair(one, other)) => one.height.max(other.height),
                    _ => PARAGRAPH,
                };
                self.room(HEADING + with);
                let above = if self.y > TOP { 12.0 } else { 0.0 };
                self.y += above;
                self.lines(StructRole::H2, text, Bold, 11.5, Colour::Ink, 0.0, 3.0);
            }
            Block::Large(text) => {
                self.y += 4.0 * self.measure.gap;
                self.lines(StructRole::P, text, Bold, 25.0, Colour::Ink, 0.0, 1.0);
            }
            Block::Paragraph(text) => self.lines(StructRole::P, text, Regular, body, Colour::Ink, 0.0, 4.0),
            Block::Small(text) => self.lines(StructRole::P, text, Regular, small, Colour::Soft, 0.0, 4.0),
            Block::Notice(text) => {
                self.y += 2.0;
                let top = self.y;
                self.lines(StructRole::P, text, Bold, body, Colour::Accent, 10.0, 2.0);
                if self.y > top {
                    self.book
                        .rule([LEFT + 2.0, top, LEFT + 2.0, self.y - 2.0], 2.5, Colour::Accent);
                }
                self.y += 3.0;
            }
            Block::List(items) => self.list(items),
            Block::Table(table) => self.table(table),
            Block::Figure(drawing, _, text) => {
                self.room(drawing.height + 30.0);
                self.y += 4.0 * self.measure.gap;
                self.book.drawing((LEFT, self.y), drawing);
                self.y += drawing.height;
                self.lines(StructRole::P, text, Regular, small, Colour::Soft, 0.0, 4.0);
            }
            Block::Pair(one, other) => self.pair(one, other),
            Block::Sheet => {
                self.measure = USUAL;
                self.page();
            }
        }
    }

    #[expect(clippy::too_many_arguments, reason = "a line of text is that much")]
    fn lines(
        &mut self,
        role: StructRole,
        text: &str,
        weight: Weight,
        size: f32,
        colour: Colour,
        indent: f32,
        after: f32,
    ) {
        let high = size * self.measure.leading;
        self.book.begin(role, None);
        for line in self.fonts.wrap(text, weight, size, WIDTH - indent) {
            self.room(high);
            self.book
                .text((LEFT + indent, self.y + size), weight, size, colour, &line);
            self.y += high;
        }
        self.book.end();
        self.y += after * self.measure.gap;
    }

    fn list(&mut self, items: &[String]) {
        let Measure { body, leading, .. } = self.measure;
        self.book.begin(StructRole::L, None);
        for item in items {
            self.book.begin(StructRole::LI, None);
            self.room(body * leading);
            self.book.begin(StructRole::Lbl, None);
            self.book.text(
                (LEFT, self.y + body),
                Weight::Regular,
                body,
                Colour::Ink,
                "\u{2022}",
            );
            self.book.end();
            self.lines(
                StructRole::LBody,
                item,
                Weight::Regular,
                body,
                Colour::Ink,
                10.0,
                2.0,
            );
            self.book.end();
        }
        self.book.end();
    }

    fn pair(&mut self, one: &Drawing, other: &Drawing) {
        let height = one.height.max(other.height);
        self.room(height);
        self.book.drawing((LEFT, self.y), one);
        self.book.drawing((LEFT + WIDTH - other.width, self.y), other);
        self.y += height + 2.0;
    }

    fn table(&mut self, table: &Table) {
        let columns = widths(self.fonts, table);
        let head: Vec<Vec<String>> = table
            .columns
            .iter()
            .zip(&columns)
            .map(|(column, wide)| self.fonts.wrap(&column.name, Weight::Bold, CELL, *wide))
            .collect();
        self.room(undivided(self.fonts, table, &columns));
        self.y += 4.0 * self.measure.gap;
        self.book.begin(StructRole::Table, None);
        self.lines(
            StructRole::Caption,
            &table.caption,
            Weight::Regular,
            self.measure.small,
            Colour::Soft,
            0.0,
            2.0,
        );
        self.book.begin(StructRole::THead, None);
        self.book.begin(StructRole::TR, None);
        self.head(table, &columns, &head, false);
        self.book.end();
        self.book.end();
        self.book.begin(StructRole::TBody, None);
        for row in &table.rows {
            let cells = lines(self.fonts, row, &columns);
            let height = height_of(&cells);
            if self.y + height > self.book.height() - BOTTOM {
                self.page();
                self.head(table, &columns, &head, true);
            }
            self.row(table, row, &columns, &cells);
            self.y += height;
            self.book
                .rule([LEFT, self.y, LEFT + WIDTH, self.y], 0.4, Colour::Soft);
        }
        self.book.end();
        self.book.end();
        self.y += 8.0 * self.measure.gap;
    }

    /// The names of the columns; on a further page they are said already.
    fn head(&mut self, table: &Table, columns: &[f32], head: &[Vec<String>], again: bool) {
        let height = height_of(head);
        let mut x = LEFT;
        for ((column, wide), lines) in table.columns.iter().zip(columns).zip(head) {
            if !again {
                self.book.begin(StructRole::TH, Some("column".to_owned()));
            }
            let below = height - 2.0 * ROW - lines_high(lines.len());
            for (place, line) in (0_u16..).zip(lines) {
                let aside = if column.set == Set::Numbers {
                    wide - self.fonts.width(line, Weight::Bold, CELL)
                } else {
                    0.0
                };
                let at = (
                    x + aside,
                    self.y + ROW + below + CELL + CELL * LEADING * f32::from(place),
                );
                if again {
                    self.book.repeated(at, Weight::Bold, CELL, Colour::Ink, line);
                } else {
                    self.book.text(at, Weight::Bold, CELL, Colour::Ink, line);
                }
            }
            if !again {
                self.book.end();
            }
            x += wide + GAP;
        }
        self.y += height;
        self.book
            .rule([LEFT, self.y, LEFT + WIDTH, self.y], 0.8, Colour::Ink);
    }

    fn row(&mut self, table: &Table, row: &[Cell], columns: &[f32], cells: &[Vec<String>]) {
        self.book.begin(StructRole::TR, None);
        let mut x = LEFT;
        for (place, ((cell, lines), (column, wide))) in row
            .iter()
            .zip(cells)
            .zip(table.columns.iter().zip(columns))
            .enumerate()
        {
            if place == 0 {
                self.book.begin(StructRole::TH, Some("row".to_owned()));
            } else {
                self.book.begin(StructRole::TD, None);
            }
            if let Some(mark) = cell.mark {
                self.book
                    .shapes(true, (x, self.y + ROW + CELL - 6.5), &mark_shapes(mark));
            }
            for (place, line) in (0_u16..).zip(lines) {
                let aside = if column.set == Set::Numbers {
                    wide - self.fonts.width(line, Weight::Regular, CELL)
                } else {
                    room_of(cell)
                };
                let at = (x + aside, self.y + ROW + CELL + CELL * LEADING * f32::from(place));
                self.book.text(at, Weight::Regular, CELL, Colour::Ink, line);
            }
            self.book.end();
            x += wide + GAP;
        }
        self.book.end();
    }
}

/// How much of a table has to stand on one sheet.
fn undivided(fonts: &Fonts, table: &Table, columns: &[f32]) -> f32 {
    let rows = table.rows.iter().take(SHORT_ROWS + 1);
    let high: f32 = rows.map(|row| height_of(&lines(fonts, row, columns))).sum();
    if table.rows.len() > SHORT_ROWS {
        TABLE
    } else {
        TABLE + high
    }
}

/// The lines of each cell of a row.
fn lines(fonts: &Fonts, row: &[Cell], columns: &[f32]) -> Vec<Vec<String>> {
    row.iter()
        .zip(columns)
        .map(|(cell, wide)| fonts.wrap(&cell.text, Weight::Regular, CELL, wide - room_of(cell)))
        .collect()
}

fn mark_shapes(mark: PlotMark) -> Vec<Shape> {
    let wedge = Shape::Triangle(mark == PlotMark::Counted, [(0.5, 0.5), (6.5, 0.5), (3.5, 6.5)]);
    let strike = Shape::Strokes(Pen::Ink, vec![[-0.5, 6.5, 7.5, 0.5]]);
    if mark == PlotMark::SetAside {
        vec![wedge, strike]
    } else {
        vec![wedge]
    }
}

const fn room_of(cell: &Cell) -> f32 {
    if cell.mark.is_some() { MARK } else { 0.0 }
}

fn lines_high(lines: usize) -> f32 {
    u16::try_from(lines).map_or(0.0, f32::from) * CELL * LEADING
}

fn height_of(cells: &[Vec<String>]) -> f32 {
    lines_high(cells.iter().map(Vec::len).max().unwrap_or(1)) + 2.0 * ROW
}

/// How wide each column is: as its widest cell where all fit, else the wide ones share what the narrow ones
/// leave.
fn widths(fonts: &Fonts, table: &Table) -> Vec<f32> {
    let text = |text: &str, weight| fonts.width(text, weight, CELL);
    let longest_word = |name: &str| {
        name.split(' ')
            .map(|word| text(word, Weight::Bold))
            .fold(0.0, f32::max)
    };
    let mut wanted: Vec<f32> = table
        .columns
        .iter()
        .map(|column| longest_word(&column.name))
        .collect();
    for row in &table.rows {
        for (wanted, cell) in wanted.iter_mut().zip(row) {
            *wanted = wanted.max(text(&cell.text, Weight::Regular) + room_of(cell));
        }
    }
    let gaps = GAP * u16::try_from(wanted.len().saturating_sub(1)).map_or(0.0, f32::from);
    let mut left = WIDTH - gaps;
    let mut open: Vec<usize> = (0..wanted.len()).collect();
    // Whoever wants less than an even share gets it; the rest share again.
    loop {
        let share = left / u16::try_from(open.len().max(1)).map_or(1.0, f32::from);
        let before = open.len();
        open.retain(|place| {
            let want = wanted.get(*place).copied().unwrap_or(0.0);
            if want <= share {
                left -= want;
            }
            want > share
        });
        if open.len() == before {
            for place in &open {
                if let Some(wanted) = wanted.get_mut(*place) {
                    *wanted = share;
                }
            }
            break;
        }
    }
    // Room that is left goes between columns of numbers, or behind the last words.
    if open.is_empty() && left > 0.0 {
        let numbers = table
            .columns
            .last()
            .is_some_and(|column| column.set == Set::Numbers);
        if numbers {
            if let Some(first) = wanted.first_mut() {
                *first += left;
            }
        } else if let Some(last) = wanted.last_mut() {
            *last += left;
        }
    }
    wanted
}
