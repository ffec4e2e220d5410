//! The household: the people, monitors and time zone that one installation serves, as a fold of what was stated.
