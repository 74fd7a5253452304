//! A gate without a browser: it holds a signed pack, answers alone, and delivers its scans when it can.
//!
//! The answer is [`sellion_badge::Pack::answer`], the same pure function wherever it runs. What is here is what
//! surrounds it: the pack on the disk ([`held`]), the gate's clock and the doubts about it ([`doubt`]), the scans that wait
//! ([`queue`]), the server ([`server`]), and what the person at the gate sees ([`show`]).

pub mod clock;
pub mod delivery;
pub mod doubt;
pub mod gate;
pub mod held;
pub mod home;
pub mod queue;
pub mod server;
pub mod show;
pub mod status;
pub mod watch;
pub mod words;
