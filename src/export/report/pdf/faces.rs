//! The faces that a PDF is set in: two that come with the program, and those that the shell found for other scripts.
//!
//! Liberation Sans has the Latin, Greek, Cyrillic and Hebrew letters, and its widths are those of the sans-serif face
//! that printers have had since the eighties. A face that had every script would be larger than the whole program, so
//! other faces are handed in as octets.

use harfrust::{Font, GlyphId};
use miniz_oxide::inflate::decompress_to_vec_zlib_with_limit;
use std::collections::BTreeSet;
use subsetter::{GlyphRemapper, subset};
use unicode_script::{Script, UnicodeScript};

/// See `fonts/OFL.txt` for where they come from and their licence.
const BUNDLED: [&[u8]; 2] = [
    include_bytes!("fonts/LiberationSans-Regular.ttf.zz"),
    include_bytes!("fonts/LiberationSans-Bold.ttf.zz"),
];
/// More than any of the two has.
const BUNDLED_MAX: usize = 1 << 20;
/// The letters below are looked up once: Latin and Greek, of which nearly all of a sheet is made.
const NEAR: u32 = 0x400;

/// The weight of the letters.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Weight {
    Regular,
    Bold,
}

/// What a PDF can be set in.
pub struct Fonts {
    faces: Vec<Face>,
    /// Glyph and width of the near letters, for each of the bundled faces.
    near: [Vec<Option<(u16, f32)>>; 2],
}

/// One face.
pub(super) struct Face {
    pub(super) font: Font,
    pub(super) octets: Vec<u8>,
    pub(super) index: u32,
    pub(super) bold: bool,
}

impl Face {
    fn new(octets: Vec<u8>, index: u32, bold: bool) -> Option<Self> {
        let font = Font::new(octets.clone(), index)?;
        // One whose outlines cannot be put into a file (pictures of letters, CFF2) would leave names blank.
        let has_outlines = [b"glyf", b"CFF "]
            .iter()
            .any(|kind| table(&octets, index, kind).is_some());
        if !has_outlines || subset(&octets, index, &GlyphRemapper::new()).is_err() {
            return None;
        }
        // OpenType, table OS/2, fsType: 2 forbids to put the face into a file.
        let rights = table(&octets, index, b"OS/2").and_then(|table| table.get(9));
        if rights.is_some_and(|rights| rights & 0x0f == 2) {
            return None;
        }
        Some(Self {
            font,
            octets,
            index,
            bold,
        })
    }

    /// The glyph of a letter, never the one for what is missing.
    pub(super) fn glyph(&self, letter: char) -> Option<u16> {
        let glyph = self.font.charmap().map_unicode(letter)?;
        u16::try_from(glyph.to_u32()).ok().filter(|glyph| *glyph != 0)
    }

    /// How wide a glyph is, in sizes of the letters.
    pub(super) fn advance(&self, glyph: u16) -> f32 {
        self.font.glyph_metrics().h_advance(GlyphId::from(glyph)) / self.em()
    }

    /// Units of the face in a size of the letters.
    pub(super) fn em(&self) -> f32 {
        f32::from(self.font.units_per_em().max(1))
    }
}

impl Default for Fonts {
    fn default() -> Self {
        let faces: Vec<Face> = BUNDLED
            .iter()
            .enumerate()
            .filter_map(|(place, squeezed)| {
                let octets = decompress_to_vec_zlib_with_limit(squeezed, BUNDLED_MAX).ok()?;
                Face::new(octets, 0, place == 1)
            })
            .collect();
        let near = [0, 1].map(|place: usize| {
            let Some(face) = faces.get(place) else {
                return Vec::new();
            };
            let letters = (0..NEAR).map(|code| char::from_u32(code).filter(|c| is_simple(*c)));
            let glyphs = letters.map(|letter| face.glyph(letter?));
            glyphs.map(|glyph| Some((glyph?, face.advance(glyph?)))).collect()
        });
        Self { faces, near }
    }
}

impl Fonts {
    /// No face at all, to ask what another one has.
    pub const fn none() -> Self {
        Self {
            faces: Vec::new(),
            near: [Vec::new(), Vec::new()],
        }
    }

    /// Takes another face, from the octets of a TrueType or OpenType file and its number there. Whether it can be used.
    pub fn add(&mut self, octets: Vec<u8>, index: u32) -> bool {
        let before = self.faces.len();
        self.faces.extend(Face::new(octets, index, false));
        self.faces.len() > before
    }

    /// The letters that no face has.
    pub fn missing(&self, letters: &BTreeSet<char>) -> BTreeSet<char> {
        let has = |letter: char| self.faces.iter().any(|face| face.glyph(letter).is_some());
        letters
            .iter()
            .copied()
            .filter(|letter| !is_silent(*letter) && !has(*letter))
            .collect()
    }

    pub(super) fn faces(&self) -> &[Face] {
        &self.faces
    }

    /// The place of the bundled face of that weight.
    pub(super) const fn of(weight: Weight) -> usize {
        match weight {
            Weight::Regular => 0,
            Weight::Bold => 1,
        }
    }

    /// Glyph and width of a letter that stands for itself in the bundled face; `None` for one that has to be shaped, or
    /// that another face has.
    pub(super) fn simple(&self, letter: char, weight: Weight) -> Option<(u16, f32)> {
        let place = Self::of(weight);
        if u32::from(letter) < NEAR {
            let near = self.near.get(place)?;
            return *near.get(usize::try_from(u32::from(letter)).ok()?)?;
        }
        let face = self.faces.get(place).filter(|_| is_simple(letter))?;
        let glyph = face.glyph(letter)?;
        Some((glyph, face.advance(glyph)))
    }

    /// The face for a letter: the one before it where both belong together, else the bundled one, else the first that
    /// has it.
    pub(super) fn face_for(&self, letter: char, weight: Weight, before: Option<usize>) -> Option<usize> {
        let has = |place: &usize| {
            let face = self.faces.get(*place);
            face.is_some_and(|face| is_silent(letter) || face.glyph(letter).is_some())
        };
        let with_before = before.filter(|_| letter.script() == Script::Inherited || is_silent(letter));
        let bundled = Some(Self::of(weight));
        with_before
            .filter(has)
            .or(bundled.filter(has))
            .or_else(|| (2..self.faces.len()).find(has))
    }
}

/// Letters that stand side by side, whatever is beside them.
fn is_simple(letter: char) -> bool {
    matches!(letter, ' '..='~' | '\u{a0}'..='\u{ac}' | '\u{ae}'..='\u{2ff}' | '\u{370}'..='\u{482}' | '\u{48a}'..='\u{52f}'
        | '\u{1e00}'..='\u{1fff}' | '\u{2010}'..='\u{2027}' | '\u{202f}'..='\u{205e}' | '\u{20a0}'..='\u{23ff}' | '\u{fffd}')
}

/// Steers shaping, and is not seen itself.
pub(super) const fn is_silent(letter: char) -> bool {
    matches!(letter, '\u{ad}' | '\u{34f}' | '\u{61c}' | '\u{200b}'..='\u{200f}' | '\u{2060}' | '\u{fe00}'..='\u{fe0f}' | '\u{feff}'
        | '\u{e0100}'..='\u{e01ef}')
}

/// A table of a face in a file.
pub(super) fn table<'a>(octets: &'a [u8], index: u32, tag: &[u8; 4]) -> Option<&'a [u8]> {
    let number = |at: usize| -> Option<usize> {
        let four = octets.get(at..at.checked_add(4)?)?;
        usize::try_from(u32::from_be_bytes(four.try_into().ok()?)).ok()
    };
    let begins = if octets.starts_with(b"ttcf") {
        let place = usize::try_from(index).ok()?;
        number(12_usize.checked_add(place.checked_mul(4)?)?)?
    } else {
        0
    };
    let tables = number(begins.checked_add(4)?)? >> 16;
    let mut records = (0..tables).filter_map(|n| begins.checked_add(12)?.checked_add(n * 16));
    let record = records.find(|at| octets.get(*at..at.saturating_add(4)) == Some(tag.as_slice()))?;
    let from = number(record.checked_add(8)?)?;
    octets.get(from..from.checked_add(number(record.checked_add(12)?)?)?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use sha2::{Digest, Sha256};

    /// The files of Debian's fonts-liberation2 2.1.5-1, unchanged.
    #[test]
    fn the_bundled_faces_are_what_they_are_said_to_be() {
        let digests = [
            "8d91388f1d3604b3b8ae0e3ee2d140e50cd6122f9214514f4aca772540a4076d",
            "ba0e0dc3f7aca5b0afbc31e800531ee43be3aa79ae35b2ef1f6470a9547765c4",
        ];
        let fonts = Fonts::default();
        assert_eq!(fonts.faces().len(), 2);
        for (face, digest) in fonts.faces().iter().zip(digests) {
            let found: String = Sha256::digest(&face.octets)
                .iter()
                .map(|octet| format!("{octet:02x}"))
                .collect();
            assert_eq!(found, digest);
        }
    }

    #[test]
    fn what_is_missing_is_told() {
        let fonts = Fonts::default();
        let letters = |text: &str| text.chars().collect::<BTreeSet<char>>();
        assert!(
            fonts
                .missing(&letters("Zo\u{eb} \u{141}\u{3b1}\u{416}\u{5d0}e\u{301}\u{200d}"))
                .is_empty()
        );
        assert_eq!(
            fonts.missing(&letters("a\u{906}\u{5b57}")),
            letters("\u{906}\u{5b57}")
        );
    }

    /// Pictures of letters, or outlines in a form that is not put into a file, would leave a name blank.
    #[test]
    fn a_face_without_outlines_is_not_taken() {
        let whole = Fonts::default().faces()[0].octets.clone();
        let at = whole.windows(4).position(|tag| tag == b"glyf").unwrap();
        let mut without = whole.clone();
        without[at..at + 4].copy_from_slice(b"CBDT");
        assert!(Fonts::none().add(whole, 0));
        assert!(!Fonts::none().add(without, 0));
    }

    #[test]
    fn no_octets_are_taken_for_a_table() {
        for octets in [
            &b""[..],
            b"ttcf",
            b"ttcf\0\0\0\0\xff\xff\xff\xff\xff\xff\xff\xff",
            b"\0\x01\0\0\xff\xff",
        ] {
            assert_eq!(table(octets, 7, b"CFF "), None);
        }
    }
}
