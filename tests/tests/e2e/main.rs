//! The server as its clients see it: real HTTP, a real database, signed-in actors.

mod calls;
mod check_in;
mod days;
mod faults;
mod garbage;
mod matrix;
mod people;
mod records;
mod respirators;
mod sign_in;
mod spec;
mod supplies;
mod users;
