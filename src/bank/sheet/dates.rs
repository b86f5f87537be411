//! Cells that hold a date, which may have been a bond that somebody typed: `1-2` becomes a day in January or February.

/// A date as it is told.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Date {
    year: u32,
    month: u32,
    day: u32,
}

impl Date {
    /// The date of an ISO 8601 text that begins with one.
    pub(super) fn of_iso(text: &str) -> Option<Self> {
        let date = text.split('T').next()?;
        let mut parts = date.splitn(3, '-').map(str::parse);
        let (Ok(year), Ok(month), Ok(day)) = (parts.next()?, parts.next()?, parts.next()?) else { return None };
        ((1..=12).contains(&month) && (1..=31).contains(&day)).then_some(Self { year, month, day })
    }

    pub(super) fn new((year, month, day): (u16, u8, u8)) -> Self {
        Self { year: year.into(), month: month.into(), day: day.into() }
    }

    /// The text of the date, for columns of free text.
    pub(super) fn iso(&self) -> String {
        format!("{:04}-{:02}-{:02}", self.year, self.month, self.day)
    }

    /// What to say of it where no date belongs.
    pub(super) fn told(&self, column: &str) -> String {
        let Self { month, day, .. } = self;
        format!(
            "the column '{column}' holds the date {}: the spreadsheet program may have made it of '{month}-{day}' or of \
             '{day}-{month}' as it was typed; give the column the format of text and type the cell again",
            self.iso()
        )
    }
}

#[cfg(test)]
mod tests {
    use super::Date;

    #[test]
    fn dates_name_both_readings() {
        let told = Date::of_iso("2024-02-01T00:00:00").map(|date| date.told("arrows")).unwrap_or_default();
        assert!(told.contains("2024-02-01") && told.contains("'2-1'") && told.contains("'1-2'"), "{told}");
        assert_eq!(Date::of_iso("PT1H"), None);
    }
}
