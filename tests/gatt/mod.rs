//! Decoding against what others say the bytes mean: worked examples, encode-decode round trips, and tshark.

mod capture;
mod command;
mod corpus;
mod definitions;
mod examples;
mod round_trip;
mod tshark;
