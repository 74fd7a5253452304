//! Movements: what left bottles by another way than a fill, pieces that came and went, and what was counted.

mod bottle;
mod piece;

pub use bottle::{NewBottleMovement, create as create_bottle_movement};
pub use piece::{NewPieceMovement, ScannedBox, create as create_piece_movement};
