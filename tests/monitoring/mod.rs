//! Averages, protocols and patterns, checked from outside: published examples and survey data, independent
//! implementations in Python, and simulated people whose truth is known.
mod clinician;
mod edges;
mod oracle;
mod period;
mod protocols;
mod published;
mod simulated;
mod week;
