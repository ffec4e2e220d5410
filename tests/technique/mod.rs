//! Technique, sessions, what comes next, what must not wait, and the care of the monitor, from the outside: tables of
//! edges with their sources, survey data against Python, and properties over arbitrary days.
mod care;
mod escalation;
mod made;
mod next;
mod properties;
mod reported;
mod rules;
mod sessions;
mod situations;
mod survey;
