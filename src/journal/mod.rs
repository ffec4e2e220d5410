//! The journal: frames and the household's statements, kept in SQLite, append-only, durable before anyone looks at
//! the bytes.
