//! The faces inside the file: only the glyphs that are used, with what each of them says.

use super::faces::{Face, table};
use harfrust::GlyphId;
use miniz_oxide::deflate::compress_to_vec_zlib;
use pdf_writer::types::{CidFontType, FontFlags, SystemInfo, UnicodeCmap};
use pdf_writer::{Filter, Name, Pdf, Rect, Ref, Str};
use std::collections::BTreeMap;
use subsetter::{GlyphRemapper, subset};

/// How hard streams are squeezed: the middle of zlib's scale, beyond which words become hardly shorter.
pub(super) const LEVEL: u8 = 6;

/// How many objects a face takes.
pub(super) const OBJECTS: i32 = 5;

const REGISTRY: SystemInfo<'_> = SystemInfo {
    registry: Str(b"Adobe"),
    ordering: Str(b"Identity"),
    supplement: 0,
};

/// The glyphs of a face that are used.
#[derive(Default)]
pub(super) struct Used {
    glyphs: GlyphRemapper,
    says: BTreeMap<u16, String>,
}

impl Used {
    pub(super) fn any(&self) -> bool {
        !self.says.is_empty()
    }

    /// The number of a glyph in the file.
    pub(super) fn glyph(&mut self, glyph: u16) -> u16 {
        self.glyphs.remap(glyph)
    }

    /// The same for a glyph that says this; whether it says so everywhere.
    pub(super) fn says(&mut self, glyph: u16, text: &str) -> (u16, bool) {
        let number = self.glyph(glyph);
        let said = self.says.entry(number).or_insert_with(|| text.to_owned());
        (number, said == text)
    }

    /// For the content of a page: two octets a glyph.
    pub(super) fn push(codes: &mut Vec<u8>, number: u16) {
        codes.extend(number.to_be_bytes());
    }
}

/// How the content of a page calls a face.
pub(super) fn name_of_face(place: usize) -> String {
    format!("F{place}")
}

/// Writes a face as five objects that follow one another; the first is the font of the content.
pub(super) fn write(pdf: &mut Pdf, first: Ref, face: &Face, used: &Used) {
    let number = |n: i32| Ref::new(first.get().saturating_add(n));
    let (cid, descriptor, file, says) = (number(1), number(2), number(3), number(4));
    let whole = subset(&face.octets, face.index, &used.glyphs).unwrap_or_default();
    // Only the outlines of what is drawn in PostScript's curves are put in; of what is in TrueType's, the file.
    let curves = table(&whole, 0, b"CFF ");
    let outlines = curves.unwrap_or(&whole);
    let name = name_of(face, used);
    let base = Name(name.as_bytes());

    pdf.type0_font(first)
        .base_font(base)
        .encoding_predefined(Name(b"Identity-H"))
        .descendant_font(cid)
        .to_unicode(says);

    let mut made = pdf.cid_font(cid);
    made.subtype(if curves.is_some() {
        CidFontType::Type0
    } else {
        CidFontType::Type2
    });
    made.base_font(base)
        .system_info(REGISTRY)
        .font_descriptor(descriptor);
    if curves.is_none() {
        made.cid_to_gid_map_predefined(Name(b"Identity"));
    }
    let widths = used
        .glyphs
        .remapped_gids()
        .map(|glyph| face.advance(glyph) * 1000.0);
    made.widths().consecutive(0, widths);
    drop(made);

    describe(pdf, descriptor, face, base, (file, curves.is_some()));

    let squeezed = compress_to_vec_zlib(outlines, LEVEL);
    let mut stream = pdf.stream(file, &squeezed);
    stream.filter(Filter::FlateDecode);
    if curves.is_some() {
        stream.pair(Name(b"Subtype"), Name(b"CIDFontType0C"));
    } else {
        stream.pair(
            Name(b"Length1"),
            i32::try_from(outlines.len()).unwrap_or(i32::MAX),
        );
    }
    drop(stream);

    let mut letters = UnicodeCmap::<u16>::new(Name(b"Says"), REGISTRY);
    for (glyph, text) in &used.says {
        letters.pair_with_multiple(*glyph, text.chars());
    }
    let squeezed = compress_to_vec_zlib(letters.finish().as_slice(), LEVEL);
    pdf.stream(says, &squeezed).filter(Filter::FlateDecode);
}

/// What a reader may know of a face without opening it, and where its file is.
fn describe(pdf: &mut Pdf, descriptor: Ref, face: &Face, base: Name<'_>, (file, are_curves): (Ref, bool)) {
    let metrics = face.font.metrics();
    let thousandths = |units: f64| -> f32 {
        #[expect(clippy::cast_possible_truncation, reason = "a size of letters, on paper")]
        let units = units as f32;
        units * 1000.0 / face.em()
    };
    let bounds = metrics.bounds;
    let line = metrics.h_line().unwrap_or_default();
    let mut about = pdf.font_descriptor(descriptor);
    about
        .name(base)
        .flags(FontFlags::SYMBOLIC)
        .bbox(Rect::new(
            thousandths(bounds.x_min.to_f64()),
            thousandths(bounds.y_min.to_f64()),
            thousandths(bounds.x_max.to_f64()),
            thousandths(bounds.y_max.to_f64()),
        ))
        .italic_angle(0.0)
        .ascent(thousandths(line.ascender.to_f64()))
        .descent(thousandths(line.descender.to_f64()))
        .cap_height(thousandths(metrics.cap_height.unwrap_or(line.ascender).to_f64()))
        .stem_v(if face.bold { 140.0 } else { 80.0 });
    if are_curves {
        about.font_file3(file);
    } else {
        about.font_file2(file);
    }
}

/// The face's own name behind six letters that tell this choice of its glyphs from others (ISO 32000-1, 9.6.4).
fn name_of(face: &Face, used: &Used) -> String {
    let own = face
        .font
        .names()
        .get(harfrust::font::name::NameId::POSTSCRIPT_NAME)
        .and_then(|name| Some(name.english_or_first()?.name().to_string()))
        .unwrap_or_default();
    let own: String = own
        .chars()
        .filter(|letter| letter.is_ascii_alphanumeric() || *letter == '-')
        .take(60)
        .collect();
    let own = if own.is_empty() { "Face".to_owned() } else { own };
    // FNV-1a, which need not be hard to find another text for.
    let mut hash = used
        .glyphs
        .remapped_gids()
        .fold(0xcbf2_9ce4_8422_2325_u64, |hash, glyph| {
            (hash ^ u64::from(glyph)).wrapping_mul(0x0100_0000_01b3)
        });
    let mut tag = String::new();
    for _ in 0..6 {
        let letter = u8::try_from(hash % 26).unwrap_or(0);
        tag.push(char::from(b'A' + letter));
        hash /= 26;
    }
    format!("{tag}+{own}")
}

/// The letter that a glyph stands for by itself.
pub(super) fn letter_of(face: &Face, glyph: u16) -> Option<char> {
    let mut all = face.font.charmap().unicodes();
    let (code, _) = all.find(|(_, found)| *found == GlyphId::from(glyph))?;
    char::from_u32(code)
}
