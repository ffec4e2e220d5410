//! What is drawn on a page, octet by octet of its content.

use super::embed::{Used, letter_of, name_of_face};
use super::faces::{Fonts, Weight};
use super::letters::{Cluster, RunContent};
use crate::export::report::drawing::{Anchor, Shape};
use pdf_writer::types::TextRenderingMode;
use pdf_writer::{Content, Name, Str, TextStr};

/// The accent: what the reader must do, never a judgement.
const ACCENT: [f32; 3] = [0.11, 0.31, 0.56];
/// A face without a bold one is drawn with an edge of so many sizes of its letters.
const EDGE: f32 = 0.03;

#[derive(Clone, Copy)]
pub(super) enum Colour {
    Ink,
    Soft,
    Accent,
}

/// Draws on one page, in points from its lower left corner.
pub(super) struct Pencil<'a> {
    pub(super) content: &'a mut Content,
    pub(super) fonts: &'a Fonts,
    pub(super) used: &'a mut Vec<Used>,
    /// Whether every letter was in a face.
    pub(super) exact: bool,
}

impl Pencil<'_> {
    pub(super) fn paint(&mut self, colour: Colour) {
        match colour {
            Colour::Ink => self.content.set_fill_gray(0.08),
            Colour::Soft => self.content.set_fill_gray(0.3),
            Colour::Accent => self.content.set_fill_rgb(ACCENT[0], ACCENT[1], ACCENT[2]),
        };
        match colour {
            Colour::Ink => self.content.set_stroke_gray(0.08),
            Colour::Soft => self.content.set_stroke_gray(0.3),
            Colour::Accent => self.content.set_stroke_rgb(ACCENT[0], ACCENT[1], ACCENT[2]),
        };
    }

    pub(super) fn rule(&mut self, [x1, y1, x2, y2]: [f32; 4], width: f32, colour: Colour) {
        self.content.set_line_width(width);
        match colour {
            Colour::Accent => self.content.set_stroke_rgb(ACCENT[0], ACCENT[1], ACCENT[2]),
            Colour::Soft => self.content.set_stroke_gray(0.7),
            Colour::Ink => self.content.set_stroke_gray(0.1),
        };
        self.content.move_to(x1, y1).line_to(x2, y2).stroke();
    }

    /// A line of text, by the left end of its base line.
    pub(super) fn text(&mut self, (x, y): (f32, f32), weight: Weight, size: f32, text: &str) {
        let line = self.fonts.line(text, weight);
        self.exact &= line.exact;
        for run in &line.runs {
            let bolder =
                weight == Weight::Bold && self.fonts.faces().get(run.face).is_some_and(|face| !face.bold);
            let at = (x + run.x * size, y);
            self.content.begin_text();
            self.content
                .set_font(Name(name_of_face(run.face).as_bytes()), size);
            if bolder {
                self.content
                    .set_text_rendering_mode(TextRenderingMode::FillStroke)
                    .set_line_width(size * EDGE);
            }
            match &run.what {
                RunContent::Simple(glyphs) => self.simple(run.face, at, glyphs),
                RunContent::Shaped(clusters) => {
                    for cluster in clusters {
                        self.cluster(run.face, at, size, cluster);
                    }
                }
            }
            if bolder {
                self.content.set_text_rendering_mode(TextRenderingMode::Fill);
            }
            self.content.end_text();
        }
    }

    fn simple(&mut self, face: usize, (x, y): (f32, f32), glyphs: &[(u16, char)]) {
        let Some(used) = self.used.get_mut(face) else {
            return;
        };
        let mut codes = Vec::with_capacity(2 * glyphs.len());
        let mut letter = [0; 4];
        for (glyph, says) in glyphs {
            let (number, _) = used.says(*glyph, says.encode_utf8(&mut letter));
            Used::push(&mut codes, number);
        }
        self.content.next_line(x, y).show(Str(&codes));
    }

    /// Letters that belong together, each glyph at its own place. Where the glyphs do not say by themselves which
    /// letters they are, the letters stand beside them.
    fn cluster(&mut self, face: usize, (x, y): (f32, f32), size: f32, cluster: &Cluster) {
        let Some(used) = self.used.get_mut(face) else {
            return;
        };
        let mut by_itself = cluster.glyphs.len() == 1;
        let mut glyphs = Vec::with_capacity(cluster.glyphs.len());
        for (place, (glyph, dx, dy)) in cluster.glyphs.iter().enumerate() {
            let own = (place > 0)
                .then(|| letter_of(self.fonts.faces().get(face)?, *glyph))
                .flatten()
                .map(String::from);
            let (number, said) = used.says(*glyph, own.as_deref().unwrap_or(&cluster.text));
            by_itself &= said;
            glyphs.push((number, x + dx * size, y + dy * size));
        }
        if !by_itself {
            // Readers look for it at spans only.
            let mut span = self.content.begin_marked_content_with_properties(Name(b"Span"));
            span.properties().actual_text(TextStr(&cluster.text));
        }
        for (number, x, y) in glyphs {
            let mut code = Vec::with_capacity(2);
            Used::push(&mut code, number);
            self.content
                .set_text_matrix([1.0, 0.0, 0.0, 1.0, x, y])
                .show(Str(&code));
        }
        if !by_itself {
            self.content.end_marked_content();
        }
    }

    /// A shape whose origin is there, `top` counting from the bottom of the page.
    pub(super) fn shape(&mut self, x: f32, top: f32, shape: &Shape) {
        let content = &mut *self.content;
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
                let wide = self.fonts.width(text, Weight::Regular, *size);
                let aside = match anchor {
                    Anchor::Start => 0.0,
                    Anchor::Middle => wide / 2.0,
                    Anchor::End => wide,
                };
                self.paint(Colour::Ink);
                self.text((x + tx - aside, top - ty), Weight::Regular, *size, text);
            }
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
