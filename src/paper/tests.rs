use super::layout::{self, What};
use super::*;

fn paper(blocks: Vec<Block>) -> Paper {
    Paper { title: "A sheet".into(), language: "en-GB".into(), blocks, foot: "0123".into(), size: Size::A4 }
}

fn of_text(text: &str) -> Paper {
    paper(vec![Block::Title("A sheet".into()), Block::Text(text.into())])
}

fn table(rows: Vec<Row>) -> Block {
    Block::Table(Table { heads: vec!["One".into(), "Two".into()], shares: vec![1.0, 3.0], rows })
}

fn cells(text: &str) -> Row {
    Row::Cells(vec![vec![Paragraph::Strong("met".into())], vec![Paragraph::Text(text.into())]])
}

/// Every line of text of a page with its place.
fn lines(layout: &layout::Layout, page: usize) -> Vec<(f32, &str)> {
    let pieces = layout.pages[page].iter();
    pieces
        .filter_map(
            |piece| if let What::Text { text, .. } = &piece.what { Some((piece.y, text.as_str())) } else { None },
        )
        .collect()
}

#[test]
fn it_is_tagged_and_says_its_title_and_language() {
    let pdf = write(&of_text("Words")).unwrap();
    let text = String::from_utf8_lossy(&pdf);
    assert!(text.starts_with("%PDF-1.7"));
    for part in ["/MarkInfo", "/StructTreeRoot", "/DisplayDocTitle true", "(en-GB)", "pdfuaid:part"] {
        assert!(text.contains(part), "{part}");
    }
}

#[test]
fn what_has_no_shape_is_named_and_only_then_the_claim_is_left_out() {
    let face = Face::new(dejavu::sans::regular()).unwrap();
    assert_eq!(without_shape(&of_text("Zażółć محمد"), &face), None);
    let says = without_shape(&of_text("李小龍"), &face).unwrap();
    assert!(says.contains("U+5C0F, U+674E, U+9F8D."), "{says}");
    let claims = |text: &str| String::from_utf8_lossy(&write(&of_text(text)).unwrap()).contains("pdfuaid:part");
    assert!(claims("Zażółć محمد ✓ ✕ ◆ ▲ ◇ ⬣ ○ – “’ ½") && !claims("李小龍") && !claims("\u{E000}"));
}

#[test]
fn a_long_text_goes_on_to_further_pages_and_loses_nothing() {
    let faces = Faces::new().unwrap();
    let layout = layout::of(&of_text(&"word ".repeat(4_000)), &faces);
    assert!(layout.pages.len() > 2);
    let all: Vec<_> = (0..layout.pages.len()).flat_map(|page| lines(&layout, page)).collect();
    assert_eq!(all.iter().map(|(_, text)| text.matches("word").count()).sum::<usize>(), 4_000);
    let lowest = all.iter().map(|(y, _)| *y).fold(0.0, f32::max);
    assert!(lowest < 841.89 - layout::MARGIN - 10.0, "{lowest}");
}

#[test]
fn the_head_of_a_table_stands_on_each_page_and_rows_are_whole() {
    let faces = Faces::new().unwrap();
    let rows = (0..90).map(|n| cells(&format!("first-{n} {} last-{n}", "word ".repeat(30)))).collect();
    let layout = layout::of(&paper(vec![table(rows)]), &faces);
    assert!(layout.pages.len() > 2);
    for page in 0..layout.pages.len() {
        let lines = lines(&layout, page);
        assert!(lines[0].1.starts_with("One") && lines[1].1.starts_with("Two"), "page {page}");
        let count = |what: &str| lines.iter().filter(|(_, text)| text.contains(what)).count();
        assert_eq!(count("first-"), count("last-"), "a row is broken on page {page}");
    }
}

#[test]
fn a_row_longer_than_a_page_goes_on_on_the_next() {
    let faces = Faces::new().unwrap();
    let layout = layout::of(&paper(vec![table(vec![cells(&"word ".repeat(6_000)), cells("end")])]), &faces);
    let words: usize = (0..layout.pages.len())
        .flat_map(|page| lines(&layout, page))
        .map(|(_, text)| text.matches("word").count())
        .sum();
    assert_eq!(words, 6_000);
    assert!(write(&paper(vec![table(vec![cells(&"😀".repeat(6_000))])])).is_ok());
}

#[test]
fn an_empty_document_and_empty_texts_are_written() {
    for blocks in [Vec::new(), vec![Block::Text(String::new())], vec![table(Vec::new())], vec![Block::NewPage]] {
        assert!(write(&paper(blocks.clone())).is_ok(), "{blocks:?}");
    }
    assert!(write(&of_text("a\u{0}b\u{FEFF}c\u{200D}d\u{202E}e")).is_ok());
}
