//! Programs made by others, to check our files with: Python with what tests/outside/requirements.txt names.

use std::path::PathBuf;
use std::process::Command;

/// Runs a script of tests/outside with these arguments and answers what it printed; panics with what it said where it
/// fails. `sh tests/run` makes the Python that is used here; without it the one on the path has to have the packages.
pub fn python(script: &str, arguments: &[&str]) -> String {
    let root = PathBuf::from(env!("CARGO_MANIFEST_DIR"));
    let made = root.join("target/outside/bin/python");
    let python = if made.exists() { made } else { PathBuf::from("python3") };
    let output = Command::new(&python).arg(root.join("tests/outside").join(script)).args(arguments).output();
    let output = output.unwrap_or_else(|why| panic!("{} cannot be run: {why}", python.display()));
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{script} {arguments:?}: {said}{}", String::from_utf8_lossy(&output.stdout));
    String::from_utf8(output.stdout).unwrap()
}

/// Runs a module of tests/outside with Node and what tests/outside/package.json names; likewise.
pub fn node(module: &str, arguments: &[&str]) -> String {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/outside");
    let output = Command::new("node").arg(folder.join(module)).args(arguments).output();
    let output = output.unwrap_or_else(|why| panic!("node cannot be run: {why}"));
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{module} {arguments:?}: {said}{}", String::from_utf8_lossy(&output.stdout));
    String::from_utf8(output.stdout).unwrap()
}

/// Runs a program that is on the path, gives it a file of these bytes, and answers what it printed about it.
pub fn program(name: &str, before: &[&str], bytes: &[u8], after: &[&str]) -> String {
    let file = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(format!("{name}-{}", super::centre::new_id()));
    std::fs::write(&file, bytes).unwrap();
    let output = Command::new(name).args(before).arg(&file).args(after).output();
    std::fs::remove_file(&file).unwrap();
    let output = output.unwrap_or_else(|why| panic!("{name} cannot be run: {why}; sh tests/run installs it"));
    assert!(output.status.success(), "{name}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}
