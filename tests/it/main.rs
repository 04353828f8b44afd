//! The one test program: what needs a database, a server or the source tree. One module for each part of the house.

mod bay;
mod candidates;
mod circuits;
mod command_line;
mod exports;
mod faults;
mod house;
mod marking;
mod postgres;
mod retain;
mod store;
mod support;
mod web;
