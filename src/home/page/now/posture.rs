//! How to sit, item by item, each with its drawing: few lines, no face, and what is meant in the accent's ink.

use crate::words::Words;
use maud::{Markup, html};

/// What has to be right before a measurement, in the order in which it is done.
const ITEMS: std::ops::RangeInclusive<usize> = 1..=7;

/// The drawings, once for a page: what follows what happens only refers to them, and stays small.
pub(super) fn drawings() -> Markup {
    html! {
        svg.shapes aria-hidden="true" focusable="false" {
            // Somebody on a chair at a table, from the side, with the cuff on.
            symbol #sits viewBox="0 0 120 120" {
                path d="M6 112H114M32 44V76H62M34 76V112M60 76V112M72 60H114M108 60V112" {}
                circle cx="45" cy="22" r="9" {}
                path d="M44 32C38 44 37 60 40 70H72V106H84M45 40L63 58H92M54 41L61 48L54 55L47 48Z" {}
            }
            symbol #posture-1 viewBox="0 0 120 120" {
                path d="M34 22H58V56H34ZM30 56H86C86 74 76 82 68 84V104H46V84C38 80 34 70 34 56M40 30H46" {}
            }
            symbol #posture-2 viewBox="0 0 120 120" { use href="#sits" {} path.meant d="M32 44V76M38 42C35 54 35 62 37 71" {} }
            symbol #posture-3 viewBox="0 0 120 120" { use href="#sits" {} path.meant d="M72 92V106H86M64 112H94" {} }
            // From the front.
            symbol #posture-4 viewBox="0 0 120 120" {
                path d="M6 112H114M60 29V36M44 40H76L74 70H46ZM40 70H80M40 70V112M80 70V112" {}
                circle cx="60" cy="20" r="9" {}
                path.meant d="M51 72V107M69 72V107M51 107H45M69 107H75" {}
            }
            symbol #posture-5 viewBox="0 0 120 120" {
                use href="#sits" {}
                path.meant d="M45 40L63 58H92" {}
                path.level d="M38 48H104" {}
            }
            // The upper arm alone, the sleeve pushed up.
            symbol #posture-6 viewBox="0 0 120 120" {
                path d="M12 38C20 34 26 36 28 44V84M12 84H28M28 46C60 42 84 46 108 50M28 78C60 76 84 72 108 68" {}
                path d="M108 50C114 54 114 64 108 68M60 80C62 98 80 96 96 100" {}
                path.meant d="M46 42H74V80H46Z" {}
            }
            symbol #posture-7 viewBox="0 0 120 120" {
                circle cx="34" cy="52" r="14" {}
                path d="M12 108C14 84 22 74 34 74S54 84 56 108M62 46L54 52L66 54C66 62 72 64 80 64H98C106 64 112 60 112 52V30" {}
                path d="M112 30C112 24 108 20 100 20H80C70 20 64 24 64 32L62 46" {}
                path.meant d="M62 70L114 14" {}
            }
        }
    }
}

/// All of it as a list. The script shows one item at a time, where there is room for its size.
pub(super) fn how_to_sit(words: &Words) -> Markup {
    html! {
        section.technique aria-labelledby="how" {
            h2 #how { (words.say("technique")) }
            ol.points {
                @for item in ITEMS {
                    li {
                        svg.posture role="img" aria-label=(words.say(&format!("posture-{item}"))) {
                            use href={ "#posture-" (item) } {}
                        }
                        span { (words.say(&format!("technique-{item}"))) }
                    }
                }
            }
        }
    }
}
