//! The one integration test program.

mod bay;
mod circuits;
mod marking;
mod support;
