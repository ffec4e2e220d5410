//! Pages and tags: what is drawn where, and what it means.
//!
//! Everything that is drawn is either content of a tag or an artifact, so that a screen reader reads the
//! report in its order and nothing else (ISO 32000-1, 14.7 and 14.8).

use super::super::document::Document;
use super::super::drawing::{Anchor, Drawing, Shape};
use super::super::paper::Paper;
use super::letters::{Weight, encode, width};
use miniz_oxide::deflate::compress_to_vec_zlib;
use pdf_writer::types::{StructRole, TableHeaderScope};
use pdf_writer::{Content, Filter, Finish, Name, Pdf, Rect, Ref, Str, TextStr};

/// Left of the text: a hole punch has room.
pub(super) const LEFT: f32 = 57.0;
/// Above and below the text.
pub(super) const TOP: f32 = 57.0;
pub(super) const BOTTOM: f32 = 51.0;
/// The person, the key and the sheet's number, in the margins.
const SMALL: f32 = 8.0;
/// The accent: what the reader must do, never a judgement.
const ACCENT: [f32; 3] = [0.11, 0.31, 0.56];

/// How hard streams are squeezed: the middle of zlib's scale, beyond which words become hardly shorter.
const LEVEL: u8 = 6;

const CATALOG: Ref = Ref::new(1);
const PAGES: Ref = Ref::new(2);
const REGULAR: Ref = Ref::new(3);
const BOLD: Ref = Ref::new(4);
const INFO: Ref = Ref::new(5);
const TREE: Ref = Ref::new(6);
/// The first number of pages and tags, which follow one another.
const FIRST: i32 = 7;

#[derive(Clone, Copy)]
pub(super) enum Colour {
    Ink,
    Soft,
    Accent,
}

/// What is drawn on a page, and to which tag each piece of marked content belongs.
struct Page {
    content: Content,
    marked: Vec<usize>,
}

/// What a part of the content is.
struct Tag {
    role: StructRole,
    parent: Option<usize>,
    kids: Vec<Kid>,
    alternative: Option<String>,
}

#[derive(Clone, Copy)]
enum Kid {
    Tag(usize),
    /// Page and number of the marked content on it.
    Marked(usize, i32),
}

/// A file that is being made.
pub(super) struct Book {
    size: (f32, f32),
    pages: Vec<Page>,
    tags: Vec<Tag>,
    /// The tags that are open, from the document down.
    open: Vec<usize>,
    exact: bool,
}

impl Book {
    pub(super) fn new(paper: Paper) -> Self {
        let mut book = Self {
            size: paper.size(),
            pages: Vec::new(),
            tags: Vec::new(),
            open: Vec::new(),
            exact: true,
        };
        book.begin(StructRole::Document, None);
        book.page();
        book
    }

    /// Whether every letter so far had a code.
    pub(super) const fn exact(&self) -> bool {
        self.exact
    }

    pub(super) fn height(&self) -> f32 {
        self.size.1
    }

    /// A new page.
    pub(super) fn page(&mut self) {
        self.pages.push(Page {
            content: Content::new(),
            marked: Vec::new(),
        });
    }

    /// Begins a tag inside the one that is open.
    pub(super) fn begin(&mut self, role: StructRole, alternative: Option<String>) {
        let tag = self.tags.len();
        let parent = self.open.last().copied();
        if let Some(parent) = parent.and_then(|parent| self.tags.get_mut(parent)) {
            parent.kids.push(Kid::Tag(tag));
        }
        self.tags.push(Tag {
            role,
            parent,
            kids: Vec::new(),
            alternative,
        });
        self.open.push(tag);
    }

    /// Closes the tag that was opened last.
    pub(super) fn end(&mut self) {
        self.open.pop();
    }

    /// Draws content of the tag that is open, or an artifact; `y` of what is drawn counts from the top.
    fn marked(&mut self, artifact: bool, actual: Option<&str>, draw: impl FnOnce(&mut Content, f32)) {
        let (height, number) = (self.size.1, self.pages.len().saturating_sub(1));
        let Some(page) = self.pages.last_mut() else { return };
        let owner = self.open.last().copied().filter(|_| !artifact);
        match owner.and_then(|owner| self.tags.get_mut(owner).map(|tag| (owner, tag))) {
            Some((owner, tag)) => {
                let mark = i32::try_from(page.marked.len()).unwrap_or(i32::MAX);
                page.marked.push(owner);
                tag.kids.push(Kid::Marked(number, mark));
                let mut begun = page
                    .content
                    .begin_marked_content_with_properties(tag.role.to_name());
                begun.properties().identify(mark);
            }
            None => {
                page.content.begin_marked_content(Name(b"Artifact"));
            }
        }
        if let Some(actual) = actual {
            // Readers look for it at spans only.
            let mut span = page.content.begin_marked_content_with_properties(Name(b"Span"));
            span.properties().actual_text(TextStr(actual));
        }
        draw(&mut page.content, height);
        if actual.is_some() {
            page.content.end_marked_content();
        }
        page.content.end_marked_content();
    }

    /// A line of text, by the left end of its base line.
    pub(super) fn text(&mut self, at: (f32, f32), weight: Weight, size: f32, colour: Colour, text: &str) {
        self.line(false, at, weight, size, colour, text);
    }

    /// The same, said elsewhere already.
    pub(super) fn repeated(&mut self, at: (f32, f32), weight: Weight, size: f32, colour: Colour, text: &str) {
        self.line(true, at, weight, size, colour, text);
    }

    fn line(
        &mut self,
        artifact: bool,
        (x, y): (f32, f32),
        weight: Weight,
        size: f32,
        colour: Colour,
        text: &str,
    ) {
        if text.is_empty() {
            return;
        }
        let (codes, exact) = encode(text);
        self.exact &= exact;
        let actual = (!exact).then_some(text);
        self.marked(artifact, actual, |content, height| {
            paint(content, colour);
            write(content, (x, height - y), weight, size, &codes);
        });
    }

    /// A stroke that means nothing.
    pub(super) fn rule(&mut self, [x1, y1, x2, y2]: [f32; 4], width: f32, colour: Colour) {
        self.marked(true, None, |content, height| {
            content.set_line_width(width);
            match colour {
                Colour::Accent => content.set_stroke_rgb(ACCENT[0], ACCENT[1], ACCENT[2]),
                Colour::Soft => content.set_stroke_gray(0.7),
                Colour::Ink => content.set_stroke_gray(0.1),
            };
            content.move_to(x1, height - y1).line_to(x2, height - y2).stroke();
        });
    }

    /// Shapes at a place; an artifact where the words beside it say the same.
    pub(super) fn shapes(&mut self, artifact: bool, (x, y): (f32, f32), shapes: &[Shape]) {
        self.marked(artifact, None, |content, height| {
            content.save_state();
            for shape in shapes {
                draw(content, x, height - y, shape);
            }
            content.restore_state();
        });
    }

    /// A plot, with what it shows for those who do not see it.
    pub(super) fn drawing(&mut self, at: (f32, f32), drawing: &Drawing) {
        self.begin(
            StructRole::Figure,
            Some(format!("{}. {}", drawing.title, drawing.description)),
        );
        self.shapes(false, at, &drawing.shapes);
        self.end();
    }

    /// Writes the margins of every page, and returns the octets of the whole PDF file.
    pub(super) fn finish(mut self, document: &Document) -> Vec<u8> {
        self.margins(document);
        let numbers = Numbers {
            pages: i32::try_from(self.pages.len()).unwrap_or(i32::MAX),
        };
        let mut pdf = Pdf::new();
        let mut catalog = pdf.catalog(CATALOG);
        catalog.pages(PAGES).lang(TextStr("en"));
        catalog.pair(Name(b"StructTreeRoot"), TREE);
        catalog.mark_info().marked(true);
        catalog.viewer_preferences().display_doc_title(true);
        catalog.finish();
        pdf.document_info(INFO)
            .title(TextStr(&document.title))
            .subject(TextStr(&document.running))
            .creator(TextStr("quietcuff"));
        for (font, name) in [(REGULAR, b"Helvetica".as_slice()), (BOLD, b"Helvetica-Bold")] {
            pdf.type1_font(font)
                .base_font(Name(name))
                .encoding_predefined(Name(b"WinAnsiEncoding"));
        }
        let mut pages = pdf.pages(PAGES);
        pages.kids((0..self.pages.len()).map(|page| numbers.page(page)));
        pages.count(numbers.pages);
        pages.media_box(Rect::new(0.0, 0.0, self.size.0, self.size.1));
        pages
            .resources()
            .fonts()
            .pair(Name(b"R"), REGULAR)
            .pair(Name(b"B"), BOLD);
        pages.finish();

        let mut tree = pdf.indirect(TREE).dict();
        tree.pair(Name(b"Type"), Name(b"StructTreeRoot"));
        tree.pair(Name(b"K"), numbers.tag(0));
        let mut of_page = tree.insert(Name(b"ParentTree")).dict();
        let mut nums = of_page.insert(Name(b"Nums")).array();
        for (number, page) in self.pages.iter().enumerate() {
            nums.item(numbers.key(number));
            let mut owners = nums.push().array();
            for owner in &page.marked {
                owners.item(numbers.tag(*owner));
            }
        }
        nums.finish();
        of_page.finish();
        tree.finish();

        for (number, tag) in self.tags.iter().enumerate() {
            write_tag(&mut pdf, &numbers, number, tag);
        }
        for (number, page) in self.pages.into_iter().enumerate() {
            let mut made = pdf.page(numbers.page(number));
            made.parent(PAGES)
                .contents(numbers.content(number))
                .struct_parents(numbers.key(number));
            made.finish();
            let squeezed = compress_to_vec_zlib(page.content.finish().as_slice(), LEVEL);
            pdf.stream(numbers.content(number), &squeezed)
                .filter(Filter::FlateDecode);
        }
        pdf.finish()
    }

    /// The person, the key and the number of the sheet, on every sheet.
    fn margins(&mut self, document: &Document) {
        let all = self.pages.len();
        let mut pages = std::mem::take(&mut self.pages);
        for (number, page) in pages.drain(..).enumerate() {
            self.pages.push(page);
            let below = self.size.1 - 30.0;
            let sheet = format!("Sheet {} of {all}", number + 1);
            let wide = width(&encode(&sheet).0, Weight::Regular, SMALL);
            let right = LEFT + super::super::plot::WIDTH - wide;
            self.repeated(
                (LEFT, 36.0),
                Weight::Regular,
                SMALL,
                Colour::Soft,
                &document.running,
            );
            self.repeated((LEFT, below), Weight::Regular, SMALL, Colour::Soft, &document.key);
            self.repeated((right, below), Weight::Regular, SMALL, Colour::Soft, &sheet);
        }
    }
}

/// The numbers of the file's objects.
struct Numbers {
    pages: i32,
}

impl Numbers {
    fn nth(from: i32, n: usize) -> Ref {
        Ref::new(
            i32::try_from(n)
                .unwrap_or(i32::MAX - from)
                .saturating_add(from)
                .max(1),
        )
    }

    fn page(&self, page: usize) -> Ref {
        Self::nth(FIRST, page)
    }

    fn content(&self, page: usize) -> Ref {
        Self::nth(FIRST + self.pages, page)
    }

    fn tag(&self, tag: usize) -> Ref {
        Self::nth(FIRST + 2 * self.pages, tag)
    }

    fn key(&self, page: usize) -> i32 {
        i32::try_from(page).unwrap_or(self.pages)
    }
}

fn write_tag(pdf: &mut Pdf, numbers: &Numbers, number: usize, tag: &Tag) {
    let mut element = pdf.struct_element(numbers.tag(number));
    element.kind(tag.role);
    element.parent(tag.parent.map_or(TREE, |parent| numbers.tag(parent)));
    if let Some(alternative) = &tag.alternative {
        if tag.role == StructRole::TH {
            let scope = if alternative == "row" {
                TableHeaderScope::Row
            } else {
                TableHeaderScope::Column
            };
            element.attributes().push().table().scope(scope);
        } else {
            element.alt(TextStr(alternative));
        }
    }
    // One page for most tags; a piece on another says so itself.
    let page = tag.kids.iter().find_map(|kid| match kid {
        Kid::Marked(page, _) => Some(*page),
        Kid::Tag(_) => None,
    });
    if let Some(page) = page {
        element.page(numbers.page(page));
    }
    let mut kids = element.children();
    for kid in &tag.kids {
        match kid {
            Kid::Tag(tag) => {
                kids.struct_element(numbers.tag(*tag));
            }
            Kid::Marked(on, mark) if Some(*on) == page => {
                kids.marked_content_id(*mark);
            }
            Kid::Marked(on, mark) => {
                kids.marked_content_ref()
                    .page(numbers.page(*on))
                    .marked_content_id(*mark);
            }
        }
    }
}

fn paint(content: &mut Content, colour: Colour) {
    match colour {
        Colour::Ink => content.set_fill_gray(0.08),
        Colour::Soft => content.set_fill_gray(0.3),
        Colour::Accent => content.set_fill_rgb(ACCENT[0], ACCENT[1], ACCENT[2]),
    };
}

fn write(content: &mut Content, (x, y): (f32, f32), weight: Weight, size: f32, codes: &[u8]) {
    let font = match weight {
        Weight::Regular => Name(b"R"),
        Weight::Bold => Name(b"B"),
    };
    content
        .begin_text()
        .set_font(font, size)
        .next_line(x, y)
        .show(Str(codes))
        .end_text();
}

/// A shape whose origin is there, `top` counting from the bottom of the page.
fn draw(content: &mut Content, x: f32, top: f32, shape: &Shape) {
    match shape {
        Shape::Strokes(pen, strokes) => {
            let (width, grey, dashes) = pen.look();
            content.set_line_width(width).set_stroke_gray(grey);
            content.set_dash_pattern(
                dashes
                    .unwrap_or_default()
                    .into_iter()
                    .filter(|_| dashes.is_some()),
                0.0,
            );
            for [x1, y1, x2, y2] in strokes {
                content.move_to(x + x1, top - y1).line_to(x + x2, top - y2);
            }
            content.stroke();
        }
        Shape::Triangle(filled, [a, b, c]) => {
            inked(content, *filled);
            content
                .move_to(x + a.0, top - a.1)
                .line_to(x + b.0, top - b.1)
                .line_to(x + c.0, top - c.1)
                .close_path()
                .fill_nonzero_and_stroke();
        }
        Shape::Dot(filled, (cx, cy), r) => {
            // A circle of four Bézier curves, the usual approximation.
            let (cx, cy, k) = (x + cx, top - cy, r * 0.5523);
            inked(content, *filled);
            content
                .move_to(cx + r, cy)
                .cubic_to(cx + r, cy + k, cx + k, cy + r, cx, cy + r)
                .cubic_to(cx - k, cy + r, cx - r, cy + k, cx - r, cy)
                .cubic_to(cx - r, cy - k, cx - k, cy - r, cx, cy - r)
                .cubic_to(cx + k, cy - r, cx + r, cy - k, cx + r, cy)
                .fill_nonzero_and_stroke();
        }
        Shape::Text(anchor, (tx, ty), size, text) => {
            let (codes, _) = encode(text);
            let wide = width(&codes, Weight::Regular, *size);
            let aside = match anchor {
                Anchor::Start => 0.0,
                Anchor::Middle => wide / 2.0,
                Anchor::End => wide,
            };
            paint(content, Colour::Ink);
            write(
                content,
                (x + tx - aside, top - ty),
                Weight::Regular,
                *size,
                &codes,
            );
        }
    }
}

fn inked(content: &mut Content, filled: bool) {
    content
        .set_line_width(0.9)
        .set_stroke_gray(0.1)
        .set_fill_gray(if filled { 0.1 } else { 1.0 })
        .set_dash_pattern([], 0.0);
}
