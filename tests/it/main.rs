//! The one integration test program.

mod circuits;
mod marking;
mod support;
