//! A page as a whole: head, style, title, navigation, sections, scripts.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::report::number::unbroken;

/// The style of all pages.
pub const STYLE: &str = include_str!("style.css");

/// Makes tables sortable. Without it they are plain tables.
const SORT: &str = include_str!("sort.js");

/// The page may use its own style and script and nothing else: a browser refuses every fetch.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data:";

/// Fewest sections that get a list of links to them.
const NAVIGATION_FROM: usize = 4;

/// One section.
pub struct Section {
    /// Its anchor: lower case, no spaces, unique on the page.
    pub id: String,
    /// Its heading.
    pub heading: String,
    /// What stands in it; headings in it begin at `h3`.
    pub body: Markup,
}

impl Section {
    /// A section.
    pub fn new(id: impl Into<String>, heading: impl Into<String>, body: Markup) -> Section {
        Section { id: id.into(), heading: heading.into(), body }
    }
}

/// A page.
pub struct Document<'a> {
    /// Title in the browser's tab.
    pub title: String,
    /// Heading of the page.
    pub heading: String,
    /// What stands below the heading, before the first section: what was played, warnings.
    pub lead: Markup,
    /// The sections, the answer first.
    pub sections: Vec<Section>,
    /// Further style.
    pub styles: &'a [&'a str],
    /// Further scripts, run after the page is there. They must not contain `</script`.
    pub scripts: &'a [&'a str],
}

impl Document<'_> {
    /// The page's text.
    pub fn render(&self) -> String {
        let page = html! {
            (DOCTYPE)
            html lang="en" {
                head {
                    meta charset="utf-8";
                    meta name="viewport" content="width=device-width, initial-scale=1";
                    meta http-equiv="Content-Security-Policy" content=(POLICY);
                    meta name="color-scheme" content="light dark";
                    title { (self.title) }
                    style { (PreEscaped(STYLE)) }
                    @for style in self.styles { style { (PreEscaped(style)) } }
                }
                body {
                    header { h1 { (self.heading) } (self.lead) }
                    @if self.sections.len() >= NAVIGATION_FROM {
                        nav aria-label="Sections" {
                            ul {
                                @for section in &self.sections {
                                    li { a href={ "#" (section.id) } { (section.heading) } }
                                }
                            }
                        }
                    }
                    main {
                        @for section in &self.sections {
                            section aria-labelledby=(section.id) {
                                h2 id=(section.id) { (section.heading) }
                                (section.body)
                            }
                        }
                    }
                    script { (PreEscaped(SORT)) }
                    @for script in self.scripts { script { (PreEscaped(script)) } }
                }
            }
        };
        page.into_string()
    }
}

/// Data for a script: a JSON document in the page, found by `id`. Nothing in it can end the element early.
pub fn data(id: &str, json: &str) -> Markup {
    html! { script type="application/json" id=(id) { (PreEscaped(json.replace('<', "\\u003c"))) } }
}

/// A paragraph.
pub fn paragraph(text: &str) -> Markup {
    html! { p { (unbroken(text)) } }
}

/// A paragraph of lesser weight: legends, provenance.
pub fn note(text: &str) -> Markup {
    html! { p class="quiet" { (unbroken(text)) } }
}

/// A list of sentences; nothing if there are none.
pub fn list<T: AsRef<str>>(items: &[T]) -> Markup {
    html! { @if !items.is_empty() { ul { @for item in items { li { (item.as_ref()) } } } } }
}

/// Warnings, each in its box.
pub fn warnings<T: AsRef<str>>(warnings: &[T]) -> Markup {
    html! { @for warning in warnings { p class="warning" { strong { "Warning: " } (warning.as_ref()) } } }
}

/// Something that is folded away until it is asked for; open on paper.
pub fn folded(summary: &str, body: &Markup) -> Markup {
    html! { details { summary { (summary) } (body) } }
}

/// Something long that says again what stands elsewhere on the page: folded away, on paper too.
pub fn appendix(summary: &str, body: &Markup) -> Markup {
    html! { details class="appendix" { summary { (summary) } (body) } }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn data_can_not_end_its_element() {
        let text = data("events", r#"{"who":"</script><b>"}"#).into_string();
        assert_eq!(text, r#"<script type="application/json" id="events">{"who":"\u003c/script>\u003cb>"}</script>"#);
    }

    #[test]
    fn text_is_escaped() {
        assert_eq!(paragraph("a < b & \"c\"").into_string(), "<p>a &lt; b &amp; &quot;c&quot;</p>");
    }
}
