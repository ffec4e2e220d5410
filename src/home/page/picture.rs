//! Pictures above the tables: a figure with what its marks mean, and the days' sessions as places to be filled.

use super::ask::Ask;
use crate::sitting::Slot;
use jiff::civil::Date;
use maud::{Markup, PreEscaped, html};

/// A drawing of ours, which the drawing code has escaped, with a sentence below it.
pub(super) fn figure(drawing: String, taps: Option<String>, says: &Markup) -> Markup {
    html! {
        figure.plot {
            div.drawn {
                (PreEscaped(drawing))
                @if let Some(taps) = taps { (PreEscaped(taps)) }
            }
            figcaption.small { (says) }
        }
    }
}

/// What became of one session.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum SessionMark {
    Complete,
    /// So many readings count, fewer than the protocol asks for.
    Begun,
    Missed,
    Due,
    ToCome,
}

impl SessionMark {
    const fn name(self) -> &'static str {
        match self {
            Self::Complete => "complete",
            Self::Begun => "begun",
            Self::Missed => "missed",
            Self::Due => "due",
            Self::ToCome => "to-come",
        }
    }
}

/// Each day of the period with a place for each of its sessions.
pub(super) fn progress(
    ask: &Ask,
    days: &[Date],
    slots: &[Slot],
    place: impl Fn(Date, Slot) -> SessionMark,
) -> Markup {
    html! {
        div.scroll tabindex="0" role="group" aria-label=(ask.say("progress")) { table.progress {
            caption.unseen { (ask.say("progress")) }
            thead {
                tr {
                    td {}
                    @for day in days {
                        th scope="col" {
                            span aria-hidden="true" { (ask.words.short_weekday(*day)) br; (day.day()) }
                            span.unseen { (ask.words.date(*day)) }
                        }
                    }
                }
            }
            tbody {
                @for slot in slots {
                    tr {
                        th.slot scope="row" { (ask.say(&format!("slot-{}", slot.name()))) }
                        @for day in days {
                            @let place = place(*day, *slot);
                            td { (mark(ask, place)) }
                        }
                    }
                }
            }
        } }
    }
}

/// A square: full, half full, empty; a dash where nothing came; with the accent what is next.
fn mark(ask: &Ask, place: SessionMark) -> Markup {
    html! {
        svg.place data-place=(place.name()) viewBox="0 0 12 12" role="img"
            aria-label=(ask.say(&format!("place-{}", place.name()))) {
            @match place {
                SessionMark::Complete => rect.filled x="1" y="1" width="10" height="10" {}
                SessionMark::Begun => {
                    rect.open x="1" y="1" width="10" height="10" {}
                    path.filled d="M1 6L11 6L11 11L1 11Z" {}
                }
                SessionMark::Missed => path.open d="M2 6L10 6" {}
                SessionMark::Due | SessionMark::ToCome => rect.open x="1" y="1" width="10" height="10" {}
            }
        }
    }
}
