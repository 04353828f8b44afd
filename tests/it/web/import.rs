//! Candidates from a file: three steps, nothing written before the last, and then all or nothing.

use super::{Served, read};
use crate::candidates::{MESSY, expected};
use baywitness::store::candidates;
use reqwest::{Method, Response, StatusCode};

/// The value of every field of the last form of a page, hidden or chosen.
fn fields(page: &str) -> Vec<(String, String)> {
    let form = page.rsplit("<form").find(|form| form.contains("name=\"file\"")).unwrap();
    let form = form.split("</form>").next().unwrap();
    let value = |part: &str, key: &str| {
        let rest = part.split(&format!("{key}=\"")).nth(1)?;
        Some(rest.split('"').next().unwrap().to_owned())
    };
    let mut fields = Vec::new();
    for part in form.split("<input").skip(1) {
        let tag = part.split('>').next().unwrap();
        if tag.contains("type=\"checkbox\"") && !tag.contains(" checked") {
            continue;
        }
        fields.push((value(tag, "name").unwrap(), value(tag, "value").unwrap()));
    }
    for part in form.split("<select").skip(1) {
        let chosen =
            part.split("</select>").next().unwrap().split("<option ").find(|option| option.contains(" selected"));
        fields.push((value(part, "name").unwrap(), value(chosen.unwrap(), "value").unwrap()));
    }
    fields
}

/// An upload as a browser sends it.
async fn upload(served: &Served, cookie: &str, parts: &[(&str, Option<&str>, &[u8])]) -> Response {
    let mut body = Vec::new();
    for (name, file, bytes) in parts {
        let file = file.map(|file| format!("; filename=\"{file}\"\r\ncontent-type: text/csv")).unwrap_or_default();
        body.extend(format!("--cut\r\ncontent-disposition: form-data; name=\"{name}\"{file}\r\n\r\n").into_bytes());
        body.extend_from_slice(bytes);
        body.extend_from_slice(b"\r\n");
    }
    body.extend_from_slice(b"--cut--\r\n");
    let request = served.ask(Method::POST, "/candidates/import").header("cookie", cookie);
    request.header("content-type", "multipart/form-data; boundary=cut").body(body).send().await.unwrap()
}

async fn send(served: &Served, cookie: &str, step: &str, form: &[(String, String)]) -> (StatusCode, String) {
    let request = served.ask(Method::POST, &format!("/candidates/import/{step}")).header("cookie", cookie);
    read(request.form(form).send().await.unwrap()).await
}

fn set(form: &mut Vec<(String, String)>, name: &str, value: &str) {
    form.retain(|(field, _)| field != name);
    form.push((name.to_owned(), value.to_owned()));
}

/// The second step's form, for a file.
async fn looked_at(served: &Served, cookie: &str, bytes: &[u8]) -> (Vec<(String, String)>, String) {
    let (status, page) =
        read(upload(served, cookie, &[("file", Some("list.csv"), bytes), ("text", None, b"")]).await).await;
    assert_eq!(status, StatusCode::OK, "{page}");
    (fields(&page), page)
}

async fn names(served: &Served) -> Vec<(String, String)> {
    let mut tx = served.fixture.begin().await;
    let all = candidates::search(&mut tx, &served.fixture.centre, "", None, 100_000).await.unwrap();
    let mut names: Vec<_> = all.into_iter().map(|one| (one.reference, one.name)).collect();
    names.sort();
    names
}

#[tokio::test]
async fn the_messy_list_is_imported_without_its_faulty_rows_and_only_where_that_is_said() {
    let served = Served::new().await;
    let mine = served.managing().await;
    let expected = expected();
    let (form, page) = looked_at(&served, &mine, MESSY).await;
    for chosen in ["value=\"utf-8\" selected", "value=\"semicolon\" selected", "value=\"name\" selected"] {
        assert!(page.contains(chosen), "{chosen}");
    }
    let (status, page) = send(&served, &mine, "check", &form).await;
    assert_eq!(status, StatusCode::OK);
    for fault in &expected.faults {
        let row = format!("<th scope=\"row\">Row {}</th><td><bdi>{}</bdi></td>", fault.row, fault.column);
        assert!(page.contains(&row), "{row}");
    }
    assert_eq!(page.matches("<th scope=\"row\">Row ").count(), expected.faults.len());
    assert_eq!(served.candidates().await, 1, "nothing is written by looking");

    let mut form = fields(&page);
    let (status, again) = send(&served, &mine, "rows", &form).await;
    assert_eq!(status, StatusCode::CONFLICT);
    assert!(again.contains("Nothing was imported"));
    assert_eq!(served.candidates().await, 1, "faulty rows are never left out without a word");

    let (_, back) = send(&served, &mine, "left-out", &form).await;
    assert_eq!(back.matches("what is wrong").count(), 1);
    set(&mut form, "leave_out", "on");
    let (status, done) = send(&served, &mine, "rows", &form).await;
    assert_eq!(status, StatusCode::OK);
    assert!(done.contains(&format!("{} added", expected.people.len())), "{done}");
    let mut there: Vec<_> = expected.people.into_iter().collect();
    there.push(("REG-0042".into(), "Zoë Invented".into()));
    there.sort();
    assert_eq!(names(&served).await, there);

    // The same file again makes no doubles, and there is nothing to import.
    let (form, _) = looked_at(&served, &mine, MESSY).await;
    let (_, page) = send(&served, &mine, "check", &form).await;
    assert!(page.contains("There is nothing to import but rows with faults"), "{page}");
    let mut form = fields(&page);
    set(&mut form, "leave_out", "on");
    send(&served, &mine, "rows", &form).await;
    assert_eq!(names(&served).await, there);

    // What was given back, put right, goes in with the same columns.
    let (_, page) = looked_at(&served, &mine, back.as_bytes()).await;
    assert!(page.contains("value=\"name\" selected"));
}

#[tokio::test]
async fn a_file_in_another_encoding_is_read_and_what_was_detected_can_be_changed() {
    let served = Served::new().await;
    let mine = served.managing().await;
    let text = "Known as;Full name;Number\r\nZed;Zoë O’Brien;W-1\r\n";
    let (bytes, ..) = encoding_rs::WINDOWS_1252.encode(text);
    let (mut form, page) = looked_at(&served, &mine, &bytes).await;
    assert!(page.contains("value=\"windows-1252\" selected") && page.contains("Zoë O’Brien"));

    set(&mut form, "encoding", "utf-8");
    let (_, page) = send(&served, &mine, "columns", &form).await;
    assert!(page.contains("id=\"encoding-fault\""), "{page}");
    let (status, _) = send(&served, &mine, "check", &form).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);

    set(&mut form, "encoding", "windows-1252");
    set(&mut form, "separator", "comma");
    let (_, page) = send(&served, &mine, "columns", &form).await;
    assert!(page.contains("Leave this column out"));
    let (status, page) = send(&served, &mine, "check", &fields(&page)).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(page.contains("Please say which column holds the name."), "{page}");

    let mut form = fields(&page);
    set(&mut form, "separator", "semicolon");
    let (_, page) = send(&served, &mine, "columns", &form).await;
    let (_, page) = send(&served, &mine, "check", &fields(&page)).await;
    let (status, _) = send(&served, &mine, "rows", &fields(&page)).await;
    assert_eq!(status, StatusCode::OK);
    assert!(names(&served).await.contains(&("W-1".into(), "Zoë O’Brien".into())));
}

#[tokio::test]
async fn what_would_change_is_shown_field_by_field_and_changed_with_the_rest() {
    let served = Served::new().await;
    let mine = served.managing().await;
    let (form, _) =
        looked_at(&served, &mine, "name,reference,extra time\nZoë Invented,REG-0042,25\nNg,R-9,\n".as_bytes()).await;
    let (_, page) = send(&served, &mine, "check", &form).await;
    assert!(page.contains("Extra time in per cent") && page.contains("Add 1 and change 1"), "{page}");
    let form = fields(&page);
    send(&served, &mine, "rows", &form).await;
    let mut tx = served.fixture.begin().await;
    let kept = candidates::find(&mut tx, &served.fixture.centre, served.fixture.candidate).await.unwrap().unwrap();
    assert_eq!(kept.adjustments.extra.percent, 25);
    // Taken already: what the form was shown for is no longer what it would do.
    let (status, page) = send(&served, &mine, "rows", &form).await;
    assert_eq!(status, StatusCode::CONFLICT);
    assert!(page.contains("Something has changed"));
}

#[tokio::test]
async fn pasted_rows_are_read_like_a_file() {
    let served = Served::new().await;
    let mine = served.managing().await;
    let text = "name\treference\r\nSukarno\tR-1\r\n李小龍\tR-2\r\n";
    let answer = upload(&served, &mine, &[("file", Some(""), b""), ("text", None, text.as_bytes())]).await;
    let (_, page) = read(answer).await;
    assert!(page.contains("value=\"tab\" selected"));
    let (_, page) = send(&served, &mine, "check", &fields(&page)).await;
    send(&served, &mine, "rows", &fields(&page)).await;
    assert!(names(&served).await.contains(&("R-2".into(), "李小龍".into())));
}

#[tokio::test]
async fn what_is_no_list_is_refused_in_words_and_a_large_one_before_it_is_read() {
    let served = Served::new().await;
    let mine = served.managing().await;
    let (status, page) = read(upload(&served, &mine, &[("file", Some(""), b""), ("text", None, b"")]).await).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(page.contains("id=\"file-fault\""));
    let (_, page) = read(upload(&served, &mine, &[("file", Some("a"), b"name,reference\n\"open,1\n")]).await).await;
    assert!(page.contains("quotation mark opens that is never closed"), "{page}");
    let answer = upload(&served, &mine, &[("file", Some("a"), b"a"), ("file", Some("b"), b"b")]).await;
    assert_eq!(answer.status(), StatusCode::UNPROCESSABLE_ENTITY);
    let answer = upload(&served, &mine, &[("other", None, b"a")]).await;
    assert_eq!(answer.status(), StatusCode::UNPROCESSABLE_ENTITY);
    let (status, page) =
        read(upload(&served, &mine, &[("file", Some("a"), &vec![b'a'; 2 * 1024 * 1024 + 1])]).await).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(page.contains("larger than 2 MB"));
    let answer = upload(&served, &mine, &[("file", Some("a"), &vec![b'a'; 3 * 1024 * 1024])]).await;
    assert_eq!(answer.status(), StatusCode::PAYLOAD_TOO_LARGE);
    // Elsewhere the usual limit holds.
    let long = "a".repeat(300 * 1024);
    assert_eq!(served.post("/candidates", &mine, &[("name", &long)]).await.status(), StatusCode::PAYLOAD_TOO_LARGE);
    let (form, _) = looked_at(&served, &mine, b"name,reference\nA,1\n").await;
    for (field, value) in [("encoding", "latin-9"), ("file", "*"), ("column_0", "centre_id"), ("roles", "manager")] {
        let mut bad = form.clone();
        set(&mut bad, field, value);
        assert_eq!(send(&served, &mine, "check", &bad).await.0, StatusCode::UNPROCESSABLE_ENTITY, "{field}");
    }
    assert_eq!(served.candidates().await, 1);
}

#[tokio::test]
async fn the_largest_list_goes_through_whole() {
    let served = Served::new().await;
    let mine = served.managing().await;
    let mut list = String::from("name,reference\n");
    for number in 0..9_999 {
        list += &format!("Person Number {number},N-{number}\n");
    }
    let (form, _) = looked_at(&served, &mine, list.as_bytes()).await;
    let (_, page) = send(&served, &mine, "check", &form).await;
    let (status, page) = send(&served, &mine, "rows", &fields(&page)).await;
    assert_eq!(status, StatusCode::OK, "{page}");
    assert_eq!(served.candidates().await, 10_000);
}
