//! Pages and tags: what is drawn where, and what it means.
//!
//! Everything that is drawn is either content of a tag or an artifact, so that a screen reader reads the
//! report in its order and nothing else (ISO 32000-1, 14.7 and 14.8).

use super::super::document::{ReportDocument, sheet_of};
use super::super::drawing::{Drawing, Escaped, Shape};
use super::super::paper::Paper;
use super::embed::{self, LEVEL, Used, name_of_face};
use super::faces::{Fonts, Weight};
use super::pen::{Colour, Pencil};
use miniz_oxide::deflate::compress_to_vec_zlib;
use pdf_writer::types::{StructRole, TableHeaderScope};
use pdf_writer::{Content, Filter, Finish, Name, Pdf, Rect, Ref, TextStr};

/// Left of the text: a hole punch has room.
pub(super) const LEFT: f32 = 57.0;
/// Above and below the text.
pub(super) const TOP: f32 = 57.0;
pub(super) const BOTTOM: f32 = 51.0;
/// The person, the key and the sheet's number, in the margins.
const SMALL: f32 = 8.0;
/// From base line to base line of these, in sizes of the letters.
const LINE: f32 = 1.3;

const CATALOG: Ref = Ref::new(1);
const PAGES: Ref = Ref::new(2);
const INFO: Ref = Ref::new(3);
const TREE: Ref = Ref::new(4);
const ABOUT: Ref = Ref::new(5);
/// The first number of pages, tags and faces, which follow one another.
const FIRST: i32 = 6;

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
pub(super) struct PdfFile<'a> {
    fonts: &'a Fonts,
    /// What is used of each face.
    used: Vec<Used>,
    size: (f32, f32),
    pages: Vec<Page>,
    tags: Vec<Tag>,
    /// The tags that are open, from the document down.
    open: Vec<usize>,
    exact: bool,
}

impl<'a> PdfFile<'a> {
    pub(super) fn new(paper: Paper, fonts: &'a Fonts) -> Self {
        let mut book = Self {
            fonts,
            used: fonts.faces().iter().map(|_| Used::default()).collect(),
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

    /// Whether every letter so far was in a face.
    pub(super) const fn exact(&self) -> bool {
        self.exact
    }

    pub(super) fn height(&self) -> f32 {
        self.size.1
    }

    /// Whether all of it stands on the first page.
    pub(super) const fn is_one_page(&self) -> bool {
        self.pages.len() == 1
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
    fn marked(&mut self, artifact: bool, draw: impl FnOnce(&mut Pencil<'_>, f32)) {
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
        let mut pencil = Pencil {
            content: &mut page.content,
            fonts: self.fonts,
            used: &mut self.used,
            exact: true,
        };
        draw(&mut pencil, height);
        self.exact &= pencil.exact;
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
        self.marked(artifact, |pencil, height| {
            pencil.paint(colour);
            pencil.text((x, height - y), weight, size, text);
        });
    }

    /// A stroke that means nothing.
    pub(super) fn rule(&mut self, [x1, y1, x2, y2]: [f32; 4], width: f32, colour: Colour) {
        self.marked(true, |pencil, height| {
            pencil.rule([x1, height - y1, x2, height - y2], width, colour);
        });
    }

    /// Shapes at a place; an artifact where the words beside it say the same.
    pub(super) fn shapes(&mut self, artifact: bool, (x, y): (f32, f32), shapes: &[Shape]) {
        self.marked(artifact, |pencil, height| {
            pencil.content.save_state();
            for shape in shapes {
                pencil.shape(x, height - y, shape);
            }
            pencil.content.restore_state();
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
    pub(super) fn finish(mut self, document: &ReportDocument) -> Vec<u8> {
        self.margins(document);
        let numbers = Numbers {
            pages: i32::try_from(self.pages.len()).unwrap_or(i32::MAX),
            tags: i32::try_from(self.tags.len()).unwrap_or(i32::MAX),
        };
        let mut pdf = Pdf::new();
        let mut catalog = pdf.catalog(CATALOG);
        let tag = document.words.language().tag();
        catalog.pages(PAGES).lang(TextStr(tag));
        catalog.pair(Name(b"StructTreeRoot"), TREE);
        catalog.mark_info().marked(true);
        catalog.viewer_preferences().display_doc_title(true);
        catalog.metadata(ABOUT);
        catalog.finish();
        pdf.metadata(ABOUT, about(&document.title, tag).as_bytes());
        pdf.document_info(INFO)
            .title(TextStr(&document.title))
            .subject(TextStr(&document.running))
            .creator(TextStr("quietcuff"));
        let mut pages = pdf.pages(PAGES);
        pages.kids((0..self.pages.len()).map(|page| numbers.page(page)));
        pages.count(numbers.pages);
        pages.media_box(Rect::new(0.0, 0.0, self.size.0, self.size.1));
        let mut resources = pages.resources();
        let mut named = resources.fonts();
        for (place, _) in self.used.iter().enumerate().filter(|(_, used)| used.any()) {
            named.pair(Name(name_of_face(place).as_bytes()), numbers.face(place));
        }
        named.finish();
        resources.finish();
        pages.finish();
        for (place, (face, used)) in self.fonts.faces().iter().zip(&self.used).enumerate() {
            if used.any() {
                embed::write(&mut pdf, numbers.face(place), face, used);
            }
        }

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

    /// The lines at the foot, beside the number of the sheet, in letters so large that there are three at most.
    fn foot(&self, document: &ReportDocument) -> (f32, Vec<String>) {
        let all = self.pages.len();
        let number = sheet_of(document.words, all, all);
        let beside = self.fonts.width(&number, Weight::Regular, SMALL) + 12.0;
        let most = super::super::plot::WIDTH - beside;
        let lines = |size: f32| {
            let texts = [&document.key, &document.unreviewed];
            let said = texts.into_iter().filter(|text| !text.is_empty());
            let set = said.flat_map(|text| self.fonts.wrap(text, Weight::Regular, size, most));
            set.collect::<Vec<String>>()
        };
        let sizes = [SMALL, 7.5, 7.0, 6.5];
        let fits = sizes.into_iter().map(|size| (size, lines(size)));
        let mut found = (SMALL, Vec::new());
        for (size, lines) in fits {
            let enough = lines.len() <= 3;
            found = (size, lines);
            if enough {
                break;
            }
        }
        found
    }

    /// The person, the key and the number of the sheet, on every sheet.
    fn margins(&mut self, document: &ReportDocument) {
        let all = self.pages.len();
        let (size, foot) = self.foot(document);
        let mut pages = std::mem::take(&mut self.pages);
        for (number, page) in pages.drain(..).enumerate() {
            self.pages.push(page);
            let below = self.size.1 - 30.0;
            let sheet = sheet_of(document.words, number + 1, all);
            let wide = self.fonts.width(&sheet, Weight::Regular, SMALL);
            let right = LEFT + super::super::plot::WIDTH - wide;
            self.repeated(
                (LEFT, 36.0),
                Weight::Regular,
                SMALL,
                Colour::Soft,
                &document.running,
            );
            let last = foot.len().saturating_sub(1);
            for (place, text) in (0_u16..).zip(&foot) {
                // Two lines stand where one would; a third has its room above.
                let up = if last > 1 { LINE * size } else { 0.0 };
                let y = below - up + LINE * size * f32::from(place);
                self.repeated((LEFT, y), Weight::Regular, size, Colour::Soft, text);
            }
            self.repeated((right, below), Weight::Regular, SMALL, Colour::Soft, &sheet);
        }
    }
}

/// The numbers of the file's objects.
struct Numbers {
    pages: i32,
    tags: i32,
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

    fn face(&self, face: usize) -> Ref {
        let before = FIRST + 2 * self.pages + self.tags;
        Self::nth(before, face * usize::try_from(embed::OBJECTS).unwrap_or(1))
    }

    fn key(&self, page: usize) -> i32 {
        i32::try_from(page).unwrap_or(self.pages)
    }
}

/// What the file says of itself: its title, and that it keeps to PDF/UA-1 (ISO 14289-1, clause 5).
fn about(title: &str, tag: &str) -> String {
    format!(
        "<?xpacket begin=\"\u{feff}\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n\
         <x:xmpmeta xmlns:x=\"adobe:ns:meta/\"><rdf:RDF xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\">\
         <rdf:Description rdf:about=\"\" xmlns:dc=\"http://purl.org/dc/elements/1.1/\" \
         xmlns:pdfuaid=\"http://www.aiim.org/pdfua/ns/id/\"><pdfuaid:part>1</pdfuaid:part>\
         <dc:title><rdf:Alt><rdf:li xml:lang=\"x-default\">{}</rdf:li></rdf:Alt></dc:title>\
         <dc:language><rdf:Bag><rdf:li>{tag}</rdf:li></rdf:Bag></dc:language></rdf:Description></rdf:RDF></x:xmpmeta>\n\
         <?xpacket end=\"r\"?>",
        Escaped(title)
    )
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
