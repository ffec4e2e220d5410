//! The real binary, from outside: what it does with bad input, and what scripts rely on.
//!
//! Every failure has to be one clear sentence with what to do, and the exit code of sysexits.h that says the same;
//! nothing may be lost, and nothing may panic, which every call here looks for.

mod care;
mod demonstration;
mod documented;
mod hazards;
mod help;
mod hostile;
mod layers;
mod machine;
mod output;
mod overhear;
mod pairing;
mod place;
mod readme;
mod repository;
mod round;
mod stranger;
mod unwritable;
