//! A plot as plain shapes, in points with y downwards, before it becomes SVG or PDF.

use std::fmt::Write;

/// Shapes in the order in which they are drawn.
pub(super) struct Drawing {
    /// The width and the height of the drawing, in points.
    pub(super) width: f32,
    pub(super) height: f32,
    /// What it is, for those who do not see it.
    pub(super) title: String,
    /// What it shows.
    pub(super) description: String,
    /// What is drawn.
    pub(super) shapes: Vec<Shape>,
}

/// A shape of a drawing; its places and sizes are in points.
pub(super) enum Shape {
    /// Straight lines, each with x and y of its one end, then x and y of its other end.
    Strokes(Pen, Vec<[f32; 4]>),
    /// A triangle, filled or open.
    Triangle(bool, [(f32, f32); 3]),
    /// A circle, filled or open, by its centre.
    Dot(bool, (f32, f32), f32),
    /// A line of text, by the end of it that is anchored and its base line.
    Text(Anchor, (f32, f32), f32, String),
}

/// How a stroke is drawn.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Pen {
    /// What was measured.
    Ink,
    /// Axes and days.
    Faint,
    /// The line at a limit of the threshold.
    Dashed,
    /// The line at a mean.
    Heavy,
}

impl Pen {
    /// Its width in points, its grey from 0 for ink to 1 for paper, and its dashes.
    pub(super) const fn look(self) -> (f32, f32, Option<[f32; 2]>) {
        match self {
            Self::Ink => (0.9, 0.1, None),
            Self::Faint => (0.5, 0.75, None),
            Self::Dashed => (0.8, 0.1, Some([5.0, 3.0])),
            Self::Heavy => (1.6, 0.1, None),
        }
    }

    const fn class(self) -> &'static str {
        match self {
            Self::Ink => "ink",
            Self::Faint => "faint",
            Self::Dashed => "dashed",
            Self::Heavy => "heavy",
        }
    }
}

/// Which end of a text is anchored.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

impl Drawing {
    /// As an SVG element with title and description; `id` tells it from the others of its page.
    pub(super) fn svg(&self, out: &mut String, id: &str) {
        let _ = write!(
            out,
            "<svg viewBox=\"0 0 {} {}\" role=\"img\" aria-labelledby=\"{id}-t {id}-d\"><title id=\"{id}-t\">{}</title>\
             <desc id=\"{id}-d\">{}</desc>",
            self.width,
            self.height,
            Escaped(&self.title),
            Escaped(&self.description)
        );
        for shape in &self.shapes {
            let _ = match shape {
                Shape::Strokes(pen, strokes) => strokes_svg(out, *pen, strokes),
                Shape::Triangle(filled, [a, b, c]) => write!(
                    out,
                    "<path class=\"{}\" d=\"M{} {}L{} {}L{} {}Z\"/>",
                    fill(*filled),
                    short(a.0),
                    short(a.1),
                    short(b.0),
                    short(b.1),
                    short(c.0),
                    short(c.1)
                ),
                Shape::Dot(filled, (x, y), r) => write!(
                    out,
                    "<circle class=\"{}\" cx=\"{}\" cy=\"{}\" r=\"{r}\"/>",
                    fill(*filled),
                    short(*x),
                    short(*y)
                ),
                Shape::Text(anchor, (x, y), size, text) => write!(
                    out,
                    "<text x=\"{}\" y=\"{}\" font-size=\"{size}\" text-anchor=\"{}\">{}</text>",
                    short(*x),
                    short(*y),
                    match anchor {
                        Anchor::Start => "start",
                        Anchor::Middle => "middle",
                        Anchor::End => "end",
                    },
                    Escaped(text)
                ),
            };
        }
        out.push_str("</svg>");
    }
}

fn strokes_svg(out: &mut String, pen: Pen, strokes: &[[f32; 4]]) -> std::fmt::Result {
    if strokes.is_empty() {
        return Ok(());
    }
    write!(out, "<path class=\"{}\" d=\"", pen.class())?;
    for [x1, y1, x2, y2] in strokes {
        write!(
            out,
            "M{} {}L{} {}",
            short(*x1),
            short(*y1),
            short(*x2),
            short(*y2)
        )?;
    }
    out.write_str("\"/>")
}

const fn fill(filled: bool) -> &'static str {
    if filled { "filled" } else { "open" }
}

/// To a hundredth of a point.
fn short(value: f32) -> f32 {
    (value * 100.0).round() / 100.0
}

/// Text for HTML and SVG, between tags and between quotes. Characters that neither may hold become
/// `\u{fffd}`.
pub(in crate::export) struct Escaped<'a>(pub(in crate::export) &'a str);

impl std::fmt::Display for Escaped<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        for c in self.0.chars().filter_map(seen) {
            match c {
                '&' => f.write_str("&amp;")?,
                '<' => f.write_str("&lt;")?,
                '>' => f.write_str("&gt;")?,
                '"' => f.write_str("&quot;")?,
                '\'' => f.write_str("&#39;")?,
                c => f.write_char(c)?,
            }
        }
        Ok(())
    }
}

/// A character as it may stand in a file: what none may hold becomes `\u{fffd}`.
pub(super) fn seen(c: char) -> Option<char> {
    match c {
        '\t' | '\n' | '\r' => Some(' '),
        c if c.is_control() || ('\u{fdd0}'..='\u{fdef}').contains(&c) || c as u32 & 0xfffe == 0xfffe => {
            Some('\u{fffd}')
        }
        // Overrides of direction could make a label swallow the text behind it.
        '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => None,
        c => Some(c),
    }
}
