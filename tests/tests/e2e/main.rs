//! The server as its clients see it: real HTTP, a real database, signed-in actors.

mod sign_in;
