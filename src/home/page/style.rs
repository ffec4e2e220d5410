//! The page's script and style as browsers get them: without what is there for their readers only. A page with all that
//! it needs has at most 80 KiB.

use std::sync::LazyLock;

pub(super) static STYLE: LazyLock<String> = LazyLock::new(|| style(include_str!("page.css")));
pub(super) static SCRIPT: LazyLock<String> = LazyLock::new(|| script(include_str!("page.js")));
/// The same for the page that follows what happens.
pub(super) static NOW: LazyLock<String> =
    LazyLock::new(|| format!("{}\n{}", *SCRIPT, script(include_str!("now.js"))));

/// Without comments, ends of lines, and blanks that say nothing. Every line ends in a bracket, a semicolon or a comma.
fn style(text: &str) -> String {
    let mut bare = String::with_capacity(text.len());
    let mut rest = text;
    while let Some((before, comment)) = rest.split_once("/*") {
        bare.push_str(before);
        rest = comment.split_once("*/").map_or("", |(_, behind)| behind);
    }
    bare.push_str(rest);
    let mut style: String = bare.lines().map(str::trim).collect();
    for (blank, none) in [
        (" { ", "{"),
        (" {", "{"),
        ("; }", "}"),
        ("; ", ";"),
        (": ", ":"),
        (", ", ","),
    ] {
        style = style.replace(blank, none);
    }
    style
}

/// Without lines that are a comment, and without indentation.
fn script(text: &str) -> String {
    text.lines()
        .map(str::trim)
        .filter(|line| !line.is_empty() && !line.starts_with("//"))
        .collect::<Vec<_>>()
        .join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_says_something_stays() {
        let css = "/* Why. */\n:root { color: red; }\n@media (min-width: 9rem) {\n  a :focus, b { margin: 0 1px; }\n}\n";
        assert_eq!(
            style(css),
            ":root{color:red}@media (min-width:9rem) {a :focus,b{margin:0 1px}}".replace(") {", "){")
        );
        assert_eq!(
            script("// Why.\n  const a = 1; // one\n\n  b();\n"),
            "const a = 1; // one\nb();"
        );
    }

    /// What the style's own lines have to be for that.
    #[test]
    fn no_line_of_the_style_needs_its_end() {
        let mut comment = false;
        for line in include_str!("page.css")
            .lines()
            .map(str::trim)
            .filter(|line| !line.is_empty())
        {
            comment |= line.starts_with("/*");
            let ends = line.ends_with(['{', '}', ';', ',']);
            assert!(comment || ends, "{line}");
            comment &= !line.ends_with("*/");
        }
        assert!(!STYLE.contains("/*") && !STYLE.contains('\n'));
        assert_eq!(STYLE.matches('{').count(), STYLE.matches('}').count());
    }
}
