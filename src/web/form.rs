//! What forms of the desk share: faults beside their fields, with what was typed kept.

/// What is wrong with a form, field by field, in the order of the form.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Faults(Vec<(String, String)>);

impl Faults {
    /// No fault.
    pub fn none() -> Self {
        Self::default()
    }

    /// Notes a fault of the field that is called `field` in the form: a sentence that says what is expected. Only the
    /// first fault of a field is kept.
    pub fn add(&mut self, field: impl Into<String>, says: impl Into<String>) {
        let field = field.into();
        if self.of(&field).is_none() {
            self.0.push((field, says.into()));
        }
    }

    /// What is wrong with a field.
    pub fn of(&self, field: &str) -> Option<&str> {
        self.0.iter().find(|(name, _)| name == field).map(|(_, says)| says.as_str())
    }

    /// Every fault: the field and the sentence.
    pub fn all(&self) -> &[(String, String)] {
        &self.0
    }

    /// Whether nothing is wrong.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

/// Whether an option is the one chosen, for templates, which hold both in different shapes.
pub fn same(option: impl AsRef<str>, chosen: impl AsRef<str>) -> bool {
    option.as_ref() == chosen.as_ref()
}

/// A line of text without what surrounds it: 1 to `most` characters, no control character. Where it does not fit a fault
/// is noted and what was typed is answered all the same.
pub fn line(faults: &mut Faults, field: &str, typed: &str, most: usize) -> String {
    let text = typed.trim();
    if text.is_empty() {
        faults.add(field, "Please fill this in.");
    } else if text.chars().count() > most {
        faults.add(field, format!("This is longer than {most} characters."));
    } else if text.chars().any(char::is_control) {
        faults.add(field, "This holds a character that cannot be shown. Type it again without pasting.");
    }
    text.to_owned()
}

/// A whole number between two others, both allowed. `None`, and a fault noted, where it is not one.
pub fn whole(faults: &mut Faults, field: &str, typed: &str, least: i64, most: i64) -> Option<i64> {
    let number = typed.trim().parse().ok().filter(|number| (least..=most).contains(number));
    if number.is_none() {
        faults.add(field, format!("Please give a whole number from {least} to {most}."));
    }
    number
}

#[cfg(test)]
mod tests {
    use super::*;
    use askama::Template;

    #[derive(Template)]
    #[template(
        ext = "html",
        source = r#"{% import "fields.html" as fields %}{% call fields::summary(faults) %}{% endcall %}
        {% call fields::text("name", "text", "Name", typed, "As people write it", faults.of("name")) %}{% endcall %}
        {% call fields::area("why", "Why", "", "", faults.of("why")) %}{% endcall %}
        {% call fields::choice("zone", "Zone", zones, "b", "", faults.of("zone")) %}{% endcall %}
        {% call fields::check("named", "With names", true, "") %}{% endcall %}"#
    )]
    struct Fields {
        faults: Faults,
        typed: &'static str,
        zones: [(&'static str, &'static str); 2],
    }

    #[test]
    fn a_field_keeps_what_was_typed_and_says_what_is_wrong_beside_it() {
        let mut faults = Faults::none();
        faults.add("name", "Please fill this in.");
        let page = Fields { faults, typed: "<b>\"", zones: [("a", "Anywhere"), ("b", "Beyond")] }.render().unwrap();
        for expected in [
            r##"<a href="#name">Please fill this in.</a>"##,
            r#"id="name-fault""#,
            r#"aria-describedby="name-hint name-fault" aria-invalid="true""#,
            r#"<textarea id="why" name="why"></textarea>"#,
            r#"<option value="b" selected>Beyond</option>"#,
            r#"type="checkbox" value="on" checked>With names"#,
        ] {
            assert!(page.contains(expected), "{expected} in {page}");
        }
        assert!(!page.contains("<b>"), "{page}");
    }

    #[test]
    fn a_line_is_trimmed_and_every_fault_is_a_sentence() {
        let mut faults = Faults::none();
        assert_eq!(line(&mut faults, "name", "  Zażółć ", 200), "Zażółć");
        assert!(faults.is_empty());
        line(&mut faults, "empty", "   ", 200);
        line(&mut faults, "long", &"é".repeat(201), 200);
        line(&mut faults, "odd", "a\u{7}b", 200);
        assert_eq!(line(&mut faults, "just", &"é".repeat(200), 200).chars().count(), 200);
        assert_eq!(faults.all().iter().map(|(field, _)| field.as_str()).collect::<Vec<_>>(), ["empty", "long", "odd"]);
        assert!(faults.all().iter().all(|(_, says)| says.ends_with('.')));
    }

    #[test]
    fn a_number_keeps_to_its_bounds() {
        let mut faults = Faults::none();
        assert_eq!(whole(&mut faults, "a", " 25 ", 0, 100), Some(25));
        for bad in ["", "101", "-1", "2.5", "x"] {
            let mut faults = Faults::none();
            assert_eq!(whole(&mut faults, "a", bad, 0, 100), None);
            assert!(faults.of("a").is_some_and(|says| says.contains("0 to 100")), "{bad}");
        }
    }
}
