//! The answer: a box with a sentence, marks for single verdicts, and the few figures that matter.
//!
//! Every tone has a word and a sign besides its colour.

use maud::{Markup, html};

use crate::report::number::unbroken;
use crate::study::result::Verdict;

/// How good an answer is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tone {
    /// As wished.
    Good,
    /// Not as wished.
    Bad,
    /// Not decided, or near the edge.
    Open,
    /// Neither.
    Plain,
}

impl Tone {
    fn class(self) -> &'static str {
        match self {
            Tone::Good => "good",
            Tone::Bad => "bad",
            Tone::Open => "open",
            Tone::Plain => "plain",
        }
    }

    fn sign(self) -> &'static str {
        match self {
            Tone::Good => "✓",
            Tone::Bad => "✕",
            Tone::Open => "?",
            Tone::Plain => "",
        }
    }
}

impl From<Verdict> for Tone {
    fn from(verdict: Verdict) -> Tone {
        match verdict {
            Verdict::Met => Tone::Good,
            Verdict::NotMet => Tone::Bad,
            Verdict::Undecided { .. } => Tone::Open,
        }
    }
}

/// A verdict's word with its sign.
pub fn badge(tone: Tone, word: &str) -> Markup {
    html! {
        span class={ "badge " (tone.class()) } {
            @if !tone.sign().is_empty() { span aria-hidden="true" { (tone.sign()) " " } }
            (word)
        }
    }
}

/// The answer in a box: a sentence, and more sentences below it.
pub fn verdict<T: AsRef<str>>(tone: Tone, answer: &str, more: &[T]) -> Markup {
    html! {
        div class={ "verdict " (tone.class()) } {
            p class="answer" {
                @if !tone.sign().is_empty() { span class="sign" aria-hidden="true" { (tone.sign()) } }
                (unbroken(answer))
            }
            @for sentence in more { p { (unbroken(sentence.as_ref())) } }
        }
    }
}

/// One of the few figures that matter.
pub struct Fact {
    /// What it is, with its unit.
    pub name: String,
    /// Its value as shown.
    pub value: String,
    /// Its interval, or what else belongs to it; may be empty.
    pub note: String,
}

/// The few figures that matter, side by side.
pub fn facts(facts: &[Fact]) -> Markup {
    html! {
        dl class="facts" {
            @for fact in facts {
                div {
                    dt { (fact.name) }
                    dd { (fact.value) @if !fact.note.is_empty() { small { (fact.note) } } }
                }
            }
        }
    }
}
