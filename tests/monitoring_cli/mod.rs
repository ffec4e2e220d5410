//! From frames to what the command line says: the real binary on replayed JSON Lines, and the journal's derived tables
//! against themselves made anew. People, monitors and readings are invented.
mod clinic;
mod derived;
mod languages;
mod next;
mod notes;
mod one_period;
mod people;
mod period;
mod readings;
mod rebuild;
mod terminal;
mod trace;
mod unwritten;
mod whose;
mod years;
