//! The result sheet as a page and as a PDF, read by programs made by others.
//!
//! Source of the checks: `pdftotext` and `pdfinfo` of Poppler, which is no part of ours.

use super::Served;
use super::examples::send_all;
use crate::support::outside::program;
use reqwest::{Method, StatusCode};

const FLAWLESS: &str = include_str!("../../reference/examples/stairwell-flawless.ndjson");
/// Points: 15 mm of margin, and a little for letters that lean out of their boxes.
const MARGIN: f32 = 42.5 - 1.5;

impl Served {
    /// The PDF of the assessor's session.
    async fn pdf(&self, cookie: &str, paper: &str) -> Vec<u8> {
        let path = self.at(&format!("sheet.pdf?paper={paper}"));
        let answer = self.ask(Method::GET, &path).header("cookie", cookie).send().await.unwrap();
        assert_eq!(answer.status(), StatusCode::OK);
        assert_eq!(answer.headers()["content-type"], "application/pdf");
        answer.bytes().await.unwrap().to_vec()
    }

    /// The words of the PDF, one blank between them.
    pub async fn paper(&self, cookie: &str) -> String {
        text_of(&self.pdf(cookie, "a4").await).split_whitespace().collect::<Vec<_>>().join(" ")
    }

    async fn call_the_candidate(&self, name: &str) {
        let mut tx = self.fixture.begin().await;
        let named = sqlx::query("UPDATE candidates SET name = $1").bind(name).execute(&mut *tx).await.unwrap();
        assert_eq!(named.rows_affected(), 1);
        tx.commit().await.unwrap();
    }
}

/// A text without spaces and without marks of direction, which programs put in.
fn squeezed(text: &str) -> String {
    let unseen = |c: &char| matches!(*c, '\u{200E}' | '\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}');
    text.chars().filter(|c| !c.is_whitespace() && !unseen(c)).collect()
}

/// The text of a PDF in the order in which it is written there.
fn text_of(pdf: &[u8]) -> String {
    program("pdftotext", &["-raw"], pdf, &["-"])
}

/// Every piece of text between the tags of a page's main part, without pictures and what is folded away.
fn pieces(page: &str) -> Vec<String> {
    let main = page.split("<main").nth(1).unwrap().split("class=\"actions").next().unwrap();
    let mut main = main.to_owned();
    for (open, close) in [("<details", "</details>"), ("<svg", "</svg>"), ("<p class=\"sealed", "</p>")] {
        while let Some(from) = main.find(open) {
            let until = main[from..].find(close).unwrap() + from + close.len();
            main.replace_range(from..until, "");
        }
    }
    main.split('<').skip(1).filter_map(|part| part.split_once('>')).map(|(_, text)| decoded(text)).collect()
}

/// The words written in the pictures of a page.
fn written(page: &str) -> Vec<String> {
    let timeline = page.split("drawing timeline").nth(1).unwrap().split("</svg>").next().unwrap();
    timeline
        .split("<text")
        .skip(1)
        .map(|part| decoded(part.split_once('>').unwrap().1.split('<').next().unwrap()))
        .collect()
}

fn decoded(text: &str) -> String {
    let named = [("&#39;", "'"), ("&#34;", "\""), ("&#60;", "<"), ("&#62;", ">"), ("&#38;", "&"), ("&amp;", "&")];
    named.into_iter().fold(text.to_owned(), |text, (from, to)| text.replace(from, to))
}

/// Each word's left, upper, right and lower edge, with its page's width and height.
fn boxes(pdf: &[u8]) -> Vec<([f32; 4], f32, f32)> {
    let number = |line: &str, name: &str| -> f32 {
        line.split_once(&format!("{name}=\"")).unwrap().1.split('"').next().unwrap().parse().unwrap()
    };
    let (mut width, mut height, mut boxes) = (0.0, 0.0, Vec::new());
    for line in program("pdftotext", &["-bbox"], pdf, &["-"]).lines() {
        if line.contains("<page ") {
            (width, height) = (number(line, "width"), number(line, "height"));
        } else if line.contains("<word ") {
            boxes.push((["xMin", "yMin", "xMax", "yMax"].map(|name| number(line, name)), width, height));
        }
    }
    boxes
}

/// Nothing leaves the text's part of the page.
fn nothing_is_cut(pdf: &[u8]) {
    let boxes = boxes(pdf);
    assert!(boxes.len() > 50, "{} words", boxes.len());
    for ([left, top, right, bottom], width, height) in boxes {
        let within = left >= MARGIN && right <= width - MARGIN && top >= MARGIN && bottom <= height - MARGIN + 8.0;
        assert!(within, "a word from {left}, {top} to {right}, {bottom} on a page of {width} by {height}");
    }
}

#[tokio::test]
async fn the_pdf_says_what_the_page_says_on_three_pages_at_most() {
    let served = Served::new().await;
    let mine = served.signed_in(served.assessor).await;
    served.open(&mine).await;
    send_all(&served, &mine, FLAWLESS, 40).await;
    served.settle(&mine).await;
    let (_, page) = served.get(&served.at("sheet"), &mine).await;
    for (paper, size) in [("a4", "(A4)"), ("letter", "(letter)")] {
        let pdf = served.pdf(&mine, paper).await;
        let text = squeezed(&text_of(&pdf));
        let says = pieces(&page);
        assert!(says.len() > 80, "{} pieces of text", says.len());
        for one in says.into_iter().chain(written(&page)) {
            assert!(text.contains(squeezed(one.trim().trim_end_matches('.')).as_str()), "{one:?} is not in {text}");
        }
        nothing_is_cut(&pdf);
        let about = program("pdfinfo", &[], &pdf, &[]);
        let field = |name: &str| about.lines().find_map(|line| line.strip_prefix(name)).unwrap_or_default().trim();
        assert_eq!((field("Title:"), field("Tagged:")), ("Result sheet REG-0042", "yes"));
        assert!(field("Page size:").ends_with(size), "{about}");
        assert!(field("Pages:").parse::<u32>().unwrap() <= 3, "{about}");
        let code = squeezed(page.split("class=\"code\"><bdi dir=\"ltr\">").last().unwrap().split('<').next().unwrap());
        let pages: u32 = field("Pages:").parse().unwrap();
        for page in 1..=pages {
            let number = page.to_string();
            let text = squeezed(&program("pdftotext", &["-f", &number, "-l", &number], &pdf, &["-"]));
            assert!(text.contains(&code) && text.contains(&format!("page{page}of{pages}")), "page {page}: {text}");
        }
    }
}

#[tokio::test]
async fn the_pdf_is_tagged_with_headings_tables_and_a_described_picture() {
    let (served, mine) = Served::ended().await;
    served.settle(&mine).await;
    let pdf = served.pdf(&mine, "a4").await;
    let tree = program("pdfinfo", &["-struct-text"], &pdf, &[]);
    for part in ["H1", "H2", "Table", "THead", "TH", "TD", "Figure"] {
        assert!(
            tree.lines().any(|line| line.trim().trim_end_matches(':').split(' ').next() == Some(part)),
            "{part}: {tree}"
        );
    }
    assert!(tree.contains("Automatic fails") && tree.contains("Zoë Invented"), "{tree}");
    let raw = String::from_utf8_lossy(&pdf);
    assert!(raw.contains("(en-GB)") && raw.contains("/DisplayDocTitle true") && raw.contains("pdfuaid:part"));
}

#[tokio::test]
async fn any_name_stands_on_page_and_paper_as_it_was_typed() {
    let (served, mine) = Served::ended().await;
    served.settle(&mine).await;
    let long = "Wq".repeat(100);
    let words = "Ngozi ".repeat(33);
    let names = [
        "=1+1",
        &long,
        words.trim(),
        "O’Brien-Ní Dhomhnaill",
        "Zażółć",
        "Łukasz \u{1F600}",
        "Ng",
        "李小龍",
        "<i>Sukarno",
    ];
    for name in names {
        served.call_the_candidate(name).await;
        let (_, page) = served.get(&served.at("sheet"), &mine).await;
        assert!(decoded(&page).contains(&format!("<bdi>{name}</bdi>")), "{name} on the page");
        for paper in if name == long { &["a4", "letter"][..] } else { &["a4"] } {
            let pdf = served.pdf(&mine, paper).await;
            let text = squeezed(&text_of(&pdf));
            assert!(text.contains(&squeezed(&format!("{name} (REG-0042)"))), "{name} on {paper}: {text}");
            nothing_is_cut(&pdf);
        }
    }
    // Read from the right: the letters are there, whatever way a program puts them in a line.
    let name = "محمد بن عبد الله";
    served.call_the_candidate(name).await;
    let text = squeezed(&text_of(&served.pdf(&mine, "a4").await));
    let sorted = |text: &str| -> Vec<char> {
        let mut letters: Vec<char> = squeezed(text).chars().filter(|c| ('\u{600}'..'\u{700}').contains(c)).collect();
        letters.sort_unstable();
        letters
    };
    assert_eq!(sorted(&text), sorted(name), "{text}");
}

#[tokio::test]
async fn a_reason_of_2000_emoji_stands_on_paper_whole() {
    let (served, mine) = Served::ended().await;
    let reason = "😀🔌".repeat(1_000);
    assert_eq!(served.say(&mine, "key", "met", &reason).await.0, StatusCode::SEE_OTHER);
    served.settle(&mine).await;
    for paper in ["a4", "letter"] {
        let pdf = served.pdf(&mine, paper).await;
        let text = text_of(&pdf);
        // In the list of what was decided otherwise, and at its finding.
        assert_eq!((text.matches('😀').count(), text.matches('🔌').count()), (2_000, 2_000));
        assert!(
            squeezed(&text).contains("TheyareU+1F50C") || squeezed(&text).contains("Theyare:U+1F50C"),
            "boxes are explained"
        );
        nothing_is_cut(&pdf);
    }
}

#[tokio::test]
async fn there_is_no_paper_before_the_signature_and_none_for_strangers() {
    let (served, mine) = Served::ended().await;
    let ask = |cookie: String| {
        let request = served.ask(Method::GET, &served.at("sheet.pdf")).header("cookie", cookie);
        async move { request.send().await.unwrap().status() }
    };
    assert_eq!(ask(mine.clone()).await, StatusCode::SEE_OTHER);
    served.settle(&mine).await;
    assert_eq!(ask(mine).await, StatusCode::OK);
    let (verifier, other) = (served.signed_in(served.verifier).await, served.signed_in(served.other).await);
    assert_eq!(ask(verifier).await, StatusCode::OK);
    assert!(matches!(ask(other).await, StatusCode::FORBIDDEN | StatusCode::NOT_FOUND));
    assert_eq!(ask(String::new()).await, StatusCode::SEE_OTHER, "to the sign-in");
}
