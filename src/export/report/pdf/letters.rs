//! The letters of the PDF: their codes and their widths.
//!
//! The fonts are Helvetica and Helvetica-Bold, two of the fourteen that every PDF viewer brings along, in the
//! encoding WinAnsi (ISO 32000-1, annex D): the Latin letters of western Europe. Accented Latin letters
//! beyond them lose the accent, any other letter becomes `?`; the true text goes along as `ActualText`, which
//! copying and reading aloud use, and the report says so. A font that had every script would be larger than
//! the whole program.

/// Widths of the codes from 32 on, in thousandths of the size: Adobe's Core 14 font metrics.
const REGULAR: [u16; 224] = [
    278, 278, 355, 556, 556, 889, 667, 191, 333, 333, 389, 584, 278, 333, 278, 278, 556, 556, 556, 556, 556,
    556, 556, 556, 556, 556, 278, 278, 584, 584, 584, 556, 1015, 667, 667, 722, 722, 667, 611, 778, 722, 278,
    500, 667, 556, 833, 722, 778, 667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 278, 278, 278, 469,
    556, 333, 556, 556, 500, 556, 556, 278, 556, 556, 222, 222, 500, 222, 833, 556, 556, 556, 556, 333, 500,
    278, 556, 500, 722, 500, 500, 500, 334, 260, 334, 584, 350, 556, 350, 222, 556, 333, 1000, 556, 556, 333,
    1000, 667, 333, 1000, 350, 611, 350, 350, 222, 222, 333, 333, 350, 556, 1000, 333, 1000, 500, 333, 944,
    350, 500, 667, 278, 333, 556, 556, 556, 556, 260, 556, 333, 737, 370, 556, 584, 333, 737, 333, 400, 584,
    333, 333, 333, 556, 537, 278, 333, 333, 365, 556, 834, 834, 834, 611, 667, 667, 667, 667, 667, 667, 1000,
    722, 667, 667, 667, 667, 278, 278, 278, 278, 722, 722, 778, 778, 778, 778, 778, 584, 778, 722, 722, 722,
    722, 667, 667, 611, 556, 556, 556, 556, 556, 556, 889, 500, 556, 556, 556, 556, 278, 278, 278, 278, 556,
    556, 556, 556, 556, 556, 556, 584, 611, 556, 556, 556, 556, 500, 556, 500,
];
/// The same in bold.
const BOLD: [u16; 224] = [
    278, 333, 474, 556, 556, 889, 722, 238, 333, 333, 389, 584, 278, 333, 278, 278, 556, 556, 556, 556, 556,
    556, 556, 556, 556, 556, 333, 333, 584, 584, 584, 611, 975, 722, 722, 722, 722, 667, 611, 778, 722, 278,
    556, 722, 611, 833, 722, 778, 667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 333, 278, 333, 584,
    556, 333, 556, 611, 556, 611, 556, 333, 611, 611, 278, 278, 556, 278, 889, 611, 611, 611, 611, 389, 556,
    333, 611, 556, 778, 556, 556, 500, 389, 280, 389, 584, 350, 556, 350, 278, 556, 500, 1000, 556, 556, 333,
    1000, 667, 333, 1000, 350, 611, 350, 350, 278, 278, 500, 500, 350, 556, 1000, 333, 1000, 556, 333, 944,
    350, 500, 667, 278, 333, 556, 556, 556, 556, 280, 556, 333, 737, 370, 556, 584, 333, 737, 333, 400, 584,
    333, 333, 333, 611, 556, 278, 333, 333, 365, 556, 834, 834, 834, 611, 722, 722, 722, 722, 722, 722, 1000,
    722, 667, 667, 667, 667, 278, 278, 278, 278, 722, 722, 778, 778, 778, 778, 778, 584, 778, 722, 722, 722,
    722, 667, 667, 611, 556, 556, 556, 556, 556, 556, 889, 556, 556, 556, 556, 556, 278, 278, 278, 278, 611,
    611, 611, 611, 611, 611, 611, 584, 611, 611, 611, 611, 611, 556, 611, 556,
];

/// The weight of the letters.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Weight {
    Regular,
    Bold,
}

/// The characters of the codes 128 to 159; none where the code has none of its own.
const WINDOWS: &str = "\u{20ac}\0\u{201a}\u{192}\u{201e}\u{2026}\u{2020}\u{2021}\u{2c6}\u{2030}\u{160}\u{2039}\u{152}\0\u{17d}\0\
                       \0\u{2018}\u{2019}\u{201c}\u{201d}\u{2022}\u{2013}\u{2014}\u{2dc}\u{2122}\u{161}\u{203a}\u{153}\0\u{17e}\u{178}";

/// Accented letters without the accent: from the first character on, one for each.
const BASES: [(u32, &str); 3] = [
    // Latin Extended-A
    (
        0x100,
        "AaAaAaCcCcCcCcDdDdEeEeEeEeEeGgGgGgGgHhHhIiIiIiIiIiIiJjKkkLlLlLlLlLlNnNnNnnNnOoOoOoOoRrRrRrSsSsSsSsTtTtTtUuUuUuUuUuUuWwYyYZzZzZzs",
    ),
    // Romanian
    (0x218, "SsTt"),
    // Vietnamese
    (
        0x1ea0,
        "AaAaAaAaAaAaAaAaAaAaAaAaEeEeEeEeEeEeEeEeIiIiOoOoOoOoOoOoOoOoOoOoOoOoUuUuUuUuUuUuUuYyYyYyYy",
    ),
];

/// The codes of a text, and whether they say the same as it does.
pub(super) fn encode(text: &str) -> (Vec<u8>, bool) {
    let mut exact = true;
    let mut codes = Vec::with_capacity(text.len());
    for c in text.chars() {
        match c {
            ' '..='~' | '\u{a1}'..='\u{ff}' => codes.extend(u8::try_from(c)),
            '\u{2212}' => codes.push(b'-'),
            c if c.is_whitespace() => codes.push(b' '),
            c => {
                if let Some(place) = WINDOWS.chars().position(|other| other == c && c != '\0') {
                    codes.push(u8::try_from(place).unwrap_or(0).saturating_add(128));
                    continue;
                }
                exact = false;
                // An accent that stands for itself goes, the letter before it stays.
                if !('\u{300}'..='\u{36f}').contains(&c) {
                    codes.push(base(c).unwrap_or(b'?'));
                }
            }
        }
    }
    (codes, exact)
}

fn base(c: char) -> Option<u8> {
    BASES.iter().find_map(|(from, bases)| {
        let place = (c as u32).checked_sub(*from)?;
        bases.as_bytes().get(usize::try_from(place).ok()?).copied()
    })
}

/// How wide codes are, in points.
pub(super) fn width(codes: &[u8], weight: Weight, size: f32) -> f32 {
    let widths = match weight {
        Weight::Regular => &REGULAR,
        Weight::Bold => &BOLD,
    };
    let thousandths = codes
        .iter()
        .filter_map(|code| widths.get(usize::from(code.checked_sub(32)?)));
    thousandths.map(|width| f32::from(*width)).sum::<f32>() * size / 1000.0
}

/// Splits a text into lines that are no wider than that; a word that is wider is broken.
pub(super) fn wrap(text: &str, weight: Weight, size: f32, most: f32) -> Vec<String> {
    let of = |text: &str| width(&encode(text).0, weight, size);
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
            if wide + c_wide > most && !line.is_empty() {
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn western_letters_have_codes_and_others_say_that_they_have_none() {
        assert_eq!(encode("Zo\u{eb} \u{2013} 1"), (b"Zo\xeb \x96 1".to_vec(), true));
        assert_eq!(encode("\u{160}imi\u{107}"), (b"\x8aimic".to_vec(), false));
        assert_eq!(encode("\u{15f}\u{219}\u{1ec7}"), (b"sse".to_vec(), false));
        assert_eq!(encode("\u{906}\u{936}\u{93e}"), (b"???".to_vec(), false));
        assert_eq!(encode("e\u{301}"), (b"e".to_vec(), false));
    }

    #[test]
    fn lines_keep_their_width_and_lose_nothing() {
        let text = "one two three four five ".repeat(9) + &"x".repeat(90);
        let lines = wrap(&text, Weight::Regular, 10.0, 80.0);
        assert!(
            lines
                .iter()
                .all(|line| width(&encode(line).0, Weight::Regular, 10.0) <= 80.0)
        );
        assert_eq!(lines.concat().replace(' ', ""), text.replace(' ', ""));
        assert_eq!(wrap("", Weight::Bold, 10.0, 80.0), [""]);
    }
}
