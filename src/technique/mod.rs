//! How well it was measured: every rule in one place, each with its source and a sentence for the person.
