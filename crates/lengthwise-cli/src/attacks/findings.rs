//! What attacks found, each with a test of its own.
