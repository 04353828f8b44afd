//! The one integration test program.

mod marking;
mod support;
