//! Sessions, protocols, periods and the average.
