//! The server as its clients see it: real HTTP, a real database, signed-in actors.

mod garbage;
mod matrix;
mod people;
mod records;
mod respirators;
mod sign_in;
mod spec;
mod users;
