//! The arrows of the house: what each part of the source must not know.

use std::path::{Path, PathBuf};

/// The pure parts: no screen, no database, no clock, no chance.
const PURE: [&str; 7] =
    ["src/reading", "src/bay", "src/marking", "src/planning", "src/candidates", "src/quality", "src/seal"];

const NOT_IN_PURE: [&str; 20] = [
    "axum",
    "sqlx",
    "tokio",
    "askama",
    "tower",
    "hyper",
    "rand",
    "rustix",
    "crate::store",
    "crate::web",
    "crate::export",
    "crate::postgres",
    "crate::config",
    "crate::clock",
    "SystemTime",
    "Instant::now",
    "now_utc",
    "now_v4",
    "now_v7",
    "new_v4",
];

/// Macros and functions that hold SQL.
const SQL: [&str; 4] = ["sqlx::query", "sqlx::raw_sql", "query_as!", "query_scalar!"];

/// Words of `forbidden` that stand in the source outside comments, each with its line.
fn breaches(source: &str, forbidden: &[&'static str]) -> Vec<(usize, &'static str)> {
    let code = source.lines().enumerate().filter(|(_, line)| !line.trim_start().starts_with("//"));
    code.flat_map(|(at, line)| forbidden.iter().filter(|word| holds(line, word)).map(move |word| (at + 1, *word)))
        .collect()
}

/// Whether a line holds a word, and not as a part of a longer one.
fn holds(line: &str, word: &str) -> bool {
    let part = |c: char| c.is_alphanumeric() || c == '_';
    line.match_indices(word).any(|(at, _)| {
        let before = line[..at].chars().next_back();
        let after = line[at + word.len()..].chars().next();
        !before.is_some_and(part) && !after.is_some_and(part)
    })
}

fn sources(folder: &Path) -> Vec<PathBuf> {
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let paths = entries.map(|entry| entry.unwrap().path());
    let mut found: Vec<_> = paths
        .flat_map(|path| if path.is_dir() { sources(&path) } else { vec![path] })
        .filter(|path| path.extension().is_some_and(|end| end == "rs"))
        .collect();
    found.sort();
    found
}

fn house() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn read(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap()
}

#[test]
fn the_pure_parts_know_no_screen_no_database_no_clock_and_no_chance() {
    let mut seen = 0;
    for part in PURE {
        for path in sources(&house().join(part)) {
            seen += 1;
            assert_eq!(breaches(&read(&path), &NOT_IN_PURE), [], "{}", path.display());
        }
    }
    assert!(seen > 20, "only {seen} files were looked at");
}

#[test]
fn queries_stand_in_the_store_and_nowhere_else() {
    let store = house().join("src/store");
    let (inside, outside): (Vec<_>, Vec<_>) =
        sources(&house().join("src")).into_iter().partition(|path| path.starts_with(&store));
    assert!(inside.iter().any(|path| read(path).contains(SQL[0])), "the store holds no query: this test sees nothing");
    for path in outside {
        let held = SQL.iter().filter(|sql| read(&path).contains(*sql)).count();
        assert_eq!(held, 0, "{} holds SQL", path.display());
    }
}

#[test]
fn queries_are_never_put_together_from_parts() {
    for path in sources(&house().join("src/store")) {
        assert!(!read(&path).contains("AssertSqlSafe"), "{}", path.display());
    }
}

#[test]
fn a_breach_would_be_seen() {
    let source = "//! tokio in prose is fine\nuse sqlx::PgConnection;\nlet operand = strand(rand::random());\n\
                  let t = std::time::Instant::now();\nuse crate::store::Store; // axum\n";
    let seen = breaches(source, &NOT_IN_PURE);
    assert_eq!(seen, [(2, "sqlx"), (3, "rand"), (4, "Instant::now"), (5, "axum"), (5, "crate::store")]);
    for word in NOT_IN_PURE {
        assert_eq!(breaches(&format!("use {word};"), &NOT_IN_PURE), [(1, word)]);
    }
}

/// What lies at the top of the house, dot-files aside.
const TOP: [&str; 10] = [
    "Cargo.lock",
    "Cargo.toml",
    "DEVELOPERS.md",
    "README.md",
    "docker-compose.yml",
    "migrations",
    "src",
    "static",
    "templates",
    "tests",
];

#[test]
fn nothing_else_lies_at_the_top() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    // What .gitignore names is made here and leaves with nobody.
    let ignored = std::fs::read_to_string(root.join(".gitignore")).unwrap();
    let ignored: Vec<&str> = ignored.lines().map(|line| line.trim_start_matches('/')).collect();
    let names = std::fs::read_dir(root).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap());
    let mut names: Vec<String> =
        names.filter(|name| !name.starts_with('.') && !ignored.contains(&name.as_str())).collect();
    names.sort();
    assert_eq!(names, TOP);
}
