//! Letters into glyphs: which face, in which order, and how wide.
//!
//! Latin, Greek and Cyrillic stand side by side and are set without more ado. Everything else is put into the order in
//! which it is seen (Unicode Standard Annex 9) and shaped by harfrust, which knows what each script asks for.

use super::faces::{Fonts, Weight, is_silent};
use crate::export::report::drawing::seen;
use harfrust::{Buffer, ClusterLevel, Direction, ShapeOptions, ShaperFont, shape};
use std::collections::BTreeSet;
use std::ops::Range;
use unicode_bidi::{BidiInfo, Level};
use unicode_script::{Script, UnicodeScript};

/// A line of text, from left to right as it is seen; places are in sizes of the letters.
#[derive(Default)]
pub(super) struct TextLine {
    pub(super) runs: Vec<Run>,
    pub(super) width: f32,
    /// Whether every letter is in a face.
    pub(super) exact: bool,
}

/// A stretch of one face.
pub(super) struct Run {
    pub(super) face: usize,
    pub(super) x: f32,
    pub(super) what: RunContent,
}

/// What a run is made of.
pub(super) enum RunContent {
    /// One glyph a letter, each as wide as its face has it.
    Simple(Vec<(u16, char)>),
    /// Letters that belong together, with what they became.
    Shaped(Vec<Cluster>),
}

/// Letters and their glyphs, each with its place from the start of the run.
pub(super) struct Cluster {
    pub(super) text: String,
    pub(super) glyphs: Vec<(u16, f32, f32)>,
}

impl Fonts {
    /// How wide a text is, in points.
    pub(super) fn width(&self, text: &str, weight: Weight, size: f32) -> f32 {
        let simple: Option<f32> = text
            .chars()
            .map(|letter| self.simple(letter, weight).map(|(_, wide)| wide))
            .sum();
        simple.unwrap_or_else(|| self.line(text, weight).width) * size
    }

    /// A text as a line.
    pub(super) fn line(&self, text: &str, weight: Weight) -> TextLine {
        let text: String = text.chars().filter_map(seen).collect();
        let mut line = TextLine {
            exact: true,
            ..TextLine::default()
        };
        if text.chars().all(|letter| self.simple(letter, weight).is_some()) {
            self.simple_run(&text, weight, &mut line);
            return line;
        }
        let order = BidiInfo::new(&text, Some(Level::ltr()));
        for paragraph in &order.paragraphs {
            let (levels, runs) = order.visual_runs(paragraph, paragraph.range.clone());
            for range in runs {
                let backwards = levels.get(range.start).is_some_and(Level::is_rtl);
                self.directed(&text, range, weight, backwards, &mut line);
            }
        }
        line
    }

    /// A stretch of one direction.
    fn directed(
        &self,
        text: &str,
        range: Range<usize>,
        weight: Weight,
        backwards: bool,
        line: &mut TextLine,
    ) {
        let mut stretches = self.stretches(text.get(range).unwrap_or_default(), weight);
        if backwards {
            stretches.reverse();
        }
        for (face, stretch) in stretches {
            let all_simple = || stretch.chars().all(|c| self.simple(c, weight).is_some());
            match face {
                Some(face) if face == Self::of(weight) && !backwards && all_simple() => {
                    self.simple_run(&stretch, weight, line);
                }
                Some(face) => self.shaped_run(face, &stretch, backwards, line),
                None => {
                    line.exact = false;
                    self.unknown_run(&stretch, weight, line);
                }
            }
        }
    }

    /// What one face has of one script, in the order in which it is read.
    fn stretches(&self, text: &str, weight: Weight) -> Vec<(Option<usize>, String)> {
        let mut stretches: Vec<(Option<usize>, String)> = Vec::new();
        let mut script = Script::Common;
        for letter in text.chars() {
            let before = stretches.last().and_then(|(face, _)| *face);
            let face = self.face_for(letter, weight, before);
            let own = letter.script();
            let of_any = matches!(own, Script::Common | Script::Inherited);
            let other_script = !of_any && script != Script::Common && own != script;
            match stretches.last_mut() {
                Some((last, stretch)) if *last == face && !other_script => stretch.push(letter),
                _ => {
                    stretches.push((face, letter.to_string()));
                    script = Script::Common;
                }
            }
            if !of_any {
                script = own;
            }
        }
        stretches
    }

    fn simple_run(&self, text: &str, weight: Weight, line: &mut TextLine) {
        let begins = line.width;
        let mut glyphs = Vec::with_capacity(text.len());
        for letter in text.chars() {
            if let Some((glyph, wide)) = self.simple(letter, weight) {
                glyphs.push((glyph, letter));
                line.width += wide;
            }
        }
        line.runs.push(Run {
            face: Self::of(weight),
            x: begins,
            what: RunContent::Simple(glyphs),
        });
    }

    /// A question mark for each letter that nobody has.
    fn unknown_run(&self, text: &str, weight: Weight, line: &mut TextLine) {
        let Some((glyph, wide)) = self.simple('?', weight) else {
            return;
        };
        let begins = line.width;
        let clusters = text.chars().map(|letter| {
            let at = line.width - begins;
            line.width += wide;
            Cluster {
                text: letter.to_string(),
                glyphs: vec![(glyph, at, 0.0)],
            }
        });
        let what = RunContent::Shaped(clusters.collect());
        let face = Self::of(weight);
        line.runs.push(Run {
            face,
            x: begins,
            what,
        });
    }

    fn shaped_run(&self, place: usize, text: &str, backwards: bool, line: &mut TextLine) {
        let Some(face) = self.faces().get(place) else {
            return;
        };
        let mut buffer = Buffer::new();
        buffer.set_cluster_level(ClusterLevel::MonotoneCharacters);
        buffer.push_str(text);
        buffer.set_direction(if backwards {
            Direction::RightToLeft
        } else {
            Direction::LeftToRight
        });
        buffer.guess_segment_properties();
        if shape(&ShaperFont::new(&face.font), &mut buffer, ShapeOptions::new()).is_err() {
            line.exact = false;
            return;
        }
        let begins: BTreeSet<u32> = buffer.glyph_infos().iter().map(|info| info.cluster).collect();
        let (mut clusters, mut last, mut x): (Vec<Cluster>, Option<u32>, f32) = (Vec::new(), None, 0.0);
        for (info, at) in buffer.glyph_infos().iter().zip(buffer.glyph_positions()) {
            if last != Some(info.cluster) {
                last = Some(info.cluster);
                let from = usize::try_from(info.cluster).unwrap_or(0);
                let to = begins.range(info.cluster.saturating_add(1)..).next();
                let to = to.map_or(text.len(), |to| usize::try_from(*to).unwrap_or(text.len()));
                clusters.push(Cluster {
                    text: text.get(from..to).unwrap_or_default().to_owned(),
                    glyphs: Vec::new(),
                });
            }
            let em = face.em();
            if let (Some(cluster), Ok(glyph)) = (clusters.last_mut(), u16::try_from(info.glyph_id)) {
                line.exact &= glyph != 0;
                cluster
                    .glyphs
                    .push((glyph, x + units(at.x_offset) / em, units(at.y_offset) / em));
            }
            x += units(at.x_advance) / em;
        }
        // A space of no width that stands for a letter which only steers shaping is not drawn.
        for cluster in &mut clusters {
            if cluster.text.chars().all(is_silent) {
                cluster.glyphs.clear();
            }
        }
        clusters.retain(|cluster| !cluster.glyphs.is_empty());
        line.runs.push(Run {
            face: place,
            x: line.width,
            what: RunContent::Shaped(clusters),
        });
        line.width += x;
    }

    /// Splits a text into lines that are no wider than that; a word that is wider is broken.
    pub(super) fn wrap(&self, text: &str, weight: Weight, size: f32, most: f32) -> Vec<String> {
        let of = |text: &str| self.width(text, weight, size);
        let space = of(" ");
        let mut lines = Vec::new();
        let (mut line, mut wide) = (String::new(), 0.0);
        for word in text.split_whitespace() {
            let word_wide = of(word);
            if !line.is_empty() && wide + space + word_wide <= most {
                line.push(' ');
                line.push_str(word);
                wide += space + word_wide;
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            wide = word_wide;
            if word_wide <= most {
                word.clone_into(&mut line);
                continue;
            }
            wide = 0.0;
            let mut letter = [0; 4];
            for c in word.chars() {
                let c_wide = of(c.encode_utf8(&mut letter));
                let joins = c.script() == Script::Inherited || is_silent(c);
                if wide + c_wide > most && !line.is_empty() && !joins {
                    lines.push(std::mem::take(&mut line));
                    wide = 0.0;
                }
                line.push(c);
                wide += c_wide;
            }
        }
        if !line.is_empty() || lines.is_empty() {
            lines.push(line);
        }
        lines
    }
}

/// Units of a face, of which a line has at most some hundred thousand.
#[expect(
    clippy::cast_precision_loss,
    reason = "places are exact to a sixteen-millionth, and paper is coarse"
)]
const fn units(value: i32) -> f32 {
    value as f32
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text_of(line: &TextLine) -> String {
        let run = |run: &Run| match &run.what {
            RunContent::Simple(glyphs) => glyphs.iter().map(|(_, letter)| *letter).collect::<String>(),
            RunContent::Shaped(clusters) => clusters.iter().map(|cluster| cluster.text.as_str()).collect(),
        };
        line.runs.iter().map(run).collect()
    }

    #[test]
    fn a_line_says_its_text_and_whether_a_letter_is_missing() {
        let fonts = Fonts::default();
        for (text, seen, exact) in [
            ("Zo\u{eb} \u{141}uk\u{e1}\u{161} \u{2013} 1", None, true),
            (
                "\u{391}\u{3bb}\u{3ad}\u{3be} \u{418}\u{432}\u{430}\u{43d}",
                None,
                true,
            ),
            ("e\u{301}t\u{e9}", None, true),
            // Hebrew is read from the right, and seen so.
            ("a \u{5d0}\u{5d1} b", Some("a \u{5d1}\u{5d0} b"), true),
            ("\u{906}", None, false),
            // What would turn the text behind it around is not there.
            ("a\u{202e}b", Some("ab"), true),
        ] {
            let line = fonts.line(text, Weight::Regular);
            assert_eq!(
                (text_of(&line).as_str(), line.exact),
                (seen.unwrap_or(text), exact)
            );
        }
    }

    /// The widths that printers' own sans-serif face has: 556 thousandths for each digit, 278 for a space.
    #[test]
    fn digits_are_as_wide_as_one_another() {
        let fonts = Fonts::default();
        for (text, thousandths) in [("0123456789", 5560.0), ("1 1", 1390.0)] {
            let wide = fonts.width(text, Weight::Bold, 1000.0);
            assert!((wide - thousandths).abs() < 3.0, "{wide}");
        }
    }

    #[test]
    fn lines_keep_their_width_and_lose_nothing() {
        let fonts = Fonts::default();
        let text = "one two three four five ".repeat(9) + &"x".repeat(90);
        let lines = fonts.wrap(&text, Weight::Regular, 10.0, 80.0);
        assert!(
            lines
                .iter()
                .all(|line| fonts.width(line, Weight::Regular, 10.0) <= 80.0)
        );
        assert_eq!(lines.concat().replace(' ', ""), text.replace(' ', ""));
        assert_eq!(fonts.wrap("", Weight::Bold, 10.0, 80.0), [""]);
    }
}
