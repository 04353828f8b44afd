//! The store on a real PostgreSQL.

mod apart;
mod candidates;
mod concurrency;
mod desk;
mod evidence;
mod feedback;
mod gathered;
mod keeping;
mod keeping_runs;
mod migrations;
mod people;
mod permanence;
mod planning;
mod releases;
mod reviews;
mod signing;
mod task_drafts;
