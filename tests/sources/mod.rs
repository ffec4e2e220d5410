//! The sources of frames other than the radio, checked from outside: files against independent readers and against
//! damage, the simulated household against the truth that it keeps beside its frames.

mod capture;
mod ear;
mod json_lines;
mod simulated;
mod source;
mod truth;
