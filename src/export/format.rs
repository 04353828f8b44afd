//! The formats there are.

/// A format of a file that leaves the house.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Format {
    CsvSheet,
    CsvData,
    FindingsSheet,
    FindingsData,
    ObservationsSheet,
    ObservationsData,
    Spreadsheet,
    Json,
    Logs,
    Statements,
    Badges,
    Calendar,
}

impl Format {
    /// All of them, the most asked for first.
    pub const ALL: [Self; 12] = [
        Self::CsvSheet,
        Self::Spreadsheet,
        Self::CsvData,
        Self::Json,
        Self::FindingsSheet,
        Self::FindingsData,
        Self::ObservationsSheet,
        Self::ObservationsData,
        Self::Logs,
        Self::Statements,
        Self::Badges,
        Self::Calendar,
    ];

    /// Its word on the command line, in forms and in the database.
    pub fn word(self) -> &'static str {
        match self {
            Self::CsvSheet => "csv-sheet",
            Self::CsvData => "csv-data",
            Self::FindingsSheet => "findings-sheet",
            Self::FindingsData => "findings-data",
            Self::ObservationsSheet => "observations-sheet",
            Self::ObservationsData => "observations-data",
            Self::Spreadsheet => "xlsx",
            Self::Json => "json",
            Self::Logs => "ndjson",
            Self::Statements => "xapi",
            Self::Badges => "badges",
            Self::Calendar => "ics",
        }
    }

    /// The format with this word.
    pub fn of_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|format| format.word() == word)
    }

    /// What it is for, in a few words.
    pub fn about(self) -> &'static str {
        match self {
            Self::CsvSheet => "Results, CSV for a spreadsheet program",
            Self::CsvData => "Results, CSV for another program",
            Self::FindingsSheet => "Findings, CSV for a spreadsheet program",
            Self::FindingsData => "Findings, CSV for another program",
            Self::ObservationsSheet => "Observations, CSV for a spreadsheet program",
            Self::ObservationsData => "Observations, CSV for another program",
            Self::Spreadsheet => "Results, spreadsheet (XLSX)",
            Self::Json => "Results and findings, JSON",
            Self::Logs => "Observations as recorded, NDJSON",
            Self::Statements => "Results, xAPI statements",
            Self::Badges => "Passes, Open Badges 3.0 credentials",
            Self::Calendar => "Plans, calendar (iCalendar)",
        }
    }

    /// How the name of its file ends.
    pub fn ending(self) -> &'static str {
        match self {
            Self::CsvSheet => "results-sheet.csv",
            Self::CsvData => "results-data.csv",
            Self::FindingsSheet => "findings-sheet.csv",
            Self::FindingsData => "findings-data.csv",
            Self::ObservationsSheet => "observations-sheet.csv",
            Self::ObservationsData => "observations-data.csv",
            Self::Spreadsheet => "results.xlsx",
            Self::Json => "results.json",
            Self::Logs => "observations.ndjson",
            Self::Statements => "statements.json",
            Self::Badges => "credentials.jwt.txt",
            Self::Calendar => "plans.ics",
        }
    }

    /// Its media type.
    pub fn media_type(self) -> &'static str {
        match self {
            Self::CsvSheet
            | Self::CsvData
            | Self::FindingsSheet
            | Self::FindingsData
            | Self::ObservationsSheet
            | Self::ObservationsData => "text/csv; charset=utf-8",
            Self::Spreadsheet => "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
            Self::Json | Self::Statements => "application/json",
            Self::Logs => "application/x-ndjson",
            Self::Badges => "text/plain; charset=utf-8",
            Self::Calendar => "text/calendar; charset=utf-8",
        }
    }

    /// Whether its rows need each session marked once more.
    pub fn needs_marking(self) -> bool {
        !matches!(self, Self::CsvSheet | Self::CsvData | Self::Spreadsheet | Self::Statements | Self::Calendar)
    }

    /// Whether chosen columns change it.
    pub fn has_columns(self) -> bool {
        matches!(self, Self::CsvSheet | Self::CsvData | Self::Spreadsheet)
    }

    /// Whether it can hold candidates' names.
    pub fn can_hold_names(self) -> bool {
        !matches!(self, Self::Logs | Self::Statements | Self::Badges | Self::Calendar)
    }

    /// Whether its identifiers lie under the centre's own address, which must then be known.
    pub fn needs_address(self) -> bool {
        matches!(self, Self::Statements | Self::Badges)
    }
}
