//! Drawings within a page.
//!
//! Their colours are attributes of the drawing; the style sheet exchanges the known ones (`palette`) by its own, so that a
//! drawing follows light and dark.

use maud::{Markup, PreEscaped, html};

use crate::report::plots::Figure;

/// The drawing with its title and description for those who can't see it, its caption, and where its figures are.
///
/// Every drawing of a page has a name of its own: its anchors come from it.
pub fn figure(figure: &Figure) -> Markup {
    let (title, description) = (format!("{}-title", figure.name), format!("{}-description", figure.name));
    let titled = figure.svg.replacen("<title>", &format!("<title id=\"{title}\">"), 1);
    let described = html! { desc id=(description) { (figure.alt) } }.into_string();
    let titled = titled.replacen("</title>", &format!("</title>\n{described}"), 1);
    let svg = titled.replacen("<svg ", &format!("<svg role=\"img\" aria-labelledby=\"{title} {description}\" "), 1);
    html! {
        figure id={ "figure-" (figure.name) } {
            // Only shown where the drawing is wider than the screen.
            p class="sideways" aria-hidden="true" { "Wider than the screen: move it sideways to see all of it. ⟷" }
            div class="scroll" role="region" aria-label=(figure.alt) tabindex="0" { (PreEscaped(svg)) }
            figcaption { (sentence(&figure.alt)) " The figures behind it: " code { (figure.name) ".csv" } "." }
        }
    }
}

/// With the full stop that a caption needs before more follows.
fn sentence(text: &str) -> String {
    let text = text.trim_end();
    if text.ends_with(['.', '!', '?']) { text.to_string() } else { format!("{text}.") }
}

/// Several drawings.
pub fn figures<'a>(all: impl IntoIterator<Item = &'a Figure>) -> Markup {
    html! { @for one in all { (figure(one)) } }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_drawing_names_and_describes_itself() {
        let svg = "<svg width=\"8\" height=\"8\">\n<title>Waits</title>\n<rect/>\n</svg>\n".to_string();
        let drawn = Figure { name: "waits", svg, csv: Vec::new(), alt: "Share of <arrivals>.".to_string() };
        let text = figure(&drawn).into_string();
        assert!(text.contains("<figcaption>Share of &lt;arrivals&gt;. The figures behind it:"), "{text}");
        let bare = Figure { alt: "over the way".to_string(), ..drawn.clone() };
        assert!(figure(&bare).into_string().contains("<figcaption>over the way. The figures behind it:"));
        assert!(text.contains("<svg role=\"img\" aria-labelledby=\"waits-title waits-description\" width"), "{text}");
        assert!(text.contains("<title id=\"waits-title\">Waits</title>"), "{text}");
        assert!(text.contains("<desc id=\"waits-description\">Share of &lt;arrivals&gt;.</desc>"), "{text}");
    }
}
